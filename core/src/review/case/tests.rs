use proptest::prelude::*;

use super::*;
use crate::review::{Baseline, Evidence, Labels};
use crate::stats::Interval;

fn day(number: i64) -> BusinessDate {
    BusinessDate::new(2026, 6, 1).unwrap().plus_days(number)
}

/// A finding of a store by its place, with money a week; all invented.
fn finding(labels: &mut Labels, store: u8, kind: FindingKind, money: Option<f64>) -> Finding {
    Finding {
        as_of: day(0),
        store: Some(labels.label(&format!("store {store}"))),
        district: labels.label("upper"),
        measure: if money.is_some() { Measure::Use } else { Measure::Lateness },
        kind,
        since: day(-9),
        size: 0.02,
        range: Interval { low: 0.01, high: 0.03 },
        money_per_week: money,
        rank: None,
        evidence: Evidence {
            before: 0.03,
            after: 0.05,
            against: Baseline::Past(60),
            nights_after: 10,
            strength: 4.0 + f64::from(store),
            beside: None,
            habit: None,
        },
    }
}

fn stores(labels: &Labels, raised: &[Finding]) -> Vec<String> {
    raised.iter().map(|f| labels.word(f.store.unwrap()).to_owned()).collect()
}

#[test]
fn four_a_week_one_a_store_by_money() {
    let mut labels = Labels::default();
    let mut found = vec![
        finding(&mut labels, 1, FindingKind::Drift, Some(20.0)),
        finding(&mut labels, 2, FindingKind::Drift, None),
        finding(&mut labels, 3, FindingKind::Chronic, Some(80.0)),
        finding(&mut labels, 3, FindingKind::Drift, None),
        finding(&mut labels, 4, FindingKind::OneNight, Some(900.0)),
        finding(&mut labels, 5, FindingKind::Recovered, Some(900.0)),
        finding(&mut labels, 6, FindingKind::Habit, None),
        finding(&mut labels, 7, FindingKind::Drift, Some(5.0)),
        finding(&mut labels, 8, FindingKind::Drift, Some(1.0)),
    ];
    found.push(Finding { store: None, kind: FindingKind::Shared, ..found[0] });
    let raised = raise(&found, &[], 0);
    assert_eq!(stores(&labels, &raised), ["store 3", "store 1", "store 7", "store 8"]);
    let later = raise(&found, &[], 3);
    assert_eq!(stores(&labels, &later), ["store 3"]);
    assert!(raise(&found, &[], 4).is_empty());
    // With fewer of a price, what has none comes after, the clearest first.
    let few = raise(&found[..7], &[], 0);
    assert_eq!(stores(&labels, &few), ["store 3", "store 1", "store 6", "store 2"]);
}

#[test]
fn what_goes_on_or_ended_lately_is_not_raised_again_unless_it_grew_by_half() {
    let mut labels = Labels::default();
    let found = [finding(&mut labels, 1, FindingKind::Drift, Some(20.0))];
    let store = found[0].store.unwrap();
    let case = |measure, size, ended| [Earlier { store, measure, size, ended }];
    for (earlier, is_raised) in [
        (case(Measure::Use, 0.02, None), false),
        (case(Measure::Yield, 0.02, None), false),
        (case(Measure::Use, 0.02, Some(day(-27))), false),
        (case(Measure::Use, 0.02, Some(day(-28))), true),
        (case(Measure::Yield, 0.02, Some(day(-1))), true),
        (case(Measure::Use, 0.0133, Some(day(-1))), true),
        (case(Measure::Use, 0.0134, Some(day(-1))), false),
    ] {
        assert_eq!(!raise(&found, &earlier, 0).is_empty(), is_raised, "{earlier:?}");
    }
}

/// Of each stage, what may happen and what it becomes: the table, written out.
#[test]
fn the_table_of_what_may_happen() {
    let (due, on) = (day(10), day(8));
    let all = [
        CaseEvent::Visited,
        CaseEvent::Promised { due },
        CaseEvent::Kept { on },
        CaseEvent::Checked(CaseCheck::Interim, Verdict::CannotTell),
        CaseEvent::Checked(CaseCheck::Last, Verdict::Worked),
        CaseEvent::Dismissed { on },
        CaseEvent::Answered,
        CaseEvent::Moved { on },
    ];
    let at = |events: &[CaseEvent]| {
        events.iter().fold(Progress::default(), |case, event| case.after(*event).unwrap())
    };
    let path = [CaseEvent::Visited, CaseEvent::Promised { due }, CaseEvent::Kept { on }];
    let becomes = |case: Progress| all.map(|event| case.after(event).ok().map(Progress::stage));
    use CaseStage::{Closed, Dismissed, Kept, Moved, Open, Promised, Visited};
    // Until it has ended it is dismissed, answered, or its store moves; answered it is where it was.
    let on_the_way = |stage, next: [Option<CaseStage>; 5]| {
        let [a, b, c, d, e] = next;
        [a, b, c, d, e, Some(Dismissed), Some(stage), Some(Moved)]
    };
    let no = None;
    assert_eq!(becomes(at(&[])), on_the_way(Open, [Some(Visited), no, no, no, no]));
    assert_eq!(becomes(at(&path[..1])), on_the_way(Visited, [no, Some(Promised), no, no, no]));
    let promised = [no, Some(Promised), Some(Kept), Some(Promised), Some(Closed)];
    assert_eq!(becomes(at(&path[..2])), on_the_way(Promised, promised));
    let kept = [no, no, no, Some(Kept), Some(Closed)];
    assert_eq!(becomes(at(&path)), on_the_way(Kept, kept));
    // What has ended is answered, if its store is still there, and nothing else.
    let dismissed = [no, no, no, no, no, no, Some(Dismissed), no];
    assert_eq!(becomes(at(&[all[5]])), dismissed);
    let closed = at(&[path[0], path[1], path[2], all[4]]);
    assert_eq!(becomes(closed), [no, no, no, no, no, no, Some(Closed), no]);
    let moved = at(&[path[0], all[7]]);
    assert_eq!((becomes(moved), moved.moved()), ([no; 8], Some(on)));
    let says = moved.after(CaseEvent::Answered).unwrap_err().to_string();
    assert_eq!(
        says,
        "this case is moved: its store belongs to another district or owner, where a new case may begin"
    );
    let says = closed.after(CaseEvent::Visited).unwrap_err().to_string();
    assert_eq!(says, "this case is closed: nothing more happens to it");
    let says = Progress::default().after(CaseEvent::Kept { on }).unwrap_err().to_string();
    assert_eq!(says, "this case is open: what may come next is visited or dismissed");
}

