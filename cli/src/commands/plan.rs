//! `sheaf plan`: the whole weekly job, headless.
//!
//! Prints groups with their reasons, who waits, the rotation and where the workbook lies; with `--json -` the JSON alone.
//! Keeps: nothing is written before the plan is made, and never over a file that was read.
//! With `--db` the week is kept as the service keeps it, and the plan is of all its sheets.
//! Not here: what a plan is made from (`sheaf-app`).

use crate::input::{Loaded, across_if, load, load_all, load_if_given, load_setup_with};
use crate::output::{is_stdout, refuse_overwriting, write_json, write_whole};
use crate::run::Stop;
use crate::summary::{tell_findings, tell_plan};
use clap::Args;
use jiff::civil::Date;
use sheaf_app::apart;
use sheaf_app::headless::{HeadlessRequest, SourceFile, Sources, plan};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::shared::{Naming, shared_files};
use sheaf_app::weeks::{SchoolSetup, Week, WeekFiles, WeekPlan, Weeks};
use sheaf_app::workbook::{Form, StaffWorkbook, form_for};
use sheaf_core::movement::LookBack;
use sheaf_core::plan::Plan;
use sheaf_core::plan::published::write_plan_json;
use sheaf_core::roster::School;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

#[derive(Args)]
pub struct PlanArguments {
    /// Score sheets (.xlsx .xlsm .xlsb .xls .ods .csv .tsv): one a class, or one a check
    #[arg(required = true)]
    scores: Vec<PathBuf>,
    /// Item facts, a row an item: item, skill, key, points, type, and what wrong options mean
    #[arg(long, value_name = "FILE")]
    items: Option<PathBuf>,
    /// The school setup (TOML); left out: the built-in one
    #[arg(long, value_name = "FILE")]
    school: Option<PathBuf>,
    /// Files of your own beside what is built in: item models (.toml) or wrong ideas (.csv); may be given several times
    #[arg(long, value_name = "FILE")]
    own: Vec<PathBuf>,
    /// The list of students: id, name, grade, homeroom, supports
    #[arg(long, value_name = "FILE")]
    students: Option<PathBuf>,
    /// Attendance: a row a student, a column a session or day; present, late, absent or minutes
    #[arg(long, value_name = "FILE")]
    attendance: Option<PathBuf>,
    /// Students run across: where a sheet may have a column a student, it is read so
    #[arg(long, conflicts_with = "db")]
    students_across: bool,
    /// Keep the week in this file of records; made where it is missing
    #[arg(long, value_name = "FILE")]
    db: Option<PathBuf>,
    /// The week: any of its days is taken as its Monday; left out: the one date that the sheets carry
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = monday_of)]
    week: Option<Date>,
    /// Seed of every random draw: the same sheets and seed give the same plan
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Write the staff workbook here: a copy of the one .xlsx or .xlsm given, with Sheaf's sheets added
    #[arg(long, value_name = "FILE.xlsx", value_parser = workbook_name)]
    out: Option<PathBuf>,
    /// Make it a workbook of Sheaf's sheets alone
    #[arg(long, requires = "out")]
    new_workbook: bool,
    /// Write the plan as JSON to a file, or - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Write groups.csv, needs.csv and a dictionary of their columns into this folder; made where it is missing
    #[arg(long, value_name = "FOLDER")]
    csv: Option<PathBuf>,
    /// What those files say of children: names, ids, or nobody (counts alone, small ones left out)
    #[arg(long, value_name = "WHO", value_parser = naming, default_value = "names", requires = "csv")]
    csv_naming: Naming,
}

fn naming(text: &str) -> Result<Naming, String> {
    let words = Naming::ALL.map(Naming::word);
    Naming::ALL.into_iter().find(|n| n.word() == text).ok_or_else(|| format!("write one of {}", words.join(", ")))
}

/// The Monday of the week that a day lies in; Saturday and Sunday close the week behind them.
fn monday_of(text: &str) -> Result<Date, String> {
    Week::parse(text).map(Week::monday).map_err(|e| e.message)
}

/// Spreadsheet programs refuse a workbook under another ending.
fn workbook_name(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    if [Form::Plain, Form::Macros].iter().any(|form| ends_in(&path, *form)) {
        return Ok(path);
    }
    Err("the workbook's name must end in .xlsx, or in .xlsm for a workbook with macros".to_owned())
}

