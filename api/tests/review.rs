//! The sheet command as a person runs it: a file, no server, no database.

use std::fmt::Write;
use std::process::{Command, Output};

/// Twelve stores over twelve weeks; from the 71st night on, one uses a tenth more. Invented.
fn sheet() -> String {
    let mut text = String::from(
        "store,district,format,business_date,sales,usage_theoretical_kg,usage_actual_kg,waste_kg\n",
    );
    let days = [31, 30, 31];
    let dates = days.iter().zip(3..).flat_map(|(days, month)| (1..=*days).map(move |d| (month, d)));
    for (night, (month, day)) in dates.take(84).enumerate() {
        for store in 0..12 {
            let swing = ((night * 7 + store * 5) % 11) as f64;
            let more = if store == 3 && night >= 70 { 24.0 } else { 0.0 };
            let (used, waste) = (252.0 + 0.5 * swing + more, 8.0 + 0.1 * swing);
            writeln!(
                text,
                "S{store},upper,counter,2026-{month:02}-{day:02},4800,240,{used:.1},{waste:.1}"
            )
            .expect("a string grows");
        }
    }
    text
}

fn run(arguments: &[&str]) -> Output {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("sheet.csv");
    std::fs::write(&path, sheet()).expect("a sheet");
    let mut command = Command::new(env!("CARGO_BIN_EXE_parings"));
    command.arg("review").arg(&path).args(arguments).env_clear();
    command.output().expect("the command")
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("UTF-8")
}

#[test]
fn a_finding_is_a_line_of_json_with_its_range() {
    let output = run(&["--format", "json"]);
    assert!(output.status.success(), "{output:?}");
    let lines: Vec<serde_json::Value> = text(&output.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).expect("an object a line"))
        .collect();
    assert_eq!(lines.len(), 1, "{lines:#?}");
    let found = &lines[0];
    for (member, value) in [
        ("as_of", "2026-05-23"),
        ("store", "S3"),
        ("district", "upper"),
        ("measure", "use"),
        ("kind", "drift"),
    ] {
        assert_eq!(found[member], value, "{found:#}");
    }
    let number = |member: &str| found[member].as_f64().expect("a number");
    assert!(number("size_low") < 0.1 && 0.1 < number("size_high"), "{found:#}");
    assert!(number("size_low") <= number("size") && number("size") <= number("size_high"));
    // A tenth of 240 kg, seven nights, at 0.90.
    assert!((number("money_per_week") - 151.2).abs() < 5.0, "{found:#}");
    assert_eq!((&found["rank_high"], &found["of"]), (&12.into(), &12.into()));
    assert!(found["evidence"]["sentence"].as_str().is_some_and(|says| says.contains("from +")));
    // What the sheet does not say is said not to be reviewed.
    let notes = text(&output.stderr);
    assert!(notes.contains("batch_yield is not reviewed: fried_kg and raw_kg missing"), "{notes}");
}

#[test]
fn a_page_for_each_date_says_when_nothing_stands_out() {
    let output = run(&["--from", "2026-05-08", "--as-of", "2026-05-20"]);
    assert!(output.status.success(), "{output:?}");
    let page = text(&output.stdout);
    assert!(page.contains("Review of 2026-05-08\n\nNothing stands out."), "{page}");
    let last = page.split("Review of 2026-05-20").nth(1).expect("the last date");
    assert!(last.contains("S3 (upper): use beyond what sales explain, drift"), "{page}");
}

#[test]
fn dates_that_the_sheet_does_not_have_are_refused() {
    let output = run(&["--as-of", "2026-08-01"]);
    assert!(!output.status.success() && output.stdout.is_empty());
    let says = text(&output.stderr);
    assert!(says.contains("nights from 2026-03-01 to 2026-05-23 only"), "{says}");
}
