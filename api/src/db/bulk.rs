//! Many rows of a table in one statement: a list for each column, which the database puts together
//! (`unnest`). One text for any number of rows, so it is prepared once a connection; row-level
//! security holds, which `COPY` does not allow.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use diesel::result::Error;
use diesel::sql_types::{
    BigInt, Bool, Date, Integer, Jsonb, Nullable, SmallInt, Text, Timestamptz, Uuid as SqlUuid,
};
use parings_core::calendar::BusinessDate;
use parings_core::tally::{Doubt, SalesSource, WasteLine};
use parings_core::tickets::Histogram;
use serde_json::Value;
use uuid::Uuid;

/// A value as a column takes it.
pub(in crate::db) trait Column {
    /// The column's type.
    type Sql;
    /// What is sent.
    type Sent;
    /// The value to send.
    fn sent(&self) -> QueryResult<Self::Sent>;
}

macro_rules! plain {
    ($($rust:ty => $sql:ty),* $(,)?) => {$(
        impl Column for $rust {
            type Sql = $sql;
            type Sent = $rust;
            fn sent(&self) -> QueryResult<$rust> {
                Ok(self.clone())
            }
        }
    )*};
}

plain! {
    bool => Bool,
    i16 => SmallInt,
    i32 => Integer,
    i64 => BigInt,
    Option<i64> => Nullable<BigInt>,
    String => Text,
    Option<String> => Nullable<Text>,
    Uuid => SqlUuid,
    DateTime<Utc> => Timestamptz,
    Option<DateTime<Utc>> => Nullable<Timestamptz>,
    Value => Jsonb,
}

impl Column for BusinessDate {
    type Sql = Date;
    type Sent = NaiveDate;
    fn sent(&self) -> QueryResult<NaiveDate> {
        Ok((*self).into())
    }
}

impl Column for u64 {
    type Sql = BigInt;
    type Sent = i64;
    fn sent(&self) -> QueryResult<i64> {
        i64::try_from(*self).map_err(|e| Error::SerializationError(e.into()))
    }
}

impl Column for Option<u64> {
    type Sql = Nullable<BigInt>;
    type Sent = Option<i64>;
    fn sent(&self) -> QueryResult<Option<i64>> {
        self.as_ref().map(Column::sent).transpose()
    }
}

impl Column for Option<i32> {
    type Sql = Nullable<BigInt>;
    type Sent = Option<i64>;
    fn sent(&self) -> QueryResult<Option<i64>> {
        Ok(self.map(i64::from))
    }
}

impl Column for SalesSource {
    type Sql = Text;
    type Sent = String;
    fn sent(&self) -> QueryResult<String> {
        match document(self)? {
            Value::String(word) => Ok(word),
            other => Ok(other.to_string()),
        }
    }
}

macro_rules! documents {
    ($($rust:ty),* $(,)?) => {$(
        impl Column for $rust {
            type Sql = Jsonb;
            type Sent = Value;
            fn sent(&self) -> QueryResult<Value> {
                document(self)
            }
        }
    )*};
}

documents!(Vec<WasteLine>, Histogram, BTreeSet<Doubt>);

fn document(value: &impl serde::Serialize) -> QueryResult<Value> {
    serde_json::to_value(value).map_err(|e| Error::SerializationError(e.into()))
}

/// Defines the statement that adds many rows: its name, the row, the table with what follows the
/// rows, and the columns with their types and where in the row they stand.
///
/// ```ignore
/// many!(AddPins of PinRow, "night_pins", "": business_date: BusinessDate [key.business_date]);
/// ```
macro_rules! many {
    ($name:ident of $row:ty, $table:literal, $end:literal:
     $($column:ident: $type:ty [$($at:ident).+]),* $(,)?) => {
        struct $name { $($column: Vec<<$type as crate::db::bulk::Column>::Sent>,)* }

        impl $name {
            fn new(rows: &[$row]) -> diesel::QueryResult<Self> {
                let mut all = Self { $($column: Vec::with_capacity(rows.len()),)* };
                for row in rows {
                    $(all.$column.push(crate::db::bulk::Column::sent(&row.$($at).+)?);)*
                }
                Ok(all)
            }
        }

        impl diesel::query_builder::QueryId for $name {
            type QueryId = Self;
            const HAS_STATIC_QUERY_ID: bool = true;
        }

        impl diesel::query_builder::Query for $name {
            type SqlType = diesel::sql_types::Untyped;
        }

        impl diesel::query_builder::QueryFragment<diesel::pg::Pg> for $name {
            fn walk_ast<'b>(
                &'b self,
                mut out: diesel::query_builder::AstPass<'_, 'b, diesel::pg::Pg>,
            ) -> diesel::QueryResult<()> {
                let columns = [$(stringify!($column)),*].join(", ");
                out.push_sql(concat!("INSERT INTO ", $table, " ("));
                out.push_sql(&columns);
                out.push_sql(") SELECT * FROM unnest");
                let mut before = "(";
                $(
                    out.push_sql(before);
                    out.push_bind_param::<
                        diesel::sql_types::Array<<$type as crate::db::bulk::Column>::Sql>, _,
                    >(&self.$column)?;
                    before = ", ";
                )*
                let _ = before;
                out.push_sql(concat!(") ", $end));
                Ok(())
            }
        }
    };
}

pub(in crate::db) use many;
