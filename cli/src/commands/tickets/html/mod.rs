//! Items as a page to print: tickets for children first, one a skill, the key for staff on pages of its own.
//!
//! In:  items, so many a skill one after the other; a form code for each ticket. Out: one HTML page.
//! Keeps: nothing that belongs to staff (key, skill, wrong ideas) stands before the key (`a_child_reads_no_key_and_no_code`);
//! every ticket has a line for the name and its code, and no item is split over a page (`a_ticket_has_a_name_line_and_a_code`).
//! Black on white, 12 pt and more; needs no script and no other file. Tickets that share a page have a line to cut along.

mod fraction;
mod key;

use fraction::html_text;
use sheaf_app::knowledge::Knowledge;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Drawing, TicketItem};
use std::fmt::Write as _;

const STYLE: &str = include_str!("style.css");

/// Longest option that stands beside others, characters.
const SHORT_CHARS: usize = 14;

/// Most items of a ticket that leave room to work below each of them.
const MOST_WITH_ROOM: usize = 3;

/// One ticket: the code printed on it, and its items.
pub struct Sheet<'a> {
    /// Leads results back to the key.
    pub code: String,
    /// In order.
    pub items: &'a [TicketItem],
}

/// A whole page.
pub fn page(sheets: &[Sheet<'_>], knowledge: &Knowledge) -> String {
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Exit tickets</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n"
    );
    for sheet in sheets {
        push_ticket(&mut out, sheet);
    }
    out.push_str("</main>\n");
    key::push(&mut out, sheets, knowledge);
    out.push_str("</body>\n</html>\n");
    out
}

fn push_ticket(out: &mut String, sheet: &Sheet<'_>) {
    let (code, many) = (html_text(&sheet.code), if sheet.items.len() > MOST_WITH_ROOM { " many" } else { "" });
    let _ = writeln!(
        out,
        "<article class=\"ticket{many}\" aria-label=\"Exit ticket {code}\">\n<div class=\"top\"><h2>Exit ticket</h2>\
         <p>Name <span class=\"line\"></span></p><p>Date <span class=\"line short\"></span></p>\
         <p class=\"code\">Form {code}</p></div>\n<ol class=\"items\">"
    );
    for item in sheet.items {
        out.push_str("<li>");
        push_item(out, item);
        if are_short(item) {
            // Long options leave room beside them.
            out.push_str("<div class=\"room\"></div>\n");
        }
        out.push_str("</li>\n");
    }
    out.push_str("</ol>\n</article>\n");
}

fn push_item(out: &mut String, item: &TicketItem) {
    let _ = writeln!(out, "<p>{}</p>", html_text(&item.stem));
    let is_beside = item.parts.is_empty() && item.drawing.as_ref().is_some_and(Drawing::is_narrow);
    out.push_str(if is_beside { "<div class=\"beside\">\n" } else { "<div>\n" });
    if let (Some(drawing), Some(words)) = (&item.drawing, &item.picture) {
        let _ = writeln!(out, "<div class=\"drawing\">{}</div>", drawing.svg(words));
    }
    out.push_str("<div class=\"answers\">\n");
    push_answers(out, item);
    out.push_str("</div>\n</div>\n");
}

fn push_answers(out: &mut String, item: &TicketItem) {
    for (part, name) in item.parts.iter().zip(["Part A", "Part B"]) {
        let _ = writeln!(out, "<h3>{name}</h3>");
        push_item(out, part);
    }
    if let Some(how) = how(item) {
        let _ = writeln!(out, "<p class=\"how\">{how}</p>");
    }
    push_options(out, item);
    push_grid(out, item);
    if item.kind == ItemKind::Numeric {
        out.push_str("<div class=\"room\"></div>\n<p>Answer: <span class=\"line short\"></span></p>\n");
    }
}

/// How a child answers, where the question does not say it.
fn how(item: &TicketItem) -> Option<&'static str> {
    match item.kind {
        ItemKind::Choice => Some("Ring one letter."),
        ItemKind::MultiSelect => Some("Ring every letter that is right."),
        ItemKind::Match if !item.stem.contains("each row") => Some("Mark one box in each row."),
        ItemKind::Match | ItemKind::Numeric | ItemKind::TwoPart => None,
    }
}

/// Whether the options stand side by side.
fn are_short(item: &TicketItem) -> bool {
    item.options.len() == 4 && item.options.iter().all(|o| o.text.chars().count() <= SHORT_CHARS)
}

