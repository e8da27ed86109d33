//! A workbook of .xlsx or .xlsm: its sheets, shared texts and number formats, and the rows of a sheet in one pass.
//!
//! Everything is found by relationships, not by habit: odd part paths, other casing, strict files, missing styles and missing
//! shared texts read like any other (`odd_but_legal_packages_read`). What is not a sheet of cells is skipped and named.
//! Not here: the cells of a sheet (`sheet`), number formats (`formats`), safety of the package (`package`).

pub mod formats;
mod sheet;
mod strings;
#[cfg(test)]
mod tests;

use super::ReadError;
use super::beside::SheetLook;
use super::cell::RowSink;
use super::grid::SheetName;
use super::package::{Package, Part};
use super::refuse::damaged;
use super::spans::{Span, Spans};
use super::xml::{attribute, for_each_start, is_on};
use formats::Format;
use std::cell::OnceCell;
use std::collections::HashMap;
use strings::Strings;

/// Rows near the top, in which a merged heading matters.
const TOP_ROWS: u32 = 40;

/// A workbook that is open.
pub struct Workbook<'a> {
    package: Package<'a>,
    sheets: Vec<SheetPart>,
    /// Names of sheets that hold no cells, such as chart sheets.
    pub skipped: Vec<String>,
    strings_path: Option<String>,
    strings: OnceCell<Strings>,
    formats: Vec<Format>,
    is_1904: bool,
    is_calculated_by_hand: bool,
}

struct SheetPart {
    name: SheetName,
    path: String,
}

/// Target and last word of the type of each relationship, by id.
type Relations = HashMap<String, (String, String)>;

/// Path of the workbook's own part: where the package says, else where it usually is.
pub fn workbook_path(package: &mut Package<'_>) -> Result<Option<String>, ReadError> {
    let said =
        relations(package, "")?.into_values().find(|(_, kind)| kind == "officeDocument").map(|(target, _)| target);
    if let Some(path) = said.filter(|path| package.has(path)) {
        return Ok(Some(path));
    }
    let usual = |name: &&str| ["workbook.xml", "workbook.bin"].iter().any(|end| name.ends_with(end));
    Ok(package.names().filter(usual).min().map(str::to_owned))
}

/// Relationships of a part, targets as paths in the package; of the package itself where `path` is empty.
fn relations(package: &mut Package<'_>, path: &str) -> Result<Relations, ReadError> {
    let (folder, name) = path.rsplit_once('/').unwrap_or(("", path));
    let list = [folder, if folder.is_empty() { "_rels/" } else { "/_rels/" }, name, ".rels"].concat();
    let mut found = Relations::new();
    for_each_start(package, &list, &mut |e| {
        let is_inside = attribute(e, "TargetMode").is_none_or(|mode| mode != "External");
        if let (Some(id), Some(target), Some(kind)) = (attribute(e, "Id"), attribute(e, "Target"), attribute(e, "Type"))
            && is_inside
        {
            let kind = kind.rsplit('/').next().unwrap_or_default().to_owned();
            found.insert(id.into_owned(), (joined(folder, &target), kind));
        }
    })?;
    Ok(found)
}

/// A target as a path in the package: `../` and `./` resolved, from the root where it begins with a slash.
fn joined(folder: &str, target: &str) -> String {
    let target = target.replace('\\', "/");
    let mut parts: Vec<&str> = if target.starts_with('/') { Vec::new() } else { folder.split('/').collect() };
    for part in target.split('/') {
        match part {
            "" | "." => {}
            ".." => drop(parts.pop()),
            _ => parts.push(part),
        }
    }
    parts.retain(|part| !part.is_empty());
    parts.join("/")
}

impl<'a> Workbook<'a> {
    /// Opens a workbook whose part is known.
    pub fn open(mut package: Package<'a>, path: &str) -> Result<Self, ReadError> {
        let related = relations(&mut package, path)?;
        let mut book = Workbook {
            package,
            sheets: Vec::new(),
            skipped: Vec::new(),
            strings_path: first_of_kind(&related, "sharedStrings"),
            strings: OnceCell::new(),
            formats: Vec::new(),
            is_1904: false,
            is_calculated_by_hand: false,
        };
        book.read_lists(path, &related)?;
        if let Some(styles) = first_of_kind(&related, "styles") {
            book.formats = formats::read(&mut book.package, &styles)?;
        }
        Ok(book)
    }

