//! What was noticed on the way, said once, with its place and what was done about it.
//!
//! A finding is for the person who sent the sheet: severity, a stable code, the file, sheet and cell,
//! one sentence and the action taken. It never stops the work; what stops the work is an error of its own type.
//! Not here: wording of errors (each module's error type), logs (which never carry a finding's text).

use serde::{Deserialize, Serialize};

/// How much a finding matters to the reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Told for completeness; nothing to do.
    Note,
    /// Worth a look; the work went on with a stated assumption.
    Warning,
    /// Something could not be used; it was left out, never guessed.
    Error,
}

impl Severity {
    /// The word used in JSON and on paper.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }
}

/// One thing noticed. Its serialised form is the finding of the published check and plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// Stable kebab-case code, e.g. `points-over-maximum`.
    pub code: String,
    /// File name as given, or empty.
    pub file: String,
    /// Sheet name, or empty.
    pub sheet: String,
    /// Cell address such as `C17`, a range, or empty.
    pub cell: String,
    /// One sentence: what was found.
    pub message: String,
    /// What was done about it.
    pub action: String,
}

impl Finding {
    /// A finding without a place; add one with [`Finding::at`].
    #[must_use]
    pub fn new(severity: Severity, code: &str, message: impl Into<String>, action: impl Into<String>) -> Self {
        Finding {
            severity,
            code: code.to_owned(),
            file: String::new(),
            sheet: String::new(),
            cell: String::new(),
            message: message.into(),
            action: action.into(),
        }
    }

    /// A note.
    #[must_use]
    pub fn note(code: &str, message: impl Into<String>, action: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, message, action)
    }

    /// A warning.
    #[must_use]
    pub fn warning(code: &str, message: impl Into<String>, action: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, message, action)
    }

    /// An error.
    #[must_use]
    pub fn error(code: &str, message: impl Into<String>, action: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message, action)
    }

    /// The same finding with its place.
    #[must_use]
    pub fn at(mut self, file: &str, sheet: &str, cell: impl Into<String>) -> Self {
        file.clone_into(&mut self.file);
        sheet.clone_into(&mut self.sheet);
        self.cell = cell.into();
        self
    }
}
