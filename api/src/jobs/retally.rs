//! Works out again what older rules made.

use crate::app::Deps;
use crate::app::night::retally;

/// Works through every store once, when the server begins: rules change with a new version of it alone.
pub async fn run(deps: Deps) {
    match retally::run(&deps).await {
        Ok(0) => {}
        Ok(nights) => tracing::info!(nights.tallied = nights, "tallied anew by the rules in force"),
        Err(error) => tracing::error!(error.cause = ?error, "tally nights of older rules anew"),
    }
}
