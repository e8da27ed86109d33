//! Quillmere's four weeks kept by the command: movement as the command prints it and as a script fetches it, and care of the records.
//!
//! In:  the fixtures' sheets, list, attendance and setup. Out: one file of records, looked at from outside.
//! Not here: verdicts child by child (`weeks`), figures of chance and growth (`sheaf-core`).

use crate::command::{root, sheaf};
use crate::served::Served;
use calamine::{Data, Reader, Xlsx};
use serde_json::Value;
use std::path::Path;

/// Plans week after week into a file of records.
pub fn keep_month(records: &Path) {
    let school = root().join("fixtures/schools/quillmere");
    let path = |name: &str| school.join(name).display().to_string();
    for (n, monday) in (1..).zip(["2026-02-02", "2026-02-09", "2026-02-16", "2026-02-23"]) {
        let (quiz, ticket) = (path(&format!("week{n}_quiz.xlsx")), path(&format!("week{n}_ticket.xlsx")));
        let (there, students, setup) =
            (path(&format!("week{n}_attendance.csv")), path("students.csv"), path("school.toml"));
        let ran = sheaf([
            "plan",
            &quiz,
            &ticket,
            "--students",
            &students,
            "--attendance",
            &there,
            "--school",
            &setup,
            "--week",
            monday,
            "--db",
            &records.display().to_string(),
        ]);
        assert_eq!(ran.code, 0, "{}", ran.err);
    }
}

#[test]
fn movement_of_quillmere_is_one_value() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    keep_month(&records);
    let db = records.display().to_string();
    let by_command = sheaf(["movement", "--db", &db, "--json", "-"]);
    assert_eq!(by_command.code, 0, "{}", by_command.err);
    let served = Served::file(&records);
    let by_script = served.script("GET", "/api/v1/movement").send().unwrap();
    assert_eq!(by_script.status(), 200);
    assert_eq!(by_script.text().unwrap(), by_command.told(), "command and service tell the same");

    let movement: Value = serde_json::from_str(&by_command.told()).unwrap();
    assert_eq!((&movement["from"], &movement["to"]), (&"2026-02-02".into(), &"2026-02-23".into()));
    let student = |id: &str| movement["students"].as_array().unwrap().iter().find(|s| s["id"] == id).unwrap().clone();
    assert_eq!(student("0009")["verdict"], "not-yet-taught");
    let minutes = |week: &Value, key: &str| week[key].as_u64().unwrap();
    let weeks = student("0009")["weeks"].as_array().unwrap().clone();
    let received: u64 = weeks.iter().map(|w| minutes(w, "minutes_received")).sum();
    let planned: u64 = weeks.iter().map(|w| minutes(w, "minutes_planned")).sum();
    assert!(planned > 0 && received * 2 <= planned, "{received} of {planned}");
    for week in ["2026-02-09", "2026-02-16", "2026-02-23"] {
        let flows = movement["flows"].as_array().unwrap().iter().filter(|f| f["week"] == week);
        let n: u64 = flows.map(|f| f["students"].as_u64().unwrap()).sum();
        assert!(n >= 20, "{n} children in the moves into {week}");
    }
    let chance = &movement["by_chance"];
    let share = |key: &str| chance[key].as_f64().unwrap();
    assert!(share("met_expected") > 0.0 && share("met_observed") > share("met_expected"), "{chance}");
    let one_week = sheaf(["movement", "--db", &db, "--from", "2026-02-23", "--json", "-"]);
    let one_week: Value = serde_json::from_str(&one_week.told()).unwrap();
    assert_eq!((one_week["weeks"].as_array().unwrap().len(), &one_week["flows"]), (1, &Value::Array(Vec::new())));
}

/// Cells of the workbook's sheet as text, row by row.
fn movement_sheet(bytes: Vec<u8>) -> Vec<Vec<String>> {
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(std::io::Cursor::new(bytes)).unwrap();
    let text = |cell: &Data| cell.to_string();
    book.worksheet_range("Movement").unwrap().rows().map(|row| row.iter().map(text).collect()).collect()
}

