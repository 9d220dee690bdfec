//! How sure the tooth is over a plane, as a drawing: contours of U with the machine to scale in it.
//!
//! Contours and their figures say it first; bands of lightness repeat it. Hatched where a limit is not held, blank
//! out of reach, and about that the limit of reach as a line of its own.

use crate::contour::{Grid, areas_from, lines, simplified};
use crate::dimension::draw_tooth_mark;
use crate::ellipse::{self, Ellipse, ellipse_of};
use crate::figure::{Sign, rounded};
use crate::geometry::{Pt, Rect, Step, closed_path, open_path, pt};
use crate::hatch::{self, Hatch};
use crate::ink::Ink;
use crate::legend::{Entry, Sample, draw_legend, legend_mm};
use crate::lengths::Lengths;
use crate::line::Line;
use crate::machine_view::{Lettering, MachineView, View, draw_outlines, outlines_window};
use crate::page::{LIMIT, Map, Page, Pen, Type};
use crate::place::{Label, Placer};
use crate::place_along::{length_of, places_along};
use crate::plot::{nice_ticks, tick_text};
use crate::scale::{Window, draw_north, draw_scale_bar, fit};
use crate::words::Words;

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UncertaintyMap<'a> {
    /// U, m, over the plane.
    pub grid: &'a Grid,
    /// Limit of reach as closed outlines, m; empty: about what is known.
    pub reach_m: &'a [Vec<[f64; 2]>],
    /// Largest U that holds, m.
    pub limit_m: Option<f64>,
    /// The machine.
    pub machine: Option<&'a MachineView>,
    /// Which plane.
    pub view: View,
    /// The tooth of the pose looked at, in the plane, m.
    pub tooth_m: Option<[f64; 2]>,
    /// Its covariance in the plane, right and up, m².
    pub covariance_m2: Option<[[f64; 2]; 2]>,
    /// What U is shown in.
    pub lengths: Lengths,
}

/// The ellipse is drawn for this factor.
const K: f64 = 2.0;

impl UncertaintyMap<'_> {
    /// The ellipse at the tooth, and how many times its size it is drawn.
    fn ellipse(&self, mm_per_m: f64) -> Option<(Ellipse, f64)> {
        self.tooth_m?;
        let ellipse = ellipse_of(self.covariance_m2?, K)?;
        let true_mm = ellipse.long * mm_per_m;
        let times = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
        let fits = times.into_iter().rev().find(|t| t * true_mm <= ELLIPSE_MM);
        Some((ellipse, fits.unwrap_or(1.0)))
    }
}

/// Longer half axis of the ellipse as drawn, at most, mm.
const ELLIPSE_MM: f64 = 14.0;

/// Contour lines and bands of a map, in the unit of small lengths.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// Contours, growing; at most four.
    pub lines: Vec<f64>,
    /// Least and largest; none where nothing is known.
    pub range: Option<[f64; 2]>,
}

/// Round levels for a map: at most four, never closer than a step that is worth a line.
pub fn levels_of(grid: &Grid, lengths: Lengths) -> Levels {
    let per_m = lengths.small_per_m();
    let Some([low, high]) = grid.range().map(|range| range.map(|v| v * per_m)) else {
        return Levels {
            lines: Vec::new(),
            range: None,
        };
    };
    let mut lines = nice_ticks(low, high.max(low + 1e-9), 4.0);
    lines.retain(|l| low < *l && *l < high && is_step(*l / lengths.least_step()));
    while lines.len() > 4 {
        let mut idx = 0;
        lines.retain(|_| {
            idx += 1;
            idx % 2 == 0
        });
    }
    Levels {
        lines,
        range: Some([low, high]),
    }
}

/// Whether a number is whole, but for what arithmetic leaves.
fn is_step(number: f64) -> bool {
    (number.round() - number).abs() < 1e-6
}

