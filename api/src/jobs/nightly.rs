//! Looks for what stands out once a night is over.

use std::time::Duration;

use crate::app::Deps;
use crate::app::watch::nightly;

/// After a cut-off, or a change of a night, no more than this passes before somebody looks.
const EVERY: Duration = Duration::from_secs(300);

/// Looks at once and then every five minutes, for as long as it is polled. A failure is logged and
/// tried again at the next turn.
pub async fn run(deps: Deps) {
    let mut turns = tokio::time::interval(EVERY);
    loop {
        turns.tick().await;
        if let Err(error) = nightly::look(&deps).await {
            tracing::error!(error.cause = ?error, "review the night");
        }
    }
}