/// Whether a file is a text by its name: those are mostly read without a process of their own.
fn is_text(path: &Path) -> bool {
    path.extension().is_some_and(|e| ["csv", "tsv", "txt"].iter().any(|text| e.eq_ignore_ascii_case(text)))
}

fn ends_in(path: &Path, form: Form) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(form.ending()))
}

pub fn run(a: &PlanArguments, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    if a.scores.iter().any(|path| !is_text(path)) {
        apart::start_ahead();
    }
    let inputs = a
        .scores
        .iter()
        .chain(&a.items)
        .chain(&a.school)
        .chain(&a.own)
        .chain(&a.students)
        .chain(&a.attendance)
        .chain(&a.db);
    refuse_overwriting(a.out.iter().chain(&a.json), inputs)?;
    let own = own_workbook(a)?;
    refuse_another_ending(a, own.as_ref())?;
    let setup = load_setup_with(a.school.as_ref(), &a.own, err)?;
    if let Some(db) = &a.db {
        let (weeks, kept) = keep(a, db, setup, err)?;
        let back = if a.out.is_some() { weeks.look_back(kept.week)? } else { None };
        share(a, weeks.knowledge(), &kept.plan, &weeks.setup().school)?;
        return hand_out(a, weeks.knowledge(), (&kept.plan, back.as_ref(), own.as_ref()), out, err);
    }
    let knowledge = setup.knowledge()?;
    let plan = make(a, &knowledge, &setup)?;
    share(a, &knowledge, &plan, &setup.school)?;
    hand_out(a, &knowledge, (&plan, None, own.as_ref()), out, err)
}

/// Groups and needs as text files, where a folder for them is given.
fn share(a: &PlanArguments, knowledge: &Knowledge, plan: &Plan, school: &School) -> Result<(), Stop> {
    let Some(folder) = &a.csv else { return Ok(()) };
    let files = shared_files(knowledge, plan, a.csv_naming, school.records.smallest_count)?;
    let fault = |e: std::io::Error| Stop::Output(format!("{} cannot be made: {e}.", folder.display()));
    std::fs::create_dir_all(folder).map_err(fault)?;
    let paths: Vec<PathBuf> = files.iter().map(|f| folder.join(f.name)).collect();
    refuse_overwriting(
        &paths,
        a.scores.iter().chain(&a.items).chain(&a.school).chain(&a.students).chain(&a.attendance),
    )?;
    for (path, file) in paths.iter().zip(&files) {
        write_whole(path, |sink| {
            sink.write_all(&file.bytes).map_err(|e| Stop::Output(format!("{} cannot be written: {e}.", path.display())))
        })?;
    }
    Ok(())
}

/// The job with records.
fn keep(a: &PlanArguments, db: &Path, setup: SchoolSetup, err: &mut dyn Write) -> Result<(Weeks, Arc<WeekPlan>), Stop> {
    let files = WeekFiles {
        scores: load_all(&a.scores)?.into_iter().map(Loaded::into_given).collect(),
        items: load_if_given(a.items.as_ref())?.map(Loaded::into_given),
        students: load_if_given(a.students.as_ref())?.map(Loaded::into_given),
        attendance: load_if_given(a.attendance.as_ref())?.map(Loaded::into_given),
    };
    let weeks = Weeks::open_for(db, setup, &files)?;
    let planned = weeks.plan_at_once(a.week.map(Week::of), files, a.seed)?;
    tell_findings(&planned.findings, err)?;
    Ok((weeks, planned.plan))
}

/// The job without records.
fn make(a: &PlanArguments, knowledge: &Knowledge, setup: &SchoolSetup) -> Result<Plan, Stop> {
    let scores = load_all(&a.scores)?;
    let items = load_if_given(a.items.as_ref())?;
    let students = load_if_given(a.students.as_ref())?;
    let attendance = load_if_given(a.attendance.as_ref())?;
    let sources: Vec<SourceFile<'_>> = scores.iter().map(Loaded::source).collect();
    let request = HeadlessRequest {
        sources: Sources {
            scores: &sources,
            items: items.as_ref().map(Loaded::source),
            students: students.as_ref().map(Loaded::source),
            attendance: attendance.as_ref().map(Loaded::source),
            perhaps_across: across_if(a.students_across),
        },
        school: &setup.school,
        week: a.week,
        seed: a.seed,
    };
    Ok(plan(knowledge, &request)?)
}

