//! Items as a page to print: what a child gets first, the key on a page of its own.
//!
//! Keeps: nothing that belongs to staff (key, skill, wrong ideas) stands before the key's page
//! (`a_child_reads_no_key_and_no_code`). Black on white, 12 pt and more; needs no script and no other file.

use super::fraction::html_text;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::TicketItem;
use std::fmt::Write as _;

const STYLE: &str = "\
body{font:14pt/1.5 Georgia,serif;color:#000;background:#fff;max-width:42rem;margin:2rem auto;padding:0 1rem}\
h1{font-size:1.4em}h2{font-size:1.1em}\
.line{display:inline-block;min-width:8rem;border-bottom:1px solid #000}\
ol.items{padding-left:1.8em}ol.items>li{margin-bottom:1.6em;break-inside:avoid}\
ul.options{list-style:none;padding:0}ul.options li{margin:.4em 0}\
.label{display:inline-block;min-width:1.7em;line-height:1.7em;margin-right:.6em;border:1px solid #000;border-radius:50%;text-align:center}\
.several .label{border-radius:0}\
.picture{border:1px solid #000;padding:.4em .8em}\
table{border-collapse:collapse}th,td{border:1px solid #000;padding:.3em .8em;text-align:left;font-weight:normal}\
td.mark{text-align:center}\
.drawing svg{max-width:100%;height:auto}\
math{font-size:1.15em}\
.key{break-before:page;font-size:12pt}\
@media print{body{margin:0;max-width:none}}";

/// A whole page.
pub fn page(items: &[TicketItem], form: char) -> String {
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Exit ticket, form {form}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n\
         <h1>Exit ticket, form {form}</h1>\n\
         <p>Name <span class=\"line\"></span> Date <span class=\"line\"></span></p>\n<ol class=\"items\">\n"
    );
    for item in items {
        let _ = write!(out, "<li value=\"{}\">", item.number);
        push_item(&mut out, item);
        out.push_str("</li>\n");
    }
    out.push_str("</ol>\n</main>\n");
    push_key(&mut out, items);
    out.push_str("</body>\n</html>\n");
    out
}

fn push_item(out: &mut String, item: &TicketItem) {
    let _ = writeln!(out, "<p>{}</p>", html_text(&item.stem));
    push_picture(out, item);
    push_options(out, item);
    push_grid(out, item);
    for (at, part) in item.parts.iter().enumerate() {
        let name = if at == 0 { "Part A" } else { "Part B" };
        let _ = writeln!(out, "<h2>{name}</h2>");
        push_item(out, part);
    }
    if item.kind == ItemKind::Numeric {
        out.push_str("<p>Answer: <span class=\"line\"></span></p>\n");
    }
}

/// The drawing, or where there is none the picture in words.
fn push_picture(out: &mut String, item: &TicketItem) {
    let Some(words) = &item.picture else { return };
    let _ = match &item.drawing {
        Some(drawing) => writeln!(out, "<div class=\"drawing\">{}</div>", drawing.svg(words)),
        None => writeln!(out, "<p class=\"picture\">Picture: {}</p>", html_text(words)),
    };
}

