//! What the antennas say of each other: heading from a pair, and whether their places agree.

use super::attitude::Lean;
use super::bounds::{self, within};
use super::readings::scalar;
use crate::frames::House;
use holdline_geom::fault::Fault;
use holdline_geom::frame::Direction;
use nalgebra::RealField;

/// How far the line between two antennas may be from the one their levers give, m.
///
/// A satellite fix that is not fixed is off by more; a pair further off than this is no pair.
/// Finer differences are judged against their own uncertainty.
pub const PAIR_OFF_AT_MOST_M: f64 = 0.10;

/// How far a heading handed in may be from the pair's: 2°.
pub const HEADING_OFF_AT_MOST_RAD: f64 = 2.0 * std::f64::consts::PI / 180.0;

/// Two antennas nearer than this, seen from above, give no heading worth the name, m.
pub(super) const BASELINE_AT_LEAST_M: f64 = 0.1;

/// The measured line between the two antennas against the one their levers give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairCheck<S> {
    /// Measured length less the levers' length, m.
    pub length_difference_m: S,
    /// Measured rise less the one that levers and lean give, m.
    pub rise_difference_m: S,
}

/// An antenna that gave a position.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen<S> {
    /// Its place in the order of the sheet, from 0.
    pub antenna_idx: usize,
    /// Phase centre in `House`, m.
    pub lever_m: [S; 3],
    /// Position on the site, m.
    pub at_m: [S; 3],
}

/// The positions, each a number that can be one.
pub(super) fn check_positions<S: RealField + Copy>(seen: &[Seen<S>]) -> Result<(), Fault> {
    for antenna in seen {
        let spans = [&bounds::GRID, &bounds::GRID, &bounds::ELEVATION];
        for (axis, span) in spans.into_iter().enumerate() {
            let word = ["easting", "northing", "elevation"][axis];
            let at = || format!("{word} of antenna {}", antenna.antenna_idx + 1);
            within(span, at, antenna.at_m[axis])?;
        }
    }
    Ok(())
}

/// Heading from the first two antennas, and how well they agree with their levers.
///
/// ```text
/// v = Ry(−θ) Rx(φ) (b_house − a_house)        ψ = 90° + atan2(v_y, v_x) − atan2(ΔN, ΔE)
/// ```
///
/// None for fewer than two. All pairs are compared with their levers.
///
/// # Errors
///
/// `T014` when the first two stand at one place; `T016` when a pair contradicts its levers;
/// `T017` when `given_rad` contradicts the pair.
pub(super) fn heading_of_pair<S: RealField + Copy>(
    lean: &Lean<S>,
    seen: &[Seen<S>],
    given_rad: Option<S>,
) -> Result<Option<(S, PairCheck<S>)>, Fault> {
    let [first, second, ..] = seen else {
        return Ok(None);
    };
    for (idx, a) in seen.iter().enumerate() {
        for b in &seen[idx + 1..] {
            compared(lean, a, b)?;
        }
    }
    let (heading, check) = compared(lean, first, second)?;
    if let Some(given) = given_rad {
        check_heading(given, heading)?;
    }
    Ok(Some((heading, check)))
}

fn compared<S: RealField + Copy>(
    lean: &Lean<S>,
    a: &Seen<S>,
    b: &Seen<S>,
) -> Result<(S, PairCheck<S>), Fault> {
    let between = |p: [S; 3], q: [S; 3]| [q[0] - p[0], q[1] - p[1], q[2] - p[2]];
    let lever = between(a.lever_m, b.lever_m);
    let v = (lean.level_from_house() * Direction::<House, S>::metres(lever[0], lever[1], lever[2]))
        .vector();
    let d = between(a.at_m, b.at_m);
    let near: S = scalar(BASELINE_AT_LEAST_M);
    let flat = |x: S, y: S| (x * x + y * y).sqrt();
    if !(near < flat(v.x, v.y) && near < flat(d[0], d[1])) {
        return Err(Fault::new(
            "T014",
            "antennas",
            "two antennas at one place",
            "positions and lever arms at least 0.1 m apart",
            "check which column belongs to which antenna, and the lever arms on the sheet",
        ));
    }
    let long = |p: [S; 3]| (p[0] * p[0] + p[1] * p[1] + p[2] * p[2]).sqrt();
    let check = PairCheck {
        length_difference_m: long(d) - long(lever),
        rise_difference_m: d[2] - v.z,
    };
    check_agreement(a, b, &check)?;
    let heading = S::frac_pi_2() + v.y.atan2(v.x) - d[1].atan2(d[0]);
    Ok((one_turn(heading), check))
}

fn check_agreement<S: RealField + Copy>(
    a: &Seen<S>,
    b: &Seen<S>,
    check: &PairCheck<S>,
) -> Result<(), Fault> {
    let most: S = scalar(PAIR_OFF_AT_MOST_M);
    let (length, rise) = (check.length_difference_m, check.rise_difference_m);
    if length.abs() <= most && rise.abs() <= most {
        return Ok(());
    }
    let mm = |value: S| -> f64 { nalgebra::convert_unchecked::<S, f64>(value) * 1000.0 };
    Err(Fault::new(
        "T016",
        format!("antennas {} and {}", a.antenna_idx + 1, b.antenna_idx + 1),
        format!(
            "{:+.0} mm in length and {:+.0} mm in rise from what their lever arms give",
            mm(length),
            mm(rise)
        ),
        format!("both within {:.0} mm", PAIR_OFF_AT_MOST_M * 1000.0),
        "one position is wrong or the columns are swapped: wait for fixed positions on both, \
         then check the lever arms and the house's roll",
    ))
}

fn check_heading<S: RealField + Copy>(given: S, pair: S) -> Result<(), Fault> {
    let mut off = one_turn(given - pair);
    if S::pi() < off {
        off -= S::two_pi();
    }
    if off.abs() <= scalar(HEADING_OFF_AT_MOST_RAD) {
        return Ok(());
    }
    let degrees = |angle: S| -> f64 { nalgebra::convert_unchecked::<S, f64>(angle).to_degrees() };
    Err(Fault::new(
        "T017",
        "heading",
        format!(
            "{:.1}°, and {:.1}° from the two antennas",
            degrees(given),
            degrees(pair)
        ),
        format!(
            "two headings within {:.0}° of each other",
            HEADING_OFF_AT_MOST_RAD.to_degrees()
        ),
        "half a turn apart means swapped antennas; leave one out only when you know which is right",
    ))
}

/// The angle from 0 to one turn, for angles within two turns of it.
fn one_turn<S: RealField + Copy>(angle: S) -> S {
    let mut a = angle;
    for _ in 0..2 {
        if a < S::zero() {
            a += S::two_pi();
        } else if S::two_pi() <= a {
            a -= S::two_pi();
        }
    }
    a
}
