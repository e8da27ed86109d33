//! Whether some children get less time or stay longer, and whether a lack is one of the class lesson.
//!
//! In:  the weeks of every child; the facts of the last week. Out: sums by homeroom and by each support or language that the school
//! entered; skills that over a third of a grade lack.
//! Keeps: counts under five are left out (`small_counts_are_left_out`); a third exactly is not over a third
//! (`over_a_third_of_a_grade_is_a_core_problem`). A difference is shown, never explained.
//! Source: five and a third are common practice, no source. Not here: single children (`report`).

use super::facts::WeekFacts;
use super::report::ChildWeeks;
use crate::skills::SkillCode;
use std::collections::BTreeMap;

/// Children under whom nothing is told of a part of the school.
pub const FEWEST_TOLD: usize = 5;

/// What a part of the school is told by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PartKind {
    /// Homeroom.
    Homeroom,
    /// A support or language.
    Support,
}

/// Sums of one part of the school.
#[derive(Debug, Clone, PartialEq)]
pub struct PartOfSchool {
    /// By what.
    pub kind: PartKind,
    /// Which.
    pub name: String,
    /// Children, and what is told of them; `None` under five.
    pub told: Option<PartSums>,
}

impl PartOfSchool {
    /// One sentence with counts.
    #[must_use]
    pub fn sentence(&self) -> String {
        let PartOfSchool { name, told, .. } = self;
        let Some(sums) = told else { return format!("{name}: under {FEWEST_TOLD} children, not shown.") };
        let minutes = sums.share_of_minutes.map_or("time not noted".to_owned(), |share| {
            format!("{:.0} % of the planned minutes given", 100.0 * share)
        });
        format!("{name}: {} children, {minutes}, {:.1} weeks on the last target (mean).", sums.n, sums.weeks_on_target)
    }
}

/// Sums of at least five children.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartSums {
    /// Children.
    pub n: usize,
    /// Share of the planned minutes that was received; `None` where none were noted.
    pub share_of_minutes: Option<f64>,
    /// Weeks with the last target in a row, the mean of the children.
    pub weeks_on_target: f64,
}

/// A skill that is one for the class lesson first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoreProblem {
    /// Grade.
    pub grade: String,
    /// Skill.
    pub skill: SkillCode,
    /// Children of the grade who lack it.
    pub n_lack: usize,
    /// Children of the grade in the week.
    pub n_grade: usize,
}

impl CoreProblem {
    /// One sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        format!(
            "{} of {} in grade {} lack {}: over a third, so teach it to the whole class before groups.",
            self.n_lack, self.n_grade, self.grade, self.skill
        )
    }
}

/// Sums by homeroom, then by support, in order of name.
pub(super) fn parts_of_school(students: &[ChildWeeks]) -> Vec<PartOfSchool> {
    let mut parts: BTreeMap<(PartKind, &str), Vec<&ChildWeeks>> = BTreeMap::new();
    for child in students {
        let homeroom = Some(child.student.homeroom.as_str()).filter(|h| !h.is_empty());
        let of_supports = child.student.supports.iter().map(|s| (PartKind::Support, s.as_str()));
        for part in homeroom.map(|h| (PartKind::Homeroom, h)).into_iter().chain(of_supports) {
            parts.entry(part).or_default().push(child);
        }
    }
    let part = |((kind, name), children): ((PartKind, &str), Vec<&ChildWeeks>)| PartOfSchool {
        kind,
        name: name.to_owned(),
        told: (children.len() >= FEWEST_TOLD).then(|| sums(&children)),
    };
    parts.into_iter().map(part).collect()
}

