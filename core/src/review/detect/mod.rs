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
mod looked;
mod peers;
mod replay;
mod series;
mod shared;
mod single;
mod tell;
mod track;

use fair::Grouping;
use looked::Looked;

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
    let grouping = Grouping::of(sheet);
    let of = |measure: &Measure| Looked::of(sheet, &grouping, *measure);
    let (looked, habits) = std::thread::scope(|scope| {
        let of = &of;
        let measures: Vec<_> =
            Measure::RATIOS.iter().map(|measure| scope.spawn(move || of(measure))).collect();
        let habits = habit::habits(sheet);
        let looked: Vec<Looked> =
            measures.into_iter().filter_map(|thread| thread.join().ok().flatten()).collect();
        (looked, habits)
    });
    tell::findings(sheet, &grouping, &looked, &habits, dates)
}
