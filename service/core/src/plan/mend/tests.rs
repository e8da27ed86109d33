//! A published plan repaired as a text, held against the plan repaired and published.
//! Texts that others wrote, laid out otherwise or cut anywhere, are tried as well.

use super::*;
use crate::plan::published::write_plan_json;
use crate::plan::{SkillState, Timetable};
use crate::roster::{Block, Day, Minutes, Room, School, StaffMember, TimeSpan};
use crate::rotation::{GroupToPlace, Proof, plan_rotation};
use proptest::prelude::*;
use serde_json::Value;

fn school() -> School {
    let block = |id: &str, day, start| Block {
        id: id.to_owned(),
        time: TimeSpan::new(day, Minutes(start), Minutes(start + 30)).unwrap(),
        homerooms: Vec::new(),
    };
    let blocks = vec![block("mon-1", Day::Mon, 540), block("mon-2", Day::Mon, 600), block("tue-1", Day::Tue, 540)];
    let ids: Vec<String> = blocks.iter().map(|b| b.id.clone()).collect();
    let adult = |name: &str| StaffMember { name: name.to_owned(), blocks: ids.clone(), leads: true };
    let room = |name: &str| Room { name: name.to_owned(), seats: 5, blocks: Vec::new() };
    School {
        blocks,
        staff: vec![adult("Teacher \"A\""), adult("B")],
        rooms: vec![room("Lab"), room("Nook"), room("Hall")],
        ..School::default()
    }
}

/// Two groups of two children each.
fn plan() -> Plan {
    let school = school();
    let id = |n: usize| StudentId::parse(&format!("000{n}")).unwrap();
    let student = |n: usize| StudentReport {
        name: format!("Kim {n}"),
        homeroom: "5P".to_owned(),
        group: Some(n / 2),
        profile: vec![crate::plan::SkillReport {
            skill: 0,
            mastery: 0.1 + 0.2,
            share_low: 1.0 / 3.0,
            share_high: 0.7,
            n_items: 3,
            points: 1.0,
            points_possible: 3.0,
            state: SkillState::NotYet,
        }],
        ..student_of(id(n), &GivenStudent { id: String::new(), name: String::new(), homeroom: String::new() })
    };
    let to_place = |g: usize| GroupToPlace {
        id: format!("g{}", g + 1),
        members: [2 * g, 2 * g + 1].map(|n| Member { id: id(n), homeroom: "5P".to_owned() }).to_vec(),
        need: 0.333,
        is_intensive: false,
        sessions_wanted: Some(2),
        skill: "4.NF.A.1".to_owned(),
    };
    let group = |g: usize| Group {
        id: format!("g{}", g + 1),
        name: format!("Group {}", g + 1),
        members: vec![2 * g, 2 * g + 1],
        target_skill: SkillCode::parse("4.NF.A.1").unwrap(),
        error_pattern: None,
        need: 1.0,
        is_intensive: false,
        notes: Vec::new(),
    };
    let groups: Vec<GroupToPlace> = (0..2).map(to_place).collect();
    let rotation = plan_rotation(&school, &groups);
    Plan {
        week: Some(jiff::civil::date(2026, 2, 2)),
        seed: 7,
        inputs: Vec::new(),
        findings: Vec::new(),
        items: Vec::new(),
        skills: vec![crate::plan::MeasuredSkill {
            code: SkillCode::parse("4.NF.A.1").unwrap(),
            name: "equal fractions".to_owned(),
            n_items: 3,
        }],
        students: (0..4).map(student).collect(),
        unplaced: Vec::new(),
        groups: (0..2).map(group).collect(),
        rotation: rotation.sessions,
        rotation_notes: rotation.notes,
        timetable: Timetable::new(&school, groups),
        repairs: Vec::new(),
        tickets: Vec::new(),
        quality: Quality::default(),
    }
}

