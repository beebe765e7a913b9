//! In whose name a command works that does what head office does.

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Context;
use clap::Args;
use parings::app::Deps;
use parings::app::office::operator;
use parings::boot;
use parings::cluster::{self, roles};
use parings::config::{Config, DatabaseConfig, HttpConfig, SigninConfig};
use parings::context::Caller;
use parings::edge::Clock;

use super::machine::default_data;

/// Longest statement: a history takes longer than a request.
const STATEMENT: Duration = Duration::from_secs(600);

/// Somebody of head office, and the database of a running `parings up` or another one.
#[derive(Debug, Args)]
pub struct Office {
    /// The person of head office in whose name it is done
    #[arg(long = "as", value_name = "EMAIL")]
    email: Option<String>,
    /// Where the data of a running `parings up` live [default: where `parings up` puts them]
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA")]
    data: Option<PathBuf>,
    /// Works on another database, as the login that serves requests
    #[arg(long, value_name = "URL", env = "DATABASE_URL", hide_env_values = true)]
    database_url: Option<String>,
    /// The same as the role that owns its schema, to make the place for months that are long past
    #[arg(long, value_name = "URL", env = "OWNER_DATABASE_URL", hide_env_values = true)]
    owner_database_url: Option<String>,
}

/// What a command needs to do something on behalf of a person or service.
pub struct AtWork {
    /// What use cases are given.
    pub deps: Deps,
    /// The person or service on whose behalf it is done.
    pub caller: Caller,
    /// The owner's URL, where it is known.
    pub owner_url: Option<String>,
}

impl Office {
    /// Connects, and looks the person up. What they may do, the policy says when they do it.
    pub async fn begin(&self) -> anyhow::Result<AtWork> {
        let email = self.email.as_deref().context("say in whose name: --as EMAIL")?;
        let data = self.data.clone().map_or_else(default_data, Ok)?;
        let (url, owner_url) = match self.database_url.clone() {
            Some(url) => (url, self.owner_database_url.clone()),
            None => {
                let url = |role| cluster::url_of_running(&data, role, roles::DATABASE);
                (url(roles::APP)?, Some(url(roles::OWNER)?))
            }
        };
        let database = DatabaseConfig { statement_timeout: STATEMENT, ..DatabaseConfig::at(url) };
        let signin = SigninConfig::with_keys(data.join("keys"));
        let config = Config { database, http: HttpConfig::default(), signin };
        let deps = boot::deps(config, Clock::Machine)?;
        let person = operator::person(&deps, email).await;
        let person = person.with_context(|| format!("--as {email}"))?;
        let request_id = operator::COMMAND.to_owned();
        Ok(AtWork { deps, caller: Caller { person, session: None, request_id }, owner_url })
    }
}
