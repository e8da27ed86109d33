//! Lines that are pictures and lines that are not; and that the parts asked for are the parts drawn.
//! What is drawn is counted in the SVG text, not looked at.

use super::*;

fn drawn(line: &str) -> String {
    Drawing::parse(line).unwrap().svg("A picture.")
}

#[test]
fn a_line_that_is_no_picture_is_refused() {
    for line in ["", "line", "line 1", "line 1 a", "line 1 4 5", "line 3 17", "strips 4", "strips 4 5", "strips 0 0"] {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in
        ["squares", "squares 0", "squares 21", "area 3 4 5 1", "plot 1 1 8 2 2", "plot 0 1 8 9 2", "points 11 3"]
    {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
    for line in ["points 1", "rays 181", "clock 720", "cubes 3 4", "cubes 3 4 0", "circle 3", "line 1 99999999999"] {
        assert!(Drawing::parse(line).is_err(), "{line}");
    }
}

#[test]
fn what_is_drawn_is_what_was_asked_for() {
    let strip = drawn("strips 8 3");
    assert_eq!((strip.matches("<rect").count(), strip.matches("#999").count()), (8, 3));
    let line = drawn("line 2 4 5");
    assert_eq!((line.matches("<line").count(), line.matches("<circle").count()), (1 + 9, 1));
    assert_eq!(line.matches("<text").count(), 3);
    assert_eq!(drawn("squares 3 5 5").matches("<rect").count(), 13);
    assert_eq!(drawn("area 4 3 2 2").matches("#999").count(), 4);
    assert_eq!(drawn("plot 0 1 8 2 3 5 4").matches("<line").count(), 1 + 9 + 2 * 7);
    assert_eq!(drawn("points 2 3 8 3").matches("<circle").count(), 2);
    assert_eq!(drawn("rays 40 130").matches("<line").count(), 3);
    assert_eq!(drawn("cubes 4 3 2").matches("<polygon").count(), 4 * 2 + 4 * 3 + 3 * 2);
}

#[test]
fn hands_of_a_clock_stand_where_the_time_is() {
    let clock = drawn("clock 180");
    assert!(clock.contains("x2=\"156.0\" y2=\"110.0\" stroke-width=\"5\""), "{clock}");
    assert!(clock.contains("x2=\"110.0\" y2=\"44.0\" stroke-width=\"2.5\""), "{clock}");
}

#[test]
fn a_picture_says_in_words_what_it_shows_and_never_becomes_markup() {
    let svg = Drawing::parse("clock 5").unwrap().svg("5 < \"6\" & more");
    assert!(svg.contains("<desc>5 &lt; &quot;6&quot; &amp; more</desc>"));
    assert!(svg.contains("role=\"img\" aria-label=\"5 &lt;"));
}
