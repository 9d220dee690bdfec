//! What of an observation cannot be used, said with the row it stands in.

use super::Spot;
use super::blocks::{Builder, Making, target_words};
use crate::calibrate::observations::{Observation, Target};
use holdline_geom::fault::Fault;
use holdline_geom::measured::Measured;

impl Builder<'_> {
    pub(super) fn ends(
        &mut self,
        row: &Observation,
        from: &Target,
        to: &Target,
    ) -> Option<[Spot; 2]> {
        if from == to {
            self.faults.push(Fault::new(
                "C021",
                format!("observation[{}].to", row.name),
                format!("from {} to itself", target_words(from)),
                "two points",
                "name the other end",
            ));
            return None;
        }
        Some([self.spot(row, from)?, self.spot(row, to)?])
    }

    /// The point, if the machine has it.
    pub(super) fn spot(&mut self, row: &Observation, target: &Target) -> Option<Spot> {
        let sheet = self.machine.sheet();
        let there: Vec<&str> = match target {
            Target::Tooth(name) if !self.teeth.contains(name) => {
                self.teeth.iter().map(String::as_str).collect()
            }
            Target::Antenna(name) if !sheet.antennas.iter().any(|a| a.id == *name) => {
                sheet.antennas.iter().map(|a| a.id.as_str()).collect()
            }
            _ => return Some(Spot::Target(target.clone())),
        };
        self.faults.push(Fault::new(
            "C006",
            format!("observation[{}].target", row.name),
            target_words(target),
            if there.is_empty() {
                "a point that the sheet has; it has none of this kind".to_owned()
            } else {
                format!("one of {}", there.join(", "))
            },
            "name a point that the machine sheet has, or add it there",
        ));
        None
    }

    /// A point that moves with the front needs at least one reading of the front.
    pub(super) fn check_read(&mut self, making: &Making, row: &Observation, target: &Target) {
        let moves = !matches!(
            target,
            Target::Antenna(_) | Target::SwingAxis | Target::BoomFoot
        );
        if moves && !making.read.has_front(self.plan) {
            self.faults.push(Fault::new(
                "C016",
                format!("observation[{}]", row.name),
                format!("{} in a pose without readings", target_words(target)),
                "what the sensors read in that pose, in one of its rows",
                "write down the readings before the machine moves; a shot without them says nothing about sensors or lengths",
            ));
        }
    }

    pub(super) fn measured(
        &mut self,
        row: &Observation,
        what: &str,
        measured: Measured,
    ) -> Option<(f64, f64)> {
        let at = format!("observation[{}].{what}", row.name);
        if !measured.value.is_finite() {
            self.faults.push(Fault::new(
                "C013",
                at,
                "not a number",
                "a measured value",
                "leave the place empty where nothing was measured",
            ));
            return None;
        }
        match measured.sd.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY) {
            Some(sd) => Some((measured.value, sd)),
            None => {
                let got = match measured.sd {
                    None => "no standard uncertainty".to_owned(),
                    Some(sd) => format!("a standard uncertainty of {sd}"),
                };
                self.faults.push(Fault::new(
                    "C010",
                    at,
                    got,
                    "a standard uncertainty above zero",
                    "state how well it was measured: a total station without prism 2 to 3 mm, a tape over 6 m 2 to 3 mm, a hand inclinometer 0.1° (usual, from memory)",
                ));
                None
            }
        }
    }

    pub(super) fn stated(&mut self, sd: Option<f64>, at: String, whose: Whose) -> Option<f64> {
        let stated = sd.filter(|sd| 0.0 < *sd && *sd < f64::INFINITY);
        if stated.is_none() && !self.faults.0.iter().any(|f| f.code == "C011" && f.at == at) {
            self.faults.push(Fault::new(
                "C011",
                at,
                format!("no standard uncertainty for {}", whose.said()),
                "how far one reading scatters",
                whose.fix(),
            ));
        }
        stated
    }
}

/// Whose scatter is asked for, and so where it is stated.
#[derive(Debug, Clone, Copy)]
pub(super) enum Whose {
    House,
    Sensor,
    Heading,
    Antenna,
}

impl Whose {
    fn said(self) -> &'static str {
        match self {
            Whose::House => "the house sensor",
            Whose::Sensor => "this sensor",
            Whose::Heading => "headings that were read",
            Whose::Antenna => "antenna positions that were read",
        }
    }

    fn fix(self) -> &'static str {
        match self {
            Whose::House | Whose::Sensor => {
                "state it on the machine sheet, as the sensor's sd: ten still seconds of a gravity sensor scatter by 0.02° to 0.05° (usual, from memory)"
            }
            Whose::Heading => {
                "state it with the fit (--heading-sd, degrees): what the display does in ten still seconds"
            }
            Whose::Antenna => {
                "state it with the fit (--position-sd-mm horizontal,vertical): what the display does in ten still seconds"
            }
        }
    }
}
