//! Pictures of items, from the item's own numbers.
//!
//! In:  a line such as `line 1 4 3` (a kind and whole numbers), as a model's `draw` gives it for the drawn parameters.
//! Out: a [`Drawing`], and its SVG ([`Drawing::svg`]), black on white for a copier, with the text alternative as title text.
//! Keeps: what a line may say and how large it may be (`a_line_that_is_no_picture_is_refused`); the marks drawn are those
//!        that were asked for (`what_is_drawn_is_what_was_asked_for`).
//! Not here: the text alternative (the model's `picture`), where a picture stands on a page.

mod svg;

/// A picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Drawing {
    /// Strips of one length, one below the other: equal parts, and how many of them are dark.
    Strips(Vec<(u32, u32)>),
    /// Number lines of one length from 0.
    Lines(Vec<NumberLine>),
    /// Rows of unit squares from the top, all starting at the left.
    Squares(Vec<u32>),
    /// A rectangle of columns and rows with a dark corner: columns, rows, dark columns, dark rows.
    Area([u32; 4]),
    /// Marks in stacks above a number line.
    Plot {
        /// First and last whole number.
        ends: (u32, u32),
        /// Equal steps of each whole.
        parts: u32,
        /// Step from the first number, and marks above it.
        stacks: Vec<(u32, u32)>,
    },
    /// Points on a grid from 0 to 10, joined in order.
    Points(Vec<(u32, u32)>),
    /// Rays from one point, by degrees from the one that points right.
    Rays(Vec<u32>),
    /// A clock face, by minutes after twelve.
    Clock(u32),
    /// A box of unit cubes: long, wide, high.
    Cubes([u32; 3]),
}

/// A number line from 0; only whole numbers are written on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NumberLine {
    /// Last whole number.
    pub end: u32,
    /// Equal steps of each whole.
    pub parts: u32,
    /// A dot after so many steps.
    pub dot: Option<u32>,
}

/// What can be told apart on paper.
const MOST_PARTS: u32 = 48;
/// Squares or cubes along one edge.
const MOST_ALONG: u32 = 20;

impl Drawing {
    /// Reads a line.
    ///
    /// # Errors
    /// Part of a sentence where the line is no picture.
    pub fn parse(line: &str) -> Result<Self, String> {
        let mut words = line.split_whitespace();
        let kind = words.next().unwrap_or_default();
        let numbers: Option<Vec<u32>> = words.map(|word| word.parse().ok()).collect();
        let drawing = numbers.and_then(|numbers| Drawing::of(kind, &numbers));
        drawing.filter(Drawing::fits).ok_or_else(|| format!("`{line}` is no picture that can be drawn"))
    }

    fn of(kind: &str, numbers: &[u32]) -> Option<Self> {
        Some(match (kind, numbers) {
            ("strips", [_, ..]) => Drawing::Strips(pairs(numbers)?),
            ("line", [end, parts]) => Drawing::Lines(vec![NumberLine { end: *end, parts: *parts, dot: None }]),
            ("line", [end, parts, dot]) => {
                Drawing::Lines(vec![NumberLine { end: *end, parts: *parts, dot: Some(*dot) }])
            }
            ("lines", [end, above, dot, below]) => Drawing::Lines(vec![
                NumberLine { end: *end, parts: *above, dot: Some(*dot) },
                NumberLine { end: *end, parts: *below, dot: None },
            ]),
            ("squares", [_, ..]) => Drawing::Squares(numbers.to_vec()),
            ("area", [columns, rows, dark_columns, dark_rows]) => {
                Drawing::Area([*columns, *rows, *dark_columns, *dark_rows])
            }
            ("plot", [low, high, parts, stacks @ ..]) => {
                Drawing::Plot { ends: (*low, *high), parts: *parts, stacks: pairs(stacks)? }
            }
            ("points", [_, ..]) => Drawing::Points(pairs(numbers)?),
            ("rays", [_, ..]) => Drawing::Rays(numbers.to_vec()),
            ("clock", [minutes]) => Drawing::Clock(*minutes),
            ("cubes", [long, wide, high]) => Drawing::Cubes([*long, *wide, *high]),
            _ => return None,
        })
    }

    /// Whether it has a place for everything and is not too fine for paper.
    fn fits(&self) -> bool {
        let along = |n: &u32| (1..=MOST_ALONG).contains(n);
        match self {
            Drawing::Strips(strips) => {
                strips.iter().all(|(parts, dark)| (1..=MOST_PARTS).contains(parts) && dark <= parts)
            }
            Drawing::Lines(lines) => lines.iter().all(|line| {
                let steps = line.end.saturating_mul(line.parts);
                (1..=MOST_PARTS).contains(&steps) && line.dot.is_none_or(|dot| dot <= steps)
            }),
            Drawing::Squares(rows) => rows.len() <= MOST_ALONG as usize && rows.iter().all(along),
            Drawing::Area([columns, rows, dark_columns, dark_rows]) => {
                along(columns) && along(rows) && dark_columns <= columns && dark_rows <= rows
            }
            Drawing::Plot { ends: (low, high), parts, stacks } => {
                let steps = high.saturating_sub(*low).saturating_mul(*parts);
                (1..=MOST_PARTS).contains(&steps) && stacks.iter().all(|(at, n)| *at <= steps && *n <= 12)
            }
            Drawing::Points(points) => points.iter().all(|(x, y)| *x <= 10 && *y <= 10),
            Drawing::Rays(degrees) => degrees.iter().all(|d| *d <= 180),
            Drawing::Clock(minutes) => *minutes < 12 * 60,
            Drawing::Cubes(edges) => edges.iter().all(along),
        }
    }
}

/// Numbers two by two.
fn pairs(numbers: &[u32]) -> Option<Vec<(u32, u32)>> {
    let pair = |chunk: &[u32]| match chunk {
        [a, b] => Some((*a, *b)),
        _ => None,
    };
    numbers.chunks(2).map(pair).collect()
}

#[cfg(test)]
mod tests;
