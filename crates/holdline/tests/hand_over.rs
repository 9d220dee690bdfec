//! The calibration in a control system's own terms: numbers, rounding, what is left behind, and the proof.
//!
//! All entries are invented.
//! Wanted values come from plane geometry done here, or from hand computations named beside them.

mod common;

use common::{Kit, Mounting, demo, random::Random, rigs, with_kit};
use holdline::calibrate::calibration::{CalibratedFigure, Calibration, FigureUnit};
use holdline::calibrate::decision::Decision;
use holdline::calibrate::fit::Belief;
use holdline::calibrate::hand_over::terms::{
    Axis, Channel, Entry, EntrySign, EntryUnit, Quantity, Terms,
};
use holdline::calibrate::hand_over::{HandOver, KeyedEntry, Part, hand_over};
use holdline::calibrate::observations::{ObservedTool, Target};
use holdline::machine::Machine;
use holdline::machine::claim::SensorKind;

fn machine() -> Machine {
    Machine::measured_up(demo()).expect("the demo machine")
}

/// Changes against the demo sheet: path, new value.
fn calibration(changes: &[(&str, f64)]) -> Calibration {
    let machine = machine();
    let figures: Vec<CalibratedFigure> = changes
        .iter()
        .map(|(path, value)| {
            let old = machine.sheet().figure(path).expect("on the sheet");
            CalibratedFigure {
                path: (*path).to_owned(),
                before: old.measured.value,
                value: *value,
                sd: Some(match old.unit {
                    FigureUnit::Metre => 0.001,
                    FigureUnit::Radian => 0.0003,
                }),
                unit: old.unit,
            }
        })
        .collect();
    let n = figures.len();
    Calibration {
        machine: "demo-23".to_owned(),
        sheet_hash: String::new(),
        tool: ObservedTool::default(),
        who: "A. Example".to_owned(),
        on: "2025-12-01".to_owned(),
        with: "total station".to_owned(),
        figures,
        correlations: vec![0.0; n * n.saturating_sub(1) / 2],
        belief: Belief::Believed,
        not_determined: Vec::new(),
    }
}

fn entry(label: &str, quantity: Quantity, unit: EntryUnit, resolution: f64) -> Entry {
    Entry {
        label: label.to_owned(),
        quantity,
        sign: EntrySign::Same,
        zero: 0.0,
        unit,
        resolution: Some(resolution),
        range: Some([-1e6, 1e6]),
        note: String::new(),
    }
}

fn figure(path: &str) -> Quantity {
    Quantity::Figure {
        path: path.to_owned(),
    }
}

fn tooth(name: &str) -> Target {
    Target::Tooth(name.to_owned())
}

fn tip_distance() -> Quantity {
    Quantity::Distance {
        from: Target::StickBucket,
        to: tooth("centre"),
    }
}

fn tip_angle() -> Quantity {
    Quantity::Corner {
        from: Target::LinkPin,
        at: Target::StickBucket,
        to: tooth("centre"),
    }
}

fn terms(coupler: bool, bucket: &str, entries: Vec<Entry>) -> Terms {
    Terms {
        machine: "demo-23".to_owned(),
        system: "invented".to_owned(),
        tool: ObservedTool {
            coupler: coupler.then(|| "QC-demo".to_owned()),
            tilt: None,
            bucket: bucket.to_owned(),
        },
        tooth: "centre".to_owned(),
        entries,
        ..Terms::default()
    }
}

#[track_caller]
fn handed(calibration: &Calibration, terms: &Terms) -> HandOver {
    hand_over(&machine(), calibration, terms, Some(0.005))
        .unwrap_or_else(|faults| panic!("{faults}"))
}

#[track_caller]
fn number<'a>(handed: &'a HandOver, label: &str) -> &'a KeyedEntry {
    handed
        .entries
        .iter()
        .find(|e| e.label == label)
        .expect("the entry")
}

