use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::calendar::Weekday;
use crate::catalog::{Catalog, Flaw, Item, MeasureError, Typed};
use crate::ids::{DaypartId, FormatId, ItemId, ParSetId, StageId};
use crate::quantity::Base;

/// A set of standard pars.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ParSet {
    /// What people call it.
    pub title: String,
    /// What holds by default.
    pub lines: Vec<ParLine>,
    /// What holds instead in the stores of a format, key by key.
    #[serde(default)]
    pub formats: Vec<FormatPars>,
    /// What one batch of an item is, where its recipe does not say.
    #[serde(default)]
    pub batches: Vec<BatchSize>,
}

/// One revision of a set, as a publication names it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Revision {
    /// The set that it is a revision of.
    pub set: ParSetId,
    /// Which revision of it, from 1.
    pub number: u32,
}

/// What holds in the stores of a format.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FormatPars {
    /// The kind of store that the pars are for.
    pub format: FormatId,
    /// The pars that hold in stores of that kind.
    pub lines: Vec<ParLine>,
}

/// A par of an item for some weekdays and dayparts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ParLine {
    /// The item that should be ready.
    pub item: ItemId,
    /// The weekdays on which the par holds.
    pub weekdays: Vec<Weekday>,
    /// The dayparts at whose beginning the par holds.
    pub dayparts: Vec<DaypartId>,
    /// How much of the item should be ready then.
    pub par: Par,
}

/// How much of an item should be ready when a daypart begins, as typed, at one stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Par {
    /// The amount as it was typed, in any unit or pack of the item.
    pub quantity: Typed,
    /// At which stage; none for as purchased.
    #[serde(default)]
    pub stage: Option<StageId>,
}

/// What one batch of an item is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BatchSize {
    /// The item that is made in batches.
    pub item: ItemId,
    /// How much one batch is.
    pub quantity: Typed,
    /// The stage that is said for; none for as purchased. What comes of it at a later stage follows
    /// from the standard yields.
    #[serde(default)]
    pub stage: Option<StageId>,
    /// Whether half a batch may be made.
    #[serde(default)]
    pub halves: bool,
}

/// What a par is for, on one weekday.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ParKey {
    /// The daypart at whose beginning the item should be ready.
    pub daypart: DaypartId,
    /// The item that should be ready.
    pub item: ItemId,
}

/// What decides which amount applies to a store. What later decides too (the store itself, a
/// promotion, a season, its band) is a member here and a [`Rule`] in its place in
/// [`Whose::rules`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Whose {
    /// What kind of store it is.
    pub format: FormatId,
}

impl Whose {
    /// The rules that may speak for the store, the strongest first.
    pub fn rules(&self) -> Vec<Rule> {
        vec![Rule::Format(self.format.clone()), Rule::Default]
    }
}

/// The part of a set that an amount stands in.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// What holds for all others.
    Default,
    /// What holds in the stores of a format.
    Format(FormatId),
}

impl fmt::Display for Rule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Default => f.write_str("default"),
            Self::Format(format) => write!(f, "format {format}"),
        }
    }
}

/// A par, and the rule that makes it the one that applies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Applied {
    /// The rule under which the par stands in its set.
    pub rule: Rule,
    /// How much should be ready.
    pub par: Par,
}

impl Par {
    /// How much that is, in the item's base unit, at the par's stage.
    ///
    /// # Errors
    /// [`MeasureError`] when the item has no such stage or unit.
    pub fn amount(&self, id: &ItemId, item: &Item) -> Result<Base, MeasureError> {
        item.knows_stage(id, self.stage.as_ref())?;
        item.measure(id, &self.quantity)
    }
}

impl BatchSize {
    /// What one batch comes to at a stage, in the item's base unit.
    ///
    /// # Errors
    /// [`MeasureError`] when the item has no such stage or unit.
    pub fn at_stage(&self, item: &Item, stage: Option<&StageId>) -> Result<Base, MeasureError> {
        let here = item.measure(&self.item, &self.quantity)?;
        item.knows_stage(&self.item, stage)?;
        if self.stage.as_ref() == stage {
            return Ok(here);
        }
        let bought = item.as_purchased(&self.item, here, self.stage.as_ref())?;
        let cause = |cause| MeasureError::Yield { item: self.item.clone(), cause };
        item.stages.at_stage(bought, stage).map_err(cause)
    }
}

impl ParSet {
    /// The pars that apply to a store on a weekday, each by the strongest rule that has one.
    pub fn on(&self, whose: &Whose, weekday: Weekday) -> BTreeMap<ParKey, Applied> {
        let mut found = BTreeMap::new();
        for rule in whose.rules().into_iter().rev() {
            for (key, par) in self.of_rule(&rule, weekday) {
                found.insert(key, Applied { rule: rule.clone(), par: par.clone() });
            }
        }
        found
    }

