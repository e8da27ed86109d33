//! How useful each skill would be as a target for each student.
//!
//! Out: [`Needs::gain`] (n_students, n_skills), 0 to 1: the probability that the student lacks the skill while holding what comes
//! before it. What comes before is every measured prerequisite, in full, and any measured skill of a lower grade, by
//! [`LOWER_GRADE_WEIGHT`]: of unmet skills that do not depend on each other, the lowest grade comes first.
//! A skill that was not measured for a student is no gain. Skills that core lessons teach this month break ties.
//! [`Needs::ideas`] (n_students, n_codes), 0 to 1: how strongly each wrong idea shows: its rate, weighed down where
//! chances or sightings are few.
//! [`Needs::first_target`]: the student's own earliest unmet prerequisite by the same order.
//! Keeps: `a_lacked_prerequisite_takes_the_gain_of_what_needs_it`, `the_lower_grade_comes_first`.
//! Source: target choice as commonly practised (no source): earliest unmet prerequisite, then the lowest grade.

use crate::profile::{Profiles, SkillMap};
use ndarray::Array2;

/// How much a lacked skill of a lower grade takes from a target that does not depend on it.
pub const LOWER_GRADE_WEIGHT: f64 = 0.7;
/// How much a skill of this month's core lessons is preferred where the rest is equal.
const CORE_PREFERENCE: f64 = 1e-3;
/// How far a lack is trusted that one item alone shows: it decides nothing (common practice, no source for the figure).
const ONE_ITEM_TRUST: f64 = 0.6;
/// Sightings at which a wrong idea counts in full: from three it is likely, below it may be a guess.
const FULL_SIGHTINGS: f64 = 3.0;
/// Chances that every rate is weighed down by, so that two of two says less than five of seven.
const DOUBTED_CHANCES: f64 = 3.0;

/// How far a lack is trusted that few items show.
fn trust(n_items: usize) -> f64 {
    if n_items < 2 { ONE_ITEM_TRUST } else { 1.0 }
}

/// What each student needs.
#[derive(Debug)]
pub struct Needs {
    /// Usefulness of each skill as a target, shape (n_students, n_skills).
    pub gain: Array2<f64>,
    /// Strength of each wrong idea, shape (n_students, n_codes).
    pub ideas: Array2<f64>,
    /// For each skill, the codes that belong to it.
    pub ideas_of_skill: Vec<Vec<usize>>,
    /// Lacked and measured, shape (n_students, n_skills).
    pub lacks: Array2<bool>,
}

impl Needs {
    /// Works out needs from profiles. `core` are the codes that class lessons teach this month.
    #[must_use]
    pub fn new(profiles: &Profiles, core: &[String]) -> Self {
        let (n, n_skills) = profiles.mastery.dim();
        let order = TargetOrder::new(&profiles.skills);
        let mut gain = Array2::zeros((n, n_skills));
        let mut lacks = Array2::from_elem((n, n_skills), false);
        let mut lack = vec![0.0; n_skills];
        for (student, reports) in profiles.reports.iter().enumerate() {
            lack.fill(0.0);
            for report in reports {
                lack[report.skill] = (1.0 - report.mastery) * trust(report.n_items);
                lacks[(student, report.skill)] = report.is_lacked();
            }
            for k in 0..n_skills {
                let is_core = core.iter().any(|c| c == profiles.skills.skills[k].code.as_str());
                let preference = if is_core { 1.0 + CORE_PREFERENCE } else { 1.0 };
                gain[(student, k)] = order.gain(k, &lack) * preference;
            }
        }
        Needs { gain, ideas: ideas(profiles), ideas_of_skill: ideas_of_skill(profiles), lacks }
    }

