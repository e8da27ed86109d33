//! Pictures along a line: number lines, ruler, upright scale, line plot.
//! Only whole numbers are written on a number line; every mark is a multiple of one step.

use super::canvas::{Anchor, Canvas, Face, Stroke};
use super::pairs;

/// Length of a line.
const LONG: f64 = 440.0;
/// Room at both ends, for numbers and ends of lines.
const EDGE: f64 = 20.0;
/// Most steps of a line: what can be told apart on paper.
const MOST_STEPS: u32 = 48;
/// Most marks above one place of a line plot.
const MOST_MARKS: u32 = 12;

/// `end parts [dot]`: a line from 0 to `end`, each whole in `parts` steps, a dot after a step.
pub(super) fn line(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let (line, dot) = match (numbers, words) {
        ([end, parts], []) => (Axis::new(0, *end, *parts)?, None),
        ([end, parts, dot], []) => (Axis::new(0, *end, *parts)?, Some(*dot)),
        _ => return None,
    };
    let mut canvas = Canvas::new(LONG + 2.0 * EDGE, 60.0);
    line.draw(&mut canvas, EDGE);
    line.dot(&mut canvas, EDGE, dot)?;
    Some(canvas)
}

/// `end above dot below`: two lines of one length, with different steps; a dot on the upper one.
pub(super) fn two_lines(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([end, above, dot, below], []) = (numbers, words) else { return None };
    let mut canvas = Canvas::new(LONG + 2.0 * EDGE, 120.0);
    let upper = Axis::new(0, *end, *above)?;
    upper.draw(&mut canvas, EDGE);
    upper.dot(&mut canvas, EDGE, Some(*dot))?;
    Axis::new(0, *end, *below)?.draw(&mut canvas, EDGE + 60.0);
    Some(canvas)
}

/// `number`: a line from 0 that goes on to the right; one other number is on it, halfway along.
pub(super) fn halfway(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([number], []) = (numbers, words) else { return None };
    let (y, tip) = (EDGE, EDGE + LONG);
    let mut canvas = Canvas::new(LONG + 2.0 * EDGE, 60.0);
    canvas.line((EDGE, y), (tip, y), Stroke::Plain);
    canvas.outline(&[(tip, y), (tip - 9.0, y - 5.0), (tip - 9.0, y + 5.0)], Face::Black);
    for (x, number) in [(EDGE, 0), (EDGE + LONG / 2.0, *number)] {
        canvas.line((x, y - 10.0), (x, y + 10.0), Stroke::Plain);
        canvas.number((x, y + 24.0), number);
    }
    Some(canvas)
}

/// `last parts begin end`: a ruler from 0 to `last`, with a strip above it from one step to another.
pub(super) fn ruler(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([last, parts, begin, end], []) = (numbers, words) else { return None };
    let axis = Axis::new(0, *last, *parts)?;
    if begin >= end || *end > axis.steps() {
        return None;
    }
    let (top, left, right) = (46.0, axis.x(*begin), axis.x(*end));
    let mut canvas = Canvas::new(LONG + 2.0 * EDGE, 108.0);
    canvas.rect((left, 10.0), (right - left, 18.0), Face::Dark);
    canvas.rect((EDGE - 12.0, top), (LONG + 24.0, 54.0), Face::White);
    for step in 0..=axis.steps() {
        let is_whole = step % axis.parts == 0;
        let reach = if is_whole { 22.0 } else { 12.0 };
        canvas.line((axis.x(step), top), (axis.x(step), top + reach), Stroke::Plain);
        if is_whole {
            canvas.number((axis.x(step), top + 36.0), step / axis.parts);
        }
    }
    for x in [left, right] {
        canvas.line((x, 10.0), (x, top), Stroke::Dashed);
    }
    Some(canvas)
}

