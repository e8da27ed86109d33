//! The staff workbook: eleven sheets in a fixed order, movement and the cycle memo last where there is a week before, one file here for each, written row by row.
//!
//! In:  a plan, the skill graph, the catalogue of wrong ideas. Out: an .xlsx in the sink.
//! Keeps: the same plan gives the same bytes (`the_same_plan_gives_the_same_bytes`); names stay text
//! (`nasty_names_stay_text`); nothing is decided here, only shown; a name in the workbook marks it as ours
//! (`the_workbook_carries_our_mark`), and a name for each sheet says which sheets are ours; they show in a list of names,
//! since the writer hides none but those of filters, and are hidden where the sheets join another file (`graft`).
//! Sheets are filled side by side; the library writes all of a sheet but its rows, which go straight to disk (`rows`), strings
//! inside the cells: memory does not grow with the students, and no table of strings has to be merged when the sheets join
//! another workbook.
//! Not here: packing the sheets, alone or in the staff's own file (`graft`), reading filled-in sheets (`read`).

mod answer_keys;
mod attendance;
mod book;
mod exit_tickets;
mod findings;
mod frame;
mod group_cards;
mod groups;
mod items;
mod look;
mod looks;
mod memo;
mod movement;
mod needs;
mod page;
mod picture;
mod rotation;
mod rows;
mod sheet;
mod start_here;
mod teach;
mod text;
mod ticket_page;
mod ticket_results;
mod words;

#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod tests;

use crate::graft::{Form, GraftError, write_alone};
use book::Book;
pub use frame::OurSheets;
use frame::{Filled, Maker};
use looks::Looks;
use rayon::prelude::*;
pub(crate) use rows::SheetRows;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};
use sheaf_core::movement::LookBack;
use sheaf_core::plan::Plan;
use sheaf_core::profile::ErrorCatalogue;
use sheaf_core::skills::SkillGraph;
use sheet::{Sheet, Written};
use std::io::{Seek, Write};
use thiserror::Error;

