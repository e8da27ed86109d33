//! What is typed for one item of an exit ticket, and the cell of a results sheet that says the same.
//!
//! In:  an item and a text such as `b`, `AC`, `3/4`, `r`. Out: the text that the results sheet of the workbook would hold, or a sentence
//! for the person who typed; and the way back, from a mark in the records to what stands in the field.
//! Keeps: what an item cannot have is told and never booked (`what_an_item_cannot_have_is_told`); what comes back into a field says the
//! same again (`what_stands_in_a_field_says_the_same_again`); `1` on a number means neither right nor the number without being asked
//! (`a_one_that_may_mean_two_things_is_asked`). Not here: points, which the reader of score sheets gives (`sheaf-sheets`).

use sheaf_core::scores::{Item, ItemKind, Mark, MarkState};
use sheaf_core::tickets::TicketItem;

/// In the cell of an item that was not taken.
pub(super) const ABSENT: &str = "absent";
/// Typed for the same.
const ABSENT_TYPED: &str = "-";
/// Before a number that the child wrote, where it may mean something else.
const WRITTEN: char = '=';
/// Longest number, characters.
const LONGEST: usize = 40;

/// The cell for what was typed; empty where the item was left out.
pub(super) fn cell_of(item: &TicketItem, typed: &str) -> Result<String, String> {
    let text = typed.trim();
    match text {
        "" => return Ok(String::new()),
        ABSENT_TYPED => return Ok(ABSENT.to_owned()),
        "r" | "R" => return Ok("right".to_owned()),
        "w" | "W" => return Ok("wrong".to_owned()),
        _ => {}
    }
    match item.kind {
        ItemKind::Choice | ItemKind::MultiSelect | ItemKind::TwoPart if text == "1" => Ok("right".to_owned()),
        ItemKind::Choice | ItemKind::MultiSelect | ItemKind::TwoPart if text == "0" => Ok("wrong".to_owned()),
        ItemKind::Choice | ItemKind::MultiSelect => options(item, text),
        ItemKind::TwoPart => parts(item, text),
        ItemKind::Match => points(item, text),
        ItemKind::Numeric => number(item, text),
    }
}

/// What stands in the field for a cell.
pub(super) fn typed_for(item: &TicketItem, cell: &str) -> String {
    match cell {
        "" => String::new(),
        ABSENT => ABSENT_TYPED.to_owned(),
        "right" => "r".to_owned(),
        "wrong" => "w".to_owned(),
        number if item.kind == ItemKind::Numeric && may_mean_two_things(item, number) => format!("{WRITTEN}{number}"),
        number if matches!(item.kind, ItemKind::Numeric | ItemKind::Match) => number.to_owned(),
        letters => letters.replace(',', ""),
    }
}

/// The cell that gave a mark.
pub(super) fn cell_of_mark(item: &Item, mark: &Mark) -> String {
    match (mark.state, mark.answer.as_deref(), mark.points) {
        (MarkState::NotTaken, ..) => ABSENT.to_owned(),
        (MarkState::Omitted, ..) => String::new(),
        (MarkState::Scored, Some(answer), _) => answer.to_owned(),
        (MarkState::Scored, None, Some(points)) if item.kind == ItemKind::Match => points.to_string(),
        (MarkState::Scored, None, Some(points)) if points >= item.points => "right".to_owned(),
        (MarkState::Scored, None, Some(points)) if points > 0.0 => points.to_string(),
        (MarkState::Scored, None, _) => "wrong".to_owned(),
    }
}

/// After how many characters an entry is complete, where that is certain.
pub(super) fn complete_after(item: &TicketItem) -> Option<usize> {
    match item.kind {
        ItemKind::Choice => Some(1),
        ItemKind::TwoPart => Some(item.parts.len()),
        ItemKind::Match => (item.points < 10.0).then_some(1),
        ItemKind::MultiSelect | ItemKind::Numeric => None,
    }
}

/// What may be typed, in a word or two for the head of a column.
pub(super) fn hint(item: &TicketItem) -> String {
    match item.kind {
        ItemKind::Choice => span(&labels(item)),
        ItemKind::MultiSelect => format!("all of {}", span(&labels(item))),
        ItemKind::TwoPart => format!("{} letters", item.parts.len()),
        ItemKind::Match => format!("0–{}", item.points),
        ItemKind::Numeric => "number".to_owned(),
    }
}

