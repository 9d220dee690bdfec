//! Where the search begins: set-ups, headings and marks from the chain as the sheet has it.

use super::build::unread;
use super::frames::Nuisance;
use super::pose::{At, Posed, PosedBlock};
use super::rig::FigureOf;
use super::{Heading, Row, Slot, Spot, System};
use crate::calibrate::observations::Target;
use crate::tooth::plan::Given;
use holdline_geom::fault::Fault;
use nalgebra::{DMatrix, DVector, Vector2, Vector3};
use std::collections::BTreeMap;

/// A point that was measured, as the chain has it in the levelled machine.
#[derive(Debug, Clone, Copy)]
struct Seen {
    level_m: [f64; 3],
    measured_m: [Option<f64>; 3],
}

impl Seen {
    fn flat(&self) -> Option<(Vector2<f64>, Vector2<f64>)> {
        let [x, y, _] = self.level_m;
        let measured = Vector2::new(self.measured_m[0]?, self.measured_m[1]?);
        Some((Vector2::new(x, y), measured))
    }
}

/// One pose seen in one frame.
#[derive(Debug, Clone)]
struct SeenPose {
    heading: Heading,
    /// Heading with every unknown azimuth at zero.
    heading_rad: f64,
    points: Vec<Seen>,
}

/// Sets the unknowns that are no figures.
///
/// They follow `n_figures` figures, which stand at their values already.
pub(super) fn begin(
    system: &System,
    nuisances: &[Nuisance],
    n_figures: usize,
    x: &mut [f64],
) -> Result<(), Fault> {
    for (idx, nuisance) in nuisances.iter().enumerate() {
        if let Nuisance::Reading { sensor, .. } = nuisance {
            let sensor_idx = system.plan.sensor_ids.iter().position(|id| id == sensor);
            x[n_figures + idx] = sensor_idx.map_or(0.0, |s| unread(system, s));
        }
    }
    axis_leans(system, x)?;
    let mut groups: BTreeMap<usize, ([usize; 3], Vec<SeenPose>)> = BTreeMap::new();
    for block in &system.blocks {
        let posed_block = PosedBlock { system, block };
        for (view_idx, view) in block.views.iter().enumerate() {
            let [Slot::Sought(east), Slot::Sought(north), Slot::Sought(up)] = view.origin else {
                continue;
            };
            let at = At::plain(system, x, &block.readings);
            let posed = posed_block.posed(view, &at)?;
            let points = seen_in(&posed_block, &posed, &at, view_idx)?;
            let group = groups
                .entry(east)
                .or_insert_with(|| ([east, north, up], Vec::new()));
            group.1.push(SeenPose {
                heading: view.heading,
                heading_rad: posed.heading_rad,
                points,
            });
        }
    }
    for (origin, poses) in groups.values() {
        place(origin, poses, x);
    }
    let of_a_fix = |unknown_idx: usize| {
        let nuisance = nuisances.get(unknown_idx - n_figures);
        matches!(nuisance, Some(Nuisance::Satellites { .. }))
    };
    marks(system, &of_a_fix, x)?;
    targets_on_links(system, x)
}

/// Where the sheet's offset of the idler's sensor leaves the linkage open in some pose, and nothing is known
/// of that offset, begins in the middle of the offsets with which it closes in every pose.
pub(super) fn close_linkage(
    system: &System,
    figures: &[FigureOf],
    figure_of_unknown: &[usize],
    x: &mut [f64],
) {
    const STEP_RAD: f64 = std::f64::consts::PI / 90.0;
    const N_STEPS: usize = 180;
    if system.plan.bucket.gives != Given::Idler {
        return;
    }
    let id = &system.plan.sensor_ids[system.plan.bucket.sensor_idx];
    let path = format!("sensor[{id}].offset");
    let is_it = |idx: &usize| figures[*idx].path == path && figures[*idx].measured.sd.is_none();
    let Some(unknown_idx) = figure_of_unknown.iter().position(is_it) else {
        return;
    };
    if closes(system, x) {
        return;
    }
    let before = x[unknown_idx];
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for step in 0..N_STEPS {
        x[unknown_idx] = before + STEP_RAD * (step as f64 - N_STEPS as f64 / 2.0);
        if !closes(system, x) {
            continue;
        }
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == step => *last = step,
            _ => runs.push((step, step)),
        }
    }
    let longest = runs.iter().max_by_key(|(first, last)| last - first);
    x[unknown_idx] = longest.map_or(before, |(first, last)| {
        let middle = (first + last) as f64 / 2.0;
        before + STEP_RAD * (middle - N_STEPS as f64 / 2.0)
    });
}

