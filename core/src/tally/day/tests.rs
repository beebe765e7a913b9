//! Invented nights, worked out by hand from what is recorded.

use serde_json::json;

use super::*;
use crate::tally::worked::{catalog, date, entries, fed, item, kg, read, typed};
use crate::tally::{NightTally, orders};
use crate::tickets::{Seconds, TicketTally};
use crate::usage::Samples;

fn added_up(facts: &DayFacts) -> Result<Day, TallyError> {
    let catalog = catalog();
    let settings = catalog.settings.as_ref().expect("settings");
    let ford = StoreId::new("ford").expect("a code");
    day(facts, &catalog, settings, &ford, &catalog.stores[&ford], date())
}

/// Thousandths of a gram.
fn grams(grams: i64) -> Tallied {
    Tallied::from_thousandths(grams * 1_000)
}

fn money(ten_thousandths: i64) -> Money {
    Money::from_ten_thousandths(ten_thousandths)
}

fn of(daypart: &str, channel: &str) -> DaypartKey {
    let channel = match channel {
        "every" => ChannelId::every(),
        "unknown" => ChannelId::unknown(),
        code => ChannelId::new(code).expect("a code"),
    };
    let daypart = match daypart {
        "outside" => DaypartId::outside(),
        "unknown" => DaypartId::unknown(),
        code => DaypartId::new(code).expect("a code"),
    };
    DaypartKey { daypart, channel }
}

fn wasted(
    (stage, reason, safety, daypart): (Option<&str>, &str, bool, Option<&str>),
    (amount, cost): (i64, i64),
) -> WasteLine {
    WasteLine {
        stage: stage.map(|code| StageId::new(code).expect("a code")),
        reason: crate::ids::ReasonId::new(reason).expect("a code"),
        safety,
        daypart: daypart.map(|code| DaypartId::new(code).expect("a code")),
        amount: grams(amount),
        cost: money(cost),
    }
}

#[test]
fn the_items_of_a_fed_night() {
    let found = added_up(&fed()).expect("facts that fit");
    let potato = ItemDay {
        received: grams(130_000),
        // 100 kg cost 5.00 more than at the standard price, 20 kg cost 1.00 less; of 10 kg nobody knows.
        price_effect: money(40_000),
        // 8 kg trimmed were 10 kg.
        transferred_in: grams(10_000),
        transferred_out: grams(3_000),
        made: Tallied::ZERO,
        // 20 kg of mash take 8 kg trimmed.
        made_into: grams(10_000),
        made_into_cost: money(90_000),
        // Fries take 500 g: 12 and 1 of them, 5 without salt, 2 in each of 3 meals; 50 g in each of 6
        // additions.
        expected: grams(12_300),
        expected_cost: money(110_700),
        wasted: grams(9_000),
        wasted_cost: money(81_000),
        wasted_safety: grams(3_000),
        wasted_safety_cost: money(27_000),
        waste: vec![
            wasted((None, "recall", true, None), (3_000, 27_000)),
            // 2.4 kg chilled.
            wasted((Some("chill"), "expired", false, Some("lunch")), (6_000, 54_000)),
        ],
        // 10 kg trimmed gave 7 kg where 5 are the standard; 50 kg gave 19 kg where 20 are.
        batch_in: grams(60_000),
        batch_out: grams(26_000),
        batch_expected_out: grams(25_000),
        yield_loss: grams(-2_500),
        yield_loss_cost: money(-22_500),
        // 1.03, 0.99 and 1.05 of 200 g, and their squares.
        samples: Samples::from_parts(3, 3_070_000, 3_143_500_000_000),
        // The first batch gave 0.7 of what went in, and can give 0.6.
        over_cap: true,
        stock_out_minutes: 5,
        // Two bags and 1 kg; 6 kg chilled were 15.
        count: Some(Counted { closing: grams(56_000), sd: grams(1_120) }),
    };
    let mash = ItemDay {
        made: grams(20_000),
        expected: grams(300),
        expected_cost: money(1_350),
        wasted: grams(3_000),
        wasted_cost: money(13_500),
        wasted_safety: grams(2_000),
        wasted_safety_cost: money(9_000),
        waste: vec![
            wasted((None, "expired", false, None), (1_000, 4_500)),
            wasted((None, "recall", true, None), (2_000, 9_000)),
        ],
        stock_out_minutes: 14,
        count: Some(Counted { closing: grams(9_000), sd: grams(150) }),
        ..ItemDay::default()
    };
    // 2 g with each of 13 fries and of 6 in meals, and a fifth of 60 g of dip.
    let salt = ItemDay { expected: grams(50), expected_cost: money(250), ..ItemDay::default() };
    let items = [("mash", mash), ("potato", potato), ("salt", salt)];
    for (code, expected) in items.clone() {
        assert_eq!(found.items.get(&item(code)), Some(&expected), "{code}");
    }
    assert_eq!(found.items.len(), items.len());
}

