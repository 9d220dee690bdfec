//! The calibration in the terms of the control system at hand, and the proof that the numbers do the same.
//!
//! A person describes the entries once ([`terms`]); the calibration comes out as those numbers.
//! Rounding costs something, and an entry that is not there costs more: both are shown at the tooth.

pub mod explain;
mod keyed;
mod proof;
mod quantity;
mod read_back;
pub mod terms;

use super::calibration::Calibration;
use super::check_shots::Finding;
use super::decision::Decision;
use super::working_poses::working_poses;
use crate::machine::Machine;
use crate::machine::figures::FigureUnit;
use crate::machine::front::ToolChoice;
use crate::machine::joints::Joints;
use crate::tooth::attitude::Lean;
use holdline_geom::fault::{Fault, Faults};
use holdline_geom::measured::Measured;
use keyed::{Keyed, check_described, keyed, says};
use proof::{Prover, ToothAt, worst_m};
use quantity::{Context, dimension, in_words, value};
use read_back::{Condition, FigureValue, read_back, slopes};
use terms::{Dimension, Entry, EntryUnit, Terms};

/// An effect at the tooth below this is not worth a line, m.
pub const WORTH_A_LINE_M: f64 = 0.0001;

/// The calibration as numbers to key, and what they do.
#[derive(Debug, Clone, PartialEq)]
pub struct HandOver {
    /// Tool and tooth point at which effects are shown.
    pub tool: ToolChoice,
    /// The entries in the order in which they are keyed.
    pub entries: Vec<KeyedEntry>,
    /// What the calibration changed and no entry takes, the largest at the tooth first.
    pub not_carried: Vec<NotCarried>,
    /// The tooth read back near, mid and far.
    pub proof: Vec<ReadBack>,
    /// Whether the display may differ by what it does.
    pub decision: Decision,
    /// What to look at.
    pub findings: Vec<Finding>,
}

/// An entry with its number.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyedEntry {
    /// Its label.
    pub label: String,
    /// What it is on the machine, in words.
    pub stands_for: String,
    /// What it counts in.
    pub unit: EntryUnit,
    /// The number before rounding, in that unit.
    pub exact: f64,
    /// The number that the sheet alone would give, in that unit.
    pub before: f64,
    /// The number as it is keyed; none when its range does not allow it.
    pub number: Option<String>,
    /// What the rounding moves at the tooth at the worst of the poses, m; none when it is not keyed or not known.
    pub rounding_m: Option<f64>,
    /// Why it cannot be keyed, or what is not described; may be empty.
    pub remark: String,
}

/// A figure whose change no entry takes over.
#[derive(Debug, Clone, PartialEq)]
pub struct NotCarried {
    /// Its path through the sheet.
    pub path: String,
    /// Value on the sheet, which the system is taken to keep.
    pub before: f64,
    /// Value by the calibration.
    pub value: f64,
    /// What it counts in.
    pub unit: FigureUnit,
    /// How much of it no entry takes.
    pub part: Part,
    /// What that moves at the tooth at the worst of the poses, m; none when the tooth cannot be worked out with it.
    pub at_tooth_m: Option<f64>,
}

/// How much of a figure no entry takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// No entry looks at it.
    All,
    /// Entries look at it, but not at all that it does.
    Some,
}

/// The tooth at one pose, by the calibration and by the numbers keyed, from the same readings.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadBack {
    /// `near`, `mid`, `far`.
    pub name: String,
    /// The pose.
    pub joints: Joints,
    /// Pitch and roll of the house.
    pub lean: Lean,
    /// By the calibration: forward, left, up over the swing axis at track ground level, m.
    pub calibrated_m: [f64; 3],
    /// By the numbers keyed; none when they give no tooth.
    pub keyed_m: Option<[f64; 3]>,
    /// On the site, keyed less calibrated: easting, northing, elevation, m; none without antennas.
    pub site_difference_m: Option<[f64; 3]>,
    /// How far apart the two are: the larger of machine and site, m.
    pub apart_m: Option<f64>,
    /// The part of it that rounding alone makes, m.
    pub rounding_m: Option<f64>,
}

