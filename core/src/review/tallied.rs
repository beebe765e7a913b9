//! From a night's tallies to the figures of a sheet.

use std::collections::BTreeMap;

use super::{Column, Figures};
use crate::bytes::Unreadable;
use crate::calendar::BusinessDate;
use crate::ids::ItemId;
use crate::stats::Percentile;
use crate::tally::pack::{self, Codes, ItemNight, Visit};
use crate::tally::{DaypartKey, DaypartTally, EndedSpan, ItemDay, NightTally};
use crate::tickets::{BINS, Histogram};

/// What a review takes from a store's night. Amounts are money.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NightFigures {
    /// Whether it was counted.
    pub counted: bool,
    /// Whether the store traded for much less than its usual hours.
    pub short: bool,
    /// Whether its sales are known.
    pub sold: bool,
    /// Its figures.
    pub figures: Figures,
}

/// Reads packed nights, one after the other, into figures; and adds up what use of some items cost,
/// which tells the item whose lot matters most.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::review::NightReader;
/// use parings_core::tally::Night;
/// use parings_core::tally::pack::{Dictionary, pack};
/// let (date, mut night) = (BusinessDate::new(2026, 3, 2).unwrap(), Night::default());
/// night.day.night.counted = true;
/// let packed = pack(date, &night).unwrap();
/// let codes = Dictionary::default().read(&packed.codes.counted, &packed.codes.others).unwrap();
/// let figures = NightReader::new(Vec::new()).read(date, &codes, &packed.bytes).unwrap();
/// assert!(figures.counted && !figures.sold);
/// ```
pub struct NightReader {
    /// Ticket times of the night that is read: how many fell into each bin of a histogram.
    bins: Vec<u64>,
    /// The items whose use is added up, and what it cost, in ten-thousandths.
    costs: BTreeMap<ItemId, i64>,
}

impl NightReader {
    /// Adds up what use of these items costs besides.
    pub fn new(items: Vec<ItemId>) -> Self {
        Self { bins: vec![0; BINS], costs: items.into_iter().map(|item| (item, 0)).collect() }
    }

    /// The figures of a night.
    ///
    /// # Errors
    /// [`Unreadable`] when no rule wrote it.
    pub fn read(
        &mut self,
        date: BusinessDate,
        codes: &Codes,
        bytes: &[u8],
    ) -> Result<NightFigures, Unreadable> {
        self.bins.fill(0);
        let mut reading = Reading { reader: self, codes, sum: Sums::default() };
        pack::visit(date, codes, bytes, &mut reading)?;
        let Reading { sum, .. } = reading;
        Ok(sum.figures(&self.bins))
    }

    /// Of the items that are added up the one whose use cost most; of as much, the first by its code.
    pub fn costliest(&self) -> Option<&ItemId> {
        let most = self.costs.iter().max_by_key(|(item, cost)| (**cost, std::cmp::Reverse(*item)));
        most.map(|(item, _)| item)
    }
}

struct Reading<'a> {
    reader: &'a mut NightReader,
    codes: &'a Codes,
    sum: Sums,
}

/// Sums of a night, in ten-thousandths of the currency's unit where they are money.
#[derive(Default)]
struct Sums {
    night: NightTally,
    spans: u64,
    compared: u64,
    expected: i64,
    variance: i64,
    /// What was expected, times the nights that it is of.
    expected_nights: i128,
    lines: u64,
    same_lines: u64,
    items: u64,
    due: i64,
    batches: u64,
    batch_due: i64,
    batch_out: i64,
    dayparts: u64,
    tickets: u64,
    late: u64,
}

impl Sums {
    fn span(&mut self, ended: &EndedSpan) {
        let span = &ended.span;
        self.spans += 1;
        // A span in doubt is in no sum that is compared.
        if let Some(variance) = span.variance_cost.filter(|_| span.doubts.is_empty()) {
            let expected = span.expected_cost.unwrap_or_default().ten_thousandths();
            self.compared += 1;
            self.expected += expected;
            self.variance += variance.ten_thousandths();
            self.expected_nights += i128::from(expected) * i128::from(span.nights);
        }
        let sold = span.expected.is_some_and(|expected| expected.thousandths() > 0);
        if sold && span.closing.closing.thousandths() > 0 {
            self.lines += 1;
            self.same_lines += u64::from(span.closing.closing == span.opening.closing);
        }
    }

