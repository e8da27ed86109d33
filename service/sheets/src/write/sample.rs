//! Plans built by hand for the tests of this folder; children and adults are invented.
//! Not here: plans that were worked out; those tests belong to the acceptance tests.

use jiff::civil::date;
use sheaf_core::finding::Finding;
use sheaf_core::plan::{
    Group, InputSummary, ItemReport, MeasuredSkill, PatternReport, Plan, Quality, SkillReport, SkillState,
    StudentReport, Unplaced, UnplacedKind,
};
use sheaf_core::profile::ErrorCatalogue;
use sheaf_core::roster::{Day, Minutes, StudentId, TimeSpan};
use sheaf_core::rotation::Session;
use sheaf_core::scores::ItemKind;
use sheaf_core::skills::{SkillCode, SkillGraph};
use sheaf_core::tickets::{Drawing, Level, MatchRow, ParamValue, Ticket, TicketItem, TicketOption};
use std::collections::BTreeMap;

pub(super) const SCALING: &str = "5.NF.B.5a";
pub(super) const EQUIVALENCE: &str = "4.NF.A.1";

pub(super) fn code(text: &str) -> SkillCode {
    SkillCode::parse(text).unwrap()
}

pub(super) fn graph() -> SkillGraph {
    SkillGraph::parse(
        "code,grade,name,prerequisites\n4.NF.A.1,4,Equal fractions,\n5.NF.B.5a,5,Scaling without working out,4.NF.A.1\n",
    )
    .unwrap()
}

pub(super) fn catalogue() -> ErrorCatalogue {
    ErrorCatalogue::parse(
        "code,skills,idea,look_for,source\n\
         scale-always-bigger,5.NF.B.5a,takes multiplying to make every number larger,says 8 times 3/4 is more than 8,invented\n",
    )
    .unwrap()
}

/// The sheets of [`plan`], for the week that begins on a day of February.
pub(crate) fn sheets(day: i8) -> super::OurSheets {
    let plan = Plan { week: Some(date(2026, 2, day)), ..plan() };
    sheets_of(&plan)
}

/// The sheets of a plan.
pub(crate) fn sheets_of(plan: &Plan) -> super::OurSheets {
    super::staff_sheets(plan, None, &graph(), &catalogue(), None).unwrap()
}

/// Eight students: two groups of three and two, one who waits, one without need, one without scores.
pub(crate) fn plan() -> Plan {
    let students = vec![
        student("0001", "Ana Reyes", Some(0)),
        student("0002", "Bo Lindt", Some(0)),
        student("0003", "Cy Moor", Some(0)),
        student("0004", "Dee Park", Some(1)),
        student("0005", "", Some(1)),
        student("0006", "Flo West", None),
        student("0007", "Gus Hale", None),
        student("0008", "Ida Noor", None),
    ];
    Plan {
        week: Some(date(2026, 2, 2)),
        seed: 7,
        inputs: vec![InputSummary {
            file: "week1.xlsx".into(),
            sha256: "0".repeat(64),
            sheet: "Quiz".into(),
            n_students: 8,
            n_items: 2,
        }],
        findings: vec![
            Finding::note("hidden-row", "Row 9 is hidden.", "It was read.").at("week1.xlsx", "Quiz", "A9"),
            Finding::error("unreadable-cell", "The cell holds #REF!.", "Counted as not taken.").at(
                "week1.xlsx",
                "Quiz",
                "C17",
            ),
        ],
        items: vec![item_report("Q1", Some(0.5)), item_report("Q2", None)],
        skills: vec![measured(EQUIVALENCE, "Equal fractions"), measured(SCALING, "Scaling without working out")],
        students,
        unplaced: vec![
            unplaced(5, UnplacedKind::Waits, "One more led block on Tuesday would give a seat."),
            unplaced(6, UnplacedKind::NoNeed, "Lacks no measured skill."),
            unplaced(7, UnplacedKind::NoScores, "Absent for every item."),
        ],
        groups: vec![group(1, &[0, 1, 2], SCALING), group(2, &[3, 4], EQUIVALENCE)],
        rotation: vec![
            session("g1", Day::Mon, "09:00", Some("TP"), &["0001", "0002"]),
            session("g2", Day::Mon, "09:00", None, &["0004", "0005"]),
            session("g2", Day::Tue, "13:10", Some("I1"), &["0004", "0005"]),
        ],
        rotation_notes: vec!["Every group has one led session.".into()],
        timetable: sheaf_core::plan::Timetable::default(),
        repairs: Vec::new(),
        tickets: vec![ticket("g1", "A"), ticket("g1", "B"), ticket("g2", "A")],
        quality: Quality { reliability: Some(0.714), ..Quality::default() },
    }
}

