//! `/students/{id}`: everything that the records hold of one child, for whoever teaches the child.
//!
//! In:  the child's record, as a script would get it. Out: what the latest plan says of each skill and each wrong idea, groups and reasons
//! week by week, the latest first; each figure opens to the answers that it rests on: item, answer, key, points, and the sheet that they
//! came with (`each_figure_of_a_child_opens_to_its_raw_rows`, acceptance).
//! Keeps: no figure is worked out here but counts of rows; a child whom the records do not hold is a page with the way back.
//! At its end the record as a file, and the way to forget the child, for which the id is typed
//! (`a_child_is_handed_out_and_forgotten_on_its_page`, acceptance).
//! Not here: movement beside chance (`movement`), what forgetting takes away (`sheaf_app`).

use super::{Frame, Here, PageAnswer, html, html_with, render, students, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::Week;
use sheaf_core::plan::group_number;
use sheaf_core::skills::SkillCode;

/// The record as it is published; lists that are missing are empty.
#[derive(Deserialize)]
struct Record {
    id: String,
    ids: Vec<String>,
    name: String,
    grade: Option<String>,
    homeroom: Option<String>,
    supports: Vec<String>,
    weeks: Vec<RecordWeek>,
}

#[derive(Deserialize)]
struct RecordWeek {
    week: String,
    scores: Vec<RecordMark>,
    plan: Option<RecordPlan>,
}

#[derive(Deserialize)]
struct RecordMark {
    check: String,
    item: String,
    skills: Vec<String>,
    state: String,
    answer: Option<String>,
    points: Option<f64>,
    key: Option<String>,
    points_possible: f64,
    upload: i64,
    files: String,
    sheet: String,
    ideas_offered: Vec<String>,
    ideas_shown: Vec<String>,
}

#[derive(Deserialize)]
struct RecordPlan {
    #[serde(default)]
    group: Option<String>,
    #[serde(default)]
    profile: Vec<RecordSkill>,
    #[serde(default)]
    error_patterns: Vec<RecordIdea>,
    #[serde(default)]
    why: String,
    #[serde(default)]
    reason: String,
}

#[derive(Deserialize)]
struct RecordSkill {
    skill: String,
    share_low: f64,
    share_high: f64,
    evidence: usize,
    state: String,
}

#[derive(Deserialize)]
struct RecordIdea {
    code: String,
    seen: f64,
    chances: usize,
}

/// One answer.
struct Answer {
    week: String,
    check: String,
    item: String,
    answer: String,
    key: String,
    points: String,
    /// The upload, its files and the sheet.
    upload: i64,
    came_with: String,
}

/// One wrong idea, with the answers to items that offer it.
struct IdeaView {
    words: String,
    answers: Vec<(Answer, bool)>,
}

/// One skill, with the answers behind it.
struct SkillView {
    code: String,
    name: String,
    state: String,
    range: String,
    items: String,
    answers: Vec<Answer>,
}

struct WeekView {
    date: String,
    words: String,
    group: String,
    /// Where the group has a page.
    group_id: String,
    why: String,
    n_answers: String,
    answers: Vec<Answer>,
}

#[derive(Template)]
#[template(path = "child.html")]
struct ChildPage {
    frame: Frame,
    id: String,
    other_ids: Vec<String>,
    name: String,
    about: String,
    supports: String,
    latest: Option<String>,
    skills: Vec<SkillView>,
    ideas: Vec<IdeaView>,
    weeks: Vec<WeekView>,
    /// What was typed to forget the child, and what is wrong with it.
    typed: String,
    forget_error: Option<String>,
}

/// What is typed to forget a child.
#[derive(Deserialize)]
pub(crate) struct ToForget {
    #[serde(default)]
    id: String,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, &path, None)).await?))
}

/// Forgets the child whose id was typed; on with the list of students, or here again with the reason.
pub(crate) async fn forget(service: Service, path: web::Path<String>, form: web::Form<ToForget>) -> PageAnswer {
    let (id, typed) = (path.into_inner(), form.into_inner().id);
    if typed.trim() != id {
        let page = run(&service, move |s| page(s, &id, Some(&typed))).await?;
        return Ok(html_with(status_of(ErrorKind::Input), page));
    }
    let body = run(&service, move |s| {
        let gone = s.weeks.forget(&id)?;
        students::after_forgetting(s, gone)
    });
    Ok(html(body.await?))
}

