use rust_decimal::Decimal;

use crate::money::{Money, MoneyError, UnitPrice};
use crate::quantity::Base;

/// What paying another price than the standard came to: (paid − standard) × quantity. Kept apart
/// from what was used, which is valued at the standard. Above zero is dearer.
///
/// # Errors
/// [`MoneyError`] when too large to keep.
///
/// ```
/// use parings_core::money::{Money, UnitPrice};
/// use parings_core::quantity::Base;
/// use parings_core::usage::price_effect;
/// let per_gram = |text: &str| UnitPrice::new(text.parse().unwrap()).unwrap();
/// // 226.8 kg bought at 0.95 a kilogram, against a standard of 0.90.
/// let bought = Base::new(226_800.into());
/// let dearer = price_effect(per_gram("0.00095"), per_gram("0.00090"), bought).unwrap();
/// assert_eq!(dearer, Money::from_decimal("11.34".parse().unwrap()).unwrap());
/// ```
pub fn price_effect(
    paid: UnitPrice,
    standard: UnitPrice,
    quantity: Base,
) -> Result<Money, MoneyError> {
    Money::from_decimal((paid.value() - standard.value()) * quantity.value())
}

/// What went into a preparation of one input, in a unit that all inputs of it share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PutIn {
    /// What the recipe wants for what was made.
    pub standard: Base,
    /// The amount that went in.
    pub actual: Base,
    /// The standard price of one unit.
    pub price: UnitPrice,
}

/// What using other amounts than the recipe's came to, at standard prices. Above zero is dearer.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RecipeEffect {
    /// For other proportions than the recipe's.
    pub mix: Money,
    /// For more or less in all than what was made should have taken.
    pub yielded: Money,
}

