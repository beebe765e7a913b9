//! `parings import` and `parings export`, on the machine of a running server.
//!
//! The outside witnesses are the files and what the program prints; the chain is the invented one.

use std::fs;
use std::path::Path;

use nix::sys::signal::Signal;

use super::program::{Running, path, refused, run, said, small_demo};
use super::scratch;

/// The address of somebody of head office.
fn office(data: &Path) -> String {
    let told = fs::read_to_string(data.join("sign-ins.txt")).expect("sign-ins");
    let line = told.lines().find(|line| line.starts_with("office")).expect("head office");
    line.split_whitespace().find(|word| word.contains('@')).expect("an address").to_owned()
}

#[test]
fn files_go_in_one_after_the_other_and_the_next_time_those_that_were_not_in() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    small_demo(&data);
    let server = Running::up_with_demo(&data);
    let (office, place) = (office(&data), path(&data));
    let export = |what: &str, more: &[&str]| {
        said(&[&["export", what, "--as", &office, "--data", place][..], more].concat())
    };
    let nights = export("nights", &["--format", "ndjson"]);
    let night: serde_json::Value =
        serde_json::from_str(nights.lines().next().expect("a night")).expect("JSON");
    let (store, date) = (night["store"].as_str(), night["business_date"].as_str());
    let (store, date) = (store.expect("a store"), date.expect("a date"));
    let span = ["--store", store, "--from", date, "--to", date];
    let before = export("entries", &span);

    let delivery = |item: &str, lot: &str| {
        format!(
            "store,business_date,kind,item,quantity,unit,lot\n\
             {store},{date},delivery,{item},1,kg,{lot}\n"
        )
    };
    let file = |name: &str, text: &str| {
        let at = scratch.path().join(name);
        fs::write(&at, text).expect("a file");
        path(&at).to_owned()
    };
    let first = file("first.csv", &delivery("potato", "=1+1"));
    let second = file("second.csv", &delivery("turnip", "B"));
    let third = file("third.csv", &delivery("potato", "C"));
    let all = ["import", &first, &second, &third, "--as", &office, "--data", place];

    // A dry run looks at all of them and writes nothing.
    let dry = run(&[&all[..], &["--dry-run", "--json"]].concat());
    assert_eq!(dry.status.code(), Some(1));
    let told: serde_json::Value = serde_json::from_slice(&dry.stdout).expect("JSON");
    let outcomes: Vec<_> = told.as_array().expect("files").iter().map(|f| &f["outcome"]).collect();
    assert_eq!(outcomes, ["looked_at", "refused", "looked_at"]);
    assert_eq!((&told[1]["rows"][0]["line"], &told[1]["total"]), (&2.into(), &1.into()));
    assert_eq!(export("entries", &span), before);

    // The first that cannot go in is the last that is tried.
    let tried = run(&all);
    assert_eq!(tried.status.code(), Some(1));
    let (said_out, said_err) = (text(tried.stdout), text(tried.stderr));
    assert!(said_out.contains("first.csv: in: 1 row, 1 night of 1 store"), "{said_out}");
    assert!(said_out.contains("turnip") && said_out.contains("third.csv: not tried"), "{said_out}");
    assert!(said_err.contains("files that are in are passed over"), "{said_err}");

    file("second.csv", &delivery("potato", "B"));
    let again = said(&all);
    assert!(again.contains("first.csv: already imported at"), "{again}");
    assert!(again.contains("second.csv: in:") && again.contains("third.csv: in:"), "{again}");
    let after = export("entries", &span);
    assert_eq!(after.lines().count(), before.lines().count() + 3, "{after}");
    assert!(after.contains(",'=1+1,"), "{after}");
    assert!(said(&["verify", "--data", place]).contains(" 0 differences"));

    // Months that are long past have their place made; a store that was not there is told as such.
    let old = file("old.csv", &delivery("potato", "D").replace(date, "2019-03-02"));
    let told = text(run(&["import", &old, "--as", &office, "--data", place]).stdout);
    assert!(told.contains("the store was not on record on that date"), "{told}");

    let error = refused(&["import", &first, "--data", place]);
    assert!(error.contains("--as EMAIL"), "{error}");
    let error = refused(&["import", &first, "--as", "nobody@example.com", "--data", place]);
    assert!(error.contains("nobody@example.com"), "{error}");
    server.ends_well_at(Signal::SIGTERM);
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes).expect("UTF-8")
}
