//! How well rows sit in their groups: the mean silhouette.
//!
//! In:  rows (n, d), finite; labels (n), 0-based.
//! Out: the mean of s(i) = (b - a) / max(a, b), Euclidean distance; a row alone in its group counts 0; `None` with fewer than two groups.
//! Keeps: `singleton_scores_zero`, `matches_hand_values`. Time grows with n²: callers pass one pool at a time.
//! Source: Rousseeuw 1987, Journal of Computational and Applied Mathematics 20:53-65.

use ndarray::ArrayView2;

/// The mean silhouette of a grouping; see the module header.
#[must_use]
pub fn mean_silhouette(rows: ArrayView2<'_, f64>, labels: &[usize]) -> Option<f64> {
    let n = labels.len();
    let n_groups = labels.iter().max()? + 1;
    let mut sizes = vec![0_usize; n_groups];
    labels.iter().for_each(|&l| sizes[l] += 1);
    if sizes.iter().filter(|&&s| s > 0).count() < 2 || rows.nrows() != n {
        return None;
    }
    let mut total = 0.0;
    let mut sums = vec![0.0; n_groups];
    for i in 0..n {
        sums.fill(0.0);
        for j in 0..n {
            if j != i {
                sums[labels[j]] += distance(rows, i, j);
            }
        }
        total += silhouette_of(labels[i], &sums, &sizes);
    }
    Some(total / n as f64)
}

fn silhouette_of(own: usize, sums: &[f64], sizes: &[usize]) -> f64 {
    if sizes[own] < 2 {
        return 0.0;
    }
    let a = sums[own] / (sizes[own] - 1) as f64;
    let b = (0..sizes.len())
        .filter(|&g| g != own && sizes[g] > 0)
        .map(|g| sums[g] / sizes[g] as f64)
        .fold(f64::INFINITY, f64::min);
    let larger = a.max(b);
    if larger > 0.0 { (b - a) / larger } else { 0.0 }
}

fn distance(rows: ArrayView2<'_, f64>, i: usize, j: usize) -> f64 {
    rows.row(i).iter().zip(rows.row(j)).map(|(x, y)| (x - y) * (x - y)).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;

    #[test]
    fn matches_hand_values() {
        let rows = Array2::from_shape_vec((5, 1), vec![1.0, 2.0, 8.0, 9.0, 10.0]).unwrap();
        let expect = (7.0 / 8.0 + 6.0 / 7.0 + 10.0 / 13.0 + 13.0 / 15.0 + 14.0 / 17.0) / 5.0;
        let got = mean_silhouette(rows.view(), &[0, 0, 1, 1, 1]).unwrap();
        assert!((got - expect).abs() < 1e-12);
        assert!((got - 0.838_313_941).abs() < 1e-9);
    }

    #[test]
    fn singleton_scores_zero() {
        let rows = Array2::from_shape_vec((3, 1), vec![0.0, 1.0, 9.0]).unwrap();
        let got = mean_silhouette(rows.view(), &[0, 0, 1]).unwrap();
        assert!((got - (8.0 / 9.0 + 7.0 / 8.0) / 3.0).abs() < 1e-12);
    }

    #[test]
    fn one_group_has_no_silhouette() {
        let rows = Array2::from_shape_vec((2, 1), vec![0.0, 1.0]).unwrap();
        assert_eq!(mean_silhouette(rows.view(), &[0, 0]), None);
        assert_eq!(mean_silhouette(Array2::zeros((0, 1)).view(), &[]), None);
    }
}
