//! Times the service as a whole: start, memory, throughput beside a bare actix-web, and plans of a grade that are made at once.
//!
//! In:  `--sheaf BINARY` (left out: the `sheaf` of the same profile beside this program), `--seconds N` of wrk for each figure (left out: 3);
//! `wrk` on the path. Out: lines on stdout, each beside its goal. Full: the whole answer; unchanged: whoever asks has it already (304).
//! Trust ratios of one run, not requests a second of two. Goals: common practice, no source.
//! Not here: each page by itself (`pages`); any claim that fails: this program prints, people judge.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

mod bare;
mod running;

use running::Running;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

const WEEK: &str = "2026-02-02";
/// Looked at by a class, or fetched by scripts.
const PAGES: [&str; 6] =
    ["/", "/groups/WEEK", "/rotation/WEEK", "/students", "/api/v1/weeks/WEEK/plan", "/static/sheaf.css"];
const N_STARTS: usize = 5;
/// Plans at once, and how many each of those who ask makes.
const N_AT_ONCE: usize = 8;
const N_PLANS: usize = 30;
/// A grade.
const N_STUDENTS: usize = 120;
const N_ITEMS: usize = 40;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if args.iter().any(|a| a == bare::WORD) {
        return bare::serve();
    }
    let value = |flag: &str| args.iter().position(|a| a == flag).and_then(|at| args.get(at + 1));
    let beside = std::env::current_exe().unwrap().ancestors().nth(2).unwrap().join("sheaf");
    let sheaf = value("--sheaf").map_or(beside, PathBuf::from);
    let seconds = value("--seconds").map_or(3, |n| n.parse().unwrap());
    let n_bytes = std::fs::metadata(&sheaf).unwrap_or_else(|e| panic!("{}: {e}; build it", sheaf.display())).len();
    println!("binary                      {:>9.2} MB           goal 20 MB", n_bytes as f64 / 1e6);
    starts(&sheaf);
    throughput(&sheaf, seconds);
    for n_weeks in [1, N_AT_ONCE] {
        plans_at_once(&sheaf, n_weeks);
    }
}

/// From the start of the process to the address on its output, and to the last byte of the first page; memory then.
fn starts(sheaf: &Path) {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db").display().to_string();
    for (what, args) in [("demo", vec!["--demo"]), ("empty records", vec!["--db", &records])] {
        let mut times_ms = [const { Vec::new() }; 2];
        let mut rss_mib = 0.0_f64;
        for _ in 0..N_STARTS {
            let began = Instant::now();
            let running = Running::start(sheaf, &args);
            times_ms[0].push(began.elapsed().as_secs_f64() * 1e3);
            assert_eq!(running.ask("GET", "/", "", &[]).0, 200);
            times_ms[1].push(began.elapsed().as_secs_f64() * 1e3);
            rss_mib = rss_mib.max(running.rss_mib());
        }
        let [ready, page] = times_ms.map(|mut times| {
            times.sort_by(f64::total_cmp);
            times[N_STARTS / 2]
        });
        println!("start, {what:<14} ready {ready:>5.1} ms, first page {page:>5.1} ms   goal 60 ms");
        println!("memory, {what:<13} {rss_mib:>15.1} MiB          goal 25 MiB");
    }
}

fn throughput(sheaf: &Path, seconds: u32) {
    let bare = bare::start();
    let running = Running::start(sheaf, &["--demo"]);
    println!(
        "{:<28} {:>9} {:>9} {:>9} {:>9} {:>10}",
        "wrk, 64 connections", "bytes", "bare/s", "full/s", "full %", "unchanged %"
    );
    for page in PAGES.map(|page| page.replace("WEEK", WEEK)) {
        let (status, head, body) = running.ask("GET", &page, "", &[]);
        assert_eq!(status, 200, "{page}");
        let tag = head.lines().find_map(|line| line.strip_prefix("etag: "));
        let hello = wrk(&format!("http://127.0.0.1:{}/", bare.port), &[], seconds);
        let address = format!("http://127.0.0.1:{}{page}", running.port);
        let bearer = format!("Authorization: Bearer {}", running.token);
        let full = wrk(&address, std::slice::from_ref(&bearer), seconds);
        let unchanged = tag.map(|tag| wrk(&address, &[bearer, format!("If-None-Match: {tag}")], seconds));
        let unchanged = unchanged.map_or("-".to_owned(), |n| format!("{:.1}", 100.0 * n / hello));
        let share = 100.0 * full / hello;
        println!("{page:<28} {:>9} {hello:>9.0} {full:>9.0} {share:>9.1} {unchanged:>10}", body.len());
    }
    println!("goals: full 25 %, unchanged 45 %; memory after {:.1} MiB", running.rss_mib());
}

