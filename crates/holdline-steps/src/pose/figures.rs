//! The figures of a pose, with ready text, and in words what their uncertainty includes.

use holdline::machine::Machine;
use holdline::machine::four_bar::FourBarPose;
use holdline::machine::front::Front;
use holdline::machine::pose::{ear_from_tool_pins, front_pose};
use holdline::tooth::uncertainty::Spread;
use holdline_geom::fault::Fault;
use holdline_geom::measured::Measured;
use holdline_sheet::figure::{DEGREES, NONE_STATED, plain};

use super::{Basis, Mode, PoseAsk, PoseFix, SetPose};
use crate::units::Units;
use crate::views::{FigureView, FindingView};

/// Heading of the 2D figures.
pub const GROUP_2D: &str = "2D, from the swing axis at track ground";
/// Heading of the site figures.
pub const GROUP_3D: &str = "3D, on the site grid";
/// Heading of bucket and cylinders.
pub const GROUP_FRONT: &str = "Bucket and cylinders";

/// All figures of a pose.
pub(super) fn figures(
    machine: &Machine,
    front: &Front<f64>,
    ask: &PoseAsk,
    set: &SetPose,
    found: &PoseFix,
) -> Result<Vec<FigureView>, Fault> {
    let mut figures = in_2d(ask, found);
    if ask.mode == Mode::ThreeD {
        figures.extend(in_3d(ask.units, set, found));
    }
    let attitude_rad = bucket_attitude_rad(front, set);
    let attitude = Measured {
        value: attitude_rad,
        sd: found.attitude_sd_rad(),
    };
    let why = match &found.basis {
        Basis::Sensors => "",
        Basis::Lengths(_) => "typed angles",
    };
    let label = "Bucket pins above level";
    figures.push(FigureView::measured(GROUP_FRONT, label, attitude, &DEGREES).because(why));
    let lengths_m = machine.cylinder_lengths_m(&set.joints)?;
    for (cylinder, length_m) in machine.sheet().cylinders.iter().zip(lengths_m) {
        let (short, long) = (cylinder.retracted.value, cylinder.extended.value);
        let share = (length_m - short) / (long - short) * 100.0;
        let mut figure = FigureView::words(
            GROUP_FRONT,
            &format!("{} cylinder, pin to pin", capital(cylinder.moves.word())),
            format!(
                "{}, {share:.0} % out",
                plain(length_m, &ask.units.length(), 3)
            ),
        );
        figure.value = Some(length_m).filter(|l| l.is_finite());
        figure.unit = "m".to_owned();
        figure.uncertainty_text = format!("{NONE_STATED} (none for the cylinder's pins)");
        figures.push(figure);
    }
    Ok(figures)
}

fn in_2d(ask: &PoseAsk, found: &PoseFix) -> Vec<FigureView> {
    let spread = &found.fix.level;
    let why = why_missing(spread);
    let sd_m = spread.sd_m();
    let tooth = found.fix.solution.tooth_level;
    let one = |axis: usize, label: &str, value: f64| {
        let measured = Measured {
            value,
            sd: sd_m.map(|sd| sd[axis]),
        };
        FigureView::measured(GROUP_2D, label, measured, &ask.units.signed()).because(&why)
    };
    let mut figures = vec![
        one(0, "Forward of the swing axis", tooth.x()),
        one(1, "Left of the swing axis", tooth.y()),
        one(2, "Above the track ground", tooth.z()),
    ];
    if let Some(height) = ask.bench_height {
        let sd = sd_m
            .zip(ask.bench_sd_m)
            .map(|(sd, bench)| sd[2].hypot(bench));
        let measured = Measured {
            value: tooth.z() - height,
            sd,
        };
        let why = match (ask.bench_sd_m, why.is_empty()) {
            (None, true) => "none for the bench".to_owned(),
            (None, false) => format!("none for the bench, {why}"),
            (Some(_), _) => why,
        };
        let figure =
            FigureView::measured(GROUP_2D, "Above the bench", measured, &ask.units.signed());
        figures.push(figure.because(&why));
    }
    figures
}

fn in_3d(units: Units, set: &SetPose, found: &PoseFix) -> Vec<FigureView> {
    let Some(site_from_house) = set.site_from_house() else {
        return vec![FigureView::words(GROUP_3D, "Tooth", "no stand typed")];
    };
    // Without an antenna on the sheet the stand itself is all there is, and it was typed.
    let (tooth, sd_m, why) = match (&found.fix.solution.tooth_site, &found.fix.site) {
        (Some(tooth), Some(spread)) => (*tooth, spread.sd_m(), why_missing(spread)),
        _ => {
            let tooth = site_from_house * found.fix.solution.tooth_house;
            (
                tooth,
                None,
                "no antenna on the sheet; the stand was typed".to_owned(),
            )
        }
    };
    [
        (1, "Northing", tooth.y()),
        (0, "Easting", tooth.x()),
        (2, "Elevation", tooth.z()),
    ]
    .map(|(axis, label, value)| {
        let measured = Measured {
            value,
            sd: sd_m.map(|sd| sd[axis]),
        };
        FigureView::measured(GROUP_3D, label, measured, &units.length()).because(&why)
    })
    .to_vec()
}

