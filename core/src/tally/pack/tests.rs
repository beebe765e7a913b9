use std::collections::{BTreeMap, BTreeSet};

use chrono::DateTime;
use proptest::prelude::*;

use super::*;
use crate::ids::{ChannelId, DaypartId, ReasonId, StageId};
use crate::quantity::Base;
use crate::tally::{Day, Doubt, ItemSpan, Opening, SpanNight, span};
use crate::tickets::{Seconds, TicketTally};
use crate::usage::Samples;

fn date() -> BusinessDate {
    BusinessDate::new(2026, 3, 2).expect("a date")
}

fn id(code: &str) -> ItemId {
    ItemId::new(code).expect("a code")
}

fn grams(thousandths: i64) -> Tallied {
    Tallied::from_thousandths(thousandths)
}

fn money(ten_thousandths: i64) -> Money {
    Money::from_ten_thousandths(ten_thousandths)
}

fn samples_of(weights: &[i64]) -> Samples {
    let mut all = Samples::default();
    for weight in weights {
        all.add(Base::new((*weight).into()), Base::new(200.into()));
    }
    all
}

/// Amounts of every length, zero often.
fn amount() -> impl Strategy<Value = i64> {
    prop_oneof![3 => Just(0), 2 => -500..500_i64, 2 => -90_000_000..90_000_000_i64,
        1 => -(1_i64 << 60)..(1_i64 << 60)]
}

fn waste() -> impl Strategy<Value = WasteLine> {
    (
        0..3_usize,
        prop::option::of(0..2_usize),
        prop::option::of(0..2_usize),
        any::<bool>(),
        amount(),
    )
        .prop_map(|(reason, stage, daypart, safety, amount)| WasteLine {
            reason: ReasonId::new(["expired", "dropped", "recall"][reason]).expect("a code"),
            stage: stage.map(|n| StageId::new(["chill", "trim"][n]).expect("a code")),
            daypart: daypart.map(|n| DaypartId::new(["dinner", "lunch"][n]).expect("a code")),
            safety,
            amount: grams(amount),
            cost: money(amount / 3),
        })
}

fn item_days() -> impl Strategy<Value = ItemDay> {
    let numbers = prop::collection::vec(amount(), ITEM_DAY.len());
    let counted = prop::option::of((amount(), amount()));
    let weights = prop::collection::vec(150..260_i64, 0..4);
    (numbers, counted, weights, prop::collection::vec(waste(), 0..3)).prop_map(
        |(numbers, counted, weights, waste)| {
            let numbers: [i64; ITEM_DAY.len()] = numbers.try_into().expect("as many");
            let mut day = item_day(numbers);
            day.count =
                counted.map(|(closing, sd)| Counted { closing: grams(closing), sd: grams(sd) });
            day.samples = samples_of(&weights);
            day.waste = waste;
            day
        },
    )
}

/// A span as any rule could make it: of the day with some nights before, or of nothing alike.
fn spans(day: ItemDay, sales: Option<Money>) -> impl Strategy<Value = EndedSpan> {
    let before = prop::collection::vec(item_days(), 0..3);
    (before, (amount(), amount()), any::<bool>(), prop::option::of(0..1_000_000_000_000_000_i64))
        .prop_map(move |(before, (opening, sd), known, restated)| {
            let nights: Vec<SpanNight<'_>> = before
                .iter()
                .chain([&day])
                .map(|item| SpanNight {
                    open: true,
                    sales_source: if known { SalesSource::Feed } else { SalesSource::None },
                    sales,
                    short: opening % 3 == 0,
                    item: Some(item),
                })
                .collect();
            let on = date().plus_days(-(nights.len() as i64));
            let count = Counted { closing: grams(opening >> 8), sd: grams(sd >> 8) };
            let closing = day.count.unwrap_or(count);
            let price = crate::money::UnitPrice::new("0.0009".parse().expect("a price")).ok();
            let made = span(Opening { on, count }, closing, &nights, price, &<_>::default());
            let restated_at =
                restated.map(|at| DateTime::from_timestamp_micros(at).expect("a moment"));
            EndedSpan { span: made, restated_at }
        })
}

fn small_days() -> impl Strategy<Value = ItemDay> {
    // What is added up over nights stays within the numbers.
    item_days().prop_map(|day| {
        let numbers = item_day_numbers(&day).expect("small").map(|number| number >> 24);
        ItemDay {
            count: day.count.map(|c| Counted {
                closing: grams(c.closing.thousandths() >> 24),
                sd: grams(c.sd.thousandths() >> 24),
            }),
            samples: day.samples,
            waste: day.waste,
            ..item_day(numbers)
        }
    })
}

