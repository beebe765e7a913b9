//! The detector: what to look at, night by night.
//!
//! Each measure is put on a scale on which nights differ evenly; what fair peers share on a night is
//! taken out ([`fair`]), leaving what a store does by itself. How runs of nights differ is learnt from
//! all stores by replay ([`replay`]). A scan then asks every night whether a store has moved away from
//! its own past and stays there ([`drift`]); a funnel, whether it has differed from peers for long
//! ([`chronic`]); and single nights far off give notes ([`single`]). How waste is written down is
//! looked at by itself ([`habit`]). All of it goes forward in time and uses nothing of later nights, so
//! one pass gives the review of every date.

mod chronic;
mod drift;
mod fair;
mod groups;
mod habit;
mod peers;
mod replay;
mod scan;
mod series;
mod shared;
mod single;
mod tell;
mod track;
#[cfg(test)]
mod weekly;

use fair::Grouping;
use habit::Shown;
use scan::Scan;

use super::{Finding, Measure, Sheet};
use crate::calendar::DateSpan;

/// Findings of every date of a span that the sheet holds, in order of date; of one date, in order of
/// money a week, what has no price last.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::review::{Column, Figures, Labels, Sheet, Status, StoreNight, UnitCost, detect};
/// let mut labels = Labels::default();
/// let [district, format] = ["upper", "counter"].map(|word| labels.label(word));
/// let first = BusinessDate::new(2026, 3, 2).unwrap();
/// let mut rows = Vec::new();
/// for store in 0..12 {
///     let label = labels.label(&format!("store {store}"));
///     for night in 0..84 {
///         // All differ a little; from the 70th night on, the first uses a tenth more.
///         let swing = f64::from((night * 7 + store * 5) % 11) / 500.0;
///         let more = if store == 0 && night >= 70 { 0.10 } else { 0.0 };
///         rows.push(StoreNight {
///             store: label, district, format, date: first.plus_days(night.into()),
///             status: Status::Open, lot: None, promotion: None, counted_by: None,
///             figures: Figures::default()
///                 .with(Column::Expected, 240.0)
///                 .with(Column::Used, 240.0 * (1.05 + swing + more)),
///         });
///     }
/// }
/// let sheet = Sheet::new(labels, UnitCost::KILOGRAM, &rows).unwrap();
/// let last = sheet.span().to();
/// let findings = detect(&sheet, parings_core::calendar::DateSpan::new(last, last).unwrap());
/// assert_eq!(findings.len(), 1);
/// assert_eq!(sheet.labels().word(findings[0].store.unwrap()), "store 0");
/// assert!(findings[0].range.contains(0.10));
/// ```
pub fn detect(sheet: &Sheet, dates: DateSpan) -> Vec<Finding> {
    let detector = Detector::new(sheet);
    let looks = Measure::ALL.iter().filter_map(|measure| detector.look(*measure)).collect();
    detector.findings(looks, dates)
}

/// A sheet about to be looked through, one measure after the other or several at once: whoever has
/// threads may give each look one of its own.
///
/// ```
/// # use parings_core::calendar::BusinessDate;
/// # use parings_core::review::{Figures, Labels, Sheet, Status, StoreNight, UnitCost};
/// use parings_core::review::{Detector, Measure};
/// # let mut labels = Labels::default();
/// # let [store, district, format] = ["ford", "upper", "counter"].map(|word| labels.label(word));
/// # let row = StoreNight {
/// #     store, district, format, date: BusinessDate::new(2026, 3, 2).unwrap(),
/// #     status: Status::Open, lot: None, promotion: None, counted_by: None,
/// #     figures: Figures::default(),
/// # };
/// # let sheet = Sheet::new(labels, UnitCost::KILOGRAM, &[row]).unwrap();
/// let detector = Detector::new(&sheet);
/// let looks = Measure::ALL.iter().filter_map(|measure| detector.look(*measure)).collect();
/// assert!(detector.findings(looks, sheet.span()).is_empty());
/// ```
pub struct Detector<'a> {
    sheet: &'a Sheet,
    grouping: Grouping,
}

/// A measure of a sheet looked through.
pub struct Look(Found);

enum Found {
    Ratio(Box<Scan>),
    Habits(Vec<Shown>),
}

impl<'a> Detector<'a> {
    /// A detector for a sheet, whose stores it groups by whom they are compared with.
    pub fn new(sheet: &'a Sheet) -> Self {
        Self { sheet, grouping: Grouping::of(sheet) }
    }

    /// Looks a measure through; nothing when the sheet has nothing of it.
    pub fn look(&self, measure: Measure) -> Option<Look> {
        let found = match measure {
            Measure::Habit => Found::Habits(habit::habits(self.sheet)),
            _ => Found::Ratio(Box::new(Scan::of(self.sheet, &self.grouping, measure)?)),
        };
        Some(Look(found))
    }

    /// What looks at this sheet found, as [`detect`] tells it.
    pub fn findings(&self, looks: Vec<Look>, dates: DateSpan) -> Vec<Finding> {
        let (mut scan, mut habits) = (Vec::new(), Vec::new());
        for Look(found) in looks {
            match found {
                Found::Ratio(one) => scan.push(*one),
                Found::Habits(some) => habits.extend(some),
            }
        }
        let of = |measure: Measure| scan.iter().find(|one| one.series.measure == measure);
        if let (Some(used), Some(wasted)) = (of(Measure::Use), of(Measure::Waste)) {
            habits.extend(habit::falls(used, wasted, self.sheet.nights()));
        }
        tell::findings(self.sheet, &self.grouping, &scan, &habits, dates)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calendar::BusinessDate;
    use crate::review::{Column, Figures, Labels, Status, StoreNight, UnitCost};

    /// Twelve stores that swing a little, each after so many nights of which nothing is known; the
    /// first uses a tenth more for the last twelve nights. Invented.
    fn sheet(nights: u32, empty: u32) -> Sheet {
        let mut labels = Labels::default();
        let [district, format] = ["upper", "counter"].map(|word| labels.label(word));
        let first = BusinessDate::new(2026, 3, 2).unwrap();
        let mut rows = Vec::new();
        for store in 0..12 {
            let label = labels.label(&format!("store {store:02}"));
            for night in 0..nights {
                let swing = f64::from((night * 7 + store * 5) % 11) / 500.0;
                let more = if store == 0 && night + 12 >= nights { 0.10 } else { 0.0 };
                let known = night >= empty;
                let figures = Figures::default()
                    .with(Column::Expected, 240.0)
                    .with(Column::Used, 240.0 * (1.05 + swing + more));
                rows.push(StoreNight {
                    store: label,
                    district,
                    format,
                    date: first.plus_days(night.into()),
                    status: if known { Status::Open } else { Status::Missing },
                    lot: None,
                    promotion: None,
                    counted_by: None,
                    figures: if known { figures } else { Figures::default() },
                });
            }
        }
        Sheet::new(labels, UnitCost::KILOGRAM, &rows).unwrap()
    }

    #[test]
    fn nights_of_which_nothing_is_known_hide_nothing() {
        for empty in [0, 1, 7, 14, 28, 40] {
            let sheet = sheet(112, empty);
            let last = sheet.span().to();
            let found = detect(&sheet, DateSpan::new(last, last).unwrap());
            let told: Vec<_> =
                found.iter().map(|f| (f.store, f.kind, f.range.contains(0.10))).collect();
            let first = Some(sheet.stores()[0]);
            assert_eq!(told, [(first, crate::review::FindingKind::Drift, true)], "after {empty}");
        }
    }
}
