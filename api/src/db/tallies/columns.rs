//! Rows on their way into a table, column by column: one array for each, so that the statement has the
//! same text for any number of rows and is prepared once.

use std::collections::BTreeSet;
use std::fmt::Debug;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryResult;
use diesel::pg::Pg;
use diesel::serialize::ToSql;
use diesel::sql_types::{BigInt, Bool, Date, Integer, Jsonb, Nullable, SqlType, Text, Timestamptz};
use parings_core::calendar::BusinessDate;
use parings_core::tally::{Doubt, SalesSource, WasteLine};
use parings_core::tickets::Histogram;

use super::rows::whole;
use crate::db::json::Json;

/// What a field is in its column.
pub(super) trait Column {
    /// The type of the column.
    type Sql: SqlType + 'static;
    /// What is sent.
    type Sent: ToSql<Self::Sql, Pg> + Debug;

    /// The value to send.
    fn sent(&self) -> QueryResult<Self::Sent>;
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
    i64 => BigInt, i64, |n| *n;
    u64 => BigInt, i64, |n| whole(*n)?;
    Option<i64> => Nullable<BigInt>, Option<i64>, |n| *n;
    Option<u64> => Nullable<BigInt>, Option<i64>, |n| n.map(whole).transpose()?;
    Option<i32> => Nullable<Integer>, Option<i32>, |n| *n;
    bool => Bool, bool, |yes| *yes;
    String => Text, String, |text| text.clone();
    BusinessDate => Date, NaiveDate, |date| (*date).into();
    DateTime<Utc> => Timestamptz, DateTime<Utc>, |at| *at;
    Option<DateTime<Utc>> => Nullable<Timestamptz>, Option<DateTime<Utc>>, |at| *at;
    SalesSource => Text, &'static str, |source| source.word();
    Histogram => Jsonb, Json<Histogram>, |times| Json(times.clone());
    Vec<WasteLine> => Jsonb, Json<Vec<WasteLine>>, |lines| Json(lines.clone());
    BTreeSet<Doubt> => Jsonb, Json<BTreeSet<Doubt>>, |doubts| Json(doubts.clone());
}
