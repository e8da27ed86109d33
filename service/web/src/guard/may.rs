//! Who may do what: one line a route and method; what has no line is nobody's.
//!
//! In:  a method and a path as the router sees it (decoded). Out: who may, or that there is no such route.
//! An interventionist may do everything, so no line names that role. Lines stand in the order of the routes, and the first that fits
//! counts, as it does there.
//! Keeps: 1. every route has a line, in the same order (`every_route_is_in_the_table`)
//!        2. a coach changes nothing (`a_coach_changes_nothing_but_the_own_passphrase`)
//! Not here: what a handler does; whether the person at the machine may: always.

use sheaf_app::weeks::Role;

/// Who may.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Who {
    /// Whoever reaches the service.
    Anyone,
    /// Whoever is let in.
    SignedIn,
    /// Interventionists alone.
    Lead,
    /// Interventionists and one other role.
    LeadAnd(Role),
}

impl Who {
    /// Whether a role may.
    pub(crate) fn has(self, role: Role) -> bool {
        match self {
            Who::Anyone | Who::SignedIn => true,
            Who::Lead => role == Role::Interventionist,
            Who::LeadAnd(other) => role == Role::Interventionist || role == other,
        }
    }
}

const TEAM: Who = Who::LeadAnd(Role::GradeTeam);
const COACH: Who = Who::LeadAnd(Role::Coach);
const LEAD: Who = Who::Lead;
const ALL: Who = Who::SignedIn;

const TABLE: &[(&str, &str, Who)] = &[
    ("GET", "/healthz", Who::Anyone),
    ("GET", "/static/sheaf.css", Who::Anyone),
    ("GET", "/static/sheaf.js", Who::Anyone),
    ("GET", "/", ALL),
    ("GET", "/score-sheets", LEAD),
    ("POST", "/score-sheets", LEAD),
    ("GET", "/score-sheets/{id}", LEAD),
    ("POST", "/score-sheets/{id}/correct", LEAD),
    ("POST", "/score-sheets/{id}/confirm", LEAD),
    ("POST", "/score-sheets/{id}/take-back", LEAD),
    ("GET", "/groups/{date}", TEAM),
    ("POST", "/groups/{date}/plan", LEAD),
    ("GET", "/groups/{date}/decide", LEAD),
    ("POST", "/groups/{date}/decide", LEAD),
    ("POST", "/groups/{date}/undo", LEAD),
    ("POST", "/groups/{date}/redo", LEAD),
    ("GET", "/groups/{date}/{group}", TEAM),
    ("GET", "/rotation/{date}", TEAM),
    ("GET", "/rotation/{date}/roster", TEAM),
    ("GET", "/rotation/{date}/calendar.ics", TEAM),
    ("POST", "/rotation/{date}/repair", LEAD),
    ("POST", "/rotation/{date}/take-back", LEAD),
    ("GET", "/tickets/{date}", TEAM),
    ("GET", "/tickets/{date}/keys", TEAM),
    ("POST", "/tickets/{date}/swap", LEAD),
    ("POST", "/tickets/{date}/undo", LEAD),
    ("GET", "/attendance/{date}", TEAM),
    ("POST", "/attendance/{date}", TEAM),
    ("GET", "/results/{date}", TEAM),
    ("POST", "/results/{date}", TEAM),
    ("GET", "/movement", COACH),
    ("GET", "/movement/memo/{date}", COACH),
    ("POST", "/movement/memo/{date}", LEAD),
    ("GET", "/students", LEAD),
    ("POST", "/students", LEAD),
    ("POST", "/students/same-child", LEAD),
    ("GET", "/students/{id}", LEAD),
    ("POST", "/students/{id}/forget", LEAD),
    ("GET", "/progress/{id}", LEAD),
    ("GET", "/progress/{id}/events", LEAD),
    ("POST", "/progress/{id}/stop", LEAD),
    ("GET", "/school", COACH),
    ("GET", "/school/setup", LEAD),
    ("POST", "/school/setup", LEAD),
    ("POST", "/school/setup/text", LEAD),
    ("POST", "/school/setup/file", LEAD),
    ("GET", "/school/setup.toml", LEAD),
    ("GET", "/school/changes", COACH),
    ("GET", "/school/year", LEAD),
    ("POST", "/school/year", LEAD),
    ("GET", "/api", LEAD),
    ("GET", "/people", LEAD),
    ("POST", "/people", LEAD),
    ("POST", "/people/remove", LEAD),
    ("POST", "/people/passphrase", LEAD),
    ("GET", "/people/me", ALL),
    ("POST", "/people/me", ALL),
    ("GET", "/sign-in", Who::Anyone),
    ("POST", "/sign-in", Who::Anyone),
    ("POST", "/sign-out", ALL),
    ("GET", "/api/v1/openapi.json", ALL),
    ("POST", "/api/v1/score-sheets", LEAD),
    ("GET", "/api/v1/score-sheets/{id}", LEAD),
    ("DELETE", "/api/v1/score-sheets/{id}", LEAD),
    ("POST", "/api/v1/students", LEAD),
    ("GET", "/api/v1/students/{id}", LEAD),
    ("DELETE", "/api/v1/students/{id}", LEAD),
    ("GET", "/api/v1/movement", COACH),
    ("POST", "/api/v1/weeks/{date}/plan", LEAD),
    ("GET", "/api/v1/weeks/{date}/plan", LEAD),
    ("POST", "/api/v1/weeks/{date}/ticket-results", LEAD),
    ("PATCH", "/api/v1/weeks/{date}/groups", LEAD),
    ("POST", "/api/v1/weeks/{date}/repair", LEAD),
    ("POST", "/api/v1/weeks/{date}/attendance", LEAD),
    ("GET", "/api/v1/weeks/{date}/csv/{naming}/{file}", LEAD),
    ("GET", "/api/v1/weeks/{date}/workbook.xlsx", LEAD),
];

