//! The edges of every limit, on both sides.

use super::*;

fn flaws(limits: Value) -> Vec<String> {
    let limits: Limits = serde_json::from_value(limits).unwrap();
    limits.flaws().into_iter().map(|flaw| flaw.at).collect()
}

#[test]
fn a_limit_may_lie_on_its_edge_and_not_past_it() {
    for (sound, past, at) in [
        (json!({ "spreads": "1000" }), json!({ "spreads": "1000.1" }), "/spreads"),
        (json!({ "fit_spreads": "0.1" }), json!({ "fit_spreads": "0" }), "/fit_spreads"),
        (json!({ "fit_spreads": "3.9" }), json!({ "fit_spreads": "4" }), "/fit_spreads"),
        (json!({ "use_spreads": "1000" }), json!({ "use_spreads": "1000.1" }), "/use_spreads"),
        (json!({ "use_spreads": "0.1" }), json!({ "use_spreads": "0" }), "/use_spreads"),
        (json!({ "use_spreads": "0.1" }), json!({ "use_spreads": "-1" }), "/use_spreads"),
        (
            json!({ "ratio_tolerance": "0.25" }),
            json!({ "ratio_tolerance": "0.251" }),
            "/ratio_tolerance",
        ),
        (json!({ "least_stake": "0" }), json!({ "least_stake": "-0.0001" }), "/least_stake"),
        (
            json!({ "scale_division": amount("1", "g") }),
            json!({ "scale_division": amount("0", "g") }),
            "/scale_division",
        ),
        (
            json!({ "scale_division": amount("0.1", "oz") }),
            json!({ "scale_division": amount("5", "ml") }),
            "/scale_division",
        ),
    ] {
        assert!(flaws(sound.clone()).is_empty(), "{sound}");
        assert_eq!(flaws(past.clone()), [at], "{past}");
    }
}

/// The least of each limit that counts something; the most of all of them is 1,000.
#[test]
fn what_is_counted_has_a_least_and_a_most() {
    for (name, least) in [
        ("history_nights", 3),
        ("confirmations", 0),
        ("copied_items", 2),
        ("rounding_lines", 10),
        ("old_days", 0),
        ("date_hours", 0),
        ("transfer_days", 0),
        ("new_store_days", 0),
        ("same_answers", 2),
        ("same_content_minutes", 0),
        ("clock_minutes", 1),
        ("count_minutes", 1),
        ("elsewhere_minutes", 0),
        ("lock_hours", 1),
        ("transfer_hours", 1),
    ] {
        let of = |n: u32| flaws(json!({ name: n }));
        let at = format!("/{name}");
        assert!(of(least).is_empty() && of(1000).is_empty(), "{name}");
        assert_eq!(of(1001), std::slice::from_ref(&at));
        if least > 0 {
            assert_eq!(of(least - 1), [at]);
        }
    }
}

#[test]
fn spreads_minutes_and_hours_are_reckoned_with() {
    use chrono::TimeDelta;
    assert_eq!(Spreads(d("2.5")).value().to_bits(), 2.5_f64.to_bits());
    assert_eq!(TimeDelta::from(Minutes(90)), TimeDelta::seconds(5_400));
    assert_eq!(TimeDelta::from(Hours(2)), TimeDelta::seconds(7_200));
}

/// Samples of no night at all would be none for ever, and there is no such span of dates.
#[test]
fn samples_are_pooled_over_one_night_at_least() {
    for (nights, flaws) in [(0, vec!["/sample_nights"]), (1, vec![]), (28, vec![])] {
        let mut body = settings();
        body["sample_nights"] = json!(nights);
        let found = read(Kind::Settings, &body).flaws("network");
        assert_eq!(found.iter().map(|flaw| flaw.at.as_str()).collect::<Vec<_>>(), flaws);
    }
}
