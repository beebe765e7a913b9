mod adding;
mod followed;

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use chrono::{DateTime, Utc};

use self::adding::{AddingNight, AddingWeek, OnlySamples, To};
use self::followed::{After, Followed};
use super::nightset::NightSet;
use super::part::Part;
use super::{CountedDates, Every, Level, Nights, Scope, Sum, week};
use crate::bytes::Unreadable;
use crate::calendar::{BusinessDate, DateSpan, business_date, week_start};
use crate::catalog::Network;
use crate::ids::ItemId;
use crate::tally::pack::{self, Codes};
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
    part: Part,
    nights: Nights,
    after: After,
}

/// A store while its nights are added up.
#[derive(Default)]
struct StoreState {
    open: NightSet,
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
        let Row { date, codes, bytes, .. } = row;
        let numbers = self.items.of(codes, &self.every);
        let Some(bucket) = self.bucket(date) else {
            let mut weighed = OnlySamples { numbers: &numbers, found: Vec::new() };
            pack::visit(date, codes, bytes, &mut weighed)?;
            self.weigh(
                &row,
                weighed.found.into_iter().map(|(item, samples)| (date, item, samples)),
            );
            return Ok(());
        };
        let only = self.plan.item.map(|item| self.items.number.get(item).copied());
        let (to, counted) = self.to(&row, bucket);
        let mut adding = AddingNight::new(date, &numbers, only, to);
        pack::visit(date, codes, bytes, &mut adding)?;
        let (night, samples) = adding.end();
        counted.add(date, &night);
        self.weigh(&row, samples.into_iter().map(|(item, samples)| (date, item, samples)));
        Ok(())
    }

    /// Adds all nights of a week at once; its row has the date of its Monday. Only for the use and waste
    /// of one item there are no such rows: then its nights are added.
    ///
    /// # Errors
    /// [`Unreadable`] when nobody wrote it, or not all of its nights are in one bucket.
    pub fn week(&mut self, row: Row<'_>) -> Result<(), Unreadable> {
        let Row { date, codes, bytes, .. } = row;
        let numbers = self.items.of(codes, &self.every);
        let whole = self.bucket(date).filter(|bucket| {
            self.plan.item.is_none() && self.plan.buckets[*bucket].contains(date.plus_days(6))
        });
        let (to, counted) = self.to(&row, whole.ok_or(Unreadable::Field)?);
        let mut adding = AddingWeek { numbers: &numbers, to, counted, samples: Vec::new() };
        week::visit(date, codes, bytes, &mut adding)?;
        let samples = adding.samples;
        self.weigh(&row, samples.into_iter());
        Ok(())
    }

    /// The weeks, by their Mondays, that can be added as a whole.
    pub fn weeks(plan: &Plan<'_>) -> Vec<BusinessDate> {
        let whole = |bucket: &DateSpan| {
            let (to, first) = (bucket.to(), week_start(bucket.from().plus_days(6)));
            let weeks = (0..).map(move |n| first.plus_days(7 * n));
            weeks.take_while(move |monday| monday.plus_days(6) <= to)
        };
        match plan.item {
            Some(_) => Vec::new(),
            None => plan.buckets.iter().flat_map(whole).collect(),
        }
    }

    /// A night whose count waits, for an answer or for approval.
    pub fn waits(&mut self, store: &str, date: BusinessDate) {
        let whole = self.span();
        let state = state(&mut self.stores, self.network, whole, store);
        state.counted.waiting.insert(date);
    }

    /// Where what a store did in a bucket is added to.
    fn to(&mut self, row: &Row<'_>, bucket: usize) -> (To<'_>, &mut CountedDates) {
        let leaf = self.leaf(self.child(row), bucket);
        let whole = self.span();
        let state = state(&mut self.stores, self.network, whole, row.store);
        let to = To {
            from: self.plan.buckets[bucket].from().number(),
            first: whole.from().number(),
            open: &state.open,
            rhythms: &self.items.rhythms,
            part: &mut self.leaves[leaf].part,
            of_leaf: state.of_leaf.entry(leaf).or_default(),
            of_scope: self.plan.level.map(|_| state.of_scope.entry(bucket).or_default()),
        };
        (to, &mut state.counted)
    }

    /// Portions weighed, each on its date and of an item.
    fn weigh(
        &mut self,
        row: &Row<'_>,
        found: impl Iterator<Item = (BusinessDate, usize, Samples)>,
    ) {
        let child = self.child(row);
        let weighed = |(date, item, samples)| Weighed { child: child.into(), date, item, samples };
        self.samples.extend(found.map(weighed));
    }

    /// The child of a row; no name where the scope has none.
    fn child<'r>(&self, row: &Row<'r>) -> &'r str {
        if self.plan.level.is_some() { row.child } else { "" }
    }

    /// The bucket that holds a date.
    fn bucket(&self, date: BusinessDate) -> Option<usize> {
        let buckets = self.plan.buckets;
        let bucket = buckets.partition_point(|bucket| bucket.to() < date);
        buckets.get(bucket).filter(|found| found.contains(date)).map(|_| bucket)
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
            part: Part::default(),
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
            for (leaf, followed) in &state.of_leaf {
                followed.end(&state.open, &mut self.leaves[*leaf].after);
            }
            for (bucket, followed) in &state.of_scope {
                followed.end(&state.open, &mut scope[*bucket]);
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
            let (nights, sum) = (leaf.nights, leaf.part.sum(&items.ids));
            if let Some(whole) = all.get_mut(&(String::new(), bucket)) {
                whole.nights = whole.nights.merge(nights);
                whole.sum.add(&sum);
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

#[cfg(test)]
mod tests;
