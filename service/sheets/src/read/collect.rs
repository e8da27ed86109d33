//! The rows of a wide sheet as they come: which are students, which are none, and their cells as small numbers.
//!
//! In:  a [`Wide`] and rows. Out: students, distinct cells of each item column, and notes on every row that was left out.
//! Keeps: totals, repeated headers, section rows and blank rows are no students (`rows_that_are_no_students_are_left_out`); a section's
//! text fills the class of the rows below (`a_section_fills_the_class`); a row whose cells slid to the right is not taken
//! (`a_row_that_slid_is_not_taken`). Not here: what cells mean (`marks`).

use super::cell::{Cell, address};
use super::cell_marks::could_be_mark;
use super::forms::{self, Forms, RowOf};
use super::layout::{KeptRow, Wide, first_label};
use super::look_over::ShownRow;
use super::marks::Distinct;
use super::notes::Notes;
use super::numbers::{number_of, ordinary};
use super::options::options_of;
use super::people::{IdDamage, RowStudent, StudentColumns};
use super::region;
use super::sections::{is_legend, is_section, is_sentence, section_text};
use super::words::{Summary, is_total_word, label_row, plain, summary_of};
use std::collections::HashMap;

/// Distinct cells of a column that are searched one by one before an index is used.
const SEARCHED: usize = 16;
/// Rows shown of each sheet.
const ROWS_SHOWN: usize = 10;
/// An item column that a sheet column is none of.
const NO_ITEM: u32 = u32::MAX;

/// The distinct cells of one column.
#[derive(Default)]
pub struct ColumnCells {
    pub distinct: Vec<Distinct>,
    texts: HashMap<String, u32>,
}

impl ColumnCells {
    /// The number of a cell among the distinct ones, from 0.
    pub fn code(&mut self, cell: &Cell<'_>, row: u32) -> u32 {
        let found = if self.distinct.len() <= SEARCHED {
            self.distinct.iter().position(|d| d.cell == *cell).map(|i| i as u32)
        } else {
            self.texts.get(&index_key(cell)).copied()
        };
        if let Some(code) = found {
            self.distinct[code as usize].count += 1;
            return code;
        }
        let code = self.distinct.len() as u32;
        self.distinct.push(Distinct { cell: cell.clone().into_owned(), first_row: row, count: 1 });
        if self.distinct.len() > SEARCHED {
            if self.texts.is_empty() {
                self.texts = self.distinct.iter().enumerate().map(|(i, d)| (index_key(&d.cell), i as u32)).collect();
            } else {
                self.texts.insert(index_key(cell), code);
            }
        }
        code
    }
}

/// Kind and content of a cell as one text.
fn index_key(cell: &Cell<'_>) -> String {
    match cell {
        Cell::Text(t) => format!("t{t}"),
        other => format!("{other:?}"),
    }
}

/// What a row without an answer of its own turned out to be.
enum RowKind {
    Student(Box<RowStudent>, Option<IdDamage>),
    Left,
}

/// What a row called `Max` is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Max {
    /// There is no such doubt.
    No,
    Child,
    MostPoints,
}

/// What stands right of the last heading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Beyond {
    /// Now and then a cell.
    Cells,
    /// A column that has no heading; it was told.
    Column,
}

/// Collects the rows of a wide sheet.
pub struct Collector<'k> {
    pub wide: Wide,
    pub forms: Forms<'k>,
    people: StudentColumns,
    /// For each sheet column, the item's index or [`NO_ITEM`].
    item_at: Vec<u32>,
    pub cells: Vec<ColumnCells>,
    pub students: Vec<RowStudent>,
    pub codes: Vec<u32>,
    /// The column whose sums are compared, and each student's number in it.
    pub total: Option<(u32, Vec<Option<f64>>)>,
    pub samples: Vec<ShownRow>,
    pub section: String,
    last_heading: u32,
    beyond: Beyond,
    /// Whether a row that sums up the class was seen.
    has_summary: bool,
    /// Rows of facts since the last student; they belong to what comes below.
    label_rows: Vec<(u32, u32)>,
    is_below_a_legend: bool,
    /// Row in which another table begins; nothing is taken from there on.
    pub ends_at: Option<u32>,
}

