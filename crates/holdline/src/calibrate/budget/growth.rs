//! How 2D heights decay from move to move, and where 3D becomes the better way.

use super::ask::Coverage;
use holdline_geom::fault::{Fault, Faults};

/// What grows, and by how much a move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrowthAsk {
    /// Standard uncertainty of a height before the first move, m: of the chain, or of the chain and the first touch.
    pub start_sd_m: Option<f64>,
    /// Standard uncertainty of one touch, m.
    pub touch_sd_m: Option<f64>,
    /// Standard uncertainty of a transfer mark between its two touches, m.
    pub mark_sd_m: Option<f64>,
    /// What every move adds in the same direction, m: the near–far difference of an offset not corrected, and the like.
    pub systematic_m: f64,
    /// Standard uncertainty of a height in 3D at the same work, m.
    pub three_d_sd_m: Option<f64>,
    /// How many moves to look ahead: 1 to 1000.
    pub n_moves: u32,
    /// The factor of U.
    pub coverage: Coverage,
}

/// After one move more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrowthStep {
    /// Moves since the bench.
    pub n: u32,
    /// Standard uncertainty, m; none when something is not stated.
    pub sd_m: Option<f64>,
    /// What the moves added in one direction, m.
    pub systematic_m: f64,
    /// U with the systematic part added in full, m; likewise none.
    pub u_m: Option<f64>,
}

/// Growth over the moves.
#[derive(Debug, Clone, PartialEq)]
pub struct Growth {
    /// From no move to the last, in order.
    pub steps: Vec<GrowthStep>,
    /// U of 3D, m.
    pub three_d_u_m: Option<f64>,
    /// The first number of moves after which 2D is no better than 3D; none when it stays better, or is not known.
    pub crosses_at: Option<u32>,
    /// What is not stated.
    pub missing: Vec<String>,
}

/// Growth of the uncertainty of 2D heights over the moves.
///
/// ```text
/// σ_n² = σ_0² + n (2 σ_touch² + σ_mark²)        U_n = k σ_n + n |δ|
/// ```
///
/// - Symbols: δ systematic part of each move. Units: m.
/// - Touching with the same reach and curl before and after lets most of δ cancel.
/// - Source: each transfer is two touches of one mark; independent of the other moves.
///
/// # Errors
///
/// `B001` for what is no uncertainty; `B012` for a number of moves that cannot be meant.
pub fn growth(ask: &GrowthAsk) -> Result<Growth, Faults> {
    check(ask)?;
    let mut missing = Vec::new();
    for (word, value) in [
        ("height before the first move", ask.start_sd_m),
        ("one touch", ask.touch_sd_m),
        ("a transfer mark", ask.mark_sd_m),
    ] {
        if value.is_none() {
            missing.push(word.to_owned());
        }
    }
    let k = ask.coverage.k();
    let stated = match (ask.start_sd_m, ask.touch_sd_m, ask.mark_sd_m) {
        (Some(start), Some(touch), Some(mark)) => {
            Some((start * start, 2.0 * touch * touch + mark * mark))
        }
        _ => None,
    };
    let steps: Vec<GrowthStep> = (0..=ask.n_moves)
        .map(|n| {
            let sd_m = stated.map(|(start, a_move)| (start + f64::from(n) * a_move).sqrt());
            let systematic_m = f64::from(n) * ask.systematic_m;
            GrowthStep {
                n,
                sd_m,
                systematic_m,
                u_m: sd_m.map(|sd| k * sd + systematic_m.abs()),
            }
        })
        .collect();
    let three_d_u_m = ask.three_d_sd_m.map(|sd| k * sd);
    let crosses_at = three_d_u_m.and_then(|limit| {
        let beyond = |step: &&GrowthStep| step.u_m.is_some_and(|u| limit <= u);
        steps.iter().find(beyond).map(|step| step.n)
    });
    Ok(Growth {
        steps,
        three_d_u_m,
        crosses_at,
        missing,
    })
}

fn check(ask: &GrowthAsk) -> Result<(), Faults> {
    let mut faults = Faults::none();
    for (at, value) in [
        ("growth.start", ask.start_sd_m),
        ("growth.touch", ask.touch_sd_m),
        ("growth.mark", ask.mark_sd_m),
        ("growth.three_d", ask.three_d_sd_m),
        ("growth.systematic", Some(ask.systematic_m.abs())),
    ] {
        if let Some(value) = value.filter(|v| !(0.0 <= *v && v.is_finite())) {
            faults.push(Fault::new(
                "B001",
                at,
                holdline_geom::fault::number(value),
                "a number, 0 or greater",
                "leave it out when it is not known; 0 says that it was looked at and is nothing",
            ));
        }
    }
    if !(1..=1000).contains(&ask.n_moves) {
        faults.push(Fault::new(
            "B012",
            "growth.moves",
            ask.n_moves.to_string(),
            "1 to 1000",
            "close on a known level every three to five moves",
        ));
    }
    faults.or(())
}

