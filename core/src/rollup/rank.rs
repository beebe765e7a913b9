use crate::stats::Interval;

/// Which values are the better ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// Low ones, as of waste.
    Low,
    /// High ones, as of batch yield.
    High,
}

/// A child as it enters a ranking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// The range its value lies in; none where nobody can tell.
    pub range: Option<Interval>,
    /// The nights its value comes from.
    pub nights: u64,
    /// Whether its data are doubtful.
    pub doubtful: bool,
}

/// The ranks that are plausible for a child, from 1 for the best.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rank {
    /// One more than there are children that are certainly better.
    pub low: u32,
    /// Those ranked, less the children that are certainly worse.
    pub high: u32,
    /// How many are ranked.
    pub of: u32,
}

/// The plausible ranks of each child, in the order given.
///
/// One child is certainly better than another when their ranges have nothing in common. A child
/// without a range, with doubtful data or with fewer than the least nights has no rank and is not
/// counted among those ranked: a small store is not put last for being small.
///
/// ```
/// use parings_core::rollup::{Better, Compared, ranks};
/// use parings_core::stats::Interval;
/// let store = |low, high| {
///     Compared { range: Some(Interval { low, high }), nights: 28, doubtful: false }
/// };
/// // Waste of sales in per mille. Two that cannot be told apart, and one that is worse.
/// let stores = [store(3.0, 5.0), store(4.0, 7.0), store(8.0, 9.0)];
/// let found: Vec<_> =
///     ranks(&stores, Better::Low, 10).into_iter().flatten().map(|r| (r.low, r.high)).collect();
/// assert_eq!(found, [(1, 2), (1, 2), (3, 3)]);
/// ```
pub fn ranks(children: &[Compared], better: Better, least_nights: u64) -> Vec<Option<Rank>> {
    let range =
        |child: &Compared| child.range.filter(|_| !child.doubtful && child.nights >= least_nights);
    let ranked: Vec<Interval> = children.iter().filter_map(range).collect();
    let many = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    let of = many(ranked.len());
    let rank = |own: Interval| {
        let below = many(ranked.iter().filter(|other| other.high < own.low).count());
        let above = many(ranked.iter().filter(|other| other.low > own.high).count());
        let (ahead, behind) = match better {
            Better::Low => (below, above),
            Better::High => (above, below),
        };
        Rank { low: 1 + ahead, high: of - behind, of }
    };
    children.iter().map(|child| range(child).map(rank)).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn child(value: f64, half: f64) -> Compared {
        let range = Some(Interval { low: value - half, high: value + half });
        Compared { range, nights: 28, doubtful: false }
    }

    #[test]
    fn who_cannot_be_compared_is_not_ranked() {
        let good = child(1.0, 0.1);
        let few = Compared { nights: 9, ..child(2.0, 0.1) };
        let doubtful = Compared { doubtful: true, ..child(3.0, 0.1) };
        let unknown = Compared { range: None, ..good };
        let children = [few, good, doubtful, unknown, child(4.0, 0.1)];
        let rank = |low, high| Some(Rank { low, high, of: 2 });
        let found = ranks(&children, Better::Low, 10);
        assert_eq!(found, [None, rank(1, 1), None, None, rank(2, 2)]);
        let found = ranks(&children, Better::High, 10);
        assert_eq!(found, [None, rank(2, 2), None, None, rank(1, 1)]);
        assert!(ranks(&[], Better::Low, 10).is_empty());
    }

    /// Ranges that touch are not certainly apart.
    #[test]
    fn touching_ranges_are_not_told_apart() {
        let found = ranks(&[child(1.0, 0.5), child(2.0, 0.5)], Better::Low, 1);
        assert!(found.iter().all(|rank| *rank == Some(Rank { low: 1, high: 2, of: 2 })));
    }

    /// Values with half the widths of their ranges.
    fn children() -> impl Strategy<Value = Vec<(f64, f64)>> {
        proptest::collection::vec((-50.0..50.0f64, 0.0..20.0f64), 1..14)
    }

    fn made(children: &[(f64, f64)], scale: f64) -> Vec<Compared> {
        children.iter().map(|(value, half)| child(*value, half * scale)).collect()
    }

    fn better() -> impl Strategy<Value = Better> {
        prop_oneof![Just(Better::Low), Just(Better::High)]
    }

    proptest! {
        #[test]
        fn the_rank_by_value_is_plausible(all in children(), better in better()) {
            let found = ranks(&made(&all, 1.0), better, 1);
            for ((value, _), rank) in all.iter().zip(found) {
                let rank = rank.unwrap();
                let ahead = |other: f64| match better {
                    Better::Low => other < *value,
                    Better::High => other > *value,
                };
                let point = 1 + all.iter().filter(|(other, _)| ahead(*other)).count() as u32;
                prop_assert!((rank.low..=rank.high).contains(&point), "{point} in {rank:?}");
                prop_assert!(1 <= rank.low && rank.high <= rank.of);
                prop_assert_eq!(rank.of as usize, all.len());
            }
        }

        #[test]
        fn narrower_ranges_never_widen_a_rank(
            all in children(), better in better(), scale in 0.0..1.0f64,
        ) {
            let (wide, narrow) = (made(&all, 1.0), made(&all, scale));
            let both = ranks(&wide, better, 1).into_iter().zip(ranks(&narrow, better, 1));
            for (wide, narrow) in both {
                let (wide, narrow) = (wide.unwrap(), narrow.unwrap());
                prop_assert!(wide.low <= narrow.low && narrow.high <= wide.high);
            }
        }

        #[test]
        fn what_overlaps_everywhere_has_every_rank(all in children(), better in better()) {
            let wide = |(value, half): &(f64, f64)| child(*value, half + 100.0);
            let wide: Vec<_> = all.iter().map(wide).collect();
            let of = all.len() as u32;
            let every = Rank { low: 1, high: of, of };
            prop_assert!(ranks(&wide, better, 1).into_iter().all(|rank| rank == Some(every)));
        }

        #[test]
        fn order_does_not_matter(all in children(), better in better(), turn in 0usize..14) {
            let straight = made(&all, 1.0);
            let mut turned = straight.clone();
            let turn = turn % all.len();
            turned.rotate_left(turn);
            let mut expected = ranks(&straight, better, 1);
            expected.rotate_left(turn);
            prop_assert_eq!(ranks(&turned, better, 1), expected);
        }
    }
}
