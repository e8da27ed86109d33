//! One run of the README's command on Quillmere's first week, and what lies beside it: setup, list of students, truth.
//!
//! In:  the README's line, with the workbook put into a folder of its own. Out: a [`Week`] to ask.
//! The run as the README has it is made once and shared, as every test only looks at it.

use crate::command::{root, sheaf};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;

/// What one run gave.
pub struct Week {
    /// The plan as JSON.
    pub plan: Value,
    /// What was printed.
    pub told: String,
    /// Where the workbook lies.
    pub book: PathBuf,
    _folder: Option<TempDir>,
}

impl Week {
    /// As the README has it.
    pub fn first() -> &'static Week {
        static FIRST: OnceLock<Week> = OnceLock::new();
        FIRST.get_or_init(|| Week::plan(&[]))
    }

    /// With some flags of the README's command given another value.
    pub fn plan(changes: &[(&str, &str)]) -> Week {
        let folder = tempfile::tempdir().unwrap();
        let week = Week::run(changed(readme_args(), changes), folder.path());
        Week { _folder: Some(folder), ..week }
    }

    /// Runs a whole command line; workbook and JSON are put into a folder.
    pub fn run(args: Vec<String>, folder: &Path) -> Week {
        let (book, json) = (folder.join("plan.xlsx"), folder.join("plan.json"));
        let files = [("--out", book.to_str().unwrap()), ("--json", json.to_str().unwrap())];
        let ran = sheaf(changed(args, &files));
        assert_eq!(ran.code, 0, "{}", ran.err);
        let plan = serde_json::from_slice(&std::fs::read(&json).unwrap()).unwrap();
        Week { plan, told: ran.told(), book, _folder: None }
    }

    /// The JSON alone, byte for byte, from stdout.
    pub fn json(changes: &[(&str, &str)]) -> Vec<u8> {
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("plan.xlsx");
        let mut args = changed(readme_args(), &[("--out", book.to_str().unwrap()), ("--json", "-")]);
        args = changed(args, changes);
        let ran = sheaf(args);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    }

    pub fn groups(&self) -> &[Value] {
        list(&self.plan["groups"])
    }

    pub fn student(&self, id: &str) -> &Value {
        list(&self.plan["students"]).iter().find(|s| s["id"] == id).unwrap_or_else(|| panic!("no student {id}"))
    }

    pub fn sits_in(&self, id: &str, group: &Value) -> bool {
        list(&group["members"]).iter().any(|m| m == id)
    }

    /// What was printed under a group's heading.
    pub fn told_of(&self, group: &Value) -> &str {
        let heading = format!("\n{}: ", text(&group["name"]));
        let from = self.told.find(&heading).unwrap_or_else(|| panic!("no{heading}"));
        let part = &self.told[from + 1..];
        part.split("\n\n").next().unwrap()
    }

    /// Whether the printed plan and the JSON both say that wrong ideas are mixed in a group.
    pub fn says_mixed(&self, group: &Value) -> bool {
        let is_printed = self.told_of(group).contains("Different wrong ideas sit here because sizes");
        let found = list(&self.plan["findings"]).iter().find(|f| f["code"] == "ideas-mixed");
        let message = found.map_or(String::new(), |f| text(&f["message"]));
        let named = message.trim_end_matches('.').split_once(": ").map_or("", |(_, named)| named);
        is_printed && named.split(", ").any(|name| group["name"] == name)
    }
}

/// The arguments of the README's first command, from `plan` on.
pub fn readme_args() -> Vec<String> {
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    let line = readme.lines().find_map(|l| l.strip_prefix("cargo run --release -- plan ")).unwrap();
    std::iter::once("plan").chain(line.split_whitespace()).map(str::to_owned).collect()
}

/// Flags with another value; a flag that is not there is added.
fn changed(mut args: Vec<String>, changes: &[(&str, &str)]) -> Vec<String> {
    for (flag, value) in changes {
        match args.iter().position(|a| a == flag) {
            Some(at) => (*value).clone_into(&mut args[at + 1]),
            None => args.extend([(*flag).to_owned(), (*value).to_owned()]),
        }
    }
    args
}

/// The elements of a list.
pub fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap_or_else(|| panic!("{value} is no list"))
}

/// A text.
pub fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("{value} is no text")).to_owned()
}

fn read(name: &str) -> String {
    std::fs::read_to_string(root().join("fixtures/schools/quillmere").join(name)).unwrap()
}

/// Rows of a plain table after its header.
fn rows(name: &str) -> Vec<Vec<String>> {
    read(name).lines().skip(1).map(|l| l.split(',').map(str::to_owned).collect()).collect()
}

/// The setup, as the school wrote it.
pub fn setup() -> toml::Table {
    read("school.toml").parse().unwrap()
}

/// Homeroom of each child.
pub fn homerooms() -> BTreeMap<String, String> {
    rows("students.csv").into_iter().map(|r| (r[0].clone(), r[3].clone())).collect()
}

/// Children in whom one of these wrong ideas was planted for week 1.
pub fn planted(ideas: &[&str]) -> BTreeSet<String> {
    let is_meant = |r: &Vec<String>| r[1] == "1" && ideas.contains(&r[4].as_str());
    rows("truth/needs.csv").into_iter().filter(is_meant).map(|r| r[0].clone()).collect()
}

/// What was planted: by child and week the state and the idea of a skill.
pub fn planted_states(skill: &str) -> BTreeMap<(String, usize), (String, String)> {
    let of_skill = rows("truth/needs.csv").into_iter().filter(|r| r[2] == skill);
    of_skill.map(|r| ((r[0].clone(), r[1].parse().unwrap()), (r[3].clone(), r[4].clone()))).collect()
}

/// Children with an answer on the quiz or the ticket of week 1.
pub fn with_scores() -> BTreeSet<String> {
    let sheets = ["source/week1_quiz.csv", "source/week1_ticket.csv"];
    let has_answer = |r: &Vec<String>| r[1..].iter().any(|cell| !cell.is_empty() && cell != "abs");
    sheets.iter().flat_map(|name| rows(name)).filter(has_answer).map(|r| r[0].clone()).collect()
}
