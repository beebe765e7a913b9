//! Sets of standard pars on the wire.

use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::Weekday;
use parings_core::pars::{
    Applied, BatchChange, BatchSize, FormatPars, Par, ParChange, ParLine, ParSet, Publication,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::demand::pars::{Compared, Drafted, Published};
use crate::error::Fault;
use crate::http::entries::maybe_code;
use crate::http::faults::Faults;
use crate::http::quantity::TypedBody;
use crate::http::reference::places::DayBody;

/// Most lines of one list.
const MOST_LINES: usize = 2_000;
/// Most formats, and most batches.
const MOST: usize = 500;

/// A set of standard pars: how much of an item should be ready when a daypart begins.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "title": "Autumn",
    "lines": [{ "item": "potato", "stage": "chill", "quantity": { "value": "72", "unit": "kg" },
        "weekdays": ["fri", "sat"], "dayparts": ["dinner"] }],
    "formats": [{ "format": "kiosk", "lines": [{ "item": "potato", "stage": "chill",
        "quantity": { "value": "30", "unit": "kg" }, "weekdays": ["fri", "sat"],
        "dayparts": ["dinner"] }] }],
    "batches": [{ "item": "potato", "quantity": { "value": "1", "unit": "bag" } }],
}))]
pub struct ParSetBody {
    /// What people call it.
    pub title: String,
    /// What holds by default.
    #[schema(max_items = 2000)]
    pub lines: Vec<ParLineBody>,
    /// What holds instead in the stores of a format, item by item, weekday by weekday, daypart by
    /// daypart.
    #[serde(default)]
    #[schema(max_items = 500)]
    pub formats: Vec<FormatParsBody>,
    /// What one batch of an item is, where its recipe does not say.
    #[serde(default)]
    #[schema(max_items = 500)]
    pub batches: Vec<BatchSizeBody>,
}

/// A par of an item for some weekdays and dayparts. Two lines for the same are refused.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ParLineBody {
    /// The code of the item that should be ready.
    pub item: String,
    /// The stage at which it is to be ready; left out for as purchased.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// How much, at that stage.
    pub quantity: TypedBody,
    /// The weekdays on which the par holds.
    #[schema(min_items = 1, max_items = 7)]
    pub weekdays: Vec<DayBody>,
    /// The codes of the dayparts at whose beginning the par holds.
    #[schema(min_items = 1)]
    pub dayparts: Vec<String>,
}

/// What holds in the stores of a format.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FormatParsBody {
    /// The code of the format that the pars are for.
    pub format: String,
    /// The pars that hold in stores of that format.
    #[schema(max_items = 2000)]
    pub lines: Vec<ParLineBody>,
}

/// What one batch of an item is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BatchSizeBody {
    /// The code of the item that is made in batches.
    pub item: String,
    /// The stage that is said for; left out for as purchased. What comes of it at a later stage
    /// follows from the standard yields.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// How much one batch is.
    pub quantity: TypedBody,
    /// Whether half a batch may be made.
    #[serde(default)]
    pub halves: bool,
}

impl ParSetBody {
    /// Reads the set, which lies where the faults are.
    pub fn read(self, faults: &mut Faults) -> Option<ParSet> {
        let title = faults.title("title", &self.title);
        let lines = read_lines(faults, self.lines);
        few(faults, "formats", self.formats.len(), MOST);
        let formats = faults.each("formats", self.formats, |faults, own| {
            let format = faults.parse("format", &own.format);
            let lines = read_lines(faults, own.lines);
            Some(FormatPars { format: format?, lines: lines? })
        });
        few(faults, "batches", self.batches.len(), MOST);
        let batches = faults.each("batches", self.batches, |faults, batch| {
            let item = faults.parse("item", &batch.item);
            let stage = maybe_code(faults, "stage", batch.stage.as_ref());
            let quantity = batch.quantity.read(faults, "quantity");
            let (item, stage, quantity) = (item?, stage?, quantity?);
            Some(BatchSize { item, quantity, stage, halves: batch.halves })
        });
        Some(ParSet { title: title?, lines: lines?, formats: formats?, batches: batches? })
    }
}

fn few(faults: &mut Faults, member: &str, count: usize, most: usize) {
    if count > most {
        faults.add(member, format!("{most} at most"));
    }
}

