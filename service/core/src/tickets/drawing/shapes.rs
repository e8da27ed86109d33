//! Flat shapes with the lengths of their sides, standing level or turned; two pieces of line at one slant.
//! A corner of 90 degrees has a small square in it, for a child cannot be asked to see it.

use super::canvas::{Anchor, Canvas, Face, Place, Stroke};

/// Room for one shape, alone or beside others, and its longest side on paper.
const ALONE: (f64, f64) = (196.0, 100.0);
const BESIDE: (f64, f64) = (164.0, 84.0);
/// Names of shapes side by side.
const NAMES: [&str; 3] = ["X", "Y", "Z"];

/// A shape before it is turned.
struct Shape {
    /// Corners against the clock from the lower left, across and up.
    corners: Vec<Place>,
    /// Which sides have which length written beside them.
    lengths: Vec<(usize, u32)>,
    /// Corners of 90 degrees.
    square_corners: Vec<usize>,
}

/// `long short name turned …`: shapes side by side, lettered where there are several, each turned against the clock.
pub(super) fn shapes(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let [long, short, turns @ ..] = numbers else { return None };
    let is_length = |n: &u32| (1..=60).contains(n);
    let is_asked = (1..=NAMES.len()).contains(&words.len()) && words.len() == turns.len();
    if !is_asked || !is_length(long) || !is_length(short) || turns.iter().any(|turn| *turn >= 360) {
        return None;
    }
    let ((room, longest), name_room) = if words.len() > 1 { (BESIDE, 26.0) } else { (ALONE, 0.0) };
    let mut canvas = Canvas::new(words.len() as f64 * room, room + name_room);
    let unit = longest / f64::from(*long.max(short));
    for (((place, word), turn), name) in (0_u32..).zip(words).zip(turns).zip(NAMES) {
        let centre = (f64::from(place) * room + room / 2.0, room / 2.0);
        draw(&mut canvas, &shape(word, *long, *short)?, (f64::from(*turn), unit), centre)?;
        if words.len() > 1 {
            canvas.text((centre.0, room + 10.0), name, Anchor::Middle);
        }
    }
    Some(canvas.fitted())
}

fn shape(name: &str, long: u32, short: u32) -> Option<Shape> {
    let (l, s) = (f64::from(long), f64::from(short));
    let level = |wide: f64, high: f64| vec![(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)];
    let all = || vec![0, 1, 2, 3];
    Some(match name {
        "square" => {
            Shape { corners: level(s, s), lengths: (0..4).map(|side| (side, short)).collect(), square_corners: all() }
        }
        "rectangle" => Shape {
            corners: level(l, s),
            lengths: vec![(0, long), (1, short), (2, long), (3, short)],
            square_corners: all(),
        },
        "rhombus" => {
            let (across, up) = (s * 0.42, s * (1.0 - 0.42_f64 * 0.42).sqrt());
            let corners = vec![(0.0, 0.0), (s, 0.0), (s + across, up), (across, up)];
            Shape { corners, lengths: (0..4).map(|side| (side, short)).collect(), square_corners: Vec::new() }
        }
        "right-triangle" => Shape {
            corners: vec![(0.0, 0.0), (l, 0.0), (0.0, s)],
            lengths: vec![(0, long), (2, short)],
            square_corners: vec![0],
        },
        "trapezoid" if long > short => {
            let (inset, up) = ((l - s) / 3.0, l * 0.5);
            let corners = vec![(0.0, 0.0), (l, 0.0), (inset + s, up), (inset, up)];
            Shape { corners, lengths: vec![(0, long), (2, short)], square_corners: Vec::new() }
        }
        _ => return None,
    })
}

fn draw(canvas: &mut Canvas, shape: &Shape, (degrees, unit): (f64, f64), centre: Place) -> Option<()> {
    let corners = on_paper(&shape.corners, degrees, unit, centre);
    canvas.outline(&corners, Face::White);
    for corner in &shape.square_corners {
        let after = corners.get((corner + 1) % corners.len())?;
        let before = corners.get((corner + corners.len() - 1) % corners.len())?;
        let at = *corners.get(*corner)?;
        let (a, b) = (toward(at, *after), toward(at, *before));
        let inner = (a.0 + b.0 - at.0, a.1 + b.1 - at.1);
        canvas.line(a, inner, Stroke::Plain);
        canvas.line(b, inner, Stroke::Plain);
    }
    for (side, length) in &shape.lengths {
        canvas.number(outside(&corners, *side, centre)?, *length);
    }
    Some(())
}

/// The place a small step from one place on the way to another.
fn toward(from: Place, to: Place) -> Place {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy).max(1.0);
    let far = (length * 0.3).min(11.0);
    (from.0 + dx * far / length, from.1 + dy * far / length)
}

/// The corners on paper: turned about the middle of the shape, at so many pixels a unit.
fn on_paper(corners: &[Place], degrees: f64, unit: f64, centre: Place) -> Vec<Place> {
    let middle = |pick: fn(&Place) -> f64| {
        let (low, high) = corners
            .iter()
            .map(pick)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        (low + high) / 2.0
    };
    let (mx, my) = (middle(|c| c.0), middle(|c| c.1));
    let (sin, cos) = degrees.to_radians().sin_cos();
    let place = |(x, y): &Place| {
        let (x, y) = ((x - mx) * unit, (y - my) * unit);
        (centre.0 + x * cos - y * sin, centre.1 - x * sin - y * cos)
    };
    corners.iter().map(place).collect()
}

/// A place beside the middle of a side, away from the centre.
fn outside(corners: &[Place], side: usize, centre: Place) -> Option<Place> {
    let (a, b) = (corners.get(side)?, corners.get((side + 1) % corners.len())?);
    let middle = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
    let (dx, dy) = (b.1 - a.1, a.0 - b.0);
    let away = ((middle.0 - centre.0) * dx + (middle.1 - centre.1) * dy).signum();
    let step = away * 16.0 / dx.hypot(dy).max(1.0);
    Some((middle.0 + dx * step, middle.1 + dy * step))
}

/// `length length`: two straight pieces at one slant, side by side, with their lengths.
pub(super) fn tracks(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([first, second], []) = (numbers, words) else { return None };
    if numbers.iter().any(|length| !(1..=16).contains(length)) {
        return None;
    }
    let mut canvas = Canvas::new(400.0, 170.0);
    for (place, length) in [(0.0, *first), (1.0, *second)] {
        // Four along and one up for each unit, so that both pieces have one slant.
        let from = (20.0, 108.0 + place * 44.0);
        let to = (from.0 + f64::from(length) * 12.0, from.1 - f64::from(length) * 3.0);
        canvas.line(from, to, Stroke::Bold);
        canvas.text((to.0 + 10.0, to.1), &format!("{length} cm"), Anchor::Start);
    }
    Some(canvas.fitted())
}
