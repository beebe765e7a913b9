//! Many rows of a table in one statement: a list for each column, which the database puts together
//! (`unnest`). One text for any number of rows, so it is prepared once a connection; row-level
//! security holds, which `COPY` does not allow.

use std::fmt::Debug;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use diesel::pg::Pg;
use diesel::result::Error;
use diesel::serialize::ToSql;
use diesel::sql_types::{
    BigInt, Binary, Bool, Date, Integer, Jsonb, Nullable, SmallInt, SqlType, Text, Timestamptz,
    Uuid as SqlUuid,
};
use parings_core::calendar::BusinessDate;
use serde_json::Value;
use uuid::Uuid;

/// What a field is in its column.
pub(in crate::db) trait Column {
    /// The type of the column.
    type Sql: SqlType + 'static;
    /// What is sent.
    type Sent: ToSql<Self::Sql, Pg> + Debug;

    /// The value to send.
    fn sent(&self) -> QueryResult<Self::Sent>;
}

/// A count that fits its column.
pub(in crate::db) fn whole(count: u64) -> QueryResult<i64> {
    i64::try_from(count).map_err(|e| Error::SerializationError(e.into()))
}

macro_rules! column {
    ($($rust:ty => $sql:ty, $sent:ty, |$value:ident| $make:expr;)*) => {
        $(impl Column for $rust {
            type Sql = $sql;
            type Sent = $sent;
            fn sent(&self) -> QueryResult<$sent> {
                let $value = self;
                Ok($make)
            }
        })*
    };
}

column! {
    i16 => SmallInt, i16, |n| *n;
    i32 => Integer, i32, |n| *n;
    i64 => BigInt, i64, |n| *n;
    u64 => BigInt, i64, |n| whole(*n)?;
    Option<i64> => Nullable<BigInt>, Option<i64>, |n| *n;
    Option<u64> => Nullable<BigInt>, Option<i64>, |n| n.map(whole).transpose()?;
    Option<i32> => Nullable<Integer>, Option<i32>, |n| *n;
    bool => Bool, bool, |yes| *yes;
    String => Text, String, |text| text.clone();
    Option<String> => Nullable<Text>, Option<String>, |text| text.clone();
    Uuid => SqlUuid, Uuid, |id| *id;
    BusinessDate => Date, NaiveDate, |date| (*date).into();
    DateTime<Utc> => Timestamptz, DateTime<Utc>, |at| *at;
    Option<DateTime<Utc>> => Nullable<Timestamptz>, Option<DateTime<Utc>>, |at| *at;
    Vec<u8> => Binary, Vec<u8>, |bytes| bytes.clone();
    Value => Jsonb, Value, |document| document.clone();
}

/// Defines the statement that adds many rows: its name, the row, the table, and the columns with their
/// types and where in the row they stand; if need be a column that the database fills, and what follows.
///
/// ```ignore
/// many!(AddPins of PinRow, "night_pins": business_date: BusinessDate [key.business_date]);
/// ```
macro_rules! many {
    ($name:ident of $row:ty, $table:literal:
     $($column:ident: $type:ty [$($at:ident).+]),*
     $(; $more:literal = $term:literal; $tail:literal)? $(,)?) => {
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
                out.push_sql(concat!($(", ", $more,)? ") SELECT *" $(, ", ", $term)?, " FROM unnest"));
                let mut before = "(";
                $(
                    out.push_sql(before);
                    out.push_bind_param::<
                        diesel::sql_types::Array<<$type as crate::db::bulk::Column>::Sql>, _,
                    >(&self.$column)?;
                    before = ", ";
                )*
                let _ = before;
                out.push_sql(concat!(")" $(, $tail)?));
                Ok(())
            }
        }
    };
}

pub(in crate::db) use many;
