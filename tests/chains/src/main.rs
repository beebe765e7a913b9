//! Prints what a review finds in invented chains, beside two plain ways.
//!
//!     cargo run --release -p parings-chains --bin review -- --seeds 20

use std::collections::BTreeMap;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use parings_chains::chain::Chain;
use parings_chains::fault::PLANTS;
use parings_chains::regime::REGIMES;
use parings_chains::score::Score;
use parings_chains::ways::{WAYS, watch};

fn main() -> ExitCode {
    let (mut seeds, mut from) = (20, 101);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let number = words.next().and_then(|number| number.parse().ok());
        match (word.as_str(), number) {
            ("--seeds", Some(number)) => seeds = number,
            ("--from", Some(number)) => from = number,
            _ => {
                eprintln!("review [--seeds N] [--from SEED]");
                return ExitCode::from(2);
            }
        }
    }
    let mut scores: Vec<Score> = vec![Score::default(); WAYS.len()];
    let mut by_regime: BTreeMap<&str, Score> = BTreeMap::new();
    let mut times = vec![Duration::ZERO; WAYS.len()];
    for seed in from..from + seeds {
        let chain = Chain::new(seed);
        for (at, (_, way)) in WAYS.iter().enumerate() {
            let begun = Instant::now();
            let nights = watch(&chain, *way);
            times[at] += begun.elapsed();
            scores[at].add(&chain, &nights);
            if at == 0 {
                by_regime.entry(chain.regime.name).or_default().add(&chain, &nights);
            }
        }
    }
    println!("Seeds {from} to {}, {} regimes in turn.\n", from + seeds - 1, REGIMES.len());
    print(&scores, &by_regime, &times, seeds);
    ExitCode::SUCCESS
}

fn print(scores: &[Score], by_regime: &BTreeMap<&str, Score>, times: &[Duration], seeds: u64) {
    let cell = |score: &Score, at: usize| {
        let found = &score.found[&at];
        let share = 100.0 * found.nights.len() as f64 / found.planted as f64;
        let nights = Score::median_nights(found).map_or("–".to_owned(), |n| n.to_string());
        format!("{share:.0} % ({nights})")
    };
    println!("| planted | of | {} |", WAYS.map(|(name, _)| name).join(" | "));
    println!("|---|---:|{}", "---:|".repeat(WAYS.len()));
    for (at, plant) in PLANTS.iter().enumerate() {
        let mark = if plant.headline { "" } else { " (beside)" };
        let name = format!("{} {}{mark}", plant.kind.name(), plant.size);
        let cells: Vec<_> = scores.iter().map(|score| cell(score, at)).collect();
        println!("| {name} | {} | {} |", scores[0].found[&at].planted, cells.join(" | "));
    }
    let each =
        |of: &dyn Fn(&Score) -> String| scores.iter().map(of).collect::<Vec<_>>().join(" | ");
    println!(
        "| **found of what counts** | {} | {} |",
        scores[0].headline().1,
        each(&|score| format!("**{:.1} %**", 100.0 * score.recall()))
    );
    println!(
        "| **false alarms a district-week** | | {} |",
        each(&|score| format!("**{:.3}**", score.alarms()))
    );
    println!("| districts as a whole | | {} |", each(&|score| score.shared.to_string()));
    let per = |time: &Duration| format!("{:.0} ms", time.as_secs_f64() * 1e3 / seeds as f64);
    let times: Vec<_> = times.iter().map(per).collect();
    println!("| 28 reviews of a chain | | {} |", times.join(" | "));
    println!("\nA cell is the share found, and the median nights to find it.\n");
    println!("| regime | found | false alarms a district-week |\n|---|---:|---:|");
    for (name, score) in by_regime {
        println!("| {name} | {:.1} % | {:.3} |", 100.0 * score.recall(), score.alarms());
    }
    println!("\nFalse alarms by measure and kind:");
    for ((measure, kind), count) in &scores[0].false_alarms {
        println!("  {} {}: {count}", measure.word(), kind.word());
    }
}
