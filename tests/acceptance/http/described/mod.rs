//! The description of the API against the service: real answers have the shapes that it promises, and fields that it does not know are seen.
//!
//! In:  the document as served, answers of the demo school while a script works through some weeks. Each answer is held to the schema of its
//! call, status and media type (`schema`).
//! Keeps: a wrong answer would be noticed (`a_field_too_many_and_one_too_few_are_noticed`).
//! Not here: drawn requests (`tests/schemathesis`), which routes there are (`service/web`).

mod schema;

use crate::served::{Served, quillmere};
use reqwest::blocking::multipart::{Form, Part};
use reqwest::blocking::{RequestBuilder, Response};
use schema::faults;
use serde_json::{Value, json};
use std::collections::BTreeSet;

const WEEK: &str = "2026-02-02";

/// The document, and which calls were compared with it.
struct Description {
    document: Value,
    compared: BTreeSet<String>,
}

impl Description {
    fn of(served: &Served) -> Self {
        let document: Value = served.script("GET", "/api/v1/openapi.json").send().unwrap().json().unwrap();
        Description { document, compared: BTreeSet::new() }
    }

    /// What is wrong with a body; empty where nothing is.
    fn faults(&self, schema: &Value, body: &Value) -> Vec<String> {
        faults(&self.document, schema, body)
    }

    /// Holds an answer to what its call promises, and gives its body.
    fn hold(&mut self, call: &str, status: u16, answer: Response) -> Value {
        let (method, path) = call.split_once(' ').unwrap();
        let described = &self.document["paths"][path][method.to_lowercase()]["responses"][status.to_string()];
        let described = match described["$ref"].as_str() {
            Some(place) => self.document.pointer(place.trim_start_matches('#')).unwrap(),
            None => described,
        };
        let media = answer.headers().get("content-type").map(|m| m.to_str().unwrap().to_owned());
        let text = answer.text().unwrap();
        self.compared.insert(format!("{call} {status}"));
        let Some(media) = media else {
            assert!(described.is_object() && described.get("content").is_none(), "{call} {status}");
            return Value::Null;
        };
        let schema = &described["content"][media.split(';').next().unwrap()]["schema"];
        assert!(schema.is_object(), "{call} {status} {media} is not described");
        if !media.contains("json") {
            return Value::Null;
        }
        let body: Value = serde_json::from_str(&text).unwrap();
        let faults = self.faults(schema, &body);
        assert!(faults.is_empty(), "{call} {status}:\n{}", faults.join("\n"));
        body
    }

    /// Sends a request and holds its answer to the description.
    fn ask(&mut self, call: &str, status: u16, request: RequestBuilder) -> Value {
        let answer = request.send().unwrap();
        assert_eq!(answer.status(), status, "{call}");
        self.hold(call, status, answer)
    }
}

fn file(name: &str, bytes: Vec<u8>) -> Form {
    Form::new().part("file", Part::bytes(bytes).file_name(name.to_owned()))
}

/// Weeks are handed in and planned.
fn plan_weeks(told: &mut Description, served: &Served) {
    for (week, names) in [
        ("2026-02-09", ["week2_quiz.xlsx", "week2_ticket.xlsx"]),
        ("2026-02-16", ["week3_quiz.xlsx", "week3_ticket.xlsx"]),
    ] {
        for name in names {
            let sheet = || {
                let path = format!("/api/v1/score-sheets?week={week}");
                served.script("POST", &path).multipart(file(name, quillmere(name)))
            };
            told.ask("POST /api/v1/score-sheets", 201, sheet());
            told.ask("POST /api/v1/score-sheets", 200, sheet());
        }
        told.ask("POST /api/v1/weeks/{date}/plan", 200, served.script("POST", &format!("/api/v1/weeks/{week}/plan")));
    }
    let look = served.script("POST", "/api/v1/score-sheets?week=2026-02-09&dry_run=true");
    let look = told.ask("POST /api/v1/score-sheets", 200, look.multipart(file("q.xlsx", quillmere("week3_quiz.xlsx"))));
    assert!(look["id"].is_null());
    told.ask("GET /api/v1/score-sheets/{id}", 200, served.script("GET", "/api/v1/score-sheets/1"));
}

