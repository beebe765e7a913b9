//! A night's tallies as few bytes: what is kept of a store and date.
//!
//! Everything is whole numbers (LEB128), after the version of this form: first the night, then every
//! item of [`Codes::items`] in order, then dayparts and channels. An item begins with bits that say what
//! follows: what happened on the date, its count, portions weighed, lines of waste, the span that ends
//! with its count. Of each part only the numbers that are not zero are written, after bits that say
//! which ([`ITEM_DAY`] and its like); of a span those that are not what its date says already ([`SPAN`]).
//!
//! ```text
//! 1 │ night │ sales and units │ item … │ dayparts │ daypart …
//! ```
//!
//! A number lies below 2⁶² on either side of zero, so that readers with 64 bits and a sign read every
//! one of them. Old versions stay readable: golden bytes of each hold the tests to it.

mod codes;
mod fields;
mod list;
mod span;
mod sql;
#[cfg(test)]
mod tests;

pub(crate) use codes::each;
pub use codes::{Codes, CodesText, Dictionary};
pub use fields::{COUNT, DAYPART, ITEM_DAY, NIGHT, SAMPLES, TICKETS, WASTE};
pub use list::{Listed, Part, list};
pub use span::SPAN;
pub use sql::sql;

use crate::bytes::{Reader, Unreadable, Writer};
use crate::calendar::BusinessDate;
use crate::ids::ItemId;
use crate::money::Money;
use crate::quantity::Tallied;
use crate::tally::{
    Counted, DaypartKey, DaypartTally, EndedSpan, ItemDay, Night, NightTally, SalesSource,
    WasteLine,
};
use crate::tickets::Histogram;
pub(crate) use fields::{Whole, samples, samples_numbers};
use fields::{
    daypart_numbers, daypart_tally, item_day, item_day_numbers, night_numbers, night_tally,
    tickets_numbers,
};
use span::Today;

/// The version of the form in which nights are written.
pub const VERSION: u64 = 1;

/// Bits of what an item has. Something happened on the date.
const HAPPENED: u64 = 1;
/// The store keeps the item.
const KEPT: u64 = 2;
/// It was counted.
const COUNTED: u64 = 4;
/// Portions of it were weighed.
const SAMPLED: u64 = 8;
/// Some of it was thrown away, line by line.
const WASTED: u64 = 16;
/// A span of it ends with its count.
const SPANNED: u64 = 32;

/// Bits of what is known of a night. Its sales.
const SALES: u64 = 1;
/// The units that used food are known.
const UNITS: u64 = 2;

/// A figure that is too large to keep: no kitchen has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a figure of this night is too large to keep")]
pub struct TooLarge;

/// A night as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packed {
    /// The codes that the numbers name by their places.
    pub codes: CodesText,
    /// The numbers, in the form that this module describes.
    pub bytes: Vec<u8>,
}

/// Packs the night of a date.
///
/// # Errors
/// [`TooLarge`] when a figure is.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::tally::Night;
/// use parings_core::tally::pack::{Dictionary, pack, unpack};
/// let date = BusinessDate::new(2026, 3, 2).unwrap();
/// let nothing = pack(date, &Night::default()).unwrap();
/// let codes = Dictionary::default().read(&nothing.codes.counted, &nothing.codes.others).unwrap();
/// assert_eq!(unpack(date, &codes, &nothing.bytes), Ok(Night::default()));
/// ```
pub fn pack(date: BusinessDate, night: &Night) -> Result<Packed, TooLarge> {
    let codes = Codes::of(night);
    let mut out = Writer::default();
    out.count(VERSION);
    let tally = &night.day.night;
    out.numbers(&night_numbers(tally)?);
    out.count(source_number(tally.sales_source));
    let known = |known: bool, bit: u64| if known { bit } else { 0 };
    out.count(known(tally.sales.is_some(), SALES) | known(tally.units.is_some(), UNITS));
    if let Some(sales) = tally.sales {
        out.number(sales.ten_thousandths());
    }
    if let Some(units) = tally.units {
        out.count(units);
    }
    for id in &codes.items {
        pack_item(&mut out, date, night, id, &codes)?;
    }
    out.count(night.day.dayparts.len() as u64);
    for (key, daypart) in &night.day.dayparts {
        write_daypart(&mut out, &codes, key, daypart, &daypart.tickets.times.to_pairs())?;
    }
    match out.fits() {
        true => Ok(Packed { codes: codes.text(), bytes: out.bytes }),
        false => Err(TooLarge),
    }
}