/// Distance and angle of the tip from the ear line, computed by hand for the two invented buckets:
/// T75 1.4599 m at −97.003°, on the coupler 1.6958 m at −100.481°; G180 1.1801 / −95.836, 1.4175 / −99.013.
#[test]
fn polar_form_of_the_tip_is_that_of_the_hand_computation() {
    let rows = [
        (false, "T75", "1.4599", "-97.003"),
        (true, "T75", "1.6958", "-100.481"),
        (false, "G180", "1.1801", "-95.836"),
        (true, "G180", "1.4175", "-99.013"),
    ];
    let nothing_new = calibration(&[("boom.length", 5.720)]);
    for (coupler, bucket, distance, angle) in rows {
        let entries = vec![
            entry("far", tip_distance(), EntryUnit::Metre, 0.0001),
            entry("turn", tip_angle(), EntryUnit::Degree, 0.001),
        ];
        let handed = handed(&nothing_new, &terms(coupler, bucket, entries));
        assert_eq!(number(&handed, "far").number.as_deref(), Some(distance));
        assert_eq!(number(&handed, "turn").number.as_deref(), Some(angle));
    }
}

/// A length off by 0.4 mm moves the tooth by 0.4 mm in every pose; an offset of a gravity sensor on the boom turns the
/// boom alone, since the other links have sensors of their own: the chord over the boom's length.
#[test]
fn rounding_is_shown_at_the_tooth() {
    let offset_rad = 0.034_f64.to_radians();
    let new = calibration(&[
        ("boom.length", 5.7184),
        ("sensor[S-boom].offset", offset_rad),
    ]);
    let entries = vec![
        entry("arm", figure("boom.length"), EntryUnit::Millimetre, 1.0),
        entry(
            "tilt",
            figure("sensor[S-boom].offset"),
            EntryUnit::Degree,
            0.01,
        ),
    ];
    let handed = handed(&new, &terms(true, "T75", entries));
    let arm = number(&handed, "arm");
    assert_eq!(arm.number.as_deref(), Some("5718"));
    assert!((arm.exact - 5718.4).abs() < 1e-9 && (arm.before - 5720.0).abs() < 1e-9);
    assert!((arm.rounding_m.expect("known") - 0.0004).abs() < 1e-9);
    let tilt = number(&handed, "tilt");
    assert_eq!(tilt.number.as_deref(), Some("0.03"));
    let chord_m = 2.0 * 5.7184 * (0.004_f64.to_radians() / 2.0).sin();
    assert!(
        (tilt.rounding_m.expect("known") - chord_m).abs() < 1e-9,
        "{:?} {chord_m}",
        tilt.rounding_m
    );
    assert!(handed.not_carried.is_empty(), "{:?}", handed.not_carried);
    assert!(handed.decision.holds());
    // Two roundings together are never worse than their sum.
    for pose in &handed.proof {
        let apart_m = pose.apart_m.expect("a tooth");
        assert!(apart_m <= 0.0004 + chord_m + 1e-9 && pose.rounding_m == pose.apart_m);
    }
}

