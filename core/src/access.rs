//! Who may do what, where. [`can`] is the only policy of the house; the database repeats it.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::ids::{CodeError, DistrictId, OwnerId, PersonId, RegionId, StoreId};

/// Where a store stood on a date: everything that decides who sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// The store itself.
    pub store: StoreId,
    /// Its district on that date.
    pub district: DistrictId,
    /// Its region on that date.
    pub region: RegionId,
    /// Its owner on that date.
    pub owner: OwnerId,
}

/// What a request is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target<'a> {
    /// One store on a date.
    Store(&'a Standing),
    /// All stores of a district.
    District(&'a DistrictId),
    /// All stores of a region.
    Region(&'a RegionId),
    /// All stores of an owner.
    Owner(&'a OwnerId),
    /// The whole network, and what belongs to no store.
    Network,
}

/// A part to play, with the places it is played in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "role", content = "places", rename_all = "snake_case")]
pub enum Role {
    /// Records what happens in a store.
    Crew(Vec<StoreId>),
    /// Answers for a store's night.
    Manager(Vec<StoreId>),
    /// Looks after districts.
    Coach(Vec<DistrictId>),
    /// Holds stores, across districts.
    Owner(Vec<OwnerId>),
    /// Head office: it sees every store of the network.
    Office,
    /// A till or another service that sends sales and tickets of listed stores.
    Till(Vec<StoreId>),
}

/// Why a word and places make no role.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RoleError {
    /// The word is that of no role.
    #[error("\"{word}\" is no role: use crew, manager, coach, owner, office or till")]
    NoSuchRole {
        /// The word as it was given.
        word: String,
    },
    /// Every role but that of head office is played somewhere.
    #[error("the role {role} needs at least one place")]
    NoPlaces {
        /// The word of the role.
        role: String,
    },
    /// Head office is everywhere, so that no places can be named for it.
    #[error("the role office has no places")]
    PlacesOfOffice,
    /// A place is named by what cannot be a code.
    #[error(transparent)]
    Code(#[from] CodeError),
}

impl Role {
    /// The role's word, as in the API and the database.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Crew(_) => "crew",
            Self::Manager(_) => "manager",
            Self::Coach(_) => "coach",
            Self::Owner(_) => "owner",
            Self::Office => "office",
            Self::Till(_) => "till",
        }
    }

    /// The codes of its places.
    pub fn places(&self) -> Vec<&str> {
        match self {
            Self::Crew(s) | Self::Manager(s) | Self::Till(s) => {
                s.iter().map(StoreId::as_str).collect()
            }
            Self::Coach(d) => d.iter().map(DistrictId::as_str).collect(),
            Self::Owner(o) => o.iter().map(OwnerId::as_str).collect(),
            Self::Office => Vec::new(),
        }
    }

    /// Makes a role from its word and places.
    ///
    /// # Errors
    /// [`RoleError`] for an unknown word, a bad code, and places that are missing or too many.
    ///
    /// ```
    /// use parings_core::access::{Role, RoleError};
    /// let coach = Role::from_parts("coach", &["upper".to_owned()]).unwrap();
    /// assert_eq!((coach.word(), coach.places()), ("coach", vec!["upper"]));
    /// let nowhere = Role::from_parts("coach", &[]).unwrap_err();
    /// assert_eq!(nowhere, RoleError::NoPlaces { role: "coach".to_owned() });
    /// assert_eq!(nowhere.to_string(), "the role coach needs at least one place");
    /// ```
    pub fn from_parts(word: &str, places: &[String]) -> Result<Self, RoleError> {
        fn codes<T: std::str::FromStr<Err = CodeError>>(
            word: &str,
            places: &[String],
        ) -> Result<Vec<T>, RoleError> {
            if places.is_empty() {
                return Err(RoleError::NoPlaces { role: word.to_owned() });
            }
            places.iter().map(|place| Ok(place.parse()?)).collect()
        }
        match word {
            "crew" => codes(word, places).map(Self::Crew),
            "manager" => codes(word, places).map(Self::Manager),
            "coach" => codes(word, places).map(Self::Coach),
            "owner" => codes(word, places).map(Self::Owner),
            "till" => codes(word, places).map(Self::Till),
            "office" if places.is_empty() => Ok(Self::Office),
            "office" => Err(RoleError::PlacesOfOffice),
            _ => Err(RoleError::NoSuchRole { word: word.to_owned() }),
        }
    }

    /// Whether who plays this part is told who somebody is, by name or by id: those who work beside them
    /// and their manager are. People of a store are told of each other, and nobody of who looks at them
    /// from above.
    ///
    /// ```
    /// use parings_core::access::Role;
    /// let [crew, manager] = ["crew", "manager"].map(|word| {
    ///     Role::from_parts(word, &["ford".to_owned()]).unwrap()
    /// });
    /// let coach = Role::from_parts("coach", &["upper".to_owned()]).unwrap();
    /// assert!(crew.is_told_of(&manager) && coach.is_told_of(&manager));
    /// assert!(!manager.is_told_of(&coach) && !coach.is_told_of(&crew));
    /// assert!(Role::Office.is_told_of(&coach) && !coach.is_told_of(&Role::Office));
    /// ```
    pub fn is_told_of(&self, other: &Self) -> bool {
        match self {
            Self::Crew(_) | Self::Manager(_) | Self::Till(_) => {
                matches!(other, Self::Crew(_) | Self::Manager(_) | Self::Till(_))
            }
            Self::Coach(_) | Self::Owner(_) => {
                matches!(other, Self::Manager(_) | Self::Coach(_) | Self::Owner(_))
            }
            Self::Office => matches!(other, Self::Coach(_) | Self::Owner(_) | Self::Office),
        }
    }

    fn reaches(&self, target: &Target<'_>) -> bool {
        match (self, target) {
            (Self::Office, _) => true,
            (Self::Crew(s) | Self::Manager(s) | Self::Till(s), Target::Store(at)) => {
                s.contains(&at.store)
            }
            (Self::Coach(d), Target::Store(at)) => d.contains(&at.district),
            (Self::Coach(d), Target::District(x)) => d.contains(x),
            (Self::Owner(o), Target::Store(at)) => o.contains(&at.owner),
            (Self::Owner(o), Target::Owner(x)) => o.contains(x),
            // The network's own things (the catalogue, its calendar) are everybody's to see.
            (_, Target::Network) => true,
            _ => false,
        }
    }
}

/// The person or service that asks for something, and the part they play.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Actor {
    /// The person or service.
    pub person: PersonId,
    /// What they may play, read from the records at every request.
    pub role: Role,
}

