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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::adjust::{Equations, Linear, Shape, Unknown};
    use crate::fault::Fault;

    /// One reading of x + x² / 4.
    struct Bent;

    impl Equations for Bent {
        fn n_blocks(&self) -> usize {
            1
        }

        fn shape(&self, _: usize) -> Shape {
            Shape {
                n_rows: 1,
                n_readings: 1,
            }
        }

        fn readings(&self, _: usize) -> &[f64] {
            &[1.0]
        }

        fn covariance(&self, _: usize) -> &[f64] {
            &[1.0]
        }

        fn fill(&self, _: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
            out.w[0] = x[0] + 0.25 * x[0] * x[0] - l[0];
            out.a[0] = 1.0 + 0.5 * x[0];
            out.b[0] = -1.0;
            Ok(())
        }
    }

    /// At 0: slope 1, what is left −1, second change 1/2 v². With μ = 1: v = 1/2, a = −1/2 · 1/2 · 1/4.
    #[test]
    fn a_bend_known_by_hand() {
        let unknowns = [Unknown {
            name: "x".to_owned(),
            start: 0.0,
            scale: 1.0,
        }];
        let problem = Problem::new(&Bent, &unknowns);
        let mut room = Room::new();
        room.plan.lay_out(&problem).expect("laid out");
        room.stand(&problem, &[0.0]).expect("a value");
        let layout = room.layout();
        room.factor.factor(&room.here.rows, layout, 1.0);
        room.factor.step(&mut room.step);
        assert!((room.step[0] - 0.5).abs() < 1e-12);
        // χ² of the straight line falls from 1 to 1/4.
        assert!((room.factor.promised(&room.step, 1.0) - 0.75).abs() < 1e-12);
        bend(&problem, &mut room);
        assert!(
            (room.step[0] - (0.5 - 0.03125)).abs() < 1e-12,
            "{:?}",
            room.step
        );
    }
}
