//! Who changed what: every route that changes something leaves exactly one entry, and none holds a name, a score or a reason.
//!
//! A walk through all of them on one service, by script where there is a call for it, by the page else. The walk and the table of routes are
//! compared, so that a new route takes its place here. Ways in and out over TLS leave entries too (`signing_in_and_out_is_listed`).

use super::decide::{page, plan, send, tag_in};
use crate::command::{root, sheaf};
use crate::served::{Served, quillmere};
use crate::served_over_tls::Door;
use reqwest::blocking::multipart::{Form, Part};
use reqwest::blocking::{RequestBuilder, Response};
use serde_json::{Value, json};
use sheaf_app::weeks::{ListedChange, Role, SchoolSetup, Weeks};
use std::path::Path;

const WEEK: &str = "2026-02-02";
/// Stands in a list, in a reason and in a memo, and must stand in no entry.
const PLANTED: &str = "Quentin Quillwright";

/// Every route, as `METHOD PATTERN`.
pub fn routes() -> Vec<String> {
    let text = std::fs::read_to_string(root().join("service/web/src/routes.rs")).unwrap();
    let (pages, rest) = text.split_once("web::scope(\"/api/v1\")").unwrap();
    let (api, rest) = rest.split_once("\n        )").unwrap();
    let of = |text: &str, scope: &str| -> Vec<String> {
        let parts = text.split(".route(\"").skip(1);
        let route = |part: &str| {
            let (pattern, handler) = part.split_once("\", ").unwrap();
            format!("{} {scope}{pattern}", handler.split("()").next().unwrap().to_uppercase())
        };
        parts.map(route).collect()
    };
    [of(pages, ""), of(api, "/api/v1"), of(rest, "")].concat()
}

fn changes(records: &Path) -> Vec<ListedChange> {
    Weeks::open(records, SchoolSetup::builtin().unwrap()).unwrap().changes(None, 1000).unwrap()
}

/// One service whose records are looked at after each step.
struct Walk {
    served: Served,
    records: std::path::PathBuf,
    walked: Vec<String>,
    n: usize,
}

impl Walk {
    /// A step must leave one entry: this code, by this one.
    fn step(&mut self, route: &str, code: &str, who: &str, answer: Response) -> String {
        let status = answer.status().as_u16();
        let location = answer.headers().get("location").map(|l| l.to_str().unwrap().to_owned());
        assert!((200..400).contains(&status), "{route}: {status} {}", answer.text().unwrap());
        let listed = changes(&self.records);
        let new = &listed[..listed.len() - self.n];
        let told: Vec<(&str, &str)> = new.iter().map(|c| (c.what.as_str(), c.who.as_str())).collect();
        assert_eq!(told, [(code, who)], "{route}");
        self.n = listed.len();
        self.walked.push(route.to_owned());
        location.unwrap_or_default()
    }

    fn script(
        &mut self,
        route: &str,
        code: &str,
        path: &str,
        with: impl Fn(RequestBuilder) -> RequestBuilder,
    ) -> String {
        let method = route.split(' ').next().unwrap();
        let answer = with(self.served.script(method, path)).send().unwrap();
        self.step(route, code, "script", answer)
    }

    fn form(&mut self, route: &str, code: &str, path: &str, body: String) -> String {
        let answer = send(&self.served, path, body);
        self.step(route, code, "launch", answer)
    }

    fn files(&mut self, route: &str, code: &str, form: Form) -> String {
        let path = route.split(' ').nth(1).unwrap();
        let request = self.served.with_cookie("POST", path).header("sec-fetch-site", "same-origin");
        let answer = request.multipart(form).send().unwrap();
        self.step(route, code, "launch", answer)
    }
}

fn file(name: &'static str) -> Form {
    Form::new().part("file", Part::bytes(quillmere(name)).file_name(name))
}

fn text_file(text: &str) -> Form {
    Form::new().part("file", Part::bytes(text.as_bytes().to_vec()).file_name("list.csv"))
}

