//! How much of an item a line or an entry is about, as purchased.

use super::{CountLine, EntryBody};
use crate::catalog::{Catalog, MeasureError, NotFound, Typed};
use crate::ids::{ItemId, PanId, StageId};
use crate::quantity::{Base, QuantityError};

/// Why the amount of a line or an entry cannot be told.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AmountError {
    /// The catalogue of the date has no such item.
    #[error(transparent)]
    NotFound(#[from] NotFound),
    /// The item has no such unit, pack, stage or pan.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// The amount is too large to be tallied.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

/// The amount of a line, as purchased.
pub(crate) fn line_amount(
    catalog: &Catalog,
    id: &ItemId,
    stage: Option<&StageId>,
    quantity: &Typed,
    pan: Option<&PanId>,
) -> Result<Base, AmountError> {
    let item = catalog.item(id)?;
    let here = match pan {
        Some(pan) => item.net_of_pan(id, quantity, pan)?,
        None => item.measure(id, quantity)?,
    };
    Ok(item.as_purchased(id, here, stage)?)
}

impl CountLine {
    /// What stood there, as purchased, in the item's base unit.
    ///
    /// # Errors
    /// [`AmountError`] when the catalogue has no such item, unit, stage or pan.
    pub fn amount(&self, catalog: &Catalog) -> Result<Base, AmountError> {
        let (stage, pan) = (self.stage.as_ref(), self.pan.as_ref());
        line_amount(catalog, &self.item, stage, &self.quantity, pan)
    }
}

/// How much of its item an entry moves, as purchased: for a batch what went in, for a preparation
/// what was made; none for a stock-out and for samples, which move nothing.
///
/// # Errors
/// [`AmountError`] when the catalogue has no such item, unit, stage or pan.
pub fn amount(catalog: &Catalog, body: &EntryBody) -> Result<Option<Base>, AmountError> {
    let line = |item, stage: &Option<StageId>, quantity, pan: &Option<PanId>| {
        line_amount(catalog, item, stage.as_ref(), quantity, pan.as_ref()).map(Some)
    };
    match body {
        EntryBody::Waste { item, stage, quantity, pan, .. } => line(item, stage, quantity, pan),
        EntryBody::Delivery { item, quantity, .. } => line(item, &None, quantity, &None),
        EntryBody::TransferIn { item, stage, quantity, .. }
        | EntryBody::TransferOut { item, stage, quantity, .. } => {
            line(item, stage, quantity, &None)
        }
        EntryBody::Batch { item, from, put_in, .. } => line(item, from, put_in, &None),
        EntryBody::Preparation { item, made, .. } => line(item, &None, made, &None),
        EntryBody::StockOut { .. } | EntryBody::Sample { .. } => Ok(None),
    }
}
