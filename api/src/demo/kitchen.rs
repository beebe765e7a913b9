//! A kitchen that truly has what it has: deliveries come, food is prepared, sold and lost, and what
//! is left is counted. The facts are what its people write down of that.

use std::collections::BTreeMap;

use anyhow::Context;
use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use parings_core::calendar::{BusinessDate, Weekday};
use parings_core::catalog::{Catalog, Settings, Store, Typed, UnitName};
use parings_core::ids::{EntryId, ItemId, StoreId};
use parings_core::night::{Count, CountLine, Entry, EntryBody, TillBatch};
use parings_core::quantity::{Base, Dimension, Tallied};
use parings_core::tally::{self, DayFacts};
use rust_decimal::Decimal;

use super::chance::Chance;
use super::days::{Act, Happening, What, happenings};
use super::places::Place;
use super::sales;

/// The item that goes through stages, and the stage it waits in.
pub const POTATO: &str = "potato";
/// The stage it waits in.
pub const CHILL: &str = "chill";

/// What is used up beside sales, in base units for each order of an ordinary day.
const BESIDE_SALES: (&str, f64) = ("griddle-cleaner", 1.4);

/// A store in the middle of its two weeks.
pub struct Kitchen<'a> {
    /// Its code.
    pub id: StoreId,
    pub(super) catalog: &'a Catalog,
    pub(super) settings: &'a Settings,
    pub(super) store: &'a Store,
    pub(super) place: &'a Place,
    pub(super) chance: Chance,
    /// What an ordinary day takes, preparation included, in base units as purchased.
    pub(super) usual: BTreeMap<ItemId, f64>,
    /// What preparing a batch of everything takes at once.
    pub(super) batches: BTreeMap<ItemId, f64>,
    /// What stands there as purchased, in base units.
    pub(super) stock: BTreeMap<ItemId, f64>,
    /// Chilled potatoes, in grams.
    pub(super) chilled: f64,
    /// Days it has opened so far.
    opened: usize,
    /// What was counted last.
    pub(super) counted: Vec<CountLine>,
    /// What is out of the ordinary today.
    pub(super) today: Vec<Happening>,
}

impl<'a> Kitchen<'a> {
    /// A kitchen stocked for its first day.
    pub fn new(catalog: &'a Catalog, place: &'a Place) -> anyhow::Result<Self> {
        let id = StoreId::new(&place.code)?;
        let store = catalog.stores.get(&id).context("a place without a store")?;
        let settings = catalog.settings.as_ref().context("a chain without settings")?;
        let mut kitchen = Self {
            id,
            catalog,
            settings,
            store,
            place,
            chance: Chance::new(place.seed),
            counted: Vec::new(),
            usual: BTreeMap::new(),
            batches: BTreeMap::new(),
            stock: BTreeMap::new(),
            chilled: 0.0,
            opened: 0,
            today: Vec::new(),
        };
        kitchen.usual = kitchen.ordinary_day()?;
        kitchen.batches = kitchen.one_batch_each()?;
        kitchen.fill()?;
        Ok(kitchen)
    }

    /// What an ordinary day takes.
    fn ordinary_day(&self) -> anyhow::Result<BTreeMap<ItemId, f64>> {
        let mut usual: BTreeMap<ItemId, f64> = BTreeMap::new();
        for (code, share) in sales::MIX {
            let (product, size) = self.catalog.by_till_code(code).context(code)?;
            let needs = self.catalog.needs_of(product, &size.code).map_err(anyhow::Error::msg)?;
            for (item, amount) in needs.0 {
                let amount = number(amount.value())? * share * self.place.orders;
                *usual.entry(item).or_default() += amount;
            }
        }
        for (item, amount) in usual.clone() {
            let inputs = self.catalog.inputs_of(&item, base(amount));
            for (input, taken) in inputs.map_err(anyhow::Error::msg)?.0 {
                *usual.entry(input).or_default() += number(taken.value())?;
            }
        }
        let (cleaner, each) = BESIDE_SALES;
        usual.insert(cleaner.parse()?, each * self.place.orders);
        Ok(usual)
    }

