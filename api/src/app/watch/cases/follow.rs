//! What the server does about cases each night: it raises them, ends those whose stores have moved, and
//! looks again at what was promised.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Datelike, TimeDelta, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::Store;
use parings_core::review::{
    CaseCheck, CaseStage, Earlier, Finding, Judgement, Label, Measure, Sheet, Verdict, Windows,
    judge, raise,
};
use uuid::Uuid;

use super::{Case, Happening, Looked, with_events};
use crate::app::watch::findings::Seen;
use crate::app::watch::review;
use crate::db;
use crate::db::cases::CaseRow;
use crate::edge::new_id;
use crate::error::AppError;

/// Cases raised longer ago mute nothing and are followed no more.
const LOOKED_BACK: TimeDelta = TimeDelta::days(400);

/// Stores as they were on a night, by their codes.
pub(in crate::app::watch) type Stores = BTreeMap<String, Store>;

/// A night that was reviewed.
pub(in crate::app::watch) struct Night<'a> {
    pub as_of: BusinessDate,
    pub now: DateTime<Utc>,
    /// Its nights and those before it.
    pub sheet: &'a Sheet,
    /// The stores that were reviewed.
    pub stores: &'a Stores,
    /// Those of them that have left their place since: nothing is raised of them any more.
    pub left: &'a BTreeSet<&'a str>,
    /// What was found in them.
    pub found: &'a [&'a Finding],
}

/// Brings cases up to a night.
///
/// # Errors
/// When the acting part may not, or the database cannot be reached.
pub(in crate::app::watch) async fn follow(
    conn: &mut AsyncPgConnection,
    night: &Night<'_>,
) -> Result<(), AppError> {
    let which =
        db::cases::Which { since: Some(night.now - LOOKED_BACK), ..db::cases::Which::default() };
    let rows = db::cases::list(conn, which, None, i64::MAX).await?;
    let mut cases = with_events(conn, night.now, rows).await?;
    for case in &cases {
        note_move(conn, night.now, case).await?;
    }
    cases.retain(|case| night.stores.contains_key(case.store.as_str()));
    look_again(conn, night, &cases).await?;
    let raised = raised(night, &cases)?;
    if !raised.is_empty() {
        db::cases::raise(conn, &raised).await?;
        tracing::info!(as_of = %night.as_of, cases = raised.len(), "cases raised");
    }
    Ok(())
}

/// Puts on record that a case has ended with the move of its store, which it has since the moment of it.
async fn note_move(
    conn: &mut AsyncPgConnection,
    now: DateTime<Utc>,
    case: &Case,
) -> Result<(), AppError> {
    let noted = case.history.iter().any(|h| matches!(h.what, Happening::Moved { .. }));
    if let Some(on) = case.progress.moved().filter(|_| !noted) {
        db::cases::add(conn, &Happening::Moved { on }.row(case.id, now, None)?).await?;
    }
    Ok(())
}

/// Looks again at what was promised, where it is time.
async fn look_again(
    conn: &mut AsyncPgConnection,
    night: &Night<'_>,
    cases: &[Case],
) -> Result<(), AppError> {
    let due: Vec<(&Case, CaseCheck, Option<Windows>)> = cases
        .iter()
        .filter_map(|case| {
            let check = case.progress.due(night.as_of)?;
            Some((case, check, windows(case, check)))
        })
        .collect();
    let first = due.iter().filter_map(|(.., windows)| Some(windows.as_ref()?.before.from())).min();
    let sheet = match first.map(|first| DateSpan::new(first, night.as_of)) {
        Some(span) => review::gather(conn, night.now, span.map_err(anyhow::Error::new)?).await?,
        None => None,
    };
    for (case, check, windows) in due {
        let measure = case.measure;
        let label = |sheet: &Sheet| sheet.labels().find(case.store.as_str());
        let known =
            sheet.as_ref().zip(windows).and_then(|(sheet, w)| Some((sheet, w, label(sheet)?)));
        let outcome = match known {
            Some((sheet, windows, store)) => {
                let touched = touched(night, cases, measure, sheet);
                judge(sheet, store, measure, windows, case.size, &touched)
            }
            None => Judgement { verdict: Verdict::CannotTell, effect: None },
        };
        let looked = Looked::new(check, &outcome, outcome.sentence(measure));
        let row = Happening::Checked(looked).row(case.id, night.now, None)?;
        db::cases::add(conn, &row).await?;
    }
    Ok(())
}

