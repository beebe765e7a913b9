use chrono::{DateTime, Utc};

use crate::catalog::{Catalog, Item, MeasureError, Typed};
use crate::ids::{ItemId, StageId};
use crate::night::{CountLine, EntryBody};
use crate::quantity::Base;

/// Some stock that must be thrown away at one time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lot {
    /// How much, in the item's base unit at its stage; above zero.
    pub amount: Base,
    /// When it must be thrown away; unknown where nobody wrote it down.
    pub discard_at: Option<DateTime<Utc>>,
}

/// What stands there of an item at a stage: what must be thrown away first comes first, what has no
/// time last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Stock(Vec<Lot>);

/// What is on hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OnHand {
    /// It is known how much stands there and until when it is usable.
    Known(Stock),
    /// Nobody can tell what stands there, and why not.
    Unknown(Unknown),
}

/// Why nobody can tell what is on hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// The item was not counted at this stage.
    NotCounted,
    /// More was taken since than was there: something is missing on record.
    MoreTakenThanThere,
    /// An amount on record does not fit the item as it is now.
    DoesNotFit,
}

/// What of a stock will be usable at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Usable {
    /// How much will be usable, in the item's base unit.
    Known(Base),
    /// Some has no discard time. That is not nothing, and not usable either.
    Unknown {
        /// What has a time and will be usable.
        certain: Base,
        /// What has no discard time.
        untimed: Base,
    },
}

impl Stock {
    /// A stock of lots, put in order; those of nothing are left out.
    pub fn new(mut lots: Vec<Lot>) -> Self {
        lots.retain(|lot| lot.amount > Base::ZERO);
        lots.sort_by_key(|lot| (lot.discard_at.is_none(), lot.discard_at));
        Self(lots)
    }

    /// The lots that stand there, in the order in which they must be thrown away.
    pub fn lots(&self) -> &[Lot] {
        &self.0
    }

    /// How much stands there in all.
    pub fn total(&self) -> Base {
        self.0.iter().map(|lot| lot.amount).sum()
    }

    /// Takes an amount away: first what must be thrown away first, last what has no time. `None` when
    /// there is less.
    fn less(mut self, mut taken: Base) -> Option<Self> {
        for lot in &mut self.0 {
            let now = taken.min(lot.amount);
            lot.amount -= now;
            taken -= now;
        }
        taken.is_zero().then(|| Self::new(self.0))
    }

    /// What will be usable at a moment: not what must be thrown away by then.
    ///
    /// ```
    /// use chrono::{TimeZone, Utc};
    /// use parings_core::prep::{Lot, Stock, Usable};
    /// use parings_core::quantity::Base;
    /// let at = |hour| Utc.with_ymd_and_hms(2026, 6, 16, hour, 0, 0).single();
    /// let lot = |kg: i64, discard_at| Lot { amount: Base::new((kg * 1000).into()), discard_at };
    /// // Invented worked example: 23 kg on hand, of which 4 expire before dinner at 17:00.
    /// let stock = Stock::new(vec![lot(4, at(15)), lot(19, at(22))]);
    /// assert_eq!(stock.usable(at(17).unwrap()), Usable::Known(Base::new(19_000.into())));
    /// ```
    pub fn usable(&self, at: DateTime<Utc>) -> Usable {
        let sum = |keep: &dyn Fn(Option<DateTime<Utc>>) -> bool| -> Base {
            self.0.iter().filter(|lot| keep(lot.discard_at)).map(|lot| lot.amount).sum()
        };
        let certain = sum(&|discard| discard.is_some_and(|discard| discard > at));
        let untimed = sum(&|discard| discard.is_none());
        if untimed.is_zero() {
            Usable::Known(certain)
        } else {
            Usable::Unknown { certain, untimed }
        }
    }
}

/// What is on hand of an item at a stage: what was counted there last, and what entries since brought
/// and took. What was taken is taken from what must be thrown away first. What was sold or finished
/// since the count is on no entry, so it is still in here.
pub fn on_hand<'a>(
    catalog: &Catalog,
    id: &ItemId,
    item: &Item,
    stage: Option<&StageId>,
    counted: &[CountLine],
    since: impl IntoIterator<Item = &'a EntryBody>,
) -> OnHand {
    let own = |line: &&CountLine| line.item == *id && line.stage.as_ref() == stage;
    let counted: Vec<_> = counted.iter().filter(own).collect();
    if counted.is_empty() {
        return OnHand::Unknown(Unknown::NotCounted);
    }
    let mut moved = Flow { catalog, id, item, stage, lots: Vec::new(), taken: Base::ZERO };
    let followed = counted.into_iter().try_for_each(|line| moved.count(line));
    let followed =
        followed.and_then(|()| since.into_iter().try_for_each(|entry| moved.follow(entry)));
    if followed.is_err() {
        return OnHand::Unknown(Unknown::DoesNotFit);
    }
    let left = Stock::new(moved.lots).less(moved.taken);
    left.map_or(OnHand::Unknown(Unknown::MoreTakenThanThere), OnHand::Known)
}

