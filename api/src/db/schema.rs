//! The tables as the query builder knows them; the migrations are where they are made.
#![allow(missing_docs)]

use diesel::sql_types::{BigInt, Date, Text, Timestamptz};

#[diesel::declare_sql_function]
extern "SQL" {
    // The result is `void`, which nobody reads; diesel knows no void.
    fn pg_advisory_xact_lock(key: BigInt) -> Nullable<Text>;
    fn store_in_force(store: Text, on_date: Date, known: Timestamptz) -> Nullable<BigInt>;
}

diesel::table! {
    audit (id) {
        id -> BigInt,
        at -> Timestamptz,
        person_id -> Nullable<Uuid>,
        action -> Text,
        target -> Text,
        request_id -> Text,
        store_id -> Nullable<Text>,
        detail -> Nullable<Jsonb>,
    }
}

// The hashes are there to be written: the application's role may not read them.
diesel::table! {
    people (id) {
        id -> Uuid,
        kind -> Text,
        name -> Text,
        email -> Nullable<Text>,
        role -> Text,
        places -> Array<Text>,
        password_hash -> Nullable<Text>,
        secret_hash -> Nullable<Bytea>,
        created_at -> Timestamptz,
        created_by -> Nullable<Uuid>,
        changed_at -> Timestamptz,
        disabled_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    reference_versions (id) {
        id -> BigInt,
        kind -> Text,
        code -> Text,
        valid_from -> Date,
        recorded_at -> Timestamptz,
        recorded_by -> Nullable<Uuid>,
        reason -> Nullable<Text>,
        retired -> Bool,
        body -> Jsonb,
        store_id -> Nullable<Text>,
        district_id -> Nullable<Text>,
        owner_id -> Nullable<Text>,
    }
}

diesel::table! {
    imports (id) {
        id -> Uuid,
        name -> Text,
        content_hash -> Bytea,
        kind -> Text,
        rows -> BigInt,
        stores -> BigInt,
        nights -> BigInt,
        first_date -> Date,
        last_date -> Date,
        reason -> Nullable<Text>,
        imported_by -> Uuid,
        imported_at -> Timestamptz,
    }
}

// A partitioned table; its partitions are never named.
diesel::table! {
    entries (business_date, store_id, id) {
        business_date -> Date,
        store_id -> Text,
        id -> Uuid,
        kind -> Text,
        body -> Jsonb,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        recorded_by -> Uuid,
        recorded_at -> Timestamptz,
        write_id -> Uuid,
    }
}

diesel::table! {
    entry_ids (id) {
        id -> Uuid,
        store_id -> Text,
        business_date -> Date,
    }
}

diesel::table! {
    entry_withdrawals (entry_id) {
        entry_id -> Uuid,
        business_date -> Date,
        store_id -> Text,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        reason -> Text,
        withdrawn_by -> Uuid,
        withdrawn_at -> Timestamptz,
    }
}

diesel::table! {
    till_batches (business_date, store_id, batch_id) {
        business_date -> Date,
        store_id -> Text,
        batch_id -> Text,
        body -> Jsonb,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        sent_by -> Uuid,
        recorded_at -> Timestamptz,
        write_id -> Uuid,
    }
}

diesel::allow_tables_to_appear_in_same_query!(entries, entry_withdrawals);
