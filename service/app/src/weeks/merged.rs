//! All of a week's uploads as one reading.
//!
//! Each upload was read by itself. The same items with the same facts are one check over several classes, so a late class
//! joins the check of the others; otherwise checks stay apart, and a label that is taken carries its check's name.
//! The week that a person handed an upload in for is the week of its checks; of an upload with sheets of several weeks each check
//! keeps its own (`sheets_of_several_weeks_keep_their_weeks`).
//! A student whose ids a person said to be one child is one student, under the newest id.
//! Keeps: items of two checks stay apart even if their labels are alike (`like_labels_of_two_checks_stay_apart`); a student
//! seen twice in one check with other marks is told, and the first stays (`other_marks_of_one_student_are_told`).
//! Not here: sheets of one upload (`sheaf-sheets` puts those together).

use super::Weeks;
use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::scores::{Assessment, Item, Mark, MarkState, ResponseTable};
use sheaf_sheets::read::Reading;
use sheaf_store::Upload;
use std::collections::BTreeMap;

/// Ids named in a finding; the rest is counted.
const NAMED: usize = 5;

/// Earlier ids of a child, each with the newest.
pub(super) type NewestIds = BTreeMap<StudentId, StudentId>;

impl Weeks {
    /// A week's uploads as one reading.
    pub(super) fn read_together(&self, uploads: &[Upload]) -> Result<Reading, AppError> {
        let readings = uploads.iter().map(|u| self.reading_of(u)).collect::<Result<Vec<_>, _>>()?;
        merge(readings, &self.newest_ids()?)
    }
}

/// A check of the merged table.
struct Check {
    /// Where its items stand there.
    items: Vec<usize>,
    /// The items as they came, under their bare labels.
    originals: Vec<Item>,
}

/// Puts readings together, in order.
pub(super) fn merge(readings: Vec<Reading>, newest: &NewestIds) -> Result<Reading, AppError> {
    let mut all = Reading::default();
    let mut checks = Vec::new();
    let is_one = readings.len() == 1;
    for part in readings {
        if is_one {
            all.week = part.week;
        }
        add_part(&mut all, &mut checks, &part, newest)?;
        all.inputs.extend(part.inputs);
        all.findings.extend(part.findings);
    }
    Ok(all)
}

fn add_part(all: &mut Reading, checks: &mut Vec<Check>, part: &Reading, newest: &NewestIds) -> Result<(), AppError> {
    let students: Vec<usize> = part.table.students().iter().map(|s| join_student(&mut all.table, s, newest)).collect();
    let is_of_several_weeks = part.week.is_none();
    for (assessment_idx, assessment) in part.table.assessments().iter().enumerate() {
        let week = assessment.week.filter(|_| is_of_several_weeks);
        let check = PartCheck::new(part, assessment_idx, Assessment { week, ..assessment.clone() }, &students);
        if check.items.is_empty() {
            continue;
        }
        let at = match checks.iter().position(|c| is_same_check(c, &all.table, &check)) {
            Some(at) => at,
            None => {
                checks.push(add_check(&mut all.table, &check));
                checks.len() - 1
            }
        };
        let Some(known) = checks.get(at) else { continue };
        let twice = add_marks(&mut all.table, known, &check)?;
        all.findings.extend(twice.findings(part));
    }
    Ok(())
}

/// One check of one reading.
struct PartCheck<'a> {
    table: &'a ResponseTable,
    assessment: Assessment,
    items: Vec<usize>,
    bare: Vec<Item>,
    /// For each student of the part, the index in the merged table.
    students: &'a [usize],
}

impl<'a> PartCheck<'a> {
    fn new(part: &'a Reading, at: usize, assessment: Assessment, students: &'a [usize]) -> Self {
        let table = &part.table;
        let items: Vec<usize> =
            table.items().iter().enumerate().filter(|(_, i)| i.assessment == at).map(|(idx, _)| idx).collect();
        let of_check = items.iter().filter_map(|&idx| table.items().get(idx));
        let bare = of_check.map(|item| bare(item, &assessment.name)).collect();
        PartCheck { table, assessment, items, bare, students }
    }

    fn marks(&self, student_idx: usize) -> impl Iterator<Item = &'a Mark> {
        let table = self.table;
        self.items.clone().into_iter().map(move |item_idx| table.mark(student_idx, item_idx))
    }
}

