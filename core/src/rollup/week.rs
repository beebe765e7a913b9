//! A store's week as few bytes: what its seven nights add up to, whatever is asked of them later.
//!
//! Sums of a week are kept so that a long span of a large network is not added up night by night. They
//! say nothing that the nights do not say, and a roll-up is the same, to the digit, with or without
//! them. What rests on more than the nights of the store is left open: which nights were open, how often
//! an item is counted, which nights were asked for. So an item has, beside its sum, the ends of its runs
//! of counts, the nights that its spans cover, how far the first of these reaches back before the
//! Monday, and portions weighed by their dates.
//!
//! ```text
//! 1 │ the seven nights │ night │ item … │ waste … │ dayparts │ daypart …
//! ```

mod numbers;

use std::collections::BTreeMap;

use self::numbers::{
    doubt_numbers, item_numbers, item_sum, night_numbers, night_sum, ratio_numbers, ratio_sum,
    read_doubts,
};
use super::part::Part;
use super::runs::Run;
use super::tallied::{against_sales, is_compared};
use super::{ItemSum, NightSum, Sum, WasteKey, WasteLines};
use crate::bytes::{Reader, Unreadable, Writer};
use crate::calendar::BusinessDate;
use crate::ids::ItemId;
use crate::tally::pack::{
    self, Codes, ItemNight, TooLarge, Whole, code, each, maybe_code, maybe_place, place,
    read_daypart, samples_numbers, write_daypart,
};
use crate::tally::{DaypartKey, DaypartTally, NightTally, SalesSource};
use crate::usage::Samples;

/// Bits of what is known of one of the seven nights. It has facts.
const SEEN: i64 = 1;
/// A count was taken.
const COUNTED: i64 = 2;
/// It left lines of the sheet unanswered.
const PARTIAL: i64 = 4;
/// The store traded for much less than its usual hours.
const SHORT: i64 = 8;
/// Its sales come from somewhere.
const SOLD: i64 = 16;

/// What an item adds up to in a week, and what its nights leave open.
#[derive(Debug, Default)]
pub(super) struct ItemWeek {
    /// Without the nights that costs are held against, and how far counts are off.
    pub(super) sum: ItemSum,
    /// Runs of spans that are compared, in order.
    pub(super) runs: Vec<Run>,
    /// The nights, a bit each from the Monday on, that spans cover whose use has a cost against sales;
    /// and those whose variance has one.
    pub(super) covered: [u8; 2],
    /// So many nights before the Monday is the count that such a span opened with, where others before the
    /// Monday are in it.
    pub(super) before: [Option<i64>; 2],
    /// Portions weighed, by date.
    pub(super) samples: BTreeMap<BusinessDate, Samples>,
}

/// A week that nights are added to.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::rollup::Week;
/// use parings_core::tally::{Night, pack::{Dictionary, pack}};
/// let monday = BusinessDate::new(2026, 3, 2).unwrap();
/// let night = pack(monday, &Night::default()).unwrap();
/// let codes = Dictionary::default().read(&night.codes.counted, &night.codes.others).unwrap();
/// let mut week = Week::of(monday);
/// week.night(monday, &codes, &night.bytes).unwrap();
/// assert!(week.pack().unwrap().bytes.len() < 20);
/// ```
pub struct Week {
    monday: BusinessDate,
    seen: [Option<NightTally>; 7],
    part: Part,
    number: BTreeMap<ItemId, usize>,
    items: Vec<ItemWeek>,
}

/// A week as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedWeek {
    /// The codes that the numbers name by their places.
    pub codes: String,
    /// The numbers, in the form that this module describes.
    pub bytes: Vec<u8>,
}

impl Week {
    /// The version of the form in which weeks are written. Only weeks of this one are read: whatever is
    /// added up otherwise, or more of, needs another, and the nights speak until all are added up anew.
    pub const FORM: i16 = 1;