/// Draws the map into a field of a page. Gives the number after `1 :` and where its metres lie; `None` with nothing
/// drawn where nothing is within reach and no pose is looked at.
pub fn draw_uncertainty_map(
    page: &mut Page,
    field: Rect,
    map: &UncertaintyMap<'_>,
    lettering: &Lettering,
    words: &Words,
) -> Option<(f64, Map)> {
    // Without a map there is still the pose, with its ellipse.
    if !has_values(map.grid) && map.tooth_m.is_none() {
        return None;
    }
    let levels = levels_of(map.grid, map.lengths);
    // The factor of the ellipse stands in the legend, and the legend's height sets the scale.
    let (_, first) = fit(&window_of(map)?, field, 2.0, lettering.steps);
    let factor = |mm_per_m: f64| map.ellipse(mm_per_m).map(|(_, times)| times);
    let entries = legend_of(map, &levels, factor(first.mm_per_m), words);
    let bar_mm = (field.width() * 0.28).min(70.0) + 12.0;
    let size = lettering.size_pt;
    let legend_width = field.width() - bar_mm;
    let set = Type::soft(size);
    let foot = legend_mm(&entries, legend_width, size).max(set.line_mm() + 4.5) + 1.0;
    let room = Rect {
        bottom: field.bottom - foot,
        ..field
    };
    let (number, at) = fit(&window_of(map)?, room, 2.0, lettering.steps);
    let mut placer = Placer::new(room);
    page.begin("map", words.uncertainty_map.to_string());
    draw_bands(page, map, &levels, &at);
    draw_forbidden(page, map, &at);
    draw_not_known(page, map.grid, &at);
    draw_reach(page, &mut placer, map, &at);
    draw_ground(page, map, &at, room);
    if let Some(machine) = map.machine {
        draw_outlines(page, &mut placer, machine, &at, map.view);
    }
    draw_north_of(page, &mut placer, map, room, set, words);
    let entries = legend_of(map, &levels, factor(at.mm_per_m), words);
    if let Some(tooth) = map.tooth_m {
        let tooth = at.on_paper(tooth);
        if let Some((ellipse, times)) = map.ellipse(at.mm_per_m) {
            let steps = ellipse::path(tooth, &ellipse, at.mm_per_m * times);
            page.stroke(steps, ELLIPSE);
        }
        let r = 2.0;
        draw_tooth_mark(page, tooth, 1.6);
        placer.take(Rect::sized(tooth.x - r, tooth.y - r, 2.0 * r, 2.0 * r).corners());
    }
    draw_contours(page, &mut placer, map, &levels, &at, size);
    let scale_at = pt(
        field.left + 2.0 + set.width_mm("0"),
        field.bottom - foot + 1.6,
    );
    draw_scale_bar(page, scale_at, at.mm_per_m, bar_mm - 12.0, set);
    let legend_at = pt(field.left + bar_mm, field.bottom - foot + 1.0);
    draw_legend(page, legend_at, legend_width, &entries, size, &words.legend);
    page.end();
    Some((number, at))
}

fn has_values(grid: &Grid) -> bool {
    grid.values.iter().any(Option::is_some)
}

fn window_of(map: &UncertaintyMap<'_>) -> Option<Window> {
    let grid = map.grid;
    let known = areas_from(&grid.reach(), f64::NEG_INFINITY);
    let machine = map
        .machine
        .and_then(|m| outlines_window(m, map.view))
        .map(|w| vec![[w.left_m, w.down_m], [w.right_m, w.up_m]]);
    let points = known.into_iter().flatten();
    let reach = map.reach_m.iter().flatten().copied();
    Window::around(
        points
            .chain(reach)
            .chain(machine.into_iter().flatten())
            .chain(map.tooth_m),
    )
}

/// Outlines on paper, without points that nobody would see.
fn on_paper(outlines: &[Vec<[f64; 2]>], at: &Map) -> Vec<Vec<Pt>> {
    let within = 0.06 / at.mm_per_m;
    outlines
        .iter()
        .map(|o| {
            simplified(o, within)
                .iter()
                .map(|p| at.on_paper(*p))
                .collect()
        })
        .collect()
}

fn closed(outlines: &[Vec<Pt>]) -> Vec<Step> {
    outlines.iter().flat_map(|o| closed_path(o)).collect()
}

fn draw_bands(page: &mut Page, map: &UncertaintyMap<'_>, levels: &Levels, at: &Map) {
    let (grid, per_m) = (map.grid, map.lengths.small_per_m());
    page.begin("bands", "");
    let known = on_paper(&areas_from(grid, f64::NEG_INFINITY), at);
    page.fill(closed(&known), Ink::BANDS[0]);
    for (idx, level) in levels.lines.iter().enumerate() {
        let area = on_paper(&areas_from(grid, level / per_m), at);
        let band = Ink::BANDS[(idx + 1).min(Ink::BANDS.len() - 1)];
        page.fill(closed(&area), band);
    }
    page.end();
}

fn has_not_known(grid: &Grid) -> bool {
    grid.values.iter().flatten().any(|v| !v.is_finite())
}

/// Within reach and not known is no better than not held, and it looks worse.
fn draw_not_known(page: &mut Page, grid: &Grid, at: &Map) {
    if !has_not_known(grid) {
        return;
    }
    page.begin("not-known", "");
    let outlines = on_paper(&areas_from(&grid.reach(), 0.5), at);
    let outlines: Vec<&[Pt]> = outlines.iter().map(Vec::as_slice).collect();
    hatch::draw_all(page, Hatch::NoGo, &outlines);
    page.end();
}

