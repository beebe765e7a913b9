use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Flaw, MeasureError, Store, Typed, UnitName};
use crate::calendar::{BusinessDate, Periods, Weekday};
use crate::ids::{FormatId, ItemId, PackId, PanId, PlaceId, StageId};
use crate::money::{Money, UnitPrice};
use crate::quantity::{Amount, Base, Bridge, Dimension, Quantity, QuantityError};
use crate::yields::Chain;

/// Something bought, prepared or counted: food, packaging, frying oil, cleaning goods.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Item {
    /// What people call it.
    pub title: String,
    /// The chain's own word for its kind, for lists and filters.
    pub group: String,
    /// What it is measured by: its base unit is g, ml or each.
    pub base: Dimension,
    /// The packs it comes in.
    #[serde(default)]
    pub packs: Vec<Pack>,
    /// What leads from one dimension to another.
    #[serde(default)]
    pub bridge: Bridge,
    /// How often it is counted.
    pub rhythm: Rhythm,
    /// The kinds of stores that keep it; without any, every store does.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub formats: Vec<FormatId>,
    /// Where it is counted.
    #[serde(default)]
    pub shelves: Vec<Shelf>,
    /// Hours it keeps once prepared or opened.
    #[serde(default)]
    pub life_hours: Option<u32>,
    /// Pans and tubs it is weighed in.
    #[serde(default)]
    pub pans: Vec<Pan>,
    /// The stages of its preparation.
    #[serde(default)]
    pub stages: Chain,
    /// What it is made from, when it is prepared from other items.
    #[serde(default)]
    pub made_from: Option<Preparation>,
    /// How far a count of it is off, one standard deviation. Without it, the network's share of
    /// the amount counted.
    #[serde(default)]
    pub count_error: Option<Typed>,
}

/// A pack of an item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pack {
    /// Its code, unique in the item.
    pub code: PackId,
    /// What people call it.
    pub title: String,
    /// What is in it: a standard unit, or packs that stand before it in the list.
    pub holds: Typed,
}

/// A pan or tub with a known tare.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pan {
    /// Its code, unique in the item.
    pub code: PanId,
    /// What people call it.
    pub title: String,
    /// What it weighs empty.
    pub tare: Quantity,
}

/// A line of the count sheet: a place, the stage the item is in there, the unit to count in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shelf {
    /// The storage place in which the item is counted.
    pub place: PlaceId,
    /// The stage; none for as purchased.
    #[serde(default)]
    pub stage: Option<StageId>,
    /// The unit stated on the sheet; any other may be typed.
    pub unit: UnitName,
}

/// How often an item is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "every", content = "on")]
pub enum Rhythm {
    /// Every open night.
    Night,
    /// On one weekday.
    Week(Weekday),
    /// At the end of each of the network's periods.
    Period,
    /// Never: what it is made from is counted instead, and its use flows through to that.
    Never,
}

impl Rhythm {
    /// Whether a count is due in a store on a date: never on one it stays closed. Books are closed
    /// with every period, so a store that stays closed on its last day counts on the last day it
    /// opens before. A weekly item waits for the next week instead.
    ///
    /// ```
    /// use parings_core::calendar::{BusinessDate, Periods};
    /// use parings_core::catalog::{Rhythm, Store};
    /// let ford: Store = serde_json::from_str(r#"{"title":"Ford","district":"upper","owner":"brook",
    ///     "format":"counter","zone":"Europe/Berlin","open":["mon","tue","wed","thu","fri"]}"#).unwrap();
    /// // 31 May 2026 is a Sunday, so the month's books close on Friday.
    /// let friday = BusinessDate::new(2026, 5, 29).unwrap();
    /// let due = |rhythm: Rhythm, date| rhythm.is_due(&ford, &Periods::Months, date);
    /// assert!(due(Rhythm::Period, friday) && !due(Rhythm::Period, friday.pred()));
    /// assert!(!due(Rhythm::Period, friday.plus_days(2)));
    /// assert!(due(Rhythm::Night, friday) && !due(Rhythm::Never, friday));
    /// ```
    pub fn is_due(self, store: &Store, periods: &Periods, date: BusinessDate) -> bool {
        let rhythm = match self {
            Self::Night => true,
            Self::Week(day) => date.weekday() == day,
            Self::Period => {
                let last = periods.period_of(date).span().to();
                (1..=date.days_until(last)).all(|days| !store.is_open(date.plus_days(days)))
            }
            Self::Never => false,
        };
        rhythm && store.is_open(date)
    }
}