impl<'k> Collector<'k> {
    /// Begins; `section` is the class that a row above the table names.
    pub fn new(wide: Wide, section: String, forms: Forms<'k>, notes: &mut Notes<'_>) -> Self {
        for (column, label) in &wide.totals {
            let place = notes.place(wide.columns.header_row, *column);
            notes.note("total-left-out", place, format!("Column \u{201c}{label}\u{201d} sums up others."), "left out");
        }
        let last = wide.items.iter().map(|(c, _)| *c).max().unwrap_or(0);
        let mut item_at = vec![NO_ITEM; last as usize + 1];
        wide.items.iter().enumerate().for_each(|(i, (c, _))| item_at[*c as usize] = i as u32);
        let total = wide.totals.iter().find(|(_, label)| super::totals::is_sum(label)).map(|(c, _)| (*c, Vec::new()));
        Collector {
            people: StudentColumns::of(&wide.columns),
            forms,
            item_at,
            cells: wide.items.iter().map(|_| ColumnCells::default()).collect(),
            students: Vec::new(),
            codes: Vec::new(),
            total,
            samples: Vec::new(),
            section,
            label_rows: Vec::new(),
            is_below_a_legend: false,
            ends_at: None,
            last_heading: wide.columns.labels.keys().max().copied().unwrap_or(0),
            beyond: Beyond::Cells,
            has_summary: false,
            wide,
        }
    }

    /// Looks at the first rows: where most have a cell right of the last heading, and marks under the first item, that is a column
    /// without a heading, and no row has slid.
    pub fn look_beyond(&mut self, rows: &[KeptRow], notes: &mut Notes<'_>) {
        let column = self.last_heading + 1;
        let first_item = self.wide.items.iter().map(|(c, _)| *c).min().unwrap_or(0);
        let is_student = |(n, cells): &&KeptRow| {
            *n > self.wide.columns.header_row
                && !self.wide.other_rows.contains(n)
                && self.people.student(*n, cells).is_some()
        };
        let is_of_this = |(n, cells): &&KeptRow| *n <= self.wide.columns.header_row || !self.begins_a_table(cells);
        let rows: Vec<&KeptRow> = rows.iter().take_while(is_of_this).filter(is_student).collect();
        let n_beyond = rows.iter().filter(|(_, cells)| cells.iter().any(|(c, _)| *c == column)).count();
        let first: Vec<&Cell<'_>> =
            rows.iter().filter_map(|(_, cells)| cells.iter().find(|(c, _)| *c == first_item)).map(|(_, c)| c).collect();
        let n_marks = first.iter().filter(|cell| could_be_mark(cell)).count();
        if n_beyond * 2 > rows.len() && rows.len() > 1 && n_marks * 2 > first.len() {
            self.beyond = Beyond::Column;
            let place = notes.place(self.wide.columns.header_row, column);
            let message = format!("{} has no heading.", notes.lane_first(column));
            notes.warn("column-without-heading", place, message, "not read; give it a heading if it is an item");
        }
    }

    fn item(&self, column: u32) -> Option<usize> {
        self.item_at.get(column as usize).filter(|i| **i != NO_ITEM).map(|i| *i as usize)
    }

