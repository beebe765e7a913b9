//! Prints how many seeded slips the checks catch: `cargo run --release -p parings-tests --bin slips`.
//! A first and a last seed may be given; without them, seeds that nothing was tuned on.

use parings_tests::slips::run;

fn main() {
    let mut seeds = std::env::args().skip(1).map(|seed| seed.parse::<u64>());
    let (first, last) = match (seeds.next(), seeds.next()) {
        (Some(Ok(first)), Some(Ok(last))) => (first, last),
        _ => (101, 120),
    };
    let outcome = run(first..=last);
    println!("Seeds {first} to {last}.\n\n{outcome}");
    println!("Needless by kind: {:?}", outcome.needless_by);
}
