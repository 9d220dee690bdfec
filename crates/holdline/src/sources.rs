//! Every source that a formula leans on, once. Docs link here;
//! `cargo x tidy` finds the ones nobody uses.

/// A published source and what of it is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// Author and title.
    pub title: &'static str,
    /// Edition, year, publisher.
    pub edition: &'static str,
    /// What of it is used.
    pub used: &'static str,
    /// Whether it was at hand or is quoted from memory.
    pub at_hand: AtHand,
}

/// Whether a source was read while writing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AtHand {
    /// Read.
    Read,
    /// Quoted from memory.
    FromMemory,
}

/// Four-bar position analysis: two circles meet in two points, one a branch.
pub const FOUR_BAR: Source = Source {
    title: "R. L. Norton, Design of Machinery",
    edition: "McGraw-Hill, edition not known, chapter on position analysis (from memory)",
    used: "position of the four-bar and its velocity ratio; example 4-1 as check",
    at_hand: AtHand::FromMemory,
};

/// Rotation matrices and rigid moves.
pub const RIGID_MOTION: Source = Source {
    title: "R. M. Murray, Z. Li, S. S. Sastry, A Mathematical Introduction to Robotic Manipulation",
    edition: "CRC Press 1994 (from memory)",
    used: "product of rigid moves along a chain, and the Jacobian by the joints' axes",
    at_hand: AtHand::FromMemory,
};

/// Expression of uncertainty.
pub const GUM: Source = Source {
    title: "JCGM 100:2008, Guide to the expression of uncertainty in measurement",
    edition: "JCGM 2008 (formulas from memory)",
    used: "mean and sd of a series (4.2), propagation with covariances (5.2), coverage factor (6.2, G.3)",
    at_hand: AtHand::FromMemory,
};

/// Propagation of distributions by draws.
pub const GUM_DRAWS: Source = Source {
    title: "JCGM 101:2008, Propagation of distributions using a Monte Carlo method",
    edition: "JCGM 2008 (from memory)",
    used: "draws from the joint distribution, sd and coverage interval of the draws (7.2 to 7.7)",
    at_hand: AtHand::FromMemory,
};

/// Decisions in the presence of uncertainty.
pub const GUARDED_DECISION: Source = Source {
    title: "JCGM 106:2012, The role of measurement uncertainty in conformity assessment",
    edition: "JCGM 2012 (from memory)",
    used: "guarded acceptance and guarded rejection (8.3)",
    at_hand: AtHand::FromMemory,
};

/// The hash under every record.
pub const SECURE_HASH: Source = Source {
    title: "FIPS PUB 180-4, Secure Hash Standard",
    edition: "NIST 2015 (from memory)",
    used: "SHA-256 and its example; computed by a library",
    at_hand: AtHand::FromMemory,
};

/// One way of writing a JSON value.
pub const CANONICAL_JSON: Source = Source {
    title: "RFC 8785, JSON Canonicalization Scheme",
    edition: "IETF 2020 (from memory)",
    used: "order of members, numbers, escapes; the numbers of appendix B as check",
    at_hand: AtHand::FromMemory,
};

/// Times on paper and in files.
pub const TIMESTAMP: Source = Source {
    title: "RFC 3339, Date and Time on the Internet: Timestamps",
    edition: "IETF 2002 (from memory)",
    used: "the form of a time in UTC",
    at_hand: AtHand::FromMemory,
};

/// Signature by a key.
pub const KEY_SIGNATURE: Source = Source {
    title: "RFC 8032, Edwards-Curve Digital Signature Algorithm (EdDSA)",
    edition: "IETF 2017 (from memory)",
    used: "Ed25519; computed by a library, the key of test 1 as check",
    at_hand: AtHand::FromMemory,
};

/// Least squares for survey work.
pub const LEAST_SQUARES: Source = Source {
    title: "C. D. Ghilani, P. R. Wolf, Adjustment Computations",
    edition: "Wiley, edition not known (from memory)",
    used: "ordinary and weighted least squares, covariance of the unknowns",
    at_hand: AtHand::FromMemory,
};

/// Tail of the χ² distribution in closed form.
pub const CHI_SQUARE_TAIL: Source = Source {
    title: "M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions",
    edition: "National Bureau of Standards 1964 (from memory)",
    used: "Q(χ²|ν) as a finite sum, 26.4.4 and 26.4.5; erfc as a continued fraction, 7.1.14",
    at_hand: AtHand::FromMemory,
};

/// Which of several faults explains what was seen.
pub const DRIFT: Source = Source {
    title: "H. Akaike, A new look at the statistical model identification; W. Baarda, A testing procedure for use in geodetic networks",
    edition: "IEEE Trans. Automatic Control 19, 1974; Netherlands Geodetic Commission 1968 (both from memory)",
    used: "AIC and differences of 4; minimal detectable size at 0.001 with power 0.80, noncentrality 17.075",
    at_hand: AtHand::FromMemory,
};

/// Which measurements tell most.
pub const EXPERIMENT_DESIGN: Source = Source {
    title: "V. V. Fedorov, Theory of Optimal Experiments",
    edition: "Academic Press 1972 (from memory)",
    used: "largest determinant and least mean variance as aims; one measurement added at a time",
    at_hand: AtHand::FromMemory,
};
