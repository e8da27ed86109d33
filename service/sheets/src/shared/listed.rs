//! A row a child, and a row a child and skill.
//!
//! In:  the plan, the words for wrong ideas. Out: the tables with names; what names a child is taken out by the caller.
//! Keeps: every child of the plan stands in one row of the groups (`every_child_is_in_one_row`). Not here: counts (`counted`).

use super::{Field, Kind, Table, field, number};
use sheaf_core::plan::{Plan, SkillReport, StudentReport};
use sheaf_core::profile::ErrorCatalogue;

const ID: Field = field("id", Kind::Text, "The school's id of the child.");
const NAME: Field = field("name", Kind::Text, "Name as the school gave it.");
const GRADE: Field = field("grade", Kind::Text, "Grade as the school gave it.");
const HOMEROOM: Field = field("homeroom", Kind::Text, "Homeroom as the school gave it.");
const GROUP: Field = field("group", Kind::Text, "Number of the group as it is called; empty without a seat.");

pub(super) fn groups(plan: &Plan, catalogue: &ErrorCatalogue) -> Table {
    let fields = vec![
        ID,
        NAME,
        GRADE,
        HOMEROOM,
        GROUP,
        field(
            "place",
            Kind::Text,
            "seated; waits (needs a seat, none was left); no-need (lacks nothing measured); no-scores.",
        ),
        field("target_skill", Kind::Text, "Code of the skill that the group is taught."),
        field("target_name", Kind::Text, "The same in words."),
        field("lacks_target", Kind::Truth, "Whether the probability of holding the target is under one half."),
        field("points", Kind::Number, "Points got on items that need the target."),
        field("points_possible", Kind::Number, "Points possible on them."),
        field(
            "wrong_idea",
            Kind::Text,
            "The wrong idea most seen in the chosen options, in words; a hint, never proof.",
        ),
        field("times_seen", Kind::Number, "How often it was seen; an option with two meanings counts half for each."),
        field("chances", Kind::Whole, "Answered items that offered it."),
        field("second_choice", Kind::Text, "The next best group."),
        field("why", Kind::Text, "Why the child sits there, in one sentence."),
    ];
    let rows = plan.students.iter().enumerate().map(|(at, s)| group_row(plan, at, s, catalogue)).collect();
    Table { name: "groups.csv", about: "A row a child: where the child sits, and why.", key: &["id"], fields, rows }
}

fn group_row(plan: &Plan, at: usize, student: &StudentReport, catalogue: &ErrorCatalogue) -> Vec<String> {
    let group = student.group.and_then(|g| plan.groups.get(g));
    let target = group.map(|g| &g.target_skill);
    let skill = target.and_then(|code| plan.skills.iter().position(|s| s.code == *code));
    let on_target = student.profile.iter().find(|r| Some(r.skill) == skill);
    let idea = student.patterns.first().filter(|p| p.seen > 0.0);
    let place = plan.unplaced.iter().find(|u| u.student == at).map_or("seated", |u| u.kind.word());
    let second = student.second_choice.and_then(|g| plan.groups.get(g));
    let name_of = |g: &sheaf_core::plan::Group| g.name.clone();
    let [id, name, grade, homeroom] = who(student);
    vec![
        id,
        name,
        grade,
        homeroom,
        group.map_or_else(String::new, name_of),
        place.to_owned(),
        target.map_or_else(String::new, ToString::to_string),
        skill.and_then(|s| plan.skills.get(s)).map_or_else(String::new, |s| s.name.clone()),
        on_target.map_or_else(String::new, |r| r.is_lacked().to_string()),
        on_target.map_or_else(String::new, |r| number(r.points)),
        on_target.map_or_else(String::new, |r| number(r.points_possible)),
        idea.map_or_else(String::new, |p| catalogue.idea(&p.code).to_owned()),
        idea.map_or_else(String::new, |p| number(p.seen)),
        idea.map_or_else(String::new, |p| p.chances.to_string()),
        second.map_or_else(String::new, name_of),
        student.why.clone(),
    ]
}

fn who(student: &StudentReport) -> [String; 4] {
    [student.id.to_string(), student.name.clone(), student.grade.clone(), student.homeroom.clone()]
}

pub(super) fn needs(plan: &Plan) -> Table {
    let fields = vec![
        ID,
        NAME,
        GRADE,
        HOMEROOM,
        GROUP,
        field("skill", Kind::Text, "Code of the skill."),
        field("skill_name", Kind::Text, "The same in words."),
        field("items", Kind::Whole, "Scored items that need the skill."),
        field("points", Kind::Number, "Points got on them."),
        field("points_possible", Kind::Number, "Points possible on them."),
        field("share_low", Kind::Share, "Lower end of the 80 % interval of the share of points."),
        field("share_high", Kind::Share, "Upper end of it."),
        field("mastery", Kind::Share, "Probability that the child holds the skill; under one half the child lacks it."),
        field("state", Kind::Text, "not-enough (under three items), not-yet, close, met-once, confirmed or lost."),
    ];
    let rows = plan.students.iter().flat_map(|s| s.profile.iter().map(move |r| need_row(plan, s, r))).collect();
    let about = "A row a child and skill that was measured for the child.";
    Table { name: "needs.csv", about, key: &["id", "skill"], fields, rows }
}

fn need_row(plan: &Plan, student: &StudentReport, report: &SkillReport) -> Vec<String> {
    let skill = plan.skills.get(report.skill);
    let group = student.group.and_then(|g| plan.groups.get(g));
    let [id, name, grade, homeroom] = who(student);
    vec![
        id,
        name,
        grade,
        homeroom,
        group.map_or_else(String::new, |g| g.name.clone()),
        skill.map_or_else(String::new, |s| s.code.to_string()),
        skill.map_or_else(String::new, |s| s.name.clone()),
        report.n_items.to_string(),
        number(report.points),
        number(report.points_possible),
        number(report.share_low),
        number(report.share_high),
        number(report.mastery),
        report.state.word().to_owned(),
    ]
}
