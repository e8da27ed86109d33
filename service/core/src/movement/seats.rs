//! Who sits in which group in a week, and what changed from one week to the next.
//!
//! In: group ids with the ids of their members. Out: [`SeatChanges`] (counts), [`Flow`]s (the table of moves) and the
//! agreement of two weeks. A student without a seat in a week is not in its [`Seats`].
//! Rules it keeps: see the folder's header. Not here: names kept from week to week (`continuity`).

use super::agreement::adjusted_rand;
use crate::roster::StudentId;
use std::collections::{BTreeMap, BTreeSet};

/// Which student sits in which group in one week.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seats {
    by_student: BTreeMap<StudentId, String>,
}

impl Seats {
    /// From group ids and members; a student named twice keeps the first seat.
    #[must_use]
    pub fn new<'a>(groups: impl IntoIterator<Item = (&'a str, &'a [StudentId])>) -> Self {
        let mut by_student = BTreeMap::new();
        for (group, members) in groups {
            for id in members {
                by_student.entry(id.clone()).or_insert_with(|| group.to_owned());
            }
        }
        Seats { by_student }
    }

    /// The student's group in this week.
    #[must_use]
    pub fn group_of(&self, student: &StudentId) -> Option<&str> {
        self.by_student.get(student).map(String::as_str)
    }

    /// Students with a seat.
    #[must_use]
    pub fn n_students(&self) -> usize {
        self.by_student.len()
    }
}

/// How many seats changed between two weeks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SeatChanges {
    /// Seated in both weeks, in the same group.
    pub n_stayed: usize,
    /// Seated in both weeks, in different groups.
    pub n_moved: usize,
    /// Seated in the later week only.
    pub n_joined: usize,
    /// Seated in the earlier week only.
    pub n_left: usize,
}

impl SeatChanges {
    /// Share of those seated in both weeks who moved, 0 to 1; `None` where nobody was.
    #[must_use]
    pub fn share_moved(&self) -> Option<f64> {
        let n_both = self.n_stayed + self.n_moved;
        (n_both > 0).then(|| self.n_moved as f64 / n_both as f64)
    }
}

/// Students who went the same way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flow {
    /// Group in the earlier week; `None`: had no seat.
    pub from: Option<String>,
    /// Group in the later week; `None`: has no seat.
    pub to: Option<String>,
    /// How many.
    pub n_students: usize,
}

/// What a way is to those who go it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WayKind {
    /// In the same group both weeks.
    Stayed,
    /// In another group.
    Changed,
    /// No seat before or after.
    ComesOrGoes,
}

impl Flow {
    /// What the way is.
    #[must_use]
    pub fn kind(&self) -> WayKind {
        match (&self.from, &self.to) {
            (Some(from), Some(to)) if from == to => WayKind::Stayed,
            (Some(_), Some(_)) => WayKind::Changed,
            _ => WayKind::ComesOrGoes,
        }
    }
}

/// Group in the earlier and in the later week of one child; `None`: no seat.
pub(super) type Way<'a> = (Option<&'a str>, Option<&'a str>);

/// Where everyone of either week was and is.
fn ways<'a>(before: &'a Seats, now: &'a Seats) -> Vec<Way<'a>> {
    let students: BTreeSet<&StudentId> = before.by_student.keys().chain(now.by_student.keys()).collect();
    students.into_iter().map(|id| (before.group_of(id), now.group_of(id))).collect()
}

/// Counts who stayed, moved, joined and left. Groups are told apart by id.
#[must_use]
pub fn seat_changes(before: &Seats, now: &Seats) -> SeatChanges {
    let mut changes = SeatChanges::default();
    for way in ways(before, now) {
        match way {
            (Some(from), Some(to)) if from == to => changes.n_stayed += 1,
            (Some(_), Some(_)) => changes.n_moved += 1,
            (None, _) => changes.n_joined += 1,
            (Some(_), None) => changes.n_left += 1,
        }
    }
    changes
}

/// The table of moves, in order of the earlier, then the later group; nobody's seat comes first.
#[must_use]
pub fn flows(before: &Seats, now: &Seats) -> Vec<Flow> {
    flows_of(&ways(before, now))
}

