//! Tallies added up by the database: for each child and bucket of a scope and span. Policies hide
//! what the acting person may not see, as everywhere.

mod items;
mod nights;
mod usage;

pub use items::{DayRow, SampleRow, WasteRow, days, samples, waste};
pub use nights::{CountedRow, DaypartRow, NightRow, counted, dayparts, nights, waiting};
pub use usage::{AgainstRow, SpanRow, against_sales, spans};

use chrono::NaiveDate;
use diesel::deserialize;
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, Query, QueryFragment, QueryId};
use diesel::row::NamedRow;
use diesel::sql_types::{self, Array, Date, SmallInt, Text, Untyped};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::calendar::DateSpan;
use parings_core::ids::ItemId;
use parings_core::rollup::{By, Level, Scope};
use parings_core::tally::RULES;
use serde::de::DeserializeOwned;

use super::json::Json;
use super::known::Overlay;

/// Which tallies, and how they are grouped.
#[derive(Debug, Clone, Copy)]
pub struct Grouping<'a> {
    /// The scope.
    pub scope: &'a Scope,
    /// The dates.
    pub span: DateSpan,
    /// The buckets.
    pub by: By,
    /// The children; without them, the scope as a whole.
    pub children: Option<Level>,
    /// The first date of each bucket, in order.
    pub starts: &'a [NaiveDate],
    /// The one item whose use and waste are asked for; every item's when left out.
    pub item: Option<&'a ItemId>,
    /// What stands in the place of tallies that say more than was known at a moment.
    pub then: Option<&'a Overlay>,
}

/// Sums of columns or terms under names, of the rows that meet a condition.
fn totals(columns: &[(&str, &str)], condition: &str) -> String {
    let sum = |(term, name): &(&str, &str)| {
        format!("coalesce(sum({term}) FILTER (WHERE {condition}), 0)::bigint AS {name}")
    };
    columns.iter().map(sum).collect::<Vec<_>>().join(", ")
}

impl Grouping<'_> {
    fn child(&self) -> &'static str {
        match self.children {
            None => "''::text",
            Some(Level::Store) => "store_id",
            Some(Level::District) => "district_id",
            Some(Level::Region) => "region_id",
        }
    }

    fn bucket(&self) -> &'static str {
        match self.by {
            By::Day => "business_date",
            By::Week | By::Period => "$6[width_bucket(business_date, $6)]",
            By::None => "$2",
        }
    }

    fn chosen(&self) -> String {
        let scope = match self.scope {
            Scope::Store(_) => "store_id = $1",
            Scope::District(_) => "district_id = $1",
            Scope::Region(_) => "region_id = $1",
            Scope::Owner(_) => "owner_id = $1",
            Scope::Network => "true",
        };
        format!("business_date BETWEEN $2 AND $3 AND rules = $4 AND {scope}")
    }

    fn chosen_items(&self) -> String {
        self.chosen() + if self.item.is_some() { " AND item_id = $5" } else { "" }
    }

    fn picked(&self, table: &str) -> String {
        let (child, bucket, chosen) = (self.child(), self.bucket(), self.chosen());
        format!("SELECT *, {child} AS child, {bucket} AS bucket FROM {table} WHERE {chosen}")
    }

    fn picked_items(&self, table: &str) -> String {
        let item = if self.item.is_some() { " AND item_id = $5" } else { "" };
        self.picked(table) + item
    }

    fn code(&self) -> &str {
        match self.scope {
            Scope::Store(code) => code.as_str(),
            Scope::District(code) => code.as_str(),
            Scope::Region(code) => code.as_str(),
            Scope::Owner(code) => code.as_str(),
            Scope::Network => "",
        }
    }

    fn item(&self) -> &str {
        self.item.map_or("", ItemId::as_str)
    }

    async fn rows<T: DeserializeOwned + Send + 'static>(
        &self,
        conn: &mut AsyncPgConnection,
        parts: String,
    ) -> QueryResult<Vec<T>> {
        let (from, to) = (self.span.from().into(), self.span.to().into());
        let rows: Vec<JsonRow<T>> = Added {
            parts,
            code: self.code(),
            from,
            to,
            item: self.item(),
            starts: self.starts,
            then: self.then,
        }
        .load(conn)
        .await?;
        Ok(rows.into_iter().map(|JsonRow(row)| row).collect())
    }
}

struct JsonRow<T>(T);

impl<T: DeserializeOwned + 'static> QueryableByName<Pg> for JsonRow<T> {
    fn build<'a>(row: &impl NamedRow<'a, Pg>) -> deserialize::Result<Self> {
        let Json(row) = NamedRow::get::<sql_types::Json, Json<T>>(row, "row")?;
        Ok(Self(row))
    }
}

/// A statement that is prepared once for each text and kept, which `sql_query` is not. Its values
/// are stated once, in a part of their own; the text names them as often as it needs: `$1` the
/// scope's code, `$2` and `$3` the first and last date, `$4` the version of the rules,
/// `$5` the item, `$6` where buckets start.
struct Added<'a> {
    parts: String,
    code: &'a str,
    from: NaiveDate,
    to: NaiveDate,
    item: &'a str,
    starts: &'a [NaiveDate],
    then: Option<&'a Overlay>,
}

impl QueryId for Added<'_> {
    type QueryId = ();
    const HAS_STATIC_QUERY_ID: bool = false;
}

impl Query for Added<'_> {
    type SqlType = Untyped;
}

impl QueryFragment<Pg> for Added<'_> {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql("SELECT to_json(answer) AS row FROM (WITH asked AS (SELECT ");
        out.push_bind_param::<Text, _>(self.code)?;
        out.push_sql(", ");
        out.push_bind_param::<Date, _>(&self.from)?;
        out.push_sql(", ");
        out.push_bind_param::<Date, _>(&self.to)?;
        out.push_sql(", ");
        out.push_bind_param::<SmallInt, _>(&RULES)?;
        out.push_sql(", ");
        out.push_bind_param::<Text, _>(self.item)?;
        out.push_sql(", ");
        out.push_bind_param::<Array<Date>, _>(self.starts)?;
        out.push_sql("), ");
        if let Some(then) = self.then {
            then.walk_ast(out.reborrow())?;
        }
        out.push_sql(&self.parts);
        out.push_sql(") AS answer");
        Ok(())
    }
}
