//! Sheets with one thing to doubt, made by a rule, and what is said of them.
//! Answers come from a small fixed sequence, so that each test is the same on every run.

use super::super::tests::{read_known, read_text};
use super::super::{Reading, SourceFile};
use sheaf_core::roster::{Student, StudentId};

/// A number below `n`, by a fixed sequence.
struct Sequence(u64);

impl Sequence {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

const KEYS: &[u8] = b"BADCABDACBDB";

/// A sheet of 24 students and 12 items; `answer` gives the letter of a student's answer, by student and item.
fn sheet(answer: impl Fn(usize, usize, u8) -> u8) -> String {
    let mut text = ",key".to_owned();
    KEYS.iter().for_each(|k| text.push_str(&format!(",{}", *k as char)));
    text.push_str("\nid,name");
    (1..=KEYS.len()).for_each(|n| text.push_str(&format!(",Q{n}")));
    text.push('\n');
    let mut sequence = Sequence(7);
    for s in 0..24 {
        text.push_str(&format!("{:04},Child {s}", 100 + s));
        for (i, key) in KEYS.iter().enumerate() {
            // Later rows know more.
            let knows = sequence.below(30) < 6 + s as u64;
            let own = if knows { *key } else { b'A' + sequence.below(4) as u8 };
            text.push_str(&format!(",{}", answer(s, i, own) as char));
        }
        text.push('\n');
    }
    text
}

fn told(reading: &Reading) -> Vec<String> {
    let doubts =
        ["key-doubtful", "near-chance", "answers-shifted", "row-shifted", "option-not-offered", "row-all-zeros"];
    reading
        .findings
        .iter()
        .filter(|f| doubts.contains(&f.code.as_str()))
        .map(|f| format!("{} {}", f.code, f.cell))
        .collect()
}

fn told_of(answer: impl Fn(usize, usize, u8) -> u8) -> Vec<String> {
    told(&read_text(&[("f.csv", &sheet(answer))]))
}

#[test]
fn ordinary_answers_are_not_shifted() {
    assert!(told_of(|_, _, own| own).is_empty());
}

#[test]
fn a_key_that_most_high_scorers_contradict_is_doubted() {
    // Everyone who knows chooses D on the third item's neighbour, Q4, whose key says C.
    assert_eq!(told_of(|_, i, own| if i == 3 && own == b'C' { b'D' } else { own }), ["key-doubtful F1"]);
}

#[test]
fn a_hard_item_is_no_wrong_key() {
    assert!(told_of(|s, i, own| if i == 3 { b'A' + (s % 4) as u8 } else { own }).is_empty());
}

#[test]
fn a_column_shifted_by_one_is_offered() {
    // From Q5 on each answer stands one column to the right.
    let moved: String = sheet(|_, _, own| own)
        .lines()
        .enumerate()
        .map(|(n, line)| {
            let mut cells: Vec<&str> = line.split(',').collect();
            if n > 1 {
                cells.insert(6, "A");
                cells.truncate(14);
            }
            cells.join(",") + "\n"
        })
        .collect();
    assert_eq!(told(&read_text(&[("f.csv", &moved)])), ["answers-shifted H1"]);
}

#[test]
fn a_row_that_skipped_a_line_is_offered() {
    let skipped = |s: usize, i: usize, own: u8| match (s, i) {
        (5, 0) => b'C',
        (5, _) => KEYS[i - 1],
        _ => own,
    };
    assert_eq!(told_of(skipped), ["row-shifted D8"]);
}

/// A number from 0 to 3 that goes by nothing.
fn mixed(s: usize, i: usize) -> u32 {
    let h = (s as u32 + 1).wrapping_mul(2_654_435_761) ^ (i as u32 + 1).wrapping_mul(2_246_822_519);
    (h ^ (h >> 15)).wrapping_mul(2_246_822_519) >> 30
}

#[test]
fn a_sheet_near_chance_is_told() {
    assert_eq!(told_of(|s, i, _| b'A' + mixed(s, i) as u8), ["near-chance C2"]);
}

#[test]
fn a_fifth_option_is_told() {
    assert_eq!(told_of(|s, i, own| if (s, i) == (3, 2) { b'E' } else { own }), ["option-not-offered E6"]);
    assert!(told_of(|s, _, own| if s % 5 == 0 { b'E' } else { own }).is_empty());
}

#[test]
fn a_row_of_zeros_is_told() {
    let reading = read_text(&[("f.csv", "id,name,Q1,Q2,Q3\n1,Ann,1,0,1\n2,Bo,0,0,0\n3,Cy,0,,0\n")]);
    assert_eq!(told(&reading), ["row-all-zeros C3"]);
}

fn known(classes: &[(&str, &str, &str)]) -> Vec<Student> {
    let student = |(id, homeroom, grade): &(&str, &str, &str)| Student {
        id: StudentId::parse(id).unwrap(),
        name: String::new(),
        grade: (*grade).to_owned(),
        homeroom: (*homeroom).to_owned(),
        supports: Vec::new(),
    };
    classes.iter().map(student).collect()
}

#[test]
fn a_class_that_is_missing_is_told() {
    let source = SourceFile { name: "f.csv", bytes: b"id,name,class,Q1\n1,Ann,5P,1\n" };
    let reading = read_known(&[source], &known(&[("1", "5P", "5"), ("2", "5Q", "5"), ("3", "5q", "5")]));
    let finding = reading.findings.iter().find(|f| f.code == "class-missing").unwrap();
    assert_eq!(finding.message, "No sheet has any of the 2 students of 5Q.");
    assert!(!read_known(&[source], &known(&[("9", "4A", "5")])).findings.iter().any(|f| f.code == "class-missing"));
}

#[test]
fn a_file_of_another_grade_is_told() {
    let source = SourceFile { name: "f.csv", bytes: b"id,name,grade,Q1\n1,Ann,4th,1\n" };
    let codes = |known: &[Student]| read_known(&[source], known).findings.iter().any(|f| f.code == "grade-unknown");
    assert!(codes(&known(&[("7", "5P", "5")])));
    assert!(!codes(&known(&[("7", "4P", "Grade 4")])));
}
