//! Long sheets: one row a response (student, item, answer or points), turned into the same table as a wide sheet.
//!
//! Items come in the order of their first row. Points and keys of an item come from the row's own columns where the sheet has them.

use super::cell::Cell;
use super::layout::{Columns, KeptRow};
use super::marks::{ColumnFacts, judge_column};
use super::notes::Notes;
use super::table::{ColumnCells, KnownFacts, RowStudent, SheetTable, student_of};
use super::words::Role;
use sheaf_core::scores::{Item, ItemKind};
use sheaf_core::skills::SkillCode;
use std::collections::HashMap;

/// Turns the rows of a long sheet into a table.
pub fn pivot(columns: &Columns, rows: &[KeptRow], known: &KnownFacts, notes: &mut Notes<'_>) -> SheetTable {
    let mark_column = columns.column(Role::Answer).or_else(|| columns.column(Role::Points)).unwrap_or(0);
    let item_column = columns.column(Role::Item).unwrap_or(0);
    let mut items: Vec<(String, ColumnFacts, Vec<SkillCode>, ColumnCells)> = Vec::new();
    let mut item_at: HashMap<String, usize> = HashMap::new();
    let mut students: Vec<RowStudent> = Vec::new();
    let mut student_at: HashMap<String, usize> = HashMap::new();
    let mut marks: HashMap<(usize, usize), u32> = HashMap::new();
    for (number, cells) in rows {
        let text = |column: Option<u32>| -> Option<String> {
            let column = column?;
            cells.iter().find(|(c, _)| *c == column).map(|(_, cell)| cell.shown().into_owned())
        };
        let (Some(student), Some(label)) = (student_of(columns, *number, cells), text(Some(item_column))) else {
            continue;
        };
        let s = *student_at.entry(student.id.clone()).or_insert_with(|| {
            students.push(student);
            students.len() - 1
        });
        let i = *item_at.entry(label.clone()).or_insert_with(|| {
            let has_answers = columns.column(Role::Answer).is_some();
            let facts = ColumnFacts {
                key: text(columns.column(Role::Key)),
                points: text(columns.column(Role::Points)).filter(|_| has_answers).and_then(|p| p.parse().ok()),
                kind: text(columns.column(Role::Kind)).and_then(|k| ItemKind::parse(&k)),
            };
            let skills = text(columns.column(Role::Skill)).unwrap_or_default();
            let skills = skills.split(';').filter_map(SkillCode::parse).collect();
            items.push((label, facts, skills, ColumnCells::default()));
            items.len() - 1
        });
        let cell: Option<&Cell<'static>> = cells.iter().find(|(c, _)| *c == mark_column).map(|(_, cell)| cell);
        if let Some(cell) = cell {
            let code = items[i].3.code(cell, *number) + 1;
            marks.entry((s, i)).or_insert(code);
        }
    }
    let width = items.len();
    let mut codes = vec![0; students.len() * width];
    marks.into_iter().for_each(|((s, i), code)| codes[s * width + i] = code);
    let mut table = SheetTable {
        items: Vec::new(),
        item_columns: vec![mark_column; width],
        students,
        codes,
        marks: Vec::new(),
        has_ids: columns.column(Role::Id).is_some(),
    };
    for (label, mut facts, skills, cells) in items {
        if let Some(other) = known.get(&super::facts::label_key(&label)) {
            facts.key = facts.key.or_else(|| other.key.clone());
            facts.points = facts.points.or(other.points);
            facts.kind = facts.kind.or(other.kind);
        }
        let mut item = Item { skills, ..Item::new(&label, 0) };
        table.marks.push(judge_column(&mut item, &facts, &cells.distinct, mark_column, notes));
        table.items.push(item);
    }
    table
}
