//! Check shots: the tooth as shown or computed, against the tooth as surveyed.

use super::decision::{About, Decision, half_width_m};
use super::shared::Shared;
use super::single_shots::{
    and_no_stray, and_no_stray_in_plan, copies, only_with_survey, survey_sd,
};
use holdline_geom::measured::Measured;
use holdline_geom::stats::Series;

/// One check shot. Coordinates are easting, northing, elevation on the site; none where a shot has only a height.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckShot {
    /// Its name.
    pub name: String,
    /// The tooth as the display shows it or as computed from readings, m.
    pub shown_m: [Option<Measured>; 3],
    /// The tooth as surveyed, m.
    pub surveyed_m: [Option<Measured>; 3],
}

/// What the job allows, m. `None` was not stated: it is asked for, never taken as wide open.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tolerance {
    /// Height: most below (zero or negative) and most above (zero or positive), shown minus surveyed.
    pub height_m: Option<[f64; 2]>,
    /// In plan, any direction: radius.
    pub plan_m: Option<f64>,
}

/// Uncertainty that is the same in every shot: of the control and of the instrument's set-up (k = 1), m.
pub type CommonSd = [Option<f64>; 3];

/// Axis words, in the order of the coordinates.
pub const AXES: [&str; 3] = ["easting", "northing", "elevation"];

/// One shot's differences, shown minus surveyed.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotDifference {
    /// The shot.
    pub name: String,
    /// Differences with their standard uncertainties, m.
    pub difference_m: [Option<Measured>; 3],
}

/// What the series says along one axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisSummary {
    /// Mean and sd of the differences, m.
    pub series: Series,
    /// Half width of the 95 % statement about the mean, m; none for fewer than two shots or
    /// without the control's uncertainty.
    pub mean_half_width_m: Option<f64>,
    /// The same for the next single result, m.
    pub next_half_width_m: Option<f64>,
}

/// Something a person must look at.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Code, for `holdline explain`.
    pub code: &'static str,
    /// Which shot, axis or entry.
    pub at: String,
    /// What, with the figure.
    pub what: String,
}

/// The check as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckResult {
    /// Shot by shot.
    pub differences: Vec<ShotDifference>,
    /// Axis by axis; none where no shot has that axis.
    pub axes: [Option<AxisSummary>; 3],
    /// Height against its tolerance.
    pub height: Decision,
    /// Plan against its tolerance; none when no tolerance in plan was stated.
    pub plan: Option<Decision>,
    /// The whole.
    pub decision: Decision,
    /// What to look at.
    pub findings: Vec<Finding>,
}

/// Fewer shots than this leave the sd itself uncertain by more than 27 %.
pub const SHOTS_ADVISED: usize = 8;

/// Checks the tooth against control.
///
/// Used by `holdline verify`.
///
/// ```text
/// d = shown − surveyed        u²(d) = u²(shown) + u²(surveyed)
/// holds      both the mean and the next single result, each ± U, lie inside the tolerance (guarded, JCGM 106)
/// plan       hypot of the two axes' |mean| + U, a bound on the safe side, inside the circle
/// ```
///
/// - The spread used is never below the survey's own sd: two shots that happen to agree are not exact.
/// - A single shot outside the tolerance is never held; one that is surely outside says `DoesNotHold`.
/// - What is common to all shots is added linearly: twice the control's and, for shots computed from antennas, twice
///   what the satellite positions share ([`Shared`]).
/// - Units: m. Formulas of U: [`half_width_m`]. Decision: [`Decision::guarded`].
/// - Anything not stated (tolerance, the control's or a shot's survey uncertainty, fewer than two shots) ends as
///   `NotShown`.
///
/// # Caution
///
/// A check speaks for the poses, the tool and the day it was made; wear, another bucket or a knocked sensor end it.
pub fn check_shots(shots: &[CheckShot], tolerance: &Tolerance, shared: &Shared) -> CheckResult {
    let differences: Vec<ShotDifference> = shots.iter().map(difference).collect();
    let copies = copies(shots);
    let counted: Vec<ShotDifference> = differences
        .iter()
        .enumerate()
        .filter(|(idx, _)| copies[*idx].is_none())
        .map(|(_, d)| d.clone())
        .collect();
    let common_sd_m = [0, 1, 2].map(|axis| shared.sd_m(axis));
    let floor = |axis| survey_sd(shots, axis);
    let axes = [0, 1, 2].map(|axis| axis_summary(&counted, axis, common_sd_m[axis], floor(axis)));
    let height = judge_height(&axes[2], tolerance.height_m, shared);
    let height = only_with_survey(height, shots, &[2]);
    let height = and_no_stray(height, &counted, tolerance.height_m, common_sd_m[2]);
    let plan_seen = axes[0].is_some() || axes[1].is_some();
    let plan = tolerance
        .plan_m
        .map(|radius_m| judge_plan(&axes, radius_m, shared))
        .map(|plan| only_with_survey(plan, shots, &[0, 1]))
        .map(|plan| and_no_stray_in_plan(plan, &counted, tolerance.plan_m, &common_sd_m));
    let decision = match &plan {
        Some(plan) => height.clone().and(plan.clone()),
        None => height.clone(),
    };
    let mut findings = findings(&differences, &axes, tolerance, plan_seen);
    findings.extend(shared.findings([0, 1, 2].map(|axis| axes[axis].is_some())));
    for (shot, first) in shots.iter().zip(&copies) {
        if let Some(first) = first {
            findings.push(Finding {
                code: "V006",
                at: shot.name.clone(),
                what: format!(
                    "the same as shot {} to the last digit: counted once",
                    shots[*first].name
                ),
            });
        }
    }
    CheckResult {
        differences,
        axes,
        height,
        plan,
        decision,
        findings,
    }
}

