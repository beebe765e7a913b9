use proptest::prelude::*;

use super::*;

fn sum(nights: &[(i64, i64)]) -> RatioSum {
    let night = |(numerator, denominator): &(i64, i64)| RatioSum::of(*numerator, *denominator);
    nights.iter().map(night).fold(RatioSum::default(), |sum, night| sum.merge(&night))
}

/// By hand. Five nights, each twice, come to 30 over 60, the ratio is 0.5 and the residuals are 0,
/// 0.5, 0.5, −0.5, −0.5, twice, their squares 2. So the variance is 2 × 10/9 / 60², its root
/// 0.0248452; Student's t for 9 degrees is 2.2622 (printed tables), the half width 0.056204.
#[test]
fn ten_nights_by_hand() {
    let nights = [(1, 2), (2, 3), (3, 5), (4, 9), (5, 11)];
    let all = sum(&nights).merge(&sum(&nights));
    assert_eq!((all.nights, all.numerator, all.denominator), (10, 30, 60));
    assert_eq!((all.numerator_squares, all.denominator_squares, all.products), (110, 480, 228));
    let range = all.interval(Confidence::NINETY_FIVE).unwrap();
    assert!((range.low - 0.443_796).abs() < 1e-5, "{range:?}");
    assert!((range.high - 0.556_204).abs() < 1e-5, "{range:?}");
}

#[test]
fn there_is_no_interval_from_too_little() {
    assert_eq!(RatioSum::default().value(), None);
    assert_eq!(sum(&[(1, 2); 6]).interval(Confidence::NINETY_FIVE), None);
    assert_eq!(sum(&[(1, 0); 10]).interval(Confidence::NINETY_FIVE), None);
    assert_eq!(sum(&[(1, -2); 10]).interval(Confidence::NINETY_FIVE), None);
    // Nights that are all alike leave no doubt.
    let alike = sum(&[(1, 2); 10]).interval(Confidence::NINETY_FIVE).unwrap();
    assert_eq!((alike.low, alike.high), (0.5, 0.5));
    // The largest amounts there are end in no panic.
    let most = sum(&[(i64::MIN, i64::MAX); 9]);
    assert!(most.numerator_squares > 0 && most.value().is_some());
}

#[test]
fn money_and_amounts_are_taken_in_their_own_units() {
    let money = RatioSum::of_money(Money::from_ten_thousandths(3), Money::from_ten_thousandths(4));
    let amounts = RatioSum::of_amounts(Tallied::from_thousandths(3), Tallied::from_thousandths(4));
    assert_eq!((money, amounts), (RatioSum::of(3, 4), RatioSum::of(3, 4)));
}

/// SplitMix64, so that every run draws the same nights.
struct Draws(u64);

impl Draws {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// An amount with mean 1: the mean of so many that are exponentially distributed.
    fn discards(&mut self, many: u32) -> f64 {
        (0..many).map(|_| -(1.0 - self.share()).ln()).sum::<f64>() / f64::from(many)
    }
}

/// Of 2,000 simulated stores whose true ratio is known, how many intervals of 95 % hold it. Sales
/// are 2,000 to 6,000 a night, waste 8 in 1,000 of them on average, half of it steady and half made
/// of so many discards.
fn held(draws: &mut Draws, nights: u32, discards: u32) -> u32 {
    let mut held = 0;
    for _ in 0..2_000 {
        let mut store = RatioSum::default();
        for _ in 0..nights {
            let sales = 2_000.0 + 4_000.0 * draws.share();
            let waste = 0.008 * sales * (0.5 + 0.5 * draws.discards(discards));
            let night = RatioSum::of((waste * 1e4) as i64, (sales * 1e4) as i64);
            store = store.merge(&night);
        }
        let range = store.interval(Confidence::NINETY_FIVE).unwrap();
        held += u32::from(range.contains(0.008));
    }
    held
}

#[test]
fn intervals_hold_the_truth_nearly_as_often_as_they_say() {
    let mut draws = Draws(20_260_301);
    // Of 95 %, at least 92 and at most 97: an interval that always holds says nothing.
    for nights in [7, 14, 28] {
        let held = held(&mut draws, nights, 4);
        assert!((1_840..=1_940).contains(&held), "{held} of 2000 with {nights} nights");
    }
    // A single skewed discard a night is the hard case: it takes four weeks.
    for (nights, least) in [(7, 1_740), (14, 1_780), (28, 1_820)] {
        let held = held(&mut draws, nights, 1);
        assert!((least..=1_940).contains(&held), "{held} of 2000 with {nights} nights");
    }
}

fn nights() -> impl Strategy<Value = Vec<(i64, i64)>> {
    proptest::collection::vec((-1_000_000..5_000_000i64, 1..100_000_000i64), 10..40)
}

proptest! {
    #[test]
    fn nights_merge_in_any_order_and_grouping(
        a in nights(), b in nights(), c in nights(),
    ) {
        let (sa, sb, sc) = (sum(&a), sum(&b), sum(&c));
        prop_assert_eq!(sa.merge(&sb), sb.merge(&sa));
        prop_assert_eq!(sa.merge(&sb).merge(&sc), sa.merge(&sb.merge(&sc)));
        prop_assert_eq!(sa.merge(&RatioSum::default()), sa);
        prop_assert_eq!(sa.merge(&sb), sum(&[a, b].concat()));
    }

    /// Differential: the variance of a ratio as Cochran writes it (equation 6.13, from memory), from
    /// the sample variances and covariance of the nights instead of sums of squares.
    #[test]
    fn the_interval_is_that_of_the_textbook(all in nights()) {
        let n = all.len() as f64;
        let mean = |pick: fn(&(i64, i64)) -> i64| {
            all.iter().map(|night| pick(night) as f64).sum::<f64>() / n
        };
        let (y, x) = (mean(|night| night.0), mean(|night| night.1));
        let (mut yy, mut xx, mut yx) = (0.0, 0.0, 0.0);
        for night in &all {
            let (dy, dx) = (night.0 as f64 - y, night.1 as f64 - x);
            yy += dy * dy / (n - 1.0);
            xx += dx * dx / (n - 1.0);
            yx += dy * dx / (n - 1.0);
        }
        let ratio = y / x;
        let variance = (yy + ratio * ratio * xx - 2.0 * ratio * yx) / (n * x * x);
        let half = Confidence::NINETY_FIVE.t(all.len() as u64 - 1) * variance.sqrt();
        let range = sum(&all).interval(Confidence::NINETY_FIVE).unwrap();
        let tolerance = 1e-6 * (half + ratio.abs());
        prop_assert!((range.low - (ratio - half)).abs() < tolerance, "{range:?}");
        prop_assert!((range.high - (ratio + half)).abs() < tolerance, "{range:?}");
    }
}
