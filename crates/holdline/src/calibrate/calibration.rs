//! A calibration: new values of a machine's figures, how sure they are together, and what they rest on.
//!
//! A document of its own. It is applied on top of the measured sheet and never overwrites it.

use super::fit::Belief;
use super::observations::ObservedTool;
use crate::machine::Machine;
use crate::machine::correlated::Correlated;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use nalgebra::DMatrix;

pub use crate::machine::figures::FigureUnit;

/// A calibration, in metres and radians.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// The machine's own name on the job.
    pub machine: String,
    /// SHA-256 of the machine sheet that it stands on, hex.
    pub sheet_hash: String,
    /// What hung on the machine while it was measured.
    pub tool: ObservedTool,
    /// Who calibrated, when, with what.
    pub who: String,
    /// Date, ISO 8601.
    pub on: String,
    /// Instruments.
    pub with: String,
    /// The figures that it says something about.
    pub figures: Vec<CalibratedFigure>,
    /// Correlations of the figures, below the diagonal, row after row: (2,1), (3,1), (3,2), …;
    /// zero for a figure without an uncertainty.
    pub correlations: Vec<f64>,
    /// Whether the fit that it comes from could be believed, and why not.
    pub belief: Belief,
    /// Directions that the observations did not settle, in words.
    pub not_determined: Vec<String>,
}

/// One figure of a calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibratedFigure {
    /// Its path through the machine sheet, such as `sensor[S-boom].offset` or `boom.length`.
    pub path: String,
    /// Value on the sheet before.
    pub before: f64,
    /// Value now.
    pub value: f64,
    /// Standard uncertainty now (k = 1); none when the observations did not determine the figure:
    /// its value is then one of many that fit, and where it matters a tooth has no uncertainty.
    pub sd: Option<f64>,
    /// What the figure counts in.
    pub unit: FigureUnit,
}

impl Calibration {
    /// The machine with this calibration on top of its sheet, its correlations carried along.
    ///
    /// The sheet stays as it is. Whether the calibration was made for this very sheet is told by
    /// [`Calibration::sheet_hash`], which only who holds the document can compare.
    ///
    /// # Errors
    ///
    /// `C022` for one that is not believed, `C002` for another machine, `C001` for a figure that the sheet does not
    /// have or that stands twice, `C003` for correlations that no measurement can give, `C004` for a value or an
    /// uncertainty that is no number, and all faults of a sheet with the new values.
    pub fn applied_to(&self, machine: &Machine) -> Result<Machine, Faults> {
        let mut faults = Faults::none();
        let id = &machine.sheet().id;
        if self.machine != *id {
            faults.push(Fault::new(
                "C002",
                "machine",
                format!("a calibration of {:?} for machine {id:?}", self.machine),
                "a calibration of this very machine",
                "choose the calibration that was measured on this machine; two of one type are not alike",
            ));
        }
        if let Belief::NotBelieved(why) = &self.belief {
            faults.push(Fault::new(
                "C022",
                "believed",
                match why.first() {
                    Some(first) => format!("a calibration that is not believed: {first}"),
                    None => "a calibration that is not believed".to_owned(),
                },
                "a calibration whose fit can be believed",
                "mend what the fit names and calibrate again; the sheet as measured is safer than this",
            ));
        }
        for (idx, figure) in self.figures.iter().enumerate() {
            faults.keep(check_figure(figure));
            if self.figures[..idx].iter().any(|f| f.path == figure.path) {
                faults.push(Fault::new(
                    "C001",
                    figure.path.as_str(),
                    "a figure that stands twice",
                    "every figure once",
                    "take the calibration as it was written",
                ));
            }
        }
        faults.or(())?;
        let covariance = self.covariance()?;
        let (known, open): (Vec<_>, Vec<_>) = self.figures.iter().partition(|f| f.sd.is_some());
        let open: Vec<(&str, Measured)> = open
            .iter()
            .map(|f| (f.path.as_str(), Measured::without_sd(f.value)))
            .collect();
        let values: Vec<f64> = known.iter().map(|f| f.value).collect();
        machine
            .with_values(&open)?
            .with_correlated(&values, covariance)
    }

    /// The joint covariance of the figures that have an uncertainty, in the order of the document.
    ///
    /// # Errors
    ///
    /// `C003` when there are not as many correlations as pairs of figures.
    pub fn covariance(&self) -> Result<Correlated, Fault> {
        let n = self.figures.len();
        let want = n * n.saturating_sub(1) / 2;
        if self.correlations.len() != want {
            return Err(Fault::new(
                "C003",
                "correlations",
                format!("{} correlations", self.correlations.len()),
                format!("{want}: one for each pair of {n} figures"),
                "take the calibration as it was written",
            ));
        }
        let known: Vec<usize> = (0..n).filter(|i| self.figures[*i].sd.is_some()).collect();
        let sd = |i: usize| self.figures[i].sd.unwrap_or(f64::NAN);
        let correlation = |a: usize, b: usize| match a.cmp(&b) {
            std::cmp::Ordering::Equal => 1.0,
            std::cmp::Ordering::Greater => self.correlations[a * (a - 1) / 2 + b],
            std::cmp::Ordering::Less => self.correlations[b * (b - 1) / 2 + a],
        };
        let m = known.len();
        Ok(Correlated {
            paths: known
                .iter()
                .map(|i| self.figures[*i].path.clone())
                .collect(),
            covariance: DMatrix::from_fn(m, m, |a, b| {
                let (a, b) = (known[a], known[b]);
                correlation(a, b) * (sd(a) * sd(b))
            }),
        })
    }
}

fn check_figure(figure: &CalibratedFigure) -> Result<(), Fault> {
    let fault = |got: String, want: &str| {
        Err(Fault::new(
            "C004",
            figure.path.as_str(),
            got,
            want,
            "take the calibration as it was written; do not fill a gap with a guess",
        ))
    };
    if !figure.value.is_finite() {
        return fault("a value that is not a number".to_owned(), "a number");
    }
    match figure.sd {
        Some(sd) if !(0.0 < sd && sd < f64::INFINITY) => fault(
            format!("a standard uncertainty of {sd}"),
            "an uncertainty above zero, or none where the observations did not determine the figure",
        ),
        Some(_) | None => Ok(()),
    }
}
