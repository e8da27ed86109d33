//! The pages: each answers, empty and filled; text from a sheet stays text; a bad form comes back with its reason.
//!
//! Read as HTML, without a browser. Not here: a person's way through them (`browser`).

use crate::served::{Served, quillmere};
use reqwest::blocking::multipart::{Form, Part};

/// Pages of the first week; each is there with and without records.
pub const PAGES: [&str; 16] = [
    "/",
    "/score-sheets",
    "/groups/2026-02-02",
    "/rotation/2026-02-02",
    "/tickets/2026-02-02",
    "/tickets/2026-02-02/keys",
    "/results/2026-02-02",
    "/movement",
    "/students",
    "/school",
    "/school/setup",
    "/school/changes",
    "/school/year",
    "/api",
    "/people",
    "/people/me",
];

/// Pages about a child, where the records hold one.
pub const OF_A_CHILD: [&str; 6] = [
    "/students/0001",
    "/groups/2026-02-02/decide?student=0001&to=g3",
    "/groups/2026-02-02/g1",
    "/groups/2026-02-02?names=initials",
    "/groups/2026-02-02/g1?names=initials",
    "/rotation/2026-02-02?names=initials",
];

fn page(served: &Served, path: &str) -> String {
    let answer = served.with_cookie("GET", path).send().unwrap();
    assert_eq!(answer.status(), 200, "{path}");
    answer.text().unwrap()
}

fn send_form(served: &Served, form: Form) -> reqwest::blocking::Response {
    let request = served.with_cookie("POST", "/score-sheets").header("sec-fetch-site", "same-origin");
    request.multipart(form).send().unwrap()
}

#[test]
fn every_page_answers_empty_and_filled_without_anything_inline() {
    for (served, of_a_child) in [(Served::empty(), &[][..]), (Served::demo(), &OF_A_CHILD[..])] {
        for path in PAGES.iter().chain(of_a_child) {
            let html = page(&served, path);
            assert!(html.contains("<h1>") && html.contains("not a diagnosis"), "{path}");
            assert!(!html.contains(" style=\"") && !html.contains("onclick") && !html.contains("<style"), "{path}");
            assert!(!html.contains("https://") && !html.contains("http://"), "{path}");
        }
    }
}

#[test]
fn a_filled_groups_page_names_its_members_and_their_reasons() {
    let served = Served::demo();
    let groups = page(&served, "/groups/2026-02-02");
    assert!(groups.contains("id=\"g1\"") && groups.contains("0023"), "no group or no member");
    let movement = page(&served, "/movement");
    assert!(movement.contains("One week is planned"));
    let school = page(&served, "/school");
    assert!(school.contains("Timetable") && page(&served, "/students").contains("0023"));
}

#[test]
fn a_childs_ticket_says_nothing_about_the_child() {
    let served = Served::demo();
    let html = page(&served, "/tickets/2026-02-02");
    let plan =
        served.script("GET", "/api/v1/weeks/2026-02-02/plan").send().unwrap().json::<serde_json::Value>().unwrap();
    for article in html.split("<article").skip(1) {
        for student in plan["students"].as_array().unwrap() {
            assert!(!article.contains(student["name"].as_str().unwrap()), "a name on a ticket");
        }
        for group in plan["groups"].as_array().unwrap() {
            assert!(!article.contains(group["target_skill"].as_str().unwrap()), "a skill's code on a ticket");
        }
    }
}

#[test]
fn script_in_a_sheet_stays_text() {
    let served = Served::empty();
    let nasty = "<script>alert(1)</script>";
    let sheet = format!(
        ",,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a\n,,key,A,B,C\nstudent_id,student,class,Q1,Q2,Q3\n\
         0001,{nasty}a,5P,B,A,A\n0002,{nasty}b,5P,B,A,B\n0003,{nasty}c,5P,C,A,A\n0004,{nasty}d,5P,C,A,A\n"
    );
    let part = Part::bytes(sheet.into_bytes()).file_name("<img src=x onerror=alert(1)>.csv");
    let sent = send_form(&served, Form::new().text("week", "2026-02-02").part("file", part));
    assert_eq!(sent.status(), 303);
    let look_over = sent.headers()["location"].to_str().unwrap().to_owned();
    assert_eq!(served.form(&format!("{look_over}/confirm"), &[("then", "plan")]).status(), 303);
    for path in PAGES.into_iter().chain([look_over.as_str()]) {
        let html = page(&served, path);
        assert!(!html.contains("<script>alert") && !html.contains("<img src=x"), "{path}");
    }
    assert!(page(&served, &look_over).contains("&#60;script&#62;alert"));
}

