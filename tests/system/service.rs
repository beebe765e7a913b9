//! What every server does: it tells its health, and refuses with a problem (RFC 9457) that names
//! the request.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Sending, house};
use parings_tests::reply::Reply;
use reqwest::Method;
use serde_json::json;
use tokio_postgres::Client;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_is_up_and_ready() {
    let house = house().await;
    let up = house.get("/healthz", None).await;
    assert_eq!(up.expect(200).text, "ok\n");
    let ready = house.get("/readyz", None).await;
    assert_eq!(ready.expect(200).json["migration"], parings::db::migrate::newest());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_without_its_migrations_is_up_but_not_ready() {
    let house = house().await;
    let owner = house.pg(parings::cluster::roles::OWNER).await;
    let forget = "DELETE FROM __diesel_schema_migrations";
    owner.batch_execute(forget).await.expect("the migrations forgotten");
    house.get("/healthz", None).await.expect(200);
    house.get("/readyz", None).await.expect_problem(503, "busy");
}

/// Ends all other connections to a database, and comes back when they are gone.
async fn cut_off(pg: &Client) {
    let sql = "SELECT pg_terminate_backend(pid, 60000) FROM pg_stat_activity
        WHERE datname = current_database() AND pid <> pg_backend_pid()";
    pg.query(sql, &[]).await.expect("ended");
}

/// RFC 9110, sections 15.6.4 and 10.2.3: 503 while a server is not able to, with `Retry-After`. Read.
fn says(reply: &Reply, words: &str) {
    reply.expect_problem(503, "no-database");
    assert_eq!(reply.header("retry-after"), "10");
    assert!(reply.json["detail"].as_str().is_some_and(|d| d.starts_with(words)), "{}", reply.text);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_that_is_away_is_told_so_and_is_found_again() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    let path = "/v1/people";
    house.get(path, Some(&office.token)).await.expect(200);
    let pg = house.pg(SUPERUSER).await;
    // Connections that broke while nobody used them are noticed before anybody does.
    cut_off(&pg).await;
    house.get(path, Some(&office.token)).await.expect(200);

    let name: String = pg.query_one("SELECT current_database()", &[]).await.expect("a name").get(0);
    pg.batch_execute(&format!("REVOKE CONNECT ON DATABASE {name} FROM PUBLIC, {APP}"))
        .await
        .expect("closed");
    cut_off(&pg).await;
    let away = "The server cannot reach its database. Send it again";
    says(&house.get("/readyz", None).await, away);
    says(&house.get(path, Some(&office.token)).await, away);
    house.get("/healthz", None).await.expect(200);
    pg.batch_execute(&format!("GRANT CONNECT ON DATABASE {name} TO {APP}")).await.expect("open");
    house.get("/readyz", None).await.expect(200);
    house.get(path, Some(&office.token)).await.expect(200);
}

/// The connection breaks while a statement runs: it waits for a lock that the test holds.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_connection_that_breaks_under_a_request_is_no_fault_of_ours() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    let pg = house.pg(SUPERUSER).await;
    pg.batch_execute("BEGIN; LOCK TABLE people IN ACCESS EXCLUSIVE MODE").await.expect("locked");
    let broken = async {
        // As soon as it waits.
        let sql = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity
            WHERE datname = current_database() AND wait_event_type = 'Lock'";
        let watcher = house.pg(SUPERUSER).await;
        while watcher.query(sql, &[]).await.expect("ended").is_empty() {}
    };
    let (reply, ()) = tokio::join!(house.get("/v1/people", Some(&office.token)), broken);
    says(&reply, "The server cannot reach its database. Send it again");
    pg.batch_execute("ROLLBACK").await.expect("unlocked");
    house.get("/v1/people", Some(&office.token)).await.expect(200);
}

/// PostgreSQL says 53100 and these words when a file cannot grow (`mdextend` of its md.c, read).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_full_disk_is_told_so_and_the_same_write_goes_in_afterwards() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    let pg = house.pg(SUPERUSER).await;
    pg.batch_execute(
        r#"CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$
           BEGIN
             RAISE disk_full USING MESSAGE =
               'could not extend file "base/5/1259": No space left on device';
           END $$;
           CREATE TRIGGER full_disk BEFORE INSERT ON writes FOR EACH ROW EXECUTE FUNCTION full_disk()"#,
    )
    .await
    .expect("no room");
    let key = new_id().to_string();
    let write = async || {
        let headers = [("Idempotency-Key", key.as_str())];
        let person =
            json!({ "email": "ada@example.com", "name": "Ada", "role": "office", "places": [] });
        let sending =
            Sending { token: Some(&office.token), json: Some(&person), headers: &headers };
        house.send(Method::POST, "/v1/people", sending).await
    };
    says(&write().await, "The disk of the database is full: nothing can be saved until somebody");
    pg.batch_execute("DROP TRIGGER full_disk ON writes").await.expect("room");
    write().await.expect(201);
}

/// A disk that is full is one on which not even a temporary file may grow.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_whose_database_cannot_write_is_up_but_not_ready() {
    let house = house().await;
    let pg = house.pg(SUPERUSER).await;
    let name: String = pg.query_one("SELECT current_database()", &[]).await.expect("a name").get(0);
    let limit = format!("ALTER ROLE {APP} IN DATABASE {name} SET temp_file_limit");
    pg.batch_execute(&format!("{limit} = 0")).await.expect("no room");
    cut_off(&pg).await;
    says(&house.get("/readyz", None).await, "The disk of the database is full");
    house.get("/healthz", None).await.expect(200);
    pg.batch_execute(&format!("{limit} = -1")).await.expect("room");
    cut_off(&pg).await;
    house.get("/readyz", None).await.expect(200);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_unknown_address_is_a_problem() {
    let house = house().await;
    for path in ["/nowhere", "/v1", "/v1/nowhere", "/healthz/", "//", "/%2e%2e/etc"] {
        house.get(path, None).await.expect_problem(404, "not-found");
    }
}

