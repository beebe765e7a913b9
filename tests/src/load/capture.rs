//! Every statement that one request sends, as the database itself tells it.
//!
//! A second server of this process, with one connection, sends the request. The connection's log
//! says which statements ran with which values; what it keeps prepared says of which types they are.

use std::fs;
use std::net::SocketAddr;

use anyhow::{Context, bail};
use diesel::QueryableByName;
use diesel::sql_types::{Array, Integer, Text};
use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use parings::boot;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::config::{Config, DatabaseConfig, HttpConfig, SigninConfig};
use parings::edge::Clock;
use parings_core::calendar::BusinessDate;
use reqwest::header::IF_NONE_MATCH;
use uuid::Uuid;

use super::chain::{Store, night};
use super::stage::Stage;
use crate::database::connect;
use crate::house::serve;

/// A statement as it ran.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// Its text.
    pub text: String,
    /// The type and the value of each of its parameters.
    pub values: Vec<(String, Option<String>)>,
}

/// What a request of a night sent.
#[derive(Debug, Clone)]
pub struct Captured {
    /// The store.
    pub store: Store,
    /// The night.
    pub date: BusinessDate,
    /// The id of the write.
    pub write: Uuid,
    /// How the connection has statements planned.
    pub plans: String,
    /// The statements in their order, from the beginning of the transaction to its end.
    pub statements: Vec<Statement>,
}

#[derive(QueryableByName)]
struct Prepared {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    statement: String,
    #[diesel(sql_type = Array<Text>)]
    types: Vec<String>,
}

#[derive(QueryableByName)]
struct Backend {
    #[diesel(sql_type = Integer)]
    pid: i32,
    #[diesel(sql_type = Text)]
    plans: String,
}

/// Sends the next two nights of a store and answers with the statements of the second: by then
/// everything is prepared and the catalogue is known, as on any night but the first.
///
/// # Errors
/// When the night is not accepted, or a statement is prepared anew at every call.
pub async fn capture(stage: &Stage, store: &mut Store) -> anyhow::Result<Captured> {
    let admin = connect(&stage.url(SUPERUSER)).await;
    admin.batch_execute(&format!("GRANT SET ON PARAMETER log_statement TO {APP}")).await?;
    let config = Config {
        database: DatabaseConfig { pool_size: 1, ..DatabaseConfig::at(stage.url(APP)) },
        http: HttpConfig {
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            workers: 1,
            ..HttpConfig::default()
        },
        signin: SigninConfig::with_keys(stage.folder().join("keys")),
    };
    let deps = boot::deps(config, Clock::Machine)?;
    let (address, (handle, thread)) = serve(deps.clone()).await;
    for _ in 0..9 {
        send(address, store).await?;
    }
    let Backend { pid, plans } = {
        let mut conn = deps.pool.get().await?;
        conn.batch_execute("SET log_statement = 'all'").await?;
        let backend = "SELECT pg_backend_pid() AS pid, current_setting('plan_cache_mode') AS plans";
        diesel::sql_query(backend).get_result(&mut conn).await?
    };
    let log = stage.cluster().log();
    let before = fs::read(&log)?.len();
    let (date, write) = (store.next, send(address, store).await?);
    let said = String::from_utf8_lossy(&fs::read(&log)?[before..]).into_owned();
    let prepared: Vec<Prepared> = {
        let mut conn = deps.pool.get().await?;
        conn.batch_execute("SET log_statement = 'none'").await?;
        diesel::sql_query(
            "SELECT name, statement, parameter_types::text[] AS types FROM pg_prepared_statements",
        )
        .load(&mut conn)
        .await?
    };
    handle.stop(true).await;
    thread.join().map_err(|_| anyhow::anyhow!("the second server panicked"))?;

    let mut statements = Vec::new();
    for ran in ran(&said, pid) {
        statements.push(match ran {
            Ran::Simple(text) => Statement { text, values: Vec::new() },
            Ran::Prepared { name, text, values } => {
                let kept = prepared.iter().find(|kept| kept.name == name);
                let kept = kept.with_context(|| format!("prepared at every call: {text}"))?;
                anyhow::ensure!(kept.types.len() == values.len(), "values of {text}");
                let values = kept.types.iter().cloned().zip(values).collect();
                Statement { text: kept.statement.clone(), values }
            }
        });
    }
    let end = statements.iter().position(|one| one.text.eq_ignore_ascii_case("commit"));
    statements.truncate(end.context("a transaction that commits")? + 1);
    Ok(Captured { store: store.clone(), date, write, plans, statements })
}