    /// Nothing yet, of the week that begins with a Monday.
    pub fn of(monday: BusinessDate) -> Self {
        Self {
            monday,
            seen: Default::default(),
            part: Part::default(),
            number: BTreeMap::new(),
            items: Vec::new(),
        }
    }

    /// Adds one of its nights, each once, in any order.
    ///
    /// # Errors
    /// [`Unreadable`] when no rule wrote it, or it is of another week.
    pub fn night(
        &mut self,
        date: BusinessDate,
        codes: &Codes,
        bytes: &[u8],
    ) -> Result<(), Unreadable> {
        let at = usize::try_from(self.monday.days_until(date)).ok().filter(|at| *at < 7);
        let at = at.ok_or(Unreadable::Field)?;
        let mut adding =
            Adding { date, at, codes, week: self, night: NightTally::default(), timed: false };
        pack::visit(date, codes, bytes, &mut adding)?;
        let Adding { night, timed, .. } = adding;
        let wasted = (night.wasted_cost, night.wasted_safety_cost);
        self.part.add_night(&NightSum::of_night(&night, wasted, timed));
        self.seen[at] = Some(night);
        Ok(())
    }

    fn number(&mut self, id: &ItemId) -> usize {
        if let Some(number) = self.number.get(id) {
            return *number;
        }
        self.number.insert(id.clone(), self.items.len());
        self.items.push(ItemWeek::default());
        self.items.len() - 1
    }

    /// Packs it.
    ///
    /// # Errors
    /// [`TooLarge`] when a figure is: then the nights speak for themselves.
    pub fn pack(self) -> Result<PackedWeek, TooLarge> {
        let Self { monday, seen, part, number, mut items } = self;
        let mut ids: Vec<(usize, ItemId)> = number.iter().map(|(id, n)| (*n, id.clone())).collect();
        ids.sort_unstable();
        let ids: Vec<ItemId> = ids.into_iter().map(|(_, id)| id).collect();
        let sum = part.sum(&ids);
        let codes = codes_of(&sum);
        let mut out = Writer::default();
        out.count(Self::FORM.unsigned_abs().into());
        let mut nights = [0; 14];
        for (at, night) in seen.iter().enumerate() {
            let Some(night) = night else { continue };
            nights[at] = bits_of(night);
            nights[7 + at] = night.items_left_out.whole()?;
        }
        out.numbers(&nights);
        out.numbers(&night_numbers(&sum.night)?);
        out.numbers(&ratio_numbers(&sum.night.waste)?);
        for (id, sum) in &sum.items {
            out.numbers(&item_numbers(sum)?);
            if sum.doubtful.spans > 0 {
                out.numbers(&doubt_numbers(sum)?);
            }
            pack_open(&mut out, monday, &mut items[number[id]])?;
        }
        out.count(sum.waste.len() as u64);
        for (key, lines) in &sum.waste {
            out.count(place(&codes.reasons, &key.reason));
            out.count(maybe_place(&codes.stages, key.stage.as_ref()));
            out.count(maybe_place(&codes.dayparts, key.daypart.as_ref()));
            let (amount, cost) = (lines.amount.whole()?, lines.cost.whole()?);
            out.numbers(&[key.safety.whole()?, amount, cost, lines.lines.whole()?]);
        }
        out.count(sum.dayparts.len() as u64);
        for (key, daypart) in &sum.dayparts {
            let times = daypart.tally.tickets.times.to_pairs();
            write_daypart(&mut out, &codes, key, &daypart.tally, &times)?;
            out.count(daypart.ticket_nights);
        }
        match out.fits() {
            true => Ok(PackedWeek { codes: codes.text().others, bytes: out.bytes }),
            false => Err(TooLarge),
        }
    }
}

