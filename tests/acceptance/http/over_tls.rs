//! Over TLS: who is let in, for how long, what each role may, and what must be refused.
//!
//! Each test has a real service of its own with an account of each role. The table of who may what is written here a second time, by hand, so
//! that a slip in the service's own table is seen.

use super::changes::routes;
use crate::command::sheaf;
use crate::served_over_tls::{ACCOUNTS, Door, WEEK};
use sheaf_app::weeks::{Role, SchoolSetup};
use sheaf_web::{Records, ServeOptions, TlsOptions, serve};
use std::io::{Read, Write};
use std::net::TcpStream;

/// What the grade team may, beside what everybody may.
const OF_THE_TEAM: [&str; 11] = [
    "GET /groups/{date}",
    "GET /groups/{date}/{group}",
    "GET /rotation/{date}",
    "GET /rotation/{date}/roster",
    "GET /rotation/{date}/calendar.ics",
    "GET /tickets/{date}",
    "GET /tickets/{date}/keys",
    "GET /attendance/{date}",
    "POST /attendance/{date}",
    "GET /results/{date}",
    "POST /results/{date}",
];
/// What a coach may, beside what everybody may.
const OF_THE_COACH: [&str; 5] =
    ["GET /movement", "GET /movement/memo/{date}", "GET /school", "GET /school/changes", "GET /api/v1/movement"];
/// What everybody may who signed in.
const OF_ALL: [&str; 5] = ["GET /", "GET /people/me", "POST /people/me", "POST /sign-out", "GET /api/v1/openapi.json"];
/// What needs no session.
const OPEN: [&str; 5] =
    ["GET /sign-in", "POST /sign-in", "GET /healthz", "GET /static/sheaf.css", "GET /static/sheaf.js"];

fn address(pattern: &str) -> String {
    let filled = [("{date}", WEEK), ("{group}", "g1"), ("{naming}", "names"), ("{file}", "groups.csv")];
    let address = filled.iter().fold(pattern.to_owned(), |text, (name, value)| text.replace(name, value));
    let address = address.replace("calendar.ics", "calendar.ics?adult=Nobody");
    address.replace("{id}", if address.contains("score-sheets") { "1" } else { "0001" })
}

fn ask(door: &Door, cookie: &str, route: &str) -> u16 {
    let (method, pattern) = route.split_once(' ').unwrap();
    let headers = [("Cookie", cookie), ("Sec-Fetch-Site", "same-origin")];
    door.ask(method, &address(pattern), &headers, "").status
}

#[test]
fn every_route_that_a_role_may_not_use_is_refused() {
    let door = Door::open();
    let routes = routes();
    assert!(routes.len() > 60);
    for (role, own) in [(Role::GradeTeam, &OF_THE_TEAM[..]), (Role::Coach, &OF_THE_COACH[..])] {
        let cookie = door.sign_in(role);
        for route in routes.iter().filter(|r| !OPEN.contains(&r.as_str()) && *r != "POST /sign-out") {
            let may = own.contains(&route.as_str()) || OF_ALL.contains(&route.as_str());
            let status = ask(&door, &cookie, route);
            assert_eq!(status != 403, may, "{role:?} {route}: {status}");
            assert!(!may || !route.starts_with("GET") || status == 200 || status == 404, "{role:?} {route}: {status}");
        }
        // The bucket of requests fills again.
        std::thread::sleep(std::time::Duration::from_secs(2));
    }
    let cookie = door.sign_in(Role::Interventionist);
    for route in routes.iter().filter(|r| r.starts_with("GET") && !OPEN.contains(&r.as_str())) {
        let status = ask(&door, &cookie, route);
        // 422: the page of a decision that names none.
        assert!(matches!(status, 200 | 404 | 422), "{route}: {status}");
    }
}

#[test]
fn a_refusal_is_one_sentence_with_the_way_back() {
    let door = Door::open();
    let cookie = door.sign_in(Role::Coach);
    let page = door.get(&cookie, &format!("/groups/{WEEK}"));
    assert_eq!(page.status, 403);
    assert!(page.body.contains("not for your role") && page.body.contains("href=\"/\""), "{}", page.body);
    let problem = door.get(&cookie, &format!("/api/v1/weeks/{WEEK}/plan"));
    assert_eq!((problem.status, problem.header("content-type")), (403, Some("application/problem+json")));
    assert!(problem.body.contains("\"role-may-not\""), "{}", problem.body);
    for (method, path, status) in
        [("HEAD", "/", 405), ("PUT", "/school", 405), ("GET", "/nowhere", 404), ("POST", "/school", 405)]
    {
        let headers = [("Cookie", cookie.as_str()), ("Sec-Fetch-Site", "same-origin")];
        assert_eq!(door.ask(method, path, &headers, "").status, status, "{method} {path}");
    }
}