fn sums(children: &[&ChildWeeks]) -> PartSums {
    let minutes = |of: fn(&super::TimeReceived) -> u32| {
        children.iter().flat_map(|c| c.weeks.iter().flatten()).map(|w| f64::from(of(&w.time))).sum::<f64>()
    };
    let (planned, received) = (minutes(|t| t.minutes_planned), minutes(|t| t.minutes_received));
    let weeks: usize = children.iter().map(|c| c.judged.n_weeks).sum();
    PartSums {
        n: children.len(),
        share_of_minutes: (planned > 0.0).then(|| (received / planned).min(1.0)),
        weeks_on_target: weeks as f64 / children.len() as f64,
    }
}

/// Skills that over a third of a grade lack in this week, and at least five children.
pub(super) fn core_problems(week: &WeekFacts) -> Vec<CoreProblem> {
    let mut lacks: BTreeMap<(&str, &SkillCode), usize> = BTreeMap::new();
    let mut grades: BTreeMap<&str, usize> = BTreeMap::new();
    for child in week.children.iter().filter(|c| !c.student.grade.is_empty() && !c.states.is_empty()) {
        *grades.entry(&child.student.grade).or_default() += 1;
        for skill in &child.lacked {
            *lacks.entry((&child.student.grade, skill)).or_default() += 1;
        }
    }
    let problem = |((grade, skill), n_lack): ((&str, &SkillCode), usize)| {
        let n_grade = grades.get(grade).copied().unwrap_or(0);
        let is_core = 3 * n_lack > n_grade && n_lack >= FEWEST_TOLD;
        is_core.then(|| CoreProblem { grade: grade.to_owned(), skill: skill.clone(), n_lack, n_grade })
    };
    lacks.into_iter().filter_map(problem).collect()
}

#[cfg(test)]
mod tests {
    use super::super::facts::made_up::{child, week};
    use super::super::movement;
    use super::*;
    use crate::profile::ErrorCatalogue;
    use crate::skills::SkillGraph;

    #[test]
    fn small_counts_are_left_out() {
        let of = |id: &str, homeroom: &str, supports: &[&str]| {
            let mut made = child(id, Some("g1"), "4.NF.A.1", 1.0, 5.0);
            made.student.homeroom = homeroom.into();
            made.student.supports = supports.iter().map(|s| (*s).to_owned()).collect();
            made
        };
        let mut children: Vec<_> = (0..5).map(|n| of(&format!("a{n}"), "4A", &[])).collect();
        children.extend((0..4).map(|n| of(&format!("b{n}"), "4B", &["read aloud"])));
        let weeks = [week(0, children.clone()), week(1, children)];
        let parts = parts_of_school(
            &movement(&weeks, 0.8, &SkillGraph::builtin().unwrap(), &ErrorCatalogue::default()).students,
        );
        let told: Vec<(&str, bool)> = parts.iter().map(|p| (p.name.as_str(), p.told.is_some())).collect();
        assert_eq!(told, [("4A", true), ("4B", false), ("read aloud", false)]);
        assert_eq!(
            parts[0].sentence(),
            "4A: 5 children, 100 % of the planned minutes given, 2.0 weeks on the last target (mean)."
        );
        assert_eq!(parts[1].sentence(), "4B: under 5 children, not shown.");
        let sums = parts[0].told.unwrap();
        assert_eq!((sums.n, sums.share_of_minutes, sums.weeks_on_target), (5, Some(1.0), 2.0));
    }

    #[test]
    fn over_a_third_of_a_grade_is_a_core_problem() {
        let class = |n_lack: usize| {
            let mut children: Vec<_> = (0..15).map(|n| child(&format!("{n:02}"), None, "4.NF.A.1", 1.0, 5.0)).collect();
            children.iter_mut().skip(n_lack).for_each(|c| c.lacked.clear());
            core_problems(&week(0, children))
        };
        assert_eq!(class(5), [], "a third exactly");
        let six = class(6);
        assert_eq!((six.len(), six[0].n_lack, six[0].n_grade), (1, 6, 15));
        assert!(six[0].sentence().starts_with("6 of 15 in grade 4 lack 4.NF.A.1"));
    }
}
