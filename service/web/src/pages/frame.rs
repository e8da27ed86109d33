//! What every page shares: title, the bar of the week's way, who is signed in, what lasts how long.
//!
//! The bar holds what the person's role may open, and pages ask the frame before they offer a way on (`Frame::opens`, `Frame::edits`).
//! The bar leads on within the week that the page shows, so that nobody prints another week by mistake.
//! An error page has no bar: it may be shown to somebody who was not let in.

use super::work::title;
use super::{html_with, text};
use crate::guard::who_may;
use crate::service::{Lasting, Service};
use crate::works::{Standing, Work};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Role, Week};

/// Which entry of the bar a page belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Here {
    Week,
    Sheets,
    Groups,
    Rotation,
    Tickets,
    Movement,
    Students,
    School,
    /// The person's own page, which is in no bar.
    Person,
}

/// One entry of the bar.
pub(crate) struct BarEntry {
    pub(crate) label: &'static str,
    pub(crate) address: String,
    pub(crate) is_here: bool,
}

/// A long job in one line.
pub(crate) struct WorkLine {
    pub(crate) address: String,
    pub(crate) words: String,
}

fn works(service: &Service) -> Vec<WorkLine> {
    let line = |w: &Work| {
        let stands = match w.standing() {
            Standing::Done(_) => "done",
            Standing::Failed(_) => "nothing was made, see why",
            Standing::Begun | Standing::At(_) => "under way",
        };
        let words = format!("{} ({}): {stands}", title(w.kind), text::week_words(w.week));
        WorkLine { address: format!("/progress/{}", w.id), words }
    };
    service.house.works.unseen().iter().map(|w| line(w)).collect()
}

/// The frame of a page.
pub(crate) struct Frame {
    pub(crate) title: String,
    /// The week the bar leads to, as a date; empty on pages without one.
    pub(crate) week: String,
    pub(crate) week_words: String,
    pub(crate) bar: Vec<BarEntry>,
    pub(crate) lasting: &'static str,
    /// Long jobs that go on or whose end nobody saw.
    pub(crate) works: Vec<WorkLine>,
    /// Name and role of whoever signed in; `None` for the person at the machine.
    pub(crate) signed_in: Option<(String, &'static str)>,
    role: Option<Role>,
}

impl Frame {
    /// The frame of a page for a week, or for the home week.
    pub(crate) fn new(service: &Service, here: Here, title: &str, week: Option<Week>) -> Result<Self, AppError> {
        let week = match week {
            Some(week) => week,
            None => service.home_week()?,
        };
        Ok(Frame {
            title: title.to_owned(),
            week: week.to_string(),
            week_words: text::week_words(week),
            bar: bar(here, week, service.person.role),
            lasting: lasting_words(service.house.lasting),
            works: if service.person.role == Role::Interventionist { works(service) } else { Vec::new() },
            signed_in: service.person.account().map(|name| (name.to_owned(), role_words(service.person.role))),
            role: Some(service.person.role),
        })
    }

    /// The frame of a page for somebody who may not be let in: no bar, nobody's name.
    pub(crate) fn bare(title: &str) -> Self {
        Frame {
            title: title.to_owned(),
            week: String::new(),
            week_words: String::new(),
            bar: Vec::new(),
            lasting: "",
            works: Vec::new(),
            signed_in: None,
            role: None,
        }
    }

    /// On the page of a long job, which tells of it itself.
    pub(crate) fn without_works(self) -> Self {
        Frame { works: Vec::new(), ..self }
    }

    /// Whether this person may open an address of ours.
    pub(crate) fn opens(&self, address: &str) -> bool {
        self.role.is_some_and(|role| may_open(role, address))
    }

    /// Whether this person may change plans, sheets and decisions.
    pub(crate) fn edits(&self) -> bool {
        self.role == Some(Role::Interventionist)
    }

    /// The groups and the rotation in the bar keep what a page was asked with.
    pub(crate) fn keeping(mut self, query: &str) -> Self {
        let is_among = |b: &&mut BarEntry| b.address.starts_with("/groups/") || b.address.starts_with("/rotation/");
        self.bar.iter_mut().filter(is_among).for_each(|entry| entry.address.push_str(query));
        self
    }
}

fn may_open(role: Role, address: &str) -> bool {
    who_may("GET", address).is_some_and(|who| who.has(role))
}

/// A role in the words of a page.
pub(crate) fn role_words(role: Role) -> &'static str {
    match role {
        Role::Interventionist => "interventionist",
        Role::GradeTeam => "grade team",
        Role::Coach => "coach",
    }
}

fn bar(here: Here, week: Week, role: Role) -> Vec<BarEntry> {
    let dated = |path: &str| format!("{path}{week}");
    [
        (Here::Week, "This week", dated("/?week=")),
        (Here::Sheets, "Score sheets", dated("/score-sheets?week=")),
        (Here::Groups, "Groups", dated("/groups/")),
        (Here::Rotation, "Rotation", dated("/rotation/")),
        (Here::Tickets, "Exit tickets", dated("/tickets/")),
        (Here::Movement, "Movement", "/movement".to_owned()),
        (Here::Students, "Students", "/students".to_owned()),
        (Here::School, "School", "/school".to_owned()),
    ]
    .into_iter()
    .filter(|(_, _, address)| may_open(role, address))
    .map(|(entry, label, address)| BarEntry { label, address, is_here: entry == here })
    .collect()
}

fn lasting_words(lasting: Lasting) -> &'static str {
    match lasting {
        Lasting::InFile => "Records stay on the machine that Sheaf runs on.",
        Lasting::UntilClosed => "Nothing is kept: these records are gone when Sheaf is closed.",
        Lasting::Demo => "Quillmere is an invented school; nothing here is kept when Sheaf is closed.",
    }
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    frame: Frame,
    message: String,
}

/// One sentence and the way back.
pub(crate) fn error_page(status: StatusCode, message: &str) -> HttpResponse {
    let frame = Frame::bare(if status.is_server_error() { "That did not work" } else { "Not here" });
    let message = text::as_sentence(message);
    let body = ErrorPage { frame, message: message.clone() }.render().unwrap_or(message);
    html_with(status, body)
}