/// The one file that the scores come from, which gets Sheaf's sheets.
fn own_workbook(a: &PlanArguments) -> Result<Option<Loaded>, Stop> {
    match a.scores.as_slice() {
        [one] if a.out.is_some() && !a.new_workbook => Ok(Some(load(one)?)),
        _ => Ok(None),
    }
}

/// A workbook with macros keeps its ending, and no other takes it.
fn refuse_another_ending(a: &PlanArguments, own: Option<&Loaded>) -> Result<(), Stop> {
    let Some(target) = &a.out else { return Ok(()) };
    let form = own.map_or(Form::Plain, |own| form_for(own.source()));
    if ends_in(target, form) {
        return Ok(());
    }
    let why = match form {
        Form::Macros => "the workbook given holds macros; or add --new-workbook for one of Sheaf's sheets alone",
        Form::Plain => "it holds no macros",
    };
    Err(Stop::Usage(format!("{} must end in .{}: {why}.", target.display(), form.ending())))
}

/// Hands out the plan, in the file that its scores came from where there is one.
fn hand_out(
    a: &PlanArguments,
    knowledge: &Knowledge,
    (plan, back, own): (&Plan, Option<&LookBack>, Option<&Loaded>),
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let (workbook, plan) = StaffWorkbook::decide(knowledge, plan, back, own.map(Loaded::source))?;
    let plan = plan.as_ref();
    tell_findings(&plan.findings, err)?;
    if let Some(target) = &a.out {
        write_whole(target, |file| Ok(workbook.write(knowledge, plan, BufWriter::new(file))?))?;
    }
    if let Some(target) = &a.json {
        write_json(target, out, |sink| write_plan_json(plan, sink))?;
    }
    if a.json.as_deref().is_some_and(is_stdout) {
        return Ok(());
    }
    let mut out = BufWriter::new(out);
    tell_plan(plan, &mut out)?;
    tell_place("Workbook", a.out.as_deref(), &mut out)?;
    tell_place("JSON", a.json.as_deref(), &mut out)?;
    tell_place("Text files", a.csv.as_deref(), &mut out)?;
    Ok(out.flush()?)
}

fn tell_place(what: &str, path: Option<&Path>, out: &mut dyn Write) -> std::io::Result<()> {
    path.map_or(Ok(()), |path| writeln!(out, "{what}: {}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made_up;
    use jiff::civil::date;

    #[test]
    fn any_day_stands_for_its_monday() {
        for day in ["2026-02-02", "2026-02-06", "2026-02-08"] {
            assert_eq!(monday_of(day), Ok(date(2026, 2, 2)), "{day}");
        }
        assert_eq!(monday_of("2026-03-01"), Ok(date(2026, 2, 23)));
        assert!(monday_of("2 February").is_err());
    }

    fn arguments(folder: &Path, json: &str) -> PlanArguments {
        PlanArguments {
            students_across: false,
            scores: vec![folder.join("week1.csv")],
            items: None,
            school: None,
            own: Vec::new(),
            students: None,
            attendance: None,
            db: None,
            week: None,
            seed: 1,
            out: Some(folder.join("groups.xlsx")),
            new_workbook: true,
            json: Some(if json == "-" { json.into() } else { folder.join(json) }),
            csv: None,
            csv_naming: Naming::Names,
        }
    }

    fn handed_out(folder: &Path, json: &str) -> (String, String) {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let knowledge = Knowledge::builtin().unwrap();
        hand_out(&arguments(folder, json), &knowledge, (&made_up::plan(), None, None), &mut out, &mut err).unwrap();
        (String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
    }

    #[test]
    fn the_summary_says_where_the_files_lie() {
        let folder = tempfile::tempdir().unwrap();
        let (out, err) = handed_out(folder.path(), "plan.json");
        for name in ["groups.xlsx", "plan.json"] {
            assert!(folder.path().join(name).is_file() && out.contains(name), "{name}");
        }
        assert!(err.starts_with("Findings: 1 error"), "{err}");
    }

    #[test]
    fn json_on_stdout_stands_there_alone() {
        let folder = tempfile::tempdir().unwrap();
        let (out, _) = handed_out(folder.path(), "-");
        let plan: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!((&plan["schema"], &plan["week"]), (&"sheaf.plan/1".into(), &"2026-02-02".into()));
    }
}
