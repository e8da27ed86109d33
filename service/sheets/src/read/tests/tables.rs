//! Drawn tables of responses, and the sheets that a person might make of them.
//!
//! In:  nothing; everything is drawn. Out: a [`Table`] of what was answered, with what it should read as, and [`Grid`]s of it in several
//! layouts: a row a student with labels above or below the headings, a row a response, students across, two sheets.
//! Drawn are ids with leading zeros, names of many scripts, options, sets of options, points, right and wrong, fractions, absent, blank.
//! Not here: files (`written`), reading them again (`same_responses`).

use proptest::prelude::*;
use sheaf_core::scores::{ItemKind, Mark};

/// What a cell of a sheet holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Blank,
    Text(String),
    Number(f64),
    Truth(bool),
}

pub type Grid = Vec<Vec<Value>>;

/// How the marks of an item are given.
#[derive(Debug, Clone)]
pub enum Given {
    /// Options, by a key of one letter or several.
    Options(Vec<char>),
    Points,
    RightOrWrong,
    Fractions(String),
}

#[derive(Debug, Clone)]
pub struct DrawnItem {
    pub label: String,
    pub given: Given,
    pub points: f64,
    pub skill: &'static str,
}

impl DrawnItem {
    pub fn key(&self) -> Option<String> {
        match &self.given {
            Given::Options(letters) => Some(joined(letters, ",")),
            Given::Fractions(key) => Some(key.clone()),
            _ => None,
        }
    }

    pub fn kind(&self) -> ItemKind {
        match &self.given {
            Given::Options(letters) if letters.len() > 1 => ItemKind::MultiSelect,
            Given::Fractions(_) => ItemKind::Numeric,
            _ => ItemKind::Choice,
        }
    }
}

/// A cell as typed, and what it should read as; a blank is judged by its row and column.
#[derive(Debug, Clone)]
pub struct DrawnMark {
    pub value: Value,
    pub mark: Option<Mark>,
}

#[derive(Debug, Clone)]
pub struct Table {
    pub students: Vec<[String; 3]>,
    pub items: Vec<DrawnItem>,
    pub marks: Vec<Vec<DrawnMark>>,
}

fn joined(letters: &[char], between: &str) -> String {
    letters.iter().map(char::to_string).collect::<Vec<_>>().join(between)
}

impl Table {
    /// What a cell should read as: a blank is omitted where its row and its item have any mark, else not taken.
    pub fn expected(&self, student: usize, item: usize) -> Mark {
        let is_filled = |s: usize, i: usize| self.marks[s][i].value != Value::Blank;
        self.marks[student][item].mark.clone().unwrap_or_else(|| {
            let row = (0..self.items.len()).any(|i| is_filled(student, i));
            let column = (0..self.students.len()).any(|s| is_filled(s, item));
            if row && column { Mark::OMITTED } else { Mark::NOT_TAKEN }
        })
    }

    /// Some of the students.
    pub fn part(&self, of: impl Fn(usize) -> bool) -> Table {
        let at: Vec<usize> = (0..self.students.len()).filter(|s| of(*s)).collect();
        Table {
            students: at.iter().map(|s| self.students[*s].clone()).collect(),
            items: self.items.clone(),
            marks: at.iter().map(|s| self.marks[*s].clone()).collect(),
        }
    }

    /// The same with rows and columns in another order.
    pub fn shuffled(&self, rows: &[usize], columns: &[usize]) -> Table {
        Table {
            students: rows.iter().map(|s| self.students[*s].clone()).collect(),
            items: columns.iter().map(|i| self.items[*i].clone()).collect(),
            marks: rows.iter().map(|s| columns.iter().map(|i| self.marks[*s][*i].clone()).collect()).collect(),
        }
    }

    fn facts(&self) -> [Vec<Value>; 3] {
        let row = |word: &str, of: &dyn Fn(&DrawnItem) -> Value| {
            let label = [Value::Blank, Value::Blank, text(word)];
            label.into_iter().chain(self.items.iter().map(of)).collect()
        };
        [
            row("skill", &|i| text(i.skill)),
            row("key", &|i| i.key().map_or(Value::Blank, |k| text(&k))),
            row("points", &|i| Value::Number(i.points)),
        ]
    }

