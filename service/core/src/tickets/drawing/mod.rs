//! Pictures of items, from the item's own numbers.
//!
//! In:  a line such as `line 1 4 3` (a kind, whole numbers and plain words), as a model's `draw` gives it for the drawn
//!      parameters.
//! Out: a [`Drawing`], and its SVG ([`Drawing::svg`]) with the text alternative as its label.
//! Keeps: 1. what a line may say and how large it may be (`a_line_that_is_no_picture_is_refused`)
//!        2. the marks drawn are those that were asked for, at equal steps (`marks_stand_at_equal_steps`)
//!        3. black on white, no colour, no ids, no style sheet: a copier and any page can take it
//!           (`a_drawing_is_black_on_white_and_needs_nothing_else`)
//!        4. every picture of a shipped model is drawn, inside its frame (`every_picture_of_a_shipped_model_is_drawn`)
//!        5. the answer is not written into the picture (`a_picture_does_not_tell_the_answer`)
//! Not here: the text alternative (the model's `picture`), where a picture stands on a page.
//! Source: what such pictures look like is common practice, no source.

mod angles;
mod areas;
mod canvas;
mod graphs;
mod grids;
mod lines;
mod shapes;
mod solids;

use canvas::Canvas;
pub use canvas::{Anchor, Face, Mark, Place, Stroke};

/// A picture, laid out.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    kind: &'static str,
    canvas: Canvas,
}

/// Lays a picture out from the numbers and words of its line; `None` where they make no picture of the kind.
type LayOut = fn(&[u32], &[&str]) -> Option<Canvas>;

/// Widest picture that leaves room beside it, CSS pixels.
const NARROW: f64 = 290.0;

/// Kinds by name, one family after the other.
const KINDS: [(&str, LayOut); 27] = [
    ("line", lines::line),
    ("lines", lines::two_lines),
    ("halfway", lines::halfway),
    ("ruler", lines::ruler),
    ("scale", lines::scale),
    ("plot", lines::plot),
    ("strips", areas::strips),
    ("area", areas::area),
    ("pieces", areas::pieces),
    ("rectangle", areas::rectangle),
    ("corner", areas::corner),
    ("joined", areas::joined),
    ("fields", areas::fields),
    ("squares", grids::squares),
    ("covered", grids::covered),
    ("points", grids::points),
    ("sets", grids::sets),
    ("bars", graphs::bars),
    ("symbols", graphs::symbols),
    ("clock", graphs::clock),
    ("rays", angles::rays),
    ("angles", angles::angles),
    ("protractor", angles::protractor),
    ("shapes", shapes::shapes),
    ("tracks", shapes::tracks),
    ("cubes", solids::cubes),
    ("cubes-less", solids::cubes_less),
];

impl Drawing {
    /// Reads a line and lays the picture out.
    ///
    /// # Errors
    /// Part of a sentence where the line is no picture.
    pub fn parse(line: &str) -> Result<Self, String> {
        let mut pieces = line.split_whitespace();
        let name = pieces.next().unwrap_or_default();
        let Some((kind, lay_out)) = KINDS.iter().find(|(kind, _)| *kind == name) else {
            let known: Vec<&str> = KINDS.iter().map(|(kind, _)| *kind).collect();
            return Err(format!("there is no picture `{name}`; there are {}", known.join(", ")));
        };
        let (numbers, words) = told(pieces);
        let canvas = lay_out(&numbers, &words).ok_or_else(|| format!("`{line}` is no picture that can be drawn"))?;
        Ok(Drawing { kind, canvas })
    }

    /// Name of the kind of picture.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        self.kind
    }

    /// Whether it leaves room beside it for what a child answers.
    #[must_use]
    pub fn is_narrow(&self) -> bool {
        self.canvas.frame.1.0 <= NARROW
    }

    /// The marks in the order in which they are drawn; places in CSS pixels, see [`Drawing::frame`].
    #[must_use]
    pub fn marks(&self) -> &[Mark] {
        &self.canvas.marks
    }

    /// Upper left corner of what is shown, and its width and height, CSS pixels.
    #[must_use]
    pub fn frame(&self) -> (Place, Place) {
        self.canvas.frame
    }

    /// The picture as one `svg` element with its text alternative.
    #[must_use]
    pub fn svg(&self, alternative: &str) -> String {
        self.canvas.svg(alternative)
    }
}

/// The numbers and the words of a line, each in order.
fn told<'a>(pieces: impl Iterator<Item = &'a str>) -> (Vec<u32>, Vec<&'a str>) {
    let (mut numbers, mut words) = (Vec::new(), Vec::new());
    for piece in pieces {
        match piece.parse() {
            Ok(number) => numbers.push(number),
            Err(_) => words.push(piece),
        }
    }
    (numbers, words)
}

/// Numbers two by two; `None` where one is left over.
fn pairs(numbers: &[u32]) -> Option<Vec<(u32, u32)>> {
    let pair = |chunk: &[u32]| match chunk {
        [a, b] => Some((*a, *b)),
        _ => None,
    };
    numbers.chunks(2).map(pair).collect()
}

#[cfg(test)]
mod tests;
