use std::collections::BTreeSet;

use super::*;
use crate::catalog::{Hours, Minutes};

fn about_night(kind: CheckKind) -> Check {
    Check::new(kind, About::Night, "?")
}

#[test]
fn only_a_question_that_was_answered_is_not_asked_again() {
    let asked = [CheckKind::OldDate, CheckKind::CopiedCount, CheckKind::ShortDay].map(about_night);
    let answered = BTreeSet::from([asked[0].id(), asked[2].id()]);
    // What is only said or left out is told again, answered or not.
    assert_eq!(unanswered(asked.to_vec(), &answered), asked[1..]);
    assert_eq!(unanswered(asked.to_vec(), &BTreeSet::new()), asked);
}

#[test]
fn what_asks_and_what_would_have_asked() {
    let asks = about_night(CheckKind::UnitSlip);
    let beyond = Check { treatment: Treatment::LeaveOut, ..asks.clone() };
    let left_out = about_night(CheckKind::ShortDay);
    let said = about_night(CheckKind::NoHistory);
    let told = [&asks, &beyond, &left_out, &said].map(|check| (check.asks(), check.is_beyond()));
    assert_eq!(told, [(true, false), (false, true), (false, false), (false, false)]);
}

/// The words are those on the wire.
#[test]
fn each_answer_has_its_word() {
    let quantity: crate::catalog::Typed =
        serde_json::from_value(json!({ "value": "9", "unit": "kg" })).unwrap();
    let to = Correction::Quantity(quantity.clone());
    for (answer, word) in [
        (Answer::AsTyped, "as_typed"),
        (Answer::OtherReading { quantity }, "other_reading"),
        (Answer::Corrected { to }, "corrected"),
        (Answer::CountedAgain { lines: Vec::new() }, "counted_again"),
    ] {
        assert_eq!(answer.word(), word);
        assert!(serde_json::to_string(&answer).unwrap().contains(word), "{answer:?}");
    }
}

/// A correction of an entry leaves the count as it is; what is about lines is corrected by lines. An
/// entry of an item vouches for no line of it.
#[test]
fn an_entry_is_corrected_beside_the_count() {
    let counted = count(&[line("potato", "dry-store", "3", "bag")]);
    let anew = entry(
        7,
        json!({ "kind": "delivery", "item": "potato",
        "quantity": { "value": "1", "unit": "bag" } }),
    );
    let about = About::Entry { entry: anew.id, item: code("potato") };
    let corrected = Answer::Corrected { to: Correction::Entry(Box::new(anew)) };
    let check = Check::new(CheckKind::ImpossibleYield, about, "?");
    assert_eq!(check.answered(&corrected, &counted), Ok(None));
    assert!(!check.is_about(&counted.lines[0]));
    assert!(about_night(CheckKind::OldDate).answered(&corrected, &counted).is_err());
    let of = |item: &str| Check::new(CheckKind::UnitSlip, About::Item { item: code(item) }, "?");
    assert!(of("potato").is_about(&counted.lines[0]) && !of("beans").is_about(&counted.lines[0]));
}

/// After five answers of one kind: a quarter more spreads, minutes twice over, half the way to all.
#[test]
fn the_limit_that_asked_in_vain_is_widened() {
    let limits = Limits::default();
    for (kinds, limit, now, proposed) in [
        (
            &[
                CheckKind::UnitSlip,
                CheckKind::PackSlip,
                CheckKind::DecimalSlip,
                CheckKind::TareForgotten,
            ][..],
            "spreads",
            "4",
            "5",
        ),
        (&[CheckKind::NegativeUse, CheckKind::WasteAboveHandled], "use_spreads", "3", "3.75"),
        (&[CheckKind::DeviceClock], "clock_minutes", "5", "10"),
        (&[CheckKind::CopiedCount], "copied_share", "0.8", "0.9"),
    ] {
        for kind in kinds {
            let expected = Proposal { limit, now: d(now), proposed: d(proposed) };
            assert_eq!(wider(*kind, 5, &limits).as_ref(), Some(&expected));
            assert_eq!(wider(*kind, 6, &limits), Some(expected));
            assert_eq!(wider(*kind, 4, &limits), None);
        }
    }
    assert_eq!(wider(CheckKind::OldDate, 9, &limits), None);
    let own = Limits { clock_minutes: Minutes(7), lock_hours: Hours(1), ..limits };
    assert_eq!(wider(CheckKind::DeviceClock, 5, &own).unwrap().proposed, d("14"));
}
