//! What nothing depends on leaves the equations before they are solved.

use super::build::Label;
use super::{Block, Heading, LeanOf, Row, Slot, Spot, System, Var};
use holdline_geom::adjust::{Equations, Linear};
use holdline_geom::fault::Fault;

/// Below this slope, m or rad per unit, a row does not depend: what is left is rounding.
const NO_SLOPE: f64 = 1e-10;

/// Finds which unknowns the rows depend on at all, takes the others and the readings without effect
/// out, and gives every block its list of variables. Says which unknowns stay.
pub(super) fn trim(
    system: &mut System,
    labels: &mut [Vec<Label>],
    start: &[f64],
) -> Result<Vec<bool>, Fault> {
    let n_figures = system.unknown_of_figure.iter().flatten().count();
    let figures: Vec<Var> = system
        .unknown_of_figure
        .iter()
        .enumerate()
        .filter_map(|(figure_idx, unknown_idx)| {
            Some(Var::Figure {
                figure_idx,
                unknown_idx: (*unknown_idx)?,
            })
        })
        .collect();
    let mut stays = vec![false; system.n_unknowns];
    let mut kept_readings = Vec::new();
    for idx in 0..system.blocks.len() {
        let block = &mut system.blocks[idx];
        let mut vars = figures.clone();
        let n_readings = block.readings.len();
        vars.extend(block.through_the_chain());
        block.vars = vars;
        let (n_rows, n_x) = (block.rows.len(), system.n_unknowns);
        let mut out = Linear {
            w: vec![0.0; n_rows],
            a: vec![0.0; n_rows * n_x],
            b: vec![0.0; n_rows * n_readings],
        };
        let l = system.blocks[idx].readings.clone();
        system.fill(idx, start, &l, &mut out)?;
        let moves = |slopes: &[f64], n: usize, column: usize| {
            (0..n_rows).any(|row| !(slopes[row * n + column].abs() <= NO_SLOPE))
        };
        let here: Vec<bool> = (0..n_x).map(|u| moves(&out.a, n_x, u)).collect();
        // What was measured enters its row one for one and always stays.
        let readings: Vec<bool> = (0..n_readings)
            .map(|r| moves(&out.b, n_readings, r))
            .collect();
        for (stay, moved) in stays.iter_mut().zip(&here) {
            *stay |= moved;
        }
        system.blocks[idx].vars.retain(|var| match var {
            Var::Figure { unknown_idx, .. } | Var::Nuisance { unknown_idx } => here[*unknown_idx],
            Var::Reading { reading_idx } => readings[*reading_idx],
        });
        kept_readings.push(readings);
    }
    let mut new_idx = Vec::with_capacity(stays.len());
    let mut n = 0;
    for stay in &stays {
        new_idx.push(n);
        n += usize::from(*stay);
    }
    for (block, (readings, labels)) in system
        .blocks
        .iter_mut()
        .zip(kept_readings.iter().zip(labels))
    {
        block.without(readings, labels, &stays, &new_idx, start);
    }
    for unknown in &mut system.unknown_of_figure {
        *unknown = unknown.filter(|u| stays[*u]).map(|u| new_idx[u]);
    }
    system.n_unknowns = n;
    debug_assert!(n_figures <= stays.len());
    Ok(stays)
}

impl Block {
    /// Every number that the block uses.
    pub(super) fn slots(&mut self, f: &mut impl FnMut(&mut Slot)) {
        self.sensors.iter_mut().flatten().for_each(&mut *f);
        for view in &mut self.views {
            match &mut view.heading {
                Heading::Read { heading, azimuth } => {
                    f(heading);
                    f(azimuth);
                }
                Heading::Swing { azimuth } => f(azimuth),
                Heading::Is(heading) => f(heading),
            }
            match &mut view.lean {
                LeanOf::Sensor(two) | LeanOf::Axis(two) | LeanOf::Is(two) => {
                    two.iter_mut().for_each(&mut *f);
                }
            }
            view.origin.iter_mut().for_each(&mut *f);
        }
        for row in &mut self.rows {
            match row {
                Row::Coordinate { spot, mark, .. } => {
                    f(mark);
                    spot_slots(spot, f);
                }
                Row::Tape { from, to, .. } | Row::Slope { from, to, .. } => {
                    spot_slots(from, f);
                    spot_slots(to, f);
                }
                Row::Turned { tilt, .. } => tilt.iter_mut().for_each(&mut *f),
            }
        }
    }