/// Between the opening of a case and the promise being kept, and since; none where nothing lies
/// between.
fn windows(case: &Case, check: CaseCheck) -> Option<Windows> {
    let turned = case.progress.turned()?;
    let opened = case.as_of;
    Some(Windows {
        before: DateSpan::new(opened.succ(), turned.pred()).ok()?,
        after: DateSpan::new(turned, case.progress.date_of(check)?).ok()?,
    })
}

/// Stores that something is done about, or that stand out.
fn touched(night: &Night<'_>, cases: &[Case], measure: Measure, sheet: &Sheet) -> Vec<Label> {
    let ongoing = cases.iter().filter(|case| !case.progress.stage().has_ended());
    let cases = ongoing.map(|case| case.store.as_str());
    let found = night.found.iter().filter(|finding| finding.measure == measure);
    let found = found.filter_map(|finding| Some(night.sheet.labels().word(finding.store?)));
    cases.chain(found).filter_map(|store| sheet.labels().find(store)).collect()
}

/// The cases that a night raises, coach by coach.
fn raised(night: &Night<'_>, cases: &[Case]) -> Result<Vec<CaseRow>, AppError> {
    let labels = night.sheet.labels();
    // What ended with a move was of another place: it mutes nothing here.
    let of_here = cases.iter().filter(|case| case.progress.stage() != CaseStage::Moved);
    let earlier: Vec<Earlier> = of_here
        .filter_map(|case| {
            Some(Earlier {
                store: labels.find(case.store.as_str())?,
                measure: case.measure,
                size: case.size,
                ended: ended(case),
            })
        })
        .collect();
    let week = |date: BusinessDate| chrono::NaiveDate::from(date).iso_week();
    let mut by_district: BTreeMap<Label, Vec<Finding>> = BTreeMap::new();
    let is_there = |finding: &&&Finding| {
        finding.store.is_none_or(|store| !night.left.contains(labels.word(store)))
    };
    for finding in night.found.iter().filter(is_there) {
        by_district.entry(finding.district).or_default().push(**finding);
    }
    let mut rows = Vec::new();
    for (district, found) in by_district {
        let district = labels.word(district);
        let this_week = cases.iter().filter(|case| {
            case.raised_in.as_str() == district && week(case.as_of) == week(night.as_of)
        });
        for finding in raise(&found, &earlier, this_week.count()) {
            rows.extend(row(night, district, &finding)?);
        }
    }
    Ok(rows)
}

/// When a case ended; none while it goes on.
fn ended(case: &Case) -> Option<BusinessDate> {
    let last = case.history.iter().rev().find(|happened| {
        matches!(happened.what, Happening::Dismissed { .. } | Happening::Checked(_))
    });
    let at = last.filter(|_| case.progress.stage().has_ended())?.at;
    Some(BusinessDate::from(at.date_naive()))
}

fn row(night: &Night<'_>, district: &str, finding: &Finding) -> Result<Option<CaseRow>, AppError> {
    let labels = night.sheet.labels();
    let store = finding.store.map(|store| labels.word(store));
    let Some((store, said)) = store.and_then(|store| Some((store, night.stores.get(store)?)))
    else {
        return Ok(None);
    };
    let seen =
        serde_json::to_value(Seen::from(finding)).map_err(|e| AppError::Internal(e.into()))?;
    let id: Uuid = new_id();
    Ok(Some(CaseRow {
        id,
        store_id: store.to_owned(),
        district_id: district.to_owned(),
        owner_id: said.owner.to_string(),
        measure: finding.measure.word().to_owned(),
        kind: finding.kind.word().to_owned(),
        as_of: finding.as_of.into(),
        since: finding.since.into(),
        size: finding.size,
        money_per_week: finding.money_per_week,
        seen,
        raised_at: night.now,
        raised_in: district.to_owned(),
    }))
}
