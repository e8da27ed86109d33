//! The catalogue of wrong ideas: code, skills, what the student seems to believe, what to look for.
//!
//! In:  CSV text with the header `code,skills,idea,look_for,source` (`config/error_patterns/`; a school may add a file of its own, `own_ideas_stand_beside_the_shipped_ones`).
//! Codes that the catalogue does not know are allowed everywhere and are shown as their code.

use crate::skills::SkillCode;
use serde::Deserialize;
use std::collections::BTreeMap;
use thiserror::Error;

/// One wrong idea.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ErrorPattern {
    /// Code.
    pub code: String,
    /// Skills in whose items it shows.
    pub skills: Vec<SkillCode>,
    /// What the student does, as a short clause: `takes multiplying to make every number larger`.
    pub idea: String,
    /// One worked example of it.
    pub look_for: String,
}

/// A row that is not a wrong idea.
#[derive(Debug, Error)]
#[error("line {line} of the list of wrong ideas: {reason}")]
pub struct CatalogueError {
    /// 1-based line.
    pub line: u64,
    /// What is wrong.
    pub reason: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    code: String,
    skills: String,
    idea: String,
    look_for: String,
    #[serde(rename = "source")]
    _source: String,
}

/// Wrong ideas by code.
#[derive(Debug, Clone, Default)]
pub struct ErrorCatalogue {
    patterns: BTreeMap<String, ErrorPattern>,
}

impl ErrorCatalogue {
    /// The catalogue as shipped in `config/error_patterns/patterns.csv`.
    ///
    /// # Errors
    /// Never for the shipped file (a test builds it).
    pub fn builtin() -> Result<Self, CatalogueError> {
        Self::parse(include_str!("../../../../config/error_patterns/patterns.csv"))
    }

    /// Reads the CSV described in the module header.
    ///
    /// # Errors
    /// [`CatalogueError`] with the line.
    pub fn parse(csv_text: &str) -> Result<Self, CatalogueError> {
        let mut patterns = BTreeMap::new();
        let mut reader =
            csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(csv_text.as_bytes());
        for row in reader.deserialize::<Row>() {
            let row = row.map_err(|e| CatalogueError {
                line: e.position().map_or(0, csv::Position::line),
                reason: e.to_string(),
            })?;
            let skills = row.skills.split(';').filter_map(SkillCode::parse).collect();
            patterns.insert(
                row.code.clone(),
                ErrorPattern { code: row.code, skills, idea: row.idea, look_for: row.look_for },
            );
        }
        Ok(ErrorCatalogue { patterns })
    }

    /// With the wrong ideas of another list beside its own; of two with one code the other list's counts.
    #[must_use]
    pub fn with(mut self, other: ErrorCatalogue) -> Self {
        self.patterns.extend(other.patterns);
        self
    }

    /// The wrong idea of a code.
    #[must_use]
    pub fn get(&self, code: &str) -> Option<&ErrorPattern> {
        self.patterns.get(code)
    }

    /// What the student does, or the code where the catalogue does not know it.
    #[must_use]
    pub fn idea<'a>(&'a self, code: &'a str) -> &'a str {
        self.patterns.get(code).map_or(code, |p| p.idea.as_str())
    }

    /// Every wrong idea, by code.
    pub fn iter(&self) -> impl Iterator<Item = &ErrorPattern> {
        self.patterns.values()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_catalogue_builds_and_knows_scaling() {
        let catalogue = ErrorCatalogue::builtin().unwrap();
        let scaling = SkillCode::parse("5.NF.B.5a").unwrap();
        assert!(catalogue.get("scale-always-bigger").unwrap().skills.contains(&scaling));
        assert_eq!(catalogue.idea("no-such-code"), "no-such-code");
    }

    #[test]
    fn own_ideas_stand_beside_the_shipped_ones() {
        let own =
            "code,skills,idea,look_for,source\nour-idea,4.NF.A.1,counts lines for spaces,5 lines read as fifths,ours\n";
        let shipped = ErrorCatalogue::builtin().unwrap();
        let n_shipped = shipped.iter().count();
        let both = shipped.with(ErrorCatalogue::parse(own).unwrap());
        assert_eq!(both.idea("our-idea"), "counts lines for spaces");
        assert_eq!(both.iter().count(), n_shipped + 1);
    }
}
