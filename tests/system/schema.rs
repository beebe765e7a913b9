//! The schema: every migration has a way back, and no table is open to whom it should not be.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use parings::cluster::SUPERUSER;
use parings::cluster::roles::{APP, JOBS, OWNER, READ, SIGNIN};
use parings::db::migrate;
use parings_tests::Database;
use parings_tests::golden::assert_committed;
use tokio_postgres::error::SqlState;

/// Tables of ours: neither partitions, which follow their parent, nor the migrations' own.
const TABLES: &str = "SELECT c.oid, c.relname::text AS name, c.relrowsecurity, \
    c.relforcerowsecurity FROM pg_class c WHERE c.relnamespace = 'public'::regnamespace \
    AND c.relkind IN ('r', 'p') AND NOT c.relispartition AND c.relname NOT LIKE '\\_\\_diesel%'";

/// Whole schema as pg_dump writes it, without the lines that differ from run to run.
fn dump(database: &Database) -> String {
    let url = database.url(SUPERUSER);
    let dumped = Command::new("pg_dump").args(["--schema-only", "--dbname", &url]).output();
    let dumped = dumped.expect("pg_dump, which comes with PostgreSQL's client programs");
    assert!(dumped.status.success(), "{}", String::from_utf8_lossy(&dumped.stderr));
    let text = String::from_utf8(dumped.stdout).expect("UTF-8");
    let same = |line: &&str| !line.starts_with("\\restrict") && !line.starts_with("\\unrestrict");
    text.lines().filter(same).collect::<Vec<_>>().join("\n")
}

/// The schema without partitions, settings of the session and remarks: what a reader opens first. It has
/// every table with its policies, every function and every view as the migrations leave them.
fn to_read(database: &Database) -> String {
    let mut text = String::from(
        "-- The schema as the migrations leave it, without the months that facts lie in. Written by a \
         test;\n-- do not edit.\n",
    );
    let url = database.url(SUPERUSER);
    let args = ["--schema-only", "--no-owner", "--exclude-table=*_20*", "--dbname", &url];
    let dumped = Command::new("pg_dump").args(args).output().expect("pg_dump");
    assert!(dumped.status.success(), "{}", String::from_utf8_lossy(&dumped.stderr));
    let dumped = String::from_utf8(dumped.stdout).expect("UTF-8");
    let mut blank = false;
    for line in dumped.lines() {
        let said = !["--", "SET ", "SELECT pg_catalog", "\\restrict", "\\unrestrict"]
            .iter()
            .any(|start| line.starts_with(start));
        if said && !(line.is_empty() && blank) {
            text.push_str(line);
            text.push('\n');
            blank = line.is_empty();
        }
    }
    text
}

/// A dump reads a little otherwise in each major version of PostgreSQL; this one is of the oldest that we
/// support.
const DUMPED_BY: &str = "(PostgreSQL) 15";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_schema_that_readers_open_first_is_what_the_migrations_leave() {
    let database = Database::empty().await;
    migrate::run(&database.url(OWNER)).await.expect("up");
    let text = to_read(&database);
    for table in found(&database, &format!("SELECT name FROM ({TABLES}) t")).await {
        assert!(text.contains(&format!("CREATE TABLE public.{table} (")), "{table}");
        assert!(text.contains(&format!(" ON public.{table} ")), "policies of {table}");
    }
    let version = Command::new("pg_dump").arg("--version").output().expect("pg_dump").stdout;
    if String::from_utf8_lossy(&version).contains(DUMPED_BY) {
        assert_committed("migrations/schema.sql", &text);
    }
}

