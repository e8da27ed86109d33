//! Results typed into the workbook that was handed out come home: on the right ticket, each once, nothing else.
//!
//! In:  the demo school's workbook, answers drawn from a seed, openpyxl in the place of the person who types (`type_results.py`).
//! Every case sorts the rows anew, deletes some, leaves some half-filled, hides some, puts a column of notes between, changes forms,
//! and saves the workbook or that sheet as CSV. Not here: what the answers say of a child (`sheaf-core`).

use crate::served::Served;
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// A case a week after the one that the tickets were handed out in; the seed of each is its place.
const MONDAYS: [&str; 10] = [
    "2026-02-09",
    "2026-02-16",
    "2026-02-23",
    "2026-03-02",
    "2026-03-09",
    "2026-03-16",
    "2026-03-23",
    "2026-03-30",
    "2026-04-06",
    "2026-04-13",
];
/// Debian's own, for which its openpyxl is installed.
const PYTHON: &str = "/usr/bin/python3";

/// What is typed for one child.
struct Typed {
    id: String,
    form: String,
    answers: Vec<Option<String>>,
}

fn get(served: &Served, path: &str) -> Value {
    serde_json::from_slice(&served.script("GET", path).send().unwrap().bytes().unwrap()).unwrap()
}

fn strings(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
}

fn letters(item: &Value) -> Vec<String> {
    item["options"].as_array().unwrap().iter().map(|o| o["label"].as_str().unwrap().to_owned()).collect()
}

/// An answer that may stand in the cell; `None`: left empty.
fn answer(item: &Value, rng: &mut Xoshiro256Plus) -> Option<String> {
    if rng.gen_bool(0.15) {
        return None;
    }
    let key = strings(&item["key"]);
    Some(match item["type"].as_str().unwrap() {
        "choice" => letters(item).choose(rng).unwrap().clone(),
        "match" => rng.gen_range(0..=item["points"].as_f64().unwrap() as u32).to_string(),
        // As it is on the key, or a number that nobody meant.
        "numeric" => {
            if rng.gen_bool(0.5) {
                key[0].clone()
            } else {
                "977".to_owned()
            }
        }
        _ => key.join(","),
    })
}

/// A line a child with a seat, some deleted, in a new order.
fn drawn(plan: &Value, rng: &mut Xoshiro256Plus) -> Vec<Typed> {
    let mut typed = Vec::new();
    for group in plan["groups"].as_array().unwrap() {
        let of_group = |t: &&Value| t["group"] == group["id"];
        let tickets: Vec<&Value> = plan["tickets"].as_array().unwrap().iter().filter(of_group).collect();
        for id in strings(&group["members"]) {
            let ticket = tickets.choose(rng).unwrap();
            let is_absent = rng.gen_bool(0.1);
            let items = ticket["items"].as_array().unwrap();
            let answers = items.iter().map(|i| if is_absent { Some("absent".to_owned()) } else { answer(i, rng) });
            typed.push(Typed {
                id,
                form: ticket["form_code"].as_str().unwrap().to_owned(),
                answers: answers.collect(),
            });
        }
    }
    typed.shuffle(rng);
    typed.truncate(typed.len() - rng.gen_range(0..5));
    typed
}

/// One mark in the records: what became of it, the answer, the points.
#[derive(Debug, PartialEq)]
struct Booked {
    state: String,
    answer: Option<String>,
    points: Option<f64>,
}

/// What the records hold of a child's week, by form code and number of the item; what was not taken is left out.
fn booked(served: &Served, id: &str, week: &str) -> BTreeMap<(String, usize), Booked> {
    let record = get(served, &format!("/api/v1/students/{id}"));
    let weeks = record["weeks"].as_array().unwrap();
    let scores = weeks.iter().filter(|w| w["week"] == week).flat_map(|w| w["scores"].as_array().unwrap());
    let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
    let number = |item: &str| item.split_whitespace().nth(1).unwrap().parse::<usize>().unwrap();
    let mark = |s: &Value| Booked {
        state: text(&s["state"]),
        answer: s["answer"].as_str().map(str::to_owned),
        points: s["points"].as_f64(),
    };
    let taken = scores.filter(|s| s["state"] != "not-taken");
    taken.map(|s| ((text(&s["check"]), number(&text(&s["item"]))), mark(s))).collect()
}

