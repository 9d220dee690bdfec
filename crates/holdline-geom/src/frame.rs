//! Points, directions and rigid moves that know their frame,
//! so that a wrong frame does not compile.
//!
//! A transform is named `to_from_from`; neighbours cancel:
//! `site_from_house * house_from_boom` takes boom to site.
//! The frames themselves are empty marker types that a user of this crate declares.
//! Everything is generic over the scalar, so the same code runs on `f64` and on dual numbers.
//!
//! # Example
//!
//! ```
//! use holdline_geom::frame::{Point, Transform};
//! struct Road;
//! struct Van;
//! let quarter_turn: Transform<Road, Van> = Transform::turn_z(90_f64.to_radians());
//! let road_from_van = quarter_turn.after_shift([10.0, 0.0, 0.0]);
//! let mirror: Point<Van> = Point::metres(1.0, 0.5, 1.2);
//! let on_road: Point<Road> = road_from_van * mirror;
//! assert!((on_road.x() - 9.5).abs() < 1e-12 && (on_road.y() - 1.0).abs() < 1e-12);
//! ```

use nalgebra::{Matrix3, RealField, Vector3};
use std::marker::PhantomData;
use std::ops::{Add, Mul, Neg, Sub};

/// A place in frame `F`, metres.
pub struct Point<F, S = f64> {
    v: Vector3<S>,
    frame: PhantomData<fn() -> F>,
}

/// A displacement in frame `F`, metres: it turns with the frame and does not shift.
pub struct Direction<F, S = f64> {
    v: Vector3<S>,
    frame: PhantomData<fn() -> F>,
}

/// A rigid move from frame `From` to frame `To`: turn, then shift.
pub struct Transform<To, From, S = f64> {
    turn: Matrix3<S>,
    shift: Vector3<S>,
    frames: PhantomData<fn() -> (To, From)>,
}

impl<F, S: RealField + Copy> Point<F, S> {
    /// A place by its three coordinates, metres.
    pub fn metres(x: S, y: S, z: S) -> Self {
        Point::from_vector(Vector3::new(x, y, z))
    }

    /// The frame's origin.
    pub fn origin() -> Self {
        Point::from_vector(Vector3::zeros())
    }

    /// A place from bare coordinates, metres.
    pub fn from_vector(v: Vector3<S>) -> Self {
        Point {
            v,
            frame: PhantomData,
        }
    }

    /// The bare coordinates, metres.
    pub fn vector(&self) -> Vector3<S> {
        self.v
    }

    /// First coordinate, metres.
    pub fn x(&self) -> S {
        self.v.x
    }

    /// Second coordinate, metres.
    pub fn y(&self) -> S {
        self.v.y
    }

    /// Third coordinate, metres.
    pub fn z(&self) -> S {
        self.v.z
    }
}

impl<F, S: RealField + Copy> Direction<F, S> {
    /// A displacement by its three components, metres.
    pub fn metres(x: S, y: S, z: S) -> Self {
        Direction::from_vector(Vector3::new(x, y, z))
    }

    /// A displacement from bare components.
    pub fn from_vector(v: Vector3<S>) -> Self {
        Direction {
            v,
            frame: PhantomData,
        }
    }

    /// The bare components, metres.
    pub fn vector(&self) -> Vector3<S> {
        self.v
    }

    /// Length, metres.
    pub fn length_m(&self) -> S {
        self.v.norm()
    }
}

impl<To, From, S: RealField + Copy> Transform<To, From, S> {
    /// From a rotation matrix (columns: the axes of `From` seen in `To`) and the origin of `From`
    /// in `To`.
    pub fn new(turn: Matrix3<S>, shift: Vector3<S>) -> Self {
        Transform {
            turn,
            shift,
            frames: PhantomData,
        }
    }

    /// The frames coincide.
    pub fn identity() -> Self {
        Transform::new(Matrix3::identity(), Vector3::zeros())
    }