    /// What stands under one rule for a weekday.
    pub(super) fn of_rule(
        &self,
        rule: &Rule,
        weekday: Weekday,
    ) -> impl Iterator<Item = (ParKey, &Par)> {
        let lines = match rule {
            Rule::Default => self.lines.as_slice(),
            Rule::Format(format) => {
                let own = self.formats.iter().find(|own| own.format == *format);
                own.map_or(&[][..], |own| own.lines.as_slice())
            }
        };
        let lines = lines.iter().filter(move |line| line.weekdays.contains(&weekday));
        lines.flat_map(|line| {
            let key =
                |daypart: &DaypartId| ParKey { daypart: daypart.clone(), item: line.item.clone() };
            line.dayparts.iter().map(move |daypart| (key(daypart), &line.par))
        })
    }

    /// What is wrong with the set by itself, with JSON Pointers into it: nothing said for a line,
    /// or two amounts for one key.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = line_flaws("", &self.lines);
        for (n, own) in self.formats.iter().enumerate() {
            let at = format!("/formats/{n}");
            if self.formats[..n].iter().any(|other| other.format == own.format) {
                flaws.push(Flaw::new(format!("{at}/format"), "this format is listed twice"));
            }
            flaws.extend(line_flaws(&at, &own.lines));
        }
        for (n, batch) in self.batches.iter().enumerate() {
            if self.batches[..n].iter().any(|other| other.item == batch.item) {
                flaws.push(Flaw::new(format!("/batches/{n}/item"), "this item is listed twice"));
            }
            if batch.quantity.value().is_zero() {
                flaws.push(Flaw::new(format!("/batches/{n}/quantity"), "an empty batch"));
            }
        }
        flaws
    }

    /// What does not hold in a catalogue: items, stages, units, dayparts and formats it has not.
    pub fn flaws_in(&self, catalog: &Catalog) -> Vec<Flaw> {
        let mut flaws = misfits("", &self.lines, catalog);
        for (n, own) in self.formats.iter().enumerate() {
            let at = format!("/formats/{n}");
            if !catalog.formats.contains_key(&own.format) {
                let says = format!("there is no format \"{}\"", own.format);
                flaws.push(Flaw::new(format!("{at}/format"), says));
            }
            flaws.extend(misfits(&at, &own.lines, catalog));
        }
        for (n, batch) in self.batches.iter().enumerate() {
            let stage = batch.stage.as_ref();
            let known = catalog.item(&batch.item).map_err(|e| e.to_string());
            let size =
                known.and_then(|item| batch.at_stage(item, stage).map_err(|e| e.to_string()));
            if let Err(says) = size {
                flaws.push(Flaw::new(format!("/batches/{n}"), says));
            }
        }
        flaws
    }
}

fn line_flaws(at: &str, lines: &[ParLine]) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    let mut seen = BTreeSet::new();
    for (n, line) in lines.iter().enumerate() {
        let at = format!("{at}/lines/{n}");
        if line.weekdays.is_empty() {
            flaws.push(Flaw::new(format!("{at}/weekdays"), "no weekday is named"));
        }
        if line.dayparts.is_empty() {
            flaws.push(Flaw::new(format!("{at}/dayparts"), "no daypart is named"));
        }
        let keys = line.weekdays.iter().flat_map(|w| line.dayparts.iter().map(move |d| (w, d)));
        let twice = keys.filter(|(w, d)| !seen.insert((&line.item, **w, *d))).min();
        if let Some((weekday, daypart)) = twice {
            let says = format!("a second par of {} on {weekday} for {daypart}", line.item);
            flaws.push(Flaw::new(at, says));
        }
    }
    flaws
}

fn misfits(at: &str, lines: &[ParLine], catalog: &Catalog) -> Vec<Flaw> {
    let dayparts: BTreeSet<_> =
        catalog.dayparts.values().flat_map(|set| set.dayparts.iter().map(|d| &d.code)).collect();
    let mut flaws = Vec::new();
    for (n, line) in lines.iter().enumerate() {
        let at = format!("{at}/lines/{n}");
        match catalog.item(&line.item) {
            Err(e) => flaws.push(Flaw::new(format!("{at}/item"), e.to_string())),
            Ok(item) => {
                if let Err(e) = line.par.amount(&line.item, item) {
                    flaws.push(Flaw::new(at.clone(), e.to_string()));
                }
            }
        }
        for (d, daypart) in line.dayparts.iter().enumerate() {
            if !dayparts.contains(daypart) {
                let says = format!("there is no daypart \"{daypart}\"");
                flaws.push(Flaw::new(format!("{at}/dayparts/{d}"), says));
            }
        }
    }
    flaws
}
