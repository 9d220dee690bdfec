//! What is asked of a fit.

/// What is asked of a fit, beside the machine and what was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct FitAsk {
    /// Figures to be found, by path, by the path they lie under, or by group; see
    /// [`crate::calibrate::unknowns::GROUPS`]. Empty: all that the observations touch.
    ///
    /// What is not named but has an uncertainty on the sheet is carried along with it, and comes out
    /// with the others; what has none there counts as exact, and that is told.
    pub solve: Vec<String>,
    /// Figures that stay exactly as on the sheet, named as above. They take nothing up.
    pub hold: Vec<String>,
    /// Tooth point that the uncertainty at the tooth is told for; the first of the bucket where none is
    /// named.
    pub tooth: Option<String>,
    /// Standard uncertainty of a heading that was read, rad.
    pub heading_sd_rad: Option<f64>,
    /// Standard uncertainty of an antenna position: east, north, up, m.
    pub antenna_sd_m: [Option<f64>; 3],
    /// Whether gross errors are looked for and taken out, one at a time; else all observations count.
    pub gross_errors: GrossErrors,
    /// Level of the global test: how often it fails where everything is as stated.
    pub level: f64,
    /// Seed of the places from which the search begins again where it ends badly.
    pub seed: u64,
}

/// What is done about gross errors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GrossErrors {
    /// Taken out, the largest first, one at a time.
    TakeOut,
    /// Every observation counts.
    KeepAll,
}

impl Default for FitAsk {
    fn default() -> FitAsk {
        FitAsk {
            solve: Vec::new(),
            hold: Vec::new(),
            tooth: None,
            heading_sd_rad: None,
            antenna_sd_m: [None; 3],
            gross_errors: GrossErrors::TakeOut,
            level: 0.05,
            seed: 20_251_201,
        }
    }
}