/// The same of children whose ways are known.
pub(super) fn flows_of(ways: &[Way<'_>]) -> Vec<Flow> {
    let mut counts: BTreeMap<Way<'_>, usize> = BTreeMap::new();
    for way in ways {
        *counts.entry(*way).or_default() += 1;
    }
    let flow = |((from, to), n_students): (Way<'_>, usize)| Flow {
        from: from.map(str::to_owned),
        to: to.map(str::to_owned),
        n_students,
    };
    counts.into_iter().map(flow).collect()
}

/// The adjusted Rand index of two weeks over the students seated in both; `None` where there are fewer than two.
#[must_use]
pub fn agreement_between(before: &Seats, now: &Seats) -> Option<f64> {
    agreement_of(&ways(before, now))
}

/// The same of children whose ways are known.
pub(super) fn agreement_of(ways: &[Way<'_>]) -> Option<f64> {
    let both: Vec<(&str, &str)> = ways.iter().filter_map(|(from, to)| from.zip(*to)).collect();
    (both.len() >= 2).then(|| adjusted_rand(&both))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn seats(groups: &[(&str, &str)]) -> Seats {
        let ids = |names: &str| names.split_whitespace().map(|n| StudentId::parse(n).unwrap()).collect::<Vec<_>>();
        let groups: Vec<(&str, Vec<StudentId>)> = groups.iter().map(|(group, names)| (*group, ids(names))).collect();
        Seats::new(groups.iter().map(|(group, members)| (*group, members.as_slice())))
    }

    #[test]
    fn joining_and_leaving_is_not_moving() {
        let before = seats(&[("g1", "a b c"), ("g2", "d e")]);
        let now = seats(&[("g1", "a b d"), ("g2", "c f")]);
        let changes = seat_changes(&before, &now);
        assert_eq!(changes, SeatChanges { n_stayed: 2, n_moved: 2, n_joined: 1, n_left: 1 });
        assert_eq!(changes.share_moved(), Some(0.5));
        assert_eq!(SeatChanges { n_joined: 3, ..SeatChanges::default() }.share_moved(), None);
    }

    #[test]
    fn moves_are_counted_by_way() {
        let flow = |from: Option<&str>, to: Option<&str>, n_students| Flow {
            from: from.map(str::to_owned),
            to: to.map(str::to_owned),
            n_students,
        };
        let before = seats(&[("g1", "a b c"), ("g2", "d e")]);
        let now = seats(&[("g1", "a"), ("g2", "b c e f")]);
        let wanted = [
            flow(None, Some("g2"), 1),
            flow(Some("g1"), Some("g1"), 1),
            flow(Some("g1"), Some("g2"), 2),
            flow(Some("g2"), None, 1),
            flow(Some("g2"), Some("g2"), 1),
        ];
        assert_eq!(flows(&before, &now), wanted);
    }

    #[test]
    fn a_student_named_twice_keeps_the_first_seat() {
        let twice = seats(&[("g1", "a b"), ("g2", "a c")]);
        assert_eq!(twice.n_students(), 3);
        assert_eq!(twice.group_of(&StudentId::parse("a").unwrap()), Some("g1"));
    }

    #[test]
    fn agreement_is_over_those_seated_in_both_weeks() {
        let before = seats(&[("g1", "a b"), ("g2", "c"), ("g3", "d x")]);
        let now = seats(&[("h1", "a b"), ("h2", "c d y")]);
        let agreement = agreement_between(&before, &now).unwrap();
        assert!((agreement - 4.0 / 7.0).abs() < 1e-12, "{agreement}");
        assert_eq!(agreement_between(&seats(&[("g1", "a")]), &now), None);
    }

    fn any_seats() -> impl Strategy<Value = Seats> {
        proptest::collection::vec(0usize..4, 12).prop_map(|labels| {
            let of = |g: usize| {
                let here = labels.iter().enumerate().filter(|(_, label)| **label == g);
                here.map(|(n, _)| StudentId::parse(&n.to_string()).unwrap()).collect::<Vec<_>>()
            };
            // Label 0 is no seat.
            let groups: Vec<(String, Vec<StudentId>)> = (1..4).map(|g| (format!("g{g}"), of(g))).collect();
            Seats::new(groups.iter().map(|(id, members)| (id.as_str(), members.as_slice())))
        })
    }

    proptest! {
        #[test]
        fn every_student_is_in_one_flow(before in any_seats(), now in any_seats()) {
            let flows = flows(&before, &now);
            let changes = seat_changes(&before, &now);
            let n_either = changes.n_stayed + changes.n_moved + changes.n_joined + changes.n_left;
            prop_assert_eq!(flows.iter().map(|f| f.n_students).sum::<usize>(), n_either);
            let seated = |f: &&Flow| f.to.is_some();
            prop_assert_eq!(flows.iter().filter(seated).map(|f| f.n_students).sum::<usize>(), now.n_students());
            prop_assert!(flows.iter().all(|f| f.n_students > 0 && (f.from.is_some() || f.to.is_some())));
        }
    }
}
