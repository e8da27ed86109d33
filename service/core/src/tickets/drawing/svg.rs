//! A picture as SVG: lines of one black, dark parts grey with a border, no colour and no script.
//!
//! In:  a [`Drawing`] and its text alternative. Out: one `svg` element that can stand in a page.
//! Sizes are in units of a fortieth of an inch or so; the page scales them.

use super::{Drawing, NumberLine};
use std::fmt::Write as _;

/// Width of strips, lines and plots.
const WIDE: f64 = 440.0;
/// Room at every edge, for numbers and ends of lines.
const EDGE: f64 = 20.0;
/// Edge of a unit square.
const SQUARE: f64 = 22.0;

/// What is drawn so far.
struct Canvas {
    body: String,
}

impl Canvas {
    fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
        let _ = write!(self.body, "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\"/>");
    }

    fn cell(&mut self, (x, y): (f64, f64), (w, h): (f64, f64), shade: Shade) {
        let fill = shade.fill();
        let _ =
            write!(self.body, "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" fill=\"{fill}\"/>");
    }

    fn dot(&mut self, (x, y): (f64, f64), radius: f64) {
        let _ = write!(self.body, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" fill=\"#000\"/>");
    }

    fn number(&mut self, (x, y): (f64, f64), number: u32) {
        let _ = write!(
            self.body,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"middle\" stroke=\"none\" fill=\"#000\">{number}</text>"
        );
    }

    fn shape(&mut self, corners: &[(f64, f64)]) {
        let points: Vec<String> = corners.iter().map(|(x, y)| format!("{x:.1},{y:.1}")).collect();
        let _ = write!(self.body, "<polygon points=\"{}\" fill=\"#fff\"/>", points.join(" "));
    }
}

/// Dark is a grey that a copier keeps apart from white.
#[derive(Clone, Copy)]
enum Shade {
    White,
    Dark,
}

impl Shade {
    fn first(n_dark: u32, place: u32) -> Self {
        if place < n_dark { Shade::Dark } else { Shade::White }
    }

    fn fill(self) -> &'static str {
        match self {
            Shade::White => "#fff",
            Shade::Dark => "#999",
        }
    }
}