#[test]
fn a_promise_that_nobody_kept_is_looked_at_from_when_it_was_due() {
    let case = Progress::default().after(CaseEvent::Visited).unwrap();
    assert_eq!(case.due(day(900)), None);
    let case = case.after(CaseEvent::Promised { due: day(10) }).unwrap();
    assert_eq!((case.due(day(23)), case.due(day(24))), (None, Some(CaseCheck::Interim)));
    // A server that was away for long looks once, and for the last time.
    assert_eq!(case.due(day(52)), Some(CaseCheck::Last));
    let case = case.after(CaseEvent::Checked(CaseCheck::Interim, Verdict::Worked)).unwrap();
    assert_eq!((case.due(day(51)), case.due(day(52))), (None, Some(CaseCheck::Last)));
}

fn any_event() -> impl Strategy<Value = CaseEvent> {
    let date = (0..90i64).prop_map(day);
    let verdict = prop::sample::select(Verdict::ALL);
    let check = prop::sample::select(CaseCheck::ALL);
    prop_oneof![
        Just(CaseEvent::Visited),
        date.clone().prop_map(|due| CaseEvent::Promised { due }),
        date.clone().prop_map(|on| CaseEvent::Kept { on }),
        (check, verdict).prop_map(|(check, verdict)| CaseEvent::Checked(check, verdict)),
        date.clone().prop_map(|on| CaseEvent::Dismissed { on }),
        Just(CaseEvent::Answered),
        date.prop_map(|on| CaseEvent::Moved { on }),
    ]
}

proptest! {
    /// Whatever is tried in whatever order: a case never goes back, what was said stays said, and what
    /// may come next is what its stage tells.
    #[test]
    fn a_case_never_goes_back(events in prop::collection::vec(any_event(), 0..20)) {
        let mut case = Progress::default();
        for event in events {
            let tells = |word: &str| case.stage().next().contains(&word);
            let told = match event {
                CaseEvent::Visited => tells("visited"),
                CaseEvent::Promised { .. } => tells("promised"),
                CaseEvent::Kept { .. } => tells("kept"),
                CaseEvent::Dismissed { .. } => tells("dismissed"),
                CaseEvent::Checked(..) => matches!(case.stage(), CaseStage::Promised | CaseStage::Kept),
                CaseEvent::Answered => case.stage() != CaseStage::Moved,
                CaseEvent::Moved { .. } => !case.stage().has_ended(),
            };
            match case.after(event) {
                Ok(next) => {
                    prop_assert!(told && next.stage() >= case.stage());
                    prop_assert!(case.kept().is_none() || next.kept() == case.kept());
                    prop_assert!(case.promised().is_none() || next.promised().is_some());
                    case = next;
                }
                Err(NotNow { stage }) => {
                    let again = matches!(event, CaseEvent::Checked(CaseCheck::Interim, _));
                    prop_assert!(stage == case.stage() && (!told || again));
                }
            }
        }
        prop_assert_eq!(case.verdict().is_some(), case.stage() == CaseStage::Closed);
        prop_assert_eq!(case.dismissed().is_some(), case.stage() == CaseStage::Dismissed);
        prop_assert_eq!(case.moved().is_some(), case.stage() == CaseStage::Moved);
    }
}

/// What was promised and kept is told as it was said, and turns the case from the later of them on.
#[test]
fn a_case_keeps_what_was_promised() {
    let begun = Progress::default();
    assert_eq!((begun.promised(), begun.kept(), begun.turned()), (None, None, None));
    let promised = begun
        .after(CaseEvent::Visited)
        .unwrap()
        .after(CaseEvent::Promised { due: day(7) })
        .unwrap();
    assert_eq!((promised.stage(), promised.promised()), (CaseStage::Promised, Some(day(7))));
    assert_eq!((promised.kept(), promised.turned()), (None, Some(day(7))));
    let kept = promised.after(CaseEvent::Kept { on: day(9) }).unwrap();
    assert_eq!(
        (kept.promised(), kept.kept(), kept.turned()),
        (Some(day(7)), Some(day(9)), Some(day(9)))
    );
    let dismissed = kept.after(CaseEvent::Dismissed { on: day(10) }).unwrap();
    assert_eq!((dismissed.stage(), dismissed.dismissed()), (CaseStage::Dismissed, Some(day(10))));
    for stage in [CaseStage::Open, CaseStage::Visited, CaseStage::Promised, CaseStage::Kept] {
        assert!(!stage.has_ended() && !stage.next().is_empty(), "{stage:?}");
    }
    for stage in [CaseStage::Closed, CaseStage::Dismissed, CaseStage::Moved] {
        assert!(stage.has_ended() && stage.next().is_empty(), "{stage:?}");
    }
}
