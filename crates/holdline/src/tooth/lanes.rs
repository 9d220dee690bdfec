//! Several `f64` at once, with the usual signs of arithmetic, so that formulas stay readable.
//!
//! `Lanes` holds as many numbers as one register of the machine takes: eight, four, two or one.
//! Every operation is rounded on its own; a multiplication and an addition are never fused.
//! So each lane gives the same bytes on every machine, whatever its registers are.

use std::ops::{Add, Div, Mul, Neg, Sub};

use pulp::Simd;

/// A register full of numbers and the token that says which registers there are.
#[derive(Clone, Copy)]
pub(crate) struct Lanes<S: Simd> {
    simd: S,
    x: S::f64s,
}

/// One yes or no a lane.
#[derive(Clone, Copy)]
pub(crate) struct Mask<S: Simd> {
    simd: S,
    yes: S::m64s,
}

impl<S: Simd> Lanes<S> {
    /// What a register holds.
    #[inline(always)]
    pub fn new(simd: S, x: S::f64s) -> Lanes<S> {
        Lanes { simd, x }
    }

    /// One number in every lane.
    #[inline(always)]
    pub fn all(simd: S, value: f64) -> Lanes<S> {
        Lanes {
            simd,
            x: simd.splat_f64s(value),
        }
    }

    /// The register itself.
    #[inline(always)]
    pub fn register(self) -> S::f64s {
        self.x
    }

    /// `value` in every lane, of the same kind as `self`.
    #[inline(always)]
    pub fn like(self, value: f64) -> Lanes<S> {
        Lanes::all(self.simd, value)
    }

    /// Size without sign.
    #[inline(always)]
    pub fn abs(self) -> Lanes<S> {
        self.with(self.simd.abs_f64s(self.x))
    }

    /// Square root, correctly rounded.
    #[inline(always)]
    pub fn sqrt(self) -> Lanes<S> {
        self.with(self.simd.sqrt_f64s(self.x))
    }

    /// True where `self <= other`; false where either is not a number.
    #[inline(always)]
    pub fn at_most(self, other: f64) -> Mask<S> {
        let other = self.like(other);
        self.mask(self.simd.less_than_or_equal_f64s(self.x, other.x))
    }

    /// True where `self >= other`; false where either is not a number.
    #[inline(always)]
    pub fn at_least(self, other: f64) -> Mask<S> {
        let other = self.like(other);
        self.mask(self.simd.greater_than_or_equal_f64s(self.x, other.x))
    }

    /// True where `self > other`; false where either is not a number.
    #[inline(always)]
    pub fn more_than(self, other: f64) -> Mask<S> {
        let other = self.like(other);
        self.mask(self.simd.greater_than_f64s(self.x, other.x))
    }

    /// True where bit `bit` of the pattern of the number is not set.
    #[inline(always)]
    pub fn bit_is_clear(self, bit: u64) -> Mask<S> {
        let simd = self.simd;
        let pattern = simd.transmute_u64s_f64s(self.x);
        let picked = simd.and_u64s(pattern, simd.splat_u64s(bit));
        self.mask(simd.equal_u64s(picked, simd.splat_u64s(0)))
    }

    #[inline(always)]
    fn with(self, x: S::f64s) -> Lanes<S> {
        Lanes { simd: self.simd, x }
    }

    #[inline(always)]
    fn mask(self, yes: S::m64s) -> Mask<S> {
        Mask {
            simd: self.simd,
            yes,
        }
    }
}

impl<S: Simd> Mask<S> {
    /// True where both are.
    #[inline(always)]
    pub fn and(self, other: Mask<S>) -> Mask<S> {
        Mask {
            simd: self.simd,
            yes: self.simd.and_m64s(self.yes, other.yes),
        }
    }

    /// `a` where true, else `b`.
    #[inline(always)]
    pub fn pick(self, a: Lanes<S>, b: Lanes<S>) -> Lanes<S> {
        a.with(self.simd.select_f64s(self.yes, a.x, b.x))
    }
}

impl<S: Simd> Add for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn add(self, other: Lanes<S>) -> Lanes<S> {
        self.with(self.simd.add_f64s(self.x, other.x))
    }
}

impl<S: Simd> Sub for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn sub(self, other: Lanes<S>) -> Lanes<S> {
        self.with(self.simd.sub_f64s(self.x, other.x))
    }
}

impl<S: Simd> Mul for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn mul(self, other: Lanes<S>) -> Lanes<S> {
        self.with(self.simd.mul_f64s(self.x, other.x))
    }
}

impl<S: Simd> Div for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn div(self, other: Lanes<S>) -> Lanes<S> {
        self.with(self.simd.div_f64s(self.x, other.x))
    }
}

impl<S: Simd> Neg for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn neg(self) -> Lanes<S> {
        self.with(self.simd.neg_f64s(self.x))
    }
}

impl<S: Simd> Add<f64> for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn add(self, other: f64) -> Lanes<S> {
        self + self.like(other)
    }
}

impl<S: Simd> Sub<f64> for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn sub(self, other: f64) -> Lanes<S> {
        self - self.like(other)
    }
}

impl<S: Simd> Mul<f64> for Lanes<S> {
    type Output = Lanes<S>;
    #[inline(always)]
    fn mul(self, other: f64) -> Lanes<S> {
        self * self.like(other)
    }
}
