//! What answers teach.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::{Check, CheckKind, Treatment};
use crate::catalog::Limits;

/// The checks that were not answered before, by their ids: nobody is asked the same thing twice.
///
/// ```
/// use std::collections::BTreeSet;
/// use parings_core::checks::{About, Check, CheckKind, unanswered};
/// let ask = |kind| Check::new(kind, About::Night, "?");
/// let answered = BTreeSet::from([ask(CheckKind::OldDate).id()]);
/// let left = unanswered(vec![ask(CheckKind::OldDate), ask(CheckKind::CopiedCount)], &answered);
/// assert_eq!(left[0].kind, CheckKind::CopiedCount);
/// assert_eq!(left.len(), 1);
/// ```
pub fn unanswered(checks: Vec<Check>, answered: &BTreeSet<String>) -> Vec<Check> {
    let asks = |check: &Check| check.treatment == Treatment::Confirm;
    checks.into_iter().filter(|check| !(asks(check) && answered.contains(&check.id()))).collect()
}

/// A limit that answers say is too narrow, for head office to decide on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposal {
    /// The limit's name in the settings.
    pub limit: &'static str,
    /// The value that is in force.
    pub now: Decimal,
    /// The value that would ask less often.
    pub proposed: Decimal,
}

/// A wider limit, when the same question was answered *it is right* so many times in a row that it
/// is the question that is wrong. `stood` counts them; nothing is proposed for kinds without a limit.
///
/// ```
/// use parings_core::catalog::Limits;
/// use parings_core::checks::{CheckKind, wider};
/// let limits = Limits::default();
/// assert_eq!(wider(CheckKind::UnitSlip, 4, &limits), None);
/// let proposal = wider(CheckKind::UnitSlip, 5, &limits).unwrap();
/// assert_eq!((proposal.limit, proposal.proposed.to_string()), ("spreads", "5".into()));
/// ```
pub fn wider(kind: CheckKind, stood: u32, limits: &Limits) -> Option<Proposal> {
    if stood < limits.same_answers {
        return None;
    }
    let by_a_quarter = |limit, now: Decimal| Proposal {
        limit,
        now,
        proposed: (now * Decimal::new(125, 2)).normalize(),
    };
    Some(match kind {
        CheckKind::UnitSlip
        | CheckKind::PackSlip
        | CheckKind::DecimalSlip
        | CheckKind::TareForgotten => by_a_quarter("spreads", limits.spreads.0),
        CheckKind::NegativeUse | CheckKind::WasteAboveHandled => {
            by_a_quarter("use_spreads", limits.use_spreads.0)
        }
        CheckKind::DeviceClock => {
            let now = Decimal::from(limits.clock_minutes.0);
            Proposal { limit: "clock_minutes", now, proposed: now + now }
        }
        CheckKind::CopiedCount => {
            let now = limits.copied_share.decimal();
            let half_way = (now + Decimal::ONE) / Decimal::TWO;
            Proposal { limit: "copied_share", now, proposed: half_way.normalize() }
        }
        _ => return None,
    })
}
