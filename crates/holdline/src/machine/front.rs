//! The front as one chooses it: boom, stick, linkage, coupler, tilt,
//! bucket and the tooth point steered by.

use super::claim::{
    ClaimedBoomKind, ClaimedBucket, ClaimedMachine, ClaimedTilt, PlanePoint, SpacePoint,
};
use super::four_bar::FourBar;
use holdline_geom::fault::Fault;
use holdline_geom::measured::Measured;

/// Which tool hangs on the pins, and which tooth point is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToolChoice {
    /// Coupler, or none for a bucket pinned on directly.
    pub coupler: Option<String>,
    /// Tilting device between coupler (or pins) and bucket.
    pub tilt: Option<String>,
    /// Bucket.
    pub bucket: String,
    /// Tooth point.
    pub tooth: String,
}

/// Every length and fixed angle between the house and the tooth, metres and radians.
///
/// `T` is [`Measured`] as it comes from the sheet, `f64` for a pose,
/// or a dual number for derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Front<T> {
    /// Swing post's pin in `House`, if there is one.
    pub post_m: Option<[T; 3]>,
    /// Boom foot pin A: in `Post` with a post, else in `House`.
    pub foot_m: [T; 3],
    /// Boom.
    pub boom: Boom<T>,
    /// Stick, B to C.
    pub stick_m: T,
    /// Bucket linkage.
    pub linkage: FourBar<T>,
    /// Coupler.
    pub coupler: Option<Coupler<T>>,
    /// Tilting device.
    pub tilt: Option<TiltDevice<T>>,
    /// Tooth point in `Bucket`.
    pub tooth_m: [T; 3],
}

/// Kinds of boom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Boom<T> {
    /// One piece.
    Mono {
        /// A to B.
        length_m: T,
    },
    /// Two pieces and a pin between.
    TwoPiece {
        /// A to the middle pin.
        lower_m: T,
        /// Middle pin to B.
        upper_m: T,
    },
    /// Parallelogram between the parts.
    Offset {
        /// A to the near offset pins.
        lower_m: T,
        /// Offset links.
        link_m: T,
        /// Far offset pins to B.
        upper_m: T,
    },
}

/// Fixed step from the pins to the bucket's own pins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupler<T> {
    /// Bucket's front pin, x and z in `Ear`.
    pub front_pin_m: [T; 2],
    /// Turn, upward positive.
    pub rotation_rad: T,
}

/// Tilt (outer) and rotation (inner) between the pins and the bucket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TiltDevice<T> {
    /// A point on the tilt axis, in the frame of the pins it hangs on.
    pub axis_m: [T; 3],
    /// Tilt axis above the pins' x.
    pub axis_rad: T,
    /// A point on the rotation axis from the tilt axis point, and the axis above x.
    pub rotation: Option<([T; 3], T)>,
    /// Bucket's front pin from the last axis point.
    pub front_pin_m: [T; 3],
    /// Turn of the bucket's x from the pins' x at zero tilt and rotation.
    pub bucket_rad: T,
}

