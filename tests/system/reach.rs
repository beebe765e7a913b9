//! Who reaches which operation: the policy's answer for every operation of the API document, and
//! what the server answers when each role asks, about what is theirs and about what is not.

use std::fmt::Write;

use parings::cluster::SUPERUSER;
use parings::edge::new_id;
use parings_core::access::{Action, Actor, Role, Ruling, Standing, Target, can};
use parings_tests::golden::assert_committed;
use parings_tests::house::{House, Person, Sending, house};
use parings_tests::network::{self, CREATE};
use parings_tests::night::{count, delivery, line, with};
use reqwest::Method;
use serde_json::{Value, json};
use tokio_postgres::types::ToSql;

use crate::operations;

/// What an operation is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    Store,
    District,
    Region,
    Owner,
    Network,
}

use About::{District, Network, Owner, Region, Store};

/// Every operation that asks who is calling, in the order of the document: what it needs, and what
/// it is about. What stands under `/v1/me` needs nothing but somebody.
const OPERATIONS: &[(&str, Option<Action>, About)] = &[
    ("GET /v1/audit", Some(Action::ReadAudit), Network),
    ("GET /v1/case-record", Some(Action::ReadCaseRecord), Network),
    ("GET /v1/cases", Some(Action::ReadCases), Network),
    ("GET /v1/districts/{district}/calendar", Some(Action::ReadCases), District),
    ("GET /v1/districts/{district}/review", Some(Action::ReadReview), District),
    ("GET /v1/districts/{district}/safety", Some(Action::ReadReview), District),
    ("GET /v1/findings", Some(Action::ReadFindings), Network),
    ("POST /v1/imports", Some(Action::Load), Network),
    ("GET /v1/me", None, Network),
    ("POST /v1/me/password", None, Network),
    ("GET /v1/par-publications", Some(Action::EditPars), Network),
    ("POST /v1/par-publications/roll-back", Some(Action::EditPars), Network),
    ("GET /v1/par-sets", Some(Action::EditPars), Network),
    ("GET /v1/par-sets/{code}", Some(Action::EditPars), Network),
    ("PUT /v1/par-sets/{code}", Some(Action::EditPars), Network),
    ("GET /v1/par-sets/{code}/difference", Some(Action::EditPars), Network),
    ("POST /v1/par-sets/{code}/publish", Some(Action::EditPars), Network),
    ("GET /v1/people", Some(Action::ReadPeople), Network),
    ("POST /v1/people", Some(Action::EditPeople), Network),
    ("GET /v1/people/{id}", Some(Action::ReadPeople), Network),
    ("PUT /v1/people/{id}", Some(Action::EditPeople), Network),
    ("POST /v1/people/{id}/disable", Some(Action::EditPeople), Network),
    ("POST /v1/people/{id}/enable", Some(Action::EditPeople), Network),
    ("POST /v1/people/{id}/reset", Some(Action::EditPeople), Network),
    ("GET /v1/reference/{kind}", Some(Action::ReadCatalogue), Network),
    ("GET /v1/reference/{kind}/{code}", Some(Action::ReadCatalogue), Network),
    ("PUT /v1/reference/{kind}/{code}", Some(Action::EditCatalogue), Network),
    ("POST /v1/reference/{kind}/{code}/retire", Some(Action::EditCatalogue), Network),
    ("GET /v1/reference/{kind}/{code}/versions", Some(Action::ReadCatalogue), Network),
    ("POST /v1/restatements", Some(Action::Restate), Network),
    ("GET /v1/rollups", Some(Action::ReadRollup), Store),
    ("GET /v1/rollups", Some(Action::ReadRollup), District),
    ("GET /v1/rollups", Some(Action::ReadRollup), Region),
    ("GET /v1/rollups", Some(Action::ReadRollup), Owner),
    ("GET /v1/rollups", Some(Action::ReadRollup), Network),
    ("GET /v1/rollups/changes", Some(Action::ReadRollup), Store),
    ("GET /v1/rollups/changes", Some(Action::ReadRollup), District),
    ("GET /v1/rollups/changes", Some(Action::ReadRollup), Region),
    ("GET /v1/rollups/changes", Some(Action::ReadRollup), Owner),
    ("GET /v1/rollups/changes", Some(Action::ReadRollup), Network),
    ("GET /v1/services", Some(Action::ReadPeople), Network),
    ("POST /v1/services", Some(Action::EditPeople), Network),
    ("POST /v1/services/{id}/revoke", Some(Action::EditPeople), Network),
    ("GET /v1/shared", Some(Action::ReadShared), Network),
    ("GET /v1/stores", Some(Action::ReadCatalogue), Network),
    ("GET /v1/stores/{store}", Some(Action::ReadStore), Store),
    ("GET /v1/stores/{store}/cases/{case}", Some(Action::ReadCases), Store),
    ("POST /v1/stores/{store}/cases/{case}/events", Some(Action::FollowCase), Store),
    ("GET /v1/stores/{store}/causes", Some(Action::ReadReview), Store),
    ("GET /v1/stores/{store}/course", Some(Action::ReadReview), Store),
    ("GET /v1/stores/{store}/diary", Some(Action::ReadDiary), Store),
    ("POST /v1/stores/{store}/diary", Some(Action::WriteDiary), Store),
    ("POST /v1/stores/{store}/diary/{entry}/withdraw", Some(Action::WriteDiary), Store),
    ("GET /v1/stores/{store}/entries", Some(Action::ReadEntries), Store),
    ("POST /v1/stores/{store}/entries", Some(Action::Record), Store),
    ("POST /v1/stores/{store}/entries/{id}/withdraw", Some(Action::Record), Store),
    ("POST /v1/stores/{store}/findings/{finding}/answers", Some(Action::AnswerFinding), Store),
    ("GET /v1/stores/{store}/nights/{business_date}", Some(Action::ReadNight), Store),
    ("PUT /v1/stores/{store}/nights/{business_date}", Some(Action::SubmitNight), Store),
    ("POST /v1/stores/{store}/nights/{business_date}/approvals", Some(Action::SettleNight), Store),
    ("GET /v1/stores/{store}/nights/{business_date}/changes", Some(Action::ReadNight), Store),
    (
        "POST /v1/stores/{store}/nights/{business_date}/confirmations",
        Some(Action::SubmitNight),
        Store,
    ),
    ("POST /v1/stores/{store}/nights/{business_date}/parts", Some(Action::SubmitNight), Store),
    ("GET /v1/stores/{store}/nights/{business_date}/revisions", Some(Action::ReadNight), Store),
    (
        "GET /v1/stores/{store}/nights/{business_date}/revisions/diff",
        Some(Action::ReadNight),
        Store,
    ),
    ("GET /v1/stores/{store}/nights/{business_date}/sheet", Some(Action::ReadSheet), Store),
    ("GET /v1/stores/{store}/nights/{business_date}/trace", Some(Action::ReadNight), Store),
    ("GET /v1/stores/{store}/pars", Some(Action::ReadPars), Store),
    ("GET /v1/stores/{store}/prep", Some(Action::ReadPars), Store),
    ("GET /v1/stores/{store}/till-batches", Some(Action::ReadTill), Store),
    ("POST /v1/stores/{store}/till-batches", Some(Action::FeedTill), Store),
    ("GET /v1/stores/{store}/unmapped-codes", Some(Action::ReadTill), Store),
    ("GET /v1/tolerance-proposals", Some(Action::EditCatalogue), Network),
    ("GET /v1/transfers", Some(Action::ReadTransfers), Store),
    ("GET /v1/transfers", Some(Action::ReadTransfers), District),
    ("GET /v1/transfers", Some(Action::ReadTransfers), Region),
    ("GET /v1/transfers", Some(Action::ReadTransfers), Owner),
    ("GET /v1/transfers", Some(Action::ReadTransfers), Network),
];

