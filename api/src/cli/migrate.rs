//! `parings migrate`: brings a database's schema up to this version.

use clap::Args;
use tokio_postgres::NoTls;

use super::progress::Progress;
use super::serve::runtime;

/// Brings a database's schema up to this version.
#[derive(Debug, Args)]
pub struct Migrate {
    /// Connects as the role that owns the schema
    #[arg(long, value_name = "URL", env = "OWNER_DATABASE_URL", hide_env_values = true)]
    owner_database_url: String,
}

impl Migrate {
    /// Migrates and ends.
    pub fn run(self) -> anyhow::Result<()> {
        let mut progress = Progress::new(&["migrate"]);
        runtime()?.block_on(migrate(&self.owner_database_url, &mut progress))
    }
}

/// Checks that the role may change the schema.
async fn migrate(owner_url: &str, progress: &mut Progress) -> anyhow::Result<()> {
    progress.begin("migrate");
    let (client, connection) = tokio_postgres::connect(owner_url, NoTls).await?;
    let asking = async move {
        let sql = "SELECT has_database_privilege(current_database(), 'CREATE')";
        client.query_one(sql, &[]).await
    };
    let (answer, connected) = tokio::join!(asking, connection);
    let may_create: bool = answer?.get(0);
    connected?;
    anyhow::ensure!(may_create, "the role of OWNER_DATABASE_URL may not create in its database");
    progress.finish();
    Ok(())
}