/// `typed`: an id that is not the child's, typed to forget it.
fn page(service: &Service, id: &str, typed: Option<&str>) -> Result<String, AppError> {
    let record = service.weeks.student_record(id)?;
    let record: Record = serde_json::from_value(record).map_err(AppError::our_fault)?;
    let knowledge = service.weeks.knowledge();
    let latest = record.weeks.iter().rev().find(|w| w.plan.as_ref().is_some_and(|p| !p.profile.is_empty()));
    let plan = latest.and_then(|w| w.plan.as_ref());
    let skills = plan.map_or_else(Vec::new, |p| p.profile.iter().map(|s| skill(s, &record, knowledge)).collect());
    let ideas = plan.map_or_else(Vec::new, |p| {
        p.error_patterns.iter().filter(|i| i.seen > 0.0).map(|i| idea(i, &record, knowledge)).collect()
    });
    let about = [record.grade.as_ref().map(|g| format!("Grade {g}")), record.homeroom.clone()];
    let about: Vec<String> = about.into_iter().flatten().filter(|t| t.trim() != "Grade" && !t.is_empty()).collect();
    render(&ChildPage {
        frame: Frame::new(service, Here::Students, "Student", None)?,
        other_ids: record.ids.iter().filter(|other| **other != record.id).cloned().collect(),
        name: if record.name.trim().is_empty() { record.id.clone() } else { record.name.clone() },
        about: about.join(", "),
        supports: record.supports.join(", "),
        latest: latest.map(|w| week_words(&w.week)),
        skills,
        ideas,
        weeks: record.weeks.iter().rev().map(week).collect(),
        typed: typed.unwrap_or_default().to_owned(),
        forget_error: typed.map(|_| format!("That is not this child's id; type {} to forget the child.", record.id)),
        id: record.id,
    })
}

fn week_words(date: &str) -> String {
    Week::parse(date).map_or_else(|_| date.to_owned(), text::week_words)
}

fn skill(report: &RecordSkill, record: &Record, knowledge: &Knowledge) -> SkillView {
    let of_week = |w: &RecordWeek| {
        let asked = w.scores.iter().filter(|m| m.skills.contains(&report.skill));
        asked.map(|m| answer(&w.week, m)).collect::<Vec<Answer>>()
    };
    let name = SkillCode::parse(&report.skill).map(|code| knowledge.graph.name(&code).to_owned());
    SkillView {
        code: report.skill.clone(),
        name: name.filter(|n| *n != report.skill).unwrap_or_default(),
        state: report.state.replace('-', " "),
        range: format!("{:.0} to {:.0} %", report.share_low * 100.0, report.share_high * 100.0),
        items: text::count(report.evidence, "item"),
        answers: record.weeks.iter().rev().flat_map(of_week).collect(),
    }
}

fn idea(report: &RecordIdea, record: &Record, knowledge: &Knowledge) -> IdeaView {
    let of_week = |w: &RecordWeek| {
        let offered = w.scores.iter().filter(|m| m.state != "not-taken" && m.ideas_offered.contains(&report.code));
        offered.map(|m| (answer(&w.week, m), m.ideas_shown.contains(&report.code))).collect::<Vec<_>>()
    };
    IdeaView {
        words: format!(
            "{} ({} of {} times)",
            knowledge.catalogue.idea(&report.code),
            text::points(report.seen),
            report.chances
        ),
        answers: record.weeks.iter().rev().flat_map(of_week).collect(),
    }
}

fn answer(week: &str, mark: &RecordMark) -> Answer {
    let points = match (mark.state.as_str(), mark.points) {
        ("scored", Some(points)) => format!("{} of {}", text::points(points), text::points(mark.points_possible)),
        ("scored", None) => "no key".to_owned(),
        ("omitted", _) => "left empty".to_owned(),
        _ => "not taken".to_owned(),
    };
    Answer {
        week: week.to_owned(),
        check: mark.check.clone(),
        item: mark.item.clone(),
        answer: mark.answer.clone().unwrap_or_default(),
        key: mark.key.clone().unwrap_or_default(),
        points,
        upload: mark.upload,
        came_with: if mark.sheet.is_empty() { mark.files.clone() } else { format!("{}, {}", mark.files, mark.sheet) },
    }
}

fn week(week: &RecordWeek) -> WeekView {
    let plan = week.plan.as_ref();
    let group = plan.and_then(|p| p.group.as_deref());
    let n_taken = week.scores.iter().filter(|m| m.state != "not-taken").count();
    let why = plan.map_or("", |p| if p.why.is_empty() { &p.reason } else { &p.why });
    WeekView {
        date: week.week.clone(),
        words: week_words(&week.week),
        group: match (plan, group) {
            (None, _) => "no plan".to_owned(),
            (_, None) => "no seat".to_owned(),
            (_, Some(id)) => group_number(id).map_or_else(|| id.to_owned(), |number| format!("Group {number}")),
        },
        group_id: group.unwrap_or_default().to_owned(),
        why: if why.is_empty() { String::new() } else { text::as_sentence(why) },
        n_answers: text::count(n_taken, "answer"),
        answers: week.scores.iter().filter(|m| m.state != "not-taken").map(|m| answer(&week.week, m)).collect(),
    }
}