/// Codes of store, district, region and owner: those of [`network::roles`], and others.
const OWN: [&str; 4] = ["ford", "upper", "valley", "brook"];
const OTHER: [&str; 4] = ["weir", "lower", "coast", "hill"];

fn standing([store, district, region, owner]: [&str; 4]) -> Standing {
    Standing {
        store: store.parse().expect(store),
        district: district.parse().expect(district),
        region: region.parse().expect(region),
        owner: owner.parse().expect(owner),
    }
}

/// The policy's answer as the status of an HTTP answer; "2xx" where the way is free.
fn expected(role: &Role, needs: Option<Action>, about: About, place: [&str; 4]) -> &'static str {
    let Some(action) = needs else { return "2xx" };
    let actor =
        Actor { person: parings_core::ids::PersonId(uuid::Uuid::nil()), role: role.clone() };
    let at = standing(place);
    let target = match about {
        Store => Target::Store(&at),
        District => Target::District(&at.district),
        Region => Target::Region(&at.region),
        Owner => Target::Owner(&at.owner),
        Network => Target::Network,
    };
    match can(&actor, action, &target) {
        Ruling::Yes => "2xx",
        Ruling::NotAllowed => "403",
        Ruling::Invisible => "404",
    }
}

fn places(about: About) -> &'static [[&'static str; 4]] {
    if about == Network { &[OWN] } else { &[OWN, OTHER] }
}

