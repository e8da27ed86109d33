//! Lines that are pictures and lines that are not; that the marks asked for are the marks drawn; and the pictures of every
//! shipped model over many draws. How they look on paper is looked at by people.

use super::canvas::{Face, Mark, Place};
use super::*;
use crate::tickets::{ItemModel, ModelLibrary, TicketItem, draw_item};
use std::collections::BTreeSet;

/// Models for which the list of questions asks for a picture.
const ASKED_FOR: [&str; 33] = [
    "g3-array-covered",
    "g3-shaded-part",
    "g3-unequal-pieces",
    "g3-line-read",
    "g3-line-past-one",
    "g3-place-fraction",
    "g3-scale-read",
    "g3-picture-graph",
    "g3-bar-more",
    "g3-ruler",
    "g3-area-squares",
    "g3-area-l-shape",
    "g3-shape-grid",
    "g3-equal-parts-area",
    "g3-line-unit",
    "g3-same-point",
    "g3-unit-square",
    "g3-count-squares",
    "g4-line-plot",
    "g4-protractor",
    "g4-angle-part",
    "g4-angle-name",
    "g4-symmetry",
    "g4-lines",
    "g4-shape-class",
    "g5-layers",
    "g5-unit-cube",
    "g5-classify",
    "g5-area-fraction-sides",
    "g5-scale-number-line",
    "g5-line-plot-total",
    "g5-volume-cubes",
    "g5-volume-two-boxes",
];

fn drawn(line: &str) -> Drawing {
    Drawing::parse(line).unwrap()
}

fn marks_where(drawing: &Drawing, is_it: impl Fn(&Mark) -> bool) -> usize {
    drawing.canvas.marks.iter().filter(|m| is_it(m)).count()
}

fn n_of(drawing: &Drawing, element: &str) -> usize {
    drawing.svg("").matches(&format!("<{element} ")).count()
}

fn is_dark(mark: &Mark) -> bool {
    matches!(mark, Mark::Rect { face: Face::Dark, .. })
}

fn writing(drawing: &Drawing) -> Vec<&str> {
    let text = |mark: &'_ Mark| matches!(mark, Mark::Text { .. });
    let texts = drawing.canvas.marks.iter().filter(|m| text(m));
    texts.filter_map(|m| if let Mark::Text { text, .. } = m { Some(text.as_str()) } else { None }).collect()
}

fn with_picture(library: &ModelLibrary) -> Vec<&ItemModel> {
    library.iter().filter(|m| m.picture.is_some()).collect()
}

fn items_of(model: &ItemModel, n_draws: u64) -> impl Iterator<Item = TicketItem> {
    (0..n_draws).map(|seed| draw_item(model, seed).unwrap())
}

