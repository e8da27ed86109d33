//! Lloyd's iterations that leave alone the rows whose cluster cannot change: from given means to means that no longer move.
//!
//! In:  rows (n, d) and means (k, d), finite; a tolerance on the sum of squared steps of the means.
//! Out: label of each row; the means have moved to those of their members. A cluster without members keeps its mean.
//! Keeps: 1. the labels are those of plain iterations, step for step (`bounds_change_no_label`)
//!        2. it ends: at most [`MOST_STEPS`].
//! Why not the library's own: over 20,000 rows it takes several times as long as plain iterations, over a million five times as long
//! as another library (its measures are in the benchmark `numbers`).
//! Source: Hamerly 2010, Making k-means even faster (SIAM data mining): one lower and one upper bound a row (from memory).

use ndarray::{Array2, ArrayView2};

/// Steps after which it stops, settled or not.
const MOST_STEPS: usize = 300;

/// Iterates until the means rest. See the module header.
pub(super) fn settle(rows: ArrayView2<'_, f64>, means: &mut Array2<f64>, tolerance: f64) -> Vec<usize> {
    let rows = rows.as_standard_layout();
    let rows = Rows { values: rows.as_slice().unwrap_or_default(), n_columns: means.ncols() };
    let mut state = State::begin(&rows, means);
    for _ in 0..MOST_STEPS {
        let steps = state.members.pull(means);
        if steps.iter().map(|s| s * s).sum::<f64>() <= tolerance || !state.look_again(&rows, means, &steps) {
            break;
        }
    }
    state.labels
}

/// Rows laid one behind the other.
struct Rows<'a> {
    values: &'a [f64],
    n_columns: usize,
}

impl Rows<'_> {
    fn iter(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks_exact(self.n_columns.max(1))
    }
}

/// Sums and counts of the members of each cluster.
struct Members {
    sums: Array2<f64>,
    counts: Vec<f64>,
}

impl Members {
    fn change(&mut self, row: &[f64], cluster: usize, sign: f64) {
        self.counts[cluster] += sign;
        for (sum, value) in self.sums.row_mut(cluster).iter_mut().zip(row) {
            *sum += sign * value;
        }
    }

    /// Moves each mean to its members' and gives how far it went.
    fn pull(&self, means: &mut Array2<f64>) -> Vec<f64> {
        let mut steps = vec![0.0; self.counts.len()];
        for (cluster, &count) in self.counts.iter().enumerate().filter(|(_, c)| **c > 0.5) {
            let mut squares = 0.0;
            for (mean, sum) in means.row_mut(cluster).iter_mut().zip(self.sums.row(cluster)) {
                let new = sum / count;
                squares += (new - *mean) * (new - *mean);
                *mean = new;
            }
            steps[cluster] = squares.sqrt();
        }
        steps
    }
}

/// What is known of each row: its cluster, that its mean is at most `upper` away and every other at least `lower`.
struct State {
    labels: Vec<usize>,
    upper: Vec<f64>,
    lower: Vec<f64>,
    members: Members,
}

impl State {
    fn begin(rows: &Rows<'_>, means: &Array2<f64>) -> Self {
        let members = Members { sums: Array2::zeros(means.raw_dim()), counts: vec![0.0; means.nrows()] };
        let mut state = Self { labels: Vec::new(), upper: Vec::new(), lower: Vec::new(), members };
        let mut side_by_side = SideBySide::new(means);
        for row in rows.iter() {
            let (label, upper, lower) = side_by_side.nearest(row);
            state.labels.push(label);
            state.upper.push(upper);
            state.lower.push(lower);
            state.members.change(row, label, 1.0);
        }
        state
    }

    /// Gives whether a row changed its cluster.
    fn look_again(&mut self, rows: &Rows<'_>, means: &Array2<f64>, steps: &[f64]) -> bool {
        let half = half_gaps(means);
        let longest = two_longest(steps);
        let mut side_by_side = SideBySide::new(means);
        let mut changed = false;
        for (i, row) in rows.iter().enumerate() {
            let at = self.labels[i];
            self.upper[i] += steps[at];
            self.lower[i] -= if at == longest.at { longest.second } else { longest.first };
            let safe = self.lower[i].max(half[at]);
            if self.upper[i] <= safe {
                continue;
            }
            self.upper[i] = distance(row, mean(means, at));
            if self.upper[i] <= safe {
                continue;
            }
            let (label, upper, lower) = side_by_side.nearest(row);
            (self.upper[i], self.lower[i]) = (upper, lower);
            if label != at {
                changed = true;
                self.labels[i] = label;
                self.members.change(row, at, -1.0);
                self.members.change(row, label, 1.0);
            }
        }
        changed
    }
}

