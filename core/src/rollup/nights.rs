use std::collections::{BTreeMap, BTreeSet};

use crate::calendar::BusinessDate;
use crate::tally::{NightTally, SalesSource};

/// Nights of stores. Blank is not zero, closed is not zero, missing is not zero: each is a number
/// of its own. A night that is not over is only to come until it is counted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Nights {
    /// A count is due: the store was open by its calendar.
    pub expected: u64,
    /// Of those, with a count.
    pub counted: u64,
    /// Of the counted, with lines of the sheet unanswered.
    pub partial: u64,
    /// Of the expected, without a count.
    pub missing: u64,
    /// The store was closed: no count is due.
    pub closed: u64,
    /// Of the counted, left out of every ratio to sales or to expected use, because the night's
    /// sales are unknown.
    pub left_out: u64,
    /// Of the expected, traded for much less than the usual hours: in no ratio of waste to sales.
    pub short: u64,
    /// Of the missing, with a count that waits for an answer or for approval.
    pub held: u64,
    /// Items due, added up over the counted nights, whose count is doubtful: as if not counted.
    pub items_left_out: u64,
    /// Open nights that are not over and not counted yet: in none of the others.
    pub to_come: u64,
}

impl Nights {
    /// These and others together.
    ///
    /// ```
    /// use parings_core::rollup::Nights;
    /// let ford = Nights { expected: 6, counted: 5, missing: 1, closed: 1, ..Nights::default() };
    /// let weir = Nights { expected: 7, counted: 7, partial: 1, ..Nights::default() };
    /// let both = ford.merge(weir);
    /// assert_eq!((both.expected, both.counted, both.missing, both.closed), (13, 12, 1, 1));
    /// ```
    #[must_use]
    pub fn merge(self, other: Self) -> Self {
        Self {
            expected: self.expected + other.expected,
            counted: self.counted + other.counted,
            partial: self.partial + other.partial,
            missing: self.missing + other.missing,
            closed: self.closed + other.closed,
            left_out: self.left_out + other.left_out,
            short: self.short + other.short,
            held: self.held + other.held,
            items_left_out: self.items_left_out + other.items_left_out,
            to_come: self.to_come + other.to_come,
        }
    }

    /// Whether enough of the expected nights were counted to compare them with others: ten of
    /// fourteen, which is common practice of the trade and has no source.
    ///
    /// ```
    /// use parings_core::rollup::Nights;
    /// let week = |counted| Nights { expected: 7, counted, ..Nights::default() };
    /// assert!(week(5).is_enough() && !week(4).is_enough());
    /// ```
    pub fn is_enough(self) -> bool {
        self.counted > 0 && 14 * self.counted >= 10 * self.expected
    }

    /// Whether every night is over and no count is missing.
    pub fn is_complete(self) -> bool {
        self.to_come == 0 && self.missing == 0
    }
}

/// Dates on which a store counted.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CountedDates {
    /// With a count.
    pub counted: BTreeSet<BusinessDate>,
    /// Of those, with lines unanswered.
    pub partial: BTreeSet<BusinessDate>,
    /// Of those, without known sales.
    pub left_out: BTreeSet<BusinessDate>,
    /// With much less than the usual hours, counted or not.
    pub short: BTreeSet<BusinessDate>,
    /// With a count that waits for an answer or for approval.
    pub waiting: BTreeSet<BusinessDate>,
    /// With items whose count is doubtful: how many.
    pub items_left_out: BTreeMap<BusinessDate, u64>,
}

impl CountedDates {
    /// Takes what is known of a night with facts.
    pub(super) fn add(&mut self, date: BusinessDate, night: &NightTally) {
        if night.short {
            self.short.insert(date);
        }
        if !night.counted {
            return;
        }
        self.counted.insert(date);
        if night.partial {
            self.partial.insert(date);
        }
        if night.sales_source == SalesSource::None {
            self.left_out.insert(date);
        }
        if night.items_left_out > 0 {
            self.items_left_out.insert(date, night.items_left_out);
        }
    }

    /// One night of the store, which was open or not, and is over or not. A count on a closed night
    /// changes nothing here: none was due. A night that is not over is due once it is counted: until
    /// then it is not missing.
    ///
    /// ```
    /// use parings_core::calendar::BusinessDate;
    /// use parings_core::rollup::CountedDates;
    /// let monday = BusinessDate::new(2026, 3, 2).unwrap();
    /// let dates = CountedDates { counted: [monday].into(), ..CountedDates::default() };
    /// let week = dates.night(monday, true, false).merge(dates.night(monday.succ(), true, true));
    /// let week = week.merge(dates.night(monday.plus_days(2), false, true));
    /// let week = week.merge(dates.night(monday.plus_days(3), true, false));
    /// assert_eq!((week.expected, week.counted, week.missing, week.closed), (2, 1, 1, 1));
    /// assert_eq!((week.to_come, week.is_complete()), (1, false));
    /// ```
    pub fn night(&self, date: BusinessDate, open: bool, over: bool) -> Nights {
        let counted = self.counted.contains(&date);
        if !over && !counted {
            return Nights { to_come: u64::from(open), ..Nights::default() };
        }
        if !open {
            return Nights { closed: 1, ..Nights::default() };
        }
        let if_in = |dates: &BTreeSet<BusinessDate>| u64::from(counted && dates.contains(&date));
        Nights {
            expected: 1,
            counted: u64::from(counted),
            partial: if_in(&self.partial),
            missing: u64::from(!counted),
            closed: 0,
            left_out: if_in(&self.left_out),
            short: u64::from(self.short.contains(&date)),
            held: u64::from(!counted && self.waiting.contains(&date)),
            items_left_out: match self.items_left_out.get(&date) {
                Some(items) if counted => *items,
                _ => 0,
            },
            to_come: 0,
        }
    }
}

#[cfg(test)]
mod tests;