/// A round label asks for one option, a square one for all that are right.
fn push_options(out: &mut String, item: &TicketItem) {
    if item.options.is_empty() {
        return;
    }
    let several = if item.kind == ItemKind::MultiSelect { " several" } else { "" };
    let short = if are_short(item) { " short" } else { "" };
    let _ = writeln!(out, "<ul class=\"options{several}{short}\">");
    for option in &item.options {
        let (label, text) = (html_text(&option.label), html_text(&option.text));
        let _ = writeln!(out, "<li><span class=\"label\">{label}</span><span>{text}</span></li>");
    }
    out.push_str("</ul>\n");
}

fn push_grid(out: &mut String, item: &TicketItem) {
    if item.rows.is_empty() {
        return;
    }
    out.push_str("<table>\n<thead><tr><td></td>");
    for column in &item.columns {
        let _ = write!(out, "<th scope=\"col\">{}</th>", html_text(column));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &item.rows {
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", html_text(&row.text));
        out.push_str(&"<td class=\"mark\"><span class=\"box\"></span></td>".repeat(item.columns.len()));
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_app::item_bank::{Form, SkillChoice, draw_items};

    const N_A_SKILL: usize = 6;

    fn every_kind() -> Vec<TicketItem> {
        let form = Form::parse("A").unwrap();
        let items = draw_items(&Knowledge::builtin().unwrap(), &SkillChoice::Covered, N_A_SKILL, form, 3).unwrap();
        for kind in ItemKind::ALL {
            assert!(items.iter().any(|i| i.kind == kind), "no {} among the items", kind.word());
        }
        items
    }

    fn page_of(items: &[TicketItem]) -> String {
        let sheet = |(n, items)| Sheet { code: format!("SHEET-{n}A"), items };
        let sheets: Vec<Sheet<'_>> = items.chunks(N_A_SKILL).enumerate().map(sheet).collect();
        page(&sheets, &Knowledge::builtin().unwrap())
    }

    #[test]
    fn a_child_reads_no_key_and_no_code() {
        let (items, knowledge) = (every_kind(), Knowledge::builtin().unwrap());
        let page = page_of(&items);
        let (child, staff) = page.split_once("<section class=\"key\"").unwrap();
        for item in &items {
            assert!(!child.contains(&item.skill) && !child.contains(&item.model), "{}", item.model);
            assert!(staff.contains(&item.skill));
            let of_rows = item.rows.iter().flat_map(|r| r.patterns.values().chain(r.also.values()));
            for pattern in item.options.iter().flat_map(|o| &o.patterns).chain(of_rows) {
                let idea = html_text(knowledge.catalogue.idea(pattern));
                assert!(!child.contains(pattern.as_str()) && !child.contains(&idea), "{pattern}");
                assert!(staff.contains(&idea), "{pattern}");
            }
        }
    }

    #[test]
    fn a_ticket_has_a_name_line_and_a_code() {
        let items = every_kind();
        let (page, n_tickets) = (page_of(&items), items.len() / N_A_SKILL);
        for piece in ["<p>Name <span class=\"line\">", "<p class=\"code\">Form SHEET-", "<ol class=\"items\">"] {
            assert_eq!(page.matches(piece).count(), n_tickets, "{piece}");
        }
        assert_eq!(page.matches("<li><p>").count(), items.len());
        assert!(STYLE.contains(".items>li{margin-bottom:.9em;break-inside:avoid}"));
        assert!(STYLE.contains(".ticket+.ticket{border-top:1.5px dashed #000}"));
    }

    #[test]
    fn every_element_that_is_opened_is_closed() {
        let page = page_of(&every_kind());
        for name in [
            "li", "div", "ol", "ul", "p", "table", "tr", "td", "th", "math", "mfrac", "section", "main", "span", "h2",
            "article",
        ] {
            let opened = page.matches(&format!("<{name}>")).count() + page.matches(&format!("<{name} ")).count();
            assert_eq!(opened, page.matches(&format!("</{name}>")).count(), "{name}");
        }
    }

    #[test]
    fn every_picture_is_drawn() {
        let items = every_kind();
        let n_pictures = items.iter().filter(|i| i.picture.is_some()).count();
        assert!(n_pictures > 60, "{n_pictures}");
        assert_eq!(page_of(&items).matches("<svg ").count(), n_pictures);
    }

    #[test]
    fn a_grid_has_a_box_for_each_row_and_column() {
        let items = every_kind();
        let grid = items.iter().find(|i| i.kind == ItemKind::Match).unwrap();
        let page = page_of(std::slice::from_ref(grid));
        assert_eq!(page.matches("<td class=\"mark\">").count(), grid.rows.len() * grid.columns.len());
    }
}