/// How an item is prepared from others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Preparation {
    /// What one batch gives.
    pub batch: Typed,
    /// What one batch takes.
    pub inputs: Vec<Input>,
    /// Water that goes in; it is not counted and costs nothing.
    #[serde(default)]
    pub water: Option<Quantity>,
}

/// An input of a preparation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Input {
    /// The item that goes in.
    pub item: ItemId,
    /// The stage it is taken at; none for as purchased.
    #[serde(default)]
    pub stage: Option<StageId>,
    /// How much of it one batch takes, at that stage.
    pub quantity: Typed,
}

/// The standard price of an item. Its code is the item's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Price {
    /// What the amount of [`Price::per`] costs, in the network's currency.
    pub price: Money,
    /// The amount that the price is paid for.
    pub per: Typed,
}

impl Price {
    /// The price of one base unit as purchased.
    ///
    /// # Errors
    /// [`MeasureError`] when the item does not come in that unit.
    pub fn unit_price(&self, id: &ItemId, item: &Item) -> Result<UnitPrice, MeasureError> {
        let buys = item.measure(id, &self.per)?;
        UnitPrice::per(self.price, buys).map_err(|_| MeasureError::Value(buys.value()))
    }
}

impl Item {
    /// Whether a store keeps it: one of its kind does, and it is counted at some time.
    pub fn is_kept_by(&self, store: &Store) -> bool {
        self.rhythm != Rhythm::Never
            && (self.formats.is_empty() || self.formats.contains(&store.format))
    }

    /// How much an amount as typed is, in the item's base unit, at the stage it was typed for.
    ///
    /// # Errors
    /// [`MeasureError`] when the item does not come in that pack, or the unit is of another
    /// dimension and neither density nor each-weight bridges it.
    pub fn measure(&self, id: &ItemId, typed: &Typed) -> Result<Base, MeasureError> {
        let mut factor = typed.value();
        let mut unit = typed.unit();
        // A pack may hold packs that stand before it, so this ends.
        let mut before = self.packs.len();
        loop {
            match unit {
                UnitName::Standard(standard) => {
                    let dimension = standard.dimension();
                    let amount = Amount::new(dimension, factor * standard.factor());
                    let cause = |cause| MeasureError::Bridge { item: id.clone(), cause };
                    let bridged = self.bridge.convert(amount, self.base).map_err(cause)?;
                    return bridged.to_base(self.base).map_err(cause);
                }
                UnitName::Pack(code) => {
                    let found = self.packs[..before].iter().position(|p| p.code == *code);
                    let Some(at) = found else {
                        let known: Vec<_> = self.packs.iter().map(|p| p.code.as_str()).collect();
                        return Err(MeasureError::NoPack {
                            item: id.clone(),
                            pack: code.clone(),
                            known: known.join(", "),
                        });
                    };
                    let holds = &self.packs[at].holds;
                    factor =
                        factor.checked_mul(holds.value()).ok_or_else(|| MeasureError::Bridge {
                            item: id.clone(),
                            cause: QuantityError::TooLarge { value: factor },
                        })?;
                    unit = holds.unit();
                    before = at;
                }
            }
        }
    }

    /// What an amount at a stage was as purchased.
    ///
    /// # Errors
    /// [`MeasureError::NoStage`], or [`MeasureError::Yield`] when too large.
    pub fn as_purchased(
        &self,
        id: &ItemId,
        here: Base,
        stage: Option<&StageId>,
    ) -> Result<Base, MeasureError> {
        self.knows_stage(id, stage)?;
        self.stages
            .as_purchased(here, stage)
            .map_err(|cause| MeasureError::Yield { item: id.clone(), cause })
    }

    /// A gross weight less the tare of its pan, still in the unit's own dimension.
    ///
    /// # Errors
    /// [`MeasureError::NoPan`]; [`MeasureError::UnderTare`] when the pan alone weighs more.
    pub fn net_of_pan(
        &self,
        id: &ItemId,
        gross: &Typed,
        pan: &PanId,
    ) -> Result<Base, MeasureError> {
        let known = self
            .pans
            .iter()
            .find(|p| p.code == *pan)
            .ok_or_else(|| MeasureError::NoPan { item: id.clone(), pan: pan.clone() })?;
        let tare = self
            .bridge
            .convert(known.tare.amount(), self.base)
            .and_then(|a| a.to_base(self.base))
            .map_err(|cause| MeasureError::Bridge { item: id.clone(), cause })?;
        let net = self.measure(id, gross)? - tare;
        if net.value() < Decimal::ZERO {
            return Err(MeasureError::UnderTare {
                gross: gross.to_string(),
                pan: pan.clone(),
                tare: known.tare.to_string(),
            });
        }
        Ok(net)
    }