#[test]
fn another_spelling_of_a_path_is_no_way_round() {
    let door = Door::open();
    let cookie = door.sign_in(Role::Coach);
    for path in [
        "/%67roups/2026-02-02",
        "/groups/2026-02-02?x=/school",
        "/students%2F0001",
        "/school/../students",
        "//students",
    ] {
        let answer = door.get(&cookie, path);
        assert!(answer.status == 403 || answer.status == 404, "{path}: {}", answer.status);
        assert!(!answer.body.contains("0023"), "{path}");
    }
}

#[test]
fn a_role_sees_no_button_that_it_may_not_press() {
    let door = Door::open();
    for (role, pages, forms) in [
        (
            Role::Coach,
            vec!["/".to_owned(), "/movement".to_owned(), format!("/movement/memo/{WEEK}"), "/school".to_owned()],
            0,
        ),
        (
            Role::GradeTeam,
            vec!["/".to_owned(), format!("/groups/{WEEK}"), format!("/rotation/{WEEK}"), format!("/tickets/{WEEK}")],
            0,
        ),
        (Role::GradeTeam, vec![format!("/results/{WEEK}"), format!("/attendance/{WEEK}")], 1),
    ] {
        let (name, ..) = ACCOUNTS.into_iter().find(|(_, _, r)| *r == role).unwrap();
        let cookie = door.sign_in(role);
        for path in pages {
            let page = door.get(&cookie, &path);
            assert_eq!(page.status, 200, "{path}");
            let n_forms = page.body.matches("method=\"post\"").count();
            assert_eq!(n_forms, forms + 1, "{role:?} {path}: sign out, and {forms} more");
            assert!(page.body.contains("action=\"/sign-out\"") && page.body.contains(name), "{path}");
            assert!(!page.body.contains("href=\"/students\"") && !page.body.contains("href=\"/people\""), "{path}");
        }
    }
    let page = door.get(&door.sign_in(Role::Interventionist), &format!("/groups/{WEEK}"));
    assert!(page.body.contains("Plan again from the score sheets") && page.body.contains("href=\"/students\""));
}

#[test]
fn without_a_session_there_is_the_sign_in_page_alone() {
    let door = Door::open();
    for path in ["/", "/school", &format!("/groups/{WEEK}"), "/nowhere", "/people"] {
        let answer = door.get("", path);
        assert_eq!((answer.status, answer.header("location")), (303, Some("/sign-in")), "{path}");
    }
    assert_eq!(door.get("", "/api/v1/movement").status, 401);
    assert_eq!(door.post("", &format!("/groups/{WEEK}/plan"), "").status, 401);
    for path in ["/healthz", "/static/sheaf.css", "/static/sheaf.js"] {
        assert_eq!(door.get("", path).status, 200, "{path}");
    }
    let page = door.get("", "/sign-in");
    assert!(page.status == 200 && page.body.contains("type=\"password\"") && !page.body.contains("Quillmere"));
    let bearer = [("Authorization", "Bearer 00")];
    assert_eq!(door.ask("GET", "/api/v1/movement", &bearer, "").status, 401);
    assert_eq!(door.ask("GET", "/?key=00", &[], "").status, 303, "no launch token here");
}

#[test]
fn the_session_cookie_is_for_this_host_and_tls_alone() {
    let door = Door::open();
    let answer = door.try_in("", "lea", "seven quiet herons");
    let cookie = answer.header("set-cookie").unwrap();
    assert!(cookie.starts_with(&format!("__Host-sheaf-{}=", door.port)), "{cookie}");
    for flag in ["HttpOnly", "Secure", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(flag), "{flag}: {cookie}");
    }
    assert!(!cookie.contains("Domain"), "{cookie}");
}

#[test]
fn a_cookie_planted_before_is_no_session_after() {
    let door = Door::open();
    let planted = format!("__Host-sheaf-{}={}", door.port, "0".repeat(64));
    let answer = door.try_in(&planted, "lea", "seven quiet herons");
    let given = answer.cookie().unwrap();
    assert_ne!(given, planted);
    assert_eq!(door.get(&planted, "/school").status, 303);
    assert_eq!(door.get(&given, "/school").status, 200);
    // A session of somebody else that was planted ends, and is not hers.
    let cora = door.sign_in(Role::Coach);
    let lea = door.try_in(&cora, "lea", "seven quiet herons").cookie().unwrap();
    assert_eq!((door.get(&cora, "/").status, door.get(&lea, "/people").status), (303, 200));
}

