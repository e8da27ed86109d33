//! The picture of who went from group to group, week after week: places and paths, no words about anybody.
//!
//! In:  the planned weeks and the moves into each. Out: panels of at most [`PANEL_WEEKS`] weeks, which fit a page at reading size; the
//! last week of one is the first of the next. A group is a box with its hatch and number, in a lane of its own, so that who stays goes
//! straight on; who stayed is a band with the same hatch, who changed a plain band, who had no seat before or after a dashed one.
//! Keeps: bands of a box fill it exactly (`bands_fill_their_boxes`), no panel is wider than a page
//! (`a_year_is_cut_into_panels_that_fit_a_page`), a group keeps its lane (`a_group_stays_in_its_lane`). Not here: the table beside it (`movement`), looks (`static/sheaf.css`).

use super::hatch::{Badge, badge};
use jiff::civil::Date;
use sheaf_core::movement::{Flow, WayKind};
use sheaf_core::plan::group_number;
use std::collections::BTreeMap;

/// Weeks side by side in one panel.
const PANEL_WEEKS: usize = 8;
/// Space for each week, least and most, all of them together, and the width of a box, in units of the picture: CSS pixels.
const LEAST_STEP: f64 = 90.0;
const MOST_STEP: f64 = 120.0;
const ALL_STEPS: f64 = 630.0;
const BOX_WIDTH: f64 = 34.0;
const GAP: f64 = 5.0;
const TOP: f64 = 26.0;
const LEAST_BOX: f64 = 14.0;
/// Height that all children of a week together take at most, and one child at most.
const ALL: f64 = 560.0;
const ONE: f64 = 9.0;

/// A box: a group in a week, or who has no seat.
pub(crate) struct GroupBox {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) height: f64,
    /// `None`: no seat.
    pub(crate) badge: Option<Badge>,
    /// Children.
    pub(crate) n: usize,
    pub(crate) text_x: f64,
    pub(crate) text_y: f64,
}

/// A band from a box to one of the next week.
pub(crate) struct Band {
    pub(crate) path: String,
    pub(crate) kind: WayKind,
    pub(crate) pattern: usize,
    /// What it stands for, as its title.
    pub(crate) words: String,
}

/// A picture of a few weeks.
pub(crate) struct Panel {
    pub(crate) number: usize,
    pub(crate) weeks: Vec<(f64, String)>,
    pub(crate) boxes: Vec<GroupBox>,
    pub(crate) bands: Vec<Band>,
    pub(crate) width: f64,
    pub(crate) height: f64,
    /// `2 Feb to 2 Mar`.
    pub(crate) span: String,
}

/// Groups in order of number, who has no seat last.
type Place<'a> = (bool, usize, &'a str);

fn place(group: Option<&str>) -> Place<'_> {
    let id = group.unwrap_or("");
    (group.is_none(), group_number(id).unwrap_or(0), id)
}

/// `2 Feb`.
pub(crate) fn short_date(date: Date) -> String {
    const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = usize::try_from(date.month() - 1).ok().and_then(|m| MONTHS.get(m)).copied().unwrap_or_default();
    format!("{} {month}", date.day())
}

/// `group 3`, or `no seat`.
pub(crate) fn group_words(group: Option<&str>) -> String {
    group.map_or("no seat".to_owned(), |id| format!("group {}", badge(id).number))
}

/// Panels over all weeks; none where there are no moves.
pub(crate) fn panels(weeks: &[Date], flows: &[(Date, Vec<Flow>)]) -> Vec<Panel> {
    let n_gaps = PANEL_WEEKS - 1;
    let parts: Vec<&[(Date, Vec<Flow>)]> = flows.chunks(n_gaps).collect();
    let panel = |(at, part): (usize, &&[(Date, Vec<Flow>)])| {
        let here = weeks.get(at * n_gaps..=at * n_gaps + part.len()).unwrap_or_default();
        Panel { number: at + 1, ..drawn(here, part) }
    };
    parts.iter().enumerate().map(panel).collect()
}

/// Children of each group, by week.
fn columns(flows: &[(Date, Vec<Flow>)]) -> Vec<BTreeMap<Place<'_>, usize>> {
    let mut columns = vec![BTreeMap::new(); flows.len() + 1];
    for (at, (_, flows)) in flows.iter().enumerate() {
        // Who comes later or goes is in no box on the side where there was no week of theirs to count twice.
        for flow in flows {
            if at == 0 {
                *columns[at].entry(place(flow.from.as_deref())).or_default() += flow.n_students;
            }
            *columns[at + 1].entry(place(flow.to.as_deref())).or_default() += flow.n_students;
        }
    }
    for (at, (_, flows)) in flows.iter().enumerate().skip(1) {
        let unseated: usize = flows.iter().filter(|f| f.from.is_none()).map(|f| f.n_students).sum();
        let known = columns[at].entry(place(None)).or_insert(0);
        *known = (*known).max(unseated);
        if *known == 0 {
            columns[at].remove(&place(None));
        }
    }
    columns
}

