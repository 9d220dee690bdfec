//! An invented budget of the demo machine: maps made of a simple rule, not of the real propagation.

use super::{machine, title_block};
use holdline_sheet::contour::Grid;
use holdline_sheet::sheets::*;

fn grid(
    from: [f64; 2],
    to: [f64; 2],
    n: [usize; 2],
    value: impl Fn([f64; 2]) -> Option<f64>,
) -> Grid {
    let mut grid = Grid {
        from_m: from,
        step_m: [
            (to[0] - from[0]) / (n[0] - 1) as f64,
            (to[1] - from[1]) / (n[1] - 1) as f64,
        ],
        n_right: n[0],
        n_up: n[1],
        values: Vec::new(),
    };
    for up in 0..n[1] {
        for right in 0..n[0] {
            grid.values.push(value(grid.at_m(right, up)));
        }
    }
    grid
}

/// U of the height over reach and height, m.
fn u_height([x, z]: [f64; 2]) -> Option<f64> {
    let (dx, dz) = (x - 0.15, z - 1.85);
    let r = dx.hypot(dz);
    let inside = (2.6..=9.3).contains(&r) && 1.6 < x && -5.6 < z && z < 6.5;
    let u: f64 = 0.012 + 0.000_35 * x * x + 0.0007 * (z + 1.0).abs();
    inside.then_some(u)
}

pub fn budget() -> BudgetSheet {
    let share = |name: &str, part: f64, sd: &str, mm: f64| Share {
        name: name.to_owned(),
        part,
        sd: sd.to_owned(),
        at_tooth_m: Some(mm / 1000.0),
    };
    BudgetSheet {
        block: title_block("Budget: how sure the tooth is"),
        outcome: Outcome::Outside,
        decision: "Trim ± 25 mm in height is not held everywhere: U is ± 38 mm at the far pose. It holds up to 6.1 m from the swing axis.".to_owned(),
        shows: "U of the height, k = 2, 3D".to_owned(),
        task: "formation trim, height ± 25 mm, judged both sides".to_owned(),
        limit_m: Some(0.025),
        section: Some(UMap {
            grid: grid([0.0, -6.0], [10.0, 7.0], [101, 131], u_height),
            reach_m: Vec::new(),
        }),
        plan: Some(UMap {
            grid: grid([-9.5, -9.5], [9.5, 9.5], [77, 77], |[x, y]| {
                let r = x.hypot(y);
                let bearing = y.atan2(x);
                let wave = 1.0 + 0.15 * (2.0 * bearing).cos();
                (2.4..=9.3)
                    .contains(&r)
                    .then_some(0.012 + 0.0003 * r * r * wave)
            }),
            reach_m: Vec::new(),
        }),
        machine: Some(machine(28.0, -70.0, 20.0)),
        pose: Some(PoseBudget {
            name: "boom +28.0°, stick −70.0°, bucket +20.0°".to_owned(),
            at_m: [7.36, -0.045, 0.95],
            covariance_m2: [
                [240e-6, 30e-6, 90e-6],
                [30e-6, 310e-6, 10e-6],
                [90e-6, 10e-6, 355e-6],
            ],
            u_m: vec![
                ("E".to_owned(), Some(0.0354)),
                ("N".to_owned(), Some(0.0310)),
                ("U".to_owned(), Some(0.0377)),
                ("along the normal of the face 1 : 1.5".to_owned(), Some(0.0366)),
                ("in 2D, above the bench".to_owned(), None),
            ],
            shares: vec![
                share("GNSS height", 0.63, "15 mm", 15.0),
                share("localization height", 0.18, "8 mm", 8.0),
                share("antenna lever arm", 0.05, "4 mm", 4.2),
                share("boom sensor", 0.05, "0.04°", 4.1),
                share("tooth point", 0.03, "4 mm", 3.3),
                share("all others, 14 sources", 0.06, "", 4.6),
            ],
            help: vec![
                "Fine levels from a bench in 2D: U ± 14 mm instead of ± 38 mm, for four moves at most.".to_owned(),
                "A base nearer than 2 km: ± 38 mm becomes ± 33 mm.".to_owned(),
                "Boom sensor to 0.02°: ± 38 mm becomes ± 37 mm.".to_owned(),
            ],
            monte_carlo: "Monte Carlo, 100 000 draws, seed 7: sd of each direction within 1 % of the linear result.".to_owned(),
        }),
        growth: Some(Growth {
            u_2d_m: (0..=10)
                .map(|n| f64::from(n) * 2.0 * 0.006_f64.powi(2))
                .map(|grown| 2.0 * (0.007_f64.powi(2) + grown).sqrt())
                .collect(),
            u_3d_m: Some(0.0377),
            crosses_after: Some(4.254),
            words: "2D is the surer one up to 4 moves; after that 3D is, unless a known level is closed on.".to_owned(),
        }),
        findings: vec![
            "GNSS quality and localization are typed figures, not measured ones.".to_owned(),
            "Pin play is not stated for pin D: it counts as unknown, and no verdict below ± 10 mm is given.".to_owned(),
        ],
    }
}
