//! Size-limited k-means on any table of numbers: the engine by itself.
//!
//! In:  rows (n, d), finite, no scaling applied; k groups of `min..=max` rows; a seed.
//! Out: labels (largest group first, then the one whose first row comes first), sum of squared distances to the members' own mean.
//! Steps: linfa's k-means gives the first start, its centres with an exact assignment of rows to seats the second;
//! random starts follow; all are improved by moves and swaps (`partition`).
//! Keeps: `rerun_is_identical`, `sizes_hold`, the published sums of squares of Fisher's iris (`iris_sums_of_squares`).
//! Source: Bradley, Bennett & Demiriz 2000, MSR-TR-2000-65 (assignment step).

use super::kmeans::{KMeansError, fit_kmeans};
use super::partition::{Capacity, SearchEffort, SumOfSquares, Units, search_partition};
use super::seats::assign_within_sizes;
use ndarray::{Array2, ArrayView2};
use thiserror::Error;

/// Rows up to which the full number of starts is affordable.
const SMALL: usize = 48;
/// Starts at that size; a hard class of 32 is missed by fewer with probability under one in a thousand.
const STARTS_SMALL: usize = 320;
/// Rows up to which every start can be followed to the end, as a grade has.
const MIDDLE: usize = 240;
/// Starts at that size.
const STARTS_MIDDLE: usize = 80;
/// Starts for larger tables.
const STARTS_LARGE: usize = 50;
/// Starts that are followed to the end for larger tables.
const FINALISTS_LARGE: usize = 6;
/// Runs of unlimited k-means, at most and at least, and distances per pass of all of them together: where groups are many it is one
/// start among others and not worth more.
const KMEANS_RUNS: usize = 50;
const FEWEST_KMEANS_RUNS: usize = 4;
const KMEANS_DISTANCES: usize = 100_000;
/// Largest seat matrix (rows) that is solved exactly for a start.
const MOST_SEATS: usize = 1500;

/// A grouping of rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Clustering {
    /// Group of each row.
    pub labels: Vec<usize>,
    /// Sum of squared distances to the members' own mean.
    pub sse: f64,
    /// Rows in each group.
    pub sizes: Vec<usize>,
}

/// Why no grouping was made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ClusterError {
    /// The table itself.
    #[error(transparent)]
    Table(#[from] KMeansError),
    /// Sizes that cannot hold the rows.
    #[error("{rows} rows cannot all sit in {k} groups of {min_size} to {max_size}: those hold {least} to {most}")]
    Sizes {
        /// Rows.
        rows: usize,
        /// Groups.
        k: usize,
        /// Smallest group.
        min_size: usize,
        /// Largest group.
        max_size: usize,
        /// Fewest rows they hold.
        least: usize,
        /// Most rows they hold.
        most: usize,
    },
}

/// Groups rows within size limits; see the module header. Rows should come in order of id, as their order is part of the input.
///
/// # Errors
/// [`ClusterError`] for tables or sizes that cannot be grouped.
pub fn cluster_within_sizes(
    rows: ArrayView2<'_, f64>,
    k: usize,
    min_size: usize,
    max_size: usize,
    seed: u64,
) -> Result<Clustering, ClusterError> {
    let n = rows.nrows();
    let min_size = min_size.max(1);
    let (least, most) = (k.saturating_mul(min_size), k.saturating_mul(max_size));
    let n_runs = (KMEANS_DISTANCES / (n * k).max(1)).clamp(FEWEST_KMEANS_RUNS, KMEANS_RUNS);
    let plain = fit_kmeans(rows, k, seed, n_runs)?;
    if n < least || n > most {
        return Err(ClusterError::Sizes { rows: n, k, min_size, max_size, least, most });
    }
    let mut given = vec![plain.labels.clone()];
    given.extend(seated_start(rows, &plain.means, k, min_size, max_size));
    let effort = match n {
        _ if n <= SMALL => SearchEffort::all_of(STARTS_SMALL),
        _ if n <= MIDDLE => SearchEffort::all_of(STARTS_MIDDLE),
        _ => SearchEffort { n_finalists: FINALISTS_LARGE, ..SearchEffort::all_of(STARTS_LARGE) },
    };
    let units = plain_units(rows);
    let capacity = Capacity { n_groups: k, min_size, max_size };
    let labels = search_partition(&units, capacity, &SumOfSquares, &given, effort, seed).unwrap_or(plain.labels);
    Ok(finished(rows, &labels, k))
}

