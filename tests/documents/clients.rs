//! Clients that other people's generators make of the API document do each role's day against a
//! running server. The programmes are in `tests/documents/clients`.

use std::fs;
use std::path::{Path, PathBuf};

use chrono::TimeDelta;
use parings_core::access::Role;
use parings_tests::night::{count, line, night, role, staged, submit};
use parings_tests::{House, golden, house, network};
use serde_json::{Map, Value, json};
use tempfile::TempDir;

use crate::{run, tool, tools};

/// Where the programmes are.
fn programmes() -> PathBuf {
    golden::root().join("tests/documents/clients")
}

fn document() -> PathBuf {
    golden::root().join("api/openapi.json")
}

/// A network on the evening of Tuesday, 16 June 2026, whose store ford counted ten bags of potatoes the
/// night before, and a token for each role by its word. Its till sells portions of 200 g as 1001.
async fn tuesday() -> (House, Map<String, Value>) {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let chips = json!({ "title": "Chips", "sizes": [{ "code": "one", "title": "One size",
        "till_codes": ["1001"], "lines": [{ "item": "potato", "stage": "trim",
            "quantity": { "value": "200", "unit": "g" } }] }] });
    network::put(&house, &office.token, "products", "chips", chips).await;
    let manager = house.person(role(Role::Manager, "ford")).await;
    let ten = count(&[
        line("potato", "dry-store", "10", "bag"),
        staged("potato", "cold-room", "trim", "0", "kg"),
    ]);
    submit(&house, &manager, &night("ford", "2026-06-15"), &ten).await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let mut tokens = Map::new();
    for role in network::roles() {
        let token = house.person(role.clone()).await.token;
        tokens.insert(role.word().to_owned(), token.into());
    }
    (house, tokens)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_python_client_does_each_role_s_day() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut generator = tool("python/bin/openapi-python-client");
    generator.args(["generate", "--fail-on-warning", "--meta", "none"]);
    generator.arg("--path").arg(document());
    generator.arg("--config").arg(programmes().join("config.yaml"));
    generator.arg("--output-path").arg(folder.path().join("parings_client"));
    run(generator, "").await;

    let (house, mut given) = tuesday().await;
    given.insert("url".to_owned(), house.url("").into());
    let mut python = tool("python/bin/python");
    python.env("PYTHONPATH", folder.path()).env("PYTHONDONTWRITEBYTECODE", "1");
    python.arg(programmes().join("day.py"));
    run(python, &Value::Object(given).to_string()).await;
}

/// A folder in which TypeScript finds the packages that `tests/run` installed.
fn typescript_folder() -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let packages = tools().join("npm/node_modules");
    std::os::unix::fs::symlink(packages, folder.path().join("node_modules")).expect("a link");
    fs::write(folder.path().join("package.json"), r#"{"type":"module"}"#).expect("a file");
    fs::copy(programmes().join("day.ts"), folder.path().join("day.ts")).expect("a copy");
    folder
}

async fn compile(folder: &Path) {
    let mut generator = tool("npm/node_modules/.bin/openapi-typescript");
    generator.arg(document()).arg("--output").arg(folder.join("api.d.ts"));
    run(generator, "").await;
    let mut compiler = tool("npm/node_modules/.bin/tsc");
    compiler.current_dir(folder).args(["--strict", "--exactOptionalPropertyTypes", "day.ts"]);
    compiler.args(["--target", "es2022", "--module", "nodenext", "--lib", "es2023,dom"]);
    run(compiler, "").await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_typescript_client_passes_the_compiler_and_does_each_role_s_day() {
    let folder = typescript_folder();
    compile(folder.path()).await;
    let (house, tokens) = tuesday().await;
    let mut node = tool("node");
    node.arg(folder.path().join("day.js")).arg(house.url(""));
    for who in ["crew", "till", "manager", "coach", "owner", "office"] {
        node.arg(tokens[who].as_str().expect("a token"));
    }
    run(node, "").await;
}