    /// Unknowns and readings that enter the rows through the chain, not as a plain sum.
    fn through_the_chain(&mut self) -> Vec<Var> {
        let mut plain = Vec::new();
        for view in &self.views {
            plain.extend(view.origin);
        }
        plain.extend(self.rows.iter().filter_map(|row| match row {
            Row::Coordinate { mark, .. } => Some(*mark),
            Row::Tape { .. } | Row::Slope { .. } | Row::Turned { .. } => None,
        }));
        let (mut unknowns, mut readings) = (Vec::new(), Vec::new());
        self.slots(&mut |slot| match *slot {
            Slot::Sought(u) if !plain.contains(&Slot::Sought(u)) => unknowns.push(u),
            Slot::Read(r) => readings.push(r),
            Slot::Sought(_) | Slot::Plain(_) => {}
        });
        for list in [&mut unknowns, &mut readings] {
            list.sort_unstable();
            list.dedup();
        }
        let unknowns = unknowns
            .into_iter()
            .map(|unknown_idx| Var::Nuisance { unknown_idx });
        let readings = readings
            .into_iter()
            .map(|reading_idx| Var::Reading { reading_idx });
        unknowns.chain(readings).collect()
    }

    /// The block without what nothing depends on, everything else by its new place.
    fn without(
        &mut self,
        readings: &[bool],
        labels: &mut Vec<Label>,
        stays: &[bool],
        new_idx: &[usize],
        start: &[f64],
    ) {
        let n = self.readings.len();
        let kept: Vec<usize> = (0..n).filter(|r| readings[*r]).collect();
        let place = |r: usize| kept.iter().position(|k| *k == r);
        let values = self.readings.clone();
        self.slots(&mut |slot| {
            *slot = match *slot {
                Slot::Read(r) => place(r).map_or(Slot::Plain(values[r]), Slot::Read),
                Slot::Sought(u) if stays[u] => Slot::Sought(new_idx[u]),
                Slot::Sought(u) => Slot::Plain(start[u]),
                Slot::Plain(value) => Slot::Plain(value),
            };
        });
        for row in &mut self.rows {
            match row {
                Row::Coordinate { reading_idx, .. }
                | Row::Tape { reading_idx, .. }
                | Row::Slope { reading_idx, .. } => {
                    // What was measured always counts: a row moves with it one for one.
                    *reading_idx = place(*reading_idx).unwrap_or(0);
                }
                Row::Turned { .. } => {}
            }
        }
        self.covariance = kept
            .iter()
            .flat_map(|i| kept.iter().map(move |j| i * n + j))
            .map(|k| self.covariance[k])
            .collect();
        self.readings = kept.iter().map(|k| values[*k]).collect();
        let mut idx = 0;
        labels.retain(|_| {
            idx += 1;
            readings[idx - 1]
        });
        self.vars = self
            .vars
            .iter()
            .filter_map(|var| {
                Some(match *var {
                    Var::Figure {
                        figure_idx,
                        unknown_idx,
                    } => Var::Figure {
                        figure_idx,
                        unknown_idx: new_idx[unknown_idx],
                    },
                    Var::Nuisance { unknown_idx } => Var::Nuisance {
                        unknown_idx: new_idx[unknown_idx],
                    },
                    Var::Reading { reading_idx } => Var::Reading {
                        reading_idx: place(reading_idx)?,
                    },
                })
            })
            .collect();
    }
}

fn spot_slots(spot: &mut Spot, f: &mut impl FnMut(&mut Slot)) {
    match spot {
        Spot::OnLink { at, .. } => at.iter_mut().for_each(f),
        Spot::Target(_) => {}
    }
}
