use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::catalog::{Item, MeasureError};
use crate::ids::{ItemId, StageId};
use crate::pars::{BatchSize, ParSet};
use crate::quantity::Base;

/// What one batch comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// Its size, in the base unit at the stage of the par; above zero.
    pub size: Base,
    /// Whether half a batch may be made.
    pub halves: bool,
}

/// A number of batches, in halves.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Batches {
    halves: u32,
}

impl Batches {
    /// More than any kitchen makes for a daypart.
    pub const MOST: u32 = 1_000_000;

    /// So many whole batches.
    pub fn whole(count: u32) -> Self {
        Self { halves: count.saturating_mul(2) }
    }

    /// The number of batches; half a batch is 0.5.
    pub fn decimal(self) -> Decimal {
        Decimal::new(i64::from(self.halves) * 5, 1).normalize()
    }

    fn less(self, halves: u32) -> Option<Self> {
        self.halves.checked_sub(halves).map(|halves| Self { halves })
    }

    fn of(self, batch: Base) -> Base {
        batch * self.decimal()
    }
}

impl fmt::Display for Batches {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.decimal().fmt(f)
    }
}

/// What would be made, and where that lands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offer {
    /// How many batches would be made.
    pub batches: Batches,
    /// What they come to.
    pub makes: Base,
    /// What is usable then.
    pub lands_at: Base,
    /// How far that is over the par, from 0.
    pub overshoot: Base,
    /// How far it is short of the par, from 0.
    pub shortfall: Base,
}

impl Offer {
    fn new(batches: Batches, batch: Base, par: Base, usable: Base) -> Self {
        let makes = batches.of(batch);
        let lands_at = usable + makes;
        let overshoot = (lands_at - par).max(Base::ZERO);
        let shortfall = (par - lands_at).max(Base::ZERO);
        Self { batches, makes, lands_at, overshoot, shortfall }
    }
}

/// What is missing to a par, and what is to be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Need {
    /// What is missing, from 0.
    pub missing: Base,
    /// The fewest whole batches that reach the par; nothing where nobody said what a batch is.
    pub whole: Option<Offer>,
    /// One batch fewer, which is short of the par; nothing where none is needed.
    pub one_fewer: Option<Offer>,
    /// Half a batch fewer than the whole ones, where halves may be made and it reaches the par too.
    pub half_fewer: Option<Offer>,
}

/// Why a need cannot be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PrepError {
    /// A batch of nothing.
    #[error("an empty batch")]
    EmptyBatch,
    /// More batches than anybody makes.
    #[error("more than {} batches", Batches::MOST)]
    TooMany,
}

/// What is to be made of an item: `ceil(max(0, par − usable) ÷ batch) × batch`, with what that comes
/// to, and one batch fewer with its shortfall. All amounts are in the item's base unit at one stage.
///
/// # Errors
/// [`PrepError`].
///
/// ```
/// use parings_core::prep::{Batch, need};
/// use parings_core::quantity::Base;
/// // Invented worked example, in grams: par 72 kg, 23 kg on hand of which 4 kg expire before.
/// let (par, usable) = (Base::new(72_000.into()), Base::new(19_000.into()));
/// let batch = Batch { size: Base::new(15_290.into()), halves: true };
/// let found = need(par, usable, Some(batch)).unwrap();
/// assert_eq!(found.missing, Base::new(53_000.into()));
/// let whole = found.whole.unwrap();
/// assert_eq!(whole.batches.to_string(), "4");
/// assert_eq!(whole.overshoot, Base::new(8_160.into()));
/// assert_eq!(found.half_fewer.unwrap().batches.to_string(), "3.5");
/// ```
pub fn need(par: Base, usable: Base, batch: Option<Batch>) -> Result<Need, PrepError> {
    let missing = (par - usable).max(Base::ZERO);
    let Some(Batch { size, halves }) = batch else {
        return Ok(Need { missing, whole: None, one_fewer: None, half_fewer: None });
    };
    let count = fewest(missing, size)?;
    let offer = |batches| Offer::new(batches, size, par, usable);
    let whole = Batches::whole(count);
    let half_fewer = whole.less(1).filter(|_| halves).map(offer);
    Ok(Need {
        missing,
        whole: Some(offer(whole)),
        one_fewer: whole.less(2).map(offer),
        half_fewer: half_fewer.filter(|offer| offer.shortfall.is_zero()),
    })
}

/// The fewest whole batches that make up for what is missing. A quotient may be rounded at its last
/// digit, so the answer is settled by multiplying.
fn fewest(missing: Base, size: Base) -> Result<u32, PrepError> {
    if size <= Base::ZERO {
        return Err(PrepError::EmptyBatch);
    }
    let about = missing.value().checked_div(size.value()).ok_or(PrepError::TooMany)?;
    let about = about.ceil().to_u32().filter(|n| *n < Batches::MOST).ok_or(PrepError::TooMany)?;
    let reaches = |count: u32| size * Decimal::from(count) >= missing;
    let less = about.checked_sub(1).filter(|less| reaches(*less));
    Ok(less.unwrap_or(if reaches(about) { about } else { about + 1 }))
}

