//! Texts that are committed beside what makes them.

use std::path::{Path, PathBuf};
use std::{env, fs};

/// The folder that holds the whole repository.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the repository").to_owned()
}

/// Fails unless the committed file (a path from the repository's top) is this text; with
/// `UPDATE=1` in the environment the file is written instead.
#[track_caller]
pub fn assert_committed(file: &str, text: &str) {
    let path = root().join(file);
    if env::var_os("UPDATE").is_some() {
        fs::write(&path, text).unwrap_or_else(|e| panic!("{file}: {e}"));
    }
    let committed = fs::read_to_string(&path).unwrap_or_default();
    let differs = committed.lines().zip(text.lines()).position(|(old, new)| old != new);
    let at = differs.unwrap_or_else(|| committed.lines().count().min(text.lines().count())) + 1;
    assert!(
        committed == text,
        "{file} is not what the code makes, from line {at} on; \
         look at the difference after: UPDATE=1 cargo nextest run -p parings-tests"
    );
}
