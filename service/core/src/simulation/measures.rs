//! Accuracy, area under the ROC curve, calibration and Brier score of mastery against the truth; a paired interval.
//! In:  mastery from 0 to 1 beside what was planted. Not here: inventing the classes (`invent`), who is served (`arms`).
//! Keeps: `the_area_counts_pairs`.

use super::Recovery;
use ndarray::Array2;

/// Bins of the calibration error.
const BINS: usize = 10;

/// Estimates and truths, gathered class by class.
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    /// Mastery and whether the skill is held.
    pairs: Vec<(f64, bool)>,
    n_students: usize,
    n_whole: usize,
}

impl Tally {
    pub(super) fn add(&mut self, mastery: &Array2<f64>, holds: &Array2<bool>) {
        for (row, truth) in mastery.rows().into_iter().zip(holds.rows()) {
            self.n_students += 1;
            self.n_whole += usize::from(row.iter().zip(truth).all(|(m, &t)| (*m >= 0.5) == t));
            self.pairs.extend(row.iter().copied().zip(truth.iter().copied()));
        }
    }

    pub(super) fn join(&mut self, other: &Tally) {
        self.pairs.extend_from_slice(&other.pairs);
        self.n_students += other.n_students;
        self.n_whole += other.n_whole;
    }

    pub(super) fn recovery(&self) -> Recovery {
        let n = self.pairs.len().max(1) as f64;
        let right = self.pairs.iter().filter(|(m, t)| (*m >= 0.5) == *t).count() as f64;
        let brier = self.pairs.iter().map(|(m, t)| (m - f64::from(u8::from(*t))).powi(2)).sum::<f64>();
        Recovery {
            skill_accuracy: right / n,
            profile_accuracy: self.n_whole as f64 / self.n_students.max(1) as f64,
            area_under_curve: area_under_curve(&self.pairs),
            calibration_error: self.calibration_error(),
            brier: brier / n,
        }
    }

    fn calibration_error(&self) -> f64 {
        let mut bins = [(0.0, 0.0, 0.0); BINS];
        for &(mastery, holds) in &self.pairs {
            let bin = &mut bins[((mastery * BINS as f64) as usize).min(BINS - 1)];
            bin.0 += 1.0;
            bin.1 += mastery;
            bin.2 += f64::from(u8::from(holds));
        }
        bins.iter().map(|(_, said, held)| (said - held).abs()).sum::<f64>() / self.pairs.len().max(1) as f64
    }
}

/// Share of pairs (one who holds, one who does not) in which mastery is higher for the first; ties count half.
fn area_under_curve(pairs: &[(f64, bool)]) -> f64 {
    let mut sorted = pairs.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut below, mut area, mut at) = (0.0, 0.0, 0);
    while at < sorted.len() {
        let end = at + sorted[at..].iter().take_while(|p| p.0 == sorted[at].0).count();
        let held = sorted[at..end].iter().filter(|p| p.1).count() as f64;
        let not = (end - at) as f64 - held;
        area += held * (below + 0.5 * not);
        below += not;
        at = end;
    }
    let held = pairs.iter().filter(|p| p.1).count() as f64;
    if held == 0.0 || below == 0.0 { 0.5 } else { area / (held * below) }
}

/// Mean and 95 % interval of paired differences (normal approximation: classes are many).
pub(super) fn paired_interval(differences: &[f64]) -> (f64, f64, f64) {
    let n = differences.len().max(1) as f64;
    let mean = differences.iter().sum::<f64>() / n;
    let variance = differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    let half = 1.959_964 * (variance / n).sqrt();
    (mean, mean - half, mean + half)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_counts_pairs() {
        // Held: .9, .5; not held: .5, .1. Pairs: 1, 1, 1/2, 1 of 4.
        let pairs = [(0.9, true), (0.5, true), (0.5, false), (0.1, false)];
        assert!((area_under_curve(&pairs) - 3.5 / 4.0).abs() < 1e-12);
    }

    #[test]
    fn a_sure_and_right_estimate_has_no_error() {
        let mut tally = Tally::default();
        let holds = Array2::from_shape_vec((2, 2), vec![true, false, true, true]).unwrap();
        tally.add(&holds.mapv(|h| if h { 1.0 } else { 0.0 }), &holds);
        let got = tally.recovery();
        assert_eq!((got.skill_accuracy, got.profile_accuracy, got.calibration_error, got.brier), (1.0, 1.0, 0.0, 0.0));
    }
}