    /// What should have come out of batches, and what did, at what the item costs that night.
    fn day(&mut self, day: &ItemDay) {
        self.items += 1;
        self.due += day.expected_cost.ten_thousandths();
        let due = day.batch_expected_out.thousandths();
        let worth = |amount: i64| {
            let cost = i128::from(amount) * i128::from(day.expected_cost.ten_thousandths());
            rounded(cost, i128::from(day.expected.thousandths()))
        };
        if let Some((worth_due, worth_out)) =
            worth(due).zip(worth(day.batch_out.thousandths())).filter(|_| due > 0)
        {
            self.batches += 1;
            self.batch_due += worth_due;
            self.batch_out += worth_out;
        }
    }

    fn figures(self, bins: &[u64]) -> NightFigures {
        let night = &self.night;
        let mut figures = Figures::default();
        let mut say = |column, known: bool, figure: f64| {
            if known {
                figures.set(column, figure);
            }
        };
        let money = |amount: i64| amount as f64 / 10_000.0;
        let count = |count: u64| count as f64;
        let (spanned, compared) = (self.spans > 0, self.compared > 0);
        let sales = night.sales.unwrap_or_default().ten_thousandths();
        let safety = night.wasted_safety_cost;
        let wasted = night.wasted_cost - safety;
        say(Column::Portions, night.units.is_some(), count(night.units.unwrap_or_default()));
        say(Column::Sales, night.sales.is_some(), money(sales));
        say(Column::Expected, compared, money(self.expected));
        say(Column::Used, compared, money(self.expected + self.variance));
        say(Column::Wasted, true, money(wasted.ten_thousandths()));
        say(Column::Safety, true, money(safety.ten_thousandths()));
        say(Column::Due, self.items > 0 && night.sales.is_some(), money(self.due));
        say(Column::Lines, spanned, count(self.lines));
        say(Column::SameLines, spanned, count(self.same_lines));
        say(Column::BatchIn, self.batches > 0, money(self.batch_due));
        say(Column::BatchOut, self.batches > 0, money(self.batch_out));
        say(Column::Tickets, self.dayparts > 0, count(self.tickets));
        say(Column::Late, self.dayparts > 0, count(self.late));
        // Items that are counted once a week do not make a week of the night: nights count by cost.
        if let Some(nights) = rounded(self.expected_nights, self.expected.into()) {
            say(Column::Nights, compared, nights as f64);
        }
        if self.dayparts > 0 {
            for (column, percentile) in
                [(Column::P50, Percentile::P50), (Column::P90, Percentile::P90)]
            {
                let time = Histogram::percentile_of(bins, percentile);
                say(column, time.is_some(), f64::from(time.map_or(0, |time| time.0)));
            }
        }
        let (counted, short, sold) = (night.counted, night.short, night.sales.is_some());
        NightFigures { counted, short, sold, figures }
    }
}

/// A quotient as a whole number, a half away from zero; none over nothing.
fn rounded(over: i128, under: i128) -> Option<i64> {
    let (over, under) = if under < 0 { (-over, -under) } else { (over, under) };
    let half = if over < 0 { -under } else { under };
    i64::try_from((2 * over + half).checked_div(2 * under)?).ok()
}