impl<T> Front<T> {
    /// The same front with every value passed through `f`, with the name of each,
    /// always in the same order.
    pub fn map<U>(&self, f: &mut impl FnMut(&'static str, &T) -> U) -> Front<U> {
        let post_m = self.post_m.as_ref().map(|p| {
            three(
                p,
                ["swing_post.at.x", "swing_post.at.y", "swing_post.at.z"],
                f,
            )
        });
        Front {
            post_m,
            foot_m: three(
                &self.foot_m,
                match self.post_m {
                    Some(_) => [
                        "swing_post.foot.x",
                        "swing_post.foot.y",
                        "swing_post.foot.z",
                    ],
                    None => ["boom.foot.x", "boom.foot.y", "boom.foot.z"],
                },
                f,
            ),
            boom: match &self.boom {
                Boom::Mono { length_m } => Boom::Mono {
                    length_m: f("boom.length", length_m),
                },
                Boom::TwoPiece { lower_m, upper_m } => Boom::TwoPiece {
                    lower_m: f("boom.lower", lower_m),
                    upper_m: f("boom.upper", upper_m),
                },
                Boom::Offset {
                    lower_m,
                    link_m,
                    upper_m,
                } => Boom::Offset {
                    lower_m: f("boom.lower", lower_m),
                    link_m: f("boom.link", link_m),
                    upper_m: f("boom.upper", upper_m),
                },
            },
            stick_m: f("stick.length", &self.stick_m),
            linkage: self.linkage.map(f),
            coupler: self.coupler.as_ref().map(|c| Coupler {
                front_pin_m: [
                    f("coupler.front_pin.x", &c.front_pin_m[0]),
                    f("coupler.front_pin.z", &c.front_pin_m[1]),
                ],
                rotation_rad: f("coupler.rotation", &c.rotation_rad),
            }),
            tilt: self.tilt.as_ref().map(|t| t.map(f)),
            tooth_m: three(&self.tooth_m, ["tooth.x", "tooth.y", "tooth.z"], f),
        }
    }
}

impl<T> TiltDevice<T> {
    fn map<U>(&self, f: &mut impl FnMut(&'static str, &T) -> U) -> TiltDevice<U> {
        TiltDevice {
            axis_m: three(
                &self.axis_m,
                ["tilt.axis_at.x", "tilt.axis_at.y", "tilt.axis_at.z"],
                f,
            ),
            axis_rad: f("tilt.axis_angle", &self.axis_rad),
            rotation: self.rotation.as_ref().map(|(at, angle)| {
                (
                    three(
                        at,
                        [
                            "tilt.rotation.axis_at.x",
                            "tilt.rotation.axis_at.y",
                            "tilt.rotation.axis_at.z",
                        ],
                        f,
                    ),
                    f("tilt.rotation.axis_angle", angle),
                )
            }),
            front_pin_m: three(
                &self.front_pin_m,
                ["tilt.front_pin.x", "tilt.front_pin.y", "tilt.front_pin.z"],
                f,
            ),
            bucket_rad: f("tilt.bucket_rotation", &self.bucket_rad),
        }
    }
}

fn three<T, U>(
    at: &[T; 3],
    names: [&'static str; 3],
    f: &mut impl FnMut(&'static str, &T) -> U,
) -> [U; 3] {
    [
        f(names[0], &at[0]),
        f(names[1], &at[1]),
        f(names[2], &at[2]),
    ]
}

impl Front<Measured> {
    /// The figures alone.
    pub fn values(&self) -> Front<f64> {
        self.map(&mut |_, m| m.value)
    }
}

/// The front of a claimed machine with the tool chosen.
pub(super) fn chosen(
    sheet: &ClaimedMachine,
    choice: &ToolChoice,
) -> Result<Front<Measured>, Fault> {
    let coupler = match &choice.coupler {
        None => None,
        Some(id) => Some(pick(&sheet.couplers, id, |c| &c.id, "coupler")?),
    };
    let tilt = match &choice.tilt {
        None => None,
        Some(id) => Some(pick(&sheet.tilts, id, |t| &t.id, "tilt")?),
    };
    let bucket = pick(&sheet.buckets, &choice.bucket, |b| &b.id, "bucket")?;
    let tooth = pick(&bucket.teeth, &choice.tooth, |t| &t.name, "tooth point")?;
    if choice.coupler.is_none() && choice.tilt.is_none() {
        check_pins_fit(bucket, sheet.linkage.ear)?;
    }
    let (post_m, foot_m) = match (&sheet.swing_post, &sheet.boom.foot) {
        (Some(post), _) => (Some(space(&post.at)), space(&post.foot)),
        (None, Some(foot)) => (None, space(foot)),
        (None, None) => {
            return Err(Fault::new(
                "M020",
                "boom.foot",
                "no boom foot pin",
                "boom.foot, or a swing_post that carries the boom",
                "measure the boom foot pin from the swing axis and the track ground level",
            ));
        }
    };
    Ok(Front {
        post_m,
        foot_m,
        boom: match &sheet.boom.kind {
            ClaimedBoomKind::Mono { length } => Boom::Mono { length_m: *length },
            ClaimedBoomKind::TwoPiece { lower, upper } => Boom::TwoPiece {
                lower_m: *lower,
                upper_m: *upper,
            },
            ClaimedBoomKind::Offset { lower, link, upper } => Boom::Offset {
                lower_m: *lower,
                link_m: *link,
                upper_m: *upper,
            },
        },
        stick_m: sheet.stick.length,
        linkage: FourBar {
            pivot_m: plane(&sheet.linkage.idler_pivot),
            idler_m: sheet.linkage.idler,
            link_m: sheet.linkage.link,
            ear_m: sheet.linkage.ear,
            branch: sheet.linkage.branch,
        },
        coupler: coupler.map(|c| Coupler {
            front_pin_m: plane(&c.front_pin),
            rotation_rad: c.rotation,
        }),
        tilt: tilt.map(device),
        tooth_m: space(&tooth.at),
    })
}

/// How far a bucket's pins may be from the machine's own, m: play and the tape's error, not another bucket.
const PINS_APART_M: f64 = 0.010;

/// A bucket on the machine's own pins has their distance.
fn check_pins_fit(bucket: &ClaimedBucket, ear: Measured) -> Result<(), Fault> {
    let apart_m = (bucket.pin_spacing.value - ear.value).abs();
    if apart_m <= PINS_APART_M {
        return Ok(());
    }
    Err(Fault::new(
        "T018",
        format!("bucket[{}].pin_spacing", bucket.id),
        format!(
            "{} m between its pins, on pins {} m apart",
            bucket.pin_spacing.value, ear.value
        ),
        format!("pins that agree to {:.0} mm", PINS_APART_M * 1000.0),
        "this bucket does not hang on the machine's own pins: name its coupler, or measure the two distances again",
    ))
}

fn device(t: &ClaimedTilt) -> TiltDevice<Measured> {
    TiltDevice {
        axis_m: space(&t.axis_at),
        axis_rad: t.axis_angle,
        rotation: t
            .rotation
            .as_ref()
            .map(|r| (space(&r.axis_at), r.axis_angle)),
        front_pin_m: space(&t.front_pin),
        bucket_rad: t.bucket_rotation,
    }
}

/// The entry with this name, or a fault that lists the names there are.
pub(super) fn pick<'a, T>(
    all: &'a [T],
    wanted: &str,
    name: impl Fn(&T) -> &String,
    what: &str,
) -> Result<&'a T, Fault> {
    all.iter()
        .find(|entry| name(entry) == wanted)
        .ok_or_else(|| {
            let there: Vec<&str> = all.iter().map(|entry| name(entry).as_str()).collect();
            let want = if there.is_empty() {
                format!("no {what}: the sheet has none")
            } else {
                format!("{what} {}", there.join(", "))
            };
            Fault::new(
                "T001",
                what,
                format!("{what} {wanted:?}"),
                want,
                "choose one that the machine sheet has, or add it there",
            )
        })
}

fn plane(p: &PlanePoint) -> [Measured; 2] {
    [p.x, p.z]
}

fn space(p: &SpacePoint) -> [Measured; 3] {
    [p.x, p.y, p.z]
}
