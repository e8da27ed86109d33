//! Long jobs by the pages: they go on by themselves, tell their steps, can be stopped, and are found again.
//!
//! The service waits for no job here, so every form leads to the page of its work. The sheets are invented, and large enough that
//! planning them takes a while.

use crate::browser::{Browser, Script};
use crate::http::decide::{page, send};
use crate::served::Served;
use reqwest::blocking::multipart::{Form, Part};
use std::fmt::Write;
use std::time::{Duration, Instant};

const WEEK: &str = "2026-02-02";
const SKILLS: [&str; 4] = ["5.NF.B.5a", "4.NF.A.1", "4.NF.A.2", "4.NF.B.3a"];

/// Right and wrong answers of many children, drawn by a generator of remainders.
fn sheet(n_children: usize) -> String {
    let mut text = String::from(",,skill");
    (0..24).for_each(|j| write!(text, ",{}", SKILLS[j % SKILLS.len()]).unwrap());
    text.push_str("\nid,name,class");
    (1..=24).for_each(|j| write!(text, ",Q{j}").unwrap());
    let mut drawn = 7_u64;
    let mut draw = |below: u64| {
        drawn = drawn.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (drawn >> 33) % 100 < below
    };
    for s in 0..n_children {
        write!(text, "\n{s:05},Child {s},R{}", s / 24).unwrap();
        let holds: Vec<bool> = SKILLS.iter().map(|_| draw(55)).collect();
        for j in 0..24 {
            let right = draw(if holds[j % SKILLS.len()] { 90 } else { 15 });
            write!(text, ",{}", u8::from(right)).unwrap();
        }
    }
    text
}

/// Where a form led.
fn led_to(answer: &reqwest::blocking::Response) -> String {
    assert_eq!(answer.status().as_u16(), 303, "the form led nowhere");
    answer.headers()["location"].to_str().unwrap().to_owned()
}

fn hand_in(served: &Served, n_children: usize) -> String {
    let file = Part::bytes(sheet(n_children).into_bytes()).file_name("check.csv");
    let form = Form::new().text("week", WEEK).part("file", file);
    led_to(&served.with_cookie("POST", "/score-sheets").header("origin", &served.base).multipart(form).send().unwrap())
}

fn post(served: &Served, path: &str) -> String {
    led_to(&send(served, path, String::new()))
}

/// Looks again until the work leads on, or says why not.
fn to_the_end(served: &Served, work: &str) -> Result<String, String> {
    let began = Instant::now();
    loop {
        let answer = served.with_cookie("GET", &format!("{work}?wait")).send().unwrap();
        if answer.status().as_u16() == 303 {
            return Ok(led_to(&answer));
        }
        let page = answer.text().unwrap();
        if page.contains("role=\"alert\"") {
            return Err(page);
        }
        assert!(page.contains("role=\"status\"") && page.contains("Step "), "{page}");
        assert!(began.elapsed() < Duration::from_secs(300), "the work does not end");
    }
}

/// A service with a check of so many children that counts, whose forms wait for nothing.
fn with_a_check(n_children: usize) -> Served {
    let served = Served::without_patience();
    let work = hand_in(&served, n_children);
    assert!(work.starts_with("/progress/"), "{work}");
    let look_over = to_the_end(&served, &work).unwrap();
    assert!(look_over.starts_with("/score-sheets/"), "{look_over}");
    assert_eq!(post(&served, &format!("{look_over}/confirm")), format!("/score-sheets?week={WEEK}"));
    served
}

#[test]
fn work_goes_on_when_its_page_is_closed() {
    let served = with_a_check(120);
    let work = post(&served, &format!("/groups/{WEEK}/plan"));
    // The same again is the same work, and every page leads back to it.
    assert_eq!(post(&served, &format!("/groups/{WEEK}/plan")), work);
    let home = page(&served, "/");
    assert!(home.contains(&format!("href=\"{work}\">Planning the week (Week of Monday 2 February 2026): ")), "{home}");
    assert_eq!(to_the_end(&served, &work).unwrap(), format!("/groups/{WEEK}#replanned"));
    // Seen once, it is no longer told; going back in the browser still leads on.
    assert!(!page(&served, "/").contains("/progress/"));
    assert_eq!(to_the_end(&served, &work).unwrap(), format!("/groups/{WEEK}#replanned"));
    assert!(page(&served, &format!("/groups/{WEEK}")).contains("Child 17"));
}

#[test]
fn work_that_is_stopped_leaves_everything_as_it_was() {
    let served = with_a_check(400);
    let work = post(&served, &format!("/groups/{WEEK}/plan"));
    assert_eq!(post(&served, &format!("{work}/stop")), work);
    let told = to_the_end(&served, &work).unwrap_err();
    assert!(told.contains("Stopped, as somebody asked") && told.contains(&format!("/groups/{WEEK}")), "{told}");
    let plan = served.script("GET", &format!("/api/v1/weeks/{WEEK}/plan")).send().unwrap();
    assert_eq!(plan.status().as_u16(), 404);
    // Another try is another work, and it can be made to the end.
    let again = post(&served, &format!("/groups/{WEEK}/plan"));
    assert_ne!(again, work);
    assert_eq!(to_the_end(&served, &again).unwrap(), format!("/groups/{WEEK}#replanned"));
}

#[test]
fn events_tell_each_step_and_the_end() {
    let served = with_a_check(240);
    let work = post(&served, &format!("/groups/{WEEK}/plan"));
    let answer = served.with_cookie("GET", &format!("{work}/events")).send().unwrap();
    assert_eq!(answer.headers()["content-type"], "text/event-stream");
    let events = answer.text().unwrap();
    let steps: Vec<usize> = (0..6).filter(|i| events.contains(&format!("\"said\":\"Step {} of 6: ", i + 1))).collect();
    // The first may be over before anybody listens; those in between take long enough to be told.
    assert!(steps.len() >= 2 && events.ends_with(&format!("event: end\ndata: {work}\n\n")), "{events}");
    let places: Vec<usize> = events.match_indices("Step ").map(|(i, _)| i).collect();
    let told: Vec<&str> = places.iter().map(|i| &events[*i..*i + 6]).collect();
    assert!(told.is_sorted(), "{told:?}");
    assert!(!events.contains("Child") && !events.contains("check.csv"), "{events}");
}

#[test]
fn what_cannot_be_made_is_told_on_the_page_of_its_work() {
    let served = Served::without_patience();
    let form =
        Form::new().text("week", WEEK).part("file", Part::bytes(b"PK\x03\x04broken".to_vec()).file_name("x.xlsx"));
    let answer = served.with_cookie("POST", "/score-sheets").header("origin", &served.base).multipart(form).send();
    let told = to_the_end(&served, &led_to(&answer.unwrap())).unwrap_err();
    assert!(told.contains("x.xlsx") && told.contains(&format!("/score-sheets?week={WEEK}")), "{told}");
    let gone = served.with_cookie("GET", "/progress/0123").send().unwrap();
    assert_eq!(gone.status().as_u16(), 404);
    assert!(gone.text().unwrap().contains("This job is over for long"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_with_script_leads_on_by_itself() {
    let served = tokio::task::spawn_blocking(|| with_a_check(240)).await.unwrap();
    let browser = Browser::start(Script::On).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser.driver.goto(format!("{}/score-sheets?week={WEEK}", served.base)).await.unwrap();
    browser.press("form[action$='/plan'] button").await;
    browser.picture("work").await;
    browser.arrive_at("Groups").await;
    assert!(browser.driver.current_url().await.unwrap().path().starts_with("/groups/"));
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}
