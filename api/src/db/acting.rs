//! Taking the part of a person: the first statement of every transaction.

use diesel::sql_types::{Array, Nullable, Text, Uuid as SqlUuid};
use diesel::{QueryResult, QueryableByName};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use parings_core::ids::{PersonId, StoreId};
use uuid::Uuid;

use super::statement::statement;

/// A person or service as the records have them at this moment.
#[derive(QueryableByName)]
pub struct ActingRow {
    /// Their name.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// Their role's word.
    #[diesel(sql_type = Text)]
    pub role: String,
    /// The codes of their places.
    #[diesel(sql_type = Array<Text>)]
    pub places: Vec<String>,
}

statement!(ActAs {
    person: Uuid => SqlUuid,
    session: Option<Uuid> => Nullable<SqlUuid>,
} = "acting/act_as.sql");

/// Acts as `person` until the transaction ends; `None` when unknown or disabled, or when their
/// `session` has ended (a service has none).
///
/// # Errors
/// When the database cannot be reached.
pub async fn act_as(
    conn: &mut AsyncPgConnection,
    person: PersonId,
    session: Option<Uuid>,
) -> QueryResult<Option<ActingRow>> {
    let found: Vec<ActingRow> = ActAs { person: person.0, session }.load(conn).await?;
    Ok(found.into_iter().next())
}

statement!(ActForRules<'a> { store: &'a str => Text } = "acting/act_for_rules.sql");

/// Hands over to the rules for one store, until the transaction ends: facts are saved, and what
/// they add up to is derived by nobody in particular.
///
/// # Errors
/// When the acting person may not write to the store.
pub async fn act_for_rules(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    ActForRules { store: store.as_str() }.execute(conn).await.map(|_| ())
}

statement!(ActAtOpening<'a> { store: &'a str => Text } = "acting/act_at_opening.sql");

/// Takes the part of the rules for one store while nobody acts, until the transaction ends: what
/// waited until the next opening is settled by the clock.
///
/// # Errors
/// When somebody acts.
pub async fn act_at_opening(conn: &mut AsyncPgConnection, store: &StoreId) -> QueryResult<()> {
    ActAtOpening { store: store.as_str() }.execute(conn).await.map(|_| ())
}