fn draw_forbidden(page: &mut Page, map: &UncertaintyMap<'_>, at: &Map) {
    let Some(limit) = map.limit_m.filter(|l| l.is_finite()) else {
        return;
    };
    page.begin("not-held", "");
    let outlines = on_paper(&areas_from(map.grid, limit), at);
    let outlines: Vec<&[Pt]> = outlines.iter().map(Vec::as_slice).collect();
    hatch::draw_all(page, Hatch::Cut, &outlines);
    page.end();
}

const ELLIPSE: Pen = Pen::new(Line::Steel, Ink::Accent);
const REACH: Pen = Pen::new(Line::Other, Ink::Ink);

fn draw_reach(page: &mut Page, placer: &mut Placer, map: &UncertaintyMap<'_>, at: &Map) {
    let known;
    let outlines = if map.reach_m.is_empty() {
        known = areas_from(&map.grid.reach(), f64::NEG_INFINITY);
        known.as_slice()
    } else {
        map.reach_m
    };
    page.begin("reach", "");
    for outline in on_paper(outlines, at) {
        page.stroke(closed_path(&outline), REACH);
        placer.avoid_outline(&outline);
    }
    page.end();
}

fn draw_ground(page: &mut Page, map: &UncertaintyMap<'_>, at: &Map, room: Rect) {
    let ground = map.machine.and_then(|m| m.ground_m);
    let Some([a, b]) = ground.filter(|_| map.view == View::Section) else {
        return;
    };
    let (a, b) = (at.on_paper(a), at.on_paper(b));
    let fall = (b.y - a.y) / (b.x - a.x);
    let put = |x: f64| pt(x, a.y + (x - a.x) * fall);
    let (left, right) = (put(room.left + 1.0), put(room.right - 1.0));
    if room.top < left.y.min(right.y) && left.y.max(right.y) < room.bottom {
        page.line(left, right, Pen::new(Line::Steel, Ink::Ink));
    }
}

fn draw_north_of(
    page: &mut Page,
    placer: &mut Placer,
    map: &UncertaintyMap<'_>,
    room: Rect,
    set: Type,
    words: &Words,
) {
    let north = map.machine.and_then(|m| m.north_rad);
    if let Some(north) = north.filter(|n| n.is_finite() && map.view == View::Plan) {
        let centre = pt(room.right - 14.0, room.top + 12.0);
        let around = draw_north(page, centre, -north, &words.grid_north, set);
        placer.take(around.inset(-0.5).corners());
    }
}

fn draw_contours(
    page: &mut Page,
    placer: &mut Placer,
    map: &UncertaintyMap<'_>,
    levels: &Levels,
    at: &Map,
    size_pt: f64,
) {
    page.begin("contours", "");
    let per_m = map.lengths.small_per_m();
    let limit = map.limit_m.filter(|l| l.is_finite()).map(|l| l * per_m);
    let mut all: Vec<(f64, bool)> = levels.lines.iter().map(|l| (*l, false)).collect();
    all.retain(|(l, _)| limit.is_none_or(|limit| (limit - l).abs() > 1e-6));
    all.extend(limit.map(|l| (l, true)));
    let mut to_letter: Vec<(Vec<Pt>, String, bool)> = Vec::new();
    for (level, is_limit) in all {
        let pen = if is_limit {
            LIMIT
        } else {
            Pen::new(Line::Thin, Ink::Ink)
        };
        let text = if is_limit {
            map.lengths.small_text(map.limit_m, 0, Sign::Minus)
        } else {
            let text = tick_text(level, &levels.lines, Sign::Minus);
            format!("{text} {}", map.lengths.small_unit())
        };
        for line in on_paper(&lines(map.grid, level / per_m), at) {
            page.stroke(open_path(&line), pen);
            line.windows(2).for_each(|w| placer.avoid(w[0], w[1]));
            to_letter.push((line, text.clone(), is_limit));
        }
    }
    // The limit first, then the longest: they are looked for first.
    to_letter.sort_by(|a, b| {
        b.2.cmp(&a.2)
            .then(length_of(&b.0).total_cmp(&length_of(&a.0)))
    });
    for (line, text, is_limit) in &to_letter {
        let set = if *is_limit {
            Type::strong(size_pt)
        } else {
            Type::regular(size_pt)
        };
        let label = Label::new(set, text.clone());
        let places = places_along(line, &label);
        placer.put_at_best(page, &label, &places);
    }
    page.end();
}

