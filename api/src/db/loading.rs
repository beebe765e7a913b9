//! Facts and pins, many at once.

use chrono::{DateTime, Utc};
use diesel::QueryResult;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, WriteId};
use parings_core::tally::RULES;
use serde_json::Value;
use uuid::Uuid;

use super::bulk::many;
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
    pub body: Value,
    pub shelves: Vec<u8>,
    pub reason: Option<String>,
    pub state: String,
    pub checks: Value,
}

/// Adds revisions.
///
/// # Errors
/// When the acting person may not, a number is taken, or the database cannot be reached.
pub async fn revisions(conn: &mut AsyncPgConnection, rows: &[RevisionRow]) -> QueryResult<()> {
    many!(AddRevisions of RevisionRow, "night_revisions":
        business_date: BusinessDate [of.business_date], store_id: String [of.store_id],
        district_id: String [of.district_id], region_id: String [of.region_id],
        owner_id: String [of.owner_id], submitted_by: Uuid [of.by],
        recorded_at: DateTime<Utc> [of.at], write_id: Uuid [of.write_id],
        revision: i32 [revision], body: Value [body], shelves: Vec<u8> [shelves],
        reason: Option<String> [reason],
        state: String [state], checks: Value [checks]);
    if !rows.is_empty() {
        AddRevisions::new(rows)?.execute(conn).await?;
    }
    Ok(())
}

/// An entry.
#[expect(missing_docs, reason = "the columns of the table")]
pub struct EntryRow {
    pub of: Recorded,
    pub id: Uuid,
    pub kind: String,
    pub body: Value,
}

/// Adds entries.
///
/// # Errors
/// When the acting person may not, an id is taken, or the database cannot be reached.
pub async fn entries(conn: &mut AsyncPgConnection, rows: &[EntryRow]) -> QueryResult<()> {
    many!(AddIds of EntryRow, "entry_ids":
        id: Uuid [id], store_id: String [of.store_id],
        business_date: BusinessDate [of.business_date]);
    many!(AddEntries of EntryRow, "entries":
        business_date: BusinessDate [of.business_date], store_id: String [of.store_id],
        district_id: String [of.district_id], region_id: String [of.region_id],
        owner_id: String [of.owner_id], recorded_by: Uuid [of.by],
        recorded_at: DateTime<Utc> [of.at], write_id: Uuid [of.write_id],
        id: Uuid [id], kind: String [kind], body: Value [body]);
    if !rows.is_empty() {
        AddIds::new(rows)?.execute(conn).await?;
        AddEntries::new(rows)?.execute(conn).await?;
    }
    Ok(())
}

/// A batch of a till.
#[expect(missing_docs, reason = "the columns of the table")]
pub struct BatchRow {
    pub of: Recorded,
    pub batch_id: String,
    pub body: Value,
}

/// Adds batches.
///
/// # Errors
/// When the acting person may not, an id is taken, or the database cannot be reached.
pub async fn batches(conn: &mut AsyncPgConnection, rows: &[BatchRow]) -> QueryResult<()> {
    many!(AddBatches of BatchRow, "till_batches":
        business_date: BusinessDate [of.business_date], store_id: String [of.store_id],
        district_id: String [of.district_id], region_id: String [of.region_id],
        owner_id: String [of.owner_id], sent_by: Uuid [of.by],
        recorded_at: DateTime<Utc> [of.at], write_id: Uuid [of.write_id],
        batch_id: String [batch_id], body: Value [body]);
    if !rows.is_empty() {
        AddBatches::new(rows)?.execute(conn).await?;
    }
    Ok(())
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

/// Adds pins.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn pins(conn: &mut AsyncPgConnection, rows: &[PinRow]) -> QueryResult<()> {
    many!(AddPins of PinRow, "night_pins":
        business_date: BusinessDate [business_date], store_id: String [store_id],
        rules: i16 [rules], known_at: DateTime<Utc> [known_at],
        recorded_at: DateTime<Utc> [recorded_at], district_id: String [district_id],
        region_id: String [region_id], owner_id: String [owner_id]);
    if !rows.is_empty() {
        AddPins::new(rows)?.execute(conn).await?;
    }
    Ok(())
}
