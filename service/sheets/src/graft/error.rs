//! Why our sheets were not added to a workbook.
//!
//! Keeps: each reason that lies in the staff's file has a stable code and one clause for a person
//! (`each_refusal_has_its_reason` in the tests of this folder). A reason to leave a file alone ([`GraftError::is_refusal`])
//! is told apart from a fault of ours or of the place that is written to. Not here: the finding (`sheaf-app`).

use thiserror::Error;

/// Why our sheets were not added.
#[derive(Debug, Error)]
pub enum GraftError {
    /// No package, or one that cannot be read.
    #[error("it is damaged ({0})")]
    Damaged(String),
    /// A part is too large to be changed, or there are too many.
    #[error("it is too large to be changed ({0})")]
    TooLarge(String),
    /// Protected by a password.
    #[error("it is protected by a password")]
    Encrypted,
    /// Signed: any change would break the signature.
    #[error("it is signed, and a change would break the signature")]
    Signed,
    /// Saved in the strict form of the format.
    #[error("it is saved as Strict Open XML, which Sheaf does not change")]
    Strict,
    /// Nobody may add sheets.
    #[error("its structure is protected, so that nobody may add sheets")]
    StructureProtected,
    /// A shared workbook keeps a list of its sheets and of every change.
    #[error("it is a shared workbook that keeps a record of every change")]
    Shared,
    /// A template, an add-in, or no workbook at all.
    #[error("it is not an .xlsx or .xlsm workbook")]
    NotAWorkbook,
    /// Two sheets of one name, which spreadsheet programs repair.
    #[error("two of its sheets have the same name, {0}")]
    SheetNamesClash(String),
    /// No room for ours among the formats.
    #[error("it has as many cell formats as a workbook may have")]
    TooManyFormats,
    /// A part in an encoding that is not read.
    #[error("a part of it is in the encoding {0}")]
    Encoding(String),
    /// Our own workbook could not be taken apart.
    #[error("Sheaf's own sheets could not be taken apart ({0})")]
    Ours(String),
    /// The place that is written to failed.
    #[error("the workbook could not be written: {0}")]
    Sink(String),
}

impl GraftError {
    /// Stable kebab-case code of the finding.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            GraftError::Damaged(_) => "workbook-damaged",
            GraftError::TooLarge(_) => "workbook-too-large",
            GraftError::Encrypted => "workbook-encrypted",
            GraftError::Signed => "workbook-signed",
            GraftError::Strict => "workbook-strict",
            GraftError::StructureProtected => "workbook-protected",
            GraftError::Shared => "workbook-shared",
            GraftError::NotAWorkbook => "workbook-of-another-kind",
            GraftError::SheetNamesClash(_) => "sheet-names-clash",
            GraftError::TooManyFormats => "too-many-formats",
            GraftError::Encoding(_) => "workbook-encoding",
            GraftError::Ours(_) | GraftError::Sink(_) => "our-fault",
        }
    }

    /// Whether the reason lies in the staff's file, which is then left alone.
    #[must_use]
    pub fn is_refusal(&self) -> bool {
        !matches!(self, GraftError::Ours(_) | GraftError::Sink(_))
    }

    pub(super) fn damaged(what: impl Into<String>) -> Self {
        GraftError::Damaged(what.into())
    }
}
