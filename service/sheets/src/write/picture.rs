//! Pictures of tickets as shapes of the spreadsheet program: sharp on any printer, and no picture file.
//!
//! In:  drawings with their places on the sheet. Out: the sheet's drawing part.
//! Keeps: every mark of a drawing is a shape in its place, and a drawing is one group with its text alternative
//! (`every_mark_is_a_shape`); black and grey as drawn, on a black-and-white print, too. A curve is drawn as short straight pieces, since
//! programs differ in how they take arcs.
//! Not here: what is drawn (`sheaf-core`), how high its row is (`ticket_page`).
//! Source: ECMA-376 part 1, 20.1 (shapes) and 20.5 (their places on a sheet).

use super::text;
use crate::graft::escaped;
use rust_xlsxwriter::{ColNum, RowNum};
use sheaf_core::tickets::Drawing;
use sheaf_core::tickets::drawing::{Anchor, Face, Mark, Place, Stroke};
use std::fmt::Write;

/// Units of the format in a CSS pixel and in a point.
const PER_PIXEL: f64 = 9_525.0;
const PER_POINT: f64 = 12_700.0;
/// Room above a picture, CSS pixels.
pub(super) const ABOVE: f64 = 4.0;
/// Room under it.
pub(super) const BELOW: f64 = 10.0;
/// Pieces of a half turn.
const PIECES: usize = 24;

/// Where a picture stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    /// Row of its upper left corner.
    pub row: RowNum,
    /// Column of its upper left corner.
    pub col: ColNum,
    /// From the left and the top of the sheet to that cell, points.
    pub from_origin: (f64, f64),
    /// Times as large as drawn.
    pub scale: f64,
}

/// The drawing part of one sheet.
#[derive(Debug, Default)]
pub(super) struct Pictures {
    body: String,
    n_shapes: u32,
}

impl Pictures {
    /// Whether nothing was added.
    pub(super) fn is_empty(&self) -> bool {
        self.body.is_empty()
    }

