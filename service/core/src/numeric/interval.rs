//! How sure a share of points is: the Jeffreys interval; and how far two shares lie apart.
//!
//! In:  points got and points possible (both may be fractions), a level.
//! Out: the equal-tailed interval of Beta(x + 1/2, n - x + 1/2).
//! Keeps: the values of an independent implementation (`matches_reference_values`), the tails that it names
//! (`the_ends_leave_the_tails_that_they_name`), 0 <= low <= high <= 1; of a difference those printed
//! (`the_interval_of_a_difference_is_the_published_one`); of Wilson's those of another (`wilson_matches_reference_values`).
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

/// Whether the upper end of that interval is `share` or more: one look at the distribution instead of a search for the end.
#[must_use]
pub fn jeffreys_reaches(got: f64, possible: f64, level: f64, share: f64) -> bool {
    let possible = if possible.is_finite() { possible.max(0.0) } else { 0.0 };
    let got = if got.is_finite() { got.clamp(0.0, possible) } else { 0.0 };
    let above = (1.0 - level.clamp(0.0, 1.0)) / 2.0;
    Beta::new(got + 0.5, possible - got + 0.5).is_ok_and(|beta| beta.cdf(share.clamp(0.0, 1.0)) <= 1.0 - above)
}

/// The quantile is found to this.
const CLOSE_ENOUGH: f64 = 1e-14;
/// Halvings that would find it: log2 of 1 / (2 x 1e-14), rounded up; one more may be spent on guessing better than halving.
const MOST_STEPS: i32 = 46 + 1;

/// Root of cdf(x) = p between 0 and 1: a chord's guess drawn towards the middle, so that no shape takes more steps than halving does
/// and most take about ten.
///
/// Source: Oliveira & Takahashi 2020, ACM Transactions on Mathematical Software 47(1), the ITP method (from memory), with k1 0.2, k2 2.
fn quantile(beta: &Beta, p: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    let (mut under, mut over) = (-p, 1.0 - p);
    for step in 0..MOST_STEPS {
        let width = high - low;
        if width <= 2.0 * CLOSE_ENOUGH {
            break;
        }
        let middle = f64::midpoint(low, high);
        let chord = (over * low - under * high) / (over - under);
        let (inwards, pull) = ((middle - chord).signum(), 0.2 * width * width);
        let drawn = if pull <= (middle - chord).abs() { chord + inwards * pull } else { middle };
        let reach = CLOSE_ENOUGH * f64::powi(2.0, MOST_STEPS - step) - width / 2.0;
        let at = if (drawn - middle).abs() <= reach { drawn } else { middle - inwards * reach };
        let off = beta.cdf(at) - p;
        if off < 0.0 {
            (low, under) = (at, off);
        } else {
            (high, over) = (at, off);
        }
    }
    f64::midpoint(low, high)
}

/// Quantile of the normal distribution that leaves 2.5 % above it.
pub(crate) const Z_95: f64 = 1.959_963_984_540_054;

/// Difference of two shares with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// First share less the second.
    pub difference: f64,
    /// Ends.
    pub low: f64,
    /// See `low`.
    pub high: f64,
}

/// The difference of `a` of `n_a` and `b` of `n_b`; `None` where one of them is of nobody.
///
/// Interval: Newcombe 1998, Statistics in Medicine 17:873-890, method 10 (from memory): the ends of both Wilson intervals put together.
#[must_use]
pub fn difference_of_shares(a: usize, n_a: usize, b: usize, n_b: usize) -> Option<Difference> {
    if n_a == 0 || n_b == 0 {
        return None;
    }
    let (p, q) = (a as f64 / n_a as f64, b as f64 / n_b as f64);
    let ((p_low, p_high), (q_low, q_high)) = (wilson(a, n_a), wilson(b, n_b));
    let difference = p - q;
    Some(Difference {
        difference,
        low: difference - ((p - p_low).powi(2) + (q_high - q).powi(2)).sqrt(),
        high: difference + ((p_high - p).powi(2) + (q - q_low).powi(2)).sqrt(),
    })
}

