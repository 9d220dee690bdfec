//! Maps of the budget: the worst of every point, the same on any number of cores, and what they are enough for.

mod common;

use common::budgets::*;
use common::pose_at;
use common::random::Random;
use holdline::calibrate::budget::*;
use holdline::machine::joints::Joints;
use std::sync::atomic::AtomicBool;

fn work<'a>(cancel: &'a AtomicBool, progress: &'a (dyn Fn(usize, usize) + Sync)) -> Work<'a> {
    Work { progress, cancel }
}

fn map_of(budget: &Budget, ask: &MapAsk) -> EnvelopeMap {
    let cancel = AtomicBool::new(false);
    map(budget, ask, &work(&cancel, &|_, _| {})).unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn a_map_has_the_worst_of_every_point_whatever_the_threads() {
    let model = demo_model();
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let ask = MapAsk {
        lean: LEAN,
        ..MapAsk::of_all([24, 20], Some(HEADING_RAD))
    };
    let map = map_of(&budget, &ask);
    for threads in [1, 2, 3] {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("threads");
        assert!(
            pool.install(|| map_of(&budget, &ask)) == map,
            "{threads} threads"
        );
    }
    let mut n_known = 0;
    for (idx, cell) in map.cells.iter().enumerate() {
        let Cell::Known(known) = cell else {
            assert_eq!(*cell, Cell::OutOfReach);
            continue;
        };
        n_known += 1;
        // The pose it names puts the tooth there and is as unsure as it says.
        let pose = BudgetPose {
            joints: known.worst,
            lean: LEAN,
            heading_rad: Some(HEADING_RAD),
        };
        let result = at_pose(&budget, &pose).expect("a pose");
        let [x, z] = map.place_m(idx);
        assert!((result.tooth.house_m[0] - x).abs() < 1e-9);
        assert!((result.tooth.house_m[2] - z).abs() < 1e-9);
        assert!((result.sd_m.expect("whole")[2] / known.sd_m[2] - 1.0).abs() < 1e-9);
    }
    assert!(100 < n_known && n_known < map.cells.len());
    assert!(map.missing.is_empty() && map.ranges_unknown.is_empty());
}

/// No pose drawn at random is less sure than the map says of its place.
#[test]
fn no_pose_is_less_sure_than_its_point_of_the_map() {
    let model = demo_model();
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let mut random = Random::new(23);
    for _ in 0..40 {
        let joints = pose_at(model.machine(), model.choice(), |_| {
            random.between(0.0, 1.0)
        });
        let joints = Joints {
            swing: 0.0,
            ..joints
        };
        let pose = BudgetPose {
            joints,
            lean: LEAN,
            heading_rad: Some(HEADING_RAD),
        };
        let result = at_pose(&budget, &pose).expect("a pose");
        let [x, _, z] = result.tooth.house_m;
        let map = map_of(
            &budget,
            &MapAsk {
                lean: LEAN,
                radius_m: Some([x, x + 0.01]),
                height_m: Some([z, z + 0.01]),
                ..MapAsk::of_all([2, 2], Some(HEADING_RAD))
            },
        );
        let Cell::Known(cell) = map.cells[0] else {
            panic!("out of reach: {joints:?}")
        };
        let sd = result.sd_m.expect("whole");
        for (axis, (one, worst)) in sd.iter().zip(cell.sd_m).enumerate() {
            // Ten degrees of curl between two attitudes.
            assert!(*one <= 1.005 * worst, "{axis}: {one} {worst}");
        }
    }
}

#[test]
fn a_map_that_was_ended_early_shows_nothing() {
    let model = demo_model();
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let cancel = AtomicBool::new(true);
    let ask = MapAsk::of_all([10, 10], Some(0.0));
    let map = map(&budget, &ask, &work(&cancel, &|_, _| {})).expect("a map");
    let tolerance = Tolerance::Between {
        lower_m: -1.0,
        upper_m: 1.0,
        aim_m: None,
    };
    let held = judge_map(&map, &Working::default(), Judged::Up, &tolerance);
    assert!(matches!(held.verdict, Verdict::NotShown { .. }));
    let done = std::sync::atomic::AtomicUsize::new(0);
    let count = |_: usize, of: usize| {
        assert_eq!(of, 10);
        done.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    };
    let cancel = AtomicBool::new(false);
    holdline::calibrate::budget::map(&budget, &ask, &work(&cancel, &count)).expect("a map");
    assert_eq!(done.into_inner(), 10);
}

#[test]
fn a_verdict_over_the_envelope() {
    let model = demo_model();
    let mut unsure = full_ask();
    unsure.deflection = Some(Deflection {
        sd_m: 0.02,
        at_reach_m: 8.0,
    });
    let budget = Budget::new(&model, &unsure).expect("meant");
    let map = map_of(&budget, &MapAsk::of_all([100, 100], Some(0.0)));
    let between = |half: f64| Tolerance::Between {
        lower_m: -half,
        upper_m: half,
        aim_m: None,
    };
    let all = Working::default();
    let easy = judge_map(&map, &all, Judged::Up, &between(0.5));
    assert!(easy.verdict.holds() && easy.share_held == 1.0);
    let hard = judge_map(&map, &all, Judged::Up, &between(0.01));
    assert!(matches!(hard.verdict, Verdict::DoesNotHold(_)) && hard.n_held == 0);
    assert_eq!(hard.reach_band_m, None);
    let [most, least] = map.extremes(|c| c.sd_m[2]).expect("known points");
    let middle = 3.0 * (most.1.sd_m[2] + least.1.sd_m[2]) / 2.0;
    let some = judge_map(&map, &all, Judged::Up, &between(middle));
    assert!(0.0 < some.share_held && some.share_held < 1.0 && !some.verdict.holds());
    assert!(some.area_held_m2 < some.area_reached_m2);
    let band = some.reach_band_m.expect("near in it holds");
    let inside = Working {
        radius_m: Some(band),
        height_m: None,
    };
    assert!(
        judge_map(&map, &inside, Judged::Up, &between(middle))
            .verdict
            .holds()
    );
    let nowhere = Working {
        radius_m: Some([50.0, 60.0]),
        height_m: None,
    };
    let nothing = judge_map(&map, &nowhere, Judged::Up, &between(0.5));
    assert!(matches!(nothing.verdict, Verdict::NotShown { .. }));
    let mut not_stated = full_ask();
    not_stated.motion = None;
    let budget = Budget::new(&model, &not_stated).expect("meant");
    let map = map_of(&budget, &MapAsk::of_all([10, 10], Some(0.0)));
    let held = judge_map(&map, &all, Judged::Up, &between(0.5));
    assert!(matches!(held.verdict, Verdict::NotShown { because } if because.contains("speed")));
}

/// What the tooth does not get to, or what was hardly looked at, is not shown to hold; where it was seen not to hold,
/// it does not.
#[test]
fn a_part_that_is_not_reached_or_hardly_looked_at_shows_nothing() {
    let model = demo_model();
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let between = |half: f64| Tolerance::Between {
        lower_m: -half,
        upper_m: half,
        aim_m: None,
    };
    let fine = map_of(&budget, &MapAsk::of_all([60, 60], Some(0.0)));
    let judged = |map: &EnvelopeMap, radius_m, height_m, half: f64| {
        let working = Working { radius_m, height_m };
        judge_map(map, &working, Judged::Up, &between(half)).verdict
    };
    let (near, level) = (Some([5.0, 7.0]), Some([-1.0, 1.0]));
    assert!(judged(&fine, near, level, 0.5).holds());
    for (radius_m, height_m, word) in [
        (Some([5.0, 20.0]), level, "20 m of reach"),
        (Some([0.0, 7.0]), Some([3.0, 4.0]), "0 m to 7 m of reach"),
        (near, Some([-20.0, 1.0]), "-20 m to 1 m over"),
        (near, Some([-1.0, 30.0]), "30 m over"),
    ] {
        match judged(&fine, radius_m, height_m, 0.5) {
            Verdict::NotShown { because } => {
                assert!(
                    because.contains("does not get") && because.contains(word),
                    "{because}"
                );
            }
            other => panic!("{radius_m:?} {height_m:?}: {other:?}"),
        }
        // That it fails somewhere in it needs no more looking.
        let fails = judged(&fine, radius_m, height_m, 0.001);
        assert!(matches!(fails, Verdict::DoesNotHold(_)));
    }
    // Corners of the box lie out of reach: the answer would speak of another part.
    match judged(&fine, Some([4.0, 9.9]), Some([-6.0, 8.0]), 0.5) {
        Verdict::NotShown { because } => assert!(because.contains("% of the part"), "{because}"),
        other => panic!("{other:?}"),
    }
    // Four points each way, and the same part of a grid that is fine enough.
    let coarse = map_of(&budget, &MapAsk::of_all([4, 4], Some(0.0)));
    match judged(&coarse, None, None, 0.5) {
        Verdict::NotShown { because } => assert!(because.contains("too coarsely"), "{because}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn thirds_of_the_tolerance() {
    let between = |lower_m: f64, upper_m: f64, aim_m: Option<f64>| Tolerance::Between {
        lower_m,
        upper_m,
        aim_m,
    };
    let fitness = |sd: f64, tolerance: Tolerance| match judge(Some(sd), Judged::Up, &tolerance) {
        Verdict::Holds(held) | Verdict::DoesNotHold(held) => held.fitness(),
        Verdict::NotShown { because } => panic!("{because}"),
    };
    let pm30 = between(-0.030, 0.030, None);
    assert_eq!(fitness(0.005, pm30), Fitness::Comfortable);
    assert_eq!(fitness(0.0051, pm30), Fitness::WithChecks);
    assert_eq!(fitness(0.0099, pm30), Fitness::WithChecks);
    assert_eq!(fitness(0.0101, pm30), Fitness::TooCoarse);
    // +0/−50: steered to the middle there are 25 mm either way; steered to the design there is nothing.
    assert_eq!(
        fitness(0.004, between(-0.050, 0.0, None)),
        Fitness::Comfortable
    );
    assert!(matches!(
        judge(Some(0.004), Judged::Up, &between(-0.050, 0.0, Some(0.0))),
        Verdict::NotShown { .. }
    ));
    // One limit: k = 1.64.
    let one = Tolerance::OneLimit { margin_m: 0.030 };
    assert_eq!(fitness(0.0060, one), Fitness::Comfortable);
    assert_eq!(fitness(0.0062, one), Fitness::WithChecks);
    assert_eq!(fitness(0.0123, one), Fitness::TooCoarse);
    // In plan a circle is meant: 2.45 × 8.1 mm lies within 20 mm, 2.45 × 8.3 mm does not.
    assert!(judge(Some(0.0081), Judged::Plan, &pm30).holds());
    assert!(!judge(Some(0.0083), Judged::Plan, &pm30).holds());
    // A circle has no one side: a one-sided task is judged in plan as any other.
    let one_in_plan = Tolerance::OneLimit { margin_m: 0.030 };
    assert!(judge(Some(0.0081), Judged::Plan, &one_in_plan).holds());
    assert!(!judge(Some(0.0083), Judged::Plan, &one_in_plan).holds());
    for bad in [
        None,
        Some(f64::NAN),
        Some(f64::INFINITY),
        Some(-1.0),
        Some(0.0),
    ] {
        assert!(
            matches!(judge(bad, Judged::Up, &pm30), Verdict::NotShown { .. }),
            "{bad:?}"
        );
    }
    for bad in [f64::NAN, 0.0, -0.01, f64::INFINITY] {
        let nothing = Tolerance::OneLimit { margin_m: bad };
        assert!(matches!(
            judge(Some(0.001), Judged::Up, &nothing),
            Verdict::NotShown { .. }
        ));
    }
}

#[test]
fn a_plan_map_turns_with_the_boom() {
    let model = demo_model();
    let mut ask = full_ask();
    if let Mode::ThreeD(s) = &mut ask.mode {
        s.localization_sd_m = [Some(0.030), Some(0.002), Some(0.008)];
    }
    let budget = Budget::new(&model, &ask).expect("meant");
    let cancel = AtomicBool::new(false);
    let plan = |heading: f64| {
        let ask = PlanMapAsk {
            section: MapAsk::of_all([12, 8], Some(heading)),
            n_points: 21,
        };
        plan_map(&budget, &ask, &work(&cancel, &|_, _| {})).expect("a map")
    };
    let (a, b) = (plan(0.0), plan(2.0));
    // Eight steps north and eight steps east of the axis: the boom's own directions change places,
    // the localization stays.
    let (north, east) = (&a.cells[18 * 21 + 10], &a.cells[10 * 21 + 18]);
    if let (Cell::Known(north), Cell::Known(east)) = (north, east) {
        let own = |sd: f64, localization: f64| sd * sd - localization * localization;
        let across = [own(north.sd_m[0], 0.030), own(east.sd_m[1], 0.002)];
        assert!((across[0] / across[1] - 1.0).abs() < 1e-9);
    } else {
        panic!("{north:?} {east:?}");
    }
    let mut n = 0;
    for (a, b) in a.cells.iter().zip(&b.cells) {
        match (a, b) {
            (Cell::Known(a), Cell::Known(b)) => {
                n += 1;
                for axis in 0..3 {
                    assert!((a.sd_m[axis] / b.sd_m[axis] - 1.0).abs() < 1e-9);
                }
                assert!(0.030 < a.sd_m[0]);
            }
            (a, b) => assert_eq!(std::mem::discriminant(a), std::mem::discriminant(b)),
        }
    }
    assert!(100 < n);
    let flat = Budget::new(&model, &self::ask(Mode::TwoD(HeightFrom::Machine))).expect("meant");
    let ask = PlanMapAsk {
        section: MapAsk::of_all([12, 8], None),
        n_points: 21,
    };
    let refused = plan_map(&flat, &ask, &work(&cancel, &|_, _| {})).unwrap_err();
    assert_eq!(refused.0[0].code, "B009");
}

/// By hand: variances 9, 4 and covariance 0 along the axes give the larger; turned by 45° both axes see 6.5 and share
/// 2.5, and the worst direction is still 3.
#[test]
fn the_worst_direction_in_plan_does_not_turn_with_the_axes() {
    let model = demo_model();
    let budget = Budget::new(&model, &full_ask()).expect("meant");
    let q = pose_at(model.machine(), model.choice(), |_| 0.5);
    let pose = BudgetPose {
        joints: q,
        lean: holdline::tooth::attitude::Lean {
            pitch: 0.0,
            roll: 0.0,
        },
        heading_rad: Some(0.0),
    };
    let mut found = at_pose(&budget, &pose).expect("a pose");
    for (xx, xy, yy) in [(9.0, 0.0, 4.0), (4.0, 0.0, 9.0), (6.5, 2.5, 6.5)] {
        found.known_m2 = [[xx, xy, 0.0], [xy, yy, 0.0], [0.0, 0.0, 1.0]];
        let sd = found.plan_sd_m().expect("whole");
        assert!((sd - 3.0).abs() < 1e-12, "{sd}");
    }
}
