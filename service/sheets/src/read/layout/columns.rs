//! Which columns of a wide sheet are items, which are totals, which are neither.
//!
//! In:  the kept rows, the row of headings, what a person chose. Out: a [`Wide`], and remarks on every column that was judged by what
//! stands below it. A column is an item by its label, by facts in a label row, or where most of its cells can be marks.
//! Keeps: `a_column_of_remarks_is_no_item`, `a_blank_heading_over_names_is_read_as_name`, `a_score_beside_items_is_a_total`,
//! `a_column_of_one_number_out_of_is_the_maximum`.
//! Not here: labels over several rows (`levels`), label rows (`label_rows`).

use super::super::asked::{ColumnUse, SheetChoice};
use super::super::cell::Cell;
use super::super::cell_marks::could_be_mark;
use super::super::labels::is_item_label;
use super::super::notes::capital;
use super::super::region;
use super::super::words::{Role, is_maximum, is_result, role_of};
use super::{Columns, FactRow, KeptRow, Remark, Remarks, Wide, label_rows, levels, uses};
use sheaf_core::finding::Severity;
use std::collections::{BTreeMap, BTreeSet};

/// Looks at the columns of a wide sheet.
pub fn wide_of(
    rows: &[KeptRow],
    at: usize,
    mut columns: Columns,
    chosen: &BTreeSet<u32>,
    choice: Option<&SheetChoice>,
    remarks: &mut Remarks,
) -> Wide {
    let (mut facts, fact_rows) = label_rows::labelled(rows, &columns, remarks);
    let sub = levels::sub_header(rows, at, &columns, &fact_rows);
    let spoken_for: Vec<u32> = fact_rows.iter().copied().chain(sub.map(|i| rows[i].0)).collect();
    let mut other_rows: Vec<u32> = rows[..at].iter().map(|(n, _)| *n).chain(spoken_for.iter().copied()).collect();
    let labels = candidates(rows, sub, &mut columns, chosen);
    let below = Below { rows, from: columns.header_row, other_rows: &other_rows };
    guess_student_column(&below, &mut columns, &labels, remarks);
    let with_facts: BTreeSet<u32> = facts.values().flat_map(|f| f.texts.keys().copied()).collect();
    let mut items = BTreeMap::new();
    for (column, label) in labels {
        if columns.roles.get(&column).is_some_and(|r| r.is_of_a_student()) {
            continue;
        }
        let verdict = judge(
            &below,
            &columns,
            (column, &label),
            chosen.contains(&column) || with_facts.contains(&column),
            remarks,
        );
        match verdict {
            Column::Item => {
                columns.roles.remove(&column);
                items.insert(column, label);
            }
            Column::Not(remark) => {
                columns.roles.insert(column, Role::Other);
                columns.labels.entry(column).or_insert(label);
                remarks.push(remark);
            }
        }
    }
    take_out_results(&mut columns, &mut items, chosen);
    take_maximum(&below, &mut columns, &mut items, &mut facts, remarks);
    let spans: BTreeSet<u32> = items.keys().copied().collect();
    label_rows::unlabelled(rows, at, &spans, &spoken_for, &mut facts, &mut other_rows, remarks);
    let items = levels::item_labels(rows, at, &items, &columns, &fact_rows, remarks);
    columns.labels.extend(items.iter().map(|(c, l)| (*c, l.clone())));
    let items = by_choice(items, &mut columns, choice);
    let totals = columns.roles.iter().filter(|(_, r)| **r == Role::Total);
    let totals = totals.map(|(c, _)| (*c, columns.labels.get(c).cloned().unwrap_or_default())).collect();
    Wide { columns, items, facts, other_rows, totals, headings: region::headings(&rows[at].1) }
}

/// Columns that may be items, with the lowest label of each.
fn candidates(
    rows: &[KeptRow],
    sub: Option<usize>,
    columns: &mut Columns,
    chosen: &BTreeSet<u32>,
) -> BTreeMap<u32, String> {
    let mut labels: BTreeMap<u32, String> = columns.labels.clone();
    for (column, cell) in sub.map(|i| rows[i].1.as_slice()).unwrap_or_default() {
        let text = cell.shown().into_owned();
        if let Some(role) = role_of(&text).filter(|r| matches!(r, Role::Total | Role::Other)) {
            columns.roles.insert(*column, role);
            columns.labels.insert(*column, text.clone());
        }
        labels.insert(*column, text);
    }
    let is_settled =
        |c: u32| columns.roles.get(&c).is_some_and(|r| r.is_of_a_student() || matches!(r, Role::Total | Role::Other));
    labels.retain(|c, label| !label.is_empty() && (chosen.contains(c) || !is_settled(*c)));
    labels
}

/// What stands below the headings.
struct Below<'a> {
    rows: &'a [KeptRow],
    from: u32,
    other_rows: &'a [u32],
}

impl Below<'_> {
    fn cells(&self, column: u32) -> Vec<&Cell<'static>> {
        self.rows
            .iter()
            .filter(|(n, _)| *n > self.from && !self.other_rows.contains(n))
            .filter_map(|(_, cells)| cells.iter().find(|(c, _)| *c == column).map(|(_, cell)| cell))
            .collect()
    }

    fn last_column(&self) -> u32 {
        self.rows.iter().filter_map(|(_, cells)| cells.last().map(|(c, _)| *c)).max().unwrap_or(0)
    }
}

enum Column {
    Item,
    Not(Remark),
}

