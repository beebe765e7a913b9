use std::collections::BTreeSet;

use super::{Count, Entry, EntryBody, TillBatch, When, line_amount};
use crate::calendar::{BusinessDate, day_bounds};
use crate::catalog::{Catalog, Flaw, Input, Item, Shelf, Store, Typed};
use crate::ids::{DaypartId, ItemId, StageId, StoreId};
use crate::money::Money;
use crate::tickets::Ticket;

/// What only the row itself proves impossible in a count, with JSON Pointers into it: unknown items,
/// units and places, a pan heavier than what was weighed, lines missing from a complete count.
pub fn check_count(
    catalog: &Catalog,
    store: &Store,
    date: BusinessDate,
    count: &Count,
) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    for (n, line) in count.lines.iter().enumerate() {
        let at = format!("/lines/{n}");
        if !catalog.places.contains_key(&line.place) {
            let place = &line.place;
            flaws.push(Flaw::new(format!("{at}/place"), format!("there is no place \"{place}\"")));
        }
        if let Err(e) = line.amount(catalog) {
            flaws.push(Flaw::new(at, e.to_string()));
        }
    }
    for (n, sold) in count.units_sold.iter().enumerate() {
        if let Err(e) = catalog.size(&sold.product, &sold.size) {
            flaws.push(Flaw::new(format!("/units_sold/{n}"), e.to_string()));
        }
        if let Some(channel) = &sold.channel
            && !catalog.channels.contains_key(channel)
        {
            let says = format!("there is no channel \"{channel}\"");
            flaws.push(Flaw::new(format!("/units_sold/{n}/channel"), says));
        }
        let at = format!("/units_sold/{n}/daypart");
        flaws.extend(sold.daypart.as_ref().and_then(|d| no_daypart(catalog, at, d)));
    }
    if count.net_sales.is_some_and(|net| net < Money::ZERO) {
        flaws.push(Flaw::new("/net_sales", "net sales of a night are 0 or more"));
    }
    if count.complete {
        let says = |(id, item, shelf)| Flaw::new("/lines", blank(id, item, shelf));
        flaws.extend(blanks(catalog, store, date, count).into_iter().map(says));
    }
    flaws
}

/// The lines of the sheet that a count leaves blank. A blank is not a zero.
pub fn blanks<'a>(
    catalog: &'a Catalog,
    store: &Store,
    date: BusinessDate,
    count: &Count,
) -> Vec<(&'a ItemId, &'a Item, &'a Shelf)> {
    let answered: BTreeSet<_> =
        count.lines.iter().map(|l| (&l.item, &l.place, l.stage.as_ref())).collect();
    due_items(catalog, store, date)
        .flat_map(|(id, item)| item.shelves.iter().map(move |shelf| (id, item, shelf)))
        .filter(|(id, _, shelf)| !answered.contains(&(*id, &shelf.place, shelf.stage.as_ref())))
        .collect()
}

fn blank(id: &ItemId, item: &Item, shelf: &Shelf) -> String {
    let stage = shelf.stage.as_ref().map(|s| format!(" at stage {s}")).unwrap_or_default();
    format!(
        "{} ({id}) in {}{stage} is blank: type 0 if there is none, or send complete: false",
        item.title, shelf.place
    )
}

/// That no set of dayparts has this one.
fn no_daypart(catalog: &Catalog, at: String, daypart: &DaypartId) -> Option<Flaw> {
    let known =
        catalog.dayparts.values().any(|set| set.dayparts.iter().any(|d| d.code == *daypart));
    (!known).then(|| Flaw::new(at, format!("there is no daypart \"{daypart}\"")))
}

/// The items due to be counted in a store on a date.
pub(crate) fn due_items<'a>(
    catalog: &'a Catalog,
    store: &Store,
    date: BusinessDate,
) -> impl Iterator<Item = (&'a ItemId, &'a Item)> {
    catalog.items.iter().filter(move |(_, item)| catalog.is_due(item, store, date))
}

