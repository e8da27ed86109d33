//! The sentences with which a file is refused: each names the file, the reason and the next step.
//!
//! Not here: when a file is refused (`kind`, `package`, `grid`), sheets that are understood but hold no scores (`mod`).

use super::ReadError;

/// A refusal: the file's name, then the rest of the sentence.
pub fn refuse(code: &'static str, file: &str, why: &str) -> ReadError {
    ReadError { code, message: format!("{file} {why}") }
}

/// Broken, cut short, or not what its parts say.
pub fn damaged(file: &str) -> ReadError {
    refuse("file-damaged", file, "is damaged or cut short; export or copy it again, or save it again as .xlsx.")
}

/// Needs a password.
pub fn protected(file: &str) -> ReadError {
    let why = "is protected by a password; save it once in your spreadsheet program without a password.";
    refuse("file-protected", file, why)
}

/// Holds more than can be read; `what` says of what.
pub fn too_large(file: &str, what: &str) -> ReadError {
    refuse("file-too-large", file, &format!("{what}; save the score sheet alone as a new workbook."))
}

/// Has declarations inside that could unfold without end; no spreadsheet program writes them.
pub fn with_declarations(file: &str) -> ReadError {
    let why = "holds declarations (DOCTYPE) that no spreadsheet needs; open it and save it again as .xlsx.";
    refuse("file-has-declarations", file, why)
}
