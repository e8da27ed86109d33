//! 300 invented timetables against answers of an independent exact solver, and against a check of its own.
//!
//! In:  `fixtures/oracles/rotation/weeks.jsonl`, written by `make.py` beside it (scipy's HiGHS). Keeps: floor and attended places are
//! equal in all of them; no hard limit breaks in any, judged here from the fixture's own lists, and by the crate's checker.
//! Not here: groups (they are given), wishes after attendance.
#![allow(clippy::unwrap_used, clippy::panic)]

use serde_json::Value;
use sheaf_core::roster::{
    Block, Busy, BusyWhen, BusyWho, Day, Minutes, Room, School, StaffMember, Station, StudentId, TimeSpan,
};
use sheaf_core::rotation::{GroupToPlace, Member, Session, plan_rotation, violations};
use std::collections::BTreeSet;

const WEEKS: &str = include_str!("../../../fixtures/oracles/rotation/weeks.jsonl");

fn text(v: &Value) -> String {
    v.as_str().unwrap().to_owned()
}

fn list(v: &Value) -> &[Value] {
    v.as_array().unwrap()
}

fn texts(v: &Value) -> Vec<String> {
    list(v).iter().map(text).collect()
}

fn number(v: &Value) -> usize {
    usize::try_from(v.as_u64().unwrap()).unwrap()
}

fn id(v: &Value) -> StudentId {
    StudentId::parse(v.as_str().unwrap()).unwrap()
}

fn span(day: &Value, start: &Value, end: &Value) -> TimeSpan {
    let minute = |v: &Value| Minutes::parse(v.as_str().unwrap()).unwrap();
    TimeSpan::new(Day::parse(day.as_str().unwrap()).unwrap(), minute(start), minute(end)).unwrap()
}

fn school(week: &Value) -> School {
    let who = |b: &Value| {
        if b[0] == "homeroom" { BusyWho::Homeroom(text(&b[1])) } else { BusyWho::Student(id(&b[1])) }
    };
    let when = |b: &Value| match list(&b[2]) {
        [day, start, end] => BusyWhen::Span(span(day, start, end)),
        _ => BusyWhen::Blocks(texts(&b[2])),
    };
    let block = |b: &Value| Block { id: text(&b[0]), time: span(&b[1], &b[2], &b[3]), homerooms: texts(&b[4]) };
    let adult = |s: &Value| StaffMember { name: text(&s[0]), leads: s[1] == true, blocks: texts(&s[2]) };
    let room = |r: &Value| Room { name: text(&r[0]), seats: number(&r[1]), blocks: texts(&r[2]) };
    let station = |s: &Value| Station { name: text(&s[0]), staffed: s[1] == true, capacity: number(&s[2]) };
    School {
        blocks: list(&week["blocks"]).iter().map(block).collect(),
        staff: list(&week["staff"]).iter().map(adult).collect(),
        rooms: list(&week["rooms"]).iter().map(room).collect(),
        stations: list(&week["stations"]).iter().map(station).collect(),
        busy: list(&week["busy"]).iter().map(|b| Busy { who: who(b), when: when(b) }).collect(),
        ..School::default()
    }
}

fn groups(week: &Value) -> Vec<GroupToPlace> {
    let group = |g: &Value| GroupToPlace {
        id: text(&g[0]),
        members: list(&g[1]).iter().map(|m| Member { id: id(&m[0]), homeroom: text(&m[1]) }).collect(),
        need: 0.5,
        is_intensive: false,
        sessions_wanted: g[2].as_u64().map(|n| usize::try_from(n).unwrap()),
        skill: "5.NF.B.5".to_owned(),
    };
    list(&week["groups"]).iter().map(group).collect()
}

/// Each week with its line.
fn weeks() -> impl Iterator<Item = (usize, Value)> {
    WEEKS.lines().enumerate().map(|(idx, line)| (idx + 1, serde_json::from_str(line).unwrap()))
}

/// What a week breaks, from the fixture's lists alone.
struct Judge<'a> {
    week: &'a Value,
    sessions: &'a [Session],
}