#[test]
fn with_every_change_carried_finely_the_tooth_comes_back() {
    let new = calibration(&[
        ("boom.length", 5.7171),
        ("stick.length", 2.9433),
        ("boom.foot.x", 0.1532),
        ("boom.foot.z", 1.8467),
        ("sensor[S-boom].offset", 0.0052),
        ("sensor[S-stick].offset", -0.0035),
        ("sensor[S-idler].offset", 0.0139),
        ("sensor[S-house].offset", 0.0021),
        ("sensor[S-house].roll_offset", -0.0012),
        ("linkage.idler", 0.6013),
        ("linkage.link", 0.5788),
        ("coupler[QC-demo].rotation", (-6.1_f64).to_radians()),
        ("bucket[T75].tooth[centre].at.x", -0.1801),
        ("bucket[T75].tooth[centre].at.z", -1.4522),
        ("antenna[GL].lever.x", -1.846),
        ("antenna[GL].lever.z", 3.027),
        ("antenna[GR].lever.y", -1.053),
    ]);
    let reading = |sensor: &str, channel, at_deg: f64| Quantity::Reading {
        sensor: sensor.to_owned(),
        channel,
        at_rad: at_deg.to_radians(),
    };
    let turned = |mut entry: Entry, zero: f64| {
        entry.sign = EntrySign::Turned;
        entry.zero = zero;
        entry
    };
    let along = |id: &str, axis| Quantity::Along {
        from: Target::BoomFoot,
        to: Target::Antenna(id.to_owned()),
        axis,
    };
    let main = Channel::Main;
    let mm = EntryUnit::Millimetre;
    let deg = EntryUnit::Degree;
    let entries = vec![
        entry(
            "a",
            Quantity::Distance {
                from: Target::BoomFoot,
                to: Target::BoomStick,
            },
            EntryUnit::FootUsSurvey,
            0.000_01,
        ),
        entry("b", figure("stick.length"), EntryUnit::Inch, 0.0001),
        entry("c", figure("boom.foot.x"), mm, 0.001),
        turned(entry("d", figure("boom.foot.z"), mm, 0.001), 1.0),
        entry("e", reading("S-boom", main, 0.0), deg, 0.0001),
        turned(
            entry("f", reading("S-stick", main, -90.0), EntryUnit::Gon, 0.0001),
            -0.5,
        ),
        entry(
            "g",
            reading("S-idler", main, 0.0),
            EntryUnit::Milliradian,
            0.001,
        ),
        entry(
            "h",
            reading("S-house", main, 0.0),
            EntryUnit::MillimetrePerMetre,
            0.001,
        ),
        entry(
            "i",
            reading("S-house", Channel::Roll, 0.0),
            EntryUnit::Percent,
            0.0001,
        ),
        entry("j", figure("linkage.idler"), mm, 0.001),
        entry(
            "k",
            Quantity::Distance {
                from: Target::LinkageE,
                to: Target::LinkPin,
            },
            mm,
            0.001,
        ),
        entry("l", tip_distance(), mm, 0.001),
        entry("m", tip_angle(), deg, 0.0001),
        entry("n", along("GL", Axis::Back), mm, 0.001),
        entry("o", along("GL", Axis::Up), mm, 0.001),
        entry("p", along("GR", Axis::Right), mm, 0.001),
    ];
    let handed = handed(&new, &terms(true, "T75", entries));
    assert!(handed.not_carried.is_empty(), "{:?}", handed.not_carried);
    assert_eq!(handed.proof.len(), 3);
    for pose in &handed.proof {
        // Sixteen roundings of half a micrometre or half a ten-thousandth of a degree over at most 11 m.
        let apart_m = pose.apart_m.expect("a tooth");
        assert!(apart_m < 0.000_05, "{}: {apart_m}", pose.name);
        assert!(pose.site_difference_m.is_some());
    }
    assert!(handed.findings.is_empty(), "{:?}", handed.findings);
    // By hand: 90° − 0.20° of offset less half a radian, turned: (−90° − 0.2005° + 28.648°) · −1 in gon.
    let f = number(&handed, "f").exact;
    let want = -((-90_f64).to_radians() - 0.0035 + 0.5) * 200.0 / std::f64::consts::PI;
    assert!((f - want).abs() < 1e-9, "{f} {want}");
}

#[test]
fn what_no_entry_takes_is_named_with_its_cost() {
    let new = calibration(&[
        ("boom.length", 5.7184),
        ("antenna[GL].lever.z", 3.040),
        ("antenna[GR].lever.z", 3.040),
    ]);
    let entries = vec![entry(
        "arm",
        figure("boom.length"),
        EntryUnit::Millimetre,
        0.1,
    )];
    let handed = handed(&new, &terms(true, "T75", entries));
    let names: Vec<&str> = handed.not_carried.iter().map(|n| n.path.as_str()).collect();
    assert_eq!(names.len(), 2);
    assert!(names.contains(&"antenna[GL].lever.z") && names.contains(&"antenna[GR].lever.z"));
    for not in &handed.not_carried {
        assert_eq!(not.part, Part::All);
        // Each antenna is half of the mean: 20 mm of one moves the tooth by 10 mm, and a little by the roll it fakes.
        let cost_m = not.at_tooth_m.expect("known");
        assert!((cost_m - 0.010).abs() < 0.0005, "{cost_m}");
    }
    for pose in &handed.proof {
        let [_, _, up] = pose.site_difference_m.expect("antennas");
        // Both lever arms 20 mm too short: the display stands 20 mm too high, but for the house's lean.
        assert!((up - 0.020).abs() < 0.0001, "{up}");
    }
    assert!(matches!(handed.decision, Decision::DoesNotHold { .. }));
}

