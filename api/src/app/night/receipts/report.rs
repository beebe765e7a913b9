//! Makes the receipt of a night from what it adds up to.

use std::collections::BTreeMap;

use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Input, Store};
use parings_core::checks::Check;
use parings_core::ids::{ItemId, StoreId};
use parings_core::money::UnitPrice;
use parings_core::night::{CountLine, EntryBody, State};
use parings_core::quantity::{Amount, Base, Dimension, Tallied};
use parings_core::stats::StdDev;
use parings_core::tally::{Day, DayFacts, ItemSpan};
use parings_core::usage::{Causes, PutIn, Samples, recipe_effect};
use parings_core::yields::{GradeLimits, batch_yield};

use super::{BatchReport, ItemReport, Known, PreparationReport, Receipt, Since, Taken, Waiting};
use crate::app::night::checks;
use crate::app::night::revisions::Revision;
use crate::app::night::tallying::{self, Ended, Reckoned};
use crate::error::AppError;

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
        as_known_at: None,
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
