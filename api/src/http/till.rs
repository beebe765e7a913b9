//! The feed of tills.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, Utc};
use parings_core::calendar::{BusinessDate, DateSpan, instant};
use parings_core::night::{AdditionSold, Outcome, Sale, TillBatch, TillTicket, When};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::ground::writes::Operation;
use crate::app::night::till;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, Sent, SetUp};
use crate::http::body::Body;
use crate::http::entries::{instant_text, maybe_code, text};
use crate::http::faults::Faults;
use crate::http::page::{NightQuery, Page, SpanQuery};
use crate::http::quantity::{Number, money};
use crate::http::reply;
use crate::http::stores::store_of;

/// Most sales, and most tickets, of a batch.
const MOST: usize = 2000;
/// Most additions, and most items left out, of a line.
const MOST_PARTS: usize = 50;
/// The longest of a till's own ids and codes.
const ID_MAX: usize = 64;
/// Most units of a line.
const UNITS_MAX: u32 = 100_000;

/// When something was sold: `{"daypart":"lunch"}`, `{"at":"2026-06-15T18:15:00Z"}` or `"unknown"`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum WhenBody {
    /// In the course of a daypart.
    Daypart(String),
    /// At an instant, such as the start of a quarter of an hour.
    #[schema(format = DateTime)]
    At(String),
    /// The till does not say.
    #[default]
    Unknown,
}

/// What became of units.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SoldOutcomeBody {
    /// They were made and sold.
    #[default]
    Sold,
    /// Called off before anything was made: used nothing, took nothing.
    VoidedBeforeMaking,
    /// Made, then paid back: used what it takes.
    RefundedAfterMaking,
    /// Made and given away.
    GivenAway,
    /// They were made for staff: food was used and nothing was taken.
    StaffMeal,
}

impl WhenBody {
    fn is_unknown(&self) -> bool {
        matches!(self, Self::Unknown)
    }
}

impl From<Outcome> for SoldOutcomeBody {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Sold => Self::Sold,
            Outcome::VoidedBeforeMaking => Self::VoidedBeforeMaking,
            Outcome::RefundedAfterMaking => Self::RefundedAfterMaking,
            Outcome::GivenAway => Self::GivenAway,
            Outcome::StaffMeal => Self::StaffMeal,
        }
    }
}

impl From<SoldOutcomeBody> for Outcome {
    fn from(outcome: SoldOutcomeBody) -> Self {
        match outcome {
            SoldOutcomeBody::Sold => Self::Sold,
            SoldOutcomeBody::VoidedBeforeMaking => Self::VoidedBeforeMaking,
            SoldOutcomeBody::RefundedAfterMaking => Self::RefundedAfterMaking,
            SoldOutcomeBody::GivenAway => Self::GivenAway,
            SoldOutcomeBody::StaffMeal => Self::StaffMeal,
        }
    }
}

/// Something added under a till's code.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SoldAdditionBody {
    /// The till's code of the addition.
    #[schema(min_length = 1, max_length = 64)]
    pub code: String,
    /// How many were added, to all units of the sale together.
    #[schema(maximum = 100000)]
    pub units: u32,
}

/// Units sold under a till's code.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SaleBody {
    /// The till's id of the line, where it may send it again: the later one counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 64)]
    pub line: Option<String>,
    /// The till's code of the product and size.
    #[schema(min_length = 1, max_length = 64, example = "1001")]
    pub code: String,
    /// How many units were sold.
    #[schema(maximum = 100000)]
    pub units: u32,
    /// What was taken for them, net of tax and discount, in all.
    pub net: Number,
    /// The part of the day or the instant at which they were sold.
    #[serde(default, skip_serializing_if = "WhenBody::is_unknown")]
    pub when: WhenBody,
    /// How they were ordered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<String>,
    /// What was added, to all of these units together.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub additions: Vec<SoldAdditionBody>,
    /// Items left out of each unit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub leave_outs: Vec<String>,
    /// What became of them.
    #[serde(default)]
    pub outcome: SoldOutcomeBody,
}

/// An order and how long it took.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TicketBody {
    /// The till's id of it; sent again (closed by now, say) the later one counts.
    #[schema(min_length = 1, max_length = 64)]
    pub id: String,
    /// When it was placed.
    #[schema(format = DateTime)]
    pub placed: String,
    /// When it was handed off; left out while it is open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(format = DateTime)]
    pub handed_off: Option<String>,
    /// When it was promised for, if it was ordered ahead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(format = DateTime)]
    pub promised: Option<String>,
    /// How it was ordered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<String>,
}

/// A batch of a till's feed.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TillBatchBody {
    /// The till's own id of the batch, unique for ever in its store.
    #[schema(min_length = 1, max_length = 64, example = "t1-20260615-0042")]
    pub batch_id: String,
    /// The date it is of. It has begun, and is not more than 400 days ago.
    #[schema(value_type = String, format = Date)]
    pub business_date: BusinessDate,
    /// What was sold, a line of the till each.
    #[serde(default)]
    #[schema(max_items = 2000)]
    pub sales: Vec<SaleBody>,
    /// Orders and how long they took.
    #[serde(default)]
    #[schema(max_items = 2000)]
    pub tickets: Vec<TicketBody>,
}

