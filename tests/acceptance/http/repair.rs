//! Someone is out: by script and on the page; one day changes, and the change can be taken back.
//! The plan is that of the invented school of the demonstration; each bad call has its code, and changes nothing.

use crate::served::Served;
use serde_json::{Value, json};

const WEEK: &str = "2026-02-02";

fn plan(served: &Served) -> Value {
    served.script("GET", &format!("/api/v1/weeks/{WEEK}/plan")).send().unwrap().json().unwrap()
}

fn of_other_days(plan: &Value, day: &str) -> Vec<Value> {
    plan["rotation"].as_array().unwrap().iter().filter(|s| s["day"] != day).cloned().collect()
}

/// An adult who leads on Monday.
fn somebody(plan: &Value) -> String {
    let sessions = plan["rotation"].as_array().unwrap();
    let monday = sessions.iter().find(|s| s["day"] == "Mon" && !s["staff"].is_null()).unwrap();
    monday["staff"].as_str().unwrap().to_owned()
}

#[test]
fn a_script_repairs_one_day_and_reads_the_changes() {
    let served = Served::demo();
    let before = plan(&served);
    let adult = somebody(&before);
    let address = format!("/api/v1/weeks/{WEEK}/repair");
    let answer =
        served.script("POST", &address).json(&json!({"without": [format!("{adult}@Mon")], "reason": "ill"})).send();
    let answer = answer.unwrap();
    assert_eq!(answer.status(), 200);
    assert!(answer.headers().contains_key("etag"));
    let after: Value = answer.json().unwrap();
    assert_eq!(of_other_days(&before, "Mon"), of_other_days(&after, "Mon"));
    let monday = after["rotation"].as_array().unwrap().iter().filter(|s| s["day"] == "Mon");
    assert!(monday.clone().all(|s| s["staff"] != json!(adult)));
    assert!(!after["repairs"][0]["changes"].as_array().unwrap().is_empty());
    assert_eq!(plan(&served), after);
    for (body, status, code) in [
        (json!({"without": ["Nobody@Mon"]}), 422, "out-not-known"),
        (json!({"without": []}), 422, "nobody-out"),
        (json!({"who": 3}), 422, "form-broken"),
    ] {
        let refused = served.script("POST", &address).json(&body).send().unwrap();
        assert_eq!(refused.status(), status, "{body}");
        assert_eq!(refused.json::<Value>().unwrap()["code"], code);
    }
    let no_plan = served.script("POST", "/api/v1/weeks/2026-03-02/repair").json(&json!({"without": ["A@Mon"]})).send();
    assert_eq!(no_plan.unwrap().status(), 404);
}

#[test]
fn rosters_and_calendars_of_the_week_are_there() {
    let served = Served::demo();
    let plan = plan(&served);
    let adult = somebody(&plan);
    let get = |path: &str| served.with_cookie("GET", &format!("/rotation/{WEEK}/{path}")).send().unwrap();
    for by in ["adult", "room", "homeroom", "child"] {
        let answer = get(&format!("roster?by={by}"));
        assert_eq!(answer.status(), 200, "{by}");
        let page = answer.text().unwrap();
        assert!(page.matches("class=\"roster print-page").count() >= 2, "{by}: {page}");
        assert_eq!(by == "child", !page.contains("<th scope=\"col\">Children"), "{by}");
        assert_eq!(by == "adult", page.contains("what they are taught"), "a target is for staff alone: {by}");
    }
    let alone = get(&format!("roster?by=adult&who={adult}")).text().unwrap();
    assert_eq!(alone.matches("class=\"roster print-page").count(), 1);
    let calendar = get(&format!("calendar.ics?adult={adult}"));
    assert_eq!(calendar.headers()["content-type"], "text/calendar; charset=utf-8");
    let calendar = calendar.text().unwrap();
    let n_sessions = plan["rotation"].as_array().unwrap().iter().filter(|s| s["staff"] == json!(adult)).count();
    assert_eq!(calendar.matches("BEGIN:VEVENT").count(), n_sessions);
    for student in plan["students"].as_array().unwrap() {
        let (id, name) = (student["id"].as_str().unwrap(), student["name"].as_str().unwrap());
        assert!(!calendar.contains(name) && !calendar.contains(&format!(" {id}")), "{id}");
    }
    assert_eq!(get("calendar.ics?adult=Nobody").status(), 404);
    let week = served.with_cookie("GET", &format!("/rotation/{WEEK}")).send().unwrap().text().unwrap();
    assert_eq!(week.matches("members are free then").count(), plan["rotation"].as_array().unwrap().len());
}

#[test]
fn the_page_changes_a_day_and_takes_it_back() {
    let served = Served::demo();
    let before = plan(&served);
    let adult = somebody(&before);
    let origin = |r: reqwest::blocking::RequestBuilder| r.header("origin", &served.base);
    let post = |path: &str, form: String| {
        let request = origin(served.with_cookie("POST", &format!("/rotation/{WEEK}/{path}")));
        request.header("content-type", "application/x-www-form-urlencoded").body(form).send().unwrap()
    };
    let answer = post("repair", format!("who={adult}&when=Mon&reason=at+a+course"));
    assert_eq!(answer.status(), 303, "{}", answer.text().unwrap());
    let page = served.with_cookie("GET", &format!("/rotation/{WEEK}")).send().unwrap().text().unwrap();
    assert!(page.contains(&format!("Without {adult} on Monday")) && page.contains("at a course"), "{page}");
    let refused = post("repair", "who=Nobody&when=Mon".to_owned());
    assert_eq!(refused.status(), 422);
    assert!(refused.text().unwrap().contains("it knows"));
    assert_eq!(post("take-back", String::new()).status(), 303);
    assert_eq!(plan(&served), before);
}
