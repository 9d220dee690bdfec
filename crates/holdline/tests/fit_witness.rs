//! The equations of a calibration held against a second derivation.
//!
//! The witness is plain trigonometry in the boom plane, written without the chain, the frames or the
//! dual numbers: link angles from gravity readings, the four-bar by the cosine rule, the attitude as
//! three rows of a matrix. Observations made by it must come out with nothing left over.

mod common;

use common::{Rig, demo, tool};
use holdline::calibrate::fit::{FitAsk, GrossErrors, fit};
use holdline::calibrate::observations::{Observation, Observations, ObservedTool, Target, What};
use holdline_geom::draws::Draws;
use holdline_geom::measured::Measured;
use std::f64::consts::PI;

/// Angles of the links above the horizontal in an upright boom plane, rad.
#[derive(Debug, Clone, Copy)]
struct Angles {
    boom: f64,
    stick: f64,
    idler: f64,
}

/// The plane in which a gravity sensor counts leans with the roll; in it the horizontal direction is
/// square to what is left of gravity.
struct Attitude {
    heading: f64,
    pitch: f64,
    roll: f64,
}

impl Attitude {
    /// Forward, left and up of the house in east, north, up: rows of R by hand.
    fn axes(&self) -> [[f64; 3]; 3] {
        let (sh, ch) = self.heading.sin_cos();
        let (sp, cp) = self.pitch.sin_cos();
        let (sr, cr) = self.roll.sin_cos();
        let forward = [cp * sh, cp * ch, sp];
        let left = [-ch * cr - sh * sp * sr, sh * cr - ch * sp * sr, cp * sr];
        let up = [ch * sr - sh * sp * cr, -sh * sr - ch * sp * cr, cp * cr];
        [forward, left, up]
    }

    /// Angle of the house's forward axis above the horizontal, seen in the boom plane.
    fn in_plane(&self) -> f64 {
        (self.pitch.sin() / (self.pitch.cos() * self.roll.cos())).atan()
    }
}

/// Ear angle above the stick from the idler's, all by the cosine rule.
fn ear_over_stick(idler: f64) -> f64 {
    let (f, fe, ed, cd, bc) = ([2.5, 0.03], 0.6, 0.58, 0.44, 2.94);
    let e = [f[0] + fe * idler.cos(), f[1] + fe * idler.sin()];
    let to_e = [e[0] - bc, e[1]];
    let r = to_e[0].hypot(to_e[1]);
    let at_c = ((r * r + cd * cd - ed * ed) / (2.0 * r * cd)).acos();
    // Pin D lies to the right of the way from C to E: clockwise of it.
    to_e[1].atan2(to_e[0]) - at_c
}

/// Pins and tooth in the house: forward, left, up.
fn points(a: &Angles) -> Vec<(Target, [f64; 3])> {
    let y = -0.045;
    let foot = [0.15, 1.85];
    let along = |from: [f64; 2], length: f64, angle: f64| {
        [
            from[0] + length * angle.cos(),
            from[1] + length * angle.sin(),
        ]
    };
    let b = along(foot, 5.72, a.boom);
    let c = along(b, 2.94, a.stick);
    let ear = a.stick + ear_over_stick(a.idler - a.stick);
    let d = along(c, 0.44, ear);
    let front = along(along(c, 0.02, ear), -0.245, ear + PI / 2.0);
    let turned = ear - 6_f64.to_radians();
    let tip = along(along(front, -0.178, turned), -1.449, turned + PI / 2.0);
    let at = |p: [f64; 2], side: f64| [p[0], y + side, p[1]];
    vec![
        (Target::BoomFoot, at(foot, 0.0)),
        (Target::BoomStick, at(b, 0.0)),
        (Target::StickBucket, at(c, 0.0)),
        (Target::LinkPin, at(d, 0.0)),
        (Target::BucketFrontPin, at(front, 0.0)),
        (Target::Tooth("centre".into()), at(tip, 0.0)),
        (Target::Tooth("left".into()), at(tip, 0.375)),
        (Target::Tooth("right".into()), at(tip, -0.375)),
        (Target::Antenna("GL".into()), [-1.85, 1.05, 3.02]),
        (Target::SwingAxis, [0.0, 0.0, 0.0]),
    ]
}