impl Drawing {
    /// The picture as an `svg` element with its text alternative.
    #[must_use]
    pub fn svg(&self, alternative: &str) -> String {
        let mut canvas = Canvas { body: String::new() };
        let (width, height) = match self {
            Drawing::Strips(strips) => draw_strips(&mut canvas, strips),
            Drawing::Lines(lines) => draw_lines(&mut canvas, lines),
            Drawing::Squares(rows) => draw_squares(&mut canvas, rows),
            Drawing::Area(sizes) => draw_area(&mut canvas, *sizes),
            Drawing::Plot { ends, parts, stacks } => draw_plot(&mut canvas, *ends, *parts, stacks),
            Drawing::Points(points) => draw_points(&mut canvas, points),
            Drawing::Rays(degrees) => draw_rays(&mut canvas, degrees),
            Drawing::Clock(minutes) => draw_clock(&mut canvas, *minutes),
            Drawing::Cubes(edges) => draw_cubes(&mut canvas, *edges),
        };
        let words = escaped(alternative);
        format!(
            "<svg role=\"img\" aria-label=\"{words}\" viewBox=\"0 0 {width:.0} {height:.0}\" \
             width=\"{width:.0}\" height=\"{height:.0}\" stroke=\"#000\" stroke-width=\"1.5\" fill=\"none\" font-size=\"15\" \
             font-family=\"sans-serif\"><title>Picture</title><desc>{words}</desc>{}</svg>",
            canvas.body
        )
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn draw_strips(canvas: &mut Canvas, strips: &[(u32, u32)]) -> (f64, f64) {
    let mut y = EDGE / 2.0;
    for (parts, dark) in strips {
        let part = WIDE / f64::from(*parts);
        for place in 0..*parts {
            canvas.cell((EDGE + f64::from(place) * part, y), (part, 36.0), Shade::first(*dark, place));
        }
        y += 50.0;
    }
    (WIDE + 2.0 * EDGE, y)
}

/// A line with short marks at every step and long ones at whole numbers, which are written below.
fn axis(canvas: &mut Canvas, (low, high): (u32, u32), parts: u32, y: f64) -> f64 {
    let steps = high.saturating_sub(low) * parts;
    let step = WIDE / f64::from(steps.max(1));
    canvas.line((EDGE, y), (EDGE + WIDE, y));
    for place in 0..=steps {
        let x = EDGE + f64::from(place) * step;
        let is_whole = place % parts.max(1) == 0;
        let reach = if is_whole { 10.0 } else { 6.0 };
        canvas.line((x, y - reach), (x, y + reach));
        if is_whole {
            canvas.number((x, y + 26.0), low + place / parts.max(1));
        }
    }
    step
}

fn draw_lines(canvas: &mut Canvas, lines: &[NumberLine]) -> (f64, f64) {
    let mut y = EDGE;
    for line in lines {
        let step = axis(canvas, (0, line.end), line.parts, y);
        if let Some(dot) = line.dot {
            canvas.dot((EDGE + f64::from(dot) * step, y), 5.5);
        }
        y += 52.0;
    }
    (WIDE + 2.0 * EDGE, y - 16.0)
}

fn draw_squares(canvas: &mut Canvas, rows: &[u32]) -> (f64, f64) {
    for (row, count) in (0_u32..).zip(rows) {
        for column in 0..*count {
            let corner = (EDGE + f64::from(column) * SQUARE, EDGE / 2.0 + f64::from(row) * SQUARE);
            canvas.cell(corner, (SQUARE, SQUARE), Shade::White);
        }
    }
    let longest = rows.iter().copied().max().unwrap_or(0);
    (f64::from(longest) * SQUARE + 2.0 * EDGE, rows.len() as f64 * SQUARE + EDGE)
}

fn draw_area(canvas: &mut Canvas, [columns, rows, dark_columns, dark_rows]: [u32; 4]) -> (f64, f64) {
    let (w, h) = (180.0 / f64::from(columns), 180.0 / f64::from(rows));
    for row in 0..rows {
        for column in 0..columns {
            let corner = (EDGE + f64::from(column) * w, EDGE / 2.0 + f64::from(row) * h);
            let shade = if row < dark_rows { Shade::first(dark_columns, column) } else { Shade::White };
            canvas.cell(corner, (w, h), shade);
        }
    }
    (180.0 + 2.0 * EDGE, 180.0 + EDGE)
}

/// Marks are crosses, which a copier keeps.
fn draw_plot(canvas: &mut Canvas, ends: (u32, u32), parts: u32, stacks: &[(u32, u32)]) -> (f64, f64) {
    let tallest = stacks.iter().map(|(_, n)| *n).max().unwrap_or(0);
    let y = EDGE + f64::from(tallest) * 16.0;
    let step = axis(canvas, ends, parts, y);
    for (at, n) in stacks {
        let x = EDGE + f64::from(*at) * step;
        for place in 0..*n {
            let middle = y - 20.0 - f64::from(place) * 16.0;
            canvas.line((x - 5.0, middle - 5.0), (x + 5.0, middle + 5.0));
            canvas.line((x - 5.0, middle + 5.0), (x + 5.0, middle - 5.0));
        }
    }
    (WIDE + 2.0 * EDGE, y + 36.0)
}

fn draw_points(canvas: &mut Canvas, points: &[(u32, u32)]) -> (f64, f64) {
    let edge = 2.0 * EDGE;
    let place = |x: u32, y: u32| (edge + f64::from(x) * SQUARE, edge / 2.0 + f64::from(10 - y.min(10)) * SQUARE);
    for n in 0..=10 {
        canvas.line(place(n, 0), place(n, 10));
        canvas.line(place(0, n), place(10, n));
        let ((x, y), (left, level)) = (place(n, 0), place(0, n));
        canvas.number((x, y + 20.0), n);
        canvas.number((left - 16.0, level + 5.0), n);
    }
    for pair in points.windows(2) {
        if let [(a, b), (c, d)] = pair {
            let ((x1, y1), (x2, y2)) = (place(*a, *b), place(*c, *d));
            let _ = write!(
                canvas.body,
                "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" stroke-width=\"4\"/>"
            );
        }
    }
    points.iter().for_each(|(x, y)| canvas.dot(place(*x, *y), 5.5));
    (10.0 * SQUARE + 1.5 * edge, 10.0 * SQUARE + 1.5 * edge)
}

fn draw_rays(canvas: &mut Canvas, degrees: &[u32]) -> (f64, f64) {
    const LONG: f64 = 150.0;
    let start = (EDGE + LONG, EDGE + LONG);
    for degree in [0].iter().chain(degrees) {
        let turn = f64::from(*degree).to_radians();
        canvas.line(start, (start.0 + LONG * turn.cos(), start.1 - LONG * turn.sin()));
    }
    canvas.dot(start, 3.0);
    (2.0 * (LONG + EDGE), LONG + 2.0 * EDGE)
}

/// Twelve numerals, sixty marks, a short and a long hand.
fn draw_clock(canvas: &mut Canvas, minutes: u32) -> (f64, f64) {
    const RADIUS: f64 = 90.0;
    let middle = (RADIUS + EDGE, RADIUS + EDGE);
    let at = |sixtieth: f64, radius: f64| {
        let turn = (sixtieth * 6.0).to_radians();
        (middle.0 + radius * turn.sin(), middle.1 - radius * turn.cos())
    };
    let _ = write!(canvas.body, "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{RADIUS:.1}\"/>", middle.0, middle.1);
    for mark in 0..60_u32 {
        let inner = if mark % 5 == 0 { RADIUS - 8.0 } else { RADIUS - 4.0 };
        canvas.line(at(f64::from(mark), inner), at(f64::from(mark), RADIUS));
    }
    for hour in 1..=12_u32 {
        let (x, y) = at(f64::from(hour * 5), RADIUS - 19.0);
        canvas.number((x, y + 5.0), hour);
    }
    for (sixtieth, long, thick) in [(f64::from(minutes) / 12.0, 46.0, 5.0), (f64::from(minutes % 60), 66.0, 2.5)] {
        let (x, y) = at(sixtieth, long);
        let _ = write!(
            canvas.body,
            "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{x:.1}\" y2=\"{y:.1}\" stroke-width=\"{thick}\"/>",
            middle.0, middle.1
        );
    }
    canvas.dot(middle, 4.0);
    (2.0 * (RADIUS + EDGE), 2.0 * (RADIUS + EDGE))
}

/// The three sides in view: front, top, right side.
fn draw_cubes(canvas: &mut Canvas, [long, wide, high]: [u32; 3]) -> (f64, f64) {
    let (l, w, h) = (f64::from(long), f64::from(wide), f64::from(high));
    let slant = SQUARE / 2.0;
    let place =
        |x: f64, y: f64, z: f64| (EDGE + x * SQUARE + y * slant, EDGE + w * slant + (h - z) * SQUARE - y * slant);
    let cells = |a: u32, b: u32| (0..a).flat_map(move |i| (0..b).map(move |j| (f64::from(i), f64::from(j))));
    for (x, z) in cells(long, high) {
        canvas.shape(&[place(x, 0.0, z), place(x + 1.0, 0.0, z), place(x + 1.0, 0.0, z + 1.0), place(x, 0.0, z + 1.0)]);
    }
    for (x, y) in cells(long, wide) {
        canvas.shape(&[place(x, y, h), place(x + 1.0, y, h), place(x + 1.0, y + 1.0, h), place(x, y + 1.0, h)]);
    }
    for (y, z) in cells(wide, high) {
        canvas.shape(&[place(l, y, z), place(l, y + 1.0, z), place(l, y + 1.0, z + 1.0), place(l, y, z + 1.0)]);
    }
    (l * SQUARE + w * slant + 2.0 * EDGE, h * SQUARE + w * slant + 2.0 * EDGE)
}