/// The first column of what a query finds.
async fn found(database: &Database, sql: &str) -> BTreeSet<String> {
    let rows = database.connect(SUPERUSER).await.query(sql, &[]).await.expect(sql);
    rows.iter().map(|row| row.get(0)).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn up_down_up_ends_where_up_does() {
    let database = Database::empty().await;
    let owner = database.url(OWNER);
    migrate::run(&owner).await.expect("up");
    let first = dump(&database);
    assert!(first.contains("CREATE TABLE public.night_revisions"), "{first}");

    migrate::revert(&owner).await.expect("down");
    let left = "SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace
         AND relname NOT LIKE '\\_\\_diesel%'
         UNION ALL SELECT proname::text FROM pg_proc WHERE pronamespace = 'public'::regnamespace
         UNION ALL SELECT typname::text FROM pg_type WHERE typnamespace = 'public'::regnamespace
         AND typname NOT LIKE '%\\_\\_diesel%'";
    assert_eq!(found(&database, left).await, BTreeSet::new(), "left by a way back");

    migrate::run(&owner).await.expect("up again");
    assert_same(&first, &dump(&database));
}

/// Fails at the first line that differs.
#[track_caller]
fn assert_same(first: &str, second: &str) {
    for (line, (a, b)) in first.lines().zip(second.lines()).enumerate() {
        assert_eq!(a, b, "line {line} of the dump");
    }
    assert_eq!(first.lines().count(), second.lines().count());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn migrating_twice_changes_nothing() {
    let database = Database::empty().await;
    let ran = migrate::run(&database.url(OWNER)).await.expect("up");
    assert!(!ran.is_empty());
    let first = dump(&database);
    assert!(migrate::run(&database.url(OWNER)).await.expect("again").is_empty());
    assert_same(&first, &dump(&database));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_table_forces_row_security() {
    let database = Database::migrated().await;
    let all = found(&database, &format!("SELECT name FROM ({TABLES}) t")).await;
    assert!(all.contains("people") && all.contains("nights"), "{all:?}");
    let open = format!(
        "SELECT name FROM ({TABLES}) t WHERE NOT (relrowsecurity AND relforcerowsecurity)
           OR NOT EXISTS (SELECT FROM pg_policy p WHERE p.polrelid = t.oid)"
    );
    assert_eq!(found(&database, &open).await, BTreeSet::new());
    let views = "SELECT relname::text FROM pg_class
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('v', 'm')
          AND NOT coalesce(reloptions @> '{security_invoker=true}', false)";
    assert_eq!(found(&database, views).await, BTreeSet::new(), "views that see past the policies");
}

/// A partition is reached through its parent, whose policies hold then; with a grant of its own
/// it could be read past them.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn partitions_have_no_grants_of_their_own() {
    let database = Database::migrated().await;
    let partitions = "SELECT relname::text FROM pg_class WHERE relispartition AND relkind = 'r'";
    assert!(found(&database, partitions).await.contains("entries_2026_06"));
    let granted = format!(
        "SELECT DISTINCT c.relname::text FROM pg_class c, aclexplode(c.relacl) a
          WHERE c.relispartition AND a.grantee <> '{OWNER}'::regrole
          UNION SELECT c.relname::text FROM pg_attribute t JOIN pg_class c ON c.oid = t.attrelid
          WHERE c.relispartition AND t.attacl IS NOT NULL"
    );
    assert_eq!(found(&database, &granted).await, BTreeSet::new());
    let app = database.connect(APP).await;
    let refused = app.query("SELECT * FROM entries_2026_06", &[]).await.expect_err("refused");
    assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_role_of_ours_may_see_past_the_policies() {
    let database = Database::migrated().await;
    let roles = found(&database, "SELECT rolname::text FROM pg_roles WHERE rolcanlogin").await;
    let mut known = BTreeSet::from([SUPERUSER, OWNER, APP, SIGNIN, JOBS, READ].map(str::to_owned));
    assert_eq!(roles, known);
    known.remove(SUPERUSER);
    let plain = "SELECT rolname::text FROM pg_roles WHERE rolcanlogin AND NOT (rolsuper
        OR rolbypassrls OR rolcreaterole OR rolcreatedb OR rolreplication)";
    assert_eq!(found(&database, plain).await, known);
    let members = "SELECT format('%s in %s', m.member::regrole, m.roleid::regrole)
        FROM pg_auth_members m WHERE m.member::regrole::text LIKE 'parings%'";
    let only = BTreeSet::from([format!("{OWNER} in {SIGNIN}")]);
    assert_eq!(found(&database, members).await, only);
}

/// What the application may change is counted from the catalogue, so that a new table is seen.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn facts_and_audit_rows_cannot_be_changed() {
    let database = Database::migrated().await;
    let may = async |role: &str, right: &str| {
        let any_column = match right {
            "UPDATE" => format!(" OR has_any_column_privilege('{role}', oid, 'UPDATE')"),
            _ => String::new(),
        };
        let sql = format!(
            "SELECT name FROM ({TABLES}) t
              WHERE has_table_privilege('{role}', oid, '{right}'){any_column}"
        );
        found(&database, &sql).await
    };
    let set = |names: &[&str]| names.iter().map(ToString::to_string).collect::<BTreeSet<_>>();
    assert_eq!(may(APP, "UPDATE").await, set(&["people", "nights", "weeks"]));
    assert_eq!(may(APP, "DELETE").await, set(&[]), "nothing may go");
    assert_eq!(may(SIGNIN, "UPDATE").await, set(&["people", "refresh_tokens"]));
    let own = format!(
        "SELECT attname::text FROM pg_attribute WHERE attrelid = 'people'::regclass AND attnum > 0
         AND has_column_privilege('{SIGNIN}', attrelid, attnum, 'UPDATE')"
    );
    let own = found(&database, &own).await;
    assert_eq!(own, set(&["password_hash", "changed_at"]), "people change their own password");
    for (role, right) in [
        (APP, "TRUNCATE"),
        (APP, "REFERENCES"),
        (APP, "TRIGGER"),
        (SIGNIN, "DELETE"),
        (SIGNIN, "TRUNCATE"),
        (READ, "INSERT"),
        (READ, "UPDATE"),
        (READ, "DELETE"),
        (READ, "TRUNCATE"),
    ] {
        assert_eq!(may(role, right).await, BTreeSet::new(), "{role} {right}");
    }

    let app = database.connect(APP).await;
    for table in ["audit", "writes", "entries", "night_revisions", "night_pins", "till_batches"] {
        for sql in [format!("DELETE FROM {table}"), format!("TRUNCATE {table}")] {
            let refused = app.batch_execute(&sql).await.expect_err(&sql);
            assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{sql}");
        }
    }
    let refused = app.batch_execute("UPDATE audit SET action = ''").await.expect_err("refused");
    assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn password_hashes_are_for_the_sign_in_role_alone() {
    let database = Database::migrated().await;
    for role in [APP, READ, JOBS] {
        for column in ["password_hash", "secret_hash"] {
            let sql = format!("SELECT {column} FROM people");
            let client = database.connect(role).await;
            let refused = client.query(&sql, &[]).await.expect_err("refused");
            assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{role} {column}");
        }
    }
}

/// A policy that called these functions outside a subselect would call them for every row.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn policies_ask_who_acts_once_a_statement() {
    let database = Database::migrated().await;
    let rules = "SELECT format('%s: %s %s', policyname, qual, with_check) FROM pg_policies";
    let rules = found(&database, rules).await;
    assert!(rules.len() > 20, "{rules:?}");
    for rule in rules {
        let once = ["person", "role", "stores", "districts", "owners"]
            .iter()
            .fold(rule.clone(), |rule, who| rule.replace(&format!("SELECT acting_{who}()"), ""));
        assert!(!once.contains("()"), "{rule}");
    }
}

/// Functions that run with their owner's rights must not be led astray by a caller's search path.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn functions_with_their_owners_rights_are_closed() {
    let database = Database::migrated().await;
    let definers = "FROM pg_proc WHERE pronamespace = 'public'::regnamespace AND prosecdef";
    let all = found(&database, &format!("SELECT proname::text {definers}")).await;
    assert!(all.contains("act_as"), "{all:?}");
    let open = format!(
        "SELECT proname::text {definers} AND (has_function_privilege('{JOBS}', oid, 'EXECUTE')
           OR NOT coalesce(array_to_string(proconfig, ' ') LIKE '%search_path=%pg_temp', false)
           OR proowner <> '{SIGNIN}'::regrole)"
    );
    assert_eq!(found(&database, &open).await, BTreeSet::new());
}

