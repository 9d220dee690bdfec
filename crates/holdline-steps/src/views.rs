//! Shapes that many answers share: a fault, a figure with ready text, a finding, a tool.

use holdline::machine::front::ToolChoice;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use holdline_sheet::figure::{Coverage, Kind, NONE_STATED, figure};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A fault as both faces give it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaultView {
    /// Code, for `holdline explain`.
    pub code: String,
    /// Path through the document or form.
    pub at: String,
    /// What was found.
    pub got: String,
    /// What would do.
    pub want: String,
    /// The next step.
    pub fix: String,
    /// File, as the person named it.
    pub file: Option<String>,
    /// Line, from 1.
    pub line: Option<usize>,
    /// Column, from 1.
    pub column: Option<usize>,
}

/// All faults at once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaultsView {
    /// In the order of the file or form.
    pub faults: Vec<FaultView>,
}

impl From<&Fault> for FaultView {
    fn from(fault: &Fault) -> FaultView {
        FaultView {
            code: fault.code.to_owned(),
            at: fault.at.clone(),
            got: fault.got.clone(),
            want: fault.want.clone(),
            fix: fault.fix.clone(),
            file: fault.place.as_ref().map(|place| place.file.clone()),
            line: fault.place.as_ref().map(|place| place.line),
            column: fault.place.as_ref().map(|place| place.column),
        }
    }
}

impl From<&Faults> for FaultsView {
    fn from(faults: &Faults) -> FaultsView {
        FaultsView {
            faults: faults.0.iter().map(FaultView::from).collect(),
        }
    }
}

/// A figure with its text ready for a person, and the numbers for a program.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FigureView {
    /// Heading that it stands under; may be empty.
    pub group: String,
    /// What it is.
    pub label: String,
    /// Value and unit.
    pub text: String,
    /// Value in `unit`; none where there is no number.
    pub value: Option<f64>,
    /// Unit of `value` and `sd`.
    pub unit: String,
    /// Standard uncertainty, k = 1; none where it is not stated.
    pub sd: Option<f64>,
    /// `± …` (k = 2), or in words that none is stated; empty for what has none by nature.
    pub uncertainty_text: String,
}

impl FigureView {
    /// A measured figure. `measured` is in metres or radians, as `kind` expects.
    pub fn measured(group: &str, label: &str, measured: Measured, kind: &Kind) -> FigureView {
        let printed = figure(measured, kind, Coverage::Twice);
        let degrees = kind.unit == "°";
        let shown = |si: f64| if degrees { si.to_degrees() } else { si };
        FigureView {
            group: group.to_owned(),
            label: label.to_owned(),
            text: printed.value_and_unit(),
            value: Some(shown(measured.value)).filter(|v| v.is_finite()),
            unit: si_unit(kind).to_owned(),
            sd: measured.sd.map(shown).filter(|sd| sd.is_finite()),
            uncertainty_text: printed.uncertainty,
        }
    }

    /// Words, or a number without uncertainty by nature, such as a count.
    pub fn words(group: &str, label: &str, text: impl Into<String>) -> FigureView {
        FigureView {
            group: group.to_owned(),
            label: label.to_owned(),
            text: text.into(),
            value: None,
            unit: String::new(),
            sd: None,
            uncertainty_text: String::new(),
        }
    }

    /// Value and uncertainty on one line.
    pub fn text_with_uncertainty(&self) -> String {
        match self.uncertainty_text.as_str() {
            "" => self.text.clone(),
            NONE_STATED => format!("{}, {NONE_STATED}", self.text),
            said => format!("{} {said}", self.text),
        }
    }

    /// The same with a reason for the missing uncertainty behind it.
    #[must_use]
    pub fn because(mut self, why: &str) -> FigureView {
        if self.uncertainty_text == NONE_STATED && !why.is_empty() {
            self.uncertainty_text = format!("{NONE_STATED} ({why})");
        }
        self
    }
}

fn si_unit(kind: &Kind) -> &'static str {
    match kind.unit {
        "°" => "deg",
        "kg" => "kg",
        "" => "",
        _ => "m",
    }
}

/// Something a person must look at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FindingView {
    /// Code, for `holdline explain`.
    pub code: String,
    /// What, with the figure.
    pub text: String,
    /// Which shot, joint or entry.
    #[serde(rename = "where")]
    pub place: String,
}

impl FindingView {
    /// A finding from a fault that does not stop the answer.
    pub fn of_fault(fault: &Fault) -> FindingView {
        FindingView {
            code: fault.code.to_owned(),
            text: format!("{}; {}", fault.got, fault.fix),
            place: fault.at.clone(),
        }
    }
}

/// What hangs on the machine, and which point is the tooth.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct ToolAsk {
    /// Hash of the machine sheet in the job; empty where the sheet is given in another way.
    #[serde(default)]
    pub machine: String,
    /// Hash of the calibration that is applied on top of the sheet; none uses the sheet as it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration: Option<String>,
    /// Coupler, or none for a bucket pinned on directly.
    #[serde(default)]
    pub coupler: Option<String>,
    /// Tilting device.
    #[serde(default)]
    pub tilt: Option<String>,
    /// Bucket.
    #[serde(default)]
    pub bucket: String,
    /// Tooth point.
    #[serde(default)]
    pub tooth: String,
}

