//! A person's way through a week in a real browser: hand in, look over, plan, see groups, fetch the workbook.
//!
//! Needs `chromium` and `chromedriver` on the path; without them these tests fail. With the variable `SHEAF_PICTURES` set
//! to a folder, each page is also kept there as a picture at three widths and as a PDF, to be looked at.

use crate::http::{OF_A_CHILD, PAGES, opens_with_groups};
use crate::served::Served;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use thirtyfour::common::print::PrintParameters;
use thirtyfour::prelude::*;

/// Whether pages may run script.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Script {
    On,
    Off,
}

/// How large text is set in the browser.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum TextSize {
    Usual,
    /// 32 px where 16 px are usual: 200 %.
    Doubled,
}

/// A browser of its own, with a profile that is gone afterwards.
pub struct Browser {
    pub driver: WebDriver,
    chromedriver: Child,
    _profile: tempfile::TempDir,
}

impl Browser {
    pub async fn start(script: Script) -> Self {
        Self::start_with(script, TextSize::Usual).await
    }

    pub async fn start_with(script: Script, size: TextSize) -> Self {
        let (chromedriver, port) = start_chromedriver();
        let profile = tempfile::tempdir().unwrap();
        let mut wanted = DesiredCapabilities::chrome();
        for flag in [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
        ] {
            wanted.add_arg(flag).unwrap();
        }
        wanted.add_arg(&format!("--user-data-dir={}", profile.path().display())).unwrap();
        // Certificates of tests are known to nobody.
        wanted.accept_insecure_certs(true).unwrap();
        let mut prefs = serde_json::Map::new();
        if script == Script::Off {
            prefs.insert("profile.managed_default_content_settings.javascript".to_owned(), 2.into());
        }
        if size == TextSize::Doubled {
            prefs.insert("webkit.webprefs.default_font_size".to_owned(), 32.into());
            prefs.insert("webkit.webprefs.default_fixed_font_size".to_owned(), 26.into());
        }
        wanted.add_experimental_option("prefs", prefs).unwrap();
        let driver = WebDriver::new(format!("http://127.0.0.1:{port}"), wanted).await.expect("chromium does not start");
        driver.set_implicit_wait_timeout(Duration::from_secs(10)).await.unwrap();
        Browser { driver, chromedriver, _profile: profile }
    }

    pub async fn stop(mut self) {
        self.driver.quit().await.unwrap();
        self.chromedriver.kill().unwrap();
        self.chromedriver.wait().unwrap();
    }

    pub async fn click(&self, css: &str) {
        self.driver.find(By::Css(css)).await.unwrap().click().await.unwrap();
    }

