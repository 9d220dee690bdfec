//! Which poses are kept out of the fit as checks, and the order that moves the machine little.

use super::candidates::Candidate;
use super::{CHECK_SHARE, Role};
use crate::machine::joints::ALL_JOINTS;
use std::f64::consts::TAU;

/// A fifth as many checks as poses, one at least, each as far as can be from all poses chosen so far.
pub(super) fn checks(all: &[Candidate], chosen: &[(usize, f64)]) -> Vec<usize> {
    if chosen.is_empty() {
        return Vec::new();
    }
    let n_checks = (CHECK_SHARE * chosen.len() as f64).ceil() as usize;
    let mut taken: Vec<usize> = chosen.iter().map(|(idx, _)| *idx).collect();
    let mut checks = Vec::new();
    for _ in 0..n_checks {
        let nearest = |idx: usize| {
            taken
                .iter()
                .map(|other| apart(&all[idx], &all[*other]))
                .fold(f64::INFINITY, |least, d| if d < least { d } else { least })
        };
        let free = (0..all.len()).filter(|idx| !taken.contains(idx));
        let best = free
            .map(|idx| (idx, nearest(idx)))
            .reduce(|a, b| if a.1 < b.1 { b } else { a });
        let Some((idx, _)) = best else {
            break;
        };
        taken.push(idx);
        checks.push(idx);
    }
    checks
}

/// How far two poses are apart for the one who moves the machine: all turns added, the swing at half its angle.
fn apart(a: &Candidate, b: &Candidate) -> f64 {
    let turn = (a.heading_rad - b.heading_rad).rem_euclid(TAU);
    let swing = turn.min(TAU - turn) / 2.0;
    let joints = ALL_JOINTS
        .iter()
        .map(|joint| (a.joints.get(*joint) - b.joints.get(*joint)).abs());
    joints.fold(swing, |sum, by| sum + by)
}

/// From the first chosen to the nearest left, and so on; then turned round where that is shorter.
pub(super) fn in_short_order(all: &[Candidate], order: &mut [(usize, Role, Option<f64>)]) {
    let way = |a: usize, b: usize| apart(&all[a], &all[b]);
    for at in 1..order.len() {
        let from = order[at - 1].0;
        let nearest = (at..order.len()).reduce(|a, b| {
            if way(from, order[b].0) < way(from, order[a].0) {
                b
            } else {
                a
            }
        });
        if let Some(nearest) = nearest {
            order[at..=nearest].rotate_right(1);
        }
    }
    // Two ends of a stretch swapped, as long as it helps.
    let mut better = true;
    while better {
        better = false;
        for i in 1..order.len() {
            for j in i + 1..order.len() {
                let after = |at: usize| order.get(at + 1).map(|next| next.0);
                let tail = |from: usize| after(j).map_or(0.0, |next| way(from, next));
                let now = way(order[i - 1].0, order[i].0) + tail(order[j].0);
                let then = way(order[i - 1].0, order[j].0) + tail(order[i].0);
                if then < now - 1e-9 {
                    order[i..=j].reverse();
                    better = true;
                }
            }
        }
    }
}
