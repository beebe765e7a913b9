mod followed;

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use chrono::{DateTime, Utc};

use self::followed::{After, Followed};
use super::tallied::is_compared;
use super::{
    CountedDates, DaypartSum, Every, ItemSum, Level, NightSum, Nights, Scope, Sum, WasteKey,
    WasteLines,
};
use crate::bytes::Unreadable;
use crate::calendar::{BusinessDate, DateSpan, business_date};
use crate::catalog::Network;
use crate::ids::ItemId;
use crate::money::Money;
use crate::tally::pack::{self, Codes, ItemNight};
use crate::tally::{DaypartKey, DaypartTally, ItemDay, NightTally, SalesSource};
use crate::tickets::{BINS, Histogram};
use crate::usage::Samples;

/// What nights are added up to.
#[derive(Debug, Clone, Copy)]
pub struct Plan<'a> {
    /// Whose nights are added up.
    pub scope: &'a Scope,
    /// Its children; none for the scope as a whole.
    pub level: Option<Level>,
    /// The buckets, in order, without gaps.
    pub buckets: &'a [DateSpan],
    /// The one item whose use and waste are asked for; none for all.
    pub item: Option<&'a ItemId>,
    /// Over so many nights portions weighed are pooled.
    pub sample_nights: u32,
}

/// What a scope or a child of it adds up to in a bucket.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    /// The child's code; none for the scope itself.
    pub child: Option<String>,
    /// The dates of the bucket.
    pub bucket: DateSpan,
    /// Nights by what became of them.
    pub nights: Nights,
    /// What the nights add up to.
    pub sum: Sum,
}

/// A store's night as it is kept.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    /// The code of the store.
    pub store: &'a str,
    /// The business date of the night.
    pub date: BusinessDate,
    /// The child that the store stood in on the date; the store itself where children are stores.
    pub child: &'a str,
    /// The codes of the packed night.
    pub codes: &'a Arc<Codes>,
    /// Its numbers, as they were packed.
    pub bytes: &'a [u8],
}

/// Nights being added up, in any order, each once.
///
/// A span belongs to the date of the count it ends with, and to the child in which the store stood
/// then. The error of a count that closes one span and opens the next cancels where both are of one
/// child and bucket, so runs of spans are followed by store and item; a night that several spans cover
/// is counted once.
pub struct Gathering<'a> {
    plan: Plan<'a>,
    network: &'a Network,
    every: Box<dyn Fn(&ItemId) -> Every + 'a>,
    items: Items,
    leaves: Vec<Leaf>,
    leaf_of: HashMap<(Box<str>, usize), usize>,
    stores: HashMap<Box<str>, StoreState>,
    samples: Vec<Weighed>,
}

/// Portions weighed on a date: in which child, of which item.
struct Weighed {
    child: Box<str>,
    date: BusinessDate,
    item: usize,
    samples: Samples,
}

/// Items by numbers of this gathering.
#[derive(Default)]
struct Items {
    ids: Vec<ItemId>,
    rhythms: Vec<Every>,
    number: HashMap<ItemId, usize>,
    /// The numbers of the items of codes, which are kept so that their address stays theirs.
    of_codes: HashMap<usize, (Arc<Codes>, Arc<[usize]>)>,
}

impl Items {
    fn of(&mut self, codes: &Arc<Codes>, every: &dyn Fn(&ItemId) -> Every) -> Arc<[usize]> {
        let address = Arc::as_ptr(codes) as usize;
        if let Some((_, numbers)) = self.of_codes.get(&address) {
            return Arc::clone(numbers);
        }
        let numbers: Arc<[usize]> = codes
            .items
            .iter()
            .map(|id| {
                *self.number.entry(id.clone()).or_insert_with(|| {
                    self.ids.push(id.clone());
                    self.rhythms.push(every(id));
                    self.ids.len() - 1
                })
            })
            .collect();
        self.of_codes.insert(address, (Arc::clone(codes), Arc::clone(&numbers)));
        numbers
    }
}

