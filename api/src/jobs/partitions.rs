//! Makes the partitions of coming months in time.

use std::time::Duration;

use crate::app::ground::partitions;
use crate::edge::Clock;

/// There are partitions for three months to come, so a turn that fails can wait for the next.
const EVERY: Duration = Duration::from_secs(12 * 60 * 60);

/// Makes missing partitions at once and then twice a day, for as long as it is polled. A failure
/// is logged and tried again at the next turn.
pub async fn run(owner_url: String, clock: Clock) {
    let mut turns = tokio::time::interval(EVERY);
    loop {
        turns.tick().await;
        match partitions::make(&owner_url, clock.now()).await {
            Ok(made) => tracing::info!(partitions.made = made, "partitions are there"),
            Err(error) => tracing::error!(error.cause = format!("{error:#}"), "make partitions"),
        }
    }
}
