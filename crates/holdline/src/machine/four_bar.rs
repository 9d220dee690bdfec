//! The bucket four-bar: stick FC, idler FE, link ED, ear CD.
//! Both ways, branch kept, dead centre told.

use super::claim::LinkageBranch;
use crate::sources;
use holdline_geom::fault::Fault;
use holdline_geom::triangle::corner_over_base;
use nalgebra::RealField;

/// Lengths of the bucket linkage, in the `Stick` frame, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FourBar<T> {
    /// Idler pivot F in `Stick`.
    pub pivot_m: [T; 2],
    /// Idler, F to E.
    pub idler_m: T,
    /// Link, E to D.
    pub link_m: T,
    /// Ear, C to D.
    pub ear_m: T,
    /// Which way it is assembled; constant over the whole stroke.
    pub branch: LinkageBranch,
}

/// One position of the linkage, in the `Stick` frame (origin B, x to C).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FourBarPose<S> {
    /// Idler FE above the stick's x, rad.
    pub idler_rad: S,
    /// Ear CD above the stick's x, rad.
    pub ear_rad: S,
    /// Pin E, m.
    pub e_m: [S; 2],
    /// Pin D, m.
    pub d_m: [S; 2],
    /// Way left to the dead centre C–D–E, where the ear would lose its branch, m.
    pub ear_dead_centre_m: S,
    /// Way left to the dead centre F–E–D, where the idler would lose its branch, m.
    pub idler_dead_centre_m: S,
}

impl<T> FourBar<T> {
    /// The same linkage with every length passed through `f`, with the name of each.
    pub fn map<U>(&self, f: &mut impl FnMut(&'static str, &T) -> U) -> FourBar<U> {
        FourBar {
            pivot_m: [
                f("linkage.idler_pivot.x", &self.pivot_m[0]),
                f("linkage.idler_pivot.z", &self.pivot_m[1]),
            ],
            idler_m: f("linkage.idler", &self.idler_m),
            link_m: f("linkage.link", &self.link_m),
            ear_m: f("linkage.ear", &self.ear_m),
            branch: self.branch,
        }
    }
}

impl<S: RealField + Copy> FourBar<S> {
    /// Bucket angle from the idler's angle: the four-bar, forward.
    ///
    /// Used wherever the bucket is sensed at the idler.
    ///
    /// ```text
    /// E = F + FE (cos α, sin α)       d = E − C       r = |d|
    /// D = C + x d/r − s y n/r         n = d turned +90°
    /// x = (r² + CD² − ED²) / (2r)     y = √(CD² − x²), by the triangle's area (Heron, Kahan)
    /// ε = atan2(D − C)                s = +1 for branch right, −1 for branch left
    /// ```
    ///
    /// - Symbols: α idler above stick x, ε ear above stick x; B the stick's origin, C = (BC, 0).
    /// - Frame: `Stick`. Units: m, rad.
    /// - Source: [`sources::FOUR_BAR`]; circle on circle,
    ///   the same figures as the closed half-angle form.
    /// - Exact to: 1e-12 rad away from the dead centre; checked in `checks/tests/four_bar.rs`.
    ///
    /// # Errors
    ///
    /// Fault `T010` when the pins cannot close, with the gap in millimetres.
    pub fn ear_from_idler(&self, stick_m: S, idler_rad: S) -> Result<FourBarPose<S>, Fault> {
        let _ = sources::FOUR_BAR;
        let (sin, cos) = idler_rad.sin_cos();
        let e = [
            self.pivot_m[0] + self.idler_m * cos,
            self.pivot_m[1] + self.idler_m * sin,
        ];
        let c = [stick_m, S::zero()];
        let d = self.third_pin(c, e, self.ear_m, self.link_m, -self.sign(), "linkage")?;
        let ear_rad = (d[1] - c[1]).atan2(d[0] - c[0]);
        Ok(self.pose(idler_rad, ear_rad, c, e, d))
    }

    /// Idler angle from the bucket's angle: the four-bar, backward.
    ///
    /// Used to draw the linkage, and to turn bucket limits into cylinder lengths.
    ///
    /// ```text
    /// D = C + CD (cos ε, sin ε)       g = D − F
    /// E = F + x g/|g| + s y n/|g|     x = (|g|² + FE² − ED²) / (2|g|)
    /// ```
    ///
    /// - Frame: `Stick`. Units: m, rad. Source: [`sources::FOUR_BAR`].
    ///
    /// # Errors
    ///
    /// Fault `T010` when the pins cannot close; `T011` when they close only in the other branch.
    pub fn idler_from_ear(&self, stick_m: S, ear_rad: S) -> Result<FourBarPose<S>, Fault> {
        let (sin, cos) = ear_rad.sin_cos();
        let c = [stick_m, S::zero()];
        let d = [c[0] + self.ear_m * cos, c[1] + self.ear_m * sin];
        for side in [self.sign(), -self.sign()] {
            let e = self.third_pin(self.pivot_m, d, self.idler_m, self.link_m, side, "linkage")?;
            let turn = cross(minus(e, c), minus(d, c)) * self.sign();
            if turn <= S::zero() {
                let idler_rad = (e[1] - self.pivot_m[1]).atan2(e[0] - self.pivot_m[0]);
                return Ok(self.pose(idler_rad, ear_rad, c, e, d));
            }
        }
        Err(Fault::new(
            "T011",
            "linkage",
            "a bucket angle that this linkage reaches only when assembled the other way",
            "a bucket angle on the sheet's own branch",
            "look at the linkage: is `branch` right, and is the bucket angle counted from the stick's line?",
        ))
    }

