//! Marks on paper, and the paper as SVG.
//!
//! In: marks with places in CSS pixels from the upper left corner. Out: one `svg` element.
//! Kept as marks until it is shown, so that a million draws write no text and tests need not read any.
//! Places are written to a hundredth of a pixel; what is computed as a multiple of a step is drawn as one.

use std::fmt::Write as _;

/// A place or a size: across and down.
pub type Place = (f64, f64);

/// Height of writing, for 12 points on paper.
const WRITING: f64 = 16.0;
/// Height of small writing, on scales that have many numbers.
const SMALL: f64 = 13.0;

/// What lies inside an outline. Grey tones are ones that a copier keeps apart from white.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// Paper.
    White,
    /// A light grey.
    Light,
    /// A dark grey.
    Dark,
    /// Ink.
    Black,
}

impl Face {
    /// Three digits, each twice: `999` is `#999999`.
    #[must_use]
    pub fn tone(self) -> &'static str {
        match self {
            Face::White => "fff",
            Face::Light => "ccc",
            Face::Dark => "999",
            Face::Black => "000",
        }
    }

    /// Dark for the first places, white for the others.
    pub(super) fn first(n_dark: u32, place: u32) -> Self {
        if place < n_dark { Face::Dark } else { Face::White }
    }
}

/// How a stroke looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// A line to read along.
    Faint,
    /// As the outlines.
    Plain,
    /// What is asked about.
    Bold,
    /// What is not there but meant.
    Dashed,
}

impl Stroke {
    /// How broad, CSS pixels.
    #[must_use]
    pub fn width(self) -> f64 {
        match self {
            Stroke::Faint => 0.6,
            Stroke::Plain | Stroke::Dashed => 1.5,
            Stroke::Bold => 3.0,
        }
    }

    /// Attributes, where they are not those of the whole picture.
    fn attributes(self) -> String {
        match self {
            Stroke::Plain => String::new(),
            Stroke::Faint => format!(" stroke-width=\"{}\"", self.width()),
            Stroke::Bold => format!(" stroke-width=\"{}\" stroke-linecap=\"round\"", self.width()),
            Stroke::Dashed => " stroke-dasharray=\"4 3\"".to_owned(),
        }
    }
}

/// Which part of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

impl Anchor {
    fn word(self) -> &'static str {
        match self {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        }
    }
}

/// One mark.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A straight line.
    Line {
        /// One end.
        from: Place,
        /// The other.
        to: Place,
        /// How it looks.
        stroke: Stroke,
    },
    /// A rectangle with sides across and down.
    Rect {
        /// Upper left corner.
        at: Place,
        /// Width and height.
        size: Place,
        /// What lies inside.
        face: Face,
    },
    /// A circle.
    Circle {
        /// Its middle.
        centre: Place,
        /// Half of its width.
        radius: f64,
        /// What lies inside.
        face: Face,
    },
    /// A closed outline.
    Outline {
        /// In order.
        corners: Vec<Place>,
        /// What lies inside.
        face: Face,
    },
    /// Part of a circle against the clock, a half turn at most.
    Arc {
        /// Where it begins.
        from: Place,
        /// Where it ends.
        to: Place,
        /// Of the circle.
        radius: f64,
    },
    /// The left half of a circle.
    HalfDisc {
        /// Middle of the circle.
        centre: Place,
        /// Half of the circle's width.
        radius: f64,
        /// What lies inside.
        face: Face,
    },
    /// Words whose middle line is at the place.
    Text {
        /// Where.
        at: Place,
        /// The words.
        text: String,
        /// Which part of them stands there.
        anchor: Anchor,
        /// Height of the writing.
        height: f64,
    },
}

impl Mark {
    /// Upper left and lower right corner of what it covers; of a text about that, of an arc its ends.
    #[must_use]
    pub fn bounds(&self) -> (Place, Place) {
        match self {
            Mark::Line { from, to, .. } | Mark::Arc { from, to, .. } => corners_of(&[*from, *to]),
            Mark::Rect { at, size, .. } => (*at, (at.0 + size.0, at.1 + size.1)),
            Mark::Circle { centre: (x, y), radius, .. } | Mark::HalfDisc { centre: (x, y), radius, .. } => {
                ((x - radius, y - radius), (x + radius, y + radius))
            }
            Mark::Outline { corners, .. } => corners_of(corners),
            Mark::Text { at: (x, y), text, anchor, height } => {
                // A letter is about six tenths as wide as it is high.
                let long = text.chars().count() as f64 * height * 0.6;
                let left = match anchor {
                    Anchor::Start => *x,
                    Anchor::Middle => x - long / 2.0,
                    Anchor::End => x - long,
                };
                ((left, y - height / 2.0), (left + long, y + height / 2.0))
            }
        }
    }
}

fn corners_of(places: &[Place]) -> (Place, Place) {
    let least = |pick: fn(&Place) -> f64| places.iter().map(pick).fold(f64::INFINITY, f64::min);
    let most = |pick: fn(&Place) -> f64| places.iter().map(pick).fold(f64::NEG_INFINITY, f64::max);
    ((least(|p| p.0), least(|p| p.1)), (most(|p| p.0), most(|p| p.1)))
}

/// A picture: marks in the order in which they are drawn, and how large it is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Canvas {
    pub(super) marks: Vec<Mark>,
    /// Upper left corner of what is shown, and how large it is.
    pub(super) frame: (Place, Place),
}

/// Room around the marks of a fitted picture.
const MARGIN: f64 = 8.0;

impl Canvas {
    pub(super) fn new(width: f64, height: f64) -> Self {
        Canvas { marks: Vec::new(), frame: ((0.0, 0.0), (width, height)) }
    }

