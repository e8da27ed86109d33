//! The weekly job as one function: profile, group, rotate, tickets, plan.

use super::{InputSummary, Plan};
use crate::finding::Finding;
use crate::profile::ErrorCatalogue;
use crate::roster::School;
use crate::scores::ResponseTable;
use crate::skills::SkillGraph;
use crate::tickets::ModelLibrary;
use jiff::civil::Date;
use thiserror::Error;

/// Everything the weekly job needs.
#[derive(Debug)]
pub struct PlanInput<'a> {
    /// Who answered what, in any order of students.
    pub table: ResponseTable,
    /// What was read.
    pub inputs: Vec<InputSummary>,
    /// What was noticed while reading.
    pub findings: Vec<Finding>,
    /// The school's rules.
    pub school: &'a School,
    /// Skills.
    pub graph: &'a SkillGraph,
    /// Wrong ideas.
    pub catalogue: &'a ErrorCatalogue,
    /// Item models.
    pub library: &'a ModelLibrary,
    /// The week's Monday, where known.
    pub week: Option<Date>,
    /// Seed of every random draw.
    pub seed: u64,
}

/// Why no plan could be made. Each message is one sentence for the person who asked.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PlanError {
    /// Nobody can be seated under the limits.
    #[error("{0}")]
    NoGroup(String),
    /// Fixed limits contradict each other.
    #[error("{0}")]
    LimitsClash(String),
}

/// Makes the week's plan.
///
/// # Errors
/// [`PlanError`] where no group at all can be formed or fixed limits clash.
pub fn make_plan(input: PlanInput<'_>) -> Result<Plan, PlanError> {
    Ok(Plan {
        week: input.week,
        seed: input.seed,
        inputs: input.inputs,
        findings: input.findings,
        items: Vec::new(),
        skills: Vec::new(),
        students: Vec::new(),
        unplaced: Vec::new(),
        groups: Vec::new(),
        rotation: Vec::new(),
        rotation_notes: Vec::new(),
        tickets: Vec::new(),
        quality: super::Quality::default(),
    })
}
