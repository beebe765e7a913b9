//! What surrounds a count: the store, the day, the reference data, who recorded it.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};

use super::{About, Changed, Check, CheckKind, Given, ReferenceChange};
use crate::calendar::day_bounds;
use crate::night::Entry;

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
        Check::new(CheckKind::PersonLeft, About::Night, says)
    }));
    found
}

fn closed_day(given: &Given<'_>) -> Option<Check> {
    (!given.store.is_open(given.date)).then(|| {
        let says = "the store stays closed on this date: no count is due, and none is not zero";
        Check::new(CheckKind::ClosedDay, About::Night, says)
    })
}

/// The tally knows the hours; the rates of a short day are not compared.
fn short(given: &Given<'_>) -> Option<Check> {
    given.day.night.short.then(|| {
        let says = "much shorter hours than usual: rates of this day are not compared";
        Check::new(CheckKind::ShortDay, About::Night, says)
    })
}

fn new_store(given: &Given<'_>) -> Option<Check> {
    let days = given.open_days?;
    (days < given.limits.new_store_days).then(|| {
        let says = format!(
            "open for {days} of the {} days after which a store is ranked",
            given.limits.new_store_days
        );
        Check::new(CheckKind::NewStore, About::Night, says)
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
    Some(Check::new(CheckKind::SharedSignIn, About::Night, says))
}

/// Recipes and prices that change inside the span of an item: each night keeps its own.
fn changes_inside(given: &Given<'_>) -> Vec<Check> {
    let inside: BTreeSet<_> = given
        .changes
        .iter()
        .filter(|ReferenceChange { item, from, .. }| {
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
            Check::new(CheckKind::ChangeInside, About::Item { item: item.clone() }, says)
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
        Check::new(CheckKind::LateEntry, About::Entry { entry: entry.id, item }, says)
    })
}
