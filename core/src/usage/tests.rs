//! Invented nights, worked out by hand.

use rust_decimal::Decimal;

use super::*;
use crate::quantity::Base;

fn grams(grams: i64) -> Tallied {
    Tallied::from_thousandths(grams * 1_000)
}

fn d(text: &str) -> Decimal {
    text.parse().expect(text)
}

/// Portions by weight, of a recipe of 200 g.
fn weighed(weights: &[i64]) -> Samples {
    let mut samples = Samples::default();
    for weight in weights {
        samples.add(Base::new((*weight).into()), Base::new(200.into()));
    }
    samples
}

/// What came is added and what went is taken away, each by its own weight, so that no two can be
/// taken for each other.
#[test]
fn every_movement_has_its_sign() {
    let movement = Movement {
        opening: grams(1_000_000),
        received: grams(200_000),
        transferred_in: grams(30_000),
        transferred_out: grams(4_000),
        made: grams(500),
        discarded: grams(60),
        closing: grams(7),
    };
    assert_eq!(movement.used(), grams(1_000_000 + 200_000 + 30_000 + 500 - 4_000 - 60 - 7));
}

/// 206 and 198 g of 200 g are 1.03 and 0.99.
#[test]
fn samples_are_kept_by_their_parts() {
    let samples = weighed(&[206, 198]);
    let squares = 1_030_000_i128.pow(2) + 990_000_i128.pow(2);
    assert_eq!((samples.count(), samples.sum(), samples.squares()), (2, 2_020_000, squares));
    assert_eq!(Samples::from_parts(2, 2_020_000, squares), samples);
    assert_eq!(samples.mean(), Some(d("1.01")));
    assert_eq!(weighed(&[206]).merge(weighed(&[198])), samples);
    assert_eq!(Samples::default().mean(), None);
}

/// Of 0.99 and 1.03 the standard deviation is 0.04 ÷ √2 and that of the mean 0.02. One sample says
/// nothing of it, two alike say it is nothing.
#[test]
fn how_far_a_mean_may_be_off() {
    let error = |weights: &[i64]| weighed(weights).standard_error().map(|error| error.value());
    assert!((error(&[206, 198]).unwrap() - 0.02).abs() < 1e-9);
    assert_eq!(error(&[206]), None);
    assert_eq!(error(&[]), None);
    assert!(error(&[206, 206]).unwrap().abs() < 1e-9);
}

/// Of three days with two, one and no samples: 3 % and 1 % over, 5 % under. They are 0.3 % under in
/// the mean, which of 300 kg is 1 kg under; each day stands for its own samples.
#[test]
fn each_part_has_its_own_share() {
    let days = [weighed(&[206, 202]), weighed(&[190]), weighed(&[])];
    let shares = Samples::shares(&days, grams(300_000), grams(-1_000)).unwrap();
    // Of the first: two thirds of −1 kg, and 300 kg × (2.04 − 2 × 2.99 ÷ 3) ÷ 3.
    let first = d("-1000") * d("2") / d("3")
        + d("300000") * (d("2.04") - d("2.99") * d("2") / d("3")) / d("3");
    assert_eq!(shares[0], Base::new(first).settle().unwrap());
    // Of the second: a third of −1 kg, and 300 kg × (0.95 − 2.99 ÷ 3) ÷ 3.
    let second = d("-1000") / d("3") + d("300000") * (d("0.95") - d("2.99") / d("3")) / d("3");
    assert_eq!(shares[1], Base::new(second).settle().unwrap());
    // The last has what the others leave, so that all of them are the whole.
    assert_eq!(shares[0] + shares[1] + shares[2], grams(-1_000));
    assert!(Samples::shares(&[], grams(300_000), grams(-1_000)).unwrap().is_empty());
}

/// Without samples nobody can tell what portions took: nothing is split off for them.
#[test]
fn a_variance_without_samples_is_waste_yield_and_the_rest() {
    let none = Samples::default();
    let causes = Causes::split(grams(900), grams(9_000), grams(300), grams(200), &none, None);
    assert_eq!(causes.over_portioning, None);
    assert_eq!(causes.unexplained, Estimate { amount: grams(400), sd: None });
    assert_eq!(causes.variance.amount, grams(900));
}

/// A third of 0.100001 kg each is rounded twice; the last part has what is left.
#[test]
fn the_last_part_has_what_rounding_leaves() {
    let over = Tallied::from_thousandths(100_001);
    let alike = [weighed(&[200]), weighed(&[200]), weighed(&[200])];
    let shares = Samples::shares(&alike, grams(300_000), over).unwrap();
    let thousandths: Vec<_> = shares.iter().map(|share| share.thousandths()).collect();
    assert_eq!(thousandths, [33_334, 33_334, 33_333]);
}
