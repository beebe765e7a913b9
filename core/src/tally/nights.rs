use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::{Counted, Day, EndedSpan, Ending, ItemSpan, Night, Opening, SpanNight, span};
use crate::calendar::BusinessDate;
use crate::ids::ItemId;
use crate::usage::Samples;

/// A count of an item on a date.
pub type Closing = (BusinessDate, Counted);

/// A span by its item and the date it ends on.
pub type SpanEnd = (ItemId, BusinessDate);

/// The nights of a store as they stand, joined to spans: the one place where dates become spans,
/// whether a fact was just sent, a history is loaded, a moment is recalled or everything is verified.
///
/// Some of the store's nights are enough, if the counts of items before the first of them are told
/// ([`Nights::counted_before`]) and every night is there that a span holds.
///
/// ```
/// use std::collections::BTreeMap;
/// use parings_core::tally::{Day, Nights};
/// let date = "2026-03-02".parse().unwrap();
/// let mut nights = Nights::default();
/// // A night on which nothing was counted ends no span.
/// let change = nights.put(date, Some(Day::default()), &BTreeMap::new(), "2026-03-02T23:00:00Z".parse().unwrap());
/// let change = change.unwrap();
/// assert_eq!((change.nights.len(), change.restated.len()), (1, 0));
/// assert!(nights.get(date).unwrap().spans.is_empty());
/// ```
#[derive(Debug, Clone, Default)]
pub struct Nights {
    nights: BTreeMap<BusinessDate, Night>,
    counts: BTreeMap<ItemId, BTreeMap<BusinessDate, Counted>>,
}

/// What a change of one night changed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Change {
    /// The nights whose tallies say something else now, the changed one among them.
    pub nights: BTreeSet<BusinessDate>,
    /// The spans that had their expected use and say something else now.
    pub restated: Vec<SpanEnd>,
}

/// The reference data of a night that a span ends on are missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a span ends on {0}, and the reference data of that night are missing")]
pub struct NoEnding(pub BusinessDate);

impl Nights {
    /// Takes in a night as it stands, with the spans that it has.
    pub fn stands(&mut self, date: BusinessDate, night: Night) {
        self.take_out_counts(date);
        self.put_in_counts(date, &night.day);
        self.nights.insert(date, night);
    }

    /// Takes in the last count of an item before the nights that are here.
    pub fn counted_before(&mut self, item: ItemId, (date, count): Closing) {
        self.counts.entry(item).or_default().insert(date, count);
    }

    /// The night of a date.
    pub fn get(&self, date: BusinessDate) -> Option<&Night> {
        self.nights.get(&date)
    }

    /// Takes out the night of a date, for who needs nothing else of these nights any more.
    pub fn take(&mut self, date: BusinessDate) -> Option<Night> {
        self.nights.remove(&date)
    }

