//! A list of students laid beside score sheets.
//!
//! Keeps: what the sheets say stays, what they leave open is filled in (`the_list_fills_what_the_sheets_leave_open`); where
//! the two differ the reader is told (`a_difference_is_told_once`); who is listed without scores is added
//! (`who_is_listed_without_scores_is_added`).
//! Not here: reading the list (`sheaf-sheets`), keeping it (`weeks`).

use sheaf_core::finding::Finding;
use sheaf_core::roster::Student;
use sheaf_sheets::read::Reading;

/// Ids named in a finding; the rest is counted.
const NAMED: usize = 5;

/// Fills in what is known of students and adds those without scores.
pub(crate) fn merge_students(reading: &mut Reading, listed: Vec<Student>) {
    let n_in_sheets = reading.table.n_students();
    let mut differing: Vec<String> = Vec::new();
    for student in listed {
        let idx = reading.table.add_student(student.clone());
        let Some(known) = reading.table.student_mut(idx) else { continue };
        if differs(&known.grade, &student.grade) || differs(&known.homeroom, &student.homeroom) {
            differing.push(student.id.to_string());
        }
        fill(known, &student);
    }
    let n_added = reading.table.n_students() - n_in_sheets;
    reading.findings.extend(differences(&differing));
    reading.findings.extend(without_scores(n_added));
}

fn differs(in_sheets: &str, in_list: &str) -> bool {
    !in_sheets.is_empty() && !in_list.is_empty() && !in_sheets.eq_ignore_ascii_case(in_list)
}

/// What the sheets leave open is taken from the list.
pub(crate) fn fill(known: &mut Student, listed: &Student) {
    let texts =
        [(&mut known.name, &listed.name), (&mut known.grade, &listed.grade), (&mut known.homeroom, &listed.homeroom)];
    for (own, new) in texts {
        if own.is_empty() {
            own.clone_from(new);
        }
    }
    if known.supports.is_empty() {
        known.supports.clone_from(&listed.supports);
    }
}

fn differences(ids: &[String]) -> Option<Finding> {
    let shown = ids.iter().take(NAMED).cloned().collect::<Vec<_>>().join(", ");
    let more = if ids.len() > NAMED { ", …" } else { "" };
    (!ids.is_empty()).then(|| {
        Finding::warning(
            "student-list-differs",
            format!(
                "Grade or homeroom in the list of students differs from the score sheets for {}: {shown}{more}.",
                ids.len()
            ),
            "the score sheets count; mend the one that is wrong",
        )
    })
}

fn without_scores(n_added: usize) -> Option<Finding> {
    (n_added > 0).then(|| {
        let message = format!("Listed students who are in no score sheet: {n_added}.");
        Finding::note("listed-without-scores", message, "they are in the plan, without scores and without a seat")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::StudentId;
    use sheaf_core::scores::ResponseTable;

    fn student(id: &str, name: &str, grade: &str, homeroom: &str) -> Student {
        Student {
            id: StudentId::parse(id).unwrap(),
            name: name.to_owned(),
            grade: grade.to_owned(),
            homeroom: homeroom.to_owned(),
            supports: Vec::new(),
        }
    }

    fn merged(in_sheets: Vec<Student>, listed: Vec<Student>) -> Reading {
        let mut table = ResponseTable::new();
        for s in in_sheets {
            table.add_student(s);
        }
        let mut reading = Reading { table, ..Reading::default() };
        merge_students(&mut reading, listed);
        reading
    }

    #[test]
    fn the_list_fills_what_the_sheets_leave_open() {
        let listed = Student { supports: vec!["read aloud".into()], ..student("1", "Ada Lund", "5", "5P") };
        let reading = merged(vec![student("1", "A. Lund", "", "5P")], vec![listed.clone()]);
        let want = Student { name: "A. Lund".into(), ..listed };
        assert_eq!(reading.table.students(), [want]);
        assert_eq!(reading.findings, []);
    }

    #[test]
    fn a_difference_is_told_once() {
        let in_sheets: Vec<Student> = (1..=7).map(|i| student(&i.to_string(), "", "5", "5P")).collect();
        let listed: Vec<Student> = (1..=7).map(|i| student(&i.to_string(), "", "5", "5Q")).collect();
        let reading = merged(in_sheets, listed);
        assert_eq!(reading.table.students()[0].homeroom, "5P");
        let codes: Vec<&str> = reading.findings.iter().map(|f| f.code.as_str()).collect();
        assert_eq!(codes, ["student-list-differs"]);
        assert!(reading.findings[0].message.ends_with("for 7: 1, 2, 3, 4, 5, …."), "{}", reading.findings[0].message);
    }

    #[test]
    fn who_is_listed_without_scores_is_added() {
        let reading = merged(vec![student("1", "", "", "")], vec![student("2", "Bo Riis", "5", "5P")]);
        assert_eq!(reading.table.n_students(), 2);
        assert!(!reading.table.has_scores(1));
        assert_eq!(reading.findings[0].code, "listed-without-scores");
    }
}
