//! From the receipt to what it says on the wire.

use parings_core::catalog::Settings;
use parings_core::ids::ItemId;
use parings_core::money::{Currency, Money};
use parings_core::night::State;
use parings_core::quantity::{Dimension, Tallied};
use parings_core::stats::{Confidence, Grade, Percentile};
use parings_core::tally::{DaypartTally, SalesSource};
use parings_core::tickets::TicketTally;
use parings_core::usage::Estimate;
use rust_decimal::Decimal;

use super::body::*;
use crate::app::night::receipts::{BatchReport, ItemReport, Known, Receipt, Taken};
use crate::context::Ctx;
use crate::http::amount::{AmountBody, RatioBody, money, spread};
use crate::http::checks::{CheckBody, HeldBody, ProposedBody};
use crate::http::quantity::Number;

fn percent(share: f64) -> Number {
    Number(Decimal::try_from(share * 100.0).unwrap_or_default().round_dp(1).normalize())
}

impl NightTicketsBody {
    fn new(tally: &TicketTally, settings: &Settings) -> Self {
        let least = settings.minimum_tickets;
        let shown = |p| tally.shown_percentile(p, least).map(|seconds| seconds.0);
        let within = tally.within_target(Confidence::NINETY_FIVE);
        Self {
            orders: tally.orders,
            timed: tally.times.count(),
            p50_s: shown(Percentile::P50),
            p90_s: shown(Percentile::P90),
            within_target: within.map(|(share, interval)| NightWithinTargetBody {
                within: share.hits(),
                of: share.of(),
                percent: percent(share.share()),
                low: percent(interval.low),
                high: percent(interval.high),
            }),
            never_closed: tally.never_closed,
            lump_closed: tally.lump_closed,
            doubtful: tally.doubtful(settings.doubtful_tickets),
        }
    }
}

impl ReceiptBody {
    /// The receipt as the one who acts may see it.
    pub fn new(ctx: &Ctx, receipt: Receipt) -> Self {
        let currency = receipt.settings.currency;
        let night = &receipt.day.night;
        let all = receipt.day.dayparts.values();
        let tickets = all.fold(DaypartTally::default(), |sum, part| sum.merge(part)).tickets;
        let trace = format!("/v1/stores/{}/nights/{}/trace?item=", receipt.store, receipt.date);
        Self {
            store: receipt.store.to_string(),
            business_date: receipt.date.into(),
            currency: currency.as_str().to_owned(),
            rules: receipt.rules,
            known_at: receipt.known_at,
            as_known_at: receipt.as_known_at,
            items_due: night.items_due,
            items_counted: night.items_counted,
            items_left_out: night.items_left_out,
            left_out: receipt
                .left_out
                .iter()
                .map(|(item, why)| LeftOutItemBody { item: item.to_string(), why: why.clone() })
                .collect(),
            held: receipt.waiting.iter().rev().find_map(|w| HeldBody::new(w, &currency)),
            proposed: receipt
                .waiting
                .iter()
                .map(|waiting| &waiting.revision)
                .rfind(|revision| revision.state == State::Proposed)
                .map(|revision| ProposedBody::new(revision, &currency)),
            flags: receipt
                .said
                .iter()
                .map(|check| {
                    let lines = receipt.count.as_ref().map_or(&[][..], |t| &t.count.lines);
                    CheckBody::new(check, lines, &currency)
                })
                .collect(),
            short_day: night.short,
            sales_from: match night.sales_source {
                SalesSource::Feed => SalesFrom::Feed,
                SalesSource::Typed => SalesFrom::Typed,
                SalesSource::None => SalesFrom::None,
            },
            sales: night.sales.map(|sales| money(sales, &currency)),
            units: night.units,
            unmapped: receipt
                .day
                .unmapped
                .iter()
                .map(|(code, units)| UnmappedBody { code: code.clone(), units: *units })
                .collect(),
            waste: waste(&receipt.items, &currency),
            batches: receipt.batches.iter().map(Into::into).collect(),
            preparations: receipt
                .preparations
                .iter()
                .map(|made| WeighedPreparationBody {
                    item: made.item.to_string(),
                    made: AmountBody::new(made.made, dimension_of(&receipt.items, &made.item)),
                    effect: made.effect.map(|effect| RecipeEffectBody {
                        mix: money(effect.mix, &currency),
                        yielded: money(effect.yielded, &currency),
                    }),
                })
                .collect(),
            tickets: NightTicketsBody::new(&tickets, &receipt.settings),
            dayparts: receipt
                .day
                .dayparts
                .iter()
                .map(|(key, part)| NightDaypartBody {
                    daypart: key.daypart.to_string(),
                    channel: key.channel.to_string(),
                    units: part.units,
                    sales: money(part.sales, &currency),
                    tickets: NightTicketsBody::new(&part.tickets, &receipt.settings),
                    stock_out_minutes: part.stock_out_minutes,
                })
                .collect(),
            items: receipt
                .items
                .iter()
                .map(|item| NightItemBody::new(item, &receipt.settings, &trace))
                .collect(),
            count: receipt.count.map(|taken| CountBody::new(ctx, taken, &receipt.items)),
        }
    }
}

