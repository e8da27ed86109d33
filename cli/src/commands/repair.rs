//! `sheaf repair`: one day of a plan again, with as few changes as possible, while somebody is out.
//!
//! In:  the JSON that `sheaf plan --json` wrote, and who is out. Prints what changed; with `--json` the whole plan with that day
//! issued anew, with `--out` a workbook of its rotation.
//! Keeps: the plan that was read is never written over. Not here: which sessions change (`sheaf-core`).

use crate::input::load;
use crate::output::{is_stdout, refuse_overwriting, write_json, write_whole};
use crate::run::Stop;
use clap::Args;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::repair::repair_published;
use sheaf_app::workbook::write_rotation;
use sheaf_core::plan::Plan;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

#[derive(Args)]
pub struct RepairArguments {
    /// The plan, as `sheaf plan --json` wrote it
    #[arg(value_name = "PLAN.json")]
    plan: PathBuf,
    /// Who is out and when: a member of staff, a room or a student's id; a block or a day (Mon to Fri)
    #[arg(long, value_name = "WHO@WHEN", required = true, value_parser = who_and_when)]
    without: Vec<String>,
    /// Write the rotation as a workbook
    #[arg(long, value_name = "FILE.xlsx", value_parser = workbook_name)]
    out: Option<PathBuf>,
    /// Write the repaired plan as JSON to a file, or - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// A name may hold an @, so the last one counts.
fn who_and_when(text: &str) -> Result<String, String> {
    let parts = text.rsplit_once('@').filter(|(who, when)| !who.trim().is_empty() && !when.trim().is_empty());
    parts
        .map(|_| text.to_owned())
        .ok_or_else(|| "write WHO@WHEN, for example \"Teacher B@mon-1\" or \"Lab@Tue\"".to_owned())
}

fn workbook_name(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    let is_workbook = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("xlsx"));
    is_workbook.then_some(path).ok_or_else(|| "the workbook's name must end in .xlsx".to_owned())
}

pub fn run(a: &RepairArguments, out: &mut dyn Write) -> Result<(), Stop> {
    refuse_overwriting(a.out.iter().chain(&a.json), [&a.plan])?;
    let loaded = load(&a.plan)?;
    let name = loaded.name.clone();
    let mended = repair_published(&name, &loaded.into_text()?, &a.without)?;
    if let Some(target) = &a.out {
        let knowledge = Knowledge::builtin()?;
        write_whole(target, |file| Ok(write_rotation(&knowledge, &mended.plan, BufWriter::new(file))?))?;
    }
    if let Some(target) = &a.json {
        write_json(target, out, |sink| sink.write_all(mended.text.as_bytes()))?;
        if is_stdout(target) {
            return Ok(());
        }
    }
    Ok(tell_changes(&mended.plan, out)?)
}

fn tell_changes(plan: &Plan, out: &mut dyn Write) -> std::io::Result<()> {
    let Some(repair) = plan.repairs.last() else { return Ok(()) };
    let without: Vec<String> = repair.without.iter().map(ToString::to_string).collect();
    writeln!(out, "Without {}: {}", without.join(", "), count(repair.changes.len()))?;
    for change in &repair.changes {
        writeln!(out, "  {}", change.words(plan.group_name(&change.before.group)))?;
    }
    if let Some(doubt) = repair.doubt() {
        writeln!(out, "  {doubt}")?;
    }
    Ok(())
}

fn count(n_changes: usize) -> String {
    match n_changes {
        0 => "no session changes.".to_owned(),
        1 => "1 session changes.".to_owned(),
        n => format!("{n} sessions change."),
    }
}
