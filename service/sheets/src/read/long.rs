//! Long sheets: one row a response (student, item, answer or points), turned into the same table as a wide sheet.
//!
//! Items come in the order of their first row. Points and keys of an item come from the row's own columns where the sheet has them.
//! A student without a row for an item did not take it; a row with a blank answer is omitted (`a_missing_row_is_not_taken`).
//! Keeps: a second row for the same student and item is an error, the first stays (`a_response_seen_twice_keeps_the_first`);
//! items of two assessments stay apart (`items_of_two_assessments_in_one_long_sheet_stay_apart`).

use super::cell::Cell;
use super::collect::{ColumnCells, tell_damage};
use super::layout::{Columns, KeptRow};
use super::marks::{ColumnFacts, judge_column};
use super::notes::Notes;
use super::people::{RowStudent, StudentColumns};
use super::skills::{skill_codes, tell_typos};
use super::table::{KnownFacts, SheetTable};
use super::wide_items::points_or_scale;
use super::words::{Role, plain};
use sheaf_core::scores::{Item, ItemKind, Mark};
use sheaf_core::skills::SkillGraph;
use std::collections::HashMap;

/// One item as it is gathered.
struct LongItem {
    label: String,
    assessment: String,
    facts: ColumnFacts,
    skills: String,
    /// Row of its first response.
    row: u32,
    cells: ColumnCells,
}

/// What is gathered over the rows.
struct Gathered<'c> {
    columns: &'c Columns,
    people: StudentColumns,
    mark_column: u32,
    items: Vec<LongItem>,
    item_at: HashMap<(String, String), usize>,
    students: Vec<RowStudent>,
    student_at: HashMap<String, usize>,
    /// By student and item: 0 for a blank answer, else 1 + the cell's number.
    marks: HashMap<(usize, usize), u32>,
}

/// Labels of the items, each once.
pub fn labels(columns: &Columns, rows: &[KeptRow]) -> Vec<String> {
    let below = rows.iter().filter(|(n, _)| *n > columns.header_row);
    let mut labels: Vec<String> = below.filter_map(|(_, cells)| text_at(cells, columns.column(Role::Item))).collect();
    labels.sort_unstable();
    labels.dedup();
    labels
}

/// Turns the rows of a long sheet into a table.
pub fn pivot(
    columns: &Columns,
    rows: &[KeptRow],
    graph: &SkillGraph,
    known: &KnownFacts,
    notes: &mut Notes<'_>,
) -> SheetTable {
    let mut gathered = Gathered {
        columns,
        people: StudentColumns::of(columns),
        mark_column: columns.column(Role::Answer).or_else(|| columns.column(Role::Points)).unwrap_or(0),
        items: Vec::new(),
        item_at: HashMap::new(),
        students: Vec::new(),
        student_at: HashMap::new(),
        marks: HashMap::new(),
    };
    for (number, cells) in rows.iter().filter(|(n, _)| *n > columns.header_row) {
        gathered.row(*number, cells, notes);
    }
    gathered.table(graph, known, notes)
}

