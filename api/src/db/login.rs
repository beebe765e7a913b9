//! What the login that serves requests may be.

use anyhow::{Context, ensure};
use diesel::QueryableByName;
use diesel::sql_types::{Bool, Nullable, Text};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};

use super::statement::statement;

#[derive(QueryableByName)]
struct Login {
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Bool)]
    superuser: bool,
    #[diesel(sql_type = Bool)]
    bypasses: bool,
    #[diesel(sql_type = Bool)]
    serves: bool,
    #[diesel(sql_type = Nullable<Text>)]
    further: Option<String>,
}

statement!(Check {} = "login/check.sql");

/// Connects, and sees that row-level security holds for this login: it is `parings_app` or a
/// member of it and of nothing else.
///
/// # Errors
/// When nobody can connect, or the login may do more than serve.
pub async fn check(url: &str) -> anyhow::Result<()> {
    let mut conn =
        AsyncPgConnection::establish(url).await.context("cannot connect with DATABASE_URL")?;
    let login: Login = Check {}.get_result(&mut conn).await?;
    let name = &login.name;
    ensure!(
        !login.superuser,
        "the login {name} is a superuser, for whom row-level security does not hold; \
         serve as a member of parings_app"
    );
    ensure!(
        !login.bypasses,
        "the login {name} bypasses row-level security (BYPASSRLS); serve as one that does not"
    );
    ensure!(
        login.serves,
        "the login {name} is no member of parings_app; run `parings migrate`, \
         then as an administrator: GRANT parings_app TO {name}"
    );
    if let Some(further) = login.further {
        anyhow::bail!(
            "the login {name} is also a member of {further}; serve as a member of parings_app alone"
        );
    }
    Ok(())
}