fn type_in(folder: &Path, book: &[u8], how: &Value, is_csv: bool) -> Vec<u8> {
    let (given, order, out) =
        (folder.join("book.xlsx"), folder.join("how.json"), folder.join(if is_csv { "out.csv" } else { "out.xlsx" }));
    std::fs::write(&given, book).unwrap();
    std::fs::write(&order, how.to_string()).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("acceptance/tickets_back/type_results.py");
    let ran = Command::new(PYTHON).arg(script).args([&given, &order, &out]).output().unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    std::fs::read(out).unwrap()
}

#[test]
fn typed_results_are_booked_as_typed_and_nothing_else() {
    let served = Served::demo();
    let plan = get(&served, "/api/v1/weeks/2026-02-02/plan");
    let book = served.script("GET", "/api/v1/weeks/2026-02-02/workbook.xlsx").send().unwrap().bytes().unwrap();
    let folder = tempfile::tempdir().unwrap();
    for case in 0..MONDAYS.len() as u64 {
        let mut rng = Xoshiro256Plus::seed_from_u64(case);
        let typed = drawn(&plan, &mut rng);
        let is_csv = rng.gen_bool(0.4);
        let rows: Vec<Value> =
            typed.iter().map(|t| json!({"id": t.id, "form": t.form, "answers": t.answers})).collect();
        let hidden: Vec<&str> = typed.iter().filter(|_| rng.gen_bool(0.2)).map(|t| t.id.as_str()).collect();
        let note_at = rng.gen_bool(0.5).then(|| rng.gen_range(2..8));
        let how = json!({"rows": rows, "hidden": hidden, "note_at": note_at, "csv": is_csv});
        let bytes = type_in(folder.path(), &book, &how, is_csv);
        let day = MONDAYS[case as usize].to_owned();
        let name = if is_csv { "results.csv" } else { "results.xlsx" };
        let part = reqwest::blocking::multipart::Part::bytes(bytes).file_name(name);
        let form = reqwest::blocking::multipart::Form::new().part("file", part);
        let sent =
            served.script("POST", &format!("/api/v1/weeks/{day}/ticket-results")).multipart(form).send().unwrap();
        assert_eq!(sent.status(), 201, "case {case}: {}", sent.text().unwrap());
        check(&served, &plan, &typed, &day, case);
    }
}

fn check(served: &Served, plan: &Value, typed: &[Typed], day: &str, case: u64) {
    let mut n_seen = 0;
    for group in plan["groups"].as_array().unwrap() {
        for id in strings(&group["members"]) {
            let mut booked = booked(served, &id, day);
            if let Some(typed) = typed.iter().find(|t| t.id == id) {
                let ticket = plan["tickets"].as_array().unwrap().iter().find(|t| t["form_code"] == typed.form).unwrap();
                for (at, item) in ticket["items"].as_array().unwrap().iter().enumerate() {
                    let mark = booked.remove(&(typed.form.clone(), at + 1));
                    n_seen += usize::from(mark.is_some());
                    check_mark(mark.as_ref(), typed.answers[at].as_deref(), item, &format!("case {case}, {id}"));
                }
            }
            assert!(booked.is_empty(), "case {case}, {id}: nobody typed {booked:?}");
        }
    }
    assert!(n_seen > 60, "case {case}: {n_seen} marks");
}

fn check_mark(mark: Option<&Booked>, typed: Option<&str>, item: &Value, place: &str) {
    let Some(typed) = typed.filter(|t| *t != "absent") else {
        // An item that nobody answered was not given; a child who was away took nothing.
        assert!(mark.is_none_or(|m| typed.is_none() && m.state == "omitted"), "{place}: {typed:?} became {mark:?}");
        return;
    };
    let mark = mark.unwrap_or_else(|| panic!("{place}: {typed} is not booked"));
    let full = item["points"].as_f64().unwrap();
    let points = match item["type"].as_str().unwrap() {
        "match" => typed.parse().unwrap(),
        _ if strings(&item["key"]).join(",") == typed => full,
        _ => 0.0,
    };
    let answer = (item["type"] != "match").then(|| typed.to_owned());
    let wanted = Booked { state: "scored".to_owned(), answer, points: Some(points) };
    assert_eq!(mark, &wanted, "{place}: {typed}, {}", item["type"]);
}
