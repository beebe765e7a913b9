//! Whole files: what is read of them, and what is told of those that cannot be taken. The files are
//! invented.

use parings_core::catalog::Typed;
use parings_core::night::{EntryBody, When};
use uuid::Uuid;

use super::gather::{File, file};
use super::read::Declared;
use super::{BadRows, Dialect, Kind};
use crate::app::night::loading::{Place, Refused};

const PLAIN: Declared = Declared { file: Uuid::nil(), kind: None, format: None, dialect: None };

fn whole(text: &str) -> File {
    file(text.as_bytes(), PLAIN).unwrap_or_else(|bad| panic!("{bad:#?}"))
}

/// Line, column and a part of what is said of each bad row.
#[track_caller]
fn assert_bad(text: &[u8], known: Declared, expected: &[(u64, &str, &str)]) {
    let BadRows { rows, total } = file(text, known).expect_err("something is bad").bad;
    let told: Vec<_> =
        rows.iter().map(|row| (row.line, row.column.as_deref().unwrap_or_default())).collect();
    let places: Vec<_> = expected.iter().map(|(line, column, _)| (*line, *column)).collect();
    assert_eq!(told, places, "{rows:#?}");
    assert_eq!(total, rows.len());
    for (row, (_, _, says)) in rows.iter().zip(expected) {
        assert!(row.says.contains(says), "{row:?} does not say {says}");
    }
}

/// The line and column of a place in the first night.
fn place(file: &File, at: Place) -> (u64, Option<String>) {
    let (store, date) = file.nights.keys().next().unwrap().clone();
    let told = file.refused(&[Refused { store, date, at, says: String::new() }]);
    (told.rows[0].line, told.rows[0].column.clone())
}

fn typed(value: &str, unit: &str) -> Typed {
    Typed::new(value.parse().unwrap(), unit.parse().unwrap()).unwrap()
}

const NIGHTS: &str = "\
store,business_date,row,complete,counted_by,net_sales,item,place,stage,quantity,unit,label,product,size,units
ford,2026-06-15,night,yes,Ada | Ben,1234.50,,,,,,,,,
ford,2026-06-15,count,,,,potato,dry-store,,3,bag,,,,
ford,2026-06-15,count,,,,potato,cold-room,trim,27.5,kg,'=A1,,,
ford,2026-06-15,sold,,,,,,,,,,fries,one,90
weir,2026-06-15,count,,,,potato,dry-store,,0,bag,,,,
weir,2026-06-15,night,no,,,,,,,,,,,
";

#[test]
fn a_night_is_put_together_from_its_rows() {
    let read = whole(NIGHTS);
    assert_eq!((read.kind, read.rows, read.nights.len()), (Kind::Nights, 6, 2));
    let nights: Vec<_> = read.nights.values().collect();
    let ford = nights[0].count.as_ref().unwrap();
    assert_eq!((ford.line, &nights[0].count_lines[..]), (2, &[3, 4][..]));
    assert_eq!(ford.what.counted_by, ["Ada", "Ben"]);
    assert_eq!(ford.what.lines[1].quantity, typed("27.5", "kg"));
    assert_eq!(ford.what.lines[1].label.as_deref(), Some("=A1"));
    assert_eq!(ford.what.units_sold[0].units, 90);
    assert_eq!(ford.what.net_sales.unwrap().to_decimal().to_string(), "1234.5");
    assert!(!nights[1].count.as_ref().unwrap().what.complete);
    let place = |pointer: &str| place(&read, Place::Count(0, pointer.to_owned()));
    assert_eq!(place("/lines/1/quantity/unit"), (4, Some("unit".to_owned())));
    assert_eq!(place("/units_sold/0/product"), (5, Some("product".to_owned())));
    assert_eq!(place("/lines"), (2, None));
    assert_eq!(nights[1].line, 6);
}

#[test]
fn the_same_night_as_ndjson() {
    let read = whole(
        r#"{"store":"ford","business_date":"2026-06-15","complete":true,"counted_by":["Ada","Ben"],"net_sales":"1234.50","lines":[{"item":"potato","place":"dry-store","quantity":{"value":"3","unit":"bag"}},{"item":"potato","place":"cold-room","stage":"trim","quantity":{"value":27.5,"unit":"kg"},"label":"=A1"}],"units_sold":[{"product":"fries","size":"one","units":90}]}"#,
    );
    let csv = whole(NIGHTS);
    let night = |file: &File| file.nights.values().next().unwrap().count.clone().unwrap().what;
    assert_eq!(night(&read), night(&csv));
}

