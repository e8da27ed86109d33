//! Headers of every answer: nothing from elsewhere, nothing inline, nothing kept by the browser.
//!
//! Keeps: pages, problems and refusals alike carry them
//! (acceptance test `every_answer_carries_the_safe_headers_and_none_invites_another_origin`).

use actix_web::http::header::{CACHE_CONTROL, HeaderMap, HeaderName, HeaderValue};

const SAFE: [(&str, &str); 7] = [
    (
        "content-security-policy",
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; font-src 'self'; \
         connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("x-frame-options", "DENY"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=()"),
];

/// Sets them. Only a static file, which says so itself, may be kept by the browser.
pub(super) fn make_safe(headers: &mut HeaderMap) {
    for (name, value) in SAFE {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if !headers.contains_key(CACHE_CONTROL) {
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
}
