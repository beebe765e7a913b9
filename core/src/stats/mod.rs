//! Statistics for the modules that use it: percentiles, intervals and spreads. Knows no kitchen words.

mod funnel;
mod grade;
mod interval;
mod normal;
mod pooling;
mod quantile;
mod ratio;
mod robust;
mod share;
mod spread;
mod student;

pub use funnel::Funnel;
pub use grade::Grade;
pub use interval::{Confidence, Interval, Proportion};
pub use pooling::{Noisy, Pooled};
pub use quantile::{Percentile, nearest_rank};
pub use ratio::RatioSums;
pub use robust::Robust;
pub use share::Share;
pub use spread::{Sample, StdDev};

/// Why a statistic cannot be made from what was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum StatsError {
    /// A confidence is more than 0 and less than 1.
    #[error("a confidence lies between 0 and 1, both left out")]
    Confidence,
    /// A proportion counts no more hits than trials, of at least one trial.
    #[error("a proportion needs at least one trial and no more hits than trials")]
    Proportion,
    /// A percentile is 0 to 1000 per mille.
    #[error("a percentile is 0 to 1000 per mille")]
    Percentile,
    /// A share is 0 to 1.
    #[error("a share lies between 0 and 1")]
    Share,
    /// A standard deviation is finite and not negative.
    #[error("a standard deviation is a finite number, 0 or more")]
    StdDev,
    /// A sample has at least one value, and every value is finite.
    #[error("a sample needs at least one value, and finite values only")]
    Sample,
}
