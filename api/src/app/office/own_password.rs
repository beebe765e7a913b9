//! People change their own password.

use parings_core::ids::PersonId;
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::office::people::{self, Person};
use crate::app::signin::limits::Who;
use crate::app::signin::passwords;
use crate::context::Caller;
use crate::db;
use crate::db::sessions::NewPassword;
use crate::error::AppError;

/// Gives the caller a new password; their other sessions end, so that whoever had the old one is out.
/// `show` makes the answer's body.
///
/// # Errors
/// 422 when the old one is wrong or the new one cannot be taken, 429 after too many wrong ones, 409 for a
/// service.
pub async fn change<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    old: String,
    new: String,
    show: impl Fn(Person) -> W,
) -> Result<Reply, AppError> {
    let session = caller.session.ok_or_else(|| {
        AppError::Conflict("a service has no password; head office gives it a secret".to_owned())
    })?;
    // Kept for ever with the write, so it has to tell nothing about the passwords: hence the key.
    let told = [&old, &new].map(|password| password.as_bytes());
    let content = json!(told.map(|p| deps.signin.keys.derive("password of a write", p)));
    deps.acting(caller, async |conn, ctx| {
        // Looked at in the transaction: a resend is answered though the old password is no longer right.
        writes::replay_or(conn, ctx, &write, &content, async |conn| {
            let id = ctx.actor.person;
            let person = people::expect("person", id, db::people::find(conn, id).await?)?;
            let email = person.email.clone().unwrap_or_default();
            let chain = people::chain(deps, conn, ctx).await?;
            passwords::check(&new, &[&email, &chain])
                .map_err(|said| AppError::invalid("/new", said))?;
            let account = db::sessions::account_of(conn, &email).await?;
            let verified = account.and_then(|account| account.password_hash);
            let verified = right(deps, id, old, verified).await?;
            let hash = deps.signin.passwords.hash(new).await?;
            let change = NewPassword { session, verified: &verified, hash: &hash, at: ctx.now };
            if !db::sessions::change_own_password(conn, &change).await? {
                let said = "your password was changed by somebody else just now";
                return Err(AppError::Conflict(said.to_owned()));
            }
            people::note(conn, ctx, "change own password", &person).await?;
            let etag = person.etag();
            Ok(Reply::changed(show(person))?.etag(etag))
        })
        .await
    })
    .await
}

/// The hash of the old password, when it is right.
async fn right(
    deps: &Deps,
    person: PersonId,
    old: String,
    hash: Option<String>,
) -> Result<String, AppError> {
    let attempt = deps.signin.limits.begin(Who::SignedIn(person))?;
    let right = deps.signin.passwords.verify(old, hash.clone()).await;
    if !matches!(right, Ok(false)) {
        attempt.forgive();
    }
    let right = right?;
    hash.filter(|_| right).ok_or_else(|| AppError::invalid("/old", "this is not your password"))
}
