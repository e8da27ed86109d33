//! `sheaf plan`: the whole weekly job, headless.
//!
//! Prints groups with their reasons, who waits, the rotation and where the workbook lies. The workbook is never written over a
//! file that was read. Not here: keeping the week in a store.

use super::{load, load_all, load_school};
use crate::output::{tell_findings, write_json, write_whole};
use crate::run::Stop;
use clap::Args;
use jiff::civil::{Date, Weekday};
use sheaf_app::headless::{HeadlessRequest, SourceFile, plan, write_workbook};
use sheaf_app::knowledge::Knowledge;
use sheaf_core::plan::published::write_plan_json;
use sheaf_core::plan::{Plan, UnplacedKind};
use std::io::Write;
use std::path::{Path, PathBuf};

#[derive(Args)]
pub struct PlanArguments {
    /// Score sheets: .xlsx .xls .ods .csv, one a class or one a check.
    #[arg(required = true)]
    scores: Vec<PathBuf>,
    /// A sheet with a row an item: item, skill, key, points, type, and what wrong options mean.
    #[arg(long)]
    items: Option<PathBuf>,
    /// The school setup (TOML); left out: the built-in one.
    #[arg(long)]
    school: Option<PathBuf>,
    /// The list of students: id, name, grade, homeroom, supports.
    #[arg(long)]
    students: Option<PathBuf>,
    /// The week, as any of its days; left out: the one date that the sheets carry.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = parse_week)]
    week: Option<Date>,
    /// Seed of every random draw: the same sheets and seed give the same plan.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the staff workbook here.
    #[arg(long, value_name = "FILE.xlsx")]
    out: Option<PathBuf>,
    /// A workbook of Sheaf's sheets alone.
    #[arg(long)]
    new_workbook: bool,
    /// Write the plan as JSON to a file, or - for stdout.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// Any day of a week stands for its Monday.
fn parse_week(text: &str) -> Result<Date, String> {
    let date: Date = text.parse().map_err(|_| "a week is a date such as 2026-02-02".to_owned())?;
    let back = i32::from(date.weekday().since(Weekday::Monday));
    date.checked_sub(jiff::Span::new().days(back)).map_err(|e| e.to_string())
}

pub fn run(a: &PlanArguments, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    refuse_overwriting(a)?;
    let school = load_school(a.school.as_ref())?;
    let scores = load_all(&a.scores)?;
    let items = a.items.as_ref().map(|p| load(p)).transpose()?;
    let students = a.students.as_ref().map(|p| load(p)).transpose()?;
    let sources: Vec<SourceFile<'_>> = scores.iter().map(super::Loaded::source).collect();
    let knowledge = Knowledge::builtin()?;
    let plan = plan(
        &knowledge,
        &HeadlessRequest {
            scores: &sources,
            items: items.as_ref().map(super::Loaded::source),
            students: students.as_ref().map(super::Loaded::source),
            school: &school,
            week: a.week,
            seed: a.seed,
        },
    )?;
    drop(scores);
    tell_findings(&plan.findings, err)?;
    if let Some(target) = &a.out {
        // Sheets of ours are not added to the uploaded file yet: every workbook is one of our sheets alone.
        let _ = a.new_workbook;
        write_whole(target, |file| Ok(write_workbook(&knowledge, &plan, std::io::BufWriter::new(file))?))?;
    }
    if let Some(target) = &a.json {
        write_json(target, out, |sink| write_plan_json(&plan, sink))?;
    }
    if a.json.as_deref() != Some(Path::new("-")) {
        tell_plan(&plan, out)?;
        if let Some(target) = &a.out {
            writeln!(out, "\nWorkbook: {}", target.display())?;
        }
    }
    Ok(())
}

fn refuse_overwriting(a: &PlanArguments) -> Result<(), Stop> {
    let real = |p: &PathBuf| std::fs::canonicalize(p).ok();
    let inputs: Vec<PathBuf> =
        a.scores.iter().chain(&a.items).chain(&a.school).chain(&a.students).filter_map(real).collect();
    for target in [&a.out, &a.json].into_iter().flatten() {
        if real(target).is_some_and(|t| inputs.contains(&t)) {
            return Err(Stop::Usage(format!("{} is one of the files read; choose another name.", target.display())));
        }
    }
    Ok(())
}

/// Groups shown in full; beyond that only their counts.
const SHOWN_GROUPS: usize = 60;

fn tell_plan(plan: &Plan, out: &mut dyn Write) -> std::io::Result<()> {
    let week = plan.week.map_or("no week named".to_owned(), |w| format!("week of {w}"));
    let n_seated: usize = plan.groups.iter().map(|g| g.members.len()).sum();
    writeln!(out, "{} students, {week}: {n_seated} in {} groups", plan.students.len(), plan.groups.len())?;
    for group in plan.groups.iter().take(SHOWN_GROUPS) {
        writeln!(out, "\n{} ({})", group.name, group.target_skill)?;
        for note in &group.notes {
            writeln!(out, "  {note}")?;
        }
        for &member in &group.members {
            let student = &plan.students[member];
            writeln!(out, "  - {} {}: {}", student.id, student.name, student.why)?;
        }
        let sessions: Vec<String> = plan
            .rotation
            .iter()
            .filter(|s| s.group == group.id && s.staff.is_some())
            .map(|s| format!("{} {} with {}", s.time.day.short(), s.time.start, s.staff.as_deref().unwrap_or("nobody")))
            .collect();
        if !sessions.is_empty() {
            writeln!(out, "  meets {}", sessions.join(", "))?;
        }
    }
    if plan.groups.len() > SHOWN_GROUPS {
        writeln!(
            out,
            "\nand {} more groups; the workbook and the JSON hold them all.",
            plan.groups.len() - SHOWN_GROUPS
        )?;
    }
    tell_unplaced(plan, out)?;
    for note in &plan.rotation_notes {
        writeln!(out, "{note}")?;
    }
    writeln!(
        out,
        "\nThese groups are a suggestion from few items: not a diagnosis, and no ground for eligibility or placement decisions."
    )
}

fn tell_unplaced(plan: &Plan, out: &mut dyn Write) -> std::io::Result<()> {
    let of = |kind: UnplacedKind| plan.unplaced.iter().filter(move |u| u.kind == kind);
    writeln!(
        out,
        "\nWithout a seat: {} wait, {} lack nothing measured, {} have no scores",
        of(UnplacedKind::Waits).count(),
        of(UnplacedKind::NoNeed).count(),
        of(UnplacedKind::NoScores).count()
    )?;
    for u in of(UnplacedKind::Waits).take(SHOWN_GROUPS) {
        writeln!(out, "  - {} waits: {}", plan.students[u.student].id, u.reason)?;
    }
    Ok(())
}
