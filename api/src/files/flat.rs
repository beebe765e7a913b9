//! Facts and figures as rows of one table, for every format that is a table.

use serde::Serialize;
use serde_json::Value;

use super::columns::{Cell, Column, FIRST, Shape};
use super::rows::NightMembers;
use crate::app::figures::exports::{Fact, Figure, Taken, What};
use crate::http::entries::EntryBody;
use crate::http::nights::{CountLineBody, UnitsSoldBody};
use crate::http::quantity::Number;
use crate::http::till::{SaleBody, TicketBody};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::night::Count;
use parings_core::quantity::Dimension;

/// A row: a value for each column, none where the cell is empty.
pub type Cells = Vec<Option<Value>>;

/// A line of NDJSON: the API's own shape, with its place.
#[derive(Serialize)]
pub struct Line<'a, T> {
    store: &'a StoreId,
    business_date: BusinessDate,
    #[serde(flatten)]
    body: T,
}

/// What a line says, as the API has it.
#[derive(Serialize)]
#[serde(untagged)]
pub enum Body {
    /// What a count says of a night as a whole.
    Night(NightMembers),
    /// Something that was recorded during the day.
    Entry(EntryBody),
    /// A line of a till.
    Sale(SaleBody),
    /// An order and how long it took.
    Ticket(TicketBody),
}

impl From<&Count> for NightMembers {
    fn from(count: &Count) -> Self {
        Self {
            complete: count.complete,
            counted_by: count.counted_by.clone(),
            device_time: count.device_time,
            started_at: count.started_at,
            net_sales: count.net_sales.map(|net| Number(net.to_decimal().normalize())),
            lines: count.lines.iter().map(CountLineBody::from).collect(),
            units_sold: count.units_sold.iter().map(UnitsSoldBody::from).collect(),
        }
    }
}

const fn column(name: &'static str, cell: Cell, says: &'static str) -> Column {
    Column { name, cell, says }
}

/// Columns of figures. Amounts are as purchased, in the item's base unit.
const FIGURES: &[Column] = &[
    column("store", Cell::Text, "the store's code"),
    column("business_date", Cell::Date, "the date of the count that the span ends with"),
    column("district", Cell::Text, "where the store stood on that date"),
    column("region", Cell::Text, "its region"),
    column("owner", Cell::Text, "its owner"),
    column("item", Cell::Text, "the item's code"),
    column("opened_on", Cell::Date, "the date of the count that the span begins with"),
    column("nights", Cell::Whole, "nights of the span"),
    column("unit", Cell::Text, "what amounts are in: g, ml or each"),
    column("opening", Cell::Number, "what stood there"),
    column("received", Cell::Number, "what was delivered"),
    column("transferred_in", Cell::Number, "what came from other stores"),
    column("transferred_out", Cell::Number, "what went to other stores"),
    column("made", Cell::Number, "what was prepared of it"),
    column("made_into", Cell::Number, "what went into others"),
    column("closing", Cell::Number, "what stood there at the end"),
    column("used", Cell::Number, "opening and what came, less what left and the closing"),
    column("expected", Cell::Number, "what the sales take; empty where they are not known"),
    column("wasted", Cell::Number, "what was thrown away, safety discards among it"),
    column("wasted_safety", Cell::Number, "safety discards"),
    column("yield_loss", Cell::Number, "what batches lost beyond their standards"),
    column("currency", Cell::Text, "what money is in (ISO 4217)"),
    column("used_cost", Cell::Number, "money"),
    column("expected_cost", Cell::Number, "money"),
    column("variance_cost", Cell::Number, "used less expected, in money"),
    column("wasted_cost", Cell::Number, "money"),
    column("wasted_safety_cost", Cell::Number, "money"),
    column("net_sales", Cell::Number, "net sales of the span"),
    column("doubts", Cell::Text, "why it is in no figure that compares; empty if it is"),
    column("restated_at", Cell::Instant, "when a change elsewhere last restated it"),
    column("rules", Cell::Whole, "the version of the formulas"),
];

/// The columns of what is taken out.
pub fn columns(what: What) -> &'static [Column] {
    match what {
        What::Facts(kind) => kind.columns(),
        What::Figures => FIGURES,
    }
}

