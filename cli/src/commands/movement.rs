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
use sheaf_core::movement::{Movement, movement_json};
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
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    m.students.iter().for_each(|s| *counts.entry(s.judged.verdict.word()).or_default() += 1);
    let counts: Vec<String> = counts.iter().map(|(word, n)| format!("{n} {}", word.replace('-', " "))).collect();
    writeln!(out, "How it went: {}", counts.join(", "))?;
    for student in &m.students {
        writeln!(
            out,
            "  - {} {}: {}",
            student.student,
            student.judged.verdict.word().replace('-', " "),
            student.judged.reason
        )?;
    }
    writeln!(out, "\nMoves")?;
    for ((week, flows), (_, index)) in m.flows.iter().zip(&m.agreement) {
        let moved: usize =
            flows.iter().filter(|f| f.from.is_some() && f.to.is_some() && f.from != f.to).map(|f| f.n_students).sum();
        let alike = index.map_or("too few to compare".to_owned(), |i| format!("adjusted Rand index {i:.2}"));
        writeln!(out, "  into {week}: {} changed groups; {alike}", plural(moved, "student"))?;
    }
    tell_chance(m, out)
}

fn tell_chance(m: &Movement, out: &mut dyn Write) -> std::io::Result<()> {
    let (c, r) = (m.by_chance, m.regrouping);
    writeln!(
        out,
        "\nOf {} under the cut at first, {:.0} % reach it now; {:.0} % would if nobody had learnt anything.",
        plural(c.n, "student"),
        100.0 * c.observed,
        100.0 * c.expected
    )?;
    let (moved, stayed) =
        (format!("{} of {}", r.n_moved_met, r.n_moved), format!("{} of {}", r.n_stayed_met, r.n_stayed));
    writeln!(out, "Reached by {moved} who changed groups and {stayed} who stayed: {}", judged(m))
}

fn judged(m: &Movement) -> String {
    match m.regrouping.difference.filter(|_| m.regrouping.is_enough) {
        None => "too few to say.".to_owned(),
        Some(d) => format!("a difference between {:.0} and {:.0} in a hundred.", 100.0 * d.low, 100.0 * d.high),
    }
}