#[test]
fn a_distance_without_its_angle_is_only_part() {
    let new = calibration(&[
        ("bucket[T75].tooth[centre].at.x", -0.170),
        ("bucket[T75].tooth[centre].at.z", -1.455),
    ]);
    let entries = vec![entry("far", tip_distance(), EntryUnit::Millimetre, 0.01)];
    let handed = handed(&new, &terms(false, "T75", entries));
    assert!(!handed.not_carried.is_empty());
    assert!(handed.not_carried.iter().all(|n| n.part == Part::Some));
    // The chord that the missing angle leaves: distance times the change of angle.
    let angle = |x: f64, z: f64| z.atan2(x);
    let turn = angle(-0.170, -1.455) - angle(-0.178, -1.449);
    let chord_m = 2.0 * 0.170_f64.hypot(1.455) * (turn / 2.0).sin().abs();
    for pose in &handed.proof {
        let apart_m = pose.apart_m.expect("a tooth");
        assert!((apart_m - chord_m).abs() < 0.00005, "{apart_m} {chord_m}");
    }
}

#[test]
fn a_number_outside_its_range_stays_out() {
    let new = calibration(&[("boom.length", 5.7300)]);
    let mut short = entry("arm", figure("boom.length"), EntryUnit::Millimetre, 1.0);
    short.range = Some([500.0, 5725.0]);
    let handed = handed(&new, &terms(true, "T75", vec![short]));
    let arm = number(&handed, "arm");
    assert_eq!((arm.number.as_deref(), arm.rounding_m), (None, None));
    assert!(arm.remark.contains("outside 500 to 5725"), "{}", arm.remark);
    assert_eq!(handed.findings[0].code, "H020");
    // The system keeps the sheet's length: ten millimetres.
    assert!((handed.not_carried[0].at_tooth_m.expect("known") - 0.010).abs() < 1e-9);
    for pose in &handed.proof {
        assert!((pose.apart_m.expect("a tooth") - 0.010).abs() < 1e-9);
    }
}

/// A fine and a coarse entry for one figure: the fine one decides.
#[test]
fn of_two_entries_for_one_figure_the_finer_decides() {
    let new = calibration(&[("boom.length", 5.7184)]);
    let mut fine = entry("fine", figure("boom.length"), EntryUnit::Millimetre, 1.0);
    fine.sign = EntrySign::Turned;
    let coarse = entry("coarse", figure("boom.length"), EntryUnit::Millimetre, 50.0);
    let handed = handed(&new, &terms(true, "T75", vec![coarse, fine]));
    assert_eq!(number(&handed, "fine").number.as_deref(), Some("-5718"));
    assert_eq!(number(&handed, "coarse").number.as_deref(), Some("5700"));
    for pose in &handed.proof {
        // 1/50² against 1: of the 18 mm between the two the coarse one moves 7 micrometres.
        let apart_m = pose.apart_m.expect("a tooth");
        assert!((apart_m - 0.000_407).abs() < 0.000_001, "{apart_m}");
    }
}

#[test]
fn nothing_stated_is_not_shown() {
    let new = calibration(&[("boom.length", 5.7184)]);
    let mut open = entry("arm", figure("boom.length"), EntryUnit::Millimetre, 1.0);
    open.range = None;
    let terms = terms(true, "T75", vec![open]);
    let handed = hand_over(&machine(), &new, &terms, None).expect("handed over");
    assert!(matches!(handed.decision, Decision::NotShown { .. }));
    assert_eq!(handed.findings[0].code, "H021");
    assert_eq!(number(&handed, "arm").number.as_deref(), Some("5718"));
    let nan = hand_over(&machine(), &new, &terms, Some(f64::NAN)).expect("handed over");
    assert!(!nan.decision.holds());
}

#[track_caller]
fn codes(terms: &Terms) -> Vec<&'static str> {
    let new = calibration(&[("boom.length", 5.7184)]);
    let faults = hand_over(&machine(), &new, terms, None).unwrap_err();
    faults.0.iter().map(|f| f.code).collect()
}