    fn read_lists(&mut self, path: &str, related: &Relations) -> Result<(), ReadError> {
        let (mut sheets, mut skipped) = (Vec::new(), Vec::new());
        let (mut is_1904, mut by_hand) = (false, false);
        for_each_start(&mut self.package, path, &mut |e| match e.name() {
            b"workbookPr" => is_1904 = attribute(e, "date1904").is_some_and(|v| is_on(v.as_bytes())),
            b"calcPr" => by_hand = attribute(e, "calcMode").is_some_and(|v| v == "manual"),
            b"sheet" => {
                let name = attribute(e, "name").unwrap_or_default().into_owned();
                let is_hidden = attribute(e, "state").is_some_and(|state| state != "visible");
                // The id of the relationship; `sheetId` is another name.
                match attribute(e, "id").and_then(|id| related.get(id.as_ref())) {
                    Some((path, kind)) if kind == "worksheet" => {
                        sheets.push(SheetPart { name: SheetName { name, is_hidden }, path: path.clone() });
                    }
                    _ => skipped.push(name),
                }
            }
            _ => {}
        })?;
        (self.sheets, self.skipped) = (sheets, skipped);
        (self.is_1904, self.is_calculated_by_hand) = (is_1904, by_hand);
        Ok(())
    }

    /// Sheets of cells, in order.
    pub fn sheets(&self) -> Vec<SheetName> {
        self.sheets.iter().map(|sheet| sheet.name.clone()).collect()
    }

    fn strings(&self) -> Result<&Strings, ReadError> {
        if let Some(strings) = self.strings.get() {
            return Ok(strings);
        }
        let read = match &self.strings_path {
            Some(path) => strings::read(&mut self.package.clone(), path)?,
            None => Strings::default(),
        };
        Ok(self.strings.get_or_init(|| read))
    }

    /// Calls `row` with each row that holds something.
    pub fn for_each_row(&self, sheet: &str, row: &mut RowSink<'_>) -> Result<SheetLook, ReadError> {
        let file = self.package.file();
        let part = self.sheets.iter().find(|part| part.name.name == sheet).ok_or_else(|| damaged(file))?;
        let mut package = self.package.clone();
        let related = relations(&mut package, &part.path)?;
        let mut cells = sheet::Cells {
            file,
            strings: self.strings()?,
            formats: &self.formats,
            is_1904: self.is_1904,
            look: SheetLook {
                has_comments: related.values().any(|(_, kind)| kind == "comments" || kind == "threadedComment"),
                ..SheetLook::default()
            },
            spans: Spans::default(),
        };
        let n_formulas = match package.part(&part.path)?.ok_or_else(|| damaged(file))? {
            Part::Held(bytes) => {
                cells.spans = Spans::new(spans_at_end(&bytes));
                cells.stream(&bytes[..], row)?.n_formulas
            }
            Part::Streamed(bytes) => {
                let end = cells.stream(bytes, row)?;
                let at_top = end.spans.iter().filter(|s| s.first_row < TOP_ROWS && s.first_column < s.last_column);
                cells.look.merged_late = at_top.map(|span| span.name()).collect();
                end.n_formulas
            }
        };
        let mut look = cells.look;
        look.merged = cells.spans.filled;
        look.may_be_stale = self.is_calculated_by_hand && n_formulas > 0;
        Ok(look)
    }
}

fn first_of_kind(related: &Relations, kind: &str) -> Option<String> {
    related.values().filter(|(_, of)| of == kind).map(|(target, _)| target.clone()).min()
}

/// Merged ranges stand behind the cells of a part; of a part that is held whole they are looked up first.
fn spans_at_end(part: &[u8]) -> Vec<Span> {
    memchr::memmem::find_iter(part, b"mergeCell ")
        .filter_map(|at| {
            let element = part.get(at..part.len().min(at + 120))?;
            let element = &element[..memchr::memchr(b'>', element)?];
            let value = &element[memchr::memmem::find(element, b"ref=")? + 5..];
            let end = value.iter().position(|b| matches!(b, b'"' | b'\''))?;
            sheet::span(std::str::from_utf8(&value[..end]).ok()?)
        })
        .collect()
}
