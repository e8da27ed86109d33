//! Rows of item facts around the headings: skill, key, points, type.
//!
//! In:  the kept rows and the columns. Out: facts by role, and the rows that hold them. A row says what it is in one of its first
//! cells; a row next to the headings that names no child and holds nothing but keys, points or skills is taken for that, with a remark.
//! Keeps: `an_unlabelled_row_of_letters_is_a_key_with_a_warning`, `a_row_of_highest_marks_below_is_no_maximum`,
//! `a_child_called_max_is_no_row_of_facts`, `two_keys_that_differ_are_no_key`.

use super::super::cell::Cell;
use super::super::labels::has_standard;
use super::super::notes::capital;
use super::super::words::{Role, Summary, label_row, plain, role_of, summary_of};
use super::{Columns, FactRow, KeptRow, Remark, Remarks};
use sheaf_core::finding::Severity;
use std::collections::{BTreeMap, BTreeSet};

/// The role that one of the first cells of a row names, if the row holds item facts.
pub fn first_label(cells: &[(u32, Cell<'_>)]) -> Option<(u32, Role)> {
    let label = cells.iter().take_while(|(c, _)| *c < 8).take(3).find_map(|(c, cell)| match cell {
        Cell::Text(t) => label_row(t).map(|r| (*c, r)),
        _ => None,
    })?;
    let is_header = cells.iter().any(|(_, cell)| {
        matches!(cell, Cell::Text(t)
            if matches!(role_of(t), Some(Role::Item | Role::Id | Role::Name | Role::Given | Role::Family)))
    });
    (!is_header).then_some(label)
}

/// The facts of the label rows, and those rows.
pub fn labelled(rows: &[KeptRow], columns: &Columns, remarks: &mut Remarks) -> (BTreeMap<Role, FactRow>, Vec<u32>) {
    let (mut facts, mut fact_rows) = (BTreeMap::<Role, FactRow>::new(), Vec::new());
    let mut has_student = false;
    for (i, (number, cells)) in rows.iter().enumerate() {
        if *number == columns.header_row {
            continue;
        }
        let is_below = *number > columns.header_row;
        let is_child = |c: u32| is_a_child_so_called(columns, cells, c) || is_max_among_names(columns, rows, i, c);
        let label = first_label(cells).filter(|(c, _)| !(is_below && is_child(*c)));
        let Some((column, role)) = label else {
            has_student |= is_below && names_a_student(columns, cells);
            continue;
        };
        if has_student && is_statistic(rows, i) {
            continue;
        }
        fact_rows.push(*number);
        let texts = texts_after(cells, column);
        if let Some(first) = facts.get_mut(&role).filter(|_| matches!(role, Role::Key | Role::Points)) {
            dispute(first, role, *number, &texts, remarks);
        }
        add(&mut facts, role, *number, texts);
    }
    (facts, fact_rows)
}

/// A "max" among rows that sum up the class is the highest mark, not the points possible.
fn is_statistic(rows: &[KeptRow], i: usize) -> bool {
    let first = |row: &KeptRow| row.1.first().map(|(_, c)| c.shown().into_owned()).unwrap_or_default();
    let is_max = ["max", "maximum", "maximo"].contains(&plain(&first(&rows[i])).as_str());
    let beside = [i.checked_sub(1), Some(i + 1)].into_iter().flatten().filter_map(|n| rows.get(n));
    is_max && beside.into_iter().any(|row| summary_of(&first(row)) != Summary::No)
}

/// Whether `Max` stands among names alone, with a child above and one below: then it is a child, and not what an item is out of.
fn is_max_among_names(columns: &Columns, rows: &[KeptRow], i: usize, label: u32) -> bool {
    let is_name = |(n, cells): &KeptRow| {
        *n > columns.header_row
            && cells.iter().any(|(c, cell)| *c == label && !cell.shown().is_empty())
            && first_label(cells).is_none()
            && cells.first().is_some_and(|(_, cell)| summary_of(&cell.shown()) == Summary::No)
    };
    is_first_name(&rows[i].1, label)
        && columns.column(Role::Id).is_none()
        && columns.roles.get(&label).is_some_and(|r| matches!(r, Role::Name | Role::Given))
        && rows[..i].iter().any(is_name)
        && rows.get(i + 1).is_some_and(is_name)
}

/// The one word of a fact that is a first name, too.
pub fn is_first_name(cells: &[(u32, Cell<'_>)], label: u32) -> bool {
    cells.iter().any(|(c, cell)| *c == label && plain(&cell.shown()) == "max")
}

/// Whether the word of a fact is a child's name: it stands among the names, and something else in the row is of a student, too.
fn is_a_child_so_called(columns: &Columns, cells: &[(u32, Cell<'static>)], label: u32) -> bool {
    let role = |c: u32| columns.roles.get(&c);
    role(label).is_some_and(|r| r.names_a_student() && *r != Role::Id)
        && cells.iter().any(|(c, _)| *c != label && role(*c).is_some_and(|r| r.is_of_a_student()))
}

fn names_a_student(columns: &Columns, cells: &[(u32, Cell<'static>)]) -> bool {
    cells.iter().any(|(c, _)| columns.roles.get(c).is_some_and(|r| r.names_a_student()))
}

fn texts_after(cells: &[(u32, Cell<'static>)], column: u32) -> BTreeMap<u32, String> {
    cells.iter().filter(|(c, _)| *c > column).map(|(c, cell)| (*c, cell.shown().into_owned())).collect()
}

/// Takes out what a further row of keys or points says otherwise, and remarks each.
fn dispute(first: &mut FactRow, role: Role, row: u32, texts: &BTreeMap<u32, String>, remarks: &mut Remarks) {
    let (code, word) = if role == Role::Key { ("keys-differ", "key") } else { ("points-differ", "number of points") };
    for (column, text) in texts {
        let is_other = first.texts.get(column).is_some_and(|t| plain(t) != plain(text));
        if is_other && first.disputed.insert(*column) {
            let message = format!(
                "{} and {} give this item another {word}.",
                capital(&remarks.line(first.row)),
                remarks.line(row)
            );
            let action = "neither counts; leave the one that is right, and put a second form on a sheet of its own";
            remarks.push(Remark::new(Severity::Error, code, (row, *column), message, action));
        }
    }
    let disputed = &first.disputed;
    first.texts.retain(|column, _| !disputed.contains(column));
}

/// The first row of a role counts; further rows of skills add to it.
fn add(facts: &mut BTreeMap<Role, FactRow>, role: Role, row: u32, texts: BTreeMap<u32, String>) {
    match facts.get_mut(&role) {
        None => {
            facts.insert(role, FactRow { row, texts, ..FactRow::default() });
        }
        Some(first) if role == Role::Skill => {
            for (column, text) in texts {
                first.texts.entry(column).and_modify(|t| *t = format!("{t}; {text}")).or_insert(text);
            }
        }
        Some(_) => {}
    }
}

/// Takes rows next to the headings that say nothing of themselves for what their cells are, and remarks it.
pub fn unlabelled(
    rows: &[KeptRow],
    at: usize,
    items: &BTreeSet<u32>,
    spoken_for: &[u32],
    facts: &mut BTreeMap<Role, FactRow>,
    other_rows: &mut Vec<u32>,
    remarks: &mut Remarks,
) {
    for i in beside(rows, at, spoken_for) {
        let (number, cells) = &rows[i];
        if cells.iter().any(|(c, _)| !items.contains(c)) || cells.len() * 2 < items.len() {
            continue;
        }
        let Some(role) = role_by_cells(cells, rows, i.max(at)) else { continue };
        if facts.contains_key(&role) {
            continue;
        }
        let texts = cells.iter().map(|(c, cell)| (*c, cell.shown().into_owned())).collect();
        add(facts, role, *number, texts);
        other_rows.push(*number);
        let (code, what) = match role {
            Role::Key => ("row-read-as-key", "keys"),
            Role::Points => ("row-read-as-points", "points possible"),
            _ => ("row-read-as-skills", "skills"),
        };
        let message =
            format!("{} names no student and holds only what may be {what}.", capital(&remarks.line(*number)));
        let action = format!("read as {what}; write the word in front of it to be sure");
        remarks.push(Remark::new(Severity::Warning, code, (*number, cells[0].0), message, &action));
    }
}

/// Up to two rows above and below the headings that are not spoken for.
fn beside(rows: &[KeptRow], at: usize, spoken_for: &[u32]) -> Vec<usize> {
    let free = |i: &usize| !spoken_for.contains(&rows[*i].0);
    let above = (0..at).rev().take(2).filter(free);
    let below = (at + 1..rows.len()).filter(free).take(2);
    above.chain(below).collect()
}

/// What the cells of a row can only be; `last` is the later of this row and the headings.
fn role_by_cells(cells: &[(u32, Cell<'static>)], rows: &[KeptRow], last: usize) -> Option<Role> {
    let texts: Vec<String> = cells.iter().map(|(_, c)| c.shown().into_owned()).collect();
    if texts.iter().all(|t| has_standard(t)) {
        return Some(Role::Skill);
    }
    let is_letter = |t: &str| t.len() == 1 && t.chars().all(|c| matches!(c.to_ascii_uppercase(), 'A'..='J'));
    if texts.iter().all(|t| is_letter(t)) {
        return Some(Role::Key);
    }
    let points: Vec<f64> = texts.iter().map_while(|t| t.parse().ok()).filter(|p: &f64| *p > 0.0).collect();
    if points.len() != cells.len() {
        return None;
    }
    let is_within = |(c, cell): &(u32, Cell<'static>)| {
        let most = cells.iter().zip(&points).find(|((at, _), _)| at == c).map(|(_, p)| *p);
        most.is_none_or(|most| cell.shown().parse::<f64>().map_or(true, |v| v <= most))
    };
    rows[last + 1..].iter().all(|(_, row)| row.iter().all(is_within)).then_some(Role::Points)
}
