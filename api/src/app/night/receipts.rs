//! The receipt of a night: what was understood, and what it means.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Standing, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Input, Item, Settings, Store};
use parings_core::checks::Check;
use parings_core::ids::{ItemId, StageId, StoreId};
use parings_core::money::{Money, UnitPrice};
use parings_core::night::{Count, CountLine, EntryBody, State};
use parings_core::quantity::{Amount, Base, Dimension, Tallied};
use parings_core::stats::{Grade, StdDev};
use parings_core::tally::{Day, DayFacts, ItemDay, ItemSpan, RULES};
use parings_core::usage::{Causes, PutIn, RecipeEffect, Samples, recipe_effect};
use parings_core::yields::{GradeLimits, Yield, batch_yield};

use crate::app::Deps;
use crate::app::ground::{audit, catalog};
use crate::app::night::revisions::{self, Revision};
use crate::app::night::stood::{BACK, Stood};
use crate::app::night::tallying::{Ended, Reckoned};
use crate::app::night::{as_known, checks, tallying};
use crate::context::{Caller, Ctx};
use crate::error::AppError;

/// What a night means, as far as is known.
pub struct Receipt {
    /// The store.
    pub store: StoreId,
    /// The date.
    pub date: BusinessDate,
    /// The network's settings on that date.
    pub settings: Settings,
    /// The reference data are those known at this moment.
    pub known_at: DateTime<Utc>,
    /// The version of the rules that worked it out.
    pub rules: i16,
    /// The count as it stands, if there is one.
    pub count: Option<Taken>,
    /// The number of the last revision, whatever became of it.
    pub latest: Option<i32>,
    /// Revisions that wait: for answers, or for approval.
    pub waiting: Vec<Waiting>,
    /// Items of the count that are left out, and why.
    pub left_out: BTreeMap<ItemId, Vec<String>>,
    /// What was said of the count and asks nothing.
    pub said: Vec<Check>,
    /// Everything of the date, without spans.
    pub day: Day,
    /// Item by item, in order of their codes.
    pub items: Vec<ItemReport>,
    /// Batches that were weighed.
    pub batches: Vec<BatchReport>,
    /// Preparations whose inputs were weighed.
    pub preparations: Vec<PreparationReport>,
}

/// A count on record.
pub struct Taken {
    /// The number of its revision.
    pub revision: i32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Why it was revised.
    pub reason: Option<String>,
    /// The count as typed.
    pub count: Count,
    /// Its lines, as understood.
    pub lines: Vec<(CountLine, Tallied)>,
}

/// A revision that waits.
pub struct Waiting {
    /// It.
    pub revision: Revision,
    /// When a held one is settled without an answer.
    pub settles_at: Option<DateTime<Utc>>,
}

impl Receipt {
    /// The ETag: it covers what people wrote, not what was derived.
    pub fn etag(&self) -> Option<String> {
        self.latest.map(etag)
    }
}

/// The ETag of a revision.
pub fn etag(revision: i32) -> String {
    format!("\"r{revision}\"")
}

/// What is known of an item's use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// It was not counted.
    NotCounted,
    /// It was counted for the first time: there is nothing to compare with.
    Baseline,
    /// It was counted; expected use is pending until sales are known.
    Pending,
    /// It was counted, and its expected use is known.
    Compared,
}

/// An item of a night.
pub struct ItemReport {
    /// Its code.
    pub id: ItemId,
    /// The item.
    pub item: Item,
    /// Its standard price.
    pub price: Option<UnitPrice>,
    /// What is known of its use.
    pub known: Known,
    /// What happened on the date.
    pub day: ItemDay,
    /// Its use since the count before.
    pub span: Option<ItemSpan>,
    /// When another night's change last restated that.
    pub restated_at: Option<DateTime<Utc>>,
    /// The variance by cause, once it is known.
    pub causes: Option<Causes>,
    /// The portions weighed that it rests on, pooled over the last nights.
    pub samples: Samples,
}

impl ItemReport {
    /// What an amount of it costs.
    pub fn cost(&self, amount: Tallied) -> Option<Money> {
        self.price?.try_of(amount.base()).ok()
    }
}

/// A batch that was weighed, stage by stage.
pub struct BatchReport {
    /// The item.
    pub item: ItemId,
    /// Its lot.
    pub lot: Option<String>,
    /// Stage, yield, standard, and how the one compares with the other.
    pub stages: Vec<(StageId, Yield, Yield, Grade)>,
}

/// A preparation whose inputs were weighed.
pub struct PreparationReport {
    /// The item made.
    pub item: ItemId,
    /// How much of it.
    pub made: Tallied,
    /// What other amounts than the recipe's came to; none when an input has no price, or cannot be
    /// told as a weight.
    pub effect: Option<RecipeEffect>,
}

/// What a receipt takes from nights before its own.
pub struct Since {
    /// The version of the rules that worked the night out.
    pub rules: i16,
    /// The spans that end with the night.
    pub spans: Ended,
    /// Portions weighed of each item over the last nights.
    pub samples: BTreeMap<ItemId, Samples>,
    /// Every revision of the night.
    pub revisions: Vec<Revision>,
}