/// RFC 9110, section 15.5.6: a 405 lists in `Allow` what the address takes. From memory.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_unknown_method_is_a_problem_that_lists_the_known_ones() {
    let house = house().await;
    for method in [Method::POST, Method::PUT, Method::DELETE, Method::PATCH] {
        let reply = house.send(method, "/healthz", Sending::default()).await;
        reply.expect_problem(405, "method-not-allowed");
        assert_eq!(reply.header("allow"), "GET", "{}", reply.asked);
    }
}

/// RFC 9110, section 9.3.2: the headers of GET, without the content. From memory.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn head_is_get_without_the_content() {
    let house = house().await;
    for path in ["/healthz", "/readyz", "/openapi.json", "/", "/nowhere"] {
        let get = house.get(path, None).await;
        let head = house.send(Method::HEAD, path, Sending::default()).await;
        head.expect(get.status.as_u16());
        assert_eq!(head.text, "", "{path}");
        for header in ["content-type", "content-length"] {
            assert_eq!(head.header(header), get.header(header), "{path}: {header}");
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_answer_has_an_id_of_its_own_and_tells_browsers_what_not_to_do() {
    let house = house().await;
    let mut seen = BTreeSet::new();
    for path in ["/", "/healthz", "/healthz", "/readyz", "/nowhere", "/docs/", "/metrics"] {
        let reply = house.get(path, None).await;
        let id = reply.header("x-request-id").to_owned();
        assert!(uuid::Uuid::parse_str(&id).is_ok(), "{path}: {id:?}");
        assert!(seen.insert(id), "{path}: an id given twice");
        assert_eq!(reply.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(reply.header("referrer-policy"), "no-referrer", "{path}");
        let policy = reply.header("content-security-policy");
        for rule in ["default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"] {
            assert!(policy.contains(rule), "{path}: {policy}");
        }
        let scripts = policy.contains("script-src 'self'") && !policy.contains("unsafe-eval");
        assert_eq!(path == "/docs/", scripts, "{path}: {policy}");
    }
}

/// No time at all: a request that has to wait for anything is stopped at its first wait.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_request_that_takes_too_long_is_stopped_and_counted() {
    let house = House::with(|config| config.http.request_timeout = Duration::ZERO).await;
    let late = house.get("/readyz", None).await;
    late.expect_problem(503, "timeout");
    assert_eq!(late.header("retry-after"), "2");
    let metrics = house.get("/metrics", None).await;
    let counted = r#"parings_http_requests_total{method="GET",route="none",status="503"} 1"#;
    assert!(metrics.expect(200).text.contains(counted), "{}", metrics.text);
}

/// Every label is kept for ever, so none may be of a client's making.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_clients_invent_is_counted_under_one_word() {
    let house = house().await;
    for n in 0..20 {
        let method = Method::from_bytes(format!("INVENTED{n}").as_bytes()).expect("a method");
        let path = format!("/v1/invented-{n}");
        house.send(method, &path, Sending::default()).await.expect(404);
    }
    let metrics = house.get("/metrics", None).await;
    let counted = r#"parings_http_requests_total{method="other",route="none",status="404"} 20"#;
    assert!(metrics.expect(200).text.contains(counted), "{}", metrics.text);
    assert!(!metrics.text.to_lowercase().contains("invented"), "{}", metrics.text);
}

/// The rules of the Prometheus text format 0.0.4 (prometheus.io, "Exposition formats", from
/// memory): each family has one HELP and one TYPE line before its samples, and no sample is given
/// twice. By its naming practices a counter ends in `_total` and times are in seconds.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn counters_follow_the_text_format() {
    let house = house().await;
    house.get("/healthz", None).await.expect(200);
    house.get("/nowhere", None).await.expect(404);
    let reply = house.get("/metrics", None).await;
    assert_eq!(
        reply.expect(200).header("content-type"),
        "text/plain; version=0.0.4; charset=utf-8"
    );
    assert!(reply.text.ends_with('\n'));
    let mut helped = BTreeSet::new();
    let mut types = BTreeMap::new();
    let mut samples = BTreeSet::new();
    for line in reply.text.lines() {
        if let Some(help) = line.strip_prefix("# HELP ") {
            let (name, said) = help.split_once(' ').expect("a sentence");
            assert!(helped.insert(name) && !said.is_empty(), "{line}");
        } else if let Some(kind) = line.strip_prefix("# TYPE ") {
            let (name, kind) = kind.split_once(' ').expect("a type");
            assert!(types.insert(name, kind).is_none(), "{line}");
            assert_eq!(name.ends_with("_total"), kind == "counter", "{line}");
            assert!(kind != "histogram" || name.ends_with("_seconds"), "{line}");
        } else {
            let (series, value) = line.rsplit_once(' ').expect("a value");
            assert!(value.parse::<f64>().is_ok(), "{line}");
            assert!(samples.insert(series), "twice: {line}");
            let name = series.split('{').next().unwrap_or_default();
            let family = ["_bucket", "_sum", "_count"]
                .iter()
                .filter_map(|suffix| name.strip_suffix(suffix))
                .find(|family| types.get(family) == Some(&"histogram"))
                .unwrap_or(name);
            assert!(helped.contains(family) && types.contains_key(family), "{line}");
        }
    }
    assert!(samples.len() > 20, "hardly anything is counted:\n{}", reply.text);
}