    /// The whole part.
    pub(super) fn part(&self) -> String {
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n\
             <xdr:wsDr xmlns:xdr=\"http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing\" \
             xmlns:a=\"http://schemas.openxmlformats.org/drawingml/2006/main\">{}</xdr:wsDr>",
            self.body
        )
    }

    /// Adds a picture.
    pub(super) fn add(&mut self, spot: Spot, drawing: &Drawing, alternative: &str) {
        let ((left, top), (width, height)) = drawing.frame();
        let (cx, cy) = (units(width * spot.scale), units(height * spot.scale));
        let x = (spot.from_origin.0 * PER_POINT).round();
        let y = (spot.from_origin.1 * PER_POINT).round() + units(ABOVE) as f64;
        let id = self.next_id();
        // Writing to a string cannot fail.
        _ = write!(
            self.body,
            "<xdr:oneCellAnchor><xdr:from><xdr:col>{}</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>{}</xdr:row>\
             <xdr:rowOff>{}</xdr:rowOff></xdr:from><xdr:ext cx=\"{cx}\" cy=\"{cy}\"/><xdr:grpSp><xdr:nvGrpSpPr>\
             <xdr:cNvPr id=\"{id}\" name=\"Picture {id}\" descr=\"{}\"/><xdr:cNvGrpSpPr/></xdr:nvGrpSpPr>\
             <xdr:grpSpPr bwMode=\"clr\"><a:xfrm><a:off x=\"{x}\" y=\"{y}\"/><a:ext cx=\"{cx}\" cy=\"{cy}\"/>\
             <a:chOff x=\"{x}\" y=\"{y}\"/><a:chExt cx=\"{cx}\" cy=\"{cy}\"/></a:xfrm></xdr:grpSpPr>",
            spot.col,
            spot.row,
            units(ABOVE),
            escaped(&text::clean(alternative)),
        );
        // From the drawing's pixels to the sheet's units.
        let paper = Paper { origin: (left, top), at: (x, y), scale: spot.scale };
        for mark in drawing.marks() {
            self.mark(&paper, mark);
        }
        self.body.push_str("</xdr:grpSp><xdr:clientData/></xdr:oneCellAnchor>");
    }

    fn next_id(&mut self) -> u32 {
        self.n_shapes += 1;
        // 1 is the whole drawing's.
        self.n_shapes + 1
    }

    fn mark(&mut self, paper: &Paper, mark: &Mark) {
        match mark {
            Mark::Line { from, to, stroke } => self.line(paper, *from, *to, *stroke),
            Mark::Rect { at, size, face } => self.preset(paper, "rect", *at, *size, *face),
            Mark::Circle { centre: (x, y), radius, face } => {
                self.preset(paper, "ellipse", (x - radius, y - radius), (2.0 * radius, 2.0 * radius), *face);
            }
            Mark::Outline { corners, face } => self.path(paper, corners, Some(*face)),
            Mark::Arc { from, to, radius } => self.path(paper, &arc(*from, *to, *radius), None),
            Mark::HalfDisc { centre: (x, y), radius, face } => {
                let half = arc((*x, y - radius), (*x, y + radius), *radius);
                self.path(paper, &half, Some(*face));
            }
            Mark::Text { at, text, anchor, height } => self.words(paper, mark, *at, text, *anchor, *height),
        }
    }

    /// Begins a shape up to its place.
    fn begin(&mut self, paper: &Paper, (low, high): (Place, Place), flips: bool, is_text: bool) {
        let id = self.next_id();
        let (x, y) = paper.place(low);
        let (cx, cy) = (paper.length(high.0 - low.0), paper.length(high.1 - low.1));
        let box_mark = if is_text { " txBox=\"1\"" } else { "" };
        let flip = if flips { " flipV=\"1\"" } else { "" };
        _ = write!(
            self.body,
            "<xdr:sp macro=\"\" textlink=\"\"><xdr:nvSpPr><xdr:cNvPr id=\"{id}\" name=\"Mark {id}\"/><xdr:cNvSpPr{box_mark}/>\
             </xdr:nvSpPr><xdr:spPr bwMode=\"clr\"><a:xfrm{flip}><a:off x=\"{x}\" y=\"{y}\"/><a:ext cx=\"{cx}\" cy=\"{cy}\"/></a:xfrm>"
        );
    }

    fn line(&mut self, paper: &Paper, from: Place, to: Place, stroke: Stroke) {
        let low = (from.0.min(to.0), from.1.min(to.1));
        let high = (from.0.max(to.0), from.1.max(to.1));
        let rises = (from.0 < to.0) != (from.1 < to.1) && from.0 != to.0 && from.1 != to.1;
        self.begin(paper, (low, high), rises, false);
        self.body.push_str("<a:prstGeom prst=\"line\"><a:avLst/></a:prstGeom>");
        self.stroke(paper, stroke);
        self.body.push_str("</xdr:spPr></xdr:sp>");
    }

    fn preset(&mut self, paper: &Paper, name: &str, at: Place, size: Place, face: Face) {
        self.begin(paper, (at, (at.0 + size.0, at.1 + size.1)), false, false);
        _ = write!(self.body, "<a:prstGeom prst=\"{name}\"><a:avLst/></a:prstGeom>");
        self.fill(face);
        self.stroke(paper, Stroke::Plain);
        self.body.push_str("</xdr:spPr></xdr:sp>");
    }

    /// Straight pieces from place to place: closed where something lies inside.
    fn path(&mut self, paper: &Paper, places: &[Place], face: Option<Face>) {
        let least = |pick: fn(&Place) -> f64| places.iter().map(pick).fold(f64::INFINITY, f64::min);
        let most = |pick: fn(&Place) -> f64| places.iter().map(pick).fold(f64::NEG_INFINITY, f64::max);
        let low = (least(|p| p.0), least(|p| p.1));
        let high = (most(|p| p.0), most(|p| p.1));
        self.begin(paper, (low, high), false, false);
        let (w, h) = (paper.length(high.0 - low.0), paper.length(high.1 - low.1));
        let filled = if face.is_some() { "" } else { " fill=\"none\"" };
        _ = write!(
            self.body,
            "<a:custGeom><a:avLst/><a:gdLst/><a:ahLst/><a:cxnLst/><a:rect l=\"0\" t=\"0\" r=\"r\" b=\"b\"/><a:pathLst>\
             <a:path w=\"{w}\" h=\"{h}\"{filled}>"
        );
        for (idx, (px, py)) in places.iter().enumerate() {
            let step = if idx == 0 { "moveTo" } else { "lnTo" };
            let (x, y) = (paper.length(px - low.0), paper.length(py - low.1));
            _ = write!(self.body, "<a:{step}><a:pt x=\"{x}\" y=\"{y}\"/></a:{step}>");
        }
        self.body.push_str(if face.is_some() { "<a:close/>" } else { "" });
        self.body.push_str("</a:path></a:pathLst></a:custGeom>");
        match face {
            Some(face) => self.fill(face),
            None => self.body.push_str("<a:noFill/>"),
        }
        self.stroke(paper, Stroke::Plain);
        self.body.push_str("</xdr:spPr></xdr:sp>");
    }

    fn words(&mut self, paper: &Paper, mark: &Mark, at: Place, text: &str, anchor: Anchor, height: f64) {
        let ((left, low), (right, high)) = mark.bounds();
        // As high as a line of such writing is, so that no program moves it.
        let more = height * 0.2;
        let (left, right) = match anchor {
            Anchor::Start => (at.0, right),
            Anchor::Middle => (left, right),
            Anchor::End => (left, at.0),
        };
        let side = match anchor {
            Anchor::Start => "l",
            Anchor::Middle => "ctr",
            Anchor::End => "r",
        };
        self.begin(paper, ((left, low - more), (right, high + more)), false, true);
        // Three quarters of a point are a pixel; sizes are told in hundredths.
        let size = (height * 0.75 * paper.scale * 2.0).round() * 50.0;
        _ = write!(
            self.body,
            "<a:prstGeom prst=\"rect\"><a:avLst/></a:prstGeom><a:noFill/><a:ln><a:noFill/></a:ln></xdr:spPr><xdr:txBody>\
             <a:bodyPr vertOverflow=\"overflow\" horzOverflow=\"overflow\" wrap=\"none\" lIns=\"0\" tIns=\"0\" rIns=\"0\" \
             bIns=\"0\" anchor=\"ctr\"/><a:lstStyle/><a:p><a:pPr algn=\"{side}\"/><a:r><a:rPr lang=\"en-US\" sz=\"{size}\">\
             <a:solidFill><a:srgbClr val=\"000000\"/></a:solidFill><a:latin typeface=\"Calibri\"/></a:rPr><a:t>{}</a:t></a:r>\
             </a:p></xdr:txBody></xdr:sp>",
            escaped(&text::clean(text))
        );
    }

    fn fill(&mut self, face: Face) {
        let tone: String = face.tone().chars().flat_map(|c| [c.to_ascii_uppercase(); 2]).collect();
        _ = write!(self.body, "<a:solidFill><a:srgbClr val=\"{tone}\"/></a:solidFill>");
    }

    fn stroke(&mut self, paper: &Paper, stroke: Stroke) {
        let (cap, dash) = match stroke {
            Stroke::Bold => (" cap=\"rnd\"", ""),
            Stroke::Dashed => ("", "<a:prstDash val=\"dash\"/>"),
            Stroke::Faint | Stroke::Plain => ("", ""),
        };
        let width = paper.length(stroke.width());
        _ = write!(
            self.body,
            "<a:ln w=\"{width}\"{cap}><a:solidFill><a:srgbClr val=\"000000\"/></a:solidFill>{dash}<a:round/></a:ln>"
        );
    }
}

