//! Exact tests on small counts: how far two counts of change lie from even (McNemar), how far two shares from one (Fisher).
//!
//! In:  whole numbers. Out: a two-sided p from 0 to 1; 1 where nothing can be said.
//! Keeps: `flips_have_their_exact_chance`, `the_tea_table_has_its_value`, `nothing_counted_says_nothing`.
//! Source: Q. McNemar, Psychometrika 12 (1947) 153-157, by the binomial; R. A. Fisher 1935, The Design of Experiments (both from memory).
//! Not here: what changes (`movement`), the approximate tests.

use statrs::function::factorial::{ln_binomial, ln_factorial};

/// The chance that two counts of changes, one each way, lie as far from even or farther, if either way is as likely.
#[must_use]
pub fn exact_mcnemar(one_way: u64, other_way: u64) -> f64 {
    let n = one_way + other_way;
    let chance = |k: u64| (ln_binomial(n, k) - n as f64 * std::f64::consts::LN_2).exp();
    let tail: f64 = (0..=one_way.min(other_way)).map(chance).sum();
    (2.0 * tail).min(1.0)
}

/// The chance of a table of two rows as unlikely as this one or more, if both rows have one share. Rows: `[those with, those without]`.
#[must_use]
pub fn fisher_exact([[a, b], [c, d]]: [[u64; 2]; 2]) -> f64 {
    let (first, second, with, n) = (a + b, c + d, a + c, a + b + c + d);
    let all =
        ln_factorial(first) + ln_factorial(second) + ln_factorial(with) + ln_factorial(n - with) - ln_factorial(n);
    let chance = |x: u64| {
        let cells = [x, first - x, with - x, second - (with - x)];
        (all - cells.into_iter().map(ln_factorial).sum::<f64>()).exp()
    };
    let seen = chance(a);
    // A hair more, so that a table of the very same chance is not lost to rounding.
    let as_unlikely = (with.saturating_sub(second)..=with.min(first)).map(chance).filter(|p| *p <= seen * (1.0 + 1e-9));
    as_unlikely.sum::<f64>().min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9
    }

    /// Values of scipy 1.17, `binomtest(k, n).pvalue`.
    #[test]
    fn flips_have_their_exact_chance() {
        assert!(close(exact_mcnemar(5, 1), 0.218_75), "{}", exact_mcnemar(5, 1));
        assert!(close(exact_mcnemar(1, 5), 0.218_75));
        assert!((exact_mcnemar(150, 86) - 3.715_936_139_6e-5).abs() < 1e-9, "{}", exact_mcnemar(150, 86));
        assert!(close(exact_mcnemar(4, 4), 1.0));
    }

    /// Value of R 4.2, `fisher.test`, for the lady tasting tea; the others of scipy 1.17, `fisher_exact`.
    #[test]
    fn the_tea_table_has_its_value() {
        for (table, p) in [
            ([[3, 1], [1, 3]], 0.485_714_285_7),
            ([[8, 2], [1, 5]], 0.034_965_035_0),
            ([[12, 30], [3, 40]], 0.010_943_838_6),
        ] {
            assert!((fisher_exact(table) - p).abs() < 1e-9, "{table:?}: {}", fisher_exact(table));
        }
    }

    #[test]
    fn nothing_counted_says_nothing() {
        assert!(close(exact_mcnemar(0, 0), 1.0));
        for table in [[[0, 0], [0, 0]], [[3, 0], [0, 0]], [[0, 4], [0, 5]], [[4, 0], [5, 0]]] {
            assert!(close(fisher_exact(table), 1.0), "{table:?}: {}", fisher_exact(table));
        }
    }
}
