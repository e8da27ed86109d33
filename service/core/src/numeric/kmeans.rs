//! k-means by linfa, with its traps fenced off.
//!
//! In:  rows (n, d), finite; k; a seed; a number of runs.
//! Out: labels, means recomputed from the members (linfa's stop a little short of them) and the sum of squared distances to them.
//! Keeps: 1. non-finite values, no rows, no columns, k outside 1..=n are errors, never a panic (`odd_tables_are_errors`)
//!        2. k is brought down to the number of distinct rows (`k_above_the_distinct_rows_is_lowered`)
//!        3. same rows and seed, same labels.
//! With over [`SAMPLED_FROM`] rows the runs are made on evenly spaced rows, and the best goes on over all of them: ten times the rows
//! do not move a mean, and one run settles it (`many_rows_come_to_the_same_means`).
//! linfa's own count of members is that of its last run, not its best: it is never asked.
//! Source: Lloyd 1982; Arthur & Vassilvitskii 2007 (k-means++ start).

use linfa::DatasetBase;
use linfa::traits::{Fit, Predict};
use linfa_clustering::{KMeans, KMeansInit};
use ndarray::{Array2, ArrayView2, Axis, Slice};
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256Plus;
use std::collections::HashSet;
use thiserror::Error;

/// Rows from which runs are made on a part of them, how many that part has at least, and of how many rows it takes one at most.
const SAMPLED_FROM: usize = 10_000;
const SAMPLE: usize = 5_000;
const LARGEST_STRIDE: usize = 50;

/// A fitted clustering.
#[derive(Debug, Clone, PartialEq)]
pub struct KMeansFit {
    /// Cluster of each row.
    pub labels: Vec<usize>,
    /// Mean of each cluster's members, shape (k, d).
    pub means: Array2<f64>,
    /// Sum of squared distances of the rows to their cluster's mean.
    pub sum_of_squares: f64,
}

/// Why nothing was fitted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum KMeansError {
    /// No rows or no columns.
    #[error("there is nothing to group: the table has {rows} rows and {columns} columns")]
    EmptyTable {
        /// Rows.
        rows: usize,
        /// Columns.
        columns: usize,
    },
    /// More clusters than rows, or none.
    #[error("{k} groups cannot be made of {rows} rows")]
    BadCount {
        /// Clusters asked for.
        k: usize,
        /// Rows.
        rows: usize,
    },
    /// A value that is not a finite number.
    #[error("row {row}, column {column} is not a finite number")]
    NotFinite {
        /// 0-based row.
        row: usize,
        /// 0-based column.
        column: usize,
    },
    /// The library gave up.
    #[error("the clustering did not settle: {0}")]
    NotFitted(String),
}

/// Fits k-means, the best of `n_runs` starts. See the module header.
///
/// # Errors
/// [`KMeansError`] for tables that cannot be clustered.
pub fn fit_kmeans(rows: ArrayView2<'_, f64>, k: usize, seed: u64, n_runs: usize) -> Result<KMeansFit, KMeansError> {
    check(rows, k)?;
    let fit = if rows.nrows() > SAMPLED_FROM { fit_sampled } else { fit_all };
    let (labels, centres) = fit(rows, k, seed, n_runs)?;
    let k = centres.nrows();
    let means = means_of(rows, &labels, k);
    let sum_of_squares = labels
        .iter()
        .enumerate()
        .map(|(i, &l)| rows.row(i).iter().zip(means.row(l)).map(|(x, m)| (x - m) * (x - m)).sum::<f64>())
        .sum();
    Ok(KMeansFit { labels, means, sum_of_squares })
}

/// How runs are made.
struct Runs {
    init: KMeansInit<f64>,
    n_runs: usize,
    tolerance: f64,
}

/// Labels and the library's own centres.
fn run(rows: ArrayView2<'_, f64>, k: usize, seed: u64, runs: Runs) -> Result<(Vec<usize>, Array2<f64>), KMeansError> {
    let params = KMeans::params_with_rng(k, Xoshiro256Plus::seed_from_u64(seed)).init_method(runs.init);
    let params = params.n_runs(runs.n_runs.max(1)).max_n_iterations(300).tolerance(runs.tolerance);
    let model = params.fit(&DatasetBase::from(rows)).map_err(|e| KMeansError::NotFitted(e.to_string()))?;
    Ok((model.predict(&rows).to_vec(), model.centroids().clone()))
}

/// Every run over all rows; labels and the number of clusters.
fn fit_all(
    rows: ArrayView2<'_, f64>,
    k: usize,
    seed: u64,
    n_runs: usize,
) -> Result<(Vec<usize>, Array2<f64>), KMeansError> {
    let runs = Runs { init: KMeansInit::KMeansPlusPlus, n_runs, tolerance: 1e-6 };
    run(rows, k.min(distinct_rows(rows)), seed, runs)
}

