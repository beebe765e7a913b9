//! A row of a file, read by the wire types of the API.

use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::money::Money;
use parings_core::night::{Count, CountLine, Entry, Sale, TillTicket, UnitsSold};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use uuid::Uuid;

use super::Kind;
use super::columns::FIRST;
use crate::error::AppError;
use crate::http::body::read_value;
use crate::http::entries::EntryBody;
use crate::http::faults::Faults;
use crate::http::nights::{CountLineBody, UnitsSoldBody, counters, maybe_instant};
use crate::http::quantity::{Number, money};
use crate::http::till::{SaleBody, TicketBody};

/// A night as a line of NDJSON has it. In CSV its lines and units sold are rows of their own.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NightMembers {
    /// Whether every line of the sheet is answered.
    pub complete: bool,
    /// The names of those who counted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub counted_by: Vec<String>,
    /// When it was by the device.
    #[serde(default, deserialize_with = "maybe_instant", skip_serializing_if = "Option::is_none")]
    pub device_time: Option<DateTime<Utc>>,
    /// When counting began, by the device.
    #[serde(default, deserialize_with = "maybe_instant", skip_serializing_if = "Option::is_none")]
    pub started_at: Option<DateTime<Utc>>,
    /// Net sales, where no till sends them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub net_sales: Option<Number>,
    /// What stood in each storage place.
    #[serde(default)]
    pub lines: Vec<CountLineBody>,
    /// Units sold, where no till sends them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub units_sold: Vec<UnitsSoldBody>,
}

impl NightMembers {
    fn read(self, faults: &mut Faults) -> Option<Count> {
        let counted_by = counters(faults, &self.counted_by);
        let net_sales: Option<Option<Money>> =
            faults.maybe(self.net_sales, |f, net| money(f, "net_sales", &net));
        let lines = faults.each("lines", self.lines, |f, line| line.read(f));
        let units_sold = faults.each("units_sold", self.units_sold, |f, sold| sold.read(f));
        Some(Count {
            complete: self.complete,
            counted_by: counted_by?,
            device_time: self.device_time,
            started_at: self.started_at,
            lines: lines?,
            units_sold: units_sold?,
            net_sales: net_sales?,
        })
    }
}

/// What a row says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Says {
    /// A count; of a row of CSV without its lines and units sold.
    Count(Count),
    /// A line of a count.
    Line(CountLine),
    /// Units sold, of a count.
    Sold(UnitsSold),
    /// Something that was recorded during the day.
    Entry(Entry),
    /// A line of a till.
    Sale(Sale),
    /// An order and how long it took.
    Ticket(TillTicket),
}

/// A row of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The line it starts at.
    pub line: u64,
    /// The store that the row is about.
    pub store: StoreId,
    /// The business date of the night.
    pub date: BusinessDate,
    /// What the row records of that night.
    pub says: Says,
}

/// What ids of entries are made from that have none: the file and the line.
const ENTRIES: Uuid = uuid::uuid!("3f5b6a0e-0b0f-4f0c-9d4c-0d7a9a3f6c51");

/// Reads the object of a row. `word` is the sort of a CSV row where a kind has several; `file` is the
/// file's id. Faults have the pointer within the object.
pub fn read(
    kind: Kind,
    word: Option<&str>,
    file: Uuid,
    line: u64,
    mut object: Map<String, Value>,
    faults: &mut Faults,
) -> Option<Row> {
    let [store, date] = FIRST.map(|name| (name, object.remove(name)));
    let store: Option<StoreId> = place(store, faults);
    let date: Option<BusinessDate> = place(date, faults);
    let says = match (kind, word) {
        (Kind::Nights, Some("count")) => {
            shaped::<CountLineBody>(object, faults).and_then(|b| b.read(faults)).map(Says::Line)
        }
        (Kind::Nights, Some("sold")) => {
            shaped::<UnitsSoldBody>(object, faults).and_then(|b| b.read(faults)).map(Says::Sold)
        }
        (Kind::Nights, _) => {
            shaped::<NightMembers>(object, faults).and_then(|b| b.read(faults)).map(Says::Count)
        }
        (Kind::Entries, _) => {
            let made = || Uuid::new_v5(&ENTRIES, format!("{file}/{line}").as_bytes()).to_string();
            object.entry("id").or_insert_with(|| made().into());
            shaped::<EntryBody>(object, faults).and_then(|b| b.read(faults)).map(Says::Entry)
        }
        (Kind::Sales, _) => {
            shaped::<SaleBody>(object, faults).and_then(|b| b.read(faults)).map(Says::Sale)
        }
        (Kind::Tickets, _) => {
            shaped::<TicketBody>(object, faults).and_then(|b| b.read(faults)).map(Says::Ticket)
        }
    };
    Some(Row { line, store: store?, date: date?, says: says? })
}

/// A member that every row has.
fn place<T: DeserializeOwned>(
    (name, value): (&str, Option<Value>),
    faults: &mut Faults,
) -> Option<T> {
    match value {
        Some(value) => faults.take(name, serde_json::from_value(value)),
        None => {
            faults.add(name, "this must be said");
            None
        }
    }
}

/// An object as a wire type. What is wrong with the whole of it, as a missing member, is told at the
/// member it names.
fn shaped<T: DeserializeOwned>(object: Map<String, Value>, faults: &mut Faults) -> Option<T> {
    match read_value(&Value::Object(object), "") {
        Ok(read) => Some(read),
        Err(AppError::Invalid(found)) => {
            for fault in found {
                let named = fault.detail.split('`').nth(1).filter(|_| fault.pointer.is_empty());
                let pointer = named.unwrap_or(fault.pointer.trim_start_matches('/'));
                faults.add(pointer, &fault.detail);
            }
            None
        }
        Err(other) => {
            faults.here(other);
            None
        }
    }
}