    pub fn row(&mut self, number: u32, cells: &[(u32, Cell<'_>)], notes: &mut Notes<'_>) {
        let is_above = number == self.wide.columns.header_row || self.wide.other_rows.contains(&number);
        if is_above || cells.is_empty() || self.ends_at.is_some() {
            return;
        }
        if !self.label_rows.is_empty() && first_label(cells).is_none() && !self.begins_a_table(cells) {
            self.tell_label_rows(notes);
        }
        let RowKind::Student(mut student, damage) = self.kind(number, cells, notes) else { return };
        match self.forms.row_of(&student.form) {
            RowOf::This => {}
            RowOf::Another => return,
            RowOf::Nobody => {
                let message = format!("No ticket with the form code {} was handed out.", forms::written(&student.form));
                let action = "the row is not taken; correct the code";
                return notes.error("form-unknown", notes.place(number, cells[0].0), message, action);
            }
        }
        if student.homeroom.is_empty() {
            student.homeroom.clone_from(&self.section);
        }
        if let Some(damage) = damage {
            tell_damage(damage, &student, number, self.people.id.unwrap_or(0), notes);
        }
        let has_slid = self.tell_beyond(number, cells, notes);
        if has_slid {
            // What stands behind the name has slid, too.
            student.grade.clear();
            student.homeroom.clear();
            student.supports.clear();
        }
        let start = self.codes.len();
        self.codes.resize(start + self.wide.items.len(), 0);
        if !has_slid {
            for (column, cell) in cells {
                if let Some(item) = self.item(*column) {
                    self.codes[start + item] = self.cells[item].code(cell, number) + 1;
                }
            }
        }
        if let Some((column, totals)) = &mut self.total {
            totals.push(cells.iter().find(|(c, _)| c == column).and_then(|(_, cell)| number_in(cell)));
        }
        self.sample(number, cells);
        self.students.push(*student);
    }

    fn kind(&mut self, number: u32, cells: &[(u32, Cell<'_>)], notes: &mut Notes<'_>) -> RowKind {
        let place = notes.place(number, cells[0].0);
        let found = self.people.student(number, cells);
        let max = found.as_ref().map_or(Max::No, |(s, _)| self.max(&s.name, cells));
        if max == Max::MostPoints {
            let message = format!("{} holds the most points of every item.", notes.line_first(number));
            let action = "left out as a summary; give the children ids if Max is a child";
            notes.warn("name-or-points", place, message, action);
            return RowKind::Left;
        }
        let is_child_max = max == Max::Child;
        if !is_child_max && self.is_summary(cells, found.as_ref().map(|(s, _)| s)) {
            self.has_summary = true;
            return left("summary-row-left-out", number, place, "sums up others", notes);
        }
        let id = self.people.id_in(cells);
        let is_of_facts = |name: &str| label_row(if id.is_empty() { name } else { &id }).is_some();
        let Some((student, damage)) = found.filter(|(s, _)| is_child_max || !is_of_facts(&s.name)) else {
            self.no_student(number, cells, place, notes);
            return RowKind::Left;
        };
        if self.is_header_again(cells) {
            if region::is_another(&self.wide.headings, &region::headings(cells)) {
                self.ends_at = Some(self.label_rows.first().map_or(number, |(row, _)| *row));
                return RowKind::Left;
            }
            return left("header-repeated", number, place, "repeats the header", notes);
        }
        let has_marks = cells.iter().any(|(c, _)| self.item(*c).is_some());
        if !has_marks && cells.len() == 1 && self.is_remark(&cells[0].1.shown()) {
            return left("remark-row-left-out", number, place, "explains something and names no child", notes);
        }
        self.is_below_a_legend &= !has_marks;
        if !has_marks && cells.len() == 1 && is_section(&student.name, &student.id, self.people.id.is_some()) {
            self.begin_section(number, cells, place, notes);
            return RowKind::Left;
        }
        RowKind::Student(Box::new(student), damage)
    }

    /// What `Max` is in a sheet of names alone: the first of the children and what follows a summary are judged elsewhere.
    fn max(&self, name: &str, cells: &[(u32, Cell<'_>)]) -> Max {
        if self.people.id.is_some() || self.students.is_empty() || self.has_summary || plain(name) != "max" {
            return Max::No;
        }
        let most = |item: usize| self.cells[item].distinct.iter().filter_map(|d| number_in(&d.cell)).reduce(f64::max);
        let mut marks = cells.iter().filter_map(|(c, cell)| self.item(*c).map(|item| (number_in(cell), most(item))));
        if marks.all(|(mark, most)| mark.zip(most).is_some_and(|(mark, most)| mark >= most)) {
            Max::MostPoints
        } else {
            Max::Child
        }
    }

    /// A sentence, the word over a legend, or what stands below it.
    fn is_remark(&mut self, text: &str) -> bool {
        self.is_below_a_legend |= is_legend(text);
        self.is_below_a_legend || is_sentence(text)
    }

    /// A sum or average by its first text or its name; a doubtful word counts where no id stands in the row.
    fn is_summary(&self, cells: &[(u32, Cell<'_>)], student: Option<&RowStudent>) -> bool {
        if let Some(student) = student.filter(|s| s.id != s.name && s.id.bytes().any(|b| b.is_ascii_digit())) {
            // Beside an id only the bare word counts: Ana Sum is a child.
            return is_total_word(&student.name);
        }
        let first = cells[0].1.shown();
        let of_name = student.map_or(Summary::No, |s| summary_of(&s.name));
        let of_id = student.map_or(Summary::No, |s| if s.id == s.name { Summary::No } else { summary_of(&s.id) });
        let has_id = self.people.id.is_some_and(|column| cells.iter().any(|(c, _)| *c == column));
        let is_sure = |s: Summary| s == Summary::Sure || (s == Summary::Weak && !has_id);
        is_sure(summary_of(&first)) || is_sure(of_name) || of_id != Summary::No
    }

    fn no_student(&mut self, number: u32, cells: &[(u32, Cell<'_>)], place: String, notes: &mut Notes<'_>) {
        if first_label(cells).is_some() {
            self.label_rows.push((number, cells[0].0));
            return;
        }
        let has_marks = cells.iter().any(|(c, _)| self.item(*c).is_some());
        if has_marks && cells.len() > 1 {
            let message = format!("{} has marks but no student.", notes.line_first(number));
            notes.warn("row-without-student", place, message, "left out; fill in the id or the name");
        } else {
            self.begin_section(number, cells, place, notes);
        }
    }

    fn begin_section(&mut self, number: u32, cells: &[(u32, Cell<'_>)], place: String, notes: &mut Notes<'_>) {
        let message = format!("{} heads a section.", notes.line_first(number));
        match section_text(&cells[0].1.shown()) {
            Some(text) => {
                let action = format!("skipped; rows below without a class are in {text}");
                self.section = text;
                notes.note("section-row-skipped", place, message, &action);
            }
            None => notes.note("section-row-skipped", place, message, "skipped"),
        }
    }

    /// Says that rows of facts stand below the students, since no other table begins there.
    pub fn tell_label_rows(&mut self, notes: &mut Notes<'_>) {
        for (number, column) in std::mem::take(&mut self.label_rows) {
            let message = format!("{} repeats facts of items.", notes.line_first(number));
            notes.note("label-row-repeated", notes.place(number, column), message, "skipped");
        }
    }

    /// The headings of students again, over other items.
    fn begins_a_table(&self, cells: &[(u32, Cell<'_>)]) -> bool {
        self.is_header_again(cells) && region::is_another(&self.wide.headings, &region::headings(cells))
    }

    /// A row that repeats the headings of its students' columns.
    fn is_header_again(&self, cells: &[(u32, Cell<'_>)]) -> bool {
        let (mut n, mut n_same) = (0, 0);
        for (column, cell) in cells.iter().filter(|(c, _)| self.people.names_a_student(*c)) {
            n += 1;
            let Cell::Text(text) = cell else { return false };
            let label = self.wide.columns.labels.get(column).map_or("", String::as_str);
            n_same += usize::from(label.len() <= text.len() + 8 && plain(label) == plain(text));
        }
        n > 0 && n_same == n
    }

    /// Says what stands right of the last heading; `true` where the row's marks seem to have slid there.
    fn tell_beyond(&self, number: u32, cells: &[(u32, Cell<'_>)], notes: &mut Notes<'_>) -> bool {
        let is_told = |c: u32| self.beyond == Beyond::Column && c == self.last_heading + 1;
        let is_beyond = |(c, _): &&(u32, Cell<'_>)| *c > self.last_heading && !is_told(*c);
        let Some((column, cell)) = cells.last().filter(is_beyond) else { return false };
        let place = notes.place(number, *column);
        let has_slid = *column == self.last_heading + 1 && notes.is_text() && is_like_a_mark(cell);
        if has_slid {
            let message = format!(
                "{} has a cell more than there are headings, perhaps by a comma inside a name.",
                notes.line_first(number)
            );
            notes.error("row-slid", place, message, "its marks are not taken; put the name into quotation marks");
        } else {
            let message = format!("{} has no heading.", address(number, *column));
            notes.warn("cell-without-heading", place, message, "not read");
        }
        has_slid
    }

    fn sample(&mut self, number: u32, cells: &[(u32, Cell<'_>)]) {
        if self.samples.len() < ROWS_SHOWN {
            self.samples.push(shown_row(number, cells, self.wide.columns.labels.keys().copied()));
        }
    }
}

/// Notes why a row is left out.
fn left(code: &'static str, number: u32, place: String, what: &str, notes: &mut Notes<'_>) -> RowKind {
    let message = format!("{} {what}.", notes.line_first(number));
    notes.note(code, place, message, "left out");
    RowKind::Left
}

/// A row as the sheet shows it, under these columns.
pub fn shown_row(number: u32, cells: &[(u32, Cell<'_>)], columns: impl Iterator<Item = u32>) -> ShownRow {
    let text = |column| {
        cells.iter().find(|(c, _)| *c == column).map(|(_, cell)| cell.shown().into_owned()).unwrap_or_default()
    };
    ShownRow { row: number + 1, cells: columns.map(text).collect() }
}

fn number_in(cell: &Cell<'_>) -> Option<f64> {
    match cell {
        Cell::Number { value, is_percent: false, .. } => Some(*value),
        Cell::Text(t) => number_of(&ordinary(super::cell::trim(t)), true),
        _ => None,
    }
}

fn is_like_a_mark(cell: &Cell<'_>) -> bool {
    match cell {
        Cell::Number { .. } | Cell::Bool(_) => true,
        Cell::Text(t) => {
            let text = ordinary(super::cell::trim(t));
            number_of(&text, true).is_some() || options_of(&text).is_some()
        }
        _ => false,
    }
}

pub fn tell_damage(damage: IdDamage, student: &RowStudent, row: u32, column: u32, notes: &mut Notes<'_>) {
    let (code, what) = match damage {
        IdDamage::Exponent => ("id-damaged", "was turned into a number with an exponent by a spreadsheet"),
        IdDamage::Digits => ("id-too-long", "has more digits than a number cell keeps"),
        IdDamage::NoId => ("id-damaged", "is an error value or a date"),
        IdDamage::Missing => {
            let message = format!("{} has no id.", notes.line_first(row));
            notes.warn("id-missing", notes.place(row, column), message, "the name serves as id; fill in the id");
            return;
        }
    };
    let action = if student.id == student.name && !student.name.is_empty() {
        "the name serves as id; format the column as text and enter the id again"
    } else {
        "used as it is; format the column as text and enter it again"
    };
    notes.error(code, notes.place(row, column), format!("The id of {} {what}.", notes.line(row)), action);
}
