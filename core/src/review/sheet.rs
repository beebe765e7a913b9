use std::collections::BTreeMap;

use super::{Column, Figures, Label, Labels, Measure};
use crate::calendar::{BusinessDate, DateSpan};
use crate::stats::{Proportion, RatioSums};

/// What became of a store's night. A night that no row speaks of is missing.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Status {
    /// Before the store's first row.
    #[default]
    NotYet,
    /// Due and not there, or no row: missing is neither zero nor closed.
    Missing,
    /// Missing too, but a count came and waits for an answer or for approval.
    Held,
    /// The store stayed closed: nothing was due.
    Closed,
    /// It traded and counted.
    Open,
    /// It traded much less than its usual hours: in no rate.
    Short,
    /// Its figures are not relied on: in no rate.
    LeftOut,
}

/// A store's night as it enters a sheet.
///
/// A sheet is where exact figures become numbers for statistics. Its amounts are in any one unit
/// that adds up over items: kilograms of a file, or money of tallies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StoreNight {
    /// The store whose night it is.
    pub store: Label,
    /// Its district on that date.
    pub district: Label,
    /// Its format on that date.
    pub format: Label,
    /// The business date of the night.
    pub date: BusinessDate,
    /// What became of the night.
    pub status: Status,
    /// The lot of the main ingredient.
    pub lot: Option<Label>,
    /// The promotion that ran.
    pub promotion: Option<Label>,
    /// Who counted that night; none where nobody wrote it down.
    pub counted_by: Option<Label>,
    /// What is known of it.
    pub figures: Figures,
}

/// Why rows make no sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SheetError {
    /// There is no row at all.
    #[error("there are no rows")]
    Empty,
    /// Two rows of a store and date.
    #[error("{store} has two rows of {date}")]
    Twice {
        /// The code of the store.
        store: String,
        /// The business date that both rows are of.
        date: BusinessDate,
    },
    /// Dates too far apart.
    #[error("the rows span {nights} nights, and {most} is the most", most = Sheet::MOST_NIGHTS)]
    TooManyNights {
        /// How many nights lie from the first row to the last.
        nights: u32,
    },
}

/// What a unit of the amounts of a sheet costs, in the currency's major unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitCost(f64);

impl UnitCost {
    /// Of amounts that are money.
    pub const MONEY: Self = Self(1.0);

    /// 0.90 for a kilogram as purchased: a starting value (invented) until a network says its own.
    pub const KILOGRAM: Self = Self(0.90);

    /// A cost of a finite number, 0 or more.
    pub fn new(cost: f64) -> Option<Self> {
        (cost.is_finite() && cost >= 0.0).then_some(Self(cost))
    }

    pub(super) fn of(self, amount: f64) -> f64 {
        self.0 * amount
    }
}

/// Nights of stores in columns: what a review looks at, whether it was made from tallies or from a
/// file. Stores lie one after the other, each with every night from the first to the last.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::review::{Column, Figures, Labels, Sheet, Status, StoreNight, UnitCost};
/// let mut labels = Labels::default();
/// let (ford, upper, counter) = (labels.label("ford"), labels.label("upper"), labels.label("counter"));
/// let night = |day, wasted| StoreNight {
///     store: ford, district: upper, format: counter,
///     date: BusinessDate::new(2026, 6, day).unwrap(),
///     status: Status::Open, lot: None, promotion: None, counted_by: None,
///     figures: Figures::default().with(Column::Wasted, wasted),
/// };
/// let sheet = Sheet::new(labels, UnitCost::KILOGRAM, &[night(3, 10.5), night(1, 9.0)]).unwrap();
/// assert_eq!(sheet.span().nights(), 3);
/// assert_eq!(sheet.stores().len(), 1);
/// ```
#[derive(Debug, Clone)]
pub struct Sheet {
    labels: Labels,
    cost: UnitCost,
    span: DateSpan,
    stores: Vec<Label>,
    columns: Vec<Vec<f64>>,
    status: Vec<Status>,
    /// Where the store stood; of a night without a row, as on the night before.
    places: Vec<(Label, Label)>,
    lots: Vec<Option<Label>>,
    promotions: Vec<Option<Label>>,
    counters: Vec<Option<Label>>,
}