impl CountBody {
    fn new(ctx: &Ctx, taken: Taken, items: &[ItemReport]) -> Self {
        Self {
            revision: taken.revision,
            recorded_at: taken.recorded_at,
            reason: taken.reason,
            complete: taken.count.complete,
            counted_by: if ctx.sees_names() { taken.count.counted_by } else { Vec::new() },
            lines: taken
                .lines
                .iter()
                .map(|(line, amount)| UnderstoodBody {
                    typed: line.into(),
                    as_purchased: AmountBody::new(*amount, dimension_of(items, &line.item)),
                })
                .collect(),
        }
    }
}

/// What an item of the receipt is measured by; whatever was counted or made is in it.
fn dimension_of(items: &[ItemReport], item: &ItemId) -> Dimension {
    let found = items.iter().find(|report| report.id == *item);
    found.map_or(Dimension::Count, |report| report.item.base)
}

fn waste(items: &[ItemReport], currency: &Currency) -> Vec<NightWasteReasonBody> {
    let mut by_reason: std::collections::BTreeMap<_, (bool, Money, Vec<NightWasteLineBody>)> =
        std::collections::BTreeMap::new();
    for report in items {
        for line in &report.day.waste {
            let (safety, cost, lines) = by_reason.entry(line.reason.clone()).or_default();
            *safety = line.safety;
            *cost += line.cost;
            lines.push(NightWasteLineBody {
                item: report.id.to_string(),
                stage: line.stage.as_ref().map(ToString::to_string),
                daypart: line.daypart.as_ref().map(ToString::to_string),
                amount: AmountBody::new(line.amount, report.item.base),
                cost: money(line.cost, currency),
            });
        }
    }
    by_reason
        .into_iter()
        .map(|(reason, (safety, cost, lines))| NightWasteReasonBody {
            reason: reason.to_string(),
            safety,
            cost: money(cost, currency),
            lines,
        })
        .collect()
}

impl From<&BatchReport> for BatchBody {
    fn from(batch: &BatchReport) -> Self {
        let stage = |(stage, found, standard, grade): &(_, parings_core::yields::Yield, _, _)| {
            let standard: &parings_core::yields::Yield = standard;
            let stage: &parings_core::ids::StageId = stage;
            StageYieldBody {
                stage: stage.to_string(),
                found: Number(found.decimal().round_dp(3).normalize()),
                standard: Number(standard.decimal()),
                grade: match grade {
                    Grade::Within => GradeBody::Within,
                    Grade::NearTheEdge => GradeBody::NearTheEdge,
                    Grade::Outside => GradeBody::Outside,
                },
            }
        };
        Self {
            item: batch.item.to_string(),
            lot: batch.lot.clone(),
            stages: batch.stages.iter().map(stage).collect(),
        }
    }
}