/// Runs over evenly spaced rows, then one over all of them from the best means.
fn fit_sampled(
    rows: ArrayView2<'_, f64>,
    k: usize,
    seed: u64,
    n_runs: usize,
) -> Result<(Vec<usize>, Array2<f64>), KMeansError> {
    let stride = (rows.nrows() / SAMPLE).clamp(1, LARGEST_STRIDE);
    let sample = rows.slice_axis(Axis(0), Slice { start: 0, end: None, step: stride.cast_signed() });
    let (_, means) = fit_all(sample, k, seed, n_runs)?;
    let k = means.nrows();
    run(rows, k, seed, Runs { init: KMeansInit::Precomputed(means), n_runs: 1, tolerance: 1e-4 })
}

fn check(rows: ArrayView2<'_, f64>, k: usize) -> Result<(), KMeansError> {
    if rows.nrows() == 0 || rows.ncols() == 0 {
        return Err(KMeansError::EmptyTable { rows: rows.nrows(), columns: rows.ncols() });
    }
    if k == 0 || k > rows.nrows() {
        return Err(KMeansError::BadCount { k, rows: rows.nrows() });
    }
    // Squares of larger values overflow inside the library.
    match rows.indexed_iter().find(|(_, v)| !v.is_finite() || v.abs() > 1e100) {
        Some(((row, column), _)) => Err(KMeansError::NotFinite { row, column }),
        None => Ok(()),
    }
}

fn distinct_rows(rows: ArrayView2<'_, f64>) -> usize {
    let keys: HashSet<Vec<u64>> =
        rows.rows().into_iter().map(|r| r.iter().map(|v| (v + 0.0).to_bits()).collect()).collect();
    keys.len()
}

/// Mean of each cluster's members; a cluster without members keeps zeros.
pub(super) fn means_of(rows: ArrayView2<'_, f64>, labels: &[usize], k: usize) -> Array2<f64> {
    let mut means = Array2::zeros((k, rows.ncols()));
    let mut counts = vec![0.0_f64; k];
    for (i, &l) in labels.iter().enumerate() {
        counts[l] += 1.0;
        means.row_mut(l).scaled_add(1.0, &rows.row(i));
    }
    for (l, count) in counts.into_iter().enumerate() {
        means.row_mut(l).mapv_inplace(|v| v / count.max(1.0));
    }
    means
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odd_tables_are_errors() {
        let empty = Array2::<f64>::zeros((0, 2));
        assert!(matches!(fit_kmeans(empty.view(), 1, 1, 1), Err(KMeansError::EmptyTable { .. })));
        let mut table = Array2::zeros((3, 2));
        assert!(matches!(fit_kmeans(table.view(), 4, 1, 1), Err(KMeansError::BadCount { .. })));
        assert!(matches!(fit_kmeans(table.view(), 0, 1, 1), Err(KMeansError::BadCount { .. })));
        for value in [f64::NAN, f64::INFINITY, 1e200] {
            table[(1, 1)] = value;
            let error = fit_kmeans(table.view(), 2, 1, 1).unwrap_err();
            assert_eq!(error, KMeansError::NotFinite { row: 1, column: 1 });
        }
    }

    #[test]
    fn many_rows_come_to_the_same_means() {
        // Four clumps around the corners of a square, 12,000 rows.
        let corner = |i: usize, c: usize| f64::from(u8::from((i >> c) & 1 == 1)) * 10.0;
        let wobble = |i: usize, c: usize| ((i * (7 + c)) % 101) as f64 / 101.0 - 0.5;
        let table = Array2::from_shape_fn((12_000, 2), |(i, c)| corner(i % 4, c) + wobble(i / 4, c));
        let fit = fit_kmeans(table.view(), 4, 1, 10).unwrap();
        let mut found: Vec<(i64, i64)> =
            fit.means.rows().into_iter().map(|m| (m[0].round() as i64, m[1].round() as i64)).collect();
        found.sort_unstable();
        assert_eq!(found, [(0, 0), (0, 10), (10, 0), (10, 10)]);
        assert_eq!(fit, fit_kmeans(table.view(), 4, 1, 10).unwrap(), "the same again");
    }

    #[test]
    fn k_above_the_distinct_rows_is_lowered() {
        let table = Array2::from_shape_vec((4, 1), vec![1.0, 1.0, 5.0, 5.0]).unwrap();
        let fit = fit_kmeans(table.view(), 3, 1, 5).unwrap();
        assert_eq!(fit.means.nrows(), 2);
        assert!(fit.sum_of_squares < 1e-12);
    }
}
