//! The weekly job by script: hand in, look, plan, fetch, take back; and each bad call with its code.
//!
//! Score sheets are those of the invented school, so that real workbooks are read.

use crate::served::{Served, quillmere};
use serde_json::Value;

fn json(answer: reqwest::blocking::Response) -> Value {
    answer.json().unwrap()
}

fn two_sheets() -> (Vec<u8>, Vec<u8>) {
    (quillmere("week2_quiz.xlsx"), quillmere("week2_ticket.xlsx"))
}

#[test]
fn a_week_goes_in_is_planned_and_comes_out_as_a_workbook() {
    let served = Served::empty();
    let (quiz, ticket) = two_sheets();
    let answer = served.hand_in("week=2026-02-09", &[("week2_quiz.xlsx", &quiz), ("week2_ticket.xlsx", &ticket)]);
    assert_eq!(answer.status(), 201);
    let location = answer.headers()["location"].to_str().unwrap().to_owned();
    let upload = json(answer);
    assert!(upload["students"].as_u64().unwrap() >= 20 && upload["items"].as_u64().unwrap() >= 9, "{upload}");
    assert_eq!(location, format!("/api/v1/score-sheets/{}", upload["id"].as_str().unwrap()));

    let made = served.script("POST", "/api/v1/weeks/2026-02-09/plan?seed=7").send().unwrap();
    assert_eq!(made.status(), 200);
    let tag = made.headers()["etag"].clone();
    let made = made.text().unwrap();
    let read = served.script("GET", "/api/v1/weeks/2026-02-09/plan").send().unwrap();
    assert_eq!(read.headers()["etag"], tag);
    assert_eq!(read.text().unwrap(), made);
    let plan: Value = serde_json::from_str(&made).unwrap();
    assert_eq!(
        (plan["schema"].as_str(), plan["week"].as_str(), plan["seed"].as_u64()),
        (Some("sheaf.plan/1"), Some("2026-02-09"), Some(7))
    );
    assert!(!plan["groups"].as_array().unwrap().is_empty());

    let book = served.script("GET", "/api/v1/weeks/2026-02-09/workbook.xlsx").send().unwrap();
    assert_eq!(book.status(), 200);
    opens_with_groups(&book.bytes().unwrap());
}

#[test]
fn groups_and_needs_come_as_text_files() {
    let served = Served::empty();
    let (quiz, _) = two_sheets();
    assert_eq!(served.hand_in("week=2026-02-09", &[("quiz.xlsx", &quiz)]).status(), 201);
    assert_eq!(served.script("POST", "/api/v1/weeks/2026-02-09/plan").send().unwrap().status(), 200);
    let plan: Value =
        serde_json::from_str(&served.script("GET", "/api/v1/weeks/2026-02-09/plan").send().unwrap().text().unwrap())
            .unwrap();
    let children = plan["students"].as_array().unwrap();
    let page = served.script("GET", "/groups/2026-02-09").send().unwrap().text().unwrap();
    for naming in ["names", "ids", "nobody"] {
        for file in ["groups.csv", "needs.csv", "csv-metadata.json"] {
            let path = format!("/api/v1/weeks/2026-02-09/csv/{naming}/{file}");
            assert!(page.contains(&format!("href=\"{path}\"")), "the groups page leads to {path}");
            let answer = served.script("GET", &path).send().unwrap();
            assert_eq!(answer.status(), 200, "{path}");
            let said = answer.headers()["content-disposition"].to_str().unwrap().to_owned();
            assert_eq!(said, format!("attachment; filename=\"sheaf-2026-02-09-{naming}-{file}\""));
            let text = answer.text().unwrap();
            let names_somebody = children.iter().any(|c| text.contains(c["name"].as_str().unwrap()));
            // Not all of them: who was away has no row of needs.
            let has_rows_of_children = children.iter().any(|c| text.contains(c["id"].as_str().unwrap()));
            assert_eq!(names_somebody, naming == "names" && file.ends_with(".csv"), "{path}");
            assert_eq!(has_rows_of_children, naming != "nobody" && file.ends_with(".csv"), "{path}");
        }
    }
    for path in ["all/groups.csv", "ids/plan.csv"] {
        let answer = served.script("GET", &format!("/api/v1/weeks/2026-02-09/csv/{path}")).send().unwrap();
        assert_eq!(answer.status(), 404, "{path}");
        assert!(answer.text().unwrap().contains("no-such-text-file"), "{path}");
    }
}

