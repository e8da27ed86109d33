//! One score sheet, read whole: students, item columns, marks.
//!
//! In:  a sheet's rows, one after the other; only the first [`LOOKED_AT`] are kept for a look at the layout, unless students run across.
//! Out: a [`SheetTable`]: marks as small numbers, so that a large sheet stays small; and what people look over.
//! Keeps: a row without any mark is not taken, a blank among marks omitted (`a_blank_row_is_absent_and_a_blank_cell_omitted`).
//! Not here: which rows are students (`collect`), where the headings are (`layout`).

use super::asked::{KnownTicket, LayoutKey, Orientation, RememberedItems, remembered_for};
use super::cell::{Cell, column_letters};
use super::collect::{Collector, shown_row};
use super::facts::{self, ItemFacts};
use super::forms::{self, Forms};
use super::layout::{
    Columns, Found, KeptRow, LOOKED_AT, Layout, Remark, Said, Verdict, across, find_layout, find_turned, use_of,
};
use super::look_over::{ColumnReading, LeftOutReason, SheetShape, ShownRow};
use super::marks::ColumnFacts;
use super::notes::Notes;
use super::people::{RowStudent, StudentColumns};
use super::region::{self, Region};
use super::wide_items;
use super::words::is_date;
use super::{ReadError, ReadLimits, long, totals};
use sheaf_core::scores::{Item, Mark};
use sheaf_core::skills::SkillGraph;
use std::collections::{BTreeSet, HashMap};

/// Rows shown of a sheet that was not read.
const ROWS_SHOWN: usize = 10;
/// Rows, and cells of each, in which a date is the sheet's.
const ROWS_DATED: usize = 8;
const CELLS_DATED: usize = 6;

/// A score sheet read whole.
#[derive(Debug)]
pub struct SheetTable {
    pub items: Vec<Item>,
    /// 0-based column of each item.
    pub item_columns: Vec<u32>,
    /// Row of the headings.
    pub header_row: u32,
    /// What the sheet gives of each item.
    pub given: Vec<ColumnFacts>,
    /// Where the key of each item stands, if the sheet gives it.
    pub key_places: Vec<Option<(u32, u32)>>,
    pub students: Vec<RowStudent>,
    /// For each student and item, 0 for blank or 1 + the place in `marks`.
    pub codes: Vec<u32>,
    pub marks: Vec<Vec<Mark>>,
    pub has_ids: bool,
    /// Column that says who a row is about: the id's, else the name's.
    pub who_column: u32,
}

impl SheetTable {
    /// The mark of a student; a blank is omitted where both the row and the item's column hold any mark, else not taken.
    pub fn mark(&self, student: usize, item: usize) -> &Mark {
        static BLANK: Mark = Mark::OMITTED;
        static ABSENT: Mark = Mark::NOT_TAKEN;
        let row = self.row(student);
        match row[item] {
            0 if !self.marks[item].is_empty() && row.iter().any(|c| *c > 0) => &BLANK,
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
    Scores(SheetTable, Shown),
    /// Rows of item facts, header included.
    Items(Columns, Vec<KeptRow>),
    Students(Vec<RowStudent>),
    /// Not read, and why.
    Other(LeftOutReason),
}

/// What people look over.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    pub shape: SheetShape,
    pub orientation: Orientation,
    pub header_row: u32,
    pub columns: Vec<ColumnReading>,
    pub rows: Vec<ShownRow>,
}

/// A sheet whose rows are all seen.
#[derive(Debug)]
pub struct Finished {
    pub content: SheetContent,
    pub key: Option<LayoutKey>,
    /// Texts that may date the sheet.
    pub first_texts: Vec<String>,
    /// The first rows as they are.
    pub first_rows: Vec<ShownRow>,
    /// Facts typed before that apply.
    pub remembered: Vec<ItemFacts>,
    /// Other tables of the sheet, to be read next.
    pub others: Vec<Region>,
}

/// What is known before a sheet is read.
#[derive(Debug)]
pub struct Background<'a> {
    pub graph: &'a SkillGraph,
    pub known: KnownFacts,
    pub remembered: &'a [RememberedItems],
    /// Facts of the first table of the sheet; they hold for another one of exactly these items.
    pub first_table: &'a [ItemFacts],
}

impl<'a> Background<'a> {
    /// Skills alone.
    pub fn nothing(graph: &'a SkillGraph) -> Self {
        Background { graph, known: KnownFacts::new(), remembered: &[], first_table: &[] }
    }

