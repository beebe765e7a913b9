//! Checks on the wire: what is asked about a count, and what is said.

use chrono::{DateTime, Utc};
use parings_core::checks::{About, Check, Reading, Treatment};
use parings_core::money::Currency;
use parings_core::night::CountLine;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::night::receipts::Waiting;
use crate::app::night::revisions::Revision;
use crate::http::amount::money;
use crate::http::nights::CountLineBody;
use crate::http::quantity::{Number, TypedBody};

/// What is done about a check.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TreatmentBody {
    /// It is impossible, and refused.
    Reject,
    /// Somebody is asked before it is relied on.
    Confirm,
    /// It is accepted, and said.
    Flag,
    /// It is accepted, and kept out of what compares stores.
    LeaveOut,
}

impl From<Treatment> for TreatmentBody {
    fn from(treatment: Treatment) -> Self {
        match treatment {
            Treatment::Reject => Self::Reject,
            Treatment::Confirm => Self::Confirm,
            Treatment::Flag => Self::Flag,
            Treatment::LeaveOut => Self::LeaveOut,
        }
    }
}

/// What a check is about: the night, an item, an item in one place and stage, or an entry.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AboutBody {
    /// `night`, `item`, `line` or `entry`.
    #[schema(example = "line")]
    pub of: &'static str,
    /// The code of the item; missing where it is about the night as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub item: Option<String>,
    /// The code of the storage place; missing where it is about no single line.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// The stage; missing for as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The id of the entry; missing where it is about none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entry: Option<Uuid>,
}

impl From<&About> for AboutBody {
    fn from(about: &About) -> Self {
        let of = |of| Self {
            of,
            item: about.item().map(ToString::to_string),
            place: None,
            stage: None,
            entry: None,
        };
        match about {
            About::Night => of("night"),
            About::Item { .. } => of("item"),
            About::Line { place, stage, .. } => Self {
                place: Some(place.to_string()),
                stage: stage.as_ref().map(ToString::to_string),
                ..of("line")
            },
            About::Entry { entry, .. } => Self { entry: Some(entry.0), ..of("entry") },
        }
    }
}

/// A way to read what was typed.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ReadingBody {
    /// What it would be, as typed.
    pub quantity: TypedBody,
    /// How it would have come about.
    #[schema(example = "the number is in lb")]
    pub says: String,
}

impl From<&Reading> for ReadingBody {
    fn from(reading: &Reading) -> Self {
        Self { quantity: (&reading.quantity).into(), says: reading.says.clone() }
    }
}

/// Something about a count that is asked, said or left out. It never says what should stand there.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CheckBody {
    /// By which it is answered: the same in every revision of the night.
    #[schema(example = "unit_slip:potato@dry-store")]
    pub id: String,
    /// In what way it looks wrong: the word for the kind of check.
    #[schema(example = "unit_slip")]
    pub kind: &'static str,
    /// What is done about it.
    pub treatment: TreatmentBody,
    /// In words, for who counted.
    #[schema(example = "Potatoes in Dry store: 18 kg, or 18 lb?")]
    pub says: String,
    /// Which part of the night looks wrong.
    pub about: AboutBody,
    /// The lines of the count that it is about, as JSON Pointers into it.
    #[schema(example = json!(["/lines/3"]))]
    pub at: Vec<String>,
    /// How the number may be read; the first is how it was typed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<ReadingBody>,
    /// What to count again, where it asks for that.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub recount: Vec<AboutBody>,
    /// The money at stake, where it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stake: Option<Number>,
}

impl CheckBody {
    /// A check of a count with these lines.
    pub fn new(check: &Check, lines: &[CountLine], currency: &Currency) -> Self {
        let whole = check.about == About::Night && check.recount.is_empty();
        let about = lines.iter().enumerate().filter(|(_, line)| match check.about {
            About::Night => check.recount.iter().any(|a| a.item() == Some(&line.item)),
            _ => check.is_about(line),
        });
        Self {
            id: check.id(),
            kind: check.kind.word(),
            treatment: check.treatment.into(),
            says: check.says.clone(),
            about: (&check.about).into(),
            at: if whole {
                vec!["/lines".to_owned()]
            } else {
                about.map(|(n, _)| format!("/lines/{n}")).collect()
            },
            readings: check.readings.iter().map(Into::into).collect(),
            recount: check.recount.iter().map(Into::into).collect(),
            stake: check.stake.map(|stake| money(stake, currency)),
        }
    }
}

/// A count that waits for answers. It displaces nothing; unanswered at `settles_at` it is accepted
/// with what is doubtful left out.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeldBody {
    /// The number of its revision, to be sent with answers.
    pub revision: i32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Why it was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Its lines as typed.
    pub lines: Vec<CountLineBody>,
    /// What is asked and not answered yet, the most money first.
    pub checks: Vec<CheckBody>,
    /// What would be asked, were it not for the others: these items are left out anyway.
    pub left_out_anyway: Vec<CheckBody>,
    /// When the store next opens.
    pub settles_at: DateTime<Utc>,
}

/// A change of a locked night that waits for another person's approval. It displaces nothing.
#[derive(Debug, Serialize, ToSchema)]
pub struct ProposedBody {
    /// The number of its revision, to be sent with the decision.
    pub revision: i32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Why it was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Its lines as typed.
    pub lines: Vec<CountLineBody>,
    /// How many entries are to be made with it.
    pub entries: usize,
    /// How many entries are to be withdrawn with it.
    pub withdrawals: usize,
    /// What there is to say of it.
    pub checks: Vec<CheckBody>,
}

impl HeldBody {
    /// The body of a count that waits for answers; none while it has no time to be settled at.
    pub fn new(waiting: &Waiting, currency: &Currency) -> Option<Self> {
        let Waiting { revision, settles_at } = waiting;
        let Revision { count, .. } = revision;
        let shown = |check: &Check| CheckBody::new(check, &count.lines, currency);
        Some(Self {
            revision: revision.number,
            recorded_at: revision.recorded_at,
            reason: revision.reason.clone(),
            lines: count.lines.iter().map(Into::into).collect(),
            checks: revision.open().map(shown).collect(),
            left_out_anyway: revision.checks.iter().filter(|c| c.is_beyond()).map(shown).collect(),
            settles_at: (*settles_at)?,
        })
    }
}

impl ProposedBody {
    /// The body of a change that waits for another person.
    pub fn new(revision: &Revision, currency: &Currency) -> Self {
        let lines = &revision.count.lines;
        let proposal = revision.proposal.as_ref();
        Self {
            revision: revision.number,
            recorded_at: revision.recorded_at,
            reason: revision.reason.clone(),
            lines: lines.iter().map(Into::into).collect(),
            entries: proposal.map_or(0, |proposal| proposal.entries.len()),
            withdrawals: proposal.map_or(0, |proposal| proposal.withdraw.len()),
            checks: revision.said().map(|check| CheckBody::new(check, lines, currency)).collect(),
        }
    }
}
