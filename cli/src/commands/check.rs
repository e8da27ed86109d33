//! `sheaf check`: what was understood of score sheets, and every finding with its cell. Nothing is planned or kept.
//! Not here: how a sheet is understood (`sheaf-sheets`), the published JSON (`sheaf-core`).

use crate::input::{Loaded, load_all, load_if_given};
use crate::output::{is_stdout, refuse_overwriting, write_json};
use crate::run::Stop;
use crate::summary::{finding_line, plural};
use clap::Args;
use sheaf_app::headless::{ReadLimits, Reading, SourceFile, Sources, read};
use sheaf_app::knowledge::Knowledge;
use sheaf_core::plan::published_check::write_check_json;
use sheaf_core::scores::Item;
use sheaf_core::skills::SkillCode;
use std::io::{BufWriter, Write};
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
    refuse_overwriting(&a.json, a.scores.iter().chain(&a.items))?;
    let reading = understand(a)?;
    if let Some(target) = &a.json {
        write_json(target, out, |sink| write_check_json(&reading.inputs, &reading.findings, &reading.table, sink))?;
        if is_stdout(target) {
            return Ok(());
        }
    }
    let mut out = BufWriter::new(out);
    tell_reading(&reading, &mut out)?;
    Ok(out.flush()?)
}

fn understand(a: &CheckArguments) -> Result<Reading, Stop> {
    let scores = load_all(&a.scores)?;
    let items = load_if_given(a.items.as_ref())?;
    let sheets: Vec<SourceFile<'_>> = scores.iter().map(Loaded::source).collect();
    let sources =
        Sources { scores: &sheets, items: items.as_ref().map(Loaded::source), students: None, attendance: None };
    Ok(read(&Knowledge::builtin()?, &sources, ReadLimits::default())?)
}

fn tell_reading(reading: &Reading, out: &mut dyn Write) -> std::io::Result<()> {
    for input in &reading.inputs {
        let sheet = if input.sheet.is_empty() { String::new() } else { format!(", sheet {}", input.sheet) };
        let (students, items) = (plural(input.n_students, "student"), plural(input.n_items, "item"));
        writeln!(out, "{}{sheet}: {students}, {items}", input.file)?;
    }
    writeln!(out, "\nItems: {}", reading.table.n_items())?;
    for item in reading.table.items() {
        writeln!(out, "  {}", item_line(item))?;
    }
    writeln!(out, "\nFindings: {}", reading.findings.len())?;
    for finding in &reading.findings {
        writeln!(out, "  {}", finding_line(finding))?;
    }
    Ok(())
}

fn item_line(item: &Item) -> String {
    let skills: Vec<&str> = item.skills.iter().map(SkillCode::as_str).collect();
    let skills = if skills.is_empty() { "no skill named".to_owned() } else { skills.join("; ") };
    let key = item.key.as_ref().map_or("no key".to_owned(), |key| format!("key {key}"));
    let unit = if item.points == 1.0 { "point" } else { "points" };
    format!("{}: {skills}, {}, {key}, {} {unit}", item.label, item.kind.word(), item.points)
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::finding::Finding;
    use sheaf_core::scores::ResponseTable;

    #[test]
    fn items_and_findings_are_told_with_their_place() {
        let mut table = ResponseTable::new();
        let quiz = table.add_assessment("quiz");
        table.add_item(Item { key: Some("C".into()), ..Item::new("Q1", quiz) });
        let finding =
            Finding::error("no-points", "The cell holds #REF!.", "taken as not taken").at("a.xlsx", "Quiz", "C4");
        let reading = Reading { findings: vec![finding], table, ..Reading::default() };
        let mut out = Vec::new();
        tell_reading(&reading, &mut out).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "\nItems: 1\n  Q1: no skill named, choice, key C, 1 point\n\nFindings: 1\n  \
             error no-points, a.xlsx Quiz C4: The cell holds #REF!. (taken as not taken)\n"
        );
    }
}
