//! Bar graph, picture graph and clock: heights, discs and hands stand where the numbers say, on scales from 0.
//! A bar may end between two lines; hands turn by whole minutes (`hands_of_a_clock_stand_where_the_time_is`).

use super::canvas::{Anchor, Canvas, Face, Stroke, around};

/// Width of a bar and of the space before it.
const BAR: f64 = 50.0;
const SPACE: f64 = 34.0;

/// `step value … name …`: bars over lines that go up in equal steps from 0.
pub(super) fn bars(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let (step, values) = numbers.split_first()?;
    let highest = values.iter().max()?.checked_div(*step)?;
    if values.len() != words.len() || values.len() > 5 || highest > 20 || *step > 1_000 {
        return None;
    }
    let (gap, left) = (16.0, 46.0);
    let low = 14.0 + f64::from(highest + 1) * gap;
    let right = left + SPACE + values.len() as f64 * (BAR + SPACE);
    let mut canvas = Canvas::new(right + 6.0, low + 30.0);
    for line in 0..=highest + 1 {
        let (stroke, y) = (if line == 0 { Stroke::Plain } else { Stroke::Faint }, low - f64::from(line) * gap);
        canvas.line((left, y), (right, y), stroke);
        canvas.small_text((left - 8.0, y), &(line * step).to_string(), Anchor::End);
    }
    for ((bar, value), name) in (0_u32..).zip(values).zip(words) {
        let x = left + SPACE + f64::from(bar) * (BAR + SPACE);
        let height = f64::from(*value) * gap / f64::from(*step);
        canvas.rect((x, low - height), (BAR, height), Face::Dark);
        canvas.text((x + BAR / 2.0, low + 16.0), name, Anchor::Middle);
    }
    canvas.line((left, 14.0), (left, low), Stroke::Plain);
    Some(canvas)
}

/// `wholes each row thing`: a row of a picture graph, whole discs and a half one, and what one disc stands for.
pub(super) fn symbols(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([wholes, each], [row, thing]) = (numbers, words) else { return None };
    if *wholes > 10 || !(1..=1_000).contains(each) {
        return None;
    }
    let (radius, pitch, left, y, key) = (13.0, 34.0, 92.0, 26.0, 76.0);
    let middle = |disc: u32| left + f64::from(disc) * pitch + radius;
    let mut canvas = Canvas::new((middle(*wholes) + 2.0 * radius).max(240.0), key + 20.0);
    canvas.text((8.0, y), row, Anchor::Start);
    canvas.line((left - 12.0, 6.0), (left - 12.0, 46.0), Stroke::Plain);
    (0..*wholes).for_each(|disc| canvas.circle((middle(disc), y), radius, Face::Dark));
    canvas.half_disc((middle(*wholes), y), radius, Face::Dark);
    canvas.text((8.0, key), "Key:", Anchor::Start);
    canvas.circle((66.0, key), radius, Face::Dark);
    canvas.text((88.0, key), &format!("= {each} {thing}"), Anchor::Start);
    Some(canvas)
}

/// `minutes`: a clock face, so many minutes after twelve.
pub(super) fn clock(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([minutes], []) = (numbers, words) else { return None };
    if *minutes >= 12 * 60 {
        return None;
    }
    let (centre, radius) = ((96.0, 96.0), 88.0);
    // Clocks go with the clock and begin at the top.
    let at = |sixtieths: f64, far: f64| around(centre, 90.0 - sixtieths * 6.0, far);
    let mut canvas = Canvas::new(192.0, 192.0);
    canvas.circle(centre, radius, Face::White);
    for minute in 0..60_u32 {
        let reach = if minute % 5 == 0 { 8.0 } else { 4.0 };
        canvas.line(at(f64::from(minute), radius - reach), at(f64::from(minute), radius), Stroke::Plain);
    }
    for hour in 1..=12_u32 {
        canvas.number(at(f64::from(hour * 5), radius - 19.0), hour);
    }
    // The hour hand is short and thick.
    canvas.line(centre, at(f64::from(*minutes) / 12.0, 40.0), Stroke::Bold);
    canvas.line(centre, at(f64::from(minutes % 60), 64.0), Stroke::Plain);
    canvas.circle(centre, 4.0, Face::Black);
    Some(canvas)
}