#[test]
fn the_sales_and_tickets_of_a_fed_night() {
    let found = added_up(&fed()).expect("facts that fit");
    let sold = |units: u64, sales: i64| DaypartTally {
        units,
        sales: money(sales),
        ..DaypartTally::default()
    };
    let timed = |orders: u64, times: &[u32]| TicketTally {
        orders,
        times: times.iter().copied().map(Seconds).collect(),
        ..TicketTally::default()
    };
    let out = |minutes| DaypartTally { stock_out_minutes: minutes, ..DaypartTally::default() };
    let expected = [
        (
            of("lunch", "counter"),
            DaypartTally {
                tickets: TicketTally { with_target: 2, timed_late: 1, ..timed(2, &[240, 360]) },
                ..sold(6, 80_000)
            },
        ),
        (of("dinner", "counter"), sold(12, 365_000)),
        (
            of("dinner", "window"),
            DaypartTally {
                tickets: TicketTally { never_closed: 1, ..timed(2, &[300]) },
                ..sold(6, 150_000)
            },
        ),
        (of("unknown", "unknown"), sold(3, 270_000)),
        (
            of("outside", "unknown"),
            DaypartTally { tickets: timed(1, &[120]), ..DaypartTally::default() },
        ),
        (of("lunch", "every"), out(2)),
        (of("outside", "every"), out(17)),
    ];
    assert_eq!(found.dayparts, expected.into());
    assert_eq!(found.unmapped, [("55".to_owned(), 6), ("66".to_owned(), 7)].into());
    let night = NightTally {
        counted: true,
        partial: true,
        items_due: 5,
        items_counted: 2,
        items_left_out: 1,
        sales_source: SalesSource::Feed,
        sales: Some(money(865_000)),
        units: Some(27),
        wasted_cost: money(94_500),
        wasted_safety_cost: money(36_000),
        unmapped_units: 13,
        short: true,
    };
    assert_eq!(found.night, night);
    let kept = ["leek", "mash", "oil", "onion", "potato", "salt"].map(item);
    assert_eq!(found.kept, kept.into());
}

#[test]
fn the_rows_behind_the_sales_and_orders_of_a_fed_night() {
    let facts = fed();
    let sale = |batch, line, taken| (Row::Sale { batch, line }, money(taken));
    let expected = [
        sale(0, 1, 150_000),
        sale(0, 2, 270_000),
        sale(0, 3, 0),
        sale(0, 4, 0),
        sale(0, 5, 80_000),
        sale(0, 6, 0),
        sale(1, 0, 365_000),
    ];
    assert_eq!(takings(&facts), expected);
    let ticket = |batch, line| Row::Ticket { batch, line };
    assert_eq!(
        orders(&facts),
        [ticket(0, 1), ticket(0, 2), ticket(0, 3), ticket(0, 4), ticket(1, 0)]
    );
}