    fn header(&self) -> Vec<Value> {
        ["Student ID", "Name", "Class"]
            .into_iter()
            .chain(self.items.iter().map(|i| i.label.as_str()))
            .map(text)
            .collect()
    }

    fn rows(&self) -> impl Iterator<Item = Vec<Value>> + '_ {
        let row = |(student, marks): (&[String; 3], &Vec<DrawnMark>)| {
            student.iter().map(|t| text(t)).chain(marks.iter().map(|m| m.value.clone())).collect()
        };
        self.students.iter().zip(&self.marks).map(row)
    }

    pub fn labels_above(&self) -> Grid {
        self.facts().into_iter().chain([self.header()]).chain(self.rows()).collect()
    }

    pub fn labels_below(&self) -> Grid {
        [self.header()].into_iter().chain(self.facts()).chain(self.rows()).collect()
    }

    pub fn across(&self) -> Grid {
        let grid = self.labels_above();
        (0..grid[0].len()).map(|c| grid.iter().map(|row| row[c].clone()).collect()).collect()
    }

    /// A row a response. Blank answers are left out where the sheet above says "not taken", since a row would say "omitted".
    pub fn long(&self) -> Grid {
        let mut grid: Grid =
            vec![["Student ID", "Name", "Class", "Item", "Answer", "Key", "Points", "Skill"].map(text).to_vec()];
        for (s, student) in self.students.iter().enumerate() {
            for (i, item) in self.items.iter().enumerate() {
                let is_not_taken = self.expected(s, i) == Mark::NOT_TAKEN;
                let value = match self.marks[s][i].value.clone() {
                    Value::Blank if is_not_taken && s > 0 && i > 0 => continue,
                    Value::Blank if is_not_taken => text("abs"),
                    value => value,
                };
                let key = item.key().map_or(Value::Blank, |k| text(&k));
                let of_item = [text(&item.label), value, key, Value::Number(item.points), text(item.skill)];
                grid.push(student.iter().map(|t| text(t)).chain(of_item).collect());
            }
        }
        grid
    }
}

pub fn text(text: &str) -> Value {
    if text.is_empty() { Value::Blank } else { Value::Text(text.to_owned()) }
}

/// Letters of names: Latin with accents, Cyrillic, Arabic, Chinese, Greek, Devanagari, and signs inside names.
fn name() -> impl Strategy<Value = String> {
    let given = prop_oneof![
        "[A-Z][a-zñéü]{2,7}",
        "[А-Я][а-я]{2,7}",
        "[ء-ي]{2,7}",
        "[一-龥]{2,3}",
        "[Α-Ω][α-ω]{2,6}",
        "[अ-ह]{2,5}",
        "[A-Z][a-z]{1,3}e\u{301}[a-z]{1,3}"
    ];
    let family = prop_oneof![
        "[A-Z]\\.",
        "[A-Z][a-z]{3,8}",
        "de la [A-Z][a-z]{3,5}",
        "O'[A-Z][a-z]{3,5}",
        "[A-Z][a-z]{2,5}, Jr\\.",
        "\"[A-Z][a-z]{3}\" [A-Z][a-z]{3,5}"
    ];
    (given, family).prop_map(|(given, family)| format!("{given} {family}"))
}

/// Ids of one length with leading zeros, or of letters and digits; each once.
fn ids(n: usize) -> impl Strategy<Value = Vec<String>> {
    let digits = prop::sample::subsequence((1..400).collect::<Vec<u32>>(), n);
    (digits, 0..3_usize).prop_map(|(numbers, form)| {
        let id = |n: &u32| match form {
            0 => format!("{n:05}"),
            1 => format!("{}", 100_000 + n),
            _ => format!("A-{n:03}"),
        };
        numbers.iter().map(id).collect()
    })
}

fn letters() -> impl Strategy<Value = Vec<char>> {
    prop_oneof![
        3 => prop::sample::select(vec!['A', 'B', 'C', 'D']).prop_map(|c| vec![c]),
        1 => prop::sample::subsequence(vec!['A', 'B', 'C', 'D', 'E'], 2..4),
    ]
}

const FRACTIONS: [&str; 6] = ["3/4", "2/3", "1 1/2", "7/8", "5/6", "4/3"];

