//! One score sheet, read whole: students, item columns, marks.
//!
//! In:  a sheet's rows, one after the other; only the first [`LOOKED_AT`] are kept for a look at the layout.
//! Out: a [`SheetTable`]: marks as small numbers, so that a large sheet stays small.
//! Keeps: totals, repeated headers, section rows and blank rows are no students (`rows_that_are_no_students_are_left_out`);
//! a row without any mark is not taken, a blank among marks omitted (`a_blank_row_is_absent_and_a_blank_cell_omitted`).

use super::ReadLimits;
use super::cell::{Cell, address, column_letters};
use super::layout::{Columns, KeptRow, LOOKED_AT, Layout, Wide, find_layout};
use super::marks::{ColumnFacts, Distinct, judge_column};
use super::notes::Notes;
use super::words::{Role, is_summary};
use sheaf_core::scores::{Item, ItemKind, Mark};
use sheaf_core::skills::{SkillCode, SkillGraph};
use std::collections::HashMap;

/// Distinct cells of a column that are searched one by one before an index is used.
const SEARCHED: usize = 16;

/// A student's row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowStudent {
    pub row: u32,
    pub id: String,
    pub name: String,
    pub grade: String,
    pub homeroom: String,
    pub supports: String,
}

/// A score sheet read whole.
#[derive(Debug)]
pub struct SheetTable {
    pub items: Vec<Item>,
    /// 0-based column of each item.
    pub item_columns: Vec<u32>,
    pub students: Vec<RowStudent>,
    /// For each student and item, 0 for blank or 1 + the place in `marks`.
    pub codes: Vec<u32>,
    pub marks: Vec<Vec<Mark>>,
    pub has_ids: bool,
}

impl SheetTable {
    /// The mark of a student; a blank is omitted where the row holds any mark, else not taken.
    pub fn mark(&self, student: usize, item: usize) -> &Mark {
        static BLANK: Mark = Mark::OMITTED;
        static ABSENT: Mark = Mark::NOT_TAKEN;
        let row = self.row(student);
        match row[item] {
            0 if row.iter().any(|c| *c > 0) => &BLANK,
            0 => &ABSENT,
            code => &self.marks[item][code as usize - 1],
        }
    }

    fn row(&self, student: usize) -> &[u32] {
        let width = self.items.len();
        &self.codes[student * width..(student + 1) * width]
    }
}

/// What a sheet turned out to be.
#[derive(Debug)]
pub enum SheetContent {
    Scores(SheetTable),
    /// Rows of item facts, header included.
    Items(Columns, Vec<KeptRow>),
    Students(Vec<RowStudent>),
    /// Nothing that is understood.
    Other,
}

/// Facts that an items sheet knew before the sheet is read: by label in plain letters.
pub type KnownFacts = HashMap<String, ColumnFacts>;

/// Takes rows as they come.
pub struct SheetBuilder<'n, 'f> {
    limits: ReadLimits,
    notes: &'n mut Notes<'f>,
    kept: Vec<KeptRow>,
    state: State,
    /// Why reading stopped early.
    pub too_large: Option<String>,
    n_rows: usize,
    first_texts: Vec<String>,
}

enum State {
    Looking,
    Wide(Box<Collector>),
    Rows(Layout, Vec<KeptRow>),
    Nothing,
}

impl<'n, 'f> SheetBuilder<'n, 'f> {
    pub fn new(limits: ReadLimits, notes: &'n mut Notes<'f>) -> Self {
        let state = State::Looking;
        SheetBuilder { limits, notes, kept: Vec::new(), state, too_large: None, n_rows: 0, first_texts: Vec::new() }
    }

