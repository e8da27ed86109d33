//! `/tickets/{date}`: the children's pages, one ticket a page, where a person may swap an item.
//!
//! A child's page carries the ticket and its form code, nothing about the child, the group's need or a skill's code; what is for the
//! person at the screen is not printed. Not here: the keys (`ticket_keys`), keeping a swap (`swap`).

use super::groups::plan_of;
use super::hatch::{Badge, badge};
use super::maths::{Piece, pieces};
use super::swap::{SwapChoice, choices, swapped};
use super::{Frame, Here, PageAnswer, html, render};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{MakeUp, Week};
use sheaf_core::plan::Plan;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Ticket, TicketItem};

/// Longest option that stands beside others, characters.
const SHORT_CHARS: usize = 14;
/// So many pictures leave no room for large ones.
const MANY_PICTURES: usize = 3;
/// Longest row of a grid that stands beside a wide picture, characters.
const ROW_CHARS: usize = 20;
/// Names of the parts of an item.
pub(super) const PART_LABELS: [&str; 4] = ["(a)", "(b)", "(c)", "(d)"];

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
    /// What may take its place.
    swaps: Vec<SwapChoice>,
}

struct TicketView {
    badge: Badge,
    /// Id of the group.
    group: String,
    form: String,
    form_code: String,
    /// Whether pictures are printed smaller, so that the ticket fits its page.
    is_dense: bool,
    items: Vec<ItemView>,
}

#[derive(Template)]
#[template(path = "tickets.html")]
struct TicketsPage {
    frame: Frame,
    tickets: Option<Vec<TicketView>>,
    /// The tag of the plan that is shown.
    tag: String,
    /// What was swapped, in order; the last may be undone here.
    swapped: Vec<String>,
    can_undo: bool,
    make_ups: Vec<MakeUpView>,
}

/// Children of a group who have still to take its ticket.
struct MakeUpView {
    badge: Badge,
    names: String,
    form_code: String,
}

/// The children's pages.
pub(crate) async fn show(service: Service, path: web::Path<String>) -> PageAnswer {
    let body = run(&service, move |s| {
        let week = Week::parse(&path)?;
        let (plan, knowledge) = (plan_of(s, week)?, s.weeks.knowledge());
        let (swapped, can_undo) = match &plan {
            Some(plan) => swapped(&plan.plan, &s.weeks.decisions(week)?, knowledge),
            None => (Vec::new(), false),
        };
        let make_ups = match &plan {
            Some(plan) => s.weeks.make_ups(week)?.iter().map(|m| make_up_view(&plan.plan, m)).collect(),
            None => Vec::new(),
        };
        render(&TicketsPage {
            frame: Frame::new(s, Here::Tickets, "Exit tickets", Some(week))?,
            tag: plan.as_ref().map(|p| p.tag.clone()).unwrap_or_default(),
            tickets: plan.map(|p| p.plan.tickets.iter().map(|t| ticket_view(t, knowledge)).collect()),
            swapped,
            can_undo,
            make_ups,
        })
    });
    Ok(html(body.await?))
}

fn make_up_view(plan: &Plan, make_up: &MakeUp) -> MakeUpView {
    let name = |s: &usize| plan.students.get(*s).map(|child| child.shown_name().to_owned());
    MakeUpView {
        badge: badge(&make_up.group),
        names: make_up.missing.iter().filter_map(name).collect::<Vec<_>>().join(", "),
        form_code: make_up.form_code.clone(),
    }
}

fn ticket_view(ticket: &Ticket, knowledge: &Knowledge) -> TicketView {
    TicketView {
        badge: badge(&ticket.group),
        group: ticket.group.clone(),
        form: ticket.form.clone(),
        form_code: ticket.form_code.clone(),
        is_dense: ticket.items.iter().filter(|item| item.drawing.is_some()).count() >= MANY_PICTURES,
        items: ticket.items.iter().map(|item| item_view(item, knowledge)).collect(),
    }
}

fn item_view(item: &TicketItem, knowledge: &Knowledge) -> ItemView {
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
        swaps: choices(item, knowledge),
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
