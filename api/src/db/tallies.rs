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
use parings_core::ids::{CodeError, DistrictId, ItemId, StoreId};
use parings_core::tally::pack::{self, Codes, Dictionary};
use parings_core::tally::{Night, RULES};

use super::statement::{column, statement};

/// Whose night it is.
#[derive(Debug, Clone, Copy)]
pub struct Key<'a> {
    /// Where the store stood on the date.
    pub standing: &'a Standing,
    /// The business date of the night.
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

statement!(Lock<'a> { store: &'a str => Text } = "tallies/lock.sql");

/// Keeps a store's facts and tallies to this transaction until its end.
///
/// # Errors
/// When the lock does not come in time.
pub async fn lock(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    Lock { store: store.as_str() }.execute(conn).await.map(|_| ())
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

    /// The business date of the night.
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

    /// Its numbers, as core packed them.
    pub fn bytes(&self) -> &[u8] {
        &self.packed
    }

    /// Its codes and numbers as text and bytes.
    pub fn packed(&self) -> (&str, &str, &[u8]) {
        (&self.counted, &self.others, &self.packed)
    }

    /// The night, unpacked as a whole.
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

statement!(OfStore<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
} = "tallies/of_store.sql");

/// A store's nights of a span, in order of their dates.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_store(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    span: DateSpan,
) -> QueryResult<Vec<PackedRow>> {
    OfStore { store: store.as_str(), from: span.from().into(), to: span.to().into() }
        .load(conn)
        .await
}

statement!(AllOfStore<'a> { store: &'a str => Text } = "tallies/all_of_store.sql");

/// Every night of a store, in order of their dates.
///
/// # Errors
/// When the database cannot be reached.
pub async fn all_of_store(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
) -> QueryResult<Vec<PackedRow>> {
    AllOfStore { store: store.as_str() }.load(conn).await
}

statement!(Reaching<'a> {
    store: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
} = "tallies/reaching.sql");

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
    let rows: Vec<ReachingRow> =
        Reaching { store: store.as_str(), from, to }.load(&mut conn).await?;
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

statement!(CountedBefore<'a> {
    items: &'a [&'a str] => Array<Text>,
    store: &'a str => Text,
    date: NaiveDate => Date,
} = "tallies/counted_before.sql");

statement!(CountedAfter<'a> {
    items: &'a [&'a str] => Array<Text>,
    store: &'a str => Text,
    date: NaiveDate => Date,
} = "tallies/counted_after.sql");

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
    counted_on(CountedBefore { items, store: store.as_str(), date: date.into() }.load(conn).await?)
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
    counted_on(CountedAfter { items, store: store.as_str(), date: date.into() }.load(conn).await?)
}

statement!(OfPlaces<'a> {
    stores: &'a [&'a str] => Array<Text>,
    dates: &'a [NaiveDate] => Array<Date>,
} = "tallies/of_places.sql");

/// The nights of stores and dates, pair by pair; in no order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_places(
    conn: &mut AsyncPgConnection,
    stores: &[&str],
    dates: &[NaiveDate],
) -> QueryResult<Vec<PackedRow>> {
    OfPlaces { stores, dates }.load(conn).await
}

#[derive(QueryableByName)]
struct PinRow {
    #[diesel(sql_type = Nullable<Timestamptz>)]
    known_at: Option<DateTime<Utc>>,
}

statement!(Pin<'a> { store: &'a str => Text, date: NaiveDate => Date } = "tallies/pin.sql");

/// The moment whose reference data a night is tallied with, once it has been.
///
/// # Errors
/// When the database cannot be reached.
pub async fn pin(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: PinRow = Pin { store: store.as_str(), date: date.into() }.get_result(conn).await?;
    Ok(found.known_at)
}

statement!(PinForWriter<'a> {
    store: &'a str => Text,
    date: NaiveDate => Date,
} = "tallies/pin_for_writer.sql");

