//! Whoever asks a great deal of the server keeps only themselves waiting.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use parings_core::access::Role;
use parings_tests::house::Person;
use parings_tests::night::{delivery, record};
use tokio::task::JoinSet;

use super::Kitchen;

const MONDAY: &str = "2026-06-15";
/// Requests of one account in flight.
const FLOOD: usize = 32;

impl Kitchen {
    async fn crew(&self, store: &str) -> Person {
        self.house.person(Role::Crew([store.parse().expect("a code")].into())).await
    }
}

/// Four accounts send as much as they can to one store. Nobody of the other store is turned away; of the
/// four themselves some may be, and are told so.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flood_at_one_store_turns_nobody_of_another_away() {
    let kitchen = Arc::new(Kitchen::open("2026-06-15T20:00:00Z").await);
    let (mut flood, done) = (JoinSet::new(), Arc::new(AtomicUsize::new(0)));
    for _ in 0..4 {
        let crew = Arc::new(kitchen.crew("ford").await);
        for _ in 0..FLOOD {
            let (kitchen, crew, done) = (kitchen.clone(), crew.clone(), done.clone());
            flood.spawn(async move {
                let entries = [delivery("1", "kg")];
                let reply = record(&kitchen.house, &crew, "ford", MONDAY, &entries).await;
                done.fetch_add(1, Ordering::Relaxed);
                reply
            });
        }
    }
    let others: Vec<Person> =
        futures::future::join_all((0..12).map(|_| kitchen.crew("weir"))).await;
    // The flood has come in: somebody stands ready behind who writes to the store.
    kitchen.house.until_waiting(1).await;
    let sheet = format!("/v1/stores/weir/nights/{MONDAY}/sheet");
    for person in &others {
        let entries = [delivery("1", "kg")];
        let (read, written) = tokio::join!(
            kitchen.house.get(&sheet, Some(&person.token)),
            record(&kitchen.house, person, "weir", MONDAY, &entries),
        );
        read.expect(200);
        written.expect(201);
    }
    // Nobody of weir had to wait until the flood was over.
    let done = done.load(Ordering::Relaxed);
    assert!(done < 4 * FLOOD, "{done} of the flood were answered first");
    let mut busy = 0;
    for reply in flood.join_all().await {
        match reply.status.as_u16() {
            201 => {}
            // What is not even read in time is answered by the web server itself.
            408 => busy += 1,
            _ => {
                reply.expect_problem(503, "busy");
                busy += 1;
            }
        }
    }
    assert!(busy < 4 * FLOOD, "some of the flood was taken");
}