/// Reads how many units were sold.
pub(in crate::http) fn units(faults: &mut Faults, units: u32) -> Option<u32> {
    if units > UNITS_MAX {
        faults.add("units", format!("{UNITS_MAX} units at most"));
        return None;
    }
    Some(units)
}

fn most<T>(faults: &mut Faults, member: &str, list: &[T], most: usize) {
    if list.len() > most {
        faults.add(member, format!("{most} at most"));
    }
}

impl SaleBody {
    /// Reads the line, gathering what cannot be taken.
    pub fn read(self, faults: &mut Faults) -> Option<Sale> {
        let line = faults.maybe(self.line, |faults, line| text(faults, "line", &line, ID_MAX));
        let code = text(faults, "code", &self.code, ID_MAX);
        let units_sold = units(faults, self.units);
        let net = money(faults, "net", &self.net);
        let when = faults.within("when", |faults| match self.when {
            WhenBody::Daypart(code) => faults.parse("daypart", &code).map(When::Daypart),
            WhenBody::At(at) => faults.take("at", instant::parse(&at)).map(When::At),
            WhenBody::Unknown => Some(When::Unknown),
        });
        let channel = maybe_code(faults, "channel", self.channel.as_ref());
        most(faults, "additions", &self.additions, MOST_PARTS);
        let additions = faults.each("additions", self.additions, |faults, added| {
            let code = text(faults, "code", &added.code, ID_MAX);
            let units = units(faults, added.units);
            Some(AdditionSold { code: code?, units: units? })
        });
        most(faults, "leave_outs", &self.leave_outs, MOST_PARTS);
        let leave_outs = faults.parse_each("leave_outs", &self.leave_outs);
        Some(Sale {
            line: line?,
            code: code?,
            units: units_sold?,
            net: net?,
            when: when?,
            channel: channel?,
            additions: additions?,
            leave_outs: leave_outs?,
            outcome: self.outcome.into(),
        })
    }
}

impl From<&Sale> for SaleBody {
    fn from(sale: &Sale) -> Self {
        let added = |added: &AdditionSold| SoldAdditionBody {
            code: added.code.clone(),
            units: added.units,
        };
        Self {
            line: sale.line.clone(),
            code: sale.code.clone(),
            units: sale.units,
            net: Number(sale.net.to_decimal().normalize()),
            when: match &sale.when {
                When::Daypart(daypart) => WhenBody::Daypart(daypart.to_string()),
                When::At(at) => WhenBody::At(instant_text(*at)),
                When::Unknown => WhenBody::Unknown,
            },
            channel: sale.channel.as_ref().map(ToString::to_string),
            additions: sale.additions.iter().map(added).collect(),
            leave_outs: sale.leave_outs.iter().map(ToString::to_string).collect(),
            outcome: sale.outcome.into(),
        }
    }
}

impl From<&TillTicket> for TicketBody {
    fn from(ticket: &TillTicket) -> Self {
        Self {
            id: ticket.id.clone(),
            placed: instant_text(ticket.placed),
            handed_off: ticket.handed_off.map(instant_text),
            promised: ticket.promised.map(instant_text),
            channel: ticket.channel.as_ref().map(ToString::to_string),
        }
    }
}

impl TicketBody {
    /// Reads the order, gathering what cannot be taken.
    pub fn read(self, faults: &mut Faults) -> Option<TillTicket> {
        let id = text(faults, "id", &self.id, ID_MAX);
        let placed = faults.take("placed", instant::parse(&self.placed));
        let maybe = |faults: &mut Faults, member: &str, at: Option<String>| {
            faults.maybe(at, |faults, at| faults.take(member, instant::parse(&at)))
        };
        let handed_off = maybe(faults, "handed_off", self.handed_off);
        let promised = maybe(faults, "promised", self.promised);
        let channel = maybe_code(faults, "channel", self.channel.as_ref());
        Some(TillTicket {
            id: id?,
            placed: placed?,
            handed_off: handed_off?,
            promised: promised?,
            channel: channel?,
        })
    }
}

impl TillBatchBody {
    /// The till's id of the batch, and what it says.
    fn read(self) -> Result<(String, TillBatch), AppError> {
        let mut faults = Faults::default();
        let id = text(&mut faults, "batch_id", &self.batch_id, ID_MAX);
        most(&mut faults, "sales", &self.sales, MOST);
        most(&mut faults, "tickets", &self.tickets, MOST);
        if !faults.found().is_empty() {
            return faults.finish(None);
        }
        let sales = faults.each("sales", self.sales, |faults, sale| sale.read(faults));
        let tickets = faults.each("tickets", self.tickets, |faults, ticket| ticket.read(faults));
        let batch = sales.zip(tickets).map(|(sales, tickets)| TillBatch { sales, tickets });
        faults.finish(id.zip(batch))
    }
}

