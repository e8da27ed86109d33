//! The key of a page of tickets, for staff: what is right, and what each wrong answer may mean, in words.
//! One table a ticket, found by the form code that the children's ticket bears.

use super::Sheet;
use super::fraction::html_text;
use sheaf_app::knowledge::Knowledge;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::TicketItem;
use std::fmt::Write as _;

/// Names of the parts of an item.
const PARTS: [&str; 2] = ["A", "B"];

/// Appends the key.
pub(super) fn push(out: &mut String, sheets: &[Sheet<'_>], knowledge: &Knowledge) {
    out.push_str("<section class=\"key\" aria-label=\"Key, for staff\">\n<h1>Key, for staff</h1>\n");
    out.push_str("<p>A wrong answer is a sign of the idea beside it, not proof.</p>\n");
    for sheet in sheets {
        push_table(out, sheet, knowledge);
    }
    out.push_str("</section>\n");
}

fn push_table(out: &mut String, sheet: &Sheet<'_>, knowledge: &Knowledge) {
    let _ = writeln!(
        out,
        "<table>\n<caption>Form {}</caption>\n<col class=\"narrow\"><col class=\"right\"><col class=\"skill\"><col>\n<thead><tr><th scope=\"col\">Item</th><th scope=\"col\">Right</th>\
         <th scope=\"col\">Skill</th><th scope=\"col\">What a wrong answer may mean: the student …</th></tr></thead>\n<tbody>",
        html_text(&sheet.code)
    );
    for (number, item) in (1..).zip(sheet.items) {
        let skill = skill(item, knowledge);
        let _ = writeln!(
            out,
            "<tr><th scope=\"row\">{number}</th><td>{}</td><td>{}</td><td>{}</td></tr>",
            html_text(&right(item)),
            html_text(&skill),
            html_text(&meanings(item, knowledge).join("; "))
        );
    }
    out.push_str("</tbody>\n</table>\n");
}

/// The key; of a two-part item that of each part, of a grid that of each row.
fn right(item: &TicketItem) -> String {
    if item.parts.is_empty() {
        return item.key.join(", ");
    }
    let parts: Vec<String> = PARTS.iter().zip(&item.key).map(|(part, key)| format!("part {part}: {key}")).collect();
    parts.join(", ")
}

fn skill(item: &TicketItem, knowledge: &Knowledge) -> String {
    let name = SkillCode::parse(&item.skill).map(|code| knowledge.graph.name(&code).to_owned());
    match name.filter(|name| *name != item.skill) {
        Some(name) => format!("{} {name}", item.skill),
        None => item.skill.clone(),
    }
}

/// `B: idea` for every wrong answer that shows one, parts included.
fn meanings(item: &TicketItem, knowledge: &Knowledge) -> Vec<String> {
    let ideas = |codes: &[String]| codes.iter().map(|c| knowledge.catalogue.idea(c)).collect::<Vec<_>>().join(", or ");
    let options = item.options.iter().filter(|o| !o.patterns.is_empty());
    let mut all: Vec<String> = options.map(|o| format!("{}: {}", o.label, ideas(&o.patterns))).collect();
    for row in &item.rows {
        all.extend(row.patterns.iter().map(|(column, code)| {
            let codes: Vec<String> = std::iter::once(code).chain(row.also.get(column)).cloned().collect();
            format!("{}, {column}: {}", row.text, ideas(&codes))
        }));
    }
    let entries = item.wrong_entries.iter();
    all.extend(entries.map(|(entry, code)| format!("{entry}: {}", ideas(std::slice::from_ref(code)))));
    let parts = item.parts.iter().zip(PARTS);
    all.extend(parts.flat_map(|(part, name)| {
        meanings(part, knowledge).into_iter().map(move |meaning| format!("part {name} {meaning}"))
    }));
    all
}
