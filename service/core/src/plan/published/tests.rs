//! The published form of a plan, field by field.
//! Compared as JSON values with the published shape, so that a renamed or missing field fails.

use super::*;
use crate::plan::{
    InputSummary, ItemReport, MeasuredSkill, OptionReport, PatternReport, Quality, SkillReport, SkillState, Unplaced,
    UnplacedKind,
};
use crate::roster::{Day, Minutes, StudentId, TimeSpan};
use crate::rotation::Session;
use crate::scores::ItemKind;
use crate::skills::SkillCode;
use crate::tickets::{Level, ParamValue, TicketItem, TicketOption};
use jiff::civil::date;
use serde_json::{Value, json};
use std::collections::BTreeMap;

fn code() -> SkillCode {
    SkillCode::parse("4.NF.A.1").unwrap()
}

fn student(id: &str, group: Option<usize>) -> StudentReport {
    let profile = SkillReport {
        skill: 0,
        mastery: 0.25,
        share_low: 0.1,
        share_high: 0.5,
        n_items: 4,
        points: 1.0,
        points_possible: 4.0,
        state: SkillState::NotYet,
    };
    StudentReport {
        id: StudentId::parse(id).unwrap(),
        name: "Ada Lund".into(),
        grade: "4".into(),
        homeroom: "4B".into(),
        supports: vec!["read aloud".into()],
        group,
        profile: vec![profile],
        patterns: vec![PatternReport { code: "adds-across".into(), seen: 1.5, chances: 3 }],
        why: "Lacks it.".into(),
        second_choice: None,
        fit: 1.0,
    }
}

fn item() -> TicketItem {
    let option = |label: &str, text: &str, patterns: &[&str]| TicketOption {
        label: label.into(),
        text: text.into(),
        patterns: patterns.iter().map(|p| (*p).to_owned()).collect(),
    };
    TicketItem {
        number: 1,
        model: "g4-equivalent".into(),
        version: 1,
        params: BTreeMap::from([("a".into(), ParamValue::Int(2))]),
        skill: "4.NF.A.1".into(),
        kind: ItemKind::Choice,
        stem: "Which is equal to 1/2?".into(),
        picture: None,
        drawing: None,
        options: vec![option("A", "2/4", &[]), option("B", "2/3", &["adds-across", "adds-one"])],
        rows: Vec::new(),
        columns: Vec::new(),
        parts: Vec::new(),
        key: vec!["A".into()],
        wrong_entries: Vec::new(),
        points: 1.0,
        level: Level::AsWritten,
    }
}

fn session() -> Session {
    Session {
        block: "mon-1".into(),
        time: TimeSpan::new(Day::Mon, Minutes(540), Minutes(570)).unwrap(),
        group: "g1".into(),
        station: "Table".into(),
        staff: None,
        room: Some("Small room".into()),
        skill: "4.NF.A.1".into(),
        expected: Vec::new(),
    }
}

fn plan() -> Plan {
    let read =
        InputSummary { file: "w.csv".into(), sha256: "ab".into(), sheet: String::new(), n_students: 2, n_items: 1 };
    let report = ItemReport {
        label: "Q1".into(),
        skills: vec![code()],
        n_taken: 2,
        difficulty: Some(0.5),
        discrimination: None,
        options: vec![OptionReport { label: "B".into(), n_chosen: 1, share: 0.5, discrimination: None, flag: None }],
        flag: None,
    };
    let group = Group {
        id: "g1".into(),
        name: "Group 1".into(),
        members: vec![0],
        target_skill: code(),
        error_pattern: Some("adds-across".into()),
        need: 1.0,
        is_intensive: false,
        notes: vec!["For staff.".into()],
    };
    let form_code = "A1B2".to_owned();
    Plan {
        week: Some(date(2026, 2, 2)),
        seed: 7,
        inputs: vec![read],
        findings: vec![Finding::note("hidden-rows", "Row 9 is hidden.", "read all the same")],
        items: vec![report],
        skills: vec![MeasuredSkill { code: code(), name: "equal fractions".into(), n_items: 1 }],
        students: vec![student("0417", Some(0)), student("0533", None)],
        unplaced: vec![Unplaced { student: 1, kind: UnplacedKind::NoNeed, reason: "Holds all.".into() }],
        groups: vec![group],
        rotation: vec![session()],
        rotation_notes: vec!["For staff.".into()],
        timetable: crate::plan::Timetable::default(),
        repairs: Vec::new(),
        tickets: vec![Ticket { group: "g1".into(), form: "A".into(), form_code, items: vec![item()] }],
        quality: Quality { sse: 0.5, silhouette: None, need_met: 1.0, reliability: Some(0.75), standard_error: None },
    }
}

fn bytes(plan: &Plan) -> Vec<u8> {
    let mut bytes = Vec::new();
    write_plan_json(plan, &mut bytes).unwrap();
    bytes
}

