//! What comes in, is prepared, thrown away and counted.

use std::collections::BTreeMap;

use anyhow::Context;
use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Item, Rhythm, Typed, UnitName};
use parings_core::ids::{ItemId, PackId};
use parings_core::money::Money;
use parings_core::night::{Count, CountLine, Entry, EntryBody, Step};
use parings_core::quantity::Dimension;
use rust_decimal::Decimal;

use super::days::Happening;
use super::kitchen::{CHILL, Kitchen, POTATO, base, decimal, number, typed};

/// Ordinary days of stock at which an order is made, and up to which.
const ORDER: (f64, f64) = (3.2, 5.0);
/// The same for what is counted once a week or less.
const ORDER_DRY: (f64, f64) = (4.0, 10.0);
/// Ordinary days of prepared food below which more is made, and up to which.
const PREPARE: (f64, f64) = (1.9, 2.4);

/// Grams of potatoes in a sack.
const SACK: f64 = 20_000.0;
/// The sound lot and the poor one.
const LOTS: [&str; 2] = ["TV-0612", "BK-0317"];
/// Yield and its spread by stage: of a sound lot, and of a poor one.
const YIELDS: [(&str, f64, f64, f64); 4] = [
    ("trim", 0.900, 0.852, 0.006),
    ("wash", 0.990, 0.985, 0.006),
    ("first-fry", 0.779, 0.738, 0.008),
    ("chill", 0.969, 0.962, 0.003),
];

/// Item, stage, reason, share of expected use, and whether it is written down with the count.
const WASTE: [(&str, Option<&str>, &str, f64, bool); 12] = [
    (POTATO, Some("finish"), "held-too-long", 0.022, false),
    (POTATO, Some(CHILL), "expired", 0.012, true),
    ("dough-ball", None, "miscooked", 0.022, false),
    ("fish-fillet", None, "miscooked", 0.016, false),
    ("grill-cheese", None, "dropped", 0.014, false),
    ("slaw", None, "left-at-close", 0.028, true),
    ("herb-dip", None, "expired", 0.020, true),
    ("pepper-dip", None, "expired", 0.024, true),
    ("chickpea-dip", None, "over-prepped", 0.020, true),
    ("leaf-mix", None, "expired", 0.040, true),
    ("tomato", None, "dropped", 0.020, false),
    ("yoghurt", None, "spoiled-on-receipt", 0.004, false),
];

/// Most that is weighed in one pan, in grams, and what the pan weighs.
const PAN: (f64, f64) = (9_000.0, 1_150.0);

