//! The receipt of a night on the wire.

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{Data, Path};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::catalog::Settings;
use parings_core::ids::ItemId;
use parings_core::money::{Currency, Money};
use parings_core::quantity::{Dimension, Tallied};
use parings_core::stats::{Confidence, Grade, Percentile};
use parings_core::tally::{DaypartTally, RULES, SalesSource};
use parings_core::tickets::TicketTally;
use parings_core::usage::Estimate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::receipts::{BatchReport, ItemReport, Known, Receipt, Taken};
use crate::app::{Deps, receipts};
use crate::context::{Caller, Ctx};
use crate::error::{AppError, Problem};
use crate::http::amount::{AmountBody, RatioBody, money, spread};
use crate::http::nights::{CountLineBody, night_of};
use crate::http::quantity::Number;

/// What a night means, as far as is known.
#[derive(Serialize, ToSchema)]
pub struct ReceiptBody {
    /// The store.
    #[schema(example = "ford")]
    pub store: String,
    /// The business date.
    pub business_date: NaiveDate,
    /// The network's currency; every sum of money below is in it.
    #[schema(example = "EUR")]
    pub currency: String,
    /// The version of the rules behind the figures.
    pub rules: i16,
    /// The figures rest on the reference data known at this moment.
    pub known_at: DateTime<Utc>,
    /// The count as it stands; missing while there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<CountBody>,
    /// Items due on the sheet, and how many of them were counted. Less than all is a partial count:
    /// what is missing is blank, not zero.
    pub items_due: u64,
    /// Items due that were counted.
    pub items_counted: u64,
    /// Where sales come from: a till's feed, typed, or nowhere yet.
    pub sales_from: SalesFrom,
    /// Net sales; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sales: Option<Number>,
    /// Units that used food; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub units: Option<u64>,
    /// Codes that the till sent and nobody mapped, with their units. They are kept, and counted as
    /// soon as head office maps the code.
    pub unmapped: Vec<UnmappedBody>,
    /// Item by item.
    pub items: Vec<ItemBody>,
    /// What was thrown away, by reason.
    pub waste: Vec<WasteReasonBody>,
    /// Batches that were weighed.
    pub batches: Vec<BatchBody>,
    /// Preparations whose inputs were weighed.
    pub preparations: Vec<PreparationBody>,
    /// Ticket times of the night, and by daypart and channel.
    pub tickets: TicketsBody,
    /// By daypart and channel.
    pub dayparts: Vec<DaypartBody>,
}

/// A count on record, as typed and as understood.
#[derive(Serialize, ToSchema)]
pub struct CountBody {
    /// The number of its revision, from 1.
    pub revision: i32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Why it was revised.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Whether every line of the sheet was answered.
    pub complete: bool,
    /// Who counted; told to those who work in the store.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub counted_by: Vec<String>,
    /// Its lines.
    pub lines: Vec<UnderstoodBody>,
}

/// A line as typed, and what it comes to.
#[derive(Serialize, ToSchema)]
pub struct UnderstoodBody {
    /// As typed.
    pub typed: CountLineBody,
    /// What it comes to as purchased, the pan's tare taken off.
    pub as_purchased: AmountBody,
}

/// Where sales come from.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SalesFrom {
    /// A till's feed.
    Feed,
    /// Typed with the count.
    Typed,
    /// Nowhere yet: expected use is pending.
    None,
}

/// Units under a code nobody mapped.
#[derive(Serialize, ToSchema)]
pub struct UnmappedBody {
    /// The till's code.
    pub code: String,
    /// How many units.
    pub units: u64,
}

