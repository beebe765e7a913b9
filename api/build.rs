//! Rebuilds the server when a migration changes: the binary embeds them.

fn main() {
    println!("cargo::rerun-if-changed=../migrations");
}
