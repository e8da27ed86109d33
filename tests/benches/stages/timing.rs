//! Times a piece of work: the median of several runs, since a machine shared with others has bad moments.
//!
//! Out: [`Timed`], milliseconds and runs. The first run counts like the others; caches are warm only as far as the
//! work itself warms them.

use std::hint::black_box;
use std::time::Instant;

/// A median and the number of runs behind it.
#[derive(Debug, Clone, Copy)]
pub struct Timed {
    pub median_ms: f64,
    pub n_runs: usize,
}

/// The median of these times; zero where there are none.
pub fn median(mut times_ms: Vec<f64>) -> f64 {
    times_ms.sort_by(f64::total_cmp);
    let middle = times_ms.len() / 2;
    match times_ms.len() {
        0 => 0.0,
        n if n % 2 == 1 => times_ms[middle],
        _ => f64::midpoint(times_ms[middle - 1], times_ms[middle]),
    }
}

/// Does the work so many times; gives the median time and the last result.
pub fn time<T>(n_runs: usize, mut work: impl FnMut() -> T) -> (Timed, T) {
    let mut times_ms = Vec::with_capacity(n_runs);
    loop {
        let began = Instant::now();
        let result = black_box(work());
        times_ms.push(began.elapsed().as_secs_f64() * 1e3);
        if times_ms.len() >= n_runs {
            return (Timed { median_ms: median(times_ms), n_runs }, result);
        }
    }
}
