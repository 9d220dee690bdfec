//! Diagnose: check shots after a knock on the bucket sensor, judged with the calibration on top of the sheet.
//!
//! `cargo run -p holdline-examples --example 06-what-drifted`

use holdline::calibrate::diagnose::{DiagnoseAsk, DiagnosedShot, diagnose};
use holdline::calibrate::fit::{FitAsk, fit};
use holdline::machine::Machine;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_examples::{KNOCKED, TAPE_DAY, demo_machine, demo_observations, demo_tool};
use holdline_files::points::{ShotRow, read_shots};
use holdline_geom::fault::Faults;

/// Which thing drifted, and where to look first.
///
/// # Errors
///
/// None with the demo's files as they stand.
pub fn main() -> Result<(), Faults> {
    let sheet = demo_machine()?;
    let observations = demo_observations("tape-only.observations.csv", TAPE_DAY, &sheet)?;
    let found = fit(&sheet, &observations, &FitAsk::default())?;
    let calibration = found.calibration("the sheet's hash", "A. Example", "2025-12-01", "tape");
    let machine: Machine = calibration.applied_to(&sheet)?;
    let model = ToothModel::new(&machine, &demo_tool())?;
    let ids: Vec<String> = machine
        .sheet()
        .sensors
        .iter()
        .map(|s| s.id.clone())
        .collect();
    let shots: Vec<DiagnosedShot> = read_shots("S1-knocked.shots.csv", KNOCKED.as_bytes(), &ids)?
        .iter()
        .map(|row| shot(&model, row))
        .collect();
    let ask = DiagnoseAsk {
        common_sd_m: [Some(0.004), Some(0.004), Some(0.003)],
        ..DiagnoseAsk::default()
    };
    let diagnosis = diagnose(&model, &shots, &ask)?;
    for sentence in &diagnosis.words {
        println!("{sentence}");
    }
    for suspect in diagnosis.suspects.iter().filter(|suspect| suspect.in_set) {
        println!("  {}: {}", suspect.words, suspect.look_at);
    }
    assert!(!diagnosis.words.is_empty());
    Ok(())
}

/// A row of the shots as the diagnosis takes it: what was read, each with the uncertainty of one reading.
fn shot(model: &ToothModel, row: &ShotRow) -> DiagnosedShot {
    let read = |name: &str| {
        let found = row.readings.iter().find(|(n, _)| n == name);
        found.map(|(_, value)| *value)
    };
    let place = |suffix: &str| {
        let axis = |name: &str| read(&format!("{name}{suffix}"));
        Some([axis("easting")?, axis("northing")?, axis("elevation")?])
    };
    let readings = Readings {
        house_rad: read("pitch").zip(read("roll")).map(|(p, r)| [p, r]),
        // In the order of the demo's sheet: boom, stick, idler; the house sensor is given above.
        sensors_rad: vec![read("boom"), read("stick"), read("idler"), None],
        heading_rad: None,
        antennas_m: vec![place(""), place("_2")],
    };
    let position_sd_m = [Some(0.004), Some(0.004), Some(0.006)];
    DiagnosedShot {
        name: row.name.clone(),
        tooth: row.tooth.clone(),
        readings: Some(model.with_sheet_sds(&readings, None, position_sd_m)),
        shown_m: row.shown_m,
        surveyed_m: row.surveyed_m,
        velocity_m_s: None,
        held: None,
    }
}