/// The codes of all that a week adds up to.
fn codes_of(sum: &Sum) -> Codes {
    let (waste, dayparts) = (|| sum.waste.keys(), || sum.dayparts.keys());
    let wasted_in = waste().filter_map(|key| key.daypart.as_ref());
    Codes {
        items: sum.items.keys().cloned().collect(),
        counted: 0,
        reasons: each(waste().map(|key| &key.reason)),
        stages: each(waste().filter_map(|key| key.stage.as_ref())),
        dayparts: each(wasted_in.chain(dayparts().map(|key| &key.daypart))),
        channels: each(dayparts().map(|key| &key.channel)),
    }
}

fn bits_of(night: &NightTally) -> i64 {
    let bits = [
        (true, SEEN),
        (night.counted, COUNTED),
        (night.partial, PARTIAL),
        (night.short, SHORT),
        (night.sales_source != SalesSource::None, SOLD),
    ];
    bits.iter().filter(|(is, _)| *is).map(|(_, bit)| bit).sum()
}

/// What the nights of an item leave open.
fn pack_open(out: &mut Writer, monday: BusinessDate, item: &mut ItemWeek) -> Result<(), TooLarge> {
    let ItemWeek { runs, covered, before, samples, .. } = item;
    let [food, variance] = covered.map(i64::from);
    let [food_back, variance_back] = before.map(Option::unwrap_or_default);
    let many = [runs.len(), samples.len()].map(|many| many as i64);
    out.numbers(&[food, variance, many[0], food_back, variance_back, many[1]]);
    // They stand in the order in which nights came.
    runs.sort_unstable();
    for Run { first, last } in runs {
        let [(opened, opened_sd), (closed, closed_sd)] = [first, last];
        let since = |date: &i64| date - monday.number();
        let (opened, closed) = (since(opened), since(closed));
        out.numbers(&[opened, opened_sd.whole()?, closed, closed_sd.whole()?]);
    }
    for (date, samples) in samples {
        out.number(monday.days_until(*date));
        out.numbers(&samples_numbers(samples)?);
    }
    Ok(())
}

/// A night on its way into its week.
struct Adding<'a> {
    date: BusinessDate,
    at: usize,
    codes: &'a Codes,
    week: &'a mut Week,
    night: NightTally,
    timed: bool,
}

impl pack::Visit for Adding<'_> {
    fn night(&mut self, night: NightTally) {
        self.night = night;
    }

    fn item(&mut self, place: usize, item: ItemNight) {
        if !item.kept && item.day.is_none() && item.span.is_none() {
            return;
        }
        let number = self.week.number(&self.codes.items[place]);
        let Week { monday, part, items, .. } = &mut *self.week;
        let open = &mut items[number];
        if item.kept {
            part.item(number).add_kept(self.night.sales);
        }
        if let Some(day) = &item.day {
            part.add_day(number, day);
            if day.samples.count() > 0 {
                open.samples.insert(self.date, day.samples);
            }
        }
        let Some(ended) = &item.span else { return };
        let span = &ended.span;
        part.item(number).add_ended(ended);
        if is_compared(span) {
            Run::of_span(self.date, span).join(&mut open.runs);
        }
        let back = span.opened_on.days_until(*monday);
        let first = usize::try_from(1 - back);
        for (cost, _) in against_sales(span).into_iter().enumerate().filter(|(_, known)| *known) {
            (first.unwrap_or(0)..=self.at).for_each(|night| open.covered[cost] |= 1 << night);
            if first.is_err() {
                open.before[cost] = Some(back);
            }
        }
    }

    fn daypart(&mut self, key: DaypartKey, tally: DaypartTally, times: &[(u16, u64)]) {
        let timed = tally.tickets.with_target > 0;
        self.timed |= timed;
        self.week.part.add_daypart(key, &tally, timed.into(), times);
    }
}

