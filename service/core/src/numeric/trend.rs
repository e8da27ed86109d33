//! The slope of a few points over time: the median of all slopes between two of them, with an interval; and least squares.
//!
//! In:  pairs (time, value), finite. Out: a slope, its ends and where the line crosses zero; `None` where no two times differ.
//! Method: Theil 1950; the interval by ranks of Sen 1968, J. Am. Stat. Assoc. 63:1379-1389, with ties taken out of the variance.
//! Keeps: `sens_example`, `eight_weeks_of_a_short_quiz`, `least_squares_has_its_interval`, `one_point_has_no_slope`. Not here: what a slope means for a child.

use super::Z_95;
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::sync::LazyLock;

/// A line through points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Change of the value for each unit of time.
    pub slope: f64,
    /// Ends of the 95 % interval of the slope.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// Median value less slope times median time.
    pub intercept: f64,
}

/// The median of pairwise slopes.
///
/// O(n² log n) for n points; the interval of two points is the one slope twice.
#[must_use]
pub fn theil_sen(points: &[(f64, f64)]) -> Option<Trend> {
    let mut slopes: Vec<f64> = (0..points.len())
        .flat_map(|i| points[i + 1..].iter().map(move |b| (points[i], *b)))
        .filter(|(a, b)| a.0 != b.0)
        .map(|(a, b)| (b.1 - a.1) / (b.0 - a.0))
        .collect();
    if slopes.is_empty() {
        return None;
    }
    slopes.sort_by(f64::total_cmp);
    let slope = median(&slopes);
    let (times, values): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let (low, high) = ends(&slopes, &times, &values);
    Some(Trend { slope, low, high, intercept: median(&sorted(&values)) - slope * median(&sorted(&times)) })
}

/// Ranks of the ends among the slopes.
fn ends(slopes: &[f64], times: &[f64], values: &[f64]) -> (f64, f64) {
    let of_n = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let n = values.len() as f64;
    let variance = (of_n(n) - ties(times).map(of_n).sum::<f64>() - ties(values).map(of_n).sum::<f64>()) / 18.0;
    let (half, last) = (Z_95 * variance.max(0.0).sqrt(), slopes.len() - 1);
    let rank = |at: f64| (at / 2.0).round_ties_even();
    let upper = rank(slopes.len() as f64 + half).clamp(0.0, last as f64) as usize;
    let lower = (rank(slopes.len() as f64 - half) - 1.0).clamp(0.0, last as f64) as usize;
    (slopes[lower], slopes[upper])
}

/// Sizes of the sets of equal values.
fn ties(values: &[f64]) -> impl Iterator<Item = f64> {
    let sorted = sorted(values);
    let sizes: Vec<f64> = sorted.chunk_by(|a, b| a == b).map(|same| same.len() as f64).collect();
    sizes.into_iter()
}

fn sorted(values: &[f64]) -> Vec<f64> {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values
}

fn median(sorted: &[f64]) -> f64 {
    let middle = sorted.len() / 2;
    if sorted.len() % 2 == 1 { sorted[middle] } else { f64::midpoint(sorted[middle - 1], sorted[middle]) }
}

/// Slope of least squares and its standard error; `None` under three points or where all times are one.
#[must_use]
pub fn least_squares(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (t, y) = (mean(|p| p.0), mean(|p| p.1));
    let of_time: f64 = points.iter().map(|p| (p.0 - t).powi(2)).sum();
    if points.len() < 3 || of_time == 0.0 {
        return None;
    }
    let slope = points.iter().map(|p| (p.0 - t) * (p.1 - y)).sum::<f64>() / of_time;
    let left: f64 = points.iter().map(|p| (p.1 - y - slope * (p.0 - t)).powi(2)).sum();
    Some((slope, (left / (n - 2.0) / of_time).sqrt()))
}

