//! Times every page of the service: Quillmere's four weeks in a file, `sheaf serve` on them, each page asked for one after the other.
//!
//! In:  `--sheaf BINARY` (left out: the `sheaf` of the same profile beside this program), `--runs N` (left out: 20).
//! Out: a line a page: median, worst and the first answer in milliseconds from sending the request to the last byte of the answer, and its size;
//! then the slowest of all beside the goal. The first answer of a page counts in its worst. Not here: what the browser does with a page;
//! any claim that fails: this program prints, people judge.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

use reqwest::blocking::Client;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Instant;

/// A page is there before somebody wonders: the goal of the house, common practice, no source.
const GOAL_MS: f64 = 300.0;
const MONDAYS: [&str; 4] = ["2026-02-02", "2026-02-09", "2026-02-16", "2026-02-23"];
/// Pages of a week, by its date.
const OF_A_WEEK: [&str; 13] = [
    "/?week=WEEK",
    "/score-sheets?week=WEEK",
    "/groups/WEEK",
    "/groups/WEEK?names=initials",
    "/groups/WEEK/g1",
    "/groups/WEEK/decide?student=0001&to=g3",
    "/rotation/WEEK",
    "/rotation/WEEK/roster?by=adult",
    "/tickets/WEEK",
    "/tickets/WEEK/keys",
    "/results/WEEK",
    "/attendance/WEEK",
    "/movement/memo/WEEK",
];
const OTHERS: [&str; 11] = [
    "/",
    "/score-sheets/1",
    "/movement",
    "/students",
    "/students/0001",
    "/school",
    "/school/setup",
    "/school/changes",
    "/people",
    "/static/sheaf.css",
    "/static/sheaf.js",
];

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let value = |flag: &str| args.iter().position(|a| a == flag).and_then(|at| args.get(at + 1));
    let beside = std::env::current_exe().unwrap().ancestors().nth(2).unwrap().join("sheaf");
    let sheaf = value("--sheaf").map_or(beside, PathBuf::from);
    let n_runs = value("--runs").map_or(20, |n| n.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    for at in 0..MONDAYS.len() {
        plan(&sheaf, &records, at);
    }
    let mut service = Service::start(&sheaf, &records);
    let last = MONDAYS[MONDAYS.len() - 1];
    let pages = OTHERS.map(str::to_owned).into_iter().chain(OF_A_WEEK.map(|path| path.replace("WEEK", last)));
    println!("{:<52} {:>9} {:>9} {:>9} {:>8}", "page", "median ms", "worst ms", "first ms", "KB");
    let mut slowest = (0.0, String::new());
    for path in pages {
        let worst = service.measure(&path, n_runs);
        if worst > slowest.0 {
            slowest = (worst, path);
        }
    }
    println!("slowest answer: {:.1} ms, {}; the goal is {GOAL_MS} ms", slowest.0, slowest.1);
    service.process.kill().unwrap();
    service.process.wait().unwrap();
}

/// Plans a week into the records by the command.
fn plan(sheaf: &Path, records: &Path, at: usize) {
    let school = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/schools/quillmere");
    let of_week = |kind: &str| school.join(format!("week{}_{kind}", at + 1));
    let mut command = Command::new(sheaf);
    command.arg("plan").args([of_week("quiz.xlsx"), of_week("ticket.xlsx")]).args(["--week", MONDAYS[at]]);
    command.arg("--attendance").arg(of_week("attendance.csv")).arg("--students").arg(school.join("students.csv"));
    command.arg("--school").arg(school.join("school.toml")).arg("--db").arg(records);
    let ran = command.output().unwrap_or_else(|e| panic!("{}: {e}; build it with --release", sheaf.display()));
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
}

struct Service {
    process: Child,
    base: String,
    cookie: String,
    client: Client,
}

impl Service {
    fn start(sheaf: &Path, records: &Path) -> Self {
        let mut command = Command::new(sheaf);
        command.args(["serve", "--addr", "127.0.0.1:0", "--db"]).arg(records);
        let mut process = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.trim().split_once(": ").unwrap().1;
        let (base, token) = address.split_once("/?key=").unwrap();
        let port = base.rsplit_once(':').unwrap().1;
        Service {
            process,
            base: base.to_owned(),
            cookie: format!("sheaf-{port}={token}"),
            client: Client::builder().no_proxy().build().unwrap(),
        }
    }

    /// Asks for a page so many times, prints its line, and gives the slowest answer in milliseconds.
    fn measure(&self, path: &str, n_runs: usize) -> f64 {
        let mut times_ms = Vec::with_capacity(n_runs);
        let mut n_bytes = 0;
        for _ in 0..n_runs {
            let began = Instant::now();
            let request = self.client.get(format!("{}{path}", self.base)).header("cookie", &self.cookie);
            let answer = request.send().unwrap();
            assert_eq!(answer.status(), 200, "{path}");
            n_bytes = answer.bytes().unwrap().len();
            times_ms.push(began.elapsed().as_secs_f64() * 1e3);
        }
        let first = times_ms[0];
        times_ms.sort_by(f64::total_cmp);
        let (median, worst) = (times_ms[n_runs / 2], times_ms[n_runs - 1]);
        println!("{path:<52} {median:>9.1} {worst:>9.1} {first:>9.1} {:>8.1}", n_bytes as f64 / 1e3);
        worst
    }
}
