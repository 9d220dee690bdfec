//! A machine that carries a calibration: the same figures, and correlations that count.

mod common;

use common::{Kit, Mounting, Rig, demo, pose_at, random::Random, rigs, tool, with_kit};
use holdline::calibrate::calibration::{CalibratedFigure, Calibration, FigureUnit};
use holdline::calibrate::fit::Belief;
use holdline::machine::Machine;
use holdline::machine::claim::SensorKind;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_geom::measured::Measured;

fn figure(path: &str, value: f64, sd: Option<f64>, unit: FigureUnit) -> CalibratedFigure {
    CalibratedFigure {
        path: path.to_owned(),
        before: 0.0,
        value,
        sd,
        unit,
    }
}

fn calibration() -> Calibration {
    use FigureUnit::{Metre, Radian};
    Calibration {
        machine: "demo-23".to_owned(),
        sheet_hash: String::new(),
        tool: Default::default(),
        who: String::new(),
        on: String::new(),
        with: String::new(),
        figures: vec![
            figure("boom.length", 5.717, Some(0.002), Metre),
            figure("sensor[S-stick].offset", 0.003, Some(0.0006), Radian),
            figure("bucket[T75].tooth[centre].at.x", -0.181, Some(0.003), Metre),
            figure("boom.foot.z", 1.853, Some(0.004), Metre),
        ],
        correlations: vec![-0.7, 0.4, -0.2, -0.5, 0.6, 0.3],
        belief: Belief::Believed,
        not_determined: Vec::new(),
    }
}

fn machine() -> Machine {
    Machine::measured_up(demo()).expect("the demo machine")
}

#[test]
fn every_figure_of_every_rig_is_named_as_the_tooth_names_its_sources() {
    for rig in rigs() {
        let mounting = Mounting {
            house: SensorKind::HouseTilts,
            sign: 1.0,
            offset_deg: 0.1,
            mount_deg: 0.0,
        };
        let mut sheet = with_kit(rig.sheet.clone(), Kit::TwoAxisIdler, mounting);
        sheet.heading_offset = Some(Measured::with_sd(0.02, 0.001));
        let machine = Machine::measured_up(sheet).expect(rig.name);
        let model = ToothModel::new(&machine, &rig.choice).expect(rig.name);
        let mut n_figures = 0;
        model.geometry().map(&mut |name, measured| {
            let path = model.geometry_name(name);
            let figure = machine.sheet().figure(&path);
            assert_eq!(figure.map(|f| f.measured), Some(*measured), "{path}");
            n_figures += 1;
        });
        let all = machine.sheet().figures();
        assert!(n_figures <= all.len());
        // There and back: set every figure, read it again, nothing else moved.
        for (idx, one) in all.iter().enumerate() {
            let moved = Measured::with_sd(one.measured.value + 0.25, 0.125);
            let sheet = machine.sheet().with_figures(&[(&one.path, moved)]);
            let after = sheet.expect("a path of its own").figures();
            for (other_idx, (now, before)) in after.iter().zip(&all).enumerate() {
                let want = if idx == other_idx {
                    moved
                } else {
                    before.measured
                };
                assert_eq!(now.measured, want, "{} after {}", now.path, one.path);
            }
        }
    }
    let unknown = machine()
        .sheet()
        .with_figures(&[("boom.size", Measured::without_sd(1.0))]);
    assert_eq!(unknown.unwrap_err(), ["boom.size"]);
}

#[test]
fn a_calibration_replaces_values_and_leaves_the_sheet_alone() {
    let sheet = machine();
    let calibrated = calibration().applied_to(&sheet).expect("applies");
    assert_eq!(sheet, machine());
    let boom = calibrated.sheet().figure("boom.length").expect("a figure");
    assert_eq!(boom.measured, Measured::with_sd(5.717, 0.002));
    let stick = calibrated.sheet().figure("stick.length").expect("a figure");
    assert_eq!(stick.measured, Measured::with_sd(2.940, 0.003));
    let model = ToothModel::new(&calibrated, &tool(true, false, "T75", "centre")).expect("tool");
    assert!(model.is_correlated());
    assert!(calibrated.correlated().is_some());
}

