//! A week is read as it was packed. That it adds up to what its nights do, `gather::tests` says. All
//! examples are invented.

use proptest::prelude::*;

use super::*;
use crate::ids::{ChannelId, DaypartId, ReasonId, StageId};
use crate::money::Money;
use crate::quantity::Tallied;
use crate::rollup::{
    AgainstSales, BatchSum, ComparedSum, CountEnds, DoubtSum, KeptSum, RatioSum, UsedSum,
    ValuedSum, WasteSum,
};
use crate::tally::pack::{Dictionary, pack};
use crate::tally::{Day, Doubt, Night, SalesSource, WasteLine};
use crate::tickets::TicketTally;

fn monday() -> BusinessDate {
    BusinessDate::new(2026, 3, 2).expect("a date")
}

/// Every member is named, so that a new one does not compile until it is packed.
fn item_of(mut next: impl FnMut() -> i64) -> ItemSum {
    macro_rules! grams {
        () => {
            Tallied::from_thousandths(next())
        };
    }
    macro_rules! money {
        () => {
            Money::from_ten_thousandths(next())
        };
    }
    macro_rules! many {
        () => {
            next().unsigned_abs()
        };
    }
    let spans = 1 + many!();
    ItemSum {
        used: UsedSum {
            used: grams!(),
            made_into: grams!(),
            nights: many!(),
            used_cost: money!(),
            made_into_cost: money!(),
            cost_nights: many!(),
        },
        compared: ComparedSum {
            used: grams!(),
            made_into: grams!(),
            expected: grams!(),
            wasted: grams!(),
            yield_loss: grams!(),
            // These are known of whole runs alone.
            ends: CountEnds::default(),
            nights: many!(),
        },
        valued: ValuedSum {
            used: grams!(),
            used_cost: money!(),
            made_into_cost: money!(),
            expected_cost: money!(),
            variance_cost: money!(),
            wasted_cost: money!(),
            yield_loss_cost: money!(),
            nights: many!(),
        },
        // Which nights were asked for is not known yet.
        against_sales: AgainstSales { cost: money!(), sales: money!(), nights: 0 },
        food: AgainstSales { cost: money!(), sales: money!(), nights: 0 },
        doubtful: DoubtSum {
            spans,
            used_cost: money!(),
            by: Doubt::ALL.iter().map(|doubt| (*doubt, 1 + many!())).collect(),
        },
        restated: many!(),
        owner_changed: many!(),
        kept: KeptSum { nights: many!(), sales: money!(), sales_nights: many!() },
        days: many!(),
        waste: WasteSum {
            amount: grams!(),
            cost: money!(),
            safety: grams!(),
            safety_cost: money!(),
        },
        batches: BatchSum { out: grams!(), expected_out: grams!(), nights: many!() },
        // They stand apart, by their dates.
        samples: Samples::default(),
        price_effect: money!(),
        stock_out_minutes: many!(),
    }
}

fn night_of(mut next: impl FnMut() -> i64, squares: i128) -> NightSum {
    let nights = next().unsigned_abs();
    NightSum {
        sales: Money::from_ten_thousandths(next()),
        sales_nights: next().unsigned_abs(),
        waste: RatioSum {
            nights,
            numerator: next().into(),
            denominator: next().into(),
            numerator_squares: squares,
            denominator_squares: squares / 3,
            products: -squares / 7,
        },
        units: next().unsigned_abs(),
        units_nights: next().unsigned_abs(),
        wasted_cost: Money::from_ten_thousandths(next()),
        wasted_safety_cost: Money::from_ten_thousandths(next()),
        nights: next().unsigned_abs(),
        ticket_nights: next().unsigned_abs(),
    }
}

proptest! {
    #[test]
    fn every_sum_is_read_as_it_was_packed(
        numbers in prop::collection::vec(-1_000_000_000_000..1_000_000_000_000_i64, 64),
        squares in 0..1_i128 << 100,
    ) {
        let mut all = numbers.iter().copied().cycle();
        let item = item_of(|| all.next().unwrap_or_default());
        let mut read = item_sum(item_numbers(&item).expect("small"));
        read_doubts(doubt_numbers(&item).expect("small"), &mut read);
        prop_assert_eq!(read, item);

        let mut all = numbers.iter().copied().cycle();
        let night = night_of(|| all.next().unwrap_or_default(), squares);
        let mut read = night_sum(night_numbers(&night).expect("small"));
        read.waste = ratio_sum(read.waste.nights, ratio_numbers(&night.waste).expect("small"));
        prop_assert_eq!(read, night);
    }

    #[test]
    fn bytes_of_nobody_are_refused_and_harm_nothing(
        bytes in prop::collection::vec(any::<u8>(), 0..120), items in 0..4_usize,
    ) {
        let codes = ["leek", "oil", "rice", "salt"].map(|code| ItemId::new(code).expect("a code"));
        let codes = Codes { items: codes[..items].to_vec(), ..Codes::default() };
        // Whatever they are, this ends.
        let mut all = Items::default();
        let whole = [&[1][..], &bytes].concat();
        if visit(monday(), &codes, &whole, &mut all).is_ok() {
            prop_assert_eq!(all.0, items);
        }
    }
}

