use std::collections::BTreeSet;

use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

use super::ItemDay;
use crate::catalog::{Limits, Spreads};
use crate::quantity::Tallied;
use crate::usage::Movement;

/// Why an item's use between two counts is kept out of what compares stores. It is worked out from
/// the facts each time, so a delivery entered late heals it without anybody's doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// More stood there in the end than could: a delivery or transfer is missing.
    NegativeUse,
    /// More was thrown away than was there.
    WasteAboveHandled,
    /// More came out of a stage of a batch than can.
    ImpossibleYield,
    /// Most of its nights were short.
    ShortDays,
}

impl Doubt {
    /// Every doubt, in the order of the bits by which they are packed.
    pub const ALL: &[Self] =
        &[Self::NegativeUse, Self::WasteAboveHandled, Self::ImpossibleYield, Self::ShortDays];

    /// Its word in the API.
    pub fn word(self) -> &'static str {
        match self {
            Self::NegativeUse => "negative_use",
            Self::WasteAboveHandled => "waste_above_handled",
            Self::ImpossibleYield => "impossible_yield",
            Self::ShortDays => "short_days",
        }
    }
}

/// Whether an amount is below zero by more than count errors explain: `errors` are the standard
/// deviations of the counts in it, and `spreads` how many of theirs are allowed.
fn is_below_zero(amount: Tallied, errors: &[Tallied], spreads: Spreads) -> bool {
    let number = |amount: Tallied| amount.base().value().to_f64().unwrap_or_default();
    let off = errors.iter().fold(0.0_f64, |off, sd| off.hypot(number(*sd)));
    -number(amount) > spreads.value() * off
}

/// What is doubtful about a span: `moved` through it, with `wasted` of it thrown away, safety
/// included; `errors` of its opening and closing count; `short` nights among the open ones.
pub(super) fn doubts<'a>(
    moved: &Movement,
    wasted: Tallied,
    errors: [Tallied; 2],
    days: impl IntoIterator<Item = &'a ItemDay>,
    [short, open]: [u64; 2],
    limits: &Limits,
) -> BTreeSet<Doubt> {
    let handled = moved.opening + moved.received + moved.transferred_in + moved.made;
    let found = [
        (Doubt::NegativeUse, is_below_zero(moved.used(), &errors, limits.use_spreads)),
        (
            Doubt::WasteAboveHandled,
            is_below_zero(handled - wasted, &errors[..1], limits.use_spreads),
        ),
        (Doubt::ImpossibleYield, days.into_iter().any(|day| day.over_cap)),
        (Doubt::ShortDays, 2 * short > open),
    ];
    found.into_iter().filter_map(|(doubt, is)| is.then_some(doubt)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kg(grams: i64) -> Tallied {
        Tallied::from_thousandths(grams * 1_000)
    }

    fn found(moved: Movement, wasted: Tallied) -> Vec<&'static str> {
        let errors = [kg(2_000), kg(2_000)];
        let limits = Limits::default();
        doubts(&moved, wasted, errors, &[], [0, 1], &limits).into_iter().map(Doubt::word).collect()
    }

    /// Counts known to 2 kg each: their difference is known to 2.83 kg, three times that is 8.49.
    /// The factor is common practice, no source.
    #[test]
    fn use_below_zero_is_doubted_beyond_what_count_errors_explain() {
        let closing = |closing| Movement { opening: kg(40_000), closing, ..Movement::default() };
        assert!(found(closing(kg(48_400)), kg(0)).is_empty());
        assert_eq!(found(closing(kg(48_500)), kg(0)), ["negative_use"]);
    }

    /// 40 kg opened (known to 2 kg), 10 and 5 came and 3 were made: more than 64 kg cannot have been
    /// thrown away.
    #[test]
    fn waste_is_doubted_beyond_what_was_there() {
        let moved = Movement {
            opening: kg(40_000),
            received: kg(10_000),
            transferred_in: kg(5_000),
            made: kg(3_000),
            ..Movement::default()
        };
        assert!(found(moved, kg(64_000)).is_empty());
        assert_eq!(found(moved, kg(64_100)), ["waste_above_handled"]);
    }

    #[test]
    fn one_impossible_batch_and_mostly_short_nights_are_doubted() {
        let over = ItemDay { over_cap: true, ..ItemDay::default() };
        let all = |days: &[ItemDay], nights| {
            doubts(&Movement::default(), kg(0), [kg(0); 2], days, nights, &Limits::default())
        };
        assert_eq!(all(&[ItemDay::default(), over], [0, 2]), [Doubt::ImpossibleYield].into());
        assert!(all(&[], [1, 2]).is_empty());
        assert_eq!(all(&[], [2, 3]), [Doubt::ShortDays].into());
    }

    #[test]
    fn the_word_is_the_one_on_the_wire() {
        for doubt in Doubt::ALL {
            assert_eq!(serde_json::to_value(doubt).unwrap(), doubt.word());
        }
    }
}