/// An item of a night, as purchased.
#[derive(Serialize, ToSchema)]
pub struct ItemBody {
    /// The item.
    #[schema(example = "potato")]
    pub item: String,
    /// What people call it.
    pub title: String,
    /// What is known of its use.
    pub known: KnownBody,
    /// Its use since the count before; missing where it was not counted, or for the first time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub usage: Option<UsageBody>,
    /// Thrown away on this date, safety discards apart.
    pub wasted: AmountBody,
    /// Thrown away on this date for safety. It never counts against a store.
    pub wasted_for_safety: AmountBody,
    /// What deliveries of this date cost beyond the standard price; missing where nobody wrote down
    /// what was paid, or it was the standard. It is no part of the variance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_effect: Option<Number>,
    /// Minutes it was out.
    pub stock_out_minutes: u64,
    /// Where every figure opens to its rows: add `&figure=` with a figure's name.
    #[schema(example = "/v1/stores/ford/nights/2026-06-15/trace?item=potato")]
    pub trace: String,
}

/// What is known of an item's use.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum KnownBody {
    /// It was not counted; that is not zero.
    NotCounted,
    /// Counted for the first time: the next count has something to compare with.
    Baseline,
    /// Counted; expected use is pending until sales are known.
    Pending,
    /// Counted and compared.
    Compared,
}

/// Use of an item between two counts.
#[derive(Serialize, ToSchema)]
pub struct UsageBody {
    /// The date of the count it starts from.
    pub since: NaiveDate,
    /// Open nights in it.
    pub nights: u64,
    /// What stood there then.
    pub opening: AmountBody,
    /// Delivered.
    pub received: AmountBody,
    /// Come from other stores.
    pub transferred_in: AmountBody,
    /// Gone to other stores.
    pub transferred_out: AmountBody,
    /// Prepared here from other items.
    pub made: AmountBody,
    /// Thrown away for safety. It left the stock and was not used: it counts against nobody.
    pub safety: AmountBody,
    /// What stands there now.
    pub closing: AmountBody,
    /// opening + received + transferred in + made − transferred out − safety − closing.
    pub used: AmountBody,
    /// Its cost; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_cost: Option<Number>,
    /// Went into preparing other items, at their standard.
    pub made_into: AmountBody,
    /// What sales should have used; missing while pending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<AmountBody>,
    /// used − made into − expected, with its causes; missing while pending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub variance: Option<VarianceBody>,
    /// When a later entry or another night's change last restated these figures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub restated_at: Option<DateTime<Utc>>,
}

/// A variance and where it went, in physical order. Negative parts stay negative.
#[derive(Serialize, ToSchema)]
pub struct VarianceBody {
    /// The variance.
    pub total: PartBody,
    /// As a share of what should have been used: expected + made into.
    pub of_expected: RatioBody,
    /// As a share of net sales; missing while they are unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_sales: Option<RatioBody>,
    /// The share of use that is accounted for: (expected + made into) ÷ used.
    pub accounted: RatioBody,
    /// Written down as thrown away, safety discards apart.
    pub waste: PartBody,
    /// Lost in weighed batches beyond the standard yield.
    pub yield_loss: PartBody,
    /// Served beyond the recipe, as portions weighed over the last nights say; missing without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over_portioning: Option<PartBody>,
    /// Portions weighed that this rests on.
    pub portions_weighed: u64,
    /// The rest. The loss of the last cooking is rarely weighed: what of it differs from the
    /// standard hides here and in over-portioning.
    pub unexplained: PartBody,
    /// What the rest says, given how far it may be off.
    #[schema(example = "Cannot be told from zero: 2.413 kg, give or take 5.205.")]
    pub reading: String,
}

/// A part of a variance.
#[derive(Serialize, ToSchema)]
pub struct PartBody {
    /// How much.
    pub amount: AmountBody,
    /// How far that may be off, one standard deviation, in the same unit; missing where it is
    /// exact or nobody can tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub give_or_take: Option<Number>,
    /// Its cost; missing without a price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<Number>,
}

/// Waste under one reason.
#[derive(Serialize, ToSchema)]
pub struct WasteReasonBody {
    /// The reason.
    #[schema(example = "expired")]
    pub reason: String,
    /// Whether for safety; that never counts against a store.
    pub safety: bool,
    /// Its cost.
    pub cost: Number,
    /// Its lines.
    pub lines: Vec<WasteLineBody>,
}

