use super::*;
use crate::calendar::BusinessDate;
use crate::review::{Baseline, Evidence, Labels};
use crate::stats::Interval;

fn no_accusation(says: &str) {
    for word in ["steal", "theft", "cheat", "falsif", "fraud", "lie ", "guilty", "blame"] {
        assert!(!says.to_lowercase().contains(word), "{word}: {says}");
    }
}

/// Every sentence there can be: none accuses, and none gives a size without its range or without
/// saying how little it says.
#[test]
fn no_sentence_accuses_and_none_is_without_its_uncertainty() {
    let mut labels = Labels::default();
    for kind in FindingKind::ALL.iter().filter(|kind| **kind != FindingKind::Habit) {
        for measure in Measure::ALL {
            let finding = Finding {
                as_of: BusinessDate::new(2026, 6, 14).unwrap(),
                store: Some(labels.label("ford")),
                district: labels.label("upper"),
                measure: *measure,
                kind: *kind,
                since: BusinessDate::new(2026, 6, 2).unwrap(),
                size: 0.02,
                range: Interval { low: 0.01, high: 0.03 },
                money_per_week: None,
                rank: None,
                evidence: Evidence {
                    before: 0.04,
                    after: 0.06,
                    against: Baseline::Past(84),
                    nights_after: 12,
                    strength: 4.0,
                    beside: Some(0.01),
                    habit: None,
                },
            };
            let says = finding.sentence();
            no_accusation(&says);
            let unsure = ["from +1.0 to +3.0", "says little", "may be a good reason", "is back"];
            assert!(unsure.iter().any(|words| says.contains(words)), "{says}");
        }
    }
}

/// Whatever is asked about how figures are written down is asked, and leaves room for an answer.
#[test]
fn what_is_written_down_is_asked_about() {
    let mut labels = Labels::default();
    for habit in Habit::ALL {
        let finding = Finding {
            as_of: BusinessDate::new(2026, 6, 14).unwrap(),
            store: Some(labels.label("ford")),
            district: labels.label("upper"),
            measure: Measure::Habit,
            kind: FindingKind::Habit,
            since: BusinessDate::new(2026, 6, 2).unwrap(),
            size: 0.0,
            range: Interval { low: 0.0, high: 0.0 },
            money_per_week: None,
            rank: None,
            evidence: Evidence {
                before: 0.2,
                after: 0.9,
                against: Baseline::Peers(40),
                nights_after: 28,
                strength: 9.0,
                beside: Some(0.01),
                habit: Some(*habit),
            },
        };
        let says = finding.sentence();
        no_accusation(&says);
        assert!(says.contains("There may be a good reason: please show us how"), "{says}");
        assert!(
            says.contains("28") || *habit == Habit::WasteFallsUseRises,
            "{habit:?} does not say of how many nights: {says}"
        );
        assert_eq!(habit.is_private(), says.contains("private note"), "{says}");
    }
}

/// A store's use differs from that of peers, and its waste beside it.
#[test]
fn a_difference_from_peers_is_told_with_the_other_measure() {
    let district = Labels::default().label("upper");
    let finding = |measure, kind, against| Finding {
        as_of: BusinessDate::new(2026, 6, 14).unwrap(),
        store: None,
        district,
        measure,
        kind,
        since: BusinessDate::new(2026, 6, 2).unwrap(),
        size: -0.02,
        range: Interval { low: -0.03, high: -0.01 },
        money_per_week: None,
        rank: None,
        evidence: Evidence {
            before: 0.06,
            after: 0.04,
            against,
            nights_after: 12,
            strength: 4.0,
            beside: Some(0.0004),
            habit: None,
        },
    };
    let told = finding(Measure::Use, FindingKind::Chronic, Baseline::Peers(9)).sentence();
    assert_eq!(
        told,
        "For more than four weeks, since 2026-06-02 or before, use beyond what sales explain has \
         been lower: 4.0 % of what sales should have taken over 12 nights, 6.0 % if it were as its \
         9 fair peers are. The change is most likely -2.0 points, and from -3.0 to -1.0. Over the \
         same nights recorded waste differs from theirs by 0.0 points."
    );
    let told = finding(Measure::Waste, FindingKind::Drift, Baseline::Past(80)).sentence();
    assert!(
        told.ends_with("Over the same nights use beyond what sales explain moved by 0.0 points."),
        "{told}"
    );
    let (past, peers) = (Baseline::Past(80), Baseline::Peers(9));
    assert_eq!((past.nights(), past.peers()), (Some(80), None));
    assert_eq!((peers.nights(), peers.peers()), (None, Some(9)));
    let private = |kind| finding(Measure::Use, kind, past).is_private();
    assert!(
        private(FindingKind::OneNight)
            && !private(FindingKind::Drift)
            && !private(FindingKind::Shared)
    );
}

/// Each word of a kind and of a habit is another one.
#[test]
fn words_are_told_apart() {
    let mut words: Vec<&str> = FindingKind::ALL.iter().map(|kind| kind.word()).collect();
    words.extend(Measure::ALL.iter().map(|measure| measure.word()));
    words.extend(Habit::ALL.iter().map(|habit| habit.word()));
    words.sort_unstable();
    // Three habits of no spread have one word.
    assert_eq!(
        words,
        [
            "amended",
            "batch_yield",
            "chronic",
            "copied",
            "count_habit",
            "drift",
            "habit",
            "lateness",
            "no_spread",
            "no_spread",
            "no_spread",
            "nothing",
            "one_night",
            "recorded_waste",
            "recovered",
            "repeated_lines",
            "rounded",
            "safety",
            "shared",
            "use",
            "waste_falls_use_rises",
        ]
    );
}
