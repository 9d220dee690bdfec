//! What an antenna's circle, an arc about a pin and a turned house say by themselves, beside what all observations
//! together gave.
//!
//! A second way to the same figure: it shares the rows with the fit, but neither its equations nor its search.

use super::equations::target_words;
use super::fit::{Fit, Role};
use super::observations::{Observation, Observations, Target, What};
use super::pin_arc::{PinArc, arcs_of, fit_pin_arc, two_pins};
use super::swing_circle::{SwingCircle, circles_of, fit_swing_circle};
use super::two_face::{HouseValues, TwoFace, stops_of, two_face};
use crate::machine::Machine;
use crate::machine::claim::{ClaimedBoomKind, ClaimedSensor, Link, SensorKind};
use crate::machine::figures::FigureUnit;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;

/// Beyond so many sd a figure is told to differ.
pub const DIFFERS_IN_SD: f64 = 3.0;
/// A reading of the house or the boom that changes by more from arc to arc: it did not stand still, rad.
const MOVED_RAD: f64 = 0.005;

/// What the rows of one field fit say by themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldFit {
    /// What it is, in words: `swing circle of antenna GL, stand S1`.
    pub what: String,
    /// What it gives.
    pub figures: Vec<FieldFigure>,
    /// What to look at, in words; why it gives nothing, where it does not.
    pub findings: Vec<String>,
}

/// One figure of a field fit.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldFigure {
    /// What it is.
    pub name: String,
    /// What it counts in.
    pub unit: FigureUnit,
    /// By these rows alone.
    pub alone: Measured,
    /// By all observations together, or by the sheet where these left it; none where neither has it.
    pub together: Option<f64>,
    /// How far the two are apart, in the standard uncertainty of that difference; none where one is not stated.
    pub apart_in_sd: Option<f64>,
}

impl FieldFigure {
    /// Whether the two differ by more than they may. A difference that is no number does.
    pub fn differs(&self) -> bool {
        self.apart_in_sd
            .is_some_and(|apart| !(apart <= DIFFERS_IN_SD))
    }
}

/// Every field fit among the observations, in the order in which they stand.
///
/// Used beside the adjustment: what two ways agree on stands better than what one says.
///
/// ```text
/// swing circle   √(x² + y²) of the antenna's lever arm = radius
/// pin arcs       boom = from the axis of the boom foot pin's arc to that of the stick pin's; stick likewise
/// house turned   offsets of the house sensor
/// ```
///
/// - Apart: in the sd of the figure by itself. A fit that has these rows and more knows it no worse, so the two
///   scatter against each other by no more than that. A figure that the fit left as on the sheet counts its own sd too.
/// - Rows that the fit took out count here. Without a fit everything is held against the sheet.
pub fn field_fits(
    machine: &Machine,
    observations: &Observations,
    fit: Option<&Fit>,
) -> Vec<FieldFit> {
    let beside = Beside { machine, fit };
    let mut all = Vec::new();
    for ([stand, setup, antenna], positions) in circles_of(observations) {
        let what = format!("swing circle of antenna {antenna}{}", place(&stand, &setup));
        all.push(match fit_swing_circle(&positions, None) {
            Ok(circle) => beside.circle(what, &antenna, circle),
            Err(faults) => nothing(what, &faults),
        });
    }
    all.extend(beside.arcs(observations));
    if let Some(sensor) = beside.house_sensor() {
        for (stand, stops) in stops_of(observations, sensor.sign) {
            let what = format!("house turned and read{}", place(&stand, ""));
            let values = match sensor.kind {
                SensorKind::HouseTilts => HouseValues::Tilts,
                SensorKind::HouseEuler
                | SensorKind::TwoAxis
                | SensorKind::SingleAxis
                | SensorKind::JointEncoder => HouseValues::Turns,
            };
            all.push(match two_face(&stops, values, sensor.sd_rad) {
                Ok(found) => beside.turned(what, sensor, found),
                Err(faults) => nothing(what, &faults),
            });
        }
    }
    all
}

fn place(stand: &str, setup: &str) -> String {
    let named = |word: &str, name: &str| match name {
        "" => String::new(),
        name => format!(", {word} {name}"),
    };
    named("stand", stand) + &named("set-up", setup)
}

/// A field fit that its rows do not allow.
fn nothing(what: String, faults: &Faults) -> FieldFit {
    FieldFit {
        what,
        figures: Vec::new(),
        findings: faults
            .0
            .iter()
            .map(|fault| format!("nothing by itself: {}; it wants {}", fault.got, fault.want))
            .collect(),
    }
}

/// What a field fit is held against.
struct Beside<'a> {
    machine: &'a Machine,
    fit: Option<&'a Fit>,
}

