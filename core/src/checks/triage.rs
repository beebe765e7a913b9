use super::{Check, Treatment};
use crate::money::Money;

/// What is asked, and what is not asked any more.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Triage {
    /// To be confirmed, the most money first.
    pub asked: Vec<Check>,
    /// Beyond the most that is asked of one person: left out instead.
    pub left_out: Vec<Check>,
    /// Everything that asks nothing.
    pub said: Vec<Check>,
}

/// Divides the checks of a night. At most `most` are asked, by money at stake; a check whose stake
/// is unknown is asked before any other, since nothing says that it is small. What would be asked
/// beyond that is left out: a tired person asked ten questions answers none.
///
/// ```
/// use parings_core::checks::{About, Check, CheckKind, triage};
/// use parings_core::money::Money;
/// let of = |kind, euros: i64| Check {
///     stake: Some(Money::from_ten_thousandths(euros * 10_000)),
///     ..Check::new(kind, About::Night, "?")
/// };
/// let checks = vec![of(CheckKind::UnitSlip, 4), of(CheckKind::PartialCount, 0), of(CheckKind::PackSlip, 90)];
/// let divided = triage(checks, 1);
/// assert_eq!(divided.asked[0].kind, CheckKind::PackSlip);
/// assert_eq!(divided.left_out[0].kind, CheckKind::UnitSlip);
/// assert_eq!(divided.said[0].kind, CheckKind::PartialCount);
/// ```
pub fn triage(checks: Vec<Check>, most: usize) -> Triage {
    let (mut asked, said): (Vec<_>, Vec<_>) =
        checks.into_iter().partition(|check| check.treatment == Treatment::Confirm);
    asked.sort_by_key(|check| {
        std::cmp::Reverse(check.stake.map_or(i64::MAX, Money::ten_thousandths))
    });
    let mut left_out = asked.split_off(asked.len().min(most));
    for check in &mut left_out {
        check.treatment = Treatment::LeaveOut;
    }
    Triage { asked, left_out, said }
}
