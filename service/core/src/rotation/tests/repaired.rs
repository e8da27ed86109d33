//! One day again while somebody is out: legal, nothing but that day, and as little as can be.
//! The fewest changes are held against trying every way to fill the day.

use super::cases::two_homerooms;
use super::random::{Extras, week};
use super::setups::{assistant, block, group, intensive, room, school, staff, station};
use crate::roster::{Day, School, StudentId};
use crate::rotation::repair::{Out, Repaired, When, Who, repair, school_without};
use crate::rotation::{GroupToPlace, Rotation, Rule, Session, plan_rotation, violations};
use proptest::prelude::*;
use std::collections::BTreeSet;

fn out(text: &str, school: &School, groups: &[GroupToPlace]) -> Out {
    Out::parse(text, school, groups).unwrap()
}

fn repaired(school: &School, groups: &[GroupToPlace], text: &str) -> (Vec<Session>, Repaired) {
    let sessions = plan_rotation(school, groups).sessions;
    let now = repair(school, groups, &sessions, &[], &[out(text, school, groups)]);
    (sessions, now)
}

fn of_day(sessions: &[Session], day: Day) -> Vec<&Session> {
    sessions.iter().filter(|s| s.time.day == day).collect()
}

#[test]
fn other_days_are_untouched() {
    let (school, groups) = two_homerooms();
    let (before, now) = repaired(&school, &groups, "I1@Mon");
    for day in [Day::Tue, Day::Wed, Day::Thu, Day::Fri] {
        assert_eq!(of_day(&before, day), of_day(&now.sessions, day));
    }
    assert!(now.sessions.iter().all(|s| s.time.day != Day::Mon || s.staff.as_deref() != Some("I1")));
    assert!(!now.changes.is_empty());
    let days: Vec<Day> = now.sessions.iter().map(|s| s.time.day).collect();
    assert!(days.is_sorted(), "{days:?}");
}

#[test]
fn a_free_adult_takes_over_and_nothing_else_changes() {
    let ids = ["Mon 09:00", "Tue 09:00"];
    let adults = vec![staff("A", &ids), staff("B", &ids), staff("C", &ids)];
    let school = school(ids.map(|w| block(w, 30)).to_vec(), adults);
    let groups = [group("g1", "5P", 3, Some(2)), group("g2", "5Q", 3, Some(2))];
    let (before, now) = repaired(&school, &groups, "A@Mon 09:00");
    assert_eq!(now.changes.len(), 1);
    let change = &now.changes[0];
    assert_eq!(change.before.staff.as_deref(), Some("A"));
    assert_eq!(change.after.as_ref().unwrap().staff.as_deref(), Some("C"));
    assert_eq!(change.words("Group 1"), "Group 1 on Monday 09:00: with C instead of A.");
    assert_eq!(now.sessions.iter().filter(|s| before.contains(s)).count(), before.len() - 1);
}

#[test]
fn a_closed_room_gives_way_to_another_or_the_session_falls_away() {
    let mut school = school(vec![block("Mon 09:00", 30)], vec![staff("A", &["Mon 09:00"]), staff("B", &["Mon 09:00"])]);
    school.rooms = vec![room("Lab", 4), room("Nook", 4), room("Hall", 9)];
    let groups = [group("g1", "5P", 3, None), group("g2", "5Q", 4, None)];
    let (_, now) = repaired(&school, &groups, "Lab@Mon");
    assert_eq!(now.changes.len(), 1);
    assert_eq!(now.changes[0].mark(), "in Hall instead of Lab");
    school.rooms.pop();
    let (_, now) = repaired(&school, &groups, "Lab@Mon");
    assert_eq!(now.sessions.len(), 1);
    assert!(now.changes[0].words("g").contains("no room is free"), "{}", now.changes[0].words("g"));
}

#[test]
fn a_child_who_is_out_is_not_expected_and_the_group_meets() {
    let school = school(vec![block("Mon 09:00", 30)], vec![staff("A", &["Mon 09:00"])]);
    let groups = [group("g1", "5P", 3, None)];
    let (_, now) = repaired(&school, &groups, "g1-02@Mon");
    assert_eq!(now.sessions[0].expected, ["g1-01", "g1-03"]);
    assert_eq!(now.changes[0].words("Group 1"), "Group 1 on Monday 09:00: without g1-02.");
}