    /// The same picture in a frame that its marks just fill.
    pub(super) fn fitted(mut self) -> Self {
        let (low, high) = self.marks.iter().map(Mark::bounds).fold(
            ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY)),
            |(low, high), (from, to)| ((low.0.min(from.0), low.1.min(from.1)), (high.0.max(to.0), high.1.max(to.1))),
        );
        if !self.marks.is_empty() {
            let size = (high.0 - low.0 + 2.0 * MARGIN, high.1 - low.1 + 2.0 * MARGIN);
            self.frame = ((low.0 - MARGIN, low.1 - MARGIN), size);
        }
        self
    }

    pub(super) fn line(&mut self, from: Place, to: Place, stroke: Stroke) {
        self.marks.push(Mark::Line { from, to, stroke });
    }

    pub(super) fn rect(&mut self, at: Place, size: Place, face: Face) {
        self.marks.push(Mark::Rect { at, size, face });
    }

    pub(super) fn circle(&mut self, centre: Place, radius: f64, face: Face) {
        self.marks.push(Mark::Circle { centre, radius, face });
    }

    /// A black dot, to be seen on a line.
    pub(super) fn dot(&mut self, centre: Place) {
        self.circle(centre, 5.5, Face::Black);
    }

    pub(super) fn outline(&mut self, corners: &[Place], face: Face) {
        self.marks.push(Mark::Outline { corners: corners.to_vec(), face });
    }

    pub(super) fn arc(&mut self, from: Place, to: Place, radius: f64) {
        self.marks.push(Mark::Arc { from, to, radius });
    }

    pub(super) fn half_disc(&mut self, centre: Place, radius: f64, face: Face) {
        self.marks.push(Mark::HalfDisc { centre, radius, face });
    }

    pub(super) fn text(&mut self, at: Place, text: &str, anchor: Anchor) {
        self.marks.push(Mark::Text { at, text: text.to_owned(), anchor, height: WRITING });
    }

    pub(super) fn small_text(&mut self, at: Place, text: &str, anchor: Anchor) {
        self.marks.push(Mark::Text { at, text: text.to_owned(), anchor, height: SMALL });
    }

    pub(super) fn number(&mut self, at: Place, number: u32) {
        self.text(at, &number.to_string(), Anchor::Middle);
    }

    /// A stacked fraction whose bar is at the place.
    pub(super) fn fraction(&mut self, at: Place, top: u32, bottom: u32) {
        self.small_text((at.0, at.1 - 9.0), &top.to_string(), Anchor::Middle);
        self.line((at.0 - 8.0, at.1), (at.0 + 8.0, at.1), Stroke::Plain);
        self.small_text((at.0, at.1 + 10.0), &bottom.to_string(), Anchor::Middle);
    }

    pub(super) fn svg(&self, alternative: &str) -> String {
        let ((left, top), (width, height)) = self.frame;
        let (left, top, width, height) = (px(left), px(top), px(width), px(height));
        let mut out = format!(
            "<svg role=\"img\" aria-label=\"{}\" viewBox=\"{left} {top} {width} {height}\" width=\"{width}\" height=\"{height}\" \
             stroke=\"#000\" stroke-width=\"1.5\" fill=\"none\" font-family=\"sans-serif\">",
            escaped(alternative)
        );
        for mark in &self.marks {
            push_mark(&mut out, mark);
        }
        out.push_str("</svg>");
        out
    }
}

fn push_mark(out: &mut String, mark: &Mark) {
    // Writing into a string cannot fail.
    let _ = match mark {
        Mark::Line { from, to, stroke } => write!(
            out,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"{}/>",
            px(from.0),
            px(from.1),
            px(to.0),
            px(to.1),
            stroke.attributes()
        ),
        Mark::Rect { at, size, face } => write!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#{}\"/>",
            px(at.0),
            px(at.1),
            px(size.0),
            px(size.1),
            face.tone()
        ),
        Mark::Circle { centre, radius, face } => write!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"#{}\"/>",
            px(centre.0),
            px(centre.1),
            px(*radius),
            face.tone()
        ),
        Mark::Outline { corners, face } => {
            let points: Vec<String> = corners.iter().map(|(x, y)| format!("{},{}", px(*x), px(*y))).collect();
            let points = points.join(" ");
            write!(out, "<polygon points=\"{points}\" stroke-linejoin=\"round\" fill=\"#{}\"/>", face.tone())
        }
        Mark::Arc { from, to, radius } => {
            let (x1, y1, r) = (px(from.0), px(from.1), px(*radius));
            write!(out, "<path d=\"M{x1} {y1}A{r} {r} 0 0 0 {} {}\"/>", px(to.0), px(to.1))
        }
        Mark::HalfDisc { centre: (x, y), radius, face } => {
            let (x, r, upper, lower) = (px(*x), px(*radius), px(y - radius), px(y + radius));
            write!(out, "<path d=\"M{x} {upper}A{r} {r} 0 0 0 {x} {lower}Z\" fill=\"#{}\"/>", face.tone())
        }
        Mark::Text { at, text, anchor, height } => write!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{}\" stroke=\"none\" fill=\"#000\">{}</text>",
            px(at.0),
            // Digits stand on the base line, which lies about a third of their height below their middle.
            px(at.1 + height * 0.35),
            px(*height),
            anchor.word(),
            escaped(text)
        ),
    };
}

/// Hundredths of a pixel, without needless zeros.
fn px(length: f64) -> String {
    let written = format!("{length:.2}");
    let short = written.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" { "0".to_owned() } else { short.to_owned() }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// The place at so many degrees, against the clock from the right, so far from a centre.
pub(super) fn around(centre: Place, degrees: f64, distance: f64) -> Place {
    let (sin, cos) = degrees.to_radians().sin_cos();
    (centre.0 + distance * cos, centre.1 - distance * sin)
}
