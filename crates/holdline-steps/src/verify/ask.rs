//! What is asked of a check. It goes into the record as its settings, so that the check can be computed again.

use holdline::calibrate::check_shots::Tolerance;
use holdline_geom::fault::{Fault, Faults, Span, number};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::diagnosis::DiagnoseSettings;
use crate::views::{SdPair, ToolAsk, check_sd};

/// What the job allows, shown minus surveyed, m. None was not given: it is asked for, nothing stands in for it.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct ToleranceAsk {
    /// Most above.
    #[serde(default)]
    pub up_m: Option<f64>,
    /// Most below, as an amount.
    #[serde(default)]
    pub down_m: Option<f64>,
    /// In plan, radius.
    #[serde(default)]
    pub plan_m: Option<f64>,
}

/// A shot typed by hand: easting, northing, elevation, m.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct TypedShot {
    /// Its name.
    pub name: String,
    /// As the display shows it.
    #[serde(default)]
    pub shown: [Option<f64>; 3],
    /// As surveyed.
    #[serde(default)]
    pub known: [Option<f64>; 3],
    /// Standard uncertainty of what is shown.
    #[serde(default)]
    pub shown_sd_m: Option<SdPair>,
    /// Standard uncertainty of what is known.
    #[serde(default)]
    pub known_sd_m: Option<SdPair>,
}

/// A full check: shots against survey.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct FullAsk {
    /// Machine, tool, tooth point.
    #[serde(flatten)]
    pub tool: ToolAsk,
    /// Hash of a shots document.
    #[serde(default)]
    pub shots: Option<String>,
    /// Shots typed by hand, where there is no document.
    #[serde(default)]
    pub rows: Option<Vec<TypedShot>>,
    /// Hash of the control document that the survey stands on.
    #[serde(default)]
    pub control: Option<String>,
    /// Standard uncertainty common to all shots (control and set-up), where no control document states it.
    #[serde(default)]
    pub control_sd_m: Option<SdPair>,
    /// Standard uncertainty of one antenna position, for teeth computed from readings.
    #[serde(default)]
    pub position_sd_m: Option<SdPair>,
    /// Standard uncertainty of a heading in the readings, degrees.
    #[serde(default)]
    pub heading_sd_deg: Option<f64>,
    /// The part of the antenna positions' uncertainty that all shots share; none: that of one position counts as
    /// shared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position_common_sd_m: Option<SdPair>,
    /// Observations that the calibration in use was fitted to, by hash; filled in from the job: what was fitted to
    /// proves nothing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fitted_to: Vec<String>,
    /// How the diagnosis that follows is simulated; filled in where shots carry readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diagnose: Option<DiagnoseSettings>,
    /// What the job allows.
    #[serde(default)]
    pub tolerance: ToleranceAsk,
}

/// The morning's entry.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct DailyEntryAsk {
    /// Bench or nail.
    #[serde(default)]
    pub bench: String,
    /// Height as the display shows it, m.
    #[serde(default)]
    pub shown_m: Option<f64>,
    /// Height as known, m.
    #[serde(default)]
    pub known_m: Option<f64>,
    /// Standard uncertainty of the display, m.
    #[serde(default)]
    pub shown_sd_m: Option<f64>,
    /// Standard uncertainty of the bench, m.
    #[serde(default)]
    pub known_sd_m: Option<f64>,
    /// Wear of the tooth since its point was measured, m.
    #[serde(default)]
    pub wear_m: Option<f64>,
    /// `held`, `failed`, `not_tried`, `none_set`; empty counts as not tried.
    #[serde(default)]
    pub limits_tried: String,
    /// `tooth`, `weld`, `sensor`, `tracks`, `frost`, `localization`.
    #[serde(default)]
    pub changes: Vec<String>,
    /// Initials of the person.
    #[serde(default)]
    pub initials: String,
    /// Day, ISO 8601.
    #[serde(default)]
    pub date: Option<String>,
}

/// The morning's check.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct DailyAsk {
    /// Machine, tool, tooth point.
    #[serde(flatten)]
    pub tool: ToolAsk,
    /// What was found.
    pub daily: DailyEntryAsk,
    /// What the job allows.
    #[serde(default)]
    pub tolerance: ToleranceAsk,
    /// Link hash of the entry before on the same bench, filled in when it is recorded.
    #[serde(default)]
    pub before: Option<String>,
    /// Why a full re-check was due already, filled in from the job.
    #[serde(default)]
    pub still_open: Vec<String>,
}

/// Either check, as the page sends it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct VerifyAsk {
    /// The full check's members.
    #[serde(flatten)]
    pub full: FullAsk,
    /// The morning's entry; with it the full check's shots are not looked at.
    #[serde(default)]
    pub daily: Option<DailyEntryAsk>,
}