/// Who may do this; `None` where there is no such route. What follows a `?` is no part of a path.
pub(crate) fn who_may(method: &str, path: &str) -> Option<Who> {
    let path = path.split('?').next().unwrap_or_default();
    TABLE.iter().find(|(m, pattern, _)| *m == method && fits(pattern, path)).map(|(_, _, who)| *who)
}

/// Methods that an address takes; none where there is no such address.
pub(crate) fn methods_of(path: &str) -> Vec<&'static str> {
    TABLE.iter().filter(|(_, pattern, _)| fits(pattern, path)).map(|(method, _, _)| *method).collect()
}

/// Method and pattern of each route.
#[cfg(test)]
pub(crate) fn routes() -> impl Iterator<Item = (&'static str, &'static str)> {
    TABLE.iter().map(|(method, pattern, _)| (*method, *pattern))
}

/// Segment by segment; a name in braces stands for one that is not empty.
fn fits(pattern: &str, path: &str) -> bool {
    let mut parts = path.split('/');
    let is_each = pattern.split('/').all(|wanted| {
        parts.next().is_some_and(|part| if wanted.starts_with('{') { !part.is_empty() } else { part == wanted })
    });
    is_each && parts.next().is_none()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Routes as `routes.rs` has them: method and pattern.
    fn routes() -> Vec<(String, String)> {
        let (pages, rest) = include_str!("../routes.rs").split_once("web::scope(\"/api/v1\")").unwrap();
        let (api, rest) = rest.split_once("\n        )").unwrap();
        let of = |text: &str, scope: &str| -> Vec<(String, String)> {
            let route = |line: &str| {
                let (pattern, handler) = line.trim().strip_prefix(".route(\"")?.split_once("\", ")?;
                Some((handler.split("()").next()?.to_uppercase(), format!("{scope}{pattern}")))
            };
            text.lines().filter_map(route).collect()
        };
        [of(pages, ""), of(api, "/api/v1"), of(rest, "")].concat()
    }

    #[test]
    fn every_route_is_in_the_table() {
        let table: Vec<(String, String)> =
            TABLE.iter().map(|(method, pattern, _)| ((*method).to_owned(), (*pattern).to_owned())).collect();
        assert!(table.len() > 50);
        assert_eq!(routes(), table);
    }

    #[test]
    fn a_coach_changes_nothing_but_the_own_passphrase() {
        let may: Vec<&str> = TABLE
            .iter()
            .filter(|(method, _, who)| *method != "GET" && who.has(Role::Coach))
            .map(|(_, pattern, _)| *pattern)
            .collect();
        assert_eq!(may, ["/people/me", "/sign-in", "/sign-out"]);
    }

    #[test]
    fn an_address_says_what_it_takes() {
        assert_eq!(methods_of("/api/v1/weeks/2026-02-02/plan"), ["POST", "GET"]);
        assert_eq!(methods_of("/sign-out"), ["POST"]);
        assert_eq!(methods_of("/nowhere"), [""; 0]);
    }

    #[test]
    fn what_has_no_line_is_nobodys() {
        for (method, path) in [
            ("HEAD", "/"),
            ("GET", "/nowhere"),
            ("GET", ""),
            ("GET", "//"),
            ("GET", "/groups/"),
            ("GET", "/groups/2026-02-02/"),
            ("POST", "/movement"),
            ("get", "/school"),
        ] {
            assert_eq!(who_may(method, path), None, "{method} {path}");
        }
        assert_eq!(who_may("GET", "/movement?from=2026-02-02"), Some(COACH));
        assert_eq!(who_may("GET", "/groups/2026-02-02"), Some(TEAM));
        assert_eq!(who_may("POST", "/students/same-child"), Some(LEAD));
    }
}
