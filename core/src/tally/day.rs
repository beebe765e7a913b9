use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use rust_decimal::Decimal;

use super::{Counted, Day, DaypartKey, DaypartTally, ItemDay, SalesSource, WasteLine};
use crate::calendar::{BusinessDate, day_bounds};
use crate::catalog::{Catalog, Daypart, Needs, Settings, Store, Typed};
use crate::ids::{ChannelId, DaypartId, ItemId, StageId, StoreId};
use crate::money::{Money, UnitPrice};
use crate::night::{
    Count, Entry, EntryBody, Outcome, Sale, Step, TillBatch, TillTicket, When, due_items,
    line_amount,
};
use crate::quantity::{Base, Tallied};
use crate::tickets::{Ticket, tally_tickets_by};
use crate::usage::price_effect;

/// The facts of a store's date.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DayFacts {
    /// Entries that were not withdrawn.
    pub entries: Vec<Entry>,
    /// The accepted count, if there is one.
    pub count: Option<Count>,
    /// The till's batches, in the order they came.
    pub till: Vec<TillBatch>,
}

/// Why facts cannot be added up. Facts are checked before they are taken, so this means that the
/// reference data they were checked against are not the ones they are tallied with.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("facts of {store} on {date} cannot be tallied: {cause}")]
pub struct TallyError {
    /// The store.
    pub store: StoreId,
    /// The date.
    pub date: BusinessDate,
    /// What does not fit.
    pub cause: String,
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
struct Exact {
    received: Base,
    transferred_in: Base,
    transferred_out: Base,
    made: Base,
    made_into: Base,
    expected: Base,
    batch_in: Base,
    batch_out: Base,
    batch_expected_out: Base,
    yield_loss: Base,
    waste: BTreeMap<WasteKey, Base>,
    closing: Option<Base>,
    rest: ItemDay,
}

/// Stage, reason, daypart: what waste of an item is told apart by.
type WasteKey = (Option<StageId>, crate::ids::ReasonId, Option<DaypartId>);

struct Adding<'a> {
    catalog: &'a Catalog,
    settings: &'a Settings,
    store: &'a Store,
    date: BusinessDate,
    dayparts: Vec<Daypart>,
    items: BTreeMap<ItemId, Exact>,
    day: Day,
}

