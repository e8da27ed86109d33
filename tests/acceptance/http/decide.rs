//! A person's word against the suggestion, by script and by form: tried out, refused without a reason, kept, undone, done again.
//! Two people at once: the later one decides on a plan that is no longer there, and is shown the one that is.

use crate::served::Served;
use serde_json::{Value, json};

const WEEK: &str = "2026-02-02";

fn json_of(answer: reqwest::blocking::Response) -> Value {
    serde_json::from_slice(&answer.bytes().unwrap()).unwrap()
}

/// The plan and its tag.
pub fn plan(served: &Served) -> (Value, String) {
    let answer = served.script("GET", &format!("/api/v1/weeks/{WEEK}/plan")).send().unwrap();
    let tag = answer.headers()["etag"].to_str().unwrap().to_owned();
    (json_of(answer), tag)
}

fn patch(served: &Served, tag: Option<&str>, body: &Value) -> reqwest::blocking::Response {
    let request = served.script("PATCH", &format!("/api/v1/weeks/{WEEK}/groups")).json(body);
    tag.map_or_else(|| request.try_clone().unwrap(), |tag| request.try_clone().unwrap().header("if-match", tag))
        .send()
        .unwrap()
}

fn members(plan: &Value, group: &str) -> Vec<String> {
    let group = plan["groups"].as_array().unwrap().iter().find(|g| g["id"] == group).unwrap();
    group["members"].as_array().unwrap().iter().map(|m| m.as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_script_seats_a_child_elsewhere_on_the_plan_it_looked_at() {
    let served = Served::demo();
    let (before, tag) = plan(&served);
    let child = members(&before, "g1")[0].clone();
    let body = json!({"student": child, "to": "g2", "reason": "works well there", "hold": true});
    for stale in [None, Some("\"another\"")] {
        let refused = patch(&served, stale, &body);
        assert_eq!((refused.status().as_u16(), json_of(refused)["code"].as_str()), (412, Some("plan-changed")));
    }
    let kept = patch(&served, Some(&tag), &body);
    assert_eq!(kept.status().as_u16(), 200);
    let new_tag = kept.headers()["etag"].to_str().unwrap().to_owned();
    let after = json_of(kept);
    assert!(members(&after, "g2").contains(&child) && !members(&after, "g1").contains(&child));
    let why = after["students"].as_array().unwrap().iter().find(|s| s["id"] == child.as_str()).unwrap()["why"].clone();
    assert!(why.as_str().unwrap().contains("works well there"), "{why}");
    assert_eq!(patch(&served, Some(&tag), &body).status().as_u16(), 412, "the tag is that of the plan before");
    let odd = patch(&served, Some(&new_tag), &json!({"student": child, "to": "g99"}));
    assert_eq!((odd.status().as_u16(), json_of(odd)["code"].as_str()), (422, Some("no-such-group")));
    let broken = patch(&served, Some(&new_tag), &json!({"child": child}));
    assert_eq!((broken.status().as_u16(), json_of(broken)["code"].as_str()), (422, Some("form-broken")));
    let (book, _) = (served.script("GET", &format!("/api/v1/weeks/{WEEK}/workbook.xlsx")).send().unwrap(), ());
    assert_eq!(book.status().as_u16(), 200);
}

pub fn page(served: &Served, path: &str) -> String {
    served.with_cookie("GET", path).send().unwrap().text().unwrap()
}

pub fn send(served: &Served, path: &str, body: String) -> reqwest::blocking::Response {
    let request = served.with_cookie("POST", path).header("origin", &served.base);
    request.header("content-type", "application/x-www-form-urlencoded").body(body).send().unwrap()
}

/// The tag of a form, as it is sent.
pub fn tag_in(page: &str) -> String {
    let after = page.split_once("name=\"tag\" value=\"").unwrap().1;
    after.split_once('"').unwrap().0.replace("&#34;", "%22").replace("&quot;", "%22")
}

#[test]
fn a_person_sees_what_changes_gives_a_reason_and_may_undo_it() {
    let served = Served::demo();
    let (before, _) = plan(&served);
    let child = members(&before, "g1")[0].clone();
    let looked = page(&served, &format!("/groups/{WEEK}/decide?student={child}&to=g2"));
    assert!(
        looked.contains("What it would change") && looked.contains("Children taught a skill that they lack"),
        "{looked}"
    );
    assert_eq!(plan(&served).0["groups"], before["groups"], "looking keeps nothing");
    let (address, tag) = (format!("/groups/{WEEK}/decide"), tag_in(&looked));
    let without = send(&served, &address, format!("student={child}&to=g2&tag={tag}&words=&hold=1"));
    assert_eq!(without.status().as_u16(), 422);
    let again = without.text().unwrap();
    assert!(
        again.contains("Choose a reason or write one") && again.contains("name=\"hold\" value=\"1\" checked"),
        "{again}"
    );
    let kept = send(&served, &address, format!("student={child}&to=g2&tag={tag}&words=%3Cb%3Eold+friends%3C%2Fb%3E"));
    assert_eq!(
        (kept.status().as_u16(), kept.headers()["location"].to_str().unwrap()),
        (303, "/groups/2026-02-02#decided")
    );
    assert!(members(&plan(&served).0, "g2").contains(&child));
    let groups = page(&served, &format!("/groups/{WEEK}"));
    assert!(
        groups.contains("Decided by a person") && groups.contains("old friends") && !groups.contains("<b>old"),
        "{groups}"
    );
    // Another person still looks at the plan as it was.
    let late = send(&served, &address, format!("student={child}&to=g3&tag={tag}&usual=The+class+team+decided"));
    assert_eq!(late.status().as_u16(), 412);
    let late = late.text().unwrap();
    assert!(
        late.contains("Nothing was kept") && late.contains("old friends") && late.contains("in Group 3?"),
        "{late}"
    );
    let undone = send(&served, &format!("/groups/{WEEK}/undo"), format!("tag={}", tag_in(&groups)));
    assert_eq!(undone.status().as_u16(), 303);
    assert_eq!(plan(&served).0["groups"], before["groups"]);
    let groups = page(&served, &format!("/groups/{WEEK}"));
    assert!(groups.contains("Do again:"), "{groups}");
    assert_eq!(
        send(&served, &format!("/groups/{WEEK}/redo"), format!("tag={}", tag_in(&groups))).status().as_u16(),
        303
    );
    assert!(members(&plan(&served).0, "g2").contains(&child));
}

#[test]
fn another_target_is_decided_by_form() {
    let served = Served::demo();
    let (before, _) = plan(&served);
    let (group, other) = {
        let group = &before["groups"][0];
        let skills = before["students"][0]["profile"].as_array().unwrap().iter().map(|s| s["skill"].as_str().unwrap());
        let other = skills.into_iter().find(|s| group["target_skill"] != *s).unwrap().to_owned();
        (group["id"].as_str().unwrap().to_owned(), other)
    };
    let looked = page(&served, &format!("/groups/{WEEK}/decide?group={group}&skill={other}"));
    let body = format!("group={group}&skill={other}&tag={}&usual=The+class+team+decided", tag_in(&looked));
    assert_eq!(send(&served, &format!("/groups/{WEEK}/decide"), body).status().as_u16(), 303);
    let after = plan(&served).0;
    let changed = after["groups"].as_array().unwrap().iter().find(|g| g["id"] == group.as_str()).unwrap();
    assert_eq!(changed["target_skill"], other.as_str());
    assert!(changed["notes"][0].as_str().unwrap().contains("The class team decided"), "{changed}");
    let missing = served.with_cookie("GET", "/groups/2026-03-02/decide?student=1&to=g1").send().unwrap();
    assert_eq!(missing.status().as_u16(), 404);
}
