//! The staff workbook of a district, against what it may cost beside the bare library.
//!
//! In:  the largest size. Out: four figures on stdout, each beside what it is meant to stay under: time and memory of writing,
//! what adding our sheets to a large workbook of the staff takes beyond packing them alone, and to the same with last week's.
//! Keeps: ours and the bare library take turns, so that a bad moment of the machine meets both; memory is how far
//! the resident memory of the process rises above what it was before the first write (Linux, `/proc/self`).
//! A figure that is not held is marked, and fails nothing: machines differ. Not here: the other stages (`warm`).

use crate::sizes::{self, Size};
use crate::timing::median;
use crate::{bare, own_file, sheets, warm};
use sheaf_core::plan::Plan;
use sheaf_sheets::write::write_staff_workbook;
use std::fs::File;
use std::hint::black_box;
use std::io::{BufWriter, Cursor};
use std::path::Path;
use std::time::Instant;

const N_RUNS: usize = 7;
/// Times the bare library's time.
const MOST_RATIO: f64 = 1.2;
const MOST_MIB: f64 = 60.0;
const MOST_GRAFT_MS: f64 = 300.0;

/// Measures and prints.
pub fn measure(folder: &Path) {
    let Some(size) = sizes::ALL.last() else { return };
    let (bench, plan) = plan_of(size, folder);
    let path = folder.join("written.xlsx");
    // First of all, while little memory is left over from other work.
    let peak = rise_mib(|| write_to(&bench, &plan, &path));
    let written = std::fs::read(&path).unwrap();
    let n_cells = bare::n_cells_of_all_sheets(&path);
    println!("\nthe staff workbook of {} students x {} items", size.n_students, size.n_items);
    println!("  {n_cells} cells, {} KiB", written.len() / 1024);
    time_of_writing(&bench, &plan, n_cells);
    tell("memory of writing", peak, MOST_MIB, "MiB");
    own_file::print(&bench.sheets(&plan), folder, N_RUNS, MOST_GRAFT_MS);
}

fn plan_of(size: &'static Size, folder: &Path) -> (warm::Bench<'static>, Plan) {
    let sheet = sheets::make(size, folder);
    let setup = folder.join(format!("{}.toml", size.name));
    std::fs::write(&setup, size.setup()).unwrap();
    let bench = warm::Bench::new(size, &setup);
    let plan = bench.plan(&bench.reading(&sheet));
    (bench, plan)
}

fn write_to(bench: &warm::Bench<'_>, plan: &Plan, path: &Path) {
    let (graph, catalogue) = (&bench.knowledge.graph, &bench.knowledge.catalogue);
    write_staff_workbook(plan, None, graph, catalogue, BufWriter::new(File::create(path).unwrap())).unwrap();
}

fn time_of_writing(bench: &warm::Bench<'_>, plan: &Plan, n_cells: usize) {
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    let (mut our_cpu, mut their_cpu) = (0.0, 0.0);
    for _ in 0..N_RUNS {
        let began = processor_ms();
        ours.push(ms_of(|| black_box(bench.written(plan)).len()));
        let between = processor_ms();
        theirs.push(ms_of(|| bare::write(n_cells, Cursor::new(Vec::new()))));
        our_cpu += between - began;
        their_cpu += processor_ms() - between;
    }
    let (ours, theirs) = (median(ours), median(theirs));
    println!("  writing {ours:.0} ms, the bare library {theirs:.0} ms");
    println!("  the same in processor time: {:.2} x, on one core or many", our_cpu / their_cpu);
    tell("writing", ours / theirs, MOST_RATIO, "x the bare library");
}

/// Time that the processor gave this process so far.
fn processor_ms() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    // Behind the name in brackets: state, then user and system time as the 12th and 13th, in hundredths of a second: proc(5).
    let fields = stat.rsplit(')').next().unwrap().split_whitespace();
    fields.skip(11).take(2).map(|ticks| ticks.parse::<f64>().unwrap() * 10.0).sum()
}

/// How far the resident memory rises while the work is done, MiB.
fn rise_mib(work: impl FnOnce()) -> f64 {
    let status = |key: &str| -> f64 {
        let text = std::fs::read_to_string("/proc/self/status").unwrap();
        let line = text.lines().find(|line| line.starts_with(key)).unwrap();
        line.split_whitespace().nth(1).unwrap().parse().unwrap()
    };
    let before = status("VmRSS:");
    // Five sets the highest resident memory back to the present one: proc(5).
    std::fs::write("/proc/self/clear_refs", "5").unwrap();
    work();
    (status("VmHWM:") - before) / 1024.0
}

/// Milliseconds of one run.
pub fn ms_of<T>(work: impl FnOnce() -> T) -> f64 {
    let began = Instant::now();
    black_box(work());
    began.elapsed().as_secs_f64() * 1e3
}

/// Prints a figure beside what it is meant to stay under.
pub fn tell(what: &str, figure: f64, most: f64, unit: &str) {
    let verdict = if figure <= most { "held" } else { "NOT HELD" };
    println!("  {what:<34} {figure:>8.2} of {most:.1} {unit}, {verdict}");
}
