//! What stands together against the sessions asked for, and which one limit, a step looser, would give more.
//!
//! In:  the [`Week`] and its [`Chosen`] sessions, where some group got less than it asks for. Out: sentences.
//! The limits named are a smallest set in conflict: with any one of them gone, the others leave room for every session asked for
//! (`each_limit_in_the_conflict_is_needed`). Found by leaving out one limit after the other and keeping those that matter.
//! A looser limit is promised what planning again with it gives (`a_looser_limit_is_promised_what_planning_again_gives`).
//! Says nothing where that is not known within the steps allowed. Not here: one more adult (`notes`).
//! Source of the method: J. W. Chinneck and E. W. Dravnieks, ORSA Journal on Computing 3 (1991) 157-168, deletion filter
//! (from memory).

use super::model::Model;
use super::notes::gain;
use super::program::{Answer, Limit};
use super::stages::{self, Chosen, MOST_SWITCHES};
use super::week::Week;
use crate::roster::{School, StaffMember};

/// Relaxations allowed for one look.
const N_STEPS: usize = 60;
/// Rooms, smallest first, in which one more seat is tried.
const ROOMS_TRIED: usize = 4;

/// One kind of limit. In the order in which it is left out: what a school can change most easily goes first, and so is named last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Walk,
    InARow,
    Pullouts,
    Departures,
    Rooms,
    Busy,
    Adults,
}

const KINDS: [Kind; 7] =
    [Kind::Walk, Kind::InARow, Kind::Pullouts, Kind::Departures, Kind::Rooms, Kind::Busy, Kind::Adults];

impl Kind {
    fn is_given(self, school: &School) -> bool {
        match self {
            Kind::Walk => school.limits.walk_minutes.is_some(),
            Kind::InARow => school.limits.max_in_a_row.is_some(),
            Kind::Pullouts => school.limits.max_pullouts.is_some(),
            Kind::Departures => school.limits.max_departures.is_some(),
            Kind::Rooms => !school.rooms.is_empty(),
            Kind::Busy => !school.busy.is_empty(),
            Kind::Adults => true,
        }
    }

    /// The setup as if there were no such limit.
    fn leave_out(self, school: &mut School, n_groups: usize) {
        match self {
            Kind::Walk => school.limits.walk_minutes = None,
            Kind::InARow => school.limits.max_in_a_row = None,
            Kind::Pullouts => school.limits.max_pullouts = None,
            Kind::Departures => school.limits.max_departures = None,
            Kind::Rooms => school.rooms.clear(),
            Kind::Busy => school.busy.clear(),
            Kind::Adults => {
                // An adult for every group has time to walk and to rest.
                (school.limits.walk_minutes, school.limits.max_in_a_row) = (None, None);
                let blocks: Vec<String> = school.blocks.iter().map(|b| b.id.clone()).collect();
                let adult = |n| StaffMember { name: format!("spare {n}"), blocks: blocks.clone(), leads: true };
                school.staff = (0..n_groups).map(adult).collect();
            }
        }
    }

    fn words(self, school: &School) -> String {
        let of = |key: &str, value: Option<usize>| format!("{key} = {}", value.unwrap_or_default());
        match self {
            Kind::Walk => of("walk_minutes", school.limits.walk_minutes.map(usize::from)),
            Kind::InARow => of("max_in_a_row", school.limits.max_in_a_row),
            Kind::Pullouts => of("max_pullouts", school.limits.max_pullouts),
            Kind::Departures => of("max_departures", school.limits.max_departures),
            Kind::Rooms => "the rooms and their seats".to_owned(),
            Kind::Busy => "the busy times".to_owned(),
            Kind::Adults => "the number of adults who lead".to_owned(),
        }
    }
}

/// Sentences on a week in which some group got less than it asks for.
pub(super) fn about(week: &Week<'_>, chosen: &Chosen) -> Vec<String> {
    let Some(kinds) = smallest_conflict(week) else { return Vec::new() };
    let named: Vec<String> = kinds.iter().rev().map(|k| k.words(week.school)).collect();
    let mut notes = vec![match named.as_slice() {
        [] => "There are too few blocks at different times for the sessions asked for.".to_owned(),
        [one] => format!("What stands against the sessions asked for: {one}."),
        _ => format!(
            "What stands together against the sessions asked for: {}; without any one of them they fit.",
            named.join(", ")
        ),
    }];
    notes.extend(looser(week, chosen, &kinds));
    notes
}

/// `None` where everything asked for fits, or nobody knows.
fn smallest_conflict(week: &Week<'_>) -> Option<Vec<Kind>> {
    let mut kept: Vec<Kind> = KINDS.into_iter().filter(|k| k.is_given(week.school)).collect();
    if gives_all(week, &kept)? {
        return None;
    }
    for kind in kept.clone() {
        let without: Vec<Kind> = kept.iter().copied().filter(|k| *k != kind).collect();
        if !gives_all(week, &without)? {
            kept = without;
        }
    }
    Some(kept)
}

/// Whether every group can get all it asks for under these kinds of limits alone; `None` where that is not known.
fn gives_all(week: &Week<'_>, kinds: &[Kind]) -> Option<bool> {
    let mut school = week.school.clone();
    for kind in KINDS.into_iter().filter(|k| !kinds.contains(k)) {
        kind.leave_out(&mut school, week.groups.len());
    }
    let week = Week::new(&school, week.groups);
    if week.candidates().len() > MOST_SWITCHES {
        return None;
    }
    let mut program = Model::new(&week, None);
    if program.program.n_switches() > MOST_SWITCHES {
        return None;
    }
    for (group, asked) in week.groups.iter().enumerate().filter_map(|(g, group)| Some((g, group.sessions_wanted?))) {
        let row = program.terms(|m| m.group == group);
        if row.len() < asked {
            return Some(false);
        }
        program.program.add_row(row, Limit::AtLeast(asked as i64));
    }
    match program.program.highest(&vec![0; program.program.n_switches()], None, N_STEPS) {
        Answer::Found { .. } => Some(true),
        Answer::Impossible => Some(false),
        Answer::Unknown => None,
    }
}