/// Whether the chain has a value in every pose.
fn closes(system: &System, x: &[f64]) -> bool {
    system.blocks.iter().all(|block| {
        let at = At::plain(system, x, &block.readings);
        let posed = PosedBlock { system, block };
        block
            .views
            .iter()
            .all(|view| posed.posed(view, &at).is_ok())
    })
}

/// The measured points of a block in one view.
fn seen_in(
    block: &PosedBlock<'_>,
    posed: &Posed<f64>,
    at: &At<'_, f64>,
    wanted_view: usize,
) -> Result<Vec<Seen>, Fault> {
    let mut points: Vec<(&Spot, Seen)> = Vec::new();
    for row in &block.block.rows {
        let Row::Coordinate {
            view_idx,
            spot,
            axis,
            mark,
            reading_idx,
        } = row
        else {
            continue;
        };
        // On a mark whose place is sought nothing is seen; an antenna is, but for what its fix is off.
        let antenna = matches!(spot, Spot::Target(Target::Antenna(_)));
        if !matches!(mark, Slot::Plain(_)) && !antenna {
            continue;
        }
        if *view_idx != wanted_view || matches!(spot, Spot::OnLink { .. }) {
            continue;
        }
        let measured = block.block.readings[*reading_idx];
        match points
            .iter_mut()
            .find(|(known, seen)| *known == spot && seen.measured_m[*axis].is_none())
        {
            Some((_, seen)) => seen.measured_m[*axis] = Some(measured),
            None => {
                let level = posed.lean.level_from_house() * block.spot(posed, spot, at)?;
                let mut measured_m = [None; 3];
                measured_m[*axis] = Some(measured);
                points.push((
                    spot,
                    Seen {
                        level_m: level.vector().into(),
                        measured_m,
                    },
                ));
            }
        }
    }
    Ok(points.into_iter().map(|(_, seen)| seen).collect())
}

/// A turn counter-clockwise and a shift that carry points onto points, by least squares.
fn carried(pairs: &[(Vector2<f64>, Vector2<f64>)]) -> Option<(f64, Vector2<f64>, f64)> {
    let n = pairs.len() as f64;
    if pairs.is_empty() {
        return None;
    }
    let (from, to) = pairs
        .iter()
        .fold((Vector2::zeros(), Vector2::zeros()), |(a, b), (p, q)| {
            (a + p, b + q)
        });
    let (from, to) = (from / n, to / n);
    let (mut dot, mut cross, mut spread2) = (0.0, 0.0, 0.0);
    for (p, q) in pairs {
        let (p, q) = (p - from, q - to);
        dot += p.dot(&q);
        cross += p.perp(&q);
        spread2 += p.norm_squared();
    }
    let turn_rad = cross.atan2(dot);
    Some((turn_rad, to - turned(from, turn_rad), spread2.sqrt()))
}

fn turned(v: Vector2<f64>, by_rad: f64) -> Vector2<f64> {
    let (sin, cos) = by_rad.sin_cos();
    Vector2::new(v.x * cos - v.y * sin, v.x * sin + v.y * cos)
}

/// Turn counter-clockwise from the levelled machine to a frame, for a heading.
fn turn_of(heading_rad: f64) -> f64 {
    std::f64::consts::FRAC_PI_2 - heading_rad
}

/// Points closer together than this give no direction, m.
const SPREAD_AT_LEAST_M: f64 = 0.3;

