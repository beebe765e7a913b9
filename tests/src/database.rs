//! A database for each test, copied from the run's migrated one.

use parings::cluster::SUPERUSER;
use parings::cluster::roles::{DATABASE, OWNER};
use tokio_postgres::{Client, NoTls};

/// The variable by which the setup script says where the run's cluster is.
pub const HOST_VARIABLE: &str = "PARINGS_TEST_HOST";

/// A database of one test; it is gone when the value goes out of scope.
#[derive(Debug)]
pub struct Database {
    name: String,
}

impl Database {
    /// A database with every migration and the partitions around June 2026.
    pub async fn migrated() -> Self {
        Self::create(DATABASE).await
    }

    /// A database without anything.
    pub async fn empty() -> Self {
        Self::create("template0").await
    }

    async fn create(template: &str) -> Self {
        let name = format!("t_{}", parings::edge::new_id().simple());
        // Copying files is the fast way where nothing is synced: no write-ahead log of each page.
        let sql =
            format!("CREATE DATABASE {name} OWNER {OWNER} TEMPLATE {template} STRATEGY FILE_COPY");
        let admin = connect(&url(SUPERUSER, "postgres")).await;
        admin.batch_execute(&sql).await.expect("a database for this test");
        Self { name }
    }

    /// A connection URL for a role.
    pub fn url(&self, role: &str) -> String {
        url(role, &self.name)
    }

    /// A connection as a role: `parings_app`, `parings_owner`, `parings_read` …, or as the
    /// superuser ([`SUPERUSER`]), who alone sees past every policy.
    pub async fn connect(&self, role: &str) -> Client {
        connect(&self.url(role)).await
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        let sql = format!("DROP DATABASE IF EXISTS {} WITH (FORCE)", self.name);
        let dropping = async move {
            let admin = connect(&url(SUPERUSER, "postgres")).await;
            admin.batch_execute(&sql).await
        };
        if let Err(error) = apart(dropping) {
            eprintln!("the database {} stays until the run ends: {error}", self.name);
        }
    }
}

/// Runs `work` to its end on a thread of its own, for places that cannot await.
pub(crate) fn apart<T: Send>(work: impl Future<Output = T> + Send) -> T {
    std::thread::scope(|scope| {
        let worker = scope.spawn(|| {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
            runtime.expect("a runtime").block_on(work)
        });
        worker.join().expect("the worker ends in good order")
    })
}

fn url(role: &str, database: &str) -> String {
    let host = std::env::var(HOST_VARIABLE)
        .unwrap_or_else(|_| panic!("{HOST_VARIABLE} is not set: run the tests by cargo nextest"));
    url_at(&host, role, database)
}

/// The URL of a role on a database of the cluster at `host`.
pub fn url_at(host: &str, role: &str, database: &str) -> String {
    format!("postgresql://{role}@{host}/{database}")
}

/// A connection.
pub async fn connect(url: &str) -> Client {
    let (client, connection) = tokio_postgres::connect(url, NoTls)
        .await
        .unwrap_or_else(|error| panic!("connect to {url}: {error}"));
    // Ends when the client is dropped.
    tokio::spawn(connection);
    client
}
