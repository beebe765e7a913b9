//! Whether the sheet is answered, and with what can be.

use super::{About, Check, CheckKind, Given};
use crate::night::blanks;

/// Lines that cannot be understood, lines that are blank, and items without a past to check by.
pub fn coverage(given: &Given<'_>) -> Vec<Check> {
    let mut found = impossible_rows(given);
    found.extend(blank_lines(given));
    found.extend(no_history(given));
    found
}

/// Lines that by themselves cannot be: unknown items, units, stages or pans, a pan heavier than
/// what was weighed in it. (A number below zero cannot even be read.)
fn impossible_rows(given: &Given<'_>) -> Vec<Check> {
    let lines = given.count.lines.iter();
    lines
        .filter_map(|line| {
            let says = line.amount(given.catalog).err()?;
            let about = About::Line {
                item: line.item.clone(),
                place: line.place.clone(),
                stage: line.stage.clone(),
            };
            Some(Check::new(CheckKind::ImpossibleRow, about, says.to_string()))
        })
        .collect()
}

/// Each blank line of a count that is called complete, or one word about a partial one.
fn blank_lines(given: &Given<'_>) -> Vec<Check> {
    let blank = blanks(given.catalog, given.store, given.date, given.count);
    if blank.is_empty() {
        return Vec::new();
    }
    if !given.count.complete {
        let lines = blank.len();
        let says = format!("{lines} lines of the sheet are blank: their items have no use tonight");
        return vec![Check::new(CheckKind::PartialCount, About::Night, says)];
    }
    blank
        .into_iter()
        .map(|(id, item, shelf)| {
            let about = About::Line {
                item: id.clone(),
                place: shelf.place.clone(),
                stage: shelf.stage.clone(),
            };
            let says = format!("{} is blank: type 0 if there is none", item.title);
            Check::new(CheckKind::MissedItem, about, says)
        })
        .collect()
}

/// What has too few nights on record to be checked by them.
fn no_history(given: &Given<'_>) -> Option<Check> {
    let least = given.limits.history_nights;
    let young = given.items.values().filter(|past| past.past.len() < least as usize).count();
    (young > 0).then(|| {
        let says = format!(
            "items with fewer than {least} nights to go by: {young}. They are checked by the sizes \
             of their packs alone"
        );
        Check::new(CheckKind::NoHistory, About::Night, says)
    })
}
