//! Imports run one way: `http | pages | jobs → app → {core, db}`, in app from a room to those below it,
//! and in core and in a room only upwards in the list of its modules.

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

/// The rooms of app: each with its rank, and its modules. A room uses rooms of lower ranks, and of its
/// modules each may use those before it.
const ROOMS: &[(&str, u8, &[&str])] = &[
    ("ground", 1, &["catalog", "names", "audit", "writes", "partitions", "readiness", "turns"]),
    ("signin", 2, &["keys", "tokens", "passwords", "limits", "sessions"]),
    (
        "night",
        2,
        &[
            "revisions",
            "stood",
            "tallying",
            "facts",
            "checks",
            "entries",
            "till",
            "as_known",
            "receipts",
            "history",
            "trace",
            "saving",
            "nights",
            "parts",
            "confirmations",
            "approvals",
            "openings",
            "sheet",
            "loading",
            "retally",
            "weeks",
            "verify",
        ],
    ),
    ("figures", 3, &["rollups", "changes", "transfers", "exports", "safety", "tolerances"]),
    ("demand", 3, &["pars", "prep"]),
    (
        "watch",
        4,
        &["review", "findings", "course", "causes", "cases", "nightly", "shared", "diary"],
    ),
    (
        "office",
        4,
        &[
            "reference",
            "people",
            "own_password",
            "services",
            "operator",
            "stores",
            "restatements",
            "imports",
        ],
    ),
];

/// The rooms that `app/mod.rs` uses: what all use cases need is made of them.
const HELD: &[&str] = &["ground", "signin"];

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

/// Public items of app that may speak of the records: the file, how the item begins, and why.
const OF_RECORDS: &[(&str, &str, &str)] = &[
    ("app/mod.rs", "pub pool:", "connections are handed on, and nobody reads them"),
    ("app/night/checks.rs", "pub fn change(", "loading has read the versions, all at once"),
    (
        "app/night/stood.rs",
        "pub fn rows(",
        "nights are packed where they stand and written elsewhere",
    ),
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

/// The module that a file is, by its path below `src`.
fn module(name: &str) -> Vec<&str> {
    let name = name.trim_end_matches(".rs");
    name.trim_end_matches("/mod")
        .split('/')
        .filter(|part| !["lib", "main"].contains(part))
        .collect()
}

/// Code without the tests at its end.
fn without_tests(code: &str) -> &str {
    code.split("#[cfg(test)]").next().unwrap_or_default()
}

/// Everything a file names by `crate::` or `super::`, as paths from the crate on; also within braces and
/// over several lines. In tests at its end, `super` is the file itself and says nothing.
fn paths(name: &str, code: &str) -> BTreeSet<Vec<String>> {
    let mut found = BTreeSet::new();
    // Whom something is visible to, `pub(in …)`, is no import.
    let begins = |at: usize| {
        let before = &code[..at];
        !before.ends_with("(in ")
            && !before.ends_with(|c: char| c.is_alphanumeric() || "_:".contains(c))
    };
    for (at, root) in code.match_indices("crate::").filter(|(at, _)| begins(*at)) {
        leaves(&[], &code[at + root.len()..], &mut found);
    }
    let code = without_tests(code);
    for (at, _) in code.match_indices("super::").filter(|(at, _)| begins(*at)) {
        let (mut from, mut rest) = (module(name), &code[at..]);
        while let Some(further) = rest.strip_prefix("super::") {
            from.pop();
            rest = further;
        }
        let from: Vec<String> = from.into_iter().map(str::to_owned).collect();
        leaves(&from, rest, &mut found);
    }
    found
}

/// The paths that a tree of imports names after `from`; answers with what stands behind the tree.
fn leaves<'a>(from: &[String], tree: &'a str, found: &mut BTreeSet<Vec<String>>) -> &'a str {
    if let Some(mut list) = tree.strip_prefix('{') {
        loop {
            list = list.trim_start();
            match list.chars().next() {
                Some('}') => return &list[1..],
                Some(',') => list = &list[1..],
                Some(_) => {
                    let behind = leaves(from, list, found).trim_start();
                    // Another name of the same: `as name`.
                    list = behind.find([',', '}']).map_or("", |end| &behind[end..]);
                }
                None => return list,
            }
        }
    }
    let is_word = |c: char| c.is_alphanumeric() || c == '_' || c == '*';
    let (word, rest) = tree.split_at(tree.find(|c| !is_word(c)).unwrap_or(tree.len()));
    if word.is_empty() {
        return rest;
    }
    let path = [from, &[word.to_owned()]].concat();
    match rest.strip_prefix("::").filter(|next| next.starts_with(|c| c == '{' || is_word(c))) {
        Some(next) => leaves(&path, next, found),
        None => {
            found.insert(path);
            rest
        }
    }
}

