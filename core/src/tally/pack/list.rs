use super::fields::{
    daypart_numbers, item_day_numbers, night_numbers, samples_numbers, tickets_numbers,
};
use super::span::{self, Today};
use super::{COUNT, DAYPART, ITEM_DAY, NIGHT, SAMPLES, SPAN, TICKETS, WASTE};
use super::{COUNTED, HAPPENED, KEPT, SALES, TooLarge, UNITS};
use crate::calendar::BusinessDate;
use crate::money::Money;
use crate::tally::{ItemDay, Night, SalesSource};

/// A part of a night as analysts read it: its kind, the codes it is of, its numbers.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Listed {
    /// What kind of part it is, which says what its codes and numbers are of.
    pub part: Part,
    /// The codes; empty where there is none.
    pub codes: Vec<String>,
    /// The numbers, under the names of [`Part::columns`].
    pub numbers: Vec<i64>,
}

/// The kinds of parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// The night itself.
    Night,
    /// What happened to an item on the date, and its count.
    Item,
    /// A line of waste: an item, a reason, a stage, a daypart.
    Waste,
    /// The span that ends with an item's count.
    Span,
    /// A daypart and channel.
    Daypart,
    /// How many tickets of a daypart and channel took how long: a bin of the histogram.
    Times,
}

impl Part {
    /// Every kind of part, in the order in which they are listed.
    pub const ALL: [Self; 6] =
        [Self::Night, Self::Item, Self::Waste, Self::Span, Self::Daypart, Self::Times];

    /// Its word in the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::Night => "night",
            Self::Item => "item",
            Self::Waste => "waste",
            Self::Span => "span",
            Self::Daypart => "daypart",
            Self::Times => "times",
        }
    }

    /// The part of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|part| part.word() == word)
    }

    /// The names of its numbers, in order.
    pub fn columns(self) -> Vec<&'static str> {
        match self {
            Self::Night => [&["sales_source", "known", "sales", "units"], NIGHT].concat(),
            Self::Item => [&["bits"], ITEM_DAY, COUNT, SAMPLES].concat(),
            Self::Waste => WASTE.to_vec(),
            Self::Span => SPAN.iter().map(|(name, _)| *name).collect(),
            Self::Daypart => [DAYPART, TICKETS].concat(),
            Self::Times => vec!["bin", "tickets"],
        }
    }
}

/// The parts of a night, as `night_parts` lists them in the database.
///
/// # Errors
/// [`TooLarge`] when a figure is.
pub fn list(date: BusinessDate, night: &Night) -> Result<Vec<Listed>, TooLarge> {
    let mut all = vec![of_night(night)?];
    for (id, item) in &night.day.items {
        all.push(of_item(id.as_str(), item, night.day.kept.contains(id))?);
        for line in &item.waste {
            let [stage, daypart] = [
                line.stage.as_ref().map(ToString::to_string),
                line.daypart.as_ref().map(ToString::to_string),
            ];
            all.push(Listed {
                part: Part::Waste,
                codes: vec![
                    id.to_string(),
                    line.reason.to_string(),
                    stage.unwrap_or_default(),
                    daypart.unwrap_or_default(),
                ],
                numbers: vec![
                    line.safety.into(),
                    line.amount.thousandths(),
                    line.cost.ten_thousandths(),
                ],
            });
        }
    }
    for id in night.day.kept.iter().filter(|id| !night.day.items.contains_key(*id)) {
        all.push(of_item(id.as_str(), &ItemDay::default(), true)?);
    }
    let nothing = ItemDay::default();
    for (id, ended) in &night.spans {
        let item = night.day.items.get(id).unwrap_or(&nothing);
        let today = Today { date, item, sales: night.day.night.sales };
        let numbers = span::list(ended, today)?.to_vec();
        all.push(Listed { part: Part::Span, codes: vec![id.to_string()], numbers });
    }
    for (key, daypart) in &night.day.dayparts {
        let codes = vec![key.daypart.to_string(), key.channel.to_string()];
        let numbers = [&daypart_numbers(daypart)?[..], &tickets_numbers(daypart)?].concat();
        all.push(Listed { part: Part::Daypart, codes: codes.clone(), numbers });
        for (bin, tickets) in daypart.tickets.times.to_pairs() {
            let tickets = i64::try_from(tickets).map_err(|_| TooLarge)?;
            let numbers = vec![bin.into(), tickets];
            all.push(Listed { part: Part::Times, codes: codes.clone(), numbers });
        }
    }
    all.sort();
    Ok(all)
}

fn of_night(night: &Night) -> Result<Listed, TooLarge> {
    let tally = &night.day.night;
    let source = match tally.sales_source {
        SalesSource::None => 0,
        SalesSource::Feed => 1,
        SalesSource::Typed => 2,
    };
    let known = if tally.sales.is_some() { SALES } else { 0 }
        | if tally.units.is_some() { UNITS } else { 0 };
    let units = i64::try_from(tally.units.unwrap_or_default()).map_err(|_| TooLarge)?;
    let first = [source, known as i64, tally.sales.map_or(0, Money::ten_thousandths), units];
    let numbers = [&first[..], &night_numbers(tally)?].concat();
    Ok(Listed { part: Part::Night, codes: Vec::new(), numbers })
}

fn of_item(id: &str, item: &ItemDay, kept: bool) -> Result<Listed, TooLarge> {
    let happened = *item != ItemDay::default();
    let bits = [(happened, HAPPENED), (kept, KEPT), (item.count.is_some(), COUNTED)];
    let bits: u64 = bits.iter().filter(|(is, _)| *is).map(|(_, bit)| bit).sum();
    let count = item.count.map_or([0, 0], |c| [c.closing.thousandths(), c.sd.thousandths()]);
    let numbers =
        [&[bits as i64][..], &item_day_numbers(item)?, &count, &samples_numbers(&item.samples)?]
            .concat();
    Ok(Listed { part: Part::Item, codes: vec![id.to_owned()], numbers })
}
