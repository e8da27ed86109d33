//! Numbers and names of tables, which must differ in the whole workbook.
//!
//! In:  the staff's package. Out: what its tables are called; numbers and names for ours that are free.
//! Keeps: a table shares its names with defined names, so both count as taken (`tables_take_free_names` in the tests of
//! this folder). Source: ECMA-376 part 1, 18.5. Not here: the table's own part (`rewrite`).

use super::book::Book;
use super::error::GraftError;
use super::naming::Taken;
use super::ours::{Moving, TABLE_TYPE};
use super::outline::Outline;
use super::retarget::Renames;
use super::rewrite::Kind;

/// What the tables of a workbook are called.
#[derive(Debug, Default)]
pub(super) struct Tables {
    pub names: Vec<String>,
    highest_id: u32,
}

/// Looks at the tables of a workbook, but for parts that go.
pub(super) fn tables(book: &mut Book<'_>, goes: impl Fn(&str) -> bool) -> Result<Tables, GraftError> {
    let is_table = |part: &&String| book.types.of(part) == Some(TABLE_TYPE) && !goes(part);
    let parts: Vec<String> = book.package.names().iter().filter(is_table).cloned().collect();
    let mut found = Tables::default();
    for part in &parts {
        if let Some((id, name)) = identity(book, part)? {
            found.highest_id = found.highest_id.max(id);
            found.names.push(name);
        }
    }
    Ok(found)
}

fn identity(book: &mut Book<'_>, part: &str) -> Result<Option<(u32, String)>, GraftError> {
    let Some(text) = book.package.text_of(part)? else { return Ok(None) };
    let outline = Outline::of(&text.text, 0)?;
    let value = |key: &str| outline.attribute(outline.root(), key);
    let id = value("id").and_then(|id| id.trim().parse().ok()).unwrap_or(0);
    Ok(value("displayName").or_else(|| value("name")).map(|name| (id, name)))
}

/// Gives each table of ours a number and a name that are free.
pub(super) fn settle(
    ours: &mut Book<'_>,
    moving: &mut [Moving],
    theirs: &Tables,
    taken: &mut Taken,
    renames: &mut Renames,
) -> Result<(), GraftError> {
    let mut id = theirs.highest_id;
    for table in moving.iter_mut().filter(|m| matches!(m.kind, Kind::Table(..))) {
        let old = identity(ours, &table.old_name)?.map_or_else(|| "Table".to_owned(), |(_, name)| name);
        let new = taken.word(&old);
        renames.name(&old, &new);
        id = id.saturating_add(1);
        table.kind = Kind::Table(id, new);
    }
    Ok(())
}
