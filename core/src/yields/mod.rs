//! Yields: what is left of an item after each stage of its preparation.
//!
//! A [`Chain`] holds the standard yield of every stage in order; the product up to a stage turns an
//! amount at that stage into its as-purchased equivalent and back. A batch is weighed in and out
//! and graded against its standard, and dry matter sets a ceiling that no honest batch passes.
//!
//! An amount below is of one item, in that item's base unit (g, ml, each).

mod amount;
mod batch;
mod ceiling;
mod chain;
mod portions;

pub use amount::{Cumulative, Yield};
pub use batch::{GradeLimits, Points, ScaleTolerance, batch_yield};
pub use ceiling::SolidsRule;
pub use chain::{Chain, Stage};
pub use portions::{MixPart, PortionSize, Portions, ep_cost, mix_weighted_size, portions};

use crate::ids::StageId;

/// Why yields, chains or amounts do not make sense.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum YieldError {
    /// A yield is more than 0 and at most 2.
    #[error("a yield is more than 0 and at most 2")]
    Yield,
    /// Nothing went in, or less than nothing came out.
    #[error("a batch needs more than nothing in and nothing less than nothing out")]
    Batch,
    /// Two stages of a chain bear the same code.
    #[error("stage {0} stands twice in the chain")]
    Repeated(StageId),
    /// A stage's figures are not in the order low, standard, high, cap.
    #[error("stage {0} needs low ≤ standard ≤ high ≤ cap")]
    Bounds(StageId),
    /// The chain has no such stage.
    #[error("the item has no stage {0}")]
    UnknownStage(StageId),
    /// A figure is too large or too small to be kept exactly.
    #[error("a figure is beyond what can be kept")]
    Range,
    /// Points, a tolerance or a cost below 0, or `near` below `within`.
    #[error("points, tolerances and costs are 0 or more, and near is no less than within")]
    Setting,
    /// The least sellable share of dry matter is more than 0.
    #[error("the least sellable share of dry matter is more than 0")]
    Solids,
    /// A portion is more than 0.
    #[error("a portion is more than 0")]
    Portion,
    /// A mix needs at least one unit sold.
    #[error("a mix needs at least one unit sold")]
    EmptyMix,
}