#[test]
fn a_form_that_fails_comes_back_with_the_reason_and_what_was_typed() {
    let served = Served::empty();
    let part = || Part::bytes(quillmere("week2_quiz.xlsx")).file_name("quiz.xlsx");
    let bad_week = send_form(&served, Form::new().text("week", "next week").part("file", part()));
    assert_eq!(bad_week.status(), 422);
    let html = bad_week.text().unwrap();
    assert!(html.contains("id=\"week-error\"") && html.contains("value=\"next week\""), "{html}");

    let no_scores = Part::bytes(b"milk\neggs\n".to_vec()).file_name("list.csv");
    let bad_file = send_form(&served, Form::new().text("week", "2026-02-09").part("file", no_scores));
    assert_eq!(bad_file.status(), 422);
    let html = bad_file.text().unwrap();
    assert!(html.contains("id=\"file-error\"") && html.contains("value=\"2026-02-09\""), "{html}");
}

#[test]
fn the_same_sheet_twice_is_said_on_the_look_over() {
    let served = Served::empty();
    let form = || {
        let part = Part::bytes(quillmere("week2_quiz.xlsx")).file_name("quiz.xlsx");
        Form::new().text("week", "2026-02-09").part("file", part)
    };
    assert_eq!(send_form(&served, form()).status(), 303);
    let again = send_form(&served, form());
    let address = again.headers()["location"].to_str().unwrap().to_owned();
    assert!(page(&served, &address).contains("handed in before"));
}

#[test]
fn an_unknown_page_shows_the_way_back() {
    let served = Served::empty();
    for path in ["/nowhere", "/groups/someday", "/score-sheets/77"] {
        let answer = served.with_cookie("GET", path).send().unwrap();
        assert!(answer.status().is_client_error(), "{path}");
        assert!(answer.text().unwrap().contains("href=\"/\""), "{path}");
    }
}

#[test]
fn taking_back_empties_the_week() {
    let served = Served::demo();
    let back = served.with_cookie("POST", "/score-sheets/1/take-back").header("sec-fetch-site", "same-origin");
    assert_eq!(back.send().unwrap().status(), 303);
    assert!(page(&served, "/groups/2026-02-02").contains("No score sheets yet"));
}

#[test]
fn nothing_counts_before_a_yes() {
    let served = Served::empty();
    let part = Part::bytes(quillmere("week2_quiz.xlsx")).file_name("quiz.xlsx");
    let sent = send_form(&served, Form::new().text("week", "2026-02-09").part("file", part));
    let look_over = sent.headers()["location"].to_str().unwrap().to_owned();
    assert!(page(&served, &look_over).contains("Nothing counts yet"));
    assert!(page(&served, "/?week=2026-02-09").contains("Look over"));
    assert!(page(&served, "/groups/2026-02-09").contains("No score sheets yet"));
    assert_eq!(served.form(&format!("{look_over}/confirm"), &[]).status(), 303);
    assert!(page(&served, &look_over).contains("These sheets count"));
    assert_eq!(served.form(&format!("{look_over}/confirm"), &[]).status(), 409, "it waits no longer");
}