fn published(plan: &Plan) -> String {
    let mut bytes = Vec::new();
    write_plan_json(plan, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

fn texts(outs: &[&str]) -> Vec<String> {
    outs.iter().map(|&o| o.to_owned()).collect()
}

#[test]
fn the_published_plan_mended_is_the_plan_repaired() {
    let plan = plan();
    for outs in [&["B@Mon"][..], &["Teacher \"A\"@mon-1", "Lab@Tue"], &["0001@tue-1"]] {
        let repaired = plan.repaired(outs.iter().map(|o| plan.out(o).unwrap()).collect());
        let mended = mend(&published(&plan), &texts(outs)).unwrap();
        assert_eq!(mended.text, published(&repaired), "{outs:?}");
        let again = repaired.repaired(vec![repaired.out("Nook@Mon").unwrap()]);
        assert_eq!(mend(&mended.text, &texts(&["Nook@Mon"])).unwrap().text, published(&again));
    }
}

#[test]
fn a_day_that_is_not_proved_to_be_the_best_says_so_after_it_was_read_back() {
    let plan = plan();
    let mut repaired = plan.repaired(vec![plan.out("B@Mon").unwrap()]);
    assert_eq!(repaired.repairs[0].doubt(), None);
    repaired.repairs[0].proof = Proof::BestFound;
    let mended = mend(&published(&repaired), &[]).unwrap();
    assert!(mended.plan.repairs[0].doubt().is_some_and(|d| d.contains("best found")));
}

#[test]
fn the_timetable_comes_back_as_it_was() {
    let plan = plan();
    let mended = mend(&published(&plan), &[]).unwrap();
    assert_eq!(mended.plan.timetable, plan.timetable);
    assert_eq!(mended.plan.rotation, plan.rotation);
}

#[test]
fn all_but_the_day_keeps_its_bytes() {
    let plan = plan();
    // Not laid out as we lay it out, with a field of somebody else's and a number that no float holds exactly.
    let mut value: Value = serde_json::from_str(&published(&plan)).unwrap();
    value["theirs"] = serde_json::json!({"note": "kept"});
    let text = serde_json::to_string_pretty(&value)
        .unwrap()
        .replace("\"seed\": 7", "\"seed\":   7, \"odd\": 0.30000000000000000001");
    let mended = mend(&text, &texts(&["B@Mon"])).unwrap().text;
    let (mut before, mut after): (Value, Value) =
        (serde_json::from_str(&text).unwrap(), serde_json::from_str(&mended).unwrap());
    let monday = |v: &Value| v["day"] == "Mon";
    let split = |v: &mut Value| v["rotation"].as_array_mut().unwrap().retain(|s| !monday(s));
    split(&mut before);
    split(&mut after);
    assert_eq!(after.as_object_mut().unwrap().remove("repairs").unwrap()[0]["without"], serde_json::json!(["B@Mon"]));
    assert_eq!(before, after);
    assert!(mended.contains("\"seed\":   7, \"odd\": 0.30000000000000000001"));
    let at = text.find("\"rotation\"").unwrap();
    assert_eq!(text[..at], mended[..at]);
}

#[test]
fn a_changed_session_carries_its_mark() {
    let mended = mend(&published(&plan()), &texts(&["Lab@Mon"])).unwrap();
    let value: Value = serde_json::from_str(&mended.text).unwrap();
    let marked: Vec<&Value> =
        value["rotation"].as_array().unwrap().iter().filter(|s| s.get("change").is_some()).collect();
    assert_eq!(marked.len(), value["repairs"][0]["changes"].as_array().unwrap().len());
    assert!(marked.iter().all(|s| s["day"] == "Mon" && s["room"] != "Lab"), "{marked:?}");
}

#[test]
fn what_is_no_plan_is_refused() {
    for text in ["", "{}", "[]", "null", "{\"schema\": \"sheaf.plan/1\"}", "{\"schema\": 3"] {
        assert!(matches!(mend(text, &[]), Err(MendError::NotAPlan(_))), "{text}");
    }
    let old = published(&plan()).replace("\"setup\":", "\"another\":");
    assert_eq!(mend(&old, &texts(&["B@Mon"])), Err(MendError::NoTimetable));
    let other = published(&plan()).replace("sheaf.plan/1", "sheaf.plan/9");
    assert!(mend(&other, &[]).unwrap_err().to_string().contains("sheaf.plan/9"));
    assert!(matches!(mend(&published(&plan()), &texts(&["C@Mon"])), Err(MendError::Out(_))));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_mangled_plan_is_an_error_or_a_plan(at in 0usize..6000, with in "[\\x20-\\x7e]{0,3}", n_gone in 0usize..9) {
        let mut text = published(&plan());
        let at = at % text.len();
        let end = (at + n_gone).min(text.len());
        text.replace_range(at..end, &with);
        if let Ok(mended) = mend(&text, &texts(&["B@Mon"])) {
            // As it came: a number beyond every float is still JSON.
            prop_assert!(serde_json::from_str::<&serde_json::value::RawValue>(&mended.text).is_ok());
        }
    }
}
