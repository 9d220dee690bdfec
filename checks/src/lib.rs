//! Values published by others, and what holdline makes of the same inputs.
//!
//! One file a source under `tests/`; each opens with six lines that name the source, the place in it,
//! what of ours it exercises, the tolerance and its reason, why the values may stand here, and what was left out.
//! `cargo x checks` prints them as a table, with the worst difference of each.

/// Compares with a source and remembers the worst difference.
///
/// The line it prints when dropped is what `cargo x checks` shows.
#[derive(Debug)]
pub struct Witness {
    check: &'static str,
    what: &'static str,
    tolerance: f64,
    worst: f64,
    n: usize,
}

impl Witness {
    /// A witness for `what`, under the check (the file's name without its ending).
    pub fn new(check: &'static str, what: &'static str, tolerance: f64) -> Witness {
        Witness {
            check,
            what,
            tolerance,
            worst: 0.0,
            n: 0,
        }
    }

    /// Fails unless `got` lies within the tolerance of `want`; what is not a number fails.
    #[track_caller]
    pub fn see(&mut self, got: f64, want: f64) {
        let off = (got - want).abs();
        assert!(
            off <= self.tolerance,
            "{}: {got} is off by {off:e} from {want}, {:e} allowed",
            self.what,
            self.tolerance
        );
        self.worst = if self.worst < off { off } else { self.worst };
        self.n += 1;
    }
}

impl Drop for Witness {
    fn drop(&mut self) {
        println!(
            "worst {}: {:.1e} of {:.1e} allowed, {} values, {}",
            self.check, self.worst, self.tolerance, self.n, self.what
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_within_passes() {
        let mut witness = Witness::new("lib", "a pair", 0.01);
        witness.see(1.0, 1.005);
        witness.see(1.0, 1.0);
    }

    #[test]
    #[should_panic(expected = "a pair")]
    fn what_is_off_fails() {
        Witness::new("lib", "a pair", 0.01).see(1.0, 1.02);
    }

    #[test]
    #[should_panic(expected = "a pair")]
    fn what_is_not_a_number_fails() {
        Witness::new("lib", "a pair", 0.01).see(f64::NAN, 1.0);
    }
}