fn read_lines(faults: &mut Faults, lines: Vec<ParLineBody>) -> Option<Vec<ParLine>> {
    few(faults, "lines", lines.len(), MOST_LINES);
    faults.each("lines", lines, |faults, line| {
        let item = faults.parse("item", &line.item);
        let stage = maybe_code(faults, "stage", line.stage.as_ref());
        let quantity = line.quantity.read(faults, "quantity");
        let weekdays = line.weekdays.into_iter().map(Weekday::from).collect();
        let dayparts = faults.parse_each("dayparts", &line.dayparts);
        let par = Par { quantity: quantity?, stage: stage? };
        Some(ParLine { item: item?, weekdays, dayparts: dayparts?, par })
    })
}

impl From<&ParLine> for ParLineBody {
    fn from(line: &ParLine) -> Self {
        Self {
            item: line.item.to_string(),
            stage: line.par.stage.as_ref().map(ToString::to_string),
            quantity: (&line.par.quantity).into(),
            weekdays: line.weekdays.iter().copied().map(Into::into).collect(),
            dayparts: line.dayparts.iter().map(ToString::to_string).collect(),
        }
    }
}

impl From<&BatchSize> for BatchSizeBody {
    fn from(batch: &BatchSize) -> Self {
        Self {
            item: batch.item.to_string(),
            stage: batch.stage.as_ref().map(ToString::to_string),
            quantity: (&batch.quantity).into(),
            halves: batch.halves,
        }
    }
}

impl From<&ParSet> for ParSetBody {
    fn from(set: &ParSet) -> Self {
        let own = |own: &FormatPars| FormatParsBody {
            format: own.format.to_string(),
            lines: own.lines.iter().map(Into::into).collect(),
        };
        Self {
            title: set.title.clone(),
            lines: set.lines.iter().map(Into::into).collect(),
            formats: set.formats.iter().map(own).collect(),
            batches: set.batches.iter().map(Into::into).collect(),
        }
    }
}

/// What a set is to say.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DraftBody {
    /// The client's own id of this write.
    pub submission_id: Uuid,
    /// What it is to say; left out for a copy of the set in force today.
    #[serde(default)]
    pub document: Option<ParSetBody>,
}

/// A revision of a set.
#[derive(Debug, Serialize, ToSchema)]
pub struct DraftedBody {
    /// The code of the set.
    #[schema(example = "autumn")]
    pub code: String,
    /// Which revision, from 1; its ETag, without the quotation marks.
    pub revision: u32,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The id of the person who recorded it.
    pub recorded_by: Uuid,
    /// The pars of that revision.
    pub document: ParSetBody,
}

impl From<Drafted> for DraftedBody {
    fn from(drafted: Drafted) -> Self {
        Self {
            code: drafted.revision.set.to_string(),
            revision: drafted.revision.number,
            recorded_at: drafted.recorded_at,
            recorded_by: drafted.by.0,
            document: (&drafted.set).into(),
        }
    }
}

/// A publication: from a business date on, a revision of a set is in force.
#[derive(Debug, Serialize, ToSchema)]
pub struct PublicationBody {
    /// The number of the publication; a later one has a greater.
    pub publication: i64,
    /// The code of the set.
    #[schema(example = "autumn")]
    pub set: String,
    /// The revision of it.
    pub revision: u32,
    /// The first business date.
    pub from: NaiveDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// The id of the person who published it.
    pub recorded_by: Uuid,
    /// What was written down as the reason for it.
    pub reason: String,
    /// The publication it takes back; missing when it is no roll-back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rolls_back: Option<i64>,
}

impl From<Publication> for PublicationBody {
    fn from(publication: Publication) -> Self {
        Self {
            publication: publication.id.0,
            set: publication.revision.set.to_string(),
            revision: publication.revision.number,
            from: publication.from.into(),
            recorded_at: publication.recorded_at,
            recorded_by: publication.by.0,
            reason: publication.reason,
            rolls_back: publication.rolls_back.map(|id| id.0),
        }
    }
}

/// A publication that was made.
#[derive(Debug, Serialize, ToSchema)]
pub struct PublishedBody {
    /// What was published.
    #[serde(flatten)]
    pub publication: PublicationBody,
    /// Publications that begin later and take its place then.
    pub then: Vec<PublicationBody>,
}

impl From<Published> for PublishedBody {
    fn from(published: Published) -> Self {
        Self {
            publication: published.publication.into(),
            then: published.then.into_iter().map(Into::into).collect(),
        }
    }
}