    /// Takes one row.
    pub fn row(&mut self, number: u32, cells: &[(u32, Cell<'_>)]) {
        self.n_rows += 1;
        if self.too_large.is_some() {
            return;
        }
        if self.n_rows > self.limits.max_rows {
            self.too_large = Some(format!("has more than {} rows", self.limits.max_rows));
            return;
        }
        if cells.len() > self.limits.max_columns {
            self.too_large = Some(format!("has more than {} columns with something in them", self.limits.max_columns));
            return;
        }
        match &mut self.state {
            State::Looking => {
                self.kept.push((number, cells.iter().map(|(c, v)| (*c, v.clone().into_owned())).collect()));
                if self.kept.len() >= LOOKED_AT {
                    self.decide();
                }
            }
            State::Wide(collector) => collector.row(number, cells, self.notes),
            State::Rows(_, rows) => {
                rows.push((number, cells.iter().map(|(c, v)| (*c, v.clone().into_owned())).collect()));
            }
            State::Nothing => {}
        }
    }

    fn decide(&mut self) {
        let kept = std::mem::take(&mut self.kept);
        for (_, cells) in kept.iter().take(8) {
            self.first_texts.extend(cells.iter().take(6).map(|(_, c)| c.shown().into_owned()));
        }
        self.state = match find_layout(&kept) {
            Some(Layout::Wide(wide)) => {
                let mut collector = Collector::new(wide, self.notes);
                for (number, cells) in &kept {
                    if !collector.wide.other_rows.contains(number) {
                        collector.row(*number, cells, self.notes);
                    }
                }
                State::Wide(Box::new(collector))
            }
            Some(layout) => State::Rows(layout, kept),
            None => State::Nothing,
        };
    }

    /// What the sheet was, and the texts near its top (a date may stand there).
    pub fn finish(mut self, graph: &SkillGraph, known: &KnownFacts) -> (SheetContent, Vec<String>) {
        if matches!(self.state, State::Looking) {
            self.decide();
        }
        let content = match self.state {
            State::Wide(collector) => SheetContent::Scores(collector.finish(graph, known, self.notes)),
            State::Rows(Layout::Items(columns), rows) => SheetContent::Items(columns, rows),
            State::Rows(Layout::Long(columns), rows) => {
                SheetContent::Scores(super::long::pivot(&columns, &rows, known, self.notes))
            }
            State::Rows(Layout::Students(columns), rows) => {
                SheetContent::Students(rows.iter().filter_map(|(n, cells)| student_of(&columns, *n, cells)).collect())
            }
            _ => SheetContent::Other,
        };
        (content, self.first_texts)
    }
}

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

/// Collects the rows of a wide sheet.
struct Collector {
    wide: Wide,
    /// For each sheet column, the item's index.
    item_at: HashMap<u32, usize>,
    cells: Vec<ColumnCells>,
    students: Vec<RowStudent>,
    codes: Vec<u32>,
    header_text: String,
}

impl Collector {
    fn new(wide: Wide, notes: &mut Notes<'_>) -> Self {
        for (column, label) in &wide.totals {
            let place = address(wide.columns.header_row, *column);
            notes.note("total-left-out", place, format!("Column \u{201c}{label}\u{201d} sums up others."), "left out");
        }
        let item_at = wide.items.iter().enumerate().map(|(i, (c, _))| (*c, i)).collect();
        let cells = wide.items.iter().map(|_| ColumnCells::default()).collect();
        let header_text = wide.columns.labels.values().cloned().collect::<Vec<_>>().join("\u{1}");
        Collector { wide, item_at, cells, students: Vec::new(), codes: Vec::new(), header_text }
    }

    fn row(&mut self, number: u32, cells: &[(u32, Cell<'_>)], notes: &mut Notes<'_>) {
        if number == self.wide.columns.header_row || self.wide.other_rows.contains(&number) {
            return;
        }
        let first = cells.first().map(|(_, c)| c.shown().into_owned()).unwrap_or_default();
        let student = student_of(&self.wide.columns, number, cells);
        let place = address(number, cells.first().map_or(0, |c| c.0));
        let has_marks = cells.iter().any(|(c, _)| self.item_at.contains_key(c));
        let is_named_summary = student.as_ref().is_some_and(|s| is_summary(&s.id) || is_summary(&s.name));
        if is_summary(&first) || is_named_summary {
            notes.note("summary-row-left-out", place, format!("Row {} sums up others.", number + 1), "left out");
            return;
        }
        let Some(student) = student else {
            if has_marks && cells.len() > 1 {
                let message = format!("Row {} has marks but no student.", number + 1);
                notes.warn("row-without-student", place, message, "left out; fill in the id or the name");
            } else {
                notes.note("section-row-skipped", place, format!("Row {} heads a section.", number + 1), "skipped");
            }
            return;
        };
        if self.is_header_again(cells) {
            notes.note("header-repeated", place, format!("Row {} repeats the header.", number + 1), "skipped");
            return;
        }
        if !has_marks && cells.len() == 1 {
            notes.note("section-row-skipped", place, format!("Row {} heads a section.", number + 1), "skipped");
            return;
        }
        let start = self.codes.len();
        self.codes.resize(start + self.wide.items.len(), 0);
        for (column, cell) in cells {
            if let Some(&item) = self.item_at.get(column) {
                self.codes[start + item] = self.cells[item].code(cell, number) + 1;
            }
        }
        self.students.push(student);
    }

    fn is_header_again(&self, cells: &[(u32, Cell<'_>)]) -> bool {
        cells.len() == self.wide.columns.labels.len()
            && cells.iter().map(|(_, c)| c.shown().into_owned()).collect::<Vec<_>>().join("\u{1}") == self.header_text
    }

    fn finish(self, graph: &SkillGraph, known: &KnownFacts, notes: &mut Notes<'_>) -> SheetTable {
        let labels = unique_labels(&self.wide, notes);
        let (mut items, mut marks) = (Vec::new(), Vec::new());
        for (i, (column, _)) in self.wide.items.iter().enumerate() {
            let mut item = Item::new(&labels[i], 0);
            let fact = |role| self.wide.facts.get(&role).and_then(|row| row.get(column)).map(String::as_str);
            item.skills = fact(Role::Skill).map(|t| skill_codes(t, graph)).unwrap_or_default();
            let mut facts = ColumnFacts {
                key: fact(Role::Key).filter(|k| !k.is_empty()).map(str::to_owned),
                points: fact(Role::Points).and_then(|p| p.replace(',', ".").parse().ok()).filter(|p: &f64| *p > 0.0),
                kind: fact(Role::Kind).and_then(ItemKind::parse),
            };
            if let Some(other) = known.get(&super::facts::label_key(&item.label)) {
                facts.key = facts.key.or_else(|| other.key.clone());
                facts.points = facts.points.or(other.points);
                facts.kind = facts.kind.or(other.kind);
            }
            marks.push(judge_column(&mut item, &facts, &self.cells[i].distinct, *column, notes));
            items.push(item);
        }
        SheetTable {
            items,
            item_columns: self.wide.items.iter().map(|(c, _)| *c).collect(),
            students: self.students,
            codes: self.codes,
            marks,
            has_ids: self.wide.columns.column(Role::Id).is_some(),
        }
    }
}

fn unique_labels(wide: &Wide, notes: &mut Notes<'_>) -> Vec<String> {
    let mut seen: HashMap<String, usize> = HashMap::new();
    wide.items
        .iter()
        .map(|(column, label)| {
            let n = seen.entry(label.clone()).or_insert(0);
            *n += 1;
            if *n == 1 {
                return label.clone();
            }
            let renamed = format!("{label} ({n})");
            let message = format!("Column {} has the label {label} again.", column_letters(*column));
            notes.warn(
                "label-twice",
                address(wide.columns.header_row, *column),
                message,
                &format!("read as {renamed}"),
            );
            renamed
        })
        .collect()
}

/// Codes of a cell: separated by `;`, ` + `, `|`, a line break, or `,`.
pub fn skill_codes(text: &str, graph: &SkillGraph) -> Vec<SkillCode> {
    let mut codes: Vec<SkillCode> = text
        .split([';', '|', '\n', ','])
        .flat_map(|part| part.split(" + "))
        .filter_map(SkillCode::parse)
        .map(|code| graph.resolve(&code))
        .collect();
    let mut seen = std::collections::HashSet::new();
    codes.retain(|c| seen.insert(c.clone()));
    codes
}

/// The student of a row, or `None` where it has neither an id nor a name.
pub fn student_of(columns: &Columns, row: u32, cells: &[(u32, Cell<'_>)]) -> Option<RowStudent> {
    if row == columns.header_row {
        return None;
    }
    let text = |role: Role| -> String {
        columns
            .column(role)
            .and_then(|column| cells.iter().find(|(c, _)| *c == column))
            .map(|(_, cell)| cell.shown().into_owned())
            .unwrap_or_default()
    };
    let (given, family) = (text(Role::Given), text(Role::Family));
    let mut name = text(Role::Name);
    if name.is_empty() {
        name = format!("{given} {family}").trim().to_owned();
    }
    let id = text(Role::Id);
    if id.is_empty() && name.is_empty() {
        return None;
    }
    let id = if id.is_empty() { name.clone() } else { id };
    Some(RowStudent {
        row,
        id,
        name,
        grade: text(Role::Grade),
        homeroom: text(Role::Homeroom),
        supports: text(Role::Supports),
    })
}