/// Units under a code that nobody mapped to the menu. They are kept, and no expected use comes of
/// them until somebody maps the code.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnmappedCodeBody {
    /// The business date that the units are of.
    #[schema(value_type = String, format = Date)]
    pub business_date: BusinessDate,
    /// The till's code.
    pub code: String,
    /// How many units, voided ones left out.
    pub units: u64,
}

impl From<till::Unmapped> for UnmappedCodeBody {
    fn from(unmapped: till::Unmapped) -> Self {
        Self { business_date: unmapped.date, code: unmapped.code, units: unmapped.units }
    }
}

/// A batch on record.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReceivedBatchBody {
    /// The till's own id of the batch.
    pub batch_id: String,
    /// The date it is of.
    #[schema(value_type = String, format = Date)]
    pub business_date: BusinessDate,
    /// How many lines of sales it has.
    pub sales: usize,
    /// How many tickets it has.
    pub tickets: usize,
    /// When the server received it.
    pub received_at: DateTime<Utc>,
    /// Whether that was after the night's count had been accepted.
    pub late: bool,
}

impl From<till::Received> for ReceivedBatchBody {
    fn from(received: till::Received) -> Self {
        Self {
            batch_id: received.id,
            business_date: received.date,
            sales: received.sales,
            tickets: received.tickets,
            received_at: received.at,
            late: received.late,
        }
    }
}

/// What was taken of a batch.
#[derive(Debug, Serialize, ToSchema)]
pub struct AcceptedBatchBody {
    /// The batch as it was received.
    #[serde(flatten)]
    pub batch: ReceivedBatchBody,
    /// Codes of the batch that nobody mapped; their units are kept.
    pub unmapped: Vec<UnmappedCodeBody>,
}

/// Codes that nobody mapped.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnmappedCodesBody {
    /// By date, then by code.
    pub items: Vec<UnmappedCodeBody>,
}

/// Send sales and tickets of one date.
///
/// The batch's own id makes it safe to send again: the same content is answered as the first time,
/// other content under the id is refused. Sales and tickets of one date add up over batches; a line
/// or ticket that was sent before under its id is replaced by the later one.
#[utoipa::path(post, path = "/v1/stores/{store}/till-batches", tag = "till", request_body = TillBatchBody,
    params(("store" = String, Path, description = "The store's code", example = "ford")),
    responses(
        (status = 201, description = "Taken, all of it", body = AcceptedBatchBody),
        Allowed, Found, Sent, SetUp,
        (status = 403, description = "Only tills and head office send", body = Problem, content_type = "application/problem+json")))]
pub async fn feed(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    operation: Operation,
    Body(sent): Body<TillBatchBody>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = (store_of(&store)?, sent.business_date);
    let (id, batch) = sent.read()?;
    let show = |batch: till::Received, unmapped: Vec<till::Unmapped>| AcceptedBatchBody {
        batch: batch.into(),
        unmapped: unmapped.into_iter().map(Into::into).collect(),
    };
    let of = (&store, id.as_str());
    reply::send(till::feed(&deps, &caller, operation, of, date, batch, show).await?)
}

/// The batches of a night, in the order they came.
#[utoipa::path(get, path = "/v1/stores/{store}/till-batches", operation_id = "list_till_batches", tag = "till",
    params(("store" = String, Path, description = "The store's code", example = "ford"), NightQuery),
    responses(
        (status = 200, description = "A page of batches", body = Page<ReceivedBatchBody>),
        Allowed, Found, Queried,
        (status = 403, description = "Not for crew", body = Problem, content_type = "application/problem+json")))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<NightQuery>,
) -> Result<HttpResponse, AppError> {
    let (limit, after) = (query.page().limit()?, query.page().after()?);
    let (store, date) = (store_of(&store)?, query.business_date);
    let found = till::of_night(&deps, &caller, &store, date, after, limit + 1).await?;
    let page = Page::<ReceivedBatchBody>::cut(found, limit, |found| (found.at, found.id.clone()))?;
    Ok(HttpResponse::Ok().json(page))
}

/// The till codes that nobody had mapped to the menu, night by night: what the tallies leave out.
///
/// For 35 nights at most.
#[utoipa::path(get, path = "/v1/stores/{store}/unmapped-codes", tag = "till",
    params(("store" = String, Path, description = "The store's code", example = "ford"), SpanQuery),
    responses(
        (status = 200, description = "The codes", body = UnmappedCodesBody),
        Allowed, Found, Queried, SetUp,
        (status = 403, description = "Not for crew", body = Problem, content_type = "application/problem+json")))]
pub async fn unmapped(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<SpanQuery>,
) -> Result<HttpResponse, AppError> {
    let store = store_of(&store)?;
    let span = DateSpan::new(query.from, query.to)
        .map_err(|error| AppError::invalid("/to", error.to_string()))?;
    let found = till::unmapped_of_span(&deps, &caller, &store, span).await?;
    let items = found.into_iter().map(Into::into).collect();
    Ok(HttpResponse::Ok().json(UnmappedCodesBody { items }))
}