fn pack_item(
    out: &mut Writer,
    date: BusinessDate,
    night: &Night,
    id: &ItemId,
    codes: &Codes,
) -> Result<(), TooLarge> {
    let nothing = ItemDay::default();
    let happened = night.day.items.get(id);
    let item = happened.unwrap_or(&nothing);
    let span = night.spans.get(id);
    let bits = [
        (happened.is_some(), HAPPENED),
        (night.day.kept.contains(id), KEPT),
        (item.count.is_some(), COUNTED),
        (item.samples.count() > 0, SAMPLED),
        (!item.waste.is_empty(), WASTED),
        (span.is_some(), SPANNED),
    ];
    out.count(bits.iter().filter(|(is, _)| *is).map(|(_, bit)| bit).sum());
    if happened.is_some() {
        out.numbers(&item_day_numbers(item)?);
    }
    if let Some(count) = item.count {
        out.numbers(&[count.closing.thousandths(), count.sd.thousandths()]);
    }
    if item.samples.count() > 0 {
        out.numbers(&samples_numbers(&item.samples)?);
    }
    if !item.waste.is_empty() {
        out.count(item.waste.len() as u64);
        for line in &item.waste {
            out.count(place(&codes.reasons, &line.reason));
            out.count(maybe_place(&codes.stages, line.stage.as_ref()));
            out.count(maybe_place(&codes.dayparts, line.daypart.as_ref()));
            let (amount, cost) = (line.amount.thousandths(), line.cost.ten_thousandths());
            out.numbers(&[line.safety.into(), amount, cost]);
        }
    }
    if let Some(ended) = span {
        let today = Today { date, item, sales: night.day.night.sales };
        out.numbers(&span::pack(ended, today)?);
    }
    Ok(())
}

/// Writes a daypart and channel, whose tickets took those times.
pub(crate) fn write_daypart(
    out: &mut Writer,
    codes: &Codes,
    key: &DaypartKey,
    daypart: &DaypartTally,
    times: &[(u16, u64)],
) -> Result<(), TooLarge> {
    out.count(place(&codes.dayparts, &key.daypart));
    out.count(place(&codes.channels, &key.channel));
    out.numbers(&daypart_numbers(daypart)?);
    out.numbers(&tickets_numbers(daypart)?);
    out.count(times.len() as u64);
    let mut last = 0;
    for (bin, tickets) in times {
        out.count((bin - last).into());
        out.count(*tickets);
        last = *bin;
    }
    Ok(())
}

/// The place of a code in its list, which has it.
pub(crate) fn place<T: Ord>(list: &[T], code: &T) -> u64 {
    list.binary_search(code).unwrap_or_default() as u64
}

/// The same of one that may be left out: zero then, else one more than its place.
pub(crate) fn maybe_place<T: Ord>(list: &[T], code: Option<&T>) -> u64 {
    code.map_or(0, |code| 1 + place(list, code))
}

fn source_number(source: SalesSource) -> u64 {
    match source {
        SalesSource::None => 0,
        SalesSource::Feed => 1,
        SalesSource::Typed => 2,
    }
}

/// What is told of a packed night while it is read, part by part.
pub trait Visit {
    /// The night itself; first of all.
    fn night(&mut self, night: NightTally);
    /// An item, by its place in [`Codes::items`], in their order.
    fn item(&mut self, place: usize, item: ItemNight);
    /// A daypart and channel, its tickets but for their times; and those, as a histogram has them.
    fn daypart(&mut self, key: DaypartKey, tally: DaypartTally, times: &[(u16, u64)]);
}

/// An item of a packed night.
#[derive(Debug, Clone, Default)]
pub struct ItemNight {
    /// Whether the store keeps it.
    pub kept: bool,
    /// What happened on the date, if anything did.
    pub day: Option<ItemDay>,
    /// The span that ends with its count.
    pub span: Option<EndedSpan>,
}

/// Reads a packed night of a date part by part.
///
/// # Errors
/// [`Unreadable`] when no rule wrote it; parts may have been told by then.
pub fn visit(
    date: BusinessDate,
    codes: &Codes,
    bytes: &[u8],
    to: &mut impl Visit,
) -> Result<(), Unreadable> {
    let mut reader = Reader::new(bytes);
    match reader.count()? {
        VERSION => {}
        other => return Err(Unreadable::Version(other)),
    }
    let mut night = night_tally(reader.numbers()?);
    night.sales_source = match reader.count()? {
        0 => SalesSource::None,
        1 => SalesSource::Feed,
        2 => SalesSource::Typed,
        _ => return Err(Unreadable::Field),
    };
    let known = reader.count()?;
    if known & SALES != 0 {
        night.sales = Some(Money::from_ten_thousandths(reader.number()?));
    }
    if known & UNITS != 0 {
        night.units = Some(reader.count()?);
    }
    let sales = night.sales;
    to.night(night);
    for place in 0..codes.items.len() {
        let item = read_item(&mut reader, date, sales, codes)?;
        to.item(place, item);
    }
    let mut times = Vec::new();
    for _ in 0..reader.count()? {
        let (key, tally) = read_daypart(&mut reader, codes, &mut times)?;
        to.daypart(key, tally, &times);
    }
    reader.end()
}

