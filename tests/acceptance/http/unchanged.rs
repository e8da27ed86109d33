//! What was answered before is answered again, until something changes; and to nobody else.
//!
//! A tag shows that an answer stayed: a page that is made each time has none of its own.

use crate::served::{Served, quillmere};
use crate::served_over_tls::Door;
use reqwest::StatusCode;
use reqwest::blocking::Response;
use sheaf_app::weeks::{GivenFile, Role, SchoolSetup, Weeks};

const GROUPS: &str = "/groups/2026-02-02";

fn tag(response: &Response) -> Option<String> {
    response.headers().get("etag").map(|tag| tag.to_str().unwrap().to_owned())
}

fn look(served: &Served, path: &str) -> (String, String) {
    let response = served.with_cookie("GET", path).send().unwrap();
    assert_eq!(response.status(), StatusCode::OK, "{path}");
    (tag(&response).unwrap_or_default(), response.text().unwrap())
}

/// Whether somebody who has this tag is told that nothing changed.
fn is_same(served: &Served, path: &str, tag: &str) -> bool {
    let response = served.with_cookie("GET", path).header("if-none-match", tag).send().unwrap();
    match response.status() {
        StatusCode::OK => false,
        StatusCode::NOT_MODIFIED => {
            assert_eq!(response.headers()["cache-control"], "no-store");
            assert!(response.headers()["content-security-policy"].to_str().unwrap().starts_with("default-src 'none'"));
            assert_eq!(response.text().unwrap(), "");
            true
        }
        other => panic!("{path}: {other}"),
    }
}

fn with_a_plan(path: &std::path::Path) -> Served {
    let served = Served::file_of_quillmere(path);
    let sheets = [("week1_quiz.xlsx", quillmere("week1_quiz.xlsx"))];
    let sheets = sheets.each_ref().map(|(name, bytes)| (*name, bytes.as_slice()));
    assert!(served.hand_in("week=2026-02-02", &sheets).status().is_success());
    let planned = served.script("POST", "/api/v1/weeks/2026-02-02/plan").send().unwrap();
    assert!(planned.status().is_success());
    served
}

#[test]
fn an_answer_goes_again_until_something_changes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("weeks.db");
    let served = with_a_plan(&path);
    let (first, page) = look(&served, GROUPS);
    assert_eq!(look(&served, GROUPS), (first.clone(), page.clone()));
    assert!(is_same(&served, GROUPS, &first));
    assert!(!is_same(&served, GROUPS, "\"of-something-else\""));

    // A change of ours: a child is seated elsewhere.
    let plan = "/api/v1/weeks/2026-02-02/plan";
    let (version, before) = look(&served, plan);
    assert!(is_same(&served, plan, &version));
    let before: serde_json::Value = serde_json::from_str(&before).unwrap();
    let move_one =
        serde_json::json!({"student": before["groups"][0]["members"][0], "to": "g2", "reason": "agreed on Friday"});
    let patch = served.script("PATCH", "/api/v1/weeks/2026-02-02/groups").header("if-match", &version).json(&move_one);
    assert_eq!(patch.send().unwrap().status(), StatusCode::OK);
    assert!(!is_same(&served, plan, &version));
    let (second, changed) = look(&served, GROUPS);
    assert!(second != first && changed.contains("agreed on Friday") && !page.contains("agreed on Friday"));

    // A change by another program: other students.
    let (students, _) = look(&served, "/students");
    assert!(is_same(&served, "/students", &students));
    let neighbour = Weeks::open(&path, SchoolSetup::builtin().unwrap()).unwrap();
    let bytes = b"id,name,homeroom\n9001,Zora Nym,3Z\n".to_vec();
    neighbour.put_students(&GivenFile { name: "students.csv".to_owned(), bytes }).unwrap();
    assert!(!is_same(&served, "/students", &students));
    assert!(look(&served, "/students").1.contains("Zora Nym"));
}

#[test]
fn only_whole_answers_stay() {
    let served = Served::demo();
    for path in ["/groups/2026-02-02/g99", "/students/nobody", "/nowhere"] {
        for _ in 0..2 {
            let response = served.with_cookie("GET", path).send().unwrap();
            assert_eq!((response.status(), tag(&response)), (StatusCode::NOT_FOUND, None), "{path}");
        }
    }
    let in_again = served.plain("GET", &format!("/?key={}", served.token)).send().unwrap();
    assert_eq!((in_again.status(), tag(&in_again)), (StatusCode::SEE_OTHER, None));
    assert!(in_again.headers().contains_key("set-cookie"));
    // Nobody without the token is given what stayed for who has it.
    let (version, _) = look(&served, GROUPS);
    let stranger = served.plain("GET", GROUPS).header("if-none-match", version).send().unwrap();
    assert_eq!(stranger.status(), StatusCode::UNAUTHORIZED);
}

#[test]
fn what_stayed_for_one_person_is_not_given_to_another() {
    let door = Door::open();
    let (all, coach) = (door.sign_in(Role::Interventionist), door.sign_in(Role::Coach));
    for path in ["/", "/school", "/movement", "/people/me"] {
        let [first, again] = [(); 2].map(|()| door.get(&all, path));
        let [of_coach, coach_again] = [(); 2].map(|()| door.get(&coach, path));
        assert_eq!((first.status, of_coach.status), (200, 200), "{path}");
        assert_eq!((&first.body, &of_coach.body), (&again.body, &coach_again.body), "{path}");
        assert_ne!(first.body, of_coach.body, "{path}");
    }
    assert_eq!(door.get(&all, GROUPS).status, 200);
    assert_eq!(door.get(&coach, GROUPS).status, 403);
}

/// Forgetting a child leaves the plan's revision, on which decisions are made, and changes its text.
#[test]
fn a_plan_without_a_forgotten_child_is_not_the_same() {
    let served = Served::demo();
    let plan = "/api/v1/weeks/2026-02-02/plan";
    let (version, before) = look(&served, plan);
    assert!(is_same(&served, plan, &version) && before.contains("\"0004\""));
    let forgotten = served.script("DELETE", "/api/v1/students/0004").send().unwrap();
    assert_eq!(forgotten.status(), StatusCode::OK);
    assert!(!is_same(&served, plan, &version));
    let (after, text) = look(&served, plan);
    let revision = |tag: &str| tag.rsplit_once('-').unwrap().0.to_owned();
    assert_eq!(revision(&version), revision(&after));
    assert!(after != version && !text.contains("\"0004\""));
}

#[test]
fn every_whole_answer_has_its_tag_at_once() {
    let served = Served::demo();
    // It notes what it works out when it is asked first, which is a change too.
    let movement = "/api/v1/movement";
    let (version, _) = look(&served, movement);
    assert!(!version.is_empty() && is_same(&served, movement, &version));
    // What a browser may keep stays what it may keep.
    let css = |tag: &str| {
        served.with_cookie("GET", "/static/sheaf.css").header("if-none-match", tag.to_owned()).send().unwrap()
    };
    let whole = css("\"none\"");
    let again = css(&tag(&whole).unwrap());
    assert_eq!((whole.status(), again.status()), (StatusCode::OK, StatusCode::NOT_MODIFIED));
    assert_eq!(whole.headers()["cache-control"], again.headers()["cache-control"]);
}