/// Why the workbook could not be written.
#[derive(Debug, Error)]
pub enum WriteError {
    /// The writer refused.
    #[error("the workbook could not be written: {0}")]
    Workbook(#[from] XlsxError),
    /// The sheets could not be packed.
    #[error("the workbook could not be written: {0}")]
    Packing(#[from] GraftError),
}

/// Name that marks a workbook, or a sheet set added to one, as ours.
pub const MARK: &str = "Sheaf_workbook";
/// What the content of that name begins with.
pub const MARK_CONTENT: &str = "sheaf.workbook/";
/// Start of the name that marks one sheet as ours; what the sheet shows follows, see [`mark_of`].
pub const SHEET_MARK: &str = "Sheaf_sheet_";

/// Name that marks a sheet of ours: it stands for the whole sheet, wherever that goes and whatever it is called later.
#[must_use]
pub fn mark_of(sheet: &str) -> String {
    format!("{SHEET_MARK}{}", key_of(sheet))
}

/// A sheet's name as a part of a defined name.
fn key_of(sheet: &str) -> String {
    sheet.chars().map(|c| if c.is_alphanumeric() { c } else { '_' }).collect()
}

/// Of 1 to 9, here and where sheets are packed. Against the writer's usual 6, at 20,000 students and 60 items: the file a quarter larger (4.7 for 3.8 MB),
/// the whole plan about a twentieth sooner (2.75 for 2.87 s of processor time, means of five runs on one machine).
pub(crate) const COMPRESSION: u8 = 3;

/// Makes and fills sheets of one name and its numbers.
type FillSeveral = fn(&Maker, &str, &Book<'_>, &Looks) -> Result<Vec<Filled>, XlsxError>;

/// How a sheet is filled.
#[derive(Clone, Copy)]
enum Fill {
    /// One sheet, always.
    One(fn(&mut Sheet<'_>, &Book<'_>, &Looks) -> Written),
    /// One sheet, and more of the same where one cannot hold all.
    Several(FillSeveral),
}

/// A sheet of the workbook.
struct SheetEntry {
    /// Name.
    name: &'static str,
    /// What it is for, in a few words.
    purpose: &'static str,
    fill: Fill,
}

const fn one(
    name: &'static str,
    purpose: &'static str,
    fill: fn(&mut Sheet<'_>, &Book<'_>, &Looks) -> Written,
) -> SheetEntry {
    SheetEntry { name, purpose, fill: Fill::One(fill) }
}

/// Sheets in their order.
const SHEETS: [SheetEntry; 11] = [
    one("Start here", "What this workbook is", start_here::write),
    one("Groups", "Who sits with whom, and why", groups::write),
    one("Rotation", "Who meets whom, when and where", rotation::write),
    one("Group cards", "One page a group, for the adult who leads it", group_cards::write),
    one("Needs", "Who shows what on which skill", needs::write),
    SheetEntry {
        name: "Exit tickets",
        purpose: "For the children: print, one ticket each",
        fill: Fill::Several(exit_tickets::write_all),
    },
    one("Answer keys", "For staff: right answers, and what wrong ones may mean", answer_keys::write),
    one("Ticket results", "To fill in after the tickets", ticket_results::write),
    one("Attendance", "To fill in as groups meet", attendance::write),
    one("Items", "How each item of the score sheets behaved", items::write),
    one("Findings", "What could not be read, or was read with an assumption", findings::write),
];

/// Come last, where there is a week before.
const LOOK_BACK: [SheetEntry; 2] = [
    one("Movement", "How it goes with each child from week to week, beside chance", movement::write),
    one("Cycle memo", "A suggestion for each group and what the team decided, on one page", memo::write),
];

/// Whether a sheet of ours is called so, in whatever letters.
fn is_ours(name: &str) -> bool {
    SHEETS.iter().chain(&LOOK_BACK).any(|entry| entry.name.eq_ignore_ascii_case(name))
}

/// Place of the rotation among them.
const ROTATION: usize = 2;

/// The sheets of the staff workbook of a plan, with movement and the memo where there is a week before. The same plan gives the same sheets.
/// `own_file` is the name of the staff's workbook that they will join, if they do: findings lead to its cells then.
///
/// # Errors
/// [`WriteError`] where there is no room for the rows or a limit of the format is passed.
pub fn staff_sheets(
    plan: &Plan,
    back: Option<&LookBack>,
    graph: &SkillGraph,
    catalogue: &ErrorCatalogue,
    own_file: Option<&str>,
) -> Result<OurSheets, WriteError> {
    let mut book = Book::new(plan, graph, catalogue);
    (book.back, book.own_file) = (back, own_file);
    let look_back = back.map(|_| LOOK_BACK.as_slice()).unwrap_or_default();
    let entries: Vec<&SheetEntry> = SHEETS.iter().chain(look_back).collect();
    Ok(fill_sheets(&book, &entries)?)
}

/// Writes the staff workbook of a plan as a workbook of its own. The same plan gives the same bytes.
///
/// # Errors
/// As [`staff_sheets`], and where the sink fails.
pub fn write_staff_workbook<W: Write + Seek + Send>(
    plan: &Plan,
    back: Option<&LookBack>,
    graph: &SkillGraph,
    catalogue: &ErrorCatalogue,
    sink: W,
) -> Result<(), WriteError> {
    Ok(write_alone(&staff_sheets(plan, back, graph, catalogue, None)?, Form::Plain, sink)?)
}

/// Writes a workbook of the rotation alone, for a plan that was read back and repaired.
///
/// # Errors
/// As [`write_staff_workbook`].
pub fn write_rotation_workbook<W: Write + Seek + Send>(
    plan: &Plan,
    graph: &SkillGraph,
    catalogue: &ErrorCatalogue,
    sink: W,
) -> Result<(), WriteError> {
    let sheets = fill_sheets(&Book::new(plan, graph, catalogue), &[&SHEETS[ROTATION]])?;
    Ok(write_alone(&sheets, Form::Plain, sink)?)
}

fn fill_sheets(book: &Book<'_>, entries: &[&SheetEntry]) -> Result<OurSheets, XlsxError> {
    let looks = Looks::new();
    let mut workbook = Workbook::new();
    describe(&mut workbook, book)?;
    let maker = Maker::new(workbook, &looks)?;
    let fill = |entry: &&SheetEntry| match entry.fill {
        Fill::One(fill) => maker.sheet(entry.name, |sheet| fill(sheet, book, &looks)).map(|filled| vec![filled]),
        Fill::Several(fill) => fill(&maker, entry.name, book, &looks),
    };
    let filled: Vec<Result<Vec<Filled>, XlsxError>> = entries.par_iter().map(fill).collect();
    let mut sheets = Vec::new();
    for several in filled {
        sheets.extend(several?);
    }
    maker.finish(sheets)
}

/// Properties with a fixed date, since the clock would change the bytes, and our mark.
fn describe(workbook: &mut Workbook, book: &Book<'_>) -> Result<(), XlsxError> {
    let properties = DocProperties::new()
        .set_title("Groups and tickets for the week")
        .set_subject(book.week_words())
        .set_comment("Contains student information.")
        .set_creation_datetime(&ExcelDateTime::from_ymd(2000, 1, 1)?);
    workbook.set_properties(&properties);
    let week = book.plan.week.map(|monday| monday.to_string()).unwrap_or_default();
    workbook.define_name(MARK, &format!("=\"{MARK_CONTENT}1 {week}\""))?;
    Ok(())
}
