//! The roles and the database of a private cluster.
//!
//! Each role can do its own work and no more. None is a superuser and none bypasses row-level
//! security; what each may touch is granted by the migrations. The functions here can be repeated
//! at every start.

use tokio_postgres::{Client, NoTls};

use super::ClusterError;

/// Owns the database and every object in it; runs the migrations.
pub const OWNER: &str = "parings_owner";
/// Serves requests.
pub const APP: &str = "parings_app";
/// Owns the functions that look up people and sessions at sign-in, before there is an actor; the
/// server calls them and never connects as this role.
pub const SIGNIN: &str = "parings_signin";
/// Runs background work.
pub const JOBS: &str = "parings_jobs";
/// Reads, for reports and curious people.
pub const READ: &str = "parings_read";
/// The server's database.
pub const DATABASE: &str = "parings";

const ALL: [&str; 5] = [OWNER, APP, SIGNIN, JOBS, READ];

/// Creates the five roles and the database [`DATABASE`], as far as they are missing.
///
/// `bootstrap_url` is a superuser's, on any database. May be called inside or outside an async
/// runtime; it blocks either way.
///
/// # Errors
/// [`ClusterError::Roles`] with what PostgreSQL answered.
pub fn ensure_roles(bootstrap_url: &str) -> Result<(), ClusterError> {
    // A thread of its own: a runtime cannot be started within another.
    std::thread::scope(|scope| {
        let worker = scope.spawn(|| {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
            runtime.block_on(ensure(bootstrap_url)).map_err(Into::into)
        });
        worker.join().unwrap_or_else(|_| Err("the worker panicked".into()))
    })
    .map_err(ClusterError::Roles)
}

async fn ensure(bootstrap_url: &str) -> Result<(), tokio_postgres::Error> {
    let (client, connection) = tokio_postgres::connect(bootstrap_url, NoTls).await?;
    let work = async move {
        for role in ALL {
            ensure_role(&client, role).await?;
        }
        // Lets migrations make functions that run with the sign-in role's rights.
        client.batch_execute(&format!("GRANT {SIGNIN} TO {OWNER}")).await?;
        ensure_database(&client).await
    };
    // The work owns the client and drops it when done, which ends the connection.
    let (worked, connected) = tokio::join!(work, connection);
    worked.and(connected)
}

async fn ensure_role(client: &Client, role: &str) -> Result<(), tokio_postgres::Error> {
    let known = client.query_opt("SELECT 1 FROM pg_roles WHERE rolname = $1", &[&role]).await?;
    let verb = if known.is_none() { "CREATE" } else { "ALTER" };
    let rights = "LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS";
    client.batch_execute(&format!("{verb} ROLE {role} {rights}")).await
}

async fn ensure_database(client: &Client) -> Result<(), tokio_postgres::Error> {
    let sql = "SELECT 1 FROM pg_database WHERE datname = $1";
    if client.query_opt(sql, &[&DATABASE]).await?.is_none() {
        client.batch_execute(&format!("CREATE DATABASE {DATABASE} OWNER {OWNER}")).await?;
    }
    // By default every role may connect and make temporary tables.
    let sql = format!(
        "REVOKE ALL ON DATABASE {DATABASE} FROM PUBLIC;
         GRANT CONNECT ON DATABASE {DATABASE} TO {}",
        ALL.join(", ")
    );
    client.batch_execute(&sql).await
}
