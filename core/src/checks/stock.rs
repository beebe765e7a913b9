//! What stock and yields cannot be: more than there was, less than nothing, more out than in.
//!
//! The tallies doubt such spans by themselves, and heal when what was missing is entered; here the
//! person who counts is asked at once.

use super::expect::tallied;
use super::slips::stake;
use super::{About, Check, CheckKind, Given};
use crate::ids::ItemId;
use crate::night::{Entry, EntryBody};
use crate::tally::{Doubt, ItemSpan, over_cap};

/// What the spans that end with a count, and the batches of its date, cannot be.
pub fn stock(given: &Given<'_>) -> Vec<Check> {
    let spans = given.items.iter().filter_map(|(id, past)| Some((id, past.ends.as_ref()?)));
    let mut found: Vec<Check> = spans
        .flat_map(|(id, span)| [use_below_zero(given, id, span), waste(given, id, span)])
        .flatten()
        .collect();
    let batches = given.facts.entries.iter();
    found.extend(batches.filter_map(|entry| impossible_yield(given, entry)));
    found
}

fn title<'a>(given: &'a Given<'_>, id: &'a ItemId) -> &'a str {
    given.catalog.items.get(id).map_or(id.as_str(), |item| item.title.as_str())
}

/// More stands there than could, beyond three standard deviations of the count error of both ends.
fn use_below_zero(given: &Given<'_>, id: &ItemId, span: &ItemSpan) -> Option<Check> {
    span.doubts.contains(&Doubt::NegativeUse).then(|| {
        let made = given.catalog.items.get(id).is_some_and(|item| item.made_from.is_some());
        let missing = if made { "a preparation" } else { "a delivery" };
        let says = format!(
            "more {} is counted than was there and came in: is {missing} or a transfer from \
             another store not entered yet?",
            title(given, id)
        );
        let mut check = Check::new(CheckKind::NegativeUse, About::Item { item: id.clone() }, says);
        check.stake = stake(given, id, tallied(span.used).abs());
        check
    })
}

/// More was thrown away than was there: opening, received, made.
fn waste(given: &Given<'_>, id: &ItemId, span: &ItemSpan) -> Option<Check> {
    span.doubts.contains(&Doubt::WasteAboveHandled).then(|| {
        let says = format!(
            "more {} was thrown away than was there: is a delivery missing?",
            title(given, id)
        );
        let about = About::Item { item: id.clone() };
        let mut check = Check::new(CheckKind::WasteAboveHandled, about, says);
        check.stake = stake(given, id, tallied(span.wasted + span.wasted_safety));
        check
    })
}

/// More came out of a stage of a batch than its cap allows: one question a batch, about the first
/// such stage, since later ones rest on it.
fn impossible_yield(given: &Given<'_>, entry: &Entry) -> Option<Check> {
    let EntryBody::Batch { item: id, from, put_in, steps, .. } = &entry.body else { return None };
    let step = over_cap(given.catalog, id, from.as_ref(), put_in, steps).ok()??;
    let item = given.catalog.items.get(id)?;
    let stage = item.stages.stage(&step.stage).ok()?;
    let says = format!(
        "{} {} came out of {}, more than can: weigh again. Is the pan's weight taken off, and is \
         all of it of this lot?",
        step.out, item.title, stage.title
    );
    let about = About::Entry { entry: entry.id, item: id.clone() };
    let mut check = Check::new(CheckKind::ImpossibleYield, about, says);
    let out = item.measure(id, &step.out).ok()?;
    let bought = item.as_purchased(id, out, Some(&step.stage)).ok()?;
    check.stake = given.catalog.unit_price(id).and_then(|price| price.try_of(bought).ok());
    Some(check)
}
