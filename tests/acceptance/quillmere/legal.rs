//! Whether the published rotation keeps the hard limits of the school's setup, by a check that shares nothing with the planner.
//!
//! In:  the setup as TOML, homerooms, the plan as JSON. Out: a line for each fault, empty for a legal week.
//! It reads texts alone: times as `HH:MM`, which order like the times they stand for.
//! Keeps: each rule can fail (`a_week_that_breaks_a_rule_is_caught`). Limits that Quillmere's setup does not use are not checked.

use super::week::{list, text};
use serde_json::Value;
use std::collections::BTreeMap;
use toml::Table;

/// Every fault.
pub fn faults(setup: &Table, homerooms: &BTreeMap<String, String>, plan: &Value) -> Vec<String> {
    let check = Check { setup, homerooms, plan };
    let sessions = list(&plan["rotation"]);
    let mut faults: Vec<String> = sessions.iter().flat_map(|s| check.alone(s)).collect();
    for (at, a) in sessions.iter().enumerate() {
        faults.extend(sessions[at + 1..].iter().flat_map(|b| check.beside(a, b)));
    }
    faults
}

struct Check<'a> {
    setup: &'a Table,
    homerooms: &'a BTreeMap<String, String>,
    plan: &'a Value,
}

impl<'a> Check<'a> {
    fn each(&self, section: &str) -> &'a [toml::Value] {
        self.setup.get(section).and_then(|s| s.as_array()).map_or(&[], Vec::as_slice)
    }

    fn named(&self, section: &str, key: &str, name: &Value) -> Option<&'a toml::Value> {
        self.each(section).iter().find(|entry| entry[key].as_str() == name.as_str())
    }

    /// Members of a session's group who are free then.
    fn there(&self, session: &Value) -> Vec<String> {
        let group = list(&self.plan["groups"]).iter().find(|g| g["id"] == session["group"]);
        let members = group.map_or(&[][..], |g| list(&g["members"]));
        members.iter().map(text).filter(|id| !self.is_busy(id, session)).collect()
    }

    fn is_busy(&self, id: &str, session: &Value) -> bool {
        let homeroom = self.homerooms[id].as_str();
        let meant = |b: &&toml::Value| b["homeroom"].as_str() == Some(homeroom);
        let during = |b: &toml::Value| {
            let at = |key: &str| b[key].as_str().unwrap().to_owned();
            at("day") == text(&session["day"])
                && at("start") < text(&session["end"])
                && text(&session["start"]) < at("end")
        };
        self.each("busy").iter().filter(meant).any(during)
    }

    /// What one session breaks by itself.
    fn alone(&self, session: &Value) -> Vec<String> {
        let rules = [
            ("the block is as in the setup", self.is_in_its_block(session)),
            ("a led session has an adult who leads, practice has none who does", self.is_staffed(session)),
            ("the adult is free", self.is_adult_free(session)),
            ("somebody is free to come", !self.there(session).is_empty()),
            ("the room seats them", self.is_seated(session)),
        ];
        rules.into_iter().filter(|(_, holds)| !holds).map(|(rule, _)| format!("{rule}: {session}")).collect()
    }

    fn is_in_its_block(&self, session: &Value) -> bool {
        let block = self.named("block", "id", &session["block"]);
        block.is_some_and(|b| ["day", "start", "end"].iter().all(|key| b[*key].as_str() == session[*key].as_str()))
    }

    fn is_staffed(&self, session: &Value) -> bool {
        let Some(station) = self.named("station", "name", &session["station"]) else { return false };
        let adult = self.named("staff", "name", &session["staff"]);
        if station["staffed"].as_bool() == Some(true) {
            return adult.is_some_and(|a| a["leads"].as_bool() == Some(true));
        }
        session["staff"].is_null() || adult.is_some_and(|a| a["leads"].as_bool() == Some(false))
    }

    fn is_adult_free(&self, session: &Value) -> bool {
        let blocks = self.named("staff", "name", &session["staff"]).map(|a| a["blocks"].as_array().unwrap());
        session["staff"].is_null()
            || blocks.is_some_and(|all| all.iter().any(|b| b.as_str() == session["block"].as_str()))
    }

    fn is_seated(&self, session: &Value) -> bool {
        let room = self.named("room", "name", &session["room"]);
        room.is_some_and(|r| r["seats"].as_integer().unwrap() >= self.there(session).len() as i64)
    }

    /// What two sessions break together.
    fn beside(&self, a: &Value, b: &Value) -> Vec<String> {
        if a["day"] != b["day"] {
            return Vec::new();
        }
        let is_at_once = text(&a["start"]) < text(&b["end"]) && text(&b["start"]) < text(&a["end"]);
        let same = |key: &str| !a[key].is_null() && a[key] == b[key];
        let shares_child = self.there(a).iter().any(|id| self.there(b).contains(id));
        let rules = [
            ("a group is in one place", !(is_at_once && same("group"))),
            ("a child is in one place", !(is_at_once && shares_child)),
            ("an adult is in one place", !(is_at_once && same("staff"))),
            ("an adult has time to walk", is_at_once || !same("staff") || self.has_time_to_walk(a, b)),
            ("a room holds one session", !(is_at_once && same("room"))),
            ("a practice station holds one group", !(is_at_once && same("station") && self.is_practice(a))),
        ];
        rules.into_iter().filter(|(_, holds)| !holds).map(|(rule, _)| format!("{rule}: {a} and {b}")).collect()
    }

    /// Quillmere's one practice station takes one group.
    fn is_practice(&self, session: &Value) -> bool {
        let station = self.named("station", "name", &session["station"]);
        station.is_some_and(|s| s.get("capacity").and_then(toml::Value::as_integer) == Some(1))
    }

    fn has_time_to_walk(&self, a: &Value, b: &Value) -> bool {
        let walk = self.setup["limits"]["walk_minutes"].as_integer().unwrap();
        let gap = |first: &Value, then: &Value| minutes(&then["start"]) - minutes(&first["end"]);
        gap(a, b).max(gap(b, a)) >= walk
    }
}