    /// How fast the bucket turns for a turn of the idler, dε/dα.
    ///
    /// ```text
    /// dε/dα = FE (n_α · e) / (CD (n_ε · e))      e = (D − E)/ED,  n_a = (−sin a, cos a)
    /// ```
    ///
    /// - Units: pure number. Source: [`sources::FOUR_BAR`]: D and E keep their distance.
    pub fn ear_per_idler(&self, pose: &FourBarPose<S>) -> S {
        let e = minus(pose.d_m, pose.e_m);
        let along = |a: S| {
            let (sin, cos) = a.sin_cos();
            cos * e[1] - sin * e[0]
        };
        self.idler_m * along(pose.idler_rad) / (self.ear_m * along(pose.ear_rad))
    }

    fn sign(&self) -> S {
        match self.branch {
            LinkageBranch::Right => S::one(),
            LinkageBranch::Left => -S::one(),
        }
    }

    /// The pin at `from_a` from `a` and `from_b` from `b`,
    /// on the counter-clockwise side of a→b when `side` is +1.
    fn third_pin(
        &self,
        a: [S; 2],
        b: [S; 2],
        from_a: S,
        from_b: S,
        side: S,
        at: &str,
    ) -> Result<[S; 2], Fault> {
        let way = minus(b, a);
        let r = length(way);
        let Some([x, y]) = corner_over_base(r, from_a, from_b) else {
            return Err(cannot_close(at, r, from_a, from_b));
        };
        let (x, y) = (x / r, side * y / r);
        Ok([
            a[0] + x * way[0] - y * way[1],
            a[1] + x * way[1] + y * way[0],
        ])
    }

    fn pose(&self, idler_rad: S, ear_rad: S, c: [S; 2], e: [S; 2], d: [S; 2]) -> FourBarPose<S> {
        let margin = |r: S, p: S, q: S| {
            let (inner, outer) = (r - (p - q).abs(), p + q - r);
            if inner < outer { inner } else { outer }
        };
        FourBarPose {
            idler_rad,
            ear_rad,
            e_m: e,
            d_m: d,
            ear_dead_centre_m: margin(length(minus(e, c)), self.ear_m, self.link_m),
            idler_dead_centre_m: margin(length(minus(d, self.pivot_m)), self.idler_m, self.link_m),
        }
    }
}

fn cannot_close<S: RealField + Copy>(at: &str, r: S, p: S, q: S) -> Fault {
    let (least, most) = ((p - q).abs(), p + q);
    let gap = if most < r { r - most } else { least - r };
    let mm = S::from_f64(1000.0).map_or(gap, |k| gap * k);
    Fault::new(
        "T010",
        at,
        format!("pins {r:.4} m apart: the linkage is {mm:.1} mm short of closing"),
        format!("{least:.4} m to {most:.4} m apart"),
        "check idler, link and ear lengths and the idler sensor; past a dead centre nothing holds the bucket",
    )
}

fn minus<S: RealField + Copy>(a: [S; 2], b: [S; 2]) -> [S; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn cross<S: RealField + Copy>(a: [S; 2], b: [S; 2]) -> S {
    a[0] * b[1] - a[1] * b[0]
}

fn length<S: RealField + Copy>(a: [S; 2]) -> S {
    (a[0] * a[0] + a[1] * a[1]).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    const STICK_M: f64 = 2.94;

    fn demo() -> FourBar<f64> {
        FourBar {
            pivot_m: [2.5, 0.03],
            idler_m: 0.6,
            link_m: 0.58,
            ear_m: 0.44,
            branch: LinkageBranch::Right,
        }
    }

    #[test]
    fn there_and_back_over_the_stroke_keeps_the_branch() {
        let bar = demo();
        for step in 0..=108 {
            let alpha = f64::from(22 + step).to_radians();
            let there = bar.ear_from_idler(STICK_M, alpha).expect("closes");
            let back = bar.idler_from_ear(STICK_M, there.ear_rad).expect("closes");
            assert!((back.idler_rad - alpha).abs() < 1e-12);
            assert!((length(minus(there.d_m, there.e_m)) - 0.58).abs() < 1e-13);
            let turn = cross(
                minus(there.e_m, [STICK_M, 0.0]),
                minus(there.d_m, [STICK_M, 0.0]),
            );
            assert!(turn < 0.0, "branch lost at {alpha}");
        }
    }

    #[test]
    fn the_rate_is_the_slope() {
        let bar = demo();
        for alpha_deg in [25.0_f64, 60.0, 110.0] {
            let alpha = alpha_deg.to_radians();
            let at = |a: f64| bar.ear_from_idler(STICK_M, a).expect("closes");
            let slope = (at(alpha + 1e-6).ear_rad - at(alpha - 1e-6).ear_rad) / 2e-6;
            assert!((bar.ear_per_idler(&at(alpha)) - slope).abs() < 1e-7);
        }
    }

    #[test]
    fn a_mirror_image_has_the_other_branch() {
        let bar = demo();
        let mirrored = FourBar {
            pivot_m: [2.5, -0.03],
            branch: LinkageBranch::Left,
            ..bar
        };
        let a = bar.ear_from_idler(STICK_M, 1.0).expect("closes");
        let b = mirrored.ear_from_idler(STICK_M, -1.0).expect("closes");
        assert!((a.ear_rad + b.ear_rad).abs() < 1e-14);
    }

    #[test]
    fn what_cannot_close_says_by_how_many_millimetres() {
        let bar = FourBar {
            link_m: 0.30,
            ..demo()
        };
        let fault = bar.ear_from_idler(STICK_M, 2.8).unwrap_err();
        assert_eq!(fault.code, "T010");
        assert!(fault.got.contains("mm short"), "{}", fault.got);
    }
}
