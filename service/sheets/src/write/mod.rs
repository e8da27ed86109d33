//! The staff workbook: eleven sheets in a fixed order, movement and the cycle memo last where there is a week before, one file here for each, written row by row.
//!
//! In:  a plan, the skill graph, the catalogue of wrong ideas. Out: an .xlsx in the sink.
//! Keeps: the same plan gives the same bytes (`the_same_plan_gives_the_same_bytes`); names stay text
//! (`nasty_names_stay_text`); nothing is decided here, only shown; a name in the workbook marks it as ours
//! (`the_workbook_carries_our_mark`), and a name for each sheet says which sheets are ours; they show in a list of names,
//! since the writer hides none but those of filters, and are hidden where the sheets join another file (`graft`).
//! Sheets are written in streaming mode, strings inside the cells: memory does not grow with the students, and no table
//! of strings has to be merged when the sheets join another workbook.
//! Not here: adding the sheets to the staff's own file, reading filled-in sheets (`read`).

mod answer_keys;
mod attendance;
mod book;
mod exit_tickets;
mod findings;
mod group_cards;
mod groups;
mod items;
mod looks;
mod memo;
mod movement;
mod needs;
mod page;
mod rotation;
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

use book::Book;
use looks::Looks;
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
    Workbook(#[from] rust_xlsxwriter::XlsxError),
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
    let key: String = sheet.chars().map(|c| if c.is_alphanumeric() { c } else { '_' }).collect();
    format!("{SHEET_MARK}{key}")
}

/// Of 1 to 9. Against the writer's usual 6, at 20,000 students and 60 items: the file a quarter larger (4.7 for 3.8 MB),
/// the whole plan about a twentieth sooner (2.75 for 2.87 s of processor time, means of five runs on one machine).
const COMPRESSION: u8 = 3;

/// How a sheet is filled.
#[derive(Clone, Copy)]
enum Fill {
    /// One sheet, always.
    One(fn(&mut Sheet<'_>, &Book<'_>, &Looks) -> Written),
    /// One sheet, and more of the same where one cannot hold all.
    Several(fn(&mut Workbook, &str, &Book<'_>, &Looks) -> Written),
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

/// Place of the rotation among them.
const ROTATION: usize = 2;

/// Writes the staff workbook of a plan, with movement and the memo where there is a week before. The same plan gives the same bytes.
///
/// # Errors
/// [`WriteError`] where the sink fails or a limit of the format is passed.
pub fn write_staff_workbook<W: Write + Seek + Send>(
    plan: &Plan,
    back: Option<&LookBack>,
    graph: &SkillGraph,
    catalogue: &ErrorCatalogue,
    sink: W,
) -> Result<(), WriteError> {
    let mut book = Book::new(plan, graph, catalogue);
    book.back = back;
    write_sheets(&book, SHEETS.iter().chain(back.map(|_| LOOK_BACK.as_slice()).unwrap_or_default()), sink)
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
    write_sheets(&Book::new(plan, graph, catalogue), &SHEETS[ROTATION..=ROTATION], sink)
}

fn write_sheets<'e, W: Write + Seek + Send>(
    book: &Book<'_>,
    sheets: impl IntoIterator<Item = &'e SheetEntry>,
    sink: W,
) -> Result<(), WriteError> {
    let looks = Looks::new();
    let mut workbook = Workbook::new();
    workbook.set_zip_compression_level(COMPRESSION);
    describe(&mut workbook, book)?;
    for entry in sheets {
        match entry.fill {
            Fill::One(fill) => add(&mut workbook, entry.name, |sheet| fill(sheet, book, &looks))?,
            Fill::Several(fill) => fill(&mut workbook, entry.name, book, &looks)?,
        }
    }
    mark_sheets(&mut workbook)?;
    workbook.save_to_writer(sink)?;
    Ok(())
}

/// A name for each sheet, by which it is known as ours when the workbook comes back.
fn mark_sheets(workbook: &mut Workbook) -> Written {
    let names: Vec<String> = workbook.worksheets().iter().map(rust_xlsxwriter::Worksheet::name).collect();
    for name in names {
        workbook.define_name(mark_of(&name), &format!("='{}'!$1:$1048576", name.replace('\'', "''")))?;
    }
    Ok(())
}

/// Adds a streaming sheet and fills it.
fn add(workbook: &mut Workbook, name: &str, fill: impl FnOnce(&mut Sheet<'_>) -> Written) -> Written {
    let worksheet = workbook.add_worksheet_with_constant_memory()?;
    worksheet.set_name(name)?;
    fill(&mut Sheet::new(worksheet))
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
