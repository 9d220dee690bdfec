//! Faults: something given to us that cannot be used, said so that a person can mend it.
//!
//! A fault says where, what was found, what would do, and the next step.
//! Bounds are rows of a table ([`Span`]); the check, the message and the manual come from the row.

use std::fmt;

/// A plausible range for a number that a person or a file gives.
///
/// One row a number; the check, the message and the manual are all made from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Code of the fault, for `holdline explain`.
    pub code: &'static str,
    /// What is measured, in the words of the trade.
    pub what: &'static str,
    /// Unit of `min` and `max`; empty for a pure number.
    pub unit: &'static str,
    /// Least value that would do.
    pub min: f64,
    /// Largest value that would do.
    pub max: f64,
    /// The next step for the person.
    pub fix: &'static str,
}

impl Span {
    /// `value` if it lies in the span, else the fault that says why not. NaN and infinities fail.
    ///
    /// # Errors
    ///
    /// A [`Fault`] with this row's code.
    pub fn check(&self, at: &str, value: f64) -> Result<f64, Fault> {
        if self.min <= value && value <= self.max {
            Ok(value)
        } else {
            Err(Fault {
                code: self.code,
                at: at.to_owned(),
                place: None,
                got: format!("{}{}", number(value), unit(self.unit)),
                want: format!(
                    "{}{} to {}{} ({})",
                    number(self.min),
                    unit(self.unit),
                    number(self.max),
                    unit(self.unit),
                    self.what
                ),
                fix: self.fix.to_owned(),
            })
        }
    }
}

/// Where in a file a fault sits; lines and columns count from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Name of the file as the person gave it.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// Something given to us that cannot be used.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Code, one letter and three digits; `holdline explain CODE` tells the long story.
    pub code: &'static str,
    /// Path through the document, such as `stick.length` or `bucket[T75].tooth[left].at`.
    pub at: String,
    /// File, line and column, once the reader has found them.
    pub place: Option<Place>,
    /// What was found.
    pub got: String,
    /// What would do.
    pub want: String,
    /// The next step.
    pub fix: String,
}

impl Fault {
    /// A fault without a file; the reader adds the place.
    pub fn new(
        code: &'static str,
        at: impl Into<String>,
        got: impl Into<String>,
        want: impl Into<String>,
        fix: impl Into<String>,
    ) -> Fault {
        Fault {
            code,
            at: at.into(),
            place: None,
            got: got.into(),
            want: want.into(),
            fix: fix.into(),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "fault {}", self.code)?;
        match &self.place {
            Some(p) => {
                write!(f, " at {}:{}:{}", p.file, p.line, p.column)?;
                if !self.at.is_empty() {
                    write!(f, " ({})", self.at)?;
                }
            }
            None if self.at.is_empty() => {}
            None => write!(f, " at {}", self.at)?,
        }
        write!(
            f,
            "\n  got   {}\n  want  {}\n  fix   {}",
            self.got, self.want, self.fix
        )
    }
}

impl std::error::Error for Fault {}

/// All faults of a file or form at once, never just the first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Faults(pub Vec<Fault>);

impl Faults {
    /// None yet.
    pub fn none() -> Faults {
        Faults(Vec::new())
    }

    /// Keeps the value or notes the fault.
    pub fn keep<T>(&mut self, result: Result<T, Fault>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(fault) => {
                self.0.push(fault);
                None
            }
        }
    }

    /// Notes one more.
    pub fn push(&mut self, fault: Fault) {
        self.0.push(fault);
    }

    /// True when nothing is wrong so far.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// `Ok(value)` when nothing was wrong, else all that was.
    ///
    /// # Errors
    ///
    /// `self`, if it holds a fault.
    pub fn or<T>(self, value: T) -> Result<T, Faults> {
        if self.0.is_empty() {
            Ok(value)
        } else {
            Err(self)
        }
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Faults {
        Faults(vec![fault])
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (idx, fault) in self.0.iter().enumerate() {
            if idx > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

/// A number as a person would write it: no trailing zeros, and words for what is not a number.
pub fn number(value: f64) -> String {
    if value.is_nan() {
        "not a number (NaN)".to_owned()
    } else if value.is_infinite() {
        if value > 0.0 {
            "infinity"
        } else {
            "minus infinity"
        }
        .to_owned()
    } else {
        format!("{value}")
    }
}

fn unit(unit: &str) -> String {
    if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STICK: Span = Span {
        code: "M012",
        what: "stick, pin to pin",
        unit: "m",
        min: 0.5,
        max: 12.0,
        fix: "measure pin centre to pin centre again; feet typed as metres look like this",
    };

    #[test]
    fn a_span_speaks_as_the_style_asks() {
        let fault = STICK.check("machine.stick.length", 13.1).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "fault M012 at machine.stick.length\n  got   13.1 m\n  want  0.5 m to 12 m (stick, pin to pin)\n  fix   measure pin centre to pin centre again; feet typed as metres look like this"
        );
    }

    #[test]
    fn what_is_not_a_number_never_passes() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(STICK.check("x", bad).is_err());
        }
        assert_eq!(STICK.check("x", 0.5), Ok(0.5));
        assert_eq!(STICK.check("x", 12.0), Ok(12.0));
    }

    #[test]
    fn all_faults_are_kept() {
        let mut faults = Faults::none();
        assert_eq!(faults.keep(STICK.check("a", 1.0)), Some(1.0));
        assert_eq!(faults.keep(STICK.check("b", 0.0)), None);
        assert_eq!(faults.keep(STICK.check("c", 99.0)), None);
        let all = faults.or(()).unwrap_err();
        assert_eq!(all.0.len(), 2);
    }
}
