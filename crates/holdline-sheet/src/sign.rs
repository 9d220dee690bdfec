//! Signs of an answer, seen without reading: a full disc holds, a ring struck through does not, an open ring with a
//! question mark is not known.

use crate::geometry::{Pt, circle};
use crate::ink::Ink;
use crate::page::{Anchor, Page, STEEL, Type};

/// A sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// It holds.
    Holds,
    /// It does not.
    Fails,
    /// Not known.
    NotKnown,
}

/// Draws a sign about a point.
pub fn draw_sign(page: &mut Page, at: Pt, radius: f64, sign: Sign) {
    match sign {
        Sign::Holds => page.dot(at, radius, Ink::Ink),
        Sign::Fails => {
            page.stroke(circle(at, radius), STEEL);
            let off = radius * 0.7;
            page.line(at.by(-off, -off), at.by(off, off), STEEL);
            page.line(at.by(-off, off), at.by(off, -off), STEEL);
        }
        Sign::NotKnown => {
            page.stroke(circle(at, radius), STEEL);
            let set = Type::strong(9.0);
            page.words(at.by(0.0, radius * 0.55), Anchor::Middle, set, "?");
        }
    }
}
