//! The statements of a request once more, sent by pgbench: what the database alone can do.
//!
//! Each time they are of another store or night. Names of stores and people, dates and ids are
//! replaced where a value is nothing else; documents are sent as they were.

use std::fmt::Write;
use std::fs;
use std::path::PathBuf;
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, ensure};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use chrono::NaiveDate;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::{APP, DATABASE};
use parings_core::calendar::BusinessDate;
use uuid::Uuid;

use super::bounds;
use super::capture::{Captured, Statement};
use super::chain::{MANAGER_OF, SESSION_OF, Store};
use super::process::{busy, busy_family};
use super::stage::Stage;
use crate::database::connect;

/// What became of a replay.
#[derive(Debug, Clone)]
pub struct Replayed {
    /// How many clients.
    pub clients: usize,
    /// Transactions that committed.
    pub nights: usize,
    /// Transactions a second, as pgbench tells it.
    pub rate: f64,
    /// Processor time of the database.
    pub database: Duration,
    /// Processor time of pgbench.
    pub sender: Duration,
}

/// Replays a request by so many clients, each on its own stores, from their next night on.
///
/// # Errors
/// When pgbench is missing or a transaction fails; when the rows it wrote are not a night's.
pub async fn replay(
    stage: &Stage,
    captured: &Captured,
    stores: &mut [Store],
    clients: usize,
    lasts: Duration,
) -> anyhow::Result<Replayed> {
    let lasts = bounds::bounded(lasts)?;
    ensure!(stores.len() >= clients, "a store for every client");
    let first = stores.iter().map(|store| store.next).max().context("a store")?;
    let file = stage.folder().join("replay.sql");
    fs::write(&file, script(captured, stores, clients, first)?)?;
    let (postmaster, me) = (stage.postmaster()?, std::process::id());
    let before = (busy_family(postmaster)?, busy(me)?);
    let ended = Command::new(program()?)
        .args(["--no-vacuum", "--protocol=prepared", "--jobs=2", "--define=turn=0"])
        .arg(format!("--client={clients}"))
        .arg(format!("--time={}", lasts.as_secs()))
        .arg(format!("--file={}", file.display()))
        .arg(format!("--host={}", stage.cluster().socket_dir().display()))
        .args(["--port=5499", &format!("--username={APP}"), DATABASE])
        .env("PGOPTIONS", format!("-c plan_cache_mode={}", captured.plans))
        .output()?;
    let after = (busy_family(postmaster)?, busy(me)?);
    let (said, faults) =
        (String::from_utf8_lossy(&ended.stdout), String::from_utf8_lossy(&ended.stderr));
    ensure!(ended.status.success(), "pgbench: {faults}");
    let told = |what: &str| {
        let line = said.lines().find_map(|line| line.strip_prefix(what));
        line.and_then(|line| line.split_whitespace().next()).with_context(|| said.to_string())
    };
    let nights = told("number of transactions actually processed: ")?.parse()?;
    let rate = told("tps = ")?.parse()?;
    let last = check(stage, stores, first, nights).await?;
    for store in stores {
        store.next = last.succ();
    }
    let (database, sender) = (after.0 - before.0, after.1 - before.1);
    Ok(Replayed { clients, nights, rate, database, sender })
}

/// Every night that was replayed has its rows. Answers with the last of them: some clients get further than
/// others.
async fn check(
    stage: &Stage,
    stores: &[Store],
    first: BusinessDate,
    nights: usize,
) -> anyhow::Result<BusinessDate> {
    let admin = connect(&stage.url(SUPERUSER)).await;
    let codes: Vec<&str> = stores.iter().map(|store| store.code.as_str()).collect();
    for (table, each) in [("night_revisions", 1), ("nights", 1)] {
        let sql = format!(
            "SELECT count(*) FROM {table} WHERE store_id = ANY ($1) AND business_date >= $2"
        );
        let found: i64 = admin.query_one(&sql, &[&codes, &NaiveDate::from(first)]).await?.get(0);
        ensure!(usize::try_from(found)? == nights * each, "{found} {table} of {nights} nights");
    }
    let sql = "SELECT max(business_date) FROM nights WHERE store_id = ANY ($1)";
    let last: NaiveDate = admin.query_one(sql, &[&codes]).await?.get(0);
    Ok(last.into())
}

/// Where pgbench is.
fn program() -> anyhow::Result<PathBuf> {
    let by_path = std::env::var_os("PATH").unwrap_or_default();
    let installed = fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    std::env::split_paths(&by_path)
        .chain(installed.map(|version| version.path().join("bin")))
        .map(|folder| folder.join("pgbench"))
        .find(|program| program.is_file())
        .context("pgbench is missing: it comes with PostgreSQL")
}

/// What varies from one replay to the next, and what does not.
struct Names<'a> {
    captured: &'a Captured,
    /// Expressions of each turn, by their names.
    each: Vec<(String, String)>,
    /// Values that stay, by their places.
    fixed: Vec<String>,
}

