//! Signing in, staying signed in, and signing out.

use std::pin::pin;

use chrono::TimeDelta;
use futures::poll;
use parings::app::office::operator;
use parings::app::office::people::NewPerson;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_core::ids::StoreId;
use parings_tests::Reply;
use parings_tests::house::{House, Person, Sending, house};
use reqwest::Method;
use serde_json::{Value, json};
use tokio_postgres::error::SqlState;

const EMAIL: &str = "ada@example.com";
const PASSWORD: &str = "a quiet evening in june";

/// A house in which Ada, manager of the mill, can sign in.
async fn house_with_ada() -> House {
    with_ada(house().await).await
}

async fn with_ada(house: House) -> House {
    let new = NewPerson {
        name: "Ada".to_owned(),
        email: EMAIL.to_owned(),
        role: Role::Manager(vec![StoreId::new("mill").expect("a code")]),
        password: Some(PASSWORD.to_owned()),
    };
    let mut owner = house.diesel(SUPERUSER).await;
    operator::add(&mut owner, house.clock.now(), new).await.expect("Ada is added");
    house
}

async fn sign_in(house: &House, email: &str, password: &str) -> Reply {
    house.post("/v1/sessions", None, &json!({ "email": email, "password": password })).await
}

async fn refresh(house: &House, token: &str) -> Reply {
    house.post("/v1/sessions/refresh", None, &json!({ "refresh_token": token })).await
}

fn text<'a>(reply: &'a Reply, member: &str) -> &'a str {
    reply.json[member].as_str().unwrap_or_else(|| panic!("no {member}: {}", reply.text))
}

