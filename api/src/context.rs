//! Who asks, when, and in which request: what every use case is told.

use chrono::{DateTime, Utc};
use parings_core::access::{Action, Actor, Role, Ruling, Target, can};
use parings_core::calendar::BusinessDate;
use parings_core::ids::PersonId;
use uuid::Uuid;

use crate::error::AppError;

/// A request whose sender has shown who they are, and no more: what they may do is read from the
/// records when the request's transaction begins.
#[derive(Clone, Debug)]
pub struct Caller {
    /// The person or service.
    pub person: PersonId,
    /// The session in which a person is signed in; none for a service. When it ends, the caller is
    /// nobody any more.
    pub session: Option<Uuid>,
    /// The request's id, as in the logs.
    pub request_id: String,
}

/// The context of a use case.
#[derive(Clone, Debug)]
pub struct Ctx {
    /// Who acts, with the role and places of this moment.
    pub actor: Actor,
    /// When the request began.
    pub now: DateTime<Utc>,
    /// The request's id, as in the logs.
    pub request_id: String,
}

impl Ctx {
    /// The date in UTC: one for the whole network, which no store's zone can argue about.
    pub fn today(&self) -> BusinessDate {
        self.now.date_naive().into()
    }

    /// Whether people's names are for the one who acts: they go no higher than the store's manager.
    pub fn sees_names(&self) -> bool {
        matches!(self.actor.role, Role::Crew(_) | Role::Manager(_))
    }

    /// Asks the policy, and turns a no into the error that says so.
    ///
    /// # Errors
    /// [`AppError::Forbidden`] when the target is visible, [`AppError::NotFound`] when it is not.
    pub fn require(&self, action: Action, target: &Target<'_>) -> Result<(), AppError> {
        match can(&self.actor, action, target) {
            Ruling::Yes => Ok(()),
            Ruling::NotAllowed => Err(AppError::Forbidden {
                role: self.actor.role.word().to_owned(),
                action: action.word(),
            }),
            Ruling::Invisible => Err(AppError::not_found(match target {
                Target::Store(at) => format!("store {}", at.store),
                Target::District(d) => format!("district {d}"),
                Target::Region(r) => format!("region {r}"),
                Target::Owner(o) => format!("owner {o}"),
                Target::Network => "network".to_owned(),
            })),
        }
    }
}
