//! Pictures of areas: strips and squares in equal parts, rectangles with their lengths, fields to multiply in.
//! Parts of one picture have one size; lengths are drawn to scale.

use super::canvas::{Anchor, Canvas, Face, Place, Stroke};
use super::pairs;

/// Left and upper edge of what is drawn.
const EDGE: f64 = 10.0;
/// Length of a strip.
const LONG: f64 = 440.0;
/// Side of a square that is cut into parts.
const SIDE: f64 = 180.0;
/// Most parts of one strip: what can be told apart on paper.
const MOST_PARTS: u32 = 48;
/// Most columns or rows.
const MOST_ALONG: u32 = 20;
/// Longest side of a rectangle with lengths, in its own units.
const LONGEST: u32 = 100;
/// Room for the length beside and above a rectangle.
const BESIDE: f64 = 40.0;
const ABOVE: f64 = 28.0;

/// `parts dark …`: strips of one length, one below the other; the first parts are dark.
pub(super) fn strips(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let strips = pairs(numbers).filter(|strips| !strips.is_empty() && strips.len() <= 6 && words.is_empty())?;
    let (height, gap) = (36.0, 14.0);
    let mut canvas = Canvas::new(LONG + 2.0 * EDGE, 2.0 * EDGE + strips.len() as f64 * (height + gap) - gap);
    let mut y = EDGE;
    for (parts, dark) in strips {
        if !(1..=MOST_PARTS).contains(&parts) || dark > parts {
            return None;
        }
        let part = LONG / f64::from(parts);
        for place in 0..parts {
            canvas.rect((EDGE + f64::from(place) * part, y), (part, height), Face::first(dark, place));
        }
        y += height + gap;
    }
    Some(canvas)
}

/// `columns rows dark-columns dark-rows`: a square in equal columns and rows, with a dark corner.
pub(super) fn area(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([columns, rows, dark_columns, dark_rows], []) = (numbers, words) else { return None };
    let is_along = |n: &u32| (1..=MOST_ALONG).contains(n);
    if !is_along(columns) || !is_along(rows) || dark_columns > columns || dark_rows > rows {
        return None;
    }
    let (width, height) = (SIDE / f64::from(*columns), SIDE / f64::from(*rows));
    let mut canvas = Canvas::new(SIDE + 2.0 * EDGE, SIDE + 2.0 * EDGE);
    for row in 0..*rows {
        for column in 0..*columns {
            let at = (EDGE + f64::from(column) * width, EDGE + f64::from(row) * height);
            let face = if row < *dark_rows { Face::first(*dark_columns, column) } else { Face::White };
            canvas.rect(at, (width, height), face);
        }
    }
    Some(canvas)
}

/// `parts`: a square in equal upright parts, the last of which is cut in half; one half is dark.
pub(super) fn pieces(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([parts], []) = (numbers, words) else { return None };
    if !(2..=12).contains(parts) {
        return None;
    }
    let width = SIDE / f64::from(*parts);
    let mut canvas = Canvas::new(SIDE + 2.0 * EDGE, SIDE + 2.0 * EDGE);
    for part in 0..parts - 1 {
        canvas.rect((EDGE + f64::from(part) * width, EDGE), (width, SIDE), Face::White);
    }
    let x = EDGE + f64::from(parts - 1) * width;
    canvas.rect((x, EDGE), (width, SIDE / 2.0), Face::Dark);
    canvas.rect((x, EDGE + SIDE / 2.0), (width, SIDE / 2.0), Face::White);
    Some(canvas)
}

/// Length of one unit on paper where the longest side is so many.
fn unit_for(longest: u32) -> f64 {
    (240.0 / f64::from(longest.max(1))).min(24.0)
}

fn are_lengths(lengths: &[u32]) -> bool {
    lengths.iter().all(|length| (1..=LONGEST).contains(length))
}

/// `high wide [wide]`: a rectangle with its lengths; with a second width it is cut there.
pub(super) fn rectangle(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let (high, first, second) = match (numbers, words) {
        ([high, wide], []) => (*high, *wide, 0),
        ([high, first, second], []) if *second > 0 => (*high, *first, *second),
        _ => return None,
    };
    if !are_lengths(&[high, first, first.checked_add(second)?]) {
        return None;
    }
    let unit = unit_for(high.max(first + second));
    let (height, left, cut) = (f64::from(high) * unit, BESIDE, BESIDE + f64::from(first) * unit);
    let right = cut + f64::from(second) * unit;
    let mut canvas = Canvas::new(right + EDGE, ABOVE + height + EDGE);
    canvas.rect((left, ABOVE), (right - left, height), Face::White);
    canvas.number(((left + cut) / 2.0, ABOVE - 14.0), first);
    if second > 0 {
        canvas.line((cut, ABOVE), (cut, ABOVE + height), Stroke::Dashed);
        canvas.number(((cut + right) / 2.0, ABOVE - 14.0), second);
    }
    canvas.text((left - 8.0, ABOVE + height / 2.0), &high.to_string(), Anchor::End);
    Some(canvas)
}