/// The modules of the crate that a file names.
fn uses(name: &str, code: &str) -> BTreeSet<String> {
    paths(name, code).into_iter().filter_map(|path| path.into_iter().next()).collect()
}

/// What a file of app may not name: rooms that are not below its own, modules of its own that are not
/// before its own, and what stands for a whole room.
fn out_of_place(name: &str, code: &str) -> Vec<String> {
    let of = |room: &str| ROOMS.iter().find(|(known, ..)| *known == room);
    let here = module(name);
    let (room, own) = (here.get(1).copied(), here.get(2).copied());
    let may = |path: &[String]| {
        let Some(named) = path.get(1) else { return false };
        let Some((named, rank, modules)) = of(named) else {
            // What lies in app/mod.rs itself.
            return !["self", "*"].contains(&named.as_str());
        };
        let Some(room) = room else { return HELD.contains(named) };
        if *named != room {
            return of(room).is_some_and(|(_, own, _)| rank < own);
        }
        let place = |of: Option<&str>| modules.iter().position(|known| Some(*known) == of);
        let used = path.get(2).map(String::as_str);
        used == own || place(used).is_some_and(|used| Some(used) < place(own))
    };
    let app = |path: &Vec<String>| path.first().is_some_and(|first| first == "app");
    let paths = paths(name, code).into_iter().filter(app);
    paths.filter(|path| !may(path)).map(|path| path.join("::")).collect()
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
    let named = |name, code| -> Vec<String> {
        paths(name, code).into_iter().map(|path| path.join("::")).collect()
    };
    let code = "use crate::app::{self, night::{entries as e, till::{Received, feed}}, Deps};";
    let found = ["app::Deps", "app::night::entries", "app::night::till::Received"];
    assert_eq!(named("x.rs", code)[..3], found);
    assert_eq!(named("x.rs", code)[3..], ["app::night::till::feed", "app::self"]);
    let code = "use super::super::{facts, *};\nfn f() { super::amount() }\n#[cfg(test)] super::x";
    let found = ["app::night::*", "app::night::entries::amount", "app::night::facts"];
    assert_eq!(named("app/night/entries/check.rs", code), found);
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
fn what_is_out_of_place_in_a_room_is_found() {
    let out = |name: &str, code: &str| !out_of_place(name, code).is_empty();
    let entries = "app/night/entries/mod.rs";
    assert!(!out(entries, "use crate::app::ground::audit; use crate::app::{Deps, act_as};"));
    assert!(!out(
        entries,
        "use crate::app::night::{facts, entries::Recorded}; super::checks::of()"
    ));
    assert!(out(entries, "use crate::app::office::reference;"), "a room above");
    assert!(out(entries, "use crate::app::signin::tokens;"), "a room of the same rank");
    assert!(out(entries, "use crate::app::night::{facts, nights};"), "a module behind");
    assert!(out(entries, "fn f() { super::nights::submit() }"), "a module behind, by super");
    assert!(out(entries, "use super::super::figures::rollups;"), "a room above, by super");
    for whole in ["crate::app::night;", "crate::app::night::*;", "crate::app::*;", "super::*;"] {
        assert!(out(entries, &format!("use {whole}")), "{whole}");
    }
    assert!(out("app/mod.rs", "use crate::app::night::nights;"), "not for all use cases");
    assert!(!out("app/mod.rs", "use crate::app::ground::catalog;"));
}

#[test]
fn the_rooms_of_the_use_cases_are_used_one_way() {
    let mut faults = Vec::new();
    let mut found = BTreeSet::new();
    for (module, name, code) in files(&root().join("api/src")) {
        if module == "app" {
            let out = out_of_place(&name, &code);
            faults.extend(out.into_iter().map(|path| format!("api/src/{name} uses {path}")));
            let mut parts = name.trim_end_matches(".rs").split('/').skip(1);
            if let (Some(room), Some(module)) = (parts.next(), parts.next()) {
                found.insert((room.to_owned(), module.to_owned()));
            }
        }
    }
    let modules = |(room, _, modules): &(&str, u8, &[&str])| {
        let all = modules.iter().chain(&["mod"]);
        all.map(|module| ((*room).to_owned(), (*module).to_owned())).collect::<Vec<_>>()
    };
    assert_eq!(found, ROOMS.iter().flat_map(modules).collect(), "rooms and modules, as they lie");
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Public items of a file that speak of the records: from a line that begins with `pub ` to where a
/// body, a value or the next field begins, that names `db` or what the file imports from it.
fn of_records(name: &str, code: &str) -> Vec<String> {
    let code = without_tests(code);
    let db = paths(name, code).into_iter().filter(|path| path[0] == "db");
    let known: BTreeSet<String> = db.filter_map(|mut path| path.pop()).collect();
    let speaks = |item: &String| {
        let is_word = |c: char| c.is_alphanumeric() || c == '_';
        item.split(|c| !is_word(c)).any(|word| known.contains(word))
    };
    let begins = |line: &str| line.trim_start().starts_with("pub ");
    let lines: Vec<&str> = code.lines().collect();
    let at = (0..lines.len()).filter(|at| begins(lines[*at]));
    at.map(|at| {
        let mut item = String::new();
        for line in &lines[at..] {
            item += line.trim();
            let typed = item.replace("->", "");
            let (open, shut) = (typed.matches(['(', '<']), typed.matches([')', '>']));
            if item.contains(['{', ';']) || item.ends_with(',') && open.count() == shut.count() {
                break;
            }
            item.push(' ');
        }
        item
    })
    .filter(speaks)
    .collect()
}

#[test]
fn public_items_that_speak_of_records_are_found() {
    let of = |code: &str| of_records("app/x.rs", code);
    let import = "use crate::db::cases::{CaseRow, Which};\nuse crate::db;\n";
    for item in [
        "pub fn read(\n    row: &CaseRow,\n) -> Case {",
        "pub fn list() -> Result<Vec<db::cases::CaseRow>, AppError> {",
        "pub struct Case {\n    pub(super) id: Uuid,\n    pub row: CaseRow,\n}",
        "pub struct Case {\n    pub rows: BTreeMap<\n        Uuid,\n        CaseRow,\n    >,\n}",
        "pub struct Case(pub CaseRow);",
        "pub use crate::db::cases::Which as Asked;",
        "pub type Asked<'a> = Which<'a>;",
    ] {
        assert_eq!(of(&format!("{import}{item}")).len(), 1, "{item}");
    }
    for item in [
        "pub(super) fn read(row: &CaseRow) -> Case {",
        "fn read(row: &CaseRow) -> Case {",
        "pub fn read(id: Uuid) -> Case {\n    let row: CaseRow = db::cases::one(id);",
        "pub struct Case {\n    pub id: Uuid,\n    row: CaseRow,\n}",
        "pub struct Case {\n    pub rows: Vec<TracedRow>,\n}",
    ] {
        assert_eq!(of(&format!("{import}{item}")), Vec::<String>::new(), "{item}");
    }
}

#[test]
fn use_cases_speak_of_no_records() {
    let (mut faults, mut excused) = (Vec::new(), BTreeSet::new());
    for (_, name, code) in files(&root().join("api/src")).iter().filter(|file| file.0 == "app") {
        for item in of_records(name, code) {
            match OF_RECORDS.iter().find(|(file, begin, _)| file == name && item.starts_with(begin))
            {
                Some(excuse) => _ = excused.insert(excuse),
                None => faults.push(format!("api/src/{name}: {item}")),
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    assert_eq!(excused, OF_RECORDS.iter().collect(), "exceptions that are needed");
}

/// Whether code says a path of the API, or a method with a path.
fn says_an_address(code: &str) -> bool {
    ["/v1/", "GET /", "HEAD /", "POST /", "PUT /", "PATCH /", "DELETE /"]
        .iter()
        .any(|said| code.contains(said))
}

#[test]
fn use_cases_and_queries_know_no_address() {
    assert!(says_an_address(r#"format!("PUT /v1/stores/{store}")"#) && !says_an_address("a / b"));
    let mut faults = Vec::new();
    for (module, name, code) in files(&root().join("api/src")) {
        if ["app", "db"].contains(&module.as_str()) && says_an_address(without_tests(&code)) {
            faults.push(format!("api/src/{name} says an address"));
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
