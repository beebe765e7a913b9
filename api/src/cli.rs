//! What the command line offers: one file for each command.

mod migrate;
mod openapi;
mod owner;
mod people;
mod progress;
mod review;
mod serve;
mod up;
mod verify;
mod welcome;

use clap::{Parser, Subcommand};

/// A server for chains of quick-service kitchens.
#[derive(Debug, Parser)]
#[command(name = "parings", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Everything on this machine: a private database, its schema, and the server.
    ///
    /// The server logs to standard error; when that is a terminal, to server.log in the data
    /// folder instead.
    Up(up::Up),
    /// The server alone, on a database that is there.
    Serve(serve::Serve),
    /// Brings a database up to this version: schema, partitions, starting values.
    ///
    /// It can be repeated at any time; what is there stays.
    Migrate(migrate::Migrate),
    /// People who sign in: add the first, disable, reset, list.
    People(people::People),
    /// Works every tally out again from its facts and compares it with what is stored.
    Verify(verify::Verify),
    /// Says what stands out in a sheet of nights, without a server or a database.
    Review(review::Review),
    /// Prints the API document.
    Openapi(openapi::Openapi),
}

/// Runs the command that was asked for.
pub fn run() -> anyhow::Result<()> {
    match Cli::parse().command {
        Command::Up(up) => up.run(),
        Command::Serve(serve) => serve.run(),
        Command::Migrate(migrate) => migrate.run(),
        Command::People(people) => people.run(),
        Command::Verify(verify) => verify.run(),
        Command::Review(review) => review.run(),
        Command::Openapi(openapi) => openapi.run(),
    }
}
