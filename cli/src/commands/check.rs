//! `sheaf check`: what was understood of score sheets, and every finding with its cell. Nothing is planned or kept.

use super::{load, load_all};
use crate::output::write_json;
use crate::run::Stop;
use clap::Args;
use sheaf_app::headless::{HeadlessRequest, SourceFile, read};
use sheaf_app::knowledge::Knowledge;
use sheaf_core::plan::published_check::write_check_json;
use sheaf_core::roster::School;
use std::io::Write;
use std::path::PathBuf;

#[derive(Args)]
pub struct CheckArguments {
    /// Score sheets.
    #[arg(required = true)]
    scores: Vec<PathBuf>,
    /// A sheet with a row an item: item, skill, key, points, type, and what wrong options mean.
    #[arg(long)]
    items: Option<PathBuf>,
    /// Write what was understood as JSON to a file, or - for stdout.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

pub fn run(a: &CheckArguments, out: &mut dyn Write, _err: &mut dyn Write) -> Result<(), Stop> {
    let scores = load_all(&a.scores)?;
    let items = a.items.as_ref().map(|p| load(p)).transpose()?;
    let sources: Vec<SourceFile<'_>> = scores.iter().map(super::Loaded::source).collect();
    let school = School::default();
    let request = HeadlessRequest {
        scores: &sources,
        items: items.as_ref().map(super::Loaded::source),
        students: None,
        school: &school,
        week: None,
        seed: 1,
    };
    let reading = read(&Knowledge::builtin()?, &request)?;
    if let Some(target) = &a.json {
        write_json(target, out, |sink| write_check_json(&reading.inputs, &reading.findings, &reading.table, sink))?;
        if target.as_os_str() == "-" {
            return Ok(());
        }
    }
    for input in &reading.inputs {
        let sheet = if input.sheet.is_empty() { String::new() } else { format!(", sheet {}", input.sheet) };
        writeln!(out, "{}{sheet}: {} students, {} items", input.file, input.n_students, input.n_items)?;
    }
    writeln!(out, "\nItems")?;
    for item in reading.table.items() {
        let skills: Vec<&str> = item.skills.iter().map(sheaf_core::skills::SkillCode::as_str).collect();
        let skills = if skills.is_empty() { "no skill named".to_owned() } else { skills.join("; ") };
        let key = item.key.as_deref().unwrap_or("none");
        writeln!(out, "  {}: {skills}, key {key}, {} points", item.label, item.points)?;
    }
    writeln!(out, "\nFindings: {}", reading.findings.len())?;
    for f in &reading.findings {
        let place: Vec<&str> =
            [f.file.as_str(), f.sheet.as_str(), f.cell.as_str()].into_iter().filter(|p| !p.is_empty()).collect();
        writeln!(out, "  {} {} {}: {} ({})", f.severity.word(), f.code, place.join(" "), f.message, f.action)?;
    }
    Ok(())
}
