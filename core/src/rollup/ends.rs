use std::collections::BTreeMap;

use crate::calendar::BusinessDate;
use crate::ids::{ItemId, StoreId};
use crate::quantity::Tallied;
use crate::stats::StdDev;
use crate::tally::ItemSpan;

/// How far use is off because counts are: every span takes its closing count away and puts its
/// opening count in.
///
/// A closing count is the next span's opening, with the other sign. So count errors are not summed:
/// this is the sum of signed counts, by store, item, date and spread. Where neighbours meet they
/// cancel to the digit, and what is left are the two ends of each run of spans.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::ids::{ItemId, StoreId};
/// use parings_core::quantity::Tallied;
/// use parings_core::rollup::CountEnds;
/// let (ford, potato) = (StoreId::new("ford").unwrap(), ItemId::new("potato").unwrap());
/// let night = |day| BusinessDate::new(2026, 3, day).unwrap();
/// let two_kg = Tallied::from_thousandths(2_000_000);
/// let span = |from, to| {
///     CountEnds::of(&ford, &potato, (night(from), two_kg), (night(to), two_kg))
/// };
/// let week = (2..=8).map(|day| span(day, day + 1)).fold(CountEnds::default(), |a, b| a.merge(&b));
/// assert_eq!(week, span(2, 9));
/// assert_eq!(week.sd().value().round(), 2_828.0); // g
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CountEnds {
    open: BTreeMap<End, i64>,
    settled: u128,
}

/// Store, item, date and spread of a count.
type End = (StoreId, ItemId, BusinessDate, Tallied);

impl CountEnds {
    /// The two counts of a span, each with its date and how far it may be off.
    pub fn of(
        store: &StoreId,
        item: &ItemId,
        opening: (BusinessDate, Tallied),
        closing: (BusinessDate, Tallied),
    ) -> Self {
        let mut ends = Self::default();
        for ((date, sd), sign) in [(opening, 1), (closing, -1)] {
            ends.put(&(store.clone(), item.clone(), date, sd), sign);
        }
        ends
    }

    /// The two counts of a tallied span, which closed on `date`.
    pub fn of_span(store: &StoreId, item: &ItemId, date: BusinessDate, span: &ItemSpan) -> Self {
        Self::of(store, item, (span.opened_on, span.opening.sd), (date, span.closing.sd))
    }

    /// Ends that will meet no neighbour any more, as the sum of their squared spreads in squared
    /// thousandths: what a database answers that has put together whole runs itself.
    pub fn settled(squares: u128) -> Self {
        Self { open: BTreeMap::new(), settled: squares }
    }

    /// These and others together.
    #[must_use]
    pub fn merge(mut self, other: &Self) -> Self {
        for (end, sign) in &other.open {
            self.put(end, *sign);
        }
        self.settled = self.settled.saturating_add(other.settled);
        self
    }

    /// The sum of what is left, squared: in squared thousandths of the base unit.
    pub fn squares(&self) -> u128 {
        self.open.iter().fold(self.settled, |sum, ((.., sd), net)| {
            let off = u128::from(sd.thousandths().unsigned_abs())
                .saturating_mul(u128::from(net.unsigned_abs()));
            sum.saturating_add(off.saturating_mul(off))
        })
    }

    /// How far the sum of the spans' use may be off, one standard deviation, in the base unit.
    pub fn sd(&self) -> StdDev {
        #[expect(clippy::cast_precision_loss, reason = "statistics")]
        let sd = (self.squares() as f64).sqrt() / 1000.0;
        StdDev::new(sd).unwrap_or(StdDev::ZERO)
    }

    fn put(&mut self, end: &End, sign: i64) {
        let net = self.open.entry(end.clone()).or_default();
        *net += sign;
        if *net == 0 {
            self.open.remove(end);
        }
    }
}
