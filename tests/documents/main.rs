//! What others read of this server, checked by programs that others wrote: the API document, how
//! the server keeps to it, the clients that are made of it, and the counters. `tests/run` installs the
//! programs.

mod clients;

use std::path::PathBuf;
use std::process::Stdio;

use parings::cluster::roles::OWNER;
use parings::demo::{self, SignIn, Size};
use parings_tests::{House, golden, house};
use serde_json::json;
use tokio::io::AsyncWriteExt;
use tokio::process::Command;

/// As whom the server is fuzzed, and for how many seconds.
const FUZZED: [(&str, Option<&str>, &str); 6] = [
    ("till", None, "10"),
    ("office", None, "60"),
    ("coach", Some("headwaters"), "15"),
    ("owner", None, "15"),
    ("manager", Some("hethermill"), "15"),
    ("crew", Some("hethermill"), "15"),
];

/// Where `tests/run` installs what checks the documents.
fn tools() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR");
    target.map_or_else(|| golden::root().join("target"), PathBuf::from).join("tools")
}

/// A program that `tests/run` put among its tools, else one of the machine's.
fn tool(path: &str) -> Command {
    let ours = tools().join(path);
    let name = path.rsplit('/').next().unwrap_or(path);
    Command::new(if ours.exists() { ours } else { PathBuf::from(name) })
}

/// Runs a program to its end, with `input`, and fails with all it said unless it is content.
async fn run(mut command: Command, input: &str) {
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command
        .spawn()
        .unwrap_or_else(|e| panic!("{command:?}: {e}; tests/run installs what is missing"));
    let mut pipe = child.stdin.take().expect("a pipe");
    pipe.write_all(input.as_bytes()).await.expect("the program reads");
    drop(pipe);
    let output = child.wait_with_output().await.expect("the program ends");
    let said = [output.stdout, output.stderr].map(|s| String::from_utf8_lossy(&s).into_owned());
    assert!(output.status.success(), "{command:?}\n{}", said.join("\n"));
    println!("{}", said.join("\n"));
}

/// openapi-spec-validator checks the document against the schema that the OpenAPI Initiative
/// publishes for version 3.1.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_api_document_is_openapi() {
    let mut validator = tool("python/bin/openapi-spec-validator");
    validator.arg(golden::root().join("api/openapi.json"));
    run(validator, "").await;
}

/// Prometheus's own checker reads the counters and says where they break its naming practices.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn prometheus_takes_the_counters() {
    let house = house().await;
    house.get("/healthz", None).await.expect(200);
    house.get("/nowhere", None).await.expect(404);
    let counters = house.get("/metrics", None).await;
    let mut promtool = tool("usr/bin/promtool");
    promtool.args(["check", "metrics"]);
    run(promtool, &counters.expect(200).text).await;
}

/// schemathesis makes requests from the API document, good and bad ones, of stores with a past and as
/// everybody who works with them, and fails on an answer that is a server error or that the document does
/// not describe. New operations are covered as soon as they are in the document.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_server_keeps_to_its_document() {
    // The fuzzer is wrong far oftener than people may be.
    let house = House::with(|config| config.signin.free_tries = 1_000_000).await;
    let folder = tempfile::tempdir().expect("a folder");
    let (owner, now) = (house.database.url(OWNER), house.clock.now());
    let size = Size { stores: 6, weeks: 2, seed: 0 };
    let loaded = demo::load(&house.deps, &owner, folder.path(), size, now, |_, _| ()).await;
    let people = loaded.expect("the demo loads").expect("a network without stores");
    for (role, place, seconds) in FUZZED {
        let here = |one: &&SignIn| {
            one.role.word() == role && place.is_none_or(|place| one.role.places().contains(&place))
        };
        let who = people.0.iter().find(here).unwrap_or_else(|| panic!("no {role}"));
        let bearer = match &who.email {
            None => who.secret.clone(),
            Some(email) => {
                let body = json!({ "email": email, "password": who.secret });
                let session = house.post("/v1/sessions", None, &body).await;
                session.expect(201);
                session.json["access_token"].as_str().expect("a token").to_owned()
            }
        };
        let mut fuzzer = tool("python/bin/schemathesis");
        fuzzer
            .current_dir(folder.path())
            .arg("--config-file")
            .arg(golden::root().join("tests/documents/schemathesis.toml"))
            .arg("run")
            .arg(house.url("/openapi.json"))
            .args(["--checks", "all", "--phases", "examples,coverage,fuzzing"])
            .args(["--max-time", seconds, "--seed", "20260615", "--generation-database", "none"])
            .args(["--header", &format!("Authorization: Bearer {bearer}")])
            .args(["--request-timeout", "10", "--no-color"]);
        println!("as {role}");
        run(fuzzer, "").await;
    }
}
