//! The night: a manager submits the closing count, and amends it.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::{BusinessDate, instant};
use parings_core::ids::{EntryId, StoreId, WriteId};
use parings_core::night::{Count, CountLine, UnitsSold};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::writes::Operation;
use crate::app::night::nights::{self, Submission};
use crate::app::night::revisions::Withdrawal;
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{Allowed, Expecting, Found, Sent, SetUp};
use crate::http::body::Body;
use crate::http::entries::{EntryBody, MOST, entries_from_wire, text};
use crate::http::faults::Faults;
use crate::http::quantity::{Number, TypedBody, money};
use crate::http::receipts::ReceiptBody;
use crate::http::reply::{self, Precondition};
use crate::http::stores::store_of;
use crate::http::till::{SoldOutcomeBody, units};

/// Most lines of a count.
pub const LINES_MAX: usize = 2_000;
/// Most names of people who counted.
const COUNTERS_MAX: usize = 20;
/// Longest of such names.
const NAME_MAX: usize = 200;
/// Longest label of a pan.
const LABEL_MAX: usize = 60;
/// The most characters of a reason.
const REASON_MAX: usize = 500;
/// Longest reason for a withdrawal.
const WITHDRAWAL_MAX: usize = 300;

/// A night as a manager submits it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NightBody {
    /// The client's own id of this submission, kept for ever: sent again with the same content it is
    /// answered as before, and nothing is saved twice.
    pub submission_id: Uuid,
    /// Whether every line of the sheet is answered. A blank is not a zero: type 0 where there is
    /// none, or send false.
    pub complete: bool,
    /// Who counted, where it was not the one who submits.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub counted_by: Vec<String>,
    /// When the device says it is.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub device_time: Option<DateTime<Utc>>,
    /// When counting began, by the device.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub started_at: Option<DateTime<Utc>>,
    /// What stood where. Several lines for one item, place and stage add up.
    #[schema(max_items = 2000)]
    pub lines: Vec<CountLineBody>,
    /// Units sold, where no till sends them; a till's feed outranks them.
    #[serde(default)]
    #[schema(max_items = 2000)]
    pub units_sold: Vec<UnitsSoldBody>,
    /// Net sales, where no till sends them.
    #[serde(default)]
    pub net_sales: Option<Number>,
    /// Entries of the day still to be made. They are added to those of others and replace none.
    #[serde(default)]
    #[schema(max_items = 500)]
    pub entries: Vec<EntryBody>,
    /// Entries of the night to be withdrawn.
    #[serde(default)]
    #[schema(max_items = 500)]
    pub withdraw: Vec<NightWithdrawalBody>,
    /// Why a count on record changes; needed then.
    #[serde(default)]
    #[schema(max_length = 500)]
    pub reason: Option<String>,
}

/// An entry to be withdrawn.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NightWithdrawalBody {
    /// The id of the entry that is withdrawn.
    pub id: Uuid,
    /// Why it is withdrawn, in words.
    #[schema(min_length = 1, max_length = 300)]
    pub reason: String,
}

/// An instant that may be missing.
///
/// # Errors
/// When it is not RFC 3339 with an offset.
pub fn maybe_instant<'de, D: serde::Deserializer<'de>>(
    from: D,
) -> Result<Option<DateTime<Utc>>, D::Error> {
    #[derive(Deserialize)]
    struct Strict(#[serde(with = "instant")] DateTime<Utc>);
    Ok(Option::<Strict>::deserialize(from)?.map(|strict| strict.0))
}

/// What stood in a place.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CountLineBody {
    /// The code of the item that was counted.
    #[schema(example = "potato")]
    pub item: String,
    /// The code of the storage place in which it stood.
    #[schema(example = "cold-room")]
    pub place: String,
    /// The stage; missing for as purchased.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// How much, gross where it stands in a pan: any unit of mass, volume or count, or a pack.
    pub quantity: TypedBody,
    /// The pan it was weighed in; its tare is taken off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pan: Option<String>,
    /// What is written on that very pan, where pans have labels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 60)]
    pub label: Option<String>,
    /// When it must be thrown away; leave it out where nobody wrote it down.
    #[serde(default, deserialize_with = "maybe_instant", skip_serializing_if = "Option::is_none")]
    pub discard_at: Option<DateTime<Utc>>,
}

