//! What a person decided against the suggested seats: a child sits elsewhere, a group is taught another skill.
//!
//! In:  a [`Seating`] and the decisions in their order. Out: the seating changed, each decision with its reason beside it, and what
//! staff should know: a group over its size, a pair that is to be apart, a decision that no longer fits.
//! Keeps: 1. a decision holds whatever the limits say, and the limit it breaks is named (`a_full_group_takes_one_more_and_says_so`)
//!        2. nobody else moves, and no target but the one that was set changes (`nobody_else_moves`)
//!        3. everyone sits in one group at most; a group that loses its last child goes
//!        4. what names nobody, no group or no measured skill of this week changes nothing and is told (`what_no_longer_fits_is_told`).
//! Not here: who may decide (`sheaf-web`), keeping it (`sheaf-store`).

use super::seating::Seating;
use crate::finding::Finding;
use crate::profile::Profiles;
use crate::roster::{School, StudentId};
use crate::scores::ResponseTable;
use crate::skills::SkillCode;
use crate::tickets::Swap;

/// One decision of a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Overrule {
    /// What is to be.
    pub what: Decided,
    /// Why, in the person's words.
    pub reason: String,
}

/// What a person decided.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decided {
    /// A child sits in the group of this number.
    Seat {
        /// Who.
        student: StudentId,
        /// Number of the group.
        to: usize,
    },
    /// The group of this number is taught this skill.
    Target {
        /// Number of the group.
        group: usize,
        /// Measured this week.
        skill: SkillCode,
    },
    /// Another item takes the place of one on a ticket; the seats stay.
    Item {
        /// Number of the group.
        group: usize,
        /// Form of its ticket, e.g. `A`.
        form: String,
        /// 1-based place on it.
        number: usize,
        /// What is to come.
        swap: Swap,
    },
}

/// What a decision changed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Overruled {
    /// Child, number of the group suggested (`None`: no seat), reason.
    pub seats: Vec<(usize, Option<usize>, String)>,
    /// Number of the group, skill suggested, reason.
    pub targets: Vec<(usize, usize, String)>,
}

/// Changes a seating as a person decided.
pub(crate) fn overrule(
    seating: &mut Seating,
    decisions: &[Overrule],
    (table, profiles, school): (&ResponseTable, &Profiles, &School),
) {
    let mut findings = Vec::new();
    for decision in decisions {
        let is_done = match &decision.what {
            Decided::Seat { student, to } => {
                table.student_index(student).is_some_and(|s| seat(seating, s, *to, &decision.reason))
            }
            // Done where tickets are made.
            Decided::Item { .. } => true,
            Decided::Target { group, skill } => {
                let known = profiles.skills.skills.iter().position(|k| k.code == *skill);
                known.is_some_and(|k| target(seating, *group, k, &decision.reason))
            }
        };
        if !is_done {
            findings.push(no_longer_fits(&decision.what));
        }
    }
    let broken = broken_limits(seating, table, school);
    seating.findings.extend(findings);
    seating.findings.extend(broken);
}

/// Whether there is such a group.
fn seat(seating: &mut Seating, student: usize, to: usize, reason: &str) -> bool {
    let Some(at) = seating.numbers.iter().position(|n| *n == to) else { return false };
    let from = seating.groups.iter().position(|g| g.members.contains(&student));
    if from == Some(at) {
        return true;
    }
    let number = from.and_then(|g| seating.numbers.get(g).copied());
    let earlier = seating.overruled.seats.iter().position(|(s, ..)| *s == student);
    let suggested = earlier.map_or(number, |e| seating.overruled.seats.remove(e).1);
    if let Some(from) = from {
        seating.groups[from].members.retain(|s| *s != student);
    }
    let members = &mut seating.groups[at].members;
    members.push(student);
    members.sort_unstable();
    if suggested != Some(to) {
        seating.overruled.seats.push((student, suggested, reason.to_owned()));
    }
    if let Some(from) = from.filter(|g| seating.groups[*g].members.is_empty()) {
        seating.groups.remove(from);
        seating.numbers.remove(from);
    }
    true
}

fn target(seating: &mut Seating, number: usize, skill: usize, reason: &str) -> bool {
    let Some(at) = seating.numbers.iter().position(|n| *n == number) else { return false };
    let earlier = seating.overruled.targets.iter().position(|(n, ..)| *n == number);
    let suggested = earlier.map_or(seating.groups[at].target, |e| seating.overruled.targets.remove(e).1);
    seating.groups[at].target = skill;
    if suggested != skill {
        seating.overruled.targets.push((number, suggested, reason.to_owned()));
    }
    true
}

fn no_longer_fits(what: &Decided) -> Finding {
    let message = match what {
        Decided::Seat { student, to } => {
            format!("{student} was to sit in Group {to}; the child or the group is not in this week's plan.")
        }
        Decided::Target { group, skill } => {
            format!("Group {group} was to be taught {skill}; the group or the skill is not in this week's plan.")
        }
        Decided::Item { group, form, number, .. } => {
            format!(
                "Item {number} of form {form} of Group {group} was to be swapped; the ticket is not in this week's plan."
            )
        }
    };
    Finding::warning("decision-without-effect", message, "the suggestion stands; decide again on the groups page")
}

/// Sizes and pairs that decisions broke; what the search itself gives breaks none.
fn broken_limits(seating: &Seating, table: &ResponseTable, school: &School) -> Vec<Finding> {
    let mut findings = Vec::new();
    let apart = &school.groups.keep_apart;
    for (group, number) in seating.groups.iter().zip(&seating.numbers) {
        let (n, pool) = (group.members.len(), &seating.pools[group.pool]);
        if !seating.overruled.touches(group.members.as_slice(), *number) {
            continue;
        }
        if n > pool.max_size || n < pool.min_size {
            let message =
                format!("Group {number} has {n} children, where {} to {} are asked for.", pool.min_size, pool.max_size);
            findings.push(Finding::warning("size-overruled", message, "a person decided so"));
        }
        let sits = |id: &StudentId| table.student_index(id).is_some_and(|s| group.members.contains(&s));
        for (a, b) in apart.iter().filter(|(a, b)| a != b && sits(a) && sits(b)) {
            let message = format!("{a} and {b} are to be apart and share Group {number}.");
            findings.push(Finding::warning("apart-overruled", message, "a person decided so"));
        }
    }
    findings
}

impl Overruled {
    /// Whether a decision put somebody into the group or took somebody out of it.
    fn touches(&self, members: &[usize], number: usize) -> bool {
        self.seats.iter().any(|(s, from, _)| members.contains(s) || *from == Some(number))
    }

    /// Why a child sits where a person put them: the group suggested and the reason.
    pub(super) fn of_student(&self, student: usize) -> Option<(Option<usize>, &str)> {
        self.seats.iter().find(|(s, ..)| *s == student).map(|(_, from, reason)| (*from, reason.as_str()))
    }

    /// The target suggested and the reason for another.
    pub(super) fn of_group(&self, number: usize) -> Option<(usize, &str)> {
        self.targets.iter().find(|(n, ..)| *n == number).map(|(_, skill, reason)| (*skill, reason.as_str()))
    }
}
