//! The weekly job without a store: files in, plan out.
//!
//! In:  score sheets, item facts, a list of students, the school's rules, a seed. Out: a reading or a plan.
//! Keeps nothing and looks at no clock: the same files and seed give the same plan.
//! Where sheets carry dates, what they say fades by its age as it does with records
//! (`sheets_of_several_weeks_fade_as_with_records`); without dates nothing fades (`without_dates_nothing_fades`).
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
use sheaf_core::plan::{MetItems, Plan, PlanInput, make_plan};
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
        previous: None,
        overrules: &[],
        inputs: reading.inputs,
        findings: reading.findings,
        school: request.school,
        graph: &knowledge.graph,
        catalogue: &knowledge.catalogue,
        attended: &attended,
        item_models: &knowledge.item_models,
        met: &MetItems::new(),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weeks::{GivenFile, SchoolSetup, WeekFiles, Weeks};
    use sheaf_core::plan::SkillReport;

    /// A quiz of one skill, with the date over it; six of eight children lack it.
    fn quiz(date: &str, rows: [&str; 8]) -> String {
        let head =
            format!("Check {date}\n,,skill,4.NF.A.1,4.NF.A.1,4.NF.A.1\n,,key,A,B,C\nid,student,class,Q1,Q2,Q3\n");
        let row = |(i, answers): (usize, &&str)| format!("000{i},Child {i},5P,{answers}\n");
        rows.iter().enumerate().fold(head, |text, (i, answers)| text + &row((i, answers)))
    }

    const BEFORE: [&str; 8] = ["A,A,A", "A,A,A", "B,B,B", "B,A,A", "C,C,A", "B,B,A", "A,B,C", "A,B,C"];
    const AFTER: [&str; 8] = ["A,B,A", "B,A,A", "B,B,B", "B,A,A", "C,C,A", "B,A,A", "A,B,C", "A,B,C"];

    fn headless(files: &[(&str, String)]) -> Plan {
        let scores: Vec<SourceFile<'_>> =
            files.iter().map(|(name, text)| SourceFile { name, bytes: text.as_bytes() }).collect();
        let perhaps_across = PerhapsAcross::IsOffered;
        let sources = Sources { scores: &scores, items: None, students: None, attendance: None, perhaps_across };
        let school = School::default();
        let request = HeadlessRequest { sources, school: &school, week: None, seed: 1 };
        plan(&Knowledge::builtin().unwrap(), &request).unwrap()
    }

    fn two_sheets(first: &str, second: &str) -> Plan {
        headless(&[("first.csv", quiz(first, BEFORE)), ("second.csv", quiz(second, AFTER))])
    }

    fn kept(weeks: &Weeks, name: &str, text: String) -> Plan {
        let scores = vec![GivenFile { name: name.into(), bytes: text.into_bytes() }];
        let files = WeekFiles { scores, items: None, students: None, attendance: None };
        weeks.plan_at_once(None, files, 1).unwrap().plan.plan.clone()
    }

    fn reports(plan: &Plan) -> Vec<&SkillReport> {
        plan.students.iter().flat_map(|s| &s.profile).collect()
    }

    #[test]
    fn sheets_of_several_weeks_fade_as_with_records() {
        let at_once = two_sheets("2026-02-02", "2026-02-23");
        let weeks = Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap();
        kept(&weeks, "first.csv", quiz("2026-02-02", BEFORE));
        let with_records = kept(&weeks, "second.csv", quiz("2026-02-23", AFTER));
        assert_eq!(reports(&at_once).len(), 8);
        for (a, b) in reports(&at_once).into_iter().zip(reports(&with_records)) {
            assert_eq!(
                (a.n_items, a.state, a.share_low, a.share_high),
                (b.n_items, b.state, b.share_low, b.share_high)
            );
            assert!((a.mastery - b.mastery).abs() < 1e-9, "{a:?} {b:?}");
        }
    }

    #[test]
    fn without_dates_nothing_fades() {
        let (undated, dated) = (two_sheets("one", "two"), two_sheets("2026-02-02", "2026-02-23"));
        let same_week = two_sheets("2026-02-23", "2026-02-24");
        assert_eq!(reports(&undated), reports(&same_week));
        // 1 of 3 and then 2 of 3: the first counts half, so the share is nearer to the second.
        let centre = |plan: &Plan| (reports(plan)[0].share_low + reports(plan)[0].share_high) / 2.0;
        assert!(centre(&dated) > centre(&undated) + 0.02, "{} {}", centre(&dated), centre(&undated));
        assert_eq!((undated.week, dated.week), (None, None), "a plan of several weeks' sheets names none by itself");
        let too_old = two_sheets("2025-11-03", "2026-02-23");
        assert!(reports(&too_old).iter().all(|r| r.n_items == 3) && reports(&dated).iter().all(|r| r.n_items == 6));
    }
}
