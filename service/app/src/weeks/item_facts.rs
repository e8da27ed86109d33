//! Facts of items as a person typed them, in place of what the sheet says.
//!
//! In:  a reading and the facts typed for one upload. Out: the reading with those facts, and answers scored by the new key.
//! Keeps: an answer is scored again where the key or the points changed (`a_corrected_key_scores_the_answers_again`); what
//! holds points alone keeps them where they fit.
//! Not here: facts kept for the next file, which only fill what a sheet leaves open (`sheaf-sheets`).

use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::scores::{Item, Mark, MarkState, ResponseTable, score_answer};
use sheaf_sheets::read::{KnownItem, Reading};
use std::collections::BTreeMap;

/// Puts typed facts in place of the sheet's, by the item's place in the table.
pub(super) fn apply(reading: &mut Reading, typed: &BTreeMap<usize, &KnownItem>) -> Result<(), AppError> {
    let old = &reading.table;
    let items: Vec<Item> =
        old.items().iter().enumerate().map(|(place, item)| with_facts(item, typed.get(&place).copied())).collect();
    if items == old.items() {
        return Ok(());
    }
    let mut table = ResponseTable::new();
    for assessment in old.assessments() {
        table.add_dated_assessment(&assessment.name, assessment.week);
    }
    for item in &items {
        table.add_item(item.clone());
    }
    let mut n_left_out = 0;
    for (student_idx, student) in old.students().iter().enumerate() {
        table.add_student(student.clone());
        for (item_idx, (item, before)) in items.iter().zip(old.items()).enumerate() {
            let mark = scored_again(item, before, old.mark(student_idx, item_idx));
            if table.set(student_idx, item_idx, mark).is_err() {
                n_left_out += 1;
            }
        }
    }
    let keyed: Vec<&str> =
        items.iter().zip(old.items()).filter(|(a, b)| a.key != b.key).map(|(a, _)| a.label.as_str()).collect();
    reading.findings.retain(|f| f.code != "letters-without-key" || !keyed.iter().any(|l| f.message.contains(l)));
    reading.findings.extend(above_the_points(n_left_out));
    reading.table = table;
    Ok(())
}

fn with_facts(item: &Item, typed: Option<&KnownItem>) -> Item {
    let Some(known) = typed else { return item.clone() };
    Item {
        skills: known.skills.clone(),
        key: known.key.clone(),
        points: known.points.unwrap_or(item.points),
        kind: known.kind.unwrap_or(item.kind),
        meanings: known.meanings.clone(),
        ..item.clone()
    }
}

fn scored_again(item: &Item, before: &Item, mark: &Mark) -> Mark {
    let is_same = item.key == before.key && item.points.to_bits() == before.points.to_bits();
    match &mark.answer {
        Some(answer) if mark.state == MarkState::Scored && !is_same => {
            Mark::scored(Some(answer.clone()), score_answer(item, answer))
        }
        _ => mark.clone(),
    }
}

fn above_the_points(n: usize) -> Option<Finding> {
    (n > 0).then(|| {
        let message = format!("Marks above the points that were typed for their item: {n}.");
        Finding::error("points-over-maximum", message, "taken as not taken; correct the points of the item")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::{Student, StudentId};
    use sheaf_core::skills::SkillCode;

    fn reading() -> Reading {
        let mut table = ResponseTable::new();
        let quiz = table.add_assessment("quiz");
        table.add_item(Item { key: Some("A".into()), ..Item::new("Q1", quiz) });
        table.add_item(Item { points: 2.0, ..Item::new("Q2", quiz) });
        let student = table.add_student(Student::unnamed(StudentId::parse("1").unwrap()));
        table.set(student, 0, Mark::scored(Some("B".into()), Some(0.0))).unwrap();
        table.set(student, 1, Mark::scored(None, Some(2.0))).unwrap();
        Reading { table, ..Reading::default() }
    }

    fn known(label: &str, key: Option<&str>, points: f64) -> KnownItem {
        KnownItem {
            label: label.into(),
            skills: vec![SkillCode::parse("5.NF.B.5a").unwrap()],
            key: key.map(str::to_owned),
            points: Some(points),
            kind: None,
            meanings: Vec::new(),
        }
    }

    #[test]
    fn a_corrected_key_scores_the_answers_again() {
        let mut reading = reading();
        let facts = known("Q1", Some("B"), 1.0);
        apply(&mut reading, &BTreeMap::from([(0, &facts)])).unwrap();
        assert_eq!(reading.table.mark(0, 0).points, Some(1.0));
        assert_eq!(reading.table.items()[0].skills[0].as_str(), "5.NF.B.5a");
        assert_eq!(reading.table.mark(0, 1).points, Some(2.0));
        assert_eq!(reading.findings, []);
    }

    #[test]
    fn points_that_no_longer_fit_are_told() {
        let mut reading = reading();
        let facts = known("Q2", None, 1.0);
        apply(&mut reading, &BTreeMap::from([(1, &facts)])).unwrap();
        assert_eq!(reading.table.mark(0, 1).state, MarkState::NotTaken);
        assert_eq!(reading.findings[0].code, "points-over-maximum");
    }
}