#[test]
fn a_typed_night() {
    let facts = typed();
    let found = added_up(&facts).expect("facts that fit");
    let night = NightTally {
        counted: true,
        // Four of five were counted, and one is left out: nothing is left to answer.
        partial: false,
        items_due: 5,
        items_counted: 4,
        items_left_out: 1,
        sales_source: SalesSource::Typed,
        sales: Some(money(522_500)),
        units: Some(9),
        short: true,
        ..NightTally::default()
    };
    assert_eq!(found.night, night);
    let tally = |units, sales| DaypartTally { units, sales: money(sales), ..<_>::default() };
    let dayparts =
        [(of("dinner", "window"), tally(7, 0)), (of("unknown", "unknown"), tally(2, 522_500))];
    assert_eq!(found.dayparts, dayparts.into());
    // 7 fries and 2 meals with 2 fries each.
    for (code, amount, cost) in [("potato", 5_500, 49_500), ("salt", 22, 110), ("mash", 200, 900)] {
        let day = &found.items[&item(code)];
        assert_eq!((day.expected, day.expected_cost), (grams(amount), money(cost)), "{code}");
    }
    assert_eq!(takings(&facts), [(Row::NetSales, money(522_500))]);
}

#[test]
fn a_night_of_which_nothing_is_known() {
    let found = added_up(&DayFacts::default()).expect("nothing");
    let night = NightTally { items_due: 5, short: true, ..NightTally::default() };
    assert_eq!((found.night, found.items.len(), found.dayparts.len()), (night, 0, 0));
}

/// A fact that does not fit is named with the store, the date and what is wrong.
#[test]
fn facts_that_do_not_fit_say_why() {
    let entry = |body| DayFacts { entries: entries(&[body]), ..DayFacts::default() };
    let ticket = json!({ "tickets": [{ "id": "t", "placed": "2026-06-16T10:00:00Z",
        "handed_off": "2026-06-16T09:00:00Z" }] });
    let line = json!({ "item": "potato", "place": "dry-store",
        "quantity": { "value": "1", "unit": "box" } });
    for (facts, cause) in [
        (
            entry(json!({ "kind": "sample", "product": "fries", "size": "one", "item": "mash",
                "weights": [kg("1")] })),
            "the recipe of fries/one has no line for mash",
        ),
        (
            entry(json!({ "kind": "delivery", "item": "ghost", "quantity": kg("1") })),
            "there is no \"ghost\" under items on that date",
        ),
        (
            entry(json!({ "kind": "delivery", "item": "potato", "quantity": kg("0"),
                "paid": "1.00" })),
            "a price must be for some quantity above zero, not for 0",
        ),
        (
            DayFacts { till: vec![read(ticket)], ..DayFacts::default() },
            "a ticket cannot be handed off before it is placed",
        ),
        (
            DayFacts {
                count: Some(read(json!({ "complete": true, "lines": [line] }))),
                ..DayFacts::default()
            },
            "potato has no pack \"box\": it has bag",
        ),
    ] {
        let says = added_up(&facts).expect_err(cause).to_string();
        assert_eq!(says, format!("facts of ford on 2026-06-16 cannot be tallied: {cause}"));
    }
}

/// Trimming can leave 0.9 at most, and a scale may be off by one in a hundred of that.
#[test]
fn more_than_can_come_out_is_over_the_cap() {
    let catalog = catalog();
    for (put_in, out, over) in [
        ("10", "9.09", false),
        ("10", "9.1", true),
        // More than twice what went in is no yield at all; nothing of nothing is none either.
        ("10", "30", true),
        ("0", "1", true),
        ("0", "0", false),
    ] {
        let (put_in, out): (Typed, Typed) = (read(kg(put_in)), read(kg(out)));
        let steps = [Step { stage: StageId::new("trim").expect("a code"), out }];
        let found = over_cap(&catalog, &item("potato"), None, &put_in, &steps);
        assert_eq!(found.expect("an item").is_some(), over, "{put_in} gave {}", steps[0].out);
    }
}
