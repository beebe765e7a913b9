//! Settles what waits for the next opening.

use std::time::Duration;

use crate::app::Deps;
use crate::app::night::openings;

/// A store that opens waits no longer than this for last night's figures.
const EVERY: Duration = Duration::from_secs(60);

/// Settles held counts whose stores have opened, at once and then every minute, for as long as it is
/// polled. A failure is logged and tried again at the next turn.
pub async fn run(deps: Deps) {
    let mut turns = tokio::time::interval(EVERY);
    loop {
        turns.tick().await;
        match openings::settle(&deps).await {
            Ok(0) => {}
            Ok(settled) => tracing::info!(nights.settled = settled, "stores opened"),
            Err(error) => tracing::error!(error.cause = ?error, "settle held counts"),
        }
    }
}
