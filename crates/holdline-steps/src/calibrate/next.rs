//! Where to measure next: the core's poses, in words, drawn, and as a file to fill in.

use holdline::calibrate::next::{
    BestBy, NextAsk as CoreAsk, NextPose, NextPoses, Role, Stopped, next_poses,
};
use holdline::machine::Machine;
use holdline::tooth::model::ToothModel;
use holdline_files::targets::target_word;
use holdline_geom::fault::Faults;
use holdline_sheet::figure::{Sign, plain, rounded};

use super::ask::NextAsk;
use super::fit::fit;
use super::job::ReadObservations;
use super::next_view::{CAUTION_NEXT, NextPoseView, NextView};
use crate::pose::{PageSize, PoseAsk, Views, pose_of};
use crate::units::Units;
use crate::verify::{joints_deg, true_minus};

/// The poses. With observations they are those after the fit of these.
pub(super) fn next(
    machine: &Machine,
    ask: &NextAsk,
    read: &[ReadObservations],
    units: Units,
) -> Result<NextView, Faults> {
    let fitted = match read {
        [] => None,
        _ => Some(fit(machine, &ask.fit, read)?.1.applied_to(machine)?),
    };
    let machine = fitted.as_ref().unwrap_or(machine);
    let choice = ask.fit.tool.choice();
    let model = ToothModel::new(machine, &choice)?;
    let found = next_poses(
        machine,
        &CoreAsk {
            shot_sd_m: ask.shot_sd_m,
            antenna_sd_m: ask.fit.position_sd_m.unwrap_or_default().axes(),
            fall: [ask.fall_deg, ask.fall_towards_deg].map(f64::to_radians),
            best_by: if ask.by_figures {
                BestBy::Determinant
            } else {
                BestBy::Envelope
            },
            n_poses: ask.n as usize,
            enough_sd_m: ask.enough_sd_m,
            ..CoreAsk::of(choice)
        },
    )?;
    let mut poses = Vec::new();
    let mut check_poses = Vec::new();
    for (number, pose) in (1..).zip(&found.poses) {
        let view = pose_view(&model, ask, number, pose, units)?;
        match pose.role {
            Role::Fit => poses.push(view),
            Role::Check => check_poses.push(view),
        }
    }
    Ok(NextView {
        words: words(&found, units),
        csv: csv(ask, &model, &found),
        poses,
        check_poses,
        cautions: vec![CAUTION_NEXT.to_owned()],
    })
}

/// Size of a pose's picture on paper, mm: as large as its place on a screen, with letters that can be read.
const PICTURE: PageSize = PageSize {
    w_mm: 78.0,
    h_mm: 54.0,
};

fn pose_view(
    model: &ToothModel,
    ask: &NextAsk,
    number: u32,
    pose: &NextPose,
    units: Units,
) -> Result<NextPoseView, Faults> {
    let [pitch_deg, roll_deg] = [pose.lean.pitch, pose.lean.roll].map(f64::to_degrees);
    let heading_deg = pose.heading_rad.to_degrees();
    let joints = joints_deg(model, &pose.joints);
    let drawn = pose_of(
        model,
        &PoseAsk {
            tool: ask.fit.tool.clone(),
            joints_deg: joints.iter().cloned().collect(),
            pitch_deg,
            roll_deg,
            heading_deg,
            units,
            view: Some(Views {
                section: PICTURE,
                ..Views::default()
            }),
            ..PoseAsk::default()
        },
    )?;
    Ok(NextPoseView {
        number,
        label: label(number, pose.role),
        joints_deg: joints.into_iter().collect(),
        swing_deg: -heading_deg,
        lean_text: true_minus(&format!("pitch {pitch_deg:.1}°, roll {roll_deg:.1}°")),
        words: true_minus(&pose.words),
        gain_text: match pose.gain {
            Some(gain) => format!("surer by {} %", rounded(100.0 * gain, 0, Sign::Minus)),
            None => "a check, not for the fit".to_owned(),
        },
        section: drawn.sheets.section,
    })
}

/// The name of a pose's rows.
fn label(number: u32, role: Role) -> String {
    match role {
        Role::Fit => format!("N{number}"),
        Role::Check => format!("K{number}"),
    }
}

fn words(found: &NextPoses, units: Units) -> Vec<String> {
    let sure = |sd: Option<f64>| {
        sd.map_or_else(
            || "not known".to_owned(),
            |sd| {
                format!(
                    "± {}",
                    plain(2.0 * sd, &units.small(), units.small_decimals())
                )
            },
        )
    };
    let mut words: Vec<String> = found
        .before
        .iter()
        .zip(&found.after)
        .map(|((name, before), (_, after))| {
            format!(
                "tooth {name}, all axes together: {} now, {} with these poses (k = 2)",
                sure(*before),
                sure(*after)
            )
        })
        .collect();
    words.push(
        match found.stopped {
            Stopped::AsManyAsAsked => "As many as were asked for.",
            Stopped::SureEnough => "With these the tooth is as sure as was asked for.",
            Stopped::LittleGain => "One more would make the tooth surer by less than 3 %.",
            Stopped::NoMore => "There are no more poses that the machine can go to.",
        }
        .to_owned(),
    );
    words
}

/// A file of observations with a row a shot: what is measured and read is filled in on site.
fn csv(ask: &NextAsk, model: &ToothModel, found: &NextPoses) -> String {
    let sheet = model.machine().sheet();
    let tool = ask.fit.tool.choice();
    let mut text = String::from(
        "# To be filled in: what was measured, how sure it is (k = 1), and what the machine read.\n# Rows behind a # are checks: they stay out of the fit, and prove it afterwards as check shots.\n",
    );
    text.push_str(&format!("machine,{}\n", sheet.id));
    if let Some(coupler) = &tool.coupler {
        text.push_str(&format!("coupler,{coupler}\n"));
    }
    if let Some(tilt) = &tool.tilt {
        text.push_str(&format!("tilt,{tilt}\n"));
    }
    text.push_str(&format!("bucket,{}\n", tool.bucket));
    let mut header: Vec<String> = [
        "name",
        "kind",
        "pose",
        "stand",
        "setup",
        "target",
        "easting_m",
        "northing_m",
        "elevation_m",
        "sd_m",
        "pitch_deg",
        "roll_deg",
    ]
    .map(str::to_owned)
    .to_vec();
    let sensors = sheet.sensors.iter().filter(|s| !s.kind.is_house());
    header.extend(sensors.map(|sensor| format!("{}_deg", sensor.id)));
    for antenna in &sheet.antennas {
        header
            .extend(["easting", "northing", "elevation"].map(|a| format!("{}_{a}_m", antenna.id)));
    }
    header.extend(["by", "when", "instrument", "note"].map(str::to_owned));
    text.push_str(&header.join(","));
    text.push('\n');
    for (number, pose) in (1..).zip(&found.poses) {
        let name = label(number, pose.role);
        for target in &pose.targets {
            let word = target_word(target);
            let mut cells = vec![
                // A name takes no brackets: they mark the point of the machine.
                format!("{name} {}", word.replace(['[', ']'], " ").trim_end()),
                "shot".to_owned(),
                name.clone(),
                "S1".to_owned(),
                "site".to_owned(),
                word,
            ];
            cells.resize(header.len() - 1, String::new());
            cells.push(format!("\"{}\"", pose.words.replace('"', "'")));
            // What is to prove the fit must not go into it.
            text.push_str(match pose.role {
                Role::Fit => "",
                Role::Check => "# ",
            });
            text.push_str(&cells.join(","));
            text.push('\n');
        }
    }
    text
}
