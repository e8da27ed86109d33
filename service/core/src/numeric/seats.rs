//! The exact size-limited assignment of rows to fixed centres.
//!
//! In:  squared distances (n, k); sizes `min..=max` for every centre.
//! Out: the labels of least total cost, or `None` where the sizes cannot hold n rows.
//! Each centre becomes `max` seats, of which `min` must be taken; empty seats are taken by dummies that may not sit on those.
//! Keeps: the optimum (`matches_the_worked_example`). Costs are rounded to whole millionths of the largest.
//! Source: Kuhn 1955 and Munkres 1957 by the `pathfinding` library; seats as in Bradley, Bennett & Demiriz 2000, MSR-TR-2000-65.

use ndarray::ArrayView2;
use pathfinding::kuhn_munkres::kuhn_munkres_min;
use pathfinding::matrix::Matrix;

/// Costs become whole numbers up to this, so that sums stay exact.
const LARGEST_COST: f64 = 1e9;

/// Assigns every row to a centre at least total cost within the sizes. See the module header.
#[must_use]
pub fn assign_within_sizes(costs: ArrayView2<'_, f64>, min_size: usize, max_size: usize) -> Option<Vec<usize>> {
    let (n, k) = (costs.nrows(), costs.ncols());
    let n_seats = k.checked_mul(max_size)?;
    if n == 0 || k * min_size > n || n > n_seats {
        return None;
    }
    let scale = LARGEST_COST / costs.iter().copied().fold(1e-12, f64::max);
    let forbidden = (LARGEST_COST as i64 + 1) * (n as i64 + 1);
    let matrix = Matrix::from_fn(n_seats, n_seats, |(row, seat)| {
        let (centre, place) = (seat / max_size, seat % max_size);
        if row < n {
            (costs[(row, centre)] * scale).round() as i64
        } else if place < min_size {
            forbidden
        } else {
            0
        }
    });
    let (_, seats) = kuhn_munkres_min(&matrix);
    Some(seats.into_iter().take(n).map(|seat| seat / max_size).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;

    #[test]
    fn matches_the_worked_example() {
        // x = 0,1,2,3,4,5,20; centres 0 and 10; sizes 3 to 4: least cost 175 (brute force).
        let x = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 20.0_f64];
        let costs = Array2::from_shape_fn((7, 2), |(i, c)| (x[i] - [0.0, 10.0][c]).powi(2));
        let labels = assign_within_sizes(costs.view(), 3, 4).unwrap();
        assert_eq!(labels, vec![0, 0, 0, 0, 1, 1, 1]);
        let total: f64 = labels.iter().enumerate().map(|(i, &l)| costs[(i, l)]).sum();
        assert_eq!(total, 175.0);
    }

    #[test]
    fn sizes_that_cannot_hold_are_refused() {
        let costs = Array2::zeros((5, 2));
        assert_eq!(assign_within_sizes(costs.view(), 3, 3), None);
        assert_eq!(assign_within_sizes(costs.view(), 1, 2), None);
    }
}