/// What is taken out as the API has it; none of figures.
pub fn line(taken: &Taken) -> Option<Line<'_, Body>> {
    let body = match &taken.fact {
        Fact::Night(count) => Body::Night(count.into()),
        Fact::Entry(entry) => Body::Entry(entry.into()),
        Fact::Sale(sale) => Body::Sale(sale.into()),
        Fact::Ticket(ticket) => Body::Ticket(ticket.into()),
        Fact::Figure(_) => return None,
    };
    Some(Line { store: &taken.store, business_date: taken.date, body })
}

/// The rows of what is taken out: several of a night, else one.
///
/// # Errors
/// Never, for what was read from the records.
pub fn rows(what: What, taken: &Taken) -> serde_json::Result<Vec<Cells>> {
    let kind = match (what, &taken.fact) {
        (What::Facts(kind), _) => kind,
        (What::Figures, Fact::Figure(figure)) => return Ok(vec![of_figure(taken, figure)?]),
        (What::Figures, _) => return Ok(Vec::new()),
    };
    let place = [serde_json::to_value(&taken.store)?, serde_json::to_value(taken.date)?];
    let cells = |word: &str, body: &Value| {
        let shape = kind.shape(word);
        let told = kind.told_by();
        let cell = |column: &Column| match FIRST.iter().position(|first| *first == column.name) {
            Some(n) => Some(place[n].clone()),
            None if told == Some(column.name) => Some(word.into()),
            None => shape.and_then(|shape| at(shape, column, body)),
        };
        kind.columns().iter().map(cell).collect::<Cells>()
    };
    Ok(match &taken.fact {
        Fact::Night(count) => {
            let mut night = NightMembers::from(count);
            let (lines, sold) =
                (std::mem::take(&mut night.lines), std::mem::take(&mut night.units_sold));
            let mut rows = vec![cells("night", &serde_json::to_value(night)?)];
            for line in lines {
                rows.push(cells("count", &serde_json::to_value(line)?));
            }
            for sold in sold {
                rows.push(cells("sold", &serde_json::to_value(sold)?));
            }
            rows
        }
        Fact::Entry(entry) => {
            let body = serde_json::to_value(EntryBody::from(entry))?;
            vec![cells(entry.body.kind(), &body)]
        }
        Fact::Sale(sale) => vec![cells("", &serde_json::to_value(SaleBody::from(sale))?)],
        Fact::Ticket(one) => vec![cells("", &serde_json::to_value(TicketBody::from(one))?)],
        Fact::Figure(_) => Vec::new(),
    })
}

/// What a row has for a column.
fn at(shape: &Shape, column: &Column, body: &Value) -> Option<Value> {
    let value = body.pointer(shape.uses(column.name)?.at)?;
    (!value.is_null() && value.as_array().is_none_or(|list| !list.is_empty()))
        .then(|| value.clone())
}

fn of_figure(taken: &Taken, figure: &Figure) -> serde_json::Result<Cells> {
    let span = &figure.span;
    let amount = |amount| Some(Value::from(Figure::amount(amount)));
    let money = |money| Some(Value::from(Figure::money(money)));
    let text = |text: &str| Some(Value::from(text));
    let unit = match figure.base {
        Dimension::Mass => "g",
        Dimension::Volume => "ml",
        Dimension::Count => "each",
    };
    let doubts = span.doubts.iter().map(serde_json::to_value).collect::<Result<Vec<_>, _>>()?;
    let doubts: Vec<_> = doubts.iter().filter_map(Value::as_str).collect();
    Ok(vec![
        Some(serde_json::to_value(&taken.store)?),
        Some(serde_json::to_value(taken.date)?),
        text(&figure.district),
        text(&figure.region),
        text(&figure.owner),
        text(&figure.item),
        Some(serde_json::to_value(span.opened_on)?),
        Some(span.nights.into()),
        text(unit),
        amount(span.opening.closing),
        amount(span.received),
        amount(span.transferred_in),
        amount(span.transferred_out),
        amount(span.made),
        amount(span.made_into),
        amount(span.closing.closing),
        amount(span.used),
        span.expected.and_then(amount),
        amount(span.wasted),
        amount(span.wasted_safety),
        amount(span.yield_loss),
        text(&figure.currency),
        span.used_cost.and_then(money),
        span.expected_cost.and_then(money),
        span.variance_cost.and_then(money),
        money(span.wasted_cost),
        money(span.wasted_safety_cost),
        span.sales.and_then(money),
        Some(doubts.join(" ")).filter(|doubts| !doubts.is_empty()).map(Value::from),
        figure.restated_at.map(serde_json::to_value).transpose()?,
        Some(figure.rules.into()),
    ])
}