/// The same, for who may write to the store but not see its tallies.
///
/// # Errors
/// When the acting person may not write to the store, or the database cannot be reached.
pub async fn pin_for_writer(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> QueryResult<Option<DateTime<Utc>>> {
    let found: PinRow =
        PinForWriter { store: store.as_str(), date: date.into() }.get_result(conn).await?;
    Ok(found.known_at)
}

#[derive(QueryableByName)]
struct LastNightRow {
    #[diesel(sql_type = Nullable<Date>)]
    business_date: Option<NaiveDate>,
}

statement!(LastNight {} = "tallies/last_night.sql");

/// The last night of any store that has tallies.
///
/// # Errors
/// When the database cannot be reached.
pub async fn last_night(conn: &mut AsyncPgConnection) -> QueryResult<Option<BusinessDate>> {
    let found: LastNightRow = LastNight {}.get_result(conn).await?;
    Ok(found.business_date.map(Into::into))
}

#[derive(QueryableByName)]
struct NightOf {
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(NightsOf<'a> {
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    stores: Option<&'a [&'a str]> => Nullable<Array<Text>>,
    limit: i64 => BigInt,
} = "tallies/nights_of.sql");

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
        NightsOf { from, to, stores: stores.as_deref(), limit }.load(conn).await?;
    let night = |row: NightOf| Ok((row.business_date.into(), code(&row.store_id)?));
    found.into_iter().map(night).collect()
}

#[derive(QueryableByName)]
struct Named {
    #[diesel(sql_type = Text)]
    store_id: String,
}

statement!(OfOlderRules { rules: i16 => SmallInt } = "tallies/of_older_rules.sql");

/// The stores with nights that older rules made.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_older_rules(conn: &mut AsyncPgConnection) -> QueryResult<Vec<StoreId>> {
    let found: Vec<Named> = OfOlderRules { rules: RULES }.load(conn).await?;
    found.iter().map(|row| code(&row.store_id)).collect()
}

statement!(InDistrict<'a> {
    district: &'a str => Text,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
} = "tallies/in_district.sql");

/// The nights of a span on which stores stood in a district; in no order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn in_district(
    conn: &mut AsyncPgConnection,
    district: &DistrictId,
    span: DateSpan,
) -> QueryResult<Vec<PackedRow>> {
    InDistrict { district: district.as_str(), from: span.from().into(), to: span.to().into() }
        .load(conn)
        .await
}

statement!(InNetwork { from: NaiveDate => Date, to: NaiveDate => Date } = "tallies/in_network.sql");

/// All nights of a span, one after the other, in no order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn in_network(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    mut each: impl FnMut(PackedRow) -> QueryResult<()>,
) -> QueryResult<()> {
    use futures::StreamExt;
    let reading = InNetwork { from: span.from().into(), to: span.to().into() };
    let mut rows = reading.load_stream::<PackedRow>(conn).await?;
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

statement!(Put<'a> {
    business_date: Vec<NaiveDate> => Array<Date>,
    store: Vec<&'a str> => Array<Text>,
    rules: Vec<i16> => Array<SmallInt>,
    district: Vec<&'a str> => Array<Text>,
    region: Vec<&'a str> => Array<Text>,
    owner: Vec<&'a str> => Array<Text>,
    known_at: Vec<DateTime<Utc>> => Array<Timestamptz>,
    revision: Vec<Option<i32>> => Array<Nullable<Integer>>,
    reaches: Vec<NaiveDate> => Array<Date>,
    sampled: Vec<bool> => Array<Bool>,
    counted: Vec<&'a str> => Array<Text>,
    others: Vec<&'a str> => Array<Text>,
    packed: Vec<&'a [u8]> => Array<Binary>,
} = "tallies/put.sql");

/// Keeps nights, each in the place of what stands on its date.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn put(conn: &mut AsyncPgConnection, rows: &[NightRow]) -> QueryResult<()> {
    if rows.is_empty() {
        return Ok(());
    }
    let put = Put {
        business_date: column(rows, |row| row.business_date.into()),
        store: column(rows, |row| row.store_id.as_str()),
        rules: column(rows, |row| row.rules),
        district: column(rows, |row| row.district_id.as_str()),
        region: column(rows, |row| row.region_id.as_str()),
        owner: column(rows, |row| row.owner_id.as_str()),
        known_at: column(rows, |row| row.known_at),
        revision: column(rows, |row| row.revision),
        reaches: column(rows, |row| row.reaches.into()),
        sampled: column(rows, |row| row.sampled),
        counted: column(rows, |row| row.counted.as_str()),
        others: column(rows, |row| row.others.as_str()),
        packed: column(rows, |row| row.packed.as_slice()),
    };
    put.execute(conn).await.map(|_| ())
}