#[test]
fn every_operation_has_its_row() {
    let mut listed: Vec<&str> = OPERATIONS.iter().map(|(operation, ..)| *operation).collect();
    listed.dedup();
    assert_eq!(listed, operations::that_ask_who_is_calling());

    let mut table = String::from(
        "What each role is answered, operation by operation: the status, by the answers of\n\
         parings_core::access::can. The first is about the role's own store, district, region or\n\
         owner (an owner has no district, a coach no region), the second about others.\n\n",
    );
    let roles = network::roles();
    write!(table, "{:<66}{:<24}{:<10}", "operation", "action", "about").expect("a string grows");
    for role in &roles {
        write!(table, "{:<9}", role.word()).expect("a string grows");
    }
    for (operation, needs, about) in OPERATIONS {
        table.truncate(table.trim_end().len());
        let (action, kind) = (needs.map_or("-", Action::word), format!("{about:?}").to_lowercase());
        write!(table, "\n{operation:<66}{action:<24}{kind:<10}").expect("a string grows");
        for role in &roles {
            let answers = places(*about).iter().map(|at| expected(role, *needs, *about, *at));
            write!(table, "{:<9}", answers.collect::<Vec<_>>().join(" ")).expect("a string grows");
        }
    }
    table.truncate(table.trim_end().len());
    table.push('\n');
    assert_committed("tests/system/reach.txt", &table);
}

