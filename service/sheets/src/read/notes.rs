//! Findings as they come, few of a kind.
//! In:  what the readers of one sheet notice. Out: findings with file, sheet and cell, in order; where a sheet was turned, with the
//! addresses that it has on paper.
//!
//! After [`MOST_OF_A_KIND`] findings of one code in one sheet the rest is counted and told in one line at the end.

use super::asked::Orientation;
use super::cell::{address, column_letters};
use sheaf_core::finding::{Finding, Severity};
use std::collections::BTreeMap;

/// Findings of one code and sheet told one by one.
const MOST_OF_A_KIND: usize = 20;

/// Collects the findings of one sheet.
pub struct Notes<'a> {
    file: &'a str,
    sheet: &'a str,
    /// Whether rows and columns were turned, so that addresses are turned back.
    is_turned: bool,
    findings: Vec<Finding>,
    counts: BTreeMap<&'static str, (Severity, usize)>,
}

/// A 0-based row, as a person finds it: `row 5`, or `column E` where students run across.
pub fn line(orientation: Orientation, row: u32) -> String {
    match orientation {
        Orientation::StudentsDown => format!("row {}", u64::from(row) + 1),
        Orientation::StudentsAcross => format!("column {}", column_letters(row)),
    }
}

/// A 0-based column, as a person finds it.
pub fn lane(orientation: Orientation, column: u32) -> String {
    match orientation {
        Orientation::StudentsDown => format!("column {}", column_letters(column)),
        Orientation::StudentsAcross => format!("row {}", u64::from(column) + 1),
    }
}

/// A text with its first letter in upper case.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

impl<'a> Notes<'a> {
    pub fn new(file: &'a str, sheet: &'a str) -> Self {
        Notes { file, sheet, is_turned: false, findings: Vec::new(), counts: BTreeMap::new() }
    }

    /// From here on, rows are the sheet's columns.
    pub fn turn(&mut self) {
        self.is_turned = true;
    }

    /// The address of a 0-based row and column, as the sheet has it.
    pub fn place(&self, row: u32, column: u32) -> String {
        if self.is_turned { address(column, row) } else { address(row, column) }
    }

    fn orientation(&self) -> Orientation {
        if self.is_turned { Orientation::StudentsAcross } else { Orientation::StudentsDown }
    }

    /// A 0-based row, as a person finds it: `row 5`, or `column E` where the sheet was turned.
    pub fn line(&self, row: u32) -> String {
        line(self.orientation(), row)
    }

    /// The same at the beginning of a sentence.
    pub fn line_first(&self, row: u32) -> String {
        capital(&self.line(row))
    }

    /// A 0-based column at the beginning of a sentence: `Column E`, or `Row 5` where the sheet was turned.
    pub fn lane_first(&self, column: u32) -> String {
        capital(&lane(self.orientation(), column))
    }

    /// Whether the sheet is a text file, whose cells have no place but their order.
    pub fn is_text(&self) -> bool {
        self.sheet.is_empty()
    }

    pub fn add(
        &mut self,
        severity: Severity,
        code: &'static str,
        cell: impl Into<String>,
        message: impl Into<String>,
        action: &str,
    ) {
        let entry = self.counts.entry(code).or_insert((severity, 0));
        entry.1 += 1;
        if entry.1 <= MOST_OF_A_KIND {
            self.findings.push(Finding::new(severity, code, message, action).at(self.file, self.sheet, cell));
        }
    }

    pub fn note(&mut self, code: &'static str, cell: impl Into<String>, message: impl Into<String>, action: &str) {
        self.add(Severity::Note, code, cell, message, action);
    }

    pub fn warn(&mut self, code: &'static str, cell: impl Into<String>, message: impl Into<String>, action: &str) {
        self.add(Severity::Warning, code, cell, message, action);
    }

    pub fn error(&mut self, code: &'static str, cell: impl Into<String>, message: impl Into<String>, action: &str) {
        self.add(Severity::Error, code, cell, message, action);
    }

    pub fn into_findings(mut self) -> Vec<Finding> {
        for (code, (severity, n)) in &self.counts {
            if *n > MOST_OF_A_KIND {
                let message = format!("{} more findings of this kind are in the sheet.", n - MOST_OF_A_KIND);
                self.findings
                    .push(Finding::new(*severity, code, message, "the same was done").at(self.file, self.sheet, ""));
            }
        }
        self.findings
    }
}
