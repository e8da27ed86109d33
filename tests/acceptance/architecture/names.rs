//! Names that say nothing are refused, and migrations are numbered so that none can be lost.
//!
//! In:  the path of every file under `service/`, `cli/`, `tests/`, `config/` and `fixtures/`.
//! Out: one breach for each empty name (`utils`, `helpers` and their kin), each gap in the numbers of the migrations,
//! and each migration whose name is not four digits and words.

use super::tree::files_under;
use super::{assert_caught, assert_none};
use std::collections::BTreeSet;

/// Names that say where something was put, not what it is.
const EMPTY_NAMES: [&str; 9] =
    ["util", "utils", "helper", "helpers", "common", "manager", "managers", "misc", "miscellaneous"];

fn is_empty_name(part: &str) -> bool {
    let stem = part.split('.').next().unwrap_or_default().to_lowercase();
    EMPTY_NAMES.iter().any(|empty| stem == *empty || (empty != &"common" && stem.ends_with(&format!("_{empty}"))))
}

/// The files and folders among these paths that bear an empty name.
fn empty_names(paths: &[String]) -> Vec<String> {
    let mut breaches = BTreeSet::new();
    for path in paths {
        let parts: Vec<&str> = path.split('/').collect();
        let bad = parts.iter().position(|part| is_empty_name(part));
        breaches.extend(bad.map(|part_idx| parts[..=part_idx].join("/")));
    }
    breaches.into_iter().collect()
}

/// Breaches among migration file names, in their order.
fn misnumbered(names: &[String]) -> Vec<String> {
    let mut breaches = Vec::new();
    for (name_idx, name) in names.iter().enumerate() {
        let is_wanted = name.strip_prefix(&format!("{:04}_", name_idx + 1)).is_some_and(is_sql_words);
        if !is_wanted {
            breaches.push(format!("{name} stands where {:04}_words.sql is wanted", name_idx + 1));
        }
    }
    breaches
}

fn is_sql_words(rest: &str) -> bool {
    rest.strip_suffix(".sql").is_some_and(|words| {
        !words.is_empty() && words.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
    })
}

fn paths_under(folders: &[&str]) -> Vec<String> {
    files_under(folders).into_iter().map(|file| file.path).collect()
}

#[test]
fn no_name_is_an_empty_one() {
    let paths = paths_under(&["service", "cli", "tests", "config", "fixtures"]);
    assert_none("names say the subject", &empty_names(&paths));
}

#[test]
fn migrations_are_numbered_without_a_gap() {
    let paths = paths_under(&["service/store"]);
    let names: Vec<String> =
        paths.iter().filter_map(|path| path.split_once("/migrations/")).map(|(_, name)| name.to_owned()).collect();
    assert!(!names.is_empty(), "the store has migrations");
    assert_none("0001_words.sql, 0002_words.sql, …", &misnumbered(&names));
}

#[test]
fn a_folder_of_helpers_is_caught() {
    let paths = ["cli/src/test_helpers/a.rs", "cli/src/test_helpers/b.rs", "config/item_models/common_bottoms.toml"];
    assert_caught(&empty_names(&paths.map(str::to_owned)), "cli/src/test_helpers");
}

#[test]
fn a_migration_left_out_is_caught() {
    let names = ["0001_first.sql", "0003_add_rooms.sql"].map(str::to_owned);
    assert_caught(&misnumbered(&names), "0002_words.sql is wanted");
}