/// The item under the label it has on its own sheet: a label that was taken carries the check's name in brackets.
pub(super) fn bare(item: &Item, check: &str) -> Item {
    let label = item.label.strip_suffix(&format!(" ({check})")).unwrap_or(&item.label);
    Item { label: label.to_owned(), ..item.clone() }
}

fn join_student(table: &mut ResponseTable, student: &Student, newest: &NewestIds) -> usize {
    let id = newest.get(&student.id).unwrap_or(&student.id).clone();
    let idx = table.add_student(Student { id, ..student.clone() });
    if let Some(known) = table.student_mut(idx) {
        for (own, new) in [
            (&mut known.name, &student.name),
            (&mut known.grade, &student.grade),
            (&mut known.homeroom, &student.homeroom),
        ] {
            if own.is_empty() {
                own.clone_from(new);
            }
        }
        if known.supports.is_empty() {
            known.supports.clone_from(&student.supports);
        }
    }
    idx
}

/// The same labels and facts; where neither has any facts, the same students with mostly other marks make another check.
fn is_same_check(check: &Check, table: &ResponseTable, part: &PartCheck<'_>) -> bool {
    let has_same_facts = check.originals.len() == part.bare.len()
        && check.originals.iter().zip(&part.bare).all(|(a, b)| {
            a.label == b.label && a.key == b.key && a.skills == b.skills && (a.points - b.points).abs() < 1e-9
        });
    let own_week =
        check.items.first().and_then(|&i| table.items().get(i)).and_then(|i| table.assessments().get(i.assessment));
    if own_week.and_then(|a| a.week).zip(part.assessment.week).is_some_and(|(a, b)| a != b) {
        return false;
    }
    if !has_same_facts || part.bare.iter().any(|i| i.key.is_some() || !i.skills.is_empty()) {
        return has_same_facts;
    }
    let (mut n_both, mut n_other) = (0, 0);
    for (from, &to) in part.students.iter().enumerate() {
        let before: Vec<&Mark> = check.items.iter().map(|&i| table.mark(to, i)).collect();
        if before.iter().any(|m| m.state != MarkState::NotTaken) {
            n_both += 1;
            n_other += usize::from(!part.marks(from).eq(before.iter().copied()));
        }
    }
    n_both * 2 < part.students.len() || n_other * 2 < n_both
}

fn add_check(table: &mut ResponseTable, part: &PartCheck<'_>) -> Check {
    let Assessment { name, week } = &part.assessment;
    let assessment = table.add_dated_assessment(name, *week);
    let items = part
        .bare
        .iter()
        .map(|item| {
            let label = free_label(table, &item.label, name);
            table.add_item(Item { label, assessment, ..item.clone() })
        })
        .collect();
    Check { items, originals: part.bare.clone() }
}

/// `Q1`, or `Q1 (ticket)`, `Q1 (ticket 2)` … where it is taken.
fn free_label(table: &ResponseTable, label: &str, check: &str) -> String {
    let is_free = |candidate: &String| !table.items().iter().any(|i| i.label == *candidate);
    [label.to_owned(), format!("{label} ({check})")]
        .into_iter()
        .chain((2..).map(|n| format!("{label} ({check} {n})")))
        .find(is_free)
        .unwrap_or_else(|| label.to_owned())
}

/// Students who were in the check already.
#[derive(Default)]
struct Twice {
    alike: usize,
    other: Vec<StudentId>,
}

fn add_marks(table: &mut ResponseTable, check: &Check, part: &PartCheck<'_>) -> Result<Twice, AppError> {
    let mut twice = Twice::default();
    for (from, &to) in part.students.iter().enumerate() {
        let is_here = check.items.iter().any(|&i| table.mark(to, i).state != MarkState::NotTaken);
        let comes = part.marks(from).any(|m| m.state != MarkState::NotTaken);
        if is_here {
            let is_alike = part.marks(from).eq(check.items.iter().map(|&i| table.mark(to, i)));
            match table.students().get(to) {
                _ if is_alike => twice.alike += 1,
                Some(student) if comes => twice.other.push(student.id.clone()),
                _ => {}
            }
            continue;
        }
        for (mark, &item_idx) in part.marks(from).zip(&check.items) {
            table.set(to, item_idx, mark.clone()).map_err(AppError::our_fault)?;
        }
    }
    Ok(twice)
}