/// The ids of who comes, their lists, their sheets.
fn hand_in(walk: &mut Walk) {
    let list = format!("{}4711,{PLANTED},5,5P,\n", String::from_utf8(quillmere("students.csv")).unwrap());
    walk.script("POST /api/v1/students", "students-listed", "/api/v1/students", |r| r.multipart(text_file(&list)));
    let changed = list.replace("4711,", "9711,");
    walk.files("POST /students", "students-listed", text_file(&changed));
    let same = "old=4711&new=9711&answer=same".to_owned();
    walk.form("POST /students/same-child", "same-child-answered", "/students/same-child", same);
    let sheets = file("week1_quiz.xlsx").text("week", WEEK);
    let look_over = walk.files("POST /score-sheets", "sheet-handed-in", sheets);
    walk.form("POST /score-sheets/{id}/correct", "sheet-corrected", &format!("{look_over}/correct"), String::new());
    walk.form("POST /score-sheets/{id}/confirm", "sheet-counted", &format!("{look_over}/confirm"), String::new());
    let ticket = format!("/api/v1/score-sheets?week={WEEK}");
    let at =
        walk.script("POST /api/v1/score-sheets", "sheet-taken-in", &ticket, |r| r.multipart(file("week1_ticket.xlsx")));
    walk.script("DELETE /api/v1/score-sheets/{id}", "sheet-taken-back", &at, |r| r);
    let again =
        walk.script("POST /api/v1/score-sheets", "sheet-taken-in", &ticket, |r| r.multipart(file("week1_ticket.xlsx")));
    let id = again.rsplit('/').next().unwrap().to_owned();
    walk.form(
        "POST /score-sheets/{id}/take-back",
        "sheet-taken-back",
        &format!("/score-sheets/{id}/take-back"),
        String::new(),
    );
    walk.script("POST /api/v1/score-sheets", "sheet-taken-in", &ticket, |r| r.multipart(file("week1_ticket.xlsx")));
}

/// The first child of the first group.
fn a_move(plan: &Value) -> String {
    plan["groups"][0]["members"][0].as_str().unwrap().to_owned()
}

/// Plans, decisions, repairs.
fn decide(walk: &mut Walk) {
    let api = format!("/api/v1/weeks/{WEEK}");
    walk.script("POST /api/v1/weeks/{date}/plan", "plan-made", &format!("{api}/plan"), |r| r);
    walk.form("POST /groups/{date}/plan", "plan-made", &format!("/groups/{WEEK}/plan"), String::new());
    let (made, tag) = plan(&walk.served);
    let body = json!({"student": a_move(&made), "to": "g2", "reason": PLANTED});
    walk.script("PATCH /api/v1/weeks/{date}/groups", "seat-moved", &format!("{api}/groups"), |r| {
        r.header("if-match", &tag).json(&body)
    });
    let (made, _) = plan(&walk.served);
    let child = a_move(&made);
    let tag = tag_in(&page(&walk.served, &format!("/groups/{WEEK}/decide?student={child}&to=g3")));
    let body = format!("student={child}&to=g3&tag={tag}&words=Quentin+Quillwright");
    walk.form("POST /groups/{date}/decide", "seat-moved", &format!("/groups/{WEEK}/decide"), body);
    for (way, code) in [("undo", "decision-undone"), ("redo", "decision-redone")] {
        let tag = tag_in(&page(&walk.served, &format!("/groups/{WEEK}")));
        walk.form(
            &format!("POST /groups/{{date}}/{way}"),
            code,
            &format!("/groups/{WEEK}/{way}"),
            format!("tag={tag}"),
        );
    }
    let shown = page(&walk.served, &format!("/tickets/{WEEK}"));
    let body = format!("tag={}&group=g1&form=A&item=2&swap=another", tag_in(&shown));
    walk.form("POST /tickets/{date}/swap", "item-swapped", &format!("/tickets/{WEEK}/swap"), body);
    let tag = tag_in(&page(&walk.served, &format!("/tickets/{WEEK}")));
    walk.form("POST /tickets/{date}/undo", "decision-undone", &format!("/tickets/{WEEK}/undo"), format!("tag={tag}"));
    let (made, _) = plan(&walk.served);
    let led = made["rotation"].as_array().unwrap().iter().find(|s| s["day"] == "Mon" && !s["staff"].is_null()).unwrap();
    let adult = led["staff"].as_str().unwrap().to_owned();
    let body = format!("who={adult}&when=Mon&reason=Quentin+Quillwright");
    walk.form("POST /rotation/{date}/repair", "day-repaired", &format!("/rotation/{WEEK}/repair"), body);
    walk.form(
        "POST /rotation/{date}/take-back",
        "repair-taken-back",
        &format!("/rotation/{WEEK}/take-back"),
        String::new(),
    );
    let body = json!({"without": [format!("{adult}@Mon")], "reason": PLANTED});
    walk.script("POST /api/v1/weeks/{date}/repair", "day-repaired", &format!("{api}/repair"), |r| r.json(&body));
}