fn difference(shot: &CheckShot) -> ShotDifference {
    let difference_m = [0, 1, 2].map(|axis| {
        let (shown, surveyed) = (shot.shown_m[axis]?, shot.surveyed_m[axis]?);
        let sd = shown.sd.zip(surveyed.sd).map(|(a, b)| a.hypot(b));
        Some(Measured {
            value: shown.value - surveyed.value,
            sd,
        })
    });
    ShotDifference {
        name: shot.name.clone(),
        difference_m,
    }
}

fn axis_summary(
    differences: &[ShotDifference],
    axis: usize,
    common: Option<f64>,
    least_sd_m: f64,
) -> Option<AxisSummary> {
    let values: Vec<f64> = differences
        .iter()
        .filter_map(|d| d.difference_m[axis])
        .map(|m| m.value)
        .collect();
    let series = Series::of(&values)?;
    let spread = Series {
        sd: series
            .sd
            .map(|sd| if sd < least_sd_m { least_sd_m } else { sd }),
        ..series
    };
    let half = |about| common.and_then(|sd| half_width_m(&spread, sd, about));
    Some(AxisSummary {
        series,
        mean_half_width_m: half(About::Mean),
        next_half_width_m: half(About::NextSingle),
    })
}

fn judge_height(
    axis: &Option<AxisSummary>,
    tolerance: Option<[f64; 2]>,
    shared: &Shared,
) -> Decision {
    let Some(axis) = axis else {
        return Decision::not_shown("no shot has a height");
    };
    let Some(tolerance) = tolerance else {
        return Decision::not_shown(
            "no tolerance in height was stated: ask the engineer for the job's figure",
        );
    };
    if let Some(missing) = shared.missing(&[2], AXES[2]) {
        return Decision::not_shown(&missing);
    }
    let (Some(mean), Some(next)) = (axis.mean_half_width_m, axis.next_half_width_m) else {
        return Decision::not_shown("fewer than two shots in height");
    };
    let centre = axis.series.mean;
    Decision::guarded(centre, mean, tolerance).and(guard_next(centre, next, tolerance))
}

/// A next single result that may lie outside does not say that the machine is out: it is not shown.
fn guard_next(centre: f64, half: f64, tolerance: [f64; 2]) -> Decision {
    match Decision::guarded(centre, half, tolerance) {
        Decision::NotShown { because } => Decision::NotShown {
            because: format!("the next single result, {because}"),
        },
        holds_or_not @ (Decision::Holds { .. } | Decision::DoesNotHold { .. }) => holds_or_not,
    }
}