impl Twice {
    fn findings(self, part: &Reading) -> Vec<Finding> {
        let file = part.inputs.first().map_or("", |i| i.file.as_str());
        let alike = (self.alike > 0).then(|| {
            let message =
                format!("Students who are in another upload of this week with the same marks: {}.", self.alike);
            Finding::note("student-twice-alike", message, "counted once").at(file, "", "")
        });
        let named = self.other.iter().take(NAMED).map(StudentId::as_str).collect::<Vec<_>>().join(", ");
        let more = if self.other.len() > NAMED { ", …" } else { "" };
        let other = (!self.other.is_empty()).then(|| {
            let message = format!(
                "Students who are in another upload of this week with other marks: {}: {named}{more}.",
                self.other.len()
            );
            let action = "the marks that came first were kept; take one of the two uploads back";
            Finding::error("student-twice", message, action).at(file, "", "")
        });
        alike.into_iter().chain(other).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn id(text: &str) -> StudentId {
        StudentId::parse(text).unwrap()
    }

    fn one(check: &str, key: Option<&str>, student: &str, points: f64) -> Reading {
        let mut table = ResponseTable::new();
        let assessment = table.add_assessment(check);
        let item = table.add_item(Item { key: key.map(str::to_owned), ..Item::new("Q1", assessment) });
        let student = table.add_student(Student::unnamed(id(student)));
        table.set(student, item, Mark::scored(None, Some(points))).unwrap();
        Reading { table, ..Reading::default() }
    }

    fn merged(readings: Vec<Reading>) -> Reading {
        merge(readings, &NewestIds::new()).unwrap()
    }

    #[test]
    fn like_labels_of_two_checks_stay_apart() {
        let all = merged(vec![one("quiz", Some("A"), "a", 1.0), one("ticket", Some("B"), "a", 0.0)]);
        let labels: Vec<&str> = all.table.items().iter().map(|i| i.label.as_str()).collect();
        assert_eq!(labels, ["Q1", "Q1 (ticket)"]);
        assert_eq!((all.table.mark(0, 0).points, all.table.mark(0, 1).points), (Some(1.0), Some(0.0)));
    }

    #[test]
    fn sheets_of_several_weeks_keep_their_weeks() {
        let dates = [jiff::civil::date(2026, 2, 2), jiff::civil::date(2026, 2, 9)];
        let mut reading = one("quiz", Some("A"), "a", 1.0);
        reading.table.set_week(0, dates[0]);
        let mut second = one("next", Some("B"), "a", 1.0);
        second.table.set_week(0, dates[1]);
        reading.table.join(&second.table, sheaf_core::scores::Strangers::ComeIn).unwrap();
        let weeks_of = |reading: &Reading| -> Vec<_> {
            merged(vec![reading.clone()]).table.assessments().iter().map(|a| a.week).collect()
        };
        assert_eq!(weeks_of(&reading), dates.map(Some));
        reading.week = Some(dates[0]);
        assert_eq!(weeks_of(&reading), [None, None], "one date: the week that it was handed in for counts");
    }

    #[test]
    fn a_late_class_joins_the_check_of_the_others() {
        let all = merged(vec![one("quiz 5P", Some("A"), "a", 1.0), one("quiz 5Q", Some("A"), "b", 0.0)]);
        assert_eq!((all.table.n_items(), all.table.n_students()), (1, 2));
        assert_eq!((all.table.mark(0, 0).points, all.table.mark(1, 0).points), (Some(1.0), Some(0.0)));
        assert_eq!(all.findings, []);
    }

    #[test]
    fn other_marks_of_one_student_are_told() {
        let twice = |points| merged(vec![one("quiz", Some("A"), "a", 1.0), one("quiz", Some("A"), "a", points)]);
        let (other, alike) = (twice(0.0), twice(1.0));
        assert_eq!(other.table.mark(0, 0).points, Some(1.0));
        assert_eq!(other.findings[0].code, "student-twice");
        assert_eq!(alike.findings[0].code, "student-twice-alike");
    }

    #[test]
    fn one_child_of_two_ids_is_one_student_under_the_newest() {
        let newest = NewestIds::from([(id("old"), id("new"))]);
        let readings = vec![one("quiz", Some("A"), "old", 1.0), one("ticket", Some("B"), "new", 0.0)];
        let all = merge(readings, &newest).unwrap();
        assert_eq!(all.table.students().iter().map(|s| s.id.as_str()).collect::<Vec<_>>(), ["new"]);
        assert_eq!((all.table.mark(0, 0).points, all.table.mark(0, 1).points), (Some(1.0), Some(0.0)));
    }
}
