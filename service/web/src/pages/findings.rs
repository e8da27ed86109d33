//! Findings as rows of a table: kind in a word, place, what, what was done; the worst first.
//!
//! Not here: which page shows which findings.

use super::text;
use sheaf_core::finding::{Finding, Severity};

/// One row.
pub(super) struct FindingRow {
    pub(super) word: &'static str,
    pub(super) place: String,
    pub(super) message: String,
    pub(super) action: String,
}

/// Rows, the worst first.
pub(super) fn finding_rows(mut findings: Vec<Finding>) -> Vec<FindingRow> {
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
    findings.into_iter().map(finding_row).collect()
}

fn finding_row(finding: Finding) -> FindingRow {
    let place = [finding.file, finding.sheet, finding.cell].into_iter().filter(|p| !p.is_empty());
    FindingRow {
        word: match finding.severity {
            Severity::Note => "Note",
            Severity::Warning => "Look at",
            Severity::Error => "Left out",
        },
        place: place.collect::<Vec<_>>().join(" · "),
        message: text::as_sentence(&finding.message),
        action: text::as_sentence(&finding.action),
    }
}