/// Origin and headings of one stand in one frame.
fn place(origin: &[usize; 3], poses: &[SeenPose], x: &mut [f64]) {
    let by_heading: Vec<(Vector2<f64>, Vector2<f64>)> = poses
        .iter()
        .filter(|pose| !matches!(pose.heading, Heading::Is(Slot::Sought(_))))
        .flat_map(|pose| {
            let points = pose.points.iter().filter_map(Seen::flat);
            points.map(|(p, q)| (turned(p, turn_of(pose.heading_rad)), q))
        })
        .collect();
    let azimuth = poses.iter().find_map(|pose| match pose.heading {
        Heading::Read { azimuth, .. } | Heading::Swing { azimuth } => Some(azimuth),
        Heading::Is(_) => None,
    });
    let from_headings =
        carried(&by_heading).and_then(|(turn_rad, shift, spread_m)| match azimuth {
            Some(Slot::Sought(idx)) if SPREAD_AT_LEAST_M < spread_m => {
                x[idx] = -turn_rad; // an azimuth counts clockwise
                Some(shift)
            }
            Some(Slot::Plain(_)) | None => {
                let n = by_heading.len() as f64;
                Some(by_heading.iter().map(|(p, q)| q - p).sum::<Vector2<f64>>() / n)
            }
            Some(Slot::Sought(_) | Slot::Read(_)) => None,
        });
    let axis = from_headings
        .or_else(|| from_wide_poses(poses))
        .or_else(|| from_distances(poses));
    if let Some(axis) = axis {
        x[origin[0]] = axis.x;
        x[origin[1]] = axis.y;
        for pose in poses {
            if let Heading::Is(Slot::Sought(idx)) = pose.heading {
                let (mut dot, mut cross) = (0.0, 0.0);
                for (p, q) in pose.points.iter().filter_map(Seen::flat) {
                    dot += p.dot(&(q - axis));
                    cross += p.perp(&(q - axis));
                }
                if dot != 0.0 || cross != 0.0 {
                    x[idx] = turn_of(cross.atan2(dot));
                }
            }
        }
    }
    let mut ups: Vec<f64> = poses
        .iter()
        .flat_map(|pose| &pose.points)
        .filter_map(|seen| Some(seen.measured_m[2]? - seen.level_m[2]))
        .collect();
    ups.sort_by(f64::total_cmp);
    if let Some(middle) = ups.get(ups.len() / 2) {
        x[origin[2]] = *middle;
    }
}

/// The axis from poses in which points far enough apart were measured.
fn from_wide_poses(poses: &[SeenPose]) -> Option<Vector2<f64>> {
    let mut axes: Vec<Vector2<f64>> = poses
        .iter()
        .filter_map(|pose| {
            let pairs: Vec<_> = pose.points.iter().filter_map(Seen::flat).collect();
            let (_, shift, spread_m) = carried(&pairs)?;
            (SPREAD_AT_LEAST_M < spread_m).then_some(shift)
        })
        .collect();
    if axes.is_empty() {
        return None;
    }
    let mut middle = |axis: usize| {
        axes.sort_by(|a, b| a[axis].total_cmp(&b[axis]));
        axes[axes.len() / 2][axis]
    };
    Some(Vector2::new(middle(0), middle(1)))
}

/// The axis from its distances to single points.
fn from_distances(poses: &[SeenPose]) -> Option<Vector2<f64>> {
    let pairs: Vec<_> = poses
        .iter()
        .flat_map(|pose| pose.points.iter().filter_map(Seen::flat))
        .collect();
    let n = pairs.len();
    if n == 0 {
        return None;
    }
    let centre = pairs.iter().map(|(_, q)| q).sum::<Vector2<f64>>() / n as f64;
    let rows = DMatrix::from_fn(n, 2, |i, k| 2.0 * (pairs[i].1 - centre)[k]);
    let squares = DVector::from_fn(n, |i, _| {
        (pairs[i].1 - centre).norm_squared() - pairs[i].0.norm_squared()
    });
    let middle = squares.sum() / n as f64;
    // Across a line of points only rounding and noise would speak: leave the axis on the line.
    let smallest = 0.2 * (n as f64).sqrt();
    let solution = rows
        .svd(true, true)
        .solve(&squares.map(|s| s - middle), smallest);
    let away = solution.ok()?;
    let found = centre + Vector2::new(away[0], away[1]);
    let radius = pairs.iter().map(|(p, _)| p.norm()).sum::<f64>() / n as f64;
    if (found - centre).norm() < 0.1 * radius {
        return Some(centre - Vector2::new(0.0, radius));
    }
    Some(found)
}

/// Leans of swing axes from the turns that were read.
fn axis_leans(system: &System, x: &mut [f64]) -> Result<(), Fault> {
    let mut sums: BTreeMap<usize, (usize, [f64; 2], f64)> = BTreeMap::new();
    for block in &system.blocks {
        let posed_block = PosedBlock { system, block };
        for row in &block.rows {
            let Row::Turned {
                view_idx,
                tilt: [Slot::Sought(forward), Slot::Sought(left)],
                which: 0,
            } = row
            else {
                continue;
            };
            let at = At::plain(system, x, &block.readings);
            let posed = posed_block.posed(&block.views[*view_idx], &at)?;
            let (sin, cos) = posed.heading_rad.sin_cos();
            let (pitch, roll) = (posed.lean.pitch, posed.lean.roll);
            let sum = sums.entry(*forward).or_insert((*left, [0.0; 2], 0.0));
            sum.1[0] += pitch * cos + roll * sin;
            sum.1[1] += roll * cos - pitch * sin;
            sum.2 += 1.0;
        }
    }
    for (forward, (left, [a, b], n)) in sums {
        x[forward] = a / n;
        x[left] = b / n;
    }
    Ok(())
}

