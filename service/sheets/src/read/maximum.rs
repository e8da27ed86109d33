//! The points of an item whose sheet does not say them.
//!
//! In:  the readings of a column. Out: a maximum: what shares are out of, what the label says, 1, or the largest points seen, told.
//! A single number far above a column of 0 and 1 is no maximum (`one_number_far_above_is_no_maximum`); numbers among percents are
//! percents (`numbers_among_percents_are_percents`); the serial number of a day is no points (`the_serial_of_a_day_is_no_points`).

use super::cell_marks::Reading;
use super::labels::points_in;
use super::marks::Column;
use super::notes::Notes;
use sheaf_core::scores::Item;

/// How far above one point a single number is taken for a slip.
const FAR_ABOVE: f64 = 5.0;
/// Cells of 0 to 1 that make another number a slip.
const FEWEST_ORDINARY: u32 = 4;
/// Serial numbers of days between 2009 and 2064.
const SERIALS: std::ops::RangeInclusive<f64> = 40_000.0..=60_000.0;

/// The highest level of a scale.
pub fn of_scale(scale: &[(String, f64)]) -> Option<f64> {
    scale.iter().map(|(_, p)| *p).reduce(f64::max).filter(|p| *p > 0.0)
}

/// Judges the maximum.
pub fn judge(readings: &mut [Reading], item: &Item, place: &Column<'_>, notes: &mut Notes<'_>) -> f64 {
    make_percents(readings, item, place, notes);
    let out_of = readings.iter().filter_map(|r| match r {
        Reading::OutOf(_, of) if *of != 100.0 && *of != 1.0 => Some(*of),
        _ => None,
    });
    if let Some(of) = out_of.reduce(f64::max) {
        return of;
    }
    if let Some(points) = points_in(&item.label) {
        return points;
    }
    let largest = readings.iter().filter_map(points_of).filter(|p| !is_serial(*p)).fold(0.0_f64, f64::max);
    if largest <= 1.0 || item.key.is_some() || is_slip(readings, place, largest) {
        return 1.0;
    }
    let points = largest.ceil();
    let first = place.distinct.iter().map(|d| d.first_row).min().unwrap_or(0);
    notes.warn(
        "maximum-not-given",
        notes.place(first, place.column),
        format!("{} has no maximum; the largest points seen are {points}.", item.label),
        "they are taken as the maximum; add a points row to say otherwise",
    );
    points
}

fn points_of(reading: &Reading) -> Option<f64> {
    if let Reading::Points(p) = reading { Some(*p) } else { None }
}

fn is_serial(points: f64) -> bool {
    points.fract() == 0.0 && SERIALS.contains(&points)
}

/// One cell far above a column of 0 to 1.
fn is_slip(readings: &[Reading], place: &Column<'_>, largest: f64) -> bool {
    let (mut n_above, mut n_ordinary) = (0, 0);
    for (reading, d) in readings.iter().zip(place.distinct) {
        match points_of(reading).filter(|p| !is_serial(*p)) {
            Some(p) if p > 1.0 => n_above += d.count,
            Some(_) => n_ordinary += d.count,
            None => {}
        }
    }
    n_above == 1 && n_ordinary >= FEWEST_ORDINARY && largest >= FAR_ABOVE
}

/// Bare numbers in a column of percents, or under a heading with the sign.
fn make_percents(readings: &mut [Reading], item: &Item, place: &Column<'_>, notes: &mut Notes<'_>) {
    let is_percent = |r: &Reading| matches!(r, Reading::OutOf(_, of) if *of == 100.0 || *of == 1.0);
    let n_percents = readings.iter().filter(|r| is_percent(r)).count();
    let bare: Vec<usize> =
        (0..readings.len()).filter(|i| points_of(&readings[*i]).is_some_and(|p| p > 1.0 && p <= 100.0)).collect();
    let is_said = item.label.contains('%');
    if bare.is_empty() || !(is_said || n_percents > bare.len()) {
        return;
    }
    for (i, reading) in readings.iter_mut().enumerate() {
        let is_one = |p: &f64| *p == 0.0 || bare.contains(&i) || (is_said && *p <= 100.0);
        if let Some(p) = points_of(reading).filter(is_one) {
            *reading = Reading::OutOf(p, 100.0);
        }
    }
    if !is_said {
        let cell = notes.place(place.distinct[bare[0]].first_row, place.column);
        let message = format!("{} holds numbers without the sign among percents.", item.label);
        notes.warn("percent-sign-missing", cell, message, "read as percents");
    }
}

/// Takes out whole numbers that are the serial numbers of days.
pub fn take_out_serials(readings: &mut [Reading], item: &Item) {
    if item.points >= *SERIALS.start() {
        return;
    }
    for reading in readings.iter_mut() {
        if let Some(serial) = points_of(reading).filter(|p| is_serial(*p)) {
            let what = format!("{serial}, the serial number of a day");
            *reading = Reading::Unreadable("date-in-answers", what);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::cell::Cell;
    use crate::read::marks::{ColumnFacts, Distinct, judge_column};
    use sheaf_core::scores::MarkState;

    fn judged(label: &str, cells: &[(&str, u32)]) -> (f64, Vec<Option<f64>>, Vec<String>, Vec<MarkState>) {
        let distinct: Vec<Distinct> = cells
            .iter()
            .map(|(t, count)| Distinct { cell: Cell::Text((*t).to_owned().into()), first_row: 1, count: *count })
            .collect();
        let mut item = Item::new(label, 0);
        let mut notes = Notes::new("f.csv", "");
        let marks = judge_column(&mut item, &ColumnFacts::default(), &distinct, 3, &mut notes);
        let codes = notes.into_findings().into_iter().map(|f| f.code).collect();
        (item.points, marks.iter().map(|m| m.points).collect(), codes, marks.iter().map(|m| m.state).collect())
    }

    #[test]
    fn one_number_far_above_is_no_maximum() {
        let (maximum, points, codes, _) = judged("Q1", &[("1", 3), ("0", 2), ("11", 1)]);
        assert_eq!((maximum, points), (1.0, vec![Some(1.0), Some(0.0), None]));
        assert_eq!(codes, ["points-over-maximum"]);
        assert_eq!(judged("Q1", &[("1", 3), ("0", 2), ("3", 1)]).0, 3.0);
    }

    #[test]
    fn numbers_among_percents_are_percents() {
        let (maximum, points, codes, _) = judged("Q1", &[("50%", 2), ("100%", 1), ("75", 1)]);
        assert_eq!((maximum, points), (1.0, vec![Some(0.5), Some(1.0), Some(0.75)]));
        assert_eq!(codes, ["percent-sign-missing"]);
        assert_eq!(judged("Unit 3 %", &[("50", 1), ("100", 1)]).1, [Some(0.5), Some(1.0)]);
    }

    #[test]
    fn the_serial_of_a_day_is_no_points() {
        let (maximum, _, codes, states) = judged("Q1", &[("1", 3), ("0", 2), ("45980", 1)]);
        assert_eq!((maximum, states[2]), (1.0, MarkState::NotTaken));
        assert_eq!(codes, ["date-in-answers"]);
    }
}
