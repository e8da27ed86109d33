//! `/movement`: who is stuck, close, not yet taught, lost or changed an idea, what to try; growth beside chance; who changed groups.
//!
//! In:  a [`Movement`] of the weeks asked for. Out: the page; nothing is decided or counted here that the value does not hold.
//! Nothing is folded at first: browsers cut a print off inside what is folded (`the_movement_page_prints_to_its_end`, acceptance).
//! Keeps: what is too little to say is said (`too_few_is_said`, in the core); every child is in one list of verdicts
//! (`every_child_is_in_one_list`). Not here: the picture's places (`flow_picture`), the memo (`memo`).

use super::flow_picture::{Panel, panels, short_date};
use super::hatch::{Badge, badge};
use super::memo::{PartRow, part_row};
use super::{Frame, Here, PageAnswer, html, render, text};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use jiff::civil::Date;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Stage, Week};
use sheaf_core::movement::{
    ChildWeeks, CoreProblem, Decided, FEWEST_TOLD, Flow, Growth, Movement, StateChanges, Verdict, WayKind,
};
use sheaf_core::plan::group_number;
use sheaf_core::skills::SkillGraph;

/// `?from=DATE&to=DATE`.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
}

/// How a verdict is written: a mark that a copier keeps, words, and what they mean.
struct Manner {
    verdict: Verdict,
    anchor: &'static str,
    mark: &'static str,
    words: &'static str,
    meaning: &'static str,
    is_open: bool,
}

const fn manner(
    verdict: Verdict,
    anchor: &'static str,
    mark: &'static str,
    words: &'static str,
    meaning: &'static str,
) -> Manner {
    let is_open = matches!(verdict, Verdict::ChangeSomething | Verdict::Lost | Verdict::NotYetTaught | Verdict::Close);
    Manner { verdict, anchor, mark, words, meaning, is_open }
}

/// In the order in which a coach wants them.
const MANNERS: [Manner; 7] = [
    manner(
        Verdict::ChangeSomething,
        "change-something",
        "✕",
        "Change something",
        "Three weeks with one target, most of the time given, eight fresh items or more, and the range of the share lies under the cut.",
    ),
    manner(Verdict::Lost, "lost", "↓", "Lost", "Was confirmed, and is under the cut again."),
    manner(
        Verdict::NotYetTaught,
        "not-yet-taught",
        "○",
        "Not yet taught",
        "Under half of the planned time was given; nothing is said about learning.",
    ),
    manner(Verdict::Close, "close", "◐", "Close", "The range of the share spans the cut."),
    manner(
        Verdict::NotEnough,
        "not-enough",
        "?",
        "Too little to say",
        "Too few items or weeks, time not noted, or answers that look guessed.",
    ),
    manner(Verdict::Met, "met", "●", "Met", "At the cut on the last check, or confirmed."),
    manner(Verdict::Left, "left", "–", "Not here", "In no sheet of the last week."),
];

struct ChildRow {
    who: String,
    id: String,
    homeroom: String,
    badge: Option<Badge>,
    /// The page of that group in the week in which the child sat there.
    group_page: String,
    skill: String,
    skill_name: String,
    reason: String,
    next: String,
}

struct Section {
    manner: &'static Manner,
    rows: Vec<ChildRow>,
}

struct GrowthRow {
    who: String,
    skill: String,
    n_checks: usize,
    from: String,
    to: String,
    by_chance: String,
    says: &'static str,
    trend: String,
    line: String,
    aim: String,
}

struct SeatRow {
    words: String,
    stayed: String,
    changed: String,
    n_changed: usize,
    comes_and_goes: String,
    agreement: String,
}

struct ChangeRow {
    words: String,
    n: usize,
    newly_met: usize,
    no_longer_met: usize,
    kappa: String,
    says: String,
}

struct DecidedRow {
    week: String,
    group: Badge,
    group_page: String,
    who: String,
    words: String,
}

/// Weeks to choose from.
struct WeekChoice {
    date: String,
    words: String,
    is_from: bool,
    is_to: bool,
}

struct MovementView {
    span: String,
    n_students: usize,
    gaps: Option<String>,
    sections: Vec<Section>,
    changed_ideas: Vec<ChildRow>,
    by_chance: String,
    growth: Vec<GrowthRow>,
    has_aim: bool,
    regrouping: String,
    panels: Vec<Panel>,
    seats: Vec<SeatRow>,
    changes: Vec<ChangeRow>,
    decided: Vec<DecidedRow>,
    parts: Vec<PartRow>,
    fewest: usize,
    core_problems: Vec<String>,
    /// The last week, as a date.
    memo_of: String,
}

#[derive(Template)]
#[template(path = "movement.html")]
struct MovementPage {
    frame: Frame,
    choices: Vec<WeekChoice>,
    error: Option<String>,
    view: Option<MovementView>,
}