    fn one_batch_each(&self) -> anyhow::Result<BTreeMap<ItemId, f64>> {
        let mut taken: BTreeMap<ItemId, f64> = BTreeMap::new();
        for (id, item) in self.catalog.items.iter().filter(|(_, item)| !item.flows_through()) {
            let Some(recipe) = &item.made_from else { continue };
            let inputs = self.catalog.inputs_of(id, item.measure(id, &recipe.batch)?);
            for (input, amount) in inputs.map_err(anyhow::Error::msg)?.0 {
                *taken.entry(input).or_default() += number(amount.value())?;
            }
        }
        Ok(taken)
    }

    /// Everything that is done on a date so many nights before the last, in order of time; nothing on
    /// a closed day.
    pub fn day(&mut self, date: BusinessDate, ago: i64) -> anyhow::Result<Vec<Act>> {
        if !self.store.is_open(date) {
            return Ok(Vec::new());
        }
        self.today = happenings(self.id.as_str(), self.store.district.as_str(), ago);
        let mut acts = Vec::new();
        let delivered = self.deliveries()?;
        if !delivered.is_empty() {
            self.act(&mut acts, date, (8, 10), What::Entries(delivered))?;
        }
        let mut worked = self.preparation(date)?;
        worked.extend(self.transfers()?);
        if self.opened % 3 == 1 {
            worked.extend(self.samples()?);
        }
        if !worked.is_empty() {
            self.act(&mut acts, date, (12, 40), What::Entries(worked))?;
        }
        let [early, late] = self.sell(date)?;
        let typed =
            self.happens(Happening::TypedSales).then(|| sales::as_typed(self, &early, &late));
        let mut count = typed.transpose()?.unwrap_or_default();
        let expected = self.expected(date, &count, &early, &late)?;
        let (mut through_the_day, at_close) = self.waste(&expected)?;
        self.use_up(&expected)?;
        if count.units_sold.is_empty() {
            let (first, second) = (format!("{date}-early"), format!("{date}-late"));
            self.act(&mut acts, date, (15, 10), What::Till { id: first, batch: early })?;
            self.act(&mut acts, date, self.shuts(0), What::Till { id: second, batch: late })?;
        }
        through_the_day.extend(self.stock_out(date)?);
        if !through_the_day.is_empty() {
            self.act(&mut acts, date, (21, 20), What::Entries(through_the_day))?;
        }
        count.device_time = Some(self.moment(date, self.shuts(15))?);
        self.close(&mut acts, date, count, at_close)?;
        acts.sort_by_key(|act| act.at);
        self.opened += 1;
        Ok(acts)
    }

    /// Counts, and sends the night; the entries of the close too where nobody counts.
    fn close(
        &mut self,
        acts: &mut Vec<Act>,
        date: BusinessDate,
        mut count: Count,
        entries: Vec<Entry>,
    ) -> anyhow::Result<()> {
        if self.happens(Happening::NoCount) {
            if entries.is_empty() {
                return Ok(());
            }
            return self.act(acts, date, self.shuts(15), What::Entries(entries));
        }
        count.lines = self.count(date)?;
        count.complete = !self.happens(Happening::PartialCount);
        if !count.complete {
            count.lines.truncate(count.lines.len() / 2);
        }
        let amended = self.happens(Happening::Amended).then(|| count.clone());
        if amended.is_some() {
            self.overlook_tray(&mut count)?;
        }
        if self.happens(Happening::Slip) {
            type_sacks_as_kilograms(&mut count)?;
        }
        let night = What::Night { count, entries, reason: None };
        let late = self.happens(Happening::CountedLate);
        let clock = if late { (34, 10) } else { self.shuts(15) };
        self.act(acts, date, clock, night)?;
        if let Some(count) = amended {
            let reason = "A tray of dough stood at the back of the freezer".to_owned();
            let night = What::Night { count, entries: Vec::new(), reason: Some(reason) };
            self.act(acts, date, (31, 20), night)?;
        }
        Ok(())
    }