/// The slope of least squares with its 95 % interval by Student's t; `None` as [`least_squares`].
#[must_use]
pub fn least_squares_interval(points: &[(f64, f64)]) -> Option<(f64, f64, f64)> {
    let (slope, error) = least_squares(points)?;
    let half = error * t_975(points.len() - 2)?;
    Some((slope, slope - half, slope + half))
}

/// Degrees of freedom whose quantile is worked out once: a search that a look back over a school would make thousands of times.
const N_KNOWN: usize = 64;
static KNOWN_T_975: LazyLock<Vec<Option<f64>>> = LazyLock::new(|| (0..N_KNOWN).map(t_975_worked_out).collect());

/// Quantile of Student's t that leaves 2.5 % above it.
fn t_975(freedom: usize) -> Option<f64> {
    KNOWN_T_975.get(freedom).copied().unwrap_or_else(|| t_975_worked_out(freedom))
}

fn t_975_worked_out(freedom: usize) -> Option<f64> {
    Some(StudentsT::new(0.0, 1.0, freedom as f64).ok()?.inverse_cdf(0.975))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-6
    }

    /// Source: the data of Sen 1968 (its printed answer is from memory); slope, interval and least squares by scipy 1.17,
    /// `theilslopes(y, x, .95)` and `linregress`.
    #[test]
    fn sens_example() {
        let points: Vec<(f64, f64)> =
            [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0].into_iter().zip([9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0]).collect();
        let trend = theil_sen(&points).unwrap();
        assert!(close(trend.slope, 4.0) && close(trend.intercept, 4.0), "{trend:?}");
        assert!(close(trend.low, 26.0 / 7.0) && close(trend.high, 4.375), "{trend:?}");
        let (slope, error) = least_squares(&points).unwrap();
        assert!(close(slope, 4.021_352) && close(error, 0.085_226), "{slope} {error}");
    }

    /// Source: scipy 1.17, the same functions. One bad week puts least squares a fifth below the median of slopes.
    #[test]
    fn eight_weeks_of_a_short_quiz() {
        let points: Vec<(f64, f64)> = (1..=8).map(f64::from).zip([4.0, 5.0, 5.0, 7.0, 6.0, 8.0, 3.0, 9.0]).collect();
        let trend = theil_sen(&points).unwrap();
        assert!(close(trend.slope, 0.5) && close(trend.intercept, 3.25), "{trend:?}");
        assert!(close(trend.low, -0.4) && close(trend.high, 1.0), "{trend:?}");
        let (slope, error) = least_squares(&points).unwrap();
        assert!(close(slope, 0.392_857) && close(error, 0.298_095), "{slope} {error}");
    }

    /// Source: the slope and error above with t(6) at .975 = 2.446912, as printed tables have it.
    #[test]
    fn least_squares_has_its_interval() {
        let points: Vec<(f64, f64)> = (1..=8).map(f64::from).zip([4.0, 5.0, 5.0, 7.0, 6.0, 8.0, 3.0, 9.0]).collect();
        let (slope, low, high) = least_squares_interval(&points).unwrap();
        assert!(close(slope, 0.392_857), "{slope}");
        assert!((low - (0.392_857 - 2.446_912 * 0.298_095)).abs() < 1e-5, "{low}");
        assert!((high - (0.392_857 + 2.446_912 * 0.298_095)).abs() < 1e-5, "{high}");
        assert_eq!(least_squares_interval(&[(1.0, 2.0), (2.0, 3.0)]), None);
    }

    #[test]
    fn one_point_has_no_slope() {
        assert_eq!(theil_sen(&[(1.0, 2.0)]), None);
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)]), None);
        assert_eq!(least_squares(&[(1.0, 2.0), (2.0, 3.0)]), None);
        let two = theil_sen(&[(0.0, 1.0), (2.0, 2.0)]).unwrap();
        assert_eq!((two.slope, two.low, two.high), (0.5, 0.5, 0.5));
    }
}