/// The calibration in a control system's own terms.
///
/// Used by `holdline calibrate hand-over`.
///
/// ```text
/// number = sign · (quantity − zero), in the entry's unit, to the nearest whole step
/// ```
///
/// - The proof parses the texts of the numbers, puts them back into the machine sheet, and works the tooth out from the
///   same readings: what has no entry stays as on the sheet.
/// - Poses: [`working_poses`], the house leaning a little. Effects: the larger of machine and site.
/// - Units: m, rad; the numbers in each entry's own unit.
///
/// # Errors
///
/// All at once: `H001` to `H009` for what a person described, and the faults of the calibration, tool and pose.
///
/// # Caution
///
/// A person keys the numbers. Only shots with the numbers keyed prove that they arrived.
pub fn hand_over(
    machine: &Machine,
    calibration: &Calibration,
    terms: &Terms,
    allowed_m: Option<f64>,
) -> Result<HandOver, Faults> {
    let tool = check_terms(machine, terms)?;
    let calibrated = calibration.applied_to(machine)?;
    let entries = quantities(machine, &calibrated, terms)?;
    let changed: Vec<&str> = calibration
        .figures
        .iter()
        .map(|f| f.path.as_str())
        .collect();
    let sheet: Vec<FigureValue> = machine
        .sheet()
        .figures()
        .into_iter()
        .map(|figure| FigureValue {
            calibrated: changed.contains(&figure.path.as_str()),
            path: figure.path,
            value: figure.measured.value,
        })
        .collect();
    let work = Work {
        machine,
        context: context(machine, terms),
        sheet,
        entries,
        prover: Prover::new(&calibrated, &tool, working_poses(&calibrated, &tool)?)?,
        calibrated,
    };
    work.handed_over(calibration, tool, allowed_m)
}

/// An entry with what it stands for, before and after.
struct Looked<'a> {
    entry: &'a Entry,
    dimension: Dimension,
    before: f64,
    now: f64,
    keyed: Keyed,
}

impl Looked<'_> {
    /// Whether the number goes into the system. A range that nobody described is taken to hold it, and said.
    fn goes_in(&self) -> bool {
        self.keyed.in_range.unwrap_or(true)
    }
}

/// Everything the answer is made from.
struct Work<'a> {
    machine: &'a Machine,
    calibrated: Machine,
    context: Context<'a>,
    sheet: Vec<FigureValue>,
    entries: Vec<Looked<'a>>,
    prover: Prover,
}

/// Tool, machine, labels.
fn check_terms(machine: &Machine, terms: &Terms) -> Result<ToolChoice, Faults> {
    let mut faults = Faults::none();
    let id = &machine.sheet().id;
    if !terms.machine.is_empty() && terms.machine != *id {
        faults.push(Fault::new(
            "H008",
            "machine",
            format!("terms of {:?} for machine {id:?}", terms.machine),
            "the entries of the system on this very machine",
            "describe the entries of this machine; two systems of one type may be set up differently",
        ));
    }
    if terms.entries.is_empty() {
        faults.push(Fault::new(
            "H007",
            "entry",
            "no entries",
            "one [[entry]] for each number that the system asks for",
            "go through the system's own pages once and write down every entry",
        ));
    }
    for (idx, entry) in terms.entries.iter().enumerate() {
        if terms.entries[..idx].iter().any(|e| e.label == entry.label) {
            faults.push(Fault::new(
                "H006",
                format!("entry[{}].label", entry.label),
                "a label that stands twice",
                "every label once",
                "add the page or the line on which the second one stands",
            ));
        }
    }
    let tool = ToolChoice {
        coupler: terms.tool.coupler.clone(),
        tilt: terms.tool.tilt.clone(),
        bucket: terms.tool.bucket.clone(),
        tooth: if terms.tooth.is_empty() {
            "centre".to_owned()
        } else {
            terms.tooth.clone()
        },
    };
    faults.keep(machine.front(&tool));
    faults.or(())?;
    Ok(tool)
}

