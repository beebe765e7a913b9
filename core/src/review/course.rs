//! How a measure of a store went, week by week, beside its fair peers: what a coach shows a manager.

use super::list::is_new;
use super::peers::{Peer, compare};
use super::{Label, Measure, Peers, Sheet};
use crate::calendar::{BusinessDate, DateSpan};
use crate::stats::{Confidence, Interval, RatioSums};

/// Fewest nights of a week that is shown, and of a peer's.
const FEWEST_NIGHTS: u64 = 4;

/// A week of a store.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Week {
    /// The nights of the week, first and last included.
    pub span: DateSpan,
    /// How many of them the ratio comes from.
    pub nights: u64,
    /// The measure, a ratio of sums; none with fewer than four nights.
    pub value: Option<f64>,
    /// Where it lies at 95 %, as nights differ.
    pub range: Option<Interval>,
    /// Fair peers over the same nights; none while there are fewer than five.
    pub peers: Option<Peers>,
}

/// The weeks of a store up to a night, the last one first looked at and last in the list; none of a
/// store or a night that is not of the sheet, and of [`Measure::Habit`], which is no ratio. A new store
/// is compared with nobody and is nobody's peer.
///
/// ```
/// # use parings_core::calendar::BusinessDate;
/// # use parings_core::review::{Column, Figures, Labels, Sheet, Status, StoreNight, UnitCost};
/// use parings_core::review::{Measure, course};
/// # let mut labels = Labels::default();
/// # let [ford, district, format] = ["ford", "upper", "counter"].map(|word| labels.label(word));
/// # let row = |day| StoreNight {
/// #     store: ford, district, format, date: BusinessDate::new(2026, 6, day).unwrap(),
/// #     status: Status::Open, lot: None, promotion: None, counted_by: None,
/// #     figures: Figures::default().with(Column::Expected, 200.0).with(Column::Used, 206.0),
/// # };
/// # let rows: Vec<_> = (1..=14).map(row).collect();
/// # let sheet = Sheet::new(labels, UnitCost::KILOGRAM, &rows).unwrap();
/// // Two weeks in which 3 % more was used than what was sold should have taken.
/// let weeks = course(&sheet, ford, Measure::Use, sheet.span().to());
/// assert_eq!(weeks.len(), 2);
/// assert_eq!(weeks[1].value, Some(0.03));
/// assert_eq!(weeks[1].peers, None);
/// ```
pub fn course(sheet: &Sheet, store: Label, measure: Measure, as_of: BusinessDate) -> Vec<Week> {
    let place = sheet.stores().iter().position(|one| *one == store);
    let Some((store, last)) = place.zip(sheet.night(as_of)) else { return Vec::new() };
    if measure == Measure::Habit {
        return Vec::new();
    }
    let mut weeks: Vec<Week> =
        (0..).map_while(|back| week(sheet, store, measure, last.checked_sub(7 * back)?)).collect();
    weeks.reverse();
    weeks
}

fn week(sheet: &Sheet, store: usize, measure: Measure, to: usize) -> Option<Week> {
    let from = to.checked_sub(6)?;
    let sums = |store: usize| -> RatioSums {
        let cells = store * sheet.nights();
        (cells + from..=cells + to).filter_map(|cell| measure.parts(sheet, cell)).collect()
    };
    let peer = |store: usize| {
        let sums = sums(store);
        if is_new(sheet, store, to) {
            return None;
        }
        let value = sums.value().filter(|_| sums.units() >= FEWEST_NIGHTS)?;
        let (_, format) = sheet.places()[store * sheet.nights() + to];
        Some(Peer { format, volume: sums.under() / sums.units() as f64, value })
    };
    let own = sums(store);
    let enough = own.units() >= FEWEST_NIGHTS;
    let peers = peer(store).and_then(|own| {
        let others: Vec<Peer> =
            (0..sheet.stores().len()).filter(|other| *other != store).filter_map(peer).collect();
        compare(measure, own, &others)
    });
    Some(Week {
        span: DateSpan::new(sheet.date(from), sheet.date(to)).ok()?,
        nights: own.units(),
        value: own.value().filter(|_| enough),
        range: own.interval(Confidence::NINETY_FIVE).filter(|_| enough),
        peers,
    })
}