/// What only the entry itself proves impossible, with JSON Pointers into it.
pub fn check_entry(catalog: &Catalog, store: &StoreId, entry: &Entry) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    let mut measured =
        |at: &str, id: &ItemId, stage: Option<&StageId>, typed: &Typed| match line_amount(
            catalog, id, stage, typed, None,
        ) {
            Ok(amount) if amount.is_zero() => {
                flaws.push(Flaw::new(at, "nothing: leave the entry out"));
            }
            Ok(_) => {}
            Err(e) => flaws.push(Flaw::new(at, e.to_string())),
        };
    match &entry.body {
        EntryBody::Waste { item, stage, reason, quantity, pan, daypart } => {
            match line_amount(catalog, item, stage.as_ref(), quantity, pan.as_ref()) {
                Ok(amount) if amount.is_zero() => {
                    flaws.push(Flaw::new("/quantity", "nothing: leave the entry out"));
                }
                Ok(_) => {}
                Err(e) => flaws.push(Flaw::new("/quantity", e.to_string())),
            }
            match catalog.reasons.get(reason) {
                None => {
                    flaws.push(Flaw::new("/reason", format!("there is no reason \"{reason}\"")));
                }
                Some(known) if known.in_standard_yield => flaws.push(Flaw::new(
                    "/reason",
                    format!(
                        "\"{}\" is in the standard yield already, so it is not waste: weigh the \
                         batch instead",
                        known.title
                    ),
                )),
                Some(_) => {}
            }
            let daypart = daypart.as_ref();
            flaws.extend(daypart.and_then(|d| no_daypart(catalog, "/daypart".to_owned(), d)));
        }
        EntryBody::Delivery { item, quantity, paid, .. } => {
            measured("/quantity", item, None, quantity);
            if paid.is_some_and(|paid| paid < Money::ZERO) {
                flaws.push(Flaw::new("/paid", "below zero: leave out what a credit note says"));
            }
        }
        EntryBody::TransferIn { item, stage, quantity, from: other }
        | EntryBody::TransferOut { item, stage, quantity, to: other } => {
            measured("/quantity", item, stage.as_ref(), quantity);
            if other == store {
                let at = if matches!(entry.body, EntryBody::TransferIn { .. }) {
                    "/from"
                } else {
                    "/to"
                };
                flaws.push(Flaw::new(at, "a transfer is between two stores"));
            }
        }
        EntryBody::Batch { item, from, put_in, steps, .. } => {
            measured("/put_in", item, from.as_ref(), put_in);
            for (n, step) in steps.iter().enumerate() {
                measured(&format!("/steps/{n}/out"), item, Some(&step.stage), &step.out);
            }
            flaws.extend(step_flaws(catalog, item, from.as_ref(), steps));
        }
        EntryBody::Preparation { item, made, inputs, .. } => {
            measured("/made", item, None, made);
            for (n, input) in inputs.iter().enumerate() {
                let at = format!("/inputs/{n}/quantity");
                measured(&at, &input.item, input.stage.as_ref(), &input.quantity);
            }
            flaws.extend(input_flaws(catalog, item, inputs));
            if catalog.items.get(item).is_some_and(|i| i.made_from.is_none()) {
                flaws.push(Flaw::new("/item", format!("{item} is not made from other items")));
            }
        }
        EntryBody::StockOut { item, from, to } => {
            if let Err(e) = catalog.item(item) {
                flaws.push(Flaw::new("/item", e.to_string()));
            }
            if to.is_some_and(|to| to <= *from) {
                flaws.push(Flaw::new("/to", "it ends before it begins"));
            }
        }
        EntryBody::Sample { product, size, item, weights } => {
            match catalog.size(product, size) {
                Err(e) => flaws.push(Flaw::new("/product", e.to_string())),
                Ok(found) => match found.lines.iter().find(|l| l.item == *item) {
                    None => flaws.push(Flaw::new(
                        "/item",
                        format!("the recipe of {product}/{size} has no line for {item}"),
                    )),
                    Some(line) => {
                        for (n, weight) in weights.iter().enumerate() {
                            let at = format!("/weights/{n}");
                            measured(&at, item, line.stage.as_ref(), weight);
                        }
                    }
                },
            }
            if weights.is_empty() {
                flaws.push(Flaw::new("/weights", "no portion was weighed"));
            }
        }
    }
    flaws
}