impl Visit for Reading<'_> {
    fn night(&mut self, night: NightTally) {
        self.sum.night = night;
    }

    fn item(&mut self, place: usize, item: ItemNight) {
        if let Some(day) = &item.day {
            self.sum.day(day);
        }
        if let Some(ended) = &item.span {
            self.sum.span(ended);
            if let Some(cost) = self.reader.costs.get_mut(&self.codes.items[place]) {
                *cost += ended.span.used_cost.unwrap_or_default().ten_thousandths();
            }
        }
    }

    fn daypart(&mut self, _: DaypartKey, tally: DaypartTally, times: &[(u16, u64)]) {
        if tally.tickets.with_target == 0 {
            return;
        }
        self.sum.dayparts += 1;
        self.sum.tickets += tally.tickets.with_target;
        self.sum.late += tally.tickets.timed_late;
        for (bin, tickets) in times {
            self.reader.bins[usize::from(*bin)] += tickets;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calendar::BusinessDate;
    use crate::ids::{ChannelId, DaypartId};
    use crate::money::Money;
    use crate::quantity::Tallied;
    use crate::tally::pack::{Dictionary, pack};
    use crate::tally::{Counted, Doubt, ItemSpan, Night, Opening, SalesSource, SpanNight, span};
    use crate::tickets::{Seconds, TicketTally};

    fn grams(grams: i64) -> Tallied {
        Tallied::from_thousandths(grams * 1_000)
    }

    fn one_span(nights: usize, closing: i64, expected: i64) -> ItemSpan {
        let day = ItemDay {
            expected: grams(expected),
            expected_cost: Money::from_ten_thousandths(expected * 10_000),
            ..ItemDay::default()
        };
        let night = SpanNight {
            open: true,
            sales_source: SalesSource::Feed,
            sales: Some(Money::ZERO),
            short: false,
            item: Some(&day),
        };
        let date = BusinessDate::new(2026, 3, 1).expect("a date");
        let count = |amount| Counted { closing: grams(amount), sd: Tallied::ZERO };
        let opening = Opening { on: date.plus_days(1 - nights as i64), count: count(100) };
        // At 1.00 a gram.
        let price = crate::money::UnitPrice::new(1.into()).ok();
        let mut nothing = vec![SpanNight { item: None, ..night }; nights - 1];
        nothing.push(night);
        span(opening, count(closing), &nothing, price, &<_>::default())
    }

    /// By hand. Potatoes: used 40 of one night, 38 expected; oil: used 10 over seven nights, 8 expected;
    /// a span in doubt is in no sum; one line repeats the count before. Nights by cost: (38·1 + 8·7) ÷ 46
    /// = 2.04, so 2. A batch should have given 30 g and gave 27; 76.00 for 38 g makes that 60 and 54.
    #[test]
    fn figures_of_a_worked_night() {
        let item = |code: &str| ItemId::new(code).expect("a code");
        let date = BusinessDate::new(2026, 3, 2).expect("a date");
        let mut night = Night::default();
        night.day.night = NightTally {
            counted: true,
            units: Some(12),
            sales: Some(Money::from_ten_thousandths(2_000_000)),
            wasted_cost: Money::from_ten_thousandths(50_000),
            wasted_safety_cost: Money::from_ten_thousandths(20_000),
            ..NightTally::default()
        };
        let batches = ItemDay {
            expected: grams(38),
            expected_cost: Money::from_ten_thousandths(760_000),
            batch_expected_out: grams(30),
            batch_out: grams(27),
            ..ItemDay::default()
        };
        night.day.items.insert(item("potato"), batches);
        let tickets = TicketTally {
            with_target: 3,
            timed_late: 1,
            times: [Seconds(100), Seconds(200), Seconds(300)].into_iter().collect(),
            ..TicketTally::default()
        };
        let key = DaypartKey { daypart: DaypartId::outside(), channel: ChannelId::every() };
        night.day.dayparts.insert(key, DaypartTally { tickets, ..DaypartTally::default() });
        let mut doubtful = one_span(1, 90, 5);
        doubtful.doubts.insert(Doubt::NegativeUse);
        let spans = [
            ("potato", one_span(1, 60, 38)),
            ("oil", one_span(7, 90, 8)),
            ("salt", one_span(1, 100, 1)),
            ("leek", doubtful),
        ];
        for (code, span) in spans {
            night.spans.insert(item(code), EndedSpan { span, restated_at: None });
        }
        let packed = pack(date, &night).expect("small figures");
        let codes = Dictionary::default().read(&packed.codes.counted, &packed.codes.others);
        let mut reader = NightReader::new(vec![item("oil"), item("potato")]);
        let found = reader.read(date, &codes.expect("codes"), &packed.bytes).expect("a night");
        assert!(found.counted && found.sold && !found.short);
        let said = [
            (Column::Portions, 12.0),
            (Column::Sales, 200.0),
            (Column::Expected, 47.0),
            (Column::Used, 50.0),
            (Column::Wasted, 3.0),
            (Column::Safety, 2.0),
            (Column::Due, 76.0),
            (Column::Nights, 2.0),
            (Column::Lines, 4.0),
            (Column::SameLines, 1.0),
            (Column::BatchIn, 60.0),
            (Column::BatchOut, 54.0),
            (Column::Tickets, 3.0),
            (Column::Late, 1.0),
            (Column::P50, 200.0),
            (Column::P90, 300.0),
        ];
        for (column, figure) in said {
            assert_eq!(found.figures.get(column), Some(figure), "{column:?}");
        }
        assert_eq!(reader.costliest(), Some(&item("potato")));
    }

    #[test]
    fn quotients_round_a_half_away_from_zero() {
        assert_eq!(
            [(5, 2), (-5, 2), (4, 3), (-4, -3)].map(|(a, b)| rounded(a, b)),
            [3, -3, 1, 1].map(Some)
        );
        assert_eq!(rounded(1, 0), None);
    }
}
