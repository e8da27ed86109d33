//! A legal week, broken in one way at a time: the check must name the limit that was broken, and no other kind of week.
//! A check that misses a broken limit would make every other test of the rotation worthless.

use super::setups::{assistant, block, group, mixed, room, school, staff, station};
use crate::roster::{Limits, School};
use crate::rotation::{GroupToPlace, Rotation, Rule, Session, plan_rotation, violations};

/// Two blocks on Monday that touch and one on Tuesday; two adults, an assistant, three rooms, one practice station.
fn legal() -> (School, Vec<GroupToPlace>, Rotation) {
    let ids = ["Mon 09:00", "Mon 09:30", "Tue 09:00"];
    let adults = vec![staff("A", &ids), staff("B", &ids[..2]), assistant("H", &ids)];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), adults);
    school.rooms = vec![room("R1", 5), room("R2", 5), room("R3", 3)];
    school.stations = vec![station("Teacher table", None), station("Facts", Some(1))];
    let groups = vec![group("g1", "5P", 4, Some(2)), mixed("g2", &[("5P", 1), ("5Q", 2)], Some(2))];
    let rotation = plan_rotation(&school, &groups);
    assert_eq!(violations(&school, &groups, &rotation), Vec::new());
    (school, groups, rotation)
}

fn rules(school: &School, groups: &[GroupToPlace], rotation: &Rotation) -> Vec<Rule> {
    let mut rules: Vec<Rule> = violations(school, groups, rotation).into_iter().map(|v| v.rule).collect();
    rules.dedup();
    rules
}

fn after(change: impl Fn(&mut Vec<Session>)) -> Vec<Rule> {
    let (school, groups, mut rotation) = legal();
    change(&mut rotation.sessions);
    rules(&school, &groups, &rotation)
}

/// Position of the first led session of a group.
fn led(sessions: &[Session], group: &str) -> usize {
    sessions.iter().position(|s| s.group == group && s.station == "Teacher table").unwrap()
}

fn practice(sessions: &[Session]) -> usize {
    sessions.iter().position(|s| s.station == "Facts").unwrap()
}

#[test]
fn a_tampered_week_is_caught() {
    assert_eq!(after(|s| s[0].block = "Wed 09:00".to_owned()), [Rule::Known, Rule::Staffing]);
    assert_eq!(after(|s| s[0].skill = "3.OA.C.7".to_owned()), [Rule::Known]);
    assert!(after(|s| s[0].station = "Corner".to_owned()).contains(&Rule::Known));
    assert!(after(|s| s[0].expected.truncate(1)).contains(&Rule::Expected));
    let one = |s: &mut Vec<Session>, name: Option<&str>| {
        let at = led(s, "g1");
        s[at].staff = name.map(str::to_owned);
    };
    for name in [None, Some("H"), Some("Nobody")] {
        assert_eq!(after(|s| one(s, name)), [Rule::Staffing], "{name:?}");
    }
    let place = |s: &mut Vec<Session>, name: Option<&str>| {
        let at = led(s, "g1");
        s[at].room = name.map(str::to_owned);
    };
    for name in [None, Some("R3"), Some("Nowhere")] {
        assert!(after(|s| place(s, name)).contains(&Rule::Seats), "{name:?}");
    }
    assert_eq!(
        after(|s| s.iter_mut().filter(|s| s.station == "Facts").for_each(|s| s.staff = Some("A".to_owned()))).last(),
        Some(&Rule::Staffing)
    );
}

#[test]
fn one_place_at_a_time_is_checked_for_group_student_adult_and_room() {
    let twice = after(|s| {
        let again = s[led(s, "g1")].clone();
        s.push(again);
    });
    assert_eq!(twice, [Rule::GroupOnce, Rule::StudentOnce, Rule::AdultOnce, Rule::RoomOnce, Rule::SessionsAsked]);
}

#[test]
fn practice_rules_are_checked() {
    let (school, mut groups, mut rotation) = legal();
    let idx = practice(&rotation.sessions);
    let group = rotation.sessions[idx].group.clone();
    let mut untaught = rotation.clone();
    untaught.sessions.retain(|s| s.group != group || s.station == "Facts");
    assert!(rules(&school, &groups, &untaught).contains(&Rule::PracticeOnly));
    for session in rotation.sessions.iter_mut().filter(|s| s.group == group) {
        session.station = "Facts".to_owned();
        session.staff = None;
    }
    let found = rules(&school, &groups, &rotation);
    assert!(found.contains(&Rule::PracticeTwice), "{found:?}");
    groups.iter_mut().for_each(|g| g.sessions_wanted = Some(1));
    let (_, _, legal_for_two) = legal();
    assert!(rules(&school, &groups, &legal_for_two).contains(&Rule::SessionsAsked));
}

#[test]
fn an_intensive_child_with_practice_alone_on_a_day_is_caught() {
    let (school, mut groups, rotation) = legal();
    let idx = practice(&rotation.sessions);
    let (group, day) = (rotation.sessions[idx].group.clone(), rotation.sessions[idx].time.day);
    groups.iter_mut().filter(|g| g.id == group).for_each(|g| g.is_intensive = true);
    let mut alone = rotation;
    alone.sessions.retain(|s| s.group != group || s.time.day != day || s.station == "Facts");
    assert!(rules(&school, &groups, &alone).contains(&Rule::IntensiveLed));
}

#[test]
fn a_full_station_and_the_limits_of_the_school_are_checked() {
    let (mut school, groups, rotation) = legal();
    school.stations[1].capacity = 0;
    assert_eq!(rules(&school, &groups, &rotation), [Rule::StationCapacity]);
    let (mut school, groups, rotation) = legal();
    let mut with = |limits: Limits| {
        school.limits = limits;
        rules(&school, &groups, &rotation)
    };
    assert_eq!(with(Limits { max_departures: Some(3), ..Limits::default() }), [Rule::Departures]);
    assert_eq!(with(Limits { max_pullouts: Some(1), ..Limits::default() }), [Rule::Pullouts]);
    assert_eq!(with(Limits { walk_minutes: Some(5), ..Limits::default() }), [Rule::Walk]);
    assert_eq!(with(Limits { max_in_a_row: Some(1), ..Limits::default() }), [Rule::InARow]);
}
