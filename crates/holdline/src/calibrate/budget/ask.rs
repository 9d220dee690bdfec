//! What a budget stands on besides the machine's own figures. What is not stated is unknown, never nothing.

use crate::machine::claim::Joint;
use holdline_geom::fault::{Fault, Faults};

/// Everything that is stated for a budget.
///
/// `None` says that nobody stated it: where it matters there is no uncertainty then, and it is named.
/// Zero says that it was looked at and is nothing, for play, deflection, speed, localization, benches and marks;
/// a receiver, a heading and a sensor always have some, and zero is refused there.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetAsk {
    /// Heights over a bench, or places on the site.
    pub mode: Mode,
    /// Half the free play of the pins.
    pub pin_play: PinPlay,
    /// How far boom, stick and swing ring give way.
    pub deflection: Option<Deflection>,
    /// How fast it moves while it is read.
    pub motion: Option<Motion>,
    /// What U covers.
    pub coverage: Coverage,
    /// A face to look along the normal of: in `Level` (forward, left, up) in 2D, on the site (E, N, U) in 3D.
    pub normal: Option<[f64; 3]>,
}

/// 2D or 3D.
#[derive(Debug, Clone, PartialEq)]
pub enum Mode {
    /// Tooth in `Level`: forward and left of the swing axis, up over the track ground or a bench.
    TwoD(HeightFrom),
    /// Tooth on the site grid.
    ThreeD(Satellites),
}

/// What a height in 2D counts from.
#[derive(Debug, Clone, PartialEq)]
pub enum HeightFrom {
    /// The machine itself: how well one height compares with another from one stand.
    Machine,
    /// A bench that was touched with the tooth, carried on by marks as the machine tracked away.
    Bench {
        /// Standard uncertainty of the bench's own height, m.
        sd_m: Option<f64>,
        /// Standard uncertainty of one touch, m.
        touch_sd_m: Option<f64>,
        /// Standard uncertainty of a transfer mark between its two touches, m.
        mark_sd_m: Option<f64>,
        /// Moves since the bench was touched.
        n_moves: u32,
    },
}

/// Where the place on the site comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Satellites {
    /// Standard uncertainty of one antenna position in easting and in northing, m.
    pub plan_sd_m: Option<f64>,
    /// Standard uncertainty of its elevation, m.
    pub height_sd_m: Option<f64>,
    /// Where the heading comes from.
    pub heading: HeadingFrom,
    /// Standard uncertainties of the localization at the work: easting, northing, elevation, m.
    pub localization_sd_m: [Option<f64>; 3],
    /// How late positions and heading are, s.
    pub latency_s: Option<f64>,
}

/// Where the heading comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HeadingFrom {
    /// It is read, from a pair or a compass, with this standard uncertainty; the place comes from the first antenna.
    Read {
        /// Standard uncertainty, rad.
        sd_rad: Option<f64>,
    },
    /// From the first two antennas of the sheet, and the place from both.
    ///
    /// What errs in both alike moves the place; what differs between them turns the heading.
    Pair {
        /// Standard uncertainty of the line between them along each axis, m.
        line_sd_m: Option<f64>,
    },
}

/// A pin of the front.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pin {
    /// The swing post's pin.
    Post,
    /// Boom foot pin A.
    BoomFoot,
    /// Middle pin of a two-piece boom, or the pins of offset links.
    UpperBoom,
    /// Boom-stick pin B.
    BoomStick,
    /// Stick-bucket pin C.
    StickBucket,
    /// Idler pivot F.
    IdlerPivot,
    /// Joint of rod, idler and link E.
    LinkageE,
    /// Link pin D.
    LinkPin,
}

impl Pin {
    /// The pin's words.
    pub fn word(self) -> &'static str {
        match self {
            Pin::Post => "post pin",
            Pin::BoomFoot => "boom foot pin A",
            Pin::UpperBoom => "upper boom pin",
            Pin::BoomStick => "boom-stick pin B",
            Pin::StickBucket => "stick-bucket pin C",
            Pin::IdlerPivot => "idler pivot F",
            Pin::LinkageE => "linkage pin E",
            Pin::LinkPin => "link pin D",
        }
    }
}

/// Free play of the pins: the pin lies anywhere within ±a of its middle, every place as likely as the others.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PinPlay {
    /// Half the play of every pin that `each_m` does not name, m.
    pub all_m: Option<f64>,
    /// Half the play of single pins, m.
    pub each_m: Vec<(Pin, f64)>,
}

impl PinPlay {
    /// One figure for all pins.
    pub fn of_all(half_m: f64) -> PinPlay {
        PinPlay {
            all_m: Some(half_m),
            each_m: Vec::new(),
        }
    }

    /// Half the play of one pin, m; none where nobody stated it.
    pub fn of(&self, pin: Pin) -> Option<f64> {
        let named = self.each_m.iter().find(|(p, _)| *p == pin);
        named.map(|(_, half)| *half).or(self.all_m)
    }
}