impl Names<'_> {
    /// The variable that takes the place of a value.
    fn of(&mut self, kind: &str, value: &str) -> anyhow::Result<String> {
        let Captured { store, write, .. } = self.captured;
        let id = value.parse::<Uuid>().ok().filter(|_| kind == "uuid");
        let (high, low) = write.as_u64_pair();
        Ok(match kind {
            "text" if value == store.code => "store".to_owned(),
            "text" if value == store.district() => "district".to_owned(),
            "uuid" if id == Some(store.manager) => "manager".to_owned(),
            "uuid" if id == Some(store.session) => "session".to_owned(),
            "uuid" if id == Some(*write) => self.once("written", "gen_random_uuid()".to_owned()),
            "bigint" if value == i64::from_ne_bytes((high ^ low).to_ne_bytes()).to_string() => {
                let key = "(random() * 9e18)::bigint".to_owned();
                self.once("key", key)
            }
            "date" => {
                let away = self.away(value)?;
                let name = format!("on_{}", away.to_string().replace('-', "minus_"));
                self.once(&name, format!("first + :day::int + ({away})"))
            }
            "date[]" => {
                let dates = value.trim_matches(['{', '}']).split(',').filter(|d| !d.is_empty());
                let away: Vec<i64> = dates.map(|date| self.away(date)).collect::<Result<_, _>>()?;
                let list =
                    away.iter().map(|a| format!("first + :day::int + ({a})")).collect::<Vec<_>>();
                let name = format!("dates_{}", self.each.len());
                let made = format!("ARRAY[{}]::date[]", list.join(", "));
                match self.each.iter().find(|(_, known)| *known == made) {
                    Some((known, _)) => known.clone(),
                    None => self.once(&name, made),
                }
            }
            "text[]" if value.contains(&store.code) || value.contains(&store.district()) => {
                let place = self.fixed(value);
                let made = format!(
                    "replace(replace(:fixed_{place}, '{}', store), '{}', district)",
                    store.code,
                    store.district()
                );
                self.once(&format!("texts_{place}"), made)
            }
            _ => format!("fixed_{}", self.fixed(value)),
        })
    }

    /// The place of a value that stays.
    fn fixed(&mut self, value: &str) -> usize {
        let known = self.fixed.iter().position(|fixed| fixed == value);
        known.unwrap_or_else(|| {
            self.fixed.push(value.to_owned());
            self.fixed.len() - 1
        })
    }

    fn away(&self, date: &str) -> anyhow::Result<i64> {
        let date: NaiveDate = date.parse()?;
        Ok(self.captured.date.days_until(date.into()))
    }

    fn once(&mut self, name: &str, made: String) -> String {
        if !self.each.iter().any(|(known, _)| known == name) {
            self.each.push((name.to_owned(), made));
        }
        name.to_owned()
    }

    /// A statement with variables in the place of its parameters.
    fn statement(&mut self, statement: &Statement) -> anyhow::Result<String> {
        let mut text = statement.text.clone();
        // From the last on, so that `$1` is not found in `$12`.
        for (place, (kind, value)) in statement.values.iter().enumerate().rev() {
            let put = match value {
                Some(value) => format!("CAST(:{} AS {kind})", self.of(kind, value)?),
                None => format!("CAST(NULL AS {kind})"),
            };
            text = text.replace(&format!("${}", place + 1), &put);
        }
        Ok(text)
    }
}

fn script(
    captured: &Captured,
    stores: &[Store],
    clients: usize,
    first: BusinessDate,
) -> anyhow::Result<String> {
    let mut names = Names { captured, each: Vec::new(), fixed: Vec::new() };
    let statements: Vec<String> = captured
        .statements
        .iter()
        .map(|statement| names.statement(statement))
        .collect::<Result<_, _>>()?;
    let share = stores.len() / clients;
    let codes = stores.iter().map(|store| store.code.as_str()).collect::<Vec<_>>().join(",");
    let districts = stores.iter().map(Store::district).collect::<Vec<_>>().join(",");
    let mut script = "\\set turn :turn + 1\n\\if :turn = 1\nSELECT ".to_owned();
    for (place, value) in names.fixed.iter().enumerate() {
        let value = BASE64_STANDARD.encode(value);
        write!(script, "convert_from(decode('{value}', 'base64'), 'utf8') AS fixed_{place}, ")?;
    }
    write!(
        script,
        "'{codes}' AS codes, '{districts}' AS districts \\gset\n\\endif\n\
         \\set n :client_id * {share} + mod(:turn - 1, {share}) + 1\n\
         \\set day (:turn - 1) / {share}\n\
         SELECT store, district, {} AS manager, {} AS session",
        MANAGER_OF.replace("$1", "store"),
        SESSION_OF.replace("$1", "store")
    )?;
    for (name, made) in &names.each {
        write!(script, ", {made} AS {name}")?;
    }
    writeln!(
        script,
        " FROM (SELECT split_part(:codes, ',', :n::int) AS store,\
         split_part(:districts, ',', :n::int) AS district, date '{first}' AS first) AS turn \\gset"
    )?;
    for statement in statements {
        writeln!(script, "{statement};")?;
    }
    Ok(script)
}