impl VerifyAsk {
    /// The morning's check, if it is one.
    pub fn as_daily(&self) -> Option<DailyAsk> {
        let daily = self.daily.clone()?;
        let FullAsk {
            tool, tolerance, ..
        } = self.full.clone();
        Some(DailyAsk {
            tool,
            daily,
            tolerance,
            before: None,
            still_open: Vec::new(),
        })
    }
}

const ALLOWED: Span = Span {
    code: "V031",
    what: "what the job allows, as an amount",
    unit: "m",
    min: 0.0,
    max: 2.0,
    fix: "take it from the contract or ask the engineer; millimetres typed as metres look like this",
};

impl ToleranceAsk {
    /// As the core takes it. Height needs both ends.
    ///
    /// # Errors
    ///
    /// `V031` for an amount that cannot be.
    pub fn checked(&self) -> Result<Tolerance, Faults> {
        let mut faults = Faults::none();
        for (word, amount) in [
            ("up_m", self.up_m),
            ("down_m", self.down_m),
            ("plan_m", self.plan_m),
        ] {
            if let Some(amount) = amount {
                faults.keep(ALLOWED.check(&format!("tolerance.{word}"), amount));
            }
        }
        faults.or(Tolerance {
            height_m: self.up_m.zip(self.down_m).map(|(up, down)| [-down, up]),
            plan_m: self.plan_m,
        })
    }
}

impl FullAsk {
    /// Refuses figures that cannot be, all at once.
    ///
    /// # Errors
    ///
    /// `V030`, `V031`, `V032`, `V033`.
    pub fn check(&self) -> Result<Tolerance, Faults> {
        let mut faults = Faults::none();
        let pairs = [
            ("control_sd_m", self.control_sd_m),
            ("position_sd_m", self.position_sd_m),
            ("position_common_sd_m", self.position_common_sd_m),
        ];
        for (word, pair) in pairs {
            if let Some(Err(more)) = pair.map(|pair| pair.check(word)) {
                faults.0.extend(more.0);
            }
        }
        faults.keep(check_sd("heading_sd_deg", self.heading_sd_deg));
        match (&self.shots, &self.rows) {
            (None, None) => faults.push(nothing_to_check("neither a document nor typed rows")),
            (Some(_), Some(_)) => {
                faults.push(nothing_to_check("a document and typed rows as well"))
            }
            (None, Some(rows)) if rows.is_empty() => faults.push(nothing_to_check("no row")),
            (None, Some(rows)) => check_rows(rows, &mut faults),
            (Some(_), None) => {}
        }
        let tolerance = self.tolerance.checked();
        match tolerance {
            Ok(tolerance) => faults.or(tolerance),
            Err(more) => {
                faults.0.extend(more.0);
                Err(faults)
            }
        }
    }
}

fn nothing_to_check(got: &str) -> Fault {
    Fault::new(
        "V032",
        "shots",
        got,
        "a shots document, or rows typed by hand; one of the two",
        "choose the document, or type at least two shots",
    )
}

fn check_rows(rows: &[TypedShot], faults: &mut Faults) {
    for (idx, row) in rows.iter().enumerate() {
        let at = format!("rows[{}]", idx + 1);
        if row.name.trim().is_empty() || rows[..idx].iter().any(|r| r.name == row.name) {
            faults.push(Fault::new(
                "V033",
                format!("{at}.name"),
                format!("{:?}", row.name),
                "a name of its own",
                "name every shot, so that the sheet can say which one is off",
            ));
        }
        for (word, point) in [("shown", row.shown), ("known", row.known)] {
            for (axis, value) in point.iter().enumerate() {
                if value.is_some_and(|v| !(v.abs() <= 1e8)) {
                    let got = value.map_or_else(String::new, number);
                    faults.push(Fault::new(
                        "V033",
                        format!("{at}.{word}[{}]", axis + 1),
                        got,
                        "a coordinate in metres",
                        "type easting, northing, elevation in metres",
                    ));
                }
            }
        }
        if !(0..3).any(|axis| row.shown[axis].is_some() && row.known[axis].is_some()) {
            faults.push(Fault::new(
                "V033",
                at.clone(),
                "nothing both shown and known",
                "at least one coordinate on both sides",
                "type what the display said and what the survey gave, or take the row out",
            ));
        }
        for (word, pair) in [
            ("shown_sd_m", row.shown_sd_m),
            ("known_sd_m", row.known_sd_m),
        ] {
            if let Some(Err(more)) = pair.map(|pair| pair.check(&format!("{at}.{word}"))) {
                faults.0.extend(more.0);
            }
        }
    }
}
