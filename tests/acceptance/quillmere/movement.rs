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
fn sheet_of(bytes: &[u8], name: &str) -> Vec<Vec<String>> {
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(std::io::Cursor::new(bytes.to_vec())).unwrap();
    let text = |cell: &Data| cell.to_string();
    book.worksheet_range(name).unwrap().rows().map(|row| row.iter().map(text).collect()).collect()
}

#[test]
fn movement_is_the_same_in_all_four_forms() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    keep_month(&records);
    let served = Served::file(&records);
    let reason = seat_elsewhere(&served);
    let by_command = sheaf(["movement", "--db", &records.display().to_string()]).told();
    let by_script: Value = served.script("GET", "/api/v1/movement").send().unwrap().json().unwrap();
    let page = served.with_cookie("GET", "/movement").send().unwrap().text().unwrap();
    let book = served.script("GET", "/api/v1/weeks/2026-02-23/workbook.xlsx").send().unwrap().bytes().unwrap();
    let sheet = sheet_of(&book, "Movement");

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
        let next = student["next"].as_str().unwrap();
        assert!(row[10] == next && by_command.contains(next) && page.contains(next), "{next}");
        let skill = student["skills"].as_array().unwrap().iter().find(|s| s["skill"] == row[4].as_str());
        if let Some(skill) = skill.filter(|_| !row[6].is_empty()) {
            let cell = |at: usize| row[at].parse::<f64>().unwrap();
            assert!((cell(6) - skill["from"].as_f64().unwrap()).abs() < 1e-9, "{id}");
            assert!((cell(7) - skill["to"].as_f64().unwrap()).abs() < 1e-9, "{id}");
            assert!((cell(8) - skill["by_chance"].as_f64().unwrap()).abs() < 1e-9, "{id}");
        }
    }
    let all = AllForms { by_command, by_script, page, sheet };
    all.tell_the_same_moves();
    all.tell_the_same_turns();
    all.tell_the_same_sums();
    all.tell_the_decision(&reason);
}

/// A person seats a child of the last week elsewhere; gives the reason.
fn seat_elsewhere(served: &Served) -> String {
    let answer = served.script("GET", "/api/v1/weeks/2026-02-23/plan").send().unwrap();
    let tag = answer.headers()["etag"].to_str().unwrap().to_owned();
    let plan: Value = answer.json().unwrap();
    let groups = plan["groups"].as_array().unwrap();
    let (from, to) = (&groups[0], &groups[1]);
    let reason = "works well beside a reader";
    let body = serde_json::json!({"student": from["members"][0], "to": to["id"], "reason": reason, "hold": true});
    let request = served.script("PATCH", "/api/v1/weeks/2026-02-23/groups").header("if-match", tag).json(&body);
    assert_eq!(request.send().unwrap().status(), 200);
    reason.to_owned()
}

/// Movement of the same records in its four forms.
struct AllForms {
    by_command: String,
    by_script: Value,
    page: String,
    sheet: Vec<Vec<String>>,
}

impl AllForms {
    fn list(&self, key: &str) -> &[Value] {
        self.by_script[key].as_array().unwrap()
    }

    /// Rows of the workbook's sheet that begin with a week and have something in this column.
    fn dated(&self, column: usize) -> impl Iterator<Item = &Vec<String>> {
        self.sheet.iter().filter(move |row| row[0].starts_with("2026-") && !row[column].is_empty())
    }

    fn tell_the_same_moves(&self) {
        let place = |group: &Value| group.as_str().map_or("no seat".to_owned(), |g| g.replace('g', "Group "));
        let told: Vec<[String; 4]> = self
            .list("flows")
            .iter()
            .map(|f| {
                [f["week"].as_str().unwrap().to_owned(), place(&f["from"]), place(&f["to"]), f["students"].to_string()]
            })
            .collect();
        let rows: Vec<[String; 4]> = self.dated(3).map(|r| [0, 3, 4, 5].map(|c| r[c].clone())).collect();
        assert!(told.len() > 10);
        assert_eq!(rows, told, "workbook");
        assert_eq!(self.page.matches("class=\"band").count(), told.len(), "every way is drawn");
        for of_week in self.list("agreement") {
            let (week, index) = (of_week["week"].as_str().unwrap(), of_week["adjusted_rand"].as_f64().unwrap());
            let of_week =
                |f: &&Value| f["week"] == week && !f["from"].is_null() && !f["to"].is_null() && f["from"] != f["to"];
            let n: u64 = self.list("flows").iter().filter(of_week).map(|f| f["students"].as_u64().unwrap()).sum();
            let line = format!(
                "into {week}: {n} student{} changed groups; adjusted Rand index {index:.2}",
                if n == 1 { "" } else { "s" }
            );
            assert!(self.by_command.contains(&line), "command: {line}\n{}", self.by_command);
            assert!(self.page.contains(&format!("<td class=\"num\">{index:.2}</td>")), "page: {index}");
            let cell = self.dated(3).find(|r| r[0] == week).unwrap()[6].parse::<f64>().unwrap();
            assert!((cell - index).abs() < 1e-9, "workbook: {cell}");
        }
    }

