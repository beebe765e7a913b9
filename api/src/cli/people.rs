//! `parings people`: adds the first person of head office, and helps when nobody can sign in.

use anyhow::{Context, anyhow};
use clap::{Args, Subcommand};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use parings::app::office::operator;
use parings::app::office::people::{NewPerson, check_email, check_name};
use parings::edge::Clock;
use parings::error::AppError;
use parings_core::access::Role;

use super::owner::Owner;
use super::serve::runtime;

/// People who sign in.
#[derive(Debug, Args)]
pub struct People {
    #[command(flatten)]
    owner: Owner,
    #[command(subcommand)]
    command: PeopleCommand,
}

/// What can be done about people.
#[derive(Debug, Subcommand)]
pub enum PeopleCommand {
    /// Adds a person and prints the password that was made for them
    Add {
        /// The address they will sign in with
        email: String,
        /// The name that the people they work with see
        #[arg(long)]
        name: String,
        /// crew, manager, coach, owner or office
        #[arg(long, default_value = "office")]
        role: String,
        /// A store, district or owner of the role; once for each
        #[arg(long = "place", value_name = "CODE")]
        places: Vec<String>,
    },
    /// Disables a person; their sessions end
    Disable {
        /// The address they sign in with
        email: String,
    },
    /// Makes a new password for a person and prints it; their sessions end
    Reset {
        /// The address they sign in with
        email: String,
    },
    /// Lists people
    List,
}

impl People {
    /// Does it and ends.
    pub fn run(self) -> anyhow::Result<()> {
        let owner_url = self.owner.url()?;
        let done = runtime()?.block_on(run(self.command, &owner_url))?;
        println!("{done}");
        Ok(())
    }
}

/// Does it, and says what was done.
pub async fn run(command: PeopleCommand, owner_url: &str) -> anyhow::Result<String> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    let now = Clock::Machine.now();
    match command {
        PeopleCommand::Add { email, name, role, places } => {
            let role = Role::from_parts(&role, &places).map_err(anyhow::Error::msg)?;
            if let Role::Till(_) = role {
                anyhow::bail!("a till is a service: head office adds it at /v1/services");
            }
            let name = check_name(&name).map_err(anyhow::Error::msg)?;
            let email = check_email(&email).map_err(anyhow::Error::msg)?;
            let new = NewPerson { name, email, role, password: None };
            let (person, made) = operator::add(&mut conn, now, new).await.map_err(plain)?;
            let password = made.unwrap_or_default();
            Ok(format!("added {} as {}\npassword: {password}", person.name, person.role.word()))
        }
        PeopleCommand::Disable { email } => {
            let person = operator::disable(&mut conn, now, &email).await.map_err(plain)?;
            Ok(format!("disabled {}", person.name))
        }
        PeopleCommand::Reset { email } => {
            let (person, made) = operator::reset(&mut conn, now, &email).await.map_err(plain)?;
            Ok(format!("reset {}\npassword: {made}", person.name))
        }
        PeopleCommand::List => {
            let people = operator::list(&mut conn).await.map_err(plain)?;
            let line = |person: &parings::app::office::people::Person| {
                let email = person.email.as_deref().unwrap_or_default();
                let state = if person.disabled_at.is_some() { "disabled" } else { "active" };
                let places = person.role.places().join(",");
                format!("{email}\t{}\t{places}\t{state}\t{}", person.role.word(), person.name)
            };
            Ok(people.iter().map(line).collect::<Vec<_>>().join("\n"))
        }
    }
}

/// The operator may see the cause, which an HTTP answer would not tell.
fn plain(error: AppError) -> anyhow::Error {
    match error {
        AppError::Internal(cause) => cause,
        other => anyhow!("{other}"),
    }
}
