//! What a diagnosis is asked: shots, their uncertainties, and how the simulation runs.

use crate::calibrate::check_shots::CommonSd;
use crate::tooth::readings::Readings;
use holdline_geom::measured::Measured;

/// A check shot with what the machine read while it was made.
#[derive(Debug, Clone, PartialEq)]
pub struct DiagnosedShot {
    /// Its name.
    pub name: String,
    /// The tooth point shot; none for the one that the model was chosen with.
    pub tooth: Option<String>,
    /// What the sensors and antennas read, in the order of the sheet, each with the uncertainty of one reading;
    /// none where only the display was written down.
    pub readings: Option<Readings<Measured>>,
    /// The tooth as the display showed it: easting, northing, elevation, m. All none: computed from the readings.
    pub shown_m: [Option<Measured>; 3],
    /// The tooth as surveyed, m.
    pub surveyed_m: [Option<Measured>; 3],
    /// Velocity of the tooth when it was read, east, north, up, m/s; none for a tooth at rest.
    pub velocity_m_s: Option<[f64; 3]>,
    /// How the bucket was held.
    pub held: Option<Held>,
}

/// Which way the play in the pins was taken up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// The bucket hung free.
    Hanging,
    /// The tooth stood on the ground and carried weight.
    Standing,
}

/// How the diagnosis is to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct DiagnoseAsk {
    /// Uncertainty of the control and of the set-up, the same in every shot (k = 1), m.
    /// Not stated along an axis: a shift along it can then not be told from the control's own error.
    pub common_sd_m: CommonSd,
    /// The part of the antennas' positions that is the same in every shot, m: a satellite fix wanders over minutes.
    /// Not stated, and shots computed from antennas: the stated uncertainty of one position is taken as common too.
    pub position_common_sd_m: CommonSd,
    /// Seed of the simulation.
    pub seed: u64,
    /// Draws of the simulation.
    pub n_draws: usize,
    /// In how many of a hundred healthy machines something may be called wrong, as a share.
    pub level: f64,
    /// How many further shots to propose at most.
    pub n_next: usize,
}

/// Fewer draws than this leave the critical value too rough.
pub const DRAWS_AT_LEAST: usize = 20_000;

/// The usual level: with the rounding of the simulation, fewer than 5 in 100 healthy machines are called faulty.
pub const LEVEL: f64 = 0.04;

impl Default for DiagnoseAsk {
    fn default() -> DiagnoseAsk {
        DiagnoseAsk {
            common_sd_m: [None; 3],
            position_common_sd_m: [None; 3],
            seed: 1,
            n_draws: DRAWS_AT_LEAST,
            level: LEVEL,
            n_next: 2,
        }
    }
}
