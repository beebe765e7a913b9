//! From measures to what is sent: mass in kg, volume in l, money in the currency's own decimals.

mod amounts;
mod compared;
mod costs;
mod waste;

use parings_core::ids::ItemId;
use parings_core::quantity::{Ratio, Tallied};
use parings_core::rollup::{DaypartSum, ItemMeasures, Nights, Rate, WasteSum};
use parings_core::stats::{Confidence, Percentile};
use parings_core::tickets::TicketTally;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::ByBody;
use super::body::*;
use crate::app::figures::rollups::{Rollup, Row};
use crate::http::quantity::Number;
use amounts::{Amounts, fixed, rate};
use costs::Costs;

impl From<&Rollup> for RollupBody {
    fn from(found: &Rollup) -> Self {
        use parings_core::rollup::By;
        let asked = &found.asked;
        Self {
            scope: asked.scope.to_string(),
            from: asked.span.from().into(),
            to: asked.span.to().into(),
            by: match asked.by {
                By::Day => ByBody::Day,
                By::Week => ByBody::Week,
                By::Period => ByBody::Period,
                By::None => ByBody::None,
            },
            currency: found.settings.currency.as_str().to_owned(),
            as_known_at: asked.as_known_at,
            rules: found.rules,
            rows: found.rows.iter().map(|row| show_row(found, row)).collect(),
            ranking: compared::ranking(found),
        }
    }
}

fn show_row(found: &Rollup, row: &Row) -> RollupRow {
    let (asked, night) = (&found.asked, &row.sum.night);
    let money = Costs(&found.settings.currency);
    let all = row.sum.all_dayparts();
    let parts = || row.sum.dayparts.iter().filter(|(key, _)| asked.holds(key));
    let shown = parts().fold(DaypartSum::default(), |sum, (_, one)| sum.merge(one));
    // Use and sales of nights are not known by daypart.
    let whole = !asked.is_part();
    let ticket_nights = if whole { night.ticket_nights } else { shown.ticket_nights };
    let stock_out_minutes = match &asked.item {
        Some(item) => row.sum.items.get(item).map_or(0, |item| item.stock_out_minutes),
        None => shown.tally.stock_out_minutes,
    };
    let item = |(id, item): (&ItemId, &ItemMeasures)| {
        let base = found.items.get(id).filter(|_| !item.sum.is_only_kept())?;
        Some(show_item(id.to_string(), item, Amounts(*base), money))
    };
    RollupRow {
        child: row.child.clone(),
        from: row.bucket.from().into(),
        to: row.bucket.to().into(),
        complete: row.nights.is_complete(),
        nights: row.nights.into(),
        compared: compared::compared(found, row),
        doubtful: money.doubtful(&row.sum.doubtful()).filter(|_| whole),
        restated_spans: Some(row.sum.restated()).filter(|spans| whole && *spans > 0),
        sales: (whole && night.sales_nights > 0)
            .then(|| SalesBody { amount: money.number(night.sales), nights: night.sales_nights }),
        units: (whole && night.units_nights > 0)
            .then_some(UnitsBody { count: night.units, nights: night.units_nights }),
        money: money.all(row).filter(|_| whole),
        items: row.measures.items.iter().filter(|_| whole).filter_map(item).collect(),
        waste_by_reason: waste::by_reason(found, row),
        waste_by_stage: waste::by_stage(found, row),
        waste_by_daypart: waste::by_daypart(found, row),
        waste_lines: waste::lines(found, row),
        tickets: show_tickets(&shown.tally.tickets, ticket_nights, found),
        dayparts: parts()
            .map(|(key, sum)| RollupDaypartBody {
                daypart: key.daypart.to_string(),
                channel: key.channel.to_string(),
                units: sum.tally.units,
                sales: money.number(sum.tally.sales),
                share_of_sales: money.rate(sum.share_of_sales(&all, night.sales_nights), 100),
                share_of_orders: sum
                    .share_of_orders(&all, night.nights)
                    .and_then(|share| rate(share, 100, Number)),
                tickets: show_tickets(&sum.tally.tickets, sum.ticket_nights, found),
                stock_out_minutes: some(sum.tally.stock_out_minutes),
            })
            .collect(),
        stock_out_minutes: some(stock_out_minutes),
    }
}

