//! Functions of the database, as the query builder calls them.
#![allow(missing_docs)]

use diesel::sql_types::{BigInt, Date, Text, Timestamptz};

#[diesel::declare_sql_function]
extern "SQL" {
    // The result is `void`, which nobody reads; diesel knows no void.
    fn pg_advisory_xact_lock(key: BigInt) -> Nullable<Text>;
    fn store_in_force(store: Text, on_date: Date, known: Timestamptz) -> Nullable<BigInt>;
}