fn minutes(time: &Value) -> i64 {
    let time = text(time);
    let (hours, minutes) = time.split_once(':').unwrap();
    hours.parse::<i64>().unwrap() * 60 + minutes.parse::<i64>().unwrap()
}

#[test]
fn a_week_that_breaks_a_rule_is_caught() {
    let (setup, homerooms) = (super::week::setup(), super::week::homerooms());
    let led = |group: &str, block: &str, staff: &str, room: &str| {
        let start = if block.ends_with('1') { ("10:30", "11:00") } else { ("13:10", "13:40") };
        let day = block[..1].to_uppercase() + &block[1..3];
        serde_json::json!({"block": block, "day": day, "start": start.0, "end": start.1, "group": group,
            "station": "Teacher table", "staff": staff, "room": room})
    };
    let with = |sessions: Vec<Value>| {
        serde_json::json!({"groups": [{"id": "g1", "members": ["0001", "0003", "0005", "0007", "0009"]},
            {"id": "g2", "members": ["0002", "0004"]}, {"id": "g3", "members": ["0001", "0006"]}], "rotation": sessions})
    };
    let found = |sessions: Vec<Value>| faults(&setup, &homerooms, &with(sessions));
    let sound = led("g1", "mon-1", "I1", "SmallRoom");
    assert_eq!(found(vec![sound.clone(), led("g2", "mon-1", "TP", "R5P")]), Vec::<String>::new());
    let practice = |group: &str, staff: Value, room: &str| {
        let mut session = led(group, "tue-1", "I1", room);
        session["station"] = "Practice table".into();
        session["staff"] = staff;
        session
    };
    assert_eq!(found(vec![practice("g1", Value::Null, "R5P")]), Vec::<String>::new());
    for (sessions, rule) in [
        (vec![led("g1", "sun-1", "I1", "R5P")], "the block is as"),
        (vec![led("g1", "tue-1", "A1", "R5P")], "a led session has"),
        (vec![practice("g1", "I1".into(), "R5P")], "a led session has"),
        (vec![led("g1", "mon-2", "TP", "R5P")], "the adult is free"),
        (vec![led("g1", "tue-2", "I1", "R5P")], "somebody is free"),
        (vec![led("g1", "mon-1", "I1", "HallTable")], "the room seats"),
        (vec![sound.clone(), led("g1", "mon-1", "TP", "R5P")], "a group is in one place"),
        (vec![sound.clone(), led("g3", "mon-1", "TP", "R5P")], "a child is in one place"),
        (vec![sound.clone(), led("g2", "mon-1", "I1", "R5P")], "an adult is in one place"),
        (vec![sound.clone(), led("g2", "mon-1", "TP", "SmallRoom")], "a room holds"),
        (vec![practice("g1", Value::Null, "R5P"), practice("g2", Value::Null, "R5Q")], "a practice station"),
    ] {
        assert!(found(sessions).iter().any(|fault| fault.starts_with(rule)), "{rule} did not fail");
    }
    let mut late = led("g2", "mon-1", "I1", "R5P");
    (late["start"], late["end"]) = ("11:01".into(), "11:31".into());
    assert!(found(vec![sound, late]).iter().any(|fault| fault.starts_with("an adult has time")));
}