    /// What sales of the day should have used, as the rules work it out.
    fn expected(
        &self,
        date: BusinessDate,
        count: &Count,
        early: &TillBatch,
        late: &TillBatch,
    ) -> anyhow::Result<BTreeMap<ItemId, f64>> {
        let till = match count.units_sold.is_empty() {
            true => vec![early.clone(), late.clone()],
            false => Vec::new(),
        };
        let facts = DayFacts { till, count: Some(count.clone()), ..DayFacts::default() };
        let day = tally::day(&facts, self.catalog, self.settings, &self.id, self.store, date)?;
        let items = day.items.into_iter().filter(|(_, item)| item.expected != Tallied::default());
        items.map(|(id, item)| Ok((id, number(item.expected.base().value())?))).collect()
    }

    /// Takes from the stock what was truly used: what sales should take, a little more in each
    /// portion, and a piece lost here and there.
    fn use_up(&mut self, expected: &BTreeMap<ItemId, f64>) -> anyhow::Result<()> {
        for (id, amount) in expected {
            let item = self.catalog.item(id)?;
            let pieces = item.base == Dimension::Count;
            let used = match pieces {
                true => amount + f64::from(self.chance.count(amount * 0.012)),
                false => self.chance.near(amount * self.portion(), 0.008),
            };
            self.take(id, used)?;
        }
        let (cleaner, each) = BESIDE_SALES;
        let used = self.chance.near(each * self.place.orders, 0.2);
        self.take(&cleaner.parse()?, used)
    }

    /// Takes an amount as purchased; of potatoes from the chilled ones.
    pub(super) fn take(&mut self, id: &ItemId, amount: f64) -> anyhow::Result<()> {
        if id.as_str() == POTATO {
            self.chilled = (self.chilled - amount * self.yield_to(CHILL)?).max(0.0);
        } else if let Some(stock) = self.stock.get_mut(id) {
            *stock = (*stock - amount).max(0.0);
        }
        Ok(())
    }

    /// The share of potatoes as purchased that is there after a stage, at the standard.
    pub(super) fn yield_to(&self, stage: &str) -> anyhow::Result<f64> {
        let potato = self.catalog.item(&POTATO.parse()?)?;
        number(potato.stages.cumulative(Some(&stage.parse()?))?.decimal())
    }

    pub(super) fn happens(&self, what: Happening) -> bool {
        self.today.contains(&what)
    }

    /// So many minutes after the store has shut and the till sent the last of the day.
    fn shuts(&self, after: i64) -> (i64, i64) {
        if self.store.format.as_str() == "kiosk" { (21, 30 + after) } else { (25, 40 + after) }
    }

    /// How much is served today, as a multiple of the recipe.
    pub(super) fn portion(&self) -> f64 {
        let larger = if self.happens(Happening::LargerPortions) { 1.055 } else { 1.0 };
        self.place.portion * larger
    }

    /// How busy a day is, as a multiple of an ordinary one.
    pub(super) fn bustle(&self, date: BusinessDate) -> f64 {
        let offer = if self.happens(Happening::Promotion) { 1.18 } else { 1.0 };
        offer
            * match date.weekday() {
                Weekday::Mon => 0.82,
                Weekday::Tue => 0.85,
                Weekday::Wed => 0.93,
                Weekday::Thu => 0.98,
                Weekday::Fri => 1.22,
                Weekday::Sat => 1.30,
                Weekday::Sun => 1.05,
            }
    }

    /// A time on the store's clock, hours past 24 meaning the next morning.
    pub(super) fn moment(
        &self,
        date: BusinessDate,
        (hour, minute): (i64, i64),
    ) -> anyhow::Result<DateTime<Utc>> {
        let midnight = chrono::NaiveDate::from(date).and_time(chrono::NaiveTime::MIN);
        let wall = midnight + TimeDelta::minutes(hour * 60 + minute);
        // In the hour that clocks skip, an hour later will do.
        let zone = self.store.zone.tz();
        let found = zone.from_local_datetime(&wall).earliest();
        let found =
            found.or_else(|| zone.from_local_datetime(&(wall + TimeDelta::hours(1))).earliest());
        Ok(found.context("a time that no clock shows")?.to_utc())
    }

