//! Whether a week breaks a hard limit: a check that reads the setup, the groups and the sessions, and nothing else.
//!
//! In: the [`School`], the groups, the [`Rotation`]. Out: every [`Violation`], empty for a legal week.
//! It shares no code with the planner, so that one mistake cannot hide in both
//! (`a_tampered_week_is_caught` breaks a legal week in each way).
//! Not here: whether the week is as good as it could be (tests beside `plan_rotation`).

use super::{DEFAULT_STATION, GroupToPlace, Member, Rotation, Session};
use crate::roster::{Block, Day, Minutes, School};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// The hard limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// Block, group, station, adult and room are in the setup; time and skill are theirs.
    Known,
    /// Exactly the members who are free are expected, and at least one is.
    Expected,
    /// A group is in one place at a time.
    GroupOnce,
    /// A student is in one place at a time.
    StudentOnce,
    /// An adult is in one place at a time.
    AdultOnce,
    /// A room holds one session at a time.
    RoomOnce,
    /// A led session has an adult who leads and is free; practice has none or an assistant who is free.
    Staffing,
    /// Where the setup lists rooms, a session has one that is free and has a seat for everyone expected.
    Seats,
    /// No more groups at an unstaffed station than it holds.
    StationCapacity,
    /// No more led sessions than the group asks for.
    SessionsAsked,
    /// Practice only for students who are also led this week.
    PracticeOnly,
    /// On a day on which an intensive child has practice, the child is led too.
    IntensiveLed,
    /// A group never has practice twice running.
    PracticeTwice,
    /// Students out of one homeroom at a time.
    Departures,
    /// Pull-outs of a student in a day.
    Pullouts,
    /// Minutes between two sessions of one adult.
    Walk,
    /// Led sessions of one adult without a break.
    InARow,
}

/// One broken limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// Which limit.
    pub rule: Rule,
    /// Where it is broken, for people.
    pub place: String,
}

impl fmt::Display for Violation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}: {}", self.rule, self.place)
    }
}

/// Every hard limit that the rotation breaks, in order of rule.
#[must_use]
pub fn violations(school: &School, groups: &[GroupToPlace], rotation: &Rotation) -> Vec<Violation> {
    let mut check = Check { school, groups, sessions: &rotation.sessions, found: Vec::new() };
    for session in &rotation.sessions {
        check.known(session);
        check.expected(session);
        check.staffing(session);
        check.seats(session);
    }
    check.pairs();
    check.stations();
    check.asked();
    check.practice();
    check.departures();
    check.pullouts();
    check.in_a_row();
    check.found.sort_by(|a, b| (a.rule, &a.place).cmp(&(b.rule, &b.place)));
    check.found
}

struct Check<'a> {
    school: &'a School,
    groups: &'a [GroupToPlace],
    sessions: &'a [Session],
    found: Vec<Violation>,
}

impl<'a> Check<'a> {
    fn require(&mut self, holds: bool, rule: Rule, place: impl FnOnce() -> String) {
        if !holds {
            self.found.push(Violation { rule, place: place() });
        }
    }