impl Sheet {
    /// So many nights at most.
    pub const MOST_NIGHTS: u32 = 800;

    /// A sheet of rows in any order.
    ///
    /// # Errors
    /// [`SheetError`] when there are none, two are of the same night, or they are too far apart.
    pub fn new(labels: Labels, cost: UnitCost, rows: &[StoreNight]) -> Result<Self, SheetError> {
        let dates = || rows.iter().map(|row| row.date);
        let (first, last) = dates().min().zip(dates().max()).ok_or(SheetError::Empty)?;
        let span = DateSpan::new(first, last).map_err(|_| SheetError::Empty)?;
        if span.nights() > Self::MOST_NIGHTS {
            return Err(SheetError::TooManyNights { nights: span.nights() });
        }
        let mut stores: Vec<Label> = Vec::new();
        let mut met = vec![false; labels.len()];
        for row in rows {
            if !std::mem::replace(&mut met[row.store.index()], true) {
                stores.push(row.store);
            }
        }
        stores.sort_by(|a, b| labels.word(*a).cmp(labels.word(*b)));
        let mut place = vec![0; labels.len()];
        for (at, store) in stores.iter().enumerate() {
            place[store.index()] = at;
        }
        let cells = stores.len() * span.nights() as usize;
        let nowhere = rows
            .first()
            .map_or((Label::default(), Label::default()), |row| (row.district, row.format));
        let mut sheet = Self {
            labels,
            cost,
            span,
            stores,
            columns: vec![vec![f64::NAN; cells]; Column::COUNT],
            status: vec![Status::NotYet; cells],
            places: vec![nowhere; cells],
            lots: vec![None; cells],
            promotions: vec![None; cells],
            counters: vec![None; cells],
        };
        for row in rows {
            sheet.put(place[row.store.index()], row)?;
        }
        sheet.fill();
        Ok(sheet)
    }

    fn put(&mut self, store: usize, row: &StoreNight) -> Result<(), SheetError> {
        let night = self.span.from().days_until(row.date) as usize;
        let cell = store * self.nights() + night;
        if self.status[cell] != Status::NotYet {
            let store = self.labels.word(row.store).to_owned();
            return Err(SheetError::Twice { store, date: row.date });
        }
        self.status[cell] = row.status;
        self.places[cell] = (row.district, row.format);
        self.lots[cell] = row.lot;
        self.promotions[cell] = row.promotion;
        self.counters[cell] = row.counted_by;
        for column in Column::ALL {
            self.columns[*column as usize][cell] = row.figures.raw(*column);
        }
        Ok(())
    }

    /// Between and after a store's rows a night is missing, and the store stands where it stood
    /// before; before them it stands where it first did.
    fn fill(&mut self) {
        let nights = self.nights();
        for store in 0..self.stores.len() {
            let of = store * nights..(store + 1) * nights;
            let first = of.clone().find(|cell| self.status[*cell] != Status::NotYet);
            let Some(first) = first else { continue };
            let mut place = self.places[first];
            for cell in of {
                if self.status[cell] != Status::NotYet {
                    place = self.places[cell];
                    continue;
                }
                self.places[cell] = place;
                if cell > first {
                    self.status[cell] = Status::Missing;
                }
            }
        }
    }

    /// The words that the sheet's labels stand for.
    pub fn labels(&self) -> &Labels {
        &self.labels
    }

    /// What a unit of its amounts costs.
    pub fn cost(&self) -> UnitCost {
        self.cost
    }

    /// From the first to the last night of any store.
    pub fn span(&self) -> DateSpan {
        self.span
    }

