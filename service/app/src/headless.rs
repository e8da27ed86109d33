//! The weekly job without a store: files in, plan out.

use crate::error::AppError;
use crate::knowledge::Knowledge;
use jiff::civil::Date;
use sheaf_core::plan::{Plan, PlanInput, make_plan};
use sheaf_core::roster::School;
use sheaf_sheets::read::{ReadLimits, Reading, SourceFile, read_score_sheets};

/// What to plan from.
#[derive(Debug)]
pub struct HeadlessRequest<'a> {
    /// Score sheets.
    pub scores: &'a [SourceFile<'a>],
    /// Item facts, if given apart.
    pub items: Option<SourceFile<'a>>,
    /// List of students, if given apart.
    pub students: Option<SourceFile<'a>>,
    /// The school's rules.
    pub school: &'a School,
    /// The week, if given; else the one date that the sheets carry.
    pub week: Option<Date>,
    /// Seed.
    pub seed: u64,
}

/// Reads score sheets (and the list of students) and says what was understood.
///
/// # Errors
/// [`AppError`] where nothing can be read.
pub fn read(knowledge: &Knowledge, request: &HeadlessRequest<'_>) -> Result<Reading, AppError> {
    Ok(read_score_sheets(request.scores, request.items, &knowledge.graph, ReadLimits::default())?)
}

/// The weekly job.
///
/// # Errors
/// [`AppError`] where nothing can be read or no group can be formed.
pub fn plan(knowledge: &Knowledge, request: &HeadlessRequest<'_>) -> Result<Plan, AppError> {
    let reading = read(knowledge, request)?;
    let plan = make_plan(PlanInput {
        table: reading.table,
        inputs: reading.inputs,
        findings: reading.findings,
        school: request.school,
        graph: &knowledge.graph,
        catalogue: &knowledge.catalogue,
        library: &knowledge.library,
        week: request.week.or(reading.week),
        seed: request.seed,
    })?;
    Ok(plan)
}
