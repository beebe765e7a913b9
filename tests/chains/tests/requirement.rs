//! The requirement on a review: of faults of the sizes it speaks of, at least 80 % are found at no
//! more than 0.20 false alarms a district-week.

use parings_chains::chain::{Chain, DISTRICTS, NIGHTS};
use parings_chains::score::Score;
use parings_chains::ways::{WAYS, watch};

/// Two chains of regimes apart, which nothing was tuned on. Of 60 faults the share found is known to
/// about 5 points only, so this holds what was reached from slipping; the table of twenty seeds in
/// FIGURES.md is the measurement.
#[test]
fn two_chains_are_reviewed_as_required() {
    let mut scores = vec![Score::default(); WAYS.len()];
    for seed in [201, 204] {
        let chain = Chain::new(seed);
        for (score, (_, way)) in scores.iter_mut().zip(WAYS) {
            score.add(&chain, &watch(&chain, way));
        }
    }
    let (found, planted) = scores[0].headline();
    let alarms = scores[0].alarms();
    assert_eq!(planted, 60);
    assert!(scores[0].recall() >= 0.80, "{found} of {planted}, {alarms:.3} false alarms");
    assert!(alarms <= 0.20, "{alarms:.3} false alarms a district-week");
    // The plain ways find less at many times the false alarms.
    for plain in &scores[1..] {
        assert!(plain.recall() < scores[0].recall() && plain.alarms() > 3.0 * alarms, "{plain:?}");
    }
}

/// A review of many dates is the reviews of each: nothing of later nights is used.
#[test]
fn a_date_is_reviewed_alike_whatever_comes_after() {
    let all = watch(&Chain::new(203), WAYS[0].1);
    let early = Chain::of(203, DISTRICTS, NIGHTS - 8);
    let alone = watch(&early, WAYS[0].1);
    let date = early.sheet.span().to();
    let of = |nights: &parings_chains::ways::Watched| {
        let found = nights.iter().find(|(on, _)| *on == date).map(|(_, flags)| flags.clone());
        let mut told: Vec<String> =
            found.unwrap_or_default().iter().map(|flag| format!("{flag:?}")).collect();
        told.sort();
        told
    };
    assert!(!of(&all).is_empty());
    assert_eq!(of(&alone), of(&all));
}

#[test]
fn a_seed_makes_one_chain() {
    let (a, b) = (Chain::new(5), Chain::new(5));
    assert_eq!(a.faults, b.faults);
    assert_eq!(watch(&a, WAYS[1].1), watch(&b, WAYS[1].1));
}
