//! What speaks for and against each cause. No sentence accuses, and none gives a size without its range.

use super::{Cause, Change, Clues, Considered, PartChange};
use crate::review::Measure;
use crate::review::words::points;
use crate::stats::Interval;

/// Nights that go against their neighbours more than this are like a fault of the count.
const TURNS: f64 = -0.3;
/// Fewer than so many nights in a hundred missing or left out speak of a count that can be relied on.
const SURE: usize = 10;
/// An item, or a part of the day, that makes up so much of a change leads.
const LEADS: f64 = 0.5;

/// A change with its range.
fn with_range(change: &Change) -> String {
    let Interval { low, high } = change.range;
    format!("{} points, and from {} to {}", points(change.size), points(low), points(high))
}

fn considered(
    cause: Cause,
    part: Option<&Change>,
    said: impl IntoIterator<Item = (bool, String)>,
) -> Considered {
    let (mut speaks_for, mut speaks_against) = (Vec::new(), Vec::new());
    for (is_for, sentence) in said {
        if is_for { speaks_for.push(sentence) } else { speaks_against.push(sentence) }
    }
    let part = part.map(|change| (change.size, change.range));
    Considered { cause, speaks_for, speaks_against, part }
}

/// Always considered, and first.
pub(super) fn count(clues: &Clues) -> Considered {
    let turns = clues.alternates.map(|(by, pairs)| {
        let sentence = if by < TURNS {
            format!(
                "High and low nights follow each other ({pairs} pairs of nights): a fault of one count \
                 turns round on the next."
            )
        } else {
            format!(
                "High nights are not followed by low ones ({pairs} pairs of nights): a fault of one \
                 count would turn round on the next."
            )
        };
        (by < TURNS, sentence)
    });
    let (unsure, all) = clues.unsure_nights;
    let nights = (all > 0).then(|| {
        let sentence = format!("{unsure} of {all} nights since are missing or left out.");
        (100 * unsure >= SURE * all, sentence)
    });
    let leads = clues.items.first().zip(clues.used).map(|(item, used)| {
        let leads = used.size != 0.0 && item.change.size / used.size > LEADS;
        let sentence = if leads {
            format!("One item makes up most of it, {}: how is it counted?", item.name)
        } else {
            "Several items moved together, which a fault in counting one would not make.".to_owned()
        };
        (leads, sentence)
    });
    let said = turns.into_iter().chain(nights).chain(leads);
    let mut count = considered(Cause::Count, None, said);
    if count.speaks_for.is_empty() && count.speaks_against.is_empty() {
        count
            .speaks_for
            .push("Nothing is known that rules it out: have the count looked at first.".to_owned());
    }
    count
}

/// A change of another measure, worse where `worse` is above nothing.
fn beside(cause: Cause, change: Option<Change>, worse: f64, what: &str) -> Option<Considered> {
    let change = change?;
    let is_worse = change.is_clear() && worse * change.size > 0.0;
    let sentence = if is_worse {
        format!("{what} changed as well, by {}.", with_range(&change))
    } else if change.is_clear() {
        format!("{what} became better, by {}.", with_range(&change))
    } else {
        format!("{what} did not change beyond chance: {}.", with_range(&change))
    };
    Some(considered(cause, Some(&change), [(is_worse, sentence)]))
}

pub(super) fn waste(clues: &Clues) -> Option<Considered> {
    beside(Cause::Waste, clues.wasted, 1.0, "Recorded waste")
}

pub(super) fn batches(clues: &Clues) -> Option<Considered> {
    let mut batches = beside(Cause::Batches, clues.batches, -1.0, "Batch yield")?;
    let fell = |part: &&PartChange| part.change.is_clear() && part.change.size < 0.0;
    let told: Vec<String> = clues.stages.iter().filter(fell).take(3).map(named).collect();
    if !told.is_empty() {
        let stages = told.join("; ");
        batches.speaks_for.push(format!("Less comes out of {stages}, of what should."));
    } else if let Some(first) = clues.stages.first() {
        let sentence = format!("No stage changed beyond chance for the worse: {}.", named(first));
        batches.speaks_against.push(sentence);
    }
    Some(batches)
}

/// A part with its change.
fn named(part: &PartChange) -> String {
    format!("{} ({})", part.name, with_range(&part.change))
}

/// What recorded waste does not explain of a change of use.
pub(super) fn portions(clues: &Clues) -> Option<Considered> {
    let (used, wasted) = (clues.used?, clues.wasted?);
    let size = used.size - wasted.size;
    let half = |change: &Change| (change.range.high - change.range.low) / 2.0;
    let half = half(&used).hypot(half(&wasted));
    let rest = Change {
        before: used.before - wasted.before,
        after: used.after - wasted.after,
        size,
        range: Interval { low: size - half, high: size + half },
    };
    let is_more = rest.is_clear() && rest.size > 0.0;
    let sentence = if is_more {
        format!("More is used that no recorded waste explains: {}.", with_range(&rest))
    } else {
        format!("Recorded waste explains what changed: of the rest, {}.", with_range(&rest))
    };
    let items = clues.items.iter().take(3).filter(|item| item.change.is_clear());
    let items: Vec<String> = items.map(named).collect();
    let items = (!items.is_empty())
        .then(|| (true, format!("It lies in {}, as parts of all use.", items.join("; "))));
    Some(considered(Cause::Portions, Some(&rest), [(is_more, sentence)].into_iter().chain(items)))
}

