//! Measures the server on this machine and prints a table in Markdown:
//! `cargo build --release -p parings && cargo run --release -p parings-tests --bin measure`.

use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::Context;
use clap::Parser;
use parings_tests::load::chain::{self, copy_nights};
use parings_tests::load::drive::{Until, drive};
use parings_tests::load::rollups::Chains;
use parings_tests::load::stage::Stage;
use parings_tests::load::table::Measured;
use parings_tests::load::{capture::capture, imports, replay::replay, rollups};

/// Clients that send nights at the same time.
const CLIENTS: [usize; 2] = [16, 32];

/// Stores whose history is brought in from a file.
const IMPORTED: usize = 64;

/// Measures the server on this machine: its release binary on private clusters that lose nothing.
#[derive(Parser)]
struct Asked {
    /// How long each load lasts
    #[arg(long, default_value_t = 20)]
    seconds: u64,
    /// Stores that nights are sent to, and as many that they are replayed for
    #[arg(long, default_value_t = 128)]
    stores: usize,
    /// Nights on record before those that are sent
    #[arg(long, default_value_t = 28)]
    nights: usize,
    /// Stores of the chains that roll-ups are asked of, the smallest first; none without an argument
    #[arg(long, value_delimiter = ',', num_args = 0.., default_values_t = [24, 500, 2000])]
    chains: Vec<usize>,
    /// Weeks of their history
    #[arg(long, default_value_t = 52)]
    weeks: u64,
    /// The server's program [default: beside this one]
    #[arg(long)]
    program: Option<PathBuf>,
    /// Where clusters are made, on a disk and within reach of the database's account
    #[arg(long, default_value_os_t = std::env::temp_dir())]
    home: PathBuf,
    /// Where chains are kept from one run to the next, within the same reach; without it each is
    /// loaded again and removed
    #[arg(long)]
    keep: Option<PathBuf>,
}

fn main() -> anyhow::Result<()> {
    let asked = Asked::parse();
    let program = asked.program.clone().map_or_else(beside, Ok)?;
    let mut measured = {
        let stage = Stage::open(&asked.home, &program)?;
        tokio::runtime::Runtime::new()?.block_on(nights(&stage, &program, &asked))?
    };
    let home = asked.home.clone();
    let chains = asked.keep.clone().map_or(Chains::Loaded(home), Chains::Kept);
    for stores in &asked.chains {
        let rolled = rollups::measure(&chains, &program, *stores, asked.weeks)?;
        eprintln!("{rolled:?}");
        measured.rolled.push(rolled);
    }
    print!("{measured}");
    Ok(())
}

/// The server that was built with this program.
fn beside() -> anyhow::Result<PathBuf> {
    let me = std::env::current_exe()?;
    Ok(me.parent().map(Path::to_owned).context("a folder")?.join("parings"))
}

/// Sends nights, and replays what they send.
async fn nights(stage: &Stage, program: &Path, asked: &Asked) -> anyhow::Result<Measured> {
    let lasts = Duration::from_secs(asked.seconds);
    let mut chain = chain::open(stage, asked.stores * 2).await?;
    // The others' nights before those they send are copies of these.
    chain[0].earlier = i64::try_from(asked.nights)?;
    let begun = drive(stage, &mut chain[..1], 1, Until::Nights(asked.nights)).await?;
    anyhow::ensure!(begun.errors.is_empty(), "{:?}", begun.errors.first());
    copy_nights(stage, &chain).await?;
    let captured = capture(stage, &mut chain[0]).await?;
    let mut measured = Measured {
        first_start: stage.first_start,
        statements: captured.statements.len(),
        ..Measured::default()
    };
    // Nights that are replayed are no others' past.
    let (sent, replayed) = chain.split_at_mut(asked.stores);
    for clients in CLIENTS {
        let http = drive(stage, sent, clients, Until::Passed(lasts)).await?;
        eprintln!("{clients} clients through HTTP: {http}");
        let bare = replay(stage, &captured, replayed, clients, lasts).await?;
        measured.nights.push((http, bare));
    }
    let earlier = i64::try_from(asked.nights)?;
    let some = &replayed[..replayed.len().min(IMPORTED)];
    measured.imported = Some(imports::measure(stage, program, some, earlier).await?);
    Ok(measured)
}