/// A par that applies, and by which rule.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AppliedBody {
    /// How much should be ready, as head office typed it.
    pub quantity: TypedBody,
    /// At which stage; missing for as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The part of the set it stands in: a format's, or what holds by default.
    #[schema(example = "format kiosk")]
    pub rule: String,
}

impl From<&Applied> for AppliedBody {
    fn from(applied: &Applied) -> Self {
        Self {
            quantity: (&applied.par.quantity).into(),
            stage: applied.par.stage.as_ref().map(ToString::to_string),
            rule: applied.rule.to_string(),
        }
    }
}

/// What became of a par or batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangeWord {
    /// There was none before.
    Added,
    /// There is none any more.
    Removed,
    /// There was one before, and it is another now.
    Changed,
}

impl ChangeWord {
    pub(super) fn of<T>(before: Option<&T>, after: Option<&T>) -> Self {
        match (before, after) {
            (None, _) => Self::Added,
            (_, None) => Self::Removed,
            _ => Self::Changed,
        }
    }
}

/// A par that differs.
#[derive(Debug, Serialize, ToSchema)]
pub struct ParChangeBody {
    /// What became of it.
    pub change: ChangeWord,
    /// For whom: a format that has a par of its own before or after, or `default` for all others.
    pub of: String,
    /// The code of the item that should be ready.
    pub item: String,
    /// The code of the daypart at whose beginning it should be ready.
    pub daypart: String,
    /// The weekdays on which the par differs in this way.
    pub weekdays: Vec<DayBody>,
    /// What applies before; missing when it is added.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<AppliedBody>,
    /// What applies after; missing when it is removed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<AppliedBody>,
}

impl From<&ParChange> for ParChangeBody {
    fn from(change: &ParChange) -> Self {
        let (before, after) = (change.before.as_ref(), change.after.as_ref());
        Self {
            change: ChangeWord::of(before, after),
            of: change.rule.to_string(),
            item: change.key.item.to_string(),
            daypart: change.key.daypart.to_string(),
            weekdays: change.weekdays.iter().copied().map(Into::into).collect(),
            before: before.map(Into::into),
            after: after.map(Into::into),
        }
    }
}

/// A batch that differs.
#[derive(Debug, Serialize, ToSchema)]
pub struct BatchChangeBody {
    /// What became of it.
    pub change: ChangeWord,
    /// The code of the item whose batch differs.
    pub item: String,
    /// What it is before; missing when it is added.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<BatchSizeBody>,
    /// What it is after; missing when it is removed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<BatchSizeBody>,
}

impl From<&BatchChange> for BatchChangeBody {
    fn from(change: &BatchChange) -> Self {
        let (before, after) = (change.before.as_ref(), change.after.as_ref());
        Self {
            change: ChangeWord::of(before, after),
            item: change.item.to_string(),
            before: before.map(Into::into),
            after: after.map(Into::into),
        }
    }
}

/// A set beside the one in force on a date.
#[derive(Debug, Serialize, ToSchema)]
pub struct ComparedParSetBody {
    /// The code of the set that is compared.
    pub code: String,
    /// Its last revision, which is compared.
    pub revision: u32,
    /// The business date that it is compared for.
    pub on: NaiveDate,
    /// What is in force on it, as known now; missing where nothing is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_force: Option<PublicationBody>,
    /// Pars that differ by what applies; amounts that are the same in other units do not.
    pub pars: Vec<ParChangeBody>,
    /// Batches that differ.
    pub batches: Vec<BatchChangeBody>,
    /// What would be refused if it were published from that date on.
    pub errors: Vec<Fault>,
}

impl From<Compared> for ComparedParSetBody {
    fn from(compared: Compared) -> Self {
        let fault = |flaw: parings_core::catalog::Flaw| {
            Fault::new(format!("/document{}", flaw.at), flaw.says)
        };
        Self {
            code: compared.drafted.revision.set.to_string(),
            revision: compared.drafted.revision.number,
            on: compared.on.into(),
            in_force: compared.in_force.map(Into::into),
            pars: compared.difference.pars.iter().map(Into::into).collect(),
            batches: compared.difference.batches.iter().map(Into::into).collect(),
            errors: compared.flaws.into_iter().map(fault).collect(),
        }
    }
}
