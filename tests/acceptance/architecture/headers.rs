//! Every Rust file opens by saying what its name cannot, and stays short enough to be read in one go.
//!
//! In:  the text of each `.rs` file in `service/`, `cli/` and `tests/`. Out: one breach for each file without a header
//! of at least two lines of 40 characters, for each file longer than 500 lines, and for each test that a header promises
//! in back quotes (three underscores or more make a sentence) and no file has.
//! Not here: whether the header is true and says something; that is for the reader of a change.

use super::tree::{SourceFile, rust_files};
use super::{assert_caught, assert_none};
use std::collections::HashSet;

/// Characters that a header line needs to count.
const FULL_LINE: usize = 40;
/// Header lines of that length that a file needs.
const FULL_LINES: usize = 2;
/// Longest file, in lines.
const LONGEST: usize = 500;

fn missing_header(file: &SourceFile) -> Option<String> {
    let header = file.text.lines().map_while(|line| line.strip_prefix("//!"));
    let n_full = header.filter(|line| line.trim().chars().count() >= FULL_LINE).count();
    (n_full < FULL_LINES).then(|| format!("{} opens with {n_full} full header lines of {FULL_LINES}", file.path))
}

fn too_long(file: &SourceFile) -> Option<String> {
    let n_lines = file.text.lines().count();
    (n_lines > LONGEST).then(|| format!("{} has {n_lines} lines; split it by subject", file.path))
}

/// Tests that a header names in back quotes.
fn promised_tests(file: &SourceFile) -> Vec<&str> {
    let header = file.text.lines().map_while(|line| line.strip_prefix("//!"));
    let quoted = header.flat_map(|line| line.split('`').skip(1).step_by(2));
    quoted.filter(|text| text.matches('_').count() >= 3 && text.chars().all(is_name_letter)).collect()
}

fn is_name_letter(c: char) -> bool {
    c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'
}

fn broken_promises(files: &[SourceFile]) -> Vec<String> {
    let functions: HashSet<&str> = files
        .iter()
        .flat_map(|file| file.text.split("fn ").skip(1))
        .map(|rest| rest.split(|c| !is_name_letter(c)).next().unwrap_or_default())
        .collect();
    let mut breaches = Vec::new();
    for file in files {
        let broken = promised_tests(file).into_iter().filter(|name| !functions.contains(name));
        breaches.extend(broken.map(|name| format!("{} names {name}", file.path)));
    }
    breaches
}

#[test]
fn every_test_that_a_header_names_exists() {
    assert_none("a rule names the test that holds it", &broken_promises(&rust_files()));
}

#[test]
fn a_promised_test_that_is_not_there_is_caught() {
    let promise = "//! Keeps: `this_is_held_by_a_test`, `and_this_one_too`.\n#[test]\nfn this_is_held_by_a_test() {}\n";
    let files = [SourceFile::sample("cli/src/main.rs", promise)];
    assert_caught(&broken_promises(&files), "and_this_one_too");
}

#[test]
fn every_file_opens_with_a_header() {
    let breaches: Vec<String> = rust_files().iter().filter_map(missing_header).collect();
    assert_none("a `//!` header of two full lines", &breaches);
}

#[test]
fn no_file_is_longer_than_one_sitting() {
    let breaches: Vec<String> = rust_files().iter().filter_map(too_long).collect();
    assert_none("at most 500 lines a file", &breaches);
}

#[test]
fn a_header_of_one_word_is_caught() {
    let long = "x".repeat(FULL_LINE);
    let bad = SourceFile::sample("cli/src/main.rs", &format!("//! grouping\n//! {long}\nfn main() {{}}\n//! {long}\n"));
    assert_caught(&missing_header(&bad).into_iter().collect::<Vec<_>>(), "cli/src/main.rs");
    let good = SourceFile::sample("cli/src/main.rs", &format!("//! {long}\n//!\n//! {long}\n"));
    assert_eq!(missing_header(&good), None);
}

#[test]
fn a_file_of_501_lines_is_caught() {
    let bad = SourceFile::sample("a.rs", &"\n".repeat(LONGEST + 1));
    assert_caught(&too_long(&bad).into_iter().collect::<Vec<_>>(), "501");
    assert_eq!(too_long(&SourceFile::sample("a.rs", &"\n".repeat(LONGEST))), None);
}