/// A request that is sound in itself, so that only the policy can refuse it.
struct Request {
    path: String,
    headers: Vec<(&'static str, String)>,
    body: Option<Value>,
}

/// Somebody and something that operations may be tried on.
struct Scene {
    house: House,
    somebody: Person,
    service: Person,
}

const DATE: &str = "2026-06-15";

impl Scene {
    async fn request(
        &self,
        operation: &str,
        about: About,
        place: [&str; 4],
        by: &Person,
    ) -> Request {
        let [store, district, region, owner] = place;
        let id = match operation {
            "POST /v1/services/{id}/revoke" => self.service.id.to_string(),
            _ if operation.ends_with("{id}/withdraw") => self.entry(store, by).await,
            _ => self.somebody.id.to_string(),
        };
        let finding = match operation {
            _ if operation.ends_with("/answers") => self.finding(store).await,
            _ => String::new(),
        };
        let entry = match operation {
            _ if operation.contains("/{entry}") => self.diary(store, by).await,
            _ => String::new(),
        };
        let case = match operation {
            _ if operation.contains("/{case}") => self.case(store).await,
            _ => String::new(),
        };
        let (_, template) = operation.split_once(' ').expect("a method and a path");
        let retires = operation.ends_with("/retire");
        let (kind, code) = match operation {
            _ if retires => ("places", "attic"),
            _ if template.starts_with("/v1/par-sets/") => ("", "autumn"),
            _ => ("items", "potato"),
        };
        let mut path = template
            .replace("{id}", &id)
            .replace("{finding}", &finding)
            .replace("{case}", &case)
            .replace("{entry}", &entry)
            .replace("{kind}", kind)
            .replace("{code}", code)
            .replace("{store}", store)
            .replace("{district}", district)
            .replace("{business_date}", DATE);
        let scope = match about {
            Network => "network".to_owned(),
            Store => format!("store:{store}"),
            District => format!("district:{district}"),
            Region => format!("region:{region}"),
            Owner => format!("owner:{owner}"),
        };
        let span = format!("?scope={scope}&from={DATE}&to={DATE}");
        let since = "since=2026-06-15T20:00:00Z";
        path += &match (template, about) {
            ("/v1/rollups" | "/v1/transfers", _) => span,
            ("/v1/rollups/changes", _) => format!("{span}&{since}"),
            ("/v1/stores/{store}/nights/{business_date}/changes", _) => format!("?{since}"),
            ("/v1/stores/{store}/nights/{business_date}/revisions/diff", _) => {
                "?from=1&to=1".to_owned()
            }
            ("/v1/districts/{district}/safety", _) => format!("?from={DATE}&to={DATE}"),
            ("/v1/stores/{store}/course", _) => "?measure=use".to_owned(),
            ("/v1/stores/{store}/causes", _) => {
                "?measure=use&since=2026-06-01&as_of=2026-06-14".to_owned()
            }
            ("/v1/stores/{store}/diary", _) if operation.starts_with("GET") => {
                format!("?from={DATE}&to={DATE}")
            }
            ("/v1/stores/{store}/pars", _) => format!("?date={DATE}"),
            ("/v1/stores/{store}/prep", _) => format!("?date={DATE}&daypart=dinner"),
            ("/v1/stores/{store}/unmapped-codes", _) => format!("?from={DATE}&to={DATE}"),
            ("/v1/stores/{store}/nights/{business_date}/trace", _) => {
                "?figure=used&item=potato".to_owned()
            }
            ("/v1/stores/{store}/entries" | "/v1/stores/{store}/till-batches", _)
                if operation.starts_with("GET") =>
            {
                format!("?business_date={DATE}")
            }
            _ => String::new(),
        };
        let fresh = new_id().to_string();
        let mut headers = vec![("Idempotency-Key", fresh.clone())];
        match operation {
            // A line of NDJSON is JSON.
            "POST /v1/imports" => {
                path += "?dry_run=true";
                headers.push(("content-type", "application/x-ndjson".to_owned()));
            }
            "PUT /v1/stores/{store}/nights/{business_date}" => {
                headers.push((CREATE.0, CREATE.1.to_owned()));
            }
            _ if operation.starts_with("PUT") || retires || operation.ends_with("/publish") => {
                headers.push(("If-Match", "*".into()));
            }
            _ => {}
        }
        Request { path, headers, body: body(operation, &fresh) }
    }

    /// An entry of a diary, of the one who will withdraw it.
    async fn diary(&self, store: &str, by: &Person) -> String {
        let at = standing(if store == OWN[0] { OWN } else { OTHER });
        let (district, owner) = (at.district.as_str(), at.owner.as_str());
        let sql = "INSERT INTO diary_entries (id, store_id, district_id, owner_id, kind, from_date,
              to_date, sets_aside, said, said_by, said_at)
            VALUES ($5, $1, $2, $3, 'other', '2026-06-15', '2026-06-15', false, 'A fair', $4, now())
            RETURNING id::text";
        let pg = self.house.pg(SUPERUSER).await;
        let id = new_id();
        let values = &[&store as &(dyn ToSql + Sync), &district, &owner, &by.id.0, &id];
        pg.query_one(sql, values).await.expect("an entry").get(0)
    }

