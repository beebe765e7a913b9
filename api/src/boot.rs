//! From a configuration to a running server, for the command line and for tests alike.

use std::net::TcpListener;
use std::sync::Arc;

use actix_web::dev::Server;
use actix_web::web::{Data, PathConfig, QueryConfig};
use actix_web::{App, HttpServer, middleware, web};
use anyhow::Context;
use tracing_actix_web::TracingLogger;

use crate::app::Deps;
use crate::app::ground::turns::Turns;
use crate::app::signin::Signin;
use crate::config::Config;
use crate::edge::Clock;
use crate::metrics::Metrics;
use crate::telemetry::RequestSpan;
use crate::{db, http, metrics, openapi};

/// A server that listens and has not begun to answer.
pub struct Built {
    /// Await it to serve; it ends when its handle is told to stop, after open requests.
    pub server: Server,
    /// The port it listens on.
    pub port: u16,
    /// What use cases are given, for commands that run beside the server.
    pub deps: Deps,
}

/// Makes what use cases need. Keys are made where they are missing.
///
/// # Errors
/// When a setting does not hold, or others may read the keys.
pub fn deps(config: Config, clock: Clock) -> anyhow::Result<Deps> {
    let pool = db::pool::make(&config.database)?;
    let signin = Arc::new(Signin::new(&config.signin, &clock)?);
    let turns = Arc::new(Turns::new(config.database.pool_size, config.database.wait));
    Ok(Deps { config: Arc::new(config), pool, clock, catalogs: Arc::default(), signin, turns })
}

/// Takes the address of the settings and makes the server. Call it inside a tokio runtime.
///
/// # Errors
/// When the address is taken or a setting does not hold.
pub fn build(deps: Deps) -> anyhow::Result<Built> {
    let at = deps.config.http.listen;
    build_on(deps, TcpListener::bind(at).with_context(|| format!("cannot listen on {at}"))?)
}

/// Makes the server on an address that was taken before. Call it inside a tokio runtime.
///
/// # Errors
/// When a setting does not hold.
pub fn build_on(deps: Deps, listener: TcpListener) -> anyhow::Result<Built> {
    let settings = deps.config.http.clone();
    let port = listener.local_addr()?.port();
    let shared = Data::new(deps.clone());
    let counters = Data::new(Metrics::new()?);
    let room = Data::new(http::body::Room::new(settings.body_room));
    let mut server = HttpServer::new(move || {
        App::new()
            .app_data(shared.clone())
            .app_data(counters.clone())
            .app_data(room.clone())
            .app_data(PathConfig::default().error_handler(http::body::path_error))
            .app_data(QueryConfig::default().error_handler(http::body::query_error))
            .wrap(middleware::from_fn(http::guard::answer))
            .wrap(middleware::from_fn(metrics::count))
            .wrap(TracingLogger::<RequestSpan>::new())
            .wrap(middleware::Compress::default())
            .service(web::redirect("/docs", "/docs/"))
            .service(openapi::page())
            .configure(http::routes)
    })
    // Its own handlers would cut open requests off at Ctrl-C; whoever serves listens to signals.
    .disable_signals()
    .max_connections(settings.connections)
    .shutdown_timeout(settings.shutdown_timeout.as_secs());
    if settings.workers > 0 {
        server = server.workers(settings.workers);
    }
    let server = server.listen(listener)?.run();
    Ok(Built { server, port, deps })
}
