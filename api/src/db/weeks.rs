//! Weeks of stores: what core added their nights up to, kept beside them. A week is read only while it
//! stands by its nights, which PostgreSQL compares in the statement that reads it; nothing else here
//! adds.

use chrono::NaiveDate;
use diesel::sql_types::{Array, BigInt, Binary, Bool, Date, SmallInt, Text};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use parings_core::rollup::{Scope, Week};

use super::statement::{column, statement};
use super::tallies::{PackedRow, code};

/// A night of a scope, or a week of it as a whole.
#[derive(Debug, QueryableByName)]
pub struct ScopeRow {
    /// The store's code.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    #[diesel(sql_type = Date)]
    business_date: NaiveDate,
    /// Whether it is a week.
    #[diesel(sql_type = Bool)]
    pub whole: bool,
    /// The version of the rules that made it; of a week the oldest.
    #[diesel(sql_type = SmallInt)]
    pub rules: i16,
    /// The district that the store stood in.
    #[diesel(sql_type = Text)]
    pub district_id: String,
    /// The region of that district.
    #[diesel(sql_type = Text)]
    pub region_id: String,
    /// The codes of items that were counted on a night.
    #[diesel(sql_type = Text)]
    pub counted: String,
    /// All other codes.
    #[diesel(sql_type = Text)]
    pub others: String,
    /// The numbers, as core packed them.
    #[diesel(sql_type = Binary)]
    pub packed: Vec<u8>,
}

impl ScopeRow {
    /// The date of the night; of a week its Monday.
    pub fn date(&self) -> BusinessDate {
        self.business_date.into()
    }
}

statement!(InScope<'a> {
    kind: &'a str => Text,
    code: &'a str => Text,
    sampled: NaiveDate => Date,
    from: NaiveDate => Date,
    to: NaiveDate => Date,
    weeks: Vec<NaiveDate> => Array<Date>,
    form: i16 => SmallInt,
} = "weeks/in_scope.sql");

/// The nights of a scope: those of a span, and of the nights before it, from `sampled` on, those on which
/// portions were weighed. Of the `weeks` that begin on these Mondays, each all within the span, one row
/// as a whole instead of their nights, where such a row is kept. In no order, and all of it as it was at
/// one moment.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_scope(
    conn: &mut AsyncPgConnection,
    scope: &Scope,
    span: DateSpan,
    sampled: BusinessDate,
    weeks: &[BusinessDate],
    mut each: impl FnMut(ScopeRow) -> QueryResult<()>,
) -> QueryResult<()> {
    use futures::StreamExt;
    let (kind, code) = match scope {
        Scope::Store(code) => ("store", code.as_str()),
        Scope::District(code) => ("district", code.as_str()),
        Scope::Region(code) => ("region", code.as_str()),
        Scope::Owner(code) => ("owner", code.as_str()),
        Scope::Network => ("network", ""),
    };
    let (from, to, sampled) = (span.from().into(), span.to().into(), sampled.into());
    let weeks = column(weeks, |monday| (*monday).into());
    let reading = InScope { kind, code, sampled, from, to, weeks, form: Week::FORM };
    let mut rows = reading.load_stream::<ScopeRow>(conn).await?;
    while let Some(row) = rows.next().await {
        each(row?)?;
    }
    Ok(())
}

#[derive(QueryableByName)]
struct DueRow {
    #[diesel(sql_type = Text)]
    store_id: String,
    #[diesel(sql_type = Date)]
    week: NaiveDate,
}

statement!(Due { today: NaiveDate => Date, form: i16 => SmallInt } = "weeks/due.sql");

/// The weeks, by store and Monday, that ended before the week of a date and are not kept as their nights
/// stand now; in order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn due(
    conn: &mut AsyncPgConnection,
    today: BusinessDate,
) -> QueryResult<Vec<(StoreId, BusinessDate)>> {
    let found: Vec<DueRow> = Due { today: today.into(), form: Week::FORM }.load(conn).await?;
    found.into_iter().map(|row| Ok((code(&row.store_id)?, row.week.into()))).collect()
}