/// The exact assignment to the centres of unlimited k-means, where the seat matrix is not too large.
fn seated_start(
    rows: ArrayView2<'_, f64>,
    means: &Array2<f64>,
    k: usize,
    min_size: usize,
    max_size: usize,
) -> Option<Vec<usize>> {
    let max_size = max_size.min(rows.nrows());
    if means.nrows() < k || k * max_size > MOST_SEATS {
        return None;
    }
    assign_within_sizes(squared_distances(rows, means).view(), min_size, max_size)
}

pub(crate) fn squared_distances(rows: ArrayView2<'_, f64>, means: &Array2<f64>) -> Array2<f64> {
    Array2::from_shape_fn((rows.nrows(), means.nrows()), |(i, g)| {
        rows.row(i).iter().zip(means.row(g)).map(|(x, m)| (x - m) * (x - m)).sum()
    })
}

fn plain_units(rows: ArrayView2<'_, f64>) -> Units {
    let n = rows.nrows();
    Units {
        sizes: vec![1; n],
        worths: Array2::zeros((n, 0)),
        points: rows.as_standard_layout().into_owned(),
        squares: rows.rows().into_iter().map(|r| r.dot(&r)).collect(),
        apart: vec![Vec::new(); n],
    }
}

/// Renumbers the labels and computes what is reported.
fn finished(rows: ArrayView2<'_, f64>, labels: &[usize], k: usize) -> Clustering {
    let mut order: Vec<(usize, usize, usize)> = (0..k)
        .map(|g| {
            let size = labels.iter().filter(|&&l| l == g).count();
            let first = labels.iter().position(|&l| l == g).unwrap_or(usize::MAX);
            (usize::MAX - size, first, g)
        })
        .collect();
    order.sort_unstable();
    let mut rank = vec![0; k];
    order.iter().enumerate().for_each(|(new, &(_, _, old))| rank[old] = new);
    let labels: Vec<usize> = labels.iter().map(|&l| rank[l]).collect();
    let means = super::kmeans::means_of(rows, &labels, k);
    let sse = labels
        .iter()
        .enumerate()
        .map(|(i, &l)| rows.row(i).iter().zip(means.row(l)).map(|(x, m)| (x - m) * (x - m)).sum::<f64>())
        .sum();
    let sizes = order.iter().map(|&(inverse, _, _)| usize::MAX - inverse).collect();
    Clustering { labels, sse, sizes }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::mean_silhouette;

    fn iris() -> Array2<f64> {
        let text = include_str!("../../../../fixtures/published/iris.csv");
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
        let values: Vec<f64> = reader
            .records()
            .flat_map(|r| r.unwrap().iter().skip(1).map(|v| v.parse().unwrap()).collect::<Vec<f64>>())
            .collect();
        Array2::from_shape_vec((150, 4), values).unwrap()
    }

    /// Fisher 1936, Annals of Eugenics 7; sums and silhouettes of scikit-learn 1.9.1.
    #[test]
    fn iris_sums_of_squares() {
        let rows = iris();
        for (k, sum, silhouette) in [(2, 152.347_952, 0.681_046), (3, 78.851_441, 0.552_819)] {
            let fit = fit_kmeans(rows.view(), k, 7, 20).unwrap();
            assert!((fit.sum_of_squares - sum).abs() < 1e-6, "k {k}: {}", fit.sum_of_squares);
            let got = mean_silhouette(rows.view(), &fit.labels).unwrap();
            assert!((got - silhouette).abs() < 1e-6, "k {k}: {got}");
            let clustering = cluster_within_sizes(rows.view(), k, 1, 150, 7).unwrap();
            assert!((clustering.sse - sum).abs() < 1e-6, "k {k}: {}", clustering.sse);
        }
    }

    #[test]
    fn rerun_is_identical() {
        let rows = iris();
        let once = cluster_within_sizes(rows.view(), 5, 20, 40, 3).unwrap();
        assert_eq!(once, cluster_within_sizes(rows.view(), 5, 20, 40, 3).unwrap());
    }

    #[test]
    fn sizes_hold() {
        let rows = iris();
        let clustering = cluster_within_sizes(rows.view(), 30, 4, 6, 3).unwrap();
        assert!(clustering.sizes.iter().all(|s| (4..=6).contains(s)), "{:?}", clustering.sizes);
        assert!(clustering.sizes.windows(2).all(|w| w[0] >= w[1]));
        assert_eq!(clustering.labels[0..1].len(), 1);
        let error = cluster_within_sizes(rows.view(), 10, 2, 4, 3).unwrap_err();
        assert_eq!(error.to_string(), "150 rows cannot all sit in 10 groups of 2 to 4: those hold 20 to 40");
    }
}