/// A child, or the scope without children, in a bucket.
struct Leaf {
    child: Box<str>,
    bucket: usize,
    items: Vec<Option<Box<ItemSum>>>,
    dayparts: Vec<(DaypartKey, DaypartSum, Box<[u64]>)>,
    night: NightSum,
    waste: BTreeMap<WasteKey, WasteLines>,
    nights: Nights,
    after: After,
}

/// A store while its nights are added up.
#[derive(Default)]
struct StoreState {
    open: Vec<bool>,
    counted: CountedDates,
    /// By leaf, and by bucket of the scope where it has children.
    of_leaf: HashMap<usize, Followed>,
    of_scope: HashMap<usize, Followed>,
}

impl<'a> Gathering<'a> {
    /// Nothing yet, of the stores of a network as they stood; `every` tells how often an item is counted.
    pub fn new(
        plan: Plan<'a>,
        network: &'a Network,
        every: impl Fn(&ItemId) -> Every + 'a,
    ) -> Self {
        Self {
            plan,
            network,
            every: Box::new(every),
            items: Items::default(),
            leaves: Vec::new(),
            leaf_of: HashMap::new(),
            stores: HashMap::new(),
            samples: Vec::new(),
        }
    }

    /// The first date of which portions weighed speak for a bucket: nights from there on are needed, and
    /// of those before the first bucket nothing else.
    pub fn first_sampled(plan: &Plan<'_>) -> Option<BusinessDate> {
        plan.buckets.iter().map(|bucket| sampled_from(plan, *bucket)).min()
    }

    /// Adds a night.
    ///
    /// # Errors
    /// [`Unreadable`] when no rule wrote it.
    pub fn night(&mut self, row: Row<'_>) -> Result<(), Unreadable> {
        let Row { store, date, codes, bytes, .. } = row;
        let numbers = self.items.of(codes, &self.every);
        let child = if self.plan.level.is_some() { row.child } else { "" };
        let buckets = self.plan.buckets;
        let bucket = buckets.partition_point(|bucket| bucket.to() < date);
        let bucket = buckets.get(bucket).filter(|found| found.contains(date)).map(|_| bucket);
        let Some(bucket) = bucket else {
            let mut weighed = OnlySamples { numbers: &numbers, found: Vec::new() };
            pack::visit(date, codes, bytes, &mut weighed)?;
            self.weigh(child, date, weighed.found);
            return Ok(());
        };
        let leaf = self.leaf(child, bucket);
        let whole = self.span();
        let state = state(&mut self.stores, self.network, whole, store);
        let of_scope = self.plan.level.map(|_| state.of_scope.entry(bucket).or_default());
        let mut adding = Adding {
            date,
            bucket: buckets[bucket],
            first: whole.from(),
            open: &state.open,
            only: self.plan.item.and_then(|item| self.items.number.get(item)).copied(),
            one: self.plan.item.is_some(),
            rhythms: &self.items.rhythms,
            numbers: &numbers,
            leaf: &mut self.leaves[leaf],
            of_leaf: state.of_leaf.entry(leaf).or_default(),
            of_scope,
            night: NightTally::default(),
            wasted: (Money::ZERO, Money::ZERO),
            timed: false,
            samples: Vec::new(),
        };
        pack::visit(date, codes, bytes, &mut adding)?;
        let (night, samples) = adding.end();
        let counted = &mut state.counted;
        if night.short {
            counted.short.insert(date);
        }
        if night.counted {
            counted.counted.insert(date);
            if night.partial {
                counted.partial.insert(date);
            }
            if night.sales_source == SalesSource::None {
                counted.left_out.insert(date);
            }
            if night.items_left_out > 0 {
                counted.items_left_out.insert(date, night.items_left_out);
            }
        }
        self.weigh(child, date, samples);
        Ok(())
    }

