//! Lengths and offsets of a chain from nothing but shots and gravity readings: one linear least squares.

use crate::sources;
use holdline_geom::fault::Fault;
use holdline_geom::measured::Measured;
use nalgebra::{DMatrix, DVector};

/// A direction is left at the guess when these shots would settle it no better than this, m.
pub const UNSURE_M: f64 = 0.05;
/// A link that turns less than this keeps one attitude, for the words, rad.
const ONE_ATTITUDE_RAD: f64 = 0.35;
/// A part of a direction smaller than this share of its largest is not named.
const NAMED_SHARE: f64 = 0.2;

/// A shot in the boom plane.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneShot {
    /// Where it lies in the boom plane: along the plane's level line, and square to it upward, m.
    ///
    /// In a plane that leans by λ the second is the height over cos λ.
    pub at_m: [f64; 2],
    /// The links on the way from the boom foot pin to the target, each with its gravity reading:
    /// number of the link in `links`, reading above the level line, rad.
    pub chain: Vec<(usize, f64)>,
}

/// What was known of a link before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkGuess {
    /// Length, m.
    pub length_m: f64,
    /// Subtracted from the reading, rad.
    pub offset_rad: f64,
}

/// A link of the chain: boom, stick, the line to the tooth, the ear line.
#[derive(Debug, Clone, PartialEq)]
pub struct ChainLink {
    /// Its word.
    pub name: String,
    /// What was known of it; none: nothing.
    pub guess: Option<LinkGuess>,
}

/// The chain as found.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearStart {
    /// Boom foot pin in the plane, m.
    pub foot_m: [Measured; 2],
    /// Length of each link, m.
    pub lengths_m: Vec<Measured>,
    /// What each link's reading is too large by, rad: subtracted like a sensor's offset.
    pub offsets_rad: Vec<Measured>,
    /// Spread of what is left, m; none without more equations than unknowns.
    pub s0_m: Option<f64>,
    /// Largest singular value over the smallest: 1 is best, infinite when something is not settled at all.
    pub condition: f64,
    /// What these shots do not settle, in words; it stays at the guess.
    pub not_settled: Vec<String>,
}

/// Finds the boom foot pin and every link's length and offset at once.
///
/// Used as the start of a calibration, and where there is no more than a level line and a plane.
///
/// ```text
/// x = x_A + Σ (a_k cos γ_k − c_k sin γ_k)        L_k = √(a_k² + c_k²)
/// z = z_A + Σ (a_k sin γ_k + c_k cos γ_k)        offset_k = −atan2(c_k, a_k)
/// ```
///
/// - Symbols: γ_k the gravity reading of link k, whose true angle is γ_k − offset_k; L_k its length.
/// - Linear in x_A, z_A, a_k, c_k: no start is needed, and there is only one answer.
/// - Frame: the boom plane, x along its level line. Units: m, rad. `sd_m`: of one coordinate.
/// - A direction that these shots settle no better than [`UNSURE_M`] stays at the guess and is said in words.
/// - Source: [`sources::LEAST_SQUARES`], ordinary least squares by singular values.
/// - Exact for readings without noise: to 1e-11 m, `a_chain_without_noise_is_found` below.
///
/// # Errors
///
/// `C040` when a direction is not settled and there is no guess to keep; `C041` without shots or with a number missing.
pub fn fit_linear_start(
    links: &[ChainLink],
    shots: &[PlaneShot],
    foot_guess_m: Option<[f64; 2]>,
    sd_m: f64,
) -> Result<LinearStart, Fault> {
    let _ = sources::LEAST_SQUARES;
    check_given(links, shots, sd_m)?;
    let (a, l) = rows(links.len(), shots);
    let before = guess_vector(links, foot_guess_m);
    let start = before.clone().unwrap_or_else(|| DVector::zeros(a.ncols()));
    // Fewer rows than columns: rows of nothing let the decomposition show every direction.
    let n_rows = a.nrows().max(a.ncols());
    let svd = a.clone().resize_vertically(n_rows, 0.0).svd(true, true);
    let (Some(u), Some(vt)) = (&svd.u, &svd.v_t) else {
        return Err(no_numbers(
            "the shots",
            "their singular values do not exist",
        ));
    };
    let gap = (&l - &a * &start).resize_vertically(n_rows, 0.0);
    let mut x = start;
    let mut covariance = DMatrix::zeros(a.ncols(), a.ncols());
    let mut not_settled = Vec::new();
    for (idx, sigma) in svd.singular_values.iter().enumerate() {
        let way = vt.row(idx).transpose();
        if sd_m < UNSURE_M * sigma {
            x += &way * (u.column(idx).dot(&gap) / sigma);
            covariance += &way * way.transpose() * (sd_m / sigma).powi(2);
        } else {
            not_settled.push(words(links, shots, &way));
        }
    }
    if !not_settled.is_empty() && before.is_none() {
        return Err(Fault::new(
            "C040",
            "shots",
            not_settled.join("; "),
            "shots that settle every length and offset, or a guess of each link and of the boom foot pin",
            "measure more poses as said, or give the tape lengths as a guess",
        ));
    }
    let n_free = a.nrows() as f64 - a.ncols() as f64 + not_settled.len() as f64;
    let left = &l - &a * &x;
    Ok(LinearStart {
        s0_m: (1.0 <= n_free).then(|| (left.norm_squared() / n_free).sqrt()),
        condition: condition(&svd.singular_values),
        ..polar(links.len(), &x, &covariance, not_settled)
    })
}