fn labels(item: &TicketItem) -> Vec<&str> {
    item.options.iter().map(|o| o.label.as_str()).collect()
}

fn span(labels: &[&str]) -> String {
    match (labels.first(), labels.last()) {
        (Some(first), Some(last)) => format!("{first}–{last}"),
        _ => String::new(),
    }
}

/// The letters of an entry, in upper case.
fn letters_in(text: &str) -> Vec<String> {
    let is_between = |c: &char| c.is_whitespace() || matches!(c, ',' | ';' | '&' | '+' | '/');
    text.chars().filter(|c| !is_between(c)).map(|c| c.to_uppercase().to_string()).collect()
}

fn options(item: &TicketItem, text: &str) -> Result<String, String> {
    let mut chosen = letters_in(text);
    known_letters(item, item, &chosen)?;
    chosen.sort();
    chosen.dedup();
    Ok(chosen.join(","))
}

fn parts(item: &TicketItem, text: &str) -> Result<String, String> {
    let chosen = letters_in(text);
    if chosen.len() > item.parts.len() {
        return Err(format!("Item {} takes one letter for each of its {} parts.", item.number, item.parts.len()));
    }
    for (part, letter) in item.parts.iter().zip(&chosen) {
        known_letters(item, part, std::slice::from_ref(letter))?;
    }
    Ok(chosen.join(","))
}

fn known_letters(item: &TicketItem, part: &TicketItem, chosen: &[String]) -> Result<(), String> {
    let known = labels(part);
    match chosen.iter().find(|letter| !known.contains(&letter.as_str())) {
        None if !chosen.is_empty() => Ok(()),
        None => Err(format!("Item {} takes letters from {}.", item.number, span(&known))),
        Some(letter) => Err(format!("Item {} has {}, and no {letter}.", item.number, known.join(", "))),
    }
}

fn points(item: &TicketItem, text: &str) -> Result<String, String> {
    let got = text.parse::<u32>().ok().filter(|p| f64::from(*p) <= item.points);
    let says = || format!("Item {} takes points from 0 to {}, or r, or w.", item.number, item.points);
    got.map(|p| p.to_string()).ok_or_else(says)
}

fn number(item: &TicketItem, text: &str) -> Result<String, String> {
    let written = text.strip_prefix(WRITTEN).map(str::trim);
    if written.is_none() && may_mean_two_things(item, text) {
        let n = item.number;
        return Err(format!("Item {n}: type r if it is right, w if it is wrong, ={text} if the child wrote {text}."));
    }
    let number = written.unwrap_or(text);
    let is_number = number.chars().any(|c| c.is_ascii_digit())
        && number.chars().count() <= LONGEST
        && !number.chars().any(|c| c.is_control() || matches!(c, '=' | '"'));
    let says = || format!("Item {} takes the number that the child wrote, such as 3/4, or r, or w.", item.number);
    is_number.then(|| number.to_owned()).ok_or_else(says)
}