/// Sends a store's next night and answers with the id it was sent under.
async fn send(address: SocketAddr, store: &mut Store) -> anyhow::Result<Uuid> {
    let body = night(store);
    let url = format!("http://{address}/v1/stores/{}/nights/{}", store.code, store.next);
    let request = reqwest::Client::new().put(url).bearer_auth(&store.token);
    let answer = request.header(IF_NONE_MATCH, "*").json(&body).send().await?;
    if answer.status() != 201 {
        bail!("{}: {}", answer.status(), answer.text().await?);
    }
    store.next = store.next.succ();
    Ok(body["submission_id"].as_str().context("an id")?.parse()?)
}

/// What a line of the log says that ran.
#[derive(Debug, PartialEq, Eq)]
enum Ran {
    Simple(String),
    Prepared { name: String, text: String, values: Vec<Option<String>> },
}

/// Reads the log of one backend: a message goes on over lines that begin with a tab.
fn ran(log: &str, pid: i32) -> Vec<Ran> {
    let log = log.replace("\n\t", "\r");
    let own = format!("[{pid}] ");
    let messages =
        log.lines().filter_map(|line| Some(line.split_once(&own)?.1.replace('\r', "\n")));
    let mut all = Vec::new();
    for message in messages {
        if let Some(text) = message.strip_prefix("LOG:  statement: ") {
            all.push(Ran::Simple(text.to_owned()));
        } else if let Some(ran) = message.strip_prefix("LOG:  execute ")
            && let Some((name, text)) = ran.split_once(": ")
        {
            all.push(Ran::Prepared {
                name: name.to_owned(),
                text: text.to_owned(),
                values: Vec::new(),
            });
        } else if let Some(said) = message.strip_prefix("DETAIL:  parameters: ")
            && let Some(Ran::Prepared { values, .. }) = all.last_mut()
        {
            *values = parameters(said);
        }
    }
    all
}

/// Reads `$1 = 'it''s', $2 = NULL`.
fn parameters(said: &str) -> Vec<Option<String>> {
    let (mut values, mut rest) = (Vec::new(), said);
    while let Some((_, value)) = rest.split_once(" = ") {
        let Some(quoted) = value.strip_prefix('\'') else {
            values.push(None);
            rest = value;
            continue;
        };
        let (mut text, mut left) = (String::new(), quoted);
        while let Some((before, after)) = left.split_once('\'') {
            text.push_str(before);
            match after.strip_prefix('\'') {
                Some(more) => {
                    text.push('\'');
                    left = more;
                }
                None => {
                    left = after;
                    break;
                }
            }
        }
        values.push(Some(text));
        rest = left;
    }
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The form was read in the log of PostgreSQL 15 with `log_statement = all`.
    #[test]
    fn a_log_is_read_back() {
        let log = "2026-11-25 15:00:00.000 UTC [41] LOG:  statement: BEGIN\n\
                   2026-11-25 15:00:00.000 UTC [42] LOG:  statement: SELECT 1\n\
                   2026-11-25 15:00:00.000 UTC [41] LOG:  execute s3: SELECT $1,\n\
                   \t  $2, $3\n\
                   2026-11-25 15:00:00.000 UTC [41] DETAIL:  parameters: $1 = 'it''s = ''$2''', \
                   $2 = NULL, $3 = ''\n";
        let prepared = Ran::Prepared {
            name: "s3".to_owned(),
            text: "SELECT $1,\n  $2, $3".to_owned(),
            values: vec![Some("it's = '$2'".to_owned()), None, Some(String::new())],
        };
        assert_eq!(ran(log, 41), [Ran::Simple("BEGIN".to_owned()), prepared]);
    }
}