/// Reads the receipt of a night as it is known now, or was at a moment, and tells who asked.
///
/// # Errors
/// 404 when the store is not the caller's to see, 403 when their role may not; 422 for a moment to
/// come.
pub async fn read(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    as_known_at: Option<DateTime<Utc>>,
) -> Result<(Receipt, Ctx), AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, date, ctx.now, store).await?;
        ctx.require(Action::ReadNight, &Target::Store(&standing))?;
        audit::note_reading(conn, ctx, Action::ReadNight, &standing, date).await?;
        let receipt = known(deps, conn, caller, ctx, (&standing, date), as_known_at).await?;
        Ok((receipt, ctx.clone()))
    })
    .await
}

/// Makes the receipt of a night as it is known now, or was at a moment.
///
/// # Errors
/// 422 for a moment to come; when the database cannot be reached.
pub async fn known(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    ctx: &Ctx,
    (standing, date): (&Standing, BusinessDate),
    as_known_at: Option<DateTime<Utc>>,
) -> Result<Receipt, AppError> {
    let Some(at) = as_known_at else { return make(deps, conn, ctx, standing, date).await };
    as_known::past(at, ctx.now, "/as_known_at")?;
    as_known::receipt(deps, conn, caller, ctx, (&standing.store, date), at).await
}

/// Makes the receipt of a night on record, for whoever may read its facts and its spans.
///
/// # Errors
/// When the database cannot be reached.
pub async fn make(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    standing: &Standing,
    date: BusinessDate,
) -> Result<Receipt, AppError> {
    let store = &standing.store;
    let stood = Stood::around(conn, store, date, BACK).await?;
    let known_at = stood.beside(date).map_or(ctx.now, |beside| beside.known_at);
    let night = Reckoned::read(deps, conn, store, date, known_at).await?;
    let back = i64::from(tallying::settings(&night.catalog)?.sample_nights);
    let samples = tallying::samples(conn, store, date, back, &stood).await?;
    let spans = stood.nights.get(date).map(|night| night.spans.clone()).unwrap_or_default();
    let revisions = revisions::of_night(conn, store, date).await?;
    let rules = stood.beside(date).map_or(RULES, |beside| beside.rules);
    of(store, date, night, Since { rules, spans, samples, revisions })
}

/// Makes the receipt of a night.
///
/// # Errors
/// When the database cannot be reached.
pub fn of(
    store: &StoreId,
    date: BusinessDate,
    night: Reckoned,
    Since { rules, spans, samples, revisions }: Since,
) -> Result<Receipt, AppError> {
    let Reckoned { known_at, catalog, facts, revision, day } = night;
    let settings = tallying::settings(&catalog)?.clone();
    let latest = revisions.last().map(|last| last.number);
    let stands = revision.and_then(|number| revisions.iter().find(|r| r.number == number));
    let count = stands.map(|revision| taken(&catalog, revision)).transpose()?;
    let left_out = stands.map(|revision| left_out(revision, &facts)).unwrap_or_default();
    let said = stands.map(|revision| revision.said().cloned().collect()).unwrap_or_default();
    let mut waiting = Vec::new();
    for revision in revisions.into_iter().filter(Revision::waits) {
        let held = revision.state == State::Held;
        let at = || checks::settles_at(&catalog, store, date, revision.recorded_at);
        let settles_at = held.then(at).transpose()?;
        waiting.push(Waiting { revision, settles_at });
    }
    let place = tallying::in_catalog(&catalog, store)?;
    let items = reports(&catalog, place, date, &day, &spans, &samples);
    Ok(Receipt {
        store: store.clone(),
        date,
        settings,
        known_at,
        rules,
        count,
        latest,
        waiting,
        left_out,
        said,
        day,
        items,
        batches: batches(&catalog, &facts)?,
        preparations: preparations(&catalog, &facts)?,
    })
}

fn taken(catalog: &Catalog, revision: &Revision) -> Result<Taken, AppError> {
    let understood = |line: &CountLine| -> anyhow::Result<(CountLine, Tallied)> {
        let amount = line.amount(catalog).map_err(anyhow::Error::msg)?;
        Ok((line.clone(), amount.settle()?))
    };
    let lines = revision.count.lines.iter().map(understood).collect::<anyhow::Result<_>>()?;
    Ok(Taken {
        revision: revision.number,
        recorded_at: revision.recorded_at,
        reason: revision.reason.clone(),
        count: revision.count.clone(),
        lines,
    })
}

/// The items of a count that are left out, each with what nobody took the doubt away of.
fn left_out(revision: &Revision, facts: &DayFacts) -> BTreeMap<ItemId, Vec<String>> {
    let why = |item: &ItemId| {
        let doubts = |check: &&Check| check.doubted(&revision.count).contains(item);
        revision.unresolved().filter(doubts).map(|check| check.says.clone()).collect()
    };
    facts.left_out.iter().map(|item| (item.clone(), why(item))).collect()
}

