//! The tooth from any numbers at all: finite and within reach, or a fault.
#![cfg_attr(fuzzing, no_main)]

use std::sync::OnceLock;

use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_files::machine_sheet::read_machine_sheet;

holdline_fuzz::target!(pose, seeds: &["fuzz/seeds/pose.bin"]);

/// No front of a 23 t machine is longer.
const LONGEST_M: f64 = 15.0;

fn demo() -> &'static ToothModel {
    static MODEL: OnceLock<ToothModel> = OnceLock::new();
    MODEL.get_or_init(|| {
        let sheet = include_bytes!("../../demo/demo-23.machine.toml");
        let claim = read_machine_sheet("demo-23", sheet).expect("the demo sheet reads");
        let machine = Machine::measured_up(claim).expect("the demo machine is sound");
        let choice = ToolChoice {
            coupler: Some("QC-demo".to_owned()),
            tilt: None,
            bucket: "T75".to_owned(),
            tooth: "left".to_owned(),
        };
        ToothModel::new(&machine, &choice).expect("the demo tool is on the sheet")
    })
}

/// Eight bytes a number; what is left out is missing.
fn numbers(bytes: &[u8]) -> Vec<f64> {
    let eights = bytes.as_chunks::<8>().0;
    eights
        .iter()
        .map(|eight| f64::from_le_bytes(*eight))
        .collect()
}

fn pose(bytes: &[u8]) {
    let model = demo();
    let given = numbers(bytes);
    let at = |idx: usize| given.get(idx).copied();
    let antenna = |idx: usize| Some([at(idx)?, at(idx + 1)?, at(idx + 2)?]);
    let n_sensors = model.machine().sheet().sensors.len();
    let readings = Readings {
        house_rad: at(0).zip(at(1)).map(|(pitch, roll)| [pitch, roll]),
        sensors_rad: (0..n_sensors).map(|idx| at(2 + idx)).collect(),
        heading_rad: at(2 + n_sensors),
        antennas_m: vec![antenna(3 + n_sensors), antenna(6 + n_sensors)],
    };
    let Ok(solution) = model.tooth(&readings) else {
        return;
    };
    for v in [solution.tooth_house.vector(), solution.tooth_level.vector()] {
        assert!(v.norm() <= LONGEST_M, "{v:?} from {readings:?}");
    }
    if let Some(site) = solution.tooth_site {
        let v = site.vector();
        assert!(v.iter().all(|c| c.is_finite()), "{v:?} from {readings:?}");
    }
}