fn mean(means: &Array2<f64>, cluster: usize) -> &[f64] {
    let width = means.ncols();
    means.as_slice().map_or(&[], |all| &all[cluster * width..(cluster + 1) * width])
}

fn distance(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).sum::<f64>().sqrt()
}

/// The means laid column by column, so that the distances to all of them grow in step, which the processor does several at a time.
struct SideBySide {
    columns: Vec<f64>,
    squares: Vec<f64>,
}

impl SideBySide {
    fn new(means: &Array2<f64>) -> Self {
        Self { columns: means.t().iter().copied().collect(), squares: vec![0.0; means.nrows()] }
    }

    /// Nearest mean, its distance and the distance of the next.
    fn nearest(&mut self, row: &[f64]) -> (usize, f64, f64) {
        self.squares.fill(0.0);
        for (x, column) in row.iter().zip(self.columns.chunks_exact(self.squares.len())) {
            for (square, y) in self.squares.iter_mut().zip(column) {
                *square += (x - y) * (x - y);
            }
        }
        let (mut at, mut first, mut second) = (0, f64::INFINITY, f64::INFINITY);
        for (cluster, &square) in self.squares.iter().enumerate() {
            if square < first {
                (at, first, second) = (cluster, square, first);
            } else if square < second {
                second = square;
            }
        }
        (at, first.sqrt(), second.sqrt())
    }
}

/// Half the way from each mean to its nearest other: a row nearer than that is nowhere nearer.
fn half_gaps(means: &Array2<f64>) -> Vec<f64> {
    let k = means.nrows();
    let others = |j: usize| (0..k).filter(move |h| *h != j);
    let gap = |j: usize| others(j).map(|h| distance(mean(means, j), mean(means, h))).fold(f64::INFINITY, f64::min);
    (0..k).map(|j| 0.5 * gap(j)).collect()
}

/// Which mean went farthest, how far, and how far the next.
struct Longest {
    at: usize,
    first: f64,
    second: f64,
}

fn two_longest(steps: &[f64]) -> Longest {
    let mut longest = Longest { at: 0, first: 0.0, second: 0.0 };
    for (at, &step) in steps.iter().enumerate() {
        if step > longest.first {
            longest = Longest { at, first: step, second: longest.first };
        } else if step > longest.second {
            longest.second = step;
        }
    }
    longest
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Plain iterations: every row to its nearest mean, every mean to its members.
    fn plain(rows: &Array2<f64>, means: &mut Array2<f64>) -> Vec<usize> {
        let mut labels = vec![usize::MAX; rows.nrows()];
        for _ in 0..MOST_STEPS {
            let found: Vec<usize> =
                rows.rows().into_iter().map(|r| SideBySide::new(means).nearest(r.as_slice().unwrap()).0).collect();
            if found == labels {
                break;
            }
            labels = found;
            for cluster in 0..means.nrows() {
                let members: Vec<usize> = (0..rows.nrows()).filter(|i| labels[*i] == cluster).collect();
                for column in 0..means.ncols() {
                    if !members.is_empty() {
                        means[(cluster, column)] =
                            members.iter().map(|i| rows[(*i, column)]).sum::<f64>() / members.len() as f64;
                    }
                }
            }
        }
        labels
    }

    proptest! {
        #[test]
        fn bounds_change_no_label(values in proptest::collection::vec(0.0_f64..1.0, 60..240), k in 1_usize..6) {
            let n = values.len() / 3;
            let rows = Array2::from_shape_vec((n, 3), values[..n * 3].to_vec()).unwrap();
            let mut means = rows.select(ndarray::Axis(0), &(0..k).collect::<Vec<_>>());
            let mut beside = means.clone();
            let labels = settle(rows.view(), &mut means, 0.0);
            prop_assert_eq!(&labels, &plain(&rows, &mut beside));
            prop_assert!((&means - &beside).iter().all(|d| d.abs() < 1e-9), "{} against {}", means, beside);
        }
    }
}
