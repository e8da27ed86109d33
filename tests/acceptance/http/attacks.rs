//! What must be refused: other hosts, other origins, no token, too much, odd paths.
//!
//! Refused means: a status of its own, nothing done, no trace of the inside; and the service answers the next request.

use crate::served::Served;

fn get(served: &Served, host: &str, more: &str) -> (u16, String) {
    let port = served.port;
    let host = host.replace("PORT", &port.to_string());
    served.raw(&format!(
        "GET /school HTTP/1.1\r\nHost: {host}\r\nAuthorization: Bearer {}\r\nConnection: close\r\n{more}\r\n",
        served.token
    ))
}

fn post(served: &Served, headers: &[(&str, &str)]) -> u16 {
    let mut request = served.with_cookie("POST", "/groups/2026-02-02/plan");
    for (name, value) in headers {
        request = request.header(*name, value.replace("PORT", &served.port.to_string()));
    }
    request.send().unwrap().status().as_u16()
}

#[test]
fn a_foreign_host_is_refused() {
    let served = Served::empty();
    for host in ["127.0.0.1:PORT", "localhost:PORT", "LOCALHOST:PORT", "[::1]:PORT"] {
        assert_eq!(get(&served, host, "").0, 200, "{host}");
    }
    for host in ["evil.example", "evil.example:PORT", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:PORT", ""] {
        assert_eq!(get(&served, host, "").0, 421, "{host}");
    }
    let two = get(&served, "localhost:PORT", "Host: evil.example\r\n").0;
    assert!(two == 421 || two == 400, "two hosts: {two}");
}