struct Boxes<'a> {
    by_place: Vec<BTreeMap<Place<'a>, (f64, f64, usize)>>,
    one: f64,
    height: f64,
    step: f64,
}

impl Boxes<'_> {
    fn x_of(&self, column: usize) -> f64 {
        8.0 + column as f64 * self.step
    }
}

fn boxes_of<'a>(columns: &[BTreeMap<Place<'a>, usize>]) -> Boxes<'a> {
    // A lane is as high as its group ever is.
    let mut lanes: BTreeMap<Place<'a>, usize> = BTreeMap::new();
    for (place, n) in columns.iter().flatten() {
        let most = lanes.entry(*place).or_default();
        *most = (*most).max(*n);
    }
    let one = (ALL / lanes.values().sum::<usize>().max(1) as f64).min(ONE);
    let tall = |n: usize| (n as f64 * one).max(LEAST_BOX);
    let mut height = TOP;
    let mut tops = BTreeMap::new();
    for (place, most) in lanes {
        tops.insert(place, height);
        height += tall(most) + GAP;
    }
    let placed = |(place, n): (&Place<'a>, &usize)| Some((*place, (*tops.get(place)?, tall(*n), *n)));
    let by_place = columns.iter().map(|column| column.iter().filter_map(placed).collect()).collect();
    let n_steps = columns.len().saturating_sub(1).max(1);
    let step = (ALL_STEPS / n_steps as f64).clamp(LEAST_STEP, MOST_STEP);
    Boxes { by_place, one, height, step }
}

fn drawn(weeks: &[Date], flows: &[(Date, Vec<Flow>)]) -> Panel {
    let columns = columns(flows);
    let boxes = boxes_of(&columns);
    let mut shown = Vec::new();
    for (at, column) in boxes.by_place.iter().enumerate() {
        for (place, (y, height, n)) in column {
            let group = (!place.0).then(|| badge(place.2));
            let (text_x, text_y) = (boxes.x_of(at) + BOX_WIDTH / 2.0, y + height / 2.0 + 4.0);
            shown.push(GroupBox { x: boxes.x_of(at), y: *y, height: *height, badge: group, n: *n, text_x, text_y });
        }
    }
    let bands = flows.iter().enumerate().flat_map(|(at, (_, flows))| bands_between(&boxes, at, flows)).collect();
    let words: Vec<String> = weeks.iter().map(|w| short_date(*w)).collect();
    Panel {
        number: 1,
        span: [words.first(), words.last()].into_iter().flatten().cloned().collect::<Vec<_>>().join(" to "),
        weeks: words.into_iter().enumerate().map(|(at, w)| (boxes.x_of(at) + BOX_WIDTH / 2.0, w)).collect(),
        boxes: shown,
        bands,
        width: boxes.x_of(columns.len() - 1) + BOX_WIDTH + 8.0,
        height: boxes.height + 4.0,
    }
}

/// Bands leave a box in the order of where they go and arrive in the order of where they come from, so few of them cross.
fn bands_between(boxes: &Boxes<'_>, at: usize, flows: &[Flow]) -> Vec<Band> {
    let mut order: Vec<(Place<'_>, Place<'_>, &Flow)> =
        flows.iter().map(|f| (place(f.from.as_deref()), place(f.to.as_deref()), f)).collect();
    order.sort_by_key(|(from, to, _)| (*from, *to));
    let (mut left, mut right): (BTreeMap<Place<'_>, f64>, BTreeMap<Place<'_>, f64>) = Default::default();
    let mut bands = Vec::new();
    for (from, to, flow) in order {
        let (Some(a), Some(b)) =
            (boxes.by_place.get(at).and_then(|c| c.get(&from)), boxes.by_place.get(at + 1).and_then(|c| c.get(&to)))
        else {
            continue;
        };
        let tall = flow.n_students as f64 * boxes.one;
        let y0 = left.entry(from).or_insert(a.0);
        let start = *y0;
        *y0 += tall;
        let y1 = right.entry(to).or_insert(b.0);
        let end = *y1;
        *y1 += tall;
        bands.push(band(flow, (boxes.x_of(at) + BOX_WIDTH, start), (boxes.x_of(at + 1), end), tall));
    }
    // Who changed lies over who stayed.
    bands.sort_by_key(|b| b.kind != WayKind::Stayed);
    bands
}

