//! A server of its own for each test.

use std::net::SocketAddr;
use std::thread::JoinHandle;
use std::time::Duration;

use actix_web::dev::ServerHandle;
use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings::app::Deps;
use parings::app::signin::keys::Keys;
use parings::app::signin::tokens::{self, Secret, Shown};
use parings::boot;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings::config::{Config, DatabaseConfig, HttpConfig, SigninConfig};
use parings::edge::{Clock, new_id};
use parings_core::access::Role;
use parings_core::ids::PersonId;
use reqwest::Method;
use serde_json::Value;
use tempfile::TempDir;
use tokio_postgres::Client;
use uuid::Uuid;

use crate::database::{Database, apart};
use crate::reply::Reply;
use crate::session;

/// How long a client waits for an answer.
const PATIENCE: Duration = Duration::from_secs(60);

/// When it is in every house at first: a Monday evening, 20:00 UTC on 15 June 2026.
pub fn first_moment() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 6, 15, 20, 0, 0).single().expect("a moment")
}

/// Opens a house with the usual settings.
pub async fn house() -> House {
    House::with(|_| ()).await
}

/// A running server with its database and a clock that the test sets.
pub struct House {
    /// Talks HTTP.
    pub client: reqwest::Client,
    /// The server's clock; stands at [`first_moment`] until it is set, unless it runs.
    pub clock: Clock,
    /// What the server's use cases are given.
    pub deps: Deps,
    /// The database behind the server.
    pub database: Database,
    address: SocketAddr,
    server: Option<(ServerHandle, JoinHandle<()>)>,
    keys: Keys,
    _folder: TempDir,
}

/// Somebody on record.
#[derive(Debug, Clone)]
pub struct Person {
    /// Their id.
    pub id: PersonId,
    /// The session they are signed in with; none for a service.
    pub session: Option<Uuid>,
    /// What they show to be let in; it holds for five years either side of the moment it was made
    /// at, so that a test may set the clock as it likes.
    pub token: String,
}

impl House {
    /// Opens a house with changed settings.
    pub async fn with(change: impl FnOnce(&mut Config)) -> Self {
        Self::by(Clock::standing(first_moment()), change).await
    }

    /// Opens a house with a clock that runs on from the first moment.
    pub async fn running() -> Self {
        let clock = Clock::running();
        clock.set(first_moment());
        Self::by(clock, |_| ()).await
    }

    async fn by(clock: Clock, change: impl FnOnce(&mut Config)) -> Self {
        // Shown when a test fails.
        parings::telemetry::start();
        let database = Database::migrated().await;
        let folder = tempfile::tempdir().expect("a folder for keys");
        let mut config = Config {
            // The machine that tests may be busy: all wait as long as a client does.
            database: DatabaseConfig {
                pool_size: 8,
                statement_timeout: PATIENCE,
                wait: PATIENCE,
                ..DatabaseConfig::at(database.url(APP))
            },
            http: HttpConfig {
                listen: SocketAddr::from(([127, 0, 0, 1], 0)),
                workers: 1,
                request_timeout: PATIENCE,
                shutdown_timeout: Duration::from_secs(1),
                ..HttpConfig::default()
            },
            signin: SigninConfig::with_keys(folder.path().join("keys")),
        };
        change(&mut config);
        let keys = Keys::load(&config.signin.keys, clock.now()).expect("keys of the server");
        let deps = boot::deps(config, clock.clone()).expect("settings that hold");
        let (address, server) = serve(deps.clone()).await;
        let client = reqwest::Client::builder()
            .timeout(PATIENCE)
            // The server closes a connection that was idle for 5 s; a request sent in that moment
            // would be lost.
            .pool_idle_timeout(Duration::from_secs(1))
            .redirect(reqwest::redirect::Policy::none())
            .build()
            .expect("a client");
        Self { client, clock, deps, database, address, server: Some(server), keys, _folder: folder }
    }

    /// Where the server listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// The full address of a path.
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    /// Comes back when so many transactions of this house's database wait for a lock that somebody holds.
    pub async fn until_waiting(&self, many: i64) {
        let waiting = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted
            AND database = (SELECT oid FROM pg_database WHERE datname = current_database())";
        let watcher = self.pg(SUPERUSER).await;
        while watcher.query_one(waiting, &[]).await.expect(waiting).get::<_, i64>(0) < many {}
    }

    /// A connection to the house's database as a role; see [`Database::connect`].
    pub async fn pg(&self, role: &str) -> Client {
        self.database.connect(role).await
    }

