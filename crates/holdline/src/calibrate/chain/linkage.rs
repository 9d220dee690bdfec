//! The bucket four-bar in numbers alone: both ways, and its slopes by every figure.

use crate::machine::claim::LinkageBranch;
use crate::machine::four_bar::FourBarPose;
use crate::sources;
use holdline_geom::triangle::corner_over_base;

/// Figures of the linkage in the `Stick` frame, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkageFigures {
    /// B to C.
    pub stick_m: f64,
    /// Idler pivot F.
    pub pivot_m: [f64; 2],
    /// F to E.
    pub idler_m: f64,
    /// E to D.
    pub link_m: f64,
    /// C to D.
    pub ear_m: f64,
    /// +1 when D lies right of the way from C to E.
    pub side: f64,
}

/// One position of the linkage in the `Stick` frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkagePose {
    /// Pin E, m.
    pub e_m: [f64; 2],
    /// Pin D, m.
    pub d_m: [f64; 2],
}

/// How the ear's angle moves, rad per unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarSlopes {
    /// By the idler's angle: dε/dα.
    pub idler_angle: f64,
    /// By the idler pivot, x and z.
    pub pivot: [f64; 2],
    /// By the idler's length.
    pub idler: f64,
    /// By the link's length.
    pub link: f64,
    /// By the ear's length.
    pub ear: f64,
    /// By a shift of pin C, x and z; the stick's length moves it along x.
    pub pin_c: [f64; 2],
}

/// +1 for branch right, −1 for branch left.
pub fn side_of(branch: LinkageBranch) -> f64 {
    match branch {
        LinkageBranch::Right => 1.0,
        LinkageBranch::Left => -1.0,
    }
}

impl LinkageFigures {
    /// The pins for a direction (cos, sin) of the idler; none where they cannot close.
    pub fn by_idler(&self, idler: [f64; 2]) -> Option<LinkagePose> {
        let c = [self.stick_m, 0.0];
        let e_m = [
            self.pivot_m[0] + self.idler_m * idler[0],
            self.pivot_m[1] + self.idler_m * idler[1],
        ];
        let d_m = third_pin(c, e_m, self.ear_m, self.link_m, -self.side)?;
        Some(LinkagePose { e_m, d_m })
    }

    /// The pins for a direction (cos, sin) of the ear; none where they cannot close on the sheet's branch.
    pub fn by_ear(&self, ear: [f64; 2]) -> Option<LinkagePose> {
        let c = [self.stick_m, 0.0];
        let d_m = [c[0] + self.ear_m * ear[0], self.ear_m * ear[1]];
        for side in [self.side, -self.side] {
            let e_m = third_pin(self.pivot_m, d_m, self.idler_m, self.link_m, side)?;
            let turn = (e_m[0] - c[0]) * (d_m[1] - c[1]) - (e_m[1] - c[1]) * (d_m[0] - c[0]);
            if turn * self.side <= 0.0 {
                return Some(LinkagePose { e_m, d_m });
            }
        }
        None
    }

    /// Slopes of the ear's angle by everything that it follows from.
    ///
    /// ```text
    /// e = (D − E)/ED      e · (δD − δE) = δED
    /// δD = δC + n_ε δCD + n'_ε CD δε        δE = δF + n_α δFE + n'_α FE δα
    ///
    ///      δED − e·δC − (e·n_ε) δCD + e·δF + (e·n_α) δFE + FE (e·n'_α) δα
    /// δε = --------------------------------------------------------------
    ///                            CD (e·n'_ε)
    /// ```
    ///
    /// - Symbols: n unit way along FE or CD, n' the same turned +90°; at the dead centre C–D–E the
    ///   divisor is zero and the slopes are not finite.
    /// - Units: rad per rad, rad per m. Source: [`sources::FOUR_BAR`], the loop differentiated.
    pub fn slopes(&self, pose: &LinkagePose) -> EarSlopes {
        let _ = sources::FOUR_BAR;
        let way = |from: [f64; 2], to: [f64; 2], long: f64| {
            [(to[0] - from[0]) / long, (to[1] - from[1]) / long]
        };
        let dot = |a: [f64; 2], b: [f64; 2]| a[0] * b[0] + a[1] * b[1];
        let turned = |a: [f64; 2]| [-a[1], a[0]];
        let e = way(pose.e_m, pose.d_m, self.link_m);
        let n_idler = way(self.pivot_m, pose.e_m, self.idler_m);
        let n_ear = way([self.stick_m, 0.0], pose.d_m, self.ear_m);
        let over = 1.0 / (self.ear_m * dot(e, turned(n_ear)));
        EarSlopes {
            idler_angle: self.idler_m * dot(e, turned(n_idler)) * over,
            pivot: [e[0] * over, e[1] * over],
            idler: dot(e, n_idler) * over,
            link: over,
            ear: -dot(e, n_ear) * over,
            pin_c: [-e[0] * over, -e[1] * over],
        }
    }
}

impl LinkagePose {
    /// From the machine's own four-bar.
    pub fn of(pose: &FourBarPose<f64>) -> LinkagePose {
        LinkagePose {
            e_m: pose.e_m,
            d_m: pose.d_m,
        }
    }
}

fn third_pin(a: [f64; 2], b: [f64; 2], from_a: f64, from_b: f64, side: f64) -> Option<[f64; 2]> {
    let way = [b[0] - a[0], b[1] - a[1]];
    let r = (way[0] * way[0] + way[1] * way[1]).sqrt();
    let [x, y] = corner_over_base(r, from_a, from_b)?;
    let (x, y) = (x / r, side * y / r);
    Some([
        a[0] + x * way[0] - y * way[1],
        a[1] + x * way[1] + y * way[0],
    ])
}