    /// Whether its use flows through to what it is made from, because it is never counted.
    pub fn flows_through(&self) -> bool {
        self.rhythm == Rhythm::Never && self.made_from.is_some()
    }

    /// Checks that a stage is one of the item's.
    ///
    /// # Errors
    /// [`MeasureError::NoStage`].
    pub fn knows_stage(&self, id: &ItemId, stage: Option<&StageId>) -> Result<(), MeasureError> {
        match stage {
            Some(code) if self.stages.stage(code).is_err() => {
                Err(MeasureError::NoStage { item: id.clone(), stage: code.clone() })
            }
            _ => Ok(()),
        }
    }

    /// What is wrong with the item by itself.
    pub fn flaws(&self, id: &ItemId) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        for (n, pack) in self.packs.iter().enumerate() {
            if crate::quantity::Unit::from_symbol(pack.code.as_str()).is_some() {
                flaws.push(Flaw::new(
                    format!("/packs/{n}/code"),
                    format!("\"{}\" is a standard unit, so it cannot name a pack", pack.code),
                ));
            }
            if self.packs[..n].iter().any(|p| p.code == pack.code) {
                flaws.push(Flaw::new(format!("/packs/{n}/code"), "this pack is listed twice"));
            }
            let before = Self { packs: self.packs[..n].to_vec(), ..self.clone() };
            match before.measure(id, &pack.holds) {
                Ok(held) if held.is_zero() => {
                    flaws.push(Flaw::new(format!("/packs/{n}/holds"), "an empty pack"));
                }
                Ok(_) => {}
                Err(e) => flaws.push(Flaw::new(format!("/packs/{n}/holds"), e.to_string())),
            }
        }
        for (n, shelf) in self.shelves.iter().enumerate() {
            let one = Typed::new(Decimal::ONE, shelf.unit.clone());
            if let Err(e) = one.and_then(|one| self.measure(id, &one)) {
                flaws.push(Flaw::new(format!("/shelves/{n}/unit"), e.to_string()));
            }
            if let Err(e) = self.knows_stage(id, shelf.stage.as_ref()) {
                flaws.push(Flaw::new(format!("/shelves/{n}/stage"), e.to_string()));
            }
            let same = |s: &Shelf| s.place == shelf.place && s.stage == shelf.stage;
            if self.shelves[..n].iter().any(same) {
                flaws.push(Flaw::new(
                    format!("/shelves/{n}"),
                    "this place and stage are listed twice",
                ));
            }
        }
        if self.rhythm != Rhythm::Never && self.shelves.is_empty() {
            flaws.push(Flaw::new("/shelves", "an item that is counted needs a place to count it"));
        }
        if self.rhythm == Rhythm::Never && self.made_from.is_none() {
            flaws.push(Flaw::new(
                "/rhythm",
                "only an item that is made from others can go uncounted",
            ));
        }
        for (n, pan) in self.pans.iter().enumerate() {
            if self.pans[..n].iter().any(|p| p.code == pan.code) {
                flaws.push(Flaw::new(format!("/pans/{n}/code"), "this pan is listed twice"));
            }
            if let Err(e) = self.bridge.convert(pan.tare.amount(), self.base) {
                flaws.push(Flaw::new(format!("/pans/{n}/tare"), e.to_string()));
            }
        }
        if let Some(made) = &self.made_from {
            match self.measure(id, &made.batch) {
                Ok(batch) if batch.is_zero() => {
                    flaws.push(Flaw::new("/made_from/batch", "an empty batch"));
                }
                Ok(_) => {}
                Err(e) => flaws.push(Flaw::new("/made_from/batch", e.to_string())),
            }
            if made.inputs.is_empty() {
                flaws.push(Flaw::new("/made_from/inputs", "nothing goes in"));
            }
        }
        if let Some(Err(e)) = self.count_error.as_ref().map(|typed| self.measure(id, typed)) {
            flaws.push(Flaw::new("/count_error", e.to_string()));
        }
        if self.title.trim().is_empty() {
            flaws.push(Flaw::new("/title", "a title is missing"));
        }
        flaws
    }
}