/// Every entry looked up on the sheet and on the calibrated machine.
fn quantities<'a>(
    machine: &Machine,
    calibrated: &Machine,
    terms: &'a Terms,
) -> Result<Vec<Looked<'a>>, Faults> {
    let mut faults = Faults::none();
    let mut looked = Vec::new();
    for entry in &terms.entries {
        match looked_up(machine, calibrated, terms, entry) {
            Ok(one) => looked.push(one),
            Err(why) => why.0.into_iter().for_each(|fault| faults.push(fault)),
        }
    }
    faults.or(looked)
}

fn context<'a>(machine: &'a Machine, terms: &'a Terms) -> Context<'a> {
    Context {
        sheet: machine.sheet(),
        tool: &terms.tool,
    }
}

fn looked_up<'a>(
    machine: &Machine,
    calibrated: &Machine,
    terms: &Terms,
    entry: &'a Entry,
) -> Result<Looked<'a>, Faults> {
    let here = |mut fault: Fault| {
        fault.at = format!("entry[{}]", entry.label);
        Faults(vec![fault])
    };
    let of = |machine: &Machine| -> Result<f64, Fault> {
        let figures = machine.sheet().figures();
        let mut look = |path: &str| {
            let figure = figures.iter().find(|figure| figure.path == path)?;
            Some(figure.measured.value)
        };
        value(&context(machine, terms), &entry.quantity, &mut look)
    };
    let dimension = dimension(&context(machine, terms), &entry.quantity).map_err(here)?;
    let described = check_described(entry, dimension);
    if !described.is_empty() {
        return Err(Faults(described));
    }
    let (before, now) = (of(machine).map_err(here)?, of(calibrated).map_err(here)?);
    match keyed(entry, now) {
        Some(keyed) => Ok(Looked {
            entry,
            dimension,
            before,
            now,
            keyed,
        }),
        None => Err(here(Fault::new(
            "H009",
            "entry",
            format!("{now} as its value"),
            "a number",
            "look at the figures that it is made from",
        ))),
    }
}