    /// A night whose count waits, for an answer or for approval.
    pub fn waits(&mut self, store: &str, date: BusinessDate) {
        let whole = self.span();
        let state = state(&mut self.stores, self.network, whole, store);
        state.counted.waiting.insert(date);
    }

    fn weigh(&mut self, child: &str, date: BusinessDate, found: Vec<(usize, Samples)>) {
        let weighed = found.into_iter().map(|(item, samples)| Weighed {
            child: child.into(),
            date,
            item,
            samples,
        });
        self.samples.extend(weighed);
    }

    fn span(&self) -> DateSpan {
        let buckets = self.plan.buckets;
        let ends = buckets.first().zip(buckets.last());
        let whole = ends.and_then(|(first, last)| DateSpan::new(first.from(), last.to()).ok());
        whole.expect("a plan has buckets, in order")
    }

    fn leaf(&mut self, child: &str, bucket: usize) -> usize {
        let key = (Box::from(child), bucket);
        if let Some(leaf) = self.leaf_of.get(&key) {
            return *leaf;
        }
        self.leaves.push(Leaf {
            child: child.into(),
            bucket,
            items: Vec::new(),
            dayparts: Vec::new(),
            night: NightSum::default(),
            waste: BTreeMap::new(),
            nights: Nights::default(),
            after: After::default(),
        });
        self.leaf_of.insert(key, self.leaves.len() - 1);
        self.leaves.len() - 1
    }

    /// Goes through the nights of every store of the scope by its calendar. A child is there for every
    /// bucket it stood in, also without tallies: missing is not zero.
    fn calendar(&mut self, now: DateTime<Utc>) {
        let none = CountedDates::default();
        let stores = std::mem::take(&mut self.stores);
        let network = self.network;
        for timeline in &network.stores {
            let counted = stores.get(timeline.store.as_str()).map_or(&none, |state| &state.counted);
            for bucket in 0..self.plan.buckets.len() {
                for date in self.plan.buckets[bucket].iter() {
                    let Some(at) = network.standing(timeline, date) else { continue };
                    let Some(store) = timeline.at(date) else { continue };
                    if !self.plan.scope.holds(&at) {
                        continue;
                    }
                    let child = self.plan.level.map_or("", |level| level.of(&at));
                    let over = date < business_date(now, &store.zone, store.cut_off);
                    let night = counted.night(date, store.is_open(date), over);
                    let leaf = self.leaf(child, bucket);
                    let nights = &mut self.leaves[leaf].nights;
                    *nights = nights.merge(night);
                }
            }
        }
        self.stores = stores;
    }