/// Splits what a preparation used beyond its recipe into mix and yield: `mix` values each input's
/// distance from its share of all that went in, `yielded` the distance of all that went in from all
/// that should have. Together they are Σ (actual − standard) × price.
///
/// # Errors
/// [`MoneyError`] when too large to keep; a preparation whose standard is nothing has no effect.
///
/// ```
/// use parings_core::money::UnitPrice;
/// use parings_core::quantity::Base;
/// use parings_core::usage::{PutIn, recipe_effect};
/// // A dip of 4 parts yoghurt at 2.00 a kilogram to 1 part herbs at 8.00, both 100 g over.
/// let input = |standard: i64, actual: i64, price: &str| PutIn {
///     standard: Base::new(standard.into()),
///     actual: Base::new(actual.into()),
///     price: UnitPrice::new(price.parse().unwrap()).unwrap(),
/// };
/// let effect = recipe_effect(&[input(4000, 4100, "0.002"), input(1000, 1100, "0.008")]).unwrap();
/// assert_eq!(effect.mix.to_decimal(), "0.36".parse().unwrap());
/// assert_eq!(effect.yielded.to_decimal(), "0.64".parse().unwrap());
/// ```
pub fn recipe_effect(inputs: &[PutIn]) -> Result<RecipeEffect, MoneyError> {
    let sum = |amount: fn(&PutIn) -> Base| inputs.iter().map(amount).sum::<Base>().value();
    let (standard, actual) = (sum(|i| i.standard), sum(|i| i.actual));
    if standard.is_zero() {
        return Ok(RecipeEffect::default());
    }
    let (mut mix, mut yielded) = (Decimal::ZERO, Decimal::ZERO);
    for input in inputs {
        let due = actual * input.standard.value() / standard;
        mix += (input.actual.value() - due) * input.price.value();
        yielded += (due - input.standard.value()) * input.price.value();
    }
    Ok(RecipeEffect { mix: Money::from_decimal(mix)?, yielded: Money::from_decimal(yielded)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn price(of: i64) -> UnitPrice {
        UnitPrice::new(of.into()).unwrap()
    }

    fn money(text: &str) -> Money {
        Money::from_decimal(text.parse().unwrap()).unwrap()
    }

    /// Source: Horngren, Datar and Rajan, Cost Accounting, 14th edition (2012), appendix of chapter
    /// 14, tomato ketchup: 4,000 of output at 1.6 of input each (inputs, flexible-budget and yield
    /// variances read in pages; mix, efficiency and price variances recomputed).
    #[test]
    fn mix_yield_and_price_of_the_ketchup() {
        // Mix share × 10, standard price, actual quantity, actual price.
        let table = [(5, 70, 3250, 70), (3, 80, 2275, 82), (2, 90, 975, 96)];
        let inputs: Vec<PutIn> = table
            .iter()
            .map(|(share, standard_price, actual, _)| PutIn {
                standard: Base::new(Decimal::from(6400 * share / 10)),
                actual: Base::new((*actual).into()),
                price: price(*standard_price),
            })
            .collect();
        let effect = recipe_effect(&inputs).unwrap();
        assert_eq!((effect.mix, effect.yielded), (money("-3250"), money("7700")));
        for (input, expected) in inputs.iter().zip(["3500", "2400", "1800"]) {
            let due = Decimal::from(6500) * input.standard.value() / Decimal::from(6400);
            let yielded = (due - input.standard.value()) * input.price.value();
            assert_eq!(yielded, expected.parse::<Decimal>().unwrap());
        }
        let paid: Money = table
            .iter()
            .map(|(_, standard, actual, paid)| {
                price_effect(price(*paid), price(*standard), Base::new((*actual).into())).unwrap()
            })
            .sum();
        assert_eq!(paid, money("10400"));
        assert_eq!(paid + effect.mix + effect.yielded, money("14850"));
    }

    /// Source: pages with worked price and quantity variances (qammunity.org/8059627;
    /// accountingqa.blogspot.com, exercise 23-5; read in pages). An input alone has no mix.
    #[test]
    fn price_and_quantity_of_one_input() {
        let table = [
            ("185000", "6.0", "183200", "5.8", "-36640", "-10800", "-47440"),
            ("430", "6.9", "450", "6.5", "-180", "138", "-42"),
        ];
        for (standard, standard_price, actual, paid, dearer, quantity, total) in table {
            let unit = |text: &str| UnitPrice::new(text.parse().unwrap()).unwrap();
            let actual = Base::new(actual.parse().unwrap());
            let by_price = price_effect(unit(paid), unit(standard_price), actual).unwrap();
            let input = PutIn {
                standard: Base::new(standard.parse().unwrap()),
                actual,
                price: unit(standard_price),
            };
            let effect = recipe_effect(&[input]).unwrap();
            assert_eq!((by_price, effect.yielded), (money(dearer), money(quantity)));
            assert_eq!(effect.mix, Money::ZERO);
            assert_eq!(by_price + effect.yielded, money(total));
        }
    }

    /// Source: a page with recipe quantity variances of a ketchup batch
    /// (justaaa.com/accounting/78681; read in pages).
    #[test]
    fn quantities_of_a_recipe() {
        let table = [
            ("3200", "3300", "0.45", "45.0"),
            ("180", "173", "2.7", "-18.9"),
            ("15", "16", "10", "10"),
            ("72", "71", "2.5", "-2.5"),
        ];
        let inputs: Vec<PutIn> = table
            .iter()
            .map(|(standard, actual, price, _)| PutIn {
                standard: Base::new(standard.parse().unwrap()),
                actual: Base::new(actual.parse().unwrap()),
                price: UnitPrice::new(price.parse().unwrap()).unwrap(),
            })
            .collect();
        for (input, (.., expected)) in inputs.iter().zip(table) {
            let alone = recipe_effect(std::slice::from_ref(input)).unwrap();
            assert_eq!(alone.yielded, money(expected));
        }
        let effect = recipe_effect(&inputs).unwrap();
        assert_eq!(effect.mix + effect.yielded, money("33.6"));
    }

    #[test]
    fn nothing_made_has_no_effect() {
        assert_eq!(recipe_effect(&[]).unwrap(), RecipeEffect::default());
    }
}
