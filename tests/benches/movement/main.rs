//! Times a look back over a school year from the records: 1,000 children, 36 weeks, the published JSON at the end.
//!
//! In:  `--students N --weeks N` (left out: 1000 and 36), `--db FILE` keeps the invented records and takes them again the next time.
//! A year is invented (`year`): every week a quiz of each grade and attendance, planned like any other week.
//! Out: the first look, which works the facts of every week out and keeps them; looks after it, each with records opened anew; the same
//! after one mark of attendance, which takes one week's facts away; one cycle of five weeks. Medians in milliseconds beside the goal.
//! Not here: any claim that fails: this program prints, people judge.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

#[path = "../stages/timing.rs"]
mod timing;
mod year;

use sheaf_app::weeks::{SchoolSetup, Week, Weeks};
use sheaf_core::movement::movement_json;
use std::path::{Path, PathBuf};
use timing::{Timed, time};

const GOAL_MS: f64 = 300.0;
const N_RUNS: usize = 9;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let value = |flag: &str| args.iter().position(|a| a == flag).and_then(|at| args.get(at + 1));
    let number = |flag: &str, other: usize| value(flag).map_or(other, |n| n.parse().unwrap());
    let (n_students, n_weeks) = (number("--students", 1_000), number("--weeks", 36));
    let folder = tempfile::tempdir().unwrap();
    let records = value("--db").map_or_else(|| folder.path().join("year.db"), PathBuf::from);
    if !records.exists() {
        let (made, ()) = time(1, || year::keep(&records, n_students, n_weeks));
        println!("{n_students} children, {n_weeks} weeks planned and kept in {:.0} s", made.median_ms / 1e3);
    }
    println!("{} MB of records", std::fs::metadata(&records).unwrap().len() / 1_000_000);
    year::drop_facts(&records);
    let (first, n_bytes) = time(1, || look(&records, None));
    tell("first look, facts made and kept", first, None);
    tell("a look, records opened anew", time(N_RUNS, || look(&records, None)).0, Some(GOAL_MS));
    let (noted, ()) = time(1, || year::note_one(&records));
    tell("one mark of attendance", noted, None);
    tell("the look after it", time(1, || look(&records, None)).0, None);
    let weeks = open(&records);
    let (warm, movement) = time(N_RUNS, || weeks.movement(None, None).unwrap());
    tell("movement alone, records open", warm, Some(GOAL_MS));
    tell("its JSON alone", time(N_RUNS, || movement_json(&movement).unwrap().len()).0, None);
    let last = *movement.weeks.last().unwrap();
    let cycle = Week::of(last.saturating_sub(jiff::Span::new().days(28)));
    tell("the last five weeks", time(N_RUNS, || look(&records, Some(cycle))).0, None);
    println!("{} children moved or stayed, {:.1} MB of JSON", movement.students.len(), n_bytes as f64 / 1e6);
}

fn open(records: &Path) -> Weeks {
    Weeks::open_kept(records, SchoolSetup::parse("school.toml", year::SETUP).unwrap()).unwrap()
}

/// From opening the file to the last byte of the answer.
fn look(records: &Path, first: Option<Week>) -> usize {
    movement_json(&open(records).movement(first, None).unwrap()).unwrap().len()
}

fn tell(what: &str, timed: Timed, most_ms: Option<f64>) {
    let beside = most_ms.map_or(String::new(), |most| {
        format!(" of {most:.0} ms, {}", if timed.median_ms < most { "held" } else { "NOT HELD" })
    });
    println!("  {what:<34} {:>9.1} ms{beside} ({} runs)", timed.median_ms, timed.n_runs);
}