#[test]
fn what_cannot_be_applied_says_why() {
    let code = |edit: &dyn Fn(&mut Calibration)| {
        let mut claimed = calibration();
        edit(&mut claimed);
        let faults = claimed.applied_to(&machine()).unwrap_err();
        faults.0.iter().map(|f| f.code).collect::<Vec<_>>()
    };
    assert_eq!(code(&|c| c.machine = "other".to_owned()), ["C002"]);
    assert_eq!(
        code(&|c| c.figures[0].path = "boom.size".to_owned()),
        ["C001"]
    );
    assert_eq!(code(&|c| c.figures[0] = c.figures[1].clone()), ["C001"]);
    assert_eq!(code(&|c| c.figures[0].value = f64::NAN), ["C004"]);
    for no_statement in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(code(&|c| c.figures[0].sd = Some(no_statement)), ["C004"]);
    }
    assert_eq!(code(&|c| c.correlations.truncate(5)), ["C003"]);
    for no_correlation in [1.0, 1.5, f64::NAN, -1.0] {
        assert_eq!(code(&|c| c.correlations[0] = no_correlation), ["C003"]);
    }
    // Three figures that cannot all go against each other.
    assert_eq!(
        code(&|c| c.correlations = vec![-0.9, -0.9, -0.9, 0.0, 0.0, 0.0]),
        ["C003"]
    );
    // A value that no sheet may hold.
    assert!(code(&|c| c.figures[0].value = 57.2).contains(&"M011"));
}

#[test]
fn a_figure_that_was_not_determined_takes_the_uncertainty_away_where_it_matters() {
    let mut open = calibration();
    open.figures[1].sd = None;
    for k in [1, 3, 4] {
        open.correlations[k] = 0.0;
    }
    open.correlations[0] = 0.0;
    let calibrated = open.applied_to(&machine()).expect("applies");
    let model = ToothModel::new(&calibrated, &tool(true, false, "T75", "centre")).expect("tool");
    let fix = model
        .fix(&readings(&model, &machine_pose(&model)))
        .expect("a tooth");
    assert_eq!(fix.level.sd_m(), None);
    assert_eq!(fix.level.missing, ["sensor[S-stick].offset"]);
}

fn machine_pose(model: &ToothModel) -> holdline::machine::joints::Joints {
    pose_at(model.machine(), model.choice(), |_| 0.45)
}

fn readings(model: &ToothModel, joints: &holdline::machine::joints::Joints) -> Readings<Measured> {
    let lean = Lean {
        pitch: 0.03,
        roll: -0.02,
    };
    let mut readings = model.readings_at(joints, &lean).expect("reads");
    readings.heading_rad = Some(1.1);
    readings.antennas_m[0] = Some([5000.0, 2000.0, 25.0]);
    model.with_sheet_sds(&readings, Some(0.002), [Some(0.01); 3])
}

