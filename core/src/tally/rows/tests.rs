//! Every row of invented nights in words.

use super::*;
use crate::tally::worked::{catalog, fed, typed};

fn documents(all: &[(Kind, &str)]) -> BTreeSet<(Kind, String)> {
    all.iter().map(|(kind, code)| (*kind, (*code).to_owned())).collect()
}

#[test]
fn entries_in_words() {
    let facts = fed();
    for (n, kind, says) in [
        (0, "delivery", "100 kg of potato delivered, lot L7"),
        (1, "delivery", "10 kg of potato delivered"),
        (3, "transfer_in", "8 kg of potato come from weir, stage trim"),
        (4, "transfer_out", "3 kg of potato gone to mill"),
        (5, "batch", "10 kg of potato put in, stage trim, 7 kg out of chill"),
        (6, "batch", "50 kg of potato put in, 36 kg out of trim, 19 kg out of chill, lot L7"),
        (7, "preparation", "20 kg of mash prepared"),
        (9, "waste", "2 kg of potato thrown away, stage chill, reason expired, daypart lunch"),
        (10, "waste", "3 kg of potato thrown away, reason recall"),
        (14, "sample", "potato of fries/one weighed: 206 g, 198 g"),
        (
            16,
            "stock_out",
            "potato ran out, from 2026-06-16T12:58:00+00:00, to 2026-06-16T13:03:00+00:00",
        ),
        (17, "stock_out", "mash ran out, from 2026-06-17T02:50:00+00:00"),
    ] {
        assert_eq!(facts.kind(Row::Entry(n)), Some(kind), "{n}");
        assert_eq!(facts.says(Row::Entry(n)).as_deref(), Some(says), "{n}");
    }
    assert_eq!((facts.kind(Row::Entry(99)), facts.says(Row::Entry(99))), (None, None));
}

#[test]
fn sales_and_tickets_in_words() {
    let facts = fed();
    let sale = |line| Row::Sale { batch: 0, line };
    let ticket = |line| Row::Ticket { batch: 0, line };
    for (row, kind, says) in [
        (
            sale(0),
            "sale",
            "10 × code 1 sold, at 2026-06-16T10:30:00+00:00, channel counter, net 30",
        ),
        (sale(1), "sale", "5 × code 1 sold, without salt, daypart dinner, channel window, net 15"),
        (sale(2), "sale", "3 × code 2 sold, net 27"),
        (
            sale(3),
            "sale",
            "2 × code 1 voided before making, with 4 × code 9, with 5 × code 77, daypart dinner, \
             channel counter, net 6",
        ),
        (ticket(0), "ticket", "placed 2026-06-16T10:00:00+00:00, never closed"),
        (
            ticket(1),
            "ticket",
            "placed 2026-06-16T10:10:00+00:00, handed off 2026-06-16T10:16:00+00:00",
        ),
        (
            ticket(2),
            "ticket",
            "placed 2026-06-16T15:40:00+00:00, promised 2026-06-16T15:55:00+00:00, never closed",
        ),
    ] {
        assert_eq!((facts.kind(row), facts.says(row).as_deref()), (Some(kind), Some(says)));
    }
    assert_eq!(facts.says(Row::Sale { batch: 1, line: 7 }), None);
}

#[test]
fn what_was_typed_with_the_count_in_words() {
    let facts = typed();
    for (row, kind, says) in [
        (Row::CountLine(1), "count_line", "1 kg of potato counted in cold-room, stage chill"),
        (Row::CountLine(2), "count_line", "1 kg of mash counted in cold-room"),
        (Row::UnitsSold(0), "units_sold", "7 × fries/one sold, daypart dinner, channel window"),
        (Row::UnitsSold(2), "units_sold", "3 × fries/one voided before making"),
        (Row::NetSales, "net_sales", "net sales of 52.25 typed"),
    ] {
        assert_eq!((facts.kind(row), facts.says(row).as_deref()), (Some(kind), Some(says)));
    }
    assert_eq!(fed().says(Row::NetSales), None);
    let outcomes = [
        (Outcome::RefundedAfterMaking, "refunded after making"),
        (Outcome::GivenAway, "given away"),
        (Outcome::StaffMeal, "made for staff"),
    ];
    assert!(outcomes.iter().all(|(of, says)| outcome(*of) == *says));
}

#[test]
fn the_documents_that_a_row_rests_on() {
    let (facts, catalog) = (fed(), catalog());
    for (row, all) in [
        (Row::Entry(0), documents(&[(Kind::Item, "potato")])),
        (Row::Entry(10), documents(&[(Kind::Item, "potato"), (Kind::Reason, "recall")])),
        (Row::Entry(14), documents(&[(Kind::Item, "potato"), (Kind::Product, "fries")])),
        (Row::CountLine(3), documents(&[(Kind::Item, "mash")])),
        (Row::NetSales, BTreeSet::new()),
        (Row::Ticket { batch: 0, line: 0 }, BTreeSet::new()),
    ] {
        assert_eq!(facts.rests_on(row, &catalog), all, "{row:?}");
    }
    // A product that nobody mapped, with an addition that somebody did. Of items those are named that
    // stand for what they are made from.
    let added = documents(&[(Kind::Addition, "more"), (Kind::Item, "dip")]);
    assert_eq!(facts.rests_on(Row::Sale { batch: 0, line: 5 }, &catalog), added);
    let meal = documents(&[(Kind::Product, "meal"), (Kind::Product, "fries")]);
    assert_eq!(facts.rests_on(Row::Sale { batch: 0, line: 2 }, &catalog), meal);
    assert_eq!(typed().rests_on(Row::UnitsSold(1), &catalog), meal);
}