fn read_item(
    reader: &mut Reader<'_>,
    date: BusinessDate,
    sales: Option<Money>,
    codes: &Codes,
) -> Result<ItemNight, Unreadable> {
    let bits = reader.count()?;
    let mut item = match bits & HAPPENED {
        0 => ItemDay::default(),
        _ => item_day(reader.numbers()?),
    };
    if bits & COUNTED != 0 {
        let [closing, sd] = reader.numbers()?.map(Tallied::from_thousandths);
        item.count = Some(Counted { closing, sd });
    }
    if bits & SAMPLED != 0 {
        item.samples = samples(reader.numbers()?);
    }
    if bits & WASTED != 0 {
        for _ in 0..reader.count()? {
            item.waste.push(read_waste(reader, codes)?);
        }
    }
    let span = match bits & SPANNED {
        0 => None,
        _ => Some(span::unpack(reader.numbers()?, Today { date, item: &item, sales })?),
    };
    Ok(ItemNight { kept: bits & KEPT != 0, day: (bits & HAPPENED != 0).then_some(item), span })
}

fn read_waste(reader: &mut Reader<'_>, codes: &Codes) -> Result<WasteLine, Unreadable> {
    let reason = code(&codes.reasons, reader.count()?)?;
    let stage = maybe_code(&codes.stages, reader.count()?)?;
    let daypart = maybe_code(&codes.dayparts, reader.count()?)?;
    let [safety, amount, cost] = reader.numbers()?;
    Ok(WasteLine {
        stage,
        reason,
        safety: safety != 0,
        daypart,
        amount: Tallied::from_thousandths(amount),
        cost: Money::from_ten_thousandths(cost),
    })
}

/// Reads what [`write_daypart`] wrote; its times go to `times`.
pub(crate) fn read_daypart(
    reader: &mut Reader<'_>,
    codes: &Codes,
    times: &mut Vec<(u16, u64)>,
) -> Result<(DaypartKey, DaypartTally), Unreadable> {
    let daypart = code(&codes.dayparts, reader.count()?)?;
    let channel = code(&codes.channels, reader.count()?)?;
    let mut tally = daypart_tally(reader.numbers()?);
    let numbers: [i64; TICKETS.len()] = reader.numbers()?;
    let [orders, with_target, late, never_closed, lump_closed] = numbers.map(i64::unsigned_abs);
    times.clear();
    let mut bin = 0_u16;
    for _ in 0..reader.count()? {
        let step = u16::try_from(reader.count()?).map_err(|_| Unreadable::Field)?;
        bin = bin.checked_add(step).ok_or(Unreadable::Field)?;
        times.push((bin, reader.count()?));
    }
    let tickets = &mut tally.tickets;
    (tickets.orders, tickets.with_target, tickets.timed_late) = (orders, with_target, late);
    (tickets.never_closed, tickets.lump_closed) = (never_closed, lump_closed);
    Histogram::check(times).map_err(|_| Unreadable::Field)?;
    Ok((DaypartKey { daypart, channel }, tally))
}

/// The code of a place in its list.
pub(crate) fn code<T: Clone>(list: &[T], place: u64) -> Result<T, Unreadable> {
    let place = usize::try_from(place).map_err(|_| Unreadable::Codes)?;
    list.get(place).cloned().ok_or(Unreadable::Codes)
}

/// The same of one that may be left out.
pub(crate) fn maybe_code<T: Clone>(list: &[T], place: u64) -> Result<Option<T>, Unreadable> {
    place.checked_sub(1).map(|place| code(list, place)).transpose()
}

/// Reads a packed night of a date as a whole.
///
/// # Errors
/// [`Unreadable`] when no rule wrote it.
pub fn unpack(date: BusinessDate, codes: &Codes, bytes: &[u8]) -> Result<Night, Unreadable> {
    struct Whole<'a>(&'a Codes, Night);
    impl Visit for Whole<'_> {
        fn night(&mut self, night: NightTally) {
            self.1.day.night = night;
        }

        fn item(&mut self, place: usize, item: ItemNight) {
            let id = &self.0.items[place];
            if item.kept {
                self.1.day.kept.insert(id.clone());
            }
            self.1.day.items.extend(item.day.map(|day| (id.clone(), day)));
            self.1.spans.extend(item.span.map(|span| (id.clone(), span)));
        }

        fn daypart(&mut self, key: DaypartKey, mut tally: DaypartTally, times: &[(u16, u64)]) {
            // They were checked when they were read.
            tally.tickets.times = Histogram::from_pairs(times).unwrap_or_default();
            self.1.day.dayparts.insert(key, tally);
        }
    }
    let mut whole = Whole(codes, Night::default());
    visit(date, codes, bytes, &mut whole)?;
    Ok(whole.1)
}
