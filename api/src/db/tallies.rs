//! Nights as they are kept: packed by the rules, read by everything that shows a figure. Nothing here
//! adds; whoever reads unpacks with core.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::result::Error;
use diesel::sql_types::{
    Array, BigInt, Binary, Bool, Date, Integer, Nullable, SmallInt, Text, Timestamptz,
};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::access::Standing;
use parings_core::bytes::Unreadable;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{CodeError, ItemId, StoreId};
use parings_core::rollup::Scope;
use parings_core::tally::pack::{self, Codes, Dictionary};
use parings_core::tally::{Night, RULES};

use super::bulk::many;
use super::statement::statement;

/// Whose night it is.
#[derive(Debug, Clone, Copy)]
pub struct Key<'a> {
    /// Where the store stood on the date.
    pub standing: &'a Standing,
    /// The date.
    pub date: BusinessDate,
    /// The reference data it was made with: those known at this moment.
    pub known_at: DateTime<Utc>,
}

/// A code as it is stored.
///
/// # Errors
/// When the database holds what is no code.
pub(in crate::db) fn code<T: std::str::FromStr<Err = CodeError>>(text: &str) -> QueryResult<T> {
    text.parse().map_err(|e: CodeError| Error::DeserializationError(e.into()))
}

statement!(LockStore { store: &'a str } =
    "SELECT pg_advisory_xact_lock(hashtextextended(", store: Text, ", 0)) IS NULL");

/// Keeps a store's facts and tallies to this transaction until its end.
///
/// # Errors
/// When the lock does not come in time.
pub async fn lock(mut conn: &AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    LockStore::new(store.as_str()).execute(&mut conn).await.map(|_| ())
}

/// A night as it is kept.
#[derive(Debug, Clone, QueryableByName)]
pub struct PackedRow {
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = SmallInt)]
    rules: i16,
    #[diesel(sql_type = Text)]
    district_id: String,
    #[diesel(sql_type = Text)]
    region_id: String,
    #[diesel(sql_type = Text)]
    owner_id: String,
    #[diesel(sql_type = Timestamptz)]
    known_at: DateTime<Utc>,
    #[diesel(sql_type = BigInt)]
    generation: i64,
    #[diesel(sql_type = Nullable<Integer>)]
    revision: Option<i32>,
    #[diesel(sql_type = Text)]
    counted: String,
    #[diesel(sql_type = Text)]
    others: String,
    #[diesel(sql_type = Binary)]
    packed: Vec<u8>,
}

impl PackedRow {
    /// The store's code.
    pub fn store(&self) -> &str {
        &self.store_id
    }

    /// The date.
    pub fn date(&self) -> BusinessDate {
        self.business_date.into()
    }

    /// The version of the rules that made it.
    pub fn rules(&self) -> i16 {
        self.rules
    }

    /// The moment whose reference data it is made with.
    pub fn known_at(&self) -> DateTime<Utc> {
        self.known_at
    }

    /// By which generation it stands: another whenever anything of it says something else.
    pub fn generation(&self) -> i64 {
        self.generation
    }

    /// The revision of its count.
    pub fn revision(&self) -> Option<i32> {
        self.revision
    }

    /// The district, region and owner of the store on the date.
    pub fn place(&self) -> [&str; 3] {
        [&self.district_id, &self.region_id, &self.owner_id]
    }

    /// Where the store stood on the date.
    ///
    /// # Errors
    /// When the database holds what is no code.
    pub fn standing(&self) -> QueryResult<Standing> {
        Ok(Standing {
            store: code(&self.store_id)?,
            district: code(&self.district_id)?,
            region: code(&self.region_id)?,
            owner: code(&self.owner_id)?,
        })
    }

    /// The codes of its numbers.
    ///
    /// # Errors
    /// When no rule wrote it.
    pub fn codes(&self, dictionary: &mut Dictionary) -> QueryResult<Arc<Codes>> {
        dictionary.read(&self.counted, &self.others).map_err(unreadable)
    }

    /// Its numbers.
    pub fn bytes(&self) -> &[u8] {
        &self.packed
    }

    /// Its codes and numbers as text and bytes.
    pub fn packed(&self) -> (&str, &str, &[u8]) {
        (&self.counted, &self.others, &self.packed)
    }

    /// The night.
    ///
    /// # Errors
    /// When no rule wrote it.
    pub fn unpack(&self, dictionary: &mut Dictionary) -> QueryResult<Night> {
        let codes = self.codes(dictionary)?;
        pack::unpack(self.date(), &codes, &self.packed).map_err(unreadable)
    }
}

/// What no rule wrote.
pub(crate) fn unreadable(why: Unreadable) -> Error {
    Error::DeserializationError(why.into())
}

