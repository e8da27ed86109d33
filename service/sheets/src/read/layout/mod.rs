//! How a sheet is laid out: where the headings are, what each column holds, which rows are item facts.
//!
//! In:  the first rows that hold something, and what people chose for sheets of a layout. Out: [`Found`]: a [`Layout`] or why there is
//! none, the layout's key, and remarks that become findings. Choices come first, then words of headings, then what stands below them.
//! Keeps: `labels_above_and_below_the_header_are_found`, `a_title_is_not_a_header`, `a_choice_comes_before_what_is_judged`.
//! Not here: the rows of students (`collect`), turning a sheet (`across`).

pub mod across;
mod columns;
mod header;
mod key;
mod label_rows;
mod levels;
mod uses;

#[cfg(test)]
mod tests;

use super::asked::{KnownTicket, LayoutKey, Orientation, PerhapsAcross, SheetChoice, Standing, choice_for};
use super::cell::Cell;
use super::look_over::LeftOutReason;
use super::notes;
use super::region;
use super::words::Role;
use across::Across;
use sheaf_core::finding::Severity;
use std::collections::{BTreeMap, BTreeSet};

pub use label_rows::first_label;
pub use uses::use_of;

/// A row kept for a look at the layout.
pub type KeptRow = (u32, Vec<(u32, Cell<'static>)>);

/// Rows looked at.
pub const LOOKED_AT: usize = 40;

/// What kind of sheet it is.
#[derive(Debug, Clone, PartialEq)]
pub enum Layout {
    Wide(Box<Wide>),
    /// One row a response.
    Long(Columns),
    /// One row an item.
    Items(Columns),
    /// One row a student, no marks.
    Students(Columns),
}

impl Layout {
    /// Its columns.
    pub fn columns(&self) -> &Columns {
        match self {
            Layout::Wide(wide) => &wide.columns,
            Layout::Long(columns) | Layout::Items(columns) | Layout::Students(columns) => columns,
        }
    }
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

    /// The column that says who a row is about: the id's, else that of a name.
    pub fn who_column(&self) -> u32 {
        let named = self.roles.iter().find(|(_, r)| r.names_a_student()).map(|(c, _)| *c);
        self.column(Role::Id).or(named).unwrap_or(0)
    }

    fn has(&self, role: Role) -> bool {
        self.column(role).is_some()
    }

    fn names_students(&self) -> bool {
        self.roles.values().any(|r| r.names_a_student())
    }
}

/// A wide sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Wide {
    pub columns: Columns,
    /// Item columns with their labels, left to right.
    pub items: Vec<(u32, String)>,
    /// Facts by row role: row and cell texts by column.
    pub facts: BTreeMap<Role, FactRow>,
    /// Rows that are no data: facts, further headings and what stands above the header.
    pub other_rows: Vec<u32>,
    /// Columns left out as totals.
    pub totals: Vec<(u32, String)>,
    /// Headings of the header row that may be items, in plain letters: other ones below begin another table.
    pub headings: BTreeMap<u32, String>,
}

/// A row of item facts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FactRow {
    pub row: u32,
    pub texts: BTreeMap<u32, String>,
    /// Columns of which two rows say different things; neither counts.
    pub disputed: BTreeSet<u32>,
}

/// Something noticed about the layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    pub severity: Severity,
    pub code: &'static str,
    /// 0-based row and column.
    pub at: (u32, u32),
    pub message: String,
    pub action: String,
}

impl Remark {
    fn new(severity: Severity, code: &'static str, at: (u32, u32), message: String, action: &str) -> Self {
        Remark { severity, code, at, message, action: action.to_owned() }
    }
}

/// Remarks as they come, with the names that rows and columns have on the sheet.
#[derive(Debug)]
pub struct Remarks {
    orientation: Orientation,
    told: Vec<Remark>,
}

impl Remarks {
    fn new(orientation: Orientation) -> Self {
        Remarks { orientation, told: Vec::new() }
    }

    fn push(&mut self, remark: Remark) {
        self.told.push(remark);
    }

    /// `row 5`, or `column E` where students run across.
    fn line(&self, row: u32) -> String {
        notes::line(self.orientation, row)
    }

    /// `column E`, or `row 5` where students run across.
    fn lane(&self, column: u32) -> String {
        notes::lane(self.orientation, column)
    }
}

/// What became of the look.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    Read(Layout),
    /// Students run across: the whole sheet is to be turned and looked at again.
    Turn,
    LeftOut(LeftOutReason),
}

/// The layout of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    pub verdict: Verdict,
    pub key: Option<LayoutKey>,
    pub remarks: Vec<Remark>,
    /// The column in which another table begins beside this one.
    pub beside: Option<u32>,
}

impl Found {
    fn new(verdict: Verdict, key: Option<LayoutKey>, remarks: Vec<Remark>) -> Self {
        Found { verdict, key, remarks, beside: None }
    }

    fn left_out(reason: LeftOutReason, key: Option<LayoutKey>, remarks: Vec<Remark>) -> Self {
        Found::new(Verdict::LeftOut(reason), key, remarks)
    }
}