/// What one batch of an item comes to at a stage: as a set says, else as its recipe says; nothing
/// where neither does.
///
/// # Errors
/// [`MeasureError`] when the item has no such stage or unit.
pub fn batch_of(
    set: &ParSet,
    id: &ItemId,
    item: &Item,
    stage: Option<&StageId>,
) -> Result<Option<Batch>, MeasureError> {
    let recipe = || {
        item.made_from.as_ref().map(|made| BatchSize {
            item: id.clone(),
            quantity: made.batch.clone(),
            stage: None,
            halves: false,
        })
    };
    let said = set.batches.iter().find(|batch| batch.item == *id).cloned().or_else(recipe);
    let size =
        |said: BatchSize| Ok(Batch { size: said.at_stage(item, stage)?, halves: said.halves });
    said.map(size).transpose()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn kg(text: &str) -> Base {
        Base::new(text.parse::<Decimal>().unwrap() * Decimal::ONE_THOUSAND)
    }

    /// Invented worked example: par 72 kg, on hand 23 of which 4 expire, batches of 15.29 kg.
    #[test]
    fn the_worked_example() {
        let batch = Batch { size: kg("15.29"), halves: false };
        let found = need(kg("72"), kg("23") - kg("4"), Some(batch)).unwrap();
        assert_eq!(found.missing, kg("53"));
        let whole = found.whole.unwrap();
        assert_eq!(whole.batches, Batches::whole(4));
        // 4 × 15.29 = 61.16, told as 61.2; 19 + 61.16 = 80.16, told as 80.2; 8.16 over.
        assert_eq!((whole.makes, whole.lands_at), (kg("61.16"), kg("80.16")));
        assert_eq!((whole.overshoot, whole.shortfall), (kg("8.16"), Base::ZERO));
        // 19 + 3 × 15.29 = 64.87: 7.13 short.
        let fewer = found.one_fewer.unwrap();
        assert_eq!((fewer.batches, fewer.shortfall), (Batches::whole(3), kg("7.13")));
        assert_eq!(found.half_fewer, None);
    }

    #[test]
    fn half_a_batch_fewer_is_offered_where_it_reaches_the_par() {
        let batch = Batch { size: kg("15.29"), halves: true };
        // 3.5 × 15.29 = 53.515 of 53 missing; of 54 it would be short.
        let offered = |par| need(kg(par), kg("19"), Some(batch)).unwrap().half_fewer;
        assert_eq!(offered("72").unwrap().overshoot, kg("0.515"));
        assert_eq!(offered("73"), None);
    }

    #[test]
    fn without_a_batch_the_need_is_told_all_the_same() {
        let found = need(kg("5"), kg("1.5"), None).unwrap();
        assert_eq!((found.missing, found.whole), (kg("3.5"), None));
        let empty = Batch { size: Base::ZERO, halves: false };
        assert_eq!(need(kg("5"), kg("1.5"), Some(empty)), Err(PrepError::EmptyBatch));
        let crumb = Batch { size: kg("0.000001"), halves: false };
        assert_eq!(need(kg("5"), kg("1.5"), Some(crumb)), Err(PrepError::TooMany));
    }

    /// A third of a batch three times over is a batch, whatever its last digit.
    #[test]
    fn a_quotient_that_does_not_end_makes_no_batch_more() {
        let third = Base::new(Decimal::ONE / Decimal::from(3));
        let batch = Batch { size: third, halves: false };
        for count in 1..100u32 {
            let found = need(third * Decimal::from(count), Base::ZERO, Some(batch)).unwrap();
            assert_eq!(found.whole.unwrap().batches, Batches::whole(count));
        }
    }

    fn grams(most: i64) -> impl Strategy<Value = Base> {
        (0..most).prop_map(|n| Base::new(Decimal::new(n, 3)))
    }

    proptest! {
        #[test]
        fn never_under_par_and_one_fewer_is_under_par(
            par in grams(200_000_000),
            usable in grams(200_000_000),
            size in (1_000i64..40_000_000).prop_map(|n| Base::new(Decimal::new(n, 3))),
            halves in any::<bool>(),
        ) {
            let found = need(par, usable, Some(Batch { size, halves })).unwrap();
            let whole = found.whole.unwrap();
            prop_assert!(whole.lands_at >= par);
            prop_assert!(whole.shortfall.is_zero());
            prop_assert_eq!(whole.overshoot, whole.lands_at - par);
            prop_assert_eq!(found.missing.is_zero(), whole.batches == Batches::default());
            match found.one_fewer {
                None => prop_assert!(found.missing.is_zero()),
                Some(fewer) => {
                    prop_assert!(fewer.lands_at < par);
                    prop_assert_eq!(fewer.lands_at + fewer.shortfall, par);
                    prop_assert_eq!(whole.lands_at - fewer.lands_at, size);
                    // An overshoot is less than a batch.
                    prop_assert!(whole.overshoot < size);
                }
            }
            if let Some(half) = found.half_fewer {
                prop_assert!(halves && half.lands_at >= par);
            }
        }
    }
}