fn dayparts() -> impl Strategy<Value = BTreeMap<DaypartKey, DaypartTally>> {
    let one = (0..3_usize, 0..2_usize, prop::collection::vec(0..20_000_u32, 0..6), amount());
    prop::collection::vec(one, 0..4).prop_map(|all| {
        all.into_iter()
            .map(|(daypart, channel, times, amount)| {
                let key = DaypartKey {
                    daypart: DaypartId::new(["lunch", "dinner", "late"][daypart]).expect("a code"),
                    channel: ChannelId::new(["counter", "window"][channel]).expect("a code"),
                };
                let tickets = TicketTally {
                    orders: times.len() as u64 + 3,
                    with_target: times.len() as u64,
                    timed_late: 1,
                    never_closed: 2,
                    lump_closed: 1,
                    times: times.into_iter().map(Seconds).collect(),
                };
                let units = amount.unsigned_abs();
                (key, DaypartTally { units, sales: money(amount), tickets, stock_out_minutes: 7 })
            })
            .collect()
    })
}

fn nights() -> impl Strategy<Value = Night> {
    let items = prop::collection::btree_map(0..9_usize, small_days(), 0..6);
    let kept = prop::collection::btree_set(0..9_usize, 0..9);
    let known = (prop::option::of(amount()), prop::option::of(0..9_000_u64));
    (items, kept, known, dayparts(), amount()).prop_flat_map(
        |(items, kept, (sales, units), dayparts, cost)| {
            let codes = ["bun", "cabbage", "egg", "leek", "lime", "oil", "onion", "potato", "rice"];
            let name = |n: usize| id(codes[n]);
            let items: BTreeMap<ItemId, ItemDay> = items
                .into_iter()
                .filter(|(_, item)| *item != ItemDay::default())
                .map(|(n, item)| (name(n), item))
                .collect();
            let sales = sales.map(money);
            let night = NightTally {
                counted: true,
                items_due: 9,
                items_counted: items.len() as u64,
                sales_source: if sales.is_some() { SalesSource::Typed } else { SalesSource::None },
                sales,
                units,
                wasted_cost: money(cost),
                unmapped_units: 3,
                short: cost > 0,
                ..NightTally::default()
            };
            let ended: Vec<_> = items
                .iter()
                .filter(|(_, item)| item.count.is_some())
                .map(|(id, item)| (Just(id.clone()), spans(item.clone(), sales)))
                .collect();
            let kept: BTreeSet<ItemId> = kept.into_iter().map(name).collect();
            let day = Day { items, dayparts, night, kept, unmapped: BTreeMap::new() };
            ended.prop_map(move |spans| Night {
                day: day.clone(),
                spans: spans.into_iter().collect(),
            })
        },
    )
}

fn read(packed: &Packed) -> Result<Night, Unreadable> {
    let codes = Dictionary::default().read(&packed.codes.counted, &packed.codes.others)?;
    unpack(date(), &codes, &packed.bytes)
}

proptest! {
    #[test]
    fn every_night_is_read_as_it_was_packed(night in nights()) {
        let packed = pack(date(), &night).expect("no kitchen has larger figures");
        prop_assert_eq!(read(&packed), Ok(night.clone()));
        // The items that were counted stand in the first list, and no others.
        for (id, item) in &night.day.items {
            let found = packed.codes.counted.contains(&format!(" {id} "));
            prop_assert_eq!(found, item.count.is_some());
        }
    }

    #[test]
    fn no_bytes_of_any_kind_are_read_as_more_than_they_are(
        night in nights(), at in any::<prop::sample::Index>(), byte in any::<u8>(),
    ) {
        let mut packed = pack(date(), &night).expect("no kitchen has larger figures");
        let mut cut = packed.clone();
        cut.bytes.pop();
        prop_assert!(read(&cut).is_err());
        cut.bytes = packed.bytes.clone();
        cut.bytes.push(0);
        prop_assert_eq!(read(&cut), Err(Unreadable::Follows));
        // Whatever a byte is turned into, reading ends, and does not panic.
        let at = at.index(packed.bytes.len());
        packed.bytes[at] = byte;
        let _ = read(&packed).map(|night| night.day.items.len());
    }
}

/// An invented night: potatoes delivered, sold, thrown away and counted; oil that was not.
fn worked_night() -> Night {
    let line = WasteLine {
        stage: Some(StageId::new("chill").expect("a code")),
        reason: ReasonId::new("expired").expect("a code"),
        safety: false,
        daypart: None,
        amount: grams(2_077_000),
        cost: money(18_277),
    };
    let potato = ItemDay {
        received: grams(68_040_000),
        expected: grams(51_537_000),
        expected_cost: money(453_526),
        wasted: grams(2_077_000),
        wasted_cost: money(18_277),
        waste: vec![line],
        count: Some(Counted { closing: grams(150_675_000), sd: grams(800_000) }),
        samples: samples_of(&[206, 198]),
        ..ItemDay::default()
    };
    let sales = Some(money(6_525_000));
    let opening = Counted { closing: grams(139_329_000), sd: grams(800_000) };
    let opening = Opening { on: date().pred(), count: opening };
    let night = SpanNight {
        open: true,
        sales_source: SalesSource::Typed,
        sales,
        short: false,
        item: Some(&potato),
    };
    let price = crate::money::UnitPrice::new("0.00088".parse().expect("a price")).ok();
    let closing = potato.count.expect("a count");
    let ended: ItemSpan = span(opening, closing, &[night], price, &<_>::default());
    let key = DaypartKey {
        daypart: DaypartId::new("dinner").expect("a code"),
        channel: ChannelId::new("counter").expect("a code"),
    };
    let tickets = TicketTally {
        orders: 3,
        with_target: 3,
        timed_late: 1,
        times: [Seconds(310), Seconds(310), Seconds(1_203)].into_iter().collect(),
        ..TicketTally::default()
    };
    let dinner =
        DaypartTally { units: 225, sales: money(6_525_000), tickets, stock_out_minutes: 0 };
    let tally = NightTally {
        counted: true,
        items_due: 2,
        items_counted: 1,
        partial: true,
        sales_source: SalesSource::Typed,
        sales,
        units: Some(225),
        wasted_cost: money(18_277),
        ..NightTally::default()
    };
    let day = Day {
        items: [(id("potato"), potato)].into(),
        dayparts: [(key, dinner)].into(),
        night: tally,
        kept: [id("oil"), id("potato")].into(),
        unmapped: BTreeMap::new(),
    };
    let restated_at = DateTime::from_timestamp_micros(1_772_500_000_000_000);
    Night { day, spans: [(id("potato"), EndedSpan { span: ended, restated_at })].into() }
}