/// How many items were told of.
#[derive(Default)]
struct Items(usize);

impl Visit for Items {
    fn seen(&mut self, _: BusinessDate, _: &NightTally) {}

    fn night(&mut self, _: &NightSum) {}

    fn item(&mut self, place: usize, _: BusinessDate, _: &ItemWeek) {
        assert_eq!(place, self.0);
        self.0 += 1;
    }

    fn waste(&mut self, _: WasteKey, _: &WasteLines) {}

    fn daypart(&mut self, _: DaypartKey, _: &DaypartTally, _: u64, _: &[(u16, u64)]) {}
}

/// A Tuesday's night with one item, thrown away once, and two tickets.
fn tuesday() -> Night {
    let day = crate::tally::ItemDay {
        wasted: Tallied::from_thousandths(3_000),
        wasted_cost: Money::from_ten_thousandths(60),
        waste: vec![WasteLine {
            stage: StageId::new("cut").ok(),
            reason: ReasonId::new("dropped").expect("a code"),
            safety: false,
            daypart: None,
            amount: Tallied::from_thousandths(3_000),
            cost: Money::from_ten_thousandths(60),
        }],
        samples: Samples::from_parts(1, 2, 4),
        ..<_>::default()
    };
    let tickets = TicketTally {
        orders: 2,
        times: [300, 300].map(crate::tickets::Seconds).into_iter().collect(),
        with_target: 2,
        ..TicketTally::default()
    };
    let key = DaypartKey {
        daypart: DaypartId::new("lunch").expect("a code"),
        channel: ChannelId::new("desk").expect("a code"),
    };
    let tally = DaypartTally { units: 5, tickets, ..<_>::default() };
    let night = NightTally {
        counted: true,
        sales_source: SalesSource::Feed,
        sales: Some(Money::from_ten_thousandths(10)),
        wasted_cost: Money::from_ten_thousandths(60),
        items_left_out: 1,
        ..NightTally::default()
    };
    let leek = ItemId::new("leek").expect("a code");
    let day = Day {
        items: [(leek.clone(), day)].into(),
        dayparts: [(key, tally)].into(),
        night,
        kept: [leek].into(),
        ..Day::default()
    };
    Night { day, spans: BTreeMap::new() }
}

/// Bytes of version 1, worked out by hand from the description above; as long as weeks of it are kept,
/// they are read.
#[test]
fn golden_bytes_of_version_1() {
    let on = monday().succ();
    let night = pack(on, &tuesday()).expect("small figures");
    let codes = Dictionary::default().read(&night.codes.counted, &night.codes.others);
    let mut week = Week::of(monday());
    week.night(on, &codes.expect("codes"), &night.bytes).expect("a night");
    let packed = week.pack().expect("small figures");
    assert_eq!(packed.codes, "leek|dropped|cut|lunch|desk");
    let bytes = [
        // The version; of Tuesday that it is there, was counted and sold; one item was left out.
        &[1, 0b1000_0010, 0b10, 38, 2][..],
        // One night with sales of 10; no units, so one night less than nights; waste of 60; the rest as
        // it mostly is.
        &[0b11_0011, 2, 20, 1, 120],
        // 60 over 10; squared 3600 and 100; 600.
        &[0b1_1111, 120, 20, 160, 56, 200, 1, 176, 9],
        // The leek, of numbers 0, 1, 5, 17 and 20 to 23: kept on one night with sales of 10; no span, so one
        // night less than days, and 10 less of sales held against it; 3000 thrown away for 60, and in
        // spans so much less.
        &[0b1010_0011, 0b1000_0000, 0b1100_1000, 0b111, 2, 20, 1, 19, 240, 46, 120, 239, 46, 119],
        // No runs, nothing covered; portions weighed on one date, the one after the Monday.
        &[0b10_0000, 2, 2, 0b111, 2, 4, 8],
        // One kind of waste: dropped, cut, at no time; 3000 for 60, in one line.
        &[1, 0, 1, 0, 0b1110, 240, 46, 120, 2],
        // One daypart: lunch, desk; 5 units; 2 orders with a target, both after 300 seconds; on one night.
        &[1, 0, 0, 1, 10, 0b11, 4, 4, 1, 172, 2, 2, 1],
    ];
    assert_eq!(packed.bytes, bytes.concat());
}

#[test]
fn what_is_no_week_is_refused() {
    let none = Codes::default();
    let read = |bytes: &[u8]| visit(monday(), &none, bytes, &mut Items::default());
    assert_eq!(read(&[2]), Err(Unreadable::Version(2)));
    assert_eq!(read(&[1, 0, 0, 0, 0, 0]), Ok(()));
    assert_eq!(read(&[1, 0, 0, 0, 0, 0, 0]), Err(Unreadable::Follows));
    assert_eq!(read(&[1, 0, 0, 0, 1, 0, 0, 0, 0]), Err(Unreadable::Codes));
    let night = pack(monday(), &Night::default()).expect("nothing");
    let mut week = Week::of(monday());
    for date in [monday().pred(), monday().plus_days(7)] {
        assert_eq!(week.night(date, &none, &night.bytes), Err(Unreadable::Field));
    }
}