/// Bending of boom and stick and rocking of the swing ring: up or down, in proportion to the reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deflection {
    /// Standard uncertainty of the height at that reach, m.
    pub sd_m: f64,
    /// The reach from the swing axis, m.
    pub at_reach_m: f64,
}

/// How fast it moves while it is read. Readings that are late show where the tooth was.
#[derive(Debug, Clone, PartialEq)]
pub enum Motion {
    /// The tooth's speed, m/s, in any direction; the latest of the readings in use counts for all.
    Tooth {
        /// Largest speed, m/s; 0 for work at rest.
        speed_m_s: f64,
    },
    /// Largest rate of each joint, either way, rad/s; each sensor is late by its own latency.
    Joints(Vec<(Joint, f64)>),
}

/// What U covers, as a factor on the standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coverage {
    /// k = 2: about 95 % between both limits.
    TwoSided,
    /// k = 1.64: about 95 % beyond one limit.
    OneSided,
}

impl Coverage {
    /// The factor k.
    pub fn k(self) -> f64 {
        match self {
            Coverage::TwoSided => 2.0,
            Coverage::OneSided => 1.64,
        }
    }
}

/// The normal of a face that falls at a slope towards an azimuth, upward, on the site.
///
/// ```text
/// n = (sin s sin α, sin s cos α, cos s)
/// ```
///
/// - Symbols: s slope below level, α azimuth that the face falls towards, clockwise from north; rad.
pub fn normal_of_face(slope_rad: f64, falls_towards_rad: f64) -> [f64; 3] {
    use crate::calibrate::chain::numbers::sin_cos;
    let ([cs, ss], [ca, sa]) = (sin_cos(slope_rad), sin_cos(falls_towards_rad));
    [ss * sa, ss * ca, cs]
}

/// The ask, or all that cannot be meant.
pub(super) fn check(ask: &BudgetAsk) -> Result<(), Faults> {
    let mut faults = Faults::none();
    let mut no_less = |at: &str, value: Option<f64>| refuse(&mut faults, at, value, false);
    no_less("pin_play", ask.pin_play.all_m);
    for (pin, half) in &ask.pin_play.each_m {
        no_less(&format!("pin_play[{}]", pin.word()), Some(*half));
    }
    no_less("deflection.sd", ask.deflection.map(|d| d.sd_m));
    match &ask.motion {
        None => {}
        Some(Motion::Tooth { speed_m_s }) => no_less("speed", Some(*speed_m_s)),
        Some(Motion::Joints(rates)) => {
            for (joint, rate) in rates {
                no_less(&format!("rate[{}]", joint.word()), Some(*rate));
            }
        }
    }
    match &ask.mode {
        Mode::TwoD(HeightFrom::Machine) => {}
        Mode::TwoD(HeightFrom::Bench {
            sd_m,
            touch_sd_m,
            mark_sd_m,
            n_moves: _,
        }) => {
            no_less("bench.sd", *sd_m);
            no_less("bench.touch", *touch_sd_m);
            no_less("bench.mark", *mark_sd_m);
        }
        Mode::ThreeD(satellites) => {
            for (word, sd) in ["easting", "northing", "elevation"]
                .iter()
                .zip(satellites.localization_sd_m)
            {
                no_less(&format!("localization.{word}"), sd);
            }
            no_less("latency", satellites.latency_s);
        }
    }
    let mut more = |at: &str, value: Option<f64>| refuse(&mut faults, at, value, true);
    more("deflection.at_reach", ask.deflection.map(|d| d.at_reach_m));
    if let Mode::ThreeD(satellites) = &ask.mode {
        more("position.plan", satellites.plan_sd_m);
        more("position.height", satellites.height_sd_m);
        match satellites.heading {
            HeadingFrom::Read { sd_rad } => more("heading", sd_rad),
            HeadingFrom::Pair { line_sd_m } => more("heading.line", line_sd_m),
        }
    }
    check_normal(ask.normal, &mut faults);
    faults.or(())
}

fn refuse(faults: &mut Faults, at: &str, value: Option<f64>, zero_refused: bool) {
    let Some(value) = value else { return };
    let good = value.is_finite() && (0.0 < value || (value == 0.0 && !zero_refused));
    if good {
        return;
    }
    let (want, fix) = if zero_refused {
        (
            "a number greater than 0",
            "leave it out when it is not known; nothing measured is without uncertainty",
        )
    } else {
        (
            "a number, 0 or greater",
            "leave it out when it is not known; 0 says that it was looked at and is nothing",
        )
    };
    faults.push(Fault::new(
        "B001",
        at,
        holdline_geom::fault::number(value),
        want,
        fix,
    ));
}

fn check_normal(normal: Option<[f64; 3]>, faults: &mut Faults) {
    let Some(n) = normal else { return };
    let long = n.iter().map(|c| c * c).sum::<f64>().sqrt();
    if !((long - 1.0).abs() <= 1e-6) {
        faults.push(Fault::new(
            "B002",
            "normal",
            format!("{n:?}"),
            "a direction of length 1",
            "give the face by its slope and the way it falls",
        ));
    }
}