    /// What everything adds up to as of a moment: the scope's buckets, then those of its children by
    /// code.
    pub fn finish(mut self, now: DateTime<Utc>) -> Vec<Gathered> {
        self.calendar(now);
        let mut scope: Vec<After> = vec![After::default(); self.plan.buckets.len()];
        for state in self.stores.values() {
            let mut open = vec![0_u64; state.open.len().div_ceil(64)];
            for (night, _) in state.open.iter().enumerate().filter(|(_, open)| **open) {
                open[night / 64] |= 1 << (night % 64);
            }
            for (leaf, followed) in &state.of_leaf {
                followed.end(&open, &mut self.leaves[*leaf].after);
            }
            for (bucket, followed) in &state.of_scope {
                followed.end(&open, &mut scope[*bucket]);
            }
        }
        let Self { plan, items, leaves, samples, .. } = self;
        let mut all: BTreeMap<(String, usize), Gathered> = BTreeMap::new();
        let empty = |child: &str, bucket: usize| Gathered {
            child: (!child.is_empty()).then(|| child.to_owned()),
            bucket: plan.buckets[bucket],
            nights: Nights::default(),
            sum: Sum::default(),
        };
        for bucket in 0..plan.buckets.len() {
            all.insert((String::new(), bucket), empty("", bucket));
        }
        for leaf in leaves {
            let (child, bucket, after) = (leaf.child.to_string(), leaf.bucket, leaf.after.clone());
            let (nights, sum) = (leaf.nights, leaf.sum(&items));
            if let Some(whole) = all.get_mut(&(String::new(), bucket)) {
                whole.nights = whole.nights.merge(nights);
                whole.sum = std::mem::take(&mut whole.sum).merge(&sum);
            }
            let mut found = Gathered { nights, sum, ..empty(&child, bucket) };
            match plan.level {
                None => scope[bucket] = after,
                Some(_) => {
                    after.settle(&items.ids, &mut found.sum);
                    all.insert((child, bucket), found);
                }
            }
        }
        for (bucket, after) in scope.into_iter().enumerate() {
            if let Some(whole) = all.get_mut(&(String::new(), bucket)) {
                after.settle(&items.ids, &mut whole.sum);
            }
        }
        for weighed in &samples {
            let Weighed { child, date, item, samples } = weighed;
            for (n, bucket) in plan.buckets.iter().enumerate() {
                if *date < sampled_from(&plan, *bucket) || *date > bucket.to() {
                    continue;
                }
                let both = [Some(String::new()), (!child.is_empty()).then(|| child.to_string())];
                for child in both.into_iter().flatten() {
                    let found = all.get_mut(&(child, n));
                    let sum = found.and_then(|found| found.sum.items.get_mut(&items.ids[*item]));
                    if let Some(sum) = sum {
                        sum.samples = sum.samples.merge(*samples);
                    }
                }
            }
        }
        all.into_values().collect()
    }
}

fn state<'s>(
    stores: &'s mut HashMap<Box<str>, StoreState>,
    network: &Network,
    whole: DateSpan,
    store: &str,
) -> &'s mut StoreState {
    if !stores.contains_key(store) {
        let known = &network.stores;
        let timeline = known.binary_search_by(|t| t.store.as_str().cmp(store));
        let open = whole.iter().map(|date| timeline.is_ok_and(|n| known[n].is_open(date)));
        let new = StoreState { open: open.collect(), ..StoreState::default() };
        stores.insert(store.into(), new);
    }
    stores.get_mut(store).expect("it was put in")
}

/// For a bucket shorter than portions are pooled over, those of the nights before it speak too.
fn sampled_from(plan: &Plan<'_>, bucket: DateSpan) -> BusinessDate {
    let back = i64::from(plan.sample_nights.max(1)) - 1;
    bucket.from().min(bucket.to().plus_days(-back))
}

impl Leaf {
    fn item(&mut self, number: usize) -> &mut ItemSum {
        if self.items.len() <= number {
            self.items.resize_with(number + 1, || None);
        }
        self.items[number].get_or_insert_default()
    }

    fn sum(self, items: &Items) -> Sum {
        let found = items.ids.iter().zip(self.items);
        let found = found.filter_map(|(id, sum)| Some((id.clone(), *sum?)));
        let dayparts = self.dayparts.into_iter().map(|(key, mut sum, bins)| {
            let times = bins.iter().enumerate().filter(|(_, tickets)| **tickets > 0);
            let times: Vec<(u16, u64)> =
                times.map(|(bin, tickets)| (bin as u16, *tickets)).collect();
            // Bins in order, none empty.
            sum.tally.tickets.times = Histogram::from_pairs(&times).unwrap_or_default();
            (key, sum)
        });
        Sum {
            items: found.collect(),
            dayparts: dayparts.collect(),
            night: self.night,
            waste: self.waste,
            ..Sum::default()
        }
    }
}

/// A night on its way into a leaf.
struct Adding<'a> {
    date: BusinessDate,
    bucket: DateSpan,
    first: BusinessDate,
    open: &'a [bool],
    only: Option<usize>,
    one: bool,
    rhythms: &'a [Every],
    numbers: &'a [usize],
    leaf: &'a mut Leaf,
    of_leaf: &'a mut Followed,
    of_scope: Option<&'a mut Followed>,
    night: NightTally,
    /// Of the one item that is asked for.
    wasted: (Money, Money),
    timed: bool,
    samples: Vec<(usize, Samples)>,
}

