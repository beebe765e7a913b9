use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};

use super::contribution::{What, samples, sold, tickets};
use super::{
    Contribution, Counted, Day, DaypartKey, DaypartTally, ItemDay, Misfit, Part, Row, SalesSource,
    TallyError, WasteLine, contributions, takings,
};
use crate::calendar::{BusinessDate, day_bounds};
use crate::catalog::{Catalog, Daypart, Settings, Store, Typed};
use crate::ids::{ChannelId, DaypartId, ItemId, StageId, StoreId};
use crate::money::{Money, UnitPrice};
use crate::night::{
    Count, Entry, EntryBody, Sale, Step, TillBatch, TillTicket, When, due_items, line_amount,
};
use crate::quantity::{Base, Tallied};
use crate::tickets::{Ticket, tally_tickets_by};
use crate::usage::price_effect;
use crate::yields::{ScaleTolerance, batch_yield};

/// The facts of a store's date.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DayFacts {
    /// Entries that were not withdrawn.
    pub entries: Vec<Entry>,
    /// The accepted count, if there is one.
    pub count: Option<Count>,
    /// Items whose lines in that count are doubtful: they are as if they had not been counted.
    pub left_out: BTreeSet<ItemId>,
    /// The till's batches, in the order they came.
    pub till: Vec<TillBatch>,
}

/// Adds up the facts of a store's date, under the catalogue in force on it.
///
/// # Errors
/// [`TallyError`] when a fact names what the catalogue does not have.
pub fn day(
    facts: &DayFacts,
    catalog: &Catalog,
    settings: &Settings,
    id: &StoreId,
    store: &Store,
    date: BusinessDate,
) -> Result<Day, TallyError> {
    let mut adding = Adding {
        catalog,
        settings,
        store,
        date,
        dayparts: catalog.dayparts_of(id, store),
        items: BTreeMap::new(),
        day: Day::default(),
    };
    adding
        .all(facts)
        .map_err(|cause| TallyError { store: id.clone(), date, cause })
        .map(|()| adding.day)
}

/// An item's day before it is rounded.
#[derive(Default)]
struct Exact<'f> {
    parts: BTreeMap<Part<'f>, Base>,
    rest: ItemDay,
}

struct Adding<'a, 'f> {
    catalog: &'a Catalog,
    settings: &'a Settings,
    store: &'a Store,
    date: BusinessDate,
    dayparts: Vec<Daypart>,
    items: BTreeMap<ItemId, Exact<'f>>,
    day: Day,
}