/// What is known of a sheet before it is looked at.
#[derive(Debug, Clone, Copy)]
pub struct Said<'a> {
    pub choices: &'a [SheetChoice],
    /// Layouts of the sheets before it in its file.
    pub before: &'a [LayoutKey],
    pub perhaps_across: PerhapsAcross,
    /// Tickets that were handed out.
    pub tickets: &'a [KnownTicket],
}

impl<'a> Said<'a> {
    /// Choices alone.
    pub fn choices(choices: &'a [SheetChoice]) -> Self {
        Said { choices, before: &[], perhaps_across: PerhapsAcross::IsOffered, tickets: &[] }
    }
}

/// Looks at the first rows of a sheet.
pub fn find_layout(rows: &[KeptRow], said: Said<'_>) -> Found {
    let Said { choices, before, perhaps_across, .. } = said;
    let guess = header::choose(rows);
    let seen = across::judge(rows, guess);
    let number = |key: &LayoutKey| before.iter().filter(|other| other.first() == *key).count() + 1;
    let key = key::layout_key(rows, guess, &seen).map(|key| {
        let number = number(&key);
        key.numbered(number)
    });
    let choice = key.as_ref().and_then(|k| choice_for(choices, k));
    let choice = choice.as_ref();
    if choice.is_some_and(|c| c.standing == Standing::LeftOut) {
        return Found::left_out(LeftOutReason::Chosen, key, Vec::new());
    }
    match (choice.and_then(|c| c.orientation), seen) {
        (Some(Orientation::StudentsAcross), _) => Found::new(Verdict::Turn, key, Vec::new()),
        (None, Across::Clearly(at)) => {
            Found::new(Verdict::Turn, key, vec![across::remark(rows, at, Severity::Warning)])
        }
        (None, Across::Perhaps(_)) if perhaps_across == PerhapsAcross::IsTurned => {
            Found::new(Verdict::Turn, key, Vec::new())
        }
        (None, Across::Perhaps(at)) => {
            let remark = across::remark(rows, at, Severity::Error);
            Found::left_out(LeftOutReason::PerhapsAcross, key, vec![remark])
        }
        _ => read_down(rows, guess, key, choice, Orientation::StudentsDown),
    }
}

/// Looks at a sheet that was turned, so that students run down.
pub fn find_turned(rows: &[KeptRow], key: Option<&LayoutKey>, choices: &[SheetChoice]) -> Found {
    let choice = key.and_then(|k| choice_for(choices, k));
    read_down(rows, header::choose(rows), key.cloned(), choice.as_ref(), Orientation::StudentsAcross)
}

fn read_down(
    rows: &[KeptRow],
    guess: Option<usize>,
    key: Option<LayoutKey>,
    choice: Option<&SheetChoice>,
    orientation: Orientation,
) -> Found {
    let chosen = choice.and_then(|c| c.header_row).and_then(|n| rows.iter().position(|(row, _)| row + 1 == n));
    let Some(at) = chosen.or(guess) else {
        return Found::left_out(LeftOutReason::NoHeadings, key, Vec::new());
    };
    let mut remarks = Remarks::new(orientation);
    let beside = region::beside(&rows[at]);
    let found = match beside {
        // The row of headings has cells on the left, and so have those above it that count.
        Some(column) => {
            let left = region::up_to(rows, column);
            let at = left.iter().position(|(n, _)| *n == rows[at].0).unwrap_or(0);
            classify(&left, at, choice, &mut remarks)
        }
        None => classify(rows, at, choice, &mut remarks),
    };
    match found {
        Some(layout) => {
            let beside = beside.filter(|_| matches!(layout, Layout::Wide(_)));
            Found { beside, ..Found::new(Verdict::Read(layout), key, remarks.told) }
        }
        None => Found::left_out(LeftOutReason::NoHeadings, key, remarks.told),
    }
}

fn classify(rows: &[KeptRow], at: usize, choice: Option<&SheetChoice>, remarks: &mut Remarks) -> Option<Layout> {
    let mut columns = header::columns_of(&rows[at], rows);
    if remarks.orientation == Orientation::StudentsAcross {
        across::free_the_corner(&mut columns);
    }
    let chosen_items = uses::apply_to_columns(&mut columns, choice);
    let is_items = columns.has(Role::Item)
        && (columns.has(Role::Skill) || columns.has(Role::Key))
        && !columns.has(Role::Name)
        && !columns.has(Role::Given);
    if columns.names_students() && columns.has(Role::Item) && (columns.has(Role::Answer) || columns.has(Role::Points)) {
        return Some(Layout::Long(columns));
    }
    if is_items && chosen_items.is_empty() {
        return Some(Layout::Items(columns));
    }
    // What belongs to a table further down says nothing of this one.
    let rows = &rows[..region::below(rows, at).unwrap_or(rows.len())];
    let wide = columns::wide_of(rows, at, columns, &chosen_items, choice, remarks);
    if !wide.columns.names_students() {
        return None;
    }
    Some(if wide.items.is_empty() { Layout::Students(wide.columns) } else { Layout::Wide(Box::new(wide)) })
}
