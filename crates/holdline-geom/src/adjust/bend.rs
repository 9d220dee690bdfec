//! A damped step bent along the valley it runs in.
//!
//! Where straight steps leave a narrow bent valley, damping makes them short.
//! The second change of what is left along the step, found from one more look, says how the valley bends:
//!
//! ```text
//! r'' ≈ 2/h · ( (r(x + h v) − r(x)) / h − Ã v )        h = 0.1
//! a = −(Ãᵀ Ã + μ D)⁻¹ Ãᵀ r''                            step v + a/2, if |a| ≤ 0.75 |v|
//! ```
//!
//! - Source: M. K. Transtrum, J. P. Sethna, Improvements to the Levenberg-Marquardt algorithm
//!   for nonlinear least-squares minimization, 2012 (from memory).

use super::equations::Problem;
use super::linearise::{Keep, linearise};
use super::solve::Room;

/// How far along the step the second look is.
const SHARE: f64 = 0.1;

/// Above this the step is too long for a bend to mean anything.
const BEND_AT_MOST: f64 = 0.75;

/// Adds the bend to the step of the room, if there is one to be found; uses `there`.
pub(super) fn bend(problem: &Problem, room: &mut Room) {
    let straight = room.step.clone();
    room.go(problem, SHARE);
    room.step.copy_from_slice(&straight);
    let place = &mut room.there;
    if linearise(problem, &room.plan, &mut room.scratch, place, Keep::Rows).is_err() {
        return;
    }
    let (n, width) = (room.plan.n_free, room.plan.width);
    let mut right = vec![0.0; n];
    let rows = room.here.rows.chunks_exact(width);
    for (here, there) in rows.zip(room.there.rows.chunks_exact(width)) {
        let slope: f64 = here[..n].iter().zip(&straight).map(|(a, v)| a * v).sum();
        let second = 2.0 / SHARE * ((there[n] - here[n]) / SHARE - slope);
        for (sum, a) in right.iter_mut().zip(here) {
            *sum += a * second;
        }
    }
    if !right.iter().all(|value| value.is_finite()) || !room.factor.solve(&mut right) {
        return;
    }
    let length = |values: &[f64]| {
        let scaled = values.iter().zip(&room.factor.scale).map(|(v, d)| v * d);
        scaled.map(|v| v * v).sum::<f64>().sqrt()
    };
    if length(&right) <= BEND_AT_MOST * length(&straight) {
        for (step, bend) in room.step.iter_mut().zip(&right) {
            *step += 0.5 * bend;
        }
    }
}