/// The type of the query builder that a type of PostgreSQL is.
fn builders(written: &str) -> String {
    if let Some(element) = written.strip_suffix("[]") {
        return format!("Array<{}>", builders(element));
    }
    let word = match written {
        "bigint" => "BigInt",
        "boolean" => "Bool",
        "bytea" => "Bytea",
        "date" => "Date",
        "double precision" => "Double",
        "integer" => "Integer",
        "json" => "Json",
        "jsonb" => "Jsonb",
        "smallint" => "SmallInt",
        "text" => "Text",
        "timestamp with time zone" => "Timestamptz",
        "uuid" => "Uuid",
        other => panic!("what is {other} to the query builder?"),
    };
    word.to_owned()
}

/// All tables are there, also those that only SQL names: what is nowhere used warns of nothing, and the
/// file says what the database says.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_query_builder_knows_the_tables_as_they_are() {
    let database = Database::migrated().await;
    let sql = format!(
        "SELECT t.name, a.attname::text, format_type(a.atttypid, NULL), a.attnotnull,
           array_position(k.indkey::smallint[], a.attnum) AS place
         FROM ({TABLES}) t JOIN pg_index k ON k.indrelid = t.oid AND k.indisprimary
           JOIN pg_attribute a ON a.attrelid = t.oid AND a.attnum > 0 AND NOT a.attisdropped
         ORDER BY t.name COLLATE \"C\", a.attnum"
    );
    let mut tables: BTreeMap<String, (BTreeMap<i32, String>, String)> = BTreeMap::new();
    for row in database.connect(SUPERUSER).await.query(&sql, &[]).await.expect(&sql) {
        let (column, required): (String, bool) = (row.get(1), row.get(3));
        let kind = builders(row.get(2));
        let kind = if required { kind } else { format!("Nullable<{kind}>") };
        let (key, columns) = tables.entry(row.get(0)).or_default();
        *columns += &format!("        {column} -> {kind},\n");
        if let Some(place) = row.get::<_, Option<i32>>("place") {
            key.insert(place, column);
        }
    }
    let mut text = String::from(
        "//! The tables as the query builder knows them. Written by a test from what the migrations leave; do \
         not\n//! edit.\n#![allow(missing_docs)]\n",
    );
    for (table, (key, columns)) in &tables {
        let key = key.values().cloned().collect::<Vec<_>>().join(", ");
        text += &format!("\ndiesel::table! {{\n    {table} ({key}) {{\n{columns}    }}\n}}\n");
    }
    text += "\ndiesel::allow_tables_to_appear_in_same_query!(\n";
    text.extend(tables.keys().map(|table| format!("    {table},\n")));
    text += ");\n";
    assert_eq!(
        found(&database, &format!("SELECT name FROM ({TABLES}) t")).await.len(),
        tables.len()
    );
    assert_committed("api/src/db/schema.rs", &text);
}
