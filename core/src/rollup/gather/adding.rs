//! Nights and weeks of a store on their way into what they add up to.

use super::followed::Followed;
use crate::calendar::BusinessDate;
use crate::money::Money;
use crate::rollup::nightset::NightSet;
use crate::rollup::part::Part;
use crate::rollup::runs::Run;
use crate::rollup::tallied::{against_sales, is_compared};
use crate::rollup::week::{self, ItemWeek};
use crate::rollup::{CountedDates, Every, NightSum, WasteKey, WasteLines};
use crate::tally::pack::{self, ItemNight};
use crate::tally::{DaypartKey, DaypartTally, EndedSpan, ItemDay, NightTally};
use crate::usage::Samples;

/// Where what a store did in a bucket is added to.
pub(super) struct To<'a> {
    /// The number of the bucket's first date.
    pub(super) from: i64,
    /// That of the first night that is asked for: nights are numbered from there.
    pub(super) first: i64,
    /// The nights on which the store was open.
    pub(super) open: &'a NightSet,
    /// How often each item is counted.
    pub(super) rhythms: &'a [Every],
    pub(super) part: &'a mut Part,
    pub(super) of_leaf: &'a mut Followed,
    /// The same over all children.
    pub(super) of_scope: Option<&'a mut Followed>,
}

impl To<'_> {
    fn follow(&mut self, item: usize, run: Run) {
        self.of_leaf.follow(item, run);
        if let Some(followed) = &mut self.of_scope {
            followed.follow(item, run);
        }
    }

    /// The nights from one date to another, by their numbers, are held against sales, as far as they were
    /// asked for: with what was used (`cost` 0) or with its variance (1).
    fn cover(&mut self, item: usize, cost: usize, from: i64, to: i64) {
        let from = from.max(self.from);
        if from > to {
            return;
        }
        let place = |date: i64| (date - self.first).unsigned_abs() as usize;
        let nights = place(from)..=place(to);
        let sum = self.part.item(item);
        let held = if cost == 0 { &mut sum.food } else { &mut sum.against_sales };
        held.nights += self.open.many_of(nights.clone());
        let every = self.rhythms[item];
        self.of_leaf.cover(every, cost, nights.clone());
        if let Some(followed) = &mut self.of_scope {
            followed.cover(every, cost, nights);
        }
    }
}

/// A night on its way.
pub(super) struct AddingNight<'a> {
    date: BusinessDate,
    numbers: &'a [usize],
    /// The one item that is asked for; no number where it was not met yet.
    only: Option<Option<usize>>,
    to: To<'a>,
    night: NightTally,
    /// Of the one item that is asked for.
    wasted: (Money, Money),
    timed: bool,
    samples: Vec<(usize, Samples)>,
}

impl<'a> AddingNight<'a> {
    pub(super) fn new(
        date: BusinessDate,
        numbers: &'a [usize],
        only: Option<Option<usize>>,
        to: To<'a>,
    ) -> Self {
        Self {
            date,
            numbers,
            only,
            to,
            night: NightTally::default(),
            wasted: (Money::ZERO, Money::ZERO),
            timed: false,
            samples: Vec::new(),
        }
    }

    fn span(&mut self, item: usize, ended: &EndedSpan) {
        let span = &ended.span;
        self.to.part.item(item).add_ended(ended);
        if is_compared(span) {
            self.to.follow(item, Run::of_span(self.date, span));
        }
        for (cost, _) in against_sales(span).into_iter().enumerate().filter(|(_, known)| *known) {
            self.to.cover(item, cost, span.opened_on.number() + 1, self.date.number());
        }
    }

    fn day(&mut self, item: usize, day: &ItemDay) {
        self.to.part.add_day(item, day);
        if self.only.is_some() {
            self.wasted = (day.wasted_cost, day.wasted_safety_cost);
        }
        if day.samples.count() > 0 {
            self.samples.push((item, day.samples));
        }
    }

    pub(super) fn end(self) -> (NightTally, Vec<(usize, Samples)>) {
        let night = &self.night;
        let wasted = match self.only {
            Some(_) => self.wasted,
            None => (night.wasted_cost, night.wasted_safety_cost),
        };
        self.to.part.add_night(&NightSum::of_night(night, wasted, self.timed));
        (self.night, self.samples)
    }
}

impl pack::Visit for AddingNight<'_> {
    fn night(&mut self, night: NightTally) {
        self.night = night;
    }

    fn item(&mut self, place: usize, item: ItemNight) {
        let number = self.numbers[place];
        if self.only.is_some_and(|only| only != Some(number)) {
            return;
        }
        if item.kept {
            self.to.part.item(number).add_kept(self.night.sales);
        }
        if let Some(day) = &item.day {
            self.day(number, day);
        }
        if let Some(ended) = &item.span {
            self.span(number, ended);
        }
    }

    fn daypart(&mut self, key: DaypartKey, tally: DaypartTally, times: &[(u16, u64)]) {
        let timed = tally.tickets.with_target > 0;
        self.timed |= timed;
        self.to.part.add_daypart(key, &tally, timed.into(), times);
    }
}

/// A week on its way, all of whose nights are in the bucket.
pub(super) struct AddingWeek<'a> {
    pub(super) numbers: &'a [usize],
    pub(super) to: To<'a>,
    pub(super) counted: &'a mut CountedDates,
    /// Portions weighed, by date and item.
    pub(super) samples: Vec<(BusinessDate, usize, Samples)>,
}

impl week::Visit for AddingWeek<'_> {
    fn seen(&mut self, date: BusinessDate, night: &NightTally) {
        self.counted.add(date, night);
    }

    fn night(&mut self, night: &NightSum) {
        self.to.part.add_night(night);
    }

    fn item(&mut self, place: usize, monday: BusinessDate, item: &ItemWeek) {
        let (number, first) = (self.numbers[place], monday.number());
        self.to.part.item(number).add(&item.sum);
        item.runs.iter().for_each(|run| self.to.follow(number, *run));
        for (cost, mut nights) in item.covered.into_iter().enumerate() {
            // Nights in a row together, which is mostly all of them.
            while nights != 0 {
                let from = nights.trailing_zeros();
                let many = (nights >> from).trailing_ones();
                let night = first + i64::from(from);
                self.to.cover(number, cost, night, night + i64::from(many) - 1);
                nights &= !(((1_u16 << many) - 1) << from) as u8;
            }
            if let Some(back) = item.before[cost] {
                self.to.cover(number, cost, first - back + 1, first - 1);
            }
        }
        let samples = item.samples.iter();
        self.samples.extend(samples.map(|(date, samples)| (*date, number, *samples)));
    }

    fn waste(&mut self, key: WasteKey, lines: &WasteLines) {
        self.to.part.add_waste(key, lines);
    }

    fn daypart(
        &mut self,
        key: DaypartKey,
        tally: &DaypartTally,
        ticket_nights: u64,
        times: &[(u16, u64)],
    ) {
        self.to.part.add_daypart(key, tally, ticket_nights, times);
    }
}

/// Of nights before those that are asked for, portions weighed alone.
pub(super) struct OnlySamples<'a> {
    pub(super) numbers: &'a [usize],
    pub(super) found: Vec<(usize, Samples)>,
}

impl pack::Visit for OnlySamples<'_> {
    fn night(&mut self, _: NightTally) {}

    fn item(&mut self, place: usize, item: ItemNight) {
        if let Some(day) = item.day.filter(|day| day.samples.count() > 0) {
            self.found.push((self.numbers[place], day.samples));
        }
    }

    fn daypart(&mut self, _: DaypartKey, _: DaypartTally, _: &[(u16, u64)]) {}
}
