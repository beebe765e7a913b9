//! The nights of one store, worked through in memory in order of date.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, business_date, day_bounds};
use parings_core::catalog::Store;
use parings_core::checks::{self, Check, Given, ItemPast, PastUse};
use parings_core::ids::{EntryId, ItemId, StoreId};
use parings_core::night::{Entry, State, check_count, check_till};
use parings_core::tally::{Day, DayFacts, ItemSpan};

use super::stood::{Stood, StoodNight};
use super::versions::{Reference, Versions};
use super::{Asked, Batch, CountSent, Fact, Loaded, NightFacts, Place, Refused, StoreFacts};
use crate::app::checks::NIGHTS;
use crate::app::revisions::Revision;
use crate::app::spans::Ending;
use crate::app::{entries, tallying};
use crate::db::tallies::{ItemSpanRow, Key};
use crate::error::AppError;

/// Everything that the work of one store needs.
pub struct Work {
    /// The reference data.
    pub versions: Arc<Versions>,
    /// The facts to load.
    pub facts: StoreFacts,
    /// What stands there.
    pub stood: Stood,
    /// Why counts on record are amended; without a reason they are not.
    pub reason: Option<String>,
    /// All reference data of this moment are on record.
    pub known: DateTime<Utc>,
    /// When the load began.
    pub now: DateTime<Utc>,
}

/// What is to be written of a store.
pub struct Worked {
    /// The store.
    pub store: StoreId,
    /// Its nights.
    pub nights: Vec<WorkedNight>,
    /// Its spans that touch the nights from the first to the last.
    pub spans: Vec<ItemSpanRow>,
    /// The first and the last, where spans were on record that touch them.
    pub touched: Option<(BusinessDate, BusinessDate)>,
}

/// What is to be written of a night.
pub struct WorkedNight {
    /// Its date.
    pub date: BusinessDate,
    /// Where the store stood.
    pub standing: Standing,
    /// The moment whose reference data it is tallied with.
    pub known_at: DateTime<Utc>,
    /// When the first of its facts came; none of a night that was tallied before.
    pub begun: Option<DateTime<Utc>>,
    /// Revisions of its count that were on record.
    pub revisions: Vec<Revision>,
    /// Counts.
    pub counts: Vec<WorkedCount>,
    /// Entries.
    pub entries: Vec<Fact<Entry>>,
    /// Batches of the till.
    pub till: Vec<Fact<Batch>>,
    /// The revision of the count in force.
    pub revision: Option<i32>,
    /// What its facts add up to.
    pub day: Day,
}

/// A revision to be written.
pub struct WorkedCount {
    /// Its number.
    pub number: i32,
    /// The count.
    pub count: Fact<CountSent>,
    /// What was found about it.
    pub checks: Vec<Check>,
    /// Items that are as if they had not been counted.
    pub left_out: BTreeSet<ItemId>,
}

impl WorkedCount {
    /// The state it came in.
    pub fn state(&self) -> State {
        if self.checks.iter().any(Check::asks) { State::Held } else { State::Accepted }
    }
}

impl Work {
    /// Checks and tallies the nights and joins them to spans; or says what cannot be taken.
    ///
    /// # Errors
    /// When facts and reference data do not fit in a way that no check names.
    pub fn run(mut self) -> Result<Result<Worked, Vec<Refused>>, AppError> {
        let mut loading: BTreeMap<BusinessDate, NightFacts> =
            std::mem::take(&mut self.facts.nights).into_iter().map(|n| (n.date, n)).collect();
        let loaded: BTreeSet<BusinessDate> = loading.keys().copied().collect();
        let (Some(first), Some(last)) = (loaded.first().copied(), loaded.last().copied()) else {
            return Ok(Ok(Worked::none(self.facts.store)));
        };
        let until = self.stood.until.map_or(last, |until| until.max(last));
        let around = self.stood.pins.range(first..=until).map(|(date, _)| *date);
        let dates: BTreeSet<BusinessDate> = around.chain(loaded.iter().copied()).collect();

        let mut worked = Worked::none(self.facts.store.clone());
        let mut refused = Vec::new();
        for date in dates {
            let known_at = match (self.stood.pins.get(&date), loading.get(&date)) {
                (Some(pin), _) => *pin,
                (None, night) => {
                    night.and_then(NightFacts::first).unwrap_or(self.now).min(self.known)
                }
            };
            let Some(reference) = self.versions.of(&self.facts.store, date, known_at)? else {
                let says = "the store was not on record on that date".to_owned();
                refused.push(self.refuse(date, Place::Night, says));
                continue;
            };
            let ending = reference.ending(date, known_at);
            if let Some(night) = loading.remove(&date) {
                match self.night(night, &reference, &ending)? {
                    Ok(night) => worked.nights.push(night),
                    Err(faults) => {
                        refused.extend(faults);
                        continue;
                    }
                }
            }
            let spans = self.join((date, last), &reference, &ending)?;
            worked.spans.extend(spans);
        }
        if !refused.is_empty() {
            return Ok(Err(refused));
        }
        worked.touched = Some((first, last)).filter(|_| !self.stood.spans.is_empty());
        Ok(Ok(worked))
    }

