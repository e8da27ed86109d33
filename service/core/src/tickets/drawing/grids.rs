//! Pictures on squares: rows of unit squares, a floor under a rug, points on a grid; and equal groups of dots.
//! Every square and dot is there to be counted, but those under the rug (`what_is_drawn_is_what_was_asked_for`).

use super::canvas::{Anchor, Canvas, Face, Stroke};
use super::pairs;

/// Side of a square.
const SQUARE: f64 = 22.0;
/// Left and upper edge.
const EDGE: f64 = 10.0;
/// Most squares along one side.
const MOST_ALONG: u32 = 20;
/// Last number of both axes, and how far their numbers stand apart.
const LAST: u32 = 10;
const STEP: f64 = 17.0;

fn is_along(n: u32) -> bool {
    (1..=MOST_ALONG).contains(&n)
}

/// `squares squares …`: rows of unit squares from the top, all starting at the left.
pub(super) fn squares(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let longest = numbers.iter().copied().max()?;
    if !words.is_empty() || numbers.len() > MOST_ALONG as usize || !numbers.iter().copied().all(is_along) {
        return None;
    }
    let mut canvas = Canvas::new(f64::from(longest) * SQUARE + 2.0 * EDGE, numbers.len() as f64 * SQUARE + 2.0 * EDGE);
    for (row, n_squares) in (0_u32..).zip(numbers) {
        for column in 0..*n_squares {
            canvas.rect(corner(column, row), (SQUARE, SQUARE), Face::White);
        }
    }
    Some(canvas)
}

fn corner(column: u32, row: u32) -> (f64, f64) {
    (EDGE + f64::from(column) * SQUARE, EDGE + f64::from(row) * SQUARE)
}

/// `columns rows`: a floor of square tiles, all but the outermost under a rug.
pub(super) fn covered(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([columns, rows], []) = (numbers, words) else { return None };
    if !(3..=MOST_ALONG).contains(columns) || !(3..=MOST_ALONG).contains(rows) {
        return None;
    }
    let lines = vec![*columns; *rows as usize];
    let mut canvas = squares(&lines, &[])?;
    let (width, height) = (f64::from(columns - 2) * SQUARE, f64::from(rows - 2) * SQUARE);
    canvas.rect(corner(1, 1), (width, height), Face::Light);
    Some(canvas)
}

/// `x y …`: points on a grid from 0 to 10, joined in order.
pub(super) fn points(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let points = pairs(numbers).filter(|points| !points.is_empty() && words.is_empty())?;
    if points.iter().any(|(x, y)| *x > LAST || *y > LAST) {
        return None;
    }
    let (left, low) = (30.0, 12.0 + f64::from(LAST) * STEP);
    let place = |x: u32, y: u32| (left + f64::from(x) * STEP, low - f64::from(y) * STEP);
    let mut canvas = Canvas::new(left + f64::from(LAST) * STEP + 14.0, low + 26.0);
    for n in 0..=LAST {
        let stroke = if n == 0 { Stroke::Plain } else { Stroke::Faint };
        canvas.line(place(n, 0), place(n, LAST), stroke);
        canvas.line(place(0, n), place(LAST, n), stroke);
        let ((x, y), (side, level)) = (place(n, 0), place(0, n));
        canvas.small_text((x, y + 14.0), &n.to_string(), Anchor::Middle);
        canvas.small_text((side - 7.0, level), &n.to_string(), Anchor::End);
    }
    for pair in points.windows(2) {
        if let [(a, b), (c, d)] = pair {
            canvas.line(place(*a, *b), place(*c, *d), Stroke::Bold);
        }
    }
    points.iter().for_each(|(x, y)| canvas.dot(place(*x, *y)));
    Some(canvas)
}

/// `groups each`: equal groups of dots, each in a frame.
pub(super) fn sets(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([groups, each], []) = (numbers, words) else { return None };
    if !(1..=12).contains(groups) || !(1..=24).contains(each) {
        return None;
    }
    let columns = if *each > 4 { 3 } else { 2 };
    let (width, height) = (f64::from(columns) * 16.0 + 10.0, f64::from(each.div_ceil(columns)) * 16.0 + 10.0);
    let in_line = ((440.0 / (width + 10.0)) as u32).clamp(1, *groups);
    let n_lines = f64::from(groups.div_ceil(in_line));
    let mut canvas = Canvas::new(2.0 * EDGE + f64::from(in_line) * (width + 10.0), EDGE + n_lines * (height + 10.0));
    for group in 0..*groups {
        let x = EDGE + f64::from(group % in_line) * (width + 10.0);
        let y = EDGE + f64::from(group / in_line) * (height + 10.0);
        canvas.rect((x, y), (width, height), Face::White);
        for dot in 0..*each {
            let at = (x + 13.0 + f64::from(dot % columns) * 16.0, y + 13.0 + f64::from(dot / columns) * 16.0);
            canvas.circle(at, 5.0, Face::Dark);
        }
    }
    Some(canvas)
}
