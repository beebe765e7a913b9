use crate::calendar::BusinessDate;
use crate::catalog::{MeasureError, NotFound, RecipeError};
use crate::ids::{ItemId, ProductId, SizeId, StoreId};
use crate::money::MoneyError;
use crate::night::AmountError;
use crate::quantity::QuantityError;
use crate::tickets::TicketError;
use crate::yields::YieldError;

/// What of a fact does not fit the catalogue that it is added up with. Facts are checked before they are
/// taken, so the reference data that they were checked against are other ones.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Misfit {
    /// It names what is not in force.
    #[error(transparent)]
    NotFound(#[from] NotFound),
    /// It has a unit, stage or pan that its item does not have.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// It is about an amount that cannot be told.
    #[error(transparent)]
    Amount(#[from] AmountError),
    /// It sold or prepared what has a recipe that cannot be followed.
    #[error(transparent)]
    Recipe(#[from] RecipeError),
    /// It is a batch, of stages that its item does not have.
    #[error(transparent)]
    Yield(#[from] YieldError),
    /// It paid what makes no price of a unit.
    #[error(transparent)]
    Money(#[from] MoneyError),
    /// It is a ticket whose time runs backwards.
    #[error(transparent)]
    Ticket(#[from] TicketError),
    /// It weighed portions of an item that is not in the recipe.
    #[error("the recipe of {product}/{size} has no line for {item}")]
    NoLine {
        /// The product that was served.
        product: ProductId,
        /// In which size.
        size: SizeId,
        /// The item whose portions were weighed.
        item: ItemId,
    },
    /// With the others of its item and kind it comes to more than can be tallied.
    #[error("{item}: {cause}")]
    TooMuch {
        /// The item whose facts come to too much.
        item: ItemId,
        /// How the sum is too large.
        cause: QuantityError,
    },
}

/// Why the facts of a date cannot be added up.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("facts of {store} on {date} cannot be tallied: {cause}")]
pub struct TallyError {
    /// The store that they are facts of.
    pub store: StoreId,
    /// The business date.
    pub date: BusinessDate,
    /// What does not fit.
    pub cause: Misfit,
}