    fn refuse(&self, date: BusinessDate, at: Place, says: String) -> Refused {
        Refused { store: self.facts.store.clone(), date, at, says }
    }

    /// Checks a night and adds it up.
    fn night(
        &mut self,
        night: NightFacts,
        reference: &Reference,
        ending: &Ending,
    ) -> Result<Result<WorkedNight, Vec<Refused>>, AppError> {
        let date = night.date;
        let catalog = &reference.catalog;
        let store = tallying::in_catalog(catalog, &self.facts.store)?;
        let stood = self.stood.facts.remove(&date);
        let refused = self.flaws(&night, reference, store, stood.as_ref());
        if !refused.is_empty() {
            return Ok(Err(refused));
        }
        let StoodNight { mut facts, in_force, revisions } = stood.unwrap_or_default();
        let fresh = !self.stood.pins.contains_key(&date);
        let begun = fresh.then(|| night.first().unwrap_or(self.now));
        let NightFacts { counts, mut entries, mut till, .. } = night;
        // In the order in which they are read again.
        entries.sort_by_key(|fact| (fact.at, fact.what.id));
        till.sort_by(|a, b| (a.at, &a.what.id).cmp(&(b.at, &b.what.id)));
        facts.entries.extend(entries.iter().map(|fact| fact.what.clone()));
        facts.till.extend(till.iter().map(|fact| fact.what.batch.clone()));

        let mut made = Vec::new();
        let mut number = revisions.last().map_or(0, |revision| revision.number);
        let amended = in_force.and_then(|n| revisions.iter().find(|r| r.number == n));
        let mut amends = amended.map(|revision| revision.recorded_at);
        let mut day = None;
        for count in counts {
            facts.count = Some(count.what.count.clone());
            facts.left_out.clear();
            let whole = tallying::tally(catalog, &self.facts.store, date, &facts)?;
            self.stood.nights.put(date, &whole);
            let found = self.checks(
                (reference, ending),
                store,
                (&count, &entries),
                amends,
                (&facts, &whole),
            )?;
            let answered = matches!(count.what.asked, Asked::CountedAgain(_));
            let left_out = found.iter().filter(|c| c.is_beyond() || c.asks() && !answered);
            let left_out: BTreeSet<_> =
                left_out.flat_map(|check| check.doubted(&count.what.count)).collect();
            facts.left_out.clone_from(&left_out);
            day = left_out.is_empty().then_some(whole);
            number += 1;
            amends = Some(count.at);
            made.push(WorkedCount { number, count, checks: found, left_out });
        }
        let day = match day {
            Some(day) => day,
            None => tallying::tally(catalog, &self.facts.store, date, &facts)?,
        };
        self.stood.nights.put(date, &day);
        if let Some(count) = facts.count {
            self.stood.before.insert(0, (date, count));
        }
        Ok(Ok(WorkedNight {
            date,
            standing: reference.standing.clone(),
            known_at: ending.known_at,
            begun,
            revision: if made.is_empty() { in_force } else { Some(number) },
            revisions,
            counts: made,
            entries,
            till,
            day,
        }))
    }

    /// Everything that is refused of a night by itself.
    fn flaws(
        &self,
        night: &NightFacts,
        reference: &Reference,
        store: &Store,
        stood: Option<&StoodNight>,
    ) -> Vec<Refused> {
        let date = night.date;
        let catalog = &reference.catalog;
        let mut all = Vec::new();
        let today = business_date(self.now, &store.zone, store.cut_off);
        if date > today {
            let says = format!("{date} has not begun: the store's business date is {today}");
            all.push((Place::Night, says));
        }
        let on_record = stood.is_some_and(|stood| !stood.revisions.is_empty());
        if on_record && !night.counts.is_empty() && self.reason.is_none() {
            let says = "a count of this night is on record; to change it, amend it with a reason";
            all.push((Place::Night, says.to_owned()));
        }
        for (n, fact) in night.counts.iter().enumerate() {
            let flaws = check_count(catalog, store, date, &fact.what.count);
            all.extend(flaws.into_iter().map(|flaw| (Place::Count(n, flaw.at), flaw.says)));
        }
        for (n, fact) in night.entries.iter().enumerate() {
            let one = std::slice::from_ref(&fact.what);
            let faults = entries::faults(catalog, &self.facts.store, one, "").into_iter();
            for fault in faults.chain(entries::discards(catalog, &self.facts.store, date, one, ""))
            {
                let at = fault.pointer.trim_start_matches("/0").to_owned();
                all.push((Place::Entry(n, at), fault.detail));
            }
        }
        for (n, fact) in night.till.iter().enumerate() {
            let flaws = check_till(catalog, &fact.what.batch);
            all.extend(flaws.into_iter().map(|flaw| (Place::Till(n, flaw.at), flaw.says)));
        }
        all.into_iter().map(|(at, says)| self.refuse(date, at, says)).collect()
    }