/// `1` may be "right" or the number, and `0` "wrong" or the number, where the two come to other points.
fn may_mean_two_things(item: &TicketItem, text: &str) -> bool {
    let is_key = |value: f64| item.key.first().and_then(|k| k.trim().parse::<f64>().ok()) == Some(value);
    match text {
        "1" => !is_key(1.0),
        "0" => is_key(0.0),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::tickets::{Level, TicketOption};
    use std::collections::BTreeMap;

    fn item(kind: ItemKind, letters: &str, key: &[&str], points: f64) -> TicketItem {
        let option = |c: char| TicketOption { label: c.to_string(), text: String::new(), patterns: Vec::new() };
        TicketItem {
            number: 2,
            model: String::new(),
            version: 1,
            params: BTreeMap::new(),
            skill: "4.NF.A.1".into(),
            kind,
            stem: String::new(),
            picture: None,
            drawing: None,
            options: letters.chars().map(option).collect(),
            rows: Vec::new(),
            columns: Vec::new(),
            parts: Vec::new(),
            key: key.iter().map(|k| (*k).to_owned()).collect(),
            wrong_entries: Vec::new(),
            points,
            level: Level::AsWritten,
        }
    }

    fn five() -> [TicketItem; 5] {
        let part = |letters| item(ItemKind::Choice, letters, &["A"], 1.0);
        [
            item(ItemKind::Choice, "ABCD", &["B"], 1.0),
            item(ItemKind::MultiSelect, "ABCDE", &["A", "C"], 1.0),
            TicketItem { parts: vec![part("ABC"), part("ABCD")], ..item(ItemKind::TwoPart, "", &["B", "A"], 2.0) },
            item(ItemKind::Match, "", &["x"], 3.0),
            item(ItemKind::Numeric, "", &["3/4"], 1.0),
        ]
    }

    #[test]
    fn an_entry_is_the_cell_of_the_results_sheet() {
        let [choice, several, two, grid, number] = five();
        for (item, typed, cell) in [
            (&choice, "b", "B"),
            (&choice, " D ", "D"),
            (&choice, "ca", "A,C"),
            (&choice, "1", "right"),
            (&choice, "0", "wrong"),
            (&several, "ca", "A,C"),
            (&several, "A, C", "A,C"),
            (&two, "bd", "B,D"),
            (&two, "C", "C"),
            (&grid, "3", "3"),
            (&grid, "0", "0"),
            (&grid, "1", "1"),
            (&number, "3/4", "3/4"),
            (&number, "1 1/2", "1 1/2"),
            (&number, "0", "0"),
            (&number, "=1", "1"),
            (&number, "W", "wrong"),
            (&several, "r", "right"),
            (&two, "", ""),
            (&grid, "-", "absent"),
        ] {
            assert_eq!(cell_of(item, typed).as_deref(), Ok(cell), "{typed} on {:?}", item.kind);
        }
    }

    #[test]
    fn what_an_item_cannot_have_is_told() {
        let [choice, several, two, grid, number] = five();
        for (item, typed, says) in [
            (&choice, "E", "Item 2 has A, B, C, D, and no E."),
            (&choice, "7", "Item 2 has A, B, C, D, and no 7."),
            (&choice, ",", "Item 2 takes letters from A–D."),
            (&several, "AF", "Item 2 has A, B, C, D, E, and no F."),
            (&two, "DA", "Item 2 has A, B, C, and no D."),
            (&two, "BAC", "Item 2 takes one letter for each of its 2 parts."),
            (&grid, "4", "Item 2 takes points from 0 to 3, or r, or w."),
            (&grid, "A", "Item 2 takes points from 0 to 3, or r, or w."),
            (&number, "B", "Item 2 takes the number that the child wrote, such as 3/4, or r, or w."),
        ] {
            assert_eq!(cell_of(item, typed).unwrap_err(), says, "{typed}");
        }
    }

    #[test]
    fn a_one_that_may_mean_two_things_is_asked() {
        let number = |key| item(ItemKind::Numeric, "", &[key], 1.0);
        for (key, typed, is_asked) in [("12", "1", true), ("1", "1", false), ("12", "0", false), ("0", "0", true)] {
            assert_eq!(cell_of(&number(key), typed).is_err(), is_asked, "{typed} where the key is {key}");
        }
        let says = cell_of(&number("12"), "1").unwrap_err();
        assert_eq!(says, "Item 2: type r if it is right, w if it is wrong, =1 if the child wrote 1.");
    }

    #[test]
    fn what_stands_in_a_field_says_the_same_again() {
        let cells: [&[&str]; 5] = [
            &["", "B", "A,C", "right", "absent"],
            &["A,C", "A", "wrong"],
            &["B,A", "B"],
            &["0", "3"],
            &["3/4", "1", "12", "right", "wrong"],
        ];
        for (item, cells) in five().iter().zip(cells) {
            for cell in cells {
                assert_eq!(cell_of(item, &typed_for(item, cell)).as_deref(), Ok(*cell), "{:?}", item.kind);
            }
        }
    }

    #[test]
    fn a_mark_comes_from_its_cell() {
        let two = Item { points: 2.0, ..Item::new("Item 1", 0) };
        let grid = Item { kind: ItemKind::Match, ..two.clone() };
        let scored = |answer: Option<&str>, points| Mark::scored(answer.map(str::to_owned), Some(points));
        for (item, mark, cell) in [
            (&two, scored(Some("B,A"), 2.0), "B,A"),
            (&two, scored(None, 2.0), "right"),
            (&two, scored(None, 0.0), "wrong"),
            (&grid, scored(None, 2.0), "2"),
            (&two, Mark::OMITTED, ""),
            (&two, Mark::NOT_TAKEN, "absent"),
        ] {
            assert_eq!(cell_of_mark(item, &mark), cell);
        }
    }
}