impl CountLineBody {
    /// Reads the line, gathering what cannot be taken.
    pub fn read(self, faults: &mut Faults) -> Option<CountLine> {
        let item = faults.parse("item", &self.item);
        let place = faults.parse("place", &self.place);
        let stage = faults.maybe(self.stage, |f, s| f.parse("stage", &s));
        let pan = faults.maybe(self.pan, |f, p| f.parse("pan", &p));
        let label = faults.maybe(self.label, |f, l| text(f, "label", &l, LABEL_MAX));
        let quantity = self.quantity.read(faults, "quantity");
        Some(CountLine {
            item: item?,
            place: place?,
            stage: stage?,
            quantity: quantity?,
            pan: pan?,
            label: label?,
            discard_at: self.discard_at,
        })
    }
}

impl From<&CountLine> for CountLineBody {
    fn from(line: &CountLine) -> Self {
        Self {
            item: line.item.to_string(),
            place: line.place.to_string(),
            stage: line.stage.as_ref().map(ToString::to_string),
            quantity: (&line.quantity).into(),
            pan: line.pan.as_ref().map(ToString::to_string),
            label: line.label.clone(),
            discard_at: line.discard_at,
        }
    }
}

/// Units sold, as typed.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct UnitsSoldBody {
    /// The code of the product that was sold.
    #[schema(example = "chips")]
    pub product: String,
    /// The code of the size in which it was sold.
    #[schema(example = "small")]
    pub size: String,
    /// How many units of that size.
    #[schema(maximum = 100000)]
    pub units: u32,
    /// What became of them.
    #[serde(default)]
    pub outcome: SoldOutcomeBody,
    /// When, if anybody knows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub daypart: Option<String>,
    /// How they were ordered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<String>,
}

impl From<&UnitsSold> for UnitsSoldBody {
    fn from(sold: &UnitsSold) -> Self {
        Self {
            product: sold.product.to_string(),
            size: sold.size.to_string(),
            units: sold.units,
            outcome: sold.outcome.into(),
            daypart: sold.daypart.as_ref().map(ToString::to_string),
            channel: sold.channel.as_ref().map(ToString::to_string),
        }
    }
}

impl UnitsSoldBody {
    /// Reads the line, gathering what cannot be taken.
    pub fn read(self, faults: &mut Faults) -> Option<UnitsSold> {
        let product = faults.parse("product", &self.product);
        let size = faults.parse("size", &self.size);
        let units = units(faults, self.units);
        let daypart = faults.maybe(self.daypart, |f, d| f.parse("daypart", &d));
        let channel = faults.maybe(self.channel, |f, c| f.parse("channel", &c));
        Some(UnitsSold {
            product: product?,
            size: size?,
            units: units?,
            outcome: self.outcome.into(),
            daypart: daypart?,
            channel: channel?,
        })
    }
}

/// Reads the names of those who counted.
pub fn counters(faults: &mut Faults, names: &[String]) -> Option<Vec<String>> {
    if names.len() > COUNTERS_MAX {
        faults.add("counted_by", format!("{COUNTERS_MAX} names at most"));
    }
    faults.within("counted_by", |f| {
        let names = names.iter().enumerate();
        let read: Vec<_> = names.map(|(n, name)| text(f, &n.to_string(), name, NAME_MAX)).collect();
        read.into_iter().collect()
    })
}