/// `wide high missing-wide missing-high`: a rectangle without its upper right corner, with the four lengths that make it.
pub(super) fn corner(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([wide, high, x, y], []) = (numbers, words) else { return None };
    if !are_lengths(&[*wide, *high, *x, *y]) || x >= wide || y >= high {
        return None;
    }
    let unit = unit_for(*wide.max(high));
    let at = |across: u32, down: u32| (BESIDE + f64::from(across) * unit, ABOVE + f64::from(down) * unit);
    let mut canvas = Canvas::new(at(*wide, 0).0 + BESIDE, at(0, *high).1 + ABOVE);
    let inner = wide - x;
    let corners = [at(0, 0), at(inner, 0), at(inner, *y), at(*wide, *y), at(*wide, *high), at(0, *high)];
    canvas.outline(&corners, Face::White);
    canvas.line(at(inner, 0), at(*wide, 0), Stroke::Dashed);
    canvas.line(at(*wide, 0), at(*wide, *y), Stroke::Dashed);
    canvas.number(between(at(0, *high), at(*wide, *high), (0.0, 15.0)), *wide);
    canvas.text(between(at(0, 0), at(0, *high), (-8.0, 0.0)), &high.to_string(), Anchor::End);
    canvas.number(between(at(inner, 0), at(*wide, 0), (0.0, -14.0)), *x);
    canvas.text(between(at(*wide, 0), at(*wide, *y), (8.0, 0.0)), &y.to_string(), Anchor::Start);
    Some(canvas)
}

/// The middle of two places, and a step aside.
fn between(a: Place, b: Place, aside: Place) -> Place {
    ((a.0 + b.0) / 2.0 + aside.0, (a.1 + b.1) / 2.0 + aside.1)
}

/// `long wide up`: an L of a level strip and one that stands on its left end; both are as wide.
pub(super) fn joined(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([long, wide, up], []) = (numbers, words) else { return None };
    if !are_lengths(&[*long, *wide, *up, wide.checked_add(*up)?]) || wide >= long {
        return None;
    }
    let unit = unit_for(*long.max(&(wide + up)));
    let at = |across: u32, down: u32| (BESIDE + f64::from(across) * unit, ABOVE + f64::from(down) * unit);
    let (low, right) = (wide + up, *long);
    let mut canvas = Canvas::new(at(right, 0).0 + BESIDE, at(0, low).1 + ABOVE);
    canvas.rect(at(0, 0), (f64::from(*wide) * unit, f64::from(*up) * unit), Face::White);
    canvas.rect(at(0, *up), (f64::from(*long) * unit, f64::from(*wide) * unit), Face::White);
    canvas.number(between(at(0, 0), at(*wide, 0), (0.0, -14.0)), *wide);
    canvas.text(between(at(0, 0), at(0, *up), (-8.0, 0.0)), &up.to_string(), Anchor::End);
    canvas.number(between(at(0, low), at(right, low), (0.0, 15.0)), *long);
    canvas.text(between(at(right, *up), at(right, low), (8.0, 0.0)), &wide.to_string(), Anchor::Start);
    Some(canvas)
}

/// `tens ones tens ones`: a rectangle in four empty fields to multiply in; the first two numbers stand along the top.
pub(super) fn fields(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([top_tens, top_ones, side_tens, side_ones], []) = (numbers, words) else { return None };
    if numbers.iter().any(|n| !(1..=1_000).contains(n)) {
        return None;
    }
    let columns = [(*top_tens, BESIDE, 150.0), (*top_ones, BESIDE + 150.0, 90.0)];
    let rows = [(*side_tens, ABOVE, 70.0), (*side_ones, ABOVE + 70.0, 46.0)];
    let mut canvas = Canvas::new(BESIDE + 240.0 + EDGE, ABOVE + 116.0 + EDGE);
    for (_, x, width) in columns {
        for (_, y, height) in rows {
            canvas.rect((x, y), (width, height), Face::White);
        }
    }
    columns.iter().for_each(|(number, x, width)| canvas.number((x + width / 2.0, ABOVE - 14.0), *number));
    for (number, y, height) in rows {
        canvas.text((BESIDE - 8.0, y + height / 2.0), &number.to_string(), Anchor::End);
    }
    Some(canvas)
}
