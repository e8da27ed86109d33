//! Pages for others than the team's own eyes: under initials no page names a child; and a child's page, where each figure opens to its rows.
//!
//! Names are planted and looked for in the HTML; what a person sees is looked at in a browser. Not here: moving children (`groups_pages`).

use crate::browser::Script;
use crate::groups_pages::{decide_in, demo, end, let_in, looks_right, open, page, plan_of, says};
use crate::served::Served;
use serde_json::json;
use thirtyfour::prelude::*;

/// Names that would be found: two children have the same initials, one stands family name first.
const PLANTED: &str = ",,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1,4.NF.A.1\n,,key,A,B,C,D,A,B\n\
    student_id,student,class,Q1,Q2,Q3,Q4,Q5,Q6\n\
    7001,Wilhelmina Quarrington,5P,B,A,A,D,A,B\n7002,\"Quarles, Winifred\",5P,B,A,B,D,A,B\n7003,Zebedee Oxenford,5P,C,A,A,D,A,B\n\
    7004,Theodosia Underhay,5P,B,A,A,D,A,B\n7005,Barnabas Yelverton,5P,A,B,C,A,B,A\n7006,Araminta Jessop,5P,A,B,C,A,C,A\n\
    7007,Ignatius Varley,5P,A,B,C,B,B,C\n7008,Ophelia Dunmore,5P,A,B,C,B,C,A\n";
const PLANTED_WORDS: [&str; 16] = [
    "Wilhelmina",
    "Quarrington",
    "Winifred",
    "Quarles",
    "Zebedee",
    "Oxenford",
    "Theodosia",
    "Underhay",
    "Barnabas",
    "Yelverton",
    "Araminta",
    "Jessop",
    "Ignatius",
    "Varley",
    "Ophelia",
    "Dunmore",
];

/// A week of planted names with a decision, a hold and a repair that name children; its pages that know initials.
fn planted(served: &Served, week: &str) -> Vec<String> {
    assert_eq!(served.hand_in(&format!("week={week}"), &[("quiz.csv", PLANTED.as_bytes())]).status(), 201);
    let address = format!("/api/v1/weeks/{week}");
    assert_eq!(served.script("POST", &format!("{address}/plan")).send().unwrap().status(), 200);
    let (first, _) = plan_of(served, week);
    let seated = first["groups"].as_array().unwrap();
    assert!(seated.len() > 1, "{seated:?}");
    let child = seated[0]["members"][0].as_str().unwrap();
    let reason = "Wilhelmina and Zebedee asked, id 7001";
    decide_in(served, week, &json!({"student": child, "to": seated[1]["id"], "reason": reason, "hold": true}));
    let (now, _) = plan_of(served, week);
    let session = now["rotation"].as_array().unwrap().iter().find(|s| s["staff"].is_string()).unwrap();
    let out = session["students"][0].as_str().unwrap();
    let without =
        json!({"without": [format!("{out}@{}", session["block"].as_str().unwrap())], "reason": "Theodosia is ill"});
    assert!(served.script("POST", &format!("{address}/repair")).json(&without).send().unwrap().status().is_success());
    assert_eq!(served.script("POST", &format!("{address}/plan")).send().unwrap().status(), 200);
    let groups =
        now["groups"].as_array().unwrap().iter().map(|g| format!("/groups/{week}/{}", g["id"].as_str().unwrap()));
    [format!("/groups/{week}"), format!("/rotation/{week}")].into_iter().chain(groups).collect()
}

#[test]
fn under_initials_no_page_names_a_child() {
    let served = Served::demo();
    let week = "2026-02-09";
    let pages = planted(&served, week);
    let (now, _) = plan_of(&served, week);
    let mut n_named = 0;
    for path in &pages {
        let (full, initials) = (page(&served, path), page(&served, &format!("{path}?names=initials")));
        n_named += PLANTED_WORDS.iter().filter(|name| full.contains(**name)).count();
        assert!(full.contains("?names=initials\">Initials only"), "{path}");
        assert!(initials.contains("Initials only: no full name"), "{path}");
        assert!(initials.contains(&format!("href=\"{path}\">Show full names")), "the way back: {path}");
        for name in PLANTED_WORDS {
            assert!(!initials.contains(name), "{name} on {path}");
        }
        for student in now["students"].as_array().unwrap() {
            let (id, name) = (student["id"].as_str().unwrap(), student["name"].as_str().unwrap());
            assert!(!initials.contains(id), "{id} on {path}");
            assert!(!initials.contains(name), "{name} on {path}");
        }
        // What leads on to groups and rotation keeps the choice; nothing else about children is offered.
        for link in initials.split("href=\"").skip(1).map(|rest| rest.split('"').next().unwrap()) {
            let is_among = (link.starts_with("/groups/") || link.starts_with("/rotation/")) && link != path;
            assert!(!is_among || link.ends_with("?names=initials"), "{link} on {path}");
            assert!(!link.starts_with("/students/"), "{link} on {path}");
        }
        assert!(!initials.contains("<form"), "{path}");
    }
    assert!(n_named >= 16, "the planted names are on the full pages: {n_named}");
    let groups = page(&served, &format!("/groups/{week}?names=initials"));
    let n_second = groups.matches("W. Q. 2").count();
    assert!(n_second > 0 && groups.matches("W. Q.").count() > n_second, "two children of the same initials: {groups}");
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_under_initials_are_clean() {
    let served = demo().await;
    let browser = let_in(&served, Script::On).await;
    for (path, name) in [
        ("groups/2026-02-02", "initials-groups"),
        ("groups/2026-02-02/g1", "initials-group"),
        ("rotation/2026-02-02", "initials-rotation"),
    ] {
        open(&browser, &served, &format!("/{path}?names=initials")).await;
        looks_right(&browser, name).await;
    }
    let movable: Vec<bool> = vec![browser.driver.find_all(By::Css("[data-child]")).await.unwrap().is_empty()];
    assert_eq!(movable, [true]);
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn each_figure_of_a_child_opens_to_its_raw_rows() {
    let served = demo().await;
    let browser = let_in(&served, Script::On).await;
    open(&browser, &served, "/students/0001").await;
    let counts = "return [...document.querySelectorAll('main details:not(.forget)')].map((d) =>
        [d.querySelector('summary').textContent, d.querySelectorAll('tbody > tr').length].join(' | '))";
    let told: Vec<String> = browser.driver.execute(counts, vec![]).await.unwrap().convert().unwrap();
    assert!(told.len() >= 3 && told.iter().all(|t| !t.ends_with("| 0")), "{told:?}");
    let answers: Vec<&String> = told.iter().filter(|t| t.contains("answers of 2026-02-02")).collect();
    let [week] = answers.as_slice() else { panic!("{told:?}") };
    let (said, rows) = week.split_once(" | ").unwrap();
    assert!(said.starts_with(&format!("{rows} answer")), "{week}");
    browser
        .driver
        .execute("document.querySelectorAll('details').forEach((d) => { d.open = true; })", vec![])
        .await
        .unwrap();
    let main = browser.text("main").await;
    for words in ["Key", "Came with", "week1_quiz.xlsx", "Q1"] {
        assert!(main.contains(words), "{words}: {main}");
    }
    looks_right(&browser, "child").await;
    browser.press("main details a[href^='/score-sheets/']").await;
    assert!(says(&browser, "week1_quiz.xlsx").await, "the sheet that the answer came with");
    end(browser, served).await;
}