fn judge_plan(axes: &[Option<AxisSummary>; 3], radius_m: f64, shared: &Shared) -> Decision {
    let (Some(east), Some(north)) = (&axes[0], &axes[1]) else {
        return Decision::not_shown("a tolerance in plan, but shots without easting and northing");
    };
    if let Some(missing) = shared.missing(&[0, 1], "plan") {
        return Decision::not_shown(&missing);
    }
    let halves = [
        (east.mean_half_width_m, north.mean_half_width_m),
        (east.next_half_width_m, north.next_half_width_m),
    ];
    let mut whole: Option<Decision> = None;
    for half in halves {
        let (Some(e), Some(n)) = half else {
            return Decision::not_shown("fewer than two shots in plan");
        };
        let (centre_e, centre_n) = (east.series.mean.abs(), north.series.mean.abs());
        let most = (centre_e + e).hypot(centre_n + n);
        let least = (centre_e - e).max(0.0).hypot((centre_n - n).max(0.0));
        let one = in_circle(least, most, radius_m);
        whole = Some(match whole {
            None => one,
            Some(before) => before.and(one),
        });
    }
    whole.unwrap_or_else(|| Decision::not_shown("fewer than two shots in plan"))
}

fn in_circle(least_m: f64, most_m: f64, radius_m: f64) -> Decision {
    let covered_m = [least_m, most_m];
    let tolerance_m = [0.0, radius_m];
    if !(least_m <= most_m
        && least_m.is_finite()
        && most_m.is_finite()
        && radius_m.is_finite()
        && 0.0 < radius_m)
    {
        return Decision::not_shown("a figure is missing or not a number");
    }
    if most_m <= radius_m {
        Decision::Holds {
            covered_m,
            tolerance_m,
        }
    } else if radius_m < least_m {
        Decision::DoesNotHold {
            covered_m,
            tolerance_m,
        }
    } else {
        let mm = |m: f64| m * 1000.0;
        let [least, most, radius] = [mm(least_m), mm(most_m), mm(radius_m)];
        Decision::not_shown(&format!(
            "in plan {least:.1} mm to {most:.1} mm from true, allowed {radius:.1} mm"
        ))
    }
}

fn findings(
    differences: &[ShotDifference],
    axes: &[Option<AxisSummary>; 3],
    tolerance: &Tolerance,
    plan_seen: bool,
) -> Vec<Finding> {
    let mut found = Vec::new();
    if plan_seen && tolerance.plan_m.is_none() {
        found.push(Finding {
            code: "V004",
            at: "plan".to_owned(),
            what: "plan was not judged: no tolerance in plan was stated".to_owned(),
        });
    }
    for (axis, summary) in axes.iter().enumerate() {
        if let Some(summary) = summary
            && summary.series.n < SHOTS_ADVISED
        {
            let n = summary.series.n;
            found.push(Finding {
                code: "V001",
                at: AXES[axis].to_owned(),
                what: format!(
                    "{n} shots; {SHOTS_ADVISED} or more make the statement worth its width"
                ),
            });
        }
    }
    for shot in differences {
        for (axis, word) in AXES.iter().enumerate() {
            let Some(d) = shot.difference_m[axis] else {
                continue;
            };
            let at = format!("{}, {word}", shot.name);
            let mm = d.value * 1000.0;
            match d.sd {
                None => found.push(Finding {
                    code: "V002",
                    at: at.clone(),
                    what: format!("{mm:+.1} mm, and no uncertainty was stated for it"),
                }),
                Some(sd) if 3.0 * sd < d.value.abs() => found.push(Finding {
                    code: "V003",
                    at: at.clone(),
                    what: format!(
                        "{mm:+.1} mm is more than three times its uncertainty of {:.1} mm",
                        sd * 1000.0
                    ),
                }),
                Some(_) => {}
            }
            if beyond_two_thirds(axis, d.value, tolerance) {
                found.push(Finding {
                    code: "V005",
                    at,
                    what: format!(
                        "{mm:+.1} mm is outside two thirds of the tolerance: a full re-check is due"
                    ),
                });
            }
        }
    }
    found
}