    /// The same for the functions of the server, which talk through diesel.
    pub async fn diesel(&self, role: &str) -> AsyncPgConnection {
        AsyncPgConnection::establish(&self.database.url(role)).await.expect("a connection")
    }

    /// Puts a person (a service, for [`Role::Till`]) on record without asking the server.
    pub async fn person(&self, role: Role) -> Person {
        let id = PersonId(new_id());
        let secret = matches!(role, Role::Till(_)).then(Secret::random);
        let kind = if secret.is_some() { "service" } else { "person" };
        let email = secret.is_none().then(|| format!("{id}@example.com"));
        let hash = secret.as_ref().map(Secret::hash);
        let (word, places, now) = (role.word(), role.places(), self.clock.now());
        let pg = self.pg(SUPERUSER).await;
        pg.execute(
            "INSERT INTO people
                   (id, kind, name, email, role, places, secret_hash, created_at, changed_at)
                 VALUES ($1, $2, 'Somebody', $3, $4, $5, $6, $7, $7)",
            &[&id.0, &kind, &email, &word, &places, &hash, &now],
        )
        .await
        .expect("a person on record");
        match secret {
            Some(secret) => Person { id, session: None, token: tokens::service_token(id, &secret) },
            None => {
                let session = new_id();
                let begun = session::begin(&pg, session, id, now).await;
                begun.expect("a session on record");
                let years = TimeDelta::days(5 * 365);
                let token = self.access_token(id, session, now - years, years * 2);
                Person { id, session: Some(session), token }
            }
        }
    }

    /// An access token of a person, as if they had signed in just now; of a service what it always shows.
    pub fn token(&self, person: &Person) -> String {
        let Some(session) = person.session else { return person.token.clone() };
        let life = self.deps.config.signin.access_life;
        self.access_token(person.id, session, self.clock.now(), life)
    }

    fn access_token(
        &self,
        person: PersonId,
        session: Uuid,
        from: DateTime<Utc>,
        life: TimeDelta,
    ) -> String {
        let shown = Shown { person, session };
        tokens::access(&self.keys, shown, new_id(), from, life).expect("an access token")
    }

    /// Sends a request and reads the answer.
    pub async fn send(&self, method: Method, path: &str, send: Sending<'_>) -> Reply {
        let asked = format!("{method} {path}");
        let mut request = self.client.request(method, self.url(path));
        if let Some(token) = send.token {
            request = request.bearer_auth(token);
        }
        for (name, value) in send.headers {
            request = request.header(*name, *value);
        }
        if let Some(json) = send.json {
            request = request.json(json);
        }
        let response = request.send().await.unwrap_or_else(|e| panic!("{asked}: {e:?}"));
        Reply::read(asked, response).await
    }

    /// GET.
    pub async fn get(&self, path: &str, token: Option<&str>) -> Reply {
        self.send(Method::GET, path, Sending { token, ..Sending::default() }).await
    }

    /// POST with a JSON body.
    pub async fn post(&self, path: &str, token: Option<&str>, json: &Value) -> Reply {
        self.send(Method::POST, path, Sending { token, json: Some(json), headers: &[] }).await
    }

    /// PUT with a JSON body; `If-Match` and its like go in `headers`.
    pub async fn put(
        &self,
        path: &str,
        token: Option<&str>,
        headers: &[(&str, &str)],
        json: &Value,
    ) -> Reply {
        self.send(Method::PUT, path, Sending { token, json: Some(json), headers }).await
    }
}

/// What a request carries.
#[derive(Debug, Default, Clone, Copy)]
pub struct Sending<'a> {
    /// A bearer token.
    pub token: Option<&'a str>,
    /// Further headers.
    pub headers: &'a [(&'a str, &'a str)],
    /// A JSON body.
    pub json: Option<&'a Value>,
}

/// The server's future is not `Send`, so it runs on a thread with a runtime of its own.
pub(crate) async fn serve(deps: Deps) -> (SocketAddr, (ServerHandle, JoinHandle<()>)) {
    let (tell, told) = tokio::sync::oneshot::channel();
    let host = deps.config.http.listen.ip();
    let thread = std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        runtime.expect("a runtime").block_on(async move {
            let built = boot::build(deps).expect("a server");
            let listening = (built.port, built.server.handle());
            tell.send(listening).expect("somebody waits for the server");
            built.server.await.expect("the server ends in good order");
        });
    });
    let (port, handle) = told.await.expect("the server starts");
    (SocketAddr::new(host, port), (handle, thread))
}

impl Drop for House {
    fn drop(&mut self) {
        if let Some((handle, thread)) = self.server.take() {
            apart(handle.stop(false));
            // A panic of the server is its own report.
            drop(thread.join());
        }
    }
}
