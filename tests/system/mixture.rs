//! Whatever people write, in whatever order and however many at once, a stored tally equals its
//! recomputation from facts, what is kept of it for reviews is what it says, and the server is never at
//! fault.
//!
//! A longer one: `MIXTURE=10000 cargo nextest run -p parings-tests mixture --no-capture`; another
//! seed: `SEED=7`.

use std::env;
use std::time::Instant;

use chrono::TimeDelta;
use parings::app::night::weeks;
use parings_tests::{House, mixture};

use crate::verify::verify;

fn asked(variable: &str, usual: u32) -> u32 {
    env::var(variable).map_or(usual, |text| text.parse().expect(variable))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_random_mixture_of_writes_leaves_no_difference() {
    let (operations, seed) = (asked("MIXTURE", 300), asked("SEED", 1));
    let house = House::running().await;
    let began = Instant::now();
    let (house, seen) = mixture::play(house, seed.into(), operations).await;
    let seconds = began.elapsed().as_secs_f64();
    let answers: u32 = seen.0.values().sum();
    eprintln!(
        "{seen}{answers} answers in {seconds:.1} s: {:.0} a second",
        f64::from(answers) / seconds
    );
    // Weeks are added up once they are over.
    house.clock.set(house.clock.now() + TimeDelta::days(8));
    let kept = weeks::keep(&house.deps, |_, _| ()).await.expect("weeks added up");
    let report = verify(&house).await;
    eprintln!(
        "{} stores, {} nights, {} rows, {} weeks",
        report.stores, report.nights, report.rows, report.weeks
    );
    assert_eq!(report.weeks, kept);
    assert_eq!(report.differences, []);
    assert!(answers >= operations * 9 / 10, "{answers} of {operations}");
}