/// Requests a second.
fn wrk(address: &str, headers: &[String], seconds: u32) -> f64 {
    let mut command = Command::new("wrk");
    command.args(["-t1", "-c64", &format!("-d{seconds}s")]);
    for header in headers {
        command.args(["-H", header]);
    }
    let ran = command.arg(address).output().unwrap_or_else(|e| panic!("wrk: {e}; apt-get install wrk"));
    let said = String::from_utf8_lossy(&ran.stdout);
    let bad = said.contains("Socket errors") || headers.len() < 2 && said.contains("Non-2xx");
    assert!(ran.status.success() && !bad, "{address}: {said}");
    let line = said.lines().find_map(|line| line.strip_prefix("Requests/sec:")).unwrap();
    line.trim().parse().unwrap()
}

/// The same grade in each of these weeks; each who asks makes the plan of one week again and again.
fn plans_at_once(sheaf: &Path, n_weeks: usize) {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db").display().to_string();
    let running = Running::start(sheaf, &["--db", &records]);
    let mondays: Vec<String> = (0..n_weeks).map(|n| monday(n).to_string()).collect();
    for monday in &mondays {
        let (kind, form) = running::form("grade.csv", &grade());
        let address = format!("/api/v1/score-sheets?week={monday}");
        assert!(matches!(running.ask("POST", &address, &form, &[("Content-Type", kind)]).0, 200 | 201));
    }
    let mut times_ms: Vec<f64> = std::thread::scope(|scope| {
        let askers: Vec<_> = (0..N_AT_ONCE)
            .map(|at| {
                let (running, monday) = (&running, &mondays[at % n_weeks]);
                scope.spawn(move || (0..N_PLANS).map(|_| plan(running, monday)).collect::<Vec<f64>>())
            })
            .collect();
        askers.into_iter().flat_map(|asker| asker.join().unwrap()).collect()
    });
    times_ms.sort_by(f64::total_cmp);
    let (n, worst) = (times_ms.len(), times_ms[times_ms.len() - 1]);
    println!(
        "plans of {N_STUDENTS} x {N_ITEMS}, {N_AT_ONCE} at once on {n_weeks} weeks: median {:.0} ms, 99th percentile {:.0} ms, worst {worst:.0} ms   goal 400 ms",
        times_ms[n / 2],
        times_ms[n * 99 / 100],
    );
}

fn plan(running: &Running, monday: &str) -> f64 {
    let began = Instant::now();
    assert_eq!(running.ask("POST", &format!("/api/v1/weeks/{monday}/plan"), "", &[]).0, 200);
    began.elapsed().as_secs_f64() * 1e3
}

fn monday(n: usize) -> jiff::civil::Date {
    jiff::civil::date(2026, 9, 7).saturating_add(jiff::Span::new().weeks(n as i64))
}

/// Invented: each child misses other skills, each wrong option is chosen by somebody.
fn grade() -> String {
    let row = |name: &str, cell: &dyn Fn(usize) -> String| {
        (0..N_ITEMS).fold(name.to_owned(), |row, item| row + "," + &cell(item)) + "\n"
    };
    let mut text = row("id,name,homeroom", &|item| format!("Q{}", item + 1));
    text += &row("Key,,", &|item| option(item * 7).to_owned());
    text += &row("Skill,,", &|item| format!("4.NF.{}", item % 7 + 1));
    for child in 0..N_STUDENTS {
        let lacks = |item: usize| (child * 5 + item % 7 * 3) % 11 < 4;
        let mut first = String::new();
        write!(first, "{:04},Child {child},4{}", child + 1, ["A", "B", "C", "D"][child % 4]).unwrap();
        text += &row(&first, &|item| option(item * 7 + usize::from(lacks(item)) * (1 + (child + item) % 3)).to_owned());
    }
    text
}

fn option(n: usize) -> &'static str {
    ["A", "B", "C", "D"][n % 4]
}
