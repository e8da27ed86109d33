//! Angles in parts, angles side by side, a protractor. Degrees go against the clock from the right.
//! Of an angle in parts the last one is never written: it is what the child is asked for (`what_is_drawn_is_what_was_asked_for`).

use super::canvas::{Anchor, Canvas, Face, Stroke, around};
use super::pairs;

/// Names of angles side by side.
const NAMES: [&str; 3] = ["P", "Q", "R"];

/// `degrees degrees …`: an angle with a level side, cut by rays; each part has its degrees, the last one a question mark.
pub(super) fn rays(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let is_cut = (2..=4).contains(&numbers.len()) && words.is_empty();
    let parts: Vec<(u32, u32)> = [0].iter().chain(numbers).zip(numbers).map(|(low, high)| (*low, *high)).collect();
    if !is_cut || parts.iter().any(|(low, high)| low + 5 > *high || *high > 180) {
        return None;
    }
    let (corner, side) = ((160.0, 150.0), 140.0);
    let mut canvas = Canvas::new(320.0, 166.0);
    canvas.line(corner, around(corner, 0.0, side), Stroke::Bold);
    for (part, (low, high)) in (1_u32..).zip(&parts) {
        let (from, to) = (f64::from(*low), f64::from(*high));
        canvas.line(corner, around(corner, to, side), Stroke::Bold);
        let radius = 26.0 + 10.0 * f64::from(part);
        canvas.arc(around(corner, from, radius), around(corner, to, radius), radius);
        let label = if part as usize == parts.len() { "?".to_owned() } else { format!("{}°", high - low) };
        // In a narrow part there is room only far from the corner.
        let far = if high - low < 25 { 112.0 } else { 84.0 };
        canvas.text(around(corner, (from + to) / 2.0, far), &label, Anchor::Middle);
    }
    Some(canvas.fitted())
}

/// `degrees turned …`: angles side by side, lettered, each turned, with sides of different length.
pub(super) fn angles(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let angles = pairs(numbers).filter(|angles| (1..=NAMES.len()).contains(&angles.len()) && words.is_empty())?;
    if angles.iter().any(|(degrees, turned)| !(5..=180).contains(degrees) || *turned >= 360) {
        return None;
    }
    let room = 150.0;
    let mut canvas = Canvas::new(angles.len() as f64 * room, 184.0);
    for ((place, (degrees, turned)), name) in (0_u32..).zip(&angles).zip(NAMES) {
        let n = f64::from(place);
        let middle = (n * room + room / 2.0, 82.0);
        let (from, to) = (f64::from(*turned), f64::from(turned + degrees));
        // The corner lies opposite to where the angle opens, so that the picture stays in its room.
        let corner = around(middle, (from + to) / 2.0 + 180.0, 34.0);
        canvas.line(corner, around(corner, from, 92.0 - 14.0 * n), Stroke::Bold);
        canvas.line(corner, around(corner, to, 64.0 + 10.0 * n), Stroke::Bold);
        canvas.arc(around(corner, from, 22.0), around(corner, to, 22.0), 22.0);
        canvas.text((middle.0, 172.0), name, Anchor::Middle);
    }
    Some(canvas.fitted())
}

/// `degrees`: a protractor with two rows of numbers on an angle; its first side runs through 0 of the inner row.
pub(super) fn protractor(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([degrees], []) = (numbers, words) else { return None };
    if !(1..180).contains(degrees) {
        return None;
    }
    let (centre, radius) = ((212.0, 208.0), 180.0);
    let at = |degrees: u32, far: f64| around(centre, f64::from(degrees), far);
    let mut canvas = Canvas::new(424.0, 228.0);
    canvas.arc(at(0, radius), at(180, radius), radius);
    canvas.line(at(180, radius), at(0, radius), Stroke::Plain);
    for mark in (0..=180).step_by(5) {
        let reach = if mark % 10 == 0 { 12.0 } else { 7.0 };
        canvas.line(at(mark, radius - reach), at(mark, radius), Stroke::Faint);
        if mark % 10 == 0 {
            // Under the base line at both ends, where a number would lie on it.
            let down = if mark % 180 == 0 { 11.0 } else { 0.0 };
            for (far, number) in [(24.0, 180 - mark), (50.0, mark)] {
                let (x, y) = at(mark, radius - far);
                canvas.small_text((x, y + down), &number.to_string(), Anchor::Middle);
            }
        }
    }
    canvas.line(centre, at(0, radius + 18.0), Stroke::Bold);
    canvas.line(centre, at(*degrees, radius + 18.0), Stroke::Bold);
    canvas.circle(centre, 3.0, Face::Black);
    Some(canvas)
}