fn judge(
    below: &Below<'_>,
    columns: &Columns,
    (column, label): (u32, &str),
    is_said: bool,
    remarks: &Remarks,
) -> Column {
    if is_said || is_item_label(label) {
        return Column::Item;
    }
    let left_out = |code: &'static str, severity: Severity, what: &str| {
        let message = format!("{} (\u{201c}{label}\u{201d}) {what}.", capital(&remarks.lane(column)));
        Column::Not(Remark::new(
            severity,
            code,
            (below.from, column),
            message,
            "left out; choose it as an item if it is one",
        ))
    };
    let names = columns.roles.iter().filter(|(_, r)| r.names_a_student()).map(|(c, _)| *c).max();
    if names.is_some_and(|last| column < last) {
        return left_out("column-before-names", Severity::Note, "stands before the names");
    }
    let cells = below.cells(column);
    if cells.is_empty() {
        return left_out("column-without-marks", Severity::Note, "holds nothing");
    }
    let n_marks = cells.iter().filter(|cell| could_be_mark(cell)).count();
    if n_marks * 2 < cells.len() {
        return left_out("column-not-marks", Severity::Warning, "holds no marks");
    }
    Column::Item
}

/// `Score` or `Points` beside two or more items is what they came to.
fn take_out_results(columns: &mut Columns, items: &mut BTreeMap<u32, String>, chosen: &BTreeSet<u32>) {
    let results: Vec<u32> =
        items.iter().filter(|(c, label)| !chosen.contains(c) && is_result(label)).map(|(c, _)| *c).collect();
    if items.len() < results.len() + 2 {
        return;
    }
    for column in results {
        items.remove(&column);
        columns.roles.insert(column, Role::Total);
    }
}

/// `Out of` beside one column of marks, with one number in all rows, is the maximum of that.
fn take_maximum(
    below: &Below<'_>,
    columns: &mut Columns,
    items: &mut BTreeMap<u32, String>,
    facts: &mut BTreeMap<Role, FactRow>,
    remarks: &mut Remarks,
) {
    let named = items.iter().find(|(_, label)| is_maximum(label)).map(|(c, _)| *c);
    let (Some(column), 2) = (named, items.len()) else { return };
    let Some(other) = items.keys().copied().find(|c| *c != column) else { return };
    let numbers: BTreeSet<String> = below.cells(column).iter().map(|cell| cell.shown().into_owned()).collect();
    let points = numbers.first().filter(|n| numbers.len() == 1 && n.parse::<f64>().is_ok_and(|p| p > 0.0)).cloned();
    let (Some(points), false) = (points, facts.contains_key(&Role::Points)) else { return };
    items.remove(&column);
    columns.roles.insert(column, Role::Other);
    let message = format!("{} says what {} is out of.", capital(&remarks.lane(column)), items[&other]);
    remarks.push(Remark::new(
        Severity::Note,
        "points-column-used",
        (below.from, column),
        message,
        &format!("{points} points are the maximum"),
    ));
    let texts = BTreeMap::from([(other, points)]);
    facts.insert(Role::Points, FactRow { row: below.from, texts, ..FactRow::default() });
}

/// Uses that were chosen by a label of several rows.
fn by_choice(items: BTreeMap<u32, String>, columns: &mut Columns, choice: Option<&SheetChoice>) -> Vec<(u32, String)> {
    let said = |label: &String| choice.and_then(|c| c.uses.get(label)).copied();
    items
        .into_iter()
        .filter(|(column, label)| match said(label) {
            None | Some(ColumnUse::Item) => true,
            Some(other) => uses::set(columns, *column, other),
        })
        .collect()
}

/// Where no heading names a student, a column before the items that holds names or numbers is taken, and that is remarked.
fn guess_student_column(
    below: &Below<'_>,
    columns: &mut Columns,
    labels: &BTreeMap<u32, String>,
    remarks: &mut Remarks,
) {
    if columns.names_students() {
        return;
    }
    let is_item =
        |(c, l): &(&u32, &String)| is_item_label(l) || super::super::labels::number(l).is_some_and(|_| **c > 0);
    let Some(first_item) = labels.iter().find(is_item).map(|(c, _)| *c) else { return };
    let free = (0..first_item.min(below.last_column())).filter(|c| !columns.roles.contains_key(c));
    let found: Vec<(u32, bool)> =
        free.filter_map(|c| holds_names(&below.cells(c)).map(|is_name| (c, is_name))).collect();
    let Some((column, is_name)) = found.iter().find(|(_, is_name)| *is_name).or(found.first()).copied() else { return };
    columns.roles.insert(column, if is_name { Role::Name } else { Role::Id });
    columns.labels.entry(column).or_default();
    let what = if is_name { "names" } else { "ids" };
    let message = format!("No heading says where the students are; {} holds what may be {what}.", remarks.lane(column));
    let action = format!("read as {what}; choose another column if they stand elsewhere");
    remarks.push(Remark::new(Severity::Warning, "student-column-guessed", (below.from, column), message, &action));
}

/// Whether cells are names (`true`) or ids; `None` where they are neither.
fn holds_names(cells: &[&Cell<'static>]) -> Option<bool> {
    let texts: Vec<String> = cells.iter().map(|c| c.shown().into_owned()).filter(|t| !t.is_empty()).collect();
    if texts.is_empty() {
        return None;
    }
    let distinct: BTreeSet<&String> = texts.iter().collect();
    let n_named = texts.iter().filter(|t| t.chars().filter(|c| c.is_alphabetic()).count() > 1).count();
    let is_told_apart = distinct.len() * 10 >= texts.len() * 8;
    is_told_apart.then_some(n_named * 2 > texts.len())
}
