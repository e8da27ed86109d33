//! What differs between two readings of what may be the same check: the corrected file and the one it would replace.
//!
//! In:  two readings. Out: students added and gone, items added and gone, facts and marks that changed; `None` where the
//! two are not alike enough to be one check.
//! Keeps: a late class is no correction (`a_late_class_is_no_correction`); counts come from the same lists that are shown.
//! Which readings are offered: at least half of the items and half of the students of the smaller in common, and at least
//! half of the marks in common equal. Common practice, no source; the offer is a question, never an answer.
//! Not here: replacing (`take_in`).

use super::merged::bare;
use sheaf_core::roster::Student;
use sheaf_core::scores::{Item, Mark, MarkState, ResponseTable};
use sheaf_sheets::read::Reading;

/// One mark that changed.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangedMark {
    /// The student, as the new reading has it.
    pub student: Student,
    /// The item.
    pub item: String,
    /// Before.
    pub before: Mark,
    /// Now.
    pub now: Mark,
}

/// What differs.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Difference {
    /// Students who are new.
    pub added: Vec<Student>,
    /// Students who are gone.
    pub gone: Vec<Student>,
    /// Items that are new.
    pub items_added: Vec<String>,
    /// Items that are gone.
    pub items_gone: Vec<String>,
    /// Items whose skill, key, points or wrong options changed.
    pub facts_changed: Vec<String>,
    /// Marks that changed, student by student.
    pub marks: Vec<ChangedMark>,
    /// Marks in common that are equal.
    pub n_equal: usize,
}

impl Difference {
    /// Whether nothing differs.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.added.is_empty()
            && self.gone.is_empty()
            && self.items_added.is_empty()
            && self.items_gone.is_empty()
            && self.facts_changed.is_empty()
            && self.marks.is_empty()
    }
}

/// Compares a new reading with an earlier one, where they may be the same check.
pub(super) fn difference(now: &Reading, before: &Reading) -> Option<Difference> {
    let (now, before) = (Side::new(&now.table), Side::new(&before.table));
    let items: Vec<(usize, usize)> =
        now.items.iter().enumerate().filter_map(|(n, item)| Some((n, before.item(&item.label)?))).collect();
    let students: Vec<(usize, usize)> = now
        .table
        .students()
        .iter()
        .enumerate()
        .filter_map(|(n, s)| Some((n, before.table.student_index(&s.id)?)))
        .collect();
    let is_half = |n: usize, of: usize| n > 0 && n * 2 >= of;
    let n_smaller = now.table.n_students().min(before.table.n_students());
    if !is_half(items.len(), now.items.len().max(before.items.len())) || !is_half(students.len(), n_smaller) {
        return None;
    }
    let mut difference = Difference {
        items_added: now.items.iter().filter(|i| before.item(&i.label).is_none()).map(|i| i.label.clone()).collect(),
        items_gone: before.items.iter().filter(|i| now.item(&i.label).is_none()).map(|i| i.label.clone()).collect(),
        added: now.students_not_in(&before),
        gone: before.students_not_in(&now),
        ..Difference::default()
    };
    for &(n, b) in &items {
        if let (Some(now_item), Some(before_item)) = (now.items.get(n), before.items.get(b))
            && !has_same_facts(now_item, before_item)
        {
            difference.facts_changed.push(now_item.label.clone());
        }
    }
    compare_marks(&mut difference, &now, &before, &students, &items);
    is_half(difference.n_equal, difference.n_equal + difference.marks.len()).then_some(difference)
}

/// A table whose items have the labels of their own sheets.
struct Side<'a> {
    table: &'a ResponseTable,
    items: Vec<Item>,
}

impl<'a> Side<'a> {
    fn new(table: &'a ResponseTable) -> Self {
        let name = |item: &Item| table.assessments().get(item.assessment).map_or("", |a| a.name.as_str());
        // Two checks of one upload may share bare labels: only a table of one check is stripped.
        let is_one = table.assessments().len() < 2;
        let items = table.items().iter().map(|i| if is_one { bare(i, name(i)) } else { i.clone() }).collect();
        Side { table, items }
    }