impl Adding<'_> {
    fn span(&mut self, number: usize, ended: &crate::tally::EndedSpan) {
        let span = &ended.span;
        let back = span.opened_on.succ().max(self.bucket.from());
        let place = |date: BusinessDate| self.first.days_until(date).unsigned_abs() as usize;
        let inside = place(back)..=place(self.date);
        let open = inside.clone().filter(|night| self.open.get(*night) == Some(&true)).count();
        self.leaf.item(number).add_ended(ended, open as u64);
        if is_compared(span) {
            let opening = (span.opened_on, span.opening.sd);
            let closing = (self.date, span.closing.sd);
            self.of_leaf.follow(number, opening, closing);
            if let Some(followed) = &mut self.of_scope {
                followed.follow(number, opening, closing);
            }
        }
        if span.doubts.is_empty() && span.sales.is_some() {
            let costs =
                [span.used_cost.is_some(), is_compared(span) && span.variance_cost.is_some()];
            for (cost, _) in costs.into_iter().enumerate().filter(|(_, known)| *known) {
                let every = self.rhythms[number];
                self.of_leaf.cover(every, cost, inside.clone());
                if let Some(followed) = &mut self.of_scope {
                    followed.cover(every, cost, inside.clone());
                }
            }
        }
    }

    fn day(&mut self, number: usize, day: &ItemDay) {
        self.leaf.item(number).add_day(day);
        for line in &day.waste {
            let key = WasteKey {
                reason: line.reason.clone(),
                safety: line.safety,
                stage: line.stage.clone(),
                daypart: line.daypart.clone(),
            };
            let sum = self.leaf.waste.entry(key).or_default();
            sum.amount += line.amount;
            sum.cost += line.cost;
            sum.lines += 1;
        }
        if self.one {
            self.wasted = (day.wasted_cost, day.wasted_safety_cost);
        }
        if day.samples.count() > 0 {
            self.samples.push((number, day.samples));
        }
    }

    fn end(self) -> (NightTally, Vec<(usize, Samples)>) {
        let night = &self.night;
        let wasted = match self.one {
            true => self.wasted,
            false => (night.wasted_cost, night.wasted_safety_cost),
        };
        let sum = NightSum::of_night(night, wasted, self.timed);
        self.leaf.night = std::mem::take(&mut self.leaf.night).merge(&sum);
        (self.night, self.samples)
    }
}

impl pack::Visit for Adding<'_> {
    fn night(&mut self, night: NightTally) {
        self.night = night;
    }

    fn item(&mut self, place: usize, item: ItemNight) {
        let number = self.numbers[place];
        if self.one && self.only != Some(number) {
            return;
        }
        if item.kept {
            let sales = self.night.sales;
            self.leaf.item(number).add_kept(sales);
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
        let dayparts = &mut self.leaf.dayparts;
        let at = dayparts.iter().position(|(known, ..)| *known == key);
        let at = at.unwrap_or_else(|| {
            dayparts.push((key, DaypartSum::default(), vec![0; BINS].into()));
            dayparts.len() - 1
        });
        let (_, sum, bins) = &mut dayparts[at];
        // The times of its tickets are in the bins until the end.
        sum.tally = std::mem::take(&mut sum.tally).merge(&tally);
        sum.ticket_nights += u64::from(timed);
        for (bin, count) in times {
            let bin = &mut bins[usize::from(*bin)];
            *bin = bin.saturating_add(*count);
        }
    }
}

/// Of nights before those that are asked for, portions weighed alone.
struct OnlySamples<'a> {
    numbers: &'a [usize],
    found: Vec<(usize, Samples)>,
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

#[cfg(test)]
mod tests;
