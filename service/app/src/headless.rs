//! The weekly job without a store: files in, plan out.
//!
//! In:  score sheets, item facts, a list of students, the school's rules, a seed. Out: a reading or a plan.
//! Keeps nothing and looks at no clock: the same files and seed give the same plan.
//! Not here: paths and folders (`cli`), weeks that are kept (`weeks`), the workbook (`workbook`).

use crate::apart;
use crate::attendance::{by_week, other_weeks, unknown_students};
use crate::error::AppError;
use crate::knowledge::Knowledge;
use crate::student_list::merge_students;
use crate::weeks::Week;
use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::movement::TimeReceived;
use sheaf_core::plan::{Plan, PlanInput, make_plan};
use sheaf_core::roster::{School, Student, StudentId};
use sheaf_sheets::read::ReadRequest;
pub use sheaf_sheets::read::{PerhapsAcross, ReadLimits, Reading, SourceFile};

/// What to read.
#[derive(Debug)]
pub struct Sources<'a> {
    /// Score sheets.
    pub scores: &'a [SourceFile<'a>],
    /// Item facts, if given apart.
    pub items: Option<SourceFile<'a>>,
    /// List of students, if given apart.
    pub students: Option<SourceFile<'a>>,
    /// Attendance of the planned week, if given.
    pub attendance: Option<SourceFile<'a>>,
    /// What is done with a sheet in which students may run across.
    pub perhaps_across: PerhapsAcross,
}

/// What to plan from.
#[derive(Debug)]
pub struct HeadlessRequest<'a> {
    /// What to read.
    pub sources: Sources<'a>,
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
pub fn read(knowledge: &Knowledge, sources: &Sources<'_>, limits: ReadLimits) -> Result<Reading, AppError> {
    let (items, perhaps_across) = (sources.items, sources.perhaps_across);
    let request = ReadRequest { items, limits, perhaps_across, ..ReadRequest::new(sources.scores, &knowledge.graph) };
    let mut reading = apart::reader().scores(&request)?;
    if let Some(source) = sources.students {
        let (students, findings) = read_student_list(source, limits)?;
        reading.findings.extend(findings);
        merge_students(&mut reading, students);
    }
    Ok(reading)
}

/// Reads a list of students. The one place where lists are read, for the command line and the service.
///
/// # Errors
/// [`AppError`] where not one student could be read.
pub fn read_student_list(source: SourceFile<'_>, limits: ReadLimits) -> Result<(Vec<Student>, Vec<Finding>), AppError> {
    apart::reader().students(source, limits)
}

/// The weekly job.
///
/// # Errors
/// [`AppError`] where nothing can be read or no group can be formed.
pub fn plan(knowledge: &Knowledge, request: &HeadlessRequest<'_>) -> Result<Plan, AppError> {
    let mut reading = read(knowledge, &request.sources, apart::limits_of(request.school))?;
    let week = request.week.or(reading.week);
    let attended = match request.sources.attendance {
        Some(source) => attended(source, &mut reading, week, request.school)?,
        None => Vec::new(),
    };
    let plan = make_plan(PlanInput {
        table: reading.table,
        earlier: None,
        inputs: reading.inputs,
        findings: reading.findings,
        school: request.school,
        graph: &knowledge.graph,
        catalogue: &knowledge.catalogue,
        attended: &attended,
        item_models: &knowledge.item_models,
        week,
        seed: request.seed,
    })?;
    Ok(plan)
}

/// What each student got of the planned week's time. Without a planned week every session without a date counts.
fn attended(
    source: SourceFile<'_>,
    reading: &mut Reading,
    week: Option<Date>,
    school: &School,
) -> Result<Vec<(StudentId, TimeReceived)>, AppError> {
    let (attendance, findings) = apart::reader().attendance(source, apart::limits_of(school))?;
    reading.findings.extend(findings);
    let of_week = match week.map(Week::of) {
        None => attendance,
        Some(planned) => {
            let mut parts = by_week(&attendance, Some(planned));
            reading.findings.extend(other_weeks(&parts, Some(planned)));
            parts.remove(&planned).unwrap_or_default()
        }
    };
    let known = reading.table.students().iter().map(|s| &s.id);
    let strangers = unknown_students(&of_week, known);
    reading.findings.extend(strangers);
    Ok(of_week.time_received(&school.blocks))
}
