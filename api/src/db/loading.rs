//! Facts and pins, many at once.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use diesel::sql_types::{
    Array, Binary, Date, Integer, Jsonb, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid,
};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, WriteId};
use parings_core::night::{Count, shelves};
use parings_core::tally::RULES;
use serde_json::Value;
use uuid::Uuid;

use super::json::Json;
use super::statement::{column, statement};
use super::tallies::Key;

/// What every fact says of itself: the first columns of each table.
pub struct Recorded {
    business_date: BusinessDate,
    store_id: String,
    district_id: String,
    region_id: String,
    owner_id: String,
    by: Uuid,
    at: DateTime<Utc>,
    write_id: Uuid,
}

impl Recorded {
    /// Something recorded of a store's date.
    pub fn new(
        standing: &Standing,
        date: BusinessDate,
        by: PersonId,
        at: DateTime<Utc>,
        write: WriteId,
    ) -> Self {
        Self {
            business_date: date,
            store_id: standing.store.to_string(),
            district_id: standing.district.to_string(),
            region_id: standing.region.to_string(),
            owner_id: standing.owner.to_string(),
            by: by.0,
            at,
            write_id: write.0,
        }
    }
}

/// A revision of a count.
#[expect(missing_docs, reason = "the columns of the table")]
pub struct RevisionRow {
    pub of: Recorded,
    pub revision: i32,
    pub body: Json<Count>,
    pub reason: Option<String>,
    pub state: String,
    pub checks: Value,
}

statement!(Revisions<'a> {
    business_date: Vec<NaiveDate> => Array<Date>,
    store: Vec<&'a str> => Array<Text>,
    district: Vec<&'a str> => Array<Text>,
    region: Vec<&'a str> => Array<Text>,
    owner: Vec<&'a str> => Array<Text>,
    by: Vec<Uuid> => Array<SqlUuid>,
    at: Vec<DateTime<Utc>> => Array<Timestamptz>,
    write: Vec<Uuid> => Array<SqlUuid>,
    revision: Vec<i32> => Array<Integer>,
    body: Vec<&'a Json<Count>> => Array<Jsonb>,
    shelves: Vec<Vec<u8>> => Array<Binary>,
    reason: Vec<Option<&'a str>> => Array<Nullable<Text>>,
    state: Vec<&'a str> => Array<Text>,
    checks: Vec<&'a Value> => Array<Jsonb>,
} = "loading/revisions.sql");

/// Adds revisions of counts, any number in one statement.
///
/// # Errors
/// When the acting person may not, a number is taken, or the database cannot be reached.
pub async fn revisions(conn: &mut AsyncPgConnection, rows: &[RevisionRow]) -> QueryResult<()> {
    if rows.is_empty() {
        return Ok(());
    }
    let revisions = Revisions {
        business_date: column(rows, |row| row.of.business_date.into()),
        store: column(rows, |row| row.of.store_id.as_str()),
        district: column(rows, |row| row.of.district_id.as_str()),
        region: column(rows, |row| row.of.region_id.as_str()),
        owner: column(rows, |row| row.of.owner_id.as_str()),
        by: column(rows, |row| row.of.by),
        at: column(rows, |row| row.of.at),
        write: column(rows, |row| row.of.write_id),
        revision: column(rows, |row| row.revision),
        body: column(rows, |row| &row.body),
        shelves: column(rows, |row| shelves::pack(&row.body.0.lines)),
        reason: column(rows, |row| row.reason.as_deref()),
        state: column(rows, |row| row.state.as_str()),
        checks: column(rows, |row| &row.checks),
    };
    revisions.execute(conn).await.map(|_| ())
}

/// An entry to add.
#[expect(missing_docs, reason = "the columns of the table")]
pub struct EntryRow {
    pub of: Recorded,
    pub id: Uuid,
    pub kind: String,
    pub body: Value,
}

statement!(EntryIds<'a> {
    id: Vec<Uuid> => Array<SqlUuid>,
    store: Vec<&'a str> => Array<Text>,
    business_date: Vec<NaiveDate> => Array<Date>,
} = "loading/entry_ids.sql");

statement!(Entries<'a> {
    business_date: Vec<NaiveDate> => Array<Date>,
    store: Vec<&'a str> => Array<Text>,
    district: Vec<&'a str> => Array<Text>,
    region: Vec<&'a str> => Array<Text>,
    owner: Vec<&'a str> => Array<Text>,
    by: Vec<Uuid> => Array<SqlUuid>,
    at: Vec<DateTime<Utc>> => Array<Timestamptz>,
    write: Vec<Uuid> => Array<SqlUuid>,
    id: Vec<Uuid> => Array<SqlUuid>,
    kind: Vec<&'a str> => Array<Text>,
    body: Vec<&'a Value> => Array<Jsonb>,
} = "loading/entries.sql");