#[test]
fn a_line_that_is_no_picture_is_refused() {
    for line in ["", "line", "line 1", "line 1 a", "line 1 4 5", "line 3 17", "strips 4", "strips 4 5", "strips 0 0"] {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in ["squares", "squares 0", "squares 21", "area 3 4 5 1", "plot 1 1 8 2 2", "plot 0 1 8 9 2", "clock 720"]
    {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in ["points 1", "points 11 3", "rays 181", "rays 40", "cubes 3 4", "cubes 3 4 0", "line 1 99999999999"] {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in
        ["ruler 4 4 8 8", "ruler 4 4 3 17", "scale 0 10 4 5 mL", "scale 0 10 4 2", "bars 5 10 20 one", "bars 0 1 a"]
    {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in
        ["covered 2 9", "corner 5 5 5 1", "joined 3 3 4", "rectangle 0 4", "rectangle 4 5 0", "fields 10 0 20 3"]
    {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in ["shapes 4 4 circle 0", "shapes 4 4 square", "shapes 4 5 trapezoid 0", "tracks 3 17", "protractor 180"]
    {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    assert!(
        Drawing::parse("circle 3").unwrap_err().starts_with("there is no picture `circle`; there are line, lines,")
    );
    assert_eq!(Drawing::parse("strips 4 5").unwrap_err(), "`strips 4 5` is no picture that can be drawn");
}

#[test]
fn what_is_drawn_is_what_was_asked_for() {
    assert_eq!((n_of(&drawn("strips 8 3"), "rect"), marks_where(&drawn("strips 8 3"), is_dark)), (8, 3));
    let line = drawn("line 2 4 5");
    assert_eq!((n_of(&line, "line"), n_of(&line, "circle"), writing(&line)), (1 + 9, 1, vec!["0", "1", "2"]));
    assert_eq!(n_of(&drawn("squares 3 5 5"), "rect"), 13);
    assert_eq!(marks_where(&drawn("area 4 3 2 2"), is_dark), 4);
    assert_eq!(writing(&drawn("plot 2 3 4 1 2")), ["2", "3", "2", "1", "4", "2", "2", "4", "2", "3", "4"]);
    // Line and nine marks, seven crosses of two strokes, seven bars of fractions.
    assert_eq!(n_of(&drawn("plot 0 1 8 2 3 5 4"), "line"), 10 + 14 + 7);
    assert_eq!(n_of(&drawn("points 2 3 8 3"), "circle"), 2);
    assert_eq!(writing(&drawn("rays 40 130")), ["40°", "?"]);
    assert_eq!(writing(&drawn("scale 100 50 4 2 mL")), ["100 mL", "300 mL"]);
    assert_eq!(writing(&drawn("halfway 12")), ["0", "12"]);
    assert_eq!(n_of(&drawn("covered 6 4"), "rect"), 24 + 1);
    assert_eq!(writing(&drawn("rectangle 3 5 2")), ["5", "2", "3"]);
    assert_eq!(writing(&drawn("corner 8 6 3 2")), ["8", "6", "3", "2"]);
    assert_eq!(writing(&drawn("fields 20 3 10 5")), ["20", "3", "10", "5"]);
    assert_eq!(n_of(&drawn("sets 3 5"), "circle"), 15);
    assert_eq!(marks_where(&drawn("symbols 4 6 March moons"), |m| matches!(m, Mark::HalfDisc { .. })), 1);
}

#[test]
fn a_solid_shows_the_faces_in_view() {
    assert_eq!(n_of(&drawn("cubes 4 3 2"), "polygon"), 4 * 2 + 4 * 3 + 3 * 2);
    // A higher block beside a lower one: the lower one shows no right side, the higher one none to the left.
    assert_eq!(n_of(&drawn("cubes 3 2 1 2 4"), "polygon"), (3 + 2 * 4) + 5 * 2 + 2 * 4);
    // A cube taken from the upper right front corner: its three faces go, the three below and behind come in their place.
    assert_eq!(n_of(&drawn("cubes-less 4 3 2 1"), "polygon"), 4 * 2 + 4 * 3 + 3 * 2);
}

#[test]
fn marks_stand_at_equal_steps() {
    for (end, parts) in [(1, 3), (2, 8), (3, 6), (5, 4)] {
        let line = drawn(&format!("line {end} {parts} 2"));
        let at: Vec<f64> = line.canvas.marks.iter().skip(1).filter_map(across).collect();
        assert_eq!(at.len(), end * parts + 1);
        let step = at[1] - at[0];
        for (n, x) in at.iter().enumerate() {
            assert!((x - at[0] - step * n as f64).abs() < 1e-9, "{x} of {at:?}");
        }
        let dot = line
            .canvas
            .marks
            .iter()
            .find_map(|m| if let Mark::Circle { centre, .. } = m { Some(centre.0) } else { None });
        assert_eq!(dot, Some(at[2]));
    }
}

fn across(mark: &Mark) -> Option<f64> {
    if let Mark::Line { from, .. } = mark { Some(from.0) } else { None }
}

#[test]
fn hands_of_a_clock_stand_where_the_time_is() {
    for (minutes, hour, minute) in [(0, 0.0, 0.0), (180, 90.0, 0.0), (575, 287.5, 210.0), (719, 359.5, 354.0)] {
        let clock = drawn(&format!("clock {minutes}"));
        let hands: Vec<f64> = clock.canvas.marks.iter().filter_map(hand).collect();
        for (hand, told) in hands.iter().zip([hour, minute]) {
            assert!((hand - told).abs() < 1e-6, "{minutes}: {hands:?}");
        }
        assert_eq!(hands.len(), 2);
    }
}

/// Degrees with the clock from the top, of a line that begins in the middle of the clock.
fn hand(mark: &Mark) -> Option<f64> {
    match mark {
        Mark::Line { from: (96.0, 96.0), to, .. } => {
            Some(((to.0 - 96.0).atan2(96.0 - to.1).to_degrees() + 360.0 + 1e-9) % 360.0 - 1e-9)
        }
        _ => None,
    }
}

#[test]
fn a_picture_says_in_words_what_it_shows_and_never_becomes_markup() {
    let svg = drawn("clock 5").svg("5 < \"6\" & more");
    assert!(svg.contains("role=\"img\" aria-label=\"5 &lt; &quot;6&quot; &amp; more\""));
    assert!(drawn("bars 1 2 3 <b> a&b").svg("").contains(">&lt;b&gt;<"));
}

#[test]
fn every_picture_of_a_shipped_model_is_drawn() {
    let library = ModelLibrary::builtin();
    for slug in ASKED_FOR {
        assert!(library.get(slug).unwrap().picture.is_some(), "{slug} has no picture");
    }
    let mut kinds = BTreeSet::new();
    for model in with_picture(&library) {
        for item in items_of(model, 200) {
            let drawing = item.drawing.unwrap_or_else(|| panic!("{} is told in words alone", model.slug()));
            kinds.insert(drawing.kind());
            let (width, height) = drawing.canvas.frame.1;
            assert!(width <= 500.0 && height <= 330.0, "{width} by {height}: {}", model.slug());
            assert!(
                drawing.canvas.marks.iter().all(|m| is_inside(m, drawing.canvas.frame)),
                "{} leaves its frame",
                model.slug()
            );
            assert!(item.picture.is_some_and(|words| words.len() > 12), "{}", model.slug());
        }
    }
    let unused: Vec<&str> = KINDS.iter().map(|(kind, _)| *kind).filter(|kind| !kinds.contains(kind)).collect();
    assert!(unused.is_empty(), "no shipped model draws {unused:?}");
}

fn is_inside(mark: &Mark, ((left, top), (width, height)): (Place, Place)) -> bool {
    let (low, high) = mark.bounds();
    left <= low.0 && top <= low.1 && high.0 <= left + width && high.1 <= top + height
}

#[test]
fn a_drawing_is_black_on_white_and_needs_nothing_else() {
    for model in with_picture(&ModelLibrary::builtin()) {
        let svg = draw_item(model, 3).unwrap().drawing.unwrap().svg("words");
        for paint in svg.split('#').skip(1).map(|p| p.split('"').next().unwrap()) {
            assert!(["fff", "ccc", "999", "000"].contains(&paint), "{paint} in {}", model.slug());
        }
        assert!(!svg.contains(" id=") && !svg.contains("style") && !svg.contains("href"), "{}", model.slug());
    }
}

#[test]
fn a_picture_does_not_tell_the_answer() {
    // Pictures that are read off a scale have every number on it, and a length may happen to be a number asked for.
    let has_a_scale = [
        "bars",
        "points",
        "clock",
        "protractor",
        "ruler",
        "plot",
        "line",
        "lines",
        "rays",
        "fields",
        "corner",
        "joined",
    ];
    let mut n_looked_at = 0;
    for model in with_picture(&ModelLibrary::builtin()) {
        for item in items_of(model, 60) {
            let drawing = item.drawing.as_ref().unwrap();
            if has_a_scale.contains(&drawing.kind()) {
                continue;
            }
            let written = writing(drawing);
            for option in item.options.iter().filter(|o| item.key.contains(&o.label)) {
                n_looked_at += 1;
                assert!(!written.contains(&option.text.as_str()), "{} writes {}", model.slug(), option.text);
            }
        }
    }
    assert!(n_looked_at > 500, "{n_looked_at}");
}