/// Each limit of the conflict a step looser, where that gives more.
fn looser(week: &Week<'_>, chosen: &Chosen, kinds: &[Kind]) -> Vec<String> {
    let counted = stages::counted(week);
    let gain_of = |school: &School| {
        let better = stages::choose_with_spare(&Week::new(school, week.groups), None, &counted)?;
        gain(chosen, &better)
    };
    let sentence =
        |(school, words): (School, String)| gain_of(&school).map(|gain| format!("{words} would raise {gain}."));
    let step = |kind: &Kind| {
        let mut steps = steps(week.school, *kind).into_iter();
        steps.find_map(sentence)
    };
    kinds.iter().rev().filter_map(step).collect()
}

fn steps(school: &School, kind: Kind) -> Vec<(School, String)> {
    let with = |change: &dyn Fn(&mut School)| {
        let mut school = school.clone();
        change(&mut school);
        school
    };
    let up = |value: Option<usize>| value.map(|n| n + 1);
    let limits = &school.limits;
    match kind {
        Kind::Walk => vec![(with(&|s| s.limits.walk_minutes = None), "Without walk_minutes the week".to_owned())],
        Kind::InARow => vec![(
            with(&|s| s.limits.max_in_a_row = up(limits.max_in_a_row)),
            one_more("max_in_a_row", limits.max_in_a_row),
        )],
        Kind::Pullouts => vec![(
            with(&|s| s.limits.max_pullouts = up(limits.max_pullouts)),
            one_more("max_pullouts", limits.max_pullouts),
        )],
        Kind::Departures => {
            vec![(
                with(&|s| s.limits.max_departures = up(limits.max_departures)),
                one_more("max_departures", limits.max_departures),
            )]
        }
        Kind::Rooms => {
            let mut rooms: Vec<usize> = (0..school.rooms.len()).collect();
            rooms.sort_by_key(|&r| school.rooms[r].seats);
            let seat = |r: usize| {
                let words = format!("One more seat in {}", school.rooms[r].name);
                (with(&|s| s.rooms[r].seats += 1), words)
            };
            rooms.into_iter().take(ROOMS_TRIED).map(seat).collect()
        }
        Kind::Busy | Kind::Adults => Vec::new(),
    }
}

fn one_more(key: &str, value: Option<usize>) -> String {
    let value = value.unwrap_or_default();
    format!("{key} = {} instead of {value}", value + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::Limits;
    use crate::rotation::plan_rotation;
    use crate::rotation::tests::setups::{block, group, room, school, staff};

    fn two_blocks(adults: usize) -> School {
        let ids = ["Mon 09:00", "Tue 09:00"];
        school(ids.map(|w| block(w, 30)).to_vec(), (0..adults).map(|n| staff(&format!("T{n}"), &ids)).collect())
    }

    fn note(school: &School, groups: &[crate::rotation::GroupToPlace], part: &str) -> String {
        let notes = plan_rotation(school, groups).notes;
        notes.iter().find(|n| n.contains(part)).cloned().unwrap_or_else(|| panic!("no {part} in {notes:?}"))
    }

    #[test]
    fn each_limit_in_the_conflict_is_needed() {
        let groups = [group("g1", "5P", 3, Some(2)), group("g2", "5P", 3, Some(2))];
        let said = note(&two_blocks(1), &groups, "stands");
        assert_eq!(said, "What stands against the sessions asked for: the number of adults who lead.");
        let mut school = two_blocks(2);
        school.limits = Limits { max_departures: Some(5), max_in_a_row: Some(3), ..Limits::default() };
        let said = note(&school, &groups, "stands");
        assert_eq!(said, "What stands against the sessions asked for: max_departures = 5.");
        let too_many = [group("g1", "5P", 3, Some(3))];
        assert!(note(&two_blocks(2), &too_many, "too few blocks").contains("too few blocks"));
    }

    #[test]
    fn a_looser_limit_is_promised_what_planning_again_gives() {
        let groups = [group("g1", "5P", 3, Some(2)), group("g2", "5P", 3, Some(2))];
        let mut school = two_blocks(2);
        school.limits = Limits { max_departures: Some(5), ..Limits::default() };
        let before = plan_rotation(&school, &groups);
        let said = note(&school, &groups, "instead of 5");
        assert!(said.starts_with("max_departures = 6 instead of 5 would raise"), "{said}");
        school.limits.max_departures = Some(6);
        let after = plan_rotation(&school, &groups);
        assert!(said.contains(&format!("attended places from {} to {}", before.attended, after.attended)), "{said}");
    }

    #[test]
    fn one_more_seat_is_named_with_its_room() {
        let groups = [group("g1", "5P", 4, Some(1)), group("g2", "5Q", 4, Some(1))];
        let mut school =
            school(vec![block("Mon 09:00", 30)], vec![staff("A", &["Mon 09:00"]), staff("B", &["Mon 09:00"])]);
        school.rooms = vec![room("Hall", 9), room("Nook", 3)];
        assert!(note(&school, &groups, "seat in").starts_with("One more seat in Nook would raise"));
    }
}
