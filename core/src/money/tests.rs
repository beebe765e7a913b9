use super::*;
use proptest::prelude::*;

fn d(text: &str) -> Decimal {
    text.parse().expect(text)
}

fn money(text: &str) -> Money {
    Money::from_decimal(d(text)).expect(text)
}

#[test]
fn a_half_goes_to_the_even_neighbour() {
    // Half-even as in IEEE 754 roundTiesToEven, worked by hand.
    for (value, ten_thousandths) in [
        ("0.00005", 0),
        ("0.00015", 2),
        ("0.00025", 2),
        ("-0.00015", -2),
        ("0.000051", 1),
        ("922337203685477.5807", i64::MAX),
    ] {
        assert_eq!(money(value).ten_thousandths(), ten_thousandths, "{value}");
    }
    for value in ["922337203685477.5808", "79228162514264337593543950335"] {
        assert!(matches!(Money::from_decimal(d(value)), Err(MoneyError::TooLarge { .. })));
    }
}

#[test]
fn money_is_shown_in_the_minor_unit_of_its_currency() {
    for (value, code, shown) in [
        ("12.405", "EUR", "12.40"),
        ("12.415", "EUR", "12.42"),
        ("12", "EUR", "12.00"),
        ("-0.004", "EUR", "0.00"),
        ("1240.5", "JPY", "1240"),
        ("1241.5", "JPY", "1242"),
        ("1.2345", "KWD", "1.234"),
        ("1.2345", "CLF", "1.2345"),
    ] {
        let currency = Currency::new(code).unwrap();
        assert_eq!(money(value).shown(&currency).to_string(), shown, "{value} {code}");
    }
}

#[test]
fn typed_money_is_not_rounded_behind_the_back_of_who_typed_it() {
    assert_eq!(serde_json::from_str::<Money>("12.40").unwrap(), money("12.4"));
    assert_eq!(serde_json::from_str::<Money>("\"12.40000\"").unwrap(), money("12.4"));
    assert_eq!(serde_json::to_string(&money("12.40")).unwrap(), "\"12.4\"");
    let error = serde_json::from_str::<Money>("\"0.00005\"").unwrap_err().to_string();
    assert!(error.contains("4 at most"), "{error}");
}

#[test]
fn a_price_is_for_something_and_not_below_zero() {
    let per = |price: &str, base: &str| UnitPrice::per(money(price), Base::new(d(base)));
    // 12.40 for a pound; the quotient recomputed with Python's decimal module at 40 digits.
    let pound = per("12.40", "453.59237").unwrap();
    assert_eq!(pound.value().round_dp(20), d("0.02733732051092482001"));
    assert!(matches!(per("1", "0"), Err(MoneyError::NoQuantity { .. })));
    assert!(matches!(per("1", "-1"), Err(MoneyError::NoQuantity { .. })));
    assert!(matches!(per("-1", "1"), Err(MoneyError::NegativePrice { .. })));
    assert!(serde_json::from_str::<UnitPrice>("\"-0.01\"").is_err());
    let price: UnitPrice = serde_json::from_str("\"0.0008986784\"").unwrap();
    assert_eq!(serde_json::to_string(&price).unwrap(), "\"0.0008986784\"");
}

#[test]
fn a_cost_is_rounded_once() {
    // Rounding the price of a gram to four places first would make the last one 0.
    for (price, base, cost) in [
        ("0.0009", "21600", "19.44"),
        ("0.00089907", "21600", "19.4199"),
        ("0.00001", "100000", "1"),
        ("0.5", "-3", "-1.5"),
    ] {
        let price = UnitPrice::new(d(price)).unwrap();
        assert_eq!(price.of(Base::new(d(base))), money(cost), "{base}");
    }
    let dear = UnitPrice::new(d("1000000000000")).unwrap();
    let much = Base::new(d("1000000000000"));
    assert!(matches!(dear.try_of(much), Err(MoneyError::TooLarge { .. })));
}

#[test]
#[should_panic(expected = "fits 64 bits")]
fn money_never_wraps_round() {
    let _ = Money::from_ten_thousandths(i64::MIN) - Money::from_ten_thousandths(1);
}

#[test]
fn money_is_taken_away_in_place_and_nothing_is_nothing() {
    let mut left = money("12.40");
    left -= money("2.15");
    assert_eq!(left, money("10.25"));
    left -= money("10.25");
    assert!(left.is_zero() && Money::ZERO.is_zero());
    assert!(!money("0.0001").is_zero() && !money("-0.0001").is_zero());
}

proptest! {
    #[test]
    fn money_adds_up_in_any_order(
        (parts, shuffled) in prop::collection::vec(-1_000_000_000_000_i64..=1_000_000_000_000, 0..40)
            .prop_flat_map(|p| (Just(p.clone()), Just(p).prop_shuffle())),
    ) {
        let whole: i64 = parts.iter().sum();
        let sum: Money = shuffled.into_iter().map(Money::from_ten_thousandths).sum();
        prop_assert_eq!(sum.ten_thousandths(), whole);
        prop_assert_eq!(sum + -sum, Money::ZERO);
    }

    #[test]
    fn money_goes_to_decimal_and_json_and_back(ten_thousandths in any::<i64>()) {
        let money = Money::from_ten_thousandths(ten_thousandths);
        prop_assert_eq!(Money::from_decimal(money.to_decimal()), Ok(money));
        let json = serde_json::to_string(&money).unwrap();
        prop_assert_eq!(serde_json::from_str::<Money>(&json).unwrap(), money);
    }

    #[test]
    fn a_whole_pack_costs_its_price(
        cents in 1_i64..=100_000_000, grams in 1_i64..=1_000_000_000,
    ) {
        let price = Money::from_ten_thousandths(cents * 100);
        let pack = Base::new(grams.into());
        prop_assert_eq!(UnitPrice::per(price, pack).unwrap().of(pack), price);
    }
}
