//! Reading by itself: the largest honest sheet beside the bare library, hostile files, and what a process of its own costs.
//!
//! Out: one table: median wall time of `sheaf check`, the highest memory of the process and its reading process together (sampled
//! each millisecond), the exit code, and what is wanted. Then the time that one small workbook takes apart and here.
//! Memory is sampled from `/proc`, so it is printed on Linux alone.

#[path = "../../acceptance/hostile/files.rs"]
#[allow(dead_code)]
mod files;

use crate::Request;
use crate::timing::{median, time};
use crate::{sheets, sizes};
use sheaf_app::apart::Reader;
use sheaf_app::headless::SourceFile;
use sheaf_core::skills::SkillGraph;
use sheaf_sheets::read::ReadRequest;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const N_RUNS: usize = 3;

/// What it is called, its file name, what makes it, what was wanted of it.
type Hostile = (&'static str, &'static str, fn() -> Vec<u8>, &'static str);

/// Measures and prints.
pub fn measure(request: &Request) {
    println!("\nreading alone");
    println!("{:<28} {:>11} {:>11} {:>5}  wanted", "file", "median ms", "peak MiB", "exit");
    if let Some(size) = sizes::ALL.iter().find(|size| size.name == "XL") {
        let given = request.data.as_ref().map(|folder| folder.join("XL.xlsx")).filter(|path| path.exists());
        let sheet = given.unwrap_or_else(|| sheets::make(size, &request.work));
        let bare = std::env::current_exe().unwrap();
        row("20,000 x 60, bare library", &bare, &["bare-read".as_ref(), sheet.as_os_str()], "");
        row("20,000 x 60, check", &request.sheaf, &check(&sheet), "1.5 times the bare library, 60 MiB");
    }
    let hostile: [Hostile; 3] = [
        ("a million blank rows", "blank.xlsx", files::blank_rows, "3 s, 256 MiB"),
        ("a cell at XFD1048576", "far.xlsx", files::with_far_cell, "1 s, 256 MiB"),
        ("a bomb of 1.4 GB", "bomb.xlsx", || files::bomb(1_400 << 20), "2 s, 256 MiB, exit 3"),
    ];
    for (name, file, make, wanted) in hostile {
        let path = made(&request.work, file, make);
        row(name, &request.sheaf, &check(&path), wanted);
    }
    process_cost(request);
}

fn check(path: &Path) -> [&OsStr; 2] {
    ["check".as_ref(), path.as_os_str()]
}

fn made(folder: &Path, name: &str, make: fn() -> Vec<u8>) -> PathBuf {
    let path = folder.join(name);
    if !path.exists() {
        std::fs::write(&path, make()).unwrap();
    }
    path
}

fn row(name: &str, program: &Path, args: &[&OsStr], wanted: &str) {
    let runs: Vec<(f64, f64, i32)> = (0..N_RUNS).map(|_| run_once(program, args)).collect();
    let wall_ms = median(runs.iter().map(|run| run.0).collect());
    let peak = runs.iter().map(|run| run.1).fold(0.0, f64::max);
    println!("{name:<28} {wall_ms:>11.1} {peak:>11.1} {:>5}  {wanted}", runs[0].2);
}

/// Wall milliseconds, peak MiB of the process and its children together, exit code.
fn run_once(program: &Path, args: &[&OsStr]) -> (f64, f64, i32) {
    let began = Instant::now();
    let mut child = Command::new(program).args(args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let mut peak_kib = 0;
    loop {
        peak_kib = peak_kib.max(tree_kib(&child));
        if let Some(status) = child.try_wait().unwrap() {
            let wall_ms = began.elapsed().as_secs_f64() * 1e3;
            return (wall_ms, peak_kib as f64 / 1024.0, status.code().unwrap_or(-1));
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// Resident KiB of a process and its children, as far as they can be seen just now.
fn tree_kib(child: &Child) -> u64 {
    let id = child.id();
    let children = format!("/proc/{id}/task/{id}/children");
    let children = std::fs::read_to_string(children).unwrap_or_default();
    let ids = children.split_whitespace().filter_map(|id| id.parse().ok());
    std::iter::once(id).chain(ids).map(resident_kib).sum()
}

fn resident_kib(id: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap_or_default();
    line.split_whitespace().next().and_then(|n| n.parse().ok()).unwrap_or(0)
}

/// What a process of its own costs, at a workbook of a class.
fn process_cost(request: &Request) {
    let Some(size) = sizes::ALL.first() else { return };
    let bytes = std::fs::read(sheets::make(size, &request.work)).unwrap();
    let sources = [SourceFile { name: "scores.xlsx", bytes: &bytes }];
    let graph = SkillGraph::builtin().unwrap();
    let asked = ReadRequest::new(&sources, &graph);
    let apart = Reader::Apart { program: request.sheaf.clone(), wall: Duration::from_secs(20) };
    let (here, _) = time(size.n_runs * 4, || Reader::Here.scores(&asked).unwrap());
    let (there, _) = time(size.n_runs * 4, || apart.scores(&asked).unwrap());
    let cost = there.median_ms - here.median_ms;
    println!(
        "a class read here {:.2} ms, apart {:.2} ms: the process costs {cost:.2} ms (wanted: 5)",
        here.median_ms, there.median_ms
    );
}