fn check_given(links: &[ChainLink], shots: &[PlaneShot], sd_m: f64) -> Result<(), Fault> {
    if shots.is_empty() || links.is_empty() {
        return Err(no_numbers("the shots", "none"));
    }
    if !(0.0 < sd_m && sd_m.is_finite()) {
        return Err(no_numbers("the shots' sd", &format!("{sd_m} m")));
    }
    for (idx, shot) in shots.iter().enumerate() {
        let known = shot.chain.iter().all(|(link, _)| *link < links.len());
        let mut numbers = shot
            .at_m
            .iter()
            .chain(shot.chain.iter().map(|(_, reading)| reading));
        if !known || !numbers.all(|v| v.is_finite()) {
            return Err(no_numbers(
                &format!("shot {}", idx + 1),
                "a link that is not there, or no number",
            ));
        }
    }
    Ok(())
}

fn no_numbers(at: &str, got: &str) -> Fault {
    Fault::new(
        "C041",
        at,
        got,
        "shots with two coordinates in the boom plane and a reading of every link on the way",
        "give every shot its readings; leave out what was not read",
    )
}

/// Columns: x_A, z_A, then a and c of every link.
fn rows(n_links: usize, shots: &[PlaneShot]) -> (DMatrix<f64>, DVector<f64>) {
    let mut a = DMatrix::zeros(2 * shots.len(), 2 + 2 * n_links);
    let mut l = DVector::zeros(2 * shots.len());
    for (shot_idx, shot) in shots.iter().enumerate() {
        let (x, z) = (2 * shot_idx, 2 * shot_idx + 1);
        (l[x], l[z]) = (shot.at_m[0], shot.at_m[1]);
        (a[(x, 0)], a[(z, 1)]) = (1.0, 1.0);
        for (link, reading_rad) in &shot.chain {
            let (sin, cos) = reading_rad.sin_cos();
            let along = 2 + 2 * link;
            a[(x, along)] += cos;
            a[(x, along + 1)] -= sin;
            a[(z, along)] += sin;
            a[(z, along + 1)] += cos;
        }
    }
    (a, l)
}

fn guess_vector(links: &[ChainLink], foot_m: Option<[f64; 2]>) -> Option<DVector<f64>> {
    let mut x = foot_m?.to_vec();
    for link in links {
        let guess = link.guess?;
        let (sin, cos) = (-guess.offset_rad).sin_cos();
        x.extend([guess.length_m * cos, guess.length_m * sin]);
    }
    Some(DVector::from_vec(x))
}

