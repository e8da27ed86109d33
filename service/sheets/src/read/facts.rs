//! Item facts from a sheet with a row an item, or from a file of their own.
//!
//! Columns: item, skill, key, points, type and, for each wrong option, `A`, `B`, `C`, `D` … naming an error-pattern code. Where a stem
//! column stands beside them, those hold the options' texts, and the codes stand under `idea_A`, `A idea` or the like.
//! Facts on the score sheet itself come first; these fill what it leaves open.

use super::asked::KnownItem;
use super::layout::{Columns, KeptRow};
use super::marks::ColumnFacts;
use super::notes::Notes;
use super::options::options_run_together;
use super::skills::{skill_codes, tell_typos};
use super::table::{KnownFacts, SheetTable};
use super::wide_items::points_or_scale;
use super::words::{Role, plain};
use sheaf_core::scores::{Item, ItemKind, OptionMeaning};
use sheaf_core::skills::{SkillCode, SkillGraph};
use std::collections::BTreeMap;

/// Facts of one item.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ItemFacts {
    pub label: String,
    /// The assessment, sheet or file that the row names, in plain letters; empty for any.
    pub assessment: String,
    pub skills: Vec<SkillCode>,
    pub facts: ColumnFacts,
    pub meanings: Vec<OptionMeaning>,
}

/// Reads the rows of an items sheet.
pub fn read_items(columns: &Columns, rows: &[KeptRow], graph: &SkillGraph, notes: &mut Notes<'_>) -> Vec<ItemFacts> {
    let options = option_columns(columns);
    let below = rows.iter().filter(|(number, _)| *number > columns.header_row);
    below.filter_map(|row| read_item(row, columns, &options, graph, notes)).collect()
}

fn read_item(
    (number, cells): &KeptRow,
    columns: &Columns,
    options: &BTreeMap<String, u32>,
    graph: &SkillGraph,
    notes: &mut Notes<'_>,
) -> Option<ItemFacts> {
    let at = |column: u32| cells.iter().find(|(c, _)| *c == column).map(|(_, cell)| cell.shown().into_owned());
    let text = |role| columns.column(role).and_then(at);
    let label = text(Role::Item)?;
    let meaning = |(option, column): (&String, &u32)| {
        let patterns: Vec<String> =
            at(*column)?.split([';', ',']).map(|c| c.trim().to_owned()).filter(|c| !c.is_empty()).collect();
        (!patterns.is_empty()).then(|| OptionMeaning { option: option.clone(), patterns })
    };
    let skills = text(Role::Skill).map(|t| skill_codes(&t, graph)).unwrap_or_default();
    tell_typos(&skills, graph, (*number, columns.column(Role::Skill).unwrap_or(0)), notes);
    let (points, scale) = text(Role::Points).map(|t| points_or_scale(&t)).unwrap_or_default();
    Some(ItemFacts {
        label,
        assessment: text(Role::Assessment).map(|t| plain(&t)).unwrap_or_default(),
        skills,
        facts: ColumnFacts {
            key: text(Role::Key),
            points,
            kind: text(Role::Kind).and_then(|k| ItemKind::parse(&k)),
            scale,
            ..ColumnFacts::default()
        },
        meanings: options.iter().filter_map(meaning).collect(),
    })
}

/// Facts that were typed before.
pub fn remembered(items: &[KnownItem]) -> Vec<ItemFacts> {
    let fact = |item: &KnownItem| ItemFacts {
        label: item.label.clone(),
        assessment: String::new(),
        skills: item.skills.clone(),
        facts: ColumnFacts { key: item.key.clone(), points: item.points, kind: item.kind, ..ColumnFacts::default() },
        meanings: item.meanings.clone(),
    };
    items.iter().map(fact).collect()
}

/// Columns that hold codes, by option letter.
fn option_columns(columns: &Columns) -> BTreeMap<String, u32> {
    let letter =
        |text: &str| (text.len() == 1 && text.chars().all(|c| c.is_ascii_lowercase())).then(|| text.to_uppercase());
    let mut bare = BTreeMap::new();
    let mut named = BTreeMap::new();
    for (column, label) in &columns.labels {
        let word = plain(label);
        if let Some(option) = letter(&word) {
            bare.insert(option, *column);
        } else if let Some(option) = ["idea", "meaning", "error", "pattern", "code", "misconception"]
            .iter()
            .find_map(|w| word.strip_prefix(w).or_else(|| word.strip_suffix(w)).and_then(letter))
        {
            named.insert(option, *column);
        }
    }
    if named.is_empty() { bare } else { named }
}

/// The facts that apply to an assessment, by plain label.
pub fn known_for(items: &[ItemFacts], assessment_names: &[String]) -> KnownFacts {
    items.iter().filter(|i| applies(i, assessment_names)).map(|i| (label_key(&i.label), i.facts.clone())).collect()
}

/// Fills what is open in the facts that are known.
pub fn fill(known: &mut KnownFacts, facts: &[ItemFacts]) {
    for item in facts {
        known.entry(label_key(&item.label)).or_default().fill(&item.facts);
    }
}

/// What a sheet said of its items, for another table of the same sheet.
pub fn of_table(table: &SheetTable) -> Vec<ItemFacts> {
    let fact = |(item, given): (&Item, &ColumnFacts)| ItemFacts {
        label: item.label.clone(),
        assessment: String::new(),
        skills: item.skills.clone(),
        facts: ColumnFacts { key_at: None, ..given.clone() },
        meanings: item.meanings.clone(),
    };
    table.items.iter().zip(&table.given).map(fact).collect()
}

/// A label in plain letters; a bare number names the question of that number.
pub fn label_key(label: &str) -> String {
    let word = plain(label);
    if word.chars().all(|c| c.is_ascii_digit()) { format!("q{word}") } else { word }
}

fn applies(facts: &ItemFacts, assessment_names: &[String]) -> bool {
    facts.assessment.is_empty() || assessment_names.iter().any(|n| plain(n) == facts.assessment)
}

/// Whether two keys agree; a key that is not there agrees with any.
fn is_same_key(a: Option<&str>, b: Option<&str>) -> bool {
    let form = |key: &str| options_run_together(key).unwrap_or_else(|| key.trim().to_lowercase());
    a.zip(b).is_none_or(|(a, b)| form(a) == form(b) || super::cell_marks::truth_of(a).is_some_and(|t| t == b))
}

/// Fills skills and meanings of items from facts whose key agrees. Returns how many items were found.
pub fn apply(items: &mut [Item], facts: &[ItemFacts], assessment_names: &[String]) -> usize {
    let mut n = 0;
    for item in items {
        let found = facts.iter().find(|f| {
            label_key(&f.label) == label_key(&item.label)
                && applies(f, assessment_names)
                && is_same_key(f.facts.key.as_deref(), item.key.as_deref())
        });
        if let Some(found) = found {
            n += 1;
            if item.skills.is_empty() {
                item.skills.clone_from(&found.skills);
            }
            if item.meanings.is_empty() {
                let key = item.key.clone().unwrap_or_default();
                item.meanings = found.meanings.iter().filter(|m| m.option != key).cloned().collect();
            }
        }
    }
    n
}
