//! Confirmations: a manager answers what was asked about a held count.
//!
//! An answer is kept. One that changes the count makes a new revision; what was typed stays as it
//! was. When nothing is open any more the count stands.

use std::collections::BTreeSet;

use diesel_async::AsyncPgConnection;
use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::checks::{About, Answer, Check, CheckKind, Correction};
use parings_core::ids::{StoreId, WriteId};
use parings_core::night::{Count, Entry, RevisionEvent, State};
use serde::Serialize;
use serde_json::json;

use crate::app::Deps;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::night::checks::{self, Coming};
use crate::app::night::entries;
use crate::app::night::facts::{self, Ground};
use crate::app::night::receipts::Receipt;
use crate::app::night::revisions::{self, Given, Revision, Withdrawal};
use crate::app::night::saving::{self, New};
use crate::app::night::tallying::Around;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::answers::NewAnswer;
use crate::error::{AppError, Fault};

/// Answers to what was asked about a revision.
#[derive(Debug, Clone, Serialize)]
pub struct Confirmation {
    /// The revision's number.
    pub revision: i32,
    /// One for each check that is answered.
    pub answers: Vec<Answered>,
}

/// An answer to a check.
#[derive(Debug, Clone, Serialize)]
pub struct Answered {
    /// The check's id.
    pub check: String,
    /// What was chosen of the answers that the check offers.
    pub answer: Choice,
    /// Why, where that is asked for.
    pub reason: Option<String>,
}

/// What was chosen.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Choice {
    /// An answer in full.
    Full(Answer),
    /// The reading of this number among those offered; the first is how it was typed.
    Reading(usize),
}

impl Choice {
    fn of(&self, check: &Check) -> Result<Answer, &'static str> {
        match self {
            Self::Full(answer) => Ok(answer.clone()),
            Self::Reading(0) => Ok(Answer::AsTyped),
            Self::Reading(n) => {
                let reading = check.readings.get(*n).ok_or("there is no such reading")?;
                Ok(Answer::OtherReading { quantity: reading.quantity.clone() })
            }
        }
    }
}

/// Answers what was asked about a held count. `show` makes the answer's body.
///
/// # Errors
/// 404 and 403 as the policy says; 409 when the revision waits no longer, or a check was answered
/// otherwise; 422 for a check that was not asked and for an answer that does not fit it.
pub async fn confirm<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    (store, date): (&StoreId, BusinessDate),
    confirmation: &Confirmation,
    show: impl Fn(&Ctx, Receipt) -> W,
) -> Result<Reply, AppError> {
    deps.writing(caller, store, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::SubmitNight, store, date).await?;
        writes::replay_or(conn, ctx, &write, confirmation, async |conn| {
            // Held to the end, so that of two who answer at once the second sees the first.
            db::tallies::lock(conn, store).await?;
            let (state, around) = answer(conn, ctx, &ground, write.id, confirmation).await?;
            let receipt = saving::worked_out(deps, conn, ctx, &ground, around).await?;
            saving::reply(receipt, state, false, |receipt| show(ctx, receipt))
        })
        .await
    })
    .await
}

/// Takes the answers, and says what state the count is in; with what was read of the night, if it was.
async fn answer(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    ground: &Ground,
    write: WriteId,
    confirmation: &Confirmation,
) -> Result<(State, Option<Around>), AppError> {
    let Ground { date, standing, .. } = ground;
    let (date, store) = (*date, &standing.store);
    let mut revisions = revisions::of_night(conn, store, date).await?;
    let number = confirmation.revision;
    let Some(at) = revisions.iter().position(|revision| revision.number == number) else {
        return Err(AppError::Conflict(format!("there is no revision {number} of {date}")));
    };
    let fresh = fresh(&revisions[at], &confirmation.answers)?;
    if fresh.is_empty() {
        return Ok((standing_of(&revisions), None));
    }
    let revision = &revisions[at];
    if !(revision.waits() && revision.state == State::Held) {
        let stands = revisions.last().map_or(number, |last| last.number);
        return Err(AppError::Conflict(format!(
            "revision {number} waits for no answer any more: the last is {stands}"
        )));
    }
    let changed = changes(ground, revision, &fresh)?;
    for (_, check, answer, _) in &fresh {
        let (check, answer) = (check.id(), serde_json::to_value(answer));
        let answer = &answer.map_err(anyhow::Error::new)?;
        let (by, at) = (ctx.actor.person, ctx.now);
        let new = NewAnswer { revision: number, check: &check, answer, by, at, write };
        db::answers::add(conn, standing, date, &new).await?;
    }
    let made = &changed.entries;
    let withdraw = &changed.withdraw;
    entries::take_back(conn, (standing, date), ctx.actor.person, ctx.now, withdraw).await?;
    entries::record(conn, ctx, &ground.catalog, standing, date, made, write, "/answers").await?;

    let said: Vec<_> = fresh.iter().map(|(_, check, ..)| check.id()).collect();
    let words: Vec<_> =
        fresh.iter().map(|(_, check, answer, _)| (check.id(), answer.word())).collect();
    let given = fresh.iter().map(|(_, check, answer, _)| {
        (check.id(), Given { answer: answer.clone(), by: ctx.actor.person.0, at: ctx.now })
    });
    let given: Vec<_> = given.collect();
    revisions[at].answers.extend(given);

    let is_changed = changed.count != revisions[at].count || !changed.withdraw.is_empty();
    let (state, last, around) = if is_changed {
        let reason = format!("Answer to {}", said.join(", "));
        let coming = Coming::Answered(number);
        let count = &changed.count;
        let (checks, mut around) = checks::of(conn, ctx, ground, &revisions, count, coming).await?;
        let last = revisions.last().map_or(number, |last| last.number) + 1;
        let reason = Some(reason.as_str());
        let new = New { number: last, count, reason, checks: &checks, proposal: None, write };
        let state = saving::write(conn, ctx, ground, &revisions, new, &mut around).await?;
        (state, last, Some(around))
    } else if revisions[at].open().next().is_none() {
        let (by, at_night) = (Some(ctx.actor.person), (standing, date));
        let event = RevisionEvent::Answered;
        revisions::settle(conn, at_night, &revisions[at], event, by, ctx.now, None).await?;
        (State::Accepted, number, None)
    } else {
        (State::Held, number, None)
    };
    let detail = json!({
        "business_date": date, "revision": number, "answers": words, "becomes": last,
        "state": state,
        "reasons": fresh.iter().filter_map(|(.., reason)| reason.as_deref()).collect::<Vec<_>>(),
    });
    let target = format!("night {store} {date}");
    db::audit::add(conn, ctx, "confirm night", &target, Some(store), Some(detail)).await?;
    Ok((state, around))
}