/// A figure by all observations together.
#[derive(Debug, Clone, Copy)]
struct Together {
    value: f64,
    /// sd that counts beside that of the field fit: none where it is not stated, zero for what was sought.
    more_sd: Option<f64>,
}

impl Beside<'_> {
    fn house_sensor(&self) -> Option<&ClaimedSensor> {
        let sensors = &self.machine.sheet().sensors;
        sensors.iter().find(|sensor| sensor.kind.is_house())
    }

    fn together(&self, path: &str) -> Option<Together> {
        let mut found = self.fit.into_iter().flat_map(|fit| &fit.figures);
        if let Some(figure) = found.find(|f| f.path == path) {
            let more_sd = match figure.role {
                Role::Sought | Role::Carried => figure.sd.map(|_| 0.0),
                Role::Held => figure.before.sd,
            };
            return Some(Together {
                value: figure.value,
                more_sd,
            });
        }
        let figure = self.machine.sheet().figure(path)?;
        Some(Together {
            value: figure.measured.value,
            more_sd: figure.measured.sd,
        })
    }

    fn circle(&self, what: String, antenna: &str, circle: SwingCircle) -> FieldFit {
        let axis = |axis: &str| self.together(&format!("antenna[{antenna}].lever.{axis}"));
        let together = axis("x").zip(axis("y")).map(|(x, y)| {
            let radius_m = x.value.hypot(y.value);
            // Radius by its two parts: dr = (x dx + y dy) / r.
            let more = |x_sd: f64, y_sd: f64| (x.value * x_sd).hypot(y.value * y_sd) / radius_m;
            Together {
                value: radius_m,
                more_sd: x.more_sd.zip(y.more_sd).map(|(x, y)| more(x, y)),
            }
        });
        let mut figures = vec![
            figure("radius", FigureUnit::Metre, circle.radius_m, together),
            figure(
                "lean of the swing axis",
                FigureUnit::Radian,
                circle.lean_rad,
                None,
            ),
        ];
        let axes = ["easting", "northing", "elevation"];
        for (axis, at_m) in axes.into_iter().zip(circle.axis_m) {
            let name = format!("axis at the antenna's height, {axis}");
            figures.push(figure(&name, FigureUnit::Metre, at_m, None));
        }
        FieldFit {
            what,
            figures,
            findings: circle.findings,
        }
    }

    fn turned(&self, what: String, sensor: &ClaimedSensor, found: TwoFace) -> FieldFit {
        let path = |of: &str| format!("sensor[{}].{of}", sensor.id);
        let angle = FigureUnit::Radian;
        let mut figures = vec![figure(
            "offset in pitch",
            angle,
            found.constants.offset_rad,
            self.together(&path("offset")),
        )];
        if let Some(roll) = found.constants.roll_offset_rad {
            let together = self.together(&path("roll_offset"));
            figures.push(figure("offset in roll", angle, roll, together));
        }
        let slope = Measured::without_sd(found.slope_rad);
        figures.push(figure("slope that it stands on", angle, slope, None));
        let mut findings = Vec::new();
        if !found.missing.is_empty() {
            findings.push(format!("not stated: {}", found.missing.join(", ")));
        }
        match found.closure_rad {
            Some([pitch, roll]) => findings.push(format!(
                "back at the first heading: {:+.3}° in pitch, {:+.3}° in roll",
                pitch.to_degrees(),
                roll.to_degrees()
            )),
            None => findings.push(
                "the first heading was not read again: whether the tracks settled meanwhile nobody knows"
                    .to_owned(),
            ),
        }
        if found.chance.is_some_and(|chance| !(0.01 <= chance)) {
            findings.push(
                "what is left of the readings is more than their uncertainty makes: the tracks settled, or the sensor scatters more"
                    .to_owned(),
            );
        }
        FieldFit {
            what,
            figures,
            findings,
        }
    }

    fn arcs(&self, observations: &Observations) -> Vec<FieldFit> {
        let mut all = Vec::new();
        let mut found: Vec<(Arc<'_>, PinArc)> = Vec::new();
        for ([stand, setup, name], points) in arcs_of(observations) {
            let Some(arc) = Arc::first_of(observations, &stand, &setup, &name) else {
                continue;
            };
            let pin = target_words(arc.pin);
            let what = format!("arc {name} about {pin}{}", place(&stand, &setup));
            match fit_pin_arc(&points) {
                Ok(fitted) => {
                    all.push(of_arc(what, &fitted));
                    found.push((arc, fitted));
                }
                Err(faults) => all.push(nothing(what, &faults)),
            }
        }
        for (first, first_fit) in &found {
            for (second, second_fit) in &found {
                if let Some(link) = self.between(first, second) {
                    all.push(self.link(link, [first, second], [first_fit, second_fit]));
                }
            }
        }
        all
    }

    /// Path and words of the link whose two ends these are, where all else stood still.
    fn between(&self, first: &Arc<'_>, second: &Arc<'_>) -> Option<[&'static str; 2]> {
        let link = match (first.pin, second.pin) {
            (Target::BoomFoot, Target::BoomStick) => {
                let mono = match self.machine.sheet().boom.kind {
                    ClaimedBoomKind::Mono { .. } => true,
                    ClaimedBoomKind::TwoPiece { .. } | ClaimedBoomKind::Offset { .. } => false,
                };
                mono.then_some(["boom.length", "boom"])?
            }
            (Target::BoomStick, Target::StickBucket) => ["stick.length", "stick"],
            _ => return None,
        };
        let (a, b) = (first.row, second.row);
        let still = |(name, value): &(String, f64)| {
            let other = b.readings.iter().find(|(known, _)| known == name);
            let held = self.must_stand(name, second.pin);
            // Not a turn apart: a heading of 359.9° is near one of 0.1°.
            let near = |other: f64| ((value - other) / 2.0).sin().abs() <= MOVED_RAD / 2.0;
            !held || other.is_none_or(|(_, other)| near(*other))
        };
        let same = a.stand == b.stand && a.setup == b.setup;
        (same && a.readings.iter().all(still)).then_some(link)
    }

    /// Whether a reading must be the same in both arcs: the house's always, the boom's where the arcs are at
    /// both ends of the stick.
    fn must_stand(&self, name: &str, further_pin: &Target) -> bool {
        let sensors = &self.machine.sheet().sensors;
        let link = sensors.iter().find(|s| s.id == name).map(|s| s.link);
        let boom = matches!(name, "boom" | "boom_upper" | "offset" | "post")
            || matches!(link, Some(Link::Boom | Link::BoomUpper | Link::Post));
        let house = matches!(name, "heading" | "swing" | "pitch" | "roll")
            || matches!(link, Some(Link::House));
        house || (boom && *further_pin == Target::StickBucket)
    }

    fn link(&self, link: [&str; 2], arcs: [&Arc<'_>; 2], fits: [&PinArc; 2]) -> FieldFit {
        let pins = two_pins(fits[0], fits[1]);
        let names = arcs.map(|arc| arc.name);
        let mut findings = pins.findings;
        findings.push(
            "holds if nothing but the link that turned was moved from the one arc to the other"
                .to_owned(),
        );
        FieldFit {
            what: format!("{} between arcs {} and {}", link[1], names[0], names[1]),
            figures: vec![
                figure(
                    "pin to pin",
                    FigureUnit::Metre,
                    pins.apart_m,
                    self.together(link[0]),
                ),
                figure(
                    "pins out of parallel",
                    FigureUnit::Radian,
                    Measured::without_sd(pins.out_of_parallel_rad),
                    None,
                ),
            ],
            findings,
        }
    }
}

/// An arc by its first row.
struct Arc<'a> {
    row: &'a Observation,
    pin: &'a Target,
    name: &'a str,
}