/// A night, and by what the nights of its week stand.
#[derive(Debug, QueryableByName)]
pub struct NightOfWeek {
    /// The night.
    #[diesel(embed)]
    pub night: PackedRow,
    #[diesel(sql_type = Date)]
    week: NaiveDate,
    /// How many nights of the week there are.
    #[diesel(sql_type = BigInt)]
    pub nights: i64,
    /// By which generations they stand.
    #[diesel(sql_type = BigInt)]
    pub stands: i64,
}

impl NightOfWeek {
    /// The Monday of its week.
    pub fn week(&self) -> BusinessDate {
        self.week.into()
    }
}

statement!(NightsOf<'a> {
    store: &'a str => Text,
    weeks: Vec<NaiveDate> => Array<Date>,
} = "weeks/nights_of.sql");

/// The nights of some weeks of a store, in order of their dates.
///
/// # Errors
/// When the database cannot be reached.
pub async fn nights_of(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    weeks: &[BusinessDate],
) -> QueryResult<Vec<NightOfWeek>> {
    let weeks = column(weeks, |monday| (*monday).into());
    NightsOf { store: store.as_str(), weeks }.load(conn).await
}

/// A week as it is kept.
#[derive(Debug, PartialEq, QueryableByName)]
pub struct WeekRow {
    /// Its Monday.
    #[diesel(sql_type = Date)]
    pub week: NaiveDate,
    /// The store's code.
    #[diesel(sql_type = Text)]
    pub store_id: String,
    /// The district of the store on every night of it.
    #[diesel(sql_type = Text)]
    pub district_id: String,
    /// The region of that district.
    #[diesel(sql_type = Text)]
    pub region_id: String,
    /// The owner of the store on every night of it.
    #[diesel(sql_type = Text)]
    pub owner_id: String,
    /// The oldest version of the rules that made any of its nights.
    #[diesel(sql_type = SmallInt)]
    pub rules: i16,
    /// The version of the form in which it is packed.
    #[diesel(sql_type = SmallInt)]
    pub form: i16,
    /// How many nights it adds up.
    #[diesel(sql_type = BigInt)]
    pub nights: i64,
    /// By which generations they stand.
    #[diesel(sql_type = BigInt)]
    pub stands: i64,
    /// The codes that its numbers name.
    #[diesel(sql_type = Text)]
    pub codes: String,
    /// Its numbers, as core packed them.
    #[diesel(sql_type = Binary)]
    pub packed: Vec<u8>,
}

statement!(Put<'a> {
    week: Vec<NaiveDate> => Array<Date>,
    store: Vec<&'a str> => Array<Text>,
    district: Vec<&'a str> => Array<Text>,
    region: Vec<&'a str> => Array<Text>,
    owner: Vec<&'a str> => Array<Text>,
    rules: Vec<i16> => Array<SmallInt>,
    form: Vec<i16> => Array<SmallInt>,
    nights: Vec<i64> => Array<BigInt>,
    stands: Vec<i64> => Array<BigInt>,
    codes: Vec<&'a str> => Array<Text>,
    packed: Vec<&'a [u8]> => Array<Binary>,
} = "weeks/put.sql");

/// Keeps weeks, each in the place of what was kept of it.
///
/// # Errors
/// When the acting part is not the rules', or the database cannot be reached.
pub async fn put(conn: &mut AsyncPgConnection, rows: &[WeekRow]) -> QueryResult<()> {
    let put = Put {
        week: column(rows, |row| row.week),
        store: column(rows, |row| row.store_id.as_str()),
        district: column(rows, |row| row.district_id.as_str()),
        region: column(rows, |row| row.region_id.as_str()),
        owner: column(rows, |row| row.owner_id.as_str()),
        rules: column(rows, |row| row.rules),
        form: column(rows, |row| row.form),
        nights: column(rows, |row| row.nights),
        stands: column(rows, |row| row.stands),
        codes: column(rows, |row| row.codes.as_str()),
        packed: column(rows, |row| row.packed.as_slice()),
    };
    put.execute(conn).await.map(|_| ())
}

statement!(Kept<'a> { store: &'a str => Text, form: i16 => SmallInt } = "weeks/kept.sql");

/// The weeks of a store that are kept and stand by their nights, in order.
///
/// # Errors
/// When the database cannot be reached.
pub async fn kept(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<Vec<WeekRow>> {
    Kept { store: store.as_str(), form: Week::FORM }.load(conn).await
}
