//! What an item's use was between two counts, and where the difference from the expected went.
//!
//! Everything is as purchased, in whole thousandths of the item's base unit. Uncertainty is part
//! of the answer: a count is off by so much at each end, a sample of portions says only so much.

mod causes;
mod effects;
mod samples;
#[cfg(test)]
mod tests;

pub use causes::{Causes, Estimate};
pub use effects::{PutIn, RecipeEffect, price_effect, recipe_effect};
pub use samples::Samples;

use crate::quantity::Tallied;

/// What came, went and stood between two counts.
///
/// ```
/// use parings_core::quantity::Tallied;
/// use parings_core::usage::Movement;
/// let kg = |grams: i64| Tallied::from_thousandths(grams * 1000);
/// // Opening 148.0 kg, a delivery of 226.8, 22.7 borrowed, closing 131.5 (invented worked example).
/// let movement = Movement {
///     opening: kg(148_000),
///     received: kg(226_800),
///     transferred_in: kg(22_700),
///     closing: kg(131_500),
///     ..Movement::default()
/// };
/// assert_eq!(movement.used(), kg(266_000));
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Movement {
    /// The count it starts from.
    pub opening: Tallied,
    /// What suppliers delivered between the two counts.
    pub received: Tallied,
    /// Come from other stores.
    pub transferred_in: Tallied,
    /// Gone to other stores.
    pub transferred_out: Tallied,
    /// Prepared here from other items.
    pub made: Tallied,
    /// Thrown away for safety. It left the stock and was not used, so that it never counts against
    /// a store.
    pub discarded: Tallied,
    /// The count it ends with.
    pub closing: Tallied,
}

impl Movement {
    /// What was used. Below zero it shows a delivery or transfer that nobody entered.
    pub fn used(&self) -> Tallied {
        self.opening + self.received + self.transferred_in + self.made
            - self.transferred_out
            - self.discarded
            - self.closing
    }
}
