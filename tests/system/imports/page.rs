//! The page about files is the one that the program prints.

use parings::files::page::page;
use parings_tests::golden::assert_committed;

#[test]
fn the_page_about_files_is_what_the_program_prints() {
    assert_committed("deploy/files.md", &page());
}