fn text_at(cells: &[(u32, Cell<'static>)], column: Option<u32>) -> Option<String> {
    let column = column?;
    cells.iter().find(|(c, _)| *c == column).map(|(_, cell)| cell.shown().into_owned())
}

impl Gathered<'_> {
    fn row(&mut self, number: u32, cells: &[(u32, Cell<'static>)], notes: &mut Notes<'_>) {
        let label = text_at(cells, self.columns.column(Role::Item)).filter(|l| !l.is_empty());
        let (Some((student, damage)), Some(label)) = (self.people.student(number, cells), label) else {
            let place = notes.place(number, cells.first().map_or(0, |c| c.0));
            let message = format!("{} names no student or no item.", notes.line_first(number));
            notes.warn("row-without-student", place, message, "left out; fill in what is missing");
            return;
        };
        if self.is_header_again(&label, cells) {
            let place = notes.place(number, cells[0].0);
            notes.note(
                "header-repeated",
                place,
                format!("{} repeats the header.", notes.line_first(number)),
                "skipped",
            );
            return;
        }
        let s = *self.student_at.entry(student.id.clone()).or_insert_with(|| {
            if let Some(damage) = damage {
                tell_damage(damage, &student, number, self.people.id.unwrap_or(0), notes);
            }
            self.students.push(student);
            self.students.len() - 1
        });
        let i = self.item(label, number, cells);
        let cell = cells.iter().find(|(c, _)| *c == self.mark_column).map(|(_, cell)| cell);
        let code = cell.map_or(0, |cell| self.items[i].cells.code(cell, number) + 1);
        if *self.marks.entry((s, i)).or_insert(code) != code {
            let place = notes.place(number, self.mark_column);
            let message =
                format!("{} answers {} again for the same student.", notes.line_first(number), self.items[i].label);
            notes.error("response-twice", place, message, "the first row was kept");
        }
    }

    fn is_header_again(&self, label: &str, cells: &[(u32, Cell<'static>)]) -> bool {
        let same = |column: u32, text: &str| self.columns.labels.get(&column).is_some_and(|l| plain(l) == plain(text));
        self.columns.column(Role::Item).is_some_and(|c| same(c, label))
            && cells.first().is_some_and(|(c, cell)| same(*c, &cell.shown()))
    }

    fn item(&mut self, label: String, number: u32, cells: &[(u32, Cell<'static>)]) -> usize {
        let text = |role| text_at(cells, self.columns.column(role));
        let assessment = text(Role::Assessment).unwrap_or_default();
        let place = (assessment.clone(), label.clone());
        if let Some(i) = self.item_at.get(&place) {
            return *i;
        }
        let has_answers = self.columns.column(Role::Answer).is_some();
        let (points, scale) =
            text(Role::Points).filter(|_| has_answers).map(|p| points_or_scale(&p)).unwrap_or_default();
        let facts = ColumnFacts {
            key: text(Role::Key).filter(|k| !k.is_empty()),
            key_at: self.columns.column(Role::Key).map(|c| (number, c)),
            kind: text(Role::Kind).and_then(|k| ItemKind::parse(&k)),
            points,
            scale,
            ..ColumnFacts::default()
        };
        let skills = text(Role::Skill).unwrap_or_default();
        self.items.push(LongItem { label, assessment, facts, skills, row: number, cells: ColumnCells::default() });
        self.item_at.insert(place, self.items.len() - 1);
        self.items.len() - 1
    }

    fn table(self, graph: &SkillGraph, known: &KnownFacts, notes: &mut Notes<'_>) -> SheetTable {
        let width = self.items.len();
        let labels = labels_apart(&self.items);
        let mut table = SheetTable {
            items: Vec::new(),
            item_columns: vec![self.mark_column; width],
            header_row: self.columns.header_row,
            given: self.items.iter().map(|i| i.facts.clone()).collect(),
            key_places: self.items.iter().map(|i| i.facts.key_at.filter(|_| i.facts.key.is_some())).collect(),
            students: self.students,
            codes: Vec::new(),
            marks: Vec::new(),
            has_ids: self.people.id.is_some(),
            who_column: self.columns.who_column(),
        };
        let skill_column = self.columns.column(Role::Skill).unwrap_or(0);
        for (mut found, label) in self.items.into_iter().zip(labels) {
            if let Some(other) = known.get(&super::facts::label_key(&label)) {
                found.facts.fill(other);
            }
            let mut item = Item { skills: skill_codes(&found.skills, graph), ..Item::new(&label, 0) };
            tell_typos(&item.skills, graph, (found.row, skill_column), notes);
            let mut marks = judge_column(&mut item, &found.facts, &found.cells.distinct, self.mark_column, notes);
            // The last two are what no cell says: a blank answer, and no row at all.
            marks.extend([Mark::OMITTED, Mark::NOT_TAKEN]);
            table.marks.push(marks);
            table.items.push(item);
        }
        let missing = |i: usize| table.marks[i].len() as u32;
        table.codes = (0..table.students.len() * width).map(|at| missing(at % width)).collect();
        for ((s, i), code) in self.marks {
            table.codes[s * width + i] = if code == 0 { missing(i) - 1 } else { code };
        }
        table
    }
}

/// Labels with their assessment where two have the same.
fn labels_apart(items: &[LongItem]) -> Vec<String> {
    let mut n_of: HashMap<&str, usize> = HashMap::new();
    items.iter().for_each(|i| *n_of.entry(i.label.as_str()).or_default() += 1);
    let is_shared = |i: &LongItem| n_of.get(i.label.as_str()).is_some_and(|n| *n > 1) && !i.assessment.is_empty();
    items
        .iter()
        .map(|i| if is_shared(i) { format!("{} ({})", i.label, i.assessment) } else { i.label.clone() })
        .collect()
}