fn beyond_two_thirds(axis: usize, value: f64, tolerance: &Tolerance) -> bool {
    const SHARE: f64 = 2.0 / 3.0;
    match (axis, tolerance.height_m, tolerance.plan_m) {
        (2, Some([lower, upper]), _) => !(SHARE * lower <= value && value <= SHARE * upper),
        (0 | 1, _, Some(radius)) => !(value.abs() <= SHARE * radius),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibrate::shared::Satellites;

    fn shots(height_mm: &[f64]) -> Vec<CheckShot> {
        height_mm
            .iter()
            .enumerate()
            .map(|(idx, mm)| CheckShot {
                name: format!("{}", idx + 1),
                shown_m: [
                    None,
                    None,
                    Some(Measured::with_sd(24.0 + mm / 1000.0, 0.010)),
                ],
                surveyed_m: [None, None, Some(Measured::with_sd(24.0, 0.003))],
            })
            .collect()
    }

    const TWENTY: Tolerance = Tolerance {
        height_m: Some([-0.020, 0.020]),
        plan_m: None,
    };
    const CONTROL: Shared = Shared {
        control_m: [None, None, Some(0.001)],
        satellites: None,
    };

    #[test]
    fn a_quiet_series_holds_and_a_shifted_one_does_not() {
        let quiet = [1.0, -2.0, 0.0, 2.0, -1.0, 1.0, 0.0, -1.0];
        assert!(
            check_shots(&shots(&quiet), &TWENTY, &CONTROL)
                .decision
                .holds()
        );
        let shifted: Vec<f64> = quiet.iter().map(|mm| mm + 40.0).collect();
        let result = check_shots(&shots(&shifted), &TWENTY, &CONTROL);
        assert!(matches!(result.decision, Decision::DoesNotHold { .. }));
        let near: Vec<f64> = quiet.iter().map(|mm| mm + 17.0).collect();
        let result = check_shots(&shots(&near), &TWENTY, &CONTROL);
        assert!(matches!(result.decision, Decision::NotShown { .. }));
    }

    #[test]
    fn what_was_not_stated_is_not_shown() {
        let quiet = shots(&[1.0, -2.0, 0.1, 2.0, -1.0, 1.1, 0.0, -1.2]);
        let nothing = Tolerance::default();
        let open = |tolerance: &Tolerance, common: &Shared, shots: &[CheckShot]| match check_shots(
            shots, tolerance, common,
        )
        .decision
        {
            Decision::NotShown { because } => because,
            other => panic!("{other:?}"),
        };
        assert!(open(&nothing, &CONTROL, &quiet).contains("no tolerance"));
        assert!(
            open(&TWENTY, &Shared::of_control([None; 3]), &quiet).contains("no stated uncertainty")
        );
        assert!(open(&TWENTY, &CONTROL, &quiet[..1]).contains("fewer than two"));
        assert!(open(&TWENTY, &CONTROL, &[]).contains("no shot"));
        let plan = Tolerance {
            plan_m: Some(0.05),
            ..TWENTY
        };
        assert!(open(&plan, &CONTROL, &quiet).contains("without easting"));
    }

    #[test]
    fn a_shot_outside_is_never_held_however_many_are_inside() {
        let mut mm: Vec<f64> = (0..60)
            .map(|k| f64::from(k % 5) - 2.0 + f64::from(k) * 0.001)
            .collect();
        assert!(check_shots(&shots(&mm), &TWENTY, &CONTROL).decision.holds());
        mm[7] = 21.0; // outside by one, within its own uncertainty
        let result = check_shots(&shots(&mm), &TWENTY, &CONTROL);
        assert!(
            matches!(result.decision, Decision::NotShown { .. }),
            "{:?}",
            result.decision
        );
        mm[7] = 44.0; // outside by more than 2 sd (10.4 mm each) and the control
        let result = check_shots(&shots(&mm), &TWENTY, &CONTROL);
        assert!(
            matches!(result.decision, Decision::DoesNotHold { .. }),
            "{:?}",
            result.decision
        );
    }

    #[test]
    fn agreement_by_chance_is_not_exactness() {
        // Two heights that differ alike: s = 0. With the survey's 3 mm and t95(1) = 12.706 the mean is ± 27 mm wide.
        let mut two = shots(&[1.0, 1.0]);
        two[1].shown_m[2] = Some(Measured::with_sd(25.001, 0.010));
        two[1].surveyed_m[2] = Some(Measured::with_sd(25.0, 0.003));
        let result = check_shots(&two, &TWENTY, &CONTROL);
        let half = result.axes[2]
            .and_then(|axis| axis.mean_half_width_m)
            .expect("two shots");
        assert!(
            (half - (12.706 * 0.003 / 2.0_f64.sqrt() + 0.002)).abs() < 1e-5,
            "{half}"
        );
        assert!(!result.decision.holds());
        let none = check_shots(
            &shots(&[1.0, -1.0, 0.5]),
            &TWENTY,
            &Shared::of_control([None, None, Some(-0.01)]),
        );
        assert!(matches!(none.decision, Decision::NotShown { .. }));
    }

    #[test]
    fn a_copied_row_counts_once() {
        let one = shots(&[3.0]);
        let eight: Vec<CheckShot> = (1..=8)
            .map(|k| CheckShot {
                name: format!("{k}"),
                ..one[0].clone()
            })
            .collect();
        let result = check_shots(&eight, &TWENTY, &CONTROL);
        assert!(matches!(result.decision, Decision::NotShown { .. }));
        assert_eq!(
            result.findings.iter().filter(|f| f.code == "V006").count(),
            7
        );
    }

    #[test]
    fn one_wild_shot_is_found_and_spoils_the_statement() {
        let mut mm = [1.0, -2.0, 0.0, 2.0, -1.0, 1.0, 0.0, -1.0];
        mm[3] = 60.0;
        let result = check_shots(&shots(&mm), &TWENTY, &CONTROL);
        assert!(!result.decision.holds());
        assert!(
            result
                .findings
                .iter()
                .any(|f| f.code == "V003" && f.at.starts_with('4'))
        );
        assert!(
            result
                .findings
                .iter()
                .any(|f| f.code == "V005" && f.at.starts_with('4'))
        );
    }

    #[test]
    fn a_survey_without_uncertainty_shows_nothing_and_is_named() {
        let mut one = shots(&[1.0, -2.0, 0.0, 2.0, -1.0, 1.0, 0.0, -1.0]);
        assert!(check_shots(&one, &TWENTY, &CONTROL).decision.holds());
        one[1].surveyed_m[2] = Some(Measured::without_sd(24.0));
        let result = check_shots(&one, &TWENTY, &CONTROL);
        assert!(matches!(result.decision, Decision::NotShown { .. }));
        assert!(
            result
                .findings
                .iter()
                .any(|f| f.code == "V002" && f.at.starts_with('2'))
        );
    }

    /// By hand: the spread of the quiet series is below the survey's 3 mm; t95(7) = 2.3646 (table of Student's t).
    #[test]
    fn what_satellites_share_is_in_every_statement() {
        let quiet = shots(&[1.0, -2.0, 0.1, 2.0, -1.0, 1.1, 0.0, -1.2]);
        let satellites = |shared: Option<f64>, one: Option<f64>| Shared {
            satellites: Some(Satellites {
                shared_m: [None, None, shared],
                one_position_m: [None, None, one],
            }),
            ..CONTROL
        };
        // The survey's own 3 mm, which the quieter series does not undercut.
        let spread = 2.3646 * 0.003;
        let half = |shared: &Shared| {
            let result = check_shots(&quiet, &TWENTY, shared);
            result.axes[2].and_then(|axis| axis.next_half_width_m)
        };
        let next = spread * (1.0_f64 + 1.0 / 8.0).sqrt();
        let near = |got: Option<f64>, want: f64| got.is_some_and(|got| (got - want).abs() < 1e-6);
        assert!(near(half(&CONTROL), next + 0.002));
        // Stated: 2 × 4 mm on top. Not stated: 2 × the 6 mm of one position.
        let stated = satellites(Some(0.004), Some(0.006));
        assert!(near(half(&stated), next + 0.002 + 0.008));
        assert!(
            !check_shots(&quiet, &TWENTY, &stated)
                .findings
                .iter()
                .any(|f| f.code == "V007")
        );
        let assumed = satellites(None, Some(0.006));
        assert!(near(half(&assumed), next + 0.002 + 0.012));
        let result = check_shots(&quiet, &TWENTY, &assumed);
        assert!(
            matches!(result.decision, Decision::NotShown { .. }),
            "7.5 + 2 + 12 mm is beyond 20"
        );
        let told: Vec<&Finding> = result
            .findings
            .iter()
            .filter(|f| f.code == "V007")
            .collect();
        assert!(told.len() == 1 && told[0].what.contains("elevation 6.0 mm"));
        // Neither: nothing is shown, and what is missing is named.
        let unknown = check_shots(&quiet, &TWENTY, &satellites(None, None)).decision;
        let Decision::NotShown { because } = unknown else {
            panic!("{unknown:?}");
        };
        assert!(because.contains("antenna positions"), "{because}");
    }
}
