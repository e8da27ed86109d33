//! Several tables on one sheet: beside each other, or one below the other with headings of its own.
//!
//! In:  the row of headings and the rows below. Out: a [`Region`]: the part of a sheet that one table takes. Another table beside begins
//! where the first heading of a student stands again and items follow; another one below, where the headings of students stand again
//! over other items. Tables with students across begin where their corner stands again (`across`). Each is read by its own headings, so that no mark goes to another child or item.
//! Keeps: `two_tables_beside_each_other_are_two`, `a_table_below_with_other_items_is_another`, `a_repeated_header_begins_no_table`.
//! Not here: reading the regions one after the other (`files`).

use super::cell::Cell;
use super::layout::{KeptRow, first_label};
use super::words::{plain, role_of};
use std::collections::BTreeMap;

/// Tables of one sheet that are read.
pub const MOST_TABLES: usize = 20;

/// The part of a sheet that a table takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Region {
    pub first_row: u32,
    /// The row below the last one.
    pub end_row: u32,
    pub first_column: u32,
    /// The column behind the last one.
    pub end_column: u32,
    /// The class that a row above names.
    pub section: String,
    /// The form code of the rows that are taken; `None`: those without one.
    pub form: Option<String>,
}

impl Region {
    /// A whole sheet.
    pub fn whole() -> Self {
        Region {
            first_row: 0,
            end_row: u32::MAX,
            first_column: 0,
            end_column: u32::MAX,
            section: String::new(),
            form: None,
        }
    }

    /// The cells of a row that lie in it.
    pub fn within<'a, 'c>(&self, number: u32, cells: &'a [(u32, Cell<'c>)]) -> &'a [(u32, Cell<'c>)] {
        if number < self.first_row || number >= self.end_row {
            return &[];
        }
        let from = cells.partition_point(|(c, _)| *c < self.first_column);
        let to = cells.partition_point(|(c, _)| *c < self.end_column);
        &cells[from..to.max(from)]
    }
}

fn names_a_student(cell: &Cell<'_>) -> bool {
    matches!(cell, Cell::Text(t) if role_of(super::cell::trim(t)).is_some_and(|r| r.names_a_student()))
}

fn may_be_item(cell: &Cell<'_>) -> bool {
    role_of(&cell.shown()).is_none()
}

/// The column in which another table begins beside the first.
pub fn beside((_, cells): &KeptRow) -> Option<u32> {
    let first = cells.iter().position(|(_, cell)| names_a_student(cell))?;
    let heading = plain(&cells[first].1.shown());
    let again = |i: &usize| {
        let (before, after) = (&cells[first..*i], &cells[i + 1..]);
        plain(&cells[*i].1.shown()) == heading
            && before.iter().any(|(_, c)| may_be_item(c))
            && after.iter().any(|(_, c)| may_be_item(c))
    };
    (first + 1..cells.len()).find(again).map(|i| cells[i].0)
}

/// The rows, up to a column.
pub fn up_to(rows: &[KeptRow], column: u32) -> Vec<KeptRow> {
    let cut = |(n, cells): &KeptRow| (*n, cells.iter().filter(|(c, _)| *c < column).cloned().collect::<Vec<_>>());
    rows.iter().map(cut).filter(|(_, cells)| !cells.is_empty()).collect()
}

/// Headings of what may be items, in plain letters by column.
pub fn headings(cells: &[(u32, Cell<'_>)]) -> BTreeMap<u32, String> {
    cells.iter().filter(|(_, cell)| may_be_item(cell)).map(|(c, cell)| (*c, plain(&cell.shown()))).collect()
}

/// The place among the rows where a table of other items begins, its rows of facts included.
pub fn below(rows: &[KeptRow], at: usize) -> Option<usize> {
    let students: BTreeMap<u32, String> = students_of(&rows[at].1);
    let items = headings(&rows[at].1);
    let other = (at + 1..rows.len()).find(|i| {
        let cells = &rows[*i].1;
        !students.is_empty() && students_of(cells) == students && is_another(&items, &headings(cells))
    })?;
    let is_fact = |i: &usize| first_label(&rows[*i].1).is_some() && rows[*i].0 + 1 == rows[i + 1].0;
    Some((at + 1..other).rev().take_while(is_fact).last().unwrap_or(other))
}

fn students_of(cells: &[(u32, Cell<'_>)]) -> BTreeMap<u32, String> {
    cells.iter().filter(|(_, c)| names_a_student(c)).map(|(c, cell)| (*c, plain(&cell.shown()))).collect()
}

/// Whether headings are those of other items; fewer of the same are not.
pub fn is_another(items: &BTreeMap<u32, String>, headings: &BTreeMap<u32, String>) -> bool {
    headings.iter().any(|(c, text)| items.get(c) != Some(text))
}

#[cfg(test)]
mod tests {
    use super::super::tests::read_text;

    fn classes(text: &str) -> Vec<String> {
        let reading = read_text(&[("f.csv", text)]);
        let table = &reading.table;
        let marks = |s: usize| {
            let items = (0..table.n_items()).filter_map(|i| {
                let points = table.mark(s, i).points?;
                Some(format!("{}={points}", table.items()[i].label))
            });
            items.collect::<Vec<_>>().join(" ")
        };
        table.students().iter().enumerate().map(|(s, st)| format!("{} {}: {}", st.id, st.homeroom, marks(s))).collect()
    }

    #[test]
    fn two_tables_beside_each_other_are_two() {
        let text =
            ",points,2,1,,,,\nid,name,Q1,Q2,,id,name,Q1,Q2\n1,Ann,2,0,,3,Cy,1,1\n2,Bo,1,1,,4,Di,0,1\n,,,,,5,Eva,2,0\n";
        let want = ["1 : Q1=2 Q2=0", "2 : Q1=1 Q2=1", "3 : Q1=1 Q2=1", "4 : Q1=0 Q2=1", "5 : Q1=2 Q2=0"];
        assert_eq!(classes(text), want);
    }

    #[test]
    fn a_table_below_with_other_items_is_another() {
        let text = "id,name,Q1,Q2\n1,Ann,1,0\n\nRoom 5\n,points,3,1\nid,name,Q2,Q7\n2,Bo,3,1\n";
        assert_eq!(classes(text), ["1 : Q1=1 Q2=0", "2 Room 5: Q2 (f A6)=3 Q7=1"]);
        let far: String = (0..60).map(|n| format!("{n},Child {n},1,0\n")).collect();
        let text = format!("id,name,Q1,Q2\n{far}\n,points,3,1\nid,name,Q2,Q7\n99,Bo,3,1\n");
        assert_eq!(classes(&text).last().unwrap(), "99 : Q2 (f A64)=3 Q7=1");
    }

    #[test]
    fn a_repeated_header_begins_no_table() {
        let text = "id,name,Q1,Q2,Total\n1,Ann,1,0,1\nid,name,Q1,Q2\n2,Bo,1,1,2\n";
        assert_eq!(classes(text), ["1 : Q1=1 Q2=0", "2 : Q1=1 Q2=1"]);
        let text = "name,Q1,Q2,name\nAnn,1,0,Ann\nBo,1,1,Bo\n";
        assert_eq!(classes(text), ["Ann : Q1=1 Q2=0", "Bo : Q1=1 Q2=1"]);
    }
}
