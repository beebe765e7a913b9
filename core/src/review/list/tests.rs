//! Every sheet here is invented; expected figures are worked out by hand.

use super::*;
use crate::review::{Basis, Column, Figures, Labels, StoreNight, UnitCost};

const START: (i32, u32, u32) = (2026, 3, 2);

fn date(night: i64) -> BusinessDate {
    let (y, m, d) = START;
    BusinessDate::new(y, m, d).unwrap().plus_days(night)
}

/// A store of the sheet: name, format, use expected a night, beyond it in per mille by night.
struct Shop<'a>(&'a str, &'a str, f64, Box<dyn Fn(i64) -> Option<(Status, f64)>>);

fn steady(per_mille: f64) -> Box<dyn Fn(i64) -> Option<(Status, f64)>> {
    // A small even swing of one per mille, so that ranges have a width.
    Box::new(move |night| Some((Status::Open, per_mille + if night % 2 == 0 { 1.0 } else { -1.0 })))
}

fn sheet(nights: i64, shops: &[Shop<'_>]) -> Sheet {
    let mut labels = Labels::default();
    let district = labels.label("upper");
    let mut rows = Vec::new();
    for Shop(name, format, expected, beyond) in shops {
        let (store, format) = (labels.label(name), labels.label(format));
        for night in 0..nights {
            let Some((status, beyond)) = beyond(night) else { continue };
            let figures = Figures::default()
                .with(Column::Expected, *expected)
                .with(Column::Used, expected * (1.0 + beyond / 1000.0))
                .with(Column::Wasted, expected * 0.02);
            rows.push(StoreNight {
                store,
                district,
                format,
                date: date(night),
                status,
                lot: None,
                promotion: None,
                counted_by: None,
                figures,
            });
        }
    }
    Sheet::new(labels, UnitCost::new(0.5).unwrap(), &rows).unwrap()
}

fn reviewed(sheet: &Sheet) -> Reviewed {
    list(sheet, sheet.labels().find("upper").unwrap(), sheet.span().to()).unwrap()
}

fn find<'a>(reviewed: &'a Reviewed, sheet: &Sheet, name: &str) -> &'a Listed {
    let is = |one: &&Listed| sheet.labels().word(one.store) == name;
    reviewed.stores.iter().find(is).unwrap()
}

fn measure(listed: &Listed, measure: Measure) -> ListedMeasure {
    *listed.measures.iter().find(|looked| looked.measure == measure).unwrap()
}

/// Five peers at 10, 20, 30, 40 and 50 per mille: median 30, deviation 10. A sixth at 90 lies
/// 0.6745 × 60 ÷ 10 = 4.047 off, and takes 0.060 × 200 a night × 7 × 0.50 = 42.00 a week.
#[test]
fn a_store_against_five_peers() {
    let mut shops: Vec<Shop<'_>> = ["a", "b", "c", "d", "e"]
        .into_iter()
        .zip(1..)
        .map(|(name, n)| Shop(name, "counter", 200.0, steady(10.0 * f64::from(n))))
        .collect();
    shops.push(Shop("far", "counter", 200.0, steady(90.0)));
    let sheet = sheet(28, &shops);
    let found = reviewed(&sheet);
    assert_eq!(found.window.nights(), 28);
    assert_eq!(sheet.labels().word(found.stores[0].store), "far");
    let far = measure(&found.stores[0], Measure::Use);
    let peers = far.peers.unwrap();
    assert_eq!((peers.basis, peers.stores, far.nights), (Basis::FormatAndVolume, 5, 28));
    assert!((peers.values.centre() - 0.030).abs() < 1e-12);
    assert!((peers.z.unwrap() - 4.047).abs() < 1e-9, "{peers:?}");
    let (money, range) = found.stores[0].money_per_week.unwrap();
    assert!((money - 42.0).abs() < 1e-9 && range.contains(42.0) && range.high > range.low);
    assert!(far.stands_out() && far.past.is_none());
    let rank = found.stores[0].rank.unwrap();
    assert_eq!((rank.low, rank.high, rank.of), (6, 6, 6));
    // Waste is the same everywhere: it cannot be told how far is far.
    let waste = measure(&found.stores[0], Measure::Waste);
    assert_eq!(waste.peers.unwrap().z, None);
    // Nothing is known of batches and tickets.
    let batches = measure(&found.stores[0], Measure::Yield);
    assert_eq!((batches.value, batches.peers), (None, Err(Unranked::Unknown)));
}