fn later(house: &House, seconds: i64) {
    house.clock.set(house.clock.now() + TimeDelta::seconds(seconds));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_signs_in_is_who_they_are() {
    let house = house_with_ada().await;
    let session = sign_in(&house, " Ada@Example.com ", PASSWORD).await;
    session.expect(201);
    assert_eq!(session.json["token_type"], "Bearer");
    assert_eq!(session.json["expires_in"], 600);
    assert_eq!(session.header("cache-control"), "no-store");
    let person = &session.json["person"];
    assert_eq!((&person["name"], &person["role"]), (&json!("Ada"), &json!("manager")));
    assert_eq!(person["places"], json!(["mill"]));

    let me = house.get("/v1/me", Some(text(&session, "access_token"))).await;
    me.expect(200);
    assert_eq!((&me.json["id"], &me.json["email"]), (&person["id"], &json!(EMAIL)));
    later(&house, 600);
    let me = house.get("/v1/me", Some(text(&session, "access_token"))).await;
    me.expect_problem(401, "unauthenticated");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_wrong_password_and_an_unknown_address_are_answered_alike() {
    let house = house_with_ada().await;
    let wrong = sign_in(&house, EMAIL, "a quiet evening in july").await;
    let unknown = sign_in(&house, "eve@example.com", PASSWORD).await;
    let cut = sign_in(&house, EMAIL, &PASSWORD[..PASSWORD.len() - 1]).await;
    let long = sign_in(&house, EMAIL, &"x".repeat(1000)).await;
    for reply in [&wrong, &unknown, &cut, &long] {
        reply.expect_problem(401, "unauthenticated");
        assert_eq!(reply.json["detail"], wrong.json["detail"]);
    }
}

/// Signs in from an address in the world outside, as a proxy in front of the server would tell of it.
async fn sign_in_from(house: &House, from: &str, email: &str, claim: &Value) -> Reply {
    let mut body = claim.clone();
    body["email"] = json!(email);
    let headers = &[("x-forwarded-for", from)];
    let sending = Sending { json: Some(&body), headers, token: None };
    house.send(Method::POST, "/v1/sessions", sending).await
}

async fn house_behind_a_proxy() -> House {
    let house = House::with(|config| {
        config.http.proxies = 1;
        config.signin.free_tries = 3;
    });
    with_ada(house.await).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_guesses_waits_longer_each_time_and_nobody_elsewhere_does() {
    let house = house_behind_a_proxy().await;
    let (wrong, right) = (json!({ "password": "wrong" }), json!({ "password": PASSWORD }));
    for _ in 0..4 {
        let refused = sign_in_from(&house, "203.0.113.1", EMAIL, &wrong).await;
        refused.expect_problem(401, "unauthenticated");
    }
    for wait in ["1", "2", "4"] {
        for claim in [&wrong, &right] {
            let late = sign_in_from(&house, "203.0.113.1", EMAIL, claim).await;
            late.expect_problem(429, "too-many-requests");
            assert_eq!(late.header("retry-after"), wait);
        }
        sign_in_from(&house, "203.0.113.2", EMAIL, &right).await.expect(201);
        later(&house, wait.parse().expect("seconds"));
        sign_in_from(&house, "203.0.113.1", EMAIL, &wrong).await.expect(401);
    }
    // What the client itself writes into the header moves it nowhere.
    let moved = sign_in_from(&house, "203.0.113.9, 203.0.113.1", EMAIL, &right).await;
    moved.expect_problem(429, "too-many-requests");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_device_that_signed_in_before_is_let_in_whatever_others_try() {
    let house = house_behind_a_proxy().await;
    let (wrong, right) = (json!({ "password": "wrong" }), json!({ "password": PASSWORD }));
    let before = sign_in_from(&house, "203.0.113.1", EMAIL, &right).await;
    before.expect(201);
    let device = text(&before, "device_token");
    // Four addresses, among them her own, until strangers are told to wait wherever they are.
    for n in 0..16 {
        let from = format!("203.0.113.{}", n % 4);
        sign_in_from(&house, &from, EMAIL, &wrong).await.expect(401);
    }
    for from in ["203.0.113.1", "203.0.113.9"] {
        sign_in_from(&house, from, EMAIL, &right).await.expect_problem(429, "too-many-requests");
        let known = json!({ "password": PASSWORD, "device_token": device });
        let again = sign_in_from(&house, from, EMAIL, &known).await;
        again.expect(201);
        assert_eq!(text(&again, "device_token"), device);
    }
    // It opens nothing, is limited itself, and is no use at another account.
    let guess = json!({ "password": "wrong", "device_token": device });
    for _ in 0..4 {
        sign_in_from(&house, "203.0.113.9", EMAIL, &guess).await.expect(401);
    }
    sign_in_from(&house, "203.0.113.9", EMAIL, &guess).await.expect(429);
    for n in 20..24 {
        let from = format!("203.0.113.{n}");
        sign_in_from(&house, &from, "ben@example.com", &guess).await.expect(401);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_whole_chain_signs_in_from_one_address() {
    let house = with_ada(House::with(|config| config.signin.free_tries = 1).await).await;
    for _ in 0..20 {
        sign_in(&house, EMAIL, PASSWORD).await.expect(201);
    }
    // Refreshing gives no new device token: the device has one.
    let session = sign_in(&house, EMAIL, PASSWORD).await;
    let next = refresh(&house, text(&session, "refresh_token")).await;
    assert!(next.expect(201).json.get("device_token").is_none());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_too_many_at_once_some_are_asked_to_come_again_and_lose_nothing() {
    let house = House::with(|config| {
        (config.signin.hashing_at_once, config.signin.hashing_waiting) = (1, 0);
        config.signin.free_tries = 0;
    });
    let house = with_ada(house.await).await;
    {
        // Somebody else's takes the only place for as long as nobody asks what became of it.
        let mut other = pin!(house.deps.signin.passwords.hash("of somebody else".to_owned()));
        assert!(poll!(&mut other).is_pending());
        for _ in 0..3 {
            let busy = sign_in(&house, EMAIL, PASSWORD).await;
            busy.expect_problem(503, "busy");
            assert_eq!(busy.header("retry-after"), "2");
        }
    }
    sign_in(&house, EMAIL, PASSWORD).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_strangers_send_is_short() {
    let house = house_with_ada().await;
    let long = "x".repeat(10_000);
    sign_in(&house, EMAIL, &long).await.expect_problem(413, "too-large");
    refresh(&house, &long).await.expect_problem(413, "too-large");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refresh_token_sent_again_soon_gives_the_same_successor() {
    let house = house_with_ada().await;
    let session = sign_in(&house, EMAIL, PASSWORD).await;
    let first = text(&session, "refresh_token");
    let second = refresh(&house, first).await;
    second.expect(201);
    assert_ne!(text(&second, "refresh_token"), first);
    later(&house, 30);
    let again = refresh(&house, first).await;
    again.expect(201);
    assert_eq!(text(&again, "refresh_token"), text(&second, "refresh_token"));
    house.get("/v1/me", Some(text(&again, "access_token"))).await.expect(200);
    refresh(&house, text(&second, "refresh_token")).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refresh_token_sent_again_late_ends_the_session() {
    let house = house_with_ada().await;
    let session = sign_in(&house, EMAIL, PASSWORD).await;
    let first = text(&session, "refresh_token");
    let second = refresh(&house, first).await;
    second.expect(201);
    later(&house, 31);
    refresh(&house, first).await.expect_problem(401, "unauthenticated");
    // The thief's copy and the owner's alike, and the access tokens of both.
    refresh(&house, text(&second, "refresh_token")).await.expect_problem(401, "unauthenticated");
    for reply in [&session, &second] {
        let me = house.get("/v1/me", Some(text(reply, "access_token"))).await;
        me.expect_problem(401, "unauthenticated");
    }
    let rows = house.pg(SUPERUSER).await;
    let rows = rows.query("SELECT reason FROM refresh_families_ended", &[]).await.expect("rows");
    assert_eq!(rows.iter().map(|row| row.get::<_, String>(0)).collect::<Vec<_>>(), ["reused"]);
    sign_in(&house, EMAIL, PASSWORD).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn refreshes_at_the_same_time_get_one_successor() {
    let house = house_with_ada().await;
    let session = sign_in(&house, EMAIL, PASSWORD).await;
    let first = text(&session, "refresh_token");
    let (a, b, c, d) = tokio::join!(
        refresh(&house, first),
        refresh(&house, first),
        refresh(&house, first),
        refresh(&house, first)
    );
    for reply in [&a, &b, &c, &d] {
        reply.expect(201);
        assert_eq!(text(reply, "refresh_token"), text(&a, "refresh_token"));
    }
    let rows = house.pg(SUPERUSER).await;
    let row = rows.query_one("SELECT count(*) FROM refresh_tokens", &[]).await.expect("a count");
    assert_eq!(row.get::<_, i64>(0), 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_refresh_token_expires_and_what_is_none_is_refused() {
    let house = house_with_ada().await;
    let session = sign_in(&house, EMAIL, PASSWORD).await;
    later(&house, TimeDelta::days(14).num_seconds());
    let expired = refresh(&house, text(&session, "refresh_token")).await;
    expired.expect_problem(401, "unauthenticated");
    for bad in ["", "abc", &"A".repeat(43), text(&session, "access_token")] {
        refresh(&house, bad).await.expect_problem(401, "unauthenticated");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn signing_out_ends_one_session_at_once() {
    let house = house_with_ada().await;
    for by_bearer in [true, false] {
        let session = sign_in(&house, EMAIL, PASSWORD).await;
        let other = sign_in(&house, EMAIL, PASSWORD).await;
        let (access, token) = (text(&session, "access_token"), text(&session, "refresh_token"));
        let body = json!({ "refresh_token": token });
        let sending = match by_bearer {
            true => Sending { token: Some(access), ..Sending::default() },
            false => Sending { json: Some(&body), ..Sending::default() },
        };
        house.send(Method::DELETE, "/v1/sessions", sending).await.expect(204);
        house.get("/v1/me", Some(access)).await.expect_problem(401, "unauthenticated");
        refresh(&house, token).await.expect_problem(401, "unauthenticated");
        house.get("/v1/me", Some(text(&other, "access_token"))).await.expect(200);
        refresh(&house, text(&other, "refresh_token")).await.expect(201);
    }
    let unknown = json!({ "refresh_token": "A".repeat(43) });
    let sending = Sending { json: Some(&unknown), ..Sending::default() };
    house.send(Method::DELETE, "/v1/sessions", sending).await.expect(204);
    let nothing = house.send(Method::DELETE, "/v1/sessions", Sending::default()).await;
    nothing.expect_problem(415, "unsupported-media-type");
}

/// Signed by the server's own key, so only the records tell that nobody is signed in there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_session_that_is_not_on_record_is_nobodys() {
    let house = house().await;
    let (one, other) = (house.person(Role::Office).await, house.person(Role::Office).await);
    house.get("/v1/me", Some(&house.token(&one))).await.expect(200);
    for session in [Some(new_id()), other.session] {
        let shown = house.token(&Person { session, ..one.clone() });
        house.get("/v1/me", Some(&shown)).await.expect_problem(401, "unauthenticated");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sign_ins_leave_audit_rows_that_tell_no_secret() {
    let house = house_with_ada().await;
    let good = sign_in(&house, EMAIL, PASSWORD).await;
    let wrong = sign_in(&house, EMAIL, "wrong-password").await;
    let unknown = sign_in(&house, "eve@example.com", "typed-by-eve").await;
    let rows = house.pg(SUPERUSER).await;
    let rows = rows
        .query(
            "SELECT action, target, request_id, person_id::text, detail::text FROM audit
              WHERE action LIKE 'sign in%' ORDER BY id",
            &[],
        )
        .await
        .expect("rows");
    let cell = |row: usize, column: usize| -> String {
        rows[row].get::<_, Option<String>>(column).unwrap_or_default()
    };
    let id = text_of_person(&good);
    assert_eq!(rows.len(), 3);
    for (row, reply, action, target, person) in [
        (0, &good, "sign in", format!("person {id}"), id.clone()),
        (1, &wrong, "sign in refused", format!("person {id}"), String::new()),
        (2, &unknown, "sign in refused", "no account".to_owned(), String::new()),
    ] {
        assert_eq!(cell(row, 0), action);
        assert_eq!(cell(row, 1), target);
        assert_eq!(cell(row, 2), reply.header("x-request-id"));
        assert_eq!(cell(row, 3), person);
        let detail = cell(row, 4);
        assert!(detail.contains("127.0.0.1"), "{detail}");
        for secret in ["wrong-password", "typed-by-eve", "eve@", PASSWORD] {
            assert!(!detail.contains(secret), "{detail}");
        }
    }
}

fn text_of_person(session: &Reply) -> String {
    session.json["person"]["id"].as_str().expect("an id").to_owned()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_published_keys_are_public_halves_and_name_the_signing_key() {
    let house = house_with_ada().await;
    let keys = house.get("/.well-known/jwks.json", None).await;
    keys.expect(200);
    let key = &keys.json["keys"][0];
    assert_eq!((&key["kty"], &key["crv"]), (&json!("OKP"), &json!("Ed25519")));
    assert_eq!((&key["alg"], &key["use"]), (&json!("EdDSA"), &json!("sig")));
    assert_eq!(key["kid"], house.deps.signin.keys.signing().id);
    assert!(key.get("d").is_none(), "the private half is published");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_database_itself_refuses_what_has_been_overtaken_or_is_not_theirs() {
    let house = house_with_ada().await;
    let session = sign_in(&house, EMAIL, PASSWORD).await;
    let id = format!("'{}'", text_of_person(&session));
    let app = house.pg(APP).await;
    // The password was changed between being verified and the start of the session.
    let started = app
        .query_one(
            &format!(
                "SELECT start_session({id}, 'an earlier hash', gen_random_uuid(), '\\x00', now(),
                   now() + interval '1 day')"
            ),
            &[],
        )
        .await
        .expect("an answer");
    assert!(!started.get::<_, bool>(0));
    // Nobody acts, so nobody's sessions may be ended.
    let sql = format!("SELECT end_sessions_of({id}, now(), 'reset')");
    let refused = app.execute(&sql, &[]).await.expect_err("refused");
    assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE));
    for table in ["refresh_tokens", "refresh_families_ended"] {
        let sql = format!("SELECT * FROM {table}");
        let refused = app.query(&sql, &[]).await.expect_err("refused");
        assert_eq!(refused.code(), Some(&SqlState::INSUFFICIENT_PRIVILEGE), "{table}");
    }
    house.get("/v1/me", Some(text(&session, "access_token"))).await.expect(200);
}
