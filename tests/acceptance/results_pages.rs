//! Exit-ticket results typed on their page, in a real browser: without script by one form, with script by the keyboard alone.
//!
//! In:  the invented school, its first week planned; answers drawn from each ticket's own key. Out: fields that stand, words of faults, and what
//! the records hold of each child. Keeps: what is typed is booked as the same results from a sheet are
//! (`typed_results_are_booked_as_the_same_results_of_a_sheet`). Not here: entries of each kind of item (`sheaf-app`).

use crate::axe::assert_clean;
use crate::browser::{Browser, Script};
use crate::served::Served;
use serde_json::Value;
use thirtyfour::TypingData;
use thirtyfour::prelude::*;

const PAGE: &str = "/results/2026-02-02";

async fn let_in(served: &Served, script: Script) -> Browser {
    let browser = Browser::start(script).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser.driver.goto(format!("{}{PAGE}", served.base)).await.unwrap();
    browser.arrive_at("Ticket results").await;
    browser
}

async fn end(browser: Browser, served: Served) {
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

async fn demo() -> Served {
    tokio::task::spawn_blocking(Served::demo).await.unwrap()
}

fn get(served: &Served, path: &str) -> Value {
    serde_json::from_slice(&served.script("GET", path).send().unwrap().bytes().unwrap()).unwrap()
}

fn strings(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
}

/// A child with the ticket of form A.
struct Child {
    id: String,
    form_code: String,
    items: Vec<Value>,
}

/// The children of a group.
fn children(plan: &Value, group: usize) -> Vec<Child> {
    let group = &plan["groups"][group];
    let is_it = |t: &&Value| t["group"] == group["id"] && t["form"] == "A";
    let ticket = plan["tickets"].as_array().unwrap().iter().find(is_it).unwrap();
    let (form_code, items) = (ticket["form_code"].as_str().unwrap(), ticket["items"].as_array().unwrap());
    let child = |id| Child { id, form_code: form_code.to_owned(), items: items.clone() };
    strings(&group["members"]).into_iter().map(child).collect()
}

/// Right and wrong by turns, as it stands on paper: of letters another one, else a number that nobody meant.
fn answer(item: &Value, is_right: bool) -> String {
    let key = strings(&item["key"]);
    match (item["type"].as_str().unwrap(), is_right) {
        ("match", true) => item["points"].to_string().trim_end_matches(".0").to_owned(),
        ("match", false) => "0".to_owned(),
        ("choice", false) => if key[0] == "A" { "B" } else { "A" }.to_owned(),
        ("numeric", false) => "977".to_owned(),
        ("numeric", true) => key[0].clone(),
        ("multi-select", false) => key[0].clone(),
        ("two-part", false) => if key[0] == "A" { "B" } else { "A" }.to_owned(),
        _ => key.join(","),
    }
}

/// What is typed for it.
fn typed(item: &Value, answer: &str) -> String {
    let is_short = item["type"] == "numeric" && ["0", "1"].contains(&answer);
    if is_short { format!("={answer}") } else { answer.replace(',', "") }
}

/// What the records hold of a child, without the upload that it came with.
fn scores(served: &Served, id: &str) -> Vec<String> {
    let record = get(served, &format!("/api/v1/students/{id}"));
    let weeks = record["weeks"].as_array().unwrap();
    let of_week = weeks.iter().filter(|w| w["week"] == "2026-02-09").flat_map(|w| w["scores"].as_array().unwrap());
    let told = of_week.map(|s| format!("{} {} {} {} {}", s["check"], s["item"], s["state"], s["answer"], s["points"]));
    let mut told: Vec<String> = told.collect();
    told.sort();
    told
}

fn send_form(served: &Served, fields: &[(String, String)]) -> reqwest::blocking::Response {
    let request = served.with_cookie("POST", PAGE).header("sec-fetch-site", "same-origin");
    let mut address = reqwest::Url::parse("http://x/").unwrap();
    address.query_pairs_mut().extend_pairs(fields);
    let body = address.query().unwrap().to_owned();
    request.header("content-type", "application/x-www-form-urlencoded").body(body).send().unwrap()
}

fn tag(served: &Served) -> String {
    let answer = served.script("GET", "/api/v1/weeks/2026-02-02/plan").send().unwrap();
    answer.headers()["etag"].to_str().unwrap().to_owned()
}

#[test]
fn typed_results_are_booked_as_the_same_results_of_a_sheet() {
    let (by_page, by_sheet) = (Served::demo(), Served::demo());
    let plan = get(&by_page, "/api/v1/weeks/2026-02-02/plan");
    let mut fields = vec![("tag".to_owned(), tag(&by_page))];
    let mut sheet = "Id,Form code,Item 1,Item 2,Item 3,Item 4,Item 5\n".to_owned();
    let mut ids = Vec::new();
    for group in 0..plan["groups"].as_array().unwrap().len() {
        for (at, child) in children(&plan, group).into_iter().enumerate() {
            fields.push((format!("form|{}", child.id), child.form_code.clone()));
            sheet += &format!("{},{}", child.id, child.form_code);
            for (n, item) in child.items.iter().enumerate() {
                // The last of each group was absent, and each child leaves one out.
                let cell = match (at, n) {
                    (2, _) => "absent".to_owned(),
                    _ if n == at => String::new(),
                    _ => answer(item, (at + n) % 3 != 0),
                };
                sheet += &format!(",\"{cell}\"");
                let value = if cell == "absent" { "-".to_owned() } else { typed(item, &cell) };
                fields.push((format!("a|{}|{}", n + 1, child.id), value));
            }
            sheet += "\n";
            ids.push(child.id);
        }
    }
    let saved = send_form(&by_page, &fields);
    assert_eq!(saved.status(), 303, "{}", saved.text().unwrap());
    assert_eq!(send_form(&by_page, &fields).status(), 303, "twice is once");
    let part = reqwest::blocking::multipart::Part::bytes(sheet.into_bytes()).file_name("results.csv");
    let form = reqwest::blocking::multipart::Form::new().part("file", part);
    let path = "/api/v1/weeks/2026-02-09/ticket-results";
    assert_eq!(by_sheet.script("POST", path).multipart(form).send().unwrap().status(), 201);
    let n_scores: usize = ids.iter().map(|id| scores(&by_page, id).len()).sum();
    assert!(n_scores > 3 * ids.len(), "{n_scores} marks of {} children", ids.len());
    for id in &ids {
        assert_eq!(scores(&by_page, id), scores(&by_sheet, id), "{id}");
    }
    let figures = |served: &Served| {
        let plan: Value = served.script("POST", "/api/v1/weeks/2026-02-09/plan").send().unwrap().json().unwrap();
        (plan["students"].clone(), plan["groups"].clone(), plan["items"].clone())
    };
    assert_eq!(figures(&by_page), figures(&by_sheet));
    assert_eq!(get(&by_page, "/api/v1/movement"), get(&by_sheet, "/api/v1/movement"));
}

#[test]
fn results_typed_on_another_plan_are_refused_and_what_was_typed_stays() {
    let served = Served::demo();
    let plan = get(&served, "/api/v1/weeks/2026-02-02/plan");
    let child = children(&plan, 0).remove(0);
    let old = tag(&served);
    let other = children(&plan, 1).remove(0).id;
    let change = serde_json::json!({"student": other, "to": plan["groups"][0]["id"], "reason": "asked for it"});
    let changed = served.script("PATCH", "/api/v1/weeks/2026-02-02/groups").header("if-match", &old);
    assert_eq!(changed.json(&change).send().unwrap().status(), 200);
    let form = (format!("form|{}", child.id), child.form_code.clone());
    let mut fields = vec![("tag".to_owned(), old), form, (format!("a|1|{}", child.id), "r".to_owned())];
    let refused = send_form(&served, &fields);
    assert_eq!(refused.status(), 412);
    let html = refused.text().unwrap();
    assert!(html.contains("The plan was changed meanwhile") && html.contains("value=\"r\""), "{html}");
    fields.push(("as-it-goes".to_owned(), "yes".to_owned()));
    let refused = send_form(&served, &fields);
    assert_eq!(refused.status(), 412);
    let told: Value = refused.json().unwrap();
    assert!(told["said"].as_str().unwrap().starts_with("Not saved: The plan was changed"), "{told}");
}

async fn value(browser: &Browser, id: &str) -> String {
    browser.driver.find(By::Id(id)).await.unwrap().prop("value").await.unwrap().unwrap()
}

async fn type_in(browser: &Browser, id: &str, words: &str) {
    let field = browser.driver.find(By::Id(id)).await.unwrap();
    field.clear().await.unwrap();
    field.send_keys(words).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn without_script_a_group_is_typed_saved_and_stands_again() {
    let served = demo().await;
    let plan = tokio::task::block_in_place(|| get(&served, "/api/v1/weeks/2026-02-02/plan"));
    let browser = let_in(&served, Script::Off).await;
    let group = children(&plan, 0);
    for (at, child) in group.iter().enumerate().skip(1) {
        for (n, item) in child.items.iter().enumerate() {
            type_in(&browser, &format!("f-g1-{at}-{}", n + 1), &typed(item, &answer(item, n != 1))).await;
        }
    }
    browser.driver.find(By::Id("f-g1-0-away")).await.unwrap().click().await.unwrap();
    browser.press("#g1 button").await;
    browser.arrive_at("Ticket results").await;
    assert_eq!(browser.text("main [role=status].notice").await, "Saved.");
    let counts = browser.text("#counts").await;
    assert!(counts.starts_with(&format!("Results in: {} of", group.len() - 1)), "{counts}");
    browser.driver.goto(format!("{}{PAGE}", served.base)).await.unwrap();
    let item = &group[1].items[1];
    assert_eq!(value(&browser, "f-g1-1-2").await, typed(item, &answer(item, false)));
    assert!(browser.driver.find(By::Id("f-g1-0-away")).await.unwrap().is_selected().await.unwrap());
    assert_eq!(browser.text("#g1 tbody tr:nth-child(2) .standing").await, "✓ in");
    browser.driver.goto(format!("{}/?week=2026-02-02", served.base)).await.unwrap();
    browser.press("a[href=\"/results/2026-02-02\"]").await;
    browser.arrive_at("Ticket results").await;
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_letter_that_the_item_does_not_have_is_told_beside_its_field() {
    let served = demo().await;
    let browser = let_in(&served, Script::Off).await;
    type_in(&browser, "f-g1-0-1", "Z").await;
    type_in(&browser, "f-g1-1-1", "r").await;
    browser.press("#g1 button").await;
    browser.arrive_at("Ticket results").await;
    assert_eq!(browser.text(".notice").await, "Saved: 1 child. Not saved: 1; see beside the fields.");
    let says = browser.text("#e-f-g1-0-1").await;
    assert!(says.starts_with("Item 1"), "{says}");
    assert_eq!(value(&browser, "f-g1-0-1").await, "Z");
    assert_eq!(value(&browser, "f-g1-1-1").await, "r");
    end(browser, served).await;
}

async fn focused(browser: &Browser) -> String {
    browser.driver.active_element().await.unwrap().attr("id").await.unwrap().unwrap_or_default()
}

async fn press_keys(browser: &Browser, keys: impl Into<TypingData>) {
    browser.driver.active_element().await.unwrap().send_keys(keys).await.unwrap();
}

/// Waits until the words of an element are these.
async fn until(browser: &Browser, css: &str, words: &str) {
    let mut last = String::new();
    for _ in 0..100 {
        last = browser.text(css).await;
        if last == words {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    panic!("{css} is {last:?}, not {words:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn with_script_a_group_is_typed_by_the_keyboard_and_saved_as_it_goes() {
    let served = demo().await;
    let plan = tokio::task::block_in_place(|| get(&served, "/api/v1/weeks/2026-02-02/plan"));
    let browser = let_in(&served, Script::On).await;
    browser.driver.execute("document.getElementById('f-g1-0-1').focus()", vec![]).await.unwrap();
    let group = children(&plan, 0);
    for (n, item) in group[0].items.iter().enumerate() {
        assert_eq!(focused(&browser).await, format!("f-g1-0-{}", n + 1));
        let right = answer(item, true);
        press_keys(&browser, typed(item, &right)).await;
        if matches!(item["type"].as_str().unwrap(), "multi-select" | "numeric") {
            press_keys(&browser, Key::Right).await;
        }
    }
    assert_eq!(focused(&browser).await, "f-g1-1-1", "a full row leads to the next child");
    until(&browser, "#saved", "Saved.").await;
    until(&browser, "#g1 tbody tr:nth-child(1) .standing", "✓ in").await;
    press_keys(&browser, "r").await;
    assert_eq!(focused(&browser).await, "f-g1-1-2");
    press_keys(&browser, Key::Enter).await;
    assert_eq!(focused(&browser).await, "f-g1-2-1");
    press_keys(&browser, "-").await;
    until(&browser, "#g1 tbody tr:nth-child(3) .standing", "absent").await;
    browser.driver.execute("document.getElementById('f-g1-1-2').focus()", vec![]).await.unwrap();
    press_keys(&browser, Key::Up).await;
    assert_eq!(focused(&browser).await, "f-g1-0-2");
    press_keys(&browser, Key::Left).await;
    assert_eq!(focused(&browser).await, "f-g1-0-1");
    assert_clean(&browser, "results typed").await;
    browser.picture("results-typed").await;

    press_keys(&browser, "Z").await;
    press_keys(&browser, Key::Enter).await;
    until(&browser, "#saved", "Not saved: 1 child; see beside the fields.").await;
    assert!(browser.text("#e-f-g1-0-1").await.starts_with("Item 1"));
    assert_eq!(value(&browser, "f-g1-0-1").await, "Z");
    assert_clean(&browser, "a letter that the item does not have").await;
    browser.picture("results-fault").await;

    browser.driver.refresh().await.unwrap();
    browser.arrive_at("Ticket results").await;
    let first = &group[0].items[0];
    assert_eq!(value(&browser, "f-g1-0-1").await, typed(first, &answer(first, true)), "the row stays as it was");
    assert_eq!(value(&browser, "f-g1-1-1").await, "r");
    assert!(browser.driver.find(By::Id("f-g1-2-away")).await.unwrap().is_selected().await.unwrap());
    browser.driver.set_window_rect(0, 0, 320, 700).await.unwrap();
    let script = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
    let over: i64 = browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap();
    assert!(over <= 0, "{over} px too wide");
    end(browser, served).await;
}
