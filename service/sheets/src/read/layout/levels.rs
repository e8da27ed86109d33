//! Headings of several rows: units over questions, questions under units.
//!
//! In:  the rows, the header and the item columns. Out: a label an item. The lowest row names the item where that tells all of them
//! apart; otherwise the rows above are joined in front of it: `Unit 3 > Q4`. A heading that spans columns stands in its first cell
//! and is read across to the next one.
//! Keeps: `units_are_joined_where_numbers_repeat`, `a_title_over_clear_labels_stays_out_of_them`, `questions_may_stand_under_the_header`.

use super::super::cell::Cell;
use super::super::labels::{is_item_label, number};
use super::{Columns, KeptRow, Remark, Remarks};
use sheaf_core::finding::Severity;
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// Rows above the header that may hold headings.
const MOST_LEVELS: usize = 3;

/// The row of questions right under the header, if there is one.
pub fn sub_header(rows: &[KeptRow], at: usize, columns: &Columns, fact_rows: &[u32]) -> Option<usize> {
    let own_labels = columns.labels.iter().filter(|(c, l)| !columns.roles.contains_key(c) && is_item_label(l)).count();
    let i = (at + 1..rows.len()).find(|i| !fact_rows.contains(&rows[*i].0))?;
    let cells = &rows[i].1;
    let is_free = |c: u32| !columns.roles.get(&c).is_some_and(|r| r.is_of_a_student());
    let n_labels = cells.iter().filter(|(_, cell)| is_item_label(&cell.shown())).count();
    let counts = cells.iter().filter_map(|(_, cell)| number(&cell.shown())).collect::<Vec<_>>();
    let is_count = counts.len() == cells.len() && restarts_at_one(&counts);
    let is_sub = own_labels == 0
        && cells.len() >= 2
        && cells.iter().all(|(c, _)| is_free(*c))
        && (n_labels * 2 > cells.len() || (is_count && columns.labels.len() < columns.roles.len() + cells.len()));
    is_sub.then_some(i)
}

/// 1, 2, 3, 1, 2 …: counts that begin again at one.
fn restarts_at_one(counts: &[u32]) -> bool {
    counts.first() == Some(&1)
        && counts.windows(2).all(|w| w[1] == w[0] + 1 || w[1] == 1)
        && counts.iter().any(|n| *n > 1)
}

/// Labels of the items, and the rows that gave them beside the header.
pub fn item_labels(
    rows: &[KeptRow],
    at: usize,
    items: &BTreeMap<u32, String>,
    columns: &Columns,
    fact_rows: &[u32],
    remarks: &mut Remarks,
) -> BTreeMap<u32, String> {
    let distinct: HashSet<&String> = items.values().collect();
    if distinct.len() == items.len() {
        return items.clone();
    }
    let levels = levels_above(rows, at, items, columns, fact_rows);
    let Some((first_row, _)) = levels.first() else { return items.clone() };
    let joined: BTreeMap<u32, String> = items.iter().map(|(c, label)| (*c, join(&levels, *c, label))).collect();
    let n_now: HashSet<&String> = joined.values().collect();
    if n_now.len() <= distinct.len() {
        return items.clone();
    }
    let (column, sample) = joined.iter().next().map(|(c, l)| (*c, l.clone())).unwrap_or_default();
    let message = format!(
        "The headings of {} to {} belong together.",
        remarks.line(*first_row),
        remarks.line(columns.header_row)
    );
    let action = format!("joined, as in \u{201c}{sample}\u{201d}");
    remarks.push(Remark::new(Severity::Note, "headings-joined", (*first_row, column), message, &action));
    joined
}

/// Rows of headings above, from the top, each read across.
fn levels_above(
    rows: &[KeptRow],
    at: usize,
    items: &BTreeMap<u32, String>,
    columns: &Columns,
    fact_rows: &[u32],
) -> Vec<(u32, BTreeMap<u32, String>)> {
    let wanted: BTreeSet<u32> = items.keys().copied().collect();
    let names = columns.roles.iter().filter(|(_, r)| r.names_a_student()).map(|(c, _)| *c).collect::<Vec<_>>();
    let mut levels: Vec<(u32, BTreeMap<u32, String>)> = rows[..=at]
        .iter()
        .rev()
        .filter(|(n, _)| !fact_rows.contains(n))
        .map(|(n, cells)| (*n, across(cells, &wanted, &names)))
        .filter(|(_, texts)| texts.values().collect::<HashSet<_>>().len() > 1)
        .take(MOST_LEVELS)
        .collect();
    levels.reverse();
    levels
}

/// The texts of a row over the wanted columns, each read on to the next one.
fn across(cells: &[(u32, Cell<'static>)], wanted: &BTreeSet<u32>, names: &[u32]) -> BTreeMap<u32, String> {
    let from = wanted.first().copied().unwrap_or(0);
    let spans: Vec<(u32, String)> = cells
        .iter()
        .filter(|(c, _)| *c >= from && !names.contains(c))
        .map(|(c, cell)| (*c, cell.shown().into_owned()))
        .collect();
    wanted
        .iter()
        .filter_map(|c| spans.iter().rev().find(|(start, _)| start <= c).map(|(_, text)| (*c, text.clone())))
        .collect()
}

fn join(levels: &[(u32, BTreeMap<u32, String>)], column: u32, label: &str) -> String {
    let mut parts: Vec<&str> = levels.iter().filter_map(|(_, texts)| texts.get(&column)).map(String::as_str).collect();
    parts.push(label);
    parts.dedup();
    parts.join(" > ")
}