/// That what an entry brought must be thrown away before the date it was made on had begun.
pub fn check_discard(store: &Store, date: BusinessDate, entry: &Entry) -> Option<Flaw> {
    let (begins, _) = day_bounds(date, &store.zone, store.cut_off);
    let gone = entry.body.discard_at().is_some_and(|at| at < begins);
    gone.then(|| Flaw::new("/discard_at", format!("before the entry's own date, {date}, begins")))
}

/// Inputs that were weighed are those of the recipe, each once.
fn input_flaws(catalog: &Catalog, item: &ItemId, inputs: &[Input]) -> Vec<Flaw> {
    let recipe = catalog.items.get(item).and_then(|i| i.made_from.as_ref());
    let Some(recipe) = recipe else { return Vec::new() };
    let mut flaws = Vec::new();
    for (n, input) in inputs.iter().enumerate() {
        let at = format!("/inputs/{n}/item");
        if !recipe.inputs.iter().any(|i| i.item == input.item) {
            flaws.push(Flaw::new(at, format!("{item} is not made with {}", input.item)));
        } else if inputs[..n].iter().any(|i| i.item == input.item) {
            flaws.push(Flaw::new(at, format!("{} is listed twice", input.item)));
        }
    }
    flaws
}

/// Steps follow the chain's order, after the stage the batch started from.
fn step_flaws(
    catalog: &Catalog,
    item: &ItemId,
    from: Option<&StageId>,
    steps: &[super::Step],
) -> Vec<Flaw> {
    let Some(known) = catalog.items.get(item) else { return Vec::new() };
    if steps.is_empty() {
        return vec![Flaw::new("/steps", "no stage was weighed")];
    }
    let turn = |stage: &StageId| known.stages.stages().iter().position(|s| s.code == *stage);
    let mut last = from.and_then(turn);
    let mut flaws = Vec::new();
    for (n, step) in steps.iter().enumerate() {
        let here = turn(&step.stage);
        if here.is_some() && here <= last {
            flaws.push(Flaw::new(
                format!("/steps/{n}/stage"),
                format!("{} does not come after the stage before it", step.stage),
            ));
        }
        last = here.or(last);
    }
    flaws
}

/// What only the batch itself proves impossible, with JSON Pointers into it. A code that nobody
/// mapped is not among them: its units are listed, never dropped.
pub fn check_till(catalog: &Catalog, batch: &TillBatch) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    for (n, sale) in batch.sales.iter().enumerate() {
        let at = format!("/sales/{n}");
        if let Some(channel) = &sale.channel
            && !catalog.channels.contains_key(channel)
        {
            let says = format!("there is no channel \"{channel}\"");
            flaws.push(Flaw::new(format!("{at}/channel"), says));
        }
        if sale.net < Money::ZERO {
            flaws.push(Flaw::new(
                format!("{at}/net"),
                "below zero: send a refund as units with the outcome refunded_after_making",
            ));
        }
        if let When::Daypart(daypart) = &sale.when {
            flaws.extend(no_daypart(catalog, format!("{at}/when/daypart"), daypart));
        }
    }
    for (n, ticket) in batch.tickets.iter().enumerate() {
        if let Err(e) = Ticket::new(ticket.placed, ticket.handed_off, ticket.promised) {
            flaws.push(Flaw::new(format!("/tickets/{n}"), e.to_string()));
        }
        if let Some(channel) = &ticket.channel
            && !catalog.channels.contains_key(channel)
        {
            let says = format!("there is no channel \"{channel}\"");
            flaws.push(Flaw::new(format!("/tickets/{n}/channel"), says));
        }
    }
    flaws
}