#[test]
fn what_was_described_wrongly_is_told_all_at_once() {
    let good = entry("arm", figure("boom.length"), EntryUnit::Millimetre, 1.0);
    assert_eq!(codes(&terms(true, "T75", Vec::new())), ["H007"]);
    assert_eq!(
        codes(&terms(true, "T75", vec![good.clone(), good.clone()])),
        ["H006"]
    );
    let mut other = terms(true, "T75", vec![good.clone()]);
    other.machine = "demo-24".to_owned();
    assert_eq!(codes(&other), ["H008"]);
    assert_eq!(codes(&terms(true, "T999", vec![good.clone()])), ["T001"]);
    let wrong = |label: &str, quantity| entry(label, quantity, EntryUnit::Degree, 0.01);
    let across = Quantity::Distance {
        from: Target::BoomFoot,
        to: tooth("centre"),
    };
    let nowhere = Quantity::Distance {
        from: Target::StickBucket,
        to: Target::StickBucket,
    };
    let ghost = Quantity::Reading {
        sensor: "S-none".to_owned(),
        channel: Channel::Main,
        at_rad: 0.0,
    };
    let roll = Quantity::Reading {
        sensor: "S-boom".to_owned(),
        channel: Channel::Roll,
        at_rad: 0.0,
    };
    let stepless = Entry {
        resolution: None,
        ..good.clone()
    };
    let backward = Entry {
        range: Some([10.0, -10.0]),
        ..entry("", figure("boom.length"), EntryUnit::Metre, 0.01)
    };
    let all = vec![
        wrong("unit", figure("boom.length")),
        entry("across", across, EntryUnit::Metre, 0.01),
        entry("nowhere", nowhere, EntryUnit::Metre, 0.01),
        wrong("ghost", ghost),
        wrong("roll", roll),
        wrong("path", figure("boom.lenght")),
        stepless,
        backward,
    ];
    let got = codes(&terms(true, "T75", all));
    assert_eq!(
        got,
        [
            "H003", "H001", "H009", "H002", "H002", "H002", "H004", "H006", "H005"
        ]
    );
}

/// Every kind of boom and tool: each figure an entry of its own, finely stepped, brings the tooth back.
#[test]
fn on_every_machine_the_figures_themselves_bring_the_tooth_back() {
    let mounting = Mounting {
        house: SensorKind::HouseTilts,
        sign: -1.0,
        offset_deg: 0.1,
        mount_deg: 3.0,
    };
    let mut random = Random::new(23);
    for rig in rigs() {
        for kit in [Kit::TwoAxisIdler, Kit::SingleAxis, Kit::Encoders] {
            let machine =
                Machine::measured_up(with_kit(rig.sheet.clone(), kit, mounting)).expect(rig.name);
            let mut figures = machine.sheet().figures();
            figures.retain(|figure| figure.path != "heading.offset");
            let new = Calibration {
                figures: figures
                    .iter()
                    .map(|figure| CalibratedFigure {
                        path: figure.path.clone(),
                        before: figure.measured.value,
                        value: figure.measured.value + random.between(-0.003, 0.003),
                        sd: Some(0.001),
                        unit: figure.unit,
                    })
                    .collect(),
                correlations: vec![0.0; figures.len() * (figures.len() - 1) / 2],
                ..calibration(&[])
            };
            let entries = figures
                .iter()
                .map(|one| {
                    let unit = match one.unit {
                        FigureUnit::Metre => EntryUnit::Millimetre,
                        FigureUnit::Radian => EntryUnit::Milliradian,
                    };
                    entry(&one.path, figure(&one.path), unit, 0.0001)
                })
                .collect();
            let terms = Terms {
                tool: ObservedTool {
                    coupler: rig.choice.coupler.clone(),
                    tilt: rig.choice.tilt.clone(),
                    bucket: rig.choice.bucket.clone(),
                },
                tooth: rig.choice.tooth.clone(),
                ..terms(false, "", entries)
            };
            let handed = hand_over(&machine, &new, &terms, Some(0.001))
                .unwrap_or_else(|f| panic!("{} {kit:?}: {f}", rig.name));
            // One axis alone reads the same on both sides of plumb: where a pose gives no tooth, nothing is shown.
            let whole = handed.proof.len() == 3;
            assert!(whole || kit == Kit::SingleAxis, "{} {kit:?}", rig.name);
            let decision = &handed.decision;
            assert_eq!(
                decision.holds(),
                whole,
                "{} {kit:?}: {decision:?}",
                rig.name
            );
            for pose in &handed.proof {
                // Some forty roundings of a twentieth of a micrometre or microradian.
                let apart_m = pose.apart_m.expect("a tooth");
                assert!(apart_m < 0.000_02, "{} {kit:?}: {apart_m}", rig.name);
            }
        }
    }
}
