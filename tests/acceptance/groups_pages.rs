//! The groups page, a group's and a child's own page in a real browser: moving a child by select, by keyboard alone and by dragging; two people
//! at once; planning again; initials alone on a wall.
//!
//! In:  the invented school, its first week planned. Out: what stands on the pages, and what the records hold afterwards.
//! Keeps: each state of these pages breaks no rule of axe and is no wider than its window, at 1280 and 360 pixels. Not here: what a decision
//! does to seats (`sheaf-core`), the same by script and form alone (`http::decide`).

use crate::axe::assert_clean;
use crate::browser::{Browser, Script};
use crate::served::Served;
use serde_json::{Value, json};
use thirtyfour::TypingData;
use thirtyfour::prelude::*;

const WEEK: &str = "2026-02-02";

pub async fn demo() -> Served {
    tokio::task::spawn_blocking(Served::demo).await.unwrap()
}

pub async fn let_in(served: &Served, script: Script) -> Browser {
    let browser = Browser::start(script).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser.arrive_at("This week").await;
    browser
}

pub async fn open(browser: &Browser, served: &Served, path: &str) {
    browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
}

pub async fn end(browser: Browser, served: Served) {
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

/// The first week's plan and its tag.
fn plan(served: &Served) -> (Value, String) {
    plan_of(served, WEEK)
}

pub fn plan_of(served: &Served, week: &str) -> (Value, String) {
    let answer = served.script("GET", &format!("/api/v1/weeks/{week}/plan")).send().unwrap();
    let tag = answer.headers()["etag"].to_str().unwrap().to_owned();
    (serde_json::from_slice(&answer.bytes().unwrap()).unwrap(), tag)
}

fn group_of(plan: &Value, child: &str) -> String {
    let is_it = |s: &&Value| s["id"] == child;
    plan["students"].as_array().unwrap().iter().find(is_it).unwrap()["group"].as_str().unwrap().to_owned()
}

fn member(plan: &Value, group: &str, at: usize) -> String {
    let is_it = |g: &&Value| g["id"] == group;
    let group = plan["groups"].as_array().unwrap().iter().find(is_it).unwrap();
    group["members"][at].as_str().unwrap().to_owned()
}

/// A decision by script, as another person would make it.
fn decide(served: &Served, body: &Value) {
    decide_in(served, WEEK, body);
}

pub fn decide_in(served: &Served, week: &str, body: &Value) {
    let (_, tag) = plan_of(served, week);
    let request = served.script("PATCH", &format!("/api/v1/weeks/{week}/groups")).header("if-match", tag);
    assert_eq!(request.json(body).send().unwrap().status(), 200);
}

pub fn page(served: &Served, path: &str) -> String {
    let answer = served.with_cookie("GET", path).send().unwrap();
    assert_eq!(answer.status(), 200, "{path}");
    answer.text().unwrap()
}

/// Clean by axe and within the window, wide and narrow; with pictures where somebody asked for them.
pub async fn looks_right(browser: &Browser, name: &str) {
    for width in [1280, 360] {
        browser.driver.set_window_rect(0, 0, width, 900).await.unwrap();
        assert_clean(browser, &format!("{name} at {width}")).await;
        let script = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
        let over: i64 = browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap();
        assert!(over <= 0, "{name} is {over} px too wide at {width}");
    }
    browser.driver.set_window_rect(0, 0, 1280, 900).await.unwrap();
    browser.picture(name).await;
}

async fn choose(browser: &Browser, id: &str, value: &str) {
    browser.click(&format!("#{id} option[value='{value}']")).await;
}

/// Whether something of these words is on the page.
pub async fn says(browser: &Browser, words: &str) -> bool {
    browser.text("main").await.contains(words)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_child_is_moved_by_select_and_button_with_and_without_script() {
    for script in [Script::On, Script::Off] {
        let served = demo().await;
        let (before, _) = tokio::task::block_in_place(|| plan(&served));
        let child = member(&before, "g1", 0);
        let browser = let_in(&served, script).await;
        open(&browser, &served, &format!("/groups/{WEEK}")).await;
        let is_on = script == Script::On;
        assert_eq!(says(&browser, "drag the child").await, is_on, "dragging is told where it works");
        choose(&browser, &format!("m-{child}"), "g2").await;
        browser.press(&format!("li.member:has(#m-{child}) button")).await;
        assert!(says(&browser, "What it would change").await && says(&browser, "Group 2, children").await);
        browser.driver.find(By::Name("hold")).await.unwrap().click().await.unwrap();
        browser.press("#decide button").await;
        // Without a reason it is told beside the field, and what was chosen stays.
        assert!(browser.text("#reason-error").await.starts_with("Choose a reason or write one"));
        let hold = browser.driver.find(By::Name("hold")).await.unwrap();
        assert!(hold.is_selected().await.unwrap());
        let reason = "knows the adult who leads there";
        browser.driver.find(By::Id("words")).await.unwrap().send_keys(reason).await.unwrap();
        if is_on {
            looks_right(&browser, "decide-reason").await;
        }
        browser.press("#decide button").await;
        let decided = browser.text("#decided").await;
        assert!(decided.contains(reason) && decided.contains("also in the weeks to come"), "{decided}");
        if is_on {
            looks_right(&browser, "groups-decided").await;
        }
        let (after, _) = tokio::task::block_in_place(|| plan(&served));
        assert_eq!((group_of(&before, &child), group_of(&after, &child)), ("g1".to_owned(), "g2".to_owned()));
        browser.press("#decided form[action$=undo] button").await;
        let undone = browser.text("#decided").await;
        assert!(undone.contains("Nothing at the moment") && undone.contains("Do again:"), "{undone}");
        assert_eq!(group_of(&tokio::task::block_in_place(|| plan(&served)).0, &child), "g1");
        browser.press("#decided form[action$=redo] button").await;
        assert!(browser.text("#decided").await.contains(reason));
        assert_eq!(group_of(&tokio::task::block_in_place(|| plan(&served)).0, &child), "g2");
        end(browser, served).await;
    }
}

async fn focused(browser: &Browser, what: &str) -> String {
    let script = format!("return String(document.activeElement.{what} ?? '')");
    browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap()
}

async fn type_keys(browser: &Browser, keys: impl Into<TypingData>) {
    browser.driver.action_chain().send_keys(keys).perform().await.unwrap();
}

/// Goes on by the tabulator until something with this property has the focus.
async fn tab_to(browser: &Browser, what: &str, value: &str) {
    for _ in 0..400 {
        if focused(browser, what).await == value {
            return;
        }
        type_keys(browser, Key::Tab + "").await;
    }
    panic!("the keyboard does not reach {value}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_child_is_moved_by_the_keyboard_alone() {
    let served = demo().await;
    let (before, _) = tokio::task::block_in_place(|| plan(&served));
    let child = member(&before, "g1", 0);
    let browser = let_in(&served, Script::On).await;
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    tab_to(&browser, "id", &format!("m-{child}")).await;
    // The groups of the select are called Group 1, Group 2 …: one down is the second.
    type_keys(&browser, Key::Down + "").await;
    let page = browser.driver.find(By::Css("html")).await.unwrap();
    type_keys(&browser, Key::Tab + Key::Enter).await;
    for _ in 0..100 {
        if page.tag_name().await.is_err() {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    assert!(says(&browser, "What it would change").await);
    tab_to(&browser, "name", "words").await;
    type_keys(&browser, "The class team decided").await;
    tab_to(&browser, "textContent", "Keep this decision").await;
    type_keys(&browser, Key::Enter + "").await;
    browser.arrive_at("Groups").await;
    assert!(browser.text("#decided").await.contains("The class team decided"));
    assert_eq!(group_of(&tokio::task::block_in_place(|| plan(&served)).0, &child), "g2");
    end(browser, served).await;
}

/// The events of a drag from one element to another, as a browser sends them, with one set of data.
const DRAG: &str = "const [from, to] = [arguments[0], arguments[1]].map((css) => document.querySelector(css));
    const dataTransfer = new DataTransfer();
    const send = (at, type) => at.dispatchEvent(new DragEvent(type, { bubbles: true, cancelable: true, dataTransfer }));
    send(from, 'dragstart');
    const isTaken = !send(to, 'dragover');
    const said = [isTaken, to.closest('[data-group]').classList.contains('drop-here'), dataTransfer.getData('text/plain')];
    if (isTaken) send(to, 'drop');
    send(from, 'dragend');
    return said.join(' ');";

async fn drag(browser: &Browser, from: &str, to: &str) -> String {
    browser.driver.execute(DRAG, vec![json!(from), json!(to)]).await.unwrap().convert().unwrap()
}

/// Pressed on the card, moved, let go over a group in the row of groups, which stays in sight while something is dragged.
async fn by_the_mouse_itself(browser: &Browser, served: &Served, child: &str) {
    open(browser, served, &format!("/groups/{WEEK}")).await;
    let card = browser.driver.find(By::Css(format!("li.member:has(#m-{child}) .why"))).await.unwrap();
    card.scroll_into_view().await.unwrap();
    let mouse = browser.driver.action_chain().move_to_element_center(&card).click_and_hold();
    mouse.move_by_offset(4, 4).move_by_offset(8, 8).perform().await.unwrap();
    let group = browser.driver.find(By::Css(".jump li[data-group=g3] a")).await.unwrap();
    let shown = "const r = document.querySelector('.jump').getBoundingClientRect(); return r.top >= 0 && r.bottom < innerHeight";
    assert!(
        browser.driver.execute(shown, vec![]).await.unwrap().convert::<bool>().unwrap(),
        "the groups stay in sight"
    );
    let mouse = browser.driver.action_chain().move_to_element_center(&group).move_by_offset(2, 2);
    mouse.release().perform().await.unwrap();
    arrives_at_decide(browser).await;
    let address = browser.driver.current_url().await.unwrap();
    assert_eq!(address.query(), Some(format!("student={child}&to=g3").as_str()), "by the mouse");
}

async fn arrives_at_decide(browser: &Browser) {
    for _ in 0..100 {
        if browser.driver.current_url().await.unwrap().path().ends_with("/decide") {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    panic!("the page of the decision does not come");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_child_is_dragged_onto_another_group() {
    let served = demo().await;
    let (before, _) = tokio::task::block_in_place(|| plan(&served));
    let child = member(&before, "g1", 0);
    let browser = let_in(&served, Script::On).await;
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    let card = format!("li.member:has(#m-{child}) h3");
    assert_eq!(drag(&browser, &card, "#g1 h2").await, "true true seat");
    assert_eq!(browser.text("h1").await, "Groups", "onto its own group nothing happens");
    assert_eq!(drag(&browser, &card, "#g3 h2").await, "true true seat", "nothing of the child goes with the drag");
    arrives_at_decide(&browser).await;
    let address = browser.driver.current_url().await.unwrap();
    assert_eq!(address.query(), Some(format!("student={child}&to=g3").as_str()), "as select and button send it");
    assert!(says(&browser, "What it would change").await);
    assert_eq!(tokio::task::block_in_place(|| plan(&served)).0["groups"], before["groups"], "nothing is kept yet");
    by_the_mouse_itself(&browser, &served, &child).await;
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    looks_right(&browser, "groups").await;
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_at_once_see_both_versions() {
    let served = demo().await;
    let (before, _) = tokio::task::block_in_place(|| plan(&served));
    let (mine, theirs) = (member(&before, "g1", 0), member(&before, "g1", 1));
    let name = |id: &str| {
        let is_it = |s: &&Value| s["id"] == id;
        before["students"].as_array().unwrap().iter().find(is_it).unwrap()["name"].as_str().unwrap().to_owned()
    };
    let browser = let_in(&served, Script::On).await;
    open(&browser, &served, &format!("/groups/{WEEK}/decide?student={mine}&to=g2")).await;
    browser.driver.find(By::Id("words")).await.unwrap().send_keys("calmer there").await.unwrap();
    tokio::task::block_in_place(|| {
        decide(&served, &json!({"student": theirs, "to": "g2", "reason": "asked for it", "hold": false}));
    });
    let (meanwhile, _) = tokio::task::block_in_place(|| plan(&served));
    browser.press("#decide button").await;
    assert!(browser.text("[role=alert]").await.starts_with("Nothing was kept."));
    let sides = browser.driver.find_all(By::Css(".version")).await.unwrap();
    let (left, right) = (sides[0].text().await.unwrap(), sides[1].text().await.unwrap());
    for words in
        ["What you looked at and decided", "calmer there", "you move to Group 2", "by now in Group 2", "you seat here"]
    {
        assert!(left.contains(words), "{words}: {left}");
    }
    assert!(left.contains(&name(&mine)) && !left.contains("asked for it"), "{left}");
    for words in ["The plan as it is now", "asked for it", "came: was in Group 1"] {
        assert!(right.contains(words), "{words}: {right}");
    }
    assert!(right.contains(&name(&theirs)) && !right.contains("calmer there"), "{right}");
    let top = |e: &WebElement| e.clone();
    let wide = (top(&sides[0]).rect().await.unwrap(), top(&sides[1]).rect().await.unwrap());
    assert!(wide.0.y == wide.1.y && wide.0.x < wide.1.x, "side by side: {wide:?}");
    browser.driver.set_window_rect(0, 0, 360, 900).await.unwrap();
    let narrow = (top(&sides[0]).rect().await.unwrap(), top(&sides[1]).rect().await.unwrap());
    assert!(narrow.0.y < narrow.1.y && narrow.0.x == narrow.1.x, "one under the other: {narrow:?}");
    looks_right(&browser, "conflict").await;
    assert_eq!(tokio::task::block_in_place(|| plan(&served)).0["groups"], meanwhile["groups"], "nothing was kept");
    let words = browser.driver.find(By::Id("words")).await.unwrap().prop("value").await.unwrap();
    assert_eq!(words.as_deref(), Some("calmer there"));
    assert_eq!(browser.text("#decide .actions").await, "Keep mine on the plan as it is now\nLeave it as it is");
    browser.press("#decide button").await;
    browser.arrive_at("Groups").await;
    let (after, _) = tokio::task::block_in_place(|| plan(&served));
    assert_eq!((group_of(&after, &mine), group_of(&after, &theirs)), ("g2".to_owned(), "g2".to_owned()));
    // Undo of a page that somebody else has overtaken undoes nothing.
    tokio::task::block_in_place(|| {
        decide(&served, &json!({"student": theirs, "to": "g3", "reason": "once more", "hold": false}));
    });
    browser.press("#decided form[action$=undo] button").await;
    assert!(browser.text("[role=alert]").await.starts_with("Nothing was undone."));
    assert_eq!(group_of(&tokio::task::block_in_place(|| plan(&served)).0, &theirs), "g3");
    looks_right(&browser, "undo-overtaken").await;
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn planning_again_keeps_holds_and_says_so() {
    let served = demo().await;
    let (before, _) = tokio::task::block_in_place(|| plan(&served));
    let child = member(&before, "g1", 0);
    tokio::task::block_in_place(|| {
        decide(&served, &json!({"student": child, "to": "g2", "reason": "works well there", "hold": true}));
    });
    let browser = let_in(&served, Script::Off).await;
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    assert!(!says(&browser, "What planning again changed").await);
    browser.press("form[action$='/plan'] button").await;
    browser.arrive_at("Groups").await;
    let said = browser.text("#replanned").await;
    for words in [
        "Nothing: every child sits where they sat",
        "Kept, as a person decided",
        "works well there",
        "also in the weeks to come",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    assert!(says(&browser, "What planning again changed").await, "it stays");
    end(browser, served).await;
    let served = demo().await;
    tokio::task::block_in_place(|| {
        decide(&served, &json!({"student": child, "to": "g2", "reason": "works well there", "hold": true}));
        // Another seed seats some children elsewhere; what changed is what two plans differ in.
        let (old, _) = plan(&served);
        let answer = served.script("POST", &format!("/api/v1/weeks/{WEEK}/plan?seed=99")).send().unwrap();
        assert_eq!(answer.status(), 200);
        let (new, _) = plan(&served);
        let moved = old["students"].as_array().unwrap().iter().zip(new["students"].as_array().unwrap());
        let n_moved = moved.filter(|(a, b)| a["group"] != b["group"]).count();
        let html = page(&served, &format!("/groups/{WEEK}"));
        let section = html.split("id=\"replanned\"").nth(1).unwrap().split("</section>").next().unwrap();
        let n_told = section.matches(": from Group").count()
            + section.matches(": had no seat").count()
            + section.matches(": was in Group").count();
        assert_eq!(n_told, n_moved, "{section}");
        decide(&served, &json!({"student": child, "to": "g3", "reason": "other idea", "hold": false}));
        assert!(!page(&served, &format!("/groups/{WEEK}")).contains("id=\"replanned\""), "until the next decision");
    });
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_strip_of_needs_is_numbers_and_patterns() {
    let served = demo().await;
    let browser = let_in(&served, Script::On).await;
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    // Every cell has a text alternative and its points; each group's target has the thick edge in every strip.
    let look = "return [...document.querySelectorAll('section.group')].flatMap((g) => [...g.querySelectorAll('.strip')].map((s) => {
        const cells = [...s.querySelectorAll('svg.need-cell')];
        const target = cells.filter((c) => c.classList.contains('need-target'));
        return [cells.length > 0, cells.every((c) => /: (not yet|met before|near the cut|too few|met once|holds|not asked)/.test(c.querySelector('title').textContent)),
          cells.every((c) => /^(–|[0-9.]+\\/[0-9.]+( \\?| ✓| ✓✓)?)$/.test(c.querySelector('text').textContent)),
          target.length === 1 && target[0].querySelector('title').textContent.endsWith('taught in this group'),
          cells.every((c) => c.querySelector('text').getBBox().width < 52)].join(' ');
      }))";
    let told: Vec<String> = browser.driver.execute(look, vec![]).await.unwrap().convert().unwrap();
    assert!(told.len() > 10 && told.iter().all(|t| t == "true true true true true"), "{told:?}");
    let legend = browser.text(".legend").await;
    for words in ["not yet", "near the cut", "too few items to say", "met once", "not asked", "taught in this group"] {
        assert!(legend.contains(words), "{words}: {legend}");
    }
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_group_has_a_page_of_its_own() {
    let served = demo().await;
    let (before, _) = tokio::task::block_in_place(|| plan(&served));
    let child = member(&before, "g1", 0);
    tokio::task::block_in_place(|| {
        decide(&served, &json!({"student": child, "to": "g2", "reason": "works well there", "hold": true}));
    });
    let browser = let_in(&served, Script::On).await;
    open(&browser, &served, &format!("/groups/{WEEK}")).await;
    browser.press("#g2 a[href$='/g2']").await;
    browser.arrive_at("2\nGroup 2").await;
    for words in ["Target", "Comes before it", "Members", "When it meets", "Exit tickets", "works well there"] {
        assert!(says(&browser, words).await, "{words}: {}", browser.text("main").await);
    }
    let (after, _) = tokio::task::block_in_place(|| plan(&served));
    let members = after["groups"][1]["members"].as_array().unwrap().len();
    assert_eq!(browser.driver.find_all(By::Css(".member")).await.unwrap().len(), members);
    let of_group = after["rotation"].as_array().unwrap().iter().filter(|s| s["group"] == "g2").count();
    assert_eq!(browser.driver.find_all(By::Css("#main tbody tr")).await.unwrap().len(), of_group);
    looks_right(&browser, "group").await;
    let printed = browser.driver.print_page(thirtyfour::common::print::PrintParameters::default()).await.unwrap();
    let n_pages = String::from_utf8_lossy(&printed).matches("/Type /Page\n").count();
    assert_eq!(n_pages, 1, "one sheet of paper");
    open(&browser, &served, &format!("/rotation/{WEEK}")).await;
    browser.press("#main tbody th a[href$='/g2']").await;
    browser.arrive_at("2\nGroup 2").await;
    open(&browser, &served, &format!("/groups/{WEEK}/g99")).await;
    browser.arrive_at("No such group").await;
    looks_right(&browser, "no-such-group").await;
    browser.press("main a.button").await;
    browser.arrive_at("Groups").await;
    tokio::task::block_in_place(|| {
        let odd = served.with_cookie("GET", &format!("/groups/{WEEK}/g99")).send().unwrap();
        assert_eq!(odd.status(), 404);
        let early = served.with_cookie("GET", "/groups/2027-01-04/g1").send().unwrap();
        assert_eq!(early.status(), 404);
        assert!(early.text().unwrap().contains("has no plan yet"));
        assert!(
            page(&served, "/movement").contains(&format!("/groups/{WEEK}/g1"))
                || !page(&served, "/movement").contains("aria-label=\"Group 1\"")
        );
    });
    end(browser, served).await;
}

#[test]
fn last_weeks_ticket_results_are_on_a_groups_page() {
    let served = Served::demo();
    let (first, _) = plan(&served);
    let child = member(&first, "g1", 0);
    let is_it = |t: &&Value| t["group"] == "g1" && t["form"] == "A";
    let ticket = first["tickets"].as_array().unwrap().iter().find(is_it).unwrap();
    let code = ticket["form_code"].as_str().unwrap();
    let rows = format!("Id,Form code,Item 1,Item 2\n{child},{code},right,wrong\n");
    let quiz = crate::served::quillmere("week2_quiz.xlsx");
    assert_eq!(served.hand_in("week=2026-02-09", &[("quiz.xlsx", &quiz)]).status(), 201);
    assert_eq!(served.hand_in("week=2026-02-09", &[("results.csv", rows.as_bytes())]).status(), 201);
    assert_eq!(served.script("POST", "/api/v1/weeks/2026-02-09/plan").send().unwrap().status(), 200);
    let plan: Value = served.script("GET", "/api/v1/weeks/2026-02-09/plan").send().unwrap().json().unwrap();
    let group = group_of(&plan, &child);
    let shown = page(&served, &format!("/groups/2026-02-09/{group}"));
    let points = [0, 1].map(|i| ticket["items"][i]["points"].as_f64().unwrap());
    assert!(shown.contains(code) && shown.contains(&format!("{} of {}", points[0], points[0] + points[1])), "{shown}");
    assert!(shown.contains("Tickets of the week of monday 2 february 2026"), "{shown}");
}