#[test]
fn a_week_of_one_workbook_comes_out_in_that_workbook() {
    let served = Served::empty();
    let (quiz, _) = two_sheets();
    let macros =
        std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/workbooks/xlsxwriter_macros.xlsm")).unwrap();
    let xlsx = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    let xlsm = "application/vnd.ms-excel.sheet.macroEnabled.12";
    for (week, name, bytes, media, ending) in [
        ("2026-02-09", "quiz.xlsx", &quiz, xlsx, "2026-02-09.xlsx\""),
        ("2026-02-16", "quiz.xlsm", &macros, xlsm, "2026-02-16.xlsm\""),
    ] {
        assert_eq!(served.hand_in(&format!("week={week}"), &[(name, bytes)]).status(), 201);
        assert_eq!(served.script("POST", &format!("/api/v1/weeks/{week}/plan")).send().unwrap().status(), 200);
        let book = served.script("GET", &format!("/api/v1/weeks/{week}/workbook.xlsx")).send().unwrap();
        assert_eq!((book.status().as_u16(), &book.headers()["content-type"]), (200, &media.parse().unwrap()));
        let file_name = book.headers()["content-disposition"].to_str().unwrap().to_owned();
        assert!(file_name.ends_with(ending), "{file_name}");
        let names = sheet_names(&book.bytes().unwrap());
        assert_eq!(names[0], "Quiz", "the staff's own sheet stands first");
        assert!(names.iter().any(|n| n == "Ticket results"), "{names:?}");
    }
}

/// Results of every ticket of a plan: each child of a group answers as `answer` says of an item.
fn results(plan: &Value, answer: impl Fn(&Value) -> String) -> String {
    let mut text = "Ticket results\nId,Form code,Item 1,Item 2,Item 3,Item 4,Item 5\n".to_owned();
    for ticket in plan["tickets"].as_array().unwrap().iter().filter(|t| t["form"] == "A") {
        let group = plan["groups"].as_array().unwrap().iter().find(|g| g["id"] == ticket["group"]).unwrap();
        let answers: Vec<String> =
            ticket["items"].as_array().unwrap().iter().map(|i| format!("\"{}\"", answer(i))).collect();
        for member in group["members"].as_array().unwrap() {
            let code = ticket["form_code"].as_str().unwrap();
            text += &format!("{},{code},{}\n", member.as_str().unwrap(), answers.join(","));
        }
    }
    text
}

/// The key as a child would write it; a match item has points.
fn right(item: &Value) -> String {
    match item["type"].as_str().unwrap() {
        "match" => item["points"].to_string(),
        _ => item["key"].as_array().unwrap().iter().map(|k| k.as_str().unwrap()).collect::<Vec<_>>().join(","),
    }
}

#[test]
fn ticket_results_find_their_keys_by_the_form_code() {
    let served = Served::demo();
    let plan = json(served.script("GET", "/api/v1/weeks/2026-02-02/plan").send().unwrap());
    let n_seated: usize =
        plan["groups"].as_array().unwrap().iter().map(|g| g["members"].as_array().unwrap().len()).sum();
    let text = results(&plan, right);
    let part = reqwest::blocking::multipart::Part::bytes(text.into_bytes()).file_name("results.csv");
    let form = reqwest::blocking::multipart::Form::new().part("file", part);
    let answer = served.script("POST", "/api/v1/weeks/2026-02-09/ticket-results").multipart(form).send().unwrap();
    assert_eq!(answer.status(), 201);
    let upload = json(answer);
    assert_eq!(upload["students"].as_u64().unwrap() as usize, n_seated);
    let said: Vec<&str> =
        upload["findings"].as_array().unwrap().iter().map(|f| f["severity"].as_str().unwrap()).collect();
    assert!(!said.contains(&"error"), "{}", upload["findings"]);
    let planned = json(served.script("POST", "/api/v1/weeks/2026-02-09/plan").send().unwrap());
    let answered = planned["items"].as_array().unwrap();
    let n_tickets = plan["groups"].as_array().unwrap().len();
    assert_eq!(answered.len(), 5 * n_tickets, "each ticket is a check of its own");
    assert!(answered.iter().all(|i| i["difficulty"] == 1.0 && i["skills"][0].is_string()), "{answered:?}");
}

fn sheet_names(bytes: &[u8]) -> Vec<String> {
    use calamine::{Reader, Xlsx};
    let book: Xlsx<_> = calamine::open_workbook_from_rs(std::io::Cursor::new(bytes)).unwrap();
    book.sheet_names()
}

