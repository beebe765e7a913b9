//! Statistics for the rooms above: percentiles, intervals and spreads. Knows no kitchen words.

mod cusum;
mod discovery;
mod ewma;
mod funnel;
mod grade;
mod incidence;
mod individuals;
mod interval;
mod normal;
mod outliers;
mod pooling;
mod proportions;
mod quantile;
mod ratio;
mod robust;
mod run_length;
mod share;
mod spread;
mod student;

pub use cusum::{Cusum, CusumPoint};
pub use discovery::benjamini_hochberg;
pub use ewma::Ewma;
pub use funnel::Funnel;
pub use grade::Grade;
pub use incidence::{Incidence, Incidences};
pub use individuals::{D2_OF_TWO, Individuals};
pub use interval::{Confidence, Interval, Proportion};
pub use outliers::generalised_esd;
pub use pooling::{Noisy, Pooled, efron_morris};
pub use proportions::Proportions;
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
    /// An incidence is over an exposure above nothing.
    #[error("an incidence is over a finite exposure above 0")]
    Exposure,
    /// A sample has at least one value, and every value is finite.
    #[error("a sample needs at least one value, and finite values only")]
    Sample,
}