/// A day is issued anew, people decide, somebody was away.
fn change_a_week(told: &mut Description, served: &Served) {
    let api = format!("/api/v1/weeks/{WEEK}");
    let plan = told.ask("GET /api/v1/weeks/{date}/plan", 200, served.script("GET", &format!("{api}/plan")));
    let child = plan["groups"][0]["members"][0].as_str().unwrap();
    let skill = plan["groups"][1]["target_skill"].as_str().unwrap();
    let form = plan["tickets"].as_array().unwrap().iter().find(|t| t["group"] == "g2").unwrap()["form"].clone();
    for decision in [
        json!({"student": child, "to": "g2", "reason": "works well there", "hold": true}),
        json!({"group": "g1", "target_skill": skill, "reason": "first"}),
        json!({"group": "g2", "form": form, "item": 1, "swap": "another"}),
    ] {
        let tag = served.script("GET", &format!("{api}/plan")).send().unwrap().headers()["etag"].clone();
        let request = served.script("PATCH", &format!("{api}/groups")).header("if-match", tag).json(&decision);
        told.ask("PATCH /api/v1/weeks/{date}/groups", 200, request);
    }
    let led = plan["rotation"].as_array().unwrap().iter().find(|s| !s["staff"].is_null()).unwrap();
    let out = format!("{}@{}", led["staff"].as_str().unwrap(), led["block"].as_str().unwrap());
    let request = served.script("POST", &format!("{api}/repair")).json(&json!({"without": [out]}));
    let repaired = told.ask("POST /api/v1/weeks/{date}/repair", 200, request);
    assert!(!repaired["repairs"][0]["changes"].as_array().unwrap().is_empty());
    let noted = file("a.csv", format!("id,name,Mon\n{child},A Child,absent\n").into_bytes());
    told.ask(
        "POST /api/v1/weeks/{date}/attendance",
        201,
        served.script("POST", &format!("{api}/attendance")).multipart(noted),
    );
    let workbook = served.script("GET", &format!("{api}/workbook.xlsx"));
    told.ask("GET /api/v1/weeks/{date}/workbook.xlsx", 200, workbook);
    for name in ["groups.csv", "needs.csv", "csv-metadata.json"] {
        let request = served.script("GET", &format!("{api}/csv/ids/{name}"));
        told.ask("GET /api/v1/weeks/{date}/csv/{naming}/{file}", 200, request);
    }
    let code = plan["tickets"][0]["form_code"].as_str().unwrap();
    let results =
        format!("Ticket results\nId,Form code,Item 1,Item 2,Item 3,Item 4,Item 5\n{child},{code},A,A,A,A,A\n");
    let request = served.script("POST", "/api/v1/weeks/2026-02-23/ticket-results");
    told.ask("POST /api/v1/weeks/{date}/ticket-results", 201, request.multipart(file("r.csv", results.into_bytes())));
}

/// Everyone's record; the list; somebody is forgotten, and the plan without the child is still as described.
fn look_at_students(told: &mut Description, served: &Served) {
    for number in 1..=8 {
        let record = served.script("GET", &format!("/api/v1/students/{number:04}"));
        let record = told.ask("GET /api/v1/students/{id}", 200, record);
        assert!(!record["weeks"].as_array().unwrap().is_empty());
    }
    let movement = told.ask("GET /api/v1/movement", 200, served.script("GET", "/api/v1/movement?from=&to="));
    assert!(!movement["flows"].as_array().unwrap().is_empty() && movement["weeks"].as_array().unwrap().len() == 3);
    let list = served.script("POST", "/api/v1/students").multipart(file("s.csv", quillmere("students.csv")));
    told.ask("POST /api/v1/students", 200, list);
    told.ask("DELETE /api/v1/students/{id}", 200, served.script("DELETE", "/api/v1/students/0001"));
    let plan = served.script("GET", &format!("/api/v1/weeks/{WEEK}/plan"));
    told.ask("GET /api/v1/weeks/{date}/plan", 200, plan);
    told.ask("DELETE /api/v1/score-sheets/{id}", 204, served.script("DELETE", "/api/v1/score-sheets/2"));
}