    /// Adds facts typed for this layout where the sheet has exactly their items; gives what was added.
    fn with_remembered(&self, key: Option<&LayoutKey>, labels: &[&str]) -> (KnownFacts, Vec<ItemFacts>) {
        let mut known = self.known.clone();
        let has_these = |r: &RememberedItems| is_same_set(r.items.iter().map(|i| i.label.as_str()), labels);
        let Some(found) = key.and_then(|k| remembered_for(self.remembered, k, has_these)) else {
            return (known, Vec::new());
        };
        let facts = facts::remembered(&found.items);
        facts::fill(&mut known, &facts);
        (known, facts)
    }
}

fn is_same_set<'a>(items: impl Iterator<Item = &'a str>, labels: &[&str]) -> bool {
    let known: BTreeSet<String> = items.map(facts::label_key).collect();
    let here: BTreeSet<String> = labels.iter().map(|l| facts::label_key(l)).collect();
    !here.is_empty() && known == here
}

/// Facts that an items sheet knew before the sheet is read: by label in plain letters.
pub type KnownFacts = HashMap<String, ColumnFacts>;

/// Takes rows as they come.
pub struct SheetBuilder<'n, 'f> {
    limits: ReadLimits,
    said: Said<'n>,
    notes: &'n mut Notes<'f>,
    kept: Vec<KeptRow>,
    state: State<'n>,
    key: Option<LayoutKey>,
    /// Why reading stopped early.
    too_large: Option<String>,
    n_rows: usize,
    first_texts: Vec<String>,
    first_rows: Vec<ShownRow>,
    region: Region,
    /// Other tables of the sheet.
    others: Vec<Region>,
}

enum State<'k> {
    Looking,
    Wide(Box<Collector<'k>>),
    Rows(Layout, Vec<KeptRow>),
    /// Students run across: every row is kept, to be turned at the end.
    Turning(Vec<KeptRow>),
    Nothing(LeftOutReason),
}