/// Adds entries, any number in two statements: their ids first.
///
/// # Errors
/// When the acting person may not, an id is taken, or the database cannot be reached.
pub async fn entries(conn: &mut AsyncPgConnection, rows: &[EntryRow]) -> QueryResult<()> {
    if rows.is_empty() {
        return Ok(());
    }
    let ids = EntryIds {
        id: column(rows, |row| row.id),
        store: column(rows, |row| row.of.store_id.as_str()),
        business_date: column(rows, |row| row.of.business_date.into()),
    };
    ids.execute(conn).await?;
    let entries = Entries {
        business_date: column(rows, |row| row.of.business_date.into()),
        store: column(rows, |row| row.of.store_id.as_str()),
        district: column(rows, |row| row.of.district_id.as_str()),
        region: column(rows, |row| row.of.region_id.as_str()),
        owner: column(rows, |row| row.of.owner_id.as_str()),
        by: column(rows, |row| row.of.by),
        at: column(rows, |row| row.of.at),
        write: column(rows, |row| row.of.write_id),
        id: column(rows, |row| row.id),
        kind: column(rows, |row| row.kind.as_str()),
        body: column(rows, |row| &row.body),
    };
    entries.execute(conn).await.map(|_| ())
}

/// A batch of a till.
#[expect(missing_docs, reason = "the columns of the table")]
pub struct BatchRow {
    pub of: Recorded,
    pub batch_id: String,
    pub body: Value,
}

statement!(Batches<'a> {
    business_date: Vec<NaiveDate> => Array<Date>,
    store: Vec<&'a str> => Array<Text>,
    district: Vec<&'a str> => Array<Text>,
    region: Vec<&'a str> => Array<Text>,
    owner: Vec<&'a str> => Array<Text>,
    by: Vec<Uuid> => Array<SqlUuid>,
    at: Vec<DateTime<Utc>> => Array<Timestamptz>,
    write: Vec<Uuid> => Array<SqlUuid>,
    batch: Vec<&'a str> => Array<Text>,
    body: Vec<&'a Value> => Array<Jsonb>,
} = "loading/batches.sql");

/// Adds batches of tills, any number in one statement.
///
/// # Errors
/// When the acting person may not, an id is taken, or the database cannot be reached.
pub async fn batches(conn: &mut AsyncPgConnection, rows: &[BatchRow]) -> QueryResult<()> {
    if rows.is_empty() {
        return Ok(());
    }
    let batches = Batches {
        business_date: column(rows, |row| row.of.business_date.into()),
        store: column(rows, |row| row.of.store_id.as_str()),
        district: column(rows, |row| row.of.district_id.as_str()),
        region: column(rows, |row| row.of.region_id.as_str()),
        owner: column(rows, |row| row.of.owner_id.as_str()),
        by: column(rows, |row| row.of.by),
        at: column(rows, |row| row.of.at),
        write: column(rows, |row| row.of.write_id),
        batch: column(rows, |row| row.batch_id.as_str()),
        body: column(rows, |row| &row.body),
    };
    batches.execute(conn).await.map(|_| ())
}

/// The first pin of a night.
pub struct PinRow {
    business_date: BusinessDate,
    store_id: String,
    rules: i16,
    known_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    district_id: String,
    region_id: String,
    owner_id: String,
}

impl PinRow {
    /// The pin of a night that is tallied first at a moment.
    pub fn new(key: Key<'_>, recorded_at: DateTime<Utc>) -> Self {
        Self {
            business_date: key.date,
            store_id: key.standing.store.to_string(),
            rules: RULES,
            known_at: key.known_at,
            recorded_at,
            district_id: key.standing.district.to_string(),
            region_id: key.standing.region.to_string(),
            owner_id: key.standing.owner.to_string(),
        }
    }
}

statement!(Pins<'a> {
    business_date: Vec<NaiveDate> => Array<Date>,
    store: Vec<&'a str> => Array<Text>,
    district: Vec<&'a str> => Array<Text>,
    region: Vec<&'a str> => Array<Text>,
    owner: Vec<&'a str> => Array<Text>,
    rules: Vec<i16> => Array<SmallInt>,
    known_at: Vec<DateTime<Utc>> => Array<Timestamptz>,
    recorded_at: Vec<DateTime<Utc>> => Array<Timestamptz>,
} = "loading/pins.sql");

/// Adds pins of nights, any number in one statement.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn pins(conn: &mut AsyncPgConnection, rows: &[PinRow]) -> QueryResult<()> {
    if rows.is_empty() {
        return Ok(());
    }
    let pins = Pins {
        business_date: column(rows, |row| row.business_date.into()),
        store: column(rows, |row| row.store_id.as_str()),
        district: column(rows, |row| row.district_id.as_str()),
        region: column(rows, |row| row.region_id.as_str()),
        owner: column(rows, |row| row.owner_id.as_str()),
        rules: column(rows, |row| row.rules),
        known_at: column(rows, |row| row.known_at),
        recorded_at: column(rows, |row| row.recorded_at),
    };
    pins.execute(conn).await.map(|_| ())
}