fn json_of(plan: &Plan) -> Value {
    serde_json::from_slice(&bytes(plan)).unwrap()
}

#[test]
fn the_plan_has_the_published_shape() {
    let student = |id: &str, group: Value| {
        json!({"id": id, "name": "Ada Lund", "homeroom": "4B", "group": group,
            "profile": [{"skill": "4.NF.A.1", "mastery": 0.25, "share_low": 0.1, "share_high": 0.5, "evidence": 4, "state": "not-yet"}],
            "error_patterns": [{"code": "adds-across", "seen": 1.5, "chances": 3}],
            "why": "Lacks it.", "second_choice": null, "fit": 1.0})
    };
    let mut got = json_of(&plan());
    let tickets = got.as_object_mut().unwrap().remove("tickets").unwrap();
    let want = json!({
        "schema": "sheaf.plan/1", "week": "2026-02-02", "seed": 7,
        "input": [{"file": "w.csv", "sha256": "ab", "sheet": "", "students": 2, "items": 1}],
        "findings": [{"severity": "note", "code": "hidden-rows", "file": "", "sheet": "", "cell": "",
            "message": "Row 9 is hidden.", "action": "read all the same"}],
        "items": [{"item": "Q1", "skills": ["4.NF.A.1"], "taken": 2, "difficulty": 0.5, "discrimination": null, "flag": null,
            "options": [{"option": "B", "chosen": 1, "share": 0.5, "discrimination": null, "flag": null}]}],
        "students": [student("0417", json!("g1")), student("0533", Value::Null)],
        "unplaced": [{"id": "0533", "kind": "no-need", "reason": "Holds all."}],
        "groups": [{"id": "g1", "name": "Group 1", "members": ["0417"], "target_skill": "4.NF.A.1",
            "error_pattern": "adds-across", "need": 1.0, "notes": ["For staff."]}],
        "rotation": [{"block": "mon-1", "day": "Mon", "start": "09:00", "end": "09:30", "group": "g1", "station": "Table",
            "staff": null, "room": "Small room", "skill": "4.NF.A.1", "students": []}],
        "quality": {"sse": 0.5, "silhouette": null, "need_met": 1.0, "reliability": 0.75, "standard_error": null},
        "rotation_notes": ["For staff."],
        "setup": {"blocks": [], "staff": [], "rooms": [], "stations": [], "busy": [], "groups": [],
            "limits": {"max_departures": null, "max_pullouts": null, "walk_minutes": null, "max_in_a_row": null}}
    });
    assert_eq!(got, want);
    assert_eq!((&tickets[0]["group"], &tickets[0]["form"]), (&json!("g1"), &json!("A")));
    assert_eq!(tickets[0]["form_code"], json!("A1B2"));
}

#[test]
fn a_ticket_item_has_the_published_fields() {
    let item = &json_of(&plan())["tickets"][0]["items"][0];
    for (field, want) in [
        ("number", json!(1)),
        ("model", json!("g4-equivalent")),
        ("params", json!({"a": 2})),
        ("skill", json!("4.NF.A.1")),
        ("type", json!("choice")),
        ("stem", json!("Which is equal to 1/2?")),
        ("key", json!(["A"])),
        ("points", json!(1)),
    ] {
        assert_eq!(item[field], want, "{field}");
    }
    assert_eq!(item["options"][0], json!({"label": "A", "text": "2/4", "error_pattern": null}));
    assert_eq!(
        item["options"][1],
        json!({"label": "B", "text": "2/3", "error_pattern": "adds-across", "also": "adds-one"})
    );
}

#[test]
fn fields_come_in_the_published_order() {
    let text = String::from_utf8(bytes(&plan())).unwrap();
    let at = |key: &str| text.find(&format!("\n  \"{key}\": ")).unwrap();
    let keys = [
        "schema",
        "week",
        "seed",
        "input",
        "findings",
        "items",
        "students",
        "unplaced",
        "groups",
        "rotation",
        "tickets",
        "quality",
        "rotation_notes",
        "setup",
    ];
    assert!(keys.windows(2).all(|pair| at(pair[0]) < at(pair[1])), "{text}");
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    assert_eq!(bytes(&plan()), bytes(&plan()));
}

#[test]
fn undefined_figures_are_null() {
    let mut plan = plan();
    plan.week = None;
    plan.items[0].difficulty = None;
    plan.quality.sse = f64::NAN;
    plan.students[0].fit = f64::INFINITY;
    let json = json_of(&plan);
    assert_eq!((&json["week"], &json["items"][0]["difficulty"]), (&Value::Null, &Value::Null));
    assert_eq!((&json["quality"]["sse"], &json["students"][0]["fit"]), (&Value::Null, &Value::Null));
}