fn item(number: usize) -> impl Strategy<Value = DrawnItem> {
    let given = prop_oneof![
        4 => letters().prop_map(Given::Options),
        3 => Just(Given::Points),
        2 => Just(Given::RightOrWrong),
        1 => prop::sample::select(&FRACTIONS[..]).prop_map(|f| Given::Fractions(f.to_owned())),
    ];
    let word = prop::sample::select(vec!["Q", "Item ", "Pregunta ", "#"]);
    let skill = prop::sample::select(vec!["4.NF.A.1", "4.NF.B.3", "5.NBT.A.1", "3.OA.A.1"]);
    (given, 1..5_u8, word, skill).prop_map(move |(given, points, word, skill)| DrawnItem {
        label: format!("{word}{number}"),
        given,
        points: f64::from(points),
        skill,
    })
}

fn scored(value: Value, answer: Option<String>, points: f64) -> DrawnMark {
    DrawnMark { value, mark: Some(Mark::scored(answer, Some(points))) }
}

/// Draws a mark of an item by one number.
fn mark(item: &DrawnItem, n: usize) -> DrawnMark {
    match n % 10 {
        0 => return DrawnMark { value: Value::Blank, mark: None },
        1 => {
            let word = ["abs", "n/a", "-", "Ausente", "exc"][n / 10 % 5];
            return DrawnMark { value: text(word), mark: Some(Mark::NOT_TAKEN) };
        }
        _ => {}
    }
    let n = n / 10;
    let is_right = n.is_multiple_of(2);
    let worth = if is_right { item.points } else { 0.0 };
    match &item.given {
        Given::Points => {
            let points = (n % (item.points as usize * 2 + 1)) as f64 / 2.0;
            scored(Value::Number(points), None, points)
        }
        Given::RightOrWrong => {
            let value = match n % 3 {
                0 => Value::Truth(is_right),
                1 => text(if is_right { "✓" } else { "✗" }),
                _ => text(if is_right { "right" } else { "wrong" }),
            };
            scored(value, None, worth)
        }
        Given::Options(key) if key.len() == 1 => {
            let letter = ['A', 'B', 'C', 'D'][n % 4];
            let typed = if n.is_multiple_of(3) { letter.to_ascii_lowercase() } else { letter };
            let points = if letter == key[0] { item.points } else { 0.0 };
            scored(text(&typed.to_string()), Some(letter.to_string()), points)
        }
        Given::Options(key) => {
            let chosen: Vec<char> =
                ['A', 'B', 'C', 'D', 'E'].into_iter().filter(|c| is_right == key.contains(c)).collect();
            let between = [",", "; ", " ", " & "][n / 2 % 4];
            let typed: Vec<char> =
                if n.is_multiple_of(3) { chosen.iter().rev().copied().collect() } else { chosen.clone() };
            scored(text(&joined(&typed, between)), Some(joined(&chosen, ",")), worth)
        }
        Given::Fractions(key) => {
            let answer = if is_right { key.as_str() } else { FRACTIONS[n / 2 % FRACTIONS.len()] };
            let points = if answer == key { item.points } else { 0.0 };
            scored(text(answer), Some(answer.to_owned()), points)
        }
    }
}

/// A table of 2 to 9 students and 2 to 6 items.
pub fn table() -> impl Strategy<Value = Table> {
    (2..10_usize, 2..7_usize).prop_flat_map(|(n_students, n_items)| {
        let items: Vec<_> = (1..=n_items).map(item).collect();
        let names = prop::collection::vec((name(), prop::sample::select(vec!["4M", "5 P", "Room 12"])), n_students);
        let numbers = prop::collection::vec(prop::collection::vec(0..10_000_usize, n_items), n_students);
        (ids(n_students), names, items, numbers).prop_map(|(ids, names, items, numbers)| {
            let people = ids.into_iter().zip(names).map(|(id, (name, class))| [id, name, class.to_owned()]);
            let marks_of = |row: Vec<usize>| items.iter().zip(row).map(|(item, n)| mark(item, n)).collect();
            Table { students: people.collect(), marks: numbers.into_iter().map(marks_of).collect(), items }
        })
    })
}