/// Results, attendance, the memo, accounts, and a child that is forgotten.
fn look_back(walk: &mut Walk) {
    let api = format!("/api/v1/weeks/{WEEK}");
    let noted = format!("id,name,Mon\n9711,{PLANTED},present\n");
    walk.script("POST /api/v1/weeks/{date}/attendance", "attendance-noted", &format!("{api}/attendance"), |r| {
        r.multipart(text_file(&noted))
    });
    let tag = tag_in(&page(&walk.served, &format!("/attendance/{WEEK}")));
    let body = format!("tag={tag}&held=g1%7C0");
    walk.form("POST /attendance/{date}", "attendance-noted", &format!("/attendance/{WEEK}"), body);
    let (child, code) = a_ticket(walk);
    let tag = tag_in(&page(&walk.served, &format!("/results/{WEEK}")));
    let body = format!("tag={tag}&form%7C{child}={code}&a%7C1%7C{child}=r&a%7C2%7C{child}=w");
    walk.form("POST /results/{date}", "results-typed", &format!("/results/{WEEK}"), body);
    let results = "Ticket results\nId,Form code,Item 1,Item 2,Item 3,Item 4,Item 5\n";
    let sheet = format!("{results}{child},{code},A,A,A,A,A\n");
    let next = "/api/v1/weeks/2026-02-16/ticket-results";
    walk.script("POST /api/v1/weeks/{date}/ticket-results", "sheet-taken-in", next, |r| r.multipart(text_file(&sheet)));
    let memo = page(&walk.served, &format!("/movement/memo/{WEEK}"));
    let word =
        memo.split_once("<option value=\"\">Choose</option><option value=\"").unwrap().1.split_once('"').unwrap().0;
    let body = format!("group=g1&decision={word}&reason=Quentin+Quillwright&name=QQ");
    walk.form("POST /movement/memo/{date}", "memo-decided", &format!("/movement/memo/{WEEK}"), body);
    let tag = tag_in(&page(&walk.served, "/school/setup"));
    walk.form("POST /school/setup", "setup-kept", "/school/setup", format!("tag={tag}&ticket.items=4"));
    let tag = tag_in(&page(&walk.served, "/school/setup"));
    let body = format!("tag={tag}&text=%5Bticket%5D%0Aitems+%3D+5%0A");
    walk.form("POST /school/setup/text", "setup-kept", "/school/setup/text", body);
    walk.files("POST /school/setup/file", "setup-kept", text_file("[ticket]\nitems = 5\n"));
    let words = "passphrase=seven+quiet+herons&again=seven+quiet+herons";
    walk.form("POST /people", "account-added", "/people", format!("name=ana&role=coach&{words}"));
    walk.form("POST /people/passphrase", "passphrase-changed", "/people/passphrase", format!("name=ana&{words}"));
    walk.form("POST /people/remove", "account-removed", "/people/remove", "name=ana".to_owned());
    walk.script("DELETE /api/v1/students/{id}", "student-forgotten", "/api/v1/students/9711", |r| r);
    walk.form("POST /students/{id}/forget", "student-forgotten", "/students/0001/forget", "id=0001".to_owned());
    let year = "year=2025-26&typed=2025-26".to_owned();
    walk.form("POST /school/year", "year-removed", "/school/year", year);
}