impl NightBody {
    fn read(self, operation: Operation) -> Result<Submission, AppError> {
        let mut faults = Faults::default();
        if self.lines.len() > LINES_MAX || self.units_sold.len() > LINES_MAX {
            faults.add("lines", format!("a count has {LINES_MAX} lines at most"));
        }
        let counted_by = counters(&mut faults, &self.counted_by);
        let reason = faults.maybe(self.reason, |f, why| text(f, "reason", &why, REASON_MAX));
        let lines = faults.each("lines", self.lines, |f, line| line.read(f));
        let units_sold = faults.each("units_sold", self.units_sold, |f, sold| sold.read(f));
        let net_sales = faults.maybe(self.net_sales, |f, net| money(f, "net_sales", &net));
        let entries = entries_from_wire(self.entries, "entries", &mut faults);
        if self.withdraw.len() > MOST {
            faults.add("withdraw", format!("{MOST} entries at most"));
        }
        let withdraw =
            faults.each("withdraw", self.withdraw, |f, NightWithdrawalBody { id, reason }| {
                let reason = text(f, "reason", &reason, WITHDRAWAL_MAX)?;
                Some(Withdrawal { id: EntryId(id), reason })
            });
        let said = counted_by.zip(reason).zip(withdraw);
        let read = lines.zip(units_sold).zip(net_sales).zip(entries).zip(said);
        let read = read.map(|((((lines, units_sold), net_sales), entries), said)| {
            (lines, units_sold, net_sales, entries, said)
        });
        let read = read.map(
            |(lines, units_sold, net_sales, entries, ((counted_by, reason), withdraw))| {
                Submission {
                    write: operation.under(WriteId(self.submission_id)),
                    count: Count {
                        complete: self.complete,
                        counted_by,
                        device_time: self.device_time,
                        started_at: self.started_at,
                        lines,
                        units_sold,
                        net_sales,
                    },
                    entries,
                    withdraw,
                    reason,
                }
            },
        );
        faults.finish(read)
    }
}

/// Submit a night, or amend it.
///
/// The count is one document, revised as a whole; `If-None-Match: *` creates the first, `If-Match`
/// with its ETag changes it. Entries in the same body are added to those of others. Everything is
/// saved in one transaction, or nothing. The answer is the receipt.
///
/// A count in which something looks wrong is saved and *held*: the answer is 202 with what is asked,
/// at most so many questions as the network's limits say, and the count displaces nothing until they
/// are answered (`…/confirmations`) or the store next opens. Entries in the same body are recorded at
/// once. So long after its cut-off as the limits say a night is locked: the change is *proposed*, 202,
/// and waits for another person (`…/approvals`), its entries and withdrawals with it. To change
/// entries alone, send the count as it stands.
#[utoipa::path(put, path = "/v1/stores/{store}/nights/{business_date}",
    operation_id = "submit_night", tag = "nights", request_body = NightBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date, which is authoritative"),
        ("If-None-Match" = Option<String>, Header, description = "`*` to create"),
        ("If-Match" = Option<String>, Header, description = "The ETag last read, to change")),
    responses(
        (status = 201, description = "The night is on record for the first time", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the count"))),
        (status = 200, description = "The night is amended", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the count"))),
        (status = 202, description = "Saved, and waiting: for answers to what is asked (`held`), or for another person's approval (`proposed`). Until then the night stands as the rest of the receipt says", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the count"))),
        Allowed, Found, Sent, Expecting, SetUp))]
pub async fn submit(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    operation: Operation,
    precondition: Precondition,
    body: Body<NightBody>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let submission = body.0.read(operation)?;
    let expected = &precondition.0;
    let show = ReceiptBody::new;
    reply::send(nights::submit(&deps, &caller, &store, date, expected, submission, show).await?)
}

/// A store and a date of a path.
///
/// # Errors
/// 404 when the code is none.
pub fn night_of(path: (String, NaiveDate)) -> Result<(StoreId, BusinessDate), AppError> {
    Ok((store_of(&path.0)?, path.1.into()))
}
