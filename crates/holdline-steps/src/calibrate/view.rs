//! A fit as a person reads it: ready text, made from the record's numbers.

use holdline_geom::measured::Measured;
use holdline_sheet::figure::{Coverage, DEGREES, Kind, Sign, figure, plain, rounded};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::alone::alone_words;
use super::body::{CountsIn, FitBody, FittedBody, Part, ResidualBody, State, ToothSureBody};
use super::names::figure_label;
use crate::units::Units;
use crate::verify::{Answer, RowView, findings_view};
use crate::views::FindingView;

/// What a fit says of one figure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FittedView {
    /// Its path through the machine sheet.
    pub path: String,
    /// What it is.
    pub label: String,
    /// `m` or `deg`.
    pub unit: String,
    /// On the sheet, in `unit`.
    pub before: f64,
    /// Its standard uncertainty there.
    pub before_sd: Option<f64>,
    /// On the sheet, with its uncertainty (k = 2).
    pub before_text: String,
    /// Now, in `unit`.
    pub value: f64,
    /// Its standard uncertainty now; none where it was not determined.
    pub sd: Option<f64>,
    /// Now, with its uncertainty (k = 2).
    pub text: String,
    /// Now less before.
    pub change_text: String,
    /// Whether the observations said something of it: `well`, `partly`, `not`.
    pub seen: Seen,
}

/// Whether observations said something of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// Its uncertainty is less than half of what it was.
    Well,
    /// Less than nine tenths.
    Partly,
    /// Nothing that was not known before.
    Not,
    /// It came along with the uncertainty of the sheet.
    Carried,
    /// It stayed as on the sheet.
    Held,
}

impl Seen {
    pub(crate) fn of(figure: &FittedBody) -> Seen {
        match figure.part {
            Part::Sought => {}
            Part::Carried if figure.sd.is_some() => return Seen::Carried,
            Part::Carried => return Seen::Not,
            Part::Held => return Seen::Held,
        }
        match (figure.before_sd, figure.sd) {
            (_, None) => Seen::Not,
            (None, Some(_)) => Seen::Well,
            (Some(before), Some(now)) if now < 0.5 * before => Seen::Well,
            (Some(before), Some(now)) if now < 0.9 * before => Seen::Partly,
            (Some(_), Some(_)) => Seen::Not,
        }
    }

    /// The word on sheets and in tables.
    pub fn word(self) -> &'static str {
        match self {
            Seen::Well => "",
            Seen::Partly => "partly",
            Seen::Not => "not determined",
            Seen::Carried => "carried along",
            Seen::Held => "held as on the sheet",
        }
    }
}

/// A row of the residuals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ResidualRowView {
    /// The observation.
    pub label: String,
    /// Cells, one a column after the first.
    pub cells: Vec<String>,
    /// What became of it.
    pub state: State,
}

/// The tooth's uncertainty at a working pose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ToothSureView {
    /// `near`, `mid`, `far`.
    pub label: String,
    /// Where, in words.
    pub place_text: String,
    /// By the sheet: forward, left, up (k = 2).
    pub before_text: String,
    /// With the calibration.
    pub text: String,
    /// Standard uncertainties now, m: forward, left, up.
    pub sd_m: Option<[f64; 3]>,
}

/// Drawings of a fit.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct FitDrawings {
    /// Residuals in their own standard uncertainty, SVG.
    pub residuals: String,
    /// Correlations, SVG.
    pub correlations: String,
    /// The tooth's uncertainty before and after, SVG.
    pub tooth: String,
    /// Poses measured, SVG.
    pub poses: String,
}

/// A fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitView {
    /// Whether it can be believed.
    pub outcome: Answer,
    /// The same in words.
    pub words: Vec<String>,
    /// The global test in words.
    pub global: String,
    /// Figures before and after.
    pub figures: Vec<FittedView>,
    /// Heads of the table of residuals; the first is that of the labels.
    pub columns: Vec<String>,
    /// Its rows.
    pub rows: Vec<ResidualRowView>,
    /// What was rejected and why, in the order of rejection.
    pub rejected: Vec<FindingView>,
    /// Observations that cannot be told apart.
    pub inseparable: Vec<String>,
    /// Directions that these observations do not settle.
    pub not_determined: Vec<String>,
    /// Directions of which they say little more than the sheet did.
    pub weak: Vec<String>,
    /// Figures that were found together.
    pub correlated: Vec<String>,
    /// The tooth near, mid and far.
    pub tooth: Vec<ToothSureView>,
    /// What some rows say by themselves, beside the fit (k = 2).
    #[serde(default)]
    pub alone: Vec<String>,
    /// What to do next.
    pub next: Vec<String>,
    /// What to look at.
    pub findings: Vec<FindingView>,
    /// To be read before relying on it.
    pub cautions: Vec<String>,
    /// A name for the calibration document.
    pub calibration_name: String,
    /// The calibration document.
    pub calibration_text: String,
    /// Drawings; empty where none were asked for.
    pub sheets: FitDrawings,
}