    fn block(&self, session: &Session) -> Option<&'a Block> {
        self.school.blocks.iter().find(|b| b.id == session.block)
    }

    fn group(&self, session: &Session) -> Option<&'a GroupToPlace> {
        self.groups.iter().find(|g| g.id == session.group)
    }

    fn led(&self) -> Vec<&'a Session> {
        self.sessions.iter().filter(|s| s.is_led(self.school)).collect()
    }

    fn known(&mut self, session: &Session) {
        let block = self.block(session).is_some_and(|b| b.time == session.time);
        let group = self.group(session).is_some_and(|g| g.skill == session.skill);
        let stations = &self.school.stations;
        let station = if stations.is_empty() {
            session.station == DEFAULT_STATION
        } else {
            stations.iter().any(|s| s.name == session.station)
        };
        self.require(block && group && station, Rule::Known, || at(session));
    }

    fn expected(&mut self, session: &Session) {
        let (Some(block), Some(group)) = (self.block(session), self.group(session)) else { return };
        let is_free = |m: &&Member| !self.school.is_busy(&m.id, &m.homeroom, block);
        let free: Vec<&str> = group.members.iter().filter(is_free).map(|m| m.id.as_str()).collect();
        let is_right = !free.is_empty() && session.expected.iter().map(String::as_str).eq(free);
        self.require(is_right, Rule::Expected, || at(session));
    }

    fn staffing(&mut self, session: &Session) {
        let adult = session.staff.as_ref().map(|name| self.school.staff.iter().find(|s| &s.name == name));
        let is_led = session.is_led(self.school);
        let is_right = match adult {
            None => !is_led,
            Some(None) => false,
            Some(Some(adult)) => adult.leads == is_led && adult.blocks.contains(&session.block),
        };
        self.require(is_right, Rule::Staffing, || at(session));
    }

    fn seats(&mut self, session: &Session) {
        let rooms = &self.school.rooms;
        let is_right = match &session.room {
            None => rooms.is_empty(),
            Some(name) => rooms.iter().any(|r| {
                let is_free = r.blocks.is_empty() || r.blocks.contains(&session.block);
                &r.name == name && is_free && r.seats >= session.expected.len()
            }),
        };
        self.require(is_right, Rule::Seats, || at(session));
    }

    /// Everything that two sessions at the same time must not share.
    fn pairs(&mut self) {
        let walk = self.school.limits.walk_minutes.unwrap_or(0);
        for (idx, a) in self.sessions.iter().enumerate() {
            for b in &self.sessions[idx + 1..] {
                let place = || format!("{} and {}", at(a), at(b));
                let same_adult = a.staff.is_some() && a.staff == b.staff;
                if a.time.overlaps(&b.time) {
                    let shares_student = a.expected.iter().any(|id| b.expected.contains(id));
                    self.require(a.group != b.group, Rule::GroupOnce, place);
                    self.require(!shares_student, Rule::StudentOnce, place);
                    self.require(!same_adult, Rule::AdultOnce, place);
                    self.require(a.room.is_none() || a.room != b.room, Rule::RoomOnce, place);
                } else if same_adult && a.time.day == b.time.day {
                    self.require(minutes_between(a, b) >= walk, Rule::Walk, place);
                }
            }
        }
    }

    fn stations(&mut self) {
        for station in self.school.stations.iter().filter(|s| !s.staffed) {
            let there: Vec<&Session> = self.sessions.iter().filter(|s| s.station == station.name).collect();
            for start in &there {
                let n_groups = there.iter().filter(|s| is_under_way(s, start.time.day, start.time.start)).count();
                self.require(n_groups <= station.capacity, Rule::StationCapacity, || at(start));
            }
        }
    }

    fn asked(&mut self) {
        for group in self.groups {
            let n_led = self.led().iter().filter(|s| s.group == group.id).count();
            let is_right = group.sessions_wanted.is_none_or(|asked| n_led <= asked);
            self.require(is_right, Rule::SessionsAsked, || group.id.clone());
        }
    }

    fn practice(&mut self) {
        let led = self.led();
        let taught: BTreeSet<&String> = led.iter().flat_map(|s| &s.expected).collect();
        for session in self.sessions.iter().filter(|s| !s.is_led(self.school)) {
            let are_taught = session.expected.iter().all(|id| taught.contains(id));
            let is_taught = led.iter().any(|s| s.group == session.group);
            self.require(are_taught && is_taught, Rule::PracticeOnly, || at(session));
            let is_intensive = self.group(session).is_some_and(|g| g.is_intensive);
            let is_led_today =
                |id: &String| led.iter().any(|s| s.time.day == session.time.day && s.expected.contains(id));
            let holds = !is_intensive || session.expected.iter().all(is_led_today);
            self.require(holds, Rule::IntensiveLed, || at(session));
            let before = self.sessions.iter().filter(|s| s.group == session.group && moment(s) < moment(session));
            let is_right = before.max_by_key(|s| moment(s)).is_none_or(|s| s.is_led(self.school));
            self.require(is_right, Rule::PracticeTwice, || at(session));
        }
    }

    fn departures(&mut self) {
        let Some(limit) = self.school.limits.max_departures else { return };
        for start in self.sessions {
            let mut out: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
            for session in self.sessions.iter().filter(|s| is_under_way(s, start.time.day, start.time.start)) {
                let members = self.group(session).map_or(&[][..], |g| g.members.as_slice());
                for member in members.iter().filter(|m| session.expected.iter().any(|id| id == m.id.as_str())) {
                    out.entry(&member.homeroom).or_default().insert(member.id.as_str());
                }
            }
            for (homeroom, students) in out.iter().filter(|(homeroom, _)| !homeroom.is_empty()) {
                self.require(students.len() <= limit, Rule::Departures, || format!("{homeroom}, {}", at(start)));
            }
        }
    }

    fn pullouts(&mut self) {
        let Some(limit) = self.school.limits.max_pullouts else { return };
        let mut out: BTreeMap<(&str, Day), usize> = BTreeMap::new();
        for session in self.sessions {
            for id in &session.expected {
                *out.entry((id, session.time.day)).or_default() += 1;
            }
        }
        for ((id, day), n_out) in out {
            self.require(n_out <= limit, Rule::Pullouts, || format!("{id}, {}", day.long()));
        }
    }

    /// Led sessions in a row: no block in which the adult is free lies wholly between two neighbours.
    fn in_a_row(&mut self) {
        let Some(limit) = self.school.limits.max_in_a_row else { return };
        for adult in &self.school.staff {
            let mut led: Vec<&Session> =
                self.led().into_iter().filter(|s| s.staff.as_ref() == Some(&adult.name)).collect();
            led.sort_by_key(|s| moment(s));
            let free: Vec<&Block> = self.school.blocks.iter().filter(|b| adult.blocks.contains(&b.id)).collect();
            let mut run = 0;
            for (idx, session) in led.iter().enumerate() {
                let goes_on = idx > 0 && follows(led[idx - 1], session, &free);
                run = if goes_on { run + 1 } else { 1 };
                self.require(run <= limit, Rule::InARow, || format!("{}, {}", adult.name, at(session)));
            }
        }
    }
}

fn at(session: &Session) -> String {
    format!("{} in {} at {}", session.group, session.block, session.station)
}

fn moment(session: &Session) -> (Day, Minutes, Minutes) {
    (session.time.day, session.time.start, session.time.end)
}

fn is_under_way(session: &Session, day: Day, minute: Minutes) -> bool {
    session.time.day == day && session.time.start <= minute && minute < session.time.end
}

fn minutes_between(a: &Session, b: &Session) -> u16 {
    let (first, second) = if a.time.start <= b.time.start { (a, b) } else { (b, a) };
    second.time.start.0.saturating_sub(first.time.end.0)
}

fn follows(before: &Session, after: &Session, free: &[&Block]) -> bool {
    let is_break =
        |b: &&Block| b.time.day == after.time.day && b.time.start >= before.time.end && b.time.end <= after.time.start;
    before.time.day == after.time.day && !free.iter().any(is_break)
}
