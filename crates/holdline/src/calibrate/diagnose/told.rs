//! What a diagnosis says.

use crate::calibrate::check_shots::Finding;
use crate::machine::joints::Joints;
use crate::tooth::attitude::Lean;
use holdline_geom::measured::Measured;

/// What drifted, or that nothing shows, with all that it rests on. It changes nothing by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// In a word.
    pub outcome: Outcome,
    /// The same in sentences, first things first.
    pub words: Vec<String>,
    /// How "nothing wrong" was judged.
    pub rule: Rule,
    /// Differences used: one a coordinate of a shot.
    pub n_differences: usize,
    /// χ² of the differences with nothing wrong.
    pub chi2_nothing: f64,
    /// Every single fault tried, best first.
    pub suspects: Vec<Suspect>,
    /// Pairs of faults that were looked at because no single one explains the shots, best first.
    pub doubles: Vec<DoubleFault>,
    /// How a double was judged; none where none was looked at.
    pub double_rule: Option<Rule>,
    /// The largest |cos| between any two suspects' signatures, closest first, of at least 0.5.
    pub closest: Vec<Likeness>,
    /// Suspects that these shots cannot tell apart (|cos| above 0.95), as indices into `suspects`.
    pub inseparable: Vec<Vec<usize>>,
    /// The next one or two shots that would separate the two best.
    pub next: Vec<NextShot>,
    /// What could not be tried, and what it would need.
    pub not_tried: Vec<NotTried>,
    /// What to look at.
    pub findings: Vec<Finding>,
}

/// The outcome in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing wrong is shown. It does not say that nothing is wrong: see each suspect's detectable size.
    NothingShown,
    /// One single fault explains the shots, or one of several that cannot be told apart.
    Single,
    /// No single fault explains them; a pair does.
    Double,
    /// Something is wrong that nothing in the list explains: something else, or more than one thing.
    SomethingElse,
}

/// How a decision was reached: the largest gain of all that was tried, against a simulated critical value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// The level, a share.
    pub level: f64,
    /// Largest gain, on the scale of one parameter.
    pub statistic: f64,
    /// What the largest gain exceeds in a share `level` of simulated series with nothing (more) wrong.
    pub critical: f64,
    /// Share of simulated series with a larger gain.
    pub p_value: f64,
    /// Draws.
    pub n_draws: usize,
    /// Seed.
    pub seed: u64,
    /// How many hypotheses were in the maximum.
    pub n_hypotheses: usize,
}

impl Rule {
    /// Whether the statistic exceeds the critical value.
    pub fn rejects(&self) -> bool {
        self.critical < self.statistic
    }
}

/// A single thing that may be wrong. Explanations with the same signature in these shots are one suspect.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// Same in every run, such as `sensor[S-boom].offset`, `heading`, `shift.up`, `bucket[G180]`.
    pub id: String,
    /// In the words of the trade.
    pub words: String,
    /// What to look at on the machine first.
    pub look_at: String,
    /// χ² that it leaves, of its best explanation.
    pub chi2_left: f64,
    /// Parameters that it takes.
    pub n_parameters: usize,
    /// χ² + 2 × parameters. The least is the best.
    pub aic: f64,
    /// Gain over nothing wrong, on the scale of one parameter.
    pub gain: f64,
    /// Whether it is in the reported set: within 4 of the best.
    pub in_set: bool,
    /// Its weight within the set; none outside.
    pub weight: Option<f64>,
    /// All explanations that have this signature, best first; at least one.
    pub explanations: Vec<Explanation>,
    /// What this fault at its estimate does to every shot, m; along axes that were surveyed.
    pub effect_m: Vec<[Option<f64>; 3]>,
}

/// One explanation.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// As [`Suspect::id`].
    pub id: String,
    /// In the words of the trade.
    pub words: String,
    /// With the figure: `S-boom reads 0.31° ± 0.05° too high`.
    pub says: String,
    /// χ² that it leaves.
    pub chi2_left: f64,
    /// Parameters.
    pub n_parameters: usize,
    /// The estimates; none for a fault that is or is not.
    pub estimates: Vec<Estimate>,
    /// Beyond what this kind of fault usually comes to: look twice before believing it.
    pub beyond_usual: bool,
}

/// An estimate of a fault's size.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Which figure, in words.
    pub name: String,
    /// Size and standard uncertainty, m, rad or s.
    pub size: Measured,
    /// Unit.
    pub unit: Unit,
    /// Minimal detectable size in these shots (α₀ 0.001, power 0.80), in the same unit.
    pub detectable: f64,
    /// Size that the rule of this diagnosis sees in 80 of 100 series, in the same unit.
    pub detectable_by_rule: f64,
}

/// Unit of an estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Metres.
    Metre,
    /// Radians.
    Radian,
    /// Seconds.
    Second,
}

/// Two faults together.
#[derive(Debug, Clone, PartialEq)]
pub struct DoubleFault {
    /// Indices into the suspects.
    pub suspects: [usize; 2],
    /// With the figures.
    pub says: String,
    /// χ² left.
    pub chi2_left: f64,
    /// Parameters of both.
    pub n_parameters: usize,
    /// χ² + 2 × parameters.
    pub aic: f64,
    /// Whether it is in the reported set.
    pub in_set: bool,
    /// Its weight within the set; none outside.
    pub weight: Option<f64>,
    /// The estimates of both.
    pub estimates: Vec<Estimate>,
}

/// How alike two suspects look in these shots.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likeness {
    /// Indices into the suspects.
    pub suspects: [usize; 2],
    /// |cos| of the angle between their whitened signatures: 1 is not to be told apart.
    pub cos: f64,
}

/// A further shot.
#[derive(Debug, Clone, PartialEq)]
pub struct NextShot {
    /// What to do, as one says it on site.
    pub words: String,
    /// Which two suspects it separates, as indices.
    pub separates: [usize; 2],
    /// What it adds to the expected difference in χ² between the two.
    pub adds: f64,
    /// Joint angles.
    pub joints: Joints,
    /// How the house stands.
    pub lean: Lean,
    /// Heading, where the shots have one.
    pub heading_rad: Option<f64>,
    /// The tooth in the house: forward and up, m.
    pub tooth_house_m: [f64; 2],
}

/// A fault that could not be tried.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotTried {
    /// Which.
    pub words: String,
    /// What it would need, or why these shots cannot see it.
    pub needs: String,
}
