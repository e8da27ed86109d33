//! The items of a wide sheet: labels, facts from label rows and elsewhere, marks.
//!
//! In:  collected rows. Out: a [`SheetTable`]. Facts on the sheet itself come first; others fill what they leave open; a heading that is
//! a standard's code is the item's skill where nothing else names one, with a note.
//! Keeps: a label seen twice gets a number (`two_checks_with_the_same_labels_stay_apart` for checks);
//! `a_scale_stands_in_the_points_row`. Not here: what cells mean (`marks`).

use super::collect::Collector;
use super::labels::has_standard;
use super::layout::Wide;
use super::marks::{ColumnFacts, judge_column};
use super::notes::Notes;
use super::people::one_line;
use super::skills::{skill_codes, tell_typos};
use super::table::{KnownFacts, SheetTable};
use super::words::Role;
use sheaf_core::scores::{Item, ItemKind};
use sheaf_core::skills::SkillGraph;
use std::collections::{HashMap, HashSet};

/// Judges every item column.
pub fn judge(collector: Collector<'_>, graph: &SkillGraph, known: &KnownFacts, notes: &mut Notes<'_>) -> SheetTable {
    let Collector { wide, cells, students, codes, .. } = collector;
    let labels = unique_labels(&wide, notes);
    let (mut items, mut marks, mut key_places, mut given) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (i, (column, _)) in wide.items.iter().enumerate() {
        let mut item = Item::new(&one_line(labels[i].clone()), 0);
        let mut facts = facts_of(&wide, *column, notes);
        if let Some(other) = known.get(&super::facts::label_key(&item.label)) {
            facts.fill(other);
        }
        skills_of(&mut item, &wide, *column, graph, notes);
        given.push(facts.clone());
        key_places.push(facts.key_at.filter(|_| facts.key.is_some()));
        marks.push(judge_column(&mut item, &facts, &cells[i].distinct, *column, notes));
        if cells[i].distinct.is_empty() && !students.is_empty() {
            let message = format!("Nobody has a mark for {}.", item.label);
            let place = notes.place(wide.columns.header_row, *column);
            notes.warn("item-without-marks", place, message, "taken as not given, so that it counts for nobody");
        }
        items.push(item);
    }
    SheetTable {
        items,
        item_columns: wide.items.iter().map(|(c, _)| *c).collect(),
        header_row: wide.columns.header_row,
        given,
        key_places,
        students,
        codes,
        marks,
        has_ids: wide.columns.column(Role::Id).is_some(),
        who_column: wide.columns.who_column(),
    }
}

fn facts_of(wide: &Wide, column: u32, notes: &mut Notes<'_>) -> ColumnFacts {
    let fact = |role: Role| {
        let row = wide.facts.get(&role)?;
        row.texts.get(&column).filter(|t| !t.is_empty()).map(|t| (t.as_str(), row.row))
    };
    let mut facts = ColumnFacts {
        key: fact(Role::Key).map(|(k, _)| k.to_owned()),
        key_at: fact(Role::Key).map(|(_, row)| (row, column)),
        is_key_disputed: wide.facts.get(&Role::Key).is_some_and(|row| row.disputed.contains(&column)),
        kind: fact(Role::Kind).and_then(|(k, _)| ItemKind::parse(k)),
        ..ColumnFacts::default()
    };
    if let Some((text, row)) = fact(Role::Points) {
        (facts.points, facts.scale) = points_or_scale(text);
        if facts.points.is_none() && facts.scale.is_empty() {
            let message =
                format!("\u{201c}{}\u{201d} is no number of points.", text.chars().take(30).collect::<String>());
            notes.error(
                "points-not-understood",
                notes.place(row, column),
                message,
                "the points are judged by the marks",
            );
        }
    }
    facts
}

/// `2`, `2 pts`, `/2` as points; `A=2; M=1; P=0` as a scale.
pub fn points_or_scale(text: &str) -> (Option<f64>, Vec<(String, f64)>) {
    let number = |t: &str| t.trim().replace(',', ".").parse::<f64>().ok().filter(|p| p.is_finite() && *p >= 0.0);
    let scale: Option<Vec<(String, f64)>> = text
        .split([';', '\n'])
        .flat_map(|part| {
            if part.contains(',') && part.matches('=').count() > 1 { part.split(',').collect() } else { vec![part] }
        })
        .filter(|part| !part.trim().is_empty())
        .map(|part| {
            let (level, worth) = part.split_once(['=', ':'])?;
            Some((super::numbers::ordinary(level.trim()).to_uppercase(), number(worth)?))
        })
        .collect();
    if let Some(scale) = scale.filter(|s| s.len() > 1) {
        return (None, scale);
    }
    let bare = super::words::plain(text);
    let bare = ["points", "point", "pts", "pt", "puntos", "punto"]
        .iter()
        .find_map(|unit| bare.strip_suffix(unit).map(|_| *unit));
    let digits = text.trim().trim_start_matches('/');
    let digits: String = match bare {
        Some(_) => digits.chars().take_while(|c| c.is_ascii_digit() || matches!(c, '.' | ',')).collect(),
        None => digits.to_owned(),
    };
    (number(&digits).filter(|p| *p > 0.0), Vec::new())
}

fn skills_of(item: &mut Item, wide: &Wide, column: u32, graph: &SkillGraph, notes: &mut Notes<'_>) {
    if let Some(row) = wide.facts.get(&Role::Skill)
        && let Some(text) = row.texts.get(&column)
    {
        item.skills = skill_codes(text, graph);
        tell_typos(&item.skills, graph, (row.row, column), notes);
    } else if has_standard(&item.label) {
        item.skills = skill_codes(&item.label, graph);
        let place = notes.place(wide.columns.header_row, column);
        let message = format!("The heading {} is the code of a skill.", item.label);
        notes.note("skill-from-heading", place, message, "taken as the item's skill");
    }
}

fn unique_labels(wide: &Wide, notes: &mut Notes<'_>) -> Vec<String> {
    let mut seen: HashMap<&str, usize> = HashMap::new();
    let mut taken: HashSet<String> = wide.items.iter().map(|(_, label)| label.clone()).collect();
    let mut labels = Vec::new();
    for (column, label) in &wide.items {
        let n = seen.entry(label).or_insert(0);
        *n += 1;
        if *n == 1 {
            labels.push(label.clone());
            continue;
        }
        let mut renamed = format!("{label} ({n})");
        while !taken.insert(renamed.clone()) {
            *n += 1;
            renamed = format!("{label} ({n})");
        }
        let message = format!("{} has the label {label} again.", notes.lane_first(*column));
        let place = notes.place(wide.columns.header_row, *column);
        notes.warn("label-twice", place, message, &format!("read as {renamed}"));
        labels.push(renamed);
    }
    labels
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_stands_in_the_points_row() {
        let scale = |text: &str| points_or_scale(text).1;
        let expected = vec![("A".to_owned(), 2.0), ("M".to_owned(), 1.0), ("P".to_owned(), 0.0)];
        assert_eq!(scale("A=2; M=1; P=0"), expected);
        assert_eq!(scale("a=2, m=1, p=0"), expected);
        for (text, points) in
            [("2", Some(2.0)), ("2,5", Some(2.5)), ("2 pts", Some(2.0)), ("/3", Some(3.0)), ("0", None), ("two", None)]
        {
            assert_eq!(points_or_scale(text), (points, Vec::new()), "{text}");
        }
    }
}
