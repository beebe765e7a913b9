//! Random inputs, and what scipy and statsmodels make of them: `reference/make.py` writes the file.

use parings_core::stats::{Confidence, Noisy, Pooled, Proportion, Robust};
use serde_json::Value;

fn cases(of: &str) -> Vec<Value> {
    let all: Value =
        serde_json::from_str(include_str!("reference/reference.json")).expect("the file");
    let cases = all[of].as_array().expect("cases").clone();
    assert_eq!(cases.len(), 25);
    cases
}

fn number(case: &Value, name: &str) -> f64 {
    case[name].as_f64().expect("a number")
}

fn numbers(case: &Value, name: &str) -> Vec<f64> {
    let all = case[name].as_array().expect("numbers");
    all.iter().map(|value| value.as_f64().expect("a number")).collect()
}

#[track_caller]
fn close(found: f64, wanted: f64) {
    assert!((found - wanted).abs() <= 1e-9 * (1.0 + wanted.abs()), "{found} for {wanted}");
}

/// scipy.stats.median_abs_deviation(scale="normal") and numpy.median; recomputed.
#[test]
fn robust_location_and_scale_are_those_of_scipy() {
    for case in cases("robust") {
        let robust = Robust::of(&numbers(&case, "values")).unwrap();
        close(robust.centre(), number(&case, "centre"));
        close(robust.spread().value(), number(&case, "spread"));
    }
}

/// statsmodels proportion_confint(method="wilson"); recomputed.
#[test]
fn wilson_limits_are_those_of_statsmodels() {
    for case in cases("wilson") {
        let count = |name: &str| case[name].as_u64().expect("a count");
        let share = Proportion::new(count("hits"), count("of")).unwrap();
        let range = share.wilson(Confidence::NINETY_FIVE);
        close(range.low, number(&case, "low"));
        close(range.high, number(&case, "high"));
    }
}

/// statsmodels combine_effects(method_re="chi2"), which is DerSimonian and Laird's; recomputed. It
/// lets the variance between fall below nothing, and the mean with it: there only what is between is
/// compared.
#[test]
fn pooled_figures_are_those_of_statsmodels() {
    let mut compared = 0;
    for case in cases("pooled") {
        let figures = numbers(&case, "value").into_iter().zip(numbers(&case, "variance"));
        let figures: Vec<Noisy> =
            figures.map(|(value, variance)| Noisy { value, variance }).collect();
        let pooled = Pooled::of(&figures).unwrap();
        close(pooled.between(), number(&case, "between"));
        if pooled.between() > 0.0 {
            compared += 1;
            close(pooled.mean().value, number(&case, "mean"));
            close(pooled.mean().variance.sqrt(), number(&case, "error"));
        }
    }
    assert!(compared >= 10, "{compared}");
}

/// scipy.stats.t.isf; recomputed.
#[test]
fn quantiles_of_students_t_are_those_of_scipy() {
    for case in cases("student") {
        let confidence = Confidence::new(number(&case, "level")).unwrap();
        let degrees = case["degrees"].as_u64().expect("degrees");
        let (found, wanted) = (confidence.t(degrees), number(&case, "t"));
        assert!((found / wanted - 1.0).abs() < 1e-8, "{degrees}: {found} for {wanted}");
    }
}