/// Four of the format and volume, one more of the format, one of another: widened step by step.
#[test]
fn peers_are_widened_and_it_is_said() {
    let shop =
        |name, format, volume, n: i32| Shop(name, format, volume, steady(10.0 * f64::from(n)));
    let mut shops = vec![
        shop("own", "counter", 200.0, 3),
        shop("b", "counter", 200.0, 1),
        shop("c", "counter", 220.0, 2),
        shop("d", "counter", 180.0, 4),
        shop("e", "counter", 200.0, 5),
        shop("kiosk", "kiosk", 40.0, 6),
    ];
    let basis = |shops: &[Shop<'_>]| {
        let sheet = sheet(28, shops);
        measure(find(&reviewed(&sheet), &sheet, "own"), Measure::Use).peers.map(|p| p.basis)
    };
    assert_eq!(basis(&shops), Ok(Basis::Everyone));
    shops.push(shop("large", "counter", 900.0, 7));
    assert_eq!(basis(&shops), Ok(Basis::Format));
    shops.push(shop("f", "counter", 210.0, 8));
    assert_eq!(basis(&shops), Ok(Basis::FormatAndVolume));
    shops.truncate(5);
    assert_eq!(basis(&shops), Err(Unranked::NoPeers));
}

#[test]
fn new_stores_and_few_nights_are_not_ranked() {
    let mut shops: Vec<Shop<'_>> = ["a", "b", "c", "d", "e", "f"]
        .into_iter()
        .map(|name| Shop(name, "counter", 200.0, steady(20.0)))
        .collect();
    let since = |first: i64| move |night: i64| (night >= first).then_some((Status::Open, 400.0));
    shops.push(Shop("new", "counter", 200.0, Box::new(since(60))));
    let gaps = |night: i64| (night % 2 == 0).then_some((Status::Open, 300.0));
    shops.push(Shop("gaps", "counter", 200.0, Box::new(gaps)));
    let sheet = sheet(80, &shops);
    let found = reviewed(&sheet);
    let new = find(&found, &sheet, "new");
    assert!(new.is_new && new.rank == Err(Unranked::NewStore) && new.money_per_week.is_none());
    assert_eq!(measure(new, Measure::Use).peers, Err(Unranked::NewStore));
    let gaps = find(&found, &sheet, "gaps");
    assert_eq!(gaps.rank, Err(Unranked::TooFewNights));
    assert_eq!((gaps.nights.counted, gaps.nights.missing, gaps.nights.closed), (14, 14, 0));
    // Neither is anybody's peer.
    assert_eq!(measure(find(&found, &sheet, "a"), Measure::Use).peers.unwrap().stores, 5);
}

/// Eleven weeks at 10, 20, 30 per mille in turn, then one at 70: median of the eleven 20, their
/// deviation 10, so 0.6745 × 50 ÷ 10 = 3.3725.
#[test]
fn a_week_against_the_stores_own_past() {
    let weekly = |night: i64| {
        let week = night / 7;
        let beyond = if week == 11 { 70 } else { 10 * (1 + week % 3) };
        Some((Status::Open, beyond as f64))
    };
    let sheet = sheet(84, &[Shop("own", "counter", 200.0, Box::new(weekly))]);
    let past = measure(&reviewed(&sheet).stores[0], Measure::Use).past.unwrap();
    assert_eq!(past.weeks, 11);
    assert!((past.value - 0.070).abs() < 1e-12);
    assert!((past.z.unwrap() - 3.3725).abs() < 1e-9, "{past:?}");
}