/// From the pixels of a drawing to the units of the sheet.
struct Paper {
    /// Upper left corner of what is shown, in the drawing.
    origin: Place,
    /// The same corner on the sheet.
    at: Place,
    scale: f64,
}

impl Paper {
    fn place(&self, (x, y): Place) -> (i64, i64) {
        let on = |of: f64, origin: f64, at: f64| (at + (of - origin) * self.scale * PER_PIXEL).round() as i64;
        (on(x, self.origin.0, self.at.0), on(y, self.origin.1, self.at.1))
    }

    fn length(&self, pixels: f64) -> i64 {
        units(pixels * self.scale)
    }
}

fn units(pixels: f64) -> i64 {
    (pixels * PER_PIXEL).round() as i64
}

/// Places along part of a circle, against the clock, a half turn at most.
fn arc(from: Place, to: Place, radius: f64) -> Vec<Place> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let half = dx.hypot(dy) / 2.0;
    if half <= 0.0 {
        return vec![from, to];
    }
    let radius = radius.max(half);
    // Down is positive: the middle lies to the left of the way from the one end to the other.
    let off = (radius * radius - half * half).max(0.0).sqrt() / (2.0 * half);
    let centre = (from.0 + dx / 2.0 + dy * off, from.1 + dy / 2.0 - dx * off);
    let begin = (from.1 - centre.1).atan2(from.0 - centre.0);
    let turn = -2.0 * (half / radius).clamp(-1.0, 1.0).asin();
    (0..=PIECES)
        .map(|piece| {
            let angle = begin + turn * piece as f64 / PIECES as f64;
            (centre.0 + radius * angle.cos(), centre.1 + radius * angle.sin())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_mark_is_a_shape() {
        for line in ["line 2 4 5", "rays 40 130", "points 2 3 8 3", "sets 3 5", "strips 8 3", "cubes 4 3 2", "clock 5"]
        {
            let drawing = Drawing::parse(line).unwrap();
            let mut pictures = Pictures::default();
            assert!(pictures.is_empty());
            let spot = Spot { row: 4, col: 1, from_origin: (30.0, 100.0), scale: 1.0 };
            pictures.add(spot, &drawing, "a \"line\" & more");
            let part = pictures.part();
            assert_eq!(part.matches("<xdr:sp ").count(), drawing.marks().len(), "{line}");
            assert!(part.contains("descr=\"a &quot;line&quot; &amp; more\""), "{line}");
            assert!(part.contains("<xdr:col>1</xdr:col>") && part.contains("<xdr:row>4</xdr:row>"), "{line}");
            let n_words = drawing.marks().iter().filter(|m| matches!(m, Mark::Text { .. })).count();
            assert_eq!(part.matches("<a:t>").count(), n_words, "{line}");
        }
    }

    #[test]
    fn an_arc_turns_against_the_clock() {
        // From the right end over the top to the left end: up is where the number is smaller.
        let half = arc((10.0, 0.0), (-10.0, 0.0), 10.0);
        assert_eq!((half.len(), half[0]), (PIECES + 1, (10.0, 0.0)));
        let top = half[PIECES / 2];
        assert!(top.0.abs() < 1e-9 && (top.1 + 10.0).abs() < 1e-9, "{top:?}");
        // A quarter from the right to the top.
        let quarter = arc((10.0, 0.0), (0.0, -10.0), 10.0);
        assert!(quarter.iter().all(|(x, y)| (x.hypot(*y) - 10.0).abs() < 1e-9), "{quarter:?}");
        let last = quarter[PIECES];
        assert!(last.0.abs() < 1e-9 && (last.1 + 10.0).abs() < 1e-9, "{last:?}");
    }
}
