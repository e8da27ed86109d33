//! Items as plain text, for a terminal or a mail.
//! Fractions stay on the line (`3/4`); the key is shown only where the caller asks for it.

use super::{MatchRow, TicketItem};
use crate::scores::ItemKind;
use std::fmt::Write as _;

/// Whether the key is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyShown {
    /// For staff: key, and the code of each wrong answer.
    Shown,
    /// For children.
    Hidden,
}

/// One item as plain text, ending in a line break.
#[must_use]
pub fn item_text(item: &TicketItem, key: KeyShown) -> String {
    let mut out = format!("{}. {}\n", item.number, item.stem);
    if let Some(picture) = &item.picture {
        push_line(&mut out, 1, &format!("[Picture: {picture}]"));
    }
    push_answers(&mut out, item, key, 1);
    for part in &item.parts {
        let name = if part.number == 1 { "Part A" } else { "Part B" };
        push_line(&mut out, 1, &format!("{name}. {}", part.stem));
        push_answers(&mut out, part, key, 2);
    }
    if key == KeyShown::Shown {
        push_key(&mut out, item);
    }
    out
}

fn push_line(out: &mut String, depth: usize, line: &str) {
    out.push_str(&"   ".repeat(depth));
    out.push_str(line);
    out.push('\n');
}

fn push_answers(out: &mut String, item: &TicketItem, key: KeyShown, depth: usize) {
    for option in &item.options {
        let meaning = if key == KeyShown::Shown { meaning(&option.patterns) } else { String::new() };
        push_line(out, depth, &format!("{}  {}{meaning}", option.label, option.text));
    }
    if !item.columns.is_empty() {
        push_line(out, depth, &format!("Columns: {}", item.columns.join(" | ")));
    }
    for row in &item.rows {
        let meaning = if key == KeyShown::Shown { row_meaning(row) } else { String::new() };
        push_line(out, depth, &format!("{}  ____{meaning}", row.text));
    }
    if item.kind == ItemKind::Numeric {
        push_line(out, depth, "Answer: ________");
    }
}

fn meaning(patterns: &[String]) -> String {
    if patterns.is_empty() { String::new() } else { format!("   [{}]", patterns.join(", ")) }
}

fn row_meaning(row: &MatchRow) -> String {
    let codes = row.patterns.iter().chain(&row.also).map(|(column, code)| format!("{column}: {code}"));
    meaning(&codes.collect::<Vec<_>>())
}

fn push_key(out: &mut String, item: &TicketItem) {
    push_line(out, 1, &format!("Key: {}", item.key.join(", ")));
    let entries = item.wrong_entries.iter().map(|(entry, code)| format!("{entry} [{code}]"));
    let entries = entries.collect::<Vec<_>>().join("; ");
    if !entries.is_empty() {
        push_line(out, 1, &format!("Wrong answers to look for: {entries}"));
    }
    let mut from = String::new();
    let _ = write!(from, "{} version {}, {}", item.model, item.version, item.skill);
    push_line(out, 1, &from);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tickets::{ModelLibrary, draw_item};

    fn text(slug: &str, key: KeyShown) -> String {
        item_text(&draw_item(ModelLibrary::builtin().get(slug).unwrap(), 3).unwrap(), key)
    }

    #[test]
    fn children_see_neither_key_nor_code() {
        for slug in ["g5-scale-one", "g5-scale-grid", "g5-scale-explain", "g3-fact-product", "g5-scale-multi"] {
            let shown = text(slug, KeyShown::Hidden);
            assert!(!shown.contains("Key") && !shown.contains("scale-") && !shown.contains("mul-"), "{shown}");
        }
    }

    #[test]
    fn staff_see_key_and_codes() {
        let shown = text("g5-scale-explain", KeyShown::Shown);
        assert!(
            shown.contains("Part B") && shown.contains("Key: ") && shown.contains("[scale-mixed-by-part]"),
            "{shown}"
        );
        let entry = text("g3-fact-product", KeyShown::Shown);
        assert!(entry.contains("Wrong answers to look for") && entry.contains("[mul-as-add]"), "{entry}");
    }
}
