//! Items and their prices.

use parings_core::catalog::{Input, Item, Pack, Pan, Preparation, Price, Rhythm, Shelf};
use parings_core::quantity::{Bridge, Dimension};
use parings_core::yields::{Chain, Stage};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::places::DayBody;
use crate::http::faults::Faults;
use crate::http::quantity::{Number, QuantityBody, TypedBody};

/// Something bought, prepared or counted.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "title": "Potatoes", "group": "food", "base": "mass",
    "packs": [{ "code": "bag", "title": "Bag", "holds": { "value": "22.68", "unit": "kg" } }],
    "bridge": {},
    "rhythm": { "every": "night" },
    "shelves": [
        { "place": "dry-store", "unit": "bag" },
        { "place": "cold-room", "stage": "chill", "unit": "kg" },
    ],
    "life_hours": 48,
    "pans": [{ "code": "deep", "title": "Deep pan", "tare": { "value": "1.2", "unit": "kg" } }],
    "stages": [
        { "code": "trim", "title": "Trimmed", "standard": "0.90", "cap": "1", "low": "0.88", "high": "0.97" },
        { "code": "chill", "title": "Chilled", "standard": "0.97", "cap": "1", "low": "0.95", "high": "0.99" },
    ],
}))]
pub struct ItemBody {
    /// What people call it.
    pub title: String,
    /// The chain's own word for its kind, for lists and filters.
    pub group: String,
    /// What it is measured by: its base unit is g, ml or each.
    pub base: DimensionBody,
    /// The packs it comes in. A pack may hold packs that stand before it.
    #[serde(default)]
    pub packs: Vec<PackBody>,
    /// What leads from one dimension to another.
    #[serde(default)]
    pub bridge: BridgeBody,
    /// How often it is counted.
    pub rhythm: RhythmBody,
    /// The kinds of stores that keep it, by their codes; without any, every store does.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub formats: Vec<String>,
    /// Where it is counted: the lines of the count sheet.
    #[serde(default)]
    pub shelves: Vec<ShelfBody>,
    /// Hours it keeps once prepared or opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub life_hours: Option<u32>,
    /// Pans and tubs it is weighed in.
    #[serde(default)]
    pub pans: Vec<PanBody>,
    /// The stages of its preparation, in order of work.
    #[serde(default)]
    pub stages: Vec<StageBody>,
    /// What it is made from, when it is prepared from other items.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_from: Option<PreparationBody>,
    /// How far a count of it is off, one standard deviation. Without it the network's share of the
    /// amount counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count_error: Option<TypedBody>,
}

/// What an item is measured by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DimensionBody {
    /// Weighed, in grams.
    Mass,
    /// Measured, in millilitres.
    Volume,
    /// Counted, in pieces.
    Count,
}

/// A pack that an item comes in.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PackBody {
    /// Its code, unique in the item; no standard unit's symbol.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// What is in it.
    pub holds: TypedBody,
}

/// What an item's dimensions have to do with each other.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "density": "0.92", "each": "55" }))]
pub struct BridgeBody {
    /// Grams in a millilitre.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density: Option<Number>,
    /// Grams that one piece weighs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub each: Option<Number>,
}

/// How often an item is counted.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", tag = "every", content = "on", deny_unknown_fields)]
#[schema(example = json!({ "every": "week", "on": "fri" }))]
pub enum RhythmBody {
    /// Every open night.
    Night,
    /// On one weekday.
    Week(DayBody),
    /// At the end of each of the network's periods: on its last day on which the store opens.
    Period,
    /// Never: what it is made from is counted instead.
    Never,
}

/// A line of the count sheet.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShelfBody {
    /// The code of the storage place in which the item is counted.
    pub place: String,
    /// The stage the item is in there; as purchased when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The unit on the sheet: a unit's symbol or a pack's code. Any other may be typed.
    pub unit: String,
}

/// A pan with a known tare.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PanBody {
    /// Its code, unique in the item.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// What it weighs empty.
    pub tare: QuantityBody,
}