    fn item(&self, label: &str) -> Option<usize> {
        self.items.iter().position(|i| i.label == label)
    }

    fn students_not_in(&self, other: &Side<'_>) -> Vec<Student> {
        self.table.students().iter().filter(|s| other.table.student_index(&s.id).is_none()).cloned().collect()
    }
}

fn has_same_facts(a: &Item, b: &Item) -> bool {
    a.key == b.key && a.skills == b.skills && a.meanings == b.meanings && (a.points - b.points).abs() < 1e-9
}

/// What a mark says: an answer where there is one (its points follow from the key), else points.
fn is_equal(a: &Mark, b: &Mark) -> bool {
    a.state == b.state && a.answer == b.answer && (a.answer.is_some() || a.points == b.points)
}

fn compare_marks(
    difference: &mut Difference,
    now: &Side<'_>,
    before: &Side<'_>,
    students: &[(usize, usize)],
    items: &[(usize, usize)],
) {
    for &(student_now, student_before) in students {
        for &(item_now, item_before) in items {
            let marks = (now.table.mark(student_now, item_now), before.table.mark(student_before, item_before));
            if is_equal(marks.0, marks.1) {
                difference.n_equal += usize::from(marks.0.state != MarkState::NotTaken);
            } else if let (Some(student), Some(item)) = (now.table.students().get(student_now), now.items.get(item_now))
            {
                difference.marks.push(ChangedMark {
                    student: student.clone(),
                    item: item.label.clone(),
                    before: marks.1.clone(),
                    now: marks.0.clone(),
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::StudentId;

    fn reading(rows: &[(&str, [f64; 3])]) -> Reading {
        let mut table = ResponseTable::new();
        let quiz = table.add_assessment("quiz");
        for label in ["Q1", "Q2", "Q3"] {
            table.add_item(Item::new(label, quiz));
        }
        for (student, points) in rows {
            let student = table.add_student(Student::unnamed(StudentId::parse(student).unwrap()));
            for (item, &p) in points.iter().enumerate() {
                table.set(student, item, Mark::scored(None, Some(p))).unwrap();
            }
        }
        Reading { table, ..Reading::default() }
    }

    const BEFORE: [(&str, [f64; 3]); 3] = [("a", [1.0, 0.0, 1.0]), ("b", [0.0, 0.0, 1.0]), ("c", [1.0, 1.0, 1.0])];

    #[test]
    fn a_corrected_file_says_what_changed() {
        let now = reading(&[("a", [1.0, 1.0, 1.0]), ("b", [0.0, 0.0, 1.0]), ("d", [1.0, 1.0, 1.0])]);
        let found = difference(&now, &reading(&BEFORE)).unwrap();
        let ids = |students: &[Student]| students.iter().map(|s| s.id.to_string()).collect::<Vec<_>>();
        assert_eq!((ids(&found.added), ids(&found.gone)), (vec!["d".to_owned()], vec!["c".to_owned()]));
        let changed = &found.marks[0];
        assert_eq!((changed.student.id.as_str(), changed.item.as_str()), ("a", "Q2"));
        assert_eq!((changed.before.points, changed.now.points), (Some(0.0), Some(1.0)));
        assert_eq!((found.marks.len(), found.n_equal), (1, 5));
    }

    #[test]
    fn the_same_again_differs_in_nothing() {
        assert!(difference(&reading(&BEFORE), &reading(&BEFORE)).unwrap().is_none());
    }

    #[test]
    fn a_late_class_is_no_correction() {
        assert_eq!(difference(&reading(&[("x", [1.0, 0.0, 1.0]), ("y", [0.0, 0.0, 1.0])]), &reading(&BEFORE)), None);
    }

    #[test]
    fn another_check_of_the_same_students_is_no_correction() {
        let other = reading(&[("a", [0.0, 1.0, 0.0]), ("b", [1.0, 1.0, 1.0]), ("c", [0.0, 0.0, 0.0])]);
        assert_eq!(difference(&other, &reading(&BEFORE)), None);
    }
}
