//! Confirmations: answers to what was asked about a held count.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path};
use chrono::NaiveDate;
use parings_core::checks::{Answer, Correction};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::night::confirmations::{self, Answered, Choice, Confirmation};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Sent};
use crate::http::body::Body;
use crate::http::entries::{EntryBody, entries_from_wire, text};
use crate::http::faults::Faults;
use crate::http::nights::{CountLineBody, night_of};
use crate::http::quantity::TypedBody;
use crate::http::receipts::ReceiptBody;
use crate::http::reply::{self, IdempotencyKey};

/// Most answers at once.
const ANSWERS_MAX: usize = 50;
/// Most lines of an answer.
const LINES_MAX: usize = 200;
/// The most characters of a reason.
const REASON_MAX: usize = 500;
/// Longest id of a check.
const CHECK_MAX: usize = 500;

/// Answers to what was asked about a revision.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ConfirmationBody {
    /// The number of the held revision.
    pub revision: i32,
    /// The answers; one is enough.
    #[schema(min_items = 1, max_items = 50)]
    pub answers: Vec<CheckAnswerBody>,
}

/// What is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AnswerWord {
    /// It is as it was typed.
    AsTyped,
    /// It is one of the other readings.
    OtherReading,
    /// It is something else.
    Corrected,
    /// It was counted again, and it is right.
    CountedAgain,
}

/// A reading: its number among those offered, or its amount.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(untagged)]
pub enum ReadingChoiceBody {
    /// Its number; 0 is how it was typed.
    Number(u16),
    /// The amount of the reading, as the check offered it.
    Amount(TypedBody),
}

/// An answer to a check.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "check": "unit_slip:potato@dry-store", "answer": "other_reading", "reading": 1 }))]
pub struct CheckAnswerBody {
    /// The check's id.
    #[schema(max_length = 500)]
    pub check: String,
    /// What is answered.
    pub answer: AnswerWord,
    /// With `other_reading`: which.
    #[serde(default)]
    pub reading: Option<ReadingChoiceBody>,
    /// With `corrected`, about a line: what it is.
    #[serde(default)]
    pub quantity: Option<TypedBody>,
    /// With `corrected`: the lines of some shelves, each shelf in full. With `counted_again`: those
    /// that came out otherwise.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub lines: Vec<CountLineBody>,
    /// With `corrected`, about an entry: the entry made anew, under an id of its own. The one it is
    /// about is withdrawn.
    #[serde(default)]
    pub entry: Option<EntryBody>,
    /// Why, where that is asked for: a count that comes days late.
    #[serde(default)]
    #[schema(max_length = 500)]
    pub reason: Option<String>,
}

impl CheckAnswerBody {
    fn read(self, faults: &mut Faults) -> Option<Answered> {
        let check = text(faults, "check", &self.check, CHECK_MAX);
        let reason = faults.maybe(self.reason, |f, why| text(f, "reason", &why, REASON_MAX));
        if self.lines.len() > LINES_MAX {
            faults.add("lines", format!("an answer has {LINES_MAX} lines at most"));
        }
        let has_lines = !self.lines.is_empty();
        let word = self.answer;
        let mut misfits = |member: &str, given: bool, fits: bool| {
            if given && !fits {
                faults.add(member, "this does not go with that answer");
            }
        };
        let corrected = word == AnswerWord::Corrected;
        misfits("reading", self.reading.is_some(), word == AnswerWord::OtherReading);
        misfits("quantity", self.quantity.is_some(), corrected);
        misfits("entry", self.entry.is_some(), corrected);
        misfits("lines", has_lines, corrected || word == AnswerWord::CountedAgain);
        let lines = faults.each("lines", self.lines, |f, line| line.read(f));
        let quantity = faults.maybe(self.quantity, |f, quantity| quantity.read(f, "quantity"));
        let entry = faults.maybe(self.entry, |faults, entry| {
            let mut found = Faults::default();
            let entry = entries_from_wire(vec![entry], "entry", &mut found);
            for fault in found.found() {
                faults.add(&fault.pointer.replacen("/entry/0", "entry", 1), &fault.detail);
            }
            entry.and_then(|mut one| one.pop())
        });
        let answer = match word {
            AnswerWord::AsTyped => Some(Choice::Full(Answer::AsTyped)),
            AnswerWord::CountedAgain => {
                lines.map(|lines| Choice::Full(Answer::CountedAgain { lines }))
            }
            AnswerWord::OtherReading => match self.reading {
                None => {
                    faults.add("reading", "say which reading");
                    None
                }
                Some(ReadingChoiceBody::Number(n)) => Some(Choice::Reading(n.into())),
                Some(ReadingChoiceBody::Amount(amount)) => amount
                    .read(faults, "reading")
                    .map(|quantity| Choice::Full(Answer::OtherReading { quantity })),
            },
            AnswerWord::Corrected => match (quantity?, lines?, entry?) {
                (Some(quantity), lines, None) if lines.is_empty() => {
                    Some(Correction::Quantity(quantity))
                }
                (None, lines, None) if has_lines => Some(Correction::Lines(lines)),
                (None, lines, Some(entry)) if lines.is_empty() => {
                    Some(Correction::Entry(Box::new(entry)))
                }
                _ => {
                    faults.here("say what it is: one of quantity, lines and entry");
                    None
                }
            }
            .map(|to| Choice::Full(Answer::Corrected { to })),
        };
        Some(Answered { check: check?, answer: answer?, reason: reason? })
    }
}

impl TryFrom<ConfirmationBody> for Confirmation {
    type Error = AppError;
    fn try_from(sent: ConfirmationBody) -> Result<Self, AppError> {
        let mut faults = Faults::default();
        if sent.answers.is_empty() || sent.answers.len() > ANSWERS_MAX {
            faults.add("answers", format!("1 to {ANSWERS_MAX} answers"));
        }
        let answers = faults.each("answers", sent.answers, |f, answer| answer.read(f));
        let revision = sent.revision;
        faults.finish(answers.map(|answers| Self { revision, answers }))
    }
}

/// Answer what was asked about a held count.
///
/// One answer is one tap. Answers are kept; one that changes the count makes a new revision and leaves
/// what was typed as it was. When everything asked is answered the count stands and the answer is 200
/// with the receipt; until then it is 202 with what is still open. The same answer given twice changes
/// nothing; another one is refused, and so are answers to a revision that waits no longer.
///
/// A correction is looked at again like anything typed; *counted again* and a reading that was offered
/// are not asked about again. A copied count that is only confirmed *as typed* stays doubtful: what was
/// weighed is left out.
#[utoipa::path(post, path = "/v1/stores/{store}/nights/{business_date}/confirmations",
    operation_id = "confirm_night", tag = "nights", request_body = ConfirmationBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        IdempotencyKey),
    responses(
        (status = 200, description = "Everything is answered, and the count stands", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the last revision"))),
        (status = 202, description = "Kept; something is still open", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the last revision"))),
        Allowed, Found, Sent,
        (status = 409, description = "The revision waits for no answer, or a check was answered otherwise", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "A check that was not asked, or an answer that does not fit it; or the id was used before with other content", body = Problem, content_type = "application/problem+json")))]
pub async fn confirm(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    key: IdempotencyKey,
    Body(sent): Body<ConfirmationBody>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let confirmation = Confirmation::try_from(sent)?;
    let show = ReceiptBody::new;
    let at = (&store, date);
    reply::send(confirmations::confirm(&deps, &caller, key.0, at, &confirmation, show).await?)
}