/// Wilson's interval at 95 %.
fn wilson(x: usize, n: usize) -> (f64, f64) {
    let (x, n, z2) = (x as f64, n as f64, Z_95 * Z_95);
    let (middle, half) = (x + z2 / 2.0, Z_95 * (x * (n - x) / n + z2 / 4.0).sqrt());
    ((middle - half) / (n + z2), (middle + half) / (n + z2))
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
    fn a_share_is_reached_where_the_upper_end_lies_over_it() {
        for (got, possible) in [(0.0, 3.0), (3.0, 8.0), (6.5, 9.0), (12.0, 12.0), (0.0, 0.0)] {
            for level in [0.8, 0.95] {
                let high = jeffreys_interval(got, possible, level).high;
                assert!(jeffreys_reaches(got, possible, level, high - 1e-9), "{got} of {possible}");
                assert!(!jeffreys_reaches(got, possible, level, high + 1e-9), "{got} of {possible}");
            }
        }
    }

    #[test]
    fn the_ends_leave_the_tails_that_they_name() {
        for possible in [0.0, 0.3, 1.0, 4.0, 7.5, 20.0, 263.0, 5000.0] {
            for share in [0.0, 0.02, 0.31, 0.5, 0.77, 1.0] {
                for level in [0.5, 0.8, 0.95, 0.999] {
                    let got = share * possible;
                    let i = jeffreys_interval(got, possible, level);
                    let beta = Beta::new(got + 0.5, possible - got + 0.5).unwrap();
                    let tail = (1.0 - level) / 2.0;
                    // The distribution crosses the tail's share within the width that is searched to.
                    for (end, p) in [(i.low, tail), (i.high, 1.0 - tail)] {
                        let (below, above) = ((end - 2.0 * CLOSE_ENOUGH).max(0.0), (end + 2.0 * CLOSE_ENOUGH).min(1.0));
                        let rounding = 1e-12;
                        assert!(
                            beta.cdf(below) <= p + rounding && p <= beta.cdf(above) + rounding,
                            "{got} of {possible}, {level}: {end}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn odd_input_gives_an_interval_all_the_same() {
        for (got, possible) in [(0.0, 0.0), (5.0, 3.0), (-1.0, 2.0), (f64::NAN, 2.0), (1.0, f64::INFINITY)] {
            let i = jeffreys_interval(got, possible, 0.80);
            assert!(0.0 <= i.low && i.low <= i.high && i.high <= 1.0, "{got}/{possible}");
        }
    }

    /// Source: Newcombe 1998, table II, 56 of 70 against 48 of 80: .0524 to .3339 (from memory).
    #[test]
    fn the_interval_of_a_difference_is_the_published_one() {
        let d = difference_of_shares(56, 70, 48, 80).unwrap();
        assert!(
            (d.difference - 0.2).abs() < 1e-9 && (d.low - 0.0524).abs() < 1e-4 && (d.high - 0.3339).abs() < 1e-4,
            "{d:?}"
        );
        assert_eq!(difference_of_shares(0, 0, 1, 2), None);
    }

    /// Values of statsmodels 0.15.0, `proportion_confint(x, n, .05, 'wilson')`; the first four rows also stand in Newcombe 1998,
    /// Statistics in Medicine 17:857-872, table I (from memory).
    #[test]
    fn wilson_matches_reference_values() {
        for (x, n, low, high) in [
            (81, 263, 0.255_288_520, 0.366_209_577),
            (15, 148, 0.062_386_400, 0.160_487_242),
            (0, 20, 0.0, 0.161_125_158),
            (1, 29, 0.006_113_214, 0.171_755_219),
            (3, 4, 0.300_641_843, 0.954_412_739),
            (4, 4, 0.510_109_164, 1.0),
            (0, 4, 0.0, 0.489_890_836),
            (2, 5, 0.117_620_774, 0.769_275_719),
            (7, 10, 0.396_778_147, 0.892_208_733),
        ] {
            let (a, b) = wilson(x, n);
            assert!((a - low).abs() < 1e-8 && (b - high).abs() < 1e-8, "{x}/{n}: {a} {b}");
        }
    }
}