/// The items that were due or that something is known of.
fn reports(
    catalog: &Catalog,
    store: &Store,
    date: BusinessDate,
    day: &Day,
    spans: &Ended,
    samples: &BTreeMap<ItemId, Samples>,
) -> Vec<ItemReport> {
    catalog
        .items
        .iter()
        .filter(|(id, item)| day.items.contains_key(*id) || catalog.is_due(item, store, date))
        .map(|(id, item)| {
            let today = day.items.get(id).cloned().unwrap_or_default();
            let ended = spans.get(id);
            let span = ended.map(|ended| ended.span.clone());
            let samples = samples.get(id).copied().unwrap_or_default();
            let causes = span.as_ref().and_then(|span| causes(span, &samples));
            let known = match (&today.count, &span, &causes) {
                (None, ..) => Known::NotCounted,
                (Some(_), None, _) => Known::Baseline,
                (Some(_), Some(_), None) => Known::Pending,
                (Some(_), Some(_), Some(_)) => Known::Compared,
            };
            ItemReport {
                id: id.clone(),
                item: item.clone(),
                price: catalog.unit_price(id),
                known,
                day: today,
                span,
                restated_at: ended.and_then(|ended| ended.restated_at),
                causes,
                samples,
            }
        })
        .collect()
}

fn causes(span: &ItemSpan, samples: &Samples) -> Option<Causes> {
    let counts = sd(span.opening.sd).zip(sd(span.closing.sd)).map(|(a, b)| a.and(b));
    let (variance, expected) = (span.variance()?, span.expected?);
    Some(Causes::split(variance, expected, span.wasted, span.yield_loss, samples, counts))
}

#[expect(clippy::cast_precision_loss, reason = "statistics")]
fn sd(of: Tallied) -> Option<StdDev> {
    StdDev::new(of.thousandths() as f64 / 1000.0).ok()
}

fn batches(catalog: &Catalog, facts: &DayFacts) -> Result<Vec<BatchReport>, AppError> {
    let mut reports = Vec::new();
    for entry in &facts.entries {
        let EntryBody::Batch { item: id, from, put_in, steps, lot, .. } = &entry.body else {
            continue;
        };
        let item = catalog.item(id).map_err(anyhow::Error::new)?;
        let mut before = item.measure(id, put_in).map_err(anyhow::Error::new)?;
        let mut stages = Vec::new();
        let mut weighed_at = from.as_ref();
        for step in steps {
            let after = item.measure(id, &step.out).map_err(anyhow::Error::new)?;
            let standard = item.stages.standard_between(weighed_at, &step.stage);
            let standard = standard.map_err(anyhow::Error::new)?;
            if let Ok(found) = batch_yield(before, after) {
                let grade = GradeLimits::default().grade(found, standard);
                stages.push((step.stage.clone(), found, standard, grade));
            }
            (before, weighed_at) = (after, Some(&step.stage));
        }
        reports.push(BatchReport { item: id.clone(), lot: lot.clone(), stages });
    }
    Ok(reports)
}

fn preparations(catalog: &Catalog, facts: &DayFacts) -> Result<Vec<PreparationReport>, AppError> {
    let mut reports = Vec::new();
    for entry in &facts.entries {
        let EntryBody::Preparation { item: id, made, inputs, .. } = &entry.body else { continue };
        if inputs.is_empty() {
            continue;
        }
        let item = catalog.item(id).map_err(anyhow::Error::new)?;
        let made = item.measure(id, made).map_err(anyhow::Error::new)?;
        let standard = catalog.inputs_of(id, made).map_err(anyhow::Error::msg)?;
        let weighed =
            inputs.iter().map(|input| put_in(catalog, input, *standard.0.get(&input.item)?));
        let effect = weighed.collect::<Option<Vec<_>>>().and_then(|all| recipe_effect(&all).ok());
        let made = made.settle().map_err(anyhow::Error::new)?;
        reports.push(PreparationReport { item: id.clone(), made, effect });
    }
    Ok(reports)
}

/// An input in grams as purchased, so that all inputs of a preparation share a unit.
fn put_in(catalog: &Catalog, input: &Input, standard: Base) -> Option<PutIn> {
    let id = &input.item;
    let item = catalog.item(id).ok()?;
    let here = item.measure(id, &input.quantity).ok()?;
    let actual = item.as_purchased(id, here, input.stage.as_ref()).ok()?;
    let grams = |amount: Base| {
        let weight = item.bridge.convert(Amount::new(item.base, amount.value()), Dimension::Mass);
        weight.ok().map(|weight| Base::new(weight.base()))
    };
    let (standard_grams, actual) = (grams(standard)?, grams(actual)?);
    let cost = catalog.unit_price(id)?.try_of(standard).ok()?;
    Some(PutIn {
        standard: standard_grams,
        actual,
        price: UnitPrice::per(cost, standard_grams).ok()?,
    })
}
