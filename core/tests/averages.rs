//! Never an average of averages, on real data: groups of open data sets are loaded as stores. What
//! is merged equals what is pooled; the mean of the stores' own figures is another number.
//!
//! Sources, and how they were obtained: `data/README.md`.

use std::collections::BTreeMap;

use parings_core::money::Money;
use parings_core::rollup::RatioSum;
use parings_core::stats::{Percentile, nearest_rank};
use parings_core::tickets::{Histogram, Seconds};

/// The columns of a table, without its head.
fn rows(table: &str) -> impl Iterator<Item = (&str, u32, u32)> {
    table.lines().skip(1).map(|line| {
        let mut columns = line.split(',');
        let mut next = || columns.next().unwrap_or_else(|| panic!("a column is missing: {line}"));
        (next(), next().parse().unwrap(), next().parse().unwrap())
    })
}

/// Times by store, from rows of store, time and how many there were.
fn counted(table: &'static str, unit: u32) -> BTreeMap<&'static str, Vec<u32>> {
    let mut stores: BTreeMap<_, Vec<u32>> = BTreeMap::new();
    for (store, time, many) in rows(table) {
        stores.entry(store).or_default().extend((0..many).map(|_| time * unit));
    }
    stores
}

fn rides() -> BTreeMap<&'static str, Vec<u32>> {
    counted(include_str!("data/rides.csv"), 1)
}

fn delays() -> BTreeMap<&'static str, Vec<u32>> {
    counted(include_str!("data/delays.csv"), 60)
}

/// Bills in cents, by day of the week.
fn bills() -> BTreeMap<&'static str, Vec<u32>> {
    let mut stores: BTreeMap<_, Vec<u32>> = BTreeMap::new();
    for (day, bill, _) in rows(include_str!("data/bills.csv")) {
        stores.entry(day).or_default().push(bill);
    }
    stores
}

fn histogram(times: &[u32]) -> Histogram {
    times.iter().map(|time| Seconds(*time)).collect()
}

/// The bin of a time.
fn bin(time: u32) -> u16 {
    histogram(&[time]).to_pairs()[0].0
}

fn exact(times: impl IntoIterator<Item = u32>, p: Percentile) -> u32 {
    let mut sorted: Vec<u32> = times.into_iter().collect();
    sorted.sort_unstable();
    nearest_rank(&sorted, p).unwrap()
}

/// Checks every percentile in question against `pooled`, the values of all stores in one heap.
fn merged_is_pooled(stores: &BTreeMap<&str, Vec<u32>>, pooled: [(u16, u32); 5]) {
    let merged =
        stores.values().fold(Histogram::default(), |all, times| all.merge(&histogram(times)));
    let mut averages_off = 0;
    for (per_mille, expected) in pooled {
        let p = Percentile::per_mille(per_mille).unwrap();
        assert_eq!(exact(stores.values().flatten().copied(), p), expected, "{p:?}");
        let Seconds(found) = merged.percentile(p).unwrap();
        assert_eq!(bin(found), bin(expected), "{p:?}: {found} for {expected}");

        let own = stores.values().map(|times| u64::from(exact(times.iter().copied(), p)));
        let mean = own.sum::<u64>() / stores.len() as u64;
        averages_off += u32::from(bin(mean as u32).abs_diff(bin(expected)) > 1);
    }
    // Of five percentiles, the mean of the stores' own misses at least four by more than a bin.
    assert!(averages_off >= 4, "{averages_off}");
}

/// Pooled values recomputed with Python: `sorted(values)[ceil(p * n) - 1]`.
#[test]
fn hires_by_station() {
    let pooled = [(500, 351), (750, 584), (900, 1_077), (950, 1_641), (990, 4_221)];
    let stores = rides();
    assert_eq!((stores.len(), stores.values().map(Vec::len).sum()), (52, 4_268));
    merged_is_pooled(&stores, pooled);
}

/// As above. The last one is 4 hours or longer.
#[test]
fn delays_by_carrier() {
    let pooled = [(500, 1_140), (750, 3_000), (900, 6_180), (950, 8_880), (990, 15_120)];
    let stores = delays();
    assert_eq!((stores.len(), stores.values().map(Vec::len).sum()), (16, 128_432));
    merged_is_pooled(&stores, pooled);
}

/// As above, in cents.
#[test]
fn bills_by_day() {
    let pooled = [(500, 1_778), (750, 2_408), (900, 3_240), (950, 3_807), (990, 4_827)];
    let stores = bills();
    assert_eq!((stores.len(), stores.values().map(Vec::len).sum()), (4, 244));
    merged_is_pooled(&stores, pooled);
}

/// Tips over bills: 15.1536 % of all bills together, while the four days' own ratios have a mean of
/// 15.3660 % (both recomputed with Python).
#[test]
fn a_ratio_of_sums_is_that_of_the_pooled() {
    let cents = |cents: u32| Money::from_ten_thousandths(i64::from(cents) * 100);
    let mut days: BTreeMap<&str, RatioSum> = BTreeMap::new();
    let mut pooled = RatioSum::default();
    for (day, bill, tip) in rows(include_str!("data/bills.csv")) {
        let one = RatioSum::of_money(cents(tip), cents(bill));
        let sum = days.entry(day).or_default();
        *sum = sum.merge(&one);
        pooled = pooled.merge(&one);
    }
    let merged = days.values().fold(RatioSum::default(), |all, day| all.merge(day));
    assert_eq!(merged, pooled);
    assert_eq!((merged.numerator, merged.denominator), (7_315_800, 48_277_700));
    let ratio = merged.value().unwrap();
    assert!((ratio - 0.151_535_802_244_100_24).abs() < 1e-12, "{ratio}");
    let mean: f64 = days.values().map(|day| day.value().unwrap()).sum::<f64>() / 4.0;
    assert!((mean - 0.153_659_714_661_934_15).abs() < 1e-12, "{mean}");
}