#[test]
fn a_session_ends_with_sign_out_another_passphrase_or_the_account() {
    let door = Door::open();
    let out = door.sign_in(Role::Coach);
    let answer = door.post(&out, "/sign-out", "");
    assert_eq!((answer.status, answer.header("location")), (303, Some("/sign-in")));
    assert_eq!(door.get(&out, "/").status, 303);

    let (lea, cora) = (door.sign_in(Role::Interventionist), door.sign_in(Role::Coach));
    let body = "name=cora&passphrase=three+owls+and+a+lamp&again=three+owls+and+a+lamp";
    assert_eq!(door.post(&lea, "/people/passphrase", body).status, 303);
    assert_eq!(door.get(&cora, "/").status, 303, "another passphrase");
    assert_eq!(door.try_in("", "cora", "two owls and a lamp").status, 401);
    let cora = door.try_in("", "cora", "three owls and a lamp").cookie().unwrap();
    assert_eq!(door.get(&cora, "/movement").status, 200);
    assert_eq!(door.post(&lea, "/people/remove", "name=cora").status, 303);
    assert_eq!(door.get(&cora, "/").status, 303, "the account is gone");

    // By the command line, in another process.
    let tom = door.sign_in(Role::GradeTeam);
    let records = door.records.to_str().unwrap().to_owned();
    assert_eq!(sheaf(["account", "remove", "--db", &records, "tom"]).code, 0);
    assert_eq!(door.get(&tom, "/").status, 303);
    let refused = door.post(&lea, "/people", "name=x&role=coach&passphrase=short&again=short");
    assert!(
        refused.status == 422 && refused.body.contains("12 to 200 characters") && refused.body.contains("value=\"x\"")
    );
    let added = door.post(&lea, "/people", "name=max&role=coach&passphrase=a+new+passphrase&again=a+new+passphrase");
    assert_eq!(added.header("location"), Some("/people?done=added"));
    let last = door.post(&lea, "/people/remove", "name=lea");
    assert!(last.status == 409 && last.body.contains("last interventionist"), "{}", last.body);
}

#[test]
fn the_own_passphrase_is_changed_by_who_knows_it() {
    let door = Door::open();
    let cora = door.sign_in(Role::Coach);
    let form =
        |now: &str, new: &str, again: &str| format!("now={now}&passphrase={new}&again={again}").replace(' ', "+");
    let wrong = door.post(&cora, "/people/me", &form("not this one", "four owls and a lamp", "four owls and a lamp"));
    assert!(wrong.status == 422 && wrong.body.contains("id=\"now-error\""), "{}", wrong.body);
    let differ = door.post(&cora, "/people/me", &form("two owls and a lamp", "four owls and a lamp", "four owls"));
    assert!(differ.status == 422 && differ.body.contains("typed in two ways"));
    let good =
        door.post(&cora, "/people/me", &form("two owls and a lamp", "four owls and a lamp", "four owls and a lamp"));
    assert_eq!((good.status, good.header("location")), (303, Some("/sign-in")));
    assert_eq!(door.get(&cora, "/").status, 303, "signed out everywhere");
    assert_eq!(door.try_in("", "cora", "four owls and a lamp").status, 303);
}

#[test]
fn after_five_failures_a_sixth_try_waits() {
    let door = Door::open();
    for n in 0..5 {
        let answer = door.try_in("", "lea", "not the passphrase");
        assert_eq!(answer.status, 401, "{n}");
        assert!(answer.body.contains("Name or passphrase is not right") && answer.header("set-cookie").is_none());
    }
    let sixth = door.try_in("", "lea", "seven quiet herons");
    assert_eq!(sixth.status, 429);
    let wait: u64 = sixth.header("retry-after").unwrap().parse().unwrap();
    assert!((800..=901).contains(&wait), "{wait}");
    assert!(sixth.body.contains("Too many tries") && sixth.header("set-cookie").is_none());
    let unknown = door.try_in("", "nobody", "not the passphrase");
    assert_eq!(unknown.status, 429, "the address waits, whatever the name");
}

#[test]
fn an_unknown_name_is_answered_in_the_same_words() {
    let door = Door::open();
    let words = |name: &str| {
        door.try_in("", name, "not the passphrase").body.replace(&format!("value=\"{name}\""), "value=\"NAME\"")
    };
    assert_eq!(words("lea"), words("nobody-at-all"));
}