macro_rules! actions {
    ($($(#[$doc:meta])* $name:ident = $word:literal: $($role:ident)|*;)*) => {
        /// Something that can be asked for.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Action { $($(#[$doc])* $name,)* }

        impl Action {
            /// Every action, in the order of the printed matrix.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// The action's words in the matrix and in messages.
            pub fn word(self) -> &'static str {
                match self { $(Self::$name => $word,)* }
            }

            fn is_for(self, role: &Role) -> bool {
                match self { $(Self::$name => matches!(role, $(Role::$role { .. })|*),)* }
            }
        }
    };
}

// A role's brackets hold its places, so `Role::Crew { .. }` matches any of them; Office has none.
actions! {
    /// Read the items, menu, reasons and calendar of the network.
    ReadCatalogue = "read the catalogue": Crew | Manager | Coach | Owner | Office | Till;
    /// Change the items, menu, reasons and calendar of the network.
    EditCatalogue = "edit the catalogue": Office;
    /// Read a store's own record.
    ReadStore = "read a store": Crew | Manager | Coach | Owner | Office | Till;
    /// Read the sheet to count by.
    ReadSheet = "read the count sheet": Crew | Manager | Coach | Owner | Office;
    /// Record or withdraw an entry.
    Record = "record entries": Crew | Manager | Office;
    /// Read the entries of a night.
    ReadEntries = "read entries": Crew | Manager | Coach | Owner | Office;
    /// Submit or amend a night's count.
    SubmitNight = "submit a night": Manager | Office;
    /// Say what becomes of a count that was held, or of a change proposed after the lock.
    SettleNight = "settle a night": Manager | Coach | Office;
    /// Read the receipt of a night, its revisions and the rows behind a figure.
    ReadNight = "read a night": Manager | Coach | Owner | Office;
    /// Send sales and tickets.
    FeedTill = "send sales and tickets": Till | Office;
    /// Read what the till sent.
    ReadTill = "read sales and tickets": Manager | Coach | Owner | Office | Till;
    /// Read a roll-up.
    ReadRollup = "read a roll-up": Manager | Coach | Owner | Office;
    /// Read which stores of a district to look at, and how one of them went.
    ReadReview = "read a review": Coach | Office;
    /// Read what reviews found in one's own stores.
    ReadFindings = "read findings": Manager | Coach | Owner | Office;
    /// Say something to a finding of one's store, or to a case.
    AnswerFinding = "answer a finding": Manager;
    /// Read what coaches do about findings in one's own stores.
    ReadCases = "read cases": Manager | Coach | Owner | Office;
    /// Visit, note what is promised and that it was kept, or dismiss a case.
    FollowCase = "follow a case up": Coach | Office;
    /// Read how often cases proved worth the trip.
    ReadCaseRecord = "read the record of cases": Office;
    /// Read what districts share, by lot and by area.
    ReadShared = "read what districts share": Office;
    /// Read the diary of a store.
    ReadDiary = "read a diary": Manager | Coach | Owner | Office;
    /// Write into the diary of a store.
    WriteDiary = "write a diary": Manager | Coach | Office;
    /// Read the ends of transfers between stores.
    ReadTransfers = "read transfers": Crew | Manager | Coach | Owner | Office;
    /// Read the pars in force in a store, and what is to be prepared by them.
    ReadPars = "read standard pars": Crew | Manager | Coach | Owner | Office;
    /// Draft sets of standard pars, publish them and roll back.
    EditPars = "edit standard pars": Office;
    /// Read who did what that matters.
    ReadAudit = "read the audit": Manager | Office;
    /// Work tallies out again with the reference data known now.
    Restate = "restate tallies": Office;
    /// Bring many nights at once.
    Load = "load many nights": Office;
    /// Take facts and figures out in files.
    Export = "export": Office;
    /// Read people and services.
    ReadPeople = "read people": Office;
    /// Add, disable and reset people and services.
    EditPeople = "edit people": Office;
}

impl Action {
    /// Whether the action is about such a thing at all. What belongs to the network is no store's,
    /// and what happens in a store happens in one store; only roll-ups and transfers are of any scope.
    fn suits(self, target: &Target<'_>) -> bool {
        match self {
            Self::ReadCatalogue
            | Self::EditCatalogue
            | Self::EditPars
            | Self::Restate
            | Self::Load
            | Self::Export
            | Self::ReadCaseRecord
            | Self::ReadShared
            | Self::ReadPeople
            | Self::EditPeople => matches!(target, Target::Network),
            // Findings and cases without a scope are those of all that are theirs.
            Self::ReadRollup | Self::ReadTransfers | Self::ReadFindings | Self::ReadCases => true,
            Self::ReadReview => matches!(target, Target::District(_) | Target::Store(_)),
            // Without a store, of all that are theirs.
            Self::ReadAudit => matches!(target, Target::Store(_) | Target::Network),
            _ => matches!(target, Target::Store(_)),
        }
    }
}

/// What [`can`] answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ruling {
    /// The actor may do it.
    Yes,
    /// The target is theirs to see, the action is not theirs to take, or is none of it: 403.
    NotAllowed,
    /// They may not know that the target exists: 404.
    Invisible,
}