/// A child and the form code of its ticket.
fn a_ticket(walk: &Walk) -> (String, String) {
    let (made, _) = plan(&walk.served);
    let ticket = made["tickets"].as_array().unwrap().iter().find(|t| t["group"] == "g1").unwrap();
    (a_move(&made), ticket["form_code"].as_str().unwrap().to_owned())
}

#[test]
fn every_changing_route_leaves_one_entry_without_a_name() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    let served = Served::file_of_quillmere(&records);
    let mut walk = Walk { served, records: records.clone(), walked: Vec::new(), n: changes(&records).len() };
    hand_in(&mut walk);
    decide(&mut walk);
    look_back(&mut walk);
    let by_session = ["POST /sign-in", "POST /sign-out", "POST /people/me"];
    // Stopped, a job has changed nothing; what it does otherwise is listed with the route that began it.
    let nothing = "POST /progress/{id}/stop";
    let missing: Vec<String> = routes()
        .into_iter()
        .filter(|r| {
            !r.starts_with("GET") && !by_session.contains(&r.as_str()) && r != nothing && !walk.walked.contains(r)
        })
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
    let listed = format!("{:?}", changes(&records));
    for word in PLANTED.split(' ') {
        assert!(!listed.contains(word), "{word}");
    }
    let shown = page(&walk.served, "/school/changes");
    assert!(shown.contains("Child moved to another group") && shown.contains("a script"), "{shown}");
    assert!(!shown.contains("Quillwright") && shown.contains("A student forgotten"));
    let verified = sheaf(["verify", "--db", records.to_str().unwrap()]);
    assert_eq!(verified.code, 0, "{}", verified.err);
    assert!(verified.told().contains(&format!("{} changes", walk.n)), "{}", verified.told());
}

#[test]
fn signing_in_and_out_is_listed() {
    let door = Door::open();
    let cora = door.sign_in(Role::Coach);
    let form = "now=two+owls+and+a+lamp&passphrase=four+owls+and+a+lamp&again=four+owls+and+a+lamp";
    assert_eq!(door.post(&cora, "/people/me", form).status, 303);
    let cora = door.try_in("", "cora", "four owls and a lamp").cookie().unwrap();
    door.try_in("", "cora", "wrong");
    assert_eq!(door.post(&cora, "/sign-out", "").status, 303);
    let told: Vec<(String, String)> = changes(&door.records).into_iter().take(4).map(|c| (c.who, c.what)).collect();
    let told: Vec<(&str, &str)> = told.iter().map(|(who, what)| (who.as_str(), what.as_str())).collect();
    assert_eq!(
        told,
        [("cora", "signed-out"), ("cora", "signed-in"), ("cora", "passphrase-changed"), ("cora", "signed-in")]
    );
    let tom = door.sign_in(Role::GradeTeam);
    assert_eq!(door.get(&tom, "/school/changes").status, 403);
}

#[test]
fn a_byte_changed_in_the_file_is_named_by_verify() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    let path = records.to_str().unwrap();
    let weeks = Weeks::open(&records, SchoolSetup::builtin().unwrap()).unwrap();
    for name in ["ana", "bo"] {
        weeks.add_account(name, Role::Interventionist, "seven quiet herons").unwrap();
    }
    drop(weeks);
    let whole = sheaf(["verify", "--db", path]);
    assert!(whole.code == 0 && whole.told().contains("2 changes"), "{}", whole.told());
    let mut bytes = std::fs::read(&records).unwrap();
    let at = bytes.windows(11).position(|w| w == b"account=ana").unwrap();
    bytes[at + 8] = b'e';
    std::fs::write(&records, bytes).unwrap();
    let broken = sheaf(["verify", "--db", path]);
    assert_eq!(broken.code, 1);
    assert!(broken.err.contains("entry 1 of the list of changes was changed"), "{}", broken.err);
}
