//! From keys and values to the claim that the core checks, and what must fit together on the way.

use holdline::calibrate::observations::{Observation, ObservedTool, Target, What};
use holdline_geom::fault::{Fault, Span};
use holdline_geom::measured::Measured;

use super::fields::{ANGLE, ELEVATION, GRID, KINDS, KindWord, LENGTH, SD_ANGLE, SD_LENGTH, TURN};
use crate::document::leaf::check_span;
use crate::document::node::Node;
use crate::document::walk::join;
use crate::targets::read_target;

/// What hung on the machine; nothing stated where the document says nothing.
pub fn tool(n: Option<&Node>) -> ObservedTool {
    let text = |key: &str| n.and_then(|n| n.text(key));
    ObservedTool {
        coupler: text("coupler"),
        tilt: text("tilt"),
        bucket: text("bucket").unwrap_or_default(),
    }
}

/// One observation whose fields have been read, and whose kind has all that it calls for.
///
/// # Errors
///
/// F102, F103, F106: what does not fit together. The path of each fault begins with `path`.
pub fn observation(n: &Node, path: &str, line: usize) -> Result<Observation, Vec<Fault>> {
    let mut faults = span_faults(n, path);
    let what = Reading {
        n,
        path,
        faults: &mut faults,
    }
    .what();
    match what {
        Some(what) if faults.is_empty() => Ok(Observation {
            name: n.text("name").unwrap_or_default(),
            line,
            what,
            pose: n.text("pose").unwrap_or_default(),
            stand: n.text("stand").unwrap_or_default(),
            setup: n.text("setup").unwrap_or_default(),
            readings: n.named("readings"),
            by: n.text("by"),
            when: n.text("when"),
            instrument: n.text("instrument"),
            note: n.text("note"),
        }),
        _ => Err(faults),
    }
}

/// Every figure against its row of what can be meant.
fn span_faults(n: &Node, path: &str) -> Vec<Fault> {
    let figures: [(&str, &Span, &Span); 6] = [
        ("easting", &GRID, &SD_LENGTH),
        ("northing", &GRID, &SD_LENGTH),
        ("elevation", &ELEVATION, &SD_LENGTH),
        ("length", &LENGTH, &SD_LENGTH),
        ("angle", &ANGLE, &SD_ANGLE),
        ("turn", &TURN, &SD_ANGLE),
    ];
    let mut faults = Vec::new();
    let mut look = |span: &Span, at: String, value: f64| {
        faults.extend(check_span(span, &at, value).err());
    };
    for (key, span, sd_span) in figures {
        if let Some(measured) = n.measured(key) {
            let at = join(path, key);
            if let Some(sd) = measured.sd {
                look(sd_span, join(&at, "sd"), sd);
            }
            look(span, at, measured.value);
        }
    }
    for (key, span) in [("sd", &SD_LENGTH), ("sd_angle", &SD_ANGLE)] {
        if let Some(sd) = n.number(key) {
            look(span, join(path, key), sd);
        }
    }
    faults
}

/// An observation on its way.
struct Reading<'r> {
    n: &'r Node,
    path: &'r str,
    faults: &'r mut Vec<Fault>,
}

