//! Documents, read and written as what they are, with no tree of values in between.

use std::io::Write;

use diesel::deserialize::{self, FromSql, FromSqlRow};
use diesel::expression::AsExpression;
use diesel::pg::{Pg, PgValue};
use diesel::serialize::{self, IsNull, Output, ToSql};
use diesel::sql_types::{self, Jsonb};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// The version of the format in which PostgreSQL sends and takes `jsonb`, its first byte.
const VERSION: u8 = 1;

/// A document of a `jsonb` column, read as a type of ours.
#[derive(Debug, Clone, PartialEq, Eq, FromSqlRow, AsExpression)]
#[diesel(sql_type = Jsonb)]
pub struct Json<T>(pub T);

impl<T: DeserializeOwned> FromSql<Jsonb, Pg> for Json<T> {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        match value.as_bytes().split_first() {
            Some((&VERSION, document)) => Ok(Self(serde_json::from_slice(document)?)),
            _ => Err("a document of another version".into()),
        }
    }
}

/// What a statement makes for its answer is text at once; only what is kept has a form of its own.
impl<T: DeserializeOwned> FromSql<sql_types::Json, Pg> for Json<T> {
    fn from_sql(value: PgValue<'_>) -> deserialize::Result<Self> {
        Ok(Self(serde_json::from_slice(value.as_bytes())?))
    }
}

impl<T: Serialize + std::fmt::Debug> ToSql<Jsonb, Pg> for Json<T> {
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, Pg>) -> serialize::Result {
        out.write_all(&[VERSION])?;
        serde_json::to_writer(out, &self.0)?;
        Ok(IsNull::No)
    }
}