/// `from step spaces level unit`: an upright scale with numbers at both ends, filled up to a mark.
pub(super) fn scale(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([from, step, spaces, level], [unit]) = (numbers, words) else { return None };
    if !(1..=20).contains(spaces) || level > spaces || *step == 0 {
        return None;
    }
    let last = from.checked_add(step.checked_mul(*spaces)?)?;
    let gap = 120.0 / f64::from(*spaces);
    let (left, right, low, bottom) = (20.0, 110.0, 150.0, 180.0);
    let y = |mark: u32| low - f64::from(mark) * gap;
    let mut canvas = Canvas::new(230.0, 190.0);
    canvas.rect((left, y(*level)), (right - left, bottom - y(*level)), Face::Light);
    canvas.line((left, 10.0), (left, bottom), Stroke::Bold);
    canvas.line((right, 10.0), (right, bottom), Stroke::Bold);
    canvas.line((left, bottom), (right, bottom), Stroke::Bold);
    for mark in 0..=*spaces {
        let reach = if mark % spaces == 0 { 32.0 } else { 20.0 };
        canvas.line((right - reach, y(mark)), (right, y(mark)), Stroke::Plain);
    }
    for (mark, number) in [(0, *from), (*spaces, last)] {
        canvas.text((right + 10.0, y(mark)), &format!("{number} {unit}"), Anchor::Start);
    }
    Some(canvas)
}

/// `low high parts step marks …`: a line plot; after its scale, a step from the first number and the marks above it.
pub(super) fn plot(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([low, high, parts, stacks @ ..], []) = (numbers, words) else { return None };
    let axis = Axis::new(*low, *high, *parts)?;
    let stacks = pairs(stacks)?;
    if stacks.iter().any(|(step, n_marks)| *step > axis.steps() || *n_marks > MOST_MARKS) {
        return None;
    }
    let tallest = stacks.iter().map(|(_, n_marks)| *n_marks).max()?;
    let y = EDGE + f64::from(tallest) * 16.0;
    let mut canvas = Canvas::new(LONG + 2.0 * EDGE, y + 48.0);
    axis.draw_named(&mut canvas, y);
    for (step, n_marks) in stacks {
        for mark in 0..n_marks {
            let (x, middle) = (axis.x(step), y - 20.0 - f64::from(mark) * 16.0);
            canvas.line((x - 5.0, middle - 5.0), (x + 5.0, middle + 5.0), Stroke::Plain);
            canvas.line((x - 5.0, middle + 5.0), (x + 5.0, middle - 5.0), Stroke::Plain);
        }
    }
    Some(canvas)
}

/// A line from one whole number to another in equal steps.
struct Axis {
    low: u32,
    high: u32,
    parts: u32,
}

impl Axis {
    fn new(low: u32, high: u32, parts: u32) -> Option<Self> {
        let steps = high.checked_sub(low)?.checked_mul(parts)?;
        (1..=MOST_STEPS).contains(&steps).then_some(Axis { low, high, parts })
    }

    fn steps(&self) -> u32 {
        (self.high - self.low) * self.parts
    }

    fn x(&self, step: u32) -> f64 {
        EDGE + f64::from(step) * LONG / f64::from(self.steps())
    }

    /// Short marks at every step and long ones at whole numbers, which are written below.
    fn draw(&self, canvas: &mut Canvas, y: f64) {
        canvas.line((EDGE, y), (EDGE + LONG, y), Stroke::Plain);
        for step in 0..=self.steps() {
            let is_whole = step % self.parts == 0;
            let reach = if is_whole { 10.0 } else { 6.0 };
            canvas.line((self.x(step), y - reach), (self.x(step), y + reach), Stroke::Plain);
            if is_whole {
                canvas.number((self.x(step), y + 24.0), self.low + step / self.parts);
            }
        }
    }

    /// As [`Axis::draw`], with the fraction below every other mark too.
    fn draw_named(&self, canvas: &mut Canvas, y: f64) {
        self.draw(canvas, y);
        for step in (0..=self.steps()).filter(|step| step % self.parts != 0) {
            let (whole, x) = (self.low + step / self.parts, self.x(step));
            let shift = if whole > 0 { 7.0 } else { 0.0 };
            if whole > 0 {
                canvas.text((x - 3.0, y + 26.0), &whole.to_string(), Anchor::End);
            }
            canvas.fraction((x + shift, y + 26.0), step % self.parts, self.parts);
        }
    }

    fn dot(&self, canvas: &mut Canvas, y: f64, step: Option<u32>) -> Option<()> {
        match step {
            Some(step) if step > self.steps() => None,
            Some(step) => {
                canvas.dot((self.x(step), y));
                Some(())
            }
            None => Some(()),
        }
    }
}
