//! Where a library or the outside world may be named in code: each in one folder, the world nowhere in the core.
//!
//! In:  the code of each Rust file under `service/` and `cli/`, without its comments. Out: one breach for each line.
//! Keeps: tests may reread what they wrote by any library, so files of tests have no homes to keep to; the core's purity
//! binds its tests too; a grouped import (`use std::{fs, env}`) is seen as well as a path (`std::fs::read`).
//! Not here: what the manifests say (`dependencies`), calls that clippy denies (`service/core/clippy.toml`).

use super::tree::{SourceFile, files_under};
use super::{assert_caught, assert_none};

/// Start of a name, and the only folder whose code may hold it.
const HOMES: [(&str, &str); 10] = [
    ("calamine", "service/sheets/src/read"),
    ("rust_xlsxwriter", "service/sheets/src/write"),
    ("raw_copy_file", "service/sheets/src/graft"),
    ("rusqlite", "service/store/"),
    ("actix", "service/web/"),
    ("askama", "service/web/"),
    ("utoipa", "service/web/"),
    ("linfa", "service/core/src/numeric"),
    ("microlp", "service/core/src/"),
    ("pathfinding", "service/core/src/"),
];

/// What reaches outside; none of it belongs in the core.
const OUTSIDE_WORLD: [&str; 12] = [
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::io::stdin",
    "std::thread::sleep",
    "Instant::now",
    "SystemTime",
    "Zoned::now",
    "Timestamp::now",
    "thread_rng",
    "rand::random",
];

/// The code of a file, line by line with its number from 1: comments left out, grouped imports of `std` spelt out.
fn code_lines(text: &str) -> Vec<(usize, String)> {
    let mut lines = Vec::new();
    for (line_idx, line) in text.lines().enumerate() {
        if !line.trim_start().starts_with("//") {
            let code = line.split(" //").next().unwrap_or_default();
            lines.push((line_idx + 1, code.to_owned()));
        }
    }
    lines.extend(grouped_imports(text));
    lines
}

/// `use std::{fs, io::Write}` as `std::fs` and `std::io::Write`, each with the line on which the group begins.
fn grouped_imports(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (at, opening) in text.match_indices("std::{") {
        let inside = text[at + opening.len()..].split('}').next().unwrap_or_default();
        let line = text[..at].lines().count().max(1);
        found.extend(inside.split(',').map(|part| (line, format!("std::{}", part.trim()))));
    }
    found
}

/// Whether a word starts here, not in the middle of another one.
fn names(code: &str, start: &str) -> bool {
    let is_part = |c: char| c.is_alphanumeric() || c == '_';
    code.match_indices(start).any(|(at, _)| !code[..at].ends_with(is_part))
}

fn named_abroad(file: &SourceFile) -> Vec<String> {
    if file.ends("/tests.rs") || file.path.contains("/tests/") {
        return Vec::new();
    }
    let abroad: Vec<&str> =
        HOMES.iter().filter(|(_, home)| !file.path.starts_with(home)).map(|(name, _)| *name).collect();
    lines_naming(file, &abroad)
}

fn lines_naming(file: &SourceFile, words: &[&str]) -> Vec<String> {
    let mut breaches = Vec::new();
    for (line, code) in code_lines(&file.text) {
        for word in words.iter().filter(|word| names(&code, word)) {
            breaches.push(format!("{}:{line} names {word}", file.path));
        }
    }
    breaches
}

fn rust_files_under(folders: &[&str]) -> Vec<SourceFile> {
    let mut files = files_under(folders);
    files.retain(|file| file.ends(".rs"));
    files
}

#[test]
fn each_library_is_named_in_one_folder_only() {
    let files = rust_files_under(&["service", "cli"]);
    let breaches: Vec<String> = files.iter().flat_map(named_abroad).collect();
    assert_none("a library has one home", &breaches);
}

/// What reads a file of somebody else; only one folder may call it, so that nothing is read in the program itself.
const READING: [&str; 4] = ["read_score_sheets", "read_students", "read_attendance", "may_mention"];

#[test]
fn files_are_read_apart_and_nowhere_else() {
    let mut files = rust_files_under(&["service/app", "service/web", "service/store", "cli"]);
    files.retain(|file| !file.path.starts_with("service/app/src/apart/"));
    let breaches: Vec<String> = files.iter().flat_map(|file| lines_naming(file, &READING)).collect();
    assert_none("files are read apart", &breaches);
}

#[test]
fn the_core_names_no_outside_world() {
    let files = rust_files_under(&["service/core/src"]);
    let breaches: Vec<String> = files.iter().flat_map(|file| lines_naming(file, &OUTSIDE_WORLD)).collect();
    assert_none("the core is pure", &breaches);
}

#[test]
fn a_cell_reader_in_the_writer_is_caught() {
    let bad =
        SourceFile::sample("service/sheets/src/write/mod.rs", "// calamine reads\nuse calamine::Data; // calamine\n");
    assert_caught(&named_abroad(&bad), "service/sheets/src/write/mod.rs:2 names calamine");
}

#[test]
fn a_longer_name_that_holds_the_word_is_no_breach() {
    let good = SourceFile::sample("cli/src/main.rs", "let my_linfa = hold_actix_web;\n");
    assert_eq!(named_abroad(&good), Vec::<String>::new());
}

#[test]
fn a_file_opened_in_the_core_is_caught() {
    let path = SourceFile::sample("service/core/src/lib.rs", "fn f() {\n    std::fs::read(\"x\");\n}\n");
    assert_caught(&lines_naming(&path, &OUTSIDE_WORLD), "lib.rs:2 names std::fs");
    let grouped = SourceFile::sample("service/core/src/lib.rs", "use std::{\n    fmt,\n    env::args,\n};\n");
    assert_caught(&lines_naming(&grouped, &OUTSIDE_WORLD), "names std::env");
}