/// Waste of an item.
#[derive(Serialize, ToSchema)]
pub struct WasteLineBody {
    /// The item.
    pub item: String,
    /// The stage; missing for as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The daypart; missing if nobody knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub daypart: Option<String>,
    /// How much, as purchased.
    pub amount: AmountBody,
    /// Its cost.
    pub cost: Number,
}

/// A batch that was weighed.
#[derive(Serialize, ToSchema)]
pub struct BatchBody {
    /// The item.
    pub item: String,
    /// Its lot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Stage by stage.
    pub stages: Vec<StageYieldBody>,
}

/// The yield of a stage.
#[derive(Serialize, ToSchema)]
pub struct StageYieldBody {
    /// The stage.
    pub stage: String,
    /// Weight out ÷ weight in, since the stage weighed before it.
    pub found: Number,
    /// The standard.
    pub standard: Number,
    /// How the one compares with the other.
    pub grade: GradeBody,
}

/// A preparation whose inputs were weighed.
#[derive(Serialize, ToSchema)]
pub struct PreparationBody {
    /// The item made.
    pub item: String,
    /// How much of it.
    pub made: AmountBody,
    /// What other amounts than the recipe's came to; missing when an input has no price, or cannot
    /// be told as a weight.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effect: Option<RecipeEffectBody>,
}

/// What other amounts than the recipe's came to, at standard prices. Above zero is dearer.
#[derive(Serialize, ToSchema)]
pub struct RecipeEffectBody {
    /// For other proportions than the recipe's.
    pub mix: Number,
    /// For more or less in all than what was made should have taken.
    pub yielded: Number,
}

/// Three words that grade a figure.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum GradeBody {
    /// Within what is usual.
    Within,
    /// Near the edge of it.
    NearTheEdge,
    /// Outside it.
    Outside,
}

/// Ticket times.
#[derive(Serialize, ToSchema)]
pub struct TicketsBody {
    /// Orders.
    pub orders: u64,
    /// Orders whose time counts.
    pub timed: u64,
    /// The time half of them took at most, in seconds; missing below the network's least number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p50_s: Option<u32>,
    /// The time nine in ten took at most, in seconds; missing below the network's least number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub p90_s: Option<u32>,
    /// Within the target; missing where there is no target.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub within_target: Option<WithinTargetBody>,
    /// Never closed: no time, but counted.
    pub never_closed: u64,
    /// Closed in a lump to clear the screen: no time, but counted.
    pub lump_closed: u64,
    /// Whether so many have no time that the data are doubtful.
    pub doubtful: bool,
}

/// Orders within their target.
#[derive(Serialize, ToSchema)]
pub struct WithinTargetBody {
    /// Orders within.
    pub within: u64,
    /// Orders that had a target.
    pub of: u64,
    /// The share in percent.
    pub percent: Number,
    /// The low end of the 95 % interval (Wilson), in percent.
    pub low: Number,
    /// The high end.
    pub high: Number,
}

/// A daypart and channel.
#[derive(Serialize, ToSchema)]
pub struct DaypartBody {
    /// The daypart; `outside` and `unknown` are kept words.
    pub daypart: String,
    /// The channel; `unknown` and `every` are kept words.
    pub channel: String,
    /// Units that used food.
    pub units: u64,
    /// Net sales.
    pub sales: Number,
    /// Tickets.
    pub tickets: TicketsBody,
    /// Minutes that items were out, added up over items.
    pub stock_out_minutes: u64,
}

fn percent(share: f64) -> Number {
    Number(Decimal::try_from(share * 100.0).unwrap_or_default().round_dp(1).normalize())
}