    /// Its stores, in order of their names.
    pub fn stores(&self) -> &[Label] {
        &self.stores
    }

    /// Whether any store has such a figure on any night.
    pub fn has(&self, column: Column) -> bool {
        self.column(column).iter().any(|figure| !figure.is_nan())
    }

    /// Its nights, store by store in order of date; those before a store's first row are left out.
    pub fn rows(&self) -> impl Iterator<Item = StoreNight> + '_ {
        let cells = (0..self.status.len()).filter(|cell| self.status[*cell] != Status::NotYet);
        cells.map(|cell| {
            let (district, format) = self.places[cell];
            let mut figures = Figures::default();
            for column in Column::ALL {
                figures.set(*column, self.column(*column)[cell]);
            }
            StoreNight {
                store: self.stores[cell / self.nights()],
                district,
                format,
                date: self.date(cell % self.nights()),
                status: self.status[cell],
                lot: self.lots[cell],
                promotion: self.promotions[cell],
                counted_by: self.counters[cell],
                figures,
            }
        })
    }

    /// The sums of a measure over a store's nights that are relied on; nothing of a store that is not
    /// of the sheet.
    pub fn sums(
        &self,
        measure: Measure,
        store: Label,
        from: BusinessDate,
        to: BusinessDate,
    ) -> RatioSums {
        let place = self.stores.iter().position(|one| *one == store);
        let last = place.zip(self.night(to)).map(|(at, night)| at * self.nights() + night);
        let first = self.span.from().days_until(from.max(self.span.from())) as usize;
        let cells = place.zip(last).map(|(at, last)| at * self.nights() + first..=last);
        cells.into_iter().flatten().filter_map(|cell| measure.parts(self, cell)).collect()
    }

    /// The lot that most nights of a district's stores were cooked from over a span, with the part of
    /// those nights whose lot is known that were; none where no lot is.
    pub fn main_lot(&self, district: Label, span: DateSpan) -> Option<(Label, Proportion)> {
        let mut known: BTreeMap<Label, u64> = BTreeMap::new();
        for night in span.iter().filter_map(|date| self.night(date)) {
            for cell in (night..self.status.len()).step_by(self.nights().max(1)) {
                if let Some(lot) = self.lots[cell].filter(|_| self.places[cell].0 == district) {
                    *known.entry(lot).or_default() += 1;
                }
            }
        }
        let all: u64 = known.values().sum();
        let (lot, most) = known.into_iter().max_by_key(|(_, nights)| *nights)?;
        Some((lot, Proportion::new(most, all).ok()?))
    }

    /// How many nights each store has.
    pub(super) fn nights(&self) -> usize {
        self.span.nights() as usize
    }

    /// A column: NaN where blank.
    pub(super) fn column(&self, column: Column) -> &[f64] {
        &self.columns[column as usize]
    }

    pub(super) fn status(&self) -> &[Status] {
        &self.status
    }

    /// How many nights the use of a cell is of.
    pub(super) fn covers(&self, cell: usize) -> u32 {
        // One when blank, which is no number.
        self.column(Column::Nights)[cell].max(1.0) as u32
    }

    /// District and format of each night, store by store.
    pub(super) fn places(&self) -> &[(Label, Label)] {
        &self.places
    }

    /// The lot of each night, store by store.
    pub(super) fn lots(&self) -> &[Option<Label>] {
        &self.lots
    }

    /// The promotion of each night, store by store.
    pub(super) fn promotions(&self) -> &[Option<Label>] {
        &self.promotions
    }

    /// How many nights lie before a date.
    pub(super) fn night(&self, date: BusinessDate) -> Option<usize> {
        self.span.contains(date).then(|| self.span.from().days_until(date) as usize)
    }

    /// The date of a night.
    pub(super) fn date(&self, night: usize) -> BusinessDate {
        self.span.from().plus_days(night as i64)
    }
}