    fn act(
        &mut self,
        acts: &mut Vec<Act>,
        date: BusinessDate,
        clock: (i64, i64),
        what: What,
    ) -> anyhow::Result<()> {
        let at = self.moment(date, clock)?;
        acts.push(Act { at, date, what });
        Ok(())
    }

    pub(super) fn entry(&mut self, body: EntryBody) -> Entry {
        Entry { id: EntryId(self.chance.id()), body }
    }
}

/// Types the potatoes in the dry store by the sack and says kilograms.
fn type_sacks_as_kilograms(count: &mut Count) -> anyhow::Result<()> {
    let bought = |line: &&mut CountLine| line.item.as_str() == POTATO && line.stage.is_none();
    let line = count.lines.iter_mut().find(bought).context("no potatoes counted")?;
    let sacks = line.quantity.value() / Decimal::from(20);
    line.quantity = Typed::new(sacks.round_dp(1), line.quantity.unit().clone())?;
    Ok(())
}

/// A number as a person types it, with so many decimals.
pub fn typed(value: f64, decimals: u32, unit: &str) -> anyhow::Result<Typed> {
    let unit: UnitName = unit.parse()?;
    Ok(Typed::new(decimal(value, decimals), unit)?)
}

/// A number with so many decimals.
pub fn decimal(value: f64, decimals: u32) -> Decimal {
    let shifted = value * 10_f64.powi(decimals as i32);
    Decimal::new(shifted.round() as i64, decimals)
}

pub(super) fn number(value: Decimal) -> anyhow::Result<f64> {
    Ok(f64::try_from(value)?)
}

pub(super) fn base(value: f64) -> Base {
    Base::new(decimal(value, 3))
}

#[cfg(test)]
mod tests {
    use parings_core::calendar::business_date;

    use super::super::{chain, places};
    use super::*;

    /// So many weeks of a store up to a date, as JSON.
    fn weeks(catalog: &Catalog, place: &Place, last: BusinessDate, weeks: i64) -> Vec<String> {
        let mut kitchen = Kitchen::new(catalog, place).unwrap();
        let mut said = Vec::new();
        for ago in (0..7 * weeks).rev() {
            for act in kitchen.day(last.plus_days(-ago), ago).unwrap() {
                let (zone, cut_off) = (&kitchen.store.zone, kitchen.store.cut_off);
                let late = kitchen.happens(Happening::CountedLate)
                    || matches!(&act.what, What::Night { reason: Some(_), .. });
                assert!(business_date(act.at, zone, cut_off) == act.date || late);
                said.push(match act.what {
                    What::Entries(entries) => serde_json::to_string(&entries).unwrap(),
                    What::Till { batch, .. } => serde_json::to_string(&batch).unwrap(),
                    What::Night { count, .. } => serde_json::to_string(&count).unwrap(),
                });
            }
            // Nothing ever runs out unasked, so that expected and true use stay near each other.
            let low: Vec<_> = kitchen.stock.iter().filter(|(_, left)| **left <= 0.0).collect();
            assert!(low.is_empty() && kitchen.chilled > 0.0, "{}, {ago}: {low:?}", place.code);
        }
        said
    }

    #[test]
    fn a_store_has_the_same_weeks_every_time_and_others_with_another_seed() {
        let last = BusinessDate::new(2026, 6, 14).unwrap();
        let [once, again, other] = [0, 0, 1].map(|seed| {
            let places = places::places(6, seed);
            weeks(&chain::catalog(&places).unwrap(), &places[4], last, 2)
        });
        assert!(once.len() > 50, "{}", once.len());
        assert_eq!(once, again);
        assert_ne!(once, other);
    }

    #[test]
    fn no_store_runs_dry_whatever_weekday_the_demo_ends_on() {
        // The clocks of both zones change on 29 March 2026.
        let last = BusinessDate::new(2026, 5, 20).unwrap();
        let places = places::places(30, 0);
        let catalog = chain::catalog(&places).unwrap();
        for (n, place) in places.iter().enumerate().step_by(3) {
            let weekday = n as i64 % 7;
            weeks(&catalog, place, last.plus_days(weekday), 12);
        }
    }
}