#[test]
fn a_list_that_cannot_be_read_is_said_beside_its_field() {
    let served = Served::empty();
    let send = |text: &'static str| {
        let form = Form::new().part("file", Part::bytes(text.as_bytes()).file_name("list.csv"));
        let request = served.with_cookie("POST", "/students").header("sec-fetch-site", "same-origin");
        request.multipart(form).send().unwrap()
    };
    let bad = send("milk\neggs\n");
    assert_eq!(bad.status(), 422);
    assert!(bad.text().unwrap().contains("id=\"file-error\""));
    let good = send("id,name,grade,homeroom,supports\n0417,Reko V.,5,5P,read aloud; aide's seat\n");
    assert_eq!(good.status(), 200);
    let html = good.text().unwrap();
    assert!(html.contains("Taken in: 1 student") && html.contains("read aloud; aide&#39;s seat"), "{html}");

    let changed = send("id,name,grade,homeroom\n9417,\"V., Reko\",5,5Q\n").text().unwrap();
    assert!(changed.contains("Same child?") && changed.contains("value=\"0417\""), "{changed}");
    let answer = [("old", "0417"), ("new", "9417"), ("answer", "same")];
    assert_eq!(served.form("/students/same-child", &answer).status(), 303);
    assert!(!page(&served, "/students").contains("Same child?"));
}

#[test]
fn a_child_has_a_page_with_the_answers_behind_each_figure() {
    let served = Served::demo();
    let shown = page(&served, "/students/0001");
    for words in ["Reko V.", "Week by week", "Week of Monday 2 February 2026", "5.NF.B.5a", "9 items counted", "Q1"] {
        assert!(shown.contains(words), "{words}: {shown}");
    }
    assert!(page(&served, "/groups/2026-02-02").contains("href=\"/students/0001\""));
    let nobody = served.with_cookie("GET", "/students/nobody").send().unwrap();
    assert_eq!(nobody.status(), 404);
    assert!(nobody.text().unwrap().contains("href=\"/\""), "the way back");
}

#[test]
fn a_child_is_handed_out_and_forgotten_on_its_page() {
    let served = Served::demo();
    let child = page(&served, "/students/0007");
    assert!(child.contains("href=\"/api/v1/students/0007\" download=\"record-0007.json\""), "{child}");
    let wrong = served.form("/students/0007/forget", &[("id", "0008")]);
    assert_eq!(wrong.status(), 422);
    let wrong = wrong.text().unwrap();
    assert!(wrong.contains("value=\"0008\"") && wrong.contains("type 0007 to forget"), "{wrong}");
    assert_eq!(served.script("GET", "/api/v1/students/0007").send().unwrap().status(), 200);
    let gone = served.form("/students/0007/forget", &[("id", "0007")]);
    assert_eq!(gone.status(), 200);
    let list = gone.text().unwrap();
    assert!(list.contains("The child is forgotten, out of ") && !list.contains("/students/0007\""), "{list}");
    assert_eq!(served.script("GET", "/api/v1/students/0007").send().unwrap().status(), 404);
    assert!(page(&served, "/students/0008").contains("Forget this child"));
}

#[test]
fn a_past_year_is_asked_about_and_goes_by_its_name() {
    let folder = tempfile::tempdir().unwrap();
    let served = Served::file(&folder.path().join("school.db"));
    let sheet = ",,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a\n,,key,A,B,C\nstudent_id,student,class,Q1,Q2,Q3\n\
                 0001,Ann,5P,B,A,A\n0002,Bo,5P,B,A,B\n0003,Cy,5P,C,A,A\n0004,Di,5P,C,A,A\n";
    assert!(!page(&served, "/").contains("/school/year"));
    assert_eq!(served.hand_in("week=2020-02-03", &[("quiz.csv", sheet.as_bytes())]).status(), 201);
    assert!(page(&served, "/").contains("Records of school year 2019-20 are still here"));
    let wrong = served.form("/school/year", &[("year", "2019-20"), ("typed", "2020")]);
    assert_eq!(wrong.status(), 422);
    let wrong = wrong.text().unwrap();
    assert!(wrong.contains("value=\"2020\"") && wrong.contains("Nothing was removed."), "{wrong}");
    let gone = served.form("/school/year", &[("year", "2019-20"), ("typed", "2019-20")]);
    assert_eq!(gone.status(), 200);
    assert!(gone.text().unwrap().contains("School year 2019-20: 1 week removed."));
    assert!(!page(&served, "/").contains("2019-20"));
    let again = served.form("/school/year", &[("year", "2019-20"), ("typed", "2019-20")]);
    assert_eq!(again.status(), 404);
}