/// Whether anything of the night is held.
fn standing_of(revisions: &[Revision]) -> State {
    let held = revisions.iter().any(|r| r.waits() && r.state == State::Held);
    if held { State::Held } else { State::Accepted }
}

/// Where the request has an answer, the check, the answer, and why.
type Fresh<'a> = (usize, Check, Answer, Option<&'a String>);

/// The answers that are not on record yet.
fn fresh<'a>(revision: &Revision, answers: &'a [Answered]) -> Result<Vec<Fresh<'a>>, AppError> {
    let mut faults = Vec::new();
    let mut fresh: Vec<Fresh<'a>> = Vec::new();
    let mut seen = BTreeSet::new();
    for (n, Answered { check: id, answer, reason }) in answers.iter().enumerate() {
        let at = |member: &str| format!("/answers/{n}/{member}");
        let asked = revision.checks.iter().find(|check| check.asks() && check.id() == *id);
        let Some(check) = asked.filter(|_| revision.state == State::Held) else {
            let says = format!("nothing of the kind was asked about revision {}", revision.number);
            faults.push(Fault::new(at("check"), says));
            continue;
        };
        if !seen.insert(id) {
            faults.push(Fault::new(at("check"), "this check is answered twice here"));
            continue;
        }
        let answer = match answer.of(check) {
            Ok(answer) => answer,
            Err(says) => {
                faults.push(Fault::new(at("reading"), says));
                continue;
            }
        };
        match revision.answers.get(id) {
            Some(given) if given.answer == answer => {}
            Some(given) => {
                return Err(AppError::Conflict(format!(
                    "{id} was answered otherwise before: {}",
                    given.answer.word().replace('_', " ")
                )));
            }
            None => fresh.push((n, check.clone(), answer, reason.as_ref())),
        }
    }
    // A count of long ago says why it comes now, with the count or with the answer.
    for (n, check, _, reason) in &fresh {
        if check.kind == CheckKind::OldDate && reason.is_none() && revision.reason.is_none() {
            faults.push(Fault::new(format!("/answers/{n}/reason"), "say why it comes so late"));
        }
    }
    if faults.is_empty() { Ok(fresh) } else { Err(AppError::Invalid(faults)) }
}

/// What answers make of a night.
struct Changes {
    count: Count,
    entries: Vec<Entry>,
    withdraw: Vec<Withdrawal>,
}

fn changes(ground: &Ground, revision: &Revision, fresh: &[Fresh<'_>]) -> Result<Changes, AppError> {
    let mut changed =
        Changes { count: revision.count.clone(), entries: Vec::new(), withdraw: Vec::new() };
    let mut faults = Vec::new();
    for (n, check, answer, _) in fresh {
        let at = format!("/answers/{n}");
        match check.answered(answer, &changed.count) {
            Ok(None) => {}
            Ok(Some(count)) => {
                // What the count had before is not the answer's fault.
                let before = saving::flaws(ground, &changed.count, &at)?.len();
                let flaws = saving::flaws(ground, &count, &at)?;
                if flaws.len() > before {
                    let says = flaws.iter().map(|fault| fault.detail.clone());
                    faults.extend(says.map(|says| Fault::new(at.clone(), says)));
                }
                changed.count = count;
            }
            Err(error) => faults.push(Fault::new(at.clone(), error.to_string())),
        }
        if let Answer::Corrected { to: Correction::Entry(entry) } = answer {
            if let About::Entry { entry: id, .. } = &check.about {
                let reason = format!("Corrected after {}", check.kind.word());
                changed.withdraw.push(Withdrawal { id: *id, reason });
            }
            let (catalog, store) = (&ground.catalog, &ground.standing.store);
            let entry = Entry::clone(entry);
            let wrong = entries::faults(catalog, store, std::slice::from_ref(&entry), "");
            let strip = |fault: Fault| {
                let place = fault.pointer.trim_start_matches("/0");
                Fault::new(format!("{at}/entry{place}"), fault.detail)
            };
            faults.extend(wrong.into_iter().map(strip));
            changed.entries.push(entry);
        }
    }
    if faults.is_empty() { Ok(changed) } else { Err(AppError::Invalid(faults)) }
}
