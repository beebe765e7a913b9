//! What products and preparations take: recipes followed down to what is counted.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::catalogue::DEPTH;
use super::{Catalog, MeasureError, NotFound, RecipeLine, Typed};
use crate::ids::{ItemId, ProductId, SizeId, StageId};
use crate::quantity::{Base, QuantityError};

/// What something takes, item by item, as purchased and in each item's base unit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Needs(pub BTreeMap<ItemId, Base>);

impl Needs {
    fn add(&mut self, item: &ItemId, amount: Base) {
        *self.0.entry(item.clone()).or_default() += amount;
    }
}

/// Why it cannot be told what a product or a preparation takes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecipeError {
    /// A recipe names an item or a size that is not in force on the date.
    #[error(transparent)]
    NotFound(#[from] NotFound),
    /// A recipe names an amount that its item cannot be measured by.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// Combos hold combos, level after level, more often than is followed.
    #[error("combos are nested too deep")]
    CombosTooDeep,
    /// Preparations are made from preparations, level after level, more often than is followed.
    #[error("preparations are nested too deep")]
    PreparationsTooDeep,
    /// A preparation yields nothing, so that no amount of it can be made.
    #[error("an empty batch")]
    EmptyBatch,
}

impl Catalog {
    /// An amount of an item at a stage, as purchased.
    pub(super) fn line_amount(
        &self,
        id: &ItemId,
        stage: Option<&StageId>,
        quantity: &Typed,
    ) -> Result<Base, MeasureError> {
        let item = self.items.get(id).ok_or_else(|| MeasureError::Bridge {
            item: id.clone(),
            cause: QuantityError::UnknownUnit { symbol: quantity.to_string() },
        })?;
        item.as_purchased(id, item.measure(id, quantity)?, stage)
    }

    /// What one unit of a size takes, parts of combos included.
    ///
    /// # Errors
    /// [`RecipeError`] when the recipe names what is not in force, or is nested too deep.
    pub fn needs_of(&self, product: &ProductId, size: &SizeId) -> Result<Needs, RecipeError> {
        let mut needs = Needs::default();
        self.gather(product, size, Decimal::ONE, &mut needs, DEPTH)?;
        Ok(needs)
    }

    fn gather(
        &self,
        product: &ProductId,
        size: &SizeId,
        times: Decimal,
        needs: &mut Needs,
        depth: usize,
    ) -> Result<(), RecipeError> {
        let depth = depth.checked_sub(1).ok_or(RecipeError::CombosTooDeep)?;
        let found = self.size(product, size)?;
        self.take_lines(&found.lines, times, needs)?;
        for part in &found.parts {
            let count = times * Decimal::from(part.count);
            self.gather(&part.product, &part.size, count, needs, depth)?;
        }
        Ok(())
    }

    /// Adds what recipe lines take, so many times over.
    ///
    /// # Errors
    /// As for [`Catalog::needs_of`].
    pub fn take_lines(
        &self,
        lines: &[RecipeLine],
        times: Decimal,
        needs: &mut Needs,
    ) -> Result<(), RecipeError> {
        for line in lines {
            let amount = self.line_amount(&line.item, line.stage.as_ref(), &line.quantity)?;
            self.take(&line.item, amount * times, needs, DEPTH)?;
        }
        Ok(())
    }

    /// Adds an amount of an item; of one that is never counted, its inputs instead.
    fn take(
        &self,
        id: &ItemId,
        amount: Base,
        needs: &mut Needs,
        depth: usize,
    ) -> Result<(), RecipeError> {
        if !self.item(id)?.flows_through() {
            needs.add(id, amount);
            return Ok(());
        }
        let depth = depth.checked_sub(1).ok_or(RecipeError::PreparationsTooDeep)?;
        for (input, taken) in self.inputs_of(id, amount)?.0 {
            self.take(&input, taken, needs, depth)?;
        }
        Ok(())
    }

    /// What making an amount of a prepared item takes, at its standard, one step down.
    ///
    /// # Errors
    /// As for [`Catalog::needs_of`]; nothing for an item that is not made from others.
    pub fn inputs_of(&self, id: &ItemId, amount: Base) -> Result<Needs, RecipeError> {
        let mut needs = Needs::default();
        let item = self.item(id)?;
        if let Some(made) = &item.made_from {
            let batch = item.measure(id, &made.batch)?.value();
            let batches = amount.value().checked_div(batch).ok_or(RecipeError::EmptyBatch)?;
            for input in &made.inputs {
                let one = self.line_amount(&input.item, input.stage.as_ref(), &input.quantity)?;
                needs.add(&input.item, one * batches);
            }
        }
        Ok(needs)
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;
    use crate::catalog::Kind;

    fn catalog(documents: &[(Kind, &str, Value)]) -> Catalog {
        let read = |(kind, code, body): &(Kind, &str, Value)| {
            ((*code).to_owned(), kind.read(body).unwrap())
        };
        Catalog::from_documents(documents.iter().map(read)).unwrap()
    }

    /// An item that is never counted: `batch` of it is made from one gram of another.
    fn prepared(from: &str, batch: &str) -> Value {
        let amount = |value: &str| json!({ "value": value, "unit": "g" });
        json!({ "title": "Sauce", "group": "food", "base": "mass", "rhythm": { "every": "never" },
            "shelves": [], "made_from": { "batch": amount(batch),
                "inputs": [{ "item": from, "quantity": amount("1") }] } })
    }

    /// Invented: recipes that have no end, or name what there is not.
    #[test]
    fn a_recipe_that_cannot_be_followed_says_why() {
        let combo = json!({ "title": "Menu", "sizes": [{ "code": "one", "title": "One",
            "parts": [{ "product": "menu", "size": "one", "count": 1 }] }] });
        let dip = json!({ "title": "Dip", "sizes": [{ "code": "one", "title": "One",
            "lines": [{ "item": "round", "quantity": { "value": "5", "unit": "g" } }] }] });
        let catalog = catalog(&[
            (Kind::Product, "menu", combo),
            (Kind::Product, "dip", dip),
            (Kind::Item, "round", prepared("round", "10")),
            (Kind::Item, "nothing", prepared("round", "0")),
            (Kind::Item, "lost", prepared("ghost", "10")),
        ]);
        let size = SizeId::new("one").unwrap();
        let needs = |code: &str| catalog.needs_of(&ProductId::new(code).unwrap(), &size);
        assert_eq!(needs("menu").unwrap_err().to_string(), "combos are nested too deep");
        assert_eq!(needs("dip").unwrap_err().to_string(), "preparations are nested too deep");
        let missing = "there is no \"soup/one\" under products on that date";
        assert_eq!(needs("soup").unwrap_err().to_string(), missing);
        let amount = Base::new(Decimal::TEN);
        let inputs = |code: &str| catalog.inputs_of(&ItemId::new(code).unwrap(), amount);
        assert_eq!(inputs("nothing").unwrap_err().to_string(), "an empty batch");
        assert!(matches!(inputs("lost"), Err(RecipeError::Measure(_))));
    }
}
