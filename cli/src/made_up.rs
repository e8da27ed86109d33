//! A small invented plan for the tests of this crate.
//! Not here: anything that a command uses; nothing outside the tests may see this file.

use jiff::civil::date;
use sheaf_core::finding::Finding;
use sheaf_core::plan::{
    Group, MeasuredSkill, Plan, Quality, SkillReport, SkillState, StudentReport, Unplaced, UnplacedKind,
};
use sheaf_core::roster::{Day, Minutes, StudentId, TimeSpan};
use sheaf_core::rotation::Session;
use sheaf_core::skills::SkillCode;

fn student(id: &str, name: &str, group: Option<usize>, why: &str) -> StudentReport {
    StudentReport {
        id: StudentId::parse(id).unwrap(),
        name: name.to_owned(),
        grade: "4".to_owned(),
        homeroom: "4B".to_owned(),
        supports: Vec::new(),
        group,
        profile: vec![SkillReport {
            skill: 0,
            mastery: 0.2,
            share_low: 0.1,
            share_high: 0.5,
            n_items: 4,
            points: 1.0,
            points_possible: 4.0,
            state: SkillState::NotYet,
        }],
        patterns: Vec::new(),
        why: why.to_owned(),
        second_choice: None,
        fit: 0.5,
    }
}

fn session(start: u16, staff: Option<&str>) -> Session {
    Session {
        block: "mon-1".to_owned(),
        time: TimeSpan::new(Day::Mon, Minutes(start), Minutes(start + 30)).unwrap(),
        group: "g1".to_owned(),
        station: "Table".to_owned(),
        staff: staff.map(str::to_owned),
        room: None,
        skill: "4.NF.A.1".to_owned(),
        expected: vec!["0417".to_owned()],
    }
}

pub fn plan() -> Plan {
    let code = SkillCode::parse("4.NF.A.1").unwrap();
    Plan {
        week: Some(date(2026, 2, 2)),
        seed: 7,
        inputs: Vec::new(),
        findings: vec![
            Finding::note("hidden-rows", "Row 9 is hidden.", "read all the same"),
            Finding::warning("no-id", "There is no id column.", "the name serves").at("week1.csv", "", ""),
            Finding::error("points-over-maximum", "7 of 4 points.", "taken as not taken").at("week1.csv", "", "C17"),
        ],
        items: Vec::new(),
        skills: vec![MeasuredSkill { code: code.clone(), name: "equal fractions".to_owned(), n_items: 4 }],
        students: vec![
            student("0417", "Ada Lund", Some(0), "Shows 1 of 4 on equal fractions."),
            student("0533", "", Some(0), "Sits here to fill the group."),
            student("0600", "Bo Riis", None, ""),
        ],
        unplaced: vec![Unplaced { student: 2, kind: UnplacedKind::Waits, reason: "No seat was left.".to_owned() }],
        groups: vec![Group {
            id: "g1".to_owned(),
            name: "Group 1".to_owned(),
            members: vec![0, 1],
            target_skill: code,
            error_pattern: None,
            need: 0.5,
            is_intensive: false,
            notes: vec!["The earliest skill that most lack.".to_owned()],
        }],
        rotation: vec![session(540, Some("Teacher A")), session(600, None)],
        rotation_notes: vec!["Every group has one led session.".to_owned()],
        timetable: sheaf_core::plan::Timetable::default(),
        repairs: Vec::new(),
        tickets: Vec::new(),
        quality: Quality::default(),
    }
}
