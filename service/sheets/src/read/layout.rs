//! How a sheet is laid out: where the header is, what each column holds, which rows are item facts.
//!
//! In:  the first rows that hold something. Out: a [`Layout`], or `None` where no row looks like a header.
//! The header is the row that names the most student columns and has item labels beside them; rows of skill, key, points or type
//! stand above or below it and say so in one of their first cells.
//! Keeps: `labels_above_and_below_the_header_are_found`, `a_title_is_not_a_header`.

use super::cell::Cell;
use super::words::{Role, label_row, role_of};
use std::collections::BTreeMap;

/// A row kept for a look at the layout.
pub type KeptRow = (u32, Vec<(u32, Cell<'static>)>);

/// Rows looked at.
pub const LOOKED_AT: usize = 40;

/// What kind of sheet it is.
#[derive(Debug, Clone, PartialEq)]
pub enum Layout {
    Wide(Wide),
    /// One row a response.
    Long(Columns),
    /// One row an item.
    Items(Columns),
    /// One row a student, no marks.
    Students(Columns),
}

/// Header row and roles by column.
#[derive(Debug, Clone, PartialEq)]
pub struct Columns {
    pub header_row: u32,
    pub roles: BTreeMap<u32, Role>,
    /// Every header text by column.
    pub labels: BTreeMap<u32, String>,
}

impl Columns {
    pub fn column(&self, role: Role) -> Option<u32> {
        self.roles.iter().find(|(_, r)| **r == role).map(|(c, _)| *c)
    }
}

/// A wide sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Wide {
    pub columns: Columns,
    /// Item columns with their labels, left to right.
    pub items: Vec<(u32, String)>,
    /// Facts by row role: cell texts by column.
    pub facts: BTreeMap<Role, BTreeMap<u32, String>>,
    /// Rows that are no data: facts and what stands above the header.
    pub other_rows: Vec<u32>,
    /// Columns left out as totals.
    pub totals: Vec<(u32, String)>,
}

/// Looks at the first rows of a sheet.
pub fn find_layout(rows: &[KeptRow]) -> Option<Layout> {
    let (at, columns) = rows
        .iter()
        .enumerate()
        .filter(|(_, (_, cells))| cells.len() > 1 && first_label(cells).is_none())
        .map(|(i, row)| (i, columns_of(row)))
        .filter(|(_, c)| !c.roles.is_empty())
        .max_by_key(|(i, c)| (header_score(c), std::cmp::Reverse(*i)))?;
    let has = |role| columns.column(role).is_some();
    let is_student = has(Role::Id) || has(Role::Name) || has(Role::Given) || has(Role::Family);
    if is_student && has(Role::Item) && (has(Role::Answer) || has(Role::Points)) {
        return Some(Layout::Long(columns));
    }
    if has(Role::Item) && (has(Role::Skill) || has(Role::Key)) && !is_student_sheet(&columns) {
        return Some(Layout::Items(columns));
    }
    if !is_student {
        return None;
    }
    let wide = wide_of(rows, at, columns.clone());
    Some(if wide.items.is_empty() { Layout::Students(columns) } else { Layout::Wide(wide) })
}

/// An id or a name, not just a number column beside `item`.
fn is_student_sheet(columns: &Columns) -> bool {
    columns.column(Role::Name).is_some() || columns.column(Role::Given).is_some()
}

/// Student roles count most; then other known words.
fn header_score(columns: &Columns) -> (usize, usize) {
    let strong = columns
        .roles
        .values()
        .filter(|r| matches!(r, Role::Id | Role::Name | Role::Given | Role::Family | Role::Item))
        .count();
    (strong, columns.roles.len())
}

fn columns_of((number, cells): &KeptRow) -> Columns {
    let mut columns = Columns { header_row: *number, roles: BTreeMap::new(), labels: BTreeMap::new() };
    for (c, cell) in cells {
        let text = cell.shown().into_owned();
        if let Some(role) = role_of(&text) {
            // The first column of a role keeps it: "Class" beside "Teacher" is the homeroom.
            if matches!(role, Role::Total | Role::Other) || columns.column(role).is_none() {
                columns.roles.insert(*c, role);
            } else if role == Role::Homeroom {
                columns.roles.insert(*c, Role::Other);
            }
        }
        columns.labels.insert(*c, text);
    }
    columns
}

/// The role that one of the first cells of a row names, if the row holds item facts.
fn first_label(cells: &[(u32, Cell<'static>)]) -> Option<(u32, Role)> {
    let is_header = cells.iter().any(|(_, cell)| {
        matches!(cell, Cell::Text(t)
            if matches!(role_of(t), Some(Role::Item | Role::Id | Role::Name | Role::Given | Role::Family)))
    });
    if is_header {
        return None;
    }
    cells.iter().take_while(|(c, _)| *c < 8).take(3).find_map(|(c, cell)| match cell {
        Cell::Text(t) => label_row(t).map(|r| (*c, r)),
        _ => None,
    })
}

fn wide_of(rows: &[KeptRow], at: usize, columns: Columns) -> Wide {
    let last_student = columns
        .roles
        .iter()
        .filter(|(_, r)| matches!(r, Role::Id | Role::Name | Role::Given | Role::Family | Role::Homeroom | Role::Grade))
        .map(|(c, _)| *c)
        .max()
        .unwrap_or(0);
    let is_item = |c: u32| !matches!(columns.roles.get(&c), Some(r) if !matches!(r, Role::Item | Role::Answer | Role::Key | Role::Points | Role::Skill | Role::Kind | Role::Stem | Role::Assessment));
    let items: Vec<(u32, String)> = columns
        .labels
        .iter()
        .filter(|(c, label)| {
            is_item(**c) && !label.is_empty() && (**c > last_student || !columns.roles.contains_key(c))
        })
        .map(|(c, label)| (*c, label.clone()))
        .collect();
    let totals = columns
        .roles
        .iter()
        .filter(|(_, r)| **r == Role::Total)
        .map(|(c, _)| (*c, columns.labels.get(c).cloned().unwrap_or_default()))
        .collect();
    let mut facts = BTreeMap::new();
    let mut other_rows: Vec<u32> = rows[..at].iter().map(|(n, _)| *n).collect();
    for (number, cells) in rows {
        if let Some((label_column, role)) = first_label(cells)
            && *number != columns.header_row
        {
            other_rows.push(*number);
            let texts: BTreeMap<u32, String> = cells
                .iter()
                .filter(|(c, _)| *c > label_column)
                .map(|(c, cell)| (*c, cell.shown().into_owned()))
                .collect();
            facts.entry(role).or_insert(texts);
        }
    }
    Wide { columns, items, facts, other_rows, totals }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<KeptRow> {
        let mut rows = Vec::new();
        super::super::text::for_each_row(text, &mut |n, cells| {
            rows.push((n, cells.iter().map(|(c, v)| (*c, v.clone().into_owned())).collect()));
        })
        .unwrap();
        rows
    }

    fn wide(text: &str) -> Wide {
        match find_layout(&rows(text)).unwrap() {
            Layout::Wide(w) => w,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn labels_above_and_below_the_header_are_found() {
        let above = wide(",,skill,4.NF.A.1,4.NF.A.2\n,,key,A,B\nstudent_id,student,class,Q1,Q2\n1,Reko,5P,A,A\n");
        let below = wide("StudentID,Name,Homeroom,Q1,Q2\n,,Key,A,B\n,,Skill,4.NF.A.1,4.NF.A.2\n1,Reko,5P,A,A\n");
        for w in [above, below] {
            assert_eq!(w.items.iter().map(|i| i.1.as_str()).collect::<Vec<_>>(), ["Q1", "Q2"]);
            assert_eq!(w.facts[&Role::Key].values().collect::<Vec<_>>(), ["A", "B"]);
            assert_eq!(w.facts[&Role::Skill].len(), 2);
        }
    }

    #[test]
    fn a_title_is_not_a_header() {
        let w = wide("Grade 5 check,,\nweek of,2026-02-02,\nid,name,Q1,total\n1,Reko,A,1\n");
        assert_eq!(w.columns.header_row, 2);
        assert_eq!(w.items.len(), 1);
        assert_eq!(w.totals.len(), 1);
    }

    #[test]
    fn other_layouts_are_told_apart() {
        assert!(matches!(find_layout(&rows("item,skill,key\nQ1,A,B\n")), Some(Layout::Items(_))));
        assert!(matches!(find_layout(&rows("student id,item,answer\n1,Q1,B\n")), Some(Layout::Long(_))));
        assert!(matches!(find_layout(&rows("id,name,grade\n1,Reko,5\n")), Some(Layout::Students(_))));
        assert!(find_layout(&rows("a,b\n1,2\n")).is_none());
    }
}