/// Why a spread has no uncertainty, short enough to stand beside a figure.
fn why_missing(spread: &Spread) -> String {
    match spread.missing.as_slice() {
        [] => String::new(),
        [one] => format!("none for {one}"),
        [one, rest @ ..] => format!("none for {one} and {} more", rest.len()),
    }
}

/// Angle above level of the line of pins that bucket or tilting device hangs on, in the boom plane, rad.
pub(crate) fn bucket_attitude_rad(front: &Front<f64>, set: &SetPose) -> f64 {
    let pose = front_pose(front, &set.joints);
    let pins = pose.house_from_post.inverse() * pose.house_from_ear * ear_from_tool_pins(front);
    let turn = pins.rotation();
    let in_plane = turn[(2, 0)].atan2(turn[(0, 0)]);
    holdline::machine::cylinder::wrapped(
        in_plane + set.lean.in_boom_plane(set.joints.post).apparent_pitch,
    )
}

/// Less than this from a dead centre is said.
const NEAR_DEAD_CENTRE_M: f64 = 0.02;

/// What a person must look at beside joints out of range.
pub(super) fn findings(
    found: &PoseFix,
    linkage: &FourBarPose<f64>,
    ask: &PoseAsk,
) -> Vec<FindingView> {
    let mut findings = Vec::new();
    let left_m = linkage.ear_dead_centre_m.min(linkage.idler_dead_centre_m);
    if !(NEAR_DEAD_CENTRE_M <= left_m) {
        findings.push(FindingView {
            code: "T010".to_owned(),
            text: format!(
                "{:.0} mm from a dead centre of the bucket linkage: a small reading error moves the tooth far",
                left_m * 1000.0
            ),
            place: "linkage".to_owned(),
        });
    }
    if let Basis::Lengths(why) = &found.basis {
        findings.push(FindingView {
            code: "T003".to_owned(),
            text: format!("typed angles: the fitted sensors do not give this pose ({why})"),
            place: "sensors".to_owned(),
        });
    }
    let spread = match (ask.mode, &found.fix.site) {
        (Mode::ThreeD, Some(site)) => site,
        (Mode::ThreeD, None) | (Mode::TwoD, _) => &found.fix.level,
    };
    if !spread.missing.is_empty() {
        let shown = spread
            .missing
            .iter()
            .take(6)
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(", ");
        let more = spread.missing.len().saturating_sub(6);
        let more = if more == 0 {
            String::new()
        } else {
            format!(" and {more} more")
        };
        findings.push(FindingView {
            code: "T033".to_owned(),
            text: format!("no uncertainty stated for {shown}{more}"),
            place: "uncertainty".to_owned(),
        });
    }
    findings
}

/// What the uncertainty includes and leaves out, a sentence a line.
pub(super) fn uncertainty_words(found: &PoseFix, ask: &PoseAsk, machine: &Machine) -> Vec<String> {
    let mut words = Vec::new();
    match &found.basis {
        Basis::Sensors => {
            let ids: Vec<&str> = machine
                .sheet()
                .sensors
                .iter()
                .map(|s| s.id.as_str())
                .collect();
            words.push(format!(
                "As the fitted sensors would read this pose once: {}; their calibration; every length from house to tooth as the sheet states it.",
                ids.join(", ")
            ));
        }
        Basis::Lengths(_) => words.push(
            "Typed angles, taken as exact: only the lengths of the sheet are in it.".to_owned(),
        ),
    }
    if ask.mode == Mode::ThreeD && found.fix.site.is_some() {
        words.push(if found.heading_typed {
            "On the site: the antenna position and the typed heading too.".to_owned()
        } else {
            "On the site: both antenna positions too, which give place and heading.".to_owned()
        });
    }
    let spread = found.fix.site.as_ref().unwrap_or(&found.fix.level);
    let size_mm = |effect_m: &[f64; 3]| effect_m.iter().map(|e| e * e).sum::<f64>().sqrt() * 1000.0;
    let parts: Vec<String> = spread
        .shares
        .iter()
        .filter(|share| size_mm(&share.effect_m).is_finite())
        .take(3)
        .map(|share| format!("{} {:.1} mm", share.name, size_mm(&share.effect_m)))
        .collect();
    if !parts.is_empty() {
        words.push(format!("Largest parts, k = 1: {}.", parts.join("; ")));
    }
    words.push(
        "Not in it: wear since the tooth was measured, play in the pins, bending under load, and what a sensor lags while the front moves."
            .to_owned(),
    );
    words
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
