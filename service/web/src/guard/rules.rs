//! What is let through: a pure judgement on a request's head.
//!
//! In:  method, path, Host, Origin, Sec-Fetch-*, length, cookie or bearer token. Out: pass, let in, or a status.
//! Another port of this machine counts as elsewhere, for a page there is not ours (`a_neighbour_port_cannot_post`).
//! Not here: the body, which is counted while it comes (`upload_form`).

use crate::service::Service;
use actix_web::HttpRequest;
use actix_web::http::header::{AUTHORIZATION, CONTENT_LENGTH, HOST, HeaderName, ORIGIN};
use actix_web::http::{Method, StatusCode};

/// Largest body, bytes: 50 MiB of files and a little for the form around them.
pub(crate) const MAX_BODY_BYTES: usize = 51 * 1024 * 1024;

/// What becomes of a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    /// To its handler.
    Pass,
    /// It carries the launch token in its address: set the cookie.
    LetIn,
    /// Not answered.
    Refuse(StatusCode),
}

/// Judges a request by its head.
pub(super) fn judge(request: &HttpRequest, service: &Service) -> Verdict {
    if !is_for_us(request, service.port) {
        return Verdict::Refuse(StatusCode::MISDIRECTED_REQUEST);
    }
    let from = where_from(request, service.port);
    if from == From::Elsewhere {
        return Verdict::Refuse(StatusCode::FORBIDDEN);
    }
    if body_bytes(request).is_none_or(|n| n > MAX_BODY_BYTES as u64) {
        return Verdict::Refuse(StatusCode::PAYLOAD_TOO_LARGE);
    }
    if request.path() == "/healthz" {
        return Verdict::Pass;
    }
    match token_in(request, service) {
        Token::Bearer => Verdict::Pass,
        // A cookie alone may look; to act, the browser must also say that it comes from our own page.
        Token::Cookie if request.method().is_safe() || from == From::OurPage => Verdict::Pass,
        Token::Cookie => Verdict::Refuse(StatusCode::FORBIDDEN),
        Token::Address => Verdict::LetIn,
        Token::None => Verdict::Refuse(StatusCode::UNAUTHORIZED),
    }
}

/// Name of the cookie; cookies do not know ports, so the name does.
pub(crate) fn cookie_name(port: u16) -> String {
    format!("sheaf-{port}")
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

fn is_for_us(request: &HttpRequest, port: u16) -> bool {
    let is_ours = |name: &str| authorities(port).iter().any(|a| a.eq_ignore_ascii_case(name));
    let mut hosts = request.headers().get_all(HOST);
    let host_is_ours = hosts.next().and_then(|h| h.to_str().ok()).is_some_and(is_ours) && hosts.next().is_none();
    host_is_ours && request.uri().authority().is_none_or(|a| is_ours(a.as_str()))
}

fn authorities(port: u16) -> [String; 3] {
    ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("{name}:{port}"))
}

fn where_from(request: &HttpRequest, port: u16) -> From {
    // Under our own referrer policy a browser sends `null` with our own forms; Sec-Fetch-Site then decides alone.
    let is_hidden = text_of(request, ORIGIN).as_deref() == Some("null");
    let origin = text_of(request, ORIGIN).filter(|_| !is_hidden);
    if let Some(origin) = &origin {
        let is_ours = authorities(port).iter().any(|a| origin == &format!("http://{a}"));
        let host = text_of(request, HOST).unwrap_or_default();
        if !is_ours || !origin.eq_ignore_ascii_case(&format!("http://{host}")) {
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

fn token_in(request: &HttpRequest, service: &Service) -> Token {
    let bearer = text_of(request, AUTHORIZATION);
    if let Some(given) = bearer.as_deref().and_then(|b| b.strip_prefix("Bearer ")) {
        return if service.token.is(given.trim()) { Token::Bearer } else { Token::None };
    }
    if request.cookie(&cookie_name(service.port)).is_some_and(|c| service.token.is(c.value())) {
        return Token::Cookie;
    }
    let key = request.query_string().split('&').find_map(|pair| pair.strip_prefix("key="));
    let opens = request.method() == Method::GET && request.path() == "/" && key.is_some_and(|k| service.token.is(k));
    if opens { Token::Address } else { Token::None }
}

fn text_of(request: &HttpRequest, name: HeaderName) -> Option<String> {
    request.headers().get(name).map(|v| String::from_utf8_lossy(v.as_bytes()).into_owned())
}