statement!(OfStore { store: &'a str, from: NaiveDate, to: NaiveDate } =
    "SELECT store_id, business_date, rules, district_id, region_id, owner_id, known_at, generation,
       revision, counted, others, packed
     FROM nights WHERE store_id = ", store: Text, " AND business_date BETWEEN ", from: Date,
    " AND ", to: Date, " ORDER BY business_date");

/// A store's nights of a span, in order of their dates.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_store(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    span: DateSpan,
) -> QueryResult<Vec<PackedRow>> {
    OfStore::new(store.as_str(), span.from().into(), span.to().into()).load(conn).await
}

statement!(AllOfStore { store: &'a str } =
    "SELECT store_id, business_date, rules, district_id, region_id, owner_id, known_at, generation,
       revision, counted, others, packed
     FROM nights WHERE store_id = ", store: Text, " ORDER BY business_date");

/// Every night of a store, in order of their dates.
///
/// # Errors
/// When the database cannot be reached.
pub async fn all_of_store(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> QueryResult<Vec<PackedRow>> {
    AllOfStore::new(store.as_str()).load(conn).await
}

statement!(Reaching { store: &'a str, from: NaiveDate, to: NaiveDate } =
    "SELECT n.store_id, n.business_date, n.rules, n.district_id, n.region_id, n.owner_id,
       n.known_at, n.generation, n.revision, n.counted, n.others, n.packed,
       EXISTS (SELECT FROM nights l WHERE l.store_id = store AND l.business_date > last) AS later
     FROM nights n, (SELECT ", store: Text, " AS store, ", from: Date, " AS first, ", to: Date,
    " AS last) AS asked
     WHERE n.store_id = store AND n.business_date >= first
       AND (n.business_date <= last OR n.reaches <= last)
     ORDER BY n.business_date");

/// A store's nights of a span, and the later ones on which a span of use ends that began in it or
/// before; in order of their dates. With them, whether the store may have any night after the span.
///
/// # Errors
/// When the database cannot be reached.
pub async fn reaching(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    span: DateSpan,
) -> QueryResult<(Vec<PackedRow>, bool)> {
    let (from, to) = (span.from().into(), span.to().into());
    let rows: Vec<ReachingRow> = Reaching::new(store.as_str(), from, to).load(&mut conn).await?;
    let later = rows.iter().all(|row| row.later);
    Ok((rows.into_iter().map(|row| row.night).collect(), later))
}

/// A night, and whether the store has any after the span that is asked for.
#[derive(QueryableByName)]
struct ReachingRow {
    #[diesel(embed)]
    night: PackedRow,
    #[diesel(sql_type = Bool)]
    later: bool,
}

#[derive(QueryableByName)]
struct CountedOn {
    #[diesel(sql_type = Text)]
    item_id: String,
    #[diesel(sql_type = Nullable<Date>)]
    business_date: Option<NaiveDate>,
}

// The text of a night's first list of codes says which items were counted; nothing is unpacked.
statement!(CountedBefore { items: &'a [&'a str], store: &'a str, date: NaiveDate } =
    "SELECT i.item_id, (SELECT n.business_date FROM nights n
       WHERE n.store_id = asked.store AND n.business_date < asked.date
         AND strpos(n.counted, ' ' || i.item_id || ' ') > 0
       ORDER BY n.business_date DESC LIMIT 1) AS business_date
     FROM unnest(", items: Array<Text>, ") AS i (item_id), (SELECT ", store: Text,
    " AS store, ", date: Date, " AS date) AS asked");

statement!(CountedAfter { items: &'a [&'a str], store: &'a str, date: NaiveDate } =
    "SELECT i.item_id, (SELECT n.business_date FROM nights n
       WHERE n.store_id = asked.store AND n.business_date > asked.date
         AND strpos(n.counted, ' ' || i.item_id || ' ') > 0
       ORDER BY n.business_date LIMIT 1) AS business_date
     FROM unnest(", items: Array<Text>, ") AS i (item_id), (SELECT ", store: Text,
    " AS store, ", date: Date, " AS date) AS asked");

fn counted_on(rows: Vec<CountedOn>) -> QueryResult<BTreeMap<ItemId, BusinessDate>> {
    let found = rows.into_iter().filter_map(|row| Some((row.item_id, row.business_date?)));
    found.map(|(item, date)| Ok((code(&item)?, date.into()))).collect()
}

/// When each of some items was last counted before a date, of those that were.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counted_before(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    items: &[&str],
) -> QueryResult<BTreeMap<ItemId, BusinessDate>> {
    counted_on(CountedBefore::new(items, store.as_str(), date.into()).load(conn).await?)
}

/// When each of some items was first counted after a date, of those that were.
///
/// # Errors
/// When the database cannot be reached.
pub async fn counted_after(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
    items: &[&str],
) -> QueryResult<BTreeMap<ItemId, BusinessDate>> {
    counted_on(CountedAfter::new(items, store.as_str(), date.into()).load(conn).await?)
}

statement!(OfPlaces { stores: &'a [&'a str], dates: &'a [NaiveDate] } =
    "SELECT n.store_id, n.business_date, n.rules, n.district_id, n.region_id, n.owner_id,
       n.known_at, n.generation, n.revision, n.counted, n.others, n.packed
     FROM unnest(", stores: Array<Text>, ", ", dates: Array<Date>, ") AS a (store_id, business_date)
     JOIN nights n USING (store_id, business_date)");

/// The nights of stores and dates, pair by pair; in no order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_places(
    conn: &mut AsyncPgConnection,
    stores: &[&str],
    dates: &[NaiveDate],
) -> QueryResult<Vec<PackedRow>> {
    OfPlaces::new(stores, dates).load(conn).await
}

#[derive(QueryableByName)]
struct Pin {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    known_at: Option<DateTime<Utc>>,
}

statement!(FindPin { store: &'a str, date: NaiveDate } =
    "SELECT (SELECT known_at FROM nights WHERE store_id = ", store: Text,
    " AND business_date = ", date: Date, ") AS known_at");

/// The moment whose reference data a night is tallied with, once it has been.
///
/// # Errors
/// When the database cannot be reached.
pub async fn pin(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: Pin = FindPin::new(store.as_str(), date.into()).get_result(&mut conn).await?;
    Ok(found.known_at)
}

statement!(PinForWriter { store: &'a str, date: NaiveDate } =
    "SELECT night_pin(", store: Text, ", ", date: Date, ") AS known_at");

/// The same, for who may write to the store but not see its tallies.
///
/// # Errors
/// When the acting person may not write to the store, or the database cannot be reached.
pub async fn pin_for_writer(
    mut conn: &AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: Pin = PinForWriter::new(store.as_str(), date.into()).get_result(&mut conn).await?;
    Ok(found.known_at)
}

#[derive(QueryableByName)]
struct LastNight {
    #[diesel(sql_type = Nullable<Date>)]
    business_date: Option<NaiveDate>,
}

statement!(FindLastNight {} = "SELECT max(business_date) AS business_date FROM nights");

/// The last night of any store that has tallies.
///
/// # Errors
/// When the database cannot be reached.
pub async fn last_night(conn: &mut AsyncPgConnection) -> QueryResult<Option<BusinessDate>> {
    let found: LastNight = FindLastNight::new().get_result(conn).await?;
    Ok(found.business_date.map(Into::into))
}

#[derive(QueryableByName)]
struct NightOf {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(FindNightsOf { from: NaiveDate, to: NaiveDate, stores: Option<&'a [&'a str]>,
    limit: i64 } =
    "SELECT business_date, store_id FROM nights WHERE business_date >= ", from: Date,
    " AND business_date <= ", to: Date, " AND coalesce(store_id = ANY (", stores: Nullable<Array<Text>>,
    "), true) ORDER BY business_date, store_id LIMIT ", limit: BigInt, "");

/// The nights of a span that are tallied, in order of date and store: those of the stores that are
/// named, or of all; `limit` at most.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights_of(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    stores: Option<&[StoreId]>,
    limit: usize,
) -> QueryResult<Vec<(BusinessDate, StoreId)>> {
    let stores: Option<Vec<&str>> = stores.map(|all| all.iter().map(StoreId::as_str).collect());
    let limit = i64::try_from(limit).unwrap_or(i64::MAX);
    let (from, to) = (span.from().into(), span.to().into());
    let found: Vec<NightOf> =
        FindNightsOf::new(from, to, stores.as_deref(), limit).load(conn).await?;
    let night = |row: NightOf| Ok((row.business_date.into(), code(&row.store_id)?));
    found.into_iter().map(night).collect()
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(OfOlderRules { rules: i16 } =
    "SELECT DISTINCT store_id FROM nights WHERE rules < ", rules: SmallInt, " ORDER BY store_id");

/// The stores with nights that older rules made.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_older_rules(conn: &mut AsyncPgConnection) -> QueryResult<Vec<StoreId>> {
    let found: Vec<Named> = OfOlderRules::new(RULES).load(conn).await?;
    found.iter().map(|row| code(&row.store_id)).collect()
}

/// Defines a statement that reads the packed nights of a scope: those of a span, and of the nights
/// before it, from a date on, those on which portions were weighed. The network has no code: an empty
/// one is compared with nothing.
macro_rules! of_scope {
    ($($name:ident $which:literal;)*) => {$(
        statement!($name { code: &'a str, sampled: NaiveDate, from: NaiveDate, to: NaiveDate } =
            concat!("SELECT n.store_id, n.business_date, n.rules, n.district_id, n.region_id,
               n.owner_id, n.known_at, n.generation, n.revision, n.counted, n.others, n.packed
             FROM nights n WHERE ", $which, " = "), code: Text, " AND n.business_date >= ",
            sampled: Date, " AND (n.sampled OR n.business_date >= ", from: Date,
            ") AND n.business_date <= ", to: Date, "");
    )*};
}

of_scope! {
    OfOneStore "n.store_id";
    OfDistrict "n.district_id";
    OfRegion "n.region_id";
    OfOwner "n.owner_id";
    OfNetwork "''";
}

/// The packed nights of a scope: those of a span, and of the nights before it, from `sampled` on, those
/// on which portions were weighed. In no order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_scope(
    conn: &mut AsyncPgConnection,
    scope: &Scope,
    span: DateSpan,
    sampled: BusinessDate,
    mut each: impl FnMut(PackedRow) -> QueryResult<()>,
) -> QueryResult<()> {
    use futures::StreamExt;
    let (from, to, sampled) = (span.from().into(), span.to().into(), sampled.into());
    let mut rows = match scope {
        Scope::Store(code) => {
            OfOneStore::new(code.as_str(), sampled, from, to).load_stream::<PackedRow>(conn).await?
        }
        Scope::District(code) => {
            OfDistrict::new(code.as_str(), sampled, from, to).load_stream(conn).await?
        }
        Scope::Region(code) => {
            OfRegion::new(code.as_str(), sampled, from, to).load_stream(conn).await?
        }
        Scope::Owner(code) => {
            OfOwner::new(code.as_str(), sampled, from, to).load_stream(conn).await?
        }
        Scope::Network => OfNetwork::new("", sampled, from, to).load_stream(conn).await?,
    };
    while let Some(row) = rows.next().await {
        each(row?)?;
    }
    Ok(())
}

/// A night to be kept, in the place of what stands on its date.
pub struct NightRow {
    business_date: BusinessDate,
    store_id: String,
    rules: i16,
    district_id: String,
    region_id: String,
    owner_id: String,
    known_at: DateTime<Utc>,
    revision: Option<i32>,
    reaches: BusinessDate,
    sampled: bool,
    counted: String,
    others: String,
    packed: Vec<u8>,
}

impl NightRow {
    /// Packs a night. `revision` is that of its count.
    ///
    /// # Errors
    /// When a figure is too large to keep.
    pub fn new(key: Key<'_>, revision: Option<i32>, night: &Night) -> QueryResult<Self> {
        Self::under(RULES, key, revision, night)
    }

    /// The same of a night that rules of a version made.
    ///
    /// # Errors
    /// When a figure is too large to keep.
    pub fn under(
        rules: i16,
        key: Key<'_>,
        revision: Option<i32>,
        night: &Night,
    ) -> QueryResult<Self> {
        let packed =
            pack::pack(key.date, night).map_err(|e| Error::SerializationError(e.into()))?;
        let opened = night.spans.values().map(|ended| ended.span.opened_on);
        Ok(Self {
            business_date: key.date,
            store_id: key.standing.store.to_string(),
            rules,
            district_id: key.standing.district.to_string(),
            region_id: key.standing.region.to_string(),
            owner_id: key.standing.owner.to_string(),
            known_at: key.known_at,
            revision,
            reaches: opened.min().unwrap_or(key.date),
            sampled: night.day.items.values().any(|item| item.samples.count() > 0),
            counted: packed.codes.counted,
            others: packed.codes.others,
            packed: packed.bytes,
        })
    }
}

/// Keeps nights, each in the place of what stands on its date.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn put(conn: &mut AsyncPgConnection, rows: &[NightRow]) -> QueryResult<()> {
    many!(PutNights of NightRow, "nights":
        business_date: BusinessDate [business_date], store_id: String [store_id],
        rules: i16 [rules], district_id: String [district_id], region_id: String [region_id],
        owner_id: String [owner_id], known_at: DateTime<Utc> [known_at],
        revision: Option<i32> [revision], reaches: BusinessDate [reaches],
        sampled: bool [sampled], counted: String [counted], others: String [others],
        packed: Vec<u8> [packed];
        "generation" = "nextval('night_generations')";
        " ON CONFLICT (store_id, business_date) DO UPDATE SET rules = excluded.rules,
            district_id = excluded.district_id, region_id = excluded.region_id,
            owner_id = excluded.owner_id, known_at = excluded.known_at,
            generation = excluded.generation, revision = excluded.revision,
            reaches = excluded.reaches, sampled = excluded.sampled, counted = excluded.counted,
            others = excluded.others, packed = excluded.packed");
    if !rows.is_empty() {
        PutNights::new(rows)?.execute(conn).await?;
    }
    Ok(())
}
