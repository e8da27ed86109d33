//! `/tickets/{date}`: the children's pages, one ticket a page; `/tickets/{date}/keys`: the keys, for staff.
//!
//! A child's page carries the ticket and its form code, nothing about the child, the group's need or a skill's code.

use super::groups::plan_of;
use super::hatch::{Badge, badge};
use super::maths::{Piece, pieces};
use super::{Frame, Here, PageAnswer, html, render, text};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::Week;
use sheaf_core::plan::Plan;
use sheaf_core::scores::ItemKind;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::{Ticket, TicketItem};

/// Longest option that stands beside others, characters.
const SHORT_CHARS: usize = 14;
/// So many pictures leave no room for large ones.
const MANY_PICTURES: usize = 3;
/// Longest row of a grid that stands beside a wide picture, characters.
const ROW_CHARS: usize = 20;
/// Names of the parts of an item.
const PART_LABELS: [&str; 4] = ["(a)", "(b)", "(c)", "(d)"];

/// What a child answers.
struct Body {
    /// `(a)`, `(b)`; empty where there is one.
    label: &'static str,
    stem: Vec<Piece>,
    /// How to answer.
    how: &'static str,
    options: Vec<(String, Vec<Piece>)>,
    /// Whether the options are short enough to stand side by side.
    are_options_short: bool,
    columns: Vec<Vec<Piece>>,
    rows: Vec<Vec<Piece>>,
    is_written: bool,
}

struct ItemView {
    number: usize,
    /// The question; of a two-part item what stands before its parts.
    lead: Vec<Piece>,
    /// The picture as an `svg` element, whose words the core has escaped.
    drawing: Option<String>,
    /// Whether the answers stand beside the picture.
    is_beside: bool,
    bodies: Vec<Body>,
}

struct TicketView {
    badge: Badge,
    form: String,
    form_code: String,
    /// Whether pictures are printed smaller, so that the ticket fits its page.
    is_dense: bool,
    items: Vec<ItemView>,
}

struct KeyRow {
    number: usize,
    key: Vec<Vec<Piece>>,
    points: String,
    skill: String,
    skill_name: String,
    /// What a wrong answer may mean.
    meanings: Vec<(String, String)>,
}

struct KeyView {
    badge: Badge,
    form_code: String,
    rows: Vec<KeyRow>,
}

#[derive(Template)]
#[template(path = "tickets.html")]
struct TicketsPage {
    frame: Frame,
    tickets: Option<Vec<TicketView>>,
}

#[derive(Template)]
#[template(path = "keys.html")]
struct KeysPage {
    frame: Frame,
    tickets: Option<Vec<KeyView>>,
}

/// The children's pages.
pub(crate) async fn show(service: web::Data<Service>, path: web::Path<String>) -> PageAnswer {
    let body = run(&service, move |s| {
        let week = Week::parse(&path)?;
        render(&TicketsPage {
            frame: Frame::new(s, Here::Tickets, "Exit tickets", Some(week))?,
            tickets: plan_of(s, week)?.map(|p| p.plan.tickets.iter().map(ticket_view).collect()),
        })
    });
    Ok(html(body.await?))
}

/// The keys.
pub(crate) async fn keys(service: web::Data<Service>, path: web::Path<String>) -> PageAnswer {
    let body = run(&service, move |s| {
        let week = Week::parse(&path)?;
        render(&KeysPage {
            frame: Frame::new(s, Here::Tickets, "Ticket keys", Some(week))?,
            tickets: plan_of(s, week)?.map(|p| key_views(&p.plan, s.weeks.knowledge())),
        })
    });
    Ok(html(body.await?))
}

fn ticket_view(ticket: &Ticket) -> TicketView {
    TicketView {
        badge: badge(&ticket.group),
        form: ticket.form.clone(),
        form_code: ticket.form_code.clone(),
        is_dense: ticket.items.iter().filter(|item| item.drawing.is_some()).count() >= MANY_PICTURES,
        items: ticket.items.iter().map(item_view).collect(),
    }
}

fn item_view(item: &TicketItem) -> ItemView {
    let bodies = if item.parts.is_empty() {
        vec![Body { stem: Vec::new(), ..body(item, "") }]
    } else {
        item.parts.iter().zip(PART_LABELS).map(|(part, label)| body(part, label)).collect()
    };
    let words = item.picture.as_deref().unwrap_or_default();
    ItemView {
        number: item.number,
        lead: pieces(&item.stem),
        drawing: item.drawing.as_ref().map(|d| d.svg(words)),
        is_beside: item.parts.is_empty() && item.drawing.as_ref().is_some_and(|d| d.is_narrow() || are_small(item)),
        bodies,
    }
}

/// Whether what is answered is small enough to stand beside a wide picture.
fn are_small(item: &TicketItem) -> bool {
    let n_chars = |text: &String| text.chars().count();
    item.options.iter().all(|o| n_chars(&o.text) <= SHORT_CHARS)
        && item.rows.iter().all(|r| n_chars(&r.text) <= ROW_CHARS)
}

fn body(item: &TicketItem, label: &'static str) -> Body {
    Body {
        label,
        stem: pieces(&item.stem),
        how: how(item),
        options: item.options.iter().map(|o| (o.label.clone(), pieces(&o.text))).collect(),
        are_options_short: item.options.iter().all(|o| o.text.chars().count() <= SHORT_CHARS),
        columns: item.columns.iter().map(|c| pieces(c)).collect(),
        rows: item.rows.iter().map(|r| pieces(&r.text)).collect(),
        is_written: item.kind == ItemKind::Numeric,
    }
}

/// How a child answers, where neither the head of the ticket nor the question says it.
fn how(item: &TicketItem) -> &'static str {
    match item.kind {
        ItemKind::MultiSelect => "Circle every letter that is right.",
        ItemKind::Match if !item.stem.contains("each row") => "Make one mark in each row.",
        ItemKind::Match | ItemKind::Choice | ItemKind::Numeric | ItemKind::TwoPart => "",
    }
}

fn key_views(plan: &Plan, knowledge: &Knowledge) -> Vec<KeyView> {
    let view = |t: &Ticket| KeyView {
        badge: badge(&t.group),
        form_code: t.form_code.clone(),
        rows: t.items.iter().map(|item| key_row(item, knowledge)).collect(),
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
