//! The nights of one store, worked through in memory in order of date.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, business_date, day_bounds};
use parings_core::catalog::Store;
use parings_core::checks::{self, Check, Given, ItemPast};
use parings_core::ids::{EntryId, ItemId, StoreId};
use parings_core::night::{Entry, State, check_count, check_till};
use parings_core::tally::{Day, DayFacts, Ending, RULES};

use super::stood::{StoodNight, StoodStore};
use super::versions::{Reference, Versions};
use super::{Asked, Batch, CountSent, Fact, Loaded, NightFacts, Place, Refused, StoreFacts};
use crate::app::night::revisions::Revision;
use crate::app::night::stood::{BACK, Beside};
use crate::app::night::{entries, tallying};
use crate::db::tallies::NightRow;
use crate::error::AppError;

/// Everything that the work of one store needs.
pub struct Work {
    /// The reference data.
    pub versions: Arc<Versions>,
    /// The facts to load.
    pub facts: StoreFacts,
    /// What stands there.
    pub stood: StoodStore,
    /// Why counts on record are amended; without a reason they are not.
    pub reason: Option<String>,
    /// All reference data of this moment are on record.
    pub known: DateTime<Utc>,
    /// When the load began.
    pub now: DateTime<Utc>,
}

/// What is to be written of a store.
pub struct Worked {
    pub store: StoreId,
    /// Those that facts are loaded of.
    pub nights: Vec<WorkedNight>,
    /// The nights that are to be kept anew: its own, and later ones on which spans end that began in
    /// them.
    pub(super) rows: Vec<NightRow>,
}

/// What is to be written of a night.
pub struct WorkedNight {
    pub date: BusinessDate,
    /// Where the store stood.
    pub standing: Standing,
    /// The moment whose reference data it is tallied with.
    pub known_at: DateTime<Utc>,
    /// When the first of its facts came; none of a night that was tallied before.
    pub begun: Option<DateTime<Utc>>,
    /// Revisions of its count that were on record.
    pub revisions: Vec<Revision>,
    /// New revisions of its count.
    pub counts: Vec<WorkedCount>,
    /// Entries that are new.
    pub entries: Vec<Fact<Entry>>,
    /// Batches of the till.
    pub till: Vec<Fact<Batch>>,
}

/// A night with the revision of its count in force and what its facts add up to; or what cannot be taken.
type Checked = Result<(WorkedNight, Option<i32>, Day), Vec<Refused>>;

/// A revision to be written.
pub struct WorkedCount {
    /// The number of the revision within its night.
    pub number: i32,
    /// The count as typed, by whom and when.
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
        let loading: BTreeMap<BusinessDate, NightFacts> =
            std::mem::take(&mut self.facts.nights).into_iter().map(|n| (n.date, n)).collect();
        let mut worked = Worked::none(self.facts.store.clone());
        let (mut refused, mut changed) = (Vec::new(), BTreeSet::new());
        for (date, night) in loading {
            let known_at = match self.stood.tallied.beside(date) {
                Some(beside) => beside.known_at,
                None => night.first().unwrap_or(self.now).min(self.known),
            };
            let Some(reference) = self.versions.of(&self.facts.store, date, known_at)? else {
                let says = "the store was not on record on that date".to_owned();
                refused.push(self.refuse(date, Place::Night, says));
                continue;
            };
            let ending = reference.ending(date, known_at);
            match self.night(night, &reference, &ending)? {
                Ok((night, revision, day)) => {
                    changed.extend(self.join(&reference, ending, revision, day)?);
                    worked.nights.push(night);
                }
                Err(faults) => refused.extend(faults),
            }
        }
        if !refused.is_empty() {
            return Ok(Err(refused));
        }
        worked.rows = self.stood.tallied.rows(&changed)?;
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
    ) -> Result<Checked, AppError> {
        let date = night.date;
        let catalog = &reference.catalog;
        let store = tallying::in_catalog(catalog, &self.facts.store)?;
        let stood = self.stood.facts.remove(&date);
        let refused = self.flaws(&night, reference, store, stood.as_ref());
        if !refused.is_empty() {
            return Ok(Err(refused));
        }
        let StoodNight { mut facts, in_force, revisions } = stood.unwrap_or_default();
        let fresh = self.stood.tallied.beside(date).is_none();
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
        if let Some(count) = facts.count {
            self.stood.before.insert(0, (date, count.lines));
        }
        let revision = if made.is_empty() { in_force } else { Some(number) };
        let worked = WorkedNight {
            date,
            standing: reference.standing.clone(),
            known_at: ending.known_at,
            begun,
            revisions,
            counts: made,
            entries,
            till,
        };
        Ok(Ok((worked, revision, day)))
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
        let (date, count) = (ending.date, &sent.what.count);
        // As if it had come in time: how old it is says nothing about it.
        let ends = day_bounds(date, &store.zone, store.cut_off).1 - TimeDelta::seconds(1);
        let now =
            if sent.at > ends { count.device_time.unwrap_or(ends).min(ends) } else { sent.at };
        let items = ItemPast::of_day(&self.stood.tallied.nights, ending, day, BACK);
        let since = date.plus_days(-BACK);
        let recent = self.stood.before.iter().take_while(|(on, _)| *on >= since).count();
        let before = &self.stood.before[..recent];
        let changes = self.versions.changes(BACK, date, ending.known_at)?;
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

    /// Joins a night to spans; answers with the nights that say something else now.
    fn join(
        &mut self,
        reference: &Reference,
        ending: Ending,
        revision: Option<i32>,
        day: Day,
    ) -> Result<BTreeSet<BusinessDate>, AppError> {
        let (date, known_at) = (ending.date, ending.known_at);
        let stood = &mut self.stood.tallied;
        let mut endings = BTreeMap::from([(date, ending)]);
        for end in stood.nights.ends(date, Some(&day)).into_iter().filter(|end| *end != date) {
            let known_at = stood.beside(end).map_or(self.now, |beside| beside.known_at);
            let found = self.versions.of(&self.facts.store, end, known_at)?;
            endings.extend(found.map(|reference| (end, reference.ending(end, known_at))));
        }
        let change = stood
            .nights
            .put(date, Some(day), &endings, self.now)
            .map_err(|error| AppError::Internal(error.into()))?;
        let standing = reference.standing.clone();
        stood.say(date, Beside { standing, known_at, revision, rules: RULES });
        let since = date.plus_days(-BACK);
        self.stood.before.retain(|(on, _)| *on >= since);
        Ok(change.nights)
    }
}

impl Worked {
    /// What it would come to.
    pub fn counted(&self) -> Loaded {
        let counts = || self.nights.iter().flat_map(|night| &night.counts);
        Loaded {
            stores: 1,
            nights: self.nights.len(),
            counts: counts().count(),
            left_out: counts().map(|count| count.left_out.len()).sum(),
            entries: self.nights.iter().map(|night| night.entries.len()).sum(),
            batches: self.nights.iter().map(|night| night.till.len()).sum(),
            tallies: self.rows.len(),
        }
    }

    fn none(store: StoreId) -> Self {
        Self { store, nights: Vec::new(), rows: Vec::new() }
    }
}