/// The workbook opens and has a sheet of groups with rows.
pub fn opens_with_groups(bytes: &[u8]) {
    use calamine::{Reader, Xlsx};
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(std::io::Cursor::new(bytes)).unwrap();
    let groups = book.worksheet_range("Groups").unwrap();
    assert!(groups.height() > 3, "{}", groups.height());
}

#[test]
fn the_same_bytes_for_the_same_week_keep_their_id() {
    let served = Served::empty();
    let (quiz, _) = two_sheets();
    let first = json(served.hand_in("week=2026-02-09", &[("a.xlsx", &quiz)]));
    let again = served.hand_in("week=2026-02-11", &[("renamed.xlsx", &quiz)]);
    assert_eq!(again.status(), 200);
    assert_eq!(json(again)["id"], first["id"]);
    assert_eq!(served.hand_in("week=2026-02-16", &[("a.xlsx", &quiz)]).status(), 201);
}

#[test]
fn a_dry_run_shows_and_keeps_nothing() {
    let served = Served::empty();
    let (quiz, _) = two_sheets();
    let answer = served.hand_in("week=2026-02-09&dry_run=true", &[("a.xlsx", &quiz)]);
    assert_eq!(answer.status(), 200);
    let looked = json(answer);
    assert!(looked["id"].is_null() && looked["students"].as_u64().unwrap() >= 20);
    let plan = served.script("POST", "/api/v1/weeks/2026-02-09/plan").send().unwrap();
    assert_eq!((plan.status().as_u16(), json(plan)["code"].as_str().unwrap()), (404, "no-score-sheets"));
}

#[test]
fn what_is_taken_back_is_gone_with_its_plan() {
    let served = Served::demo();
    assert_eq!(served.script("GET", "/api/v1/weeks/2026-02-02/plan").send().unwrap().status(), 200);
    assert_eq!(served.script("GET", "/api/v1/score-sheets/1").send().unwrap().status(), 200);
    assert_eq!(served.script("DELETE", "/api/v1/score-sheets/1").send().unwrap().status(), 204);
    assert_eq!(served.script("GET", "/api/v1/score-sheets/1").send().unwrap().status(), 404);
    assert_eq!(served.script("DELETE", "/api/v1/score-sheets/1").send().unwrap().status(), 404);
    assert_eq!(served.script("GET", "/api/v1/weeks/2026-02-02/plan").send().unwrap().status(), 404);
}

#[test]
fn each_bad_call_is_a_problem_with_its_code() {
    let served = Served::empty();
    let no_file = served.script("POST", "/api/v1/score-sheets?week=2026-02-09");
    let no_file =
        no_file.multipart(reqwest::blocking::multipart::Form::new().text("week", "2026-02-09")).send().unwrap();
    let no_form = served.script("POST", "/api/v1/score-sheets?week=2026-02-02").body("x").send().unwrap();
    for (answer, status, code) in [
        (served.hand_in("week=2026-02-09", &[("notes.csv", b"shopping list\nmilk\n")]), 422, None),
        (served.hand_in("week=soon", &[("a.csv", b"a,b\n1,2\n")]), 422, Some("week-not-a-date")),
        (served.hand_in("", &[("a.csv", b"a,b\n1,2\n")]), 422, Some("week-not-a-date")),
        (no_file, 422, Some("no-file")),
        (served.hand_in("week=2026-02-09&dry_run=maybe", &[("a.csv", b"x")]), 422, Some("dry-run-not-understood")),
        (served.script("GET", "/api/v1/score-sheets/7").send().unwrap(), 404, Some("no-such-upload")),
        (served.script("GET", "/api/v1/weeks/2026-02-09/plan").send().unwrap(), 404, Some("no-plan")),
        (served.script("POST", "/api/v1/weeks/2026-02-09/plan?seed=x").send().unwrap(), 422, Some("seed-not-a-number")),
        (no_form, 422, Some("form-broken")),
    ] {
        assert_eq!(answer.status(), status, "{code:?}");
        assert_eq!(answer.headers()["content-type"], "application/problem+json", "{code:?}");
        let problem = json(answer);
        assert_eq!(problem["status"], status);
        assert!(!problem["detail"].as_str().unwrap().is_empty());
        assert_eq!(problem["findings"].as_array().unwrap().len(), 1);
        if let Some(code) = code {
            assert_eq!(problem["code"], code);
        }
    }
}
