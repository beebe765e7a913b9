//! Standard pars: head office drafts and publishes sets, stores read what is in force.
//!
//! A set is revised as a whole, and every revision stays; a publication names one of them. So a set
//! may be edited while an earlier revision of it is in force, and what was in force is never touched.

mod drafts;
mod publishing;
mod store;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::ids::{ParSetId, PersonId};
use parings_core::pars::{ParSet, Publication, PublicationId, Publications, Revision};

pub use drafts::{Compared, Draft, difference, find, list, save};
pub use publishing::{Published, Publishing, history, publish, roll_back};
pub(super) use store::Ground;
pub use store::{InForce, Line, StorePars, Was, of_store};

use crate::db;
use crate::db::pars::{PublicationRow, RevisionRow};
use crate::error::AppError;

/// A revision of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Drafted {
    /// The set's code, and the number of its revision.
    pub revision: Revision,
    /// What it says.
    pub set: ParSet,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The account that recorded it.
    pub by: PersonId,
}

impl Drafted {
    /// Its ETag, with quotation marks.
    pub fn etag(&self) -> String {
        format!("\"{}\"", self.revision.number)
    }
}

impl TryFrom<RevisionRow> for Drafted {
    type Error = AppError;

    fn try_from(row: RevisionRow) -> Result<Self, AppError> {
        let set = serde_json::from_value(row.body);
        Ok(Self {
            revision: revision(&row.set_code, row.revision)?,
            set: set.map_err(|e| AppError::Internal(e.into()))?,
            recorded_at: row.recorded_at,
            by: PersonId(row.recorded_by),
        })
    }
}

fn revision(set: &str, number: i32) -> Result<Revision, AppError> {
    let internal = |e: anyhow::Error| AppError::Internal(e);
    Ok(Revision {
        set: set.parse().map_err(|e: parings_core::ids::CodeError| internal(e.into()))?,
        number: u32::try_from(number).map_err(|e| internal(e.into()))?,
    })
}

fn number(revision: &Revision) -> Result<i32, AppError> {
    i32::try_from(revision.number).map_err(|e| AppError::Internal(e.into()))
}

fn publication(row: PublicationRow) -> Result<Publication, AppError> {
    Ok(Publication {
        id: PublicationId(row.id),
        revision: revision(&row.set_code, row.revision)?,
        from: row.valid_from.into(),
        recorded_at: row.recorded_at,
        by: PersonId(row.recorded_by),
        reason: row.reason,
        rolls_back: row.rolls_back.map(PublicationId),
    })
}

/// The publications known at a moment.
async fn known(conn: &mut AsyncPgConnection, at: DateTime<Utc>) -> Result<Publications, AppError> {
    let rows = db::pars::publications(conn, at).await?;
    rows.into_iter().map(publication).collect::<Result<_, _>>().map(Publications::new)
}

/// A revision that a publication names.
async fn named(conn: &mut AsyncPgConnection, revision: &Revision) -> Result<ParSet, AppError> {
    let row = db::pars::revision(conn, &revision.set, number(revision)?).await?;
    let row = row.ok_or_else(|| anyhow::anyhow!("a published set is not on record"))?;
    Ok(Drafted::try_from(row)?.set)
}

fn no_set(code: &ParSetId) -> AppError {
    AppError::not_found(format!("par set \"{code}\""))
}
