//! Every frame, once: origin, axes, zero and positive way. Read this page first.
//!
//! All frames are right-handed. Inside: metres, radians, `f64`.
//!
//! ```text
//!  seen from the left                             seen from above
//!
//!            Boom x        B                                  y (left)
//!               \        .' \  Stick x                         |
//!        z       \     .'    \                                 |        x (boom direction)
//!        |        \  .'  β+σ  \                    tail -------+------->
//!        |         A           C---D  Ear x                    |
//!        |   x      \           \
//!   -----+------>    House       T  tooth          swing: House on Tracks, counter-clockwise +
//!     track ground
//! ```
//!
//! | frame | origin | axes |
//! |---|---|---|
//! | [`Site`] | the job's grid origin | x easting, y northing, z elevation |
//! | [`Tracks`] | swing axis at track ground level | z along the swing axis, x forward, y left |
//! | [`House`] | same origin | as `Tracks`, turned by the swing angle; x is the boom direction |
//! | [`Level`] | same origin | x horizontal in the boom direction, z up against gravity |
//! | [`Post`] | pin of the boom swing post | as `House`, turned by the post angle |
//! | [`Boom`] | boom foot pin A | x to the next pin, z in the boom plane, y left |
//! | [`BoomUpper`] | middle pin, or far pins of the offset links | as `Boom` |
//! | [`Stick`] | boom-stick pin B | x to the stick-bucket pin C |
//! | [`Ear`] | stick-bucket pin C | x towards the link pin D |
//! | [`Tilt`] | a point on a tilting device's last axis | as the pins it hangs on, at zero tilt |
//! | [`Bucket`] | the bucket's own front pin | x towards its own second pin |
//!
//! - Forward on `Tracks` is between the tracks, idlers ahead.
//! - Swing and post turn about z, counter-clockwise from above +.
//!   Without a post, `Post` is `House` itself.
//! - z in the boom plane is x turned 90° counter-clockwise, seen from the left.
//! - `BoomUpper` of a mono boom is `Boom` itself.
//! - Whatever hangs on the two pins C and D moves with `Ear`.
//! - Tooth points, heel and outline are given in `Bucket`.
//!
//! **Attitude of the house**: heading ψ, the azimuth of the horizontal projection of the boom
//! direction, clockwise from grid north;
//! pitch θ, nose up +; roll φ, right side down +.
//!
//! ```text
//! site_from_house = Rz(90° − ψ) · Ry(−θ) · Rx(φ)
//! level_from_house =              Ry(−θ) · Rx(φ)
//! ```
//!
//! **Joint angles** in the boom plane, counter-clockwise (upward) positive:
//! boom β of AB above `House` x; stick σ of BC relative to AB;
//! bucket ε of CD relative to BC. Post ζ about z, counter-clockwise from above +.
//! Offset η sideways to the left +.
//! Tilt τ and rotation ρ right-handed about their axes.
//!
//! A tooth point is left, centre or right seen from the operator's seat.
//! Order on paper: northing, easting, elevation; inside it is always x east, y north, z up.

/// The job's grid: x easting, y northing, z elevation.
#[derive(Debug)]
pub enum Site {}
/// The undercarriage.
#[derive(Debug)]
pub enum Tracks {}
/// The part above the swing ring.
#[derive(Debug)]
pub enum House {}
/// At the swing axis, levelled: x horizontal in the boom direction, z up.
#[derive(Debug)]
pub enum Level {}
/// Boom swing post.
#[derive(Debug)]
pub enum Post {}
/// Boom, or the lower part of it.
#[derive(Debug)]
pub enum Boom {}
/// Upper part of a two-piece or offset boom.
#[derive(Debug)]
pub enum BoomUpper {}
/// Stick.
#[derive(Debug)]
pub enum Stick {}
/// The two pins C and D.
#[derive(Debug)]
pub enum Ear {}
/// The turned part of a tilting device.
#[derive(Debug)]
pub enum Tilt {}
/// The bucket's own two pins.
#[derive(Debug)]
pub enum Bucket {}