impl fmt::Display for Ruling {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Yes => "yes",
            Self::NotAllowed => "no",
            Self::Invisible => "unseen",
        })
    }
}

/// The policy: whether an actor may take an action on a target.
///
/// ```
/// use parings_core::access::{Action, Actor, Ruling, Role, Standing, Target, can};
/// use parings_core::ids::{DistrictId, OwnerId, PersonId, RegionId, StoreId};
///
/// let ford = Standing {
///     store: StoreId::new("ford").unwrap(),
///     district: DistrictId::new("upper").unwrap(),
///     region: RegionId::new("valley").unwrap(),
///     owner: OwnerId::new("brook").unwrap(),
/// };
/// let coach = Actor {
///     person: PersonId(uuid::Uuid::nil()),
///     role: Role::Coach(vec![DistrictId::new("upper").unwrap()]),
/// };
/// assert_eq!(can(&coach, Action::ReadNight, &Target::Store(&ford)), Ruling::Yes);
/// assert_eq!(can(&coach, Action::SubmitNight, &Target::Store(&ford)), Ruling::NotAllowed);
/// // A night is a store's: there is none of the whole network.
/// assert_eq!(can(&coach, Action::ReadNight, &Target::Network), Ruling::NotAllowed);
/// let lower = DistrictId::new("lower").unwrap();
/// assert_eq!(can(&coach, Action::ReadRollup, &Target::District(&lower)), Ruling::Invisible);
/// ```
pub fn can(actor: &Actor, action: Action, target: &Target<'_>) -> Ruling {
    let of_scopes = matches!(action, Action::ReadRollup | Action::ReadTransfers);
    let network_wide = of_scopes && *target == Target::Network;
    if !actor.role.reaches(target) {
        Ruling::Invisible
    } else if !action.is_for(&actor.role)
        || !action.suits(target)
        || network_wide && actor.role != Role::Office
    {
        Ruling::NotAllowed
    } else {
        Ruling::Yes
    }
}
