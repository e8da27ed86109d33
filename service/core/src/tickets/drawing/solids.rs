//! Solids of unit cubes, seen from the front, the top and the right; every cube in view has its edges.
//! A solid is a floor plan of heights. Columns are drawn from the back to the front and from left to right, so that what
//! stands before hides what is behind.

use super::canvas::{Canvas, Face, Place};

/// Edge of a cube.
const EDGE: f64 = 22.0;
/// One cube to the back: across and up.
const BACK: Place = (11.0, 9.0);
/// Room around the solid.
const ROOM: f64 = 10.0;
/// Most cubes along one edge.
const MOST_ALONG: u32 = 12;

/// Heights by row from the front and column from the left.
type Heights = Vec<Vec<u32>>;

fn is_along(n: &u32) -> bool {
    (1..=MOST_ALONG).contains(n)
}

/// `long wide high [long high]`: a box of unit cubes; with a second length and height another box at its right end.
pub(super) fn cubes(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let (wide, blocks) = match (numbers, words) {
        ([long, wide, high], []) => (*wide, vec![(*long, *high)]),
        ([long, wide, high, long_2, high_2], []) => (*wide, vec![(*long, *high), (*long_2, *high_2)]),
        _ => return None,
    };
    if !numbers.iter().all(is_along) {
        return None;
    }
    let row: Vec<u32> = blocks.iter().flat_map(|(long, high)| vec![*high; *long as usize]).collect();
    Some(solid(&vec![row; wide as usize]))
}

/// `long wide high fewer`: a box of unit cubes without so many cubes of the upper front edge, from the right.
pub(super) fn cubes_less(numbers: &[u32], words: &[&str]) -> Option<Canvas> {
    let ([long, wide, high, fewer], []) = (numbers, words) else { return None };
    if !numbers.iter().all(is_along) || fewer > long || *high < 2 {
        return None;
    }
    let whole = vec![*high; *long as usize];
    let front = (0..*long).map(|column| if column < long - fewer { *high } else { high - 1 }).collect();
    let mut heights = vec![whole; *wide as usize];
    *heights.first_mut()? = front;
    Some(solid(&heights))
}

fn solid(heights: &Heights) -> Canvas {
    let at = |row: usize, column: usize| heights.get(row).and_then(|r| r.get(column)).copied().unwrap_or(0);
    let n_columns = heights.first().map_or(0, Vec::len);
    let highest = heights.iter().flatten().copied().max().unwrap_or(0);
    let back = heights.len() as f64;
    let low = ROOM + back * BACK.1 + f64::from(highest) * EDGE;
    let mut canvas = Canvas::new(2.0 * ROOM + n_columns as f64 * EDGE + back * BACK.0, low + ROOM);
    for row in (0..heights.len()).rev() {
        for column in 0..n_columns {
            let height = at(row, column);
            let in_front = if row == 0 { 0 } else { at(row - 1, column) };
            let faces = Faces { height, in_front, beside: at(row, column + 1) };
            faces.draw(&mut canvas, (column as f64, row as f64), low);
        }
    }
    canvas
}

/// What of a column of cubes may be in view.
struct Faces {
    height: u32,
    /// Height of the column in front of it, and of the one at its right.
    in_front: u32,
    beside: u32,
}

impl Faces {
    fn draw(&self, canvas: &mut Canvas, (x, y): Place, low: f64) {
        let at = |x: f64, y: f64, z: f64| (ROOM + x * EDGE + y * BACK.0, low - z * EDGE - y * BACK.1);
        for z in (self.beside..self.height).map(f64::from) {
            let right =
                [at(x + 1.0, y, z), at(x + 1.0, y + 1.0, z), at(x + 1.0, y + 1.0, z + 1.0), at(x + 1.0, y, z + 1.0)];
            canvas.outline(&right, Face::Light);
        }
        for z in (self.in_front..self.height).map(f64::from) {
            let front = [at(x, y, z), at(x + 1.0, y, z), at(x + 1.0, y, z + 1.0), at(x, y, z + 1.0)];
            canvas.outline(&front, Face::White);
        }
        let z = f64::from(self.height);
        if self.height > 0 {
            canvas.outline(&[at(x, y, z), at(x + 1.0, y, z), at(x + 1.0, y + 1.0, z), at(x, y + 1.0, z)], Face::White);
        }
    }
}