#[test]
fn a_flood_of_one_address_is_held_up() {
    let door = Door::open();
    let one = format!("GET /healthz HTTP/1.1\r\nHost: localhost:{}\r\n\r\n", door.port);
    let last = one.replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n");
    let answers = door.raw(&format!("{}{last}", one.repeat(599)));
    let (let_through, held) = (answers.matches("HTTP/1.1 200").count(), answers.matches("HTTP/1.1 429").count());
    assert!(let_through >= 200 && held > 0, "{let_through} and {held}");
}

#[test]
fn plain_http_to_the_tls_port_is_refused() {
    let door = Door::open();
    let mut stream = TcpStream::connect(("127.0.0.1", door.port)).unwrap();
    stream.set_read_timeout(Some(std::time::Duration::from_secs(20))).unwrap();
    write!(stream, "GET /healthz HTTP/1.1\r\nHost: localhost:{}\r\n\r\n", door.port).unwrap();
    let mut answer = Vec::new();
    let _ = stream.read_to_end(&mut answer);
    assert!(!String::from_utf8_lossy(&answer).contains("HTTP/1.1"), "{answer:?}");
    assert_eq!(door.get("", "/healthz").status, 200, "the next is answered");
}

#[test]
fn other_hosts_and_origins_are_refused_over_tls_too() {
    let door = Door::open();
    let cookie = door.sign_in(Role::Interventionist);
    let port = door.port;
    let status = |host: &str, more: &str| {
        let request = format!(
            "POST /groups/{WEEK}/undo HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nContent-Length: 0\r\nConnection: close\r\n{more}\r\n"
        );
        door.raw(&request).split(' ').nth(1).unwrap_or_default().to_owned()
    };
    let ours = format!("Origin: https://localhost:{port}\r\n");
    for host in
        ["evil.example".to_owned(), format!("evil.example:{port}"), "localhost".to_owned(), format!("[::1]:{port}")]
    {
        assert_eq!(status(&host, &ours), "421", "{host}");
    }
    let host = format!("localhost:{port}");
    for origin in [
        format!("http://localhost:{port}"),
        format!("https://127.0.0.1:{port}"),
        "https://evil.example".to_owned(),
        "null".to_owned(),
    ] {
        assert_eq!(status(&host, &format!("Origin: {origin}\r\n")), "403", "{origin}");
    }
    assert_eq!(status(&host, ""), "403", "a cookie without a word on its origin");
    assert_eq!(status(&host, "Sec-Fetch-Site: same-site\r\n"), "403");
    assert_ne!(status(&host, &ours), "403");
    let from_elsewhere = [("Origin", "https://evil.example"), ("Content-Type", "application/x-www-form-urlencoded")];
    let answer = door.ask("POST", "/sign-in", &from_elsewhere, "name=lea&passphrase=seven+quiet+herons");
    assert_eq!(answer.status, 403, "nobody is signed in by another page");
}

#[test]
fn another_address_takes_certificate_records_and_an_account() {
    let door = Door::open();
    let folder = door.folder();
    let files = |key: &str| TlsOptions {
        certificate: folder.join("cert.pem"),
        key: folder.join(key),
        hosts: vec!["sheaf.example".to_owned()],
    };
    let code = |records: Records, tls: Option<TlsOptions>| {
        let options = ServeOptions {
            records,
            addr: "0.0.0.0:0".parse().unwrap(),
            setup: SchoolSetup::builtin().unwrap(),
            tls,
            patience: crate::served::PATIENCE,
        };
        serve(options, |_| panic!("nothing was to be announced")).unwrap_err().code
    };
    let file = |name: &str| Records::File(folder.join(name));
    assert_eq!(code(file("school.db"), None), "address-not-loopback");
    assert_eq!(code(Records::InMemory, Some(files("key.pem"))), "records-not-there");
    assert_eq!(code(Records::Demo, Some(files("key.pem"))), "records-not-there");
    assert_eq!(code(file("new.db"), Some(files("key.pem"))), "no-account");
    assert_eq!(code(file("school.db"), Some(files("cert.pem"))), "certificate-not-read");
    assert_eq!(code(file("school.db"), Some(files("none.pem"))), "certificate-not-read");
    let no_host = TlsOptions { hosts: Vec::new(), ..files("key.pem") };
    assert_eq!(code(file("school.db"), Some(no_host)), "host-not-named");
}
