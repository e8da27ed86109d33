//! Groups and needs as text files with a dictionary of their columns, for those who work with other tools or outside the team.
//!
//! In:  a plan, the words for skills and wrong ideas, how much is said of children ([`Naming`]), the smallest count that is told.
//! Out: `groups.csv`, `needs.csv` and `csv-metadata.json`, which names every column with its type, range and meaning.
//! Keeps: 1. a name stands only where it was asked for (`no_name_is_in_a_file_of_ids`), an id only there and in a file of ids
//!           (`counts_name_nobody`)
//!        2. a count is told only where it and what remains of the whole are at least the smallest
//!           (`a_small_count_is_an_empty_cell`)
//!        3. a text that a spreadsheet would take for a formula gets an apostrophe in front (`no_text_is_a_formula`)
//!        4. the dictionary lists the columns that the files have (`the_dictionary_names_every_column`).
//! Source: Model for Tabular Data and Metadata Vocabulary for Tabular Data, W3C Recommendations of 17 December 2015.
//! Not here: who may have such a file (the school decides), the workbook (`write`).

mod counted;
mod dictionary;
mod listed;
#[cfg(test)]
mod tests;

use sheaf_core::plan::Plan;
use sheaf_core::profile::ErrorCatalogue;
use thiserror::Error;

/// How much a file says of children.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Naming {
    /// Ids and names, a row a child.
    #[default]
    Names,
    /// Ids alone, a row a child.
    Ids,
    /// Nobody: counts, small ones left out.
    Nobody,
}

impl Naming {
    /// All of them.
    pub const ALL: [Naming; 3] = [Naming::Names, Naming::Ids, Naming::Nobody];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Naming::Names => "names",
            Naming::Ids => "ids",
            Naming::Nobody => "nobody",
        }
    }
}

/// A file by name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SharedFile {
    /// Its name.
    pub name: &'static str,
    /// Its bytes: UTF-8; rows end in CR LF as RFC 4180 has it.
    pub bytes: Vec<u8>,
}

/// Why no files were made.
#[derive(Debug, Error)]
pub enum SharedError {
    /// The writer of rows.
    #[error("the rows could not be written: {0}")]
    Rows(#[from] csv::Error),
    /// The writer of the dictionary.
    #[error("the dictionary could not be written: {0}")]
    Dictionary(#[from] serde_json::Error),
}

/// What the values of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    Whole,
    /// A number of at least 0.
    Number,
    /// 0 to 1.
    Share,
    /// `true` or `false`.
    Truth,
}

/// A column.
#[derive(Debug, Clone, Copy)]
struct Field {
    name: &'static str,
    kind: Kind,
    about: &'static str,
}

const fn field(name: &'static str, kind: Kind, about: &'static str) -> Field {
    Field { name, kind, about }
}

/// A file of rows.
struct Table {
    name: &'static str,
    about: &'static str,
    /// Columns whose values together stand in one row alone.
    key: &'static [&'static str],
    fields: Vec<Field>,
    rows: Vec<Vec<String>>,
}

/// The files of a plan.
///
/// # Errors
/// [`SharedError`] where a writer fails.
pub fn shared_files(
    plan: &Plan,
    catalogue: &ErrorCatalogue,
    naming: Naming,
    smallest: usize,
) -> Result<Vec<SharedFile>, SharedError> {
    let tables = match naming {
        Naming::Nobody => [counted::groups(plan, smallest), counted::needs(plan, smallest)],
        Naming::Ids | Naming::Names => {
            let has_names = naming == Naming::Names;
            [listed::groups(plan, catalogue), listed::needs(plan)].map(|t| if has_names { t } else { without_names(t) })
        }
    };
    let mut files = Vec::new();
    for table in &tables {
        files.push(SharedFile { name: table.name, bytes: bytes_of(table)? });
    }
    let bytes = dictionary::of(&tables, plan, naming, smallest)?;
    files.push(SharedFile { name: "csv-metadata.json", bytes });
    Ok(files)
}

/// Columns that name a child, or may in a sentence.
const NAMING_COLUMNS: [&str; 2] = ["name", "why"];

fn without_names(mut table: Table) -> Table {
    let kept: Vec<bool> = table.fields.iter().map(|f| !NAMING_COLUMNS.contains(&f.name)).collect();
    let keep = |at: usize| kept.get(at).copied().unwrap_or(true);
    for row in &mut table.rows {
        let cells = std::mem::take(row).into_iter().enumerate();
        *row = cells.filter(|(at, _)| keep(*at)).map(|(_, cell)| cell).collect();
    }
    table.fields.retain(|f| !NAMING_COLUMNS.contains(&f.name));
    table
}

fn bytes_of(table: &Table) -> Result<Vec<u8>, SharedError> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(table.fields.iter().map(|f| f.name))?;
    for row in &table.rows {
        writer.write_record(row.iter().zip(&table.fields).map(|(cell, field)| plain(cell, field.kind)))?;
    }
    writer.into_inner().map_err(|e| SharedError::Rows(e.into_error().into()))
}

/// A text that no spreadsheet takes for a formula.
fn plain(cell: &str, kind: Kind) -> String {
    let is_risky = kind == Kind::Text && cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    if is_risky { format!("'{cell}") } else { cell.to_owned() }
}

/// A number as it is read, without zeros that say nothing.
fn number(value: f64) -> String {
    ((value * 1000.0).round() / 1000.0).to_string()
}