const ENTRIES: &str = "\
store,business_date,kind,id,item,stage,quantity,unit,reason,lot,paid,other_store,steps,inputs,labour_minutes,out_from,product,size,weights
ford,2026-06-15,waste,0190b5a0-0000-7000-8000-000000000001,potato,trim,1.5,kg,expired,,,,,,,,,,
ford,2026-06-15,delivery,,potato,,10,bag,,\"L-1, \"\"b\"\"\",204.10,,,,,,,,
ford,2026-06-15,transfer_in,,potato,,1,bag,,,,weir,,,,,,,
ford,2026-06-15,transfer_out,,potato,,1,bag,,,,weir,,,,,,,
ford,2026-06-15,batch,,potato,,20,kg,,,,,trim=18 kg,,41,,,,
ford,2026-06-15,preparation,,mash,,5,kg,,,,,,potato@trim=4.5 kg | salt=50 g,,,,,
ford,2026-06-15,stock_out,,potato,,,,,,,,,,,2026-06-15T18:15:00+02:00,,,
ford,2026-06-15,sample,,potato,,,,,,,,,,,,fries,one,198 g | 203 g
";

#[test]
fn entries_of_every_kind() {
    let read = whole(ENTRIES);
    let night = read.nights.values().next().unwrap();
    let kinds: Vec<_> = night.entries.iter().map(|e| e.what.body.kind()).collect();
    let shapes: Vec<_> = Kind::Entries.shapes().iter().map(|shape| shape.word).collect();
    assert_eq!(kinds, shapes);
    let EntryBody::Delivery { lot, .. } = &night.entries[1].what.body else { panic!("a delivery") };
    assert_eq!(lot.as_deref(), Some("L-1, \"b\""));
    let EntryBody::Preparation { inputs, .. } = &night.entries[5].what.body else {
        panic!("a preparation")
    };
    assert_eq!(inputs[0].stage.as_ref().unwrap().as_str(), "trim");
    let place = place(&read, Place::Entry(4, "/steps/0/out/unit".to_owned()));
    assert_eq!(place, (6, Some("steps".to_owned())));
}

/// Ids that a file does not say are those of its lines: the same file has the same ids.
#[test]
fn an_entry_without_an_id_has_that_of_its_line() {
    let ids = |known| -> Vec<_> {
        let read = file(ENTRIES.as_bytes(), known).unwrap();
        read.nights.values().flat_map(|n| n.entries.iter().map(|e| e.what.id)).collect()
    };
    let (one, other) = (ids(PLAIN), ids(Declared { file: Uuid::max(), ..PLAIN }));
    assert_eq!(one, ids(PLAIN));
    assert_eq!(one[0], other[0]);
    assert!((1..one.len()).all(|n| one[n] != other[n] && !one[..n].contains(&one[n])));
}

#[test]
fn sales_and_tickets() {
    let read = whole(
        "store,business_date,line,code,units,net,daypart,sold_at,additions,outcome\r\n\
         ford,2026-06-15,7,1001,2,-9.00,lunch,,9001=2 | 9002=1,refunded_after_making\r\n\
         ford,2026-06-15,,1002,1,4.50,,2026-06-15T18:15:00Z,,\r\n",
    );
    let night = read.nights.values().next().unwrap();
    assert!(matches!(night.sales[0].what.when, When::Daypart(_)));
    assert!(matches!(night.sales[1].what.when, When::At(_)));
    assert_eq!(night.sales[0].what.additions[1].code, "9002");
    let read = whole(
        "store,business_date,ticket,placed,handed_off,channel\n\
         ford,2026-06-15,t1,2026-06-15T18:15:00Z,2026-06-15T18:21:30Z,counter\n\
         ford,2026-06-15,t2,2026-06-15T18:16:00Z,,\n",
    );
    assert_eq!(read.kind, Kind::Tickets);
    let night = read.nights.values().next().unwrap();
    assert!(night.tickets[1].what.handed_off.is_none());
}

#[test]
fn semicolons_and_decimal_commas_are_declared_or_refused() {
    let text = "store;business_date;code;units;net\nford;2026-06-15;1001;2;9,50\n";
    let semicolon = Declared { dialect: Some(Dialect::Semicolon), ..PLAIN };
    let read = file(text.as_bytes(), semicolon).unwrap();
    let night = read.nights.values().next().unwrap();
    assert_eq!(night.sales[0].what.net.to_decimal().to_string(), "9.5");
    assert_bad(text.as_bytes(), PLAIN, &[(1, "", "declare the dialect semicolon")]);
    let comma = Declared { dialect: Some(Dialect::Comma), ..PLAIN };
    assert_bad(text.as_bytes(), comma, &[(1, "", "dialect comma is declared")]);
    let commas = text.replace(',', ".").replace(';', ",");
    assert!(file(commas.as_bytes(), PLAIN).is_ok());
    assert_bad(commas.as_bytes(), semicolon, &[(1, "", "dialect semicolon is declared")]);
    assert_bad(text.replace(';', "\t").as_bytes(), PLAIN, &[(1, "", "tabs")]);
    let point = text.replace("9,50", "9.50");
    assert_bad(point.as_bytes(), semicolon, &[(2, "net", "decimals have a comma")]);
}

#[test]
fn a_byte_order_mark_and_either_end_of_line_are_taken() {
    for text in [NIGHTS.to_owned(), format!("\u{feff}{NIGHTS}"), NIGHTS.replace('\n', "\r\n")] {
        assert_eq!(whole(&text), whole(NIGHTS));
    }
}

