//! The files of csv-spectrum 1.0.0 (see `tests/files/csv-spectrum/SOURCE`): each is read as the JSON
//! beside it says.

use std::fs;

use parings::files::Dialect;
use parings::files::table::{Records, text};
use parings_tests::golden::root;
use serde_json::{Map, Value};

fn read(csv: &[u8]) -> Value {
    let text = text(csv).expect("UTF-8");
    let mut records = Records::new(text, Dialect::Comma).map(|record| record.expect("a record"));
    let header = records.next().expect("a header").cells;
    let object = |cells: Vec<String>| -> Value {
        assert_eq!(cells.len(), header.len(), "{cells:?}");
        let cells = cells.into_iter().map(Value::from);
        header.iter().cloned().zip(cells).collect::<Map<_, _>>().into()
    };
    records.map(|record| object(record.cells)).collect()
}

#[test]
fn every_file_of_csv_spectrum_is_read_as_it_says() {
    let folder = root().join("tests/files/csv-spectrum");
    let mut names = Vec::new();
    for file in fs::read_dir(&folder).expect("the files").flatten() {
        let path = file.path();
        if path.extension().is_none_or(|extension| extension != "csv") {
            continue;
        }
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        let csv = fs::read(&path).expect("a file");
        let json = fs::read(path.with_extension("json")).expect("what it says");
        let json: Value = serde_json::from_slice(&json).expect("JSON");
        assert_eq!(read(&csv), json, "{name}");
        names.push(name);
    }
    assert_eq!(names.len(), 11, "{names:?}");
}
