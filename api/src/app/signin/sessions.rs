//! Signing in and out.
//!
//! A session begins with a password and lives on by refresh tokens, each of which is spent for the
//! next. A token that is shown again soon after gives the same successor, for the tablet that lost
//! the answer; shown again later it was copied, and the session ends.

use std::net::IpAddr;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Actor, Role};
use parings_core::ids::PersonId;
use serde_json::json;

use crate::app::Deps;
use crate::app::signin::limits::Who;
use crate::app::signin::tokens::{self, Device, Secret, Shown};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::sessions::NewSession;
use crate::edge::new_id;
use crate::error::AppError;

/// A session as its holder is told of it.
pub struct Session {
    /// Shows who they are, for a short time.
    pub access_token: String,
    /// Seconds until the access token expires.
    pub expires_in_s: i64,
    /// Gives the next pair, once.
    pub refresh_token: String,
    /// The account that signed in.
    pub person: PersonId,
    /// What people call them.
    pub name: String,
    /// What they may play.
    pub role: Role,
    /// Shows at the next sign-in that this device signed in before; given at a sign-in alone.
    pub device_token: Option<String>,
}

/// Who wants to sign in, as they say themselves.
pub struct Claim {
    /// The address on record.
    pub email: String,
    /// What they typed.
    pub password: String,
    /// What this device was given at a sign-in before.
    pub device_token: Option<String>,
}

/// What is known of somebody at the moment a session is given.
struct Holder {
    shown: Shown,
    name: String,
    role: Role,
}

/// The request of somebody who is not signed in.
pub struct Visitor {
    /// Where they connect from.
    pub address: IpAddr,
    /// The request's id, as in the logs.
    pub request_id: String,
}

/// Starts a session. Only a claim that does not hold counts against who makes it.
///
/// # Errors
/// 401 when address and password do not belong together, whichever is wrong, and for disabled
/// accounts; 429 after too many of these.
pub async fn start(deps: &Deps, visitor: &Visitor, claim: Claim) -> Result<Session, AppError> {
    let email = claim.email.trim().to_lowercase();
    let keys = &deps.signin.keys;
    let known = claim.device_token.and_then(|token| Device::parse(keys, &email, &token));
    let stranger = Who::Stranger { address: visitor.address, account: &email };
    let attempt = deps.signin.limits.begin(known.as_ref().map_or(stranger, Who::Known))?;
    let started = admit(deps, visitor, &email, claim.password).await;
    if !matches!(started, Err(AppError::Unauthenticated(_))) {
        attempt.forgive();
    }
    let device = known.unwrap_or_else(Device::random);
    Ok(Session { device_token: Some(device.text(keys, &email)), ..started? })
}

/// Starts a session for whoever knows the password.
async fn admit(
    deps: &Deps,
    visitor: &Visitor,
    email: &str,
    password: String,
) -> Result<Session, AppError> {
    let account = deps.transaction(async |c| Ok(db::sessions::account_of(c, email).await?)).await?;
    let id = account.as_ref().map(|account| PersonId(account.id));
    let verified = account.filter(|account| !account.disabled).and_then(|a| a.password_hash);
    let right = deps.signin.passwords.verify(password, verified.clone()).await?;
    let started = match (id, verified) {
        (Some(person), Some(verified)) if right => begin(deps, visitor, person, &verified).await?,
        _ => None,
    };
    let Some((holder, refresh)) = started else {
        refuse(deps, visitor, id).await?;
        return Err(AppError::Unauthenticated(
            "this e-mail address and password do not belong together".to_owned(),
        ));
    };
    give(deps, holder, &refresh)
}

/// Saves a session whose password was verified; `None` when the account changed meanwhile.
async fn begin(
    deps: &Deps,
    visitor: &Visitor,
    person: PersonId,
    verified: &str,
) -> Result<Option<(Holder, Secret)>, AppError> {
    let now = deps.clock.now();
    let shown = Shown { person, session: new_id() };
    let refresh = Secret::random();
    let holder = deps
        .transaction(async |conn| {
            let new = NewSession {
                person,
                verified,
                session: shown.session,
                hash: &refresh.hash(),
                at: now,
                until: now + deps.config.signin.refresh_life,
            };
            if !db::sessions::start(conn, &new).await? {
                return Ok(None);
            }
            let Some(holder) = hold(conn, shown, now).await? else { return Ok(None) };
            let ctx = Ctx {
                actor: Actor { person, role: holder.role.clone() },
                now,
                request_id: visitor.request_id.clone(),
            };
            let detail = json!({ "address": visitor.address, "session": shown.session });
            let target = format!("person {person}");
            db::audit::add(conn, &ctx, "sign in", &target, None, Some(detail)).await?;
            Ok(Some(holder))
        })
        .await?;
    Ok(holder.map(|holder| (holder, refresh)))
}

/// Takes the part of a session's person and says who that is.
async fn hold(
    conn: &mut AsyncPgConnection,
    shown: Shown,
    now: DateTime<Utc>,
) -> Result<Option<Holder>, AppError> {
    let row = db::acting::act_as(conn, shown.person, Some(shown.session), now).await?;
    let Some(row) = row else { return Ok(None) };
    let role = Role::from_parts(&row.role, &row.places).map_err(anyhow::Error::msg)?;
    Ok(Some(Holder { shown, name: row.name, role }))
}