/// Marks where their first touch puts them.
fn marks(system: &System, of_a_fix: &dyn Fn(usize) -> bool, x: &mut [f64]) -> Result<(), Fault> {
    let mut known = vec![false; x.len()];
    for block in &system.blocks {
        let posed_block = PosedBlock { system, block };
        for row in &block.rows {
            let Row::Coordinate {
                view_idx,
                spot,
                axis,
                mark: Slot::Sought(mark),
                ..
            } = row
            else {
                continue;
            };
            // How far a fix is off begins at nothing; a mark is where its first touch puts it.
            if known[*mark] || of_a_fix(*mark) {
                continue;
            }
            let view = &block.views[*view_idx];
            let at = At::plain(system, x, &block.readings);
            let posed = posed_block.posed(view, &at)?;
            let house = posed_block.spot(&posed, spot, &at)?;
            let place = posed.lean.site_turn(posed.heading_rad) * house;
            let place = place.vector()[*axis] + at.of(view.origin[*axis]);
            drop(at);
            x[*mark] = place;
            known[*mark] = true;
        }
    }
    Ok(())
}

/// Targets on links where the mean of their sightings puts them.
fn targets_on_links(system: &System, x: &mut [f64]) -> Result<(), Fault> {
    let mut sums: BTreeMap<usize, ([usize; 3], Vector3<f64>, f64)> = BTreeMap::new();
    for block in &system.blocks {
        let posed_block = PosedBlock { system, block };
        for (row_idx, row) in block.rows.iter().enumerate() {
            let Row::Coordinate {
                view_idx,
                spot:
                    spot @ Spot::OnLink {
                        at: [Slot::Sought(a), Slot::Sought(b), Slot::Sought(c)],
                        ..
                    },
                axis: 0,
                ..
            } = row
            else {
                continue;
            };
            let Some(measured) = all_three(&block.rows[row_idx..], spot, &block.readings) else {
                continue;
            };
            let view = &block.views[*view_idx];
            let at = At::plain(system, x, &block.readings);
            let posed = posed_block.posed(view, &at)?;
            let origin = Vector3::from(view.origin.map(|slot| at.of(slot)));
            let turn = posed.lean.site_turn(posed.heading_rad).rotation();
            // The target at its link's origin, and one step along each axis: the link's own frame.
            let corner = |k: Option<usize>| -> Result<Vector3<f64>, Fault> {
                let mut probe = x.to_vec();
                for (slot, idx) in [*a, *b, *c].into_iter().enumerate() {
                    probe[idx] = f64::from(u8::from(k == Some(slot)));
                }
                let at = At::plain(system, &probe, &block.readings);
                Ok(posed_block.spot(&posed, spot, &at)?.vector())
            };
            let base = corner(None)?;
            let house = turn.transpose() * (measured - origin) - base;
            let mut place = Vector3::zeros();
            for k in 0..3 {
                place[k] = (corner(Some(k))? - base).dot(&house);
            }
            let sum = sums
                .entry(*a)
                .or_insert(([*a, *b, *c], Vector3::zeros(), 0.0));
            sum.1 += place;
            sum.2 += 1.0;
        }
    }
    for (indices, sum, n) in sums.values() {
        for (k, idx) in indices.iter().enumerate() {
            x[*idx] = sum[k] / n;
        }
    }
    Ok(())
}

/// The three coordinates of a target, whose rows follow each other.
fn all_three(rows: &[Row], wanted: &Spot, readings: &[f64]) -> Option<Vector3<f64>> {
    let mut found = Vector3::zeros();
    for (k, row) in rows.iter().take(3).enumerate() {
        match row {
            Row::Coordinate {
                spot,
                axis,
                reading_idx,
                ..
            } if *axis == k && spot == wanted => found[k] = readings[*reading_idx],
            _ => return None,
        }
    }
    (rows.len() >= 3).then_some(found)
}
