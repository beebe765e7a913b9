//! From measures to what is sent: mass in kg, volume in l, money in the currency's own decimals.

use parings_core::money::{Currency, Money};
use parings_core::quantity::{Dimension, Ratio, Tallied, Unit};
use parings_core::rollup::{
    CostCauses, CostEstimate, ItemMeasures, NightSum, Nights, Rate, ReasonSum, WasteSum,
};
use parings_core::stats::{Confidence, Percentile, StdDev};
use parings_core::tally::RULES;
use parings_core::tickets::TicketTally;
use parings_core::usage::{Causes as ItemCauses, Estimate};
use rust_decimal::prelude::FromPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};

use super::ByBody;
use super::body::*;
use crate::app::rollups::{Rollup, Row};
use crate::http::quantity::Number;

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
            rules: RULES,
            rows: found.rows.iter().map(|row| show_row(found, row)).collect(),
        }
    }
}

fn show_row(found: &Rollup, row: &Row) -> RollupRow {
    let (night, money) = (&row.sum.night, Costs(&found.settings.currency));
    let all = row.sum.all_dayparts();
    RollupRow {
        child: row.child.clone(),
        from: row.bucket.from().into(),
        to: row.bucket.to().into(),
        nights: row.nights.into(),
        sales: (night.sales_nights > 0)
            .then(|| SalesBody { amount: money.number(night.sales), nights: night.sales_nights }),
        units: (night.units_nights > 0)
            .then_some(UnitsBody { count: night.units, nights: night.units_nights }),
        money: money.all(row),
        items: row
            .measures
            .items
            .iter()
            .filter_map(|(id, item)| {
                let amounts = Amounts(*found.items.get(id)?);
                Some(show_item(id.to_string(), item, amounts, money))
            })
            .collect(),
        waste_by_reason: row
            .sum
            .reasons
            .iter()
            .flat_map(|(reason, sum)| money.reason(reason.as_str(), sum, night))
            .collect(),
        tickets: show_tickets(&all.tickets, night.ticket_nights, found),
        dayparts: row
            .sum
            .dayparts
            .iter()
            .map(|(key, sum)| DaypartBody {
                daypart: key.daypart.to_string(),
                channel: key.channel.to_string(),
                units: sum.tally.units,
                sales: money.number(sum.tally.sales),
                tickets: show_tickets(&sum.tally.tickets, sum.ticket_nights, found),
                stock_out_minutes: some(sum.tally.stock_out_minutes),
            })
            .collect(),
        stock_out_minutes: some(all.stock_out_minutes),
    }
}

fn some(count: u64) -> Option<u64> {
    (count > 0).then_some(count)
}

impl From<Nights> for NightsBody {
    fn from(nights: Nights) -> Self {
        let Nights { expected, counted, partial, missing, closed, left_out } = nights;
        Self { expected, counted, partial, missing, closed, left_out }
    }
}

fn round(value: Decimal, places: u32) -> Decimal {
    let rounded = value.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven);
    if rounded.is_zero() { rounded.abs() } else { rounded }
}

/// To so many places, all of them shown.
fn fixed(value: Decimal, places: u32) -> Number {
    let mut rounded = round(value, places);
    rounded.rescale(places);
    Number(rounded)
}

fn rate(rate: Rate, per: u32, shown: impl Fn(Decimal) -> Number) -> Option<RateBody> {
    let Ratio { numerator, denominator } = rate.ratio;
    Some(RateBody {
        value: fixed(rate.ratio.value()?.checked_mul(per.into())?, 2),
        per,
        numerator: shown(numerator),
        denominator: shown(denominator),
        nights: rate.nights,
    })
}

/// An item's amounts by their dimension, to a gram, a millilitre or a thousandth of a piece.
#[derive(Clone, Copy)]
struct Amounts(Dimension);

impl Amounts {
    fn unit(self) -> Unit {
        match self.0 {
            Dimension::Mass => Unit::Kilogram,
            Dimension::Volume => Unit::Litre,
            Dimension::Count => Unit::Each,
        }
    }

    fn number(self, base: Decimal) -> Number {
        Number(round(base / self.unit().factor(), 3).normalize())
    }

    fn sd(self, sd: Option<StdDev>) -> Option<Number> {
        Decimal::from_f64(sd?.value()).map(|sd| self.number(sd))
    }

    fn exact(self, amount: Tallied) -> ItemAmountBody {
        self.estimated(Estimate { amount, sd: None })
    }

    fn estimated(self, estimate: Estimate) -> ItemAmountBody {
        ItemAmountBody {
            value: self.number(estimate.amount.base().value()),
            unit: self.unit().to_string(),
            sd: self.sd(estimate.sd),
        }
    }

    fn rate(self, made: Option<Rate>) -> Option<RateBody> {
        rate(made?, 100, |base| self.number(base))
    }