/// A round label asks for one option, a square one for all that are right.
fn push_options(out: &mut String, item: &TicketItem) {
    if item.options.is_empty() {
        return;
    }
    let class = if item.kind == ItemKind::MultiSelect { "options several" } else { "options" };
    let _ = writeln!(out, "<ul class=\"{class}\">");
    for option in &item.options {
        let _ = writeln!(
            out,
            "<li><span class=\"label\">{}</span>{}</li>",
            html_text(&option.label),
            html_text(&option.text)
        );
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
        out.push_str(&"<td class=\"mark\">\u{25a2}</td>".repeat(item.columns.len()));
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
}

fn push_key(out: &mut String, items: &[TicketItem]) {
    out.push_str(
        "<section class=\"key\">\n<h1>Key, for staff</h1>\n<table>\n<thead><tr><th scope=\"col\">Item</th>\
         <th scope=\"col\">Right</th><th scope=\"col\">Skill</th><th scope=\"col\">What a wrong answer may mean</th></tr></thead>\n<tbody>\n",
    );
    for item in items {
        let _ = writeln!(
            out,
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td></tr>",
            item.number,
            html_text(&item.key.join(", ")),
            html_text(&item.skill),
            html_text(&meanings(item).join("; "))
        );
    }
    out.push_str("</tbody>\n</table>\n</section>\n");
}

/// `B: code` for every wrong answer that carries a code, parts included.
fn meanings(item: &TicketItem) -> Vec<String> {
    let options = item.options.iter().filter(|o| !o.patterns.is_empty());
    let mut all: Vec<String> = options.map(|o| format!("{}: {}", o.label, o.patterns.join(" or "))).collect();
    for row in &item.rows {
        all.extend(row.patterns.iter().map(|(column, code)| {
            let also = row.also.get(column).map_or(String::new(), |second| format!(" or {second}"));
            format!("{}, {column}: {code}{also}", row.text)
        }));
    }
    all.extend(item.wrong_entries.iter().map(|(entry, code)| format!("{entry}: {code}")));
    all.extend(
        item.parts
            .iter()
            .zip(["A", "B"])
            .flat_map(|(part, name)| meanings(part).into_iter().map(move |m| format!("part {name} {m}"))),
    );
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_app::item_bank::{Form, SkillChoice, draw_items};
    use sheaf_app::knowledge::Knowledge;

    fn every_kind() -> Vec<TicketItem> {
        let form = Form::parse("A").unwrap();
        let items = draw_items(&Knowledge::builtin().unwrap(), &SkillChoice::Covered, 6, form, 3).unwrap();
        for kind in ItemKind::ALL {
            assert!(items.iter().any(|i| i.kind == kind), "no {} among the items", kind.word());
        }
        items
    }

    #[test]
    fn a_child_reads_no_key_and_no_code() {
        let items = every_kind();
        let page = page(&items, 'A');
        let (child, staff) = page.split_once("<section class=\"key\">").unwrap();
        for item in &items {
            assert!(!child.contains(&item.skill) && !child.contains(&item.model), "{}", item.model);
            assert!(staff.contains(&item.skill));
            let of_rows = item.rows.iter().flat_map(|r| r.patterns.values().chain(r.also.values()));
            for pattern in item.options.iter().flat_map(|o| &o.patterns).chain(of_rows) {
                assert!(!child.contains(pattern.as_str()) && staff.contains(pattern.as_str()), "{pattern}");
            }
        }
    }

    #[test]
    fn every_element_that_is_opened_is_closed() {
        let page = page(&every_kind(), 'A');
        for name in ["li", "ol", "ul", "p", "table", "tr", "td", "th", "math", "mfrac", "section", "main", "span", "h2"]
        {
            let opened = page.matches(&format!("<{name}>")).count() + page.matches(&format!("<{name} ")).count();
            assert_eq!(opened, page.matches(&format!("</{name}>")).count(), "{name}");
        }
    }

    #[test]
    fn a_picture_is_drawn_where_it_can_be_and_told_in_words_where_not() {
        let items = every_kind();
        let page = page(&items, 'A');
        let n_drawn = items.iter().filter(|i| i.drawing.is_some()).count();
        let n_told = items.iter().filter(|i| i.picture.is_some() && i.drawing.is_none()).count();
        assert!(n_drawn > 20 && n_told > 5, "{n_drawn} drawn, {n_told} told");
        assert_eq!(page.matches("<svg ").count(), n_drawn);
        assert_eq!(page.matches("Picture: ").count(), n_told);
    }

    #[test]
    fn a_grid_has_a_box_for_each_row_and_column() {
        let items = every_kind();
        let grid = items.iter().find(|i| i.kind == ItemKind::Match).unwrap();
        let page = page(std::slice::from_ref(grid), 'B');
        assert_eq!(page.matches("<td class=\"mark\">").count(), grid.rows.len() * grid.columns.len());
    }
}
