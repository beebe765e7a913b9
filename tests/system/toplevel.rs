//! The top of the repository stays small enough to read at a glance.

use std::collections::BTreeSet;
use std::process::Command;

use parings_tests::golden::root;

const ALLOWED: &[&str] = &[
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "api",
    "clippy.toml",
    "core",
    "deploy",
    "migrations",
    "rustfmt.toml",
    "tests",
];

#[test]
fn the_top_level_holds_nothing_but_what_the_plan_names() {
    // A checkout may belong to another account than the one that tests it.
    let listed = Command::new("git")
        .args(["-c", "safe.directory=*", "ls-files"])
        .current_dir(root())
        .output()
        .expect("git");
    assert!(listed.status.success(), "{}", String::from_utf8_lossy(&listed.stderr));
    let listed = String::from_utf8(listed.stdout).expect("UTF-8");
    let top: BTreeSet<&str> = listed.lines().filter_map(|path| path.split('/').next()).collect();
    assert!(top.contains("Cargo.toml"), "{top:?}");
    let further: Vec<_> =
        top.iter().filter(|name| !name.starts_with('.') && !ALLOWED.contains(name)).collect();
    assert!(further.is_empty(), "{further:?} has no place at the top");
}
