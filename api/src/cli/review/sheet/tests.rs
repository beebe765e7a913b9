use super::*;

fn read_text(text: &str) -> anyhow::Result<Read> {
    read(text.as_bytes(), UnitCost::KILOGRAM)
}

fn refused(text: &str) -> String {
    format!("{:#}", read_text(text).expect_err("refused"))
}

#[test]
fn columns_are_found_by_header_in_any_order_and_others_are_passed_over() {
    let text = "\u{feff}weather,Business_Date, waste_kg ,store,usage_theoretical_kg,usage_actual_kg,lot\n\
        rain,2026-06-02,,ford,240.5,251,L1\n\
        \"sun, mostly\",2026-06-01,0,\"Ford, upper\",240,250,\n";
    let Read { sheet, notes } = read_text(text).unwrap();
    let rows: Vec<_> = sheet.rows().collect();
    let names: Vec<_> = sheet.stores().iter().map(|s| sheet.labels().word(*s)).collect();
    assert_eq!(names, ["Ford, upper", "ford"]);
    // Blank is not zero, and a date without a row is missing.
    assert_eq!(rows[0].figures.get(Column::Wasted), Some(0.0));
    assert_eq!(rows[0].lot, None);
    assert_eq!(rows[1].status, Status::Missing);
    let ford = rows[2];
    assert_eq!(ford.figures.get(Column::Wasted), None);
    assert_eq!(ford.figures.get(Column::Used), Some(251.0));
    assert_eq!(ford.lot.map(|lot| sheet.labels().word(lot)), Some("L1"));
    assert!(notes.contains(&"batch_yield is not reviewed: fried_kg and raw_kg missing".to_owned()));
    assert!(notes.iter().any(|note| note.starts_with("no district")), "{notes:?}");
    assert!(!notes.iter().any(|note| note.starts_with("use is") || note.starts_with("no lot")));
}

#[test]
fn semicolons_with_decimal_commas_are_read() {
    let text = "store;business_date;waste_kg\r\nford;2026-06-01;10,5\r\n";
    let row = read_text(text).unwrap().sheet.rows().next().unwrap();
    assert_eq!(row.figures.get(Column::Wasted), Some(10.5));
}

#[test]
fn what_a_night_was_is_told_by_its_status() {
    let text = "store,business_date,status,promotion\n\
        ford,2026-06-01,,0\nford,2026-06-02,closed,\nford,2026-06-04,short,two for one\n";
    let rows: Vec<_> = read_text(text).unwrap().sheet.rows().collect();
    let status: Vec<_> = rows.iter().map(|row| row.status).collect();
    assert_eq!(status, [Status::Open, Status::Closed, Status::Missing, Status::Short]);
    assert_eq!(
        rows.iter().map(|row| row.promotion.is_some()).collect::<Vec<_>>(),
        [false, false, false, true]
    );
}

#[test]
fn what_cannot_be_read_is_refused_with_its_line_and_column() {
    for (text, says) in [
        ("store,date\n", "the header has no column \"business_date\""),
        ("store,business_date,Store\n", "the columns 1 and 3 are both called \"store\""),
        ("store,business_date\n", "there are no rows"),
        ("store,business_date\nford,1 June\n", "line 2: column business_date: \"1 June\""),
        ("store,business_date\n,2026-06-01\n", "line 2: column store: nothing there"),
        (
            "store,business_date,waste_kg\nford,2026-06-01,1\nford,2026-06-02,\"1,5\"\n",
            "line 3: column waste_kg: \"1,5\" is no number",
        ),
        ("store,business_date,tickets\nford,2026-06-01,-3\n", "column tickets: below nothing"),
        ("store,business_date,sales\nford,2026-06-01,inf\n", "\"inf\" is no number"),
        ("store,business_date,status\nford,2026-06-01,shut\n", "\"shut\" is none"),
        ("store,business_date\nford,2026-06-01,x\n", "the file is no CSV"),
        (
            "store,business_date\nford,2026-06-01\nford,2026-06-01\n",
            "ford has two rows of 2026-06-01",
        ),
        ("store,business_date\nford,2026-06-01\nford,2096-06-01\n", "the rows span"),
    ] {
        let found = refused(text);
        assert!(found.contains(says), "{found} for {says}");
    }
}
