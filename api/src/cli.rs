//! What the command line offers: one file for each command.

mod demo;
mod export;
mod import;
mod machine;
mod migrate;
mod office;
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
    /// An invented chain in a private database of its own, as large as is asked for.
    Demo(demo::Demo),
    /// People who sign in: add the first, disable, reset, list.
    People(people::People),
    /// Brings files of facts in: nights, entries, sales or tickets.
    ///
    /// CSV or NDJSON. A file goes in as a whole or not at all, and the same file only once: run the
    /// same command again after one was corrected.
    Import(import::Import),
    /// Takes facts and figures out in files.
    Export(export::Export),
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
        Command::Demo(demo) => demo.run(),
        Command::People(people) => people.run(),
        Command::Import(import) => import.run(),
        Command::Export(export) => export.run(),
        Command::Verify(verify) => verify.run(),
        Command::Review(review) => review.run(),
        Command::Openapi(openapi) => openapi.run(),
    }
}