/// One entry of a track from bench to bench, in the order of the work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReBench {
    /// The mark was touched, the machine tracked, the mark was touched again.
    Move {
        /// Standard uncertainty of the touch before and of the touch after, m.
        touch_sd_m: [Option<f64>; 2],
        /// Standard uncertainty of the mark between them, m.
        mark_sd_m: Option<f64>,
        /// What this move adds in one direction, m: 0 with the same reach and curl before and after.
        systematic_m: f64,
    },
    /// A known level was touched: the height shown there less the known one.
    Close {
        /// Misclosure, m.
        misclosure_m: f64,
        /// Standard uncertainty of the known level, m.
        level_sd_m: Option<f64>,
        /// Standard uncertainty of the touch, m.
        touch_sd_m: Option<f64>,
    },
}

/// Where the track stands after one entry.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackStep {
    /// Moves since the last level that was accepted.
    pub n_moves: u32,
    /// Standard uncertainty of the reference now, m; none when something is not stated.
    pub sd_m: Option<f64>,
    /// Systematic part so far, m.
    pub systematic_m: f64,
    /// For a closing: whether |c| <= 2 σ, and what each move takes of it, m.
    pub closed: Option<Closed>,
}

/// A closing on a known level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closed {
    /// Whether the misclosure lies within two standard uncertainties of what was to be expected.
    /// Not stated uncertainties accept nothing.
    pub accepted: bool,
    /// What was to be expected, standard uncertainty, m.
    pub expected_sd_m: Option<f64>,
    /// What each move takes of the misclosure, m: −c/n.
    pub each_move_m: f64,
}

