//! Prints what was measured as one table a size, ready to be read or pasted.
//!
//! Keeps: a ratio is printed only where both of its sides were measured in this run.

use crate::cold::{OTHER, OURS, Process};
use crate::sizes::Size;
use crate::warm::Measured;

/// Prints one size.
pub fn print(size: &Size, measured: &Measured, processes: &[Process]) {
    println!("\n{} ({}): {} students x {} items", size.name, size.meaning, size.n_students, size.n_items);
    println!("{:<22} {:>11} {:>5} {:>11} {:>7}  of what", "stage", "median ms", "runs", "bare ms", "ratio");
    for stage in &measured.stages {
        let (bare, ratio) = match stage.bare {
            Some(bare) => (format!("{:.2}", bare.median_ms), format!("{:.2}x", stage.timed.median_ms / bare.median_ms)),
            None => (String::new(), String::new()),
        };
        let (name, timed) = (stage.name, stage.timed);
        println!("{name:<22} {:>11.2} {:>5} {bare:>11} {ratio:>7}  {}", timed.median_ms, timed.n_runs, stage.remark);
    }
    println!("{:<22} {:>11} {:>5} {:>11}", "process", "median ms", "runs", "peak MiB");
    for process in processes {
        let (name, timed) = (process.name, process.timed);
        println!("{name:<22} {:>11.2} {:>5} {:>11.1}", timed.median_ms, timed.n_runs, process.peak_mib);
    }
    print_comparison(processes);
}

fn print_comparison(processes: &[Process]) {
    let find = |name: &str| processes.iter().find(|process| process.name == name);
    if let (Some(ours), Some(other)) = (find(OURS), find(OTHER)) {
        let faster = other.timed.median_ms / ours.timed.median_ms;
        let leaner = other.peak_mib / ours.peak_mib;
        println!("beside the other program: {faster:.1} times as fast, 1/{leaner:.1} of its memory");
    }
}