#[test]
fn a_foreign_host_gets_no_static_file_and_no_health_either() {
    let served = Served::empty();
    for path in ["/static/sheaf.css", "/healthz", "/nowhere"] {
        let request = format!("GET {path} HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
        assert_eq!(served.raw(&request).0, 421, "{path}");
    }
    let absolute = format!(
        "GET http://evil.example/healthz HTTP/1.1\r\nHost: localhost:{}\r\nConnection: close\r\n\r\n",
        served.port
    );
    assert_eq!(served.raw(&absolute).0, 421);
}

#[test]
fn our_own_page_may_post() {
    let served = Served::empty();
    // 404: let through, and there are no sheets to plan from.
    assert_eq!(post(&served, &[("sec-fetch-site", "same-origin"), ("origin", "null")]), 404);
    assert_eq!(post(&served, &[("sec-fetch-site", "same-origin"), ("origin", "http://127.0.0.1:PORT")]), 404);
    assert_eq!(post(&served, &[("origin", "http://127.0.0.1:PORT")]), 404);
}

#[test]
fn another_origin_cannot_post() {
    let served = Served::empty();
    for site in ["cross-site", "same-site", "none", "nonsense"] {
        assert_eq!(post(&served, &[("sec-fetch-site", site), ("sec-fetch-mode", "navigate")]), 403, "{site}");
    }
    for origin in ["http://evil.example", "null", "https://127.0.0.1:PORT", "http://localhost:PORT", "http://127.0.0.1"]
    {
        assert_eq!(post(&served, &[("origin", origin)]), 403, "{origin}");
    }
    assert_eq!(post(&served, &[("origin", "http://evil.example"), ("sec-fetch-site", "same-origin")]), 403);
}

#[test]
fn a_neighbour_port_cannot_post() {
    let served = Served::empty();
    let neighbour = [("sec-fetch-site", "same-site"), ("origin", "http://127.0.0.1:1")];
    assert_eq!(post(&served, &neighbour), 403);
    assert_eq!(post(&served, &neighbour[1..]), 403);
}

#[test]
fn a_cookie_without_a_word_on_its_origin_cannot_post() {
    let served = Served::empty();
    assert_eq!(post(&served, &[]), 403);
    assert_eq!(served.script("POST", "/api/v1/weeks/2026-02-02/plan").send().unwrap().status(), 404);
}

#[test]
fn a_neighbour_port_cannot_read_pages_into_its_own() {
    let served = Served::empty();
    let get = |mode: &str| {
        let request = served.with_cookie("GET", "/school").header("sec-fetch-site", "same-site");
        request.header("sec-fetch-mode", mode).send().unwrap().status().as_u16()
    };
    assert_eq!((get("no-cors"), get("cors"), get("navigate")), (403, 403, 200));
}

#[test]
fn without_the_token_there_is_nothing() {
    let served = Served::demo();
    for path in ["/", "/school", "/groups/2026-02-02", "/static/sheaf.css", "/api/v1/openapi.json", "/nowhere"] {
        let answer = served.plain("GET", path).send().unwrap();
        assert_eq!(answer.status(), 401, "{path}");
        assert!(!answer.text().unwrap().contains("Quillmere"), "{path}");
    }
    assert_eq!(served.plain("DELETE", "/api/v1/score-sheets/1").send().unwrap().status(), 401);
    assert_eq!(served.plain("GET", "/healthz").send().unwrap().status(), 200);
}

#[test]
fn a_wrong_token_opens_nothing() {
    let served = Served::empty();
    let wrong = "0".repeat(64);
    for token in ["", "x", wrong.as_str(), &served.token[..63]] {
        assert_eq!(served.plain("GET", "/school").bearer_auth(token).send().unwrap().status(), 401);
        let cookie = format!("sheaf-{}={token}", served.port);
        assert_eq!(served.plain("GET", "/school").header("cookie", cookie).send().unwrap().status(), 401);
        assert_eq!(served.plain("GET", &format!("/?key={token}")).send().unwrap().status(), 401);
    }
    let other_port = format!("sheaf-1={}", served.token);
    assert_eq!(served.plain("GET", "/school").header("cookie", other_port).send().unwrap().status(), 401);
}

#[test]
fn the_launch_address_sets_a_strict_cookie_and_hides_the_token() {
    let served = Served::empty();
    let answer = served.plain("GET", &format!("/?key={}", served.token)).send().unwrap();
    assert_eq!((answer.status().as_u16(), answer.headers()["location"].to_str().unwrap()), (303, "/"));
    let cookie = answer.headers()["set-cookie"].to_str().unwrap();
    assert!(cookie.starts_with(&format!("sheaf-{}=", served.port)), "{cookie}");
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict") && cookie.contains("Path=/"), "{cookie}");
    assert_eq!(served.plain("GET", &format!("/school?key={}", served.token)).send().unwrap().status(), 401);
}

#[test]
fn every_answer_carries_the_safe_headers_and_none_invites_another_origin() {
    let served = Served::empty();
    for (path, token) in
        [("/", true), ("/nowhere", true), ("/api/v1/nowhere", true), ("/school", false), ("/healthz", false)]
    {
        let request = if token { served.script("GET", path) } else { served.plain("GET", path) };
        let headers = request.header("origin", &served.base).send().unwrap().headers().clone();
        let csp = headers["content-security-policy"].to_str().unwrap();
        assert!(csp.contains("default-src 'none'") && csp.contains("frame-ancestors 'none'"), "{path}");
        assert!(!csp.contains("unsafe"), "{path}");
        assert_eq!(headers["cache-control"], "no-store", "{path}");
        assert_eq!(headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(headers["referrer-policy"], "no-referrer", "{path}");
        assert_eq!(headers["cross-origin-opener-policy"], "same-origin", "{path}");
        assert_eq!(headers["cross-origin-resource-policy"], "same-origin", "{path}");
        assert!(headers.keys().all(|k| !k.as_str().starts_with("access-control-")), "{path}");
    }
}

#[test]
fn a_body_of_ten_gigabytes_is_refused_at_its_head() {
    let served = Served::empty();
    let (status, _) = served.raw(&format!(
        "POST /api/v1/score-sheets?week=2026-02-02 HTTP/1.1\r\nHost: localhost:{}\r\nAuthorization: Bearer {}\r\n\
         Content-Type: multipart/form-data; boundary=b\r\nContent-Length: 10737418240\r\nConnection: close\r\n\r\n--b\r\n",
        served.port, served.token
    ));
    assert_eq!(status, 413);
}

#[test]
fn a_body_of_unknown_length_is_counted_while_it_comes() {
    let served = Served::empty();
    let big = vec![b'x'; 52 * 1024 * 1024];
    let answer = served.hand_in("week=2026-02-02", &[("quiz.csv", &big[..26 << 20]), ("two.csv", &big[..26 << 20])]);
    assert_eq!(answer.status(), 413);
    assert_eq!(served.plain("GET", "/healthz").send().unwrap().status(), 200);
}

#[test]
fn odd_paths_lead_nowhere() {
    let served = Served::empty();
    for path in [
        "/static/../Cargo.toml",
        "/static/..%2f..%2fCargo.toml",
        "/static/%2e%2e/%2e%2e/etc/passwd",
        "/score-sheets/..%2f..%2f1",
        "/score-sheets/1;drop",
        "/score-sheets/99999999999999999999",
        "//etc/passwd",
        "/api/v1/score-sheets/%00",
        "/api/v1/nowhere",
    ] {
        let (status, answer) = served.raw(&format!(
            "GET {path} HTTP/1.1\r\nHost: localhost:{}\r\nAuthorization: Bearer {}\r\nConnection: close\r\n\r\n",
            served.port, served.token
        ));
        assert!(status == 404 || status == 400, "{path}: {status}");
        assert!(!answer.contains("root:") && !answer.contains("panicked"), "{path}");
    }
}

#[test]
fn a_wrong_method_is_told_which_ones_there_are() {
    let served = Served::empty();
    for (method, path, allowed, kind) in [
        ("PUT", "/api/v1/weeks/2026-02-02/plan", "POST, GET", "application/problem+json"),
        ("DELETE", "/api/v1/openapi.json", "GET", "application/problem+json"),
        ("POST", "/healthz", "GET", "application/problem+json"),
        ("GET", "/sign-out", "POST", "text/html; charset=utf-8"),
    ] {
        let answer = served.script(method, path).send().unwrap();
        let header = |name: &str| answer.headers()[name].to_str().unwrap().to_owned();
        assert_eq!(
            (answer.status().as_u16(), header("allow"), header("content-type")),
            (405, allowed.into(), kind.into())
        );
    }
    assert_eq!(served.script("PUT", "/api/v1/nowhere").send().unwrap().status(), 404);
}

#[test]
fn a_script_gets_a_problem_whatever_goes_wrong() {
    let served = Served::demo();
    let long = format!("{{\"without\": [\"{}\"]}}", "x".repeat(300 * 1024));
    let repair = served.script("POST", "/api/v1/weeks/2026-02-02/repair").body(long).send().unwrap();
    let twice = served.script("POST", "/api/v1/weeks/2026-02-02/plan?seed=1&seed=2").send().unwrap();
    let mistyped = served.script("POST", "/api/v1/score-sheets?week=2026-02-02&dryrun=true").body("").send().unwrap();
    let foreign = served.plain("GET", "/healthz").header("origin", "http://evil.example").send().unwrap();
    for (answer, status) in [(repair, 413), (twice, 400), (mistyped, 400), (foreign, 403)] {
        assert_eq!(answer.status(), status);
        assert_eq!(answer.headers()["content-type"], "application/problem+json", "{status}");
        assert_eq!(answer.json::<serde_json::Value>().unwrap()["status"], status);
    }
}

#[test]
fn another_address_than_loopback_is_refused() {
    use sheaf_app::weeks::SchoolSetup;
    let options = sheaf_web::ServeOptions {
        records: sheaf_web::Records::InMemory,
        addr: "0.0.0.0:0".parse().unwrap(),
        setup: SchoolSetup::builtin().unwrap(),
        tls: None,
        patience: crate::served::PATIENCE,
    };
    let error = sheaf_web::serve(options, |_| panic!("nothing was to be announced")).unwrap_err();
    assert_eq!(error.code, "address-not-loopback");
}
