//! Measures the numbers alone, without files: a class, a grade, a district class by class, and k-means beside another library.
//!
//! In:  `--work FOLDER` for the rows that the other library reads; `SHEAF_BENCH_PYTHON`, an interpreter with numpy and scikit-learn
//! (left out: our figures alone); `--quick` leaves out the district. Out: times, peak memory and sums of squares on stdout, each beside the goal that it is held to.
//! Not here: the weekly job with its files (`stages`), any claim that fails: this program prints, people judge.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

mod classes;
mod kmeans;

use std::path::PathBuf;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let work = args.iter().position(|a| a == "--work").and_then(|at| args.get(at + 1));
    let work = work.map_or_else(std::env::temp_dir, PathBuf::from);
    classes::one("class, 30 children, 20 items", 30, 20, "under 10 ms");
    classes::one("grade, 132 children, 40 items", 132, 40, "under 100 ms");
    if !args.iter().any(|a| a == "--quick") {
        classes::district();
    }
    kmeans::beside("20,000 rows", 20_000, &work);
    kmeans::beside("1,000,000 rows", 1_000_000, &work);
}