/// What the first version wrote is read for ever.
#[test]
fn golden_bytes_of_version_1() {
    const GOLDEN: &str = include_str!("golden-1.txt");
    let packed = pack(date(), &worked_night()).expect("small figures");
    let hex: String = packed.bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let now = format!("{}\n{}\n{hex}\n", packed.codes.counted, packed.codes.others);
    assert_eq!(now, GOLDEN);
    let lines: Vec<&str> = GOLDEN.lines().collect();
    let bytes = (0..lines[2].len()).step_by(2);
    let bytes = bytes.map(|n| u8::from_str_radix(&lines[2][n..n + 2], 16).expect("hex")).collect();
    let codes = CodesText { counted: lines[0].to_owned(), others: lines[1].to_owned() };
    assert_eq!(read(&Packed { codes, bytes }), Ok(worked_night()));
}

#[test]
fn what_is_too_large_is_not_kept() {
    let mut night = worked_night();
    night.day.night.sales = Some(money(i64::MAX));
    assert_eq!(pack(date(), &night), Err(TooLarge));
}

#[test]
fn what_no_rule_wrote_is_not_read() {
    let mut packed = pack(date(), &worked_night()).expect("small figures");
    packed.bytes[0] = 9;
    assert_eq!(read(&packed), Err(Unreadable::Version(9)));
    let mut packed = pack(date(), &worked_night()).expect("small figures");
    packed.codes.others = packed.codes.others.replace('|', "");
    assert_eq!(read(&packed), Err(Unreadable::Codes));
    packed.codes.others = "Oil|expired|chill|dinner|counter".to_owned();
    assert_eq!(read(&packed), Err(Unreadable::Codes));
}

/// Invented: each part under the names of its numbers, doubts as bits.
#[test]
fn parts_are_listed_under_their_names() {
    let mut night = worked_night();
    let ended = night.spans.values_mut().next().expect("a span");
    ended.span.doubts = [Doubt::NegativeUse, Doubt::ShortDays].into();
    let listed = list(date(), &night).expect("small figures");
    let number = |part: Part, codes: &[&str], name: &str| {
        let found = listed.iter().find(|one| one.part == part && one.codes == codes);
        let at = part.columns().iter().position(|column| *column == name).expect(name);
        found.map(|one| one.numbers[at])
    };
    assert_eq!(number(Part::Night, &[], "sales"), Some(6_525_000));
    assert_eq!(number(Part::Night, &[], "known"), Some(0b11));
    assert_eq!(number(Part::Item, &["potato"], "received"), Some(68_040_000));
    assert_eq!(number(Part::Item, &["potato"], "closing_sd"), Some(800_000));
    assert_eq!(number(Part::Item, &["potato"], "samples"), Some(2));
    assert_eq!(number(Part::Item, &["oil"], "bits"), Some(KEPT as i64));
    let waste = ["potato", "expired", "chill", ""];
    assert_eq!(number(Part::Waste, &waste, "cost"), Some(18_277));
    // 139.329 + 68.040 − 150.675 kg.
    assert_eq!(number(Part::Span, &["potato"], "used"), Some(56_694_000));
    assert_eq!(number(Part::Span, &["potato"], "doubts"), Some(0b1001));
    assert_eq!(number(Part::Daypart, &["dinner", "counter"], "late"), Some(1));
    let times = listed.iter().filter(|one| one.part == Part::Times);
    assert_eq!(times.map(|one| one.numbers.clone()).collect::<Vec<_>>(), [[310, 2], [960, 1]]);
    assert!(Part::ALL.iter().all(|part| Part::from_word(part.word()) == Some(*part)));
}

/// The database reads nights by what the newest migration of its name made.
#[test]
fn the_newest_migration_has_what_is_written_for_the_database() {
    let text = include_str!("../../../../migrations/2026-11-30-000033_unpack/up.sql");
    assert!(text == sql(), "`UPDATE=1` with the tests of the whole writes it anew");
}
