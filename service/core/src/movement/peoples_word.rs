//! What people decided against the suggestion: seats that were given, for a week or until further notice, and targets that were set.
//!
//! In:  the decisions of each child's week. Out: a sentence for each, and a list over all weeks, in which a target stands once for its
//! group. Keeps: the reason stays in the person's words (`what_people_decided_is_a_sentence`); a target is told once for its group
//! (`a_target_is_told_once_for_its_group`). Not here: what a decision does to a plan (`grouping`).

use super::report::Movement;
use crate::roster::Student;
use jiff::civil::Date;

/// A seat that a person gave against the suggestion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenSeat {
    /// Why, in the person's words; may be empty.
    pub reason: String,
    /// For how long.
    pub stay: Stay,
}

/// For how long a given seat holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stay {
    /// For this week.
    ThisWeek,
    /// Until somebody says otherwise.
    Held,
}

/// What people decided for a child's week.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PeoplesWord {
    /// The seat, where a person gave it.
    pub seat: Option<GivenSeat>,
    /// Why the group is taught another skill than was suggested, where a person said so; may be empty.
    pub target: Option<String>,
}

/// One decision of people.
#[derive(Debug, Clone, PartialEq)]
pub struct Decided<'a> {
    /// The week.
    pub week: Date,
    /// The group that the seat is in, or that the target is of.
    pub group: &'a str,
    /// Whose seat; `None`: the whole group's target.
    pub child: Option<&'a Student>,
    /// One sentence with the reason.
    pub words: String,
}

impl GivenSeat {
    fn sentence(&self) -> String {
        let stay = if self.stay == Stay::Held { ", held for the weeks to come" } else { "" };
        format!("Seat given by a person{stay}{}.", in_quotes(&self.reason))
    }
}

fn in_quotes(reason: &str) -> String {
    if reason.is_empty() { String::new() } else { format!(" (\u{201c}{reason}\u{201d})") }
}

impl Movement {
    /// What people decided, week by week; a target first, then seats in order of child.
    #[must_use]
    pub fn decided(&self) -> Vec<Decided<'_>> {
        let mut all = Vec::new();
        for (at, week) in self.weeks.iter().enumerate() {
            let (mut targets, mut seats): (Vec<Decided<'_>>, Vec<Decided<'_>>) = Default::default();
            for child in &self.students {
                let Some(known) = child.weeks.get(at).and_then(Option::as_ref) else { continue };
                let Some(group) = known.group.as_deref() else { continue };
                let said = |child, words| Decided { week: *week, group, child, words };
                if let Some(reason) = &known.decided.target
                    && !targets.iter().any(|t| t.group == group)
                {
                    targets.push(said(None, format!("Target set by a person{}.", in_quotes(reason))));
                }
                seats.extend(known.decided.seat.as_ref().map(|s| said(Some(&child.student), s.sentence())));
            }
            all.extend(targets.into_iter().chain(seats));
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::super::facts::made_up::{child, week};
    use super::super::movement;
    use super::*;
    use crate::profile::ErrorCatalogue;
    use crate::skills::SkillGraph;

    fn seat(stay: Stay, reason: &str) -> GivenSeat {
        GivenSeat { reason: reason.to_owned(), stay }
    }

    #[test]
    fn what_people_decided_is_a_sentence() {
        assert_eq!(seat(Stay::ThisWeek, "").sentence(), "Seat given by a person.");
        assert_eq!(
            seat(Stay::Held, "works well there").sentence(),
            "Seat given by a person, held for the weeks to come (\u{201c}works well there\u{201d})."
        );
    }

    #[test]
    fn a_target_is_told_once_for_its_group() {
        let with = |id: &str, seat: Option<GivenSeat>| {
            let mut made = child(id, Some("g1"), "4.NF.A.1", 1.0, 5.0);
            made.decided = PeoplesWord { seat, target: Some("test on Friday".to_owned()) };
            made
        };
        let weeks = [
            week(0, vec![child("1", Some("g1"), "4.NF.A.1", 1.0, 5.0)]),
            week(1, vec![with("1", None), with("2", Some(seat(Stay::ThisWeek, "twin")))]),
        ];
        let m = movement(&weeks, 0.8, &SkillGraph::builtin().unwrap(), &ErrorCatalogue::default());
        let told: Vec<(Option<&str>, String)> =
            m.decided().into_iter().map(|d| (d.child.map(|c| c.id.as_str()), d.words)).collect();
        let target = "Target set by a person (\u{201c}test on Friday\u{201d}).".to_owned();
        assert_eq!(told, [(None, target), (Some("2"), "Seat given by a person (\u{201c}twin\u{201d}).".to_owned())]);
        assert_eq!(m.decided()[1].week, weeks[1].week);
    }
}
