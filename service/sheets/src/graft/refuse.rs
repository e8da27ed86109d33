//! Which workbooks are left alone.
//!
//! In:  the staff's workbook. Out: its form, or the reason why nothing is added to it.
//! Keeps: signed, strict, structure-protected and shared workbooks, and any with two sheets of one name, are never changed
//! (`each_refusal_has_its_reason` in the tests of this folder). Source: ECMA-376 part 1, 18.2 (workbook) and part 2,
//! digital signatures. Not here: encryption and damage, which show as soon as the package is opened.

use super::book::Book;
use super::error::GraftError;
use super::outline::Outline;
use super::types::Types;
use std::collections::HashSet;

/// What a workbook may hold, which its name must say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// .xlsx
    Plain,
    /// .xlsm, with macros
    Macros,
}

impl Form {
    /// Ending of the file's name.
    #[must_use]
    pub fn ending(self) -> &'static str {
        match self {
            Form::Plain => "xlsx",
            Form::Macros => "xlsm",
        }
    }
}

/// Content type of a workbook without macros.
pub(super) const PLAIN: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml";
/// Content type of a workbook with macros.
pub(super) const MACROS: &str = "application/vnd.ms-excel.sheet.macroEnabled.main+xml";

/// The form that the content types declare for a workbook part.
pub(super) fn declared_form(types: &Types, part: &str) -> Result<Form, GraftError> {
    match types.of(part) {
        Some(kind) if kind.eq_ignore_ascii_case(PLAIN) => Ok(Form::Plain),
        Some(kind) if kind.eq_ignore_ascii_case(MACROS) => Ok(Form::Macros),
        _ => Err(GraftError::NotAWorkbook),
    }
}

/// The form of a workbook that may be added to.
pub(super) fn form_of(book: &Book<'_>) -> Result<Form, GraftError> {
    let form = declared_form(&book.types, &book.part)?;
    if is_signed(book) {
        return Err(GraftError::Signed);
    }
    if book.relations.iter().any(|r| r.is("revisionHeaders")) {
        return Err(GraftError::Shared);
    }
    let outline = Outline::of(&book.text.text, 1)?;
    if outline.part("workbookProtection").is_some_and(|p| outline.is_on(p, "lockStructure")) {
        return Err(GraftError::StructureProtected);
    }
    names_differ(book)?;
    Ok(form)
}

fn is_signed(book: &Book<'_>) -> bool {
    let is_origin = |kind: &str| kind.contains("/digital-signature/");
    book.root_relations.iter().any(|r| is_origin(&r.kind))
        || book.package.names().iter().any(|name| super::package::key(name).starts_with("_xmlsignatures/"))
}

fn names_differ(book: &Book<'_>) -> Result<(), GraftError> {
    let mut seen = HashSet::new();
    match book.sheets.iter().find(|sheet| !seen.insert(sheet.name.to_lowercase())) {
        Some(sheet) => Err(GraftError::SheetNamesClash(sheet.name.clone())),
        None => Ok(()),
    }
}
