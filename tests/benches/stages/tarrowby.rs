//! Tarrowby's first week as a cold process: the whole plan of three grades, and one Monday of it issued anew.
//!
//! In:  the binary and the fixtures of the invented school. Out: medians in milliseconds beside what they are meant to stay under.
//! A time that is not held is marked, and fails nothing: machines differ.

use super::Request;
use super::timing::{Timed, time};
use std::path::{Path, PathBuf};
use std::process::Command;

const N_RUNS: usize = 11;
const PLAN_MS: f64 = 1_000.0;
const REPAIR_MS: f64 = 200.0;

/// Prints both times.
pub fn measure(request: &Request) {
    let school = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/schools/tarrowby");
    let plan = request.work.join("tarrowby.json");
    let mut args: Vec<PathBuf> = vec!["plan".into()];
    args.extend((3..=5).map(|grade| school.join(format!("grade{grade}_week1.xlsx"))));
    args.extend(["--school".into(), school.join("school.toml"), "--students".into(), school.join("students.csv")]);
    args.extend(["--json".into(), plan.clone()]);
    let (planned, ()) = time(N_RUNS, || run(request, &args));
    let repair: Vec<PathBuf> = vec![
        "repair".into(),
        plan,
        "--without".into(),
        "I2@Mon".into(),
        "--json".into(),
        request.work.join("tarrowby_monday.json"),
    ];
    let (repaired, ()) = time(N_RUNS, || run(request, &repair));
    println!("\nTarrowby, three grades, cold process");
    tell("plan of the week", planned, PLAN_MS);
    tell("Monday without one adult", repaired, REPAIR_MS);
}

fn run(request: &Request, args: &[PathBuf]) {
    let output = Command::new(&request.sheaf).args(args).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

fn tell(what: &str, timed: Timed, most_ms: f64) {
    let verdict = if timed.median_ms < most_ms { "held" } else { "NOT HELD" };
    println!("  {what:<26} {:>8.1} ms of {most_ms:.0} ms, {verdict} ({} runs)", timed.median_ms, timed.n_runs);
}