    /// The use of an item in the spans that ended from a date on and before another, of those without a
    /// doubt, the last first.
    pub fn spans_of<'a>(
        &'a self,
        item: &'a ItemId,
        from: BusinessDate,
        before: BusinessDate,
    ) -> impl Iterator<Item = &'a ItemSpan> {
        let spans = self.nights.range(from..before).rev();
        let spans = spans.filter_map(|(_, night)| Some(&night.spans.get(item)?.span));
        spans.filter(|span| span.doubts.is_empty())
    }

    /// All nights, in order of their dates.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (BusinessDate, &Night)> {
        self.nights.iter().map(|(date, night)| (*date, night))
    }

    /// The last count of an item before a date, as far as it is known here.
    pub fn last_count(&self, item: &ItemId, before: BusinessDate) -> Option<Closing> {
        let counts = self.counts.get(item)?;
        counts.range(..before).next_back().map(|(date, count)| (*date, *count))
    }

    /// The first count of an item after a date, as far as it is known here.
    pub fn next_count(&self, item: &ItemId, after: BusinessDate) -> Option<Closing> {
        let counts = self.counts.get(item)?;
        counts.range(after.succ()..).next().map(|(date, count)| (*date, *count))
    }

    /// Portions weighed of each item after a date, up to and including another.
    pub fn samples(&self, after: BusinessDate, until: BusinessDate) -> BTreeMap<ItemId, Samples> {
        let mut pooled: BTreeMap<ItemId, Samples> = BTreeMap::new();
        for (item, day) in
            self.nights.range(after.succ()..=until).flat_map(|(_, night)| &night.day.items)
        {
            if day.samples.count() > 0 {
                let so_far = pooled.entry(item.clone()).or_default();
                *so_far = so_far.merge(day.samples);
            }
        }
        pooled
    }

    /// The items whose spans a change of a date may touch: those that its facts name before or after the
    /// change, those that a span of ends there, and those that were counted later, whose span may hold
    /// the date.
    pub fn touched(&self, date: BusinessDate, day: Option<&Day>) -> BTreeSet<ItemId> {
        let stood = self.nights.get(&date);
        let mut items: BTreeSet<ItemId> =
            day.iter().flat_map(|day| day.items.keys().cloned()).collect();
        if let Some(night) = stood {
            items.extend(night.day.items.keys().chain(night.spans.keys()).cloned());
        }
        let later =
            self.counts.iter().filter(|(_, counts)| counts.range(date.succ()..).next().is_some());
        items.extend(later.map(|(item, _)| item.clone()));
        items
    }

    /// The dates on which spans end that a change of a date makes anew.
    pub fn ends(&self, date: BusinessDate, day: Option<&Day>) -> BTreeSet<BusinessDate> {
        let mut ends = BTreeSet::new();
        for item in self.touched(date, day) {
            let here = day.and_then(|day| day.items.get(&item)?.count);
            let prior = self.last_count(&item, date);
            if here.is_some() && prior.is_some() {
                ends.insert(date);
            }
            if here.is_some() || prior.is_some() {
                ends.extend(self.next_count(&item, date).map(|(next, _)| next));
            }
        }
        ends
    }

    /// Puts what a date adds up to in the place of what stood there, or takes it out, and makes the
    /// spans that it touches anew; `endings` has the reference data of the dates that
    /// [`Nights::ends`] names. A span that had its expected use and says something else is restated at
    /// `now`.
    ///
    /// # Errors
    /// [`NoEnding`] when reference data are missing; then nothing is as it should be.
    pub fn put(
        &mut self,
        date: BusinessDate,
        day: Option<Day>,
        endings: &BTreeMap<BusinessDate, Ending>,
        now: DateTime<Utc>,
    ) -> Result<Change, NoEnding> {
        let items = self.touched(date, day.as_ref());
        self.take_out_counts(date);
        let stood = self.nights.remove(&date).unwrap_or_default();
        if let Some(day) = day {
            self.put_in_counts(date, &day);
            self.nights.insert(date, Night { day, spans: BTreeMap::new() });
        }
        let mut change = Change { nights: [date].into(), restated: Vec::new() };
        for item in items {
            let here = self.counts.get(&item).and_then(|counts| counts.get(&date));
            let here = here.map(|count| (date, *count));
            let prior = self.last_count(&item, date);
            if let Some((from, to)) = prior.zip(here) {
                let was = stood.spans.get(&item);
                self.end(&item, (from, to), was, endings, now, &mut change)?;
            }
            if let Some(to) = self.next_count(&item, date) {
                // A span that began later is none of this date's.
                let spans = self.nights.get_mut(&to.0).map(|night| &mut night.spans);
                let held = |spans: &&mut BTreeMap<ItemId, EndedSpan>| {
                    spans.get(&item).is_some_and(|ended| ended.span.opened_on <= date)
                };
                let was = spans.filter(held).and_then(|spans| spans.remove(&item));
                match here.or(prior) {
                    Some(from) => {
                        self.end(&item, (from, to), was.as_ref(), endings, now, &mut change)?;
                    }
                    None => change.nights.extend(was.map(|_| to.0)),
                }
            }
        }
        Ok(change)
    }

    /// Makes the span of an item from one count to the next, in the place of what it was.
    fn end(
        &mut self,
        item: &ItemId,
        (from, to): (Closing, Closing),
        was: Option<&EndedSpan>,
        endings: &BTreeMap<BusinessDate, Ending>,
        now: DateTime<Utc>,
        change: &mut Change,
    ) -> Result<(), NoEnding> {
        let ending = endings.get(&to.0).ok_or(NoEnding(to.0))?;
        let span = self.span(ending, item, from, to, None);
        let mut restated_at = was.and_then(|was| was.restated_at);
        if was.is_none_or(|was| was.span != span) {
            change.nights.insert(to.0);
            if was.is_some_and(|was| was.span.expected.is_some()) {
                restated_at = Some(now);
                change.restated.push((item.clone(), to.0));
            }
        }
        if let Some(night) = self.nights.get_mut(&to.0) {
            night.spans.insert(item.clone(), EndedSpan { span, restated_at });
        }
        Ok(())
    }

    /// The spans that would end with the counts of a date, were its day this one.
    pub fn would_end(&self, ending: &Ending, day: &Day) -> BTreeMap<ItemId, ItemSpan> {
        let date = ending.date;
        let counted = day.items.iter().filter_map(|(item, said)| Some((item, said.count?)));
        counted
            .filter_map(|(item, count)| {
                let from = self.last_count(item, date)?;
                let span = self.span(ending, item, from, (date, count), Some(day));
                Some((item.clone(), span))
            })
            .collect()
    }

    /// Joins the nights of an item from one count to the next; `last` in the place of what stands on the
    /// date of the later one.
    fn span(
        &self,
        ending: &Ending,
        item: &ItemId,
        (opened_on, opening): Closing,
        (date, closing): Closing,
        last: Option<&Day>,
    ) -> ItemSpan {
        let days = opened_on.days_until(date);
        let nights: Vec<SpanNight<'_>> = (1..=days)
            .map(|days| {
                let on = opened_on.plus_days(days);
                let stands = || self.nights.get(&on).map(|night| &night.day);
                let day = last.filter(|_| on == date).or_else(stands);
                SpanNight {
                    open: ending.is_open(on),
                    sales_source: day.map(|day| day.night.sales_source).unwrap_or_default(),
                    sales: day.and_then(|day| day.night.sales),
                    short: day.is_some_and(|day| day.night.short),
                    item: day.and_then(|day| day.items.get(item)),
                }
            })
            .collect();
        let opening = Opening { on: opened_on, count: opening };
        let mut made = span(opening, closing, &nights, ending.price(item), ending.limits());
        // What was sold before a store changed hands is told to nobody after it, and the use of such a
        // span is neither owner's: it has no sales, for anybody.
        if ending.owner_changed(opened_on) {
            (made.sales, made.owner_changed) = (None, true);
        }
        made
    }

    fn put_in_counts(&mut self, date: BusinessDate, day: &Day) {
        for (item, said) in &day.items {
            if let Some(count) = said.count {
                self.counts.entry(item.clone()).or_default().insert(date, count);
            }
        }
    }

    fn take_out_counts(&mut self, date: BusinessDate) {
        for item in self.nights.get(&date).into_iter().flat_map(|night| night.day.items.keys()) {
            if let Some(counts) = self.counts.get_mut(item) {
                counts.remove(&date);
            }
        }
    }
}

#[cfg(test)]
mod tests;
