//! The rules of the house that a tool can hold: who may depend on whom, where a library may be named, headers, names.
//!
//! In:  every text file of the project, read once by [`tree`]. Out: a list of breaches for each rule, which must be empty.
//! Keeps: every rule is a plain function over names and texts, and each has a test on a bad sample,
//! so that a rule which could no longer fail would itself be noticed.
//! Not here: what clippy holds (`clippy.toml` beside each crate), what a file's header should say (a reader judges that).

mod borders;
mod dependencies;
mod headers;
mod lists;
mod names;
mod tree;

/// Fails with every breach on a line of its own.
fn assert_none(rule: &str, breaches: &[String]) {
    assert!(breaches.is_empty(), "{rule}:\n  {}", breaches.join("\n  "));
}

/// Fails unless the rule found exactly one breach in a bad sample, and its message names what is wrong.
fn assert_caught(breaches: &[String], named: &str) {
    assert_eq!(breaches.len(), 1, "one breach was planted: {breaches:?}");
    assert!(breaches[0].contains(named), "{:?} does not name {named}", breaches[0]);
}
