//! From rows of a document, or typed by hand, to check shots: what was shown, or what the readings give.

use holdline::calibrate::check_shots::{CheckShot, CommonSd};
use holdline::calibrate::shared::Satellites;
use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline::tooth::model::{ToothFix, ToothModel};
use holdline::tooth::readings::Readings;
use holdline_files::points::{ControlPoint, ShotRow};
use holdline_geom::fault::{Fault, Faults, Place};
use holdline_geom::measured::Measured;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ask::{FullAsk, TypedShot};
use crate::tooth_stream::column_word;
use crate::views::SdPair;

/// Where the shown side of a shot comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ShownBy {
    /// The display, as written down.
    Display,
    /// Computed here from the readings.
    Readings,
}

/// A check shot ready to be judged.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadyShot {
    /// For the core.
    pub shot: CheckShot,
    /// Where its shown side comes from.
    pub shown_by: ShownBy,
    /// The fix behind it, where computed.
    pub fix: Option<ToothFix>,
}

/// Shots typed by hand.
pub fn typed_shots(rows: &[TypedShot]) -> Vec<ReadyShot> {
    rows.iter()
        .map(|row| ReadyShot {
            shot: CheckShot {
                name: row.name.clone(),
                shown_m: measured(row.shown, row.shown_sd_m),
                surveyed_m: measured(row.known, row.known_sd_m),
            },
            shown_by: ShownBy::Display,
            fix: None,
        })
        .collect()
}

fn measured(point: [Option<f64>; 3], sd: Option<SdPair>) -> [Option<Measured>; 3] {
    let sd = sd.unwrap_or_default().axes();
    [0, 1, 2].map(|axis| {
        point[axis].map(|value| Measured {
            value,
            sd: sd[axis],
        })
    })
}

/// Shots of a document. Where the display was not written down, the tooth is computed from the readings.
///
/// # Errors
///
/// What the readings give that cannot be used, for every shot, with its line.
pub fn document_shots(
    file: &str,
    rows: &[ShotRow],
    machine: &Machine,
    choice: &ToolChoice,
    ask: &FullAsk,
) -> Result<Vec<ReadyShot>, Faults> {
    let mut faults = Faults::none();
    let mut shots = Vec::with_capacity(rows.len());
    for row in rows {
        match one(row, machine, choice, ask) {
            Ok(shot) => shots.push(shot),
            Err(more) => faults.0.extend(more.0.into_iter().map(|fault| Fault {
                at: format!("shot {}: {}", row.name, fault.at),
                place: Some(Place {
                    file: file.to_owned(),
                    line: row.line,
                    column: 1,
                }),
                ..fault
            })),
        }
    }
    faults.or(shots)
}

fn one(
    row: &ShotRow,
    machine: &Machine,
    choice: &ToolChoice,
    ask: &FullAsk,
) -> Result<ReadyShot, Faults> {
    if let Some(tooth) = &row.tooth
        && *tooth != choice.tooth
    {
        return Err(Fault::new(
            "V035",
            "tooth",
            format!("a shot of the {tooth} tooth point"),
            format!("a shot of the {} tooth point, as chosen", choice.tooth),
            "choose the tooth point that was shot, or shoot the one that is chosen",
        )
        .into());
    }
    let shown = row.shown_m.iter().any(Option::is_some);
    let (shown_m, shown_by, fix) = if shown {
        (row.shown_m, ShownBy::Display, None)
    } else {
        let tooth = row.tooth.clone().unwrap_or_else(|| choice.tooth.clone());
        let model = ToothModel::new(
            machine,
            &ToolChoice {
                tooth,
                ..choice.clone()
            },
        )?;
        let fix = fix_row(&model, row, ask)?;
        (site_of(&fix)?, ShownBy::Readings, Some(fix))
    };
    let shot = CheckShot {
        name: row.name.clone(),
        shown_m,
        surveyed_m: row.surveyed_m,
    };
    Ok(ReadyShot {
        shot,
        shown_by,
        fix,
    })
}

fn fix_row(model: &ToothModel, row: &ShotRow, ask: &FullAsk) -> Result<ToothFix, Faults> {
    let readings = readings_of(model, row)?;
    let heading_sd_rad = ask.heading_sd_deg.map(f64::to_radians);
    let position_sd_m = ask.position_sd_m.unwrap_or_default().axes();
    model.fix(&model.with_sheet_sds(&readings, heading_sd_rad, position_sd_m))
}