impl TicketsBody {
    fn new(tally: &TicketTally, settings: &Settings) -> Self {
        let least = settings.minimum_tickets;
        let shown = |p| tally.shown_percentile(p, least).map(|seconds| seconds.0);
        let within = tally.within_target(Confidence::NINETY_FIVE);
        Self {
            orders: tally.orders,
            timed: tally.times.count(),
            p50_s: shown(Percentile::P50),
            p90_s: shown(Percentile::P90),
            within_target: within.map(|(share, interval)| WithinTargetBody {
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
            rules: RULES,
            known_at: receipt.known_at,
            items_due: night.items_due,
            items_counted: night.items_counted,
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
                .map(|made| PreparationBody {
                    item: made.item.to_string(),
                    made: AmountBody::new(made.made, dimension_of(&receipt.items, &made.item)),
                    effect: made.effect.map(|effect| RecipeEffectBody {
                        mix: money(effect.mix, &currency),
                        yielded: money(effect.yielded, &currency),
                    }),
                })
                .collect(),
            tickets: TicketsBody::new(&tickets, &receipt.settings),
            dayparts: receipt
                .day
                .dayparts
                .iter()
                .map(|(key, part)| DaypartBody {
                    daypart: key.daypart.to_string(),
                    channel: key.channel.to_string(),
                    units: part.units,
                    sales: money(part.sales, &currency),
                    tickets: TicketsBody::new(&part.tickets, &receipt.settings),
                    stock_out_minutes: part.stock_out_minutes,
                })
                .collect(),
            items: receipt
                .items
                .iter()
                .map(|item| ItemBody::new(item, &receipt.settings, &trace))
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

fn waste(items: &[ItemReport], currency: &Currency) -> Vec<WasteReasonBody> {
    let mut by_reason: std::collections::BTreeMap<_, (bool, Money, Vec<WasteLineBody>)> =
        std::collections::BTreeMap::new();
    for report in items {
        for line in &report.day.waste {
            let (safety, cost, lines) = by_reason.entry(line.reason.clone()).or_default();
            *safety = line.safety;
            *cost += line.cost;
            lines.push(WasteLineBody {
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
        .map(|(reason, (safety, cost, lines))| WasteReasonBody {
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

impl ItemBody {
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
        restated_at: report.restated_at,
    })
}

fn variance(report: &ItemReport, settings: &Settings) -> Option<VarianceBody> {
    let (span, causes) = (report.span.as_ref()?, report.causes.as_ref()?);
    let (due, variance) = (span.due()?, causes.variance.amount);
    let base = report.item.base;
    let part = |amount: Tallied, cost: Option<Money>| PartBody {
        amount: AmountBody::new(amount, base),
        give_or_take: None,
        cost: cost.map(|cost| money(cost, &settings.currency)),
    };
    let estimate = |estimate: Estimate, cost| PartBody {
        give_or_take: estimate.sd.and_then(|sd| spread(sd, base)),
        ..part(estimate.amount, cost)
    };
    let over_cost = causes.over_portioning.and_then(|over| report.cost(over.amount));
    let rest_cost = span.variance_cost.map(|all| {
        all - span.wasted_cost - span.yield_loss_cost - over_cost.unwrap_or(Money::ZERO)
    });
    Some(VarianceBody {
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

/// Read the receipt of a night: what was understood, and what it means as far as is known.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}",
    operation_id = "read_night", tag = "nights",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date")),
    responses(
        (status = 200, description = "The receipt; without a count there is no ETag", body = ReceiptBody,
            headers(("ETag" = Option<String>, description = "Of the count"))),
        (status = 401, description = "Not signed in", body = Problem, content_type = "application/problem+json"),
        (status = 403, description = "Not for this role", body = Problem, content_type = "application/problem+json"),
        (status = 404, description = "No such store to be seen", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "The network is not set up yet", body = Problem, content_type = "application/problem+json"),
        (status = 503, description = "Busy", body = Problem, content_type = "application/problem+json")))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let (receipt, ctx) = receipts::read(&deps, &caller, &store, date).await?;
    let mut response = HttpResponse::Ok();
    if let Some(taken) = &receipt.count {
        response.insert_header((header::ETAG, taken.etag()));
    }
    Ok(response.json(ReceiptBody::new(&ctx, receipt)))
}
