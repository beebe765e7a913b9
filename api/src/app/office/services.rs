//! Services: tills and the like, which show a secret with every request instead of signing in.

use parings_core::access::{Action, Role, Target};
use parings_core::ids::{PersonId, StoreId};
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::office::people::{Issued, Person, expect, issue, note, page_of};
use crate::app::signin::tokens::{self, Secret};
use crate::context::Caller;
use crate::db;
use crate::db::people::Credential;
use crate::edge::new_id;
use crate::error::AppError;

/// A service to add.
#[derive(Serialize)]
pub struct NewService {
    /// What people call it.
    pub name: String,
    /// The stores it sends for; at least one.
    pub stores: Vec<StoreId>,
}

/// Services in the order they were added, from after `after` on.
///
/// # Errors
/// 403 for all but head office.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    after: Option<PersonId>,
    limit: usize,
) -> Result<Vec<Person>, AppError> {
    page_of(deps, caller, "service", after, limit).await
}

/// Adds a service. `show` makes the answer's body.
///
/// # Errors
/// 403 for all but head office.
pub async fn add<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    new: NewService,
    show: impl Fn(Issued) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &json!(new), async |conn| {
            let service = Person {
                id: PersonId(new_id()),
                name: new.name,
                email: None,
                role: Role::Till(new.stores),
                created_at: ctx.now,
                disabled_at: None,
            };
            let secret = Secret::random();
            let hash = secret.hash();
            let by = Some(ctx.actor.person);
            db::people::add(conn, &service.row(), &Credential::Secret(&hash), by).await?;
            note(conn, ctx, "add service", &service).await?;
            let shown = tokens::service_token(service.id, &secret);
            issue(201, service, Some(shown), show)
        })
        .await
    })
    .await
}

/// Revokes a service: its secret stops at once, for good.
///
/// # Errors
/// 403 for all but head office, 404 when there is no such service.
pub async fn revoke<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    id: PersonId,
    show: impl Fn(Person) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::EditPeople, &Target::Network)?;
        writes::replay_or(conn, ctx, &write, &(), async |conn| {
            let mut service = expect("service", id, db::people::find_to_change(conn, id).await?)?;
            service.disabled_at = service.disabled_at.or(Some(ctx.now));
            db::people::set_disabled(conn, id, service.disabled_at, ctx.now).await?;
            note(conn, ctx, "revoke service", &service).await?;
            Reply::changed(show(service))
        })
        .await
    })
    .await
}