/// The page.
pub(crate) async fn show(service: Service, asked: web::Query<Asked>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, &asked)).await?))
}

fn page(service: &Service, asked: &Asked) -> Result<String, AppError> {
    let week = |text: &str| (!text.is_empty()).then(|| Week::parse(text)).transpose();
    let read = || service.weeks.movement(week(&asked.from)?, week(&asked.to)?);
    let (view, error) = match read() {
        Ok(movement) => (Some(view_of(&movement, &service.weeks.knowledge().graph)), None),
        Err(e) if matches!(e.kind, ErrorKind::NotFound | ErrorKind::Input) => {
            (None, Some(text::as_sentence(&e.message)))
        }
        Err(e) => return Err(e),
    };
    let choices = choices(service, asked)?;
    render(&MovementPage { frame: Frame::new(service, Here::Movement, "Movement", None)?, choices, error, view })
}

fn choices(service: &Service, asked: &Asked) -> Result<Vec<WeekChoice>, AppError> {
    let weeks = service.weeks.weeks()?;
    let planned = weeks.iter().filter(|o| matches!(o.stage, Stage::Planned | Stage::PlanBehind));
    let mut choices: Vec<WeekChoice> = planned
        .map(|o| {
            let date = o.week.to_string();
            let (is_from, is_to) = (date == asked.from, date == asked.to);
            WeekChoice { words: text::week_words(o.week), is_from, is_to, date }
        })
        .collect();
    choices.reverse();
    let n = choices.len();
    if let Some(first) = choices.first_mut().filter(|_| asked.from.is_empty()) {
        first.is_from = true;
    }
    if let Some(last) = choices.get_mut(n.saturating_sub(1)).filter(|_| asked.to.is_empty()) {
        last.is_to = true;
    }
    Ok(choices)
}

fn view_of(m: &Movement, graph: &SkillGraph) -> MovementView {
    let rows = |verdict| m.students.iter().filter(move |s| s.judged.verdict == verdict);
    let section = |manner: &'static Manner| Section {
        manner,
        rows: rows(manner.verdict).map(|s| child_row(s, &m.weeks, graph)).collect(),
    };
    let ends = [m.weeks.first(), m.weeks.last()].into_iter().flatten().map(|w| short_date(*w)).collect::<Vec<_>>();
    MovementView {
        span: if m.weeks.len() == 1 { ends[..1].join("") } else { ends.join(" to ") },
        n_students: m.students.len(),
        gaps: m.gaps(),
        sections: MANNERS.iter().map(section).collect(),
        changed_ideas: m
            .students
            .iter()
            .filter(|s| s.judged.changed_idea.is_some())
            .map(|s| child_row(s, &m.weeks, graph))
            .collect(),
        by_chance: m.by_chance.sentence(),
        growth: (0..m.students.len()).filter_map(|at| growth_row(m, at)).collect(),
        has_aim: (0..m.students.len()).any(|at| m.growth_in_target(at).is_some_and(|g| g.aim.is_some())),
        regrouping: m.regrouping.sentence(),
        panels: panels(&m.weeks, &m.flows),
        core_problems: m.core_problems.iter().map(CoreProblem::sentence).collect(),
        changes: m.state_changes.iter().map(change_row).collect(),
        decided: m.decided().iter().map(decided_row).collect(),
        parts: m.parts.iter().map(part_row).collect(),
        fewest: FEWEST_TOLD,
        memo_of: m.weeks.last().map(ToString::to_string).unwrap_or_default(),
        seats: m
            .flows
            .iter()
            .zip(&m.agreement)
            .map(|((week, flows), (_, index))| seat_row(short_date(*week), flows, *index))
            .collect(),
    }
}

/// Where the last group of a child is told whole.
fn group_page(child: &ChildWeeks, weeks: &[Date]) -> String {
    let placed = child.weeks.iter().zip(weeks).rev();
    let mut places = placed.filter_map(|(w, monday)| Some((monday, w.as_ref()?.group.as_deref()?)));
    places.next().map_or_else(String::new, |(monday, group)| format!("/groups/{monday}/{group}"))
}

fn child_row(child: &ChildWeeks, weeks: &[Date], graph: &SkillGraph) -> ChildRow {
    ChildRow {
        who: child.student.shown().to_owned(),
        id: if child.student.name.is_empty() { String::new() } else { child.student.id.to_string() },
        homeroom: child.student.homeroom.clone(),
        badge: child.last_group().map(badge),
        group_page: group_page(child, weeks),
        skill: child.skill.to_string(),
        skill_name: graph.name(&child.skill).to_owned(),
        reason: child.judged.reason.clone(),
        next: child.next.clone(),
    }
}