fn row(n: usize, what: What, pose: &str, readings: &[(String, f64)]) -> Observation {
    Observation {
        name: format!("{n}"),
        line: n,
        what,
        pose: pose.to_owned(),
        stand: "S".to_owned(),
        setup: "TS".to_owned(),
        readings: readings.to_vec(),
        by: None,
        when: None,
        instrument: None,
        note: None,
    }
}

#[test]
fn observations_by_plain_trigonometry_leave_nothing_over() {
    let rig = Rig {
        name: "demo",
        sheet: demo(),
        choice: tool(true, false, "T75", "centre"),
    };
    let axis = [31.0, 44.0, 2.5];
    let mut draws = Draws::new(909, 0);
    let mut rows = Vec::new();
    for pose_idx in 0..25 {
        let attitude = Attitude {
            heading: draws.between(0.0, 6.2),
            pitch: draws.between(-0.12, 0.12),
            roll: draws.between(-0.12, 0.12),
        };
        let boom = draws.between(-0.4, 0.9);
        let stick = boom + draws.between(-2.4, -0.8);
        let angles = Angles {
            boom,
            stick,
            idler: stick + draws.between(0.6, 2.0),
        };
        let gravity = attitude.in_plane();
        let readings = [
            ("S-boom", angles.boom + gravity),
            ("S-stick", angles.stick + gravity),
            ("S-idler", angles.idler + gravity),
            ("pitch", attitude.pitch),
            ("roll", attitude.roll),
        ]
        .map(|(name, value)| (name.to_owned(), value));
        let pose = format!("P{pose_idx}");
        let [forward, left, up] = attitude.axes();
        let points = points(&angles);
        for (target, p) in &points {
            let at_m = [0, 1, 2].map(|k| {
                let value = axis[k] + p[0] * forward[k] + p[1] * left[k] + p[2] * up[k];
                Some(Measured::with_sd(value, 0.003))
            });
            let target = target.clone();
            rows.push(row(
                rows.len(),
                What::Shot { target, at_m },
                &pose,
                &readings,
            ));
        }
        for (a, b) in [(0, 1), (1, 2), (2, 3), (0, 2), (1, 5), (5, 6)] {
            let ((from, p), (to, q)) = (points[a].clone(), points[b].clone());
            let d = [0, 1, 2].map(|k| q[k] - p[k]);
            let length = (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt();
            let length = Measured::with_sd(length, 0.002);
            let what = What::Tape {
                from: from.clone(),
                to: to.clone(),
                length,
            };
            rows.push(row(rows.len(), what, &pose, &[]));
            if b != 6 {
                let angle = Measured::with_sd(d[2].atan2(d[0]) + gravity, 0.001);
                rows.push(row(rows.len(), What::Slope { from, to, angle }, &pose, &[]));
            }
        }
    }
    let observations = Observations {
        machine: "demo-23".to_owned(),
        tool: ObservedTool {
            coupler: Some("QC-demo".to_owned()),
            tilt: None,
            bucket: "T75".to_owned(),
        },
        rows,
    };
    let ask = FitAsk {
        gross_errors: GrossErrors::KeepAll,
        ..FitAsk::default()
    };
    let fit = match fit(&rig.machine(), &observations, &ask) {
        Ok(fit) => fit,
        Err(faults) => panic!("{faults}"),
    };
    let global = fit.global.expect("more than it takes");
    assert!(global.chi2 < 1e-12, "{}", global.chi2);
    for figure in &fit.figures {
        let off = (figure.value - figure.before.value).abs();
        assert!(off < 1e-9, "{} moved by {off:e}", figure.path);
    }
    for reading in &fit.readings {
        assert!(
            reading.off.abs() < 1e-9,
            "{} {}: {:e}",
            reading.name,
            reading.part,
            reading.off
        );
    }
    let east = fit
        .set_up
        .iter()
        .find(|u| u.words.starts_with("easting of the swing axis"));
    assert!((east.expect("in it").value - axis[0]).abs() < 1e-9);
}
