//! The tables as the query builder knows them. Written by a test from what the migrations leave; do not
//! edit.
#![allow(missing_docs)]

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

diesel::table! {
    case_events (id) {
        id -> BigInt,
        case_id -> Uuid,
        kind -> Text,
        body -> Jsonb,
        at -> Timestamptz,
        by_person -> Nullable<Uuid>,
    }
}

diesel::table! {
    cases (id) {
        id -> Uuid,
        store_id -> Text,
        district_id -> Text,
        owner_id -> Text,
        measure -> Text,
        kind -> Text,
        as_of -> Date,
        since -> Date,
        size -> Double,
        money_per_week -> Nullable<Double>,
        seen -> Jsonb,
        raised_at -> Timestamptz,
        raised_in -> Text,
    }
}

diesel::table! {
    diary_entries (id) {
        id -> Uuid,
        store_id -> Text,
        district_id -> Text,
        owner_id -> Text,
        kind -> Text,
        from_date -> Date,
        to_date -> Date,
        sets_aside -> Bool,
        said -> Text,
        said_by -> Uuid,
        said_at -> Timestamptz,
    }
}

diesel::table! {
    diary_withdrawals (entry_id) {
        entry_id -> Uuid,
        reason -> Text,
        withdrawn_by -> Uuid,
        withdrawn_at -> Timestamptz,
    }
}

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
    finding_answers (id) {
        id -> BigInt,
        store_id -> Text,
        district_id -> Text,
        owner_id -> Text,
        measure -> Text,
        kind -> Text,
        since -> Date,
        said -> Text,
        said_by -> Uuid,
        said_at -> Timestamptz,
    }
}

diesel::table! {
    findings (id) {
        id -> Uuid,
        review_id -> BigInt,
        store_id -> Nullable<Text>,
        district_id -> Text,
        owner_id -> Nullable<Text>,
        measure -> Text,
        kind -> Text,
        since -> Date,
        size -> Double,
        size_low -> Double,
        size_high -> Double,
        money_per_week -> Nullable<Double>,
        rank_low -> Nullable<Integer>,
        rank_high -> Nullable<Integer>,
        rank_of -> Nullable<Integer>,
        evidence -> Jsonb,
        sentence -> Text,
        private -> Bool,
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

diesel::table! {
    night_answers (business_date, store_id, revision, check_id) {
        business_date -> Date,
        store_id -> Text,
        revision -> Integer,
        check_id -> Text,
        answer -> Jsonb,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        answered_by -> Uuid,
        recorded_at -> Timestamptz,
        write_id -> Uuid,
    }
}

diesel::table! {
    night_pins (store_id, business_date, rules, known_at) {
        business_date -> Date,
        store_id -> Text,
        rules -> SmallInt,
        known_at -> Timestamptz,
        recorded_at -> Timestamptz,
        reason -> Nullable<Text>,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
    }
}

diesel::table! {
    night_revisions (business_date, store_id, revision) {
        business_date -> Date,
        store_id -> Text,
        revision -> Integer,
        body -> Jsonb,
        reason -> Nullable<Text>,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        submitted_by -> Uuid,
        recorded_at -> Timestamptz,
        write_id -> Uuid,
        state -> Text,
        checks -> Jsonb,
        proposal -> Nullable<Jsonb>,
        shelves -> Nullable<Bytea>,
    }
}

diesel::table! {
    night_settlements (business_date, store_id, revision) {
        business_date -> Date,
        store_id -> Text,
        revision -> Integer,
        outcome -> Text,
        left_out -> Array<Text>,
        reason -> Nullable<Text>,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        settled_by -> Nullable<Uuid>,
        recorded_at -> Timestamptz,
    }
}

diesel::table! {
    nights (store_id, business_date, generation, sampled, district_id, region_id, owner_id) {
        business_date -> Date,
        store_id -> Text,
        rules -> SmallInt,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        known_at -> Timestamptz,
        generation -> BigInt,
        revision -> Nullable<Integer>,
        reaches -> Date,
        sampled -> Bool,
        counted -> Text,
        others -> Text,
        packed -> Bytea,
    }
}

diesel::table! {
    par_publications (id) {
        id -> BigInt,
        set_code -> Text,
        revision -> Integer,
        valid_from -> Date,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
        reason -> Text,
        rolls_back -> Nullable<BigInt>,
    }
}

diesel::table! {
    par_revisions (set_code, revision) {
        set_code -> Text,
        revision -> Integer,
        body -> Jsonb,
        recorded_at -> Timestamptz,
        recorded_by -> Uuid,
    }
}

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
    refresh_families_ended (family) {
        family -> Uuid,
        ended_at -> Timestamptz,
        reason -> Text,
    }
}

diesel::table! {
    refresh_tokens (hash) {
        hash -> Bytea,
        family -> Uuid,
        person_id -> Uuid,
        issued_at -> Timestamptz,
        expires_at -> Timestamptz,
        used_at -> Nullable<Timestamptz>,
    }
}

diesel::table! {
    reviews (id) {
        id -> BigInt,
        zone -> Text,
        as_of -> Date,
        made_at -> Timestamptz,
        seen -> Text,
        stores -> Integer,
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

diesel::table! {
    weeks (week, store_id) {
        week -> Date,
        store_id -> Text,
        district_id -> Text,
        region_id -> Text,
        owner_id -> Text,
        rules -> SmallInt,
        form -> SmallInt,
        nights -> BigInt,
        stands -> BigInt,
        codes -> Text,
        packed -> Bytea,
    }
}

diesel::table! {
    writes (id) {
        id -> Uuid,
        person_id -> Uuid,
        operation -> Text,
        content_hash -> Bytea,
        status -> SmallInt,
        etag -> Nullable<Text>,
        response -> Json,
        recorded_at -> Timestamptz,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    audit,
    case_events,
    cases,
    diary_entries,
    diary_withdrawals,
    entries,
    entry_ids,
    entry_withdrawals,
    finding_answers,
    findings,
    imports,
    night_answers,
    night_pins,
    night_revisions,
    night_settlements,
    nights,
    par_publications,
    par_revisions,
    people,
    reference_versions,
    refresh_families_ended,
    refresh_tokens,
    reviews,
    till_batches,
    weeks,
    writes,
);
