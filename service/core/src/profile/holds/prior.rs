//! How skills are held in a class before any answer is looked at: one common factor, one level a skill.
//!
//! Given the factor (standard normal, seven nodes) skills are held independently, with log-odds `level + factor × node`.
//! Fitted by Newton steps on expected counts, with weak priors that keep every number off its ends.
//! Keeps: `the_nodes_are_a_standard_normal`, `the_fit_finds_the_levels_that_made_the_counts`.
//! Source of the nodes: seven-point Gauss-Hermite rule, from memory, held by its moments. A prior of so few parameters is
//! steadier in one class than free class weights: Nájera, Abad, Chiu & Sorrel 2023 advise few parameters under 100 students.

/// Prior weight of a skill's level at one half, in students.
const PRIOR_LEVEL: f64 = 3.0;
/// Prior strength of the common factor (log-odds for one standard deviation) and its weight.
const PRIOR_FACTOR: (f64, f64) = (1.8, 12.0);
/// Newton steps in one fit; the counts change from round to round, so few are enough.
const STEPS: usize = 2;

/// Nodes and weights (weights sum to 1).
pub(super) const NODES: [(f64, f64); 7] = [
    (-3.750_439_717_725_742, 0.000_548_268_855_972_218),
    (-2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (-1.154_405_394_739_968, 0.240_123_178_605_013),
    (0.0, 0.457_142_857_142_857),
    (1.154_405_394_739_968, 0.240_123_178_605_013),
    (2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (3.750_439_717_725_742, 0.000_548_268_855_972_218),
];

/// Levels of the skills and the strength of what they have in common.
#[derive(Debug, Clone, PartialEq)]
pub struct SkillPrior {
    /// Level of each skill: the log-odds of holding it at the middle of the factor.
    pub levels: Vec<f64>,
    /// Log-odds that one standard deviation of the common factor adds to every skill, 0 to 4.
    pub factor: f64,
}

/// Expected numbers of students: at each node, and at each node holding each skill.
#[derive(Debug, Clone)]
pub(super) struct NodeCounts {
    /// Students for whom the skill was measured, by node and skill, `n_skills` numbers a node.
    pub students: Vec<f64>,
    /// Of those, who hold it.
    pub holding: Vec<f64>,
}

impl NodeCounts {
    pub(super) fn new(n_skills: usize) -> Self {
        NodeCounts { students: vec![0.0; n_skills * NODES.len()], holding: vec![0.0; n_skills * NODES.len()] }
    }
}

impl SkillPrior {
    pub(super) fn start(n_skills: usize) -> Self {
        SkillPrior { levels: vec![0.4; n_skills], factor: PRIOR_FACTOR.0 }
    }

    /// Number of skills.
    #[must_use]
    pub fn n_skills(&self) -> usize {
        self.levels.len()
    }

    /// Share of students who hold a skill.
    #[must_use]
    pub fn base_rate(&self, skill: usize) -> f64 {
        NODES.iter().map(|(x, w)| w * logistic(self.levels[skill] + self.factor * x)).sum()
    }

    /// Probability of holding each skill at each node, `n_skills` numbers a node.
    pub(super) fn at_nodes(&self) -> Vec<f64> {
        NODES.iter().flat_map(|(x, _)| self.levels.iter().map(move |a| logistic(a + self.factor * x))).collect()
    }

    /// The prior that the counts speak for, a few Newton steps from this one.
    pub(super) fn refitted(&self, counts: &NodeCounts) -> SkillPrior {
        let mut next = self.clone();
        for _ in 0..STEPS {
            next.step_levels(counts);
            next.step_factor(counts);
        }
        next
    }

    fn step_levels(&mut self, counts: &NodeCounts) {
        let n_skills = self.levels.len();
        for k in 0..n_skills {
            let mut slope = PRIOR_LEVEL * (0.5 - logistic(self.levels[k]));
            let mut curve = PRIOR_LEVEL * 0.25;
            for (q, (x, _)) in NODES.iter().enumerate() {
                let at = q * n_skills + k;
                let p = logistic(self.levels[k] + self.factor * x);
                slope += counts.holding[at] - counts.students[at] * p;
                curve += counts.students[at] * p * (1.0 - p);
            }
            self.levels[k] = (self.levels[k] + (slope / curve).clamp(-1.0, 1.0)).clamp(-6.0, 6.0);
        }
    }

    fn step_factor(&mut self, counts: &NodeCounts) {
        let n_skills = self.levels.len();
        let mut slope = PRIOR_FACTOR.1 * (PRIOR_FACTOR.0 - self.factor);
        let mut curve = PRIOR_FACTOR.1;
        for (q, (x, _)) in NODES.iter().enumerate() {
            for (k, level) in self.levels.iter().enumerate() {
                let at = q * n_skills + k;
                let p = logistic(level + self.factor * x);
                slope += x * (counts.holding[at] - counts.students[at] * p);
                curve += x * x * counts.students[at] * p * (1.0 - p);
            }
        }
        self.factor = (self.factor + (slope / curve).clamp(-1.0, 1.0)).clamp(0.0, 4.0);
    }

    /// How far two priors are apart, for the end of fitting.
    pub(super) fn distance(&self, other: &SkillPrior) -> f64 {
        let levels: f64 = self.levels.iter().zip(&other.levels).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        levels.max((self.factor - other.factor).abs())
    }
}

pub(super) fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nodes_are_a_standard_normal() {
        let sum = |power: i32| NODES.iter().map(|(x, w)| w * x.powi(power)).sum::<f64>();
        assert!((sum(0) - 1.0).abs() < 1e-12 && (sum(2) - 1.0).abs() < 1e-9 && (sum(4) - 3.0).abs() < 1e-9);
    }

    #[test]
    fn the_fit_finds_the_levels_that_made_the_counts() {
        let truth = SkillPrior { levels: vec![1.2, -0.7, 0.1], factor: 2.0 };
        let mut counts = NodeCounts::new(3);
        for (at, p) in truth.at_nodes().into_iter().enumerate() {
            counts.students[at] = 1e6 * NODES[at / 3].1;
            counts.holding[at] = counts.students[at] * p;
        }
        let mut fit = SkillPrior::start(3);
        for _ in 0..30 {
            fit = fit.refitted(&counts);
        }
        assert!(fit.distance(&truth) < 1e-3, "{fit:?}");
    }
}
