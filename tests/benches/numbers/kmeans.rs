//! k-means of our wrapper and of scikit-learn on the same rows: eight columns, eight clusters, ten starts.
//!
//! Rows look like shares of skills: clumps around random corners, so that clusters overlap. The rows go to a file of 64-bit numbers that
//! `beside.py` reads. Out: milliseconds and sums of squared distances of both, and how much of the other's time ours took.

use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use sheaf_core::numeric::fit_kmeans;
use sheaf_core::numeric_table;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

const N_COLUMNS: usize = 8;
const K: usize = 8;
const N_STARTS: usize = 10;
const N_RUNS: usize = 5;

fn rows(n: usize) -> Vec<f64> {
    let mut rng = Xoshiro256Plus::seed_from_u64(5);
    let mut values = Vec::with_capacity(n * N_COLUMNS);
    for _ in 0..n {
        let level: f64 = rng.gen_range(0.2..0.9);
        // Shares of eight items a skill, as a sheet of sixty-four items gives them.
        let share = |rng: &mut Xoshiro256Plus| (0..8).filter(|_| rng.gen_bool(level)).count() as f64 / 8.0;
        values.extend((0..N_COLUMNS).map(|_| share(&mut rng)));
    }
    values
}

/// Measures ours, and the other's where there is one.
pub fn beside(name: &str, n: usize, work: &Path) {
    let values = rows(n);
    let table = numeric_table(&values, n, N_COLUMNS).unwrap();
    let (mut times, mut sums): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for seed in 0..N_RUNS as u64 {
        let began = Instant::now();
        let fit = fit_kmeans(table, K, seed, N_STARTS).unwrap();
        times.push(began.elapsed().as_secs_f64() * 1e3);
        sums.push(fit.sum_of_squares);
    }
    times.sort_by(f64::total_cmp);
    sums.sort_by(f64::total_cmp);
    let (lowest, median, highest) = (sums[0], sums[N_RUNS / 2], sums[N_RUNS - 1]);
    println!(
        "k-means, {name}: ours {:.0} ms, sum of squares {median:.2} ({lowest:.2} to {highest:.2}, {N_RUNS} seeds)",
        times[N_RUNS / 2]
    );
    let Ok(python) = std::env::var("SHEAF_BENCH_PYTHON") else { return };
    let file = work.join("kmeans_rows.f64");
    let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
    std::fs::write(&file, bytes).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/numbers/beside.py");
    let ran =
        Command::new(python).arg(script).arg(&file).arg(N_COLUMNS.to_string()).arg(K.to_string()).output().unwrap();
    print!("{}{}", String::from_utf8_lossy(&ran.stdout), String::from_utf8_lossy(&ran.stderr));
    std::fs::remove_file(&file).unwrap();
}
