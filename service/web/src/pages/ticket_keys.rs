//! `/tickets/{date}/keys`: the keys for staff, with what each wrong answer may mean and how sure a ticket is.
//!
//! In:  the week's plan and the cut. Out: a table a ticket; what 3, 4 or 5 of 5 says, how often the cut is passed, and how a child who
//! only guesses comes out. Not here: the figures (`sheaf_core::tickets`), the children's pages (`tickets`).

use super::groups::plan_of;
use super::hatch::{Badge, badge};
use super::maths::{Piece, pieces};
use super::tickets::PART_LABELS;
use super::{Frame, Here, PageAnswer, html, render, text};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::Week;
use sheaf_core::plan::Plan;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::{Ticket, TicketItem, guesser, needed, passes, right_says};

struct KeyRow {
    number: usize,
    key: Vec<Vec<Piece>>,
    points: String,
    skill: String,
    skill_name: String,
    /// What a wrong answer may mean.
    meanings: Vec<(String, String)>,
    /// `easier` or `harder`, where it was drawn to be.
    level: Option<&'static str>,
}

struct KeyView {
    badge: Badge,
    form_code: String,
    rows: Vec<KeyRow>,
    /// How a child who only guesses comes out.
    guesser: String,
}

/// What a count of right answers says, beside the cut.
struct SurenessView {
    n_items: usize,
    n_needed: usize,
    /// Right answers, and the interval of the true share.
    rows: Vec<(usize, String)>,
    /// How often children of a true share reach the cut, once and twice.
    passes: Vec<(String, String, String)>,
}

#[derive(Template)]
#[template(path = "keys.html")]
struct KeysPage {
    frame: Frame,
    tickets: Option<Vec<KeyView>>,
    sureness: Option<SurenessView>,
}

/// The keys.
pub(crate) async fn show(service: Service, path: web::Path<String>) -> PageAnswer {
    let body = run(&service, move |s| {
        let week = Week::parse(&path)?;
        let (plan, cut) = (plan_of(s, week)?, s.weeks.setup().school.mastery.cut);
        render(&KeysPage {
            frame: Frame::new(s, Here::Tickets, "Ticket keys", Some(week))?,
            sureness: plan.as_ref().and_then(|p| sureness(&p.plan, cut)),
            tickets: plan.map(|p| key_views(&p.plan, s.weeks.knowledge(), cut)),
        })
    });
    Ok(html(body.await?))
}

fn key_views(plan: &Plan, knowledge: &Knowledge, cut: f64) -> Vec<KeyView> {
    let view = |t: &Ticket| KeyView {
        badge: badge(&t.group),
        form_code: t.form_code.clone(),
        rows: t.items.iter().map(|item| key_row(item, knowledge)).collect(),
        guesser: guesser_words(t, cut),
    };
    plan.tickets.iter().map(view).collect()
}

fn key_row(item: &TicketItem, knowledge: &Knowledge) -> KeyRow {
    let mut meanings = meanings(item, "", knowledge);
    for (part, label) in item.parts.iter().zip(PART_LABELS) {
        meanings.extend(self::meanings(part, label, knowledge));
    }
    let code = SkillCode::parse(&item.skill);
    KeyRow {
        number: item.number,
        key: keys_shown(item).iter().map(|k| pieces(k)).collect(),
        points: text::points(item.points),
        skill: item.skill.clone(),
        skill_name: code.map(|c| knowledge.graph.name(&c).to_owned()).filter(|n| *n != item.skill).unwrap_or_default(),
        meanings,
        level: item.level.word(),
    }
}

/// The key, each part's with its name.
fn keys_shown(item: &TicketItem) -> Vec<String> {
    if item.parts.is_empty() {
        return item.key.clone();
    }
    item.parts.iter().zip(PART_LABELS).map(|(part, label)| format!("{label} {}", part.key.join(", "))).collect()
}

/// Wrong answer and the idea behind it, for every wrong answer that has one.
fn meanings(item: &TicketItem, label: &str, knowledge: &Knowledge) -> Vec<(String, String)> {
    let idea = |code: &str| knowledge.catalogue.idea(code).to_owned();
    let options = item.options.iter().flat_map(|o| o.patterns.iter().map(move |p| (o.label.clone(), p)));
    let rows = item.rows.iter().enumerate().flat_map(|(row_idx, r)| {
        r.patterns.iter().map(move |(column, p)| (format!("row {}: {column}", row_idx + 1), p))
    });
    let entries = item.wrong_entries.iter().map(|(entry, p)| (entry.clone(), p));
    options
        .chain(rows)
        .chain(entries)
        .map(|(answer, p)| (format!("{label} {answer}").trim().to_owned(), idea(p)))
        .collect()
}

/// True shares that are told: of those who need not come again, and of those who need more.
const TRUTHS: [f64; 4] = [0.9, 0.8, 0.6, 0.5];

/// For tickets of the usual length.
fn sureness(plan: &Plan, cut: f64) -> Option<SurenessView> {
    let n_items = plan.tickets.iter().map(|t| t.items.len()).max()?;
    let n_needed = needed(n_items, cut);
    let row = |right: usize| {
        let says = right_says(right, n_items);
        (right, format!("{:.0} to {:.0} %", says.low * 100.0, says.high * 100.0))
    };
    let passed = |truth: f64| {
        let once = passes(n_items, n_needed, truth);
        (format!("{:.0} %", truth * 100.0), in_hundred(once), in_hundred(once * once))
    };
    let from = n_needed.saturating_sub(1);
    Some(SurenessView {
        n_items,
        n_needed,
        rows: (from..=n_items).map(row).collect(),
        passes: TRUTHS.map(passed).to_vec(),
    })
}

/// `7 of 100`, or `fewer than 1 of 100`.
fn in_hundred(chance: f64) -> String {
    match (chance * 100.0).round() {
        n if n >= 1.0 => format!("{n} of 100"),
        _ => "fewer than 1 of 100".to_owned(),
    }
}

fn guesser_words(ticket: &Ticket, cut: f64) -> String {
    let (n_items, n_needed) = (ticket.items.len(), needed(ticket.items.len(), cut));
    let chances = guesser(&ticket.items, n_needed);
    format!(
        "A child who only guesses has {n_needed} of {n_items} right {}, some wrong idea twice {} and often enough to be called likely {}.",
        in_hundred(chances.passes),
        in_hundred(chances.looks_possible),
        in_hundred(chances.looks_likely)
    )
}
