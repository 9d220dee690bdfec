//! The clock, at the edge where it belongs.

use holdline::records::Stamp;
use holdline_geom::fault::Fault;

/// Now, in UTC and whole seconds, and `by` whom.
///
/// # Errors
///
/// `R011` if `by` is not one line of text; `R010` if the computer's clock stands outside the years 0 to 9999.
pub fn stamp_now(by: &str) -> Result<Stamp, Fault> {
    let now = jiff::Timestamp::now();
    Stamp::new(now.strftime("%Y-%m-%dT%H:%M:%SZ").to_string(), by)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn now_is_a_stamp() {
        let stamp = stamp_now("A. Specialist").unwrap();
        assert_eq!((stamp.at().len(), stamp.by()), (20, "A. Specialist"));
    }
}
