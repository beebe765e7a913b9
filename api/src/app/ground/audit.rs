//! Who read or changed what matters.
//!
//! Every change is noted by the use case that makes it. Reading is noted where somebody above the
//! store looks into it: a night's receipt, revisions, rows and changes, its entries, the list of
//! people, and the audit itself; one row for a request. A store that reads its own record is not
//! noted.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Role, Standing, Target};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{PersonId, StoreId};
use serde_json::Value;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::names::{Names, Who};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::AppError;

/// Something that was noted.
pub struct Noted {
    /// Its number; later rows have greater ones.
    pub id: i64,
    /// When it was done.
    pub at: DateTime<Utc>,
    /// Who, where that is told: head office is told of everybody here. Nobody, for what happened while
    /// nobody was signed in.
    pub person: Option<PersonId>,
    /// Their name and id, told to those who work in the store.
    pub who: Option<Who>,
    /// What was done, in the policy's words.
    pub action: String,
    /// To what it was done, in words: a kind of thing with its id or code.
    pub target: String,
    /// The store it concerns.
    pub store: Option<String>,
    /// The request it came with.
    pub request_id: String,
    /// What else is worth keeping of it, as a document.
    pub detail: Option<Value>,
}

/// Which rows are asked for.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Only what concerns this store.
    pub store: Option<StoreId>,
    /// Only what this account did.
    pub person: Option<PersonId>,
    /// Only what is noted in these words.
    pub action: Option<String>,
    /// From this moment on.
    pub since: Option<DateTime<Utc>>,
    /// Before this moment.
    pub until: Option<DateTime<Utc>>,
}

fn is_above_the_store(ctx: &Ctx) -> bool {
    matches!(ctx.actor.role, Role::Coach(_) | Role::Owner(_) | Role::Office)
}

/// Notes that somebody above the store reads a night of it.
///
/// # Errors
/// When the database cannot be reached.
pub async fn note_reading(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    action: Action,
    standing: &Standing,
    date: BusinessDate,
) -> Result<(), AppError> {
    if is_above_the_store(ctx) {
        let store = &standing.store;
        let target = format!("night {store} {date}");
        db::audit::add(conn, ctx, action.word(), &target, Some(store), None).await?;
    }
    Ok(())
}

/// Notes that head office reads something of the network.
///
/// # Errors
/// When the database cannot be reached.
pub async fn note_reading_of_all(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    action: Action,
    target: &str,
) -> Result<(), AppError> {
    if is_above_the_store(ctx) {
        db::audit::add(conn, ctx, action.word(), target, None, None).await?;
    }
    Ok(())
}

/// What was noted, newest first: all of it for head office, what concerns their stores for managers.
///
/// # Errors
/// 403 for other roles, 404 for a store that is not the caller's to see.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    filter: &Filter,
    before: Option<(DateTime<Utc>, i64)>,
    limit: usize,
) -> Result<Vec<Noted>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        match &filter.store {
            None => ctx.require(Action::ReadAudit, &Target::Network)?,
            Some(store) => {
                let today = ctx.today();
                let standing = catalog::standing(conn, today, ctx.now, store).await?;
                ctx.require(Action::ReadAudit, &Target::Store(&standing))?;
            }
        }
        let rows = db::audit::list(conn, filter.into(), before, limit).await?;
        note_reading_of_all(conn, ctx, Action::ReadAudit, "audit").await?;
        let people: Vec<Uuid> = rows.iter().filter_map(|row| row.person_id).collect();
        let names = Names::of(conn, ctx, &people).await?;
        let told = |id| match ctx.actor.role {
            Role::Office => Some(PersonId(id)),
            _ => names.id(PersonId(id)),
        };
        let noted = rows.into_iter().map(|row| Noted {
            id: row.id,
            at: row.at,
            person: row.person_id.and_then(told),
            who: row.person_id.and_then(|id| names.who(PersonId(id))),
            action: row.action,
            target: row.target,
            store: row.store_id,
            request_id: row.request_id,
            detail: row.detail,
        });
        Ok(noted.collect())
    })
    .await
}

impl<'a> From<&'a Filter> for db::audit::Which<'a> {
    fn from(filter: &'a Filter) -> Self {
        Self {
            store: filter.store.as_ref().map(StoreId::as_str),
            person: filter.person.map(|person| person.0),
            action: filter.action.as_deref(),
            since: filter.since,
            until: filter.until,
        }
    }
}
