//! Adds up weeks that are over.

use std::time::Duration;

use crate::app::Deps;
use crate::app::night::weeks;

/// A week that has just ended, or changed, is read night by night for no longer than this.
const EVERY: Duration = Duration::from_secs(60 * 60);

/// Adds up at once and then every hour, for as long as it is polled. A failure is logged and tried again
/// at the next turn.
pub async fn run(deps: Deps) {
    let mut turns = tokio::time::interval(EVERY);
    loop {
        turns.tick().await;
        match weeks::keep(&deps, |_, _| ()).await {
            Ok(0) => {}
            Ok(kept) => tracing::info!(weeks.kept = kept, "weeks are added up"),
            Err(error) => tracing::error!(error.cause = ?error, "add up weeks"),
        }
    }
}
