//! Mastery by one who knows the true rates of every item and how skills are spread: the ceiling of every estimate.
//! The common part of the skills is summed out on a fine grid; every combination of skills is weighed.

use super::SimulationSettings;
use super::invent::{Classroom, level};
use ndarray::Array2;
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// Points of the grid on each side of the middle, and its step.
const GRID: i32 = 40;
const STEP: f64 = 0.15;

/// Probability of holding each skill, shape (n_students, n_skills).
pub(super) fn posterior_of_one_who_knows(settings: &SimulationSettings, class: &Classroom) -> Array2<f64> {
    let k = settings.n_skills;
    let prior = prior(settings);
    let sets: Vec<usize> =
        class.needed.iter().map(|skills| skills.iter().fold(0, |bits, &skill| bits | 1 << skill)).collect();
    let mut mastery = Array2::zeros((settings.n_students, k));
    for (s, right) in class.right.rows().into_iter().enumerate() {
        let weight = |(combination, prior): (usize, &f64)| {
            let likelihood: f64 = right
                .iter()
                .zip(&sets)
                .zip(&class.noise)
                .map(|((&is_right, &set), noise)| {
                    let p = if combination & set == set { 1.0 - noise.slip } else { noise.guess };
                    if is_right { p } else { 1.0 - p }
                })
                .product();
            prior * likelihood
        };
        let weights: Vec<f64> = prior.iter().enumerate().map(weight).collect();
        let sum: f64 = weights.iter().sum();
        for skill in 0..k {
            let held: f64 = weights.iter().enumerate().filter(|(c, _)| c & (1 << skill) != 0).map(|(_, w)| w).sum();
            mastery[(s, skill)] = held / sum;
        }
    }
    mastery
}

/// True probability of every combination.
fn prior(settings: &SimulationSettings) -> Vec<f64> {
    let normal = Normal::standard();
    let rest = (1.0 - settings.correlation).sqrt();
    let mut total = vec![0.0; 1 << settings.n_skills];
    for point in -GRID..=GRID {
        let common = f64::from(point) * STEP;
        let mut all = vec![normal.pdf(common) * STEP];
        for skill in 0..settings.n_skills {
            let held = 1.0 - normal.cdf((level(settings, skill) - settings.correlation.sqrt() * common) / rest);
            let with: Vec<f64> = all.iter().map(|p| p * held).collect();
            all.iter_mut().for_each(|p| *p *= 1.0 - held);
            all.extend(with);
        }
        total.iter_mut().zip(&all).for_each(|(t, p)| *t += p);
    }
    total
}