/// A plan without anybody.
pub(crate) fn empty() -> Plan {
    Plan {
        week: None,
        seed: 1,
        inputs: Vec::new(),
        findings: Vec::new(),
        items: Vec::new(),
        skills: Vec::new(),
        students: Vec::new(),
        unplaced: Vec::new(),
        groups: Vec::new(),
        rotation: Vec::new(),
        rotation_notes: Vec::new(),
        timetable: sheaf_core::plan::Timetable::default(),
        repairs: Vec::new(),
        tickets: Vec::new(),
        quality: Quality::default(),
    }
}

/// So many groups of one student each, with one ticket each.
pub(crate) fn many_groups(n_groups: usize) -> Plan {
    let ids = (0..n_groups).map(|i| format!("{i:05}"));
    Plan {
        students: ids.enumerate().map(|(i, id)| student(&id, "Kim", Some(i))).collect(),
        groups: (0..n_groups).map(|i| group(i + 1, &[i], SCALING)).collect(),
        tickets: (0..n_groups)
            .map(|i| Ticket { items: vec![choice(1)], ..ticket(&format!("g{}", i + 1), "A") })
            .collect(),
        skills: vec![measured(EQUIVALENCE, "Equal fractions"), measured(SCALING, "Scaling without working out")],
        ..empty()
    }
}

pub(super) fn student(id: &str, name: &str, group: Option<usize>) -> StudentReport {
    StudentReport {
        id: StudentId::parse(id).unwrap(),
        name: name.into(),
        grade: "5".into(),
        homeroom: "5P".into(),
        supports: vec!["read aloud".into()],
        group,
        profile: vec![skill_report(1, 1.0, SkillState::NotYet)],
        patterns: vec![PatternReport { code: "scale-always-bigger".into(), seen: 3.0, chances: 5 }],
        why: "Lacks scaling, as the others here do.".into(),
        second_choice: group.map(|_| 1),
        fit: 0.9,
    }
}

fn skill_report(skill: usize, points: f64, state: SkillState) -> SkillReport {
    SkillReport {
        skill,
        mastery: 0.1,
        share_low: 0.08,
        share_high: 0.45,
        n_items: 5,
        points,
        points_possible: 5.0,
        state,
    }
}

fn measured(skill: &str, name: &str) -> MeasuredSkill {
    MeasuredSkill { code: code(skill), name: name.into(), n_items: 5 }
}

fn item_report(label: &str, difficulty: Option<f64>) -> ItemReport {
    ItemReport {
        label: label.into(),
        skills: vec![code(SCALING), code(EQUIVALENCE)],
        n_taken: 7,
        difficulty,
        discrimination: difficulty.map(|_| 0.25),
        options: Vec::new(),
        flag: difficulty.is_none().then(|| "nobody-took-it".to_owned()),
    }
}

fn unplaced(student: usize, kind: UnplacedKind, reason: &str) -> Unplaced {
    Unplaced { student, kind, reason: reason.into() }
}

fn group(number: usize, members: &[usize], target: &str) -> Group {
    Group {
        id: format!("g{number}"),
        name: format!("Group {number}"),
        members: members.to_vec(),
        target_skill: code(target),
        error_pattern: (target == SCALING).then(|| "scale-always-bigger".to_owned()),
        need: 1.0,
        is_intensive: false,
        notes: vec!["Two items only: take the target as a first guess.".into()],
    }
}