/// What entries bring and take of an item at a stage.
struct Flow<'a> {
    catalog: &'a Catalog,
    id: &'a ItemId,
    item: &'a Item,
    stage: Option<&'a StageId>,
    lots: Vec<Lot>,
    taken: Base,
}

impl Flow<'_> {
    fn is_own(&self, item: &ItemId, stage: Option<&StageId>) -> bool {
        item == self.id && stage == self.stage
    }

    fn count(&mut self, line: &CountLine) -> Result<(), MeasureError> {
        let amount = match &line.pan {
            Some(pan) => self.item.net_of_pan(self.id, &line.quantity, pan)?,
            None => self.item.measure(self.id, &line.quantity)?,
        };
        self.lots.push(Lot { amount, discard_at: line.discard_at });
        Ok(())
    }

    fn bring(
        &mut self,
        typed: &Typed,
        discard_at: Option<DateTime<Utc>>,
    ) -> Result<(), MeasureError> {
        let amount = self.item.measure(self.id, typed)?;
        self.lots.push(Lot { amount, discard_at });
        Ok(())
    }

    fn take(&mut self, typed: &Typed) -> Result<(), MeasureError> {
        self.taken += self.item.measure(self.id, typed)?;
        Ok(())
    }

    fn follow(&mut self, entry: &EntryBody) -> Result<(), MeasureError> {
        match entry {
            EntryBody::Waste { item, stage, quantity, pan, .. }
                if self.is_own(item, stage.as_ref()) =>
            {
                match pan {
                    Some(pan) => self.taken += self.item.net_of_pan(self.id, quantity, pan)?,
                    None => self.take(quantity)?,
                }
            }
            EntryBody::Delivery { item, quantity, .. } if self.is_own(item, None) => {
                self.bring(quantity, None)?;
            }
            EntryBody::TransferIn { item, stage, quantity, .. }
                if self.is_own(item, stage.as_ref()) =>
            {
                self.bring(quantity, None)?;
            }
            EntryBody::TransferOut { item, stage, quantity, .. }
                if self.is_own(item, stage.as_ref()) =>
            {
                self.take(quantity)?;
            }
            EntryBody::Batch { item, from, put_in, steps, discard_at, .. } => {
                if self.is_own(item, from.as_ref()) {
                    self.take(put_in)?;
                }
                // What stands there in the end is what came out of the last stage.
                if let Some(last) = steps.last().filter(|last| self.is_own(item, Some(&last.stage)))
                {
                    self.bring(&last.out, *discard_at)?;
                }
            }
            EntryBody::Preparation { item, made, inputs, discard_at, .. } => {
                if self.is_own(item, None) {
                    self.bring(made, *discard_at)?;
                }
                self.take_inputs(item, made, inputs)?;
            }
            _ => {}
        }
        Ok(())
    }

    /// What a preparation took: as it was weighed, else as its recipe says.
    fn take_inputs(
        &mut self,
        made_id: &ItemId,
        made: &Typed,
        weighed: &[crate::catalog::Input],
    ) -> Result<(), MeasureError> {
        let Some(made_item) = self.catalog.items.get(made_id) else { return Ok(()) };
        let recipe = made_item.made_from.as_ref();
        for input in recipe.iter().flat_map(|recipe| &recipe.inputs) {
            let as_weighed = weighed.iter().find(|weighed| weighed.item == input.item);
            let stage = as_weighed.unwrap_or(input).stage.as_ref();
            if !self.is_own(&input.item, stage) {
                continue;
            }
            match (as_weighed, recipe) {
                (Some(weighed), _) => self.take(&weighed.quantity)?,
                (None, Some(recipe)) => {
                    let batch = made_item.measure(made_id, &recipe.batch)?;
                    let made = made_item.measure(made_id, made)?;
                    let one = self.item.measure(self.id, &input.quantity)?;
                    if let Some(batches) = made.value().checked_div(batch.value()) {
                        self.taken += one * batches;
                    }
                }
                (None, None) => {}
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use chrono::TimeZone;
    use rust_decimal::Decimal;
    use serde_json::{Value, json};

    use super::*;

    fn potato() -> Item {
        let stage = |code: &str| {
            json!({ "code": code, "title": code, "standard": "0.9", "cap": "1", "low": "0.8",
                "high": "0.95" })
        };
        let item = json!({ "title": "Potatoes", "group": "food", "base": "mass",
            "rhythm": { "every": "night" }, "stages": [stage("trim"), stage("chill")] });
        serde_json::from_value(item).unwrap()
    }

    fn kg(text: &str) -> Base {
        Base::new(text.parse::<Decimal>().unwrap() * Decimal::ONE_THOUSAND)
    }

    fn at(hour: u32) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2026, 6, 16, hour, 0, 0).unwrap()
    }

    fn amount(value: &str) -> Value {
        json!({ "value": value, "unit": "kg" })
    }

    fn counted(value: &str, hour: Option<u32>) -> CountLine {
        let line = json!({ "item": "potato", "place": "cold-room", "stage": "chill",
            "quantity": amount(value), "discard_at": hour.map(at) });
        serde_json::from_value(line).unwrap()
    }

    fn stock(counted: &[CountLine], since: &[Value]) -> OnHand {
        let since: Vec<EntryBody> =
            since.iter().map(|entry| serde_json::from_value(entry.clone()).unwrap()).collect();
        let mut catalog = Catalog::default();
        catalog.items.insert("potato".parse().unwrap(), potato());
        let (id, chill) = ("potato".parse().unwrap(), "chill".parse().unwrap());
        on_hand(&catalog, &id, &potato(), Some(&chill), counted, &since)
    }

    fn usable(found: OnHand, hour: u32) -> Usable {
        match found {
            OnHand::Known(stock) => stock.usable(at(hour)),
            OnHand::Unknown(why) => panic!("unknown: {why:?}"),
        }
    }

    /// Invented worked example: 23 kg on hand, 4 of them gone before they are needed.
    #[test]
    fn what_must_be_thrown_away_before_is_not_usable() {
        let lines = [counted("19", Some(23)), counted("4", Some(17))];
        assert_eq!(usable(stock(&lines, &[]), 16), Usable::Known(kg("23")));
        // At the very moment it must go, it goes.
        assert_eq!(usable(stock(&lines, &[]), 17), Usable::Known(kg("19")));
    }

    #[test]
    fn without_a_time_it_is_unknown_and_not_zero() {
        let lines = [counted("19", Some(23)), counted("4", None)];
        let expected = Usable::Unknown { certain: kg("19"), untimed: kg("4") };
        assert_eq!(usable(stock(&lines, &[]), 16), expected);
        // A typed zero has no time and needs none.
        let lines = [counted("19", Some(23)), counted("0", None)];
        assert_eq!(usable(stock(&lines, &[]), 16), Usable::Known(kg("19")));
    }

    #[test]
    fn entries_bring_and_take() {
        let made = json!({ "kind": "batch", "item": "potato", "put_in": amount("20"),
            "steps": [{ "stage": "trim", "out": amount("18") },
                { "stage": "chill", "out": amount("15") }], "discard_at": at(23) });
        let waste = json!({ "kind": "waste", "item": "potato", "stage": "chill",
            "reason": "expired", "quantity": amount("4") });
        let raw = json!({ "kind": "delivery", "item": "potato", "quantity": amount("50") });
        let lines = [counted("6", Some(20)), counted("4", Some(12))];
        let found = stock(&lines, &[made.clone(), waste.clone(), raw]);
        // What was thrown away is what had to go first; what came raw stands at no stage.
        assert_eq!(usable(found.clone(), 8), Usable::Known(kg("21")));
        assert_eq!(usable(found, 21), Usable::Known(kg("15")));
        // What passed through the stage does not stand there.
        let on = json!({ "kind": "batch", "item": "potato", "from": "chill", "put_in": amount("3"),
            "steps": [] });
        assert_eq!(usable(stock(&lines, &[on]), 8), Usable::Known(kg("7")));
    }

    #[test]
    fn nobody_counted_it_or_too_much_was_taken() {
        assert_eq!(stock(&[], &[]), OnHand::Unknown(Unknown::NotCounted));
        let out = json!({ "kind": "transfer_out", "item": "potato", "stage": "chill", "to": "weir",
            "quantity": amount("11") });
        let found = stock(&[counted("10", Some(20))], &[out]);
        assert_eq!(found, OnHand::Unknown(Unknown::MoreTakenThanThere));
    }
}