fn some(count: u64) -> Option<u64> {
    (count > 0).then_some(count)
}

impl From<Nights> for NightsBody {
    fn from(nights: Nights) -> Self {
        Self {
            expected: nights.expected,
            counted: nights.counted,
            partial: nights.partial,
            missing: nights.missing,
            closed: nights.closed,
            left_out: nights.left_out,
            short: nights.short,
            held: nights.held,
            items_left_out: nights.items_left_out,
            to_come: nights.to_come,
        }
    }
}

fn show_item(
    id: String,
    item: &ItemMeasures,
    amounts: Amounts,
    money: Costs<'_>,
) -> RollupItemBody {
    let sum = &item.sum;
    let WasteSum { amount, cost, safety, safety_cost } = sum.waste;
    let wasted = |amount: Tallied, cost| {
        let shown = || WastedBody { amount: amounts.exact(amount), cost: money.number(cost) };
        (!amount.is_zero()).then(shown)
    };
    let priced = sum.used.cost_nights > 0;
    RollupItemBody {
        item: id,
        doubtful: money.doubtful(&sum.doubtful),
        restated_spans: Some(sum.restated).filter(|spans| *spans > 0),
        used: (sum.used.nights > 0).then(|| UsedBody {
            amount: amounts.exact(sum.used.used),
            made_into: (!sum.used.made_into.is_zero()).then(|| amounts.exact(sum.used.made_into)),
            nights: sum.used.nights,
            cost: priced.then(|| money.number(sum.used.used_cost)),
            cost_nights: sum.used.cost_nights,
        }),
        variance: item.causes.as_ref().map(|causes| RollupVarianceBody {
            amount: amounts.estimated(causes.variance),
            expected: amounts.exact(sum.compared.expected),
            nights: sum.compared.nights,
            of_expected: amounts.rate(item.of_expected),
            accounted: amounts.rate(item.accounted),
            causes: amounts.causes(causes),
        }),
        variance_cost: item.cost_causes.as_ref().map(|causes| VarianceCostBody {
            amount: money.estimated(causes.variance),
            expected: money.number(sum.valued.expected_cost),
            nights: sum.valued.nights,
            of_sales: money.rate(item.of_sales, 100),
            causes: money.causes(causes),
        }),
        wasted: wasted(amount, cost),
        wasted_safety: wasted(safety, safety_cost),
        batch_yield: amounts.rate(item.batch_yield),
        food_cost: money.rate(item.food_cost, 100),
        kept: KeptBody { nights: sum.kept.nights, sales: money.number(sum.kept.sales) },
        owner_changed_spans: some(sum.owner_changed),
        price_effect: money.some(sum.price_effect),
        stock_out_minutes: some(sum.stock_out_minutes),
    }
}

fn show_tickets(tally: &TicketTally, nights: u64, found: &Rollup) -> Option<RollupTicketsBody> {
    let settings = &found.settings;
    let percentile = |p| tally.shown_percentile(p, settings.minimum_tickets).map(|s| s.0);
    let per_cent = |share: f64| Decimal::from_f64(share * 100.0).map(|share| fixed(share, 1));
    let within = tally.within_target(Confidence::NINETY_FIVE).and_then(|(within, range)| {
        let ratio = Ratio::new(within.hits().into(), within.of().into());
        Some(RollupWithinTargetBody {
            share: rate(Rate { ratio, nights }, 100, Number)?,
            low: per_cent(range.low)?,
            high: per_cent(range.high)?,
        })
    });
    (tally.orders > 0).then(|| RollupTicketsBody {
        orders: tally.orders,
        timed: tally.times.count(),
        p50_seconds: percentile(Percentile::P50),
        p90_seconds: percentile(Percentile::P90),
        within_target: within,
        never_closed: tally.never_closed,
        lump_closed: tally.lump_closed,
        doubtful: tally.doubtful(settings.doubtful_tickets),
    })
}
