//! `sheaf check`: what was understood of score sheets, and every finding with its cell. Nothing is planned or kept.
//! Not here: how a sheet is understood (`sheaf-sheets`), the published JSON (`sheaf-core`).

use crate::input::{Loaded, across_if, load_all, load_if_given};
use crate::output::{is_stdout, refuse_overwriting, write_json};
use crate::run::Stop;
use crate::summary::{finding_line, plural};
use clap::Args;
use sheaf_app::headless::{ReadLimits, Reading, SourceFile, Sources, read};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::understood::understood;
use sheaf_core::plan::published_check::{RowShown, SheetNotRead, SheetUnderstood, write_check_json};
use sheaf_core::scores::Item;
use sheaf_core::skills::SkillCode;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

/// First rows of a sheet that are printed; the JSON has ten.
const ROWS_SHOWN: usize = 3;

#[derive(Args)]
pub struct CheckArguments {
    /// Score sheets.
    #[arg(required = true)]
    scores: Vec<PathBuf>,
    /// A sheet with a row an item: item, skill, key, points, type, and what wrong options mean.
    #[arg(long)]
    items: Option<PathBuf>,
    /// Students run across: where a sheet may have a column a student, it is read so
    #[arg(long)]
    students_across: bool,
    /// Write what was understood as JSON to a file, or - for stdout.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

pub fn run(a: &CheckArguments, out: &mut dyn Write, _err: &mut dyn Write) -> Result<(), Stop> {
    refuse_overwriting(&a.json, a.scores.iter().chain(&a.items))?;
    let reading = understand(a)?;
    if let Some(target) = &a.json {
        let told = understood(&reading);
        write_json(target, out, |sink| {
            write_check_json(&reading.inputs, &told, &reading.findings, &reading.table, sink)
        })?;
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
    let sources = Sources {
        scores: &sheets,
        items: items.as_ref().map(Loaded::source),
        students: None,
        attendance: None,
        perhaps_across: across_if(a.students_across),
    };
    Ok(read(&Knowledge::builtin()?, &sources, ReadLimits::default())?)
}

fn tell_reading(reading: &Reading, out: &mut dyn Write) -> std::io::Result<()> {
    let told = understood(reading);
    told.sheets.iter().try_for_each(|sheet| tell_sheet(sheet, out))?;
    told.left_out.iter().try_for_each(|sheet| tell_left_out(sheet, out))?;
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

fn place(file: &str, sheet: &str) -> String {
    if sheet.is_empty() { file.to_owned() } else { format!("{file}, sheet {sheet}") }
}

fn tell_sheet(sheet: &SheetUnderstood, out: &mut dyn Write) -> std::io::Result<()> {
    let (students, items) = (plural(sheet.students, "student"), plural(sheet.items.len(), "item"));
    writeln!(out, "{}: {students}, {items}", place(&sheet.file, &sheet.sheet))?;
    let each = if sheet.shape == "long" { "response" } else { "student" };
    let (line, lane) = if sheet.students_run == "across" { ("column", "row") } else { ("row", "column") };
    writeln!(out, "  headings in {}; a {line} a {each}", sheet.headings)?;
    let columns: Vec<String> = sheet
        .columns
        .iter()
        .map(|c| {
            if c.heading.is_empty() {
                format!("{} {}", c.column, c.column_use)
            } else {
                format!("{} \u{201c}{}\u{201d} {}", c.column, c.heading, c.column_use)
            }
        })
        .collect();
    writeln!(out, "  {lane}s: {}", columns.join(", "))?;
    tell_rows(&sheet.rows, out)
}

fn tell_left_out(sheet: &SheetNotRead, out: &mut dyn Write) -> std::io::Result<()> {
    let why = match sheet.reason {
        "items" => "facts of items, which were used",
        "hidden" => "not read, since its tab is hidden",
        "students-without-marks" => "not read: a list of students without marks",
        "students-perhaps-across" => "not read: students may run across; --students-across says that they do",
        _ => "not read: no headings of students and items were found",
    };
    writeln!(out, "{}: {why}", place(&sheet.file, &sheet.sheet))?;
    tell_rows(&sheet.rows, out)
}

/// The first rows, so that a person sees what stood where.
fn tell_rows(rows: &[RowShown], out: &mut dyn Write) -> std::io::Result<()> {
    rows.iter().take(ROWS_SHOWN).try_for_each(|row| writeln!(out, "  {:>6}  {}", row.line, row.cells.join(" | ")))
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
    use sheaf_core::plan::published_check::ColumnUnderstood;
    use sheaf_core::scores::ResponseTable;

    #[test]
    fn sheets_are_told_with_their_columns_and_first_rows() {
        let cells = |texts: [&str; 2]| texts.map(str::to_owned).to_vec();
        let sheet = SheetUnderstood {
            file: "a.xlsx".into(),
            sheet: "Quiz".into(),
            shape: "wide",
            students_run: "across",
            headings: "column A".into(),
            students: 1,
            items: vec!["Q1".into()],
            columns: vec![ColumnUnderstood::new("1", "", "name"), ColumnUnderstood::new("2", "Q1", "item")],
            rows: vec![RowShown { line: "B".into(), cells: cells(["Ann", "C"]) }],
        };
        let rows = vec![RowShown { line: "1".into(), cells: cells(["milk", "2"]) }];
        let (file, reason) = ("b.csv".to_owned(), "no-headings");
        let mut out = Vec::new();
        tell_sheet(&sheet, &mut out).unwrap();
        tell_left_out(&SheetNotRead { file, sheet: String::new(), reason, rows }, &mut out).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "a.xlsx, sheet Quiz: 1 student, 1 item\n  headings in column A; a column a student\n  \
             rows: 1 name, 2 \u{201c}Q1\u{201d} item\n       B  Ann | C\n\
             b.csv: not read: no headings of students and items were found\n       1  milk | 2\n"
        );
    }

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
