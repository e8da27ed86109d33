//! A service in a process of its own, held up by many, and read through its log.
//!
//! Not here: single requests that are refused (`http::attacks`), kills and full disks (`killed`).

use crate::killed::Running;
use reqwest::blocking::{Client, RequestBuilder, multipart};
use serde_json::json;
use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::time::{Duration, Instant};

const N_SLOW: usize = 200;
const WEEK: &str = "2026-02-02";

fn started(folder: &Path) -> (Running, std::path::PathBuf) {
    let log = folder.join("log.txt");
    (Running::with_log(&folder.join("school.db"), std::fs::File::create(&log).unwrap()), log)
}

fn call(running: &Running, method: &str, path: &str) -> RequestBuilder {
    let client = Client::builder().no_proxy().redirect(reqwest::redirect::Policy::none()).build().unwrap();
    let request = client.request(method.parse().unwrap(), format!("{}{path}", running.base));
    request.bearer_auth(&running.token).timeout(Duration::from_secs(60))
}

fn connect(running: &Running) -> TcpStream {
    TcpStream::connect(running.base.strip_prefix("http://").unwrap()).unwrap()
}

#[test]
fn two_hundred_slow_connections_hold_nobody_else_up() {
    let folder = tempfile::tempdir().unwrap();
    let (running, _) = started(folder.path());
    let mut slow: Vec<TcpStream> = (0..N_SLOW).map(|_| connect(&running)).collect();
    for stream in &mut slow {
        stream.write_all(b"GET / HTTP/1.1\r\nHost: ").unwrap();
    }
    for _ in 0..20 {
        // Each has a connection of its own, as a new visitor has.
        assert_eq!(call(&running, "GET", "/healthz").send().unwrap().status(), 200);
        assert_eq!(call(&running, "GET", "/").send().unwrap().status(), 200);
    }
    // Those who never end their request are sent away.
    let began = Instant::now();
    for mut stream in slow {
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let mut said = String::new();
        let end = stream.read_to_string(&mut said);
        let is_away = end.is_ok() || end.is_err_and(|e| e.kind() == ErrorKind::ConnectionReset);
        assert!(is_away && (said.is_empty() || said.starts_with("HTTP/1.1 408")), "{said}");
    }
    assert!(began.elapsed() < Duration::from_secs(60), "{:?}", began.elapsed());
}

/// Words that stand in names, reasons, files and addresses below, and must stand in no line of the log.
const PLANTED: [&str; 6] = ["Quillwright", "zq7741", "Hartshorn", "whisperwort", "secretsheet", "fieldfare"];

#[test]
fn no_name_reaches_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let (mut running, log) = started(folder.path());
    let mut sheet = String::from(
        ",,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1,4.NF.A.1\n,,key,A,B,C,D,A,B\nid,name,class,Q1,Q2,Q3,Q4,Q5,Q6\n",
    );
    for (i, answers) in
        ["B,A,A,D,A,B", "B,A,B,D,A,B", "C,A,A,D,A,B", "A,B,C,A,B,A", "A,B,C,A,C,A", "A,B,C,B,B,C"].iter().enumerate()
    {
        sheet.push_str(&format!("zq774{},Quincy Quillwright{i},Hartshorn,{answers}\n", i + 1));
    }
    let form = |name: &str, text: &str| {
        multipart::Form::new().part("file", multipart::Part::bytes(text.as_bytes().to_vec()).file_name(name.to_owned()))
    };
    let sent = |request: RequestBuilder| request.send().unwrap().status().as_u16();
    let sheets = format!("/api/v1/score-sheets?week={WEEK}");
    assert_eq!(sent(call(&running, "POST", &sheets).multipart(form("secretsheet Quillwright.csv", &sheet))), 201);
    assert_eq!(
        sent(call(&running, "POST", &sheets).multipart(form("secretsheet.xlsx", "PK\u{3}\u{4}Quillwright"))),
        422
    );
    let list = "id,name,grade,homeroom,supports\nzq7741,Quincy Quillwright,5,Hartshorn,whisperwort\n";
    assert_eq!(sent(call(&running, "POST", "/api/v1/students").multipart(form("secretsheet.csv", list))), 200);
    let made = call(&running, "POST", &format!("/api/v1/weeks/{WEEK}/plan")).send().unwrap();
    assert_eq!(made.status(), 200);
    let tag = made.headers()["etag"].to_str().unwrap().to_owned();
    let plan: serde_json::Value = made.json().unwrap();
    let group = &plan["groups"][0]["id"];
    let skill = if plan["groups"][0]["target_skill"] == "4.NF.A.1" { "5.NF.B.5a" } else { "4.NF.A.1" };
    let decision = json!({"group": group, "target_skill": skill, "reason": "whisperwort fieldfare"});
    let patch =
        call(&running, "PATCH", &format!("/api/v1/weeks/{WEEK}/groups")).header("if-match", tag).json(&decision);
    assert_eq!(sent(patch), 200);
    let unknown = json!({"without": ["Quillwright@fieldfare"], "reason": "whisperwort"});
    assert_eq!(sent(call(&running, "POST", &format!("/api/v1/weeks/{WEEK}/repair")).json(&unknown)), 422);
    for (method, path, status) in [
        ("GET", "/api/v1/students/zq7741", 200),
        ("GET", "/students/zq7741?Quillwright=fieldfare", 200),
        ("GET", "/students/Quillwright", 404),
        ("GET", "/fieldfare/Quillwright", 404),
        ("GET", "/api/v1/weeks/Quillwright/plan", 422),
        ("DELETE", "/api/v1/students/zq7741", 200),
    ] {
        assert_eq!(sent(call(&running, method, path)), status, "{method} {path}");
    }
    assert_eq!(call(&running, "GET", "/").header("host", "fieldfare.example").send().unwrap().status(), 421);
    running.kill();
    let written = std::fs::read_to_string(log).unwrap();
    // The log is there, and tells of what was done.
    assert!(
        written.contains("plan_week") && written.contains("/students/{id}") && written.lines().count() > 12,
        "{written}"
    );
    for word in PLANTED {
        assert!(!written.to_lowercase().contains(&word.to_lowercase()), "{word} stands in the log:\n{written}");
    }
    assert!(!written.contains(&running.token), "the token stands in the log");
}
