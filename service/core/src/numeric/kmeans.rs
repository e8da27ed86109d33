//! k-means by linfa, with its traps fenced off.
//!
//! In:  rows (n, d), finite; k; a seed; a number of runs.
//! Out: labels, means recomputed from the members (linfa's stop a little short of them) and the sum of squared distances to them.
//! Keeps: 1. non-finite values, no rows, no columns, k outside 1..=n are errors, never a panic (`odd_tables_are_errors`)
//!        2. k is brought down to the number of distinct rows (`k_above_the_distinct_rows_is_lowered`)
//!        3. same rows and seed, same labels.
//! The library starts each run, on [`START`] evenly spaced rows. The runs settle side by side (`settle`) on [`HEAT`] of them, the better
//! half on [`ROUND`], the best [`LAST`] on all: ten times the rows do not move a mean, so few runs need to see them all
//! (`many_rows_come_to_the_same_means`). Over few rows the library's own steps would cost more to share out than to make.
//! linfa's own count of members is that of its last run, not its best: it is never asked.
//! Source: Lloyd 1982; Arthur & Vassilvitskii 2007 (k-means++ start).

use super::settle::settle;
use linfa::DatasetBase;
use linfa::traits::Fit;
use linfa_clustering::{KMeans, KMeansInit};
use ndarray::{Array2, ArrayView2, Axis, Slice};
use rand::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use rayon::prelude::*;
use std::collections::HashSet;
use thiserror::Error;

/// Rows on which a run starts, on which all runs are compared, and on which the better half of them is: at least so many where there
/// are so many.
const START: usize = 1_000;
const HEAT: usize = 20_000;
const ROUND: usize = 50_000;
/// So many go on to all rows.
const LAST: usize = 2;
/// Sum of squared steps of the means at which runs are compared, first and later, and at which the best of them rest.
const HEAT_AT: f64 = 1e-4;
const ROUND_AT: f64 = 1e-5;
const SETTLED_AT: f64 = 1e-7;

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
    let part = |least: usize| evenly(rows, least.max(20 * k));
    let (start, heat, round) = (part(START), part(HEAT), part(ROUND));
    let k = k.min(distinct_rows(start));
    let n_runs = n_runs.max(1);
    // A start that saw a part alone is worth less.
    let n_starts = if start.nrows() < rows.nrows() { n_runs + n_runs.div_ceil(2) } else { n_runs };
    let begun: Result<Vec<Array2<f64>>, KMeansError> =
        (0..n_starts as u64).into_par_iter().map(|run| started(start, k, seed_of(seed, run))).collect();
    let best = best_of(heat, begun?, HEAT_AT, n_runs.div_ceil(2));
    let best = best_of(round, best, ROUND_AT, LAST);
    let last = best.into_par_iter().map(|mut means| {
        let labels = settle(rows, &mut means, SETTLED_AT);
        (squares(rows, &labels, &means), labels)
    });
    let last: Vec<(f64, Vec<usize>)> = last.collect();
    let first = last.into_iter().min_by(|a, b| a.0.total_cmp(&b.0));
    let (_, labels) = first.ok_or_else(|| KMeansError::NotFitted("no run was made".to_owned()))?;
    let means = means_of(rows, &labels, k);
    let sum_of_squares = squares(rows, &labels, &means);
    Ok(KMeansFit { labels, means, sum_of_squares })
}

/// A stream of its own for every run, so that runs may be made in any order.
fn seed_of(seed: u64, run: u64) -> u64 {
    Xoshiro256Plus::seed_from_u64(seed.wrapping_add(run << 32)).next_u64()
}

/// The `n` runs whose means, settled on these rows, lie nearest to them: best first, ties by order.
fn best_of(rows: ArrayView2<'_, f64>, runs: Vec<Array2<f64>>, tolerance: f64, n: usize) -> Vec<Array2<f64>> {
    let settled = runs.into_par_iter().map(|mut means| {
        let labels = settle(rows, &mut means, tolerance);
        (squares(rows, &labels, &means), means)
    });
    let mut settled: Vec<(f64, Array2<f64>)> = settled.collect();
    settled.sort_by(|a, b| a.0.total_cmp(&b.0));
    settled.into_iter().take(n).map(|(_, means)| means).collect()
}

/// Where the library begins: its spread-out choice of rows and one step from there.
fn started(rows: ArrayView2<'_, f64>, k: usize, seed: u64) -> Result<Array2<f64>, KMeansError> {
    let params = KMeans::params_with_rng(k, Xoshiro256Plus::seed_from_u64(seed));
    let params = params.init_method(KMeansInit::KMeansPlusPlus).n_runs(1).max_n_iterations(1);
    let model = params.fit(&DatasetBase::from(rows)).map_err(|e| KMeansError::NotFitted(e.to_string()))?;
    Ok(model.centroids().as_standard_layout().into_owned())
}

/// Every so-manieth row, at least `at_least` where there are so many.
fn evenly(rows: ArrayView2<'_, f64>, at_least: usize) -> ArrayView2<'_, f64> {
    let stride = (rows.nrows() / at_least).max(1);
    let mut part = rows;
    part.slice_axis_inplace(Axis(0), Slice { start: 0, end: None, step: stride.cast_signed() });
    part
}

fn squares(rows: ArrayView2<'_, f64>, labels: &[usize], means: &Array2<f64>) -> f64 {
    let of =
        |(i, &l): (usize, &usize)| rows.row(i).iter().zip(means.row(l)).map(|(x, m)| (x - m) * (x - m)).sum::<f64>();
    labels.iter().enumerate().map(of).sum()
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