fn change_row((week, c): &(Date, StateChanges)) -> ChangeRow {
    ChangeRow {
        words: short_date(*week),
        n: c.n,
        newly_met: c.newly_met,
        no_longer_met: c.no_longer_met,
        kappa: c.kappa.map_or("–".to_owned(), |k| format!("{k:.2}")),
        says: c.says().to_owned(),
    }
}

fn decided_row(d: &Decided<'_>) -> DecidedRow {
    DecidedRow {
        week: short_date(d.week),
        group: badge(d.group),
        group_page: format!("/groups/{}/{}", d.week, d.group),
        who: d.child.map_or("the group".to_owned(), |c| c.shown().to_owned()),
        words: d.words.clone(),
    }
}

fn percent(share: f64) -> String {
    format!("{:.0}\u{a0}%", 100.0 * share)
}

fn growth_row(m: &Movement, at: usize) -> Option<GrowthRow> {
    let (child, growth) = (m.students.get(at)?, m.growth_in_target(at)?);
    (growth.n_checks > 1).then(|| GrowthRow {
        who: child.student.shown().to_owned(),
        skill: growth.skill.to_string(),
        n_checks: growth.n_checks,
        from: percent(growth.from),
        to: percent(growth.to),
        by_chance: percent(growth.by_chance),
        says: change_words(growth),
        trend: trend_words(growth.trend.map(|t| (t.slope, t.low, t.high))),
        line: trend_words(growth.least_squares),
        aim: growth.aim.map_or(String::new(), |a| a.sentence()),
    })
}

fn change_words(growth: &Growth) -> &'static str {
    match (growth.is_reliable, growth.to > growth.from) {
        (true, true) => "▲ beyond its error",
        (true, false) => "▼ beyond its error",
        (false, _) => "· within its error",
    }
}

fn trend_words(slope: Option<(f64, f64, f64)>) -> String {
    slope.map_or("too few weeks".to_owned(), |(slope, low, high)| {
        format!("{:+.0} ({:+.0} to {:+.0})", 100.0 * slope, 100.0 * low, 100.0 * high)
    })
}

fn number(group: Option<&String>) -> String {
    group.map_or("no seat".to_owned(), |id| badge(id).number)
}

fn seat_row(words: String, flows: &[Flow], index: Option<f64>) -> SeatRow {
    let told = |kind: WayKind| {
        let mut flows: Vec<&Flow> = flows.iter().filter(|f| f.kind() == kind).collect();
        let place = |g: &Option<String>| g.as_deref().and_then(group_number).unwrap_or(usize::MAX);
        flows.sort_by_key(|f| (place(&f.from), place(&f.to)));
        let words: Vec<String> = flows
            .iter()
            .map(|f| match kind {
                WayKind::Stayed => format!("{}: {}", number(f.to.as_ref()), f.n_students),
                _ => format!("{} → {}: {}", number(f.from.as_ref()), number(f.to.as_ref()), f.n_students),
            })
            .collect();
        if words.is_empty() { "nobody".to_owned() } else { words.join(", ") }
    };
    SeatRow {
        words,
        stayed: told(WayKind::Stayed),
        changed: told(WayKind::Changed),
        n_changed: flows.iter().filter(|f| f.kind() == WayKind::Changed).map(|f| f.n_students).sum(),
        comes_and_goes: told(WayKind::ComesOrGoes),
        agreement: index.map_or("too few to compare".to_owned(), |i| format!("{i:.2}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_child_is_in_one_list() {
        let verdicts = [
            Verdict::Met,
            Verdict::Close,
            Verdict::ChangeSomething,
            Verdict::NotYetTaught,
            Verdict::NotEnough,
            Verdict::Lost,
            Verdict::Left,
        ];
        for verdict in verdicts {
            assert_eq!(MANNERS.iter().filter(|m| m.verdict == verdict).count(), 1, "{verdict:?}");
        }
        let mut marks: Vec<&str> = MANNERS.iter().map(|m| m.mark).collect();
        marks.sort_unstable();
        marks.dedup();
        assert_eq!(marks.len(), MANNERS.len(), "no mark twice");
    }

    #[test]
    fn the_table_tells_what_the_picture_draws() {
        let flow = |from: &str, to: &str, n_students| Flow { from: Some(from.into()), to: Some(to.into()), n_students };
        let flows = [flow("g1", "g10", 1), flow("g1", "g2", 2), flow("g2", "g2", 3)];
        let row = seat_row("9 Feb".into(), &flows, None);
        assert_eq!((row.stayed.as_str(), row.changed.as_str(), row.n_changed), ("2: 3", "1 → 2: 2, 1 → 10: 1", 3));
        assert_eq!((row.comes_and_goes.as_str(), row.agreement.as_str()), ("nobody", "too few to compare"));
    }
}
