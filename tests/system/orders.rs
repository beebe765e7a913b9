//! Facts in whatever order they come: what they add up to is the same.

use std::collections::BTreeMap;

use chrono::TimeDelta;
use parings::app::night::loading::{
    self, Asked, Batch, CountSent, Existing, Fact as Loaded, How, NightFacts, StoreFacts,
};
use parings::cluster::SUPERUSER;
use parings::context::Caller;
use parings::db;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_core::calendar::BusinessDate;
use parings_core::ids::{EntryId, StoreId, WriteId};
use parings_tests::house::{House, Person};
use parings_tests::night::{
    amend, count, delivery, feed, line, night, record, submit, typed, with,
};
use parings_tests::{house, network};
use proptest::prelude::*;
use proptest::sample::Index;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

/// Nights of the test, from Monday 15 June 2026; the seventh is a closed Sunday.
const NIGHTS: u8 = 10;
const CASES: usize = 3;

/// Something that is sent about a night.
#[derive(Debug, Clone)]
enum Fact {
    /// A revision of the count: potatoes and salt in kilograms, or not counted.
    Count { potato: Option<u8>, salt: Option<u8> },
    /// Potatoes that came.
    Delivery(u8),
    /// Fries that were sold.
    Sales(u8),
}

fn fact() -> impl Strategy<Value = (u8, Fact)> {
    let counted = || prop::option::weighted(0.8, 0..99_u8);
    let fact = prop_oneof![
        3 => (counted(), prop::option::weighted(0.3, 0..9_u8))
            .prop_map(|(potato, salt)| Fact::Count { potato, salt }),
        1 => (1..50_u8).prop_map(Fact::Delivery),
        2 => (1..99_u8).prop_map(Fact::Sales),
    ];
    (0..NIGHTS, fact)
}

/// Facts in order of date, and where each goes in another order.
fn facts() -> impl Strategy<Value = (Vec<(u8, Fact)>, Vec<Index>)> {
    (24..32_usize).prop_flat_map(|n| {
        (prop::collection::vec(fact(), n), prop::collection::vec(any::<Index>(), n)).prop_map(
            |(mut facts, order)| {
                facts.sort_by_key(|(night, _)| *night);
                (facts, order)
            },
        )
    })
}

/// The facts in another order, in which revisions of one night still follow each other: the last
/// is what counts.
fn shuffled(facts: &[(u8, Fact)], order: &[Index]) -> Vec<(u8, Fact)> {
    let mut mixed = facts.to_vec();
    for (n, index) in order.iter().enumerate().skip(1) {
        mixed.swap(n, index.index(n + 1));
    }
    let is_count = |fact: &Fact| matches!(fact, Fact::Count { .. });
    let mut revisions: BTreeMap<u8, Vec<Fact>> = BTreeMap::new();
    for (night, fact) in facts.iter().rev().filter(|(_, fact)| is_count(fact)) {
        revisions.entry(*night).or_default().push(fact.clone());
    }
    for (night, fact) in mixed.iter_mut().filter(|(_, fact)| is_count(fact)) {
        *fact = revisions.get_mut(night).and_then(Vec::pop).expect("as many as before");
    }
    mixed
}

fn date(night: u8) -> String {
    let first: BusinessDate = "2026-06-15".parse().expect("a date");
    first.plus_days(night.into()).to_string()
}

async fn send(house: &House, office: &Person, store: &str, facts: &[(u8, Fact)]) {
    let mut counted = [false; NIGHTS as usize];
    for (on, fact) in facts {
        let on_date = date(*on);
        match fact {
            Fact::Count { potato, salt } => {
                let kg = |item, kg: &u8| line(item, "dry-store", &kg.to_string(), "kg");
                let potato = potato.as_ref().map(|n| kg("potato", n));
                let salt = salt.as_ref().map(|n| kg("salt", n));
                let lines: Vec<_> = potato.into_iter().chain(salt).collect();
                let body = with(count(&lines), "complete", false);
                let path = night(store, &on_date);
                if std::mem::replace(&mut counted[usize::from(*on)], true) {
                    amend(house, office, &path, &body).await;
                } else {
                    submit(house, office, &path, &body).await;
                }
            }
            Fact::Delivery(kg) => {
                let entries = [delivery(&kg.to_string(), "kg")];
                record(house, office, store, &on_date, &entries).await.expect(201);
            }
            Fact::Sales(units) => {
                let sales = [("1001", u32::from(*units), "7.10")];
                feed(house, office, store, &on_date, &sales).await.expect(201);
            }
        }
    }
}