impl Kitchen<'_> {
    /// Stocks the kitchen before its first day.
    pub(super) fn fill(&mut self) -> anyhow::Result<()> {
        for (id, usual) in self.usual.clone() {
            let item = self.catalog.item(&id)?;
            let amount = match self.pack_of(&id, item)? {
                Some((_, pack)) => (usual * levels(item).1 / pack).ceil() * pack,
                None => usual * PREPARE.1,
            };
            self.stock.insert(id, amount);
        }
        let potatoes = self.usual.get(&POTATO.parse()?).copied().unwrap_or_default();
        self.chilled = potatoes * self.yield_to(CHILL)?;
        Ok(())
    }

    /// The pack an item is delivered in and what it holds; none for what is made here.
    fn pack_of(&self, id: &ItemId, item: &Item) -> anyhow::Result<Option<(PackId, f64)>> {
        let Some(pack) = item.packs.first() else { return Ok(None) };
        let one = Typed::new(Decimal::ONE, UnitName::Pack(pack.code.clone()))?;
        Ok(Some((pack.code.clone(), number(item.measure(id, &one)?.value())?)))
    }

    /// What suppliers bring where stock is low.
    pub(super) fn deliveries(&mut self) -> anyhow::Result<Vec<Entry>> {
        let mut made = Vec::new();
        let poor = self.happens(Happening::PoorLot);
        for (id, usual) in self.usual.clone() {
            let item = self.catalog.item(&id)?;
            let Some((code, pack)) = self.pack_of(&id, item)? else { continue };
            let held = self.stock.get(&id).copied().unwrap_or_default();
            let (order, level) = levels(item);
            // A small store makes whole batches all the same.
            let batch = self.batches.get(&id).copied().unwrap_or_default();
            let (order, level) =
                ((order * usual).max(batch * 1.2), (level * usual).max(batch * 2.0));
            let staged = !item.stages.stages().is_empty();
            // Of the poor lot a little comes every day.
            if held >= order && !(poor && staged) {
                continue;
            }
            let packs = ((level - held) / pack).ceil().max(1.0);
            *self.stock.entry(id.clone()).or_default() += packs * pack;
            let quantity = typed(packs, 0, code.as_str())?;
            let lot = staged.then(|| LOTS[usize::from(poor)].to_owned());
            let paid = self.paid(&id, packs * pack)?;
            made.push(self.entry(EntryBody::Delivery { item: id, quantity, lot, paid }));
        }
        Ok(made)
    }

    /// What a supplier asks for an amount: the standard price, give or take.
    fn paid(&mut self, id: &ItemId, amount: f64) -> anyhow::Result<Option<Money>> {
        let Some(price) = self.catalog.unit_price(id) else { return Ok(None) };
        let standard = number(price.try_of(base(amount))?.to_decimal())?;
        let paid = decimal(self.chance.near(standard, 0.012), 2);
        Ok(Some(Money::from_decimal(paid)?))
    }

    /// Potatoes through their first stages, then what is made from other items.
    pub(super) fn preparation(&mut self, date: BusinessDate) -> anyhow::Result<Vec<Entry>> {
        let mut made: Vec<Entry> = self.batch(date)?.into_iter().collect();
        let prepared: Vec<_> =
            self.catalog.items.iter().filter(|(_, i)| !i.flows_through()).collect();
        for (id, item) in prepared {
            let Some(recipe) = &item.made_from else { continue };
            let usual = self.usual.get(id).copied().unwrap_or_default() * self.bustle(date);
            let held = self.stock.get(id).copied().unwrap_or_default();
            if held >= PREPARE.0 * usual {
                continue;
            }
            let half = number(item.measure(id, &recipe.batch)?.value())? / 2.0;
            let amount = ((PREPARE.1 * usual - held) / half).ceil() * half;
            let inputs = self.catalog.inputs_of(id, base(amount)).map_err(anyhow::Error::msg)?;
            for (input, taken) in inputs.0 {
                let taken = self.chance.near(number(taken.value())? * 1.006, 0.006);
                self.take(&input, taken)?;
            }
            *self.stock.entry(id.clone()).or_default() += self.chance.near(amount, 0.004);
            let minutes = 8 + (amount / 400.0) as u32;
            made.push(self.entry(EntryBody::Preparation {
                item: id.clone(),
                made: typed(amount / 1000.0, 2, "kg")?,
                inputs: Vec::new(),
                labour_minutes: Some(minutes),
                discard_at: self.discard_at(date, item)?,
            }));
        }
        Ok(made)
    }

    /// Whole sacks of potatoes, trimmed, washed, fried once and chilled; every stage is weighed.
    fn batch(&mut self, date: BusinessDate) -> anyhow::Result<Option<Entry>> {
        let potato: ItemId = POTATO.parse()?;
        let usual = self.usual.get(&potato).copied().unwrap_or_default() * self.bustle(date);
        let share = self.yield_to(CHILL)?;
        let held = self.stock.get(&potato).copied().unwrap_or_default();
        let wanted = ((usual * 1.7 - self.chilled / share) / SACK).ceil();
        let sacks = wanted.min((held / SACK).floor());
        if sacks < 1.0 {
            return Ok(None);
        }
        let poor = self.happens(Happening::PoorLot);
        let (mut weight, mut steps) = (sacks * SACK, Vec::new());
        for (stage, sound, bad, spread) in YIELDS {
            weight = self.chance.near(weight * if poor { bad } else { sound }, spread);
            // A scale that shows 50 g.
            let out = typed((weight / 50.0).round() * 0.05, 2, "kg")?;
            steps.push(Step { stage: stage.parse()?, out });
        }
        *self.stock.entry(potato.clone()).or_default() -= sacks * SACK;
        self.chilled += weight;
        let lot = Some(LOTS[usize::from(poor)].to_owned());
        let put_in = typed(sacks, 0, "sack")?;
        let labour_minutes = Some(15 + 24 * sacks as u32);
        Ok(Some(self.entry(EntryBody::Batch {
            item: potato,
            from: None,
            put_in,
            steps,
            lot,
            labour_minutes,
            discard_at: self.discard_at(date, self.catalog.item(&POTATO.parse()?)?)?,
        })))
    }

    /// When what is prepared at noon must be thrown away; none for what keeps.
    fn discard_at(&self, date: BusinessDate, item: &Item) -> anyhow::Result<Option<DateTime<Utc>>> {
        let life = item.life_hours.map(i64::from);
        life.map(|hours| self.moment(date, (12 + hours, 40))).transpose()
    }

    /// Both ends of the transfer between neighbours, each in its own kitchen.
    pub(super) fn transfers(&mut self) -> anyhow::Result<Option<Entry>> {
        let item: ItemId = "dough-ball".parse()?;
        let quantity = typed(2.0, 0, "tray")?;
        let (sign, body) = if self.happens(Happening::SendsDough) {
            let (item, to) = (item.clone(), "stannock".parse()?);
            (-1.0, EntryBody::TransferOut { item, stage: None, quantity, to })
        } else if self.happens(Happening::GetsDough) {
            let (item, from) = (item.clone(), "hethermill".parse()?);
            (1.0, EntryBody::TransferIn { item, stage: None, quantity, from })
        } else {
            return Ok(None);
        };
        *self.stock.entry(item).or_default() += sign * 60.0;
        Ok(Some(self.entry(body)))
    }

    /// A dozen portions of potatoes, weighed as they are served.
    pub(super) fn samples(&mut self) -> anyhow::Result<Option<Entry>> {
        let mut weights = Vec::new();
        for _ in 0..12 {
            let weight = self.chance.near(165.0 * self.portion(), 0.06);
            weights.push(typed(weight, 0, "g")?);
        }
        let (product, size) = ("twice-fried".parse()?, "mug".parse()?);
        let body = EntryBody::Sample { product, size, item: POTATO.parse()?, weights };
        Ok(Some(self.entry(body)))
    }

    /// Waste through the day and with the count, taken from what stands there.
    pub(super) fn waste(
        &mut self,
        expected: &BTreeMap<ItemId, f64>,
    ) -> anyhow::Result<(Vec<Entry>, Vec<Entry>)> {
        let (mut through_the_day, mut at_close) = (Vec::new(), Vec::new());
        for (code, stage, reason, share, late) in WASTE {
            let item: ItemId = code.parse()?;
            let mean = expected.get(&item).copied().unwrap_or_default() * share * self.place.waste;
            // The more unevenly, the seldomer and the more at once.
            let often = 0.75 / self.place.uneven;
            let pieces = self.catalog.item(&item)?.base == Dimension::Count;
            let bought = match pieces {
                true => f64::from(self.chance.count(mean)),
                false if self.chance.happens(often) => self.chance.near(mean / often, 0.3).max(0.0),
                false => 0.0,
            };
            let here = bought * stage.map_or(Ok(1.0), |stage| self.yield_to(stage))?;
            let quantity = match pieces {
                true => typed(here, 0, "each")?,
                false => typed(here / 1000.0, 2, "kg")?,
            };
            if quantity.value().is_zero() {
                continue;
            }
            self.take(&item, bought)?;
            let stage = stage.map(str::parse).transpose()?;
            let reason = reason.parse()?;
            let body = EntryBody::Waste { item, stage, reason, quantity, pan: None, daypart: None };
            let entry = self.entry(body);
            if late { at_close.push(entry) } else { through_the_day.push(entry) }
        }
        if self.happens(Happening::SafetyDiscard) {
            let item: ItemId = "fish-fillet".parse()?;
            self.take(&item, 18.0)?;
            through_the_day.push(self.entry(EntryBody::Waste {
                item,
                stage: None,
                reason: "temperature".parse()?,
                quantity: typed(18.0, 0, "each")?,
                pan: None,
                daypart: None,
            }));
        }
        Ok((through_the_day, at_close))
    }

    /// The herb dip is out for a while.
    pub(super) fn stock_out(&mut self, date: BusinessDate) -> anyhow::Result<Option<Entry>> {
        if !self.happens(Happening::StockOut) {
            return Ok(None);
        }
        let from = self.moment(date, (19, 35))?;
        let to = Some(self.moment(date, (20, 25))?);
        Ok(Some(self.entry(EntryBody::StockOut { item: "herb-dip".parse()?, from, to })))
    }

    /// The lines of the sheet, as somebody counts them.
    pub(super) fn count(&mut self, date: BusinessDate) -> anyhow::Result<Vec<CountLine>> {
        let mut lines = Vec::new();
        for (id, item) in &self.catalog.items {
            if !self.catalog.is_due(item, self.store, date) {
                continue;
            }
            let mut left = self.seen(self.stock.get(id).copied().unwrap_or_default(), item);
            let bought: Vec<_> = item.shelves.iter().filter(|s| s.stage.is_none()).collect();
            for (n, shelf) in bought.iter().enumerate() {
                let one = Typed::new(Decimal::ONE, shelf.unit.clone())?;
                let per = number(item.measure(id, &one)?.value())?;
                let pack = matches!(shelf.unit, UnitName::Pack(_));
                // Whole packs stand in the first place; the rest is open in the last.
                let value = match (n + 1 == bought.len(), pack, item.base) {
                    (false, ..) => (left * 0.8 / per).floor(),
                    (true, true, _) => (left / per * 20.0).round() / 20.0,
                    (true, false, Dimension::Count) => left.round(),
                    (true, false, _) => (left / per * 50.0).round() / 50.0,
                };
                left -= value * per;
                lines.push(CountLine {
                    item: id.clone(),
                    place: shelf.place.clone(),
                    stage: None,
                    quantity: typed(value, 2, &shelf.unit.to_string())?,
                    pan: None,
                    label: None,
                    discard_at: match item.made_from {
                        Some(_) => self.discard_at(date, item)?,
                        None => None,
                    },
                });
            }
            for shelf in item.shelves.iter().filter(|s| s.stage.is_some()) {
                let chilled = self.seen(self.chilled, item);
                let pans = (chilled / PAN.0).ceil().max(1.0);
                for _ in 0..pans as u32 {
                    let gross = ((chilled / pans + PAN.1) / 20.0).round() * 0.02;
                    lines.push(CountLine {
                        item: id.clone(),
                        place: shelf.place.clone(),
                        stage: shelf.stage.clone(),
                        quantity: typed(gross, 2, "kg")?,
                        pan: item.pans.first().map(|pan| pan.code.clone()),
                        label: None,
                        discard_at: self.discard_at(date, item)?,
                    });
                }
            }
        }
        if self.happens(Happening::CopiedLines) {
            self.copy(&mut lines);
        }
        self.counted.clone_from(&lines);
        Ok(lines)
    }

    /// Leaves most lines as they were counted last, where that is not too plain to see.
    fn copy(&mut self, lines: &mut [CountLine]) {
        let last = std::mem::take(&mut self.counted);
        for line in lines {
            let shelf = |l: &&CountLine| {
                (&l.item, &l.place, &l.stage) == (&line.item, &line.place, &line.stage)
            };
            let Some(before) = last.iter().find(shelf) else { continue };
            let (was, is) = (before.quantity.value(), line.quantity.value());
            let near = (was - is).abs() * Decimal::from(4) <= was;
            if near && self.chance.happens(0.85) {
                line.quantity = before.quantity.clone();
            }
        }
    }

    /// What somebody sees of what stands there: pieces exactly, weights nearly.
    fn seen(&mut self, amount: f64, item: &Item) -> f64 {
        match item.base {
            Dimension::Count => amount,
            Dimension::Mass | Dimension::Volume => self.chance.near(amount, 0.002),
        }
    }

    /// Leaves a tray of dough out of a count.
    pub(super) fn overlook_tray(&self, count: &mut Count) -> anyhow::Result<()> {
        let overlooked = count
            .lines
            .iter_mut()
            .find(|line| line.item.as_str() == "dough-ball" && line.place.as_str() == "freezer")
            .context("no dough in the freezer")?;
        let trays = overlooked.quantity.value() - Decimal::ONE;
        overlooked.quantity = Typed::new(trays, overlooked.quantity.unit().clone())?;
        Ok(())
    }
}

/// Ordinary days of stock at which an item is ordered, and up to which.
fn levels(item: &Item) -> (f64, f64) {
    if item.rhythm == Rhythm::Night { ORDER } else { ORDER_DRY }
}
