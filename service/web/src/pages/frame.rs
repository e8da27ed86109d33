//! What every page shares: title, the bar of the week's way, what lasts how long.
//!
//! The bar leads on within the week that the page shows, so that nobody prints another week by mistake.
//! An error page has no bar: it may be shown to somebody who was not let in.

use super::{html_with, text};
use crate::service::{Lasting, Service};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use sheaf_app::error::AppError;
use sheaf_app::weeks::Week;

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
}

/// One entry of the bar.
pub(crate) struct BarEntry {
    pub(crate) label: &'static str,
    pub(crate) address: String,
    pub(crate) is_here: bool,
}

/// The frame of a page.
pub(crate) struct Frame {
    pub(crate) title: String,
    /// The week the bar leads to, as a date; empty on pages without one.
    pub(crate) week: String,
    pub(crate) week_words: String,
    pub(crate) bar: Vec<BarEntry>,
    pub(crate) lasting: &'static str,
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
            bar: bar(here, week),
            lasting: lasting_words(service.lasting),
        })
    }

    /// The groups and the rotation in the bar keep what a page was asked with.
    pub(crate) fn keeping(mut self, query: &str) -> Self {
        let is_among = |b: &&mut BarEntry| b.address.starts_with("/groups/") || b.address.starts_with("/rotation/");
        self.bar.iter_mut().filter(is_among).for_each(|entry| entry.address.push_str(query));
        self
    }
}

fn bar(here: Here, week: Week) -> Vec<BarEntry> {
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
    .map(|(entry, label, address)| BarEntry { label, address, is_here: entry == here })
    .collect()
}

fn lasting_words(lasting: Lasting) -> &'static str {
    match lasting {
        Lasting::InFile => "Records stay on this machine.",
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
    let frame = Frame {
        title: if status.is_server_error() { "That did not work" } else { "Not here" }.to_owned(),
        week: String::new(),
        week_words: String::new(),
        bar: Vec::new(),
        lasting: "",
    };
    let message = text::as_sentence(message);
    let body = ErrorPage { frame, message: message.clone() }.render().unwrap_or(message);
    html_with(status, body)
}