    /// The student's own earliest unmet skill, or `None` where nothing measured is lacked.
    #[must_use]
    pub fn first_target(&self, student: usize, skills: &SkillMap) -> Option<usize> {
        let lacked: Vec<usize> = (0..skills.n_skills()).filter(|&k| self.lacks[(student, k)]).collect();
        lacked
            .iter()
            .copied()
            .filter(|&k| !skills.prerequisites[k].iter().any(|p| lacked.contains(p)))
            .min_by_key(|&k| (skills.grades[k].unwrap_or(u8::MAX), k))
    }

    /// Whether the student lacks any measured skill.
    #[must_use]
    pub fn lacks_any(&self, student: usize) -> bool {
        self.lacks.row(student).iter().any(|&l| l)
    }

    /// How much the student lacks in all: the sum over measured skills of the probability of lacking it.
    #[must_use]
    pub fn behind(&self, student: usize) -> f64 {
        let n_lacked = self.lacks.row(student).iter().filter(|&&l| l).count() as f64;
        n_lacked + self.gain.row(student).sum() / (1.0 + self.gain.ncols() as f64)
    }
}

/// For each skill, what takes from its usefulness.
struct TargetOrder {
    before: Vec<Vec<usize>>,
    lower: Vec<Vec<usize>>,
}

impl TargetOrder {
    fn new(skills: &SkillMap) -> Self {
        let n = skills.n_skills();
        let lower = (0..n)
            .map(|k| {
                (0..n)
                    .filter(|&l| {
                        matches!((skills.grades[l], skills.grades[k]), (Some(a), Some(b)) if a < b)
                            && !skills.prerequisites[k].contains(&l)
                    })
                    .collect()
            })
            .collect();
        TargetOrder { before: skills.prerequisites.clone(), lower }
    }

    fn gain(&self, k: usize, lack: &[f64]) -> f64 {
        let ready: f64 = self.before[k].iter().map(|&p| 1.0 - lack[p]).product();
        let worst = self.lower[k].iter().map(|&l| lack[l]).fold(0.0, f64::max);
        lack[k] * ready * (1.0 - LOWER_GRADE_WEIGHT * worst)
    }
}

fn ideas(profiles: &Profiles) -> Array2<f64> {
    let mut ideas = Array2::zeros((profiles.mastery.nrows(), profiles.patterns.codes.len()));
    for (student, counts) in profiles.patterns.counts.iter().enumerate() {
        for count in counts.iter().filter(|c| c.seen > 0.0) {
            let rate = count.seen / (count.chances as f64 + DOUBTED_CHANCES);
            ideas[(student, count.code)] = rate * (count.seen / FULL_SIGHTINGS).min(1.0);
        }
    }
    ideas
}

/// A code belongs to a skill when an item that needs the skill offers it.
fn ideas_of_skill(profiles: &Profiles) -> Vec<Vec<usize>> {
    let mut of_skill = vec![Vec::new(); profiles.skills.n_skills()];
    for (code, items) in profiles.patterns.items_of.iter().enumerate() {
        for (k, codes) in of_skill.iter_mut().enumerate() {
            if items.iter().any(|&j| profiles.skills.of_item[j].contains(&k)) {
                codes.push(code);
            }
        }
    }
    of_skill
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order() -> TargetOrder {
        // 0: grade 4; 1: grade 5, needs 0; 2: grade 5, needs nothing measured.
        TargetOrder { before: vec![vec![], vec![0], vec![]], lower: vec![vec![], vec![], vec![0]] }
    }

    #[test]
    fn a_lacked_prerequisite_takes_the_gain_of_what_needs_it() {
        assert!(order().gain(1, &[0.95, 0.95, 0.0]) < 0.05);
        assert!(order().gain(0, &[0.95, 0.95, 0.0]) > 0.9);
    }

    #[test]
    fn the_lower_grade_comes_first() {
        let lack = [0.9, 0.0, 0.9];
        assert!(order().gain(0, &lack) > order().gain(2, &lack));
        assert!((order().gain(2, &[0.0, 0.0, 0.9]) - 0.9).abs() < 1e-12);
    }
}
