//! What is let through: a pure judgement on a request's head.
//!
//! In:  method, path, Host, Origin, Sec-Fetch-*, length, cookie or bearer token. Out: pass and as whom, let in, look for a session, or a
//! status. On this machine alone the token decides; over TLS the session does, and no token opens anything.
//! Another port of this machine counts as elsewhere, for a page there is not ours (`a_neighbour_port_cannot_post`).
//! Not here: the body, which is counted while it comes (`upload_form`).

use super::may::{Who, who_may};
use crate::door::Door;
use crate::service::House;
use actix_web::HttpRequest;
use actix_web::http::header::{AUTHORIZATION, CONTENT_LENGTH, HOST, HeaderName, ORIGIN};
use actix_web::http::{Method, StatusCode};
use sheaf_app::weeks::Actor;
use std::borrow::Cow;

/// Largest body, bytes: 50 MiB of files and a little for the form around them.
pub(crate) const MAX_BODY_BYTES: usize = 51 * 1024 * 1024;

/// What becomes of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Verdict {
    /// To its handler, which asks nothing of nobody.
    Open,
    /// To its handler, for the one who holds the launch token.
    Pass(Actor),
    /// To its handler, if there is a session and its role may; `None` where there is no such route.
    AskSession(Option<Who>),
    /// It carries the launch token in its address: set the cookie.
    LetIn,
    /// Not answered.
    Refuse(StatusCode),
}

/// Judges a request by its head.
pub(super) fn judge(request: &HttpRequest, house: &House) -> Verdict {
    let names = &house.names;
    if !is_for_us(request, names) {
        return Verdict::Refuse(StatusCode::MISDIRECTED_REQUEST);
    }
    let from = where_from(request, names);
    if from == From::Elsewhere {
        return Verdict::Refuse(StatusCode::FORBIDDEN);
    }
    if body_bytes(request).is_none_or(|n| n > MAX_BODY_BYTES as u64) {
        return Verdict::Refuse(StatusCode::PAYLOAD_TOO_LARGE);
    }
    // A cookie alone may look; to act, the browser must also say that it comes from our own page.
    let may_act = request.method().is_safe() || from == From::OurPage;
    if matches!(house.door, Door::Accounts(_)) {
        // As the router sees it, so that another spelling of a path is no way round.
        let who = who_may(request.method().as_str(), request.match_info().as_str());
        return match who {
            _ if !may_act => Verdict::Refuse(StatusCode::FORBIDDEN),
            Some(Who::Anyone) => Verdict::Open,
            who => Verdict::AskSession(who),
        };
    }
    if request.path() == "/healthz" {
        return Verdict::Open;
    }
    match token_in(request, house) {
        Token::Bearer => Verdict::Pass(Actor::Script),
        Token::Cookie if may_act => Verdict::Pass(Actor::AtMachine),
        Token::Cookie => Verdict::Refuse(StatusCode::FORBIDDEN),
        Token::Address => Verdict::LetIn,
        Token::None => Verdict::Refuse(StatusCode::UNAUTHORIZED),
    }
}

/// Under which names and how the service is reached, and what its cookie is called.
#[derive(Debug)]
pub(crate) struct Names {
    scheme: &'static str,
    authorities: Vec<String>,
    cookie: String,
}

impl Names {
    /// For a door on this port. Cookies do not know ports, so their name does. Over TLS the prefix has the browser take it from this very host
    /// and over TLS alone (RFC 6265bis, section 4.1.3.2).
    pub(crate) fn of(door: &Door, port: u16) -> Self {
        match door {
            Door::Launch(_) => {
                let of_this_machine = ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{port}"));
                Names { scheme: "http", authorities: of_this_machine.into(), cookie: format!("sheaf-{port}") }
            }
            Door::Accounts(accounts) => Names {
                scheme: "https",
                authorities: accounts.authorities.clone(),
                cookie: format!("__Host-sheaf-{port}"),
            },
        }
    }

    /// Name of the cookie.
    pub(crate) fn cookie(&self) -> &str {
        &self.cookie
    }

    fn has(&self, name: &str) -> bool {
        self.authorities.iter().any(|a| a.eq_ignore_ascii_case(name))
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum From {
    /// A page of ours.
    OurPage,
    /// Typed, or followed from elsewhere, as a whole page.
    Typed,
    /// No word on it: a script, or an old browser.
    Unsaid,
    /// Another origin; another port of this machine is one.
    Elsewhere,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Token {
    Bearer,
    Cookie,
    Address,
    None,
}

fn is_for_us(request: &HttpRequest, names: &Names) -> bool {
    let is_ours = |name: &str| names.has(name);
    let mut hosts = request.headers().get_all(HOST);
    let host_is_ours = hosts.next().and_then(|h| h.to_str().ok()).is_some_and(is_ours) && hosts.next().is_none();
    host_is_ours && request.uri().authority().is_none_or(|a| is_ours(a.as_str()))
}

fn where_from(request: &HttpRequest, names: &Names) -> From {
    // Under our own referrer policy a browser sends `null` with our own forms; Sec-Fetch-Site then decides alone.
    let is_hidden = text_of(request, ORIGIN).as_deref() == Some("null");
    let origin = text_of(request, ORIGIN).filter(|_| !is_hidden);
    if let Some(origin) = &origin {
        let scheme = names.scheme;
        let is_ours = names.authorities.iter().any(|a| **origin == format!("{scheme}://{a}"));
        let host = text_of(request, HOST).unwrap_or_default();
        if !is_ours || !origin.eq_ignore_ascii_case(&format!("{scheme}://{host}")) {
            return From::Elsewhere;
        }
    }
    let navigates = text_of(request, HeaderName::from_static("sec-fetch-mode")).as_deref() == Some("navigate");
    match text_of(request, HeaderName::from_static("sec-fetch-site")).as_deref() {
        Some("same-origin") => From::OurPage,
        Some(_) if navigates && request.method().is_safe() => From::Typed,
        // A browser says `none` for what a person typed or a download it resumes.
        Some("none") if request.method().is_safe() => From::Typed,
        Some(_) => From::Elsewhere,
        None if is_hidden => From::Elsewhere,
        None if origin.is_some() => From::OurPage,
        None => From::Unsaid,
    }
}

/// Declared length; 0 where none is declared (a body of unknown length is counted while it comes), `None` for nonsense.
fn body_bytes(request: &HttpRequest) -> Option<u64> {
    match request.headers().get(CONTENT_LENGTH) {
        None => Some(0),
        Some(length) => length.to_str().ok()?.parse().ok(),
    }
}

fn token_in(request: &HttpRequest, house: &House) -> Token {
    let Door::Launch(token) = &house.door else { return Token::None };
    let bearer = text_of(request, AUTHORIZATION);
    if let Some(given) = bearer.as_deref().and_then(|b| b.strip_prefix("Bearer ")) {
        return if token.is(given.trim()) { Token::Bearer } else { Token::None };
    }
    if request.cookie(house.names.cookie()).is_some_and(|c| token.is(c.value())) {
        return Token::Cookie;
    }
    let key = request.query_string().split('&').find_map(|pair| pair.strip_prefix("key="));
    let opens = request.method() == Method::GET && request.path() == "/" && key.is_some_and(|k| token.is(k));
    if opens { Token::Address } else { Token::None }
}

fn text_of(request: &HttpRequest, name: HeaderName) -> Option<Cow<'_, str>> {
    request.headers().get(name).map(|v| String::from_utf8_lossy(v.as_bytes()))
}
