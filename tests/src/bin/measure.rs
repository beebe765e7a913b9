//! Measures the server on this machine and prints a table in Markdown:
//! `cargo build --release -p parings && cargo run --release -p parings-tests --bin measure`.
//!
//! Seconds of each load, stores and nights before it may be given: `measure 20 128 28`.

use std::path::Path;
use std::time::Duration;

use anyhow::Context;
use parings_tests::load::chain::{self, copy_nights};
use parings_tests::load::drive::{Until, drive};
use parings_tests::load::stage::Stage;
use parings_tests::load::table::Measured;
use parings_tests::load::{capture::capture, replay::replay};

/// Clients that send nights at the same time.
const CLIENTS: [usize; 2] = [16, 32];

fn main() -> anyhow::Result<()> {
    let given: Vec<u64> = std::env::args().skip(1).map(|n| n.parse()).collect::<Result<_, _>>()?;
    let given = |at: usize, otherwise| given.get(at).copied().unwrap_or(otherwise);
    let (lasts, stores, nights) = (Duration::from_secs(given(0, 20)), given(1, 128), given(2, 28));
    let (stores, nights) = (usize::try_from(stores)?, usize::try_from(nights)?);
    let program = std::env::var_os("PARINGS").map_or_else(beside, |given| Ok(given.into()))?;
    let stage = Stage::open(&std::env::temp_dir(), &program)?;
    let measured = tokio::runtime::Runtime::new()?.block_on(run(&stage, lasts, stores, nights))?;
    print!("{measured}");
    Ok(())
}

/// The server that was built with this program.
fn beside() -> anyhow::Result<std::path::PathBuf> {
    let me = std::env::current_exe()?;
    Ok(me.parent().map(Path::to_owned).context("a folder")?.join("parings"))
}

async fn run(
    stage: &Stage,
    lasts: Duration,
    stores: usize,
    nights: usize,
) -> anyhow::Result<Measured> {
    let mut chain = chain::open(stage, stores).await?;
    // The others' nights before those they send are copies of these.
    chain[0].earlier = i64::try_from(nights)?;
    let begun = drive(stage, &mut chain[..1], 1, Until::Nights(nights)).await?;
    anyhow::ensure!(begun.errors.is_empty(), "{:?}", begun.errors.first());
    copy_nights(stage, &chain).await?;
    let captured = capture(stage, &mut chain[0]).await?;
    let mut measured = Measured {
        first_start: stage.first_start,
        statements: captured.statements.len(),
        ..Measured::default()
    };
    // Nights that are replayed are no others' past.
    let (sent, replayed) = chain.split_at_mut(stores / 2);
    for clients in CLIENTS {
        let http = drive(stage, sent, clients, Until::Passed(lasts)).await?;
        eprintln!("{clients} clients through HTTP: {http}");
        let bare = replay(stage, &captured, replayed, clients, lasts).await?;
        measured.nights.push((http, bare));
    }
    Ok(measured)
}