/// What a calibration speaks for.
pub const CAUTION_CALIBRATION: &str = "A calibration speaks for the machine and the tool as they were measured that day. Prove it with check shots that it has not seen before anybody relies on it.";

/// A number with one more digit than sheets of lengths show: it is keyed in and computed with.
pub(crate) fn fine(unit: CountsIn, units: Units) -> Kind {
    match unit {
        CountsIn::M => {
            let length = units.length();
            Kind {
                bare_decimals: length.most_decimals + 1,
                most_decimals: length.most_decimals + 1,
                ..length
            }
        }
        CountsIn::Rad => Kind {
            bare_decimals: 3,
            most_decimals: 3,
            ..DEGREES
        },
    }
}

/// Changes and residuals.
pub(crate) fn small(unit: CountsIn, units: Units) -> (Kind, i32) {
    match unit {
        CountsIn::M => (units.difference(), units.small_decimals()),
        CountsIn::Rad => (DEGREES, 3),
    }
}

/// A fit in words.
pub fn fit_view(body: &FitBody, calibration: (String, String), units: Units) -> FitView {
    let global = global_words(body);
    let mut words = vec![outcome_words(body)];
    let n_rejected = body.rejected.len();
    if n_rejected != 0 {
        let what = if n_rejected == 1 {
            "observation was"
        } else {
            "observations were"
        };
        words.push(format!(
            "{n_rejected} {what} rejected; the others did not agree with them."
        ));
    }
    if !body.not_determined.is_empty() {
        words.push(
            "Some directions were not determined: their figures come without an uncertainty."
                .to_owned(),
        );
    }
    FitView {
        outcome: body.believed,
        words,
        global,
        figures: body.figures.iter().map(|f| fitted_view(f, units)).collect(),
        columns: [
            "Observation",
            "Kind",
            "Pose",
            "Off",
            "In sd",
            "Checked",
            "Finds from",
            "At the tooth",
            "Remark",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: body
            .residuals
            .iter()
            .map(|r| residual_row(r, units))
            .collect(),
        rejected: findings_view(&body.rejected),
        inseparable: some_of(&body.inseparable),
        not_determined: body.not_determined.clone(),
        weak: body.weak.clone(),
        alone: body
            .alone
            .iter()
            .flat_map(|one| alone_words(one, units))
            .collect(),
        correlated: correlated(body),
        tooth: body.tooth.iter().map(|t| tooth_view(t, units)).collect(),
        next: body.next.clone(),
        findings: findings_view(&body.findings),
        cautions: vec![CAUTION_CALIBRATION.to_owned()],
        calibration_name: calibration.0,
        calibration_text: calibration.1,
        sheets: FitDrawings::default(),
    }
}

/// How many pairs a person is shown; all of them stand in the record.
const MOST_PAIRS: usize = 3;

/// The first pairs, and how many more there are.
pub(crate) fn some_of(pairs: &[String]) -> Vec<String> {
    let mut shown: Vec<String> = pairs.iter().take(MOST_PAIRS).cloned().collect();
    let more = pairs.len().saturating_sub(MOST_PAIRS);
    if 0 < more {
        shown.push(format!("and {more} more; all of them stand in the record"));
    }
    shown
}

/// Whether a fit can be believed, in a sentence.
pub(crate) fn outcome_words(body: &FitBody) -> String {
    let because = body.because.as_deref().unwrap_or("a figure is missing");
    match body.believed {
        Answer::Pass if body.global.as_ref().is_some_and(|g| g.chi2 < g.bounds[0]) => {
            "Less is left over than the stated uncertainties make: too large ones hide errors, and so do rows that were copied. Nothing else speaks against the fit."
                .to_owned()
        }
        Answer::Pass => {
            "The fit can be believed: what is left over is no more than the stated uncertainties allow."
                .to_owned()
        }
        Answer::Fail => format!("The fit cannot be believed: {because}."),
        Answer::NotShown => format!("Not shown that the fit can be believed: {because}."),
    }
}

/// The global test in words.
pub(crate) fn global_words(body: &FitBody) -> String {
    let Some(test) = &body.global else {
        return "Nothing is left over to test with: there are no more observations than unknowns."
            .to_owned();
    };
    let n = |value: f64| rounded(value, 1, Sign::Minus);
    let [low, high] = test.bounds;
    let said = if test.chi2 < low {
        "less than that: the stated uncertainties are too large, and so are those that come out; or rows were copied"
    } else if test.chi2 <= high {
        "within that"
    } else {
        "more than that: some stated uncertainties are too small, or something is not in the model"
    };
    format!(
        "Left over: {} with {} degrees of freedom; 95 of 100 honest fits lie between {} and {}. It is {said}.",
        n(test.chi2),
        test.dof,
        n(low),
        n(high)
    )
}

fn fitted_view(body: &FittedBody, units: Units) -> FittedView {
    let kind = fine(body.unit, units);
    let text =
        |value: f64, sd: Option<f64>| figure(Measured { value, sd }, &kind, Coverage::Twice).text();
    let (change, decimals) = small(body.unit, units);
    let scale = |value: f64| match body.unit {
        CountsIn::M => value,
        CountsIn::Rad => value.to_degrees(),
    };
    FittedView {
        path: body.path.clone(),
        label: figure_label(&body.path),
        unit: match body.unit {
            CountsIn::M => "m",
            CountsIn::Rad => "deg",
        }
        .to_owned(),
        before: scale(body.before),
        before_sd: body.before_sd.map(scale),
        before_text: text(body.before, body.before_sd),
        value: scale(body.value),
        sd: body.sd.map(scale),
        text: text(body.value, body.sd),
        change_text: plain(body.value - body.before, &change, decimals),
        seen: Seen::of(body),
    }
}

fn residual_row(body: &ResidualBody, units: Units) -> ResidualRowView {
    let (kind, decimals) = small(body.unit, units);
    let none = || "\u{2013}".to_owned();
    let unsigned = Kind {
        sign: Sign::Minus,
        ..kind
    };
    let tooth = units.small();
    let remark = match (body.state, body.twins.as_slice()) {
        (State::Rejected, _) => format!("rejected: {}", body.why),
        (State::Unchecked, _) => "nothing checks it".to_owned(),
        (State::Used, []) => String::new(),
        (State::Used, twins) => format!("not told from {}", twins.join(", ")),
    };
    ResidualRowView {
        label: body.label(),
        cells: vec![
            body.kind.clone(),
            body.pose.clone(),
            body.off
                .map_or_else(none, |off| plain(off, &kind, decimals)),
            body.in_sd.map_or_else(none, |w| rounded(w, 1, Sign::Both)),
            body.redundancy.map_or_else(none, |r| {
                format!("{} %", rounded(100.0 * r, 0, Sign::Minus))
            }),
            body.detectable
                .map_or_else(none, |size| plain(size, &unsigned, decimals)),
            body.at_tooth_m
                .map_or_else(none, |m| plain(m, &tooth, units.small_decimals())),
            remark,
        ],
        state: body.state,
    }
}

/// Said of pairs beyond this.
const STRONG: f64 = 0.9;

/// Pairs of figures that were found together, strongest first.
fn correlated(body: &FitBody) -> Vec<String> {
    let mut pairs = Vec::new();
    let mut at = 0;
    let rows = &body.correlated_rows;
    for row in 1..rows.len() {
        for column in 0..row {
            if let Some(r) = body.correlations.get(at)
                && STRONG <= r.abs()
            {
                pairs.push((rows[row] as usize, rows[column] as usize, *r));
            }
            at += 1;
        }
    }
    pairs.sort_by(|a, b| b.2.abs().total_cmp(&a.2.abs()));
    let label = |idx: usize| {
        let figure = body.figures.get(idx);
        figure.map_or_else(String::new, |figure| figure_label(&figure.path))
    };
    pairs
        .into_iter()
        .map(|(a, b, r)| {
            format!(
                "{} and {}: correlation {}; one is known as well as the other",
                label(b),
                label(a),
                rounded(r, 2, Sign::Both)
            )
        })
        .collect()
}

fn tooth_view(body: &ToothSureBody, units: Units) -> ToothSureView {
    let small = units.small();
    let spread = |sd: Option<[f64; 3]>| match sd {
        None => "no uncertainty: a figure has none stated".to_owned(),
        Some(sd) => {
            let [forward, left, up] = sd.map(|sd| plain(2.0 * sd, &small, units.small_decimals()));
            format!("forward ± {forward}, left ± {left}, up ± {up}")
        }
    };
    let [forward, _, up] = body.at_m.map(|m| plain(m, &units.signed(), 2));
    ToothSureView {
        label: body.name.clone(),
        place_text: format!("{forward} forward, {up} up"),
        before_text: spread(body.before_sd_m),
        text: spread(body.sd_m),
        sd_m: body.sd_m,
    }
}

/// The figures as rows of a table: label, before, now, change, remark.
pub fn figure_rows(view: &FitView) -> Vec<RowView> {
    view.figures
        .iter()
        .map(|f| RowView {
            label: f.label.clone(),
            cells: vec![
                f.before_text.clone(),
                f.text.clone(),
                f.change_text.clone(),
                f.seen.word().to_owned(),
            ],
        })
        .collect()
}
