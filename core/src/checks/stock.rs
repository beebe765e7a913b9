//! What stock and yields cannot be: more than there was, less than nothing, more out than in.

use rust_decimal::Decimal;

use super::expect::tallied;
use super::slips::stake;
use super::{About, Check, Given, Kind};
use crate::catalog::{Item, Limits};
use crate::ids::{ItemId, StageId};
use crate::night::{Entry, EntryBody, Step};
use crate::tally::ItemSpan;
use crate::yields::{ScaleTolerance, Stage, Yield, batch_yield};

/// What the spans that end with a count, and the batches of its date, cannot be.
pub fn stock(given: &Given<'_>) -> Vec<Check> {
    let spans = given.items.iter().filter_map(|(id, past)| Some((id, past.ends.as_ref()?)));
    let mut found: Vec<Check> = spans
        .flat_map(|(id, span)| [use_below_zero(given, id, span), waste(given, id, span)])
        .flatten()
        .collect();
    found.extend(given.facts.entries.iter().flat_map(|entry| impossible_yields(given, entry)));
    found
}

/// Whether use below zero is more than the count error of both ends explains: three standard
/// deviations, unless the network says otherwise.
///
/// ```
/// use parings_core::catalog::Limits;
/// use parings_core::checks::negative_use;
/// use parings_core::quantity::Tallied;
/// let kg = |kg: i64| Tallied::from_thousandths(kg * 1_000_000);
/// // 2 kg of error at each end are 2.8 kg together, and three times that 8.5 kg.
/// let limits = Limits::default();
/// assert!(!negative_use(kg(-8), (kg(2), kg(2)), &limits));
/// assert!(negative_use(kg(-9), (kg(2), kg(2)), &limits));
/// ```
pub fn negative_use(
    used: crate::quantity::Tallied,
    errors: (crate::quantity::Tallied, crate::quantity::Tallied),
    limits: &Limits,
) -> bool {
    let error = tallied(errors.0).hypot(tallied(errors.1));
    tallied(used) < -error * limits.use_spreads.value() && tallied(used) < 0.0
}

/// Whether more was thrown away than was there: opening, received, made. What the opening count may
/// be off is allowed for.
pub fn waste_above_handled(span: &ItemSpan, limits: &Limits) -> bool {
    let wasted = span.wasted + span.wasted_safety;
    let handled = span.opening.closing + span.received + span.transferred_in + span.made;
    tallied(wasted - handled) > tallied(span.opening.sd) * limits.use_spreads.value()
}

fn use_below_zero(given: &Given<'_>, id: &ItemId, span: &ItemSpan) -> Option<Check> {
    let errors = (span.opening.sd, span.closing.sd);
    negative_use(span.used, errors, given.limits).then(|| {
        let item = given.catalog.items.get(id);
        let title = item.map_or(id.as_str(), |item| item.title.as_str());
        let mut ways = vec!["a delivery"];
        if span.transferred_in.is_zero() {
            ways.push("a transfer from another store");
        }
        if item.is_some_and(|item| item.made_from.is_some()) {
            ways.insert(0, "a preparation");
        }
        let says = format!(
            "more {title} is counted than was there and came in: is {} not entered yet?",
            ways.join(" or ")
        );
        let about = About::Item { item: id.clone() };
        let mut check = Check::new(Kind::NegativeUse, about, says);
        check.stake = stake(given, id, tallied(span.used).abs());
        check
    })
}

fn waste(given: &Given<'_>, id: &ItemId, span: &ItemSpan) -> Option<Check> {
    waste_above_handled(span, given.limits).then(|| {
        let title = given.catalog.items.get(id).map_or(id.as_str(), |item| item.title.as_str());
        let says = format!("more {title} was thrown away than was there: is a delivery missing?");
        let about = About::Item { item: id.clone() };
        let mut check = Check::new(Kind::WasteAboveHandled, about, says);
        check.stake = stake(given, id, tallied(span.wasted + span.wasted_safety));
        check
    })
}

/// What of a batch is over the cap of its stages. Where stages in between were not weighed, their
/// caps multiply.
fn impossible_yields(given: &Given<'_>, entry: &Entry) -> Vec<Check> {
    let EntryBody::Batch { item: id, from, put_in, steps, .. } = &entry.body else {
        return Vec::new();
    };
    let Some(item) = given.catalog.items.get(id) else { return Vec::new() };
    let mut before = (from.as_ref(), put_in);
    let mut found = Vec::new();
    for step in steps {
        if over_cap(id, item, before, step) {
            let stage = item.stages.stage(&step.stage).map_or("", |stage| stage.title.as_str());
            let says = format!(
                "{} of {} came out of {stage} from {}: weigh again; is the pan's weight taken off, \
                 and is it all of this lot?",
                step.out, item.title, before.1
            );
            let about = About::Entry { entry: entry.id, item: id.clone() };
            let mut check = Check::new(Kind::ImpossibleYield, about, says);
            let out = item
                .measure(id, &step.out)
                .and_then(|out| item.as_purchased(id, out, Some(&step.stage)));
            check.stake = out.ok().and_then(|out| given.catalog.unit_price(id)?.try_of(out).ok());
            found.push(check);
            // One question a batch: later steps rest on this one.
            break;
        }
        before = (Some(&step.stage), &step.out);
    }
    found
}

fn over_cap(
    id: &ItemId,
    item: &Item,
    (from, put_in): (Option<&StageId>, &crate::catalog::Typed),
    step: &Step,
) -> bool {
    let turn = |code: &StageId| item.stages.stages().iter().position(|s| s.code == *code);
    let first = from.and_then(turn).map_or(0, |at| at + 1);
    let Some(last) = turn(&step.stage) else { return false };
    let between = item.stages.stages().get(first..=last).unwrap_or_default();
    let caps: Decimal = between.iter().map(|stage| stage.cap.decimal()).product();
    let (Ok(put_in), Ok(out)) = (item.measure(id, put_in), item.measure(id, &step.out)) else {
        return false;
    };
    let (Ok(actual), Ok(cap)) = (batch_yield(put_in, out), Yield::new(caps)) else {
        return false;
    };
    let Some(stage) = between.last() else { return false };
    ScaleTolerance::default().over_cap(actual, &Stage { cap, ..stage.clone() })
}
