//! People and services, and the writes about them that can be sent again.

use parings::app::office::operator;
use parings::app::office::people::NewPerson;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::OWNER;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_core::ids::StoreId;
use parings_tests::Reply;
use parings_tests::house::{House, Sending, house};
use parings_tests::network;
use reqwest::Method;
use serde_json::{Value, json};

fn store(code: &str) -> StoreId {
    StoreId::new(code).expect("a code")
}

async fn office(house: &House) -> String {
    house.token(&house.person(Role::Office).await)
}

async fn post(house: &House, token: &str, path: &str, key: &str, body: Option<&Value>) -> Reply {
    let headers = &[("idempotency-key", key)];
    let sending = Sending { token: Some(token), headers, json: body };
    house.send(Method::POST, path, sending).await
}

fn key() -> String {
    new_id().to_string()
}

fn ada() -> Value {
    json!({ "name": "Ada", "email": "Ada@example.com", "role": "manager", "places": ["mill"] })
}

async fn add(house: &House, token: &str, person: &Value) -> Reply {
    let reply = post(house, token, "/v1/people", &key(), Some(person)).await;
    reply.expect(201);
    reply
}

async fn sign_in(house: &House, email: &str, password: &str) -> Reply {
    house.post("/v1/sessions", None, &json!({ "email": email, "password": password })).await
}