fn owned(number: u32, cells: &[(u32, Cell<'_>)]) -> KeptRow {
    (number, cells.iter().map(|(c, v)| (*c, v.clone().into_owned())).collect())
}

/// Texts that may date the sheet: those down to the headings, and those under a heading that says so. No answer dates a sheet.
fn dated_texts(columns: &Columns, rows: &[KeptRow]) -> Vec<String> {
    let is_dated = |c: &u32| columns.labels.get(c).is_some_and(|label| is_date(label));
    let texts = rows.iter().take(ROWS_DATED).flat_map(|(n, cells)| {
        let above = cells.iter().take(CELLS_DATED).filter(|_| *n <= columns.header_row);
        let below = cells.iter().filter(|(c, _)| *n > columns.header_row && is_dated(c));
        above.chain(below)
    });
    texts.map(|(_, cell)| cell.shown().into_owned()).collect()
}

impl<'n, 'f> SheetBuilder<'n, 'f> {
    pub fn new(limits: ReadLimits, said: Said<'n>, notes: &'n mut Notes<'f>) -> Self {
        SheetBuilder {
            limits,
            said,
            notes,
            kept: Vec::new(),
            state: State::Looking,
            key: None,
            too_large: None,
            n_rows: 0,
            first_texts: Vec::new(),
            first_rows: Vec::new(),
            region: Region::whole(),
            others: Vec::new(),
        }
    }

    /// The same for a part of the sheet.
    pub fn of(self, region: Region) -> Self {
        SheetBuilder { region, ..self }
    }

    /// Takes one row.
    pub fn row(&mut self, number: u32, cells: &[(u32, Cell<'_>)]) {
        self.n_rows += 1;
        if self.too_large.is_some() || self.is_too_large(cells.len()) {
            return;
        }
        let cells = self.region.within(number, cells);
        if cells.is_empty() {
            return;
        }
        match &mut self.state {
            State::Looking => {
                self.kept.push(owned(number, cells));
                if self.kept.len() >= LOOKED_AT {
                    self.decide();
                }
            }
            State::Wide(collector) => collector.row(number, cells, self.notes),
            State::Rows(_, rows) | State::Turning(rows) => rows.push(owned(number, cells)),
            State::Nothing(_) => {}
        }
    }

    /// Refuses a sheet that went beyond a limit: half of it is not to be taken for the whole.
    ///
    /// # Errors
    /// [`ReadError`] that names the file and the limit.
    pub fn refuse_too_large(&self, file: &str) -> Result<(), ReadError> {
        let Some(why) = &self.too_large else { return Ok(()) };
        let message = format!("{file} {why}; split it into a file for each class.");
        Err(ReadError { code: "file-too-large", message })
    }

    fn is_too_large(&mut self, n_cells: usize) -> bool {
        if self.n_rows > self.limits.max_rows {
            self.too_large = Some(format!("has more than {} rows", self.limits.max_rows));
        } else if n_cells > self.limits.max_columns {
            self.too_large = Some(format!("has more than {} columns with something in them", self.limits.max_columns));
        }
        self.too_large.is_some()
    }

    fn decide(&mut self) {
        let kept = std::mem::take(&mut self.kept);
        self.first_rows = kept
            .iter()
            .take(ROWS_SHOWN)
            .map(|(n, cells)| shown_row(*n, cells, 0..=cells.last().map_or(0, |(c, _)| *c).min(600)))
            .collect();
        let Found { verdict, key, remarks, beside } = find_layout(&kept, self.said);
        self.key = key;
        self.tell(remarks);
        if let Some(column) = beside {
            self.others.push(Region { first_column: column, ..self.region.clone() });
            self.region.end_column = column;
        }
        self.state = self.start(verdict, kept);
    }

    fn start(&mut self, verdict: Verdict, kept: Vec<KeptRow>) -> State<'n> {
        if let Verdict::Read(layout) = &verdict {
            self.first_texts = dated_texts(layout.columns(), &kept);
        }
        match verdict {
            Verdict::Read(Layout::Wide(wide)) => {
                let forms = Forms::new(self.said.tickets, self.region.form.clone());
                let mut collector = Collector::new(*wide, self.region.section.clone(), forms, self.notes);
                collector.look_beyond(&kept, self.notes);
                for (number, cells) in &kept {
                    collector.row(*number, self.region.within(*number, cells), self.notes);
                }
                State::Wide(Box::new(collector))
            }
            Verdict::Read(layout) => State::Rows(layout, kept),
            Verdict::Turn => State::Turning(kept),
            Verdict::LeftOut(reason) => State::Nothing(reason),
        }
    }

    fn tell(&mut self, remarks: Vec<Remark>) {
        for r in remarks {
            let place = self.notes.place(r.at.0, r.at.1);
            self.notes.add(r.severity, r.code, place, r.message, &r.action);
        }
    }

    /// What the sheet was.
    pub fn finish(mut self, background: &Background<'_>) -> Finished {
        if matches!(self.state, State::Looking) {
            self.decide();
        }
        let orientation = self.turn_if_needed();
        let labels = labels_in(&self.state);
        let labels: Vec<&str> = labels.iter().map(String::as_str).collect();
        let (mut known, mut remembered) = background.with_remembered(self.key.as_ref(), &labels);
        if !remembered.is_empty() {
            let message = format!("{} items of this layout were described before.", remembered.len());
            self.notes.note(
                "facts-remembered",
                "",
                message,
                "what was said of them is used where the sheet says nothing",
            );
        }
        // Each ticket has its own key, which is none of another's.
        if self.region.form.is_none() && is_same_set(background.first_table.iter().map(|f| f.label.as_str()), &labels) {
            facts::fill(&mut known, background.first_table);
            remembered.extend_from_slice(background.first_table);
        }
        if let Some(ticket) = self.ticket() {
            let of_ticket = forms::facts(ticket, &labels);
            self.tell_ticket(&ticket.form_code);
            facts::fill(&mut known, &of_ticket);
            remembered.extend(of_ticket);
        }
        self.end_table();
        let (first_texts, first_rows, others) = (self.first_texts, self.first_rows, self.others);
        let about = About { orientation, graph: background.graph, known: &known };
        let content = match self.state {
            State::Wide(collector) => wide_scores(*collector, &about, self.notes),
            State::Rows(Layout::Items(columns), rows) => SheetContent::Items(columns, rows),
            State::Rows(Layout::Long(columns), rows) => long_scores(&columns, &rows, &about, self.notes),
            State::Rows(Layout::Students(columns), rows) => SheetContent::Students(students_in(&columns, &rows)),
            State::Nothing(reason) => SheetContent::Other(reason),
            _ => SheetContent::Other(LeftOutReason::NoHeadings),
        };
        Finished { content, key: self.key, first_texts, first_rows, remembered, others }
    }

    /// The ticket whose rows these are: by their code, or by the one above the headings.
    fn ticket(&self) -> Option<&'n KnownTicket> {
        match &self.region.form {
            Some(code) => forms::ticket(self.said.tickets, code),
            None => forms::ticket_above(self.said.tickets, &self.first_texts),
        }
    }

    fn tell_ticket(&mut self, code: &str) {
        let State::Wide(collector) = &self.state else { return };
        let Some(first) = collector.students.first() else { return };
        let place = self.notes.place(first.row, collector.wide.columns.who_column());
        let message = format!("{code} is a ticket that was handed out from here.");
        self.notes.note("form-known", place, message, "its keys, skills and what wrong answers mean are known");
    }

    /// Notes the table that begins below, or says that its rows of facts belong to none.
    fn end_table(&mut self) {
        let State::Wide(collector) = &mut self.state else { return };
        // The last one is read first.
        let forms = std::mem::take(&mut collector.forms.others).into_iter().rev();
        self.others.extend(forms.map(|code| Region { form: Some(code), ..self.region.clone() }));
        if self.region.form.is_some() {
            return;
        }
        match collector.ends_at {
            Some(first_row) => {
                let section = std::mem::take(&mut collector.section);
                self.others.push(Region { first_row, section, ..self.region.clone() });
            }
            None => collector.tell_label_rows(self.notes),
        }
    }

    fn turn_if_needed(&mut self) -> Orientation {
        let State::Turning(rows) = &mut self.state else { return Orientation::StudentsDown };
        let mut rows = std::mem::take(rows);
        let (below, beside) = across::next_tables(&rows);
        if let Some(first_row) = below {
            rows.retain(|(n, _)| *n < first_row);
            self.others.push(Region { first_row, ..self.region.clone() });
        }
        if let Some(first_column) = beside {
            rows = region::up_to(&rows, first_column);
            let end_row = below.unwrap_or(self.region.end_row);
            self.others.push(Region { first_column, end_row, ..self.region.clone() });
        }
        let rows = across::turned(&rows);
        // From here on rows are columns, and none is of another table.
        let (section, form) = (std::mem::take(&mut self.region.section), self.region.form.take());
        self.region = Region { section, form, ..Region::whole() };
        self.notes.turn();
        let Found { verdict, remarks, .. } = find_turned(&rows, self.key.as_ref(), self.said.choices);
        self.tell(remarks);
        self.state = match verdict {
            Verdict::Turn => State::Nothing(LeftOutReason::NoHeadings),
            other => self.start(other, rows),
        };
        Orientation::StudentsAcross
    }
}

/// What the items of a sheet are judged with.
struct About<'a> {
    orientation: Orientation,
    graph: &'a SkillGraph,
    known: &'a KnownFacts,
}

/// Labels of the items, as far as they are known before marks are judged.
fn labels_in(state: &State<'_>) -> Vec<String> {
    match state {
        State::Wide(collector) => collector.wide.items.iter().map(|(_, label)| label.clone()).collect(),
        State::Rows(Layout::Long(columns), rows) => long::labels(columns, rows),
        _ => Vec::new(),
    }
}

fn students_in(columns: &Columns, rows: &[KeptRow]) -> Vec<RowStudent> {
    let people = StudentColumns::of(columns);
    let below = rows.iter().filter(|(n, _)| *n > columns.header_row);
    below.filter_map(|(n, cells)| people.student(*n, cells).map(|(student, _)| student)).collect()
}

fn wide_scores(mut collector: Collector<'_>, about: &About<'_>, notes: &mut Notes<'_>) -> SheetContent {
    let orientation = about.orientation;
    let rows = std::mem::take(&mut collector.samples);
    let total = collector.total.take();
    let header_row = collector.wide.columns.header_row;
    let item_columns: Vec<u32> = collector.wide.items.iter().map(|(c, _)| *c).collect();
    let columns = columns_shown(&collector.wide.columns, &item_columns, orientation);
    let table = wide_items::judge(collector, about.graph, about.known, notes);
    if let Some((column, numbers)) = total {
        totals::compare(&table, column, &numbers, notes);
    }
    SheetContent::Scores(table, Shown { shape: SheetShape::Wide, orientation, header_row, columns, rows })
}

fn long_scores(columns: &Columns, rows: &[KeptRow], about: &About<'_>, notes: &mut Notes<'_>) -> SheetContent {
    let orientation = about.orientation;
    let table = long::pivot(columns, rows, about.graph, about.known, notes);
    let shown = rows
        .iter()
        .filter(|(n, _)| *n > columns.header_row)
        .take(ROWS_SHOWN)
        .map(|(n, cells)| shown_row(*n, cells, columns.labels.keys().copied()))
        .collect();
    let shape = SheetShape::Long;
    let columns_read = columns_shown(columns, &[], orientation);
    SheetContent::Scores(
        table,
        Shown { shape, orientation, header_row: columns.header_row, columns: columns_read, rows: shown },
    )
}

fn columns_shown(columns: &Columns, items: &[u32], orientation: Orientation) -> Vec<ColumnReading> {
    let read = |(column, label): (&u32, &String)| ColumnReading {
        column: *column,
        letters: match orientation {
            Orientation::StudentsDown => column_letters(*column),
            Orientation::StudentsAcross => (u64::from(*column) + 1).to_string(),
        },
        label: label.clone(),
        column_use: if items.contains(column) {
            super::ColumnUse::Item
        } else {
            use_of(columns.roles.get(column).copied())
        },
    };
    columns.labels.iter().map(read).collect()
}
