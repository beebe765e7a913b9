//! Sets of nights, numbered from the first that is asked for.

use std::ops::RangeInclusive;

/// Nights by their numbers, a bit each.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct NightSet(Vec<u64>);

impl NightSet {
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(super) fn add(&mut self, nights: RangeInclusive<usize>) {
        let words = nights.end() / 64 + 1;
        if self.0.len() < words {
            self.0.resize(words, 0);
        }
        for (word, mask) in masks(nights) {
            self.0[word] |= mask;
        }
    }

    pub(super) fn add_all(&mut self, others: &Self) {
        if self.0.len() < others.0.len() {
            self.0.resize(others.0.len(), 0);
        }
        self.0.iter_mut().zip(&others.0).for_each(|(all, bits)| *all |= bits);
    }

    /// How many of some nights in a row are in it.
    pub(super) fn many_of(&self, nights: RangeInclusive<usize>) -> u64 {
        let word = |word: usize| self.0.get(word).copied().unwrap_or_default();
        masks(nights).map(|(n, mask)| u64::from((word(n) & mask).count_ones())).sum()
    }

    /// How many nights are in both.
    pub(super) fn many_in_both(&self, other: &Self) -> u64 {
        let both = self.0.iter().zip(&other.0);
        both.map(|(one, other)| u64::from((one & other).count_ones())).sum()
    }
}

/// The words that nights in a row lie in, each with their bits.
fn masks(nights: RangeInclusive<usize>) -> impl Iterator<Item = (usize, u64)> {
    let (from, to) = nights.into_inner();
    (from / 64..=to / 64).map(move |word| {
        let first = if word == from / 64 { u64::MAX << (from % 64) } else { u64::MAX };
        let last = if word == to / 64 { u64::MAX >> (63 - to % 64) } else { u64::MAX };
        (word, first & last)
    })
}

impl FromIterator<bool> for NightSet {
    /// One night after the other, whether it is in the set.
    fn from_iter<I: IntoIterator<Item = bool>>(nights: I) -> Self {
        let mut set = Self::default();
        for (n, _) in nights.into_iter().enumerate().filter(|(_, is_in)| *is_in) {
            set.add(n..=n);
        }
        set
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn it_is_a_set(
            rows in prop::collection::vec((0..200_usize, 0..90_usize), 0..6),
            others in prop::collection::vec(any::<bool>(), 0..300),
            (from, more) in (0..200_usize, 0..150_usize),
        ) {
            let (mut set, mut plain) = (NightSet::default(), BTreeSet::new());
            for (from, more) in rows {
                set.add(from..=from + more);
                plain.extend(from..=from + more);
            }
            let other: NightSet = others.iter().copied().collect();
            let is_other = |n: &usize| others.get(*n) == Some(&true);
            prop_assert_eq!(
                set.many_of(from..=from + more),
                plain.range(from..=from + more).count() as u64
            );
            prop_assert_eq!(
                set.many_in_both(&other),
                plain.iter().filter(|n| is_other(n)).count() as u64
            );
            set.add_all(&other);
            plain.extend((0..others.len()).filter(is_other));
            prop_assert_eq!(set.many_of(0..=400), plain.len() as u64);
        }
    }
}
