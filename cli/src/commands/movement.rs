//! `sheaf movement`: who moved between groups, who is stuck, growth; from the records.
//!
//! Not here: the figures (`sheaf-core`), which weeks count (`sheaf-app`).

use crate::input::load_setup;
use crate::output::{is_stdout, write_json};
use crate::run::Stop;
use crate::summary::plural;
use clap::Args;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Week, Weeks};
use sheaf_core::movement::{Movement, WayKind, movement_json};
use std::collections::BTreeMap;
use std::io::{BufWriter, Write};
use std::path::PathBuf;

#[derive(Args)]
pub struct MovementArguments {
    /// The file of records
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
    /// The first week: any of its days; left out: the first that is planned
    #[arg(long, value_name = "DATE", value_parser = week)]
    from: Option<Week>,
    /// The last week; left out: the last that is planned
    #[arg(long, value_name = "DATE", value_parser = week)]
    to: Option<Week>,
    /// The school setup (TOML); left out: the built-in one
    #[arg(long, value_name = "FILE")]
    school: Option<PathBuf>,
    /// Write it as JSON to a file, or - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

fn week(text: &str) -> Result<Week, String> {
    Week::parse(text).map_err(|e| e.message)
}

pub fn run(a: &MovementArguments, out: &mut dyn Write, _err: &mut dyn Write) -> Result<(), Stop> {
    let weeks = Weeks::open_kept(&a.db, load_setup(a.school.as_ref())?)?;
    let movement = weeks.movement(a.from, a.to)?;
    if let Some(target) = &a.json {
        let text = movement_json(&movement).map_err(AppError::our_fault)?;
        write_json(target, out, |sink| sink.write_all(text.as_bytes()))?;
        if is_stdout(target) {
            return Ok(());
        }
    }
    let mut out = BufWriter::new(out);
    tell(&movement, &mut out)?;
    Ok(out.flush()?)
}

fn tell(m: &Movement, out: &mut dyn Write) -> std::io::Result<()> {
    let weeks: Vec<String> = m.weeks.iter().map(ToString::to_string).collect();
    writeln!(out, "{}, {}: {}", plural(m.students.len(), "student"), plural(weeks.len(), "week"), weeks.join(", "))?;
    if let Some(gaps) = m.gaps() {
        writeln!(out, "{gaps}")?;
    }
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    m.students.iter().for_each(|s| *counts.entry(s.judged.verdict.word()).or_default() += 1);
    let counts: Vec<String> = counts.iter().map(|(word, n)| format!("{n} {}", word.replace('-', " "))).collect();
    writeln!(out, "How it went: {}", counts.join(", "))?;
    for student in &m.students {
        writeln!(
            out,
            "  - {} {}: {}",
            student.student.id,
            student.judged.verdict.word().replace('-', " "),
            student.judged.reason
        )?;
        if !student.next.is_empty() {
            writeln!(out, "      {}", student.next)?;
        }
    }
    for problem in &m.core_problems {
        writeln!(out, "{}", problem.sentence())?;
    }
    writeln!(out, "\nMoves")?;
    for ((week, flows), (_, index)) in m.flows.iter().zip(&m.agreement) {
        let moved: usize = flows.iter().filter(|f| f.kind() == WayKind::Changed).map(|f| f.n_students).sum();
        let alike = index.map_or("too few to compare".to_owned(), |i| format!("adjusted Rand index {i:.2}"));
        writeln!(out, "  into {week}: {} changed groups; {alike}", plural(moved, "student"))?;
    }
    for (week, changes) in &m.state_changes {
        writeln!(out, "  into {week}: {}", changes.sentence())?;
    }
    writeln!(out, "\n{}", m.by_chance.sentence())?;
    writeln!(out, "{}", m.regrouping.sentence())?;
    besides(m, out)
}

/// What people decided, and sums by part of the school.
fn besides(m: &Movement, out: &mut dyn Write) -> std::io::Result<()> {
    let decided = m.decided();
    if !decided.is_empty() {
        writeln!(out, "\nDecided by people")?;
    }
    for d in &decided {
        let who = d.child.map_or(String::new(), |c| format!(", {}", c.id));
        writeln!(out, "  {} {}{who}: {}", d.week, d.group, d.words)?;
    }
    if !m.parts.is_empty() {
        writeln!(out, "\nTime and stay")?;
    }
    m.parts.iter().try_for_each(|part| writeln!(out, "  {}", part.sentence()))
}
