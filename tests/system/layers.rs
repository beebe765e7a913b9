//! Imports run one way: `http | pages | jobs → app → {core, db}`, and in core only upwards in the
//! list of its modules.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use parings_tests::golden::root;

/// Core's modules; each may use those before it. Chains of yields and targets of tickets know no
/// catalogue; the catalogue holds them.
const CORE: &[&str] = &[
    "ids", "access", "bytes", "quantity", "money", "calendar", "stats", "yields", "tickets",
    "catalog", "usage", "night", "tally", "checks", "rollup", "pars", "prep", "review",
];

/// What a part of the server may not use: our own modules, and crates of other people.
const SERVER: &[(&str, &[&str], &[&str])] = &[
    ("http", &["db", "jobs", "boot"], &["diesel", "diesel_async"]),
    ("pages", &["db", "http", "files", "jobs", "boot"], &["diesel", "diesel_async", "utoipa"]),
    ("jobs", &["db", "http", "files", "pages", "boot"], &["diesel", "actix_web", "utoipa"]),
    // Formats of files read rows by the wire types of http; they know nothing of the records.
    (
        "files",
        &["db", "pages", "jobs", "boot", "openapi"],
        &["actix_web", "diesel", "diesel_async", "maud"],
    ),
    (
        "app",
        &["http", "files", "pages", "jobs", "boot", "openapi"],
        &["actix_web", "utoipa", "maud"],
    ),
    (
        "db",
        &["http", "files", "pages", "jobs", "app", "boot", "openapi"],
        &["actix_web", "utoipa", "maud"],
    ),
    (
        "config",
        &["http", "pages", "jobs", "app", "db", "boot", "cluster"],
        &["actix_web", "diesel", "diesel_async", "utoipa", "maud"],
    ),
    ("context", &["http", "pages", "jobs", "app", "db", "boot"], &["actix_web", "diesel"]),
    ("edge", &["http", "pages", "jobs", "app", "db", "boot", "context"], &["actix_web", "diesel"]),
    ("error", &["http", "pages", "jobs", "app", "db", "boot", "context"], &["diesel_async"]),
];

/// The router is the index of all addresses, so it alone names the pages from within `http`.
const ROUTER: &str = "http/mod.rs";

/// Files come in where imports are decoded; no other wire type knows them.
const IMPORTS: &str = "http/imports.rs";

/// Rust files below a folder: their module (first folder or file), path from there, and code
/// without comment lines.
pub fn files(folder: &Path) -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(at) = folders.pop() {
        for entry in fs::read_dir(&at).expect("a folder of sources").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let name = path.strip_prefix(folder).expect("below it").to_string_lossy();
                let module = name.split('/').next().unwrap_or_default().trim_end_matches(".rs");
                let text = fs::read_to_string(&path).expect("a source file");
                let code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
                let code = code.collect::<Vec<_>>().join("\n");
                found.push((module.to_owned(), name.clone().into_owned(), code));
            }
        }
    }
    found
}

/// The modules a file names by `crate::`, also within braces and over several lines; in a file
/// that lies at the top, `use super::` outside its inner modules is the same.
fn uses(name: &str, code: &str) -> BTreeSet<String> {
    let mut code = code.to_owned();
    if !name.contains('/') {
        code = code.replace("\nuse super::", "\nuse crate::");
    }
    let word = |text: &str| {
        let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
        text[..end].to_owned()
    };
    let mut found = BTreeSet::new();
    for rest in code.split("crate::").skip(1) {
        match rest.strip_prefix('{') {
            None => drop(found.insert(word(rest))),
            Some(list) => {
                let (mut depth, mut start) = (0, 0);
                for (at, c) in list.char_indices() {
                    match c {
                        '{' => depth += 1,
                        '}' if depth > 0 => depth -= 1,
                        ',' | '}' if depth == 0 => {
                            found.insert(word(list[start..at].trim()));
                            start = at + 1;
                            if c == '}' {
                                break;
                            }
                        }
                        _ => {}
                    }
                }
            }
        }
    }
    found.remove("");
    found
}

/// Whether code names a crate: at the start of a path, not as a part of another word.
fn names(code: &str, krate: &str) -> bool {
    code.match_indices(&format!("{krate}::"))
        .any(|(at, _)| !code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':'))
}

#[test]
fn imports_are_found_however_they_are_written() {
    let code = "use crate::db;\nuse crate::{\n    app::{self, Deps},\n    http::body::Body, pages,\n};\n\
        fn f() -> crate::error::AppError { crate::jobs::run() }";
    let expected = ["app", "db", "error", "http", "jobs", "pages"].map(str::to_owned);
    assert_eq!(uses("x.rs", code), BTreeSet::from(expected));
    assert_eq!(uses("x.rs", "\nuse super::money::Money;"), BTreeSet::from(["money".to_owned()]));
    assert!(names("use diesel::prelude::*;", "diesel") && !names("use my_diesel::x;", "diesel"));
}

#[test]
fn the_layers_of_the_server_are_used_one_way() {
    let mut faults = Vec::new();
    let sources = files(&root().join("api/src"));
    assert!(sources.len() > 20, "hardly any sources found");
    for (module, name, code) in &sources {
        let Some((_, modules, crates)) = SERVER.iter().find(|(layer, ..)| layer == module) else {
            continue;
        };
        for used in uses(name, code) {
            let siblings = module == "http"
                && (used == "pages" && name != ROUTER || used == "files" && name != IMPORTS);
            if modules.contains(&used.as_str()) || siblings {
                faults.push(format!("api/src/{name} uses {used}"));
            }
        }
        for krate in crates.iter().filter(|krate| names(code, krate)) {
            faults.push(format!("api/src/{name} uses {krate}"));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn a_module_of_core_uses_only_those_above_it() {
    let mut faults = Vec::new();
    for (module, name, code) in files(&root().join("core/src")) {
        if module == "lib" {
            continue;
        }
        let Some(place) = CORE.iter().position(|known| *known == module) else {
            faults.push(format!("core/src/{name}: {module} has no place in the list"));
            continue;
        };
        for used in uses(&name, &code) {
            if !CORE[..=place].contains(&used.as_str()) {
                faults.push(format!("core/src/{name} uses {used}"));
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Invariant 10: the core needs no database, no clock and no network.
#[test]
fn the_core_needs_no_database_no_clock_and_no_network() {
    let manifest = fs::read_to_string(root().join("core/Cargo.toml")).expect("core/Cargo.toml");
    let needed = manifest.split("[dependencies]").nth(1).expect("dependencies");
    let needed = needed.split("\n[").next().unwrap_or_default();
    let allowed = [
        "chrono",
        "chrono-tz",
        "rust_decimal",
        "serde",
        "serde_json",
        "sha2",
        "statrs",
        "thiserror",
        "uuid",
    ];
    for line in needed.lines().filter(|line| line.contains('=')) {
        let name = line.split(['=', '.']).next().unwrap_or_default().trim();
        assert!(allowed.contains(&name), "core needs {name}");
    }
    for (_, name, code) in files(&root().join("core/src")) {
        for outside in [
            "std::fs",
            "std::net",
            "std::env",
            "std::process",
            "std::thread",
            "SystemTime",
            "Instant::now",
            "Utc::now",
            "Local::now",
            "async fn",
            "unsafe ",
        ] {
            assert!(!code.contains(outside), "core/src/{name} has {outside}");
        }
    }
}
