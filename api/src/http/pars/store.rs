//! The pars of a store on the wire.

use chrono::NaiveDate;
use parings_core::ids::StoreId;
use parings_core::pars::{Applied, ParKey, Publication};
use serde::Serialize;
use utoipa::ToSchema;

use super::body::{AppliedBody, ChangeWord};
use crate::app::demand::pars::{InForce, Line, StorePars};
use crate::http::amount::AmountBody;

/// A set in force, and why.
#[derive(Debug, Serialize, ToSchema)]
pub struct InForceBody {
    /// The set's code.
    #[schema(example = "autumn")]
    pub set: String,
    /// What people call it.
    pub title: String,
    /// The revision of it.
    pub revision: u32,
    /// The business date from which on it applies.
    pub since: NaiveDate,
    /// Why, as head office said when it was published.
    pub reason: String,
    /// Whether it was put back by a roll-back.
    pub rolled_back: bool,
}

impl InForceBody {
    pub(in crate::http) fn new(publication: &Publication, title: &str) -> Self {
        Self {
            set: publication.revision.set.to_string(),
            title: title.to_owned(),
            revision: publication.revision.number,
            since: publication.from.into(),
            reason: publication.reason.clone(),
            rolled_back: publication.rolls_back.is_some(),
        }
    }
}

impl From<&InForce> for InForceBody {
    fn from(in_force: &InForce) -> Self {
        Self::new(&in_force.publication, &in_force.set.title)
    }
}

/// That the set before said something else.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChangedParBody {
    /// What became of the par.
    pub change: ChangeWord,
    /// What applied before; missing where nothing did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub old: Option<AppliedBody>,
    /// What applies now; missing where nothing does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub new: Option<AppliedBody>,
    /// The business date from which on it applies.
    pub since: NaiveDate,
    /// Why the set was published.
    pub reason: String,
}

/// A par that applies.
#[derive(Debug, Serialize, ToSchema)]
pub struct StoreParBody {
    /// The daypart, at whose beginning it is to be ready.
    pub daypart: String,
    /// The code of the item that should be ready.
    pub item: String,
    /// What applies, and by which rule; missing where nothing does any more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub par: Option<AppliedBody>,
    /// How much that is, in the item's unit; missing when the item does not fit any more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount: Option<AmountBody>,
    /// That the set before said something else; missing where it did not, or there was none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed: Option<ChangedParBody>,
}

/// The pars of a store on a date.
#[derive(Debug, Serialize, ToSchema)]
pub struct StoreParsBody {
    /// The code of the store.
    pub store: String,
    /// The business date that the pars are in force on.
    pub business_date: NaiveDate,
    /// Whether the store stays closed on it; then nothing is to be ready.
    pub closed: bool,
    /// What is in force; missing where nothing was published.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_force: Option<InForceBody>,
    /// What was in force before it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<InForceBody>,
    /// The pars, in order of the dayparts.
    pub pars: Vec<StoreParBody>,
}

impl From<StorePars> for StoreParsBody {
    fn from(found: StorePars) -> Self {
        let StorePars { store, date, closed, in_force, lines, taken_out } = found;
        let publication = in_force.as_ref().map(|in_force| &in_force.publication);
        let changed = |old: Option<&Applied>, new: Option<&Applied>| {
            publication.map(|publication| ChangedParBody {
                change: ChangeWord::of(old, new),
                old: old.map(Into::into),
                new: new.map(Into::into),
                since: publication.from.into(),
                reason: publication.reason.clone(),
            })
        };
        let line = |line: Line| StoreParBody {
            daypart: line.key.daypart.to_string(),
            item: line.key.item.to_string(),
            par: Some((&line.applied).into()),
            amount: line.amount.map(Into::into),
            changed: line.was.and_then(|was| changed(was.0.as_ref(), Some(&line.applied))),
        };
        let gone = |(key, old): (ParKey, Applied)| StoreParBody {
            daypart: key.daypart.to_string(),
            item: key.item.to_string(),
            par: None,
            amount: None,
            changed: changed(Some(&old), None),
        };
        let pars = lines.into_iter().map(line).chain(taken_out.into_iter().map(gone)).collect();
        Self::of(&store, date.into(), closed, in_force.as_ref(), pars)
    }
}

impl StoreParsBody {
    fn of(
        store: &StoreId,
        business_date: NaiveDate,
        closed: bool,
        in_force: Option<&InForce>,
        pars: Vec<StoreParBody>,
    ) -> Self {
        let before = in_force.and_then(|in_force| in_force.before.as_ref());
        Self {
            store: store.to_string(),
            business_date,
            closed,
            in_force: in_force.map(Into::into),
            before: before.map(|(publication, set)| InForceBody::new(publication, &set.title)),
            pars,
        }
    }
}