fn legend_of(
    map: &UncertaintyMap<'_>,
    levels: &Levels,
    times: Option<f64>,
    words: &Words,
) -> Vec<Entry> {
    let number = |v: f64| tick_text(v, &levels.lines, Sign::Minus);
    let (lengths, unit) = (map.lengths, map.lengths.small_unit());
    let mut entries = Vec::new();
    if let (Some([low, high]), true) = (levels.range, levels.lines.is_empty()) {
        let step = lengths.least_step();
        let (low, high) = ((low / step).floor() * step, (high / step).ceil() * step);
        let low = rounded(low, lengths.decimals(0), Sign::Minus);
        let high = lengths.small_number(high, lengths.decimals(0));
        entries.push((
            Sample::Face(Ink::BANDS[0]),
            format!("{low} {} {high}", words.to),
        ));
    }
    for (idx, level) in levels.lines.iter().enumerate() {
        let text = match idx {
            0 => format!("{} {} {unit}", words.below, number(*level)),
            _ => {
                let before = number(levels.lines[idx - 1]);
                format!("{before} {} {}", words.to, number(*level))
            }
        };
        entries.push((Sample::Face(Ink::BANDS[idx]), text));
    }
    if let Some(last) = levels.lines.last() {
        let band = Ink::BANDS[levels.lines.len().min(4)];
        let text = format!("{} {} {unit}", words.from, number(*last));
        entries.push((Sample::Face(band), text));
    }
    let mapped = has_values(map.grid);
    if let Some(limit) = map.limit_m.filter(|l| mapped && l.is_finite()) {
        let limit = lengths.small_text(Some(limit), 0, Sign::Minus);
        let text = format!("{}: {} {limit}", words.not_held, words.u_above);
        entries.push((Sample::Hatch(Hatch::Cut), text));
    }
    if has_not_known(map.grid) {
        entries.push((Sample::Hatch(Hatch::NoGo), words.not_known.to_string()));
    }
    if mapped || !map.reach_m.is_empty() {
        entries.push((Sample::Line(REACH), words.limit_of_reach.to_string()));
    }
    if let Some(times) = times {
        let text = format!("{}, {times} {}", words.ellipse_twice, words.times_its_size);
        entries.push((Sample::Line(ELLIPSE), text));
    }
    entries
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(values: [f64; 4]) -> Grid {
        Grid {
            from_m: [0.0, 0.0],
            step_m: [1.0, 1.0],
            n_right: 2,
            n_up: 2,
            values: values.map(Some).to_vec(),
        }
    }

    #[test]
    fn levels_are_few_round_and_inside() {
        for (low, high) in [
            (0.009, 0.031),
            (0.0361, 0.0364),
            (0.2, 3.1),
            (0.014, 0.0191),
        ] {
            let levels = levels_of(&grid([low, high, low, high]), Lengths::Metric);
            assert!(levels.lines.len() <= 4, "{levels:?}");
            for level in &levels.lines {
                assert!(low * 1000.0 < *level && *level < high * 1000.0);
                assert!((level.round() - level).abs() < 1e-6, "{levels:?}");
            }
        }
        let feet = levels_of(
            &grid([0.009, 0.031, 0.009, 0.031]),
            Lengths::InternationalFeet,
        );
        assert_eq!(feet.lines.len(), 4, "{feet:?}");
        assert!((feet.lines[0] - 0.04).abs() < 1e-9, "{feet:?}");
        assert_eq!(levels_of(&grid([f64::NAN; 4]), Lengths::Metric).range, None);
        assert!(
            levels_of(&grid([0.02; 4]), Lengths::Metric)
                .lines
                .is_empty()
        );
    }

    #[test]
    fn a_map_without_a_value_draws_nothing() {
        let mut page = Page::new(100.0, 100.0, "test");
        let grid = Grid::default();
        let map = UncertaintyMap {
            grid: &grid,
            reach_m: &[],
            limit_m: None,
            machine: None,
            view: View::Section,
            tooth_m: None,
            covariance_m2: None,
            lengths: Lengths::Metric,
        };
        let field = page.paper();
        let words = Words::ENGLISH;
        assert!(draw_uncertainty_map(&mut page, field, &map, &Lettering::PAPER, &words).is_none());
        assert!(page.items.is_empty());
        let unknown = grid_of_unknown();
        let map = UncertaintyMap {
            grid: &unknown,
            ..map
        };
        draw_uncertainty_map(&mut page, field, &map, &Lettering::PAPER, &words).expect("drawn");
        assert!(page.runs().any(|run| run.text == "not known"));
    }

    fn grid_of_unknown() -> Grid {
        grid([f64::NAN; 4])
    }
}
