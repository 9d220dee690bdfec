//! The names that columns of shots and observations may bear.

use holdline::machine::Machine;
use holdline_files::observations::ReadingNames;

/// Ids of sensors and antennas, each once.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct ReadingIds {
    sensors: Vec<String>,
    antennas: Vec<String>,
}

impl ReadingIds {
    /// Those of one machine.
    pub(crate) fn of(machine: &Machine) -> ReadingIds {
        let mut ids = ReadingIds::default();
        ids.add(machine);
        ids
    }

    /// Adds those of a machine.
    pub(crate) fn add(&mut self, machine: &Machine) {
        let sheet = machine.sheet();
        let sensors = sheet.sensors.iter().map(|sensor| sensor.id.clone());
        let antennas = sheet.antennas.iter().map(|antenna| antenna.id.clone());
        self.sensors.extend(sensors);
        self.antennas.extend(antennas);
        for ids in [&mut self.sensors, &mut self.antennas] {
            ids.sort();
            ids.dedup();
        }
    }

    /// As the readers take them.
    pub(crate) fn names(&self) -> ReadingNames<'_> {
        ReadingNames {
            sensors: &self.sensors,
            antennas: &self.antennas,
        }
    }
}