    fn tell_the_same_turns(&self) {
        let turns = self.list("state_changes");
        assert_eq!(turns.len(), 3);
        for turn in turns {
            let n = |key: &str| turn[key].as_u64().unwrap();
            let (judged, up, down) = (n("judged"), n("newly_met"), n("no_longer_met"));
            let sentence = format!("Of {judged} skills judged in both weeks {up} newly met, {down} no longer: ");
            assert!(judged > 20 && self.by_command.contains(&sentence), "command: {sentence}");
            let cells = [judged, up, down].map(|n| format!("<td class=\"num\">{n}</td>")).concat();
            assert!(self.page.contains(&cells), "page: {cells}");
            let week = turn["week"].as_str().unwrap();
            let row = self.dated(7).find(|r| r[0] == week).unwrap();
            assert_eq!([&row[5], &row[6], &row[7]], [&judged.to_string(), &up.to_string(), &down.to_string()]);
            assert!((row[8].parse::<f64>().unwrap() - turn["kappa"].as_f64().unwrap()).abs() < 1e-9);
        }
    }

    fn tell_the_same_sums(&self) {
        let is_in_sheet = |words: &str| self.sheet.iter().any(|row| row.iter().any(|cell| cell.starts_with(words)));
        for part in self.list("fair") {
            let name = part["name"].as_str().unwrap();
            let words = match part["students"].as_u64() {
                Some(n) => format!("{name}: {n} children, "),
                None => format!("{name}: under 5 children, not shown."),
            };
            assert!(self.by_command.contains(&words) && is_in_sheet(&words), "{words}");
            let n = part["students"].as_u64().map_or("under 5".to_owned(), |n| n.to_string());
            assert!(
                self.page.contains(&format!("<th scope=\"row\">{name}</th><td class=\"num\">{n}</td>")),
                "page: {words}"
            );
        }
        assert!(self.list("fair").len() > 1);
        for problem in self.list("core_problems") {
            let words = format!(
                "{} of {} in grade {} lack {}",
                problem["lack"],
                problem["students"],
                problem["grade"].as_str().unwrap(),
                problem["skill"].as_str().unwrap()
            );
            assert!(self.by_command.contains(&words) && self.page.contains(&words) && is_in_sheet(&words), "{words}");
        }
    }

    fn tell_the_decision(&self, reason: &str) {
        let held = |w: &&Value| w["seat_given"]["reason"] == reason && w["seat_given"]["hold"] == true;
        let weeks = self.list("students").iter().flat_map(|s| s["weeks"].as_array().unwrap());
        assert_eq!(weeks.filter(held).count(), 1);
        let words = format!("Seat given by a person, held for the weeks to come (\u{201c}{reason}\u{201d}).");
        assert!(self.by_command.contains(&words) && self.page.contains(&words), "{words}");
        assert!(self.sheet.iter().any(|row| row[9] == words), "workbook");
    }
}

#[test]
fn the_memo_is_the_same_on_the_page_and_in_the_workbook() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    keep_month(&records);
    let served = Served::file(&records);
    let request = served.with_cookie("POST", "/movement/memo/2026-02-23").header("sec-fetch-site", "same-origin");
    let form = "group=g2&decision=more-time&reason=two+snow+days&name=Coach+T.";
    let sent = request.header("content-type", "application/x-www-form-urlencoded").body(form).send().unwrap();
    assert_eq!(sent.status(), 303);
    let page = served.with_cookie("GET", "/movement/memo/2026-02-23").send().unwrap().text().unwrap();
    let book = served.script("GET", "/api/v1/weeks/2026-02-23/workbook.xlsx").send().unwrap().bytes().unwrap();
    let sheet = sheet_of(&book, "Cycle memo");
    let rows: Vec<&Vec<String>> =
        sheet.iter().filter(|row| row[0].starts_with("Group ") && !row[3].is_empty()).collect();
    assert_eq!(rows.len(), page.matches("name=\"group\" value=").count());
    for row in &rows {
        assert!(page.contains(&format!("<strong>{}.</strong>", row[2])) && page.contains(&row[3]), "{row:?}");
    }
    let decided = rows.iter().find(|row| row[0] == "Group 2").unwrap();
    assert!(decided[4] == "More time" && decided[5].starts_with("two snow days (Coach T., 20"), "{decided:?}");
    assert!(rows.iter().filter(|row| row[0] != "Group 2").all(|row| row[4].is_empty()));
    for sentence in sheet.iter().map(|row| &row[0]).filter(|text| text.contains(" who changed groups and ")) {
        assert!(page.contains(sentence.as_str()), "{sentence}");
    }
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
    let told = whole.told();
    assert_eq!((whole.code, told.lines().next()), (0, Some("The records are whole: 1 week, 1 upload, 1 plan.")));
    assert!(told.contains("The list of changes is whole: 2 changes, the last with the mark "), "{told}");
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
