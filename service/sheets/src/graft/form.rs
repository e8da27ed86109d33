//! With macros or without: what a file is, whatever its name says.
//! The content type of the workbook part decides, as it does in spreadsheet programs. Not here: writing either form (`alone`).

use super::book::Book;
use super::package::GraftLimits;
use super::refuse::{Form, declared_form};

/// The form of an .xlsx or .xlsm, whatever its name says; `None` for any other file.
#[must_use]
pub fn form_by_content(bytes: &[u8]) -> Option<Form> {
    Book::open(bytes, GraftLimits::default()).ok().and_then(|book| declared_form(&book.types, &book.part).ok())
}
