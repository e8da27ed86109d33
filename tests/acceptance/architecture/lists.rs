//! `fixtures/README.md` and `config/README.md` list what lies beside them, and nothing that does not.
//!
//! In:  the paths in back quotes of each README, and the files under its folder. An entry is a file, a folder with `/` at
//! its end (with all that it holds), or a pattern in which one `*` stands for any text.
//! Out: one breach for each file that no entry covers and each path-like entry that covers no file.

use super::tree::{files_under, read};
use super::{assert_caught, assert_none};

/// Texts in back quotes.
fn entries(readme: &str) -> Vec<&str> {
    let outside_blocks = readme.split("```").step_by(2);
    outside_blocks.flat_map(|part| part.split('`').skip(1).step_by(2)).collect()
}

fn covers(entry: &str, file: &str) -> bool {
    if let Some((start, end)) = entry.split_once('*') {
        return file.len() >= start.len() + end.len() && file.starts_with(start) && file.ends_with(end);
    }
    entry == file || (entry.ends_with('/') && file.starts_with(entry))
}

/// Whether an entry means a place in this folder (and is no key, command or code that the text also quotes).
fn is_place(entry: &str) -> bool {
    !entry.contains(char::is_whitespace) && entry.ends_with('/')
}

fn unlisted(readme: &str, files: &[String]) -> Vec<String> {
    let entries = entries(readme);
    let missing = files.iter().filter(|file| *file != "README.md" && !entries.iter().any(|entry| covers(entry, file)));
    let mut breaches: Vec<String> = missing.map(|file| format!("{file} is not listed")).collect();
    let stale = entries.iter().filter(|entry| is_place(entry) && !files.iter().any(|file| covers(entry, file)));
    breaches.extend(stale.map(|entry| format!("{entry} is listed and holds nothing")));
    breaches
}

fn check_folder(folder: &str) {
    let prefix = format!("{folder}/");
    let files: Vec<String> =
        files_under(&[folder]).iter().filter_map(|file| file.path.strip_prefix(&prefix)).map(str::to_owned).collect();
    let readme = read(&format!("{folder}/README.md")).text;
    assert_none(&format!("{folder}/README.md lists every file"), &unlisted(&readme, &files));
}

#[test]
fn every_fixture_is_listed() {
    check_folder("fixtures");
}

#[test]
fn every_shipped_setting_is_listed() {
    check_folder("config");
}

#[test]
fn every_broken_sheet_has_its_defect_described() {
    let readme = read("fixtures/README.md").text;
    let names: Vec<String> = files_under(&["fixtures/broken"])
        .iter()
        .filter_map(|file| file.path.strip_prefix("fixtures/broken/"))
        .filter(|name| !name.ends_with(".py"))
        .map(str::to_owned)
        .collect();
    let described = entries(&readme);
    let breaches: Vec<String> = names.into_iter().filter(|name| !described.contains(&name.as_str())).collect();
    assert_none("fixtures/README.md says the defect of each broken sheet", &breaches);
}

#[test]
fn a_fixture_that_nobody_lists_is_caught() {
    let files = ["README.md", "schools/one/a.csv", "broken/empty.xlsx", "stray.csv"].map(str::to_owned);
    let readme = "| `schools/one/` | a school |\n| `broken/*.xlsx` | one defect each |\n```\n`code`\n```\n";
    assert_caught(&unlisted(readme, &files), "stray.csv is not listed");
}

#[test]
fn an_entry_without_its_files_is_caught() {
    let files = ["README.md", "schools/one/a.csv"].map(str::to_owned);
    assert_caught(&unlisted("`schools/` holds `id` columns; `databases/` too\n", &files), "databases/");
}
