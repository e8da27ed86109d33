//! `/movement`: seats from week to week, as the kept plans say. No growth is claimed here.
//!
//! In:  seats over time. Out: for each week how many kept or changed their target, for each student the way.
//! With one planned week it says so, and shows that week.

use super::hatch::{Badge, badge};
use super::{Frame, Here, PageAnswer, html, render, text};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{SeatsOverTime, StudentSeats};

struct Cell {
    seat: Option<(Badge, String)>,
    /// `new target`, `same target`, or empty where there is nothing to compare.
    words: &'static str,
}

struct Row {
    id: String,
    name: String,
    cells: Vec<Cell>,
}

struct WeekSum {
    words: String,
    n_seated: usize,
    n_same: usize,
    n_changed: usize,
}

#[derive(Template)]
#[template(path = "movement.html")]
struct MovementPage {
    frame: Frame,
    weeks: Vec<WeekSum>,
    rows: Vec<Row>,
}

/// The page.
pub(crate) async fn show(service: web::Data<Service>) -> PageAnswer {
    let body = run(&service, |s| {
        let seats = s.weeks.look_back()?;
        page(Frame::new(s, Here::Movement, "Movement", None)?, &seats)
    });
    Ok(html(body.await?))
}

fn page(frame: Frame, seats: &SeatsOverTime) -> Result<String, AppError> {
    let weeks = seats.weeks.iter().enumerate().map(|(week_idx, &week)| {
        let n_with = |changed| seats.students.iter().filter(|s| s.has_changed(week_idx) == Some(changed)).count();
        let n_seated = seats.students.iter().filter(|s| s.seats.get(week_idx).is_some_and(Option::is_some)).count();
        WeekSum { words: text::week_words(week), n_seated, n_same: n_with(false), n_changed: n_with(true) }
    });
    let ever_seated = seats.students.iter().filter(|s| s.seats.iter().any(Option::is_some));
    render(&MovementPage { frame, weeks: weeks.collect(), rows: ever_seated.map(row).collect() })
}

fn row(student: &StudentSeats) -> Row {
    let cell = |(week_idx, seat): (usize, &Option<sheaf_app::weeks::SeatInWeek>)| Cell {
        seat: seat.as_ref().map(|s| (badge(&s.group), s.target_skill.clone())),
        words: match student.has_changed(week_idx) {
            Some(true) => "new target",
            Some(false) => "same target",
            None => "",
        },
    };
    Row {
        id: student.id.clone(),
        name: if student.shown == student.id { String::new() } else { student.shown.clone() },
        cells: student.seats.iter().enumerate().map(cell).collect(),
    }
}