/// Follows a reference over moves and closings, in order.
///
/// ```text
/// move     σ² ← σ² + σ_before² + σ_after² + σ_mark²        δ ← δ + δ_move
/// close    accepted when |c| <= 2 √(σ² + σ_touch² + σ_level²) + |δ|;  then σ² ← σ_level² + σ_touch², δ ← 0
/// ```
///
/// `start_sd_m` is of the reference at the bench: its own and the first touch.
/// A closing that is not accepted leaves everything as it was: find out why before going on.
pub fn track(start_sd_m: Option<f64>, entries: &[ReBench]) -> Vec<TrackStep> {
    let stated = |sd: Option<f64>| sd.filter(|s| 0.0 <= *s && s.is_finite()).map(|s| s * s);
    let mut variance = stated(start_sd_m);
    let (mut n_moves, mut systematic_m) = (0, 0.0);
    let mut steps = Vec::with_capacity(entries.len());
    for entry in entries {
        let mut closed = None;
        match *entry {
            ReBench::Move {
                touch_sd_m: [before, after],
                mark_sd_m,
                systematic_m: more,
            } => {
                let adds = [before, after, mark_sd_m]
                    .into_iter()
                    .try_fold(0.0, |sum, sd| Some(sum + stated(sd)?));
                variance = variance.zip(adds).map(|(v, a)| v + a);
                n_moves += 1;
                systematic_m += more;
            }
            ReBench::Close {
                misclosure_m,
                level_sd_m,
                touch_sd_m,
            } => {
                let own = stated(level_sd_m)
                    .zip(stated(touch_sd_m))
                    .map(|(l, t)| l + t);
                let expected = variance.zip(own).map(|(v, o)| (v + o).sqrt());
                let accepted = expected
                    .is_some_and(|sd| misclosure_m.abs() <= 2.0 * sd + f64::abs(systematic_m));
                closed = Some(Closed {
                    accepted,
                    expected_sd_m: expected,
                    each_move_m: -misclosure_m / f64::from(n_moves.max(1)),
                });
                if accepted {
                    (variance, n_moves, systematic_m) = (own, 0, 0.0);
                }
            }
        }
        steps.push(TrackStep {
            n_moves,
            sd_m: variance.map(f64::sqrt),
            systematic_m,
            closed,
        });
    }
    steps
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(start_mm: f64, touch_mm: f64, systematic_mm: f64) -> GrowthAsk {
        GrowthAsk {
            start_sd_m: Some(start_mm / 1000.0),
            touch_sd_m: Some(touch_mm / 1000.0),
            mark_sd_m: Some(0.0),
            systematic_m: systematic_mm / 1000.0,
            three_d_sd_m: Some(0.0189),
            n_moves: 10,
            coverage: Coverage::TwoSided,
        }
    }

    #[track_caller]
    fn check(start_mm: f64, touch_mm: f64, want_mm: &[(usize, f64)]) {
        let growth = growth(&ask(start_mm, touch_mm, 0.0)).expect("meant");
        for (n, want) in want_mm {
            let got = 1000.0 * growth.steps[*n].sd_m.expect("stated");
            assert!(
                (got - want).abs() <= 0.05 + 1e-9,
                "after {n}: {got}, not {want}"
            );
        }
    }

    /// Worked out by hand from the rule, touches of 6 mm and 7 mm, as trade practice prints them to 0.1 mm.
    #[test]
    fn two_touches_a_move() {
        check(0.0, 6.0, &[(1, 8.5), (3, 14.7), (5, 19.0), (10, 26.8)]);
        check(6.0, 6.0, &[(1, 10.4), (3, 15.9), (5, 19.9), (10, 27.5)]);
        check(7.1, 7.0, &[(4, 21.0)]);
    }

    #[test]
    fn what_goes_one_way_adds_up_in_full() {
        let growth = growth(&ask(0.0, 6.0, 2.0)).expect("meant");
        for (n, want_mm) in [(1, 2.0), (3, 6.0), (5, 10.0), (10, 20.0)] {
            let step = growth.steps[n];
            assert!((1000.0 * step.systematic_m - want_mm).abs() < 1e-9);
            let sd = step.sd_m.expect("stated");
            assert!((step.u_m.expect("stated") - (2.0 * sd + step.systematic_m)).abs() < 1e-15);
        }
    }

    #[test]
    fn two_d_crosses_three_d_where_the_hand_rule_says() {
        // 18.9² = n · 2 · 6² → n = 4.96: the fifth move.
        let growth = growth(&ask(0.0, 6.0, 0.0)).expect("meant");
        assert_eq!(growth.crosses_at, Some(5));
        let unknown = GrowthAsk {
            touch_sd_m: None,
            ..ask(0.0, 6.0, 0.0)
        };
        let growth = super::growth(&unknown).expect("meant");
        assert_eq!((growth.crosses_at, growth.steps[3].u_m), (None, None));
        assert_eq!(growth.missing, ["one touch"]);
    }

    #[test]
    fn a_track_is_followed_in_order() {
        let a_move = |before: f64, after: f64| ReBench::Move {
            touch_sd_m: [Some(before), Some(after)],
            mark_sd_m: Some(0.002),
            systematic_m: 0.001,
        };
        let close = |misclosure_m: f64| ReBench::Close {
            misclosure_m,
            level_sd_m: Some(0.002),
            touch_sd_m: Some(0.006),
        };
        let entries = [
            a_move(0.006, 0.005),
            a_move(0.006, 0.006),
            close(0.030), // 2 √(150 + 36 + 4) + 2 = 29.6 mm would pass
            close(0.020),
            a_move(0.006, 0.006),
        ];
        let steps = track(Some(0.003), &entries);
        let sd = |n: usize| steps[n].sd_m.expect("stated");
        assert!((sd(0) - (9e-6_f64 + 36e-6 + 25e-6 + 4e-6).sqrt()).abs() < 1e-15);
        assert!((sd(1) - (74e-6_f64 + 72e-6 + 4e-6).sqrt()).abs() < 1e-15);
        let refused = steps[2].closed.expect("a closing");
        assert!(!refused.accepted && steps[2].n_moves == 2);
        let accepted = steps[3].closed.expect("a closing");
        assert!(accepted.accepted && (accepted.each_move_m + 0.010).abs() < 1e-15);
        assert!((sd(3) - 40e-6_f64.sqrt()).abs() < 1e-15 && steps[3].systematic_m == 0.0);
        assert_eq!(steps[4].n_moves, 1);
        let unknown = track(None, &entries);
        assert!(unknown[1].sd_m.is_none() && !unknown[3].closed.expect("a closing").accepted);
    }

    #[test]
    fn what_is_no_number_is_refused() {
        for bad in [f64::NAN, -0.001, f64::INFINITY] {
            let ask = GrowthAsk {
                mark_sd_m: Some(bad),
                ..ask(0.0, 6.0, 0.0)
            };
            assert_eq!(growth(&ask).unwrap_err().0[0].code, "B001");
        }
    }
}
