//! Clients that send nights, each to its own stores, one after the other.

use std::fmt::{self, Display, Formatter};
use std::time::{Duration, Instant};

use anyhow::Context;
use parings_core::stats::{Percentile, nearest_rank};
use reqwest::header::{AUTHORIZATION, CONTENT_TYPE, IF_NONE_MATCH};

use super::bounds;
use super::chain::{Store, is_over, night};
use super::process::{busy, busy_family, most_memory};
use super::stage::Stage;

/// What became of a load.
#[derive(Debug, Clone)]
pub struct Driven {
    /// How many clients.
    pub clients: usize,
    /// Nights that were accepted.
    pub nights: usize,
    /// How long it took.
    pub lasted: Duration,
    /// How long an answer took, by nearest rank.
    pub p50: Duration,
    /// Likewise.
    pub p99: Duration,
    /// Processor time of the server.
    pub server: Duration,
    /// Processor time of the database.
    pub database: Duration,
    /// Processor time of the clients, which are this process.
    pub sender: Duration,
    /// Most memory the server ever held, in bytes.
    pub memory: u64,
    /// Answers other than 201.
    pub errors: Vec<String>,
}

impl Driven {
    /// Nights a second.
    pub fn rate(&self) -> f64 {
        self.nights as f64 / self.lasted.as_secs_f64()
    }
}

impl Display for Driven {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let each = |time: Duration| time.as_secs_f64() * 1000.0 / self.nights.max(1) as f64;
        write!(
            f,
            "{:.0} nights a second, p50 {:.1?}, p99 {:.1?}; processor time a night: server {:.2} ms, \
             PostgreSQL {:.2} ms, clients {:.2} ms; {} errors",
            self.rate(),
            self.p50,
            self.p99,
            each(self.server),
            each(self.database),
            each(self.sender),
            self.errors.len(),
        )
    }
}

/// When a load ends.
#[derive(Debug, Clone, Copy)]
pub enum Until {
    /// After so long.
    Passed(Duration),
    /// When every store has so many nights more.
    Nights(usize),
}

/// Sends nights by so many clients.
///
/// # Errors
/// When the server is not on this machine, or goes.
pub async fn drive(
    stage: &Stage,
    stores: &mut [Store],
    clients: usize,
    until: Until,
) -> anyhow::Result<Driven> {
    let at = bounds::loopback(stage.address())?;
    let deadline = match until {
        Until::Passed(lasts) => bounds::bounded(lasts)?,
        Until::Nights(_) => bounds::LONGEST,
    };
    anyhow::ensure!(stores.len() >= clients, "a store for every client");
    let http = reqwest::Client::builder().pool_max_idle_per_host(clients).build()?;
    let postmaster = stage.postmaster()?;
    let taken = || -> anyhow::Result<[Duration; 3]> {
        Ok([busy(stage.server())?, busy_family(postmaster)?, busy(std::process::id())?])
    };
    let before = taken()?;
    let begun = Instant::now();
    let share = stores.len() / clients;
    let mut running = tokio::task::JoinSet::new();
    for own in stores.chunks_exact(share).take(clients) {
        let (mut own, http) = (own.to_vec(), http.clone());
        running.spawn(async move {
            let (mut times, mut errors, mut turn) = (Vec::new(), Vec::new(), 0);
            let most = match until {
                Until::Passed(_) => usize::MAX,
                Until::Nights(each) => each * own.len(),
            };
            while begun.elapsed() < deadline && turn < most {
                let which = turn % own.len();
                let store = &mut own[which];
                if !is_over(store.next) {
                    break;
                }
                let url = format!("http://{at}/v1/stores/{}/nights/{}", store.code, store.next);
                let body = night(store).to_string();
                let sent = Instant::now();
                let answer = http
                    .put(url)
                    .header(AUTHORIZATION, format!("Bearer {}", store.token))
                    .header(IF_NONE_MATCH, "*")
                    .header(CONTENT_TYPE, "application/json")
                    .body(body)
                    .send()
                    .await?;
                let status = answer.status().as_u16();
                let text = answer.text().await?;
                match status {
                    201 => times.push(sent.elapsed()),
                    _ => errors.push(format!("{status} {text}")),
                }
                store.next = store.next.succ();
                turn += 1;
            }
            anyhow::Ok((own, times, errors))
        });
    }
    let (mut times, mut errors, mut left) = (Vec::new(), Vec::new(), Vec::new());
    while let Some(ended) = running.join_next().await {
        let (own, took, said) = ended??;
        times.extend(took);
        errors.extend(said);
        left.extend(own);
    }
    let lasted = begun.elapsed();
    let after = taken()?;
    for now in left {
        let store = stores.iter_mut().find(|store| store.code == now.code);
        *store.context("a store of ours")? = now;
    }
    times.sort_unstable();
    let rank = |p| nearest_rank(&times, p).unwrap_or_default();
    let [server, database, sender] = [0, 1, 2].map(|of: usize| after[of] - before[of]);
    Ok(Driven {
        clients,
        nights: times.len(),
        lasted,
        p50: rank(Percentile::P50),
        p99: rank(Percentile::per_mille(990).context("a percentile")?),
        server,
        database,
        sender,
        memory: most_memory(stage.server())?,
        errors,
    })
}