fn text<'a>(reply: &'a Reply, member: &str) -> &'a str {
    reply.json[member].as_str().unwrap_or_else(|| panic!("no {member}: {}", reply.text))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_made_password_is_shown_once_and_kept_nowhere() {
    let house = house().await;
    let office = office(&house).await;
    let key = key();
    let first = post(&house, &office, "/v1/people", &key, Some(&ada())).await;
    first.expect(201);
    let password = text(&first, "password");
    assert_eq!(first.json["password_withheld"], false);
    assert_eq!(first.json["email"], "ada@example.com");

    let again = post(&house, &office, "/v1/people", &key, Some(&ada())).await;
    again.expect(201);
    assert_eq!(again.json["id"], first.json["id"]);
    assert_eq!(again.header("etag"), first.header("etag"));
    assert_eq!(
        (again.json.get("password"), &again.json["password_withheld"]),
        (None, &json!(true))
    );

    sign_in(&house, "ada@example.com", password).await.expect(201);
    let rows = house.pg(SUPERUSER).await;
    for table in ["people", "writes", "audit"] {
        let sql = format!("SELECT count(*) FROM {table} t WHERE t::text LIKE '%{password}%'");
        let found: i64 = rows.query_one(&sql, &[]).await.expect("a count").get(0);
        assert_eq!(found, 0, "{table}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_id_belongs_to_one_write_of_one_person() {
    let house = house().await;
    let (one, other) = (office(&house).await, office(&house).await);
    let key = key();
    let mut chosen = ada();
    chosen["password"] = json!("chosen by somebody");
    post(&house, &one, "/v1/people", &key, Some(&chosen)).await.expect(201);
    post(&house, &one, "/v1/people", &key, Some(&chosen)).await.expect(201);
    let mut otherwise = chosen.clone();
    otherwise["name"] = json!("Ben");
    let mut another_password = chosen.clone();
    another_password["password"] = json!("chosen by somebody else");
    for body in [&otherwise, &another_password, &ada()] {
        let reply = post(&house, &one, "/v1/people", &key, Some(body)).await;
        reply.expect_problem(422, "id-taken");
    }
    let service = json!({ "name": "Till", "stores": ["mill"] });
    let reply = post(&house, &one, "/v1/services", &key, Some(&service)).await;
    reply.expect_problem(422, "id-taken");
    let reply = post(&house, &other, "/v1/services", &key, Some(&service)).await;
    reply.expect_problem(422, "id-taken");
    assert_eq!(house.get("/v1/services", Some(&one)).await.json["items"], json!([]));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn resends_at_the_same_time_add_one_person() {
    let house = house().await;
    let office = office(&house).await;
    let (key, ada) = (key(), ada());
    let send = || post(&house, &office, "/v1/people", &key, Some(&ada));
    let (a, b, c) = tokio::join!(send(), send(), send());
    for reply in [&a, &b, &c] {
        assert_eq!(reply.expect(201).json["id"], a.json["id"]);
    }
    let shown = [&a, &b, &c].iter().filter(|reply| reply.json.get("password").is_some()).count();
    assert_eq!(shown, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_taken_is_named_all_at_once() {
    let house = house().await;
    let office = office(&house).await;
    let bad = json!({
        "name": " ", "email": "nowhere", "role": "coach", "places": ["Not A Code"],
        "password": "short",
    });
    let reply = post(&house, &office, "/v1/people", &key(), Some(&bad)).await;
    reply.expect_problem(422, "invalid");
    assert_eq!(reply.pointers(), ["/name", "/email", "/places", "/password"]);
    for (role, places, pointer) in [
        ("chef", json!([]), "/role"),
        ("till", json!(["mill"]), "/role"),
        ("office", json!(["mill"]), "/places"),
        ("crew", json!([]), "/places"),
    ] {
        let body = json!({ "name": "A", "email": "a@b", "role": role, "places": places });
        let reply = post(&house, &office, "/v1/people", &key(), Some(&body)).await;
        reply.expect_problem(422, "invalid");
        assert_eq!(reply.pointers(), [pointer], "{role}");
    }
    let without_key = house.post("/v1/people", Some(&office), &ada()).await;
    without_key.expect_problem(400, "unreadable");
    add(&house, &office, &ada()).await;
    let twice = post(&house, &office, "/v1/people", &key(), Some(&ada())).await;
    twice.expect_problem(409, "conflict");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn people_are_for_head_office_alone() {
    let house = house().await;
    for role in [Role::Manager(vec![store("mill")]), Role::Till(vec![store("mill")])] {
        let person = house.person(role).await;
        let token = house.token(&person);
        let one = format!("/v1/people/{}", person.id);
        for path in ["/v1/people", "/v1/services", &one] {
            house.get(path, Some(&token)).await.expect_problem(403, "forbidden");
        }
        let reply = post(&house, &token, "/v1/people", &key(), Some(&ada())).await;
        reply.expect_problem(403, "forbidden");
        for verb in ["disable", "enable", "reset"] {
            let reply = post(&house, &token, &format!("{one}/{verb}"), &key(), None).await;
            reply.expect_problem(403, "forbidden");
        }
        assert_eq!(
            house.get("/v1/me", Some(&token)).await.expect(200).json["places"],
            json!(["mill"])
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_change_needs_the_etag_last_read_and_holds_at_once() {
    let house = house().await;
    let office = office(&house).await;
    let added = add(&house, &office, &ada()).await;
    let path = format!("/v1/people/{}", text(&added, "id"));
    let session = sign_in(&house, "ada@example.com", text(&added, "password")).await;
    let token = text(&session, "access_token");
    let etag = added.header("etag");
    let change = json!({
        "submission_id": key(), "name": "Ada", "role": "coach", "places": ["upper"],
    });
    house
        .put(&path, Some(&office), &[], &change)
        .await
        .expect_problem(428, "precondition-required");
    let stale = house.put(&path, Some(&office), &[("if-match", "\"0\"")], &change).await;
    stale.expect_problem(412, "precondition-failed");
    let changed = house.put(&path, Some(&office), &[("if-match", etag)], &change).await;
    changed.expect(200);
    assert_ne!(changed.header("etag"), etag);
    // A resend is not held up by the ETag that it made old itself.
    let again = house.put(&path, Some(&office), &[("if-match", etag)], &change).await;
    assert_eq!(again.expect(200).json, changed.json);
    let read = house.get(&path, Some(&office)).await;
    assert_eq!(read.expect(200).header("etag"), changed.header("etag"));
    // The token says who she is; what she may do is read at every request.
    let me = house.get("/v1/me", Some(token)).await;
    assert_eq!((&me.json["role"], &me.json["places"]), (&json!("coach"), &json!(["upper"])));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_disabled_person_is_out_at_once() {
    let house = house().await;
    let office = office(&house).await;
    let added = add(&house, &office, &ada()).await;
    let path = format!("/v1/people/{}", text(&added, "id"));
    let password = text(&added, "password");
    let session = sign_in(&house, "ada@example.com", password).await;
    let me = || house.get("/v1/me", Some(text(&session, "access_token")));
    me().await.expect(200);
    let disabled = post(&house, &office, &format!("{path}/disable"), &key(), None).await;
    assert!(disabled.expect(200).json["disabled_at"].is_string());
    me().await.expect_problem(401, "unauthenticated");
    let refresh = json!({ "refresh_token": text(&session, "refresh_token") });
    let refused = house.post("/v1/sessions/refresh", None, &refresh).await;
    refused.expect_problem(401, "unauthenticated");
    sign_in(&house, "ada@example.com", password).await.expect_problem(401, "unauthenticated");
    let enabled = post(&house, &office, &format!("{path}/enable"), &key(), None).await;
    assert!(enabled.expect(200).json.get("disabled_at").is_none());
    me().await.expect_problem(401, "unauthenticated");
    sign_in(&house, "ada@example.com", password).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_reset_ends_every_session_and_the_old_password() {
    let house = house().await;
    let office = office(&house).await;
    let added = add(&house, &office, &ada()).await;
    let path = format!("/v1/people/{}/reset", text(&added, "id"));
    let old = text(&added, "password");
    let session = sign_in(&house, "ada@example.com", old).await;
    let key = key();
    let reset = post(&house, &office, &path, &key, None).await;
    reset.expect(200);
    let me = house.get("/v1/me", Some(text(&session, "access_token"))).await;
    me.expect_problem(401, "unauthenticated");
    sign_in(&house, "ada@example.com", old).await.expect_problem(401, "unauthenticated");
    sign_in(&house, "ada@example.com", text(&reset, "password")).await.expect(201);
    let again = post(&house, &office, &path, &key, None).await;
    assert_eq!(again.expect(200).json["password_withheld"], true);
    sign_in(&house, "ada@example.com", text(&reset, "password")).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_shuts_themselves_out() {
    let house = house().await;
    let person = house.person(Role::Office).await;
    let token = house.token(&person);
    let path = format!("/v1/people/{}", person.id);
    let reply = post(&house, &token, &format!("{path}/disable"), &key(), None).await;
    reply.expect_problem(409, "conflict");
    let change = json!({
        "submission_id": key(), "name": "Me", "role": "crew", "places": ["mill"],
    });
    let reply = house.put(&path, Some(&token), &[("if-match", "*")], &change).await;
    reply.expect_problem(409, "conflict");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn pages_of_people_follow_one_another() {
    let house = house().await;
    let office = office(&house).await;
    for n in 0..4 {
        let person =
            json!({ "name": n.to_string(), "email": format!("{n}@example.com"), "role": "office" });
        add(&house, &office, &person).await;
    }
    let mut names = Vec::new();
    let mut path = "/v1/people?limit=2".to_owned();
    loop {
        let page = house.get(&path, Some(&office)).await;
        let items = page.expect(200).json["items"].as_array().expect("items").clone();
        assert!(items.len() <= 2);
        names.extend(items.iter().map(|p| p["name"].as_str().unwrap_or_default().to_owned()));
        match page.json["next"].as_str() {
            Some(next) => path = format!("/v1/people?limit=2&after={next}"),
            None => break,
        }
    }
    assert_eq!(names, ["Somebody", "0", "1", "2", "3"]);
    for bad in ["limit=0", "limit=201", "after=x"] {
        let reply = house.get(&format!("/v1/people?{bad}"), Some(&office)).await;
        reply.expect_problem(422, "invalid");
    }
    let reply = house.get("/v1/people?page=2", Some(&office)).await;
    reply.expect_problem(400, "unreadable");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_service_shows_its_secret_until_it_is_revoked() {
    let house = house().await;
    let office = office(&house).await;
    let (key, new) = (key(), json!({ "name": "Till 1", "stores": ["mill", "ford"] }));
    let added = post(&house, &office, "/v1/services", &key, Some(&new)).await;
    added.expect(201);
    let secret = text(&added, "secret");
    let again = post(&house, &office, "/v1/services", &key, Some(&new)).await;
    assert_eq!((again.json.get("secret"), &again.json["secret_withheld"]), (None, &json!(true)));

    let me = house.get("/v1/me", Some(secret)).await;
    assert_eq!(me.expect(200).json["role"], "till");
    let sending = Sending { token: Some(secret), ..Sending::default() };
    house.send(Method::DELETE, "/v1/sessions", sending).await.expect_problem(409, "conflict");
    let (head, tail) = secret.split_at(secret.len() - 2);
    let forged = format!("{head}{}", if tail == "AA" { "BA" } else { "AA" });
    let unknown = secret.replacen(&secret[4..36], &new_id().simple().to_string(), 1);
    for bad in [&forged, &unknown] {
        house.get("/v1/me", Some(bad)).await.expect_problem(401, "unauthenticated");
    }
    // A service is no person: it cannot be reset to sign in.
    let id = text(&added, "id");
    let reset = post(&house, &office, &format!("/v1/people/{id}/reset"), &self::key(), None).await;
    reset.expect_problem(404, "not-found");

    let revoke = format!("/v1/services/{id}/revoke");
    let revoked = post(&house, &office, &revoke, &self::key(), None).await;
    assert!(revoked.expect(200).json["revoked_at"].is_string());
    house.get("/v1/me", Some(secret)).await.expect_problem(401, "unauthenticated");
    let enable = format!("/v1/people/{id}/enable");
    post(&house, &office, &enable, &self::key(), None).await.expect_problem(404, "not-found");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_change_leaves_an_audit_row_with_its_request() {
    let house = house().await;
    let office = office(&house).await;
    let added = add(&house, &office, &ada()).await;
    let id = text(&added, "id");
    let reset = post(&house, &office, &format!("/v1/people/{id}/reset"), &key(), None).await;
    let disable = post(&house, &office, &format!("/v1/people/{id}/disable"), &key(), None).await;
    let rows = house.pg(SUPERUSER).await;
    let rows = rows.query("SELECT action, target, request_id FROM audit ORDER BY id", &[]).await;
    let found: Vec<[String; 3]> =
        rows.expect("rows").iter().map(|r| [r.get(0), r.get(1), r.get(2)]).collect();
    let target = format!("person {id}");
    let expected = [
        ("add person", &added),
        ("reset password of person", &reset),
        ("disable person", &disable),
    ]
    .map(|(action, reply)| {
        [action.to_owned(), target.clone(), reply.header("x-request-id").to_owned()]
    });
    assert_eq!(found, expected);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_first_person_is_added_with_the_owners_connection() {
    let house = house().await;
    let mut owner = house.diesel(OWNER).await;
    let new = NewPerson {
        name: "Ada".to_owned(),
        email: "ada@example.com".to_owned(),
        role: Role::Office,
        password: None,
    };
    let now = house.clock.now();
    let (_, password) = operator::add(&mut owner, now, new).await.expect("added");
    let password = password.expect("a password was made");
    let session = sign_in(&house, "ada@example.com", &password).await;
    session.expect(201);
    house.get("/v1/people", Some(text(&session, "access_token"))).await.expect(200);

    let (_, other) = operator::reset(&mut owner, now, "Ada@example.com").await.expect("reset");
    let me = || house.get("/v1/me", Some(text(&session, "access_token")));
    me().await.expect_problem(401, "unauthenticated");
    sign_in(&house, "ada@example.com", &other).await.expect(201);
    operator::disable(&mut owner, now, "ada@example.com").await.expect("disabled");
    sign_in(&house, "ada@example.com", &other).await.expect_problem(401, "unauthenticated");
    let people = operator::list(&mut owner).await.expect("a list");
    assert_eq!(people.len(), 1);
    assert!(people[0].disabled_at.is_some());
    assert!(operator::disable(&mut owner, now, "eve@example.com").await.is_err());
}

async fn change_password(house: &House, token: &str, key: &str, old: &str, new: &str) -> Reply {
    post(house, token, "/v1/me/password", key, Some(&json!({ "old": old, "new": new }))).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn people_change_their_own_password_and_their_other_sessions_end() {
    const NEW: &str = "four words not together";
    let house = house().await;
    let office = office(&house).await;
    let added = add(&house, &office, &ada()).await;
    let old = text(&added, "password");
    let here = sign_in(&house, "ada@example.com", old).await;
    let elsewhere = sign_in(&house, "ada@example.com", old).await;
    let token = text(&here, "access_token");
    let wrong = change_password(&house, token, &key(), "wrong", NEW).await;
    wrong.expect_problem(422, "invalid");
    assert_eq!(wrong.pointers(), ["/old"]);
    for bad in ["short", "password123"] {
        let refused = change_password(&house, token, &key(), old, bad).await;
        refused.expect_problem(422, "invalid");
        assert_eq!(refused.pointers(), ["/new"], "{bad}");
    }

    let key = key();
    let changed = change_password(&house, token, &key, old, NEW).await;
    assert_eq!(changed.expect(200).json["email"], "ada@example.com");
    let again = change_password(&house, token, &key, old, NEW).await;
    assert_eq!(again.expect(200).json, changed.json, "a resend, though the old one holds no more");
    let other = change_password(&house, token, &key, old, "yet another one").await;
    other.expect_problem(422, "id-taken");

    house.get("/v1/me", Some(token)).await.expect(200);
    let gone = house.get("/v1/me", Some(text(&elsewhere, "access_token"))).await;
    gone.expect_problem(401, "unauthenticated");
    let refreshed = json!({ "refresh_token": text(&elsewhere, "refresh_token") });
    house.post("/v1/sessions/refresh", None, &refreshed).await.expect(401);
    sign_in(&house, "ada@example.com", old).await.expect(401);
    sign_in(&house, "ada@example.com", NEW).await.expect(201);
    let rows = house.pg(SUPERUSER).await;
    for password in [old, NEW] {
        for table in ["people", "writes", "audit"] {
            let sql = format!("SELECT count(*) FROM {table} t WHERE t::text LIKE '%{password}%'");
            let found: i64 = rows.query_one(&sql, &[]).await.expect("a count").get(0);
            assert_eq!(found, 0, "{table}");
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_guesses_the_old_password_of_an_open_session_waits() {
    let house = House::with(|config| config.signin.free_tries = 1).await;
    let office = office(&house).await;
    let added = add(&house, &office, &ada()).await;
    let session = sign_in(&house, "ada@example.com", text(&added, "password")).await;
    let token = text(&session, "access_token");
    let guess = async || change_password(&house, token, &key(), "a guess", "a quiet evening").await;
    for _ in 0..2 {
        guess().await.expect_problem(422, "invalid");
    }
    let late = guess().await;
    late.expect_problem(429, "too-many-requests");
    assert_eq!(late.header("retry-after"), "1");
    sign_in(&house, "ada@example.com", text(&added, "password")).await.expect(201);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_password_that_others_would_think_of_is_refused() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let settings = house.get("/v1/reference/settings/network", Some(&office.token)).await;
    let chain =
        settings.expect(200).json["document"]["title"].as_str().expect("a title").to_owned();
    for bad in ["password1", "lovelace at home", &format!("{chain}!")] {
        let mut person = ada();
        person["email"] = json!("ada.lovelace@example.com");
        person["password"] = json!(bad);
        let refused = post(&house, &office.token, "/v1/people", &key(), Some(&person)).await;
        refused.expect_problem(422, "invalid");
        assert_eq!(refused.pointers(), ["/password"], "{bad}");
    }
}
