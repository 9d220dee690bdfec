//! What all shots of a series share, and the series itself therefore does not show.

use super::check_shots::{AXES, CommonSd, Finding};

/// Standard uncertainties that are the same in every shot (k = 1), m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shared {
    /// Of the control and of the instrument's set-up.
    pub control_m: CommonSd,
    /// Of the satellite positions, where shots are computed from antennas; none where no shot is.
    pub satellites: Option<Satellites>,
}

/// How uncertain the satellite positions behind the shots are (k = 1), m.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Satellites {
    /// The part that all shots share, as stated.
    pub shared_m: CommonSd,
    /// The whole of one position.
    pub one_position_m: CommonSd,
}

impl Satellites {
    /// What counts as shared along an axis: as stated, or else the whole of one position.
    ///
    /// The errors of a fix wander over minutes, and a series takes minutes: most of them are in every shot.
    pub fn counted_m(&self) -> CommonSd {
        [0, 1, 2].map(|axis| stated(self.shared_m[axis]).or(stated(self.one_position_m[axis])))
    }
}

impl Shared {
    /// Of a series that no satellite takes part in.
    pub fn of_control(control_m: CommonSd) -> Shared {
        Shared {
            control_m,
            satellites: None,
        }
    }

    /// Both along an axis, added linearly: they are in every shot, and nobody knows which way.
    pub(super) fn sd_m(&self, axis: usize) -> Option<f64> {
        let control = stated(self.control_m[axis])?;
        match &self.satellites {
            None => Some(control),
            Some(satellites) => Some(control + satellites.counted_m()[axis]?),
        }
    }

    /// What is missing along axes that people call by this word.
    pub(super) fn missing(&self, axes: &[usize], word: &str) -> Option<String> {
        if axes
            .iter()
            .any(|axis| stated(self.control_m[*axis]).is_none())
        {
            return Some(format!(
                "the control has no stated uncertainty in {word}: ask the surveyor"
            ));
        }
        axes.iter()
            .any(|axis| self.sd_m(*axis).is_none())
            .then(|| {
                format!(
                    "the antenna positions have no stated uncertainty in {word}: state it with the check"
                )
            })
    }

    /// Where the whole of one position stands in for what nobody stated; for axes that were shot.
    pub(super) fn findings(&self, shot: [bool; 3]) -> Vec<Finding> {
        let Some(satellites) = &self.satellites else {
            return Vec::new();
        };
        let assumed = |axis: usize| {
            let one = stated(satellites.one_position_m[axis])?;
            stated(satellites.shared_m[axis]).is_none().then_some(one)
        };
        let taken: Vec<(&str, f64)> = (0..3)
            .filter(|axis| shot[*axis])
            .filter_map(|axis| Some((AXES[axis], assumed(axis)?)))
            .collect();
        if taken.is_empty() {
            return Vec::new();
        }
        let sds: Vec<String> = taken
            .iter()
            .map(|(axis, sd)| format!("{axis} {:.1} mm", sd * 1000.0))
            .collect();
        vec![Finding {
            code: "V007",
            at: "satellites".to_owned(),
            what: format!(
                "nobody stated what the satellite positions of the series share: the whole of one position counts as shared (k = 1): {}",
                sds.join(", ")
            ),
        }]
    }
}

/// Zero or less, or no number, is nobody's statement: it counts as none.
fn stated(sd: Option<f64>) -> Option<f64> {
    sd.filter(|sd| 0.0 < *sd && sd.is_finite())
}