fn site_of(fix: &ToothFix) -> Result<[Option<Measured>; 3], Faults> {
    let (Some(tooth), Some(spread)) = (&fix.solution.tooth_site, &fix.site) else {
        return Err(Fault::new(
            "T041",
            "antenna",
            "readings without an antenna position and a heading",
            "the position of two antennas, or of one and a heading",
            "a shot on the site needs to know where the machine stood; or write down what the display showed",
        )
        .into());
    };
    let (at, sd) = (tooth.vector(), spread.sd_m());
    Ok([0, 1, 2].map(|axis| {
        Some(Measured {
            value: at[axis],
            sd: sd.map(|sd| sd[axis]),
        })
    }))
}

/// The readings of a shot by the names of its columns, in the order of the sheet.
pub fn readings_of(model: &ToothModel, row: &ShotRow) -> Result<Readings<f64>, Faults> {
    let plan = model.plan()?;
    let sheet = model.machine().sheet();
    let read = |name: &str| {
        row.readings
            .iter()
            .find(|(n, _)| n == name)
            .map(|(_, value)| *value)
    };
    let mut sensors_rad = vec![None; sheet.sensors.len()];
    let in_plane = [
        Some(&plan.boom),
        plan.boom_upper.as_ref(),
        Some(&plan.stick),
        Some(&plan.bucket),
    ];
    for source in in_plane.into_iter().flatten().chain(&plan.encoders_first) {
        let id = &plan.sensor_ids[source.sensor_idx];
        sensors_rad[source.sensor_idx] = read(id).or_else(|| read(&column_word(source)));
    }
    let place = |suffix: &str| {
        let axis = |name: &str| read(&format!("{name}{suffix}"));
        Some([axis("easting")?, axis("northing")?, axis("elevation")?])
    };
    let antennas_m: Vec<Option<[f64; 3]>> = (0..sheet.antennas.len())
        .map(|antenna_idx| match antenna_idx {
            0 => place(""),
            1 => place("_2"),
            _ => None,
        })
        .collect();
    Ok(Readings {
        house_rad: read("pitch")
            .zip(read("roll"))
            .map(|(pitch, roll)| [pitch, roll]),
        sensors_rad,
        // A pair of antennas gives the heading; what stands in the column came from the same pair.
        heading_rad: if antennas_m.iter().flatten().count() < 2 {
            read("heading")
        } else {
            None
        },
        antennas_m,
    })
}

/// What is common to all shots, and in words where it comes from.
///
/// From the control document, or as stated; else it is not known, and then no tolerance is shown to hold.
pub fn common_sd(ask: &FullAsk, control: Option<&[ControlPoint]>) -> (CommonSd, String) {
    if let Some(points) = control {
        let worst =
            |axis: usize| worst_of(points.iter().filter_map(|p| p.at_m[axis]).map(|m| m.sd));
        let stated = ask.control_sd_m.map_or([None; 3], |pair| pair.axes());
        let larger = |axis: usize| match (worst(axis), stated[axis]) {
            (Some(a), Some(b)) if a < b => Some(b),
            (a, _) => a,
        };
        let words = if ask.control_sd_m.is_some() {
            "the larger of the control document and of what was stated"
        } else {
            "the largest of the control document"
        };
        return ([0, 1, 2].map(larger), words.to_owned());
    }
    if let Some(pair) = ask.control_sd_m {
        return (pair.axes(), "as stated for control and set-up".to_owned());
    }
    // What the survey says of its own shots scatters with them; what they share is another figure, and unknown.
    let words = "nobody stated the uncertainty of control and set-up";
    ([None; 3], words.to_owned())
}

/// What the satellite positions of the series share; none where no shot is computed from antennas and nobody stated it.
pub fn satellites(ask: &FullAsk, shots: &[ReadyShot]) -> Option<Satellites> {
    let computed = shots
        .iter()
        .any(|ready| ready.shown_by == ShownBy::Readings);
    if !computed && ask.position_common_sd_m.is_none() {
        return None;
    }
    let axes = |pair: Option<SdPair>| pair.unwrap_or_default().axes();
    Some(Satellites {
        shared_m: axes(ask.position_common_sd_m),
        one_position_m: axes(ask.position_sd_m),
    })
}

/// The largest; none when any is missing or there is none.
fn worst_of(sds: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    let all: Option<Vec<f64>> = sds.collect();
    all.filter(|sds| !sds.is_empty())
        .map(|sds| sds.into_iter().fold(0.0, f64::max))
}