    fn causes(self, causes: &ItemCauses) -> Causes<ItemAmountBody> {
        Causes {
            waste: self.exact(causes.waste),
            yield_loss: self.exact(causes.yield_loss),
            over_portioning: causes.over_portioning.map(|part| self.estimated(part)),
            unexplained: self.estimated(causes.unexplained),
        }
    }
}

fn show_item(id: String, item: &ItemMeasures, amounts: Amounts, money: Costs<'_>) -> ItemBody {
    let sum = &item.sum;
    let WasteSum { amount, cost, safety, safety_cost } = sum.waste;
    let wasted = |amount: Tallied, cost| {
        let shown = || WastedBody { amount: amounts.exact(amount), cost: money.number(cost) };
        (!amount.is_zero()).then(shown)
    };
    let priced = sum.used.cost_nights > 0;
    ItemBody {
        item: id,
        used: (sum.used.nights > 0).then(|| UsedBody {
            amount: amounts.exact(sum.used.used),
            made_into: (!sum.used.made_into.is_zero()).then(|| amounts.exact(sum.used.made_into)),
            nights: sum.used.nights,
            cost: priced.then(|| money.number(sum.used.used_cost)),
            cost_nights: sum.used.cost_nights,
        }),
        variance: item.causes.as_ref().map(|causes| VarianceBody {
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
        stock_out_minutes: some(sum.stock_out_minutes),
    }
}

/// Money in the currency's own decimals.
#[derive(Clone, Copy)]
struct Costs<'a>(&'a Currency);

impl Costs<'_> {
    fn number(self, money: Money) -> Number {
        Number(money.shown(self.0))
    }

    fn estimated(self, estimate: CostEstimate) -> MoneyAmountBody {
        let sd = estimate.sd.and_then(|sd| Decimal::from_f64(sd.value()));
        MoneyAmountBody {
            value: self.number(estimate.cost),
            sd: sd.map(|sd| fixed(sd, self.0.exponent())),
        }
    }

    fn rate(self, made: Option<Rate>, per: u32) -> Option<RateBody> {
        rate(made?, per, |money| fixed(money, self.0.exponent()))
    }

    fn causes(self, causes: &CostCauses) -> Causes<MoneyAmountBody> {
        let exact = |cost| self.estimated(CostEstimate { cost, sd: None });
        Causes {
            waste: exact(causes.waste),
            yield_loss: exact(causes.yield_loss),
            over_portioning: causes.over_portioning.map(|part| self.estimated(part)),
            unexplained: self.estimated(causes.unexplained),
        }
    }

    fn all(self, row: &Row) -> Option<MoneyBody> {
        let (all, night) = (&row.measures.money, &row.sum.night);
        let used = (all.used_nights > 0)
            .then(|| MoneyUsedBody { cost: self.number(all.used), item_nights: all.used_nights });
        (used.is_some() || night.nights > 0).then(|| MoneyBody {
            used,
            variance: all.causes.as_ref().map(|causes| MoneyVarianceBody {
                amount: self.estimated(causes.variance),
                expected: self.number(all.valued.expected_cost),
                item_nights: all.valued.nights,
                of_expected: self.rate(all.of_expected, 100),
                of_sales: self.rate(all.of_sales, 100),
                accounted: self.rate(all.accounted, 100),
                causes: self.causes(causes),
            }),
            wasted: self.number(night.wasted_cost),
            wasted_safety: self.number(night.wasted_safety_cost),
            waste_of_sales: self.rate(all.waste_of_sales, 1000),
        })
    }

    /// A reason may have been one of safety on some dates and not on others.
    fn reason(self, reason: &str, sum: &ReasonSum, night: &NightSum) -> Vec<WasteReasonBody> {
        let body = |safety, cost, share| WasteReasonBody {
            reason: reason.to_owned(),
            safety,
            cost: self.number(cost),
            share,
        };
        let share = || self.rate(sum.share(night), 100);
        let plain = (sum.lines > 0).then(|| body(false, sum.cost, share()));
        let safe = (sum.safety_lines > 0).then(|| body(true, sum.safety_cost, None));
        plain.into_iter().chain(safe).collect()
    }
}

fn show_tickets(tally: &TicketTally, nights: u64, found: &Rollup) -> Option<TicketsBody> {
    let settings = &found.settings;
    let percentile = |p| tally.shown_percentile(p, settings.minimum_tickets).map(|s| s.0);
    let per_cent = |share: f64| Decimal::from_f64(share * 100.0).map(|share| fixed(share, 1));
    let within = tally.within_target(Confidence::NINETY_FIVE).and_then(|(within, range)| {
        let ratio = Ratio::new(within.hits().into(), within.of().into());
        Some(WithinTargetBody {
            share: rate(Rate { ratio, nights }, 100, Number)?,
            low: per_cent(range.low)?,
            high: per_cent(range.high)?,
        })
    });
    (tally.orders > 0).then(|| TicketsBody {
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