/// A stage of preparation, with the yields (out ÷ in) the chain expects of it.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StageBody {
    /// Its code, unique in the item.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// The standard yield: weight out over weight in of the stage.
    pub standard: Number,
    /// What no batch can honestly pass: above 1 only where water is taken up.
    pub cap: Number,
    /// The low end of what is usual.
    pub low: Number,
    /// The high end of what is usual.
    pub high: Number,
}

/// How an item is prepared from others.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PreparationBody {
    /// What one batch gives.
    pub batch: TypedBody,
    /// What one batch takes.
    pub inputs: Vec<InputBody>,
    /// Water that goes in; it is not counted and costs nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water: Option<QuantityBody>,
}

/// What a batch or a recipe takes of an item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "item": "potato", "stage": "finish-fry",
    "quantity": { "value": "200", "unit": "g" } }))]
pub struct InputBody {
    /// The code of the item that goes in.
    pub item: String,
    /// The stage the quantity is stated at; as purchased when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// How much of it one batch takes, at that stage.
    pub quantity: TypedBody,
}

/// The standard price of an item. Its code is the item's.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "price": "20.41", "per": { "value": "1", "unit": "bag" } }))]
pub struct PriceBody {
    /// The money, in the network's currency; four decimals at most.
    pub price: Number,
    /// The amount that the price is paid for.
    pub per: TypedBody,
}

impl ItemBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Item> {
        let title = faults.title("title", &self.title);
        let group = faults.title("group", &self.group);
        let packs = faults.each("packs", self.packs, |f, pack| {
            let code = f.parse("code", &pack.code);
            let title = f.title("title", &pack.title);
            let holds = pack.holds.read(f, "holds");
            Some(Pack { code: code?, title: title?, holds: holds? })
        });
        let bridge = faults.within("bridge", |f| {
            let density = f.maybe(self.bridge.density, |f, number| f.decimal("density", &number));
            let each = f.maybe(self.bridge.each, |f, number| f.decimal("each", &number));
            Some(Bridge { density: density?, each: each? })
        });
        let shelves = faults.each("shelves", self.shelves, |f, shelf| {
            let place = f.parse("place", &shelf.place);
            let stage = f.maybe(shelf.stage, |f, code| f.parse("stage", &code));
            let unit = f.parse("unit", &shelf.unit);
            Some(Shelf { place: place?, stage: stage?, unit: unit? })
        });
        let pans = faults.each("pans", self.pans, |f, pan| {
            let code = f.parse("code", &pan.code);
            let title = f.title("title", &pan.title);
            let tare = pan.tare.read(f, "tare");
            Some(Pan { code: code?, title: title?, tare: tare? })
        });
        let stages = faults.each("stages", self.stages, |f, stage| stage.read(f));
        let stages = stages.and_then(|stages| faults.take("stages", Chain::new(stages)));
        let made_from = faults.maybe(self.made_from, |f, made| {
            f.within("made_from", |f| {
                let batch = made.batch.read(f, "batch");
                let inputs = f.each("inputs", made.inputs, |f, input| input.read(f));
                let water = f.maybe(made.water, |f, water| water.read(f, "water"));
                Some(Preparation { batch: batch?, inputs: inputs?, water: water? })
            })
        });
        let formats = faults.parse_each("formats", &self.formats);
        let count_error = faults.maybe(self.count_error, |f, typed| typed.read(f, "count_error"));
        Some(Item {
            title: title?,
            group: group?,
            base: self.base.into(),
            packs: packs?,
            bridge: bridge?,
            rhythm: self.rhythm.into(),
            formats: formats?,
            shelves: shelves?,
            life_hours: self.life_hours,
            pans: pans?,
            stages: stages?,
            made_from: made_from?,
            count_error: count_error?,
        })
    }
}

impl StageBody {
    fn read(self, f: &mut Faults) -> Option<Stage> {
        let code = f.parse("code", &self.code);
        let title = f.title("title", &self.title);
        let standard = f.decimal("standard", &self.standard);
        let cap = f.decimal("cap", &self.cap);
        let low = f.decimal("low", &self.low);
        let high = f.decimal("high", &self.high);
        Some(Stage {
            code: code?,
            title: title?,
            standard: standard?,
            cap: cap?,
            low: low?,
            high: high?,
        })
    }
}

