//! Invented stores that count once a week.

use crate::calendar::{BusinessDate, DateSpan};
use crate::review::{
    Column, Figures, FindingKind, Labels, Measure, Sheet, Status, StoreNight, UnitCost, detect,
};

/// Twelve stores, sixteen weeks; the first uses a tenth more in the last four. A week's use is one value
/// over seven nights: with the sevens it is looked at, and without them two values of fourteen nights are
/// too few.
fn weekly(told: bool) -> Sheet {
    let mut labels = Labels::default();
    let [district, format] = ["upper", "counter"].map(|word| labels.label(word));
    let first = BusinessDate::new(2026, 3, 2).unwrap();
    let mut rows = Vec::new();
    for at in 0..12 {
        let store = labels.label(&format!("store {at:02}"));
        for night in 0..112 {
            let week = night / 7;
            let swing =
                f64::from((week * week * 37 + at * at * 53 + week * at * 29) % 101) / 5000.0;
            let more = if at == 0 && night >= 84 { 0.10 } else { 0.0 };
            let mut figures = Figures::default().with(Column::Portions, 600.0);
            if night % 7 == at % 7 {
                figures.set(Column::Expected, 1680.0);
                figures.set(Column::Used, 1680.0 * (1.05 + swing + more));
                if told {
                    figures.set(Column::Nights, 7.0);
                }
            }
            rows.push(StoreNight {
                store,
                district,
                format,
                date: first.plus_days(night.into()),
                status: Status::Open,
                lot: None,
                promotion: None,
                counted_by: None,
                figures,
            });
        }
    }
    Sheet::new(labels, UnitCost::KILOGRAM, &rows).unwrap()
}

#[test]
fn a_week_that_is_one_value_is_seven_nights() {
    let of = |sheet: &Sheet| {
        let last = sheet.span().to();
        let found = detect(sheet, DateSpan::new(last, last).unwrap());
        let told =
            found.iter().filter(|f| f.measure == Measure::Use && f.kind == FindingKind::Drift);
        told.map(|f| sheet.labels().word(f.store.unwrap()).to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(of(&weekly(true)), ["store 00"]);
    assert_eq!(of(&weekly(false)), [""; 0]);
}
