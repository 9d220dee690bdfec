//! From a quantity to the number that is keyed, and back from its very text.

use super::terms::{Dimension, Entry, EntryUnit};
use holdline_geom::fault::Fault;
use std::f64::consts::{PI, TAU};

/// Most decimals that a step may need.
const DECIMALS_AT_MOST: usize = 6;

/// A number as it is keyed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Keyed {
    /// Before rounding, in the entry's unit.
    pub exact: f64,
    /// The text to key.
    pub text: String,
    /// What the text says of our quantity, m or rad.
    pub says: f64,
    /// Whether it lies in the range; none where no range was described.
    pub in_range: Option<bool>,
}

/// Checks what a person described of an entry, apart from what it stands for.
///
/// # Errors
///
/// `H003` a unit that does not count the quantity; `H004` no step, or one that cannot be written;
/// `H005` a range that is none; `H006` no label.
pub(super) fn check_described(entry: &Entry, dimension: Dimension) -> Vec<Fault> {
    let at = |key: &str| format!("entry[{}].{key}", entry.label);
    let mut faults = Vec::new();
    if entry.label.trim().is_empty() {
        faults.push(Fault::new(
            "H006",
            at("label"),
            "no label",
            "the label as it stands on the system",
            "copy the words from the system's own page",
        ));
    }
    if entry.unit.dimension() != dimension {
        let kind = match dimension {
            Dimension::Length => "a length: m, cm, mm, ft, us-ft or in",
            Dimension::Angle => "an angle or slope: deg, gon, rad, mrad, % or mm/m",
        };
        faults.push(Fault::new(
            "H003",
            at("unit"),
            entry.unit.word(),
            kind,
            "look at the unit on the system's own page, and at what the entry stands for",
        ));
    }
    if entry.resolution.and_then(decimals_of).is_none() {
        faults.push(Fault::new(
            "H004",
            at("resolution"),
            entry
                .resolution
                .map_or_else(|| "no resolution".to_owned(), |step| format!("{step}")),
            format!("the least step that can be keyed, above zero, with at most {DECIMALS_AT_MOST} decimals"),
            "step the entry up and down once on the system and read the difference",
        ));
    }
    if let Some([min, max]) = entry.range
        && !(min.is_finite() && max.is_finite() && min < max)
    {
        faults.push(Fault::new(
            "H005",
            at("range"),
            format!("{min} to {max}"),
            "the least number first, then the largest",
            "try both ends on the system; leave the range out if you cannot",
        ));
    }
    if !entry.zero.is_finite() {
        faults.push(Fault::new(
            "H005",
            at("zero"),
            format!("{}", entry.zero),
            "our quantity where the entry reads zero",
            "leave it out when both count from the same zero",
        ));
    }
    faults
}

/// The number to key for a quantity.
///
/// ```text
/// exact = sign · (quantity − zero) in the entry's unit, angles by whole turns into the range
/// keyed = the nearest whole step
/// says  = zero + sign · (text as a number, in m or rad)
/// ```
pub(super) fn keyed(entry: &Entry, quantity: f64) -> Option<Keyed> {
    let step = entry.resolution?;
    let decimals = decimals_of(step)?;
    let sign = entry.sign.factor();
    let exact = into_range(
        entry.unit,
        entry.range,
        entry.unit.of_si(sign * (quantity - entry.zero)),
    );
    let text = text_of((exact / step).round() * step, decimals);
    let read: f64 = text.parse().ok()?;
    let says = entry.zero + sign * entry.unit.to_si(read);
    // A text of many digits would hide that a figure is not a number.
    if !(exact.is_finite() && says.is_finite()) {
        return None;
    }
    let in_range = entry.range.map(|[min, max]| min <= read && read <= max);
    Some(Keyed {
        exact,
        text,
        says,
        in_range,
    })
}

/// What a number in the entry's unit says of our quantity.
pub(super) fn says(entry: &Entry, number: f64) -> f64 {
    entry.zero + entry.sign.factor() * entry.unit.to_si(number)
}