fn condition(singular: &DVector<f64>) -> f64 {
    let (least, most) = (singular.min(), singular.max());
    if 1e-13 * most < least {
        most / least
    } else {
        f64::INFINITY
    }
}

/// From (a, c) to length and offset, each with its uncertainty.
fn polar(
    n_links: usize,
    x: &DVector<f64>,
    covariance: &DMatrix<f64>,
    not_settled: Vec<String>,
) -> LinearStart {
    let sd = |slopes: &[(usize, f64)]| {
        let mut sum = 0.0;
        for (i, si) in slopes {
            for (j, sj) in slopes {
                sum += si * sj * covariance[(*i, *j)];
            }
        }
        // With a direction left at the guess nobody knows how sure the guess is.
        not_settled.is_empty().then(|| sum.sqrt())
    };
    let measured = |value: f64, slopes: &[(usize, f64)]| Measured {
        value,
        sd: sd(slopes),
    };
    let (mut lengths_m, mut offsets_rad) = (Vec::new(), Vec::new());
    for link in 0..n_links {
        let at = 2 + 2 * link;
        let (a, c) = (x[at], x[at + 1]);
        let length = a.hypot(c);
        lengths_m.push(measured(length, &[(at, a / length), (at + 1, c / length)]));
        let square = length * length;
        offsets_rad.push(measured(
            -c.atan2(a),
            &[(at, c / square), (at + 1, -a / square)],
        ));
    }
    LinearStart {
        foot_m: [measured(x[0], &[(0, 1.0)]), measured(x[1], &[(1, 1.0)])],
        lengths_m,
        offsets_rad,
        s0_m: None,
        condition: f64::NAN,
        not_settled,
    }
}

/// A direction that is not settled, in words: which links it joins, and what to do.
fn words(links: &[ChainLink], shots: &[PlaneShot], way: &DVector<f64>) -> String {
    let part = |at: usize| way[at].hypot(way[at + 1]);
    let parts: Vec<f64> = (0..=links.len()).map(|k| part(2 * k)).collect();
    let most = parts.iter().copied().fold(0.0, f64::max);
    let named: Vec<usize> = (0..parts.len())
        .filter(|k| NAMED_SHARE * most < parts[*k])
        .collect();
    let name = |k: &usize| links[k - 1].name.clone();
    match named[..] {
        [0, link] if spread(shots, link - 1, None) < ONE_ATTITUDE_RAD => format!(
            "the {} kept nearly one attitude ({:.0}° in all): its length and offset cannot be told from the place of the boom foot pin; turn it through 60° or more, best 120°",
            name(&link),
            spread(shots, link - 1, None).to_degrees()
        ),
        [first, second]
            if 0 < first && spread(shots, first - 1, Some(second - 1)) < ONE_ATTITUDE_RAD =>
        {
            format!(
                "the {} kept nearly one angle to the {} ({:.0}° in all): the two act as one link; move one without the other",
                name(&second),
                name(&first),
                spread(shots, first - 1, Some(second - 1)).to_degrees()
            )
        }
        _ => {
            let mut all: Vec<String> = named.iter().filter(|k| 0 < **k).map(name).collect();
            if named.contains(&0) {
                all.insert(0, "the boom foot pin".to_owned());
            }
            format!(
                "a combination of {} is not settled: move each joint by itself, in more poses",
                all.join(", ")
            )
        }
    }
}

