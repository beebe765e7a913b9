//! Every check printed, so that a change of what is asked is seen as a change of this table.

use std::fmt::Write;

use parings_core::checks::{CheckKind, Treatment};
use parings_tests::golden::assert_committed;

#[test]
fn the_committed_table_is_every_check() {
    let mut table = String::from(
        "What is checked about a night: parings_core::checks::CheckKind.\n\n\
         reject: refused. confirm: asked, at most three a count, by money; beyond that left out.\n\
         flag: accepted, and said. leave out: accepted, and kept out of what compares stores.\n\n\
         Not in the table: a submission under an id that came before is answered as the first time\n\
         and makes no row; an instant is kept in UTC with the store's offset and business date.\n\n",
    );
    for kind in CheckKind::ALL {
        let treatment = match kind.treatment() {
            Treatment::Reject => "reject",
            Treatment::Confirm => "confirm",
            Treatment::Flag => "flag",
            Treatment::LeaveOut => "leave out",
        };
        let says = kind.says().trim();
        writeln!(table, "{:<20} {treatment:<10} {says}", kind.word()).expect("a string grows");
    }
    assert_committed("tests/system/checks.txt", &table);
}