fn band(flow: &Flow, (x0, y0): (f64, f64), (x1, y1): (f64, f64), tall: f64) -> Band {
    let middle = f64::midpoint(x0, x1);
    let path = format!(
        "M{x0:.1} {y0:.1}C{middle:.1} {y0:.1} {middle:.1} {y1:.1} {x1:.1} {y1:.1}V{:.1}C{middle:.1} {:.1} {middle:.1} {:.1} {x0:.1} {:.1}Z",
        y1 + tall,
        y1 + tall,
        y0 + tall,
        y0 + tall
    );
    let words =
        format!("{} to {}: {}", group_words(flow.from.as_deref()), group_words(flow.to.as_deref()), flow.n_students);
    Band { path, kind: flow.kind(), pattern: badge(flow.to.as_deref().unwrap_or("g1")).pattern, words }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn week(n: usize) -> Date {
        jiff::civil::date(2026, 2, 2).saturating_add(jiff::Span::new().days(7 * n as i64))
    }

    fn flow(from: Option<usize>, to: Option<usize>, n_students: usize) -> Flow {
        let id = |g: Option<usize>| g.map(|g| format!("g{g}"));
        Flow { from: id(from), to: id(to), n_students }
    }

    /// `n_groups` of four, of whom one goes to the next group each week.
    fn year(n_weeks: usize, n_groups: usize) -> (Vec<Date>, Vec<(Date, Vec<Flow>)>) {
        let flows = || {
            let of = |g: usize| [flow(Some(g), Some(g), 3), flow(Some(g), Some(g % n_groups + 1), 1)];
            (1..=n_groups).flat_map(of).collect()
        };
        ((0..n_weeks).map(week).collect(), (1..n_weeks).map(|n| (week(n), flows())).collect())
    }

    #[test]
    fn a_year_is_cut_into_panels_that_fit_a_page() {
        let (weeks, flows) = year(36, 30);
        let panels = panels(&weeks, &flows);
        assert_eq!(panels.len(), 5);
        assert!(panels.iter().all(|p| p.width <= 690.0 && p.height <= 960.0), "{} high", panels[0].height);
        assert_eq!(panels[0].weeks.last().unwrap().1, panels[1].weeks[0].1, "a panel begins where the last one ends");
        assert_eq!(panels[0].boxes.len(), 8 * 30);
        assert_eq!(panels[4].span, "17 Aug to 5 Oct");
    }

    #[test]
    fn bands_fill_their_boxes() {
        let (weeks, flows) = year(5, 6);
        let panel = panels(&weeks, &flows).remove(0);
        let arriving: usize = flows[0].1.iter().map(|f| f.n_students).sum();
        assert_eq!(panel.boxes.iter().filter(|b| b.x > 100.0 && b.x < 140.0).map(|b| b.n).sum::<usize>(), arriving);
        assert!(panel.boxes.iter().all(|b| (b.height - 4.0 * ONE).abs() < 1e-9));
        assert_eq!(panel.bands.iter().filter(|b| b.kind == WayKind::Changed).count(), 4 * 6);
    }

    #[test]
    fn a_group_stays_in_its_lane() {
        let weeks = [week(0), week(1), week(2)];
        let flows = [
            (week(1), vec![flow(Some(1), Some(1), 3), flow(Some(2), Some(2), 5), flow(Some(3), Some(3), 4)]),
            (week(2), vec![flow(Some(1), Some(3), 3), flow(Some(2), Some(2), 5), flow(Some(3), Some(3), 4)]),
        ];
        let panel = panels(&weeks, &flows).remove(0);
        for number in ["1", "2", "3"] {
            let of_group = panel.boxes.iter().filter(|b| b.badge.as_ref().is_some_and(|b| b.number == number));
            let tops: Vec<f64> = of_group.map(|b| b.y).collect();
            assert!(tops.windows(2).all(|pair| (pair[0] - pair[1]).abs() < 1e-9), "{number}: {tops:?}");
        }
        let ends: Vec<f64> = panel.boxes.iter().filter(|b| b.x < 10.0).map(|b| b.y + b.height).collect();
        assert!(
            panel.boxes.iter().filter(|b| b.x < 10.0).skip(1).zip(&ends).all(|(b, end)| b.y > *end),
            "boxes lie apart"
        );
    }

    #[test]
    fn who_comes_and_goes_has_a_box_of_no_seat() {
        let weeks = [week(0), week(1), week(2)];
        let flows = [
            (week(1), vec![flow(Some(1), Some(1), 3), flow(Some(1), None, 1)]),
            (week(2), vec![flow(Some(1), Some(1), 3), flow(None, Some(1), 2)]),
        ];
        let panel = panels(&weeks, &flows).remove(0);
        let none: Vec<usize> = panel.boxes.iter().filter(|b| b.badge.is_none()).map(|b| b.n).collect();
        assert_eq!(none, [2], "as many as came, not as many as left");
        assert_eq!(panel.bands.iter().filter(|b| b.kind == WayKind::ComesOrGoes).count(), 2);
        assert!(panels(&weeks[..1], &[]).is_empty());
    }
}
