//! Which row holds the headings, and what each heading names.
//!
//! In:  the first rows. Out: the place of the row among them, and its [`Columns`]. The row that names the most student columns
//! is taken, then the one with labels of items, then the earliest; a row of item facts is none.
//! Keeps: `a_row_number_is_no_id_beside_an_id`, `headings_without_a_word_for_students_are_found`.
//! Not here: columns that only what stands below can tell (`columns`).

use super::super::cell::Cell;
use super::super::labels::{is_item_label, number};
use super::super::words::{Role, is_weak_id, role_of};
use super::{Columns, KeptRow, first_label};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// Labels of items from which on a row without any known word may be the headings.
const FEWEST_LABELS: usize = 2;

/// The place of the headings among the rows.
pub fn choose(rows: &[KeptRow]) -> Option<usize> {
    let by_words = rows
        .iter()
        .enumerate()
        .filter(|(_, (_, cells))| cells.len() > 1 && first_label(cells).is_none())
        .map(|(i, row)| (i, roles_of(row)))
        .filter(|(_, roles)| !roles.is_empty())
        .map(|(i, roles)| (score(&roles, &rows[i].1), i))
        .max_by_key(|(score, i)| (*score, Reverse(*i)));
    match by_words {
        Some(((n_strong, ..), i)) if n_strong > 0 => Some(i),
        _ => by_labels(rows).or(by_words.map(|(_, i)| i)),
    }
}

/// The row with the most labels of items.
fn by_labels(rows: &[KeptRow]) -> Option<usize> {
    let last = rows.len().saturating_sub(1);
    rows.iter()
        .enumerate()
        .take(last)
        .filter(|(_, (_, cells))| first_label(cells).is_none())
        .map(|(i, (_, cells))| (n_item_labels(cells).max(run_of_numbers(cells)), i))
        .filter(|(n, _)| *n >= FEWEST_LABELS)
        .max_by_key(|(n, i)| (*n, Reverse(*i)))
        .map(|(_, i)| i)
}

fn n_item_labels(cells: &[(u32, Cell<'static>)]) -> usize {
    cells.iter().filter(|(_, cell)| matches!(cell, Cell::Text(t) if is_item_label(t))).count()
}

/// How many cells count 1, 2, 3 …, at least three of them.
fn run_of_numbers(cells: &[(u32, Cell<'static>)]) -> usize {
    let numbers: Vec<u32> = cells.iter().filter_map(|(_, cell)| number(&cell.shown())).collect();
    let is_run = numbers.len() >= 3 && numbers.iter().zip(1..).all(|(a, b)| *a == b);
    if is_run { numbers.len() } else { 0 }
}

/// A heading that may only number the rows says little.
fn score(roles: &BTreeMap<u32, Role>, cells: &[(u32, Cell<'static>)]) -> (usize, usize, usize) {
    let is_weak = |column: &u32| cells.iter().any(|(c, cell)| c == column && is_weak_id(&cell.shown()));
    let n_strong = roles.iter().filter(|(c, r)| (r.names_a_student() || **r == Role::Item) && !is_weak(c)).count();
    (n_strong, n_item_labels(cells).min(FEWEST_LABELS), roles.len())
}

fn roles_of((_, cells): &KeptRow) -> BTreeMap<u32, Role> {
    let mut roles = BTreeMap::new();
    let has_better_id =
        cells.iter().any(|(_, cell)| role_of(&cell.shown()) == Some(Role::Id) && !is_weak_id(&cell.shown()));
    for (c, cell) in cells {
        let Cell::Text(text) = cell else { continue };
        let Some(role) = role_of(super::super::cell::trim(text)) else { continue };
        let is_taken = roles.values().any(|r| *r == role);
        if role == Role::Id && has_better_id && is_weak_id(text) {
            roles.insert(*c, Role::Other);
        } else if matches!(role, Role::Total | Role::Other) || !is_taken {
            roles.insert(*c, role);
        } else if role.is_of_a_student() {
            // The first column of a role keeps it: "Class" beside "Teacher" is the homeroom.
            roles.insert(*c, Role::Other);
        }
    }
    roles
}

/// The columns of a row of headings; `rows` are asked where a word has two meanings.
pub fn columns_of(row: &KeptRow, rows: &[KeptRow]) -> Columns {
    let mut columns = Columns {
        header_row: row.0,
        roles: roles_of(row),
        labels: row.1.iter().map(|(c, cell)| (*c, cell.shown().into_owned())).collect(),
    };
    if let Some(grade) = columns.column(Role::Grade)
        && is_column_of_results(grade, row.0, rows)
    {
        columns.roles.insert(grade, Role::Total);
    }
    columns
}

/// Whether what stands below is no school grade: most of it above 12.
fn is_column_of_results(column: u32, header_row: u32, rows: &[KeptRow]) -> bool {
    let texts: Vec<String> = rows
        .iter()
        .filter(|(n, _)| *n > header_row)
        .filter_map(|(_, cells)| cells.iter().find(|(c, _)| *c == column))
        .map(|(_, cell)| cell.shown().into_owned())
        .collect();
    let n_high = texts.iter().filter(|t| t.trim_end_matches('%').parse::<f64>().is_ok_and(|v| v > 12.0)).count();
    n_high * 2 > texts.len()
}