    /// A case of a store.
    async fn case(&self, store: &str) -> String {
        let at = standing(if store == OWN[0] { OWN } else { OTHER });
        let (district, owner) = (at.district.as_str(), at.owner.as_str());
        let sql = "INSERT INTO cases (store_id, district_id, owner_id, measure, kind, as_of, since,
              size, seen, raised_at, raised_in)
            VALUES ($1, $2, $3, 'use', 'drift', '2026-06-15', '2026-06-01', 0.02,
              jsonb_build_object('sentence', '', 'size', '[0.02, 0.01, 0.03]'::jsonb, 'evidence',
                jsonb_build_object('before', 0, 'after', 0.02, 'nights_after', 7)), now(), $2)
            RETURNING id::text";
        let pg = self.house.pg(SUPERUSER).await;
        pg.query_one(sql, &[&store, &district, &owner]).await.expect("a case").get(0)
    }

    /// Something found in a store.
    async fn finding(&self, store: &str) -> String {
        let at = standing(if store == OWN[0] { OWN } else { OTHER });
        let (district, owner) = (at.district.as_str(), at.owner.as_str());
        let sql = "WITH made AS (INSERT INTO reviews (zone, as_of, made_at, seen, stores)
              VALUES ('Europe/Berlin', '2026-06-15', now(), '', 1) RETURNING id)
            INSERT INTO findings (review_id, store_id, district_id, owner_id, measure, kind, since,
              size, size_low, size_high, evidence, sentence, private)
            SELECT id, $1, $2, $3, 'count_habit', 'habit', '2026-06-01', 0, 0, 0,
              jsonb_build_object('before', 0, 'after', 0, 'nights_after', 7), '', false FROM made
            RETURNING id::text";
        let pg = self.house.pg(SUPERUSER).await;
        pg.query_one(sql, &[&store, &district, &owner]).await.expect("a finding").get(0)
    }

    /// An entry of the one who will withdraw it.
    async fn entry(&self, store: &str, by: &Person) -> String {
        let at = standing(if store == OWN[0] { OWN } else { OTHER });
        let (district, region, owner) =
            (at.district.as_str(), at.region.as_str(), at.owner.as_str());
        let id = new_id();
        let sql = "WITH made AS (INSERT INTO entry_ids VALUES ($1, $2, '2026-06-15'))
            INSERT INTO entries (business_date, store_id, id, kind, body, district_id, region_id,
              owner_id, recorded_by, recorded_at, write_id)
            VALUES ('2026-06-15', $2, $1, 'delivery', $6::text::jsonb, $3, $4, $5, $7, now(), $1)";
        let mut body = delivery("1", "kg");
        body.as_object_mut().expect("an object").remove("id");
        let body = body.to_string();
        let pg = self.house.pg(SUPERUSER).await;
        pg.execute(sql, &[&id, &store, &district, &region, &owner, &body, &by.id.0])
            .await
            .expect("an entry");
        id.to_string()
    }
}

