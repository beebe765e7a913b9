//! Who somebody is, as far as the one who acts is told: [`Role::is_told_of`] is the rule.

use std::collections::BTreeMap;

use diesel_async::AsyncPgConnection;
use parings_core::access::Role;
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

/// The people whom the one who acts is told of, among those who were asked for.
#[derive(Debug, Default)]
pub struct Names {
    told: BTreeMap<Uuid, String>,
    /// Names are for those who work in the store; others are told ids.
    by_name: bool,
}

impl Names {
    /// Looks people up, as far as the one who acts is told of them.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn of(
        conn: &mut AsyncPgConnection,
        ctx: &Ctx,
        ids: &[Uuid],
    ) -> Result<Self, AppError> {
        let mut told = BTreeMap::new();
        for row in db::entries::told_of(conn, ids).await? {
            let role = Role::from_parts(&row.role, &row.places).map_err(anyhow::Error::msg)?;
            if ctx.actor.role.is_told_of(&role) {
                told.insert(row.id, row.name);
            }
        }
        Ok(Self { told, by_name: ctx.sees_names() })
    }

    /// Somebody, where their name is told.
    pub fn who(&self, id: PersonId) -> Option<Who> {
        Some(Who { id, name: self.told.get(&id.0).filter(|_| self.by_name)?.clone() })
    }

    /// Their id, where that is told.
    pub fn id(&self, id: PersonId) -> Option<PersonId> {
        self.told.contains_key(&id.0).then_some(id)
    }
}