    /// What is found about a count, and what of it is asked.
    fn checks(
        &self,
        (reference, ending): (&Reference, &Ending),
        store: &Store,
        (sent, entries): (&Fact<CountSent>, &[Fact<Entry>]),
        amends: Option<DateTime<Utc>>,
        tallied: (&DayFacts, &Day),
    ) -> Result<Vec<Check>, AppError> {
        let (catalog, day) = (&reference.catalog, tallied.1);
        let limits = &tallying::settings(catalog)?.limits;
        let (date, count) = (ending.date(), &sent.what.count);
        // As if it had come in time: how old it is says nothing about it.
        let ends = day_bounds(date, &store.zone, store.cut_off).1 - TimeDelta::seconds(1);
        let now =
            if sent.at > ends { count.device_time.unwrap_or(ends).min(ends) } else { sent.at };
        let mut items = BTreeMap::new();
        for (id, item) in &day.items {
            let Some(closing) = item.count else { continue };
            let last = self.stood.last.get(id);
            let ends = last.map(|from| self.stood.nights.span(ending, id, *from, (date, closing)));
            let past = self.stood.past.get(id).into_iter().flatten();
            let since = date.plus_days(-NIGHTS);
            let past = past.take_while(|(on, _)| *on >= since).map(|(_, past)| *past);
            items.insert(id.clone(), ItemPast { ends, past: past.collect() });
        }
        let since = date.plus_days(-NIGHTS);
        let recent = self.stood.before.iter().take_while(|(on, _)| *on >= since).count();
        let before = &self.stood.before[..recent];
        let changes = self.versions.changes(NIGHTS, date, ending.known_at)?;
        let recorded: BTreeMap<EntryId, DateTime<Utc>> =
            entries.iter().map(|fact| (fact.what.id, fact.at.min(now))).collect();
        let given = Given {
            items,
            before,
            recorded,
            amends: amends.map(|at| at.min(now)),
            open_days: reference.open_days(date, limits.new_store_days),
            changes: &changes,
            ..Given::new((catalog, limits), (&self.facts.store, store), date, now, count, tallied)
        };
        let most = match sent.what.asked {
            Asked::LeftOut => 0,
            Asked::CountedAgain(_) | Asked::Unanswered(_) => limits.confirmations as usize,
        };
        let divided = checks::triage(checks::night(&given), most);
        Ok(divided.asked.into_iter().chain(divided.left_out).chain(divided.said).collect())
    }

    /// The spans that end with the counts of a date and start by the last night that is loaded.
    fn join(
        &mut self,
        (date, last): (BusinessDate, BusinessDate),
        reference: &Reference,
        ending: &Ending,
    ) -> Result<Vec<ItemSpanRow>, AppError> {
        let key = Key { standing: &reference.standing, date, known_at: ending.known_at };
        let since = date.plus_days(-NIGHTS);
        let mut rows = Vec::new();
        for (item, count) in self.stood.nights.counted(date) {
            let Some(from) = self.stood.last.insert(item.clone(), (date, count)) else { continue };
            let span = self.stood.nights.span(ending, &item, from, (date, count));
            if from.0 <= last {
                rows.push(self.row(key, &item, &span)?);
            }
            if span.doubts.is_empty() {
                let past = self.stood.past.entry(item).or_default();
                past.insert(0, (date, PastUse::from(&span)));
                past.retain(|(on, _)| *on >= since);
            }
        }
        self.stood.before.retain(|(on, _)| *on >= since);
        Ok(rows)
    }

    /// The row of a span; one that was on record and says something else now is restated.
    fn row(&self, key: Key<'_>, item: &ItemId, span: &ItemSpan) -> Result<ItemSpanRow, AppError> {
        let was = self.stood.spans.iter().find(|row| row.is_of(item, key.date));
        let restated = match tallying::restated(was, span)? {
            true => Some(self.now),
            false => was.and_then(ItemSpanRow::restated_at),
        };
        Ok(ItemSpanRow::new(key, item, span, restated)?)
    }
}

impl Worked {
    /// What it would come to.
    pub fn counted(&self) -> Loaded {
        let counts = || self.nights.iter().flat_map(|night| &night.counts);
        let rows = |night: &WorkedNight| 1 + night.day.items.len() + night.day.dayparts.len();
        Loaded {
            stores: 1,
            nights: self.nights.len(),
            counts: counts().count(),
            left_out: counts().map(|count| count.left_out.len()).sum(),
            entries: self.nights.iter().map(|night| night.entries.len()).sum(),
            batches: self.nights.iter().map(|night| night.till.len()).sum(),
            tallies: self.nights.iter().map(rows).sum::<usize>() + self.spans.len(),
        }
    }

    fn none(store: StoreId) -> Self {
        Self { store, nights: Vec::new(), spans: Vec::new(), touched: None }
    }
}