impl Reading<'_> {
    fn what(&mut self) -> Option<What> {
        let n = self.n;
        match n.word("kind", &KINDS)? {
            KindWord::Shot | KindWord::Level => {
                let at_m = self.place();
                Some(What::Shot {
                    target: self.target("target")?,
                    at_m: at_m?,
                })
            }
            KindWord::Touch => Some(What::Touch {
                target: self.target("target")?,
                mark: n.text("mark")?,
                sd_m: n.number("sd"),
            }),
            KindWord::Tape => {
                let (from, to) = self.two_points()?;
                let length = n.measured("length")?;
                Some(What::Tape { from, to, length })
            }
            KindWord::Slope => {
                let (from, to) = self.two_points()?;
                let angle = n.measured("angle")?;
                Some(What::Slope { from, to, angle })
            }
            KindWord::Plumb => {
                let (from, to) = self.two_points()?;
                let angle = self.plumb()?;
                Some(What::Slope { from, to, angle })
            }
            KindWord::HouseTurn => {
                self.pitch_and_roll();
                Some(What::HouseTurn {
                    turn: n.measured("turn")?,
                })
            }
            KindWord::SwingCircle => {
                let at_m = self.place();
                let antenna = self.antenna();
                Some(What::SwingCircle {
                    antenna: antenna?,
                    at_m: at_m?,
                })
            }
            KindWord::PinArc => {
                let at_m = self.place();
                let pin = self.pin();
                Some(What::PinArc {
                    pin: pin?,
                    arc: n.text("arc")?,
                    at_m: at_m?,
                })
            }
        }
    }

    fn push(
        &mut self,
        code: &'static str,
        key: &str,
        got: impl Into<String>,
        want: &str,
        fix: &str,
    ) {
        let at = join(self.path, key);
        self.faults.push(Fault::new(code, at, got, want, fix));
    }

    fn target(&mut self, key: &str) -> Option<Target> {
        read_target("", &self.n.text(key)?).ok()
    }

    fn two_points(&mut self) -> Option<(Target, Target)> {
        let (from, to) = (self.target("target")?, self.target("to")?);
        if from == to {
            let got = self.n.text("to").unwrap_or_default();
            let fix = "correct one of the two; a line needs two ends";
            self.push("F102", "to", got, "another point than the first", fix);
            return None;
        }
        Some((from, to))
    }

    fn antenna(&mut self) -> Option<String> {
        match self.target("target")? {
            Target::Antenna(name) => Some(name),
            _ => {
                let got = self.n.text("target").unwrap_or_default();
                let fix = "name the antenna; a prism on its place goes by the antenna's name too";
                self.push(
                    "F102",
                    "target",
                    got,
                    "antenna[NAME] beside kind = \"swing-circle\"",
                    fix,
                );
                None
            }
        }
    }

    fn pin(&mut self) -> Option<Target> {
        let pin = self.target("target")?;
        if matches!(
            pin,
            Target::BoomFoot | Target::BoomStick | Target::StickBucket
        ) {
            return Some(pin);
        }
        let got = self.n.text("target").unwrap_or_default();
        let fix =
            "name the pin in the middle of the arc: A of the boom, B of the stick, C of the bucket";
        self.push(
            "F102",
            "target",
            got,
            "pin A, pin B or pin C beside kind = \"pin-arc\"",
            fix,
        );
        None
    }

    /// The coordinates: in plan both or neither, and at least one in all.
    fn place(&mut self) -> Option<[Option<Measured>; 3]> {
        let at_m = ["easting", "northing", "elevation"].map(|key| self.n.measured(key));
        let lone = match at_m {
            [Some(_), None, _] => Some(("northing", "an easting without a northing")),
            [None, Some(_), _] => Some(("easting", "a northing without an easting")),
            [None, None, None] => {
                let want = "easting, northing and elevation; elevation alone will do for height";
                let fix = "add what was measured, or take the observation out";
                self.push("F103", "easting", "no coordinate", want, fix);
                return None;
            }
            _ => None,
        };
        if let Some((key, got)) = lone {
            let fix = "add the other one; leave both out where height alone was measured";
            self.push("F103", key, got, "both or neither", fix);
            return None;
        }
        Some(at_m)
    }

    /// A plumb line points straight down; how well follows from an angle, or from a length beside the lower point.
    fn plumb(&mut self) -> Option<Measured> {
        let n = self.n;
        let down = Measured::without_sd(-std::f64::consts::FRAC_PI_2);
        let length = n.measured("length");
        if let Some(Measured { sd: Some(_), .. }) = length {
            let fix = "write the length as a bare number; sd says how far beside the lower point the line may hang";
            self.push(
                "F103",
                "length",
                "a length with an sd of its own",
                "a length without",
                fix,
            );
            return None;
        }
        match (n.number("sd_angle"), n.number("sd"), length) {
            (None, None, None) => Some(down),
            (Some(sd), None, None) => Some(Measured {
                sd: Some(sd),
                ..down
            }),
            (None, Some(sd_m), Some(length)) => Some(Measured {
                sd: Some(sd_m / length.value),
                ..down
            }),
            (Some(_), _, _) => {
                let want = "sd_angle alone, or sd and length";
                let fix = "keep the one that was estimated; holdline does not choose";
                self.push(
                    "F103",
                    "sd_angle",
                    "an sd as angle and one as length",
                    want,
                    fix,
                );
                None
            }
            (None, Some(_), None) => {
                let want = "sd and length, or sd_angle";
                let fix = "add the distance between the two points; an sd as length is an angle only over it";
                self.push(
                    "F103",
                    "length",
                    "an sd as length without the length",
                    want,
                    fix,
                );
                None
            }
            (None, None, Some(_)) => {
                let want = "sd and length, or neither";
                let fix =
                    "add how far beside the lower point the line may hang, or take the length out";
                self.push("F103", "sd", "a length without an sd", want, fix);
                None
            }
        }
    }

    fn pitch_and_roll(&mut self) {
        let readings = self.n.named("readings");
        for name in ["pitch", "roll"] {
            if !readings.iter().any(|(n, _)| n == name) {
                let got = format!("no {name}");
                let want = "pitch and roll beside kind = \"house-turn\"";
                let fix = "add what the house sensor reads at this turn";
                self.push("F103", "readings", got, want, fix);
            }
        }
    }
}