impl InputBody {
    pub(in crate::http) fn read(self, f: &mut Faults) -> Option<Input> {
        let item = f.parse("item", &self.item);
        let stage = f.maybe(self.stage, |f, code| f.parse("stage", &code));
        let quantity = self.quantity.read(f, "quantity");
        Some(Input { item: item?, stage: stage?, quantity: quantity? })
    }
}

impl From<&Input> for InputBody {
    fn from(input: &Input) -> Self {
        Self {
            item: input.item.to_string(),
            stage: input.stage.as_ref().map(ToString::to_string),
            quantity: (&input.quantity).into(),
        }
    }
}

impl PriceBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Price> {
        let price = faults.decimal("price", &self.price);
        let per = self.per.read(faults, "per");
        Some(Price { price: price?, per: per? })
    }
}

impl From<&Price> for PriceBody {
    fn from(price: &Price) -> Self {
        Self { price: Number(price.price.to_decimal()), per: (&price.per).into() }
    }
}

impl From<DimensionBody> for Dimension {
    fn from(base: DimensionBody) -> Self {
        match base {
            DimensionBody::Mass => Self::Mass,
            DimensionBody::Volume => Self::Volume,
            DimensionBody::Count => Self::Count,
        }
    }
}

impl From<Dimension> for DimensionBody {
    fn from(base: Dimension) -> Self {
        match base {
            Dimension::Mass => Self::Mass,
            Dimension::Volume => Self::Volume,
            Dimension::Count => Self::Count,
        }
    }
}

impl From<RhythmBody> for Rhythm {
    fn from(rhythm: RhythmBody) -> Self {
        match rhythm {
            RhythmBody::Night => Self::Night,
            RhythmBody::Week(day) => Self::Week(day.into()),
            RhythmBody::Period => Self::Period,
            RhythmBody::Never => Self::Never,
        }
    }
}

impl From<Rhythm> for RhythmBody {
    fn from(rhythm: Rhythm) -> Self {
        match rhythm {
            Rhythm::Night => Self::Night,
            Rhythm::Week(day) => Self::Week(day.into()),
            Rhythm::Period => Self::Period,
            Rhythm::Never => Self::Never,
        }
    }
}

impl From<&Item> for ItemBody {
    fn from(item: &Item) -> Self {
        let code = |code: &dyn ToString| code.to_string();
        Self {
            title: item.title.clone(),
            group: item.group.clone(),
            base: item.base.into(),
            packs: item
                .packs
                .iter()
                .map(|p| PackBody {
                    code: code(&p.code),
                    title: p.title.clone(),
                    holds: (&p.holds).into(),
                })
                .collect(),
            bridge: BridgeBody {
                density: item.bridge.density.map(|d| Number(d.value())),
                each: item.bridge.each.map(|mass| Number(mass.value())),
            },
            rhythm: item.rhythm.into(),
            formats: item.formats.iter().map(ToString::to_string).collect(),
            shelves: item
                .shelves
                .iter()
                .map(|s| ShelfBody {
                    place: code(&s.place),
                    stage: s.stage.as_ref().map(ToString::to_string),
                    unit: code(&s.unit),
                })
                .collect(),
            life_hours: item.life_hours,
            pans: item
                .pans
                .iter()
                .map(|p| PanBody {
                    code: code(&p.code),
                    title: p.title.clone(),
                    tare: p.tare.into(),
                })
                .collect(),
            stages: item.stages.stages().iter().map(Into::into).collect(),
            made_from: item.made_from.as_ref().map(Into::into),
            count_error: item.count_error.as_ref().map(Into::into),
        }
    }
}

impl From<&Stage> for StageBody {
    fn from(stage: &Stage) -> Self {
        Self {
            code: stage.code.to_string(),
            title: stage.title.clone(),
            standard: Number(stage.standard.decimal()),
            cap: Number(stage.cap.decimal()),
            low: Number(stage.low.decimal()),
            high: Number(stage.high.decimal()),
        }
    }
}

impl From<&Preparation> for PreparationBody {
    fn from(made: &Preparation) -> Self {
        Self {
            batch: (&made.batch).into(),
            inputs: made.inputs.iter().map(Into::into).collect(),
            water: made.water.map(Into::into),
        }
    }
}