/// Through how much a link's reading goes, or its angle to another link: the least arc that holds all, rad.
fn spread(shots: &[PlaneShot], link: usize, other: Option<usize>) -> f64 {
    use std::f64::consts::TAU;
    let of = |shot: &PlaneShot, wanted: usize| {
        shot.chain
            .iter()
            .find(|(at, _)| *at == wanted)
            .map(|(_, reading)| *reading)
    };
    let mut angles: Vec<f64> = shots
        .iter()
        .filter_map(|shot| {
            let angle = of(shot, link)?;
            match other {
                None => Some(angle),
                Some(other) => Some(of(shot, other)? - angle),
            }
        })
        .map(|angle| angle.rem_euclid(TAU))
        .collect();
    angles.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (angles.first(), angles.last()) else {
        return 0.0;
    };
    let around = first + TAU - last;
    let widest = angles
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(around, f64::max);
    TAU - widest
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_geom::draws::Draws;
    use std::f64::consts::FRAC_PI_2;

    /// Boom, stick, line to the tooth: lengths of the demo machine, m, and what its sensors hide, degrees.
    const TRUE_M: [f64; 3] = [5.720, 2.940, 1.6958];
    const HIDDEN_DEG: [f64; 3] = [0.30, -0.20, 0.80];
    const FOOT_M: [f64; 2] = [0.150, 1.850];

    fn links(guess: bool) -> Vec<ChainLink> {
        ["boom", "stick", "bucket"]
            .iter()
            .zip([5.7, 2.9, 1.7])
            .map(|(name, length_m)| ChainLink {
                name: (*name).to_owned(),
                guess: guess.then_some(LinkGuess {
                    length_m,
                    offset_rad: 0.0,
                }),
            })
            .collect()
    }

    /// The tooth by plain trigonometry, and the readings that hide their offsets.
    fn shot(true_deg: [f64; 3], noise_m: [f64; 2]) -> PlaneShot {
        let mut at_m = [FOOT_M[0] + noise_m[0], FOOT_M[1] + noise_m[1]];
        for (length, angle) in TRUE_M.iter().zip(true_deg) {
            at_m[0] += length * angle.to_radians().cos();
            at_m[1] += length * angle.to_radians().sin();
        }
        let read = |k: usize| (k, (true_deg[k] + HIDDEN_DEG[k]).to_radians());
        PlaneShot {
            at_m,
            chain: vec![read(0), read(1), read(2)],
        }
    }

    fn poses(n: usize, sd_m: f64) -> Vec<PlaneShot> {
        let mut draws = Draws::new(41, 0);
        (0..n)
            .map(|_| {
                let boom = draws.between(-20.0, 50.0);
                let stick = boom + draws.between(-140.0, -45.0);
                let tooth = stick + draws.between(-120.0, 40.0);
                let noise = [sd_m * draws.normal(), sd_m * draws.normal()];
                shot([boom, stick, tooth], noise)
            })
            .collect()
    }

    #[test]
    fn a_chain_without_noise_is_found() {
        let start = fit_linear_start(&links(false), &poses(12, 0.0), None, 0.003).expect("settled");
        for k in 0..3 {
            assert!((start.lengths_m[k].value - TRUE_M[k]).abs() < 1e-11);
            assert!((start.offsets_rad[k].value.to_degrees() - HIDDEN_DEG[k]).abs() < 1e-10);
        }
        assert!((start.foot_m[0].value - FOOT_M[0]).abs() < 1e-11);
        assert!((start.foot_m[1].value - FOOT_M[1]).abs() < 1e-11);
    }

    /// Forty poses at 3 mm give lengths to a millimetre or two; the errors stay inside what is stated.
    #[test]
    fn forty_poses_give_millimetres() {
        let start =
            fit_linear_start(&links(false), &poses(40, 0.003), None, 0.003).expect("settled");
        for k in 0..3 {
            let (length, offset) = (start.lengths_m[k], start.offsets_rad[k]);
            let (sd_m, sd_rad) = (length.sd.expect("stated"), offset.sd.expect("stated"));
            assert!(sd_m < 0.002, "{sd_m}");
            assert!((length.value - TRUE_M[k]).abs() < 3.5 * sd_m);
            assert!((offset.value - HIDDEN_DEG[k].to_radians()).abs() < 3.5 * sd_rad);
        }
        let s0_m = start.s0_m.expect("more equations than unknowns");
        assert!((0.0024..0.0036).contains(&s0_m), "{s0_m}");
        assert!(
            (1.0..20.0).contains(&start.condition),
            "{}",
            start.condition
        );
    }

    /// Links that stand at every mix of four quarter turns make all columns square to each other: condition 1.
    #[test]
    fn a_square_design_has_condition_one() {
        let mut shots = Vec::new();
        for idx in 0..64_u32 {
            let quarter = |digit: u32| f64::from((idx / 4_u32.pow(digit)) % 4) * 90.0;
            shots.push(shot([quarter(0), quarter(1), quarter(2)], [0.0, 0.0]));
        }
        let start = fit_linear_start(&links(false), &shots, None, 0.003).expect("settled");
        assert!((start.condition - 1.0).abs() < 1e-12, "{}", start.condition);
        // Each of the 2 · 64 equations tells each unknown once: sd = 3 mm / √64.
        let sd_m = start.lengths_m[0].sd.expect("stated");
        assert!((sd_m - 0.003 / 8.0).abs() < 1e-12, "{sd_m}");
    }

    #[test]
    fn a_bucket_that_never_turns_is_said_in_words() {
        let flat: Vec<PlaneShot> = poses(20, 0.0)
            .into_iter()
            .enumerate()
            .map(|(idx, old)| {
                let stick_deg = old.chain[1].1.to_degrees() - HIDDEN_DEG[1];
                shot([idx as f64 * 3.0 - 20.0, stick_deg, -100.0], [0.0, 0.0])
            })
            .collect();
        let fault = fit_linear_start(&links(false), &flat, None, 0.003).unwrap_err();
        assert_eq!(fault.code, "C040");
        assert!(
            fault.got.contains("the bucket kept nearly one attitude"),
            "{}",
            fault.got
        );
        let kept = fit_linear_start(&links(true), &flat, Some(FOOT_M), 0.003).expect("a guess");
        // Two directions are lost: length and offset of one link.
        assert_eq!(kept.not_settled.len(), 2, "{:?}", kept.not_settled);
        assert!(kept.condition.is_infinite());
        assert_eq!(kept.lengths_m[2].sd, None);
        assert!(
            (kept.lengths_m[0].value - TRUE_M[0]).abs() < 1e-9,
            "boom is settled all the same"
        );
    }

    #[test]
    fn a_stick_that_never_moves_is_said_in_words() {
        let stiff: Vec<PlaneShot> = (0..20)
            .map(|idx| {
                let boom = f64::from(idx) * 4.0 - 20.0;
                shot(
                    [boom, boom - 90.0, f64::from(idx * 37 % 160) - 150.0],
                    [0.0, 0.0],
                )
            })
            .collect();
        let kept = fit_linear_start(&links(true), &stiff, Some(FOOT_M), 0.003).expect("a guess");
        assert_eq!(kept.not_settled.len(), 2);
        assert!(
            kept.not_settled[0].contains("the stick kept nearly one angle to the boom"),
            "{:?}",
            kept.not_settled
        );
    }

    #[test]
    fn no_shots_and_no_numbers_are_refused() {
        let code = |shots: &[PlaneShot], sd_m| {
            fit_linear_start(&links(false), shots, None, sd_m)
                .unwrap_err()
                .code
        };
        assert_eq!(code(&[], 0.003), "C041");
        assert_eq!(code(&poses(8, 0.0), f64::NAN), "C041");
        let mut broken = poses(8, 0.0);
        broken[3].at_m[0] = f64::NAN;
        assert_eq!(code(&broken, 0.003), "C041");
        broken[3] = shot([0.0, FRAC_PI_2, 0.0], [0.0, 0.0]);
        broken[3].chain[0].0 = 7;
        assert_eq!(code(&broken, 0.003), "C041");
        assert_eq!(code(&poses(2, 0.0), 0.003), "C040");
    }
}
