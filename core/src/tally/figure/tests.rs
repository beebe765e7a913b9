use std::collections::BTreeSet;

use super::*;
use crate::calendar::BusinessDate;
use crate::money::Money;
use crate::tally::Counted;
use crate::usage::{Estimate, Samples};

fn grams(grams: i64) -> Tallied {
    Tallied::from_thousandths(grams)
}

/// Every number another one, and none is zero.
fn span() -> ItemSpan {
    let counted = |closing| Counted { closing: grams(closing), sd: grams(1) };
    ItemSpan {
        opened_on: BusinessDate::new(2026, 3, 2).expect("a date"),
        nights: 1,
        opening: counted(1_009),
        received: grams(503),
        transferred_in: grams(251),
        transferred_out: grams(127),
        made: grams(61),
        closing: counted(307),
        // 1,009 + 503 + 251 + 61 − 127 − 13 − 307.
        used: grams(1_377),
        used_cost: None,
        made_into: grams(101),
        made_into_cost: Money::ZERO,
        expected: Some(grams(1_103)),
        expected_cost: None,
        variance_cost: None,
        wasted: grams(31),
        wasted_cost: Money::ZERO,
        wasted_safety: grams(13),
        wasted_safety_cost: Money::ZERO,
        yield_loss: grams(7),
        yield_loss_cost: Money::ZERO,
        samples: Samples::default(),
        sales: None,
        owner_changed: false,
        doubts: BTreeSet::new(),
    }
}

fn day() -> ItemDay {
    ItemDay {
        received: grams(1),
        transferred_in: grams(2),
        transferred_out: grams(3),
        made: grams(4),
        made_into: grams(5),
        expected: grams(6),
        wasted: grams(60),
        wasted_safety: grams(7),
        yield_loss: grams(8),
        count: Some(Counted { closing: grams(307), sd: grams(1) }),
        ..ItemDay::default()
    }
}

fn causes() -> Causes {
    let estimate = |amount| Estimate { amount: grams(amount), sd: None };
    Causes {
        variance: estimate(173),
        waste: grams(31),
        yield_loss: grams(7),
        over_portioning: Some(estimate(23)),
        // 173 − 31 − 7 − 23.
        unexplained: estimate(112),
    }
}

/// By hand: each figure with its value where a span ends, and where only its date is known.
#[test]
fn every_figure_has_its_value_word_and_reach() {
    use Figure as F;
    let table = [
        (F::Opening, "opening", Some(1_009), None, Reach::Before),
        (F::Received, "received", Some(503), Some(1), Reach::Span),
        (F::TransferredIn, "transferred_in", Some(251), Some(2), Reach::Span),
        (F::TransferredOut, "transferred_out", Some(127), Some(3), Reach::Span),
        (F::Made, "made", Some(61), Some(4), Reach::Span),
        (F::Closing, "closing", Some(307), Some(307), Reach::Date),
        (F::Used, "used", Some(1_377), None, Reach::Span),
        (F::MadeInto, "made_into", Some(101), Some(5), Reach::Span),
        (F::Expected, "expected", Some(1_103), None, Reach::Span),
        (F::Variance, "variance", Some(173), None, Reach::Span),
        (F::Safety, "safety", Some(13), Some(7), Reach::Span),
        (F::Waste, "waste", Some(31), Some(53), Reach::Span),
        (F::YieldLoss, "yield_loss", Some(7), Some(8), Reach::Span),
        (F::OverPortioning, "over_portioning", Some(23), None, Reach::Samples),
        (F::Unexplained, "unexplained", Some(112), None, Reach::Span),
        (F::Wasted, "wasted", Some(53), Some(53), Reach::Date),
        (F::WastedForSafety, "wasted_for_safety", Some(7), Some(7), Reach::Date),
        (F::Sales, "sales", None, None, Reach::Date),
        (F::Tickets, "tickets", None, None, Reach::Date),
    ];
    assert_eq!(table.map(|(figure, ..)| figure), F::ALL);
    for (figure, word, ended, alone, reach) in table {
        assert_eq!(
            (figure.word(), F::from_word(word), figure.reach()),
            (word, Some(figure), reach)
        );
        let value = figure.value(&day(), Some(&span()), Some(&causes()));
        assert_eq!(value, ended.map(grams), "{word} of a span");
        assert_eq!(figure.value(&day(), None, None), alone.map(grams), "{word} of a date");
        assert_eq!(figure.is_of_item(), !["sales", "tickets"].contains(&word));
    }
    assert_eq!(F::from_word("profit"), None);
    assert_eq!(span().due(), Some(grams(1_103 + 101)));
}

/// What a figure is worked out from comes to it, in one step and in all of them.
#[test]
fn terms_add_up_to_their_figure() {
    let (day, span, causes) = (day(), span(), causes());
    let value = |figure: Figure| figure.value(&day, Some(&span), Some(&causes)).expect("known");
    let sum = |terms: &[(Sign, Figure)]| -> Tallied {
        terms.iter().map(|(sign, term)| sign.of(value(*term))).sum()
    };
    for (figure, terms, leaves) in
        [(Figure::Used, 7, 7), (Figure::Variance, 3, 9), (Figure::Unexplained, 4, 12)]
    {
        assert_eq!((figure.terms().len(), figure.leaves().len()), (terms, leaves));
        assert_eq!(sum(figure.terms()), value(figure), "{}", figure.word());
        assert_eq!(sum(&figure.leaves()), value(figure), "{}", figure.word());
    }
    assert_eq!(Figure::Waste.leaves(), [(Sign::Plus, Figure::Waste)]);
}
