//! How often cases proved worth the trip, by coach and by district.

use std::collections::BTreeMap;

use parings_core::access::{Action, Target};
use parings_core::ids::{DistrictId, PersonId};
use parings_core::review::{CaseStage, Verdict};
use parings_core::stats::{Confidence, Interval, Proportion};

use super::{Case, Filter, Happening};
use crate::app::Deps;
use crate::app::ground::audit;
use crate::context::Caller;
use crate::error::AppError;

/// What became of a number of cases.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    /// How many cases there were.
    pub raised: u64,
    /// Those that go on.
    pub ongoing: u64,
    /// Those that were said to be none.
    pub dismissed: u64,
    /// Those whose stores moved to another district or owner first.
    pub moved: u64,
    /// Those that are better since.
    pub worked: u64,
    /// Those that are not.
    pub did_not: u64,
    /// Those of which it cannot be told.
    pub cannot_tell: u64,
}

impl Tally {
    fn add(&mut self, case: &Case) {
        self.raised += 1;
        match (case.progress.stage(), case.progress.verdict()) {
            (CaseStage::Dismissed, _) => self.dismissed += 1,
            (CaseStage::Moved, _) => self.moved += 1,
            (_, Some(Verdict::Worked)) => self.worked += 1,
            (_, Some(Verdict::DidNot)) => self.did_not += 1,
            (_, Some(Verdict::CannotTell)) => self.cannot_tell += 1,
            _ => self.ongoing += 1,
        }
    }

    /// The share that worked of those of which it can be told, with its 95 % range (E. B. Wilson,
    /// 1927); none while it can be told of none.
    pub fn share(&self) -> Option<(f64, Interval)> {
        let decided = self.worked + self.did_not;
        let share = Proportion::new(self.worked, decided).ok()?;
        let value = self.worked as f64 / decided as f64;
        Some((value, share.wilson(Confidence::NINETY_FIVE)))
    }
}

/// The network's cases, added up.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Record {
    /// By the district that they were raised in.
    pub districts: BTreeMap<DistrictId, Tally>,
    /// By the account that recorded the visit; cases that nobody visited are in none.
    pub coaches: BTreeMap<PersonId, Tally>,
}

/// Adds up what became of all cases.
///
/// # Errors
/// 403 for who is not head office.
pub async fn record(deps: &Deps, caller: &Caller) -> Result<Record, AppError> {
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadCaseRecord, &Target::Network)?;
        audit::note_reading_of_all(conn, ctx, Action::ReadCaseRecord, "cases").await
    })
    .await?;
    let cases = super::list(deps, caller, &Filter::default(), None, usize::MAX).await?;
    let mut record = Record::default();
    for case in &cases {
        record.districts.entry(case.raised_in.clone()).or_default().add(case);
        let visit = case.history.iter().find(|h| matches!(h.what, Happening::Visited { .. }));
        if let Some(coach) = visit.and_then(|visit| visit.by) {
            record.coaches.entry(coach).or_default().add(case);
        }
    }
    Ok(record)
}
