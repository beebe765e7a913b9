use std::fmt;
use std::str::FromStr;

use crate::access::Standing;
use crate::calendar::{BusinessDate, DateSpan, Periods, week_start};
use crate::ids::{CodeError, DistrictId, OwnerId, RegionId, StoreId};

/// Which stores a roll-up is of. A store counts where it stood on each date: one that moved is in
/// its old district with its earlier nights, in the new one with its later ones.
///
/// ```
/// use parings_core::rollup::{Level, Scope};
/// let upper: Scope = "district:upper".parse().unwrap();
/// assert_eq!(upper.children(), Some(Level::Store));
/// assert_eq!(upper.to_string(), "district:upper");
/// assert!("network".parse::<Scope>().is_ok());
/// assert!("district".parse::<Scope>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    /// The store of a code, wherever it stands.
    Store(StoreId),
    /// All stores of a district.
    District(DistrictId),
    /// All stores of a region.
    Region(RegionId),
    /// All stores of an owner.
    Owner(OwnerId),
    /// All stores of the chain.
    Network,
}

/// What a scope is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Each store by itself.
    Store,
    /// The stores of each district together.
    District,
    /// The stores of each region together.
    Region,
}

/// Why a text is no scope.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScopeError {
    /// No such kind, or a code where none belongs, or none where one does.
    #[error(
        "a scope is store:CODE, district:CODE, region:CODE, owner:CODE, or network without a code"
    )]
    Shape,
    /// The code is none.
    #[error(transparent)]
    Code(#[from] CodeError),
}

impl Scope {
    /// What it is made of; nothing for a store.
    pub fn children(&self) -> Option<Level> {
        match self {
            Self::Store(_) => None,
            Self::District(_) | Self::Owner(_) => Some(Level::Store),
            Self::Region(_) => Some(Level::District),
            Self::Network => Some(Level::Region),
        }
    }

    /// Whether a store that stands there is in it.
    pub fn holds(&self, at: &Standing) -> bool {
        match self {
            Self::Store(code) => at.store == *code,
            Self::District(code) => at.district == *code,
            Self::Region(code) => at.region == *code,
            Self::Owner(code) => at.owner == *code,
            Self::Network => true,
        }
    }
}

impl Level {
    /// The code of the child that a store stands in.
    pub fn of(self, at: &Standing) -> &str {
        match self {
            Self::Store => at.store.as_str(),
            Self::District => at.district.as_str(),
            Self::Region => at.region.as_str(),
        }
    }
}

impl FromStr for Scope {
    type Err = ScopeError;
    fn from_str(text: &str) -> Result<Self, ScopeError> {
        match text.split_once(':') {
            Some(("store", code)) => Ok(Self::Store(code.parse()?)),
            Some(("district", code)) => Ok(Self::District(code.parse()?)),
            Some(("region", code)) => Ok(Self::Region(code.parse()?)),
            Some(("owner", code)) => Ok(Self::Owner(code.parse()?)),
            None if text == "network" => Ok(Self::Network),
            _ => Err(ScopeError::Shape),
        }
    }
}

impl fmt::Display for Scope {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Store(code) => write!(f, "store:{code}"),
            Self::District(code) => write!(f, "district:{code}"),
            Self::Region(code) => write!(f, "region:{code}"),
            Self::Owner(code) => write!(f, "owner:{code}"),
            Self::Network => f.write_str("network"),
        }
    }
}

/// How a span is cut into buckets.
///
/// ```
/// use parings_core::calendar::{BusinessDate, DateSpan, Periods};
/// use parings_core::rollup::{Bucket, By};
/// // From a Wednesday to the Tuesday after next: ISO 8601 weeks, cut to the span.
/// let wednesday = BusinessDate::new(2026, 6, 3).unwrap();
/// let span = DateSpan::new(wednesday, wednesday.plus_days(13)).unwrap();
/// let show = |b: &Bucket| format!("{}{}", b.span, if b.whole { "" } else { " (cut)" });
/// let by = |by: By| by.buckets(span, &Periods::Months);
/// assert_eq!(
///     by(By::Week).iter().map(show).collect::<Vec<_>>(),
///     [
///         "2026-06-03 to 2026-06-07 (cut)",
///         "2026-06-08 to 2026-06-14",
///         "2026-06-15 to 2026-06-16 (cut)",
///     ]
/// );
/// assert_eq!((by(By::Day).len(), by(By::Period).len(), by(By::None).len()), (14, 1, 1));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// One bucket a date.
    Day,
    /// One bucket an ISO 8601 week, Monday to Sunday, cut to the span.
    Week,
    /// One bucket a period of the network's, cut to the span.
    Period,
    /// The whole span.
    None,
}

/// A part of a span.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bucket {
    /// The dates that it holds, all of them within the span that was cut.
    pub span: DateSpan,
    /// Whether it is whole: the ends of the span cut nothing off.
    pub whole: bool,
}

impl By {
    /// The buckets of a span, in order.
    pub fn buckets(self, span: DateSpan, periods: &Periods) -> Vec<Bucket> {
        let mut buckets = Vec::new();
        let mut from = span.from();
        while from <= span.to() {
            let (first, last) = self.ends(from, span, periods);
            let to = last.min(span.to());
            let whole = (first, last) == (from, to);
            buckets.extend(DateSpan::new(from, to).map(|span| Bucket { span, whole }));
            from = to.succ();
        }
        buckets
    }

    /// The first and last date of what holds a date, before it is cut.
    fn ends(
        self,
        date: BusinessDate,
        span: DateSpan,
        periods: &Periods,
    ) -> (BusinessDate, BusinessDate) {
        let ends = |span: DateSpan| (span.from(), span.to());
        match self {
            Self::Day => (date, date),
            Self::Week => (week_start(date), week_start(date).plus_days(6)),
            Self::Period => ends(periods.period_of(date).span()),
            Self::None => ends(span),
        }
    }
}

#[cfg(test)]
mod tests;