    /// A shift alone: the origin of `From` seen in `To`, metres.
    pub fn shift(x: S, y: S, z: S) -> Self {
        Transform::new(Matrix3::identity(), Vector3::new(x, y, z))
    }

    /// Turn about z, counter-clockwise seen from above, rad.
    pub fn turn_z(angle_rad: S) -> Self {
        let (s, c) = angle_rad.sin_cos();
        let (o, i) = (S::zero(), S::one());
        Transform::new(Matrix3::new(c, -s, o, s, c, o, o, o, i), Vector3::zeros())
    }

    /// Turn about −y, so that x rises towards z: the upward turn in the boom plane, rad.
    ///
    /// ```text
    ///         | cos a  0  -sin a |
    /// Rp(a) = |   0    1     0   |
    ///         | sin a  0   cos a |
    /// ```
    pub fn turn_up(angle_rad: S) -> Self {
        let (s, c) = angle_rad.sin_cos();
        let (o, i) = (S::zero(), S::one());
        Transform::new(Matrix3::new(c, o, -s, o, i, o, s, o, c), Vector3::zeros())
    }

    /// Turn about x, right-handed: y rises towards z, rad.
    pub fn turn_x(angle_rad: S) -> Self {
        let (s, c) = angle_rad.sin_cos();
        let (o, i) = (S::zero(), S::one());
        Transform::new(Matrix3::new(i, o, o, o, c, -s, o, s, c), Vector3::zeros())
    }

    /// Right-handed turn about an axis through the origin that lies in the x–z plane at `axis_rad`
    /// above x.
    pub fn turn_about_plane_axis(axis_rad: S, angle_rad: S) -> Self {
        let lay: Transform<To, From, S> = Transform::turn_up(axis_rad);
        let roll: Transform<To, From, S> = Transform::turn_x(angle_rad);
        Transform::new(
            lay.turn * roll.turn * lay.turn.transpose(),
            Vector3::zeros(),
        )
    }

    /// The same turn with `From`'s origin moved to `at` in `To`, metres.
    #[must_use]
    pub fn after_shift(mut self, at: [S; 3]) -> Self {
        self.shift += Vector3::from(at);
        self
    }

    /// The way back.
    pub fn inverse(&self) -> Transform<From, To, S> {
        let back = self.turn.transpose();
        Transform::new(back, -(back * self.shift))
    }

    /// The rotation matrix: columns are the axes of `From` seen in `To`.
    pub fn rotation(&self) -> Matrix3<S> {
        self.turn
    }

    /// The origin of `From` seen in `To`.
    pub fn origin(&self) -> Point<To, S> {
        Point::from_vector(self.shift)
    }

    /// Says that two frames are one and the same; for frames that a machine does not have.
    pub fn retagged<To2, From2>(&self) -> Transform<To2, From2, S> {
        Transform::new(self.turn, self.shift)
    }
}

impl<A, B, C, S: RealField + Copy> Mul<Transform<B, C, S>> for Transform<A, B, S> {
    type Output = Transform<A, C, S>;
    fn mul(self, inner: Transform<B, C, S>) -> Transform<A, C, S> {
        Transform::new(self.turn * inner.turn, self.turn * inner.shift + self.shift)
    }
}

impl<A, B, S: RealField + Copy> Mul<Point<B, S>> for Transform<A, B, S> {
    type Output = Point<A, S>;
    fn mul(self, p: Point<B, S>) -> Point<A, S> {
        Point::from_vector(self.turn * p.v + self.shift)
    }
}

impl<A, B, S: RealField + Copy> Mul<Direction<B, S>> for Transform<A, B, S> {
    type Output = Direction<A, S>;
    fn mul(self, d: Direction<B, S>) -> Direction<A, S> {
        Direction::from_vector(self.turn * d.v)
    }
}

