//! How sure a share of points is: the Jeffreys interval.
//!
//! In:  points got and points possible (both may be fractions), a level.
//! Out: the equal-tailed interval of Beta(x + 1/2, n - x + 1/2).
//! Keeps: the values of an independent implementation (`matches_reference_values`), 0 <= low <= high <= 1.
//! Source: Brown, Cai & DasGupta 2001, Statistical Science 16:101-133 (pages from memory). The ends at x = 0 and x = n are
//! not moved to 0 and 1.

use statrs::distribution::{Beta, ContinuousCDF};

/// An interval of a share, each end 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The Jeffreys interval of `got` out of `possible` at `level` (0.80 leaves 10 % on each side).
///
/// Nothing possible gives the prior's own interval. Values out of range are brought into it. Never panics.
///
/// ```
/// let i = sheaf_core::numeric::jeffreys_interval(4.0, 5.0, 0.80);
/// assert!((i.low - 0.5167).abs() < 0.001 && (i.high - 0.9396).abs() < 0.001);
/// ```
#[must_use]
pub fn jeffreys_interval(got: f64, possible: f64, level: f64) -> Interval {
    let possible = if possible.is_finite() { possible.max(0.0) } else { 0.0 };
    let got = if got.is_finite() { got.clamp(0.0, possible) } else { 0.0 };
    let tail = (1.0 - level.clamp(0.0, 1.0)) / 2.0;
    match Beta::new(got + 0.5, possible - got + 0.5) {
        Ok(beta) => Interval { low: quantile(&beta, tail), high: quantile(&beta, 1.0 - tail) },
        Err(_) => Interval { low: 0.0, high: 1.0 },
    }
}

/// Bisection on the distribution function: 60 halvings, so the answer is good to 1e-15 whatever the shape.
fn quantile(beta: &Beta, p: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if beta.cdf(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(got: f64, possible: f64, low: f64, high: f64) {
        let i = jeffreys_interval(got, possible, 0.95);
        assert!((i.low - low).abs() < 1e-8, "{got}/{possible}: {} for {low}", i.low);
        assert!((i.high - high).abs() < 1e-8, "{got}/{possible}: {} for {high}", i.high);
    }

    /// Values of statsmodels 0.15.0, `proportion_confint(x, n, .05, 'jeffreys')`.
    #[test]
    fn matches_reference_values() {
        check(81.0, 263.0, 0.254_521_935, 0.365_647_499);
        check(15.0, 148.0, 0.060_448_517, 0.157_643_143);
        check(0.0, 20.0, 0.000_024_246_5, 0.116_638_983);
        check(3.0, 4.0, 0.283_751_680, 0.971_529_105);
        check(1.0, 29.0, 0.003_746_174, 0.150_077_686);
        check(4.0, 4.0, 0.555_237_382, 0.999_884_667);
        check(0.0, 4.0, 0.000_115_333, 0.444_762_618);
        check(2.0, 5.0, 0.094_390_327, 0.790_583_336);
        check(7.0, 10.0, 0.394_181_682, 0.907_305_406);
    }

    #[test]
    fn odd_input_gives_an_interval_all_the_same() {
        for (got, possible) in [(0.0, 0.0), (5.0, 3.0), (-1.0, 2.0), (f64::NAN, 2.0), (1.0, f64::INFINITY)] {
            let i = jeffreys_interval(got, possible, 0.80);
            assert!(0.0 <= i.low && i.low <= i.high && i.high <= 1.0, "{got}/{possible}");
        }
    }
}