/// What is told of a packed week while it is read, part by part.
pub(super) trait Visit {
    /// A night with facts: whether it was counted, how, and whether its sales are known.
    fn seen(&mut self, date: BusinessDate, night: &NightTally);
    /// Sales and waste of all nights.
    fn night(&mut self, night: &NightSum);
    /// An item, by its place among the codes; with the Monday.
    fn item(&mut self, place: usize, monday: BusinessDate, item: &ItemWeek);
    /// Waste of one kind.
    fn waste(&mut self, key: WasteKey, lines: &WasteLines);
    /// A daypart and channel, its tickets but for their times; and those, as a histogram has them.
    fn daypart(&mut self, key: DaypartKey, tally: &DaypartTally, nights: u64, times: &[(u16, u64)]);
}

/// Reads a packed week part by part.
///
/// # Errors
/// [`Unreadable`] when it is none; parts may have been told by then.
pub(super) fn visit(
    monday: BusinessDate,
    codes: &Codes,
    bytes: &[u8],
    to: &mut impl Visit,
) -> Result<(), Unreadable> {
    let mut reader = Reader::new(bytes);
    match reader.count()? {
        form if form == u64::from(Week::FORM.unsigned_abs()) => {}
        other => return Err(Unreadable::Version(other)),
    }
    let nights: [i64; 14] = reader.numbers()?;
    for (date, at) in (0..7).map(|at| (monday.plus_days(at as i64), at)) {
        let bits = nights[at];
        if bits & SEEN != 0 {
            let sold = if bits & SOLD == 0 { SalesSource::None } else { SalesSource::Feed };
            let night = NightTally {
                counted: bits & COUNTED != 0,
                partial: bits & PARTIAL != 0,
                short: bits & SHORT != 0,
                items_left_out: Whole::of(nights[7 + at]),
                sales_source: sold,
                ..NightTally::default()
            };
            to.seen(date, &night);
        }
    }
    let mut night = night_sum(reader.numbers()?);
    night.waste = ratio_sum(night.waste.nights, reader.numbers()?);
    to.night(&night);
    let mut item = ItemWeek::default();
    for place in 0..codes.items.len() {
        read_item(&mut reader, monday, &mut item)?;
        to.item(place, monday, &item);
    }
    for _ in 0..reader.count()? {
        let reason = code(&codes.reasons, reader.count()?)?;
        let stage = maybe_code(&codes.stages, reader.count()?)?;
        let daypart = maybe_code(&codes.dayparts, reader.count()?)?;
        let [safety, amount, cost, lines] = reader.numbers()?;
        let key = WasteKey { reason, safety: safety != 0, stage, daypart };
        let lines = WasteLines {
            amount: Whole::of(amount),
            cost: Whole::of(cost),
            lines: Whole::of(lines),
        };
        to.waste(key, &lines);
    }
    let mut times = Vec::new();
    for _ in 0..reader.count()? {
        let (key, tally) = read_daypart(&mut reader, codes, &mut times)?;
        to.daypart(key, &tally, reader.count()?, &times);
    }
    reader.end()
}

fn read_item(
    reader: &mut Reader<'_>,
    monday: BusinessDate,
    item: &mut ItemWeek,
) -> Result<(), Unreadable> {
    item.sum = item_sum(reader.numbers()?);
    if item.sum.doubtful.spans > 0 {
        read_doubts(reader.numbers()?, &mut item.sum);
    }
    let [food, variance, runs, food_back, variance_back, samples] = reader.numbers()?;
    item.covered = [food as u8 & 0x7f, variance as u8 & 0x7f];
    item.before = [food_back, variance_back].map(|back| (back > 0).then_some(back));
    item.runs.clear();
    let first = monday.number();
    for _ in 0..runs {
        let [opened, opened_sd, closed, closed_sd] = reader.numbers()?;
        item.runs.push(Run {
            first: (first.saturating_add(opened), Whole::of(opened_sd)),
            last: (first.saturating_add(closed), Whole::of(closed_sd)),
        });
    }
    item.samples.clear();
    for _ in 0..samples {
        let date = monday.plus_days(reader.number()?);
        item.samples.insert(date, pack::samples(reader.numbers()?));
    }
    Ok(())
}

#[cfg(test)]
mod tests;