/// What is refused is described as well.
fn be_refused(told: &mut Description, served: &Served) {
    told.ask("GET /api/v1/students/{id}", 404, served.script("GET", "/api/v1/students/nobody"));
    told.ask("GET /api/v1/weeks/{date}/plan", 422, served.script("GET", "/api/v1/weeks/soon/plan"));
    told.ask("GET /api/v1/weeks/{date}/plan", 401, served.plain("GET", "/api/v1/weeks/2026-02-02/plan"));
    told.ask("POST /api/v1/weeks/{date}/plan", 400, served.script("POST", "/api/v1/weeks/2026-02-02/plan?seeds=7"));
    let stale = served.script("PATCH", "/api/v1/weeks/2026-02-16/groups").json(&json!({"student": "0002", "to": "g2"}));
    told.ask("PATCH /api/v1/weeks/{date}/groups", 412, stale);
}

#[test]
fn every_answer_of_the_demo_school_is_as_described() {
    let served = Served::demo();
    let mut told = Description::of(&served);
    told.ask("GET /healthz", 200, served.plain("GET", "/healthz"));
    told.ask("GET /api/v1/openapi.json", 200, served.script("GET", "/api/v1/openapi.json"));
    plan_weeks(&mut told, &served);
    change_a_week(&mut told, &served);
    look_at_students(&mut told, &served);
    be_refused(&mut told, &served);
    let paths = told.document["paths"].as_object().unwrap();
    let calls =
        paths.iter().flat_map(|(path, item)| item.as_object().unwrap().keys().map(move |method| (method, path)));
    let missing: Vec<String> = calls
        .map(|(method, path)| format!("{} {path} 2", method.to_uppercase()))
        .filter(|call| !told.compared.iter().any(|done| done.starts_with(call)))
        .collect();
    assert!(missing.is_empty(), "no good answer was compared for {missing:?}");
}

#[test]
fn a_field_too_many_and_one_too_few_are_noticed() {
    let served = Served::demo();
    let told = Description::of(&served);
    let plan: Value = served.script("GET", &format!("/api/v1/weeks/{WEEK}/plan")).send().unwrap().json().unwrap();
    let shape = json!({"$ref": "#/components/schemas/Plan"});
    assert_eq!(told.faults(&shape, &plan), Vec::<String>::new());
    let spoilt: [fn(&mut Value); 5] = [
        |plan| plan["students"][0]["extra"] = json!(1),
        |plan| plan["groups"][0]["need"] = json!(1.5),
        |plan| plan["week"] = json!("next week"),
        |plan| plan["students"][0]["profile"][0]["state"] = json!("low"),
        |plan| {
            plan["tickets"][0]["items"][0].as_object_mut().unwrap().remove("key");
        },
    ];
    for spoil in spoilt {
        let mut spoilt = plan.clone();
        spoil(&mut spoilt);
        assert_eq!(told.faults(&shape, &spoilt).len(), 1);
    }
}

#[test]
fn the_page_of_the_api_tells_every_call_and_no_key() {
    let served = Served::demo();
    let page = served.with_cookie("GET", "/api").send().unwrap().text().unwrap();
    let document: Value = served.script("GET", "/api/v1/openapi.json").send().unwrap().json().unwrap();
    for (path, item) in document["paths"].as_object().unwrap() {
        for call in item.as_object().unwrap().values() {
            let anchor = call["operationId"].as_str().unwrap();
            let place = page.split_once(&format!("id=\"{anchor}\"")).unwrap().1;
            assert!(place.contains(path.as_str()), "{path}");
        }
    }
    assert!(page.contains("Authorization: Bearer $KEY") && !page.contains(&served.token));
    assert!(served.with_cookie("GET", "/school").send().unwrap().text().unwrap().contains("href=\"/api\""));
}
