//! Every Rust file opens by saying what its name cannot, and stays short enough to be read in one go.
//!
//! In:  the text of each `.rs` file in `service/`, `cli/` and `tests/`. Out: one breach for each file without a header
//! of at least two lines of 40 characters, and for each file longer than 500 lines.
//! Not here: whether the header is true and says something; that is for the reader of a change.

use super::tree::{SourceFile, rust_files};
use super::{assert_caught, assert_none};

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
