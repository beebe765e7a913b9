//! `parings openapi`: the API document, as the server shows it and as it is committed.

use std::io::Write;

use clap::Args;

/// Prints the API document.
#[derive(Debug, Args)]
pub struct Openapi;

impl Openapi {
    /// Prints it and ends.
    pub fn run(self) -> anyhow::Result<()> {
        Ok(writeln!(std::io::stdout(), "{}", parings::openapi::document())?)
    }
}