    /// Clicks what leads to another page and waits until the page that held it is gone: the click answers before the way there
    /// begins, and what is asked meanwhile would be told of the old page.
    pub async fn press(&self, css: &str) {
        let page = self.driver.find(By::Css("html")).await.unwrap();
        self.click(css).await;
        for _ in 0..600 {
            if page.tag_name().await.is_err() {
                return;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        panic!("{css} leads nowhere");
    }

    /// The words of the first that fits; asked again where the page changes under the question.
    pub async fn text(&self, css: &str) -> String {
        let mut last = None;
        for _ in 0..5 {
            match self.driver.find(By::Css(css)).await {
                Ok(found) => match found.text().await {
                    Ok(words) => return words,
                    Err(e) => last = Some(e),
                },
                Err(e) => last = Some(e),
            }
        }
        panic!("{css}: {last:?}");
    }

    /// Waits until the page with this heading is there; a page that is just going away may not answer.
    pub async fn arrive_at(&self, heading: &str) {
        let mut last = String::new();
        for _ in 0..100 {
            if let Ok(h1) = self.driver.find(By::Css("h1")).await {
                last = h1.text().await.unwrap_or_default();
            }
            if last == heading {
                return;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        panic!("the page is {last:?}, not {heading:?}");
    }

    /// Keeps pictures of the page, where somebody asked for them.
    pub async fn picture(&self, name: &str) {
        let Some(folder) = std::env::var_os("SHEAF_PICTURES").map(PathBuf::from) else { return };
        for width in [1280, 768, 360] {
            self.driver.set_window_rect(0, 0, width, 1800).await.unwrap();
            let path = folder.join(format!("{name}-{width}.png"));
            self.driver.screenshot(&path).await.unwrap();
        }
        let pdf =
            self.driver.print_page(PrintParameters { background: true, ..PrintParameters::default() }).await.unwrap();
        std::fs::write(folder.join(format!("{name}.pdf")), pdf).unwrap();
        self.driver.set_window_rect(0, 0, 1280, 900).await.unwrap();
    }
}

/// A port that it drew may be taken when it opens it: then it ends without a word, and another try draws another.
fn start_chromedriver() -> (Child, u16) {
    for _ in 0..5 {
        let mut child = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is missing; on Debian: apt-get install chromium chromium-driver");
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        if let Some(said) = lines.find(|l| l.contains("started successfully on port")) {
            return (child, said.trim_end_matches('.').rsplit(' ').next().unwrap().parse().unwrap());
        }
        child.wait().unwrap();
    }
    panic!("chromedriver ends before it listens");
}

fn fixture(name: &str) -> String {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/schools/quillmere/");
    std::fs::canonicalize(format!("{folder}{name}")).unwrap().display().to_string()
}

/// Hands week 2 in by the form and plans it; ends on its groups.
async fn through_the_week(browser: &Browser, served: &Served) {
    let driver = &browser.driver;
    driver.goto(served.launch_address()).await.unwrap();
    browser.arrive_at("This week").await;
    assert!(!driver.current_url().await.unwrap().as_str().contains("key="));
    browser.picture("week").await;

    browser.press(".hand-out li:last-child a").await;
    browser.arrive_at("Score sheets").await;
    browser.picture("score-sheets").await;
    let files = format!("{}\n{}", fixture("week2_quiz.xlsx"), fixture("week2_ticket.xlsx"));
    driver.find(By::Id("file")).await.unwrap().send_keys(files).await.unwrap();
    browser.press(".sheet-form button").await;

    browser.arrive_at("Look over").await;
    browser.picture("look-over").await;
    browser.press(".actions .confirm").await;

    browser.arrive_at("Groups").await;
    let groups = driver.find_all(By::Css("section.group")).await.unwrap();
    let members = driver.find_all(By::Css(".member")).await.unwrap();
    assert!(
        groups.len() >= 2 && members.len() >= 3 * groups.len(),
        "{} groups, {} members",
        groups.len(),
        members.len()
    );
}

/// Fetches the workbook as the link on the page does: the page's address, the browser's cookie.
async fn fetch_workbook(browser: &Browser, served: &Served) -> Vec<u8> {
    let link = browser.driver.find(By::Css("a[download]")).await.unwrap();
    let path = link.attr("href").await.unwrap().unwrap();
    let name = format!("sheaf-{}", served.port);
    let cookie = browser.driver.get_named_cookie(&name).await.unwrap();
    let client = reqwest::Client::builder().no_proxy().build().unwrap();
    let request = client.get(format!("{}{path}", served.base)).header("cookie", format!("{name}={}", cookie.value));
    let answer = request.send().await.unwrap();
    assert_eq!(answer.status(), 200);
    answer.bytes().await.unwrap().to_vec()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_week_by_the_pages_alone_ends_with_groups_and_a_workbook() {
    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = Browser::start(Script::On).await;
    through_the_week(&browser, &served).await;
    browser.picture("groups").await;
    opens_with_groups(&fetch_workbook(&browser, &served).await);
    for (path, heading) in [
        ("/rotation/2026-02-09", "Rotation"),
        ("/tickets/2026-02-09", "Exit tickets"),
        ("/tickets/2026-02-09/keys", "Ticket keys, for staff"),
        ("/movement", "Movement"),
        ("/school", "School"),
    ] {
        browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
        browser.arrive_at(heading).await;
        browser.picture(heading.split([' ', ',']).next().unwrap()).await;
    }
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_way_works_with_script_off() {
    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = Browser::start(Script::Off).await;
    through_the_week(&browser, &served).await;
    opens_with_groups(&fetch_workbook(&browser, &served).await);
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_is_wider_than_a_narrow_window() {
    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = Browser::start(Script::On).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser.driver.set_window_rect(0, 0, 320, 700).await.unwrap();
    for path in PAGES.into_iter().chain(OF_A_CHILD).chain(["/score-sheets/1"]) {
        browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
        let script = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
        let over: i64 = browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap();
        assert!(over <= 0, "{path} is {over} px too wide");
    }
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}
