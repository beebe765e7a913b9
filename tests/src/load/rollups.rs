//! How long roll-ups take over an invented chain of a given size with its history.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::ensure;
use chrono::NaiveDate;
use parings::app::signin::keys::Keys;
use parings::cluster::roles::DATABASE;
use parings::cluster::{SUPERUSER, url_of_running};
use parings::edge::{Clock, new_id};
use parings_core::calendar::BusinessDate;
use parings_core::ids::PersonId;
use parings_core::stats::{Percentile, nearest_rank};

use super::stage::{Served, token};
use crate::database::connect;

/// How often each roll-up of a district is asked for.
const WEEKS_ASKED: usize = 200;
/// How often one of the network.
const QUARTERS_ASKED: usize = 10;
/// Nights of a quarter.
const QUARTER: i64 = 91;

/// Half of the answers took no longer, and 99 in a hundred.
pub type Took = (Duration, Duration);

/// What one chain showed.
#[derive(Debug, Clone)]
pub struct Rolled {
    /// Its stores.
    pub stores: usize,
    /// Weeks of its history.
    pub weeks: u64,
    /// How long it took to load.
    pub loaded: Duration,
    /// A district's week.
    pub week: Result<Took, String>,
    /// The same with each store.
    pub by_store: Result<Took, String>,
    /// A quarter of the whole network.
    pub quarter: Result<Took, String>,
    /// The same by period, with each district.
    pub by_district: Result<Took, String>,
    /// The stores of a district compared with each other and with their own past.
    pub list: Result<Took, String>,
}

/// Where chains are loaded.
#[derive(Debug, Clone)]
pub enum Chains {
    /// In a folder of their own here; each goes when its roll-ups were asked for.
    Loaded(PathBuf),
    /// Here, from one run to the next: a year of a large chain takes longer to load than all that is
    /// measured.
    Kept(PathBuf),
}

impl Chains {
    /// The folder of a chain.
    fn folder(&self, stores: usize, weeks: u64) -> PathBuf {
        match self {
            Self::Loaded(home) => {
                home.join(format!("parings-measure-{}-{stores}", std::process::id()))
            }
            Self::Kept(home) => home.join(format!("{stores}x{weeks}")),
        }
    }
}

/// Of a chain that is kept: how long it took to load, in milliseconds.
const LOADED: &str = "loaded-in";

/// Loads a chain unless it is kept from an earlier run, and asks for its roll-ups as head office.
///
/// # Errors
/// When the chain does not load or the server does not start.
pub fn measure(
    chains: &Chains,
    program: &Path,
    stores: usize,
    weeks: u64,
) -> anyhow::Result<Rolled> {
    let folder = chains.folder(stores, weeks);
    let loaded = match fs::read_to_string(folder.join(LOADED)) {
        Ok(said) => Duration::from_millis(said.trim().parse()?),
        Err(_) => load(program, &folder, stores, weeks)?,
    };
    let served = Served::start(
        Command::new(program).args(["up", "--port", "0", "--data"]).arg(&folder),
        &folder,
    )?;
    let rolled = tokio::runtime::Runtime::new()?.block_on(ask(&served, &folder));
    drop(served);
    if let Chains::Loaded(_) = chains {
        fs::remove_dir_all(&folder)?;
    }
    let [week, by_store, quarter, by_district, list] = rolled?;
    Ok(Rolled { stores, weeks, loaded, week, by_store, quarter, by_district, list })
}

fn load(program: &Path, folder: &Path, stores: usize, weeks: u64) -> anyhow::Result<Duration> {
    let begun = Instant::now();
    let ended = Command::new(program)
        .arg("demo")
        .args(["--stores", &stores.to_string(), "--weeks", &weeks.to_string(), "--data"])
        .arg(folder)
        .stdout(Stdio::null())
        .output()?;
    ensure!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
    let loaded = begun.elapsed();
    fs::write(folder.join(LOADED), loaded.as_millis().to_string())?;
    Ok(loaded)
}

async fn ask(served: &Served, folder: &Path) -> anyhow::Result<[Result<Took, String>; 5]> {
    let admin = connect(&url_of_running(folder, SUPERUSER, DATABASE)?).await;
    let office =
        admin.query_one("SELECT id FROM people WHERE role = 'office' LIMIT 1", &[]).await?;
    let keys = Keys::load(&folder.join("keys"), Clock::Machine.now())?;
    let token = token(&keys, &admin, PersonId(office.get(0)), new_id()).await?;
    let last = admin.query_one("SELECT max(business_date) FROM nights", &[]).await?;
    let last = BusinessDate::from(last.get::<_, NaiveDate>(0));
    let districts = admin
        .query(
            "SELECT DISTINCT district_id FROM nights WHERE business_date = $1",
            &[&NaiveDate::from(last)],
        )
        .await?;
    let districts: Vec<String> = districts.iter().map(|row| row.get(0)).collect();
    admin.batch_execute("ANALYZE").await?;
    let span = |nights: i64| format!("from={}&to={last}", last.plus_days(1 - nights));
    let week = |district: &String| format!("rollups?scope=district:{district}&{}", span(7));
    let weeks: Vec<String> = districts.iter().map(week).collect();
    let by_store: Vec<String> = weeks.iter().map(|week| format!("{week}&children=true")).collect();
    let quarter = vec![format!("rollups?scope=network&{}", span(QUARTER))];
    let by_district = vec![format!("{}&by=period&children=true", quarter[0])];
    let list = |district: &String| format!("districts/{district}/review?as_of={last}");
    let lists: Vec<String> = districts.iter().take(QUARTERS_ASKED).map(list).collect();
    Ok([
        time(served, &token, &weeks, WEEKS_ASKED).await,
        time(served, &token, &by_store, WEEKS_ASKED).await,
        time(served, &token, &quarter, QUARTERS_ASKED).await,
        time(served, &token, &by_district, QUARTERS_ASKED).await,
        time(served, &token, &lists, QUARTERS_ASKED).await,
    ])
}

/// Asks one after the other; the first round is not counted.
async fn time(
    served: &Served,
    token: &str,
    queries: &[String],
    asked: usize,
) -> Result<Took, String> {
    let (http, at) = (reqwest::Client::new(), served.address);
    let mut times = Vec::new();
    for (turn, query) in queries.iter().cycle().take(queries.len() + asked).enumerate() {
        let begun = Instant::now();
        let url = format!("http://{at}/v1/{query}");
        let answer = http.get(url).bearer_auth(token).send().await.map_err(|e| e.to_string())?;
        let status = answer.status();
        let said = answer.text().await.map_err(|e| e.to_string())?;
        if status != 200 {
            return Err(format!("{status} {said}"));
        }
        if turn >= queries.len() {
            times.push(begun.elapsed());
        }
    }
    times.sort_unstable();
    let p99 = Percentile::per_mille(990).map_err(|e| e.to_string())?;
    let rank = |p| nearest_rank(&times, p).ok_or_else(|| "nothing was asked".to_owned());
    Ok((rank(Percentile::P50)?, rank(p99)?))
}
