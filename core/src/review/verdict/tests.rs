use super::*;
use crate::calendar::BusinessDate;
use crate::review::{Column, Figures, Labels, Status, StoreNight, UnitCost};

/// Twelve stores over 80 nights, each with a swing of its own and one that all share. From the 40th
/// night on the first takes so much more; all invented.
fn sheet(more: f64, closed_from: u32) -> Sheet {
    let mut labels = Labels::default();
    let [district, format] = ["upper", "counter"].map(|word| labels.label(word));
    let first = BusinessDate::new(2026, 3, 2).unwrap();
    let mut rows = Vec::new();
    for store in 0..12u32 {
        let label = labels.label(&format!("store {store:02}"));
        for night in 0..80u32 {
            let swing = f64::from((night * 7 + store * 5) % 11) / 500.0;
            // A promotion moves every store in the second half.
            let shared = if night >= 40 { 0.03 } else { 0.0 };
            let own = if store == 0 && night >= 40 { more } else { 0.0 };
            let open = store > 0 || night < closed_from;
            rows.push(StoreNight {
                store: label,
                district,
                format,
                date: first.plus_days(night.into()),
                status: if open { Status::Open } else { Status::Missing },
                lot: None,
                promotion: None,
                counted_by: None,
                figures: Figures::default()
                    .with(Column::Expected, 200.0)
                    .with(Column::Used, 200.0 * (1.10 + swing + shared + own)),
            });
        }
    }
    Sheet::new(labels, UnitCost::KILOGRAM, &rows).unwrap()
}

fn judged(sheet: &Sheet, touched: &[Label]) -> Judgement {
    let day = |night| sheet.span().from().plus_days(night);
    let windows = Windows {
        before: DateSpan::new(day(20), day(39)).unwrap(),
        after: DateSpan::new(day(40), day(79)).unwrap(),
    };
    judge(sheet, sheet.stores()[0], Measure::Use, windows, 0.05, touched)
}

/// All moved by 3 points, the first by so much besides: that is what is told of it.
#[test]
fn what_peers_share_is_no_effect() {
    for (more, verdict) in
        [(-0.05, Verdict::Worked), (0.0, Verdict::DidNot), (0.02, Verdict::DidNot)]
    {
        let outcome = judged(&sheet(more, 80), &[]);
        let effect = outcome.effect.unwrap();
        assert!((effect.change - more).abs() < 0.003, "{more}: {effect:?}");
        assert!(effect.range.contains(effect.change));
        assert_eq!((effect.nights_before, effect.nights_after, effect.peers), (20, 40, 11));
        assert_eq!(outcome.verdict, verdict, "{more}: {effect:?}");
    }
}

#[test]
fn too_few_nights_or_peers_tell_nothing() {
    assert_eq!(judged(&sheet(-0.05, 50), &[]).verdict, Verdict::Worked);
    let nine = judged(&sheet(-0.05, 49), &[]);
    assert_eq!(nine, Judgement { verdict: Verdict::CannotTell, effect: None });
    let sheet = sheet(-0.05, 80);
    // Eleven others, of which seven are touched: four are too few.
    assert_eq!(judged(&sheet, &sheet.stores()[1..7]).effect.unwrap().peers, 5);
    assert_eq!(judged(&sheet, &sheet.stores()[1..8]).verdict, Verdict::CannotTell);
}

#[test]
fn no_outcome_accuses_and_none_is_without_its_uncertainty() {
    let effect = Effect {
        change: -0.021,
        range: Interval { low: -0.032, high: -0.010 },
        nights_before: 12,
        nights_after: 38,
        peers: 9,
    };
    for verdict in Verdict::ALL {
        for effect in [Some(effect), None] {
            let says = Judgement { verdict: *verdict, effect }.sentence(Measure::Use);
            for word in ["steal", "theft", "cheat", "falsif", "fraud", "fault", "blame", "fail"] {
                assert!(!says.to_lowercase().contains(word), "{word}: {says}");
            }
            let unsure = ["from -3.2 to -1.0", "cannot be told"];
            assert!(unsure.iter().any(|words| says.contains(words)), "{says}");
        }
    }
}