/// An angle from −π to π.
pub(super) fn half_turns(angle_rad: f64) -> f64 {
    let a = angle_rad.rem_euclid(TAU);
    if PI < a { a - TAU } else { a }
}

/// Angles come round again: by whole turns into the range, or nearest to zero without one.
fn into_range(unit: EntryUnit, range: Option<[f64; 2]>, number: f64) -> f64 {
    let Some(turn) = unit.turn() else {
        return number;
    };
    let middle = range.map_or(0.0, |[min, max]| (min + max) / 2.0);
    number - ((number - middle) / turn).round() * turn
}

/// How many decimals a step needs; none for a step that is none.
fn decimals_of(step: f64) -> Option<usize> {
    if !(0.0 < step && step.is_finite()) {
        return None;
    }
    (0..=DECIMALS_AT_MOST).find(|decimals| {
        let scaled = step * 10_f64.powi(*decimals as i32);
        let whole = scaled.round();
        1.0 <= whole && (scaled - whole).abs() <= 1e-9 * whole
    })
}

/// Without the minus of a zero.
fn text_of(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(_) | None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibrate::hand_over::terms::{EntrySign, Quantity};

    fn entry(unit: EntryUnit, resolution: f64, range: Option<[f64; 2]>) -> Entry {
        Entry {
            label: "any".to_owned(),
            quantity: Quantity::Figure {
                path: "boom.length".to_owned(),
            },
            sign: EntrySign::Same,
            zero: 0.0,
            unit,
            resolution: Some(resolution),
            range,
            note: String::new(),
        }
    }

    #[track_caller]
    fn check(entry: &Entry, quantity: f64, want: &str) {
        assert_eq!(keyed(entry, quantity).expect("a number").text, want);
    }

    /// Every row by hand.
    #[test]
    fn numbers_as_a_person_would_key_them() {
        check(&entry(EntryUnit::Millimetre, 1.0, None), 5.71843, "5718");
        check(&entry(EntryUnit::Millimetre, 5.0, None), 5.71843, "5720");
        check(&entry(EntryUnit::Metre, 0.005, None), 5.71843, "5.720");
        check(&entry(EntryUnit::Metre, 0.001, None), -0.0004, "0.000");
        check(&entry(EntryUnit::Inch, 0.0625, None), 0.508, "20.0000"); // 20 in
        check(
            &entry(EntryUnit::FootInternational, 0.01, None),
            3.048,
            "10.00",
        );
        check(
            &entry(EntryUnit::Degree, 0.05, None),
            0.5_f64.to_radians(),
            "0.50",
        );
        check(
            &entry(EntryUnit::Percent, 0.1, None),
            0.02_f64.atan(),
            "2.0",
        );
        let full = Some([0.0, 360.0]);
        check(
            &entry(EntryUnit::Degree, 0.1, full),
            (-90_f64).to_radians(),
            "270.0",
        );
        check(
            &entry(EntryUnit::Gon, 0.1, Some([0.0, 400.0])),
            (-90_f64).to_radians(),
            "300.0",
        );
        let turned = Entry {
            sign: EntrySign::Turned,
            zero: 90_f64.to_radians(),
            ..entry(EntryUnit::Degree, 0.01, None)
        };
        check(&turned, 60_f64.to_radians(), "30.00");
        let says = keyed(&turned, 60.004_f64.to_radians())
            .expect("a number")
            .says;
        assert!((says.to_degrees() - 60.0).abs() < 1e-12);
    }

    #[test]
    fn out_of_range_is_told_and_no_number_is_none() {
        let short = entry(EntryUnit::Millimetre, 1.0, Some([0.0, 5000.0]));
        assert_eq!(
            keyed(&short, 5.718).expect("a number").in_range,
            Some(false)
        );
        assert_eq!(keyed(&short, 4.718).expect("a number").in_range, Some(true));
        assert_eq!(keyed(&short, f64::NAN), None);
        for step in [0.0, -1.0, f64::NAN, 1.0 / 3.0, 1e-9] {
            assert_eq!(decimals_of(step), None, "{step}");
        }
        assert_eq!(decimals_of(0.25), Some(2));
        assert_eq!(decimals_of(10.0), Some(0));
    }
}