impl<'a> Arc<'a> {
    fn first_of(
        observations: &'a Observations,
        stand: &str,
        setup: &str,
        wanted: &str,
    ) -> Option<Arc<'a>> {
        observations.rows.iter().find_map(|row| match &row.what {
            What::PinArc { pin, arc, .. }
                if arc == wanted && row.stand == stand && row.setup == setup =>
            {
                Some(Arc {
                    row,
                    pin,
                    name: arc,
                })
            }
            _ => None,
        })
    }
}

fn of_arc(what: String, fitted: &PinArc) -> FieldFit {
    let circle = &fitted.circle;
    let radius = Measured::with_sd(circle.radius_m, circle.radius_sd_m());
    let mut figures = vec![figure("radius", FigureUnit::Metre, radius, None)];
    for (axis, at_m) in ["easting", "northing", "elevation"]
        .into_iter()
        .zip(fitted.pin_m)
    {
        figures.push(figure(
            &format!("pin, {axis}"),
            FigureUnit::Metre,
            at_m,
            None,
        ));
    }
    FieldFit {
        what,
        figures,
        findings: fitted.findings.clone(),
    }
}

fn figure(
    name: &str,
    unit: FigureUnit,
    alone: Measured,
    together: Option<Together>,
) -> FieldFigure {
    let apart = |other: Together| {
        let sd = alone.sd?.hypot(other.more_sd?);
        Some((alone.value - other.value).abs() / sd)
    };
    FieldFigure {
        name: name.to_owned(),
        unit,
        alone,
        together: together.map(|t| t.value),
        apart_in_sd: together.and_then(apart),
    }
}