fn session(group: &str, day: Day, start: &str, staff: Option<&str>, expected: &[&str]) -> Session {
    let start = Minutes::parse(start).unwrap();
    Session {
        block: format!("{}-1", day.short()),
        time: TimeSpan::new(day, start, Minutes(start.0 + 30)).unwrap(),
        group: group.into(),
        station: if staff.is_some() { "Teacher table".into() } else { "Partner practice".into() },
        staff: staff.map(str::to_owned),
        room: Some("Small room".into()),
        skill: SCALING.into(),
        expected: expected.iter().map(|id| (*id).to_owned()).collect(),
    }
}

/// A ticket with one item of each kind.
pub(super) fn ticket(group: &str, form: &str) -> Ticket {
    Ticket {
        group: group.into(),
        form: form.into(),
        form_code: format!("0202-{group}-{form}"),
        items: vec![choice(1), multi_select(2), match_grid(3), two_part(4), numeric(5)],
    }
}

pub(super) fn choice(number: usize) -> TicketItem {
    TicketItem {
        number,
        model: "g5-scale-one".into(),
        version: 1,
        params: BTreeMap::from([("a".to_owned(), ParamValue::Int(3))]),
        skill: SCALING.into(),
        kind: ItemKind::Choice,
        stem: "Without working it out: how does 8 × 3/4 compare with 8?".into(),
        picture: None,
        drawing: None,
        options: ["3/4", "1/2", "5/3", "2"].iter().zip('A'..).map(|(text, label)| option(label, text)).collect(),
        rows: Vec::new(),
        columns: Vec::new(),
        parts: Vec::new(),
        key: vec!["A".into()],
        wrong_entries: Vec::new(),
        points: 1.0,
        level: Level::AsWritten,
    }
}

fn option(label: char, text: &str) -> TicketOption {
    let patterns = if label == 'B' { vec!["scale-always-bigger".to_owned()] } else { Vec::new() };
    TicketOption { label: label.to_string(), text: text.into(), patterns }
}

fn multi_select(number: usize) -> TicketItem {
    TicketItem { kind: ItemKind::MultiSelect, key: vec!["A".into(), "C".into()], ..choice(number) }
}

fn match_grid(number: usize) -> TicketItem {
    let row = |text: &str| MatchRow {
        text: text.into(),
        patterns: BTreeMap::from([("more than 8".to_owned(), "scale-always-bigger".to_owned())]),
        also: std::collections::BTreeMap::new(),
    };
    TicketItem {
        kind: ItemKind::Match,
        stem: "Mark what is true of each product.".into(),
        picture: Some("a number line from 0 to 16".into()),
        drawing: Drawing::parse("line 16 1").ok(),
        options: Vec::new(),
        rows: vec![row("8 × 2/3"), row("8 × 5/4")],
        columns: vec!["less than 8".into(), "more than 8".into()],
        key: vec!["less than 8".into(), "more than 8".into()],
        ..choice(number)
    }
}

fn two_part(number: usize) -> TicketItem {
    let part = TicketItem { stem: "Which is it?".into(), ..choice(number) };
    let reason = TicketItem { stem: "Why?".into(), key: vec!["C".into()], ..choice(number) };
    TicketItem {
        kind: ItemKind::TwoPart,
        stem: "A ribbon is cut.".into(),
        options: Vec::new(),
        parts: vec![part, reason],
        key: vec!["A".into(), "C".into()],
        ..choice(number)
    }
}

fn numeric(number: usize) -> TicketItem {
    TicketItem {
        kind: ItemKind::Numeric,
        stem: "8 × 3/4 = ?".into(),
        options: Vec::new(),
        key: vec!["6".into()],
        wrong_entries: vec![("32/3".into(), "scale-always-bigger".into())],
        ..choice(number)
    }
}
