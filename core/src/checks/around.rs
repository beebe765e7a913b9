//! What surrounds a count: the store, the day, the reference data, who recorded it.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};

use super::{About, Change, Changed, Check, Given, Kind};
use crate::calendar::day_bounds;
use crate::night::Entry;
use crate::stats::Share;
use crate::tally::DayFacts;

/// What is said about a count because of what surrounds it.
pub fn around(given: &Given<'_>) -> Vec<Check> {
    let mut found: Vec<Check> =
        [closed_day(given), short(given), new_store(given), shared_sign_in(given)]
            .into_iter()
            .flatten()
            .collect();
    found.extend(changes_inside(given));
    found.extend(given.facts.entries.iter().filter_map(|entry| late_entry(given, entry)));
    found.extend(given.left.iter().map(|name| {
        let says = format!("{name} works here no longer: what they recorded keeps their name");
        Check::new(Kind::PersonLeft, About::Night, says)
    }));
    found
}

fn closed_day(given: &Given<'_>) -> Option<Check> {
    (!given.store.is_open(given.date)).then(|| {
        let says = "the store stays closed on this date: no count is due, and none is not zero";
        Check::new(Kind::ClosedDay, About::Night, says)
    })
}

/// From the first order of a date to the last, by the till; none without two orders. It is a
/// duration in UTC, so that a change of clocks neither adds nor takes an hour.
pub fn traded(facts: &DayFacts) -> Option<TimeDelta> {
    let placed = || facts.till.iter().flat_map(|batch| &batch.tickets).map(|t| t.placed);
    let (first, last) = (placed().min()?, placed().max()?);
    (first < last).then(|| last - first)
}

/// Whether a day is short: less than a share of the usual hours.
///
/// ```
/// use chrono::TimeDelta;
/// use parings_core::{checks::short_day, stats::Share};
/// let hours = TimeDelta::hours;
/// assert!(short_day(hours(8), hours(12), Share::per_mille(700)));
/// assert!(!short_day(hours(9), hours(12), Share::per_mille(700)));
/// ```
pub fn short_day(traded: TimeDelta, usual: TimeDelta, least: Share) -> bool {
    let seconds = |time: TimeDelta| rust_decimal::Decimal::from(time.num_seconds());
    seconds(traded) < seconds(usual) * least.decimal()
}

fn short(given: &Given<'_>) -> Option<Check> {
    let (traded, usual) = (traded(given.facts)?, given.usual_hours?);
    short_day(traded, usual, given.limits.short_day_share).then(|| {
        let hours = |time: TimeDelta| (time.num_minutes() as f64 / 60.0 * 10.0).round() / 10.0;
        let says = format!(
            "{} hours of trading where {} are usual: rates of this day are not compared",
            hours(traded),
            hours(usual)
        );
        Check::new(Kind::ShortDay, About::Night, says)
    })
}

fn new_store(given: &Given<'_>) -> Option<Check> {
    let days = given.open_days?;
    (days < given.limits.new_store_days).then(|| {
        let says = format!(
            "open for {days} of the {} days after which a store is ranked",
            given.limits.new_store_days
        );
        Check::new(Kind::NewStore, About::Night, says)
    })
}

/// One person in two stores at once, privately for the manager.
fn shared_sign_in(given: &Given<'_>) -> Option<Check> {
    let within = TimeDelta::from(given.limits.elsewhere_minutes);
    let away = |at: DateTime<Utc>| (given.now - at).abs();
    let mut elsewhere: Vec<_> = given
        .elsewhere
        .iter()
        .filter(|other| other.store != *given.id && away(other.at) <= within)
        .collect();
    elsewhere.sort_by_key(|other| (away(other.at), &other.store));
    let nearest = elsewhere.first()?;
    let says = format!(
        "the same sign-in recorded at {} within {} minutes: is it one person's alone?",
        nearest.store,
        away(nearest.at).num_minutes()
    );
    Some(Check::new(Kind::SharedSignIn, About::Night, says))
}

/// Recipes and prices that change inside the span of an item: each night keeps its own.
fn changes_inside(given: &Given<'_>) -> Vec<Check> {
    let inside: BTreeSet<_> = given
        .changes
        .iter()
        .filter(|Change { item, from, .. }| {
            let span = given.items.get(item).and_then(|past| past.ends.as_ref());
            // On the first date after the opening count all of the span is under the new version.
            span.is_some_and(|span| span.opened_on.succ() < *from && *from <= given.date)
        })
        .map(|change| (&change.item, change.what, change.from))
        .collect();
    inside
        .into_iter()
        .map(|(item, what, from)| {
            let what = match what {
                Changed::Recipe => "a recipe that takes it",
                Changed::Price => "its price",
            };
            let says = format!("{what} changes on {from}: nights before keep what held for them");
            Check::new(Kind::ChangeInside, About::Item { item: item.clone() }, says)
        })
        .collect()
}

/// An entry that came after its night had closed: after the count in force, else after the day.
fn late_entry(given: &Given<'_>, entry: &Entry) -> Option<Check> {
    let at = *given.recorded.get(&entry.id)?;
    let ends = day_bounds(given.date, &given.store.zone, given.store.cut_off).1;
    let closed = given.amends.unwrap_or(ends).min(ends);
    (at > closed).then(|| {
        let item = entry.body.item().clone();
        let says = format!(
            "this {} was entered after the night had closed: the night is worked out again",
            entry.body.kind().replace('_', " ")
        );
        Check::new(Kind::LateEntry, About::Entry { entry: entry.id, item }, says)
    })
}
