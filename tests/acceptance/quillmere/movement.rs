//! Quillmere's four weeks kept by the command: movement as the command prints it and as a script fetches it, and care of the records.
//!
//! In:  the fixtures' sheets, list, attendance and setup. Out: one file of records, looked at from outside.
//! Not here: verdicts child by child (`weeks`), figures of chance and growth (`sheaf-core`).

use crate::command::{root, sheaf};
use crate::served::Served;
use serde_json::Value;
use std::path::Path;

/// Plans week after week into a file of records.
fn keep_month(records: &Path) {
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