async fn refuse(deps: &Deps, visitor: &Visitor, id: Option<PersonId>) -> Result<(), AppError> {
    // Never what was typed: people type passwords into the wrong field.
    let target = id.map_or_else(|| "no account".to_owned(), |id| format!("person {id}"));
    let detail = Some(json!({ "address": visitor.address }));
    note(deps, deps.clock.now(), &visitor.request_id, "sign in refused", &target, detail).await
}

async fn note(
    deps: &Deps,
    now: DateTime<Utc>,
    request_id: &str,
    action: &str,
    target: &str,
    detail: Option<serde_json::Value>,
) -> Result<(), AppError> {
    deps.transaction(async |conn| {
        Ok(db::audit::add_of_nobody(conn, now, request_id, action, target, detail).await?)
    })
    .await
}

fn give(deps: &Deps, holder: Holder, refresh: &Secret) -> Result<Session, AppError> {
    let (now, life) = (deps.clock.now(), deps.config.signin.access_life);
    let access_token = tokens::access(&deps.signin.keys, holder.shown, new_id(), now, life)?;
    Ok(Session {
        access_token,
        expires_in_s: life.num_seconds(),
        refresh_token: refresh.text(),
        person: holder.shown.person,
        name: holder.name,
        role: holder.role,
        device_token: None,
    })
}

/// Spends a refresh token for the next pair.
///
/// # Errors
/// 401 when it is unknown, expired, of an ended session, or was spent a while ago; the last ends
/// the session.
pub async fn refresh(deps: &Deps, token: &str, request_id: &str) -> Result<Session, AppError> {
    const REFUSED: &str = "this refresh token does not hold";
    let refused = |said: &str| AppError::Unauthenticated(said.to_owned());
    let token = Secret::parse(token).ok_or_else(|| refused(REFUSED))?;
    let successor = token.successor(&deps.signin.keys);
    let (now, settings) = (deps.clock.now(), &deps.config.signin);
    let until = now + settings.refresh_life;
    let window = settings.resend_window;
    // An ended session has to stay ended, so refusals commit like everything else.
    let (outcome, holder) = deps
        .transaction(async |conn| {
            let (old, new) = (token.hash(), successor.hash());
            let row = db::sessions::refresh(conn, &old, &new, now, until, window).await?;
            let shown = row.person_id.zip(row.session);
            let shown = shown.map(|(id, session)| Shown { person: PersonId(id), session });
            let holder = match (row.outcome.as_str(), shown) {
                ("fresh" | "resent", Some(shown)) => hold(conn, shown, now).await?,
                ("reused", Some(Shown { person, session })) => {
                    let (action, target) = ("refresh token reused", format!("person {person}"));
                    let detail = Some(json!({ "session": session }));
                    db::audit::add_of_nobody(conn, now, request_id, action, &target, detail)
                        .await?;
                    None
                }
                _ => None,
            };
            Ok((row.outcome, holder))
        })
        .await?;
    match holder {
        Some(holder) => give(deps, holder, &successor),
        None if outcome == "reused" => {
            Err(refused("this refresh token was used before, so its session has been ended"))
        }
        None => Err(refused(REFUSED)),
    }
}

/// Ends the session of a refresh token. An unknown token has no session, and that is as well.
///
/// # Errors
/// When the database cannot be reached.
pub async fn end(deps: &Deps, token: &str, request_id: &str) -> Result<(), AppError> {
    let Some(token) = Secret::parse(token) else { return Ok(()) };
    let now = deps.clock.now();
    deps.transaction(async |conn| {
        if let Some(ended) = db::sessions::end(conn, &token.hash(), now).await? {
            let target = format!("person {}", ended.person_id);
            let detail = Some(json!({ "session": ended.session }));
            db::audit::add_of_nobody(conn, now, request_id, "sign out", &target, detail).await?;
        }
        Ok(())
    })
    .await
}

/// Ends the session of the caller's access token.
///
/// # Errors
/// 409 for a service, which has none.
pub async fn end_own(deps: &Deps, caller: &Caller) -> Result<(), AppError> {
    let session = caller.session.ok_or_else(|| {
        AppError::Conflict("a service has no session; head office revokes it".to_owned())
    })?;
    deps.acting(caller, async |conn, ctx| {
        db::sessions::end_own(conn, session, ctx.now).await?;
        let target = format!("person {}", ctx.actor.person);
        let detail = Some(json!({ "session": session }));
        db::audit::add(conn, ctx, "sign out", &target, None, detail).await?;
        Ok(())
    })
    .await
}

/// Who shows these bearer credentials: an access token or what a service shows.
///
/// # Errors
/// 401 when they do not hold.
pub async fn identify(deps: &Deps, bearer: &str, request_id: String) -> Result<Caller, AppError> {
    let refused = |said: &str| AppError::Unauthenticated(said.to_owned());
    if let Some((service, secret)) = tokens::parse_service_token(bearer) {
        let hash = secret.hash();
        let held = deps
            .transaction(async |c| Ok(db::sessions::service_has_secret(c, service, &hash).await?))
            .await?;
        return match held {
            true => Ok(Caller { person: service, session: None, request_id }),
            false => Err(refused("this service secret does not hold")),
        };
    }
    let Shown { person, session } =
        tokens::read_access(&deps.signin.keys, bearer, deps.clock.now()).map_err(refused)?;
    Ok(Caller { person, session: Some(session), request_id })
}
