//! The setup on its page: every key has a field, a mistake stands beside its field, what is kept holds and is told.
//!
//! Read as HTML where words are enough, and in a browser where a person's hands are. Not here: what each key does.

use crate::axe::assert_clean;
use crate::browser::{Browser, Script};
use crate::served::Served;
use serde_json::Value;
use sheaf_app::setup::about_setup;
use thirtyfour::components::SelectElement;
use thirtyfour::prelude::*;

fn page(served: &Served) -> String {
    served.with_cookie("GET", "/school/setup").send().unwrap().text().unwrap()
}

fn tag(html: &str) -> String {
    html.split("name=\"tag\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
}

fn kept_text(served: &Served) -> String {
    served.with_cookie("GET", "/school/setup.toml").send().unwrap().text().unwrap()
}

#[test]
fn every_key_of_the_setup_has_its_field() {
    let html = page(&Served::demo());
    let mut n_keys = 0;
    for section in about_setup() {
        for key in &section.keys {
            let row = if section.is_list { ".0" } else { "" };
            assert!(html.contains(&format!("name=\"{}{row}.{}\"", section.section, key.key)), "{}", key.key);
            n_keys += 1;
        }
    }
    assert!(n_keys > 40, "{n_keys}");
    assert!(html.contains("Built in: 5. Source: five as the upper limit"));
}

#[test]
fn a_mistake_in_the_setup_is_told_beside_its_field() {
    let served = Served::demo();
    let (html, before) = (page(&served), kept_text(&served));
    for (field, typed) in [("groups.max_size", "0"), ("block.0.start", "9 o'clock"), ("staff.7.blocks", "sun-1")] {
        let fields = [("tag", tag(&html)), (field, typed.to_owned()), ("core.skills", "5.NF.B.5a".to_owned())];
        let mut fields: Vec<(&str, &str)> = fields.iter().map(|(n, v)| (*n, v.as_str())).collect();
        let whole: Vec<(String, String)> = sheaf_app::setup::fields_of(&before).unwrap().into_iter().collect();
        let typed_too = |name: &str| fields.iter().any(|(n, _)| *n == name);
        let rest: Vec<(&str, &str)> =
            whole.iter().filter(|(n, _)| !typed_too(n)).map(|(n, v)| (n.as_str(), v.as_str())).collect();
        fields.extend(rest);
        if field.starts_with("staff.7") {
            fields.push(("staff.7.name", "Teacher Z"));
        }
        let answer = served.form("/school/setup", &fields);
        assert_eq!(answer.status(), 422, "{field}");
        let html = answer.text().unwrap();
        // The rows of a list are numbered anew where an empty one stood between.
        let shown = if field.starts_with("staff.") { "staff." } else { field };
        assert!(html.contains(&format!("id=\"{shown}")) && html.contains("-error\">"), "{field}");
        assert!(html.contains(&format!("value=\"{}\"", typed.replace('\'', "&#39;"))), "{field} lost what was typed");
        assert!(html.contains("value=\"5.NF.B.5a\"") && html.contains("Not kept."), "{field}");
        assert_eq!(kept_text(&served), before, "{field}: nothing is kept");
    }
}

#[test]
fn a_text_with_a_mistake_comes_back_with_its_line_and_an_old_one_is_refused() {
    let served = Served::demo();
    let old = tag(&page(&served));
    let wrong = served.form("/school/setup/text", &[("tag", &old), ("text", "[groups]\nmax_szie = 4\n")]);
    assert_eq!(wrong.status(), 422);
    let html = wrong.text().unwrap();
    assert!(html.contains("The setup, line 2: ") && html.contains("max_szie = 4"), "{html}");
    let good = [("tag", old.as_str()), ("text", "[groups]\nmax_size = 4\n")];
    assert_eq!(served.form("/school/setup/text", &good).status(), 303);
    assert_eq!(kept_text(&served), "[groups]\nmax_size = 4\n");
    let late = served.form("/school/setup/text", &[("tag", &old), ("text", "[groups]\nmax_size = 6\n")]);
    assert_eq!(late.status(), 412);
    assert!(late.text().unwrap().contains("Somebody changed the setup"));
    assert_eq!(kept_text(&served), "[groups]\nmax_size = 4\n");
}

#[test]
fn a_plan_made_before_says_that_the_setup_changed() {
    let served = Served::demo();
    let groups = || served.with_cookie("GET", "/groups/2026-02-02").send().unwrap().text().unwrap();
    assert!(!groups().contains("setup changed"));
    let text = kept_text(&served).replace("max_size = 5", "max_size = 4");
    let text = if text.contains("max_size = 4") { text } else { format!("{text}\n[ticket]\nitems = 4\n") };
    assert_eq!(served.form("/school/setup/text", &[("tag", &tag(&page(&served))), ("text", &text)]).status(), 303);
    assert!(groups().contains("The school's setup changed after this plan"));
}

async fn choose(browser: &Browser, name: &str, value: &str) {
    let select = browser.driver.find(By::Name(name)).await.unwrap();
    SelectElement::new(&select).await.unwrap().select_by_value(value).await.unwrap();
}

async fn write(browser: &Browser, name: &str, words: &str) {
    let field = browser.driver.find(By::Name(name)).await.unwrap();
    field.clear().await.unwrap();
    field.send_keys(words).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_school_is_set_up_on_the_page_and_the_next_plan_obeys() {
    for script in [Script::Off, Script::On] {
        let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
        let browser = Browser::start(script).await;
        browser.driver.goto(served.launch_address()).await.unwrap();
        browser.driver.goto(format!("{}/school/setup", served.base)).await.unwrap();
        browser.arrive_at("Setup").await;
        write(&browser, "groups.min_size", "many").await;
        choose(&browser, "groups.include", "all").await;
        browser.press("#groups button").await;
        let told = browser.text("[id='groups.min_size-error']").await;
        assert!(told.starts_with("This must be a whole number from 1"), "{told}");
        let kept = browser.driver.find(By::Name("groups.include")).await.unwrap();
        assert_eq!(kept.value().await.unwrap().as_deref(), Some("all"));
        if script == Script::On {
            browser.picture("setup-mistake").await;
            assert_clean(&browser, "a mistake in the setup").await;
        }
        write(&browser, "groups.min_size", "2").await;
        write(&browser, "groups.max_size", "3").await;
        browser.press("#groups button").await;
        assert!(browser.text(".notice[role=status]").await.contains("Kept."));
        browser.picture("setup").await;
        browser.driver.goto(format!("{}/?week=2026-02-02", served.base)).await.unwrap();
        let (base, token) = (served.base.clone(), served.token.clone());
        let plan: Value = tokio::task::spawn_blocking(move || {
            let client = reqwest::blocking::Client::builder().no_proxy().build().unwrap();
            let answer = client.post(format!("{base}/api/v1/weeks/2026-02-02/plan")).bearer_auth(token).send().unwrap();
            answer.json().unwrap()
        })
        .await
        .unwrap();
        let sizes: Vec<usize> =
            plan["groups"].as_array().unwrap().iter().map(|g| g["members"].as_array().unwrap().len()).collect();
        assert!(!sizes.is_empty() && sizes.iter().all(|n| (1..=3).contains(n)), "{sizes:?}");
        browser.stop().await;
        tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
    }
}