/// GUM 5.2.2 by hand: slopes by differences of the whole machine, summed with the covariance.
#[test]
fn correlations_count_in_every_uncertainty() {
    let claimed = calibration();
    let calibrated = claimed.applied_to(&machine()).expect("applies");
    let choice = tool(true, false, "T75", "centre");
    let model = ToothModel::new(&calibrated, &choice).expect("tool");
    let mut random = Random::new(31);
    for _ in 0..20 {
        let joints = pose_at(&calibrated, &choice, |_| 0.1 + 0.8 * random.share());
        let readings = readings(&model, &joints);
        let fix = model.fix(&readings).expect("a tooth");

        let plain = readings.map(&mut |_, m| m.value);
        let tooth_at = |idx: usize, by: f64| {
            let figure = &claimed.figures[idx];
            let moved = Measured::with_sd(figure.value + by, 0.01);
            let machine = calibrated
                .with_values(&[(&figure.path, moved)])
                .expect("near");
            let model = ToothModel::new(&machine, &choice).expect("tool");
            let solution = model.tooth(&plain).expect("a tooth");
            (
                solution.tooth_level.vector(),
                solution.tooth_site.expect("site").vector(),
            )
        };
        let slopes: Vec<_> = (0..4)
            .map(|idx| {
                let ((l1, s1), (l0, s0)) = (tooth_at(idx, 1e-5), tooth_at(idx, -1e-5));
                ((l1 - l0) / 2e-5, (s1 - s0) / 2e-5)
            })
            .collect();
        let covariance = claimed.covariance().expect("a covariance").covariance;
        let mut names = Vec::new();
        for figure in &claimed.figures {
            model.geometry().map(&mut |name, _| {
                if model.geometry_name(name) == figure.path {
                    names.push(name);
                }
            });
        }
        assert_eq!(model.figure_covariance(&names), Some(covariance.clone()));
        let independent = ToothModel::new(
            &machine()
                .with_values(
                    &claimed
                        .figures
                        .iter()
                        .map(|f| {
                            (
                                f.path.as_str(),
                                Measured {
                                    value: f.value,
                                    sd: f.sd,
                                },
                            )
                        })
                        .collect::<Vec<_>>(),
                )
                .expect("near"),
            &choice,
        )
        .expect("tool")
        .fix(&readings)
        .expect("a tooth");
        let (mut level, mut site) = (
            independent.level.known_m2,
            independent.site.as_ref().expect("site").known_m2,
        );
        for i in 0..4 {
            for j in 0..4 {
                if i != j {
                    level += slopes[i].0 * slopes[j].0.transpose() * covariance[(i, j)];
                    site += slopes[i].1 * slopes[j].1.transpose() * covariance[(i, j)];
                }
            }
        }
        let fixed_site = fix.site.as_ref().expect("site");
        assert!((fix.level.known_m2 - level).norm() < 1e-7 * level.norm());
        assert!((fixed_site.known_m2 - site).norm() < 1e-7 * site.norm());
        assert!((fix.level.between_m2 - (level - independent.level.known_m2)).norm() < 1e-10);

        let stream = model.fix_in_stream(&readings).expect("a tooth");
        let (a, b) = (
            stream.level_sd_m.expect("sd"),
            fix.level.sd_m().expect("sd"),
        );
        let (c, d) = (
            stream.site_sd_m.expect("sd"),
            fixed_site.sd_m().expect("sd"),
        );
        for k in 0..3 {
            assert!((a[k] - b[k]).abs() < 1e-12 && (c[k] - d[k]).abs() < 1e-12);
        }
    }
}

#[test]
fn columns_do_not_leave_correlations_out() {
    use holdline::tooth::batch_model::{Batch, Origin};
    let choice = tool(true, false, "T75", "centre");
    let plain = ToothModel::new(&machine(), &choice).expect("tool");
    let batch = Batch::of(&plain, Origin::SwingAxis).expect("the usual machine");
    assert!(batch.with_sds(&plain, None, [None; 3]).is_some());
    let calibrated = calibration().applied_to(&machine()).expect("applies");
    let model = ToothModel::new(&calibrated, &choice).expect("tool");
    let batch = Batch::of(&model, Origin::SwingAxis).expect("the usual machine");
    assert!(batch.with_sds(&model, None, [None; 3]).is_none());
}

#[test]
fn a_heading_that_is_read_loses_its_offset() {
    let mut sheet = demo();
    sheet.heading_offset = Some(Measured::with_sd(0.05, 0.001));
    let offset = Machine::measured_up(sheet).expect("near");
    let choice = Rig {
        name: "",
        sheet: demo(),
        choice: tool(true, false, "T75", "centre"),
    }
    .choice;
    let (with, without) = (
        ToothModel::new(&offset, &choice).expect("tool"),
        ToothModel::new(&machine(), &choice).expect("tool"),
    );
    let mut read = readings(&with, &machine_pose(&with)).map(&mut |_, m| m.value);
    let a = with
        .tooth(&read)
        .expect("a tooth")
        .tooth_site
        .expect("site");
    read.heading_rad = Some(1.05);
    let b = without
        .tooth(&read)
        .expect("a tooth")
        .tooth_site
        .expect("site");
    assert!((a - b).length_m() < 1e-12);
}

#[test]
fn one_that_is_not_believed_is_put_on_no_machine() {
    let why = vec!["far and near could as well be wrong".to_owned()];
    let calibration = Calibration {
        belief: Belief::NotBelieved(why),
        ..calibration()
    };
    let faults = calibration.applied_to(&machine()).expect_err("refused");
    assert_eq!(faults.0[0].code, "C022");
    assert!(faults.0[0].got.contains("far and near"), "{faults}");
}