fn body(operation: &str, fresh: &str) -> Option<Value> {
    Some(match operation {
        "POST /v1/people" => json!({ "name": "Ada", "email": format!("{fresh}@example.com"),
            "role": "manager", "places": ["ford"] }),
        "PUT /v1/people/{id}" => {
            json!({ "submission_id": fresh, "name": "Ada", "role": "crew", "places": ["ford"] })
        }
        "POST /v1/imports" => json!({ "store": "ford", "business_date": DATE, "id": fresh,
            "placed": "2026-06-15T12:00:00Z" }),
        "POST /v1/services" => json!({ "name": "Till", "stores": ["ford"] }),
        "PUT /v1/reference/{kind}/{code}" => network::change("2026-07-01", network::potato()),
        "POST /v1/reference/{kind}/{code}/retire" => {
            json!({ "valid_from": "2026-07-01", "reason": "Gone" })
        }
        "PUT /v1/par-sets/{code}" => {
            json!({ "submission_id": fresh, "document": { "title": "Autumn", "lines": [] } })
        }
        "POST /v1/par-sets/{code}/publish" => json!({ "from": "2026-07-01", "reason": "New" }),
        // No other set was in force before: whoever gets so far is told that.
        "POST /v1/par-publications/roll-back" => json!({ "reason": "Too much" }),
        "POST /v1/restatements" => json!({ "from": DATE, "to": DATE, "reason": "Put right" }),
        "POST /v1/me/password" => json!({ "old": "of nobody", "new": "a quiet evening" }),
        "POST /v1/stores/{store}/entries" => {
            json!({ "business_date": DATE, "entries": [delivery("1", "kg")] })
        }
        "POST /v1/stores/{store}/cases/{case}/events" => {
            json!({ "kind": "visited", "on": DATE, "note": "The scale was off" })
        }
        "POST /v1/stores/{store}/diary" => {
            json!({ "kind": "event", "from": DATE, "said": "A street fair" })
        }
        "POST /v1/stores/{store}/diary/{entry}/withdraw" => json!({ "reason": "Another street" }),
        "POST /v1/stores/{store}/findings/{finding}/answers" => json!({ "said": "As every week" }),
        "POST /v1/stores/{store}/entries/{id}/withdraw" => json!({ "reason": "Typed twice" }),
        "PUT /v1/stores/{store}/nights/{business_date}" => with(count(&[]), "complete", false),
        // Of a revision that is none: whoever gets so far is told that.
        "POST /v1/stores/{store}/nights/{business_date}/confirmations" => {
            json!({ "revision": 99, "answers": [{ "check": "old_date:night", "answer": "as_typed" }] })
        }
        "POST /v1/stores/{store}/nights/{business_date}/parts" => json!({ "complete": false,
            "lines": [line("potato", "dry-store", "1", "bag")] }),
        "POST /v1/stores/{store}/nights/{business_date}/approvals" => {
            json!({ "revision": 99, "approve": true, "reason": "It was counted twice" })
        }
        "POST /v1/stores/{store}/till-batches" => {
            json!({ "batch_id": fresh, "business_date": DATE, "sales": [] })
        }
        _ => return None,
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_role_is_answered_as_the_table_says() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let attic = json!({ "title": "Attic", "turn": 9 });
    network::put(&house, &office.token, "places", "attic", attic).await;
    let autumn =
        json!({ "submission_id": new_id(), "document": { "title": "Autumn", "lines": [] } });
    house.put("/v1/par-sets/autumn", Some(&office.token), &[CREATE], &autumn).await.expect(201);
    let mut roles = network::roles();
    let till = roles.pop().expect("a till");
    let somebody = house.person(roles[0].clone()).await;
    let service = house.person(till.clone()).await;
    let mut everybody = vec![(Role::Office, office.id), (roles[0].clone(), somebody.id)];
    let scene = Scene { house, somebody, service };
    roles.push(till);
    for role in roles.clone() {
        let person = scene.house.person(role.clone()).await;
        everybody.push((role.clone(), person.id));
        // The office comes after managers, whose night it finds on record.
        let found = if role == Role::Office { 412 } else { 201 };
        for (operation, needs, about) in OPERATIONS {
            let (method, _) = operation.split_once(' ').expect("a method and a path");
            for place in places(*about) {
                let request = scene.request(operation, *about, *place, &person).await;
                let headers: Vec<(&str, &str)> =
                    request.headers.iter().map(|(name, value)| (*name, value.as_str())).collect();
                let json = request.body.as_ref();
                let sending = Sending { token: Some(&person.token), headers: &headers, json };
                let method = method.parse::<Method>().expect(method);
                let reply = scene.house.send(method.clone(), &request.path, sending).await;
                let what = format!("{} of {}: {}", reply.asked, role.word(), reply.text);
                match expected(&role, *needs, *about, *place) {
                    "403" => reply.expect_problem(403, "forbidden"),
                    "404" => reply.expect_problem(404, "not-found"),
                    _ if reply.status.is_success() => &reply,
                    _ if method == Method::PUT && place == &OWN => reply.expect(found),
                    // A service has no password, and nobody of this scene a known one.
                    _ if operation.ends_with("/me/password") => match role {
                        Role::Till(_) => reply.expect_problem(409, "conflict"),
                        _ => reply.expect_problem(422, "invalid"),
                    },
                    _ if operation.ends_with("/confirmations")
                        || operation.ends_with("/approvals")
                        || operation.ends_with("/roll-back") =>
                    {
                        reply.expect_problem(409, "conflict")
                    }
                    _ => panic!("{what}"),
                };
            }
        }
    }
    // By now each of them has written whatever they may. Nobody is told who those are that look at them
    // from above, nor of people whom somebody between manages: not by name, which stands beside the id.
    for role in roles {
        let reader = scene.house.person(role.clone()).await;
        let hidden: Vec<_> =
            everybody.iter().filter(|(other, _)| !role.is_told_of(other)).collect();
        let reads = OPERATIONS.iter().filter(|(operation, ..)| operation.starts_with("GET"));
        for (operation, _, about) in reads {
            // Where head office looks for people.
            let people = ["/v1/audit", "/v1/people", "/v1/services"];
            if role == Role::Office && people.iter().any(|path| operation.contains(path)) {
                continue;
            }
            let request = scene.request(operation, *about, OWN, &reader).await;
            let reply = scene.house.get(&request.path, Some(&reader.token)).await;
            for (other, id) in &hidden {
                let told = reply.text.contains(&id.0.to_string());
                assert!(!told, "{} tells {} who {other:?} is", reply.asked, role.word());
            }
        }
    }
}