/// Loads at another store what stands on record at the first: every second night, then the others.
async fn load(house: &House, office: &Person, [from, to]: [&str; 2]) {
    let (from, to): (StoreId, StoreId) = (from.parse().unwrap(), to.parse().unwrap());
    let conn = house.diesel(SUPERUSER).await;
    let mut nights = Vec::new();
    for night in 0..NIGHTS {
        let date = date(night).parse().unwrap();
        let facts = db::nights::facts(&conn, &from, date, db::nights::ever()).await;
        let facts = facts.expect("facts").0;
        let fact = |at: i64| (house.clock.now() + TimeDelta::microseconds(at), office.id);
        let mut loaded = NightFacts::new(date);
        for (n, mut entry) in facts.entries.into_iter().enumerate() {
            entry.id = EntryId(new_id());
            let (at, by) = fact(n as i64);
            loaded.entries.push(Loaded { what: entry, by, at });
        }
        for (n, batch) in facts.till.into_iter().enumerate() {
            let (at, by) = fact(n as i64);
            loaded.till.push(Loaded { what: Batch { id: new_id().to_string(), batch }, by, at });
        }
        if let Some(count) = facts.count {
            let (at, by) = fact(9_999);
            loaded.counts.push(Loaded {
                what: CountSent { count, reason: None, asked: Asked::LeftOut },
                by,
                at,
            });
        }
        let facts = [loaded.counts.len(), loaded.entries.len(), loaded.till.len()];
        if facts != [0; 3] {
            nights.push(loaded);
        }
    }
    let first: BusinessDate = date(0).parse().unwrap();
    let (odd, even): (Vec<_>, Vec<_>) =
        nights.into_iter().partition(|night| first.days_until(night.date) % 2 == 1);
    for nights in [even, odd] {
        let caller = Caller { person: office.id, session: None, request_id: "load".to_owned() };
        let how = How { write: Some(WriteId(new_id())), existing: Existing::Refuse };
        let stores = vec![StoreFacts { store: to.clone(), nights }];
        let loaded = house.deps.acting(&caller, async |conn, _| {
            loading::load(&house.deps, conn, &caller, how, stores, |_| ()).await
        });
        loaded.await.expect("a server that answers").expect("nothing refused");
    }
}

/// The store's spans, or another of its tallies, as the database unpacks them, without what tells the
/// stores apart, which revision of a count it was, and when it was restated.
async fn tallies(house: &House, table: &str, store: &str) -> Vec<String> {
    let sql = format!(
        "SELECT (to_jsonb(t) - '{{store_id,restated_at,revision,known_at,generation}}'::text[])::text FROM {table} t
         WHERE store_id = $1 ORDER BY 1"
    );
    let rows = house.pg(SUPERUSER).await.query(&sql, &[&store]).await.expect(table);
    rows.iter().map(|row| row.get(0)).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn facts_in_any_order_give_the_tallies_of_facts_in_order_of_date() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    let token = &office.token;
    network::start(&house, token).await;
    house.clock.set(house.clock.now() + chrono::TimeDelta::days(i64::from(NIGHTS)));
    let item = |title: &str, rhythm: Value| {
        json!({ "title": title, "group": "food", "base": "mass", "rhythm": rhythm,
            "shelves": [{ "place": "dry-store", "unit": "kg" }],
            "stages": network::potato()["stages"] })
    };
    let weekly = json!({ "every": "week", "on": "tue" });
    network::put(&house, token, "items", "salt", item("Salt", weekly)).await;
    let price = json!({ "price": "0.90", "per": typed("1", "kg") });
    network::put(&house, token, "prices", "potato", price).await;
    let size = json!({ "code": "one", "title": "One size", "till_codes": ["1001"], "lines": [
        { "item": "potato", "stage": "trim", "quantity": typed("333", "g") },
        { "item": "salt", "quantity": typed("3", "g") },
    ] });
    let fries = json!({ "title": "Fries", "sizes": [size] });
    let nightly = item("Potatoes", json!({ "every": "night" }));
    for (path, document) in [("products/fries", fries), ("items/potato", nightly)] {
        let body = with(network::change("2026-06-01", document), "reason", "For the test");
        let path = format!("/v1/reference/{path}");
        house.put(&path, Some(token), &[("If-Match", "*")], &body).await.expect(200);
    }

    let mut runner = TestRunner::deterministic();
    let mut spans = 0;
    for case in 0..CASES {
        let (facts, order) = facts().new_tree(&mut runner).expect("a case").current();
        let stores = ["a", "b", "c"].map(|which| format!("case-{case}-{which}"));
        for store in &stores {
            network::put(&house, token, "stores", store, network::store(store, "upper", "brook"))
                .await;
        }
        let mixed = shuffled(&facts, &order);
        send(&house, &office, &stores[0], &facts).await;
        send(&house, &office, &stores[1], &mixed).await;
        load(&house, &office, [&stores[0], &stores[2]]).await;
        for table in ["item_spans", "item_days", "night_tallies", "daypart_tallies"] {
            let in_order = tallies(&house, table, &stores[0]).await;
            let in_disorder = tallies(&house, table, &stores[1]).await;
            assert_eq!(in_order, in_disorder, "{table}: {facts:?} against {mixed:?}");
            let loaded = tallies(&house, table, &stores[2]).await;
            assert_eq!(in_order, loaded, "{table}: {facts:?} loaded");
            if table == "item_spans" {
                spans += in_order.len();
            }
        }
    }
    assert!(spans > 10 * CASES / 2, "only {spans} spans were compared");
}
