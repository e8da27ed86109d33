//! The pages of those who sign in from another machine, in a real browser over TLS: the way in, what each role sees, the way out.
//!
//! Looked at by axe, for its width and, where somebody asked, kept as pictures. Not here: what is refused (`http::over_tls`).

use crate::axe::assert_clean;
use crate::browser::{Browser, Script};
use crate::served_over_tls::{ACCOUNTS, Door, WEEK};
use sheaf_app::weeks::Role;
use thirtyfour::prelude::*;

async fn sign_in(browser: &Browser, door: &Door, role: Role) {
    let (name, passphrase, _) = ACCOUNTS.into_iter().find(|(_, _, r)| *r == role).unwrap();
    browser.driver.goto(format!("https://localhost:{}/", door.port)).await.unwrap();
    browser.arrive_at("Sign in").await;
    browser.driver.find(By::Id("name")).await.unwrap().send_keys(name).await.unwrap();
    browser.driver.find(By::Id("passphrase")).await.unwrap().send_keys(passphrase).await.unwrap();
    browser.press("form.sheet-form button").await;
    browser.arrive_at("This week").await;
}

/// Clean to axe, no wider than a narrow window, and a picture of it.
async fn look(browser: &Browser, name: &str) {
    assert_clean(browser, name).await;
    browser.driver.set_window_rect(0, 0, 320, 700).await.unwrap();
    let script = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
    let over: i64 = browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap();
    assert!(over <= 0, "{name} is {over} px too wide");
    browser.driver.set_window_rect(0, 0, 1280, 900).await.unwrap();
    browser.picture(name).await;
}

async fn go(browser: &Browser, door: &Door, path: &str, heading: &str) {
    browser.driver.goto(format!("https://localhost:{}{path}", door.port)).await.unwrap();
    browser.arrive_at(heading).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn each_role_signs_in_sees_its_own_and_signs_out() {
    let door = tokio::task::spawn_blocking(Door::open).await.unwrap();
    let browser = Browser::start(Script::On).await;
    sign_in(&browser, &door, Role::Coach).await;
    look(&browser, "coach-week").await;
    let words = browser.text(".person").await;
    assert!(words.contains("cora, coach"), "{words}");
    let entries = browser.text("nav").await;
    assert_eq!(entries.split_whitespace().collect::<Vec<_>>(), ["This", "week", "Movement", "School"]);
    go(&browser, &door, &format!("/movement/memo/{WEEK}"), "Cycle memo").await;
    look(&browser, "coach-memo").await;
    browser.driver.goto(format!("https://localhost:{}/groups/{WEEK}", door.port)).await.unwrap();
    browser.arrive_at("Not here").await;
    look(&browser, "coach-refused").await;
    go(&browser, &door, "/", "This week").await;
    browser.press(".person button").await;
    browser.arrive_at("Sign in").await;
    look(&browser, "sign-in").await;

    sign_in(&browser, &door, Role::GradeTeam).await;
    look(&browser, "team-week").await;
    browser.press("a[href^='/results/']").await;
    browser.arrive_at("Ticket results").await;
    look(&browser, "team-results").await;
    go(&browser, &door, "/", "This week").await;
    browser.press(".person button").await;
    browser.arrive_at("Sign in").await;

    sign_in(&browser, &door, Role::Interventionist).await;
    look(&browser, "lead-week").await;
    for (path, heading, name) in [
        ("/people", "People", "people"),
        ("/people/me", "Your passphrase", "people-me"),
        ("/school/changes", "Who changed what", "changes"),
    ] {
        go(&browser, &door, path, heading).await;
        look(&browser, name).await;
    }
    go(&browser, &door, "/people", "People").await;
    browser.click("tbody tr:first-child summary").await;
    look(&browser, "people-open").await;
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(door)).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wrong_passphrase_comes_back_with_one_sentence_and_without_script() {
    let door = tokio::task::spawn_blocking(Door::open).await.unwrap();
    let browser = Browser::start(Script::Off).await;
    browser.driver.goto(format!("https://localhost:{}/", door.port)).await.unwrap();
    browser.arrive_at("Sign in").await;
    browser.driver.find(By::Id("name")).await.unwrap().send_keys("lea").await.unwrap();
    browser.driver.find(By::Id("passphrase")).await.unwrap().send_keys("not this one at all").await.unwrap();
    browser.press("form.sheet-form button").await;
    browser.arrive_at("Sign in").await;
    assert_eq!(browser.text("#sign-in-error").await, "Name or passphrase is not right; check both and try again.");
    let kept = browser.driver.find(By::Id("name")).await.unwrap().prop("value").await.unwrap();
    assert_eq!(kept.as_deref(), Some("lea"));
    browser.picture("sign-in-wrong").await;
    sign_in(&browser, &door, Role::Interventionist).await;
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(door)).await.unwrap();
}