#[test]
fn an_intensive_group_takes_the_place_of_another() {
    let ids = ["Mon 09:00"];
    let school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids), staff("B", &ids)]);
    let groups = [group("g1", "5P", 4, None), intensive("g2", "5Q", 2, 5)];
    let sessions = plan_rotation(&school, &groups).sessions;
    let own = sessions.iter().find(|s| s.group == "g2").unwrap().staff.clone().unwrap();
    let now = repair(&school, &groups, &sessions, &[], &[out(&format!("{own}@Mon"), &school, &groups)]);
    let groups: Vec<&str> = now.sessions.iter().map(|s| s.group.as_str()).collect();
    assert_eq!(groups, ["g2"]);
}

#[test]
fn practice_stays_without_its_assistant() {
    let ids = ["Mon 09:00", "Mon 10:00"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids), assistant("H", &ids)]);
    school.stations = vec![station("Teacher table", None), station("Facts", Some(1))];
    let groups = [group("g1", "5P", 3, Some(1)), group("g2", "5Q", 3, Some(1))];
    let (before, now) = repaired(&school, &groups, "H@Mon");
    assert!(before.iter().any(|s| s.staff.as_deref() == Some("H")));
    assert_eq!(now.sessions.len(), before.len());
    assert!(now.sessions.iter().all(|s| s.staff.as_deref() != Some("H")));
}

#[test]
fn who_is_out_already_stays_out() {
    let (school, groups) = two_homerooms();
    let first = out("I1@Mon", &school, &groups);
    let once = repair(&school, &groups, &plan_rotation(&school, &groups).sessions, &[], std::slice::from_ref(&first));
    let second = out("TP@Mon-w2", &school, &groups);
    let twice = repair(&school, &groups, &once.sessions, &[first], &[second]);
    let monday = of_day(&twice.sessions, Day::Mon);
    assert!(monday.iter().all(|s| s.staff.as_deref() != Some("I1")));
    assert!(monday.iter().all(|s| s.block != "Mon-w2" || s.staff.as_deref() != Some("TP")));
}

fn any_out(seed: u64, school: &School, groups: &[GroupToPlace]) -> Out {
    let block = &school.blocks[(seed % school.blocks.len() as u64) as usize];
    let who = match seed / 7 % 4 {
        0 | 1 => Who::Staff(school.staff[(seed / 31 % school.staff.len() as u64) as usize].name.clone()),
        2 if !school.rooms.is_empty() => {
            Who::Room(school.rooms[(seed / 31 % school.rooms.len() as u64) as usize].name.clone())
        }
        _ => Who::Student(groups[(seed / 31 % groups.len() as u64) as usize].members[0].id.clone()),
    };
    let when = if (seed / 3).is_multiple_of(2) { When::Day(block.time.day) } else { When::Block(block.id.clone()) };
    Out { who, when }
}

/// Kept intensive sessions, kept sessions, kept ones of groups with none elsewhere, unchanged ones: more is better.
type Merit = (usize, usize, usize, usize);

fn merit(groups: &[GroupToPlace], before: &[Session], now: &[&Session], day: Day) -> Merit {
    let elsewhere: BTreeSet<&str> = before.iter().filter(|s| s.time.day != day).map(|s| s.group.as_str()).collect();
    let is_intensive = |s: &&&Session| groups.iter().any(|g| g.id == s.group && g.is_intensive);
    (
        now.iter().filter(is_intensive).count(),
        now.len(),
        now.iter().filter(|s| !elsewhere.contains(s.group.as_str())).count(),
        now.iter().filter(|s| same_place(before, s)).count(),
    )
}

/// Block, adult and room as printed; who is expected follows from who is out.
fn same_place(before: &[Session], s: &Session) -> bool {
    before.iter().any(|b| (&b.group, &b.block, &b.staff, &b.room) == (&s.group, &s.block, &s.staff, &s.room))
}

/// Every way to hold or drop each session that was printed for the day.
fn best_by_trying(school: &School, groups: &[GroupToPlace], before: &[Session], day: Day) -> Option<Merit> {
    let printed = of_day(before, day);
    let mut options: Vec<Vec<Option<Session>>> = Vec::new();
    for session in &printed {
        let mut of_session = vec![None];
        for block in school.blocks.iter().filter(|b| b.time.day == day) {
            let group = groups.iter().find(|g| g.id == session.group).unwrap();
            let free = group.members.iter().filter(|m| !school.is_busy(&m.id, &m.homeroom, block));
            let expected: Vec<String> = free.map(|m| m.id.to_string()).collect();
            for adult in school.leaders_in(block) {
                let rooms: Vec<Option<String>> = if school.rooms.is_empty() {
                    vec![None]
                } else {
                    school.rooms.iter().map(|r| Some(r.name.clone())).collect()
                };
                for room in rooms {
                    of_session.push(Some(Session {
                        block: block.id.clone(),
                        time: block.time,
                        staff: Some(adult.name.clone()),
                        room,
                        expected: expected.clone(),
                        ..(*session).clone()
                    }));
                }
            }
        }
        options.push(of_session);
    }
    let n_ways = options.iter().map(Vec::len).product::<usize>();
    if n_ways > 20_000 {
        return None;
    }
    let mut best = (0, 0, 0, 0);
    for way in 0..n_ways {
        let mut rest = way;
        let chosen: Vec<&Session> = options
            .iter()
            .filter_map(|o| {
                let pick = o[rest % o.len()].as_ref();
                rest /= o.len();
                pick
            })
            .collect();
        let merit = merit(groups, before, &chosen, day);
        if merit > best && violations(school, groups, &as_rotation(chosen.into_iter().cloned().collect())).is_empty() {
            best = merit;
        }
    }
    Some(best)
}