pub(super) fn lot(clues: &Clues) -> Option<Considered> {
    let other = clues.lots.as_ref().map(|[before, after]| {
        (
            true,
            format!("Most nights since were cooked from lot {after}, most before from {before}."),
        )
    });
    let worse = clues.measure.worse();
    let shared = clues.same_lots.map(|(change, stores)| {
        let ends = [worse * change.range.low, worse * change.range.high];
        let is_shared = ends[0].min(ends[1]) > 0.0;
        let sentence = format!(
            "{stores} other stores that cooked from the same lots {}: the middle half of them changed \
             by {}.",
            if is_shared { "are worse as well" } else { "are not worse" },
            with_range(&change)
        );
        (is_shared, sentence)
    });
    if other.is_none() && shared.is_none() {
        return None;
    }
    let part = clues.same_lots.map(|(change, _)| change);
    Some(considered(Cause::Lot, part.as_ref(), other.into_iter().chain(shared)))
}

pub(super) fn daypart(clues: &Clues) -> Option<Considered> {
    let first = clues.dayparts.first()?;
    let clear: Vec<&str> = clues
        .dayparts
        .iter()
        .filter(|part| part.change.is_clear() && part.change.size > 0.0)
        .map(|part| part.name.as_str())
        .collect();
    let one = clear.len() == 1;
    let sentence = if one {
        format!("Only {} changed beyond chance: {}.", first.name, with_range(&first.change))
    } else if clear.is_empty() {
        format!(
            "No part of the day changed beyond chance by itself; {} most: {}.",
            first.name,
            with_range(&first.change)
        )
    } else {
        format!(
            "Several parts of the day changed together ({}); {} most: {}.",
            clear.join(", "),
            first.name,
            with_range(&first.change)
        )
    };
    Some(considered(Cause::Daypart, Some(&first.change), [(one, sentence)]))
}

/// Whether one day of the week makes it, or every day does.
pub(super) fn weekday(clues: &Clues) -> Option<Considered> {
    let [first, others @ ..] = clues.weekdays.as_slice() else { return None };
    let worse = clues.measure.worse();
    let is_worse = |change: &Change| change.is_clear() && worse * change.size > 0.0;
    let alone = is_worse(&first.change) && !others.iter().any(|part| is_worse(&part.change));
    let sentence = if alone {
        format!("Only {} changed beyond chance: {}.", first.name, with_range(&first.change))
    } else {
        let many = clues.weekdays.iter().filter(|part| is_worse(&part.change)).count();
        format!(
            "It lies in no one day of the week: {many} of {} changed beyond chance, {} most: {}.",
            clues.weekdays.len(),
            first.name,
            with_range(&first.change)
        )
    };
    Some(considered(Cause::Weekday, Some(&first.change), [(alone, sentence)]))
}

pub(super) fn change(clues: &Clues) -> Option<Considered> {
    if clues.changes.is_empty() {
        return None;
    }
    let said = clues.changes.iter().map(|(date, what)| {
        (true, format!("On {date}, within a week of when it may have begun: {what}."))
    });
    Some(considered(Cause::Change, None, said))
}

/// Three things to look at on site: the count, then what the leading causes point at.
pub(super) fn look_at(causes: &[Considered], measure: Measure) -> Vec<&'static str> {
    let count = if measure == Measure::Lateness {
        "How tickets are closed: one by one as guests are served, or many at once."
    } else {
        "How and when shelves are counted: the scale, its tare, the units typed, open packs."
    };
    let leading = causes.iter().skip(1).map(|considered| match considered.cause {
        Cause::Waste => "What goes into the bin, when, and how much was prepared for that hour.",
        Cause::Batches => {
            "A batch from bag to rack: cut, timer, oil, load of the basket. Hot oil: by its maker's \
             manual, local rules and with whoever works the fryer."
        }
        Cause::Portions => "Five portions on the scale as they are served, at a busy hour.",
        Cause::Lot => "The lot on the bags, and how it fries beside another one.",
        Cause::Weekday => "That day of the week: who works, what is ordered, what is delivered.",
        Cause::Daypart => "The busiest hour: who stands where, and what waits for what.",
        Cause::Change | Cause::Count => "What changed on that day, told by those who were there.",
    });
    let rest: [&'static str; 3] = if measure == Measure::Lateness {
        [
            "What waits for the fryer at the busiest hour. Hot oil: nobody hurries beside it.",
            "How many people stand at which place when orders peak.",
            "Whether anything runs out before the rush.",
        ]
    } else {
        [
            "Five portions on the scale as they are served, at a busy hour.",
            "What goes into the bin, when, and how much was prepared for that hour.",
            "Deliveries and transfers of the last week against their slips.",
        ]
    };
    let mut look: Vec<&'static str> = vec![count];
    for one in leading.chain(rest) {
        if look.len() < 3 && !look.contains(&one) {
            look.push(one);
        }
    }
    look
}
