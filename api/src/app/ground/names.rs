//! People's names: told to those who work in the store, and to nobody above it.

use std::collections::BTreeMap;

use diesel_async::AsyncPgConnection;
use parings_core::ids::PersonId;
use uuid::Uuid;

use crate::context::Ctx;
use crate::db;
use crate::error::AppError;

/// Somebody of the store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Who {
    /// The id of their account.
    pub id: PersonId,
    /// What people call them.
    pub name: String,
}

/// Names of people; of nobody, for those who are not told.
#[derive(Debug, Default)]
pub struct Names(BTreeMap<Uuid, String>);

impl Names {
    /// Reads the names of people, as far as the one who acts is told.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn of(
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        ids: &[Uuid],
    ) -> Result<Self, AppError> {
        if !ctx.sees_names() {
            return Ok(Self::default());
        }
        let rows = db::entries::names_of(conn, ids).await?;
        Ok(Self(rows.into_iter().map(|row| (row.id, row.name)).collect()))
    }

    /// Somebody, where their name is told.
    pub fn who(&self, id: PersonId) -> Option<Who> {
        Some(Who { id, name: self.0.get(&id.0)?.clone() })
    }
}