#[test]
fn headers_that_cannot_be_taken() {
    let head = |names: &str| format!("{names}\nford,2026-06-15\n");
    let assert_header = |names: &str, expected: &[(u64, &str, &str)]| {
        assert_bad(head(names).as_bytes(), PLAIN, expected);
    };
    assert_header("a,b", &[(1, "", "tells no kind of file")]);
    assert_header(
        "store,date,ticket,placed",
        &[(1, "business_date", "is missing"), (1, "date", "did you mean business_date?")],
    );
    assert_header(
        "store,business_date,placed,placed,colour",
        &[(1, "colour", "\"colour\" is no column of tickets"), (1, "placed", "stands twice")],
    );
    assert_bad(b"", PLAIN, &[(1, "", "empty")]);
    assert_bad(b"\xEF\xBB\xBF\n\n", PLAIN, &[(1, "", "empty")]);
    assert_bad(b"store,business_date,placed\n", PLAIN, &[(1, "", "nothing below it")]);
}

#[test]
fn every_bad_row_is_told_with_line_and_column() {
    let bad = "\
store,business_date,kind,item,stage,quantity,unit,reason,lot
ford,2026-06-15,waste,potato,,1.5,kg,expired
ford,2026-06-15,waste,potato,,x,kg,expired,
ford,15.06.2026,waste,Potato,,1,kg,expired,
ford,2026-06-15,delivery,potato,trim,1,,,
ford,2026-06-15,gift,potato,,1,kg,,
,2026-06-15,delivery,potato,,-1,kg,,\"two
lines\"
ford,2026-06-15,delivery,potato,,1,kg,,fine
ford,2026-06-15,delivery,potato,,1,kg,,fine,more
ford,2026-06-15,delivery,potato,,1,kg,,\"open
";
    assert_bad(
        bad.as_bytes(),
        PLAIN,
        &[
            (2, "lot", "8 cells, the header 9"),
            (3, "quantity", "\"x\" is no number"),
            (4, "business_date", "15.06.2026"),
            (4, "item", "Potato"),
            (5, "stage", "a row that is delivery has no stage"),
            (5, "unit", "must be said"),
            (6, "kind", "\"gift\" is none of waste, delivery"),
            (7, "lot", "printable"),
            (7, "quantity", ""),
            (7, "store", "must be said"),
            (10, "", "10 cells, the header 9"),
            (11, "", "quotation mark"),
        ],
    );
}

#[test]
fn a_night_says_once_whether_it_is_complete() {
    let twice = NIGHTS.replace("weir,2026-06-15,night", "ford,2026-06-15,night");
    assert_bad(
        twice.as_bytes(),
        PLAIN,
        &[(6, "row", "has no row for 2026-06-15 that is night"), (7, "", "line 2 has the count")],
    );
}

#[test]
fn lines_of_ndjson_that_cannot_be_taken() {
    let bad = r#"{"store":"ford","business_date":"2026-06-15","kind":"delivery","item":"potato","quantity":{"value":"1","unit":"kg"}}

{"store":"ford","business_date":"2026-06-15","kind":"delivery","item":"Potato","quantity":{"value":"1","unit":"kg"}}
[1]
{"store":"ford","business_date":"2026-06-15","kind":"delivery","item":"potato"}
{"store":"ford","kind":"delivery","item":"potato","quantity":{"value":"1","unit":"kg"},"colour":1}
"#;
    assert_bad(
        bad.as_bytes(),
        PLAIN,
        &[
            (3, "/item", "Potato"),
            (4, "", "no JSON object"),
            (5, "/quantity", "missing"),
            (6, "/business_date", "must be said"),
            (6, "/colour", "unknown"),
        ],
    );
}

#[test]
fn only_so_many_bad_rows_are_kept_and_all_are_counted() {
    let text = format!("store,business_date,placed\n{}", "ford,2026-06-15,x\n".repeat(1_500));
    let BadRows { rows, total } = file(text.as_bytes(), PLAIN).unwrap_err().bad;
    // Each lacks its ticket's id as well.
    assert_eq!((rows.len(), total), (super::TOLD, 3_000));
}

/// The rules may look at what can be read; of nights, at those that miss nothing.
#[test]
fn what_can_be_read_for_all_that_is_kept_apart() {
    let rest = |text: &str| file(text.as_bytes(), PLAIN).unwrap_err().rest.unwrap().nights;
    let entries = rest(&ENTRIES.replace("20,kg", "twenty,kg"));
    assert_eq!(entries.values().next().unwrap().entries.len(), 7);
    let nights = rest(&NIGHTS.replace("27.5,kg", "many,kg"));
    let left: Vec<_> = nights.keys().map(|(store, _)| store.as_str()).collect();
    assert_eq!(left, ["weir"]);
    let nights = rest(&NIGHTS.replace("weir,2026-06-15,night,no", "weir,2026-06-15,night,nope"));
    assert!(!nights.keys().any(|(store, _)| store.as_str() == "weir"), "{nights:?}");
}
