use super::*;

fn monday() -> BusinessDate {
    BusinessDate::new(2026, 3, 2).expect("a date")
}

/// By hand: what becomes of a night that everything is said of, and of one without a count.
#[test]
fn what_becomes_of_a_night() {
    let all = CountedDates {
        counted: [monday()].into(),
        partial: [monday()].into(),
        left_out: [monday()].into(),
        short: [monday()].into(),
        waiting: [monday()].into(),
        items_left_out: [(monday(), 3)].into(),
    };
    let uncounted = CountedDates { counted: BTreeSet::new(), ..all.clone() };
    let bare = CountedDates { counted: [monday()].into(), ..CountedDates::default() };
    let none = Nights::default();
    let counted = Nights { expected: 1, counted: 1, ..none };
    let full = Nights { partial: 1, left_out: 1, short: 1, items_left_out: 3, ..counted };
    let missing = Nights { expected: 1, missing: 1, ..none };
    let closed = Nights { closed: 1, ..none };
    for (dates, [open, over], expected) in [
        (&all, [true, true], full),
        (&all, [true, false], full),
        (&all, [false, true], closed),
        (&all, [false, false], closed),
        (&bare, [true, true], counted),
        (&uncounted, [true, true], Nights { short: 1, held: 1, ..missing }),
        (&uncounted, [true, false], Nights { to_come: 1, ..none }),
        (&uncounted, [false, true], closed),
        (&uncounted, [false, false], none),
        (&CountedDates::default(), [true, true], missing),
    ] {
        assert_eq!(dates.night(monday(), open, over), expected, "{dates:?} {open} {over}");
        let other = dates.night(monday().succ(), open, over);
        assert_eq!(other, CountedDates::default().night(monday(), open, over));
    }
}

#[test]
fn nights_of_two_stores_add_up() {
    let nights = |n: u64| Nights {
        expected: n,
        counted: 2 * n,
        partial: 3 * n,
        missing: 4 * n,
        closed: 5 * n,
        left_out: 6 * n,
        short: 7 * n,
        held: 8 * n,
        items_left_out: 9 * n,
        to_come: 10 * n,
    };
    assert_eq!(nights(3).merge(nights(4)), nights(7));
}

/// Ten of fourteen, common practice without a source.
#[test]
fn nights_are_enough_from_ten_of_fourteen_on() {
    let enough = |counted, expected| Nights { counted, expected, ..Nights::default() }.is_enough();
    for (counted, expected) in [(10, 14), (5, 7), (20, 28), (1, 1), (28, 28)] {
        assert!(enough(counted, expected), "{counted} of {expected}");
    }
    for (counted, expected) in [(9, 14), (4, 7), (19, 28), (0, 1), (0, 0)] {
        assert!(!enough(counted, expected), "{counted} of {expected}");
    }
}

#[test]
fn nights_are_complete_when_none_is_missing_or_to_come() {
    let complete = |missing, to_come| Nights { missing, to_come, ..<_>::default() }.is_complete();
    assert!(complete(0, 0));
    assert!(!complete(1, 0) && !complete(0, 1) && !complete(1, 1));
}
