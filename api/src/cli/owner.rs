//! Which database a command works on that needs its owner.

use std::path::PathBuf;

use clap::Args;
use parings::cluster::{self, roles};

use super::machine::default_data;

/// The database of a running `parings up`, or another one by its owner's URL.
#[derive(Debug, Args)]
pub struct Owner {
    /// Where the data of a running `parings up` live [default: where `parings up` puts them]
    #[arg(long, value_name = "DIR", env = "PARINGS_DATA", global = true)]
    data: Option<PathBuf>,
    /// Works on another database, as the role that owns its schema
    #[arg(
        long,
        value_name = "URL",
        env = "OWNER_DATABASE_URL",
        hide_env_values = true,
        global = true
    )]
    owner_database_url: Option<String>,
}

impl Owner {
    /// The URL to connect to.
    pub fn url(self) -> anyhow::Result<String> {
        if let Some(url) = self.owner_database_url {
            return Ok(url);
        }
        let data = self.data.map_or_else(default_data, Ok)?;
        Ok(cluster::url_of_running(&data, roles::OWNER, roles::DATABASE)?)
    }
}
