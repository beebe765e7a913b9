//! Every statement written as SQL: a file each, which PostgreSQL understands on the migrated schema.

use std::collections::BTreeSet;
use std::fs;

use parings::cluster::SUPERUSER;
use parings_tests::Database;
use parings_tests::golden::root;
use tokio_postgres::types::Type;

use crate::layers::files;

/// Where SQL stands in the code: what makes roles and a database, or looks at all tables, cannot be
/// prepared.
const ELSEWHERE: &[&str] = &["cluster/roles.rs", "db/migrate.rs"];

/// Words that only SQL is written with.
const SQL: &[&str] = &[
    "SELECT ",
    "INSERT INTO ",
    "UPDATE ",
    "DELETE FROM ",
    " FROM ",
    " WHERE ",
    "\"WITH ",
    "\"SET ",
    "\"ANALYZE",
    "sql_query",
    "sql::<",
];

/// A statement as the code defines it.
struct Defined {
    module: String,
    name: String,
    takes: Vec<Type>,
    file: String,
}

/// The statements that a module defines.
fn defined(module: &str, code: &str) -> Vec<Defined> {
    let one = |text: &str| {
        let (head, file) = text.split_once("= \"").expect("a statement has a file");
        let (name, takes) = head.split_once('{').expect("a statement lists what it takes");
        let types = takes.split("=>").skip(1).map(|rest| sent(rest.trim()));
        let file = file.split('"').next().unwrap_or_default();
        let name = name.split(['<', ' ']).next().unwrap_or_default();
        Defined {
            module: module.to_owned(),
            name: name.to_owned(),
            takes: types.collect(),
            file: file.to_owned(),
        }
    };
    code.split("statement!(").skip(1).map(one).collect()
}

/// The type of PostgreSQL that a type of the query builder is, at the beginning of a text.
fn sent(text: &str) -> Type {
    if let Some(inner) = text.strip_prefix("Nullable<") {
        return sent(inner);
    }
    let (array, word) = match text.strip_prefix("Array<") {
        Some(inner) => (true, inner.trim_start_matches("Nullable<")),
        None => (false, text),
    };
    let word = word.split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default();
    let known = match word {
        "BigInt" => (Type::INT8, Type::INT8_ARRAY),
        "Binary" | "Bytea" => (Type::BYTEA, Type::BYTEA_ARRAY),
        "Bool" => (Type::BOOL, Type::BOOL_ARRAY),
        "Date" => (Type::DATE, Type::DATE_ARRAY),
        "Double" => (Type::FLOAT8, Type::FLOAT8_ARRAY),
        "Integer" => (Type::INT4, Type::INT4_ARRAY),
        "Interval" => (Type::INTERVAL, Type::INTERVAL_ARRAY),
        "Jsonb" => (Type::JSONB, Type::JSONB_ARRAY),
        "SmallInt" => (Type::INT2, Type::INT2_ARRAY),
        "SqlUuid" => (Type::UUID, Type::UUID_ARRAY),
        "Text" => (Type::TEXT, Type::TEXT_ARRAY),
        "Timestamptz" => (Type::TIMESTAMPTZ, Type::TIMESTAMPTZ_ARRAY),
        _ => panic!("what is {text}?"),
    };
    if array { known.1 } else { known.0 }
}

fn camel(name: &str) -> String {
    let word = |word: &str| {
        let (first, rest) = word.split_at(1);
        first.to_uppercase() + rest
    };
    name.split('_').map(word).collect()
}

fn statements() -> Vec<Defined> {
    let sources = files(&root().join("api/src/db"));
    let of = |(_, name, code): &(String, String, String)| match name.as_str() {
        "statement.rs" => Vec::new(),
        name => defined(name.trim_end_matches(".rs"), code),
    };
    sources.iter().flat_map(of).collect()
}

#[test]
fn every_file_is_one_statement_named_as_it_is() {
    let folder = root().join("api/src/db/sql");
    let mut there = BTreeSet::new();
    for module in fs::read_dir(&folder).expect("the folder of statements").flatten() {
        for file in fs::read_dir(module.path()).expect("a module's statements").flatten() {
            let path = file.path();
            let name = path.strip_prefix(&folder).expect("below it");
            there.insert(name.to_string_lossy().into_owned());
        }
    }
    let mut named = BTreeSet::new();
    for Defined { module, name, file, .. } in statements() {
        let (folder, stem) = file.split_once('/').expect("a folder and a name");
        assert_eq!(module, folder, "the folder of {file}");
        assert_eq!(name, camel(stem.trim_end_matches(".sql")), "who runs {file}");
        assert!(named.insert(file.clone()), "{file} is named twice");
    }
    assert_eq!(there, named);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_statement_is_understood_and_takes_what_it_says() {
    let database = Database::migrated().await;
    let client = database.connect(SUPERUSER).await;
    for Defined { file, takes, .. } in statements() {
        let text = fs::read_to_string(root().join("api/src/db/sql").join(&file));
        let text = text.unwrap_or_else(|e| panic!("{file}: {e}"));
        let prepared = client.prepare_typed(&text, &takes).await;
        let prepared = prepared.unwrap_or_else(|e| panic!("{file}: {}", fault(&e)));
        assert_eq!(prepared.params(), takes, "what {file} takes");
        let used = |n: &usize| text.split(&format!("${n}")).skip(1).any(|rest| !digit(rest));
        let idle: Vec<usize> = (1..=takes.len()).filter(|n| !used(n)).collect();
        assert!(idle.is_empty(), "{file} does nothing with {idle:?}");
    }
}

fn digit(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

fn fault(error: &tokio_postgres::Error) -> String {
    error.as_db_error().map_or_else(|| error.to_string(), |error| error.message().to_owned())
}

#[test]
fn no_other_sql_stands_in_the_sources() {
    let mut found = Vec::new();
    for (_, name, code) in files(&root().join("api/src")) {
        let lines = code.lines().filter(|line| SQL.iter().any(|word| line.contains(word)));
        let lines: Vec<_> = lines.map(|line| format!("{name}: {}", line.trim())).collect();
        if ELSEWHERE.contains(&name.as_str()) {
            assert!(!lines.is_empty(), "{name} has none any more");
        } else {
            found.extend(lines);
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}
