use super::*;
use proptest::prelude::*;

fn base(text: &str) -> Base {
    Base::new(text.parse().expect(text))
}

#[test]
fn a_half_goes_to_the_even_thousandth() {
    // Half-even as in IEEE 754 roundTiesToEven, worked by hand.
    for (value, thousandths) in [
        ("0.0005", 0),
        ("0.00050000001", 1),
        ("0.0015", 2),
        ("0.0025", 2),
        ("0.0035", 4),
        ("-0.0005", 0),
        ("-0.0015", -2),
        ("-0.0025", -2),
        ("1.2344999", 1234),
        ("1000000000000", 1_000_000_000_000_000),
    ] {
        assert_eq!(base(value).settle().unwrap().thousandths(), thousandths, "{value}");
    }
    for value in ["1000000000000.001", "-1000000000001", "79228162514264337593543950335"] {
        let refused = base(value).settle();
        assert!(matches!(refused, Err(QuantityError::TooLarge { .. })), "{value}");
    }
}

#[test]
fn a_tally_is_a_decimal_string_of_whole_thousandths() {
    let tallied = Tallied::from_thousandths(-8_391_500);
    assert_eq!(serde_json::to_string(&tallied).unwrap(), "\"-8391.5\"");
    assert_eq!(serde_json::from_str::<Tallied>("\"-8391.5\"").unwrap(), tallied);
    assert!(serde_json::from_str::<Tallied>("\"0.0001\"").is_err());
    assert!(serde_json::from_str::<Tallied>("\"10000000000000000\"").is_err());
}

#[test]
#[should_panic(expected = "fits 64 bits")]
fn a_tally_never_wraps_round() {
    let _ = Tallied::from_thousandths(i64::MAX) + Tallied::from_thousandths(1);
}

#[test]
fn only_nothing_is_nothing() {
    assert!(Tallied::ZERO.is_zero() && Base::ZERO.is_zero());
    for thousandths in [1, -1] {
        assert!(!Tallied::from_thousandths(thousandths).is_zero());
        assert!(!Tallied::from_thousandths(thousandths).base().is_zero());
    }
}

prop_compose! {
    fn nights()(parts in prop::collection::vec(-1_000_000_000_000_000_i64..=1_000_000_000_000_000, 0..40))
        -> Vec<Tallied> {
        parts.into_iter().map(Tallied::from_thousandths).collect()
    }
}

proptest! {
    #[test]
    fn merging_tallies_in_any_order_and_grouping_gives_the_same_digits(
        (nights, shuffled) in nights().prop_flat_map(|n| (Just(n.clone()), Just(n).prop_shuffle())),
        group in 1_usize..10,
    ) {
        // Against plain 128-bit integers, which cannot overflow here.
        let whole: i128 = nights.iter().map(|t| i128::from(t.thousandths())).sum();
        let straight: Tallied = nights.iter().copied().sum();
        let grouped: Tallied =
            shuffled.chunks(group).map(|part| part.iter().copied().sum::<Tallied>()).sum();
        let backwards: Tallied = shuffled.into_iter().rev().sum();
        prop_assert_eq!(i128::from(straight.thousandths()), whole);
        prop_assert_eq!(grouped, straight);
        prop_assert_eq!(backwards, straight);
        prop_assert_eq!(straight + Tallied::default(), straight);
        prop_assert_eq!(straight + -straight, Tallied::ZERO);
    }

    #[test]
    fn settling_moves_by_half_a_thousandth_at_most_and_only_once(
        millionths in -1_000_000_000_000_000_i64..=1_000_000_000_000_000,
    ) {
        let exact = Base::new(Decimal::new(millionths, 6));
        let settled = exact.settle().unwrap();
        prop_assert!((exact - settled.base()).value().abs() <= Decimal::new(5, 4));
        prop_assert_eq!(settled.base().settle().unwrap(), settled);
        prop_assert_eq!((-exact).settle().unwrap(), -settled);
        let json = serde_json::to_string(&settled).unwrap();
        prop_assert_eq!(serde_json::from_str::<Tallied>(&json).unwrap(), settled);
    }
}
