//! Whole processes, started cold: the release binary on a sheet, the bare libraries, and another program if one is named.
//!
//! Out: [`Process`]es with the median of their wall times and the highest peak of their memory, from `/usr/bin/time`.
//! `SHEAF_BASELINE` names a Python script with the interface `SCRIPT SIZE calamine xlsxwriter`, which finds its sheets
//! through `SHEAF_PERF_DATA` and writes into `SHEAF_PERF_OUT`; `SHEAF_BASELINE_PYTHON` names its interpreter.
//! Keeps: ours and the other program take turns, so that a bad moment of the machine meets both.

use crate::Request;
use crate::sizes::Size;
use crate::timing::{Timed, median};
use std::env;
use std::ffi::{OsStr, OsString};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// A command line, measured.
pub struct Process {
    pub name: &'static str,
    pub timed: Timed,
    pub peak_mib: f64,
}

/// A command line to measure.
struct Contender {
    name: &'static str,
    program: OsString,
    args: Vec<OsString>,
    n_runs: usize,
}

/// The name of our own process in the table.
pub const OURS: &str = "sheaf plan, cold";
/// The name of the other program in the table.
pub const OTHER: &str = "another program, cold";

/// Measures every process of one size, all taking turns.
pub fn measure(size: &Size, request: &Request, sheet: &Path, setup: &Path, n_cells_out: usize) -> Vec<Process> {
    let contenders = contenders(size, request, sheet, setup, n_cells_out);
    let mut runs: Vec<Vec<(f64, f64)>> = contenders.iter().map(|_| Vec::new()).collect();
    for turn in 0..size.n_cold_runs {
        for (contender, runs) in contenders.iter().zip(&mut runs).filter(|(c, _)| turn < c.n_runs) {
            runs.push(run_once(contender, &request.work));
        }
    }
    contenders.iter().zip(runs).map(|(contender, runs)| process(contender, &runs)).collect()
}

fn process(contender: &Contender, runs: &[(f64, f64)]) -> Process {
    let timed = Timed { median_ms: median(runs.iter().map(|run| run.0).collect()), n_runs: runs.len() };
    let peak_mib = runs.iter().map(|run| run.1).fold(0.0, f64::max);
    Process { name: contender.name, timed, peak_mib }
}

fn contenders(size: &Size, request: &Request, sheet: &Path, setup: &Path, n_cells_out: usize) -> Vec<Contender> {
    let n_runs = size.n_cold_runs;
    let own = env::current_exe().unwrap().into_os_string();
    let out = request.work.join("plan.xlsx");
    let words = |parts: &[&dyn AsRef<OsStr>]| parts.iter().map(|part| part.as_ref().to_owned()).collect::<Vec<_>>();
    let plan_args = words(&[&"plan", &sheet, &"--school", &setup, &"--out", &out]);
    let n_cells = n_cells_out.to_string();
    let bare_out = request.work.join("bare.xlsx");
    let mut all = vec![
        Contender { name: OURS, program: request.sheaf.clone().into(), args: plan_args, n_runs },
        Contender { name: "bare read, cold", program: own.clone(), args: words(&[&"bare-read", &sheet]), n_runs },
        Contender {
            name: "bare write, cold",
            program: own,
            args: words(&[&"bare-write", &n_cells, &bare_out]),
            n_runs,
        },
    ];
    if let Some(script) = env::var_os("SHEAF_BASELINE") {
        let program = env::var_os("SHEAF_BASELINE_PYTHON").unwrap_or_else(|| "python3".into());
        let args = words(&[&script, &size.name, &"calamine", &"xlsxwriter"]);
        all.push(Contender { name: OTHER, program, args, n_runs: n_runs.min(3) });
    }
    all
}

/// Wall milliseconds and peak MiB of one run.
fn run_once(contender: &Contender, work: &Path) -> (f64, f64) {
    let peak_file = work.join("peak.txt");
    let mut command = Command::new("/usr/bin/time");
    command.args(["-f", "%M", "-o"]).arg(&peak_file).arg(&contender.program).args(&contender.args);
    command.env("SHEAF_PERF_OUT", work).stdout(Stdio::null()).stderr(Stdio::null());
    let began = Instant::now();
    let status =
        command.status().unwrap_or_else(|e| panic!("/usr/bin/time does not start ({e}); Debian package: time"));
    let wall_ms = began.elapsed().as_secs_f64() * 1e3;
    assert!(status.success(), "{} failed: {:?} {:?}", contender.name, contender.program, contender.args);
    let kib: f64 = std::fs::read_to_string(&peak_file).unwrap().trim().parse().unwrap();
    (wall_ms, kib / 1024.0)
}