impl Judge<'_> {
    fn entry(&self, what: &str, name: &str) -> Option<&Value> {
        list(&self.week[what]).iter().find(|e| e[0] == name)
    }

    fn is_led(&self, s: &Session) -> bool {
        self.entry("stations", &s.station).is_none_or(|e| e[1] == true)
    }

    fn broken(&self) -> Option<String> {
        let alone =
            self.sessions.iter().find_map(|s| self.alone(s).map(|why| format!("{} in {}: {why}", s.group, s.block)));
        alone.or_else(|| self.at_once()).or_else(|| self.too_many()).or_else(|| self.only_practice())
    }

    fn alone(&self, s: &Session) -> Option<&'static str> {
        let block = self.entry("blocks", &s.block).unwrap();
        let adult = s.staff.as_ref().map(|name| self.entry("staff", name).unwrap());
        let rooms = list(&self.week["rooms"]);
        let room = s.room.as_ref().map(|name| self.entry("rooms", name).unwrap());
        let is_open = |r: &Value| list(&r[2]).is_empty() || texts(&r[2]).contains(&s.block);
        let claims = [
            (!s.expected.is_empty() && s.expected.iter().all(|id| self.is_free(id, block)), "somebody is busy"),
            (adult.map_or(!self.is_led(s), |a| (a[1] == true) == self.is_led(s)), "the wrong kind of adult"),
            (adult.is_none_or(|a| texts(&a[2]).contains(&s.block)), "the adult is not there"),
            (room.map_or(rooms.is_empty(), |r| is_open(r) && number(&r[1]) >= s.expected.len()), "no seat"),
        ];
        claims.into_iter().find(|(holds, _)| !holds).map(|(_, why)| why)
    }

    fn is_free(&self, child: &str, block: &Value) -> bool {
        let mut members = list(&self.week["groups"]).iter().flat_map(|g| list(&g[1]));
        let homeroom = text(&members.find(|m| m[0] == child).unwrap()[1]);
        let time = span(&block[1], &block[2], &block[3]);
        let is_hit = |b: &Value| match list(&b[2]) {
            [day, start, end] => {
                let busy = span(day, start, end);
                busy.day == time.day && busy.start < time.end && time.start < busy.end
            }
            ids => ids[0] == block[0],
        };
        let is_meant = |b: &Value| if b[0] == "homeroom" { b[1] == homeroom.as_str() } else { b[1] == child };
        let is_open = list(&block[4]).is_empty() || texts(&block[4]).contains(&homeroom);
        is_open && !list(&self.week["busy"]).iter().any(|b| is_meant(b) && is_hit(b))
    }

    fn at_once(&self) -> Option<String> {
        let shares = |a: &Session, b: &Session| {
            a.group == b.group
                || a.expected.iter().any(|id| b.expected.contains(id))
                || (a.staff.is_some() && a.staff == b.staff)
                || (a.room.is_some() && a.room == b.room)
        };
        let pairs =
            self.sessions.iter().enumerate().flat_map(|(n, a)| self.sessions[n + 1..].iter().map(move |b| (a, b)));
        let same_time = |a: &Session, b: &Session| {
            a.time.day == b.time.day && a.time.start < b.time.end && b.time.start < a.time.end
        };
        pairs
            .into_iter()
            .find(|(a, b)| same_time(a, b) && shares(a, b))
            .map(|(a, b)| format!("{a:?} and {b:?} at once"))
    }

    fn too_many(&self) -> Option<String> {
        let n_led = |g: &Value| self.sessions.iter().filter(|s| g[0] == s.group.as_str() && self.is_led(s)).count();
        let groups = list(&self.week["groups"]).iter();
        groups.filter(|g| g[2].as_u64().is_some_and(|asked| n_led(g) as u64 > asked)).map(|g| g[0].to_string()).next()
    }

    fn only_practice(&self) -> Option<String> {
        let (led, practice): (Vec<&Session>, Vec<&Session>) = self.sessions.iter().partition(|s| self.is_led(s));
        let taught: BTreeSet<&String> = led.iter().flat_map(|s| &s.expected).collect();
        practice.iter().flat_map(|s| &s.expected).find(|id| !taught.contains(id)).cloned()
    }
}

#[test]
fn floor_and_attended_places_equal_those_of_an_independent_solver() {
    let mut wrong = Vec::new();
    let mut n_weeks = 0;
    for (line, week) in weeks() {
        let rotation = plan_rotation(&school(&week), &groups(&week));
        let (got, want) = ((rotation.floor, rotation.attended), (number(&week["floor"]), number(&week["attended"])));
        if got != want {
            wrong.push(format!("line {line}: floor and attended {got:?}, not {want:?}"));
        }
        n_weeks += 1;
    }
    assert_eq!(n_weeks, 300);
    assert!(wrong.is_empty(), "{} of {n_weeks}:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn no_hard_limit_breaks_in_any_of_the_weeks() {
    for (line, week) in weeks() {
        let (school, groups) = (school(&week), groups(&week));
        let rotation = plan_rotation(&school, &groups);
        assert_eq!(Judge { week: &week, sessions: &rotation.sessions }.broken(), None, "line {line}");
        assert_eq!(violations(&school, &groups, &rotation), Vec::new(), "line {line}");
    }
}

#[test]
fn the_weeks_are_as_wide_as_they_claim() {
    let (mut children, mut blocks, mut stations) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
    let mut n_with_rooms = 0;
    for (_, week) in weeks() {
        children.insert(list(&week["groups"]).iter().map(|g| list(&g[1]).len()).sum::<usize>());
        blocks.insert(list(&week["blocks"]).len());
        stations.insert(list(&week["stations"]).len());
        n_with_rooms += usize::from(!list(&week["rooms"]).is_empty());
    }
    assert!(children.first() <= Some(&14) && children.last() >= Some(&58), "{children:?}");
    assert!(blocks.first() == Some(&3) && blocks.last() >= Some(&14), "{blocks:?}");
    assert!(stations.len() == 4 && n_with_rooms > 100, "{stations:?}, {n_with_rooms}");
}