impl NightItemBody {
    fn new(report: &ItemReport, settings: &Settings, trace: &str) -> Self {
        let amount = |amount| AmountBody::new(amount, report.item.base);
        Self {
            item: report.id.to_string(),
            title: report.item.title.clone(),
            known: match report.known {
                Known::NotCounted => KnownBody::NotCounted,
                Known::Baseline => KnownBody::Baseline,
                Known::Pending => KnownBody::Pending,
                Known::Compared => KnownBody::Compared,
            },
            counted: report.day.count.map(|count| amount(count.closing)),
            usage: usage(report, settings),
            wasted: amount(report.day.wasted - report.day.wasted_safety),
            wasted_for_safety: amount(report.day.wasted_safety),
            price_effect: (!report.day.price_effect.is_zero())
                .then(|| money(report.day.price_effect, &settings.currency)),
            stock_out_minutes: report.day.stock_out_minutes,
            trace: format!("{trace}{}", report.id),
        }
    }
}

fn usage(report: &ItemReport, settings: &Settings) -> Option<UsageBody> {
    let span = report.span.as_ref()?;
    let amount = |amount| AmountBody::new(amount, report.item.base);
    Some(UsageBody {
        since: span.opened_on.into(),
        nights: span.nights,
        opening: amount(span.opening.closing),
        received: amount(span.received),
        transferred_in: amount(span.transferred_in),
        transferred_out: amount(span.transferred_out),
        made: amount(span.made),
        safety: amount(span.wasted_safety),
        closing: amount(span.closing.closing),
        used: amount(span.used),
        used_cost: span.used_cost.map(|cost| money(cost, &settings.currency)),
        made_into: amount(span.made_into),
        expected: span.expected.map(amount),
        variance: variance(report, settings),
        doubts: span.doubts.iter().map(|doubt| doubt.word()).collect(),
        restated_at: report.restated_at,
    })
}

fn variance(report: &ItemReport, settings: &Settings) -> Option<NightVarianceBody> {
    let (span, causes) = (report.span.as_ref()?, report.causes.as_ref()?);
    let (due, variance) = (span.due()?, causes.variance.amount);
    let base = report.item.base;
    let part = |amount: Tallied, cost: Option<Money>| VariancePartBody {
        amount: AmountBody::new(amount, base),
        give_or_take: None,
        cost: cost.map(|cost| money(cost, &settings.currency)),
    };
    let estimate = |estimate: Estimate, cost| VariancePartBody {
        give_or_take: estimate.sd.and_then(|sd| spread(sd, base)),
        ..part(estimate.amount, cost)
    };
    let over_cost = causes.over_portioning.and_then(|over| report.cost(over.amount));
    let rest_cost = span.variance_cost.map(|all| {
        all - span.wasted_cost - span.yield_loss_cost - over_cost.unwrap_or(Money::ZERO)
    });
    Some(NightVarianceBody {
        total: estimate(causes.variance, span.variance_cost),
        of_expected: RatioBody::of_amounts(variance, due, base),
        of_sales: span
            .variance_cost
            .zip(span.sales)
            .map(|(cost, sales)| RatioBody::of_money(cost, sales, settings)),
        accounted: RatioBody::of_amounts(due, span.used, base),
        waste: part(causes.waste, Some(span.wasted_cost)),
        yield_loss: part(causes.yield_loss, Some(span.yield_loss_cost)),
        over_portioning: causes.over_portioning.map(|over| estimate(over, over_cost)),
        portions_weighed: report.samples.count(),
        unexplained: estimate(causes.unexplained, rest_cost),
        reading: reading(causes.unexplained, base),
    })
}

/// What an unexplained rest says. Two standard deviations are the least that is told from zero; no
/// single night says more than that it is worth a look.
fn reading(rest: Estimate, base: Dimension) -> String {
    let amount = AmountBody::new(rest.amount, base);
    let Some(sd) = rest.sd else {
        return "How far this may be off is not known.".to_owned();
    };
    let give_or_take = spread(sd, base).map(|n| n.to_string()).unwrap_or_default();
    let said = format!("{} {}, give or take {give_or_take}", amount.value, amount.unit);
    #[expect(clippy::cast_precision_loss, reason = "statistics")]
    let size = (rest.amount.thousandths() as f64 / 1000.0).abs();
    if size < 2.0 * sd.value() {
        format!("Cannot be told from zero: {said}.")
    } else {
        format!("Larger than the counts explain: {said}. One night alone proves nothing.")
    }
}
