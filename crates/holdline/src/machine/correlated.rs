//! What a calibration says of several figures together: a machine that carries their covariance.

use super::Machine;
use super::claim::ClaimedBucket;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::hull;
use holdline_geom::measured::Measured;
use nalgebra::DMatrix;
use std::sync::Arc;

/// Covariance of figures that were found together.
///
/// The rest of a machine's figures are independent of these and of each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Correlated {
    /// The figures, by their paths through the sheet.
    pub paths: Vec<String>,
    /// Their covariance, m² and rad² and m·rad, in the same order.
    pub covariance: DMatrix<f64>,
}

impl Correlated {
    /// Whether it can be a covariance: as many rows as paths, symmetric, positive definite, and all
    /// of it numbers.
    ///
    /// # Errors
    ///
    /// `C003` with what it is instead.
    pub fn check(&self) -> Result<(), Fault> {
        let n = self.paths.len();
        let fault = |got: String| {
            Err(Fault::new(
                "C003",
                "correlations",
                got,
                "a covariance: as many rows as figures, symmetric, positive definite",
                "take the calibration as it was written; one that was edited by hand can say what no measurement can",
            ))
        };
        if self.covariance.shape() != (n, n) {
            let (rows, columns) = self.covariance.shape();
            return fault(format!("{rows} × {columns} for {n} figures"));
        }
        if !self.covariance.iter().all(|c| c.is_finite()) {
            return fault("an entry that is not a number".to_owned());
        }
        let sds: Vec<f64> = (0..n).map(|i| self.covariance[(i, i)].sqrt()).collect();
        for (path, sd) in self.paths.iter().zip(&sds) {
            if !(0.0 < *sd && *sd < f64::INFINITY) {
                return fault(format!("{path} with a standard uncertainty of {sd}"));
            }
        }
        let correlation =
            DMatrix::from_fn(n, n, |i, j| self.covariance[(i, j)] / (sds[i] * sds[j]));
        for i in 0..n {
            for j in 0..i {
                let (here, there) = (correlation[(i, j)], correlation[(j, i)]);
                // One is the other but for rounding: else it is no covariance at all.
                let same = (here - there).abs() <= 1e-9;
                if !(same && here.abs() <= 1.0) {
                    return fault(format!(
                        "a correlation of {here} and {there} between {} and {}",
                        self.paths[j], self.paths[i]
                    ));
                }
            }
        }
        if n != 0 && correlation.cholesky().is_none() {
            return fault("correlations that contradict each other".to_owned());
        }
        Ok(())
    }
}

impl Machine {
    /// The same machine with figures found together: their values, and how sure they are jointly.
    ///
    /// The sheet it came from stays as it is; [`Machine::sheet`] of the new one gives the new values
    /// with their own standard uncertainties, and everything that propagates uncertainty counts the
    /// correlations.
    ///
    /// # Errors
    ///
    /// `C001` for a figure that the machine does not have; `C003` as [`Correlated::check`];
    /// all faults of a sheet with the new values.
    pub fn with_correlated(
        &self,
        values: &[f64],
        correlated: Correlated,
    ) -> Result<Machine, Faults> {
        correlated.check()?;
        let figures: Vec<(&str, Measured)> = correlated
            .paths
            .iter()
            .zip(values)
            .enumerate()
            .map(|(i, (path, value))| {
                let sd = correlated.covariance[(i, i)].sqrt();
                (path.as_str(), Measured::with_sd(*value, sd))
            })
            .collect();
        let mut machine = self.with_values(&figures)?;
        machine.correlated = Some(Arc::new(correlated));
        Ok(machine)
    }

    /// The same machine with other values for some figures, each independent of all others.
    ///
    /// A bucket's solid is widened where a tip now stands outside it, and never narrowed.
    ///
    /// # Errors
    ///
    /// `C001` for a figure that the machine does not have; all faults of a sheet with the new values.
    pub fn with_values(&self, figures: &[(&str, Measured)]) -> Result<Machine, Faults> {
        match self.sheet().with_figures(figures) {
            Ok(mut sheet) => {
                sheet.buckets.iter_mut().for_each(around_tips);
                Machine::measured_up(sheet)
            }
            Err(unknown) => Err(Faults(unknown.iter().map(|path| no_such(path)).collect())),
        }
    }

    /// What a calibration said of several figures together; none for a machine by its sheet alone.
    pub fn correlated(&self) -> Option<&Correlated> {
        self.correlated.as_deref()
    }
}

/// Widens a bucket's outline and width so that they hold its tips.
fn around_tips(bucket: &mut ClaimedBucket) {
    if bucket.outline_m.len() < 3 {
        return; // said when it is measured up
    }
    for tooth in &bucket.teeth {
        let [x, y, z] = [&tooth.at.x, &tooth.at.y, &tooth.at.z].map(|c| c.value);
        if 0.0 < hull::distance_outside(&bucket.outline_m, [x, z]) {
            let away = |p: &[f64; 2]| (p[0] - x).hypot(p[1] - z);
            let nearest = (0..bucket.outline_m.len())
                .min_by(|a, b| away(&bucket.outline_m[*a]).total_cmp(&away(&bucket.outline_m[*b])));
            bucket
                .outline_m
                .insert(nearest.map_or(0, |idx| idx + 1), [x, z]);
        }
        if bucket.width.value / 2.0 < y.abs() && y.is_finite() {
            bucket.width.value = 2.0 * y.abs();
        }
    }
}

fn no_such(path: &str) -> Fault {
    Fault::new(
        "C001",
        path,
        "a figure that this machine sheet does not have",
        "the path of a figure on the sheet, such as boom.length or sensor[S-boom].offset",
        "look whether the calibration belongs to this machine, and whether a bucket, sensor or antenna was renamed on the sheet",
    )
}
