//! Numbers to text with a fixed count of decimals, correctly rounded.

/// Most decimals that can be asked for.
pub const MOST_DECIMALS: u8 = 9;

/// Largest value, either way, that takes the short way; beyond, the standard library writes it.
const SHORT_BELOW: f64 = 1.0e9;

const TENS: [f64; 10] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];
const UNITS: [u64; 10] = {
    let mut units = [1; 10];
    let mut n = 1;
    while n < 10 {
        units[n] = units[n - 1] * 10;
        n += 1;
    }
    units
};

/// Writes `value` with `decimals` decimals, at most [`MOST_DECIMALS`], as the standard library does,
/// the exact value of the number rounded to the nearest, ties to even; but never `-0`.
///
/// ```text
/// whole part exactly, fraction · 10^d with its rounding error (below 2^-23) kept off the tie;
/// what comes nearer than 1e-6 to a tie goes the long way
/// ```
///
/// - Exact to: the last bit; `as_the_standard_library_writes` below.
pub fn write_fixed(out: &mut Vec<u8>, value: f64, decimals: u8) {
    let decimals = decimals.min(MOST_DECIMALS);
    let size = value.abs();
    let short = size < SHORT_BELOW;
    if !short {
        return write_long(out, value, decimals);
    }
    let scale = TENS[usize::from(decimals)];
    // below 2^53 the way to whole numbers and back is exact; signed is what the machine can do
    let whole = size as i64;
    let part = (size - whole as f64) * scale; // the difference is exact, the product rounded once
    let below = part as i64;
    let over = part - below as f64;
    if (over - 0.5).abs() < 1e-6 {
        return write_long(out, value, decimals);
    }
    let units = whole as u64 * UNITS[usize::from(decimals)] + below as u64 + u64::from(0.5 < over);
    write_units(out, value < 0.0 && units != 0, units, usize::from(decimals));
}

fn write_long(out: &mut Vec<u8>, value: f64, decimals: u8) {
    let text = format!("{value:.*}", usize::from(decimals));
    let zero = text
        .strip_prefix('-')
        .filter(|rest| rest.bytes().all(|b| b == b'0' || b == b'.'));
    out.extend_from_slice(zero.unwrap_or(&text).as_bytes());
}

const PAIRS: [[u8; 2]; 100] = {
    let mut pairs = [[0; 2]; 100];
    let mut n = 0_u8;
    while n < 100 {
        pairs[n as usize] = [b'0' + n / 10, b'0' + n % 10];
        n += 1;
    }
    pairs
};

/// Room for the text of a number in the short way: sign, 20 digits, point, and some to spare.
const ROOM: usize = 32;

/// Where the text of a number is put together, from the end of the first half backwards.
type Desk = [u8; 2 * ROOM];

/// Adds the text from `at` to the end of the first half. It is copied with what comes after, and
/// that taken off again: a copy of one fixed length is a few moves, one of any length is a call.
fn add(out: &mut Vec<u8>, text: &Desk, at: usize) {
    let len = out.len() + (ROOM - at);
    if let Some(fixed) = text[at..].first_chunk::<ROOM>() {
        out.extend_from_slice(fixed);
    }
    out.truncate(len);
}

fn write_units(out: &mut Vec<u8>, negative: bool, units: u64, decimals: usize) {
    let mut text: Desk = [0; 2 * ROOM];
    let mut rest = units;
    let mut at = ROOM;
    let mut left = decimals;
    while 2 <= left {
        at -= 2;
        text[at..at + 2].copy_from_slice(&PAIRS[(rest % 100) as usize]);
        rest /= 100;
        left -= 2;
    }
    if left == 1 {
        at -= 1;
        text[at] = b'0' + (rest % 10) as u8;
        rest /= 10;
    }
    if decimals != 0 {
        at -= 1;
        text[at] = b'.';
    }
    at = digits_before(&mut text, at, rest);
    if negative {
        at -= 1;
        text[at] = b'-';
    }
    add(out, &text, at);
}

/// Writes a whole number.
pub fn write_whole(out: &mut Vec<u8>, value: u64) {
    let mut text: Desk = [0; 2 * ROOM];
    let at = digits_before(&mut text, ROOM, value);
    add(out, &text, at);
}

/// Puts the digits of `rest` before `at`, at least one; gives where they begin.
fn digits_before(text: &mut Desk, mut at: usize, mut rest: u64) -> usize {
    while 100 <= rest {
        at -= 2;
        text[at..at + 2].copy_from_slice(&PAIRS[(rest % 100) as usize]);
        rest /= 100;
    }
    if 10 <= rest {
        at -= 2;
        text[at..at + 2].copy_from_slice(&PAIRS[rest as usize]);
    } else {
        at -= 1;
        text[at] = b'0' + rest as u8;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fixed(value: f64, decimals: u8) -> String {
        let mut out = Vec::new();
        write_fixed(&mut out, value, decimals);
        String::from_utf8(out).expect("digits")
    }

    #[track_caller]
    fn check(value: f64, decimals: u8) {
        let mut want = format!("{value:.*}", usize::from(decimals));
        if want.starts_with('-') && !want.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
            want.remove(0);
        }
        assert_eq!(fixed(value, decimals), want, "{value:e} to {decimals}");
    }

    #[test]
    fn as_the_standard_library_writes() {
        let mut seed = 3_u64;
        for round in 0..300_000_u32 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let unit = (seed >> 11) as f64 / (1_u64 << 53) as f64 - 0.5;
            for size in [1e-9, 1e-3, 1.0, 50.0, 1.3e6, 9.9e8, 3.0e9] {
                check(unit * size, (round % 10) as u8);
            }
            // close to and on ties: k / 2^j is exact in binary
            let tie = (seed >> 40) as f64 / 65_536.0;
            for value in [tie, tie.next_up(), tie.next_down(), -tie] {
                check(value, (round % 10) as u8);
            }
        }
    }

    #[test]
    fn corners() {
        assert_eq!(fixed(-0.0, 4), "0.0000");
        assert_eq!(fixed(-0.000_04, 4), "0.0000");
        assert_eq!(fixed(-0.000_06, 4), "-0.0001");
        assert_eq!(fixed(0.5, 0), "0"); // ties to even
        assert_eq!(fixed(1.5, 0), "2");
        assert_eq!(fixed(0.125, 2), "0.12");
        assert_eq!(fixed(9.999_96, 4), "10.0000");
        assert_eq!(fixed(4_200_100.123_45, 4), "4200100.1234"); // the double lies just below
        for value in [
            f64::MAX,
            f64::MIN_POSITIVE,
            1e9,
            -1e9,
            999_999_999.999_999_9,
            1e300,
        ] {
            check(value, 9);
            check(value, 0);
        }
    }

    #[test]
    fn whole_numbers() {
        for value in [0, 7, 10, 99, 100, 101, 12_345, u64::MAX] {
            let mut out = Vec::new();
            write_whole(&mut out, value);
            assert_eq!(String::from_utf8(out).expect("digits"), value.to_string());
        }
    }
}
