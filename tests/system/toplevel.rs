//! The top of the repository stays small enough to read at a glance.

use std::collections::BTreeSet;
use std::process::Command;

use parings_tests::golden::root;

/// In order of their bytes, as git lists them.
const ALLOWED: &[&str] = &[
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "api",
    "core",
    "deploy",
    "migrations",
    "tests",
];

#[test]
fn the_top_level_is_what_the_plan_names() {
    // A checkout may belong to another account than the one that tests it.
    let listed = Command::new("git")
        .args(["-c", "safe.directory=*", "ls-files"])
        .current_dir(root())
        .output()
        .expect("git");
    assert!(listed.status.success(), "{}", String::from_utf8_lossy(&listed.stderr));
    let listed = String::from_utf8(listed.stdout).expect("UTF-8");
    let top: BTreeSet<&str> = listed.lines().filter_map(|path| path.split('/').next()).collect();
    let plain: Vec<_> = top.into_iter().filter(|name| !name.starts_with('.')).collect();
    assert_eq!(plain, ALLOWED);
}
