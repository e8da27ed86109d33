//! The written lists are true: READMEs of data list what lies beside them, and guides name only places that exist.
//!
//! In:  texts in back quotes of the READMEs of `fixtures/` and `config/`, and of the two guides at the root. An entry is a
//! file, a folder with `/` at its end (with all that it holds), or a pattern in which one `*` stands for any text.
//! Out: one breach for each file that no entry covers, each listed folder that is not there, and each place that a guide
//! names and the project lacks.

use super::tree::{SourceFile, files_under, read, root};
use super::{assert_caught, assert_none};

/// How a place of the project begins.
const GUIDED: [&str; 6] = ["service/", "cli/", "tests/", "config/", "fixtures/", ".ci/"];

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
    let is_there = |entry: &str| files.iter().any(|file| covers(entry, file) || file.contains(&format!("/{entry}")));
    let stale = entries.iter().filter(|entry| is_place(entry) && !is_there(entry));
    breaches.extend(stale.map(|entry| format!("{entry} is listed and holds nothing")));
    breaches
}

/// Places that a guide names, in back quotes or as the target of a link, and that are not there.
fn places_not_there(guide: &SourceFile, is_there: impl Fn(&str) -> bool) -> Vec<String> {
    let linked = guide.text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    let named = entries(&guide.text).into_iter().chain(linked);
    let places = named.filter(|text| GUIDED.iter().any(|start| text.starts_with(start)) && !text.contains([' ', '{']));
    places.filter(|place| !is_there(place)).map(|place| format!("{} names {place}", guide.path)).collect()
}

/// Whether a place of the project exists; of a pattern, its folder.
fn is_in_the_project(place: &str) -> bool {
    let fixed = place.split('*').next().unwrap_or_default();
    let fixed = if fixed.len() < place.len() { fixed.rsplit_once('/').map_or("", |(folder, _)| folder) } else { fixed };
    root().join(fixed).exists()
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
fn guides_name_only_what_is_there() {
    let guides = ["README.md", "DEVELOPERS.md"].map(read);
    let breaches: Vec<String> = guides.iter().flat_map(|guide| places_not_there(guide, is_in_the_project)).collect();
    assert_none("a guide leads somewhere", &breaches);
}

#[test]
fn every_listed_code_is_in_the_code() {
    let guide = read("DEVELOPERS.md").text;
    let section = guide.split("## Error codes").nth(1).and_then(|rest| rest.split("\n## ").next()).unwrap();
    let files = files_under(&["service", "cli"]);
    let codes: Vec<&str> = entries(section).into_iter().filter(|text| is_code(text)).collect();
    assert!(codes.len() > 10, "the tables of codes were found");
    let is_used = |code: &str| files.iter().any(|file| file.text.contains(&format!("\"{code}\"")));
    let breaches: Vec<String> = codes.into_iter().filter(|code| !is_used(code)).map(str::to_owned).collect();
    assert_none("a listed code is used", &breaches);
}

/// Lower-case words joined by hyphens.
fn is_code(text: &str) -> bool {
    text.contains('-') && text.chars().all(|c| c.is_ascii_lowercase() || c == '-')
}

#[test]
fn a_guide_to_a_file_that_is_gone_is_caught() {
    let guide =
        SourceFile::sample("DEVELOPERS.md", "See `service/core/src/gone.rs`, [this](tests/run) and `cargo test`.");
    assert_caught(&places_not_there(&guide, |place| place == "tests/run"), "gone.rs");
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