#[test]
fn movement_is_the_same_in_all_four_forms() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    keep_month(&records);
    let by_command = sheaf(["movement", "--db", &records.display().to_string()]).told();
    let served = Served::file(&records);
    let by_script: Value = served.script("GET", "/api/v1/movement").send().unwrap().json().unwrap();
    let page = served.with_cookie("GET", "/movement").send().unwrap().text().unwrap();
    let book = served.script("GET", "/api/v1/weeks/2026-02-23/workbook.xlsx").send().unwrap().bytes().unwrap();
    let sheet = movement_sheet(book.to_vec());

    let figure = |part: &str, key: &str| by_script[part][key].as_f64().unwrap();
    let n = figure("by_chance", "students");
    let by_chance = format!(
        "{:.0} reach it at the last; {:.1} would",
        n * figure("by_chance", "met_observed"),
        n * figure("by_chance", "met_expected")
    );
    let regrouping = format!(
        "{} of {} who changed groups and {} of {} who stayed",
        by_script["regrouping"]["moved_met"],
        by_script["regrouping"]["moved"],
        by_script["regrouping"]["stayed_met"],
        by_script["regrouping"]["stayed"]
    );
    for sentence in [by_chance, regrouping] {
        assert!(by_command.contains(&sentence), "command: {sentence}\n{by_command}");
        assert!(page.contains(&sentence), "page: {sentence}");
        assert!(sheet.iter().any(|row| row[0].contains(&sentence)), "workbook: {sentence}");
    }
    let students = by_script["students"].as_array().unwrap();
    for (word, words) in [
        ("met", "Met"),
        ("close", "Close"),
        ("change-something", "Change something"),
        ("not-yet-taught", "Not yet taught"),
        ("not-enough", "Too little to say"),
    ] {
        let n = students.iter().filter(|s| s["verdict"] == word).count();
        let is_in_table = |link: &str| page.contains(&format!("{words}{link}</th><td class=\"num\">{n}</td>"));
        assert!(is_in_table("</a>") || is_in_table(""), "page: {n} {words}");
        assert_eq!(sheet.iter().filter(|row| row[5] == word.replace('-', " ")).count(), n, "workbook: {word}");
        let told = format!("{n} {}", word.replace('-', " "));
        assert!(n == 0 || by_command.contains(&told), "command: {told}");
    }
    for student in students {
        let (id, reason) = (student["id"].as_str().unwrap(), student["reason"].as_str().unwrap());
        let row = sheet.iter().find(|row| row[0] == id).unwrap_or_else(|| panic!("{id} is not in the workbook"));
        let verdict = student["verdict"].as_str().unwrap().replace('-', " ");
        assert_eq!((row[5].as_str(), row[9].as_str()), (verdict.as_str(), reason));
        assert!(by_command.contains(reason) && page.contains(reason), "{reason}");
        let skill = student["skills"].as_array().unwrap().iter().find(|s| s["skill"] == row[4].as_str());
        if let Some(skill) = skill.filter(|_| !row[6].is_empty()) {
            let cell = |at: usize| row[at].parse::<f64>().unwrap();
            assert!((cell(6) - skill["from"].as_f64().unwrap()).abs() < 1e-9, "{id}");
            assert!((cell(7) - skill["to"].as_f64().unwrap()).abs() < 1e-9, "{id}");
            assert!((cell(8) - skill["by_chance"].as_f64().unwrap()).abs() < 1e-9, "{id}");
        }
    }
    let flows = by_script["flows"].as_array().unwrap();
    let told_flows = sheet.iter().filter(|row| row[0].starts_with("2026-") && !row[3].is_empty());
    assert_eq!(told_flows.count(), flows.len());
    assert_eq!(page.matches("class=\"band").count(), flows.len(), "every way is drawn");
}

#[test]
fn the_memo_of_a_cycle_is_decided_and_shown_again() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    keep_month(&records);
    let served = Served::file(&records);
    let memo = || served.with_cookie("GET", "/movement/memo/2026-02-23").send().unwrap().text().unwrap();
    assert!(memo().contains("Decide for group") && !memo().contains("Decide again"));
    let group = memo().split("name=\"group\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let send = |body: String| {
        let request = served.with_cookie("POST", "/movement/memo/2026-02-23").header("sec-fetch-site", "same-origin");
        request.header("content-type", "application/x-www-form-urlencoded").body(body).send().unwrap()
    };
    let refused = send(format!("group={group}&decision=regroup&reason=&name=Coach+T."));
    assert_eq!(refused.status(), 422);
    let html = refused.text().unwrap();
    assert!(html.contains("Write a reason") && html.contains("value=\"Coach T.\""), "what was typed stays");
    assert_eq!(send(format!("group={group}&decision=regroup&reason=two+skills+now&name=Coach+T.")).status(), 303);
    assert!(memo().contains("two skills now") && memo().contains("Coach T., ") && memo().contains("Decide again"));
    assert_eq!(send("group=g99&decision=keep&reason=x&name=y".to_owned()).status(), 404);
}

#[test]
fn records_are_copied_looked_over_and_put_back() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let quiz = root().join("fixtures/schools/quillmere/week1_quiz.xlsx").display().to_string();
    assert_eq!(sheaf(["plan", &quiz, "--week", "2026-02-02", "--db", &at("school.db")]).code, 0);
    assert_eq!(sheaf(["backup", "--db", &at("school.db"), &at("copy.db")]).code, 0);
    let whole = sheaf(["verify", "--db", &at("copy.db")]);
    assert_eq!((whole.code, whole.told().trim()), (0, "The records are whole: 1 week, 1 upload, 1 plan."));
    let forgotten = sheaf(["forget", "--db", &at("school.db"), "0004"]);
    assert_eq!(forgotten.code, 0, "{}", forgotten.err);
    assert!(forgotten.told().starts_with("Forgotten, in 1 upload and 1 plan;"), "{}", forgotten.told());
    assert_eq!(sheaf(["forget", "--db", &at("school.db"), "0004"]).code, 3);
    assert_eq!(sheaf(["restore", &at("copy.db"), "--db", &at("school.db")]).code, 0);
    assert_eq!(sheaf(["forget", "--db", &at("school.db"), "0004"]).code, 0, "the child is there again");
    for (args, code) in [
        (["verify", "--db", &at("none.db")], 1),
        (["movement", "--db", &at("none.db")], 3),
        (["verify", "--db", &quiz], 1),
    ] {
        let ran = sheaf(args);
        assert_eq!((ran.code, ran.err.lines().count()), (code, 1), "{}", ran.err);
    }
    assert!(!Path::new(&at("none.db")).exists(), "a look makes no records");
}
