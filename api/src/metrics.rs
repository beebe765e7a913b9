//! Counters of the server, in the Prometheus text format.

use std::time::Instant;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::middleware::Next;
use actix_web::web::Data;
use prometheus::{
    Encoder, HistogramOpts, HistogramVec, IntCounterVec, IntGauge, Opts, Registry, TextEncoder,
};

use crate::db::pool::PgPool;

/// The server's counters.
#[derive(Clone)]
pub struct Metrics {
    registry: Registry,
    requests: IntCounterVec,
    durations: HistogramVec,
    connections: IntGauge,
    connections_idle: IntGauge,
}

impl Metrics {
    /// Registers every counter.
    ///
    /// # Errors
    /// When two of them have one name.
    pub fn new() -> anyhow::Result<Self> {
        let registry = Registry::new();
        let requests = IntCounterVec::new(
            Opts::new("parings_http_requests_total", "Requests answered, by route and status."),
            &["method", "route", "status"],
        )?;
        let durations = HistogramVec::new(
            HistogramOpts::new(
                "parings_http_request_duration_seconds",
                "Time to answer a request.",
            )
            .buckets(vec![
                0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0,
            ]),
            &["method", "route"],
        )?;
        let connections =
            IntGauge::new("parings_database_connections", "Connections to the database.")?;
        let connections_idle = IntGauge::new(
            "parings_database_connections_idle",
            "Connections to the database that wait for work.",
        )?;
        registry.register(Box::new(requests.clone()))?;
        registry.register(Box::new(durations.clone()))?;
        registry.register(Box::new(connections.clone()))?;
        registry.register(Box::new(connections_idle.clone()))?;
        Ok(Self { registry, requests, durations, connections, connections_idle })
    }

    /// The counters as text.
    ///
    /// # Errors
    /// When a counter cannot be written.
    pub fn text(&self, pool: &PgPool) -> anyhow::Result<String> {
        let status = pool.status();
        self.connections.set(i64::try_from(status.size)?);
        self.connections_idle.set(i64::try_from(status.available)?);
        let mut text = Vec::new();
        TextEncoder::new().encode(&self.registry.gather(), &mut text)?;
        Ok(String::from_utf8(text)?)
    }
}

/// A method as it is counted. Clients may invent methods, and each would be kept for ever.
fn word(method: &Method) -> &'static str {
    match method.as_str() {
        "GET" => "GET",
        "HEAD" => "HEAD",
        "POST" => "POST",
        "PUT" => "PUT",
        "DELETE" => "DELETE",
        _ => "other",
    }
}

/// Counts each request under its route, never its address: addresses have no bound.
pub async fn count(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let begun = Instant::now();
    let metrics = request.app_data::<Data<Metrics>>().cloned();
    let method = word(request.method());
    let answered = next.call(request).await;
    if let Some(metrics) = metrics {
        let (route, status) = match &answered {
            Ok(response) => (response.request().match_pattern(), response.status()),
            Err(error) => (None, error.as_response_error().status_code()),
        };
        let route = route.unwrap_or_else(|| "none".to_owned());
        metrics
            .durations
            .with_label_values(&[method, &route])
            .observe(begun.elapsed().as_secs_f64());
        metrics.requests.with_label_values(&[method, &route, &status.as_u16().to_string()]).inc();
    }
    answered
}