/// Short days, nights left out and closed ones are in no rate.
#[test]
fn only_nights_relied_on_are_in_a_rate() {
    let mixed = |night: i64| {
        Some(match night % 7 {
            0 => (Status::Short, 900.0),
            1 => (Status::LeftOut, 900.0),
            2 => (Status::Closed, 900.0),
            _ => (Status::Open, 20.0),
        })
    };
    let sheet = sheet(28, &[Shop("own", "counter", 200.0, Box::new(mixed))]);
    let found = reviewed(&sheet);
    let looked = measure(&found.stores[0], Measure::Use);
    assert_eq!(looked.nights, 16);
    assert!((looked.value.unwrap() - 0.020).abs() < 1e-12);
    let nights = found.stores[0].nights;
    assert_eq!((nights.counted, nights.short, nights.left_out, nights.closed), (24, 4, 4, 4));
}

/// Of a store that began late 28 open nights are enough, and 27 are not; one that was there in the
/// sheet's first week is not new, however few it has.
#[test]
fn a_store_is_new_for_28_open_nights() {
    let since = |first: i64| {
        let open = move |night: i64| (night >= first).then_some((Status::Open, 20.0));
        let sheet = sheet(
            80,
            &[
                Shop("own", "counter", 200.0, Box::new(open)),
                Shop("old", "counter", 200.0, steady(20.0)),
            ],
        );
        find(&reviewed(&sheet), &sheet, "own").is_new
    };
    assert!(since(53) && !since(52));
    let begins = |first: i64| {
        let open = move |night: i64| (night >= first).then_some((Status::Open, 20.0));
        let sheet = sheet(
            30,
            &[
                Shop("own", "counter", 200.0, Box::new(open)),
                Shop("old", "counter", 200.0, steady(20.0)),
            ],
        );
        find(&reviewed(&sheet), &sheet, "own").is_new
    };
    assert!(begins(8) && !begins(7));
}

/// Two hundred tickets say something of speed, 199 do not; of use twenty nights do, and nineteen not.
#[test]
fn the_fewest_nights_and_tickets() {
    let peers = |nights: i64, tickets: f64| {
        let mut labels = Labels::default();
        let [district, format] = ["upper", "counter"].map(|word| labels.label(word));
        let mut rows = Vec::new();
        for at in 0..6 {
            let store = labels.label(&format!("store {at}"));
            for night in 0..28 {
                let all = if at == 0 && night == 0 { tickets } else { 10.0 };
                let counted = at > 0 || night < nights;
                let status = if counted { Status::Open } else { Status::Missing };
                let used = 200.0 + f64::from(at) + (night % 2) as f64;
                rows.push(StoreNight {
                    store,
                    district,
                    format,
                    date: date(night),
                    status,
                    lot: None,
                    promotion: None,
                    counted_by: None,
                    figures: Figures::default()
                        .with(Column::Expected, 200.0)
                        .with(Column::Used, used)
                        .with(Column::Tickets, all)
                        .with(Column::Late, 1.0),
                });
            }
        }
        let sheet = Sheet::new(labels, UnitCost::MONEY, &rows).unwrap();
        let found = reviewed(&sheet);
        let own = find(&found, &sheet, "store 0");
        let of = |of| measure(own, of).peers.map(|peers| peers.stores);
        (of(Measure::Use), of(Measure::Lateness), own.rank.is_ok())
    };
    // Nineteen more nights of ten tickets each are 190.
    let few = Err(Unranked::TooFewNights);
    assert_eq!(peers(20, 10.0), (Ok(5), Ok(5), true));
    assert_eq!(peers(20, 9.0), (Ok(5), few, true));
    assert_eq!(peers(19, 200.0), (few, few, false));
}