impl Work<'_> {
    fn handed_over(
        self,
        calibration: &Calibration,
        tool: ToolChoice,
        allowed_m: Option<f64>,
    ) -> Result<HandOver, Faults> {
        let exact = self.conditions(|one| one.now);
        let rounded = self.conditions(|one| one.keyed.says);
        let exact_figures = self.figures_of(&exact, &self.sheet)?;
        let keyed_figures = self.figures_of(&rounded, &self.sheet)?;
        let by_exact = self.teeth(&exact_figures);
        let by_keyed = self.teeth(&keyed_figures);
        let entries = self.keyed_entries(&exact, &exact_figures, &by_exact)?;
        let not_carried = self.not_carried(calibration, &exact, &exact_figures)?;
        let proof = self.prover.read_back(&by_keyed, &by_exact);
        let findings = self.findings(&entries, &not_carried);
        Ok(HandOver {
            tool,
            entries,
            not_carried,
            decision: match findings.iter().find(|found| found.code == "H020") {
                // What the system keeps instead is not known: the sheet's value there is a guess.
                Some(out) => Decision::not_shown(&format!(
                    "the entry {:?} cannot be keyed in, and what stands there instead is not known",
                    out.at
                )),
                None => decide(&proof, &self.prover.without_tooth, allowed_m),
            },
            proof,
            findings,
        })
    }

    /// What the entries that go in say, by `of`.
    fn conditions(&self, of: impl Fn(&Looked<'_>) -> f64) -> Vec<Condition<'_>> {
        let goes = self.entries.iter().filter(|one| one.goes_in());
        goes.map(|one| Condition {
            quantity: &one.entry.quantity,
            dimension: one.dimension,
            value: of(one),
            step: step_of(one),
        })
        .collect()
    }

    fn figures_of(
        &self,
        conditions: &[Condition<'_>],
        from: &[FigureValue],
    ) -> Result<Vec<FigureValue>, Fault> {
        let mut figures = from.to_vec();
        read_back(&self.context, conditions, &mut figures)?;
        Ok(figures)
    }

    /// The tooth at every pose with these figures on the sheet.
    fn teeth(&self, figures: &[FigureValue]) -> Vec<Option<ToothAt>> {
        let sheet = self.machine.sheet().figures();
        let other: Vec<(&str, Measured)> = figures
            .iter()
            .zip(&sheet)
            .filter(|(new, old)| new.value != old.measured.value)
            .map(|(new, old)| {
                let value = new.value;
                (
                    new.path.as_str(),
                    Measured {
                        value,
                        ..old.measured
                    },
                )
            })
            .collect();
        match self.machine.with_values(&other) {
            Ok(machine) => self.prover.teeth(&machine),
            Err(_) => self.prover.no_teeth(),
        }
    }

    /// The numbers, and what the rounding of each one alone does at the tooth.
    fn keyed_entries(
        &self,
        exact: &[Condition<'_>],
        exact_figures: &[FigureValue],
        by_exact: &[Option<ToothAt>],
    ) -> Result<Vec<KeyedEntry>, Fault> {
        let mut place = 0;
        let mut all = Vec::new();
        for one in &self.entries {
            let mut rounding_m = None;
            if one.goes_in() {
                let mut conditions = exact.to_vec();
                conditions[place].value = one.keyed.says;
                place += 1;
                let figures = self.figures_of(&conditions, exact_figures)?;
                rounding_m = worst_m(&self.teeth(&figures), by_exact);
            }
            let sign = one.entry.sign.factor();
            all.push(KeyedEntry {
                label: one.entry.label.clone(),
                stands_for: in_words(&one.entry.quantity),
                unit: one.entry.unit,
                exact: one.keyed.exact,
                before: keyed(one.entry, one.before).map_or(
                    one.entry.unit.of_si(sign * (one.before - one.entry.zero)),
                    |before| before.exact,
                ),
                number: one.goes_in().then(|| one.keyed.text.clone()),
                rounding_m,
                remark: remark(one),
            });
        }
        Ok(all)
    }

    /// What the calibration changed and the numbers, even unrounded, do not take over.
    fn not_carried(
        &self,
        calibration: &Calibration,
        exact: &[Condition<'_>],
        exact_figures: &[FigureValue],
    ) -> Result<Vec<NotCarried>, Fault> {
        let slopes = slopes(&self.context, exact, exact_figures)?;
        let idx_of = |path: &str| self.sheet.iter().position(|f| f.path == path);
        let looked_at = |idx: usize| slopes.column(idx).iter().any(|slope| 1e-9 < slope.abs());
        let whole: Vec<FigureValue> = self.all_calibrated(calibration);
        let by_calibration = self.teeth(&whole);
        // With all that nobody looks at put right, what is still off is what entries take only in part.
        let mut rest = exact_figures.to_vec();
        for figure in &calibration.figures {
            if let Some(idx) = idx_of(&figure.path).filter(|idx| !looked_at(*idx)) {
                rest[idx].value = figure.value;
            }
        }
        let in_part = match worst_m(&self.teeth(&rest), &by_calibration) {
            Some(off_m) => WORTH_A_LINE_M < off_m,
            None => true,
        };
        let mut all = Vec::new();
        for figure in &calibration.figures {
            let Some(idx) = idx_of(&figure.path) else {
                continue;
            };
            let (part, kept) = match looked_at(idx) {
                false => (Part::All, figure.before),
                true if in_part => (Part::Some, exact_figures[idx].value),
                true => continue,
            };
            if figure.value == kept {
                continue;
            }
            let mut without = whole.clone();
            without[idx].value = kept;
            let at_tooth_m = worst_m(&self.teeth(&without), &by_calibration);
            let small = at_tooth_m.is_some_and(|m| m <= WORTH_A_LINE_M);
            if part == Part::Some && small {
                continue;
            }
            all.push(NotCarried {
                path: figure.path.clone(),
                before: figure.before,
                value: figure.value,
                unit: figure.unit,
                part,
                at_tooth_m,
            });
        }
        // What is not known stands first.
        let size = |one: &NotCarried| one.at_tooth_m.unwrap_or(f64::INFINITY);
        all.sort_by(|a, b| size(b).total_cmp(&size(a)));
        Ok(all)
    }

    fn all_calibrated(&self, calibration: &Calibration) -> Vec<FigureValue> {
        let mut figures = self.sheet.clone();
        for figure in &mut figures {
            if let Some(new) = calibration.figures.iter().find(|f| f.path == figure.path) {
                figure.value = new.value;
            }
        }
        figures
    }

    fn findings(&self, entries: &[KeyedEntry], not_carried: &[NotCarried]) -> Vec<Finding> {
        let mut found = Vec::new();
        for (one, entry) in self.entries.iter().zip(entries) {
            if !entry.remark.is_empty() {
                let code = if one.goes_in() { "H021" } else { "H020" };
                found.push(finding(code, &entry.label, entry.remark.clone()));
            }
        }
        for one in not_carried {
            let part = match one.part {
                Part::All => "no entry takes it over",
                Part::Some => "the entries take only part of it over",
            };
            let cost = match one.at_tooth_m {
                Some(m) => format!("{:.1} mm at the tooth", m * 1000.0),
                None => "its effect at the tooth is not known".to_owned(),
            };
            found.push(finding("H022", &one.path, format!("{part}: {cost}")));
        }
        for figure in self.calibrated.sheet().figures() {
            let open = figure.measured.sd.is_none() && self.is_new(&figure.path);
            if open {
                let what = "the calibration did not determine it: the number keyed is one of many that fit";
                found.push(finding("H023", &figure.path, what.to_owned()));
            }
        }
        found
    }

    fn is_new(&self, path: &str) -> bool {
        self.sheet.iter().any(|f| f.path == path && f.calibrated)
    }
}

/// One step of an entry in our unit, at its number.
fn step_of(one: &Looked<'_>) -> f64 {
    let number = one.keyed.exact;
    let step = one.entry.resolution.unwrap_or(f64::NAN);
    (says(one.entry, number + step) - says(one.entry, number)).abs()
}

fn remark(one: &Looked<'_>) -> String {
    match (one.entry.range, one.goes_in()) {
        (Some([min, max]), false) => format!(
            "{} {} lies outside {min} to {max}: it cannot be keyed, and the system keeps what it has",
            one.keyed.text,
            one.entry.unit.word()
        ),
        (Some(_), true) => String::new(),
        (None, _) => "its range was not described: see that the system takes the number".to_owned(),
    }
}

fn finding(code: &'static str, at: &str, what: String) -> Finding {
    Finding {
        code,
        at: at.to_owned(),
        what,
    }
}

/// Whether the display may differ by what it does, at every pose tried.
fn decide(
    proof: &[ReadBack],
    without_tooth: &[(&str, String)],
    allowed_m: Option<f64>,
) -> Decision {
    if let Some((pose, why)) = without_tooth.first() {
        return Decision::not_shown(&format!(
            "even by the calibration there is no tooth at the pose {pose}: {why}"
        ));
    }
    let Some(allowed_m) = allowed_m else {
        return Decision::not_shown("how far the display may differ was not stated");
    };
    let mut worst_m = 0.0;
    for pose in proof {
        match pose.apart_m {
            Some(apart_m) if apart_m.is_finite() => {
                if worst_m < apart_m {
                    worst_m = apart_m;
                }
            }
            Some(_) | None => {
                return Decision::not_shown(&format!(
                    "with the numbers keyed there is no tooth at the pose {}",
                    pose.name
                ));
            }
        }
    }
    if proof.is_empty() {
        return Decision::not_shown("no pose was tried");
    }
    Decision::guarded(worst_m, 0.0, [0.0, allowed_m])
}