impl<F, S: RealField + Copy> Sub for Point<F, S> {
    type Output = Direction<F, S>;
    fn sub(self, other: Self) -> Direction<F, S> {
        Direction::from_vector(self.v - other.v)
    }
}

impl<F, S: RealField + Copy> Add<Direction<F, S>> for Point<F, S> {
    type Output = Point<F, S>;
    fn add(self, d: Direction<F, S>) -> Point<F, S> {
        Point::from_vector(self.v + d.v)
    }
}

impl<F, S: RealField + Copy> Neg for Direction<F, S> {
    type Output = Direction<F, S>;
    fn neg(self) -> Direction<F, S> {
        Direction::from_vector(-self.v)
    }
}

// Derives would ask the marker types for the same traits, so these are written out.
macro_rules! plain_data {
    ($name:ident < $($frame:ident),+ > { $($field:ident),+ } $mark:ident) => {
        impl<$($frame),+, S: nalgebra::Scalar> Clone for $name<$($frame),+, S> {
            fn clone(&self) -> Self {
                Self { $($field: self.$field.clone(),)+ $mark: PhantomData }
            }
        }
        impl<$($frame),+, S: nalgebra::Scalar + Copy> Copy for $name<$($frame),+, S> {}
        impl<$($frame),+, S: nalgebra::Scalar> PartialEq for $name<$($frame),+, S> {
            fn eq(&self, other: &Self) -> bool {
                $(self.$field == other.$field)&&+
            }
        }
        impl<$($frame),+, S: std::fmt::Debug> std::fmt::Debug for $name<$($frame),+, S> {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.debug_struct(stringify!($name))
                    $(.field(stringify!($field), &self.$field))+
                    .finish()
            }
        }
    };
}
plain_data!(Point<F> { v } frame);
plain_data!(Direction<F> { v } frame);
plain_data!(Transform<To, From> { turn, shift } frames);

#[cfg(test)]
mod tests {
    use super::*;

    struct A;
    struct B;
    struct C;

    fn close(a: Vector3<f64>, b: [f64; 3]) {
        assert!((a - Vector3::from(b)).norm() < 1e-12, "{a:?} against {b:?}");
    }

    #[test]
    fn turns_go_the_way_they_say() {
        let quarter = std::f64::consts::FRAC_PI_2;
        let x: Direction<B> = Direction::metres(1.0, 0.0, 0.0);
        let y: Direction<B> = Direction::metres(0.0, 1.0, 0.0);
        close(
            (Transform::<A, B>::turn_z(quarter) * x).vector(),
            [0.0, 1.0, 0.0],
        );
        close(
            (Transform::<A, B>::turn_up(quarter) * x).vector(),
            [0.0, 0.0, 1.0],
        );
        close(
            (Transform::<A, B>::turn_x(quarter) * y).vector(),
            [0.0, 0.0, 1.0],
        );
        // About an axis straight up (plane axis at 90°), the turn is the turn about z.
        let up = Transform::<A, B>::turn_about_plane_axis(quarter, 0.3);
        assert!((up.rotation() - Transform::<A, B>::turn_z(0.3).rotation()).norm() < 1e-15);
        let along = Transform::<A, B>::turn_about_plane_axis(0.0, 0.3);
        assert!((along.rotation() - Transform::<A, B>::turn_x(0.3).rotation()).norm() < 1e-15);
    }

    #[test]
    fn there_and_back() {
        let a_from_b = Transform::<A, B>::turn_z(0.4).after_shift([1.0, -2.0, 3.0]);
        let b_from_c = Transform::<B, C>::turn_up(-1.1).after_shift([0.5, 0.0, 0.2]);
        let p: Point<C> = Point::metres(0.3, 0.7, -0.9);
        let there = a_from_b * b_from_c * p;
        let back = (a_from_b * b_from_c).inverse() * there;
        close(back.vector(), [0.3, 0.7, -0.9]);
        let step = a_from_b * (b_from_c * p);
        close(step.vector(), there.vector().into());
    }
}