impl<'f> Adding<'_, 'f> {
    fn all(&mut self, facts: &'f DayFacts) -> Result<(), Misfit> {
        for Contribution { item, part, amount, .. } in contributions(facts, self.catalog)? {
            *self.item(&item).parts.entry(part).or_default() += amount;
        }
        for (_, item, weighed) in samples(facts, self.catalog)? {
            let samples = &mut self.item(item).rest.samples;
            *samples = samples.merge(weighed);
        }
        for entry in &facts.entries {
            match &entry.body {
                EntryBody::StockOut { item, from, to } => self.stock_out(item, *from, *to),
                EntryBody::Batch { item, from, put_in, steps, .. } => {
                    let over =
                        over_cap(self.catalog, item, from.as_ref(), put_in, steps)?.is_some();
                    self.item(item).rest.over_cap |= over;
                }
                EntryBody::Delivery { item, quantity, paid: Some(paid), .. } => {
                    self.paid(item, quantity, *paid)?;
                }
                _ => {}
            }
        }
        self.sales(facts);
        self.tickets(facts)?;
        self.count(facts);
        self.settle()
    }

    fn item(&mut self, id: &ItemId) -> &mut Exact<'f> {
        self.items.entry(id.clone()).or_default()
    }

    /// What a delivery cost beyond the standard price of its item, where there is one.
    fn paid(&mut self, item: &ItemId, quantity: &Typed, paid: Money) -> Result<(), Misfit> {
        let Some(standard) = self.catalog.unit_price(item) else { return Ok(()) };
        let amount = line_amount(self.catalog, item, None, quantity, None)?;
        let paid = UnitPrice::per(paid, amount)?;
        let effect = price_effect(paid, standard, amount)?;
        self.item(item).rest.price_effect += effect;
        Ok(())
    }

    fn stock_out(&mut self, item: &ItemId, from: DateTime<Utc>, to: Option<DateTime<Utc>>) {
        let (opens, ends) = day_bounds(self.date, &self.store.zone, self.store.cut_off);
        let (mut at, to) = (from.max(opens), to.unwrap_or(ends).min(ends));
        let mut minutes = 0;
        while at < to {
            let key = key(self.daypart_at(at), Some(&ChannelId::every()));
            self.daypart(key).stock_out_minutes += 1;
            minutes += 1;
            at += TimeDelta::minutes(1);
        }
        self.item(item).rest.stock_out_minutes += minutes;
    }

    fn sales(&mut self, facts: &DayFacts) {
        for sold in sold(facts) {
            match sold.what {
                What::Fed(sale) => self.fed(sale, sold.units, sold.taken),
                What::Typed(typed) => {
                    self.day.night.sales_source = SalesSource::Typed;
                    let daypart = typed.daypart.clone().unwrap_or_else(DaypartId::unknown);
                    self.daypart(key(daypart, typed.channel.as_ref())).units += sold.units;
                }
            }
            let units = &mut self.day.night.units;
            *units = Some(units.unwrap_or(0) + sold.units);
        }
        for (row, taken) in takings(facts) {
            let sales = &mut self.day.night.sales;
            *sales = Some(sales.unwrap_or(Money::ZERO) + taken);
            if row == Row::NetSales {
                self.daypart(key(DaypartId::unknown(), None)).sales += taken;
            }
        }
    }

    fn fed(&mut self, sale: &Sale, units: u64, taken: Money) {
        self.day.night.sales_source = SalesSource::Feed;
        let daypart = match &sale.when {
            When::Daypart(daypart) => daypart.clone(),
            When::At(at) => self.daypart_at(*at),
            When::Unknown => DaypartId::unknown(),
        };
        let tally = self.daypart(key(daypart, sale.channel.as_ref()));
        tally.units += units;
        tally.sales += taken;
        if units == 0 {
            return;
        }
        if self.catalog.by_till_code(&sale.code).is_none() {
            self.unmapped(&sale.code, units);
        }
        for added in &sale.additions {
            if self.catalog.addition_by_till_code(&added.code).is_none() {
                self.unmapped(&added.code, added.units.into());
            }
        }
    }

    fn unmapped(&mut self, code: &str, units: u64) {
        *self.day.unmapped.entry(code.to_owned()).or_default() += units;
        self.day.night.unmapped_units += units;
    }

    fn tickets(&mut self, facts: &DayFacts) -> Result<(), Misfit> {
        let sent = tickets(facts);
        let read = |(_, t): &(Row, &TillTicket)| Ticket::new(t.placed, t.handed_off, t.promised);
        let tickets = sent.iter().map(read).collect::<Result<Vec<_>, _>>()?;
        let by_key = tally_tickets_by(
            &tickets,
            |n, ticket| {
                let key = key(self.daypart_at(ticket.placed()), sent[n].1.channel.as_ref());
                let target = self.catalog.channels.get(&key.channel);
                (key, target.and_then(|c| c.target(&self.store.format)))
            },
            self.settings.lump,
        );
        for (key, tally) in by_key {
            let daypart = self.daypart(key);
            daypart.tickets = std::mem::take(&mut daypart.tickets).merge(&tally);
        }
        Ok(())
    }

    fn count(&mut self, facts: &DayFacts) {
        let due = due_items(self.catalog, self.store, self.date);
        let counted = |id: &ItemId| {
            self.items.get(id).is_some_and(|exact| exact.parts.contains_key(&Part::Closing))
        };
        let (mut items_due, mut items_counted, mut items_left_out) = (0, 0, 0);
        for (id, _) in due {
            items_due += 1;
            items_counted += u64::from(counted(id));
            items_left_out += u64::from(facts.left_out.contains(id));
        }
        let items = self.catalog.items.iter();
        let kept = items.filter(|(_, item)| item.is_kept_by(self.store));
        self.day.kept = kept.map(|(id, _)| id.clone()).collect();
        let night = &mut self.day.night;
        night.short = self.store.is_short(self.date, self.settings.limits.short_day_share);
        night.items_due = items_due;
        night.items_counted = items_counted;
        night.items_left_out = items_left_out;
        night.counted = facts.count.is_some();
        night.partial = night.counted && items_counted + items_left_out < items_due;
    }

    /// Rounds every item once, values it, and keeps what is not nothing.
    fn settle(&mut self) -> Result<(), Misfit> {
        for (id, exact) in std::mem::take(&mut self.items) {
            let price = self.catalog.unit_price(&id);
            let cost = |amount: Tallied| {
                price.and_then(|p| p.try_of(amount.base()).ok()).unwrap_or(Money::ZERO)
            };
            let mut day = exact.rest;
            for (part, exact) in exact.parts {
                let settle = |amount: Base| {
                    amount.settle().map_err(|cause| Misfit::TooMuch { item: id.clone(), cause })
                };
                let amount = settle(exact)?;
                match part {
                    Part::Received => day.received = amount,
                    Part::TransferredIn => day.transferred_in = amount,
                    Part::TransferredOut => day.transferred_out = amount,
                    Part::Made => day.made = amount,
                    Part::MadeInto => day.made_into = amount,
                    Part::Expected => day.expected = amount,
                    Part::BatchIn => day.batch_in = amount,
                    Part::BatchOut => day.batch_out = amount,
                    Part::BatchExpectedOut => day.batch_expected_out = amount,
                    Part::YieldLoss => day.yield_loss = amount,
                    Part::Closing => {
                        let sd = settle(self.count_error(&id, exact)?)?;
                        day.count = Some(Counted { closing: amount, sd });
                    }
                    Part::Waste { stage, reason, daypart } => {
                        let safety = self.catalog.is_for_safety(reason);
                        let cost = cost(amount);
                        day.wasted += amount;
                        day.wasted_cost += cost;
                        if safety {
                            day.wasted_safety += amount;
                            day.wasted_safety_cost += cost;
                        }
                        let (stage, daypart) = (stage.cloned(), daypart.cloned());
                        let reason = reason.clone();
                        day.waste.push(WasteLine { stage, reason, safety, daypart, amount, cost });
                    }
                }
            }
            day.made_into_cost = cost(day.made_into);
            day.expected_cost = cost(day.expected);
            day.yield_loss_cost = cost(day.yield_loss);
            self.day.night.wasted_cost += day.wasted_cost;
            self.day.night.wasted_safety_cost += day.wasted_safety_cost;
            if day != ItemDay::default() {
                self.day.items.insert(id, day);
            }
        }
        Ok(())
    }

    /// How far a count is off: the item's own figure, else the network's share of the amount.
    fn count_error(&self, id: &ItemId, closing: Base) -> Result<Base, Misfit> {
        let item = self.catalog.item(id)?;
        match &item.count_error {
            Some(typed) => Ok(item.measure(id, typed)?),
            None => Ok(closing * self.settings.count_error.decimal()),
        }
    }

    fn daypart_at(&self, at: DateTime<Utc>) -> DaypartId {
        let clock = at.with_timezone(&self.store.zone.tz()).time();
        let found = self.dayparts.iter().find(|d| d.hours.contains(clock));
        found.map_or_else(DaypartId::outside, |d| d.code.clone())
    }

    fn daypart(&mut self, key: DaypartKey) -> &mut DaypartTally {
        self.day.dayparts.entry(key).or_default()
    }
}

/// The first weighed stage of a batch that more came out of than can. More than twice what went in
/// is no yield at all, and over every cap.
pub(crate) fn over_cap<'a>(
    catalog: &Catalog,
    id: &ItemId,
    from: Option<&StageId>,
    put_in: &Typed,
    steps: &'a [Step],
) -> Result<Option<&'a Step>, Misfit> {
    let item = catalog.item(id)?;
    let measure = |typed: &Typed| item.measure(id, typed);
    let (mut stage, mut before) = (from, measure(put_in)?);
    for step in steps {
        let after = measure(&step.out)?;
        let cap = item.stages.cap_between(stage, &step.stage)?;
        let over = match batch_yield(before, after) {
            Ok(found) => ScaleTolerance::default().over_cap(found, cap),
            Err(_) => after > before,
        };
        if over {
            return Ok(Some(step));
        }
        (stage, before) = (Some(&step.stage), after);
    }
    Ok(None)
}

fn key(daypart: DaypartId, channel: Option<&ChannelId>) -> DaypartKey {
    let channel = channel.cloned().unwrap_or_else(ChannelId::unknown);
    DaypartKey { daypart, channel }
}

#[cfg(test)]
mod tests;