fn as_rotation(sessions: Vec<Session>) -> Rotation {
    Rotation { sessions, ..Rotation::default() }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn a_repaired_day_is_legal(seed in any::<u64>()) {
        let (school, groups) = week(seed, Extras::Everything, 10, 8);
        let sessions = plan_rotation(&school, &groups).sessions;
        let out = any_out(seed, &school, &groups);
        let day = out.day(&school).unwrap();
        let now = repair(&school, &groups, &sessions, &[], std::slice::from_ref(&out));
        let while_out = school_without(&school, &[out]);
        let found = violations(&while_out, &groups, &as_rotation(now.sessions.clone()));
        // What was printed for other days stays, even where it is practice that hung on a session that is lost.
        let of_practice = |rule| matches!(rule, Rule::PracticeOnly | Rule::PracticeTwice);
        let grave: Vec<_> = found.iter().filter(|v| !of_practice(v.rule)).collect();
        prop_assert!(grave.is_empty(), "{grave:?}");
        let elsewhere = |all: &[Session]| all.iter().filter(|s| s.time.day != day).cloned().collect::<Vec<_>>();
        prop_assert_eq!(elsewhere(&now.sessions), elsewhere(&sessions));
        let before: Vec<&Session> = sessions.iter().filter(|s| s.time.day == day).collect();
        prop_assert!(of_day(&now.sessions, day).len() <= before.len());
    }

    #[test]
    fn every_changed_session_is_named_once(seed in any::<u64>()) {
        let (school, groups) = week(seed, Extras::Everything, 10, 8);
        let sessions = plan_rotation(&school, &groups).sessions;
        let now = repair(&school, &groups, &sessions, &[], &[any_out(seed, &school, &groups)]);
        let gone: Vec<&Session> = sessions.iter().filter(|s| !now.sessions.contains(s)).collect();
        let named: Vec<&Session> = now.changes.iter().map(|c| &c.before).collect();
        prop_assert_eq!(gone, named);
        let come: BTreeSet<String> = now.sessions.iter().filter(|s| !sessions.contains(s)).map(|s| format!("{s:?}")).collect();
        let after: BTreeSet<String> = now.changes.iter().filter_map(|c| c.after.as_ref()).map(|s| format!("{s:?}")).collect();
        prop_assert_eq!(come, after);
    }

    #[test]
    fn a_repair_changes_as_little_as_trying_everything(seed in any::<u64>()) {
        let (mut school, groups) = week(seed, Extras::Everything, 6, 5);
        school.stations.clear();
        school.rooms.truncate(2);
        let sessions = plan_rotation(&school, &groups).sessions;
        let out = any_out(seed, &school, &groups);
        let day = out.day(&school).unwrap();
        let while_out = school_without(&school, std::slice::from_ref(&out));
        if let Some(best) = best_by_trying(&while_out, &groups, &sessions, day) {
            let now = repair(&school, &groups, &sessions, &[], &[out]);
            prop_assert_eq!(merit(&groups, &sessions, &of_day(&now.sessions, day), day), best);
        }
    }
}

#[test]
fn a_student_out_for_a_block_is_expected_in_the_others() {
    let ids = ["Mon 09:00", "Mon 10:00"];
    let school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids)]);
    let groups = [group("g1", "5P", 3, Some(2))];
    let who = Who::Student(StudentId::parse("g1-01").unwrap());
    let out = Out { who, when: When::Block("Mon 09:00".to_owned()) };
    let now = repair(&school, &groups, &plan_rotation(&school, &groups).sessions, &[], &[out]);
    let n_there: Vec<usize> = now.sessions.iter().map(|s| s.expected.len()).collect();
    assert_eq!(n_there, [2, 3]);
}