impl Adding<'_> {
    fn all(&mut self, facts: &DayFacts) -> Result<(), String> {
        for entry in &facts.entries {
            self.entry(&entry.body)?;
        }
        self.sales(facts)?;
        self.tickets(&facts.till)?;
        self.count(facts.count.as_ref())?;
        self.settle()
    }

    fn item(&mut self, id: &ItemId) -> &mut Exact {
        self.items.entry(id.clone()).or_default()
    }

    fn bought(&self, id: &ItemId, stage: Option<&StageId>, typed: &Typed) -> Result<Base, String> {
        line_amount(self.catalog, id, stage, typed, None)
    }

    fn entry(&mut self, body: &EntryBody) -> Result<(), String> {
        match body {
            EntryBody::Waste { item, stage, reason, quantity, pan, daypart } => {
                let amount =
                    line_amount(self.catalog, item, stage.as_ref(), quantity, pan.as_ref())?;
                let key = (stage.clone(), reason.clone(), daypart.clone());
                *self.item(item).waste.entry(key).or_default() += amount;
            }
            EntryBody::Delivery { item, quantity, paid, .. } => {
                let amount = self.bought(item, None, quantity)?;
                self.item(item).received += amount;
                if let (Some(paid), Some(standard)) = (paid, self.catalog.unit_price(item)) {
                    let paid = UnitPrice::per(*paid, amount).map_err(|e| e.to_string())?;
                    let effect = price_effect(paid, standard, amount).map_err(|e| e.to_string())?;
                    self.item(item).rest.price_effect += effect;
                }
            }
            EntryBody::TransferIn { item, stage, quantity, .. } => {
                let amount = self.bought(item, stage.as_ref(), quantity)?;
                self.item(item).transferred_in += amount;
            }
            EntryBody::TransferOut { item, stage, quantity, .. } => {
                let amount = self.bought(item, stage.as_ref(), quantity)?;
                self.item(item).transferred_out += amount;
            }
            EntryBody::Batch { item, from, put_in, steps, .. } => {
                self.batch(item, from.as_ref(), put_in, steps)?;
            }
            EntryBody::Preparation { item, made, .. } => {
                let amount = self.bought(item, None, made)?;
                // The use of an item that is never counted flows through to its inputs with its
                // sales; what was made of it moves nothing.
                if self.catalog.items.get(item).is_some_and(|i| !i.flows_through()) {
                    self.item(item).made += amount;
                    for (input, taken) in self.catalog.inputs_of(item, amount)?.0 {
                        self.item(&input).made_into += taken;
                    }
                }
            }
            EntryBody::StockOut { item, from, to } => self.stock_out(item, *from, *to),
            EntryBody::Sample { product, size, item, weights } => {
                let found = self.catalog.size(product, size).map_err(|e| e.to_string())?;
                let line = found.lines.iter().find(|l| l.item == *item).ok_or_else(|| {
                    format!("the recipe of {product}/{size} has no line for {item}")
                })?;
                let known = self.catalog.item(item).map_err(|e| e.to_string())?;
                let standard = known.measure(item, &line.quantity).map_err(|e| e.to_string())?;
                for weight in weights {
                    let weight = known.measure(item, weight).map_err(|e| e.to_string())?;
                    self.item(item).rest.samples.add(weight, standard);
                }
            }
        }
        Ok(())
    }

    fn batch(
        &mut self,
        id: &ItemId,
        from: Option<&StageId>,
        put_in: &Typed,
        steps: &[Step],
    ) -> Result<(), String> {
        let item = self.catalog.item(id).map_err(|e| e.to_string())?;
        let Some(last) = steps.last() else { return Ok(()) };
        let went_in = item.measure(id, put_in).map_err(|e| e.to_string())?;
        let came_out = item.measure(id, &last.out).map_err(|e| e.to_string())?;
        let bought = item.as_purchased(id, went_in, from).map_err(|e| e.to_string())?;
        let should = item.stages.at_stage(bought, Some(&last.stage)).map_err(|e| e.to_string())?;
        let lost = item
            .as_purchased(id, should - came_out, Some(&last.stage))
            .map_err(|e| e.to_string())?;
        let day = self.item(id);
        day.batch_in += went_in;
        day.batch_out += came_out;
        day.batch_expected_out += should;
        day.yield_loss += lost;
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

    fn sales(&mut self, facts: &DayFacts) -> Result<(), String> {
        let lines = latest(facts.till.iter().flat_map(|b| &b.sales), |s| s.line.as_deref());
        let mut needs = Needs::default();
        if !lines.is_empty() {
            self.day.night.sales_source = SalesSource::Feed;
            for sale in lines {
                self.sale(sale, &mut needs)?;
            }
        } else if let Some(count) = &facts.count {
            self.typed_sales(count, &mut needs)?;
        }
        for (item, amount) in needs.0 {
            self.item(&item).expected += amount;
        }
        Ok(())
    }

    fn sale(&mut self, sale: &Sale, needs: &mut Needs) -> Result<(), String> {
        let (units, taken) = units_and_money(sale.outcome, sale.units, sale.net);
        let daypart = match &sale.when {
            When::Daypart(daypart) => daypart.clone(),
            When::At(at) => self.daypart_at(*at),
            When::Unknown => DaypartId::unknown(),
        };
        let key = key(daypart, sale.channel.as_ref());
        let tally = self.daypart(key);
        tally.units += units;
        tally.sales += taken;
        let night = &mut self.day.night;
        night.units = Some(night.units.unwrap_or(0) + units);
        night.sales = Some(night.sales.unwrap_or(Money::ZERO) + taken);
        if units == 0 {
            return Ok(());
        }
        match self.catalog.by_till_code(&sale.code) {
            Some((product, size)) => {
                let mut one = self.catalog.needs_of(product, &size.code)?;
                one.0.retain(|item, _| !sale.leave_outs.contains(item));
                for (item, amount) in one.0 {
                    *needs.0.entry(item).or_default() += amount * Decimal::from(units);
                }
            }
            None => self.unmapped(&sale.code, units),
        }
        for added in &sale.additions {
            match self.catalog.addition_by_till_code(&added.code) {
                Some((_, addition)) => {
                    self.catalog.take_lines(&addition.lines, added.units.into(), needs)?;
                }
                None => self.unmapped(&added.code, added.units.into()),
            }
        }
        Ok(())
    }

    fn unmapped(&mut self, code: &str, units: u64) {
        *self.day.unmapped.entry(code.to_owned()).or_default() += units;
        self.day.night.unmapped_units += units;
    }

    fn typed_sales(&mut self, count: &Count, needs: &mut Needs) -> Result<(), String> {
        if count.units_sold.is_empty() {
            return Ok(());
        }
        self.day.night.sales_source = SalesSource::Typed;
        self.day.night.sales = count.net_sales;
        let mut all = 0;
        for sold in &count.units_sold {
            let (units, _) = units_and_money(sold.outcome, sold.units, Money::ZERO);
            for (item, amount) in self.catalog.needs_of(&sold.product, &sold.size)?.0 {
                *needs.0.entry(item).or_default() += amount * Decimal::from(units);
            }
            let daypart = sold.daypart.clone().unwrap_or_else(DaypartId::unknown);
            let key = key(daypart, sold.channel.as_ref());
            self.daypart(key).units += units;
            all += units;
        }
        self.day.night.units = Some(all);
        if let Some(net) = count.net_sales {
            let key = key(DaypartId::unknown(), None);
            self.daypart(key).sales += net;
        }
        Ok(())
    }

    fn tickets(&mut self, till: &[TillBatch]) -> Result<(), String> {
        let sent = latest(till.iter().flat_map(|b| &b.tickets), |t| Some(t.id.as_str()));
        let read = |t: &&TillTicket| Ticket::new(t.placed, t.handed_off, t.promised);
        let tickets = sent.iter().map(read).collect::<Result<Vec<_>, _>>();
        let tickets = tickets.map_err(|e| e.to_string())?;
        let by_key = tally_tickets_by(
            &tickets,
            |n, ticket| {
                let key = key(self.daypart_at(ticket.placed()), sent[n].channel.as_ref());
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

    fn count(&mut self, count: Option<&Count>) -> Result<(), String> {
        let due: Vec<_> =
            due_items(self.catalog, self.store, self.date).map(|(id, _)| id).collect();
        self.day.night.items_due = due.len() as u64;
        let Some(count) = count else { return Ok(()) };
        let mut standing: BTreeMap<&ItemId, Base> = BTreeMap::new();
        for line in &count.lines {
            let amount = line.amount(self.catalog)?;
            *standing.entry(&line.item).or_default() += amount;
        }
        for (id, amount) in standing {
            let item = self.catalog.item(id).map_err(|e| e.to_string())?;
            let answered = |shelf: &crate::catalog::Shelf| {
                count
                    .lines
                    .iter()
                    .any(|l| l.item == *id && l.place == shelf.place && l.stage == shelf.stage)
            };
            if item.shelves.iter().all(answered) {
                self.item(id).closing = Some(amount);
                self.day.night.items_counted += u64::from(due.contains(&id));
            }
        }
        self.day.night.counted = true;
        self.day.night.partial = self.day.night.items_counted < self.day.night.items_due;
        Ok(())
    }

    /// Rounds every item once, values it, and keeps what is not nothing.
    fn settle(&mut self) -> Result<(), String> {
        for (id, exact) in std::mem::take(&mut self.items) {
            let price = self.catalog.unit_price(&id);
            let cost = |amount: Tallied| {
                price.and_then(|p| p.try_of(amount.base()).ok()).unwrap_or(Money::ZERO)
            };
            let settled = |amount: Base| amount.settle().map_err(|e| format!("{id}: {e}"));
            let mut day = exact.rest;
            day.received = settled(exact.received)?;
            day.transferred_in = settled(exact.transferred_in)?;
            day.transferred_out = settled(exact.transferred_out)?;
            day.made = settled(exact.made)?;
            day.made_into = settled(exact.made_into)?;
            day.made_into_cost = cost(day.made_into);
            day.expected = settled(exact.expected)?;
            day.expected_cost = cost(day.expected);
            day.batch_in = settled(exact.batch_in)?;
            day.batch_out = settled(exact.batch_out)?;
            day.batch_expected_out = settled(exact.batch_expected_out)?;
            day.yield_loss = settled(exact.yield_loss)?;
            day.yield_loss_cost = cost(day.yield_loss);
            for ((stage, reason, daypart), amount) in exact.waste {
                let safety = self.catalog.reasons.get(&reason).is_some_and(|r| r.safety);
                let amount = settled(amount)?;
                let cost = cost(amount);
                day.wasted += amount;
                day.wasted_cost += cost;
                if safety {
                    day.wasted_safety += amount;
                    day.wasted_safety_cost += cost;
                }
                day.waste.push(WasteLine { stage, reason, safety, daypart, amount, cost });
            }
            if let Some(closing) = exact.closing {
                let sd = self.count_error(&id, closing)?;
                day.count = Some(Counted { closing: settled(closing)?, sd: settled(sd)? });
            }
            self.day.night.wasted_cost += day.wasted_cost;
            self.day.night.wasted_safety_cost += day.wasted_safety_cost;
            if day != ItemDay::default() {
                self.day.items.insert(id, day);
            }
        }
        Ok(())
    }

    /// How far a count is off: the item's own figure, else the network's share of the amount.
    fn count_error(&self, id: &ItemId, closing: Base) -> Result<Base, String> {
        let item = self.catalog.item(id).map_err(|e| e.to_string())?;
        match &item.count_error {
            Some(typed) => item.measure(id, typed).map_err(|e| e.to_string()),
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

fn key(daypart: DaypartId, channel: Option<&ChannelId>) -> DaypartKey {
    let channel = channel.cloned().unwrap_or_else(ChannelId::unknown);
    DaypartKey { daypart, channel }
}

/// Units that used food, and what was taken for them in the end.
fn units_and_money(outcome: Outcome, units: u32, net: Money) -> (u64, Money) {
    match outcome {
        Outcome::Sold => (units.into(), net),
        Outcome::VoidedBeforeMaking => (0, Money::ZERO),
        Outcome::RefundedAfterMaking | Outcome::GivenAway | Outcome::StaffMeal => {
            (units.into(), Money::ZERO)
        }
    }
}

/// Of what was sent under one id, the last; what has no id stands for itself. In the order sent.
fn latest<'a, T>(sent: impl Iterator<Item = &'a T>, id: impl Fn(&T) -> Option<&str>) -> Vec<&'a T> {
    let sent: Vec<&T> = sent.collect();
    let mut last: BTreeMap<&str, usize> = BTreeMap::new();
    for (n, one) in sent.iter().enumerate() {
        if let Some(id) = id(one) {
            last.insert(id, n);
        }
    }
    sent.iter()
        .enumerate()
        .filter(|(n, one)| id(one).is_none_or(|id| last.get(id) == Some(n)))
        .map(|(_, one)| *one)
        .collect()
}