impl ToolAsk {
    /// The choice as the core takes it. An empty name is none.
    pub fn choice(&self) -> ToolChoice {
        let named = |name: &Option<String>| name.clone().filter(|n| !n.is_empty());
        ToolChoice {
            coupler: named(&self.coupler),
            tilt: named(&self.tilt),
            bucket: self.bucket.clone(),
            tooth: self.tooth.clone(),
        }
    }

    /// The machine as a title block names it, with its calibration.
    pub fn machine_in_words(&self, id: &str) -> String {
        match self.calibration_in_words().as_str() {
            "" => id.to_owned(),
            words => format!("{id}, {words}"),
        }
    }

    /// `calibration 1f0c2a9b8d7e`, by the first letters of its hash; empty where there is none.
    pub fn calibration_in_words(&self) -> String {
        self.calibration
            .as_deref()
            .map_or_else(String::new, |hash| {
                format!("calibration {}", hash.get(..12).unwrap_or(hash))
            })
    }

    /// The bucket with what it hangs on: `T75 on QC-demo`.
    pub fn bucket_in_words(&self) -> String {
        let choice = self.choice();
        let hung = [choice.tilt, choice.coupler].into_iter().flatten();
        hung.fold(choice.bucket, |words, hung| format!("{words} on {hung}"))
    }

    /// In a few words: `T75 on QC-demo, centre tooth point`.
    pub fn in_words(&self) -> String {
        let words = self.bucket_in_words();
        if self.tooth.is_empty() {
            words
        } else {
            format!("{words}, {} tooth point", self.tooth)
        }
    }
}

/// Standard uncertainties (k = 1), m; none was not stated and counts as unknown.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct SdPair {
    /// Of easting and of northing.
    #[serde(default)]
    pub h: Option<f64>,
    /// Of elevation.
    #[serde(default)]
    pub v: Option<f64>,
}

impl SdPair {
    /// One an axis: easting, northing, elevation.
    pub fn axes(&self) -> [Option<f64>; 3] {
        [self.h, self.h, self.v]
    }

    /// Refuses what is no standard uncertainty: negative, zero, not finite.
    ///
    /// # Errors
    ///
    /// `V030` with the place.
    pub fn check(&self, at: &str) -> Result<(), Faults> {
        let mut faults = Faults::none();
        for (word, sd) in [("h", self.h), ("v", self.v)] {
            faults.keep(check_sd(&format!("{at}.{word}"), sd));
        }
        faults.or(())
    }
}

/// A standard uncertainty that may be missing, but not nonsense.
///
/// # Errors
///
/// `V030` for zero, negative or not finite.
pub fn check_sd(at: &str, sd: Option<f64>) -> Result<Option<f64>, Fault> {
    match sd {
        Some(value) if !(value.is_finite() && 0.0 < value) => Err(Fault::new(
            "V030",
            at,
            holdline_geom::fault::number(value),
            "a standard uncertainty above zero, or none",
            "leave it empty if nobody knows it; zero would say that it is exact",
        )),
        known => Ok(known),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdline_sheet::figure::{DEGREES, METRES};

    #[test]
    fn a_figure_has_text_and_numbers() {
        let sure = FigureView::measured("g", "l", Measured::with_sd(1.5, 0.005), &METRES);
        assert_eq!(
            (sure.text.as_str(), sure.uncertainty_text.as_str()),
            ("1.500 m", "± 0.010")
        );
        assert_eq!(
            (sure.value, sure.sd, sure.unit.as_str()),
            (Some(1.5), Some(0.005), "m")
        );
        let bare = FigureView::measured("", "", Measured::without_sd(f64::NAN), &METRES);
        assert_eq!((bare.value, bare.text.as_str()), (None, "not known"));
        let angle =
            FigureView::measured("", "", Measured::without_sd(1_f64.to_radians()), &DEGREES);
        assert!((angle.value.unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(
            angle.because("typed").uncertainty_text,
            "no uncertainty stated (typed)"
        );
    }

    #[test]
    fn a_tool_in_words() {
        let tool = ToolAsk {
            coupler: Some("QC".into()),
            bucket: "T75".into(),
            tooth: "left".into(),
            ..ToolAsk::default()
        };
        assert_eq!(tool.in_words(), "T75 on QC, left tooth point");
        let none = ToolAsk {
            coupler: Some(String::new()),
            ..tool
        };
        assert_eq!(none.choice().coupler, None);
    }

    #[test]
    fn zero_is_no_uncertainty() {
        for bad in [0.0, -0.1, f64::NAN, f64::INFINITY] {
            assert_eq!(check_sd("x", Some(bad)).unwrap_err().code, "V030");
        }
        assert_eq!(check_sd("x", None), Ok(None));
    }
}
