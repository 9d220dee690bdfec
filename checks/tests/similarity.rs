//! Source     P. R. Wolf, C. D. Ghilani, Adjustment Computations, Wiley; IOGP Publication 373-7-2; ICGC 2010
//! Place      three-dimensional conformal, four points; Similarity (method 9621), three test points
//! Exercises  holdline_geom::adjust::adjust: plain and with readings on both sides of the equations
//! Tolerance  values computed again by two other ways: S 1e-9, angles 1e-7 deg, T 1e-5 m; points 0.001 m as printed
//! Rights     numbers only
//! Not used   the textbook's own digits of the weighted case, off its own data by less than one sd (from memory)

use holdline_checks::Witness;
use holdline_geom::adjust::{
    Adjusted, Equations, How, Linear, Problem, Room, Shape, Unknown, adjust, check_slopes,
};
use holdline_geom::fault::Fault;

const SOURCE: [[f64; 3]; 4] = [
    [1094.883, 820.085, 109.821],
    [503.891, 1598.698, 117.685],
    [2349.343, 207.658, 151.387],
    [1395.320, 1348.853, 215.261],
];

const TARGET: [[f64; 3]; 4] = [
    [10037.81, 5262.09, 772.04],
    [10956.68, 5128.17, 783.00],
    [8780.08, 4840.29, 782.62],
    [10185.80, 4700.21, 851.32],
];

const SOURCE_SD: [[f64; 3]; 4] = [
    [0.007, 0.008, 0.005],
    [0.011, 0.008, 0.009],
    [0.006, 0.005, 0.007],
    [0.005, 0.008, 0.009],
];

const TARGET_SD: [[f64; 3]; 4] = [
    [0.05, 0.06, 0.05],
    [0.04, 0.06, 0.09],
    [0.02, 0.04, 0.02],
    [0.03, 0.05, 0.03],
];

/// Whose coordinates are observations.
#[derive(Clone, Copy, PartialEq)]
enum Sides {
    Target,
    Both,
}

/// X = S Rᵀ x + T with R = R3(κ) R2(φ) R1(ω); unknowns S, ω, φ, κ, T. A block a point.
struct Conformal {
    sides: Sides,
    readings: Vec<Vec<f64>>,
    covariance: Vec<Vec<f64>>,
}

impl Conformal {
    fn new(sides: Sides) -> Conformal {
        let of_both = |k: usize, source: &[[f64; 3]], target: &[[f64; 3]]| -> Vec<f64> {
            match sides {
                Sides::Target => target[k].to_vec(),
                Sides::Both => [source[k], target[k]].concat(),
            }
        };
        let covariance = |k: usize| {
            let sds = match sides {
                Sides::Target => vec![1.0; 3],
                Sides::Both => of_both(k, &SOURCE_SD, &TARGET_SD),
            };
            let n = sds.len();
            let entry = |at: usize| {
                if at.is_multiple_of(n + 1) {
                    sds[at / n] * sds[at / n]
                } else {
                    0.0
                }
            };
            (0..n * n).map(entry).collect()
        };
        Conformal {
            sides,
            readings: (0..4).map(|k| of_both(k, &SOURCE, &TARGET)).collect(),
            covariance: (0..4).map(covariance).collect(),
        }
    }
}

type Matrix = [[f64; 3]; 3];

/// Rᵀ = R1ᵀ R2ᵀ R3ᵀ, and its slopes by ω, φ, κ.
fn turned(angles: &[f64]) -> [Matrix; 4] {
    let about = |axis: usize, angle: f64, slope: bool| {
        let (sin, cos) = angle.sin_cos();
        let (c, s, one) = if slope {
            (-sin, cos, 0.0)
        } else {
            (cos, sin, 1.0)
        };
        // The transpose of the turn of the axes.
        match axis {
            0 => [[one, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]],
            1 => [[c, 0.0, s], [0.0, one, 0.0], [-s, 0.0, c]],
            _ => [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, one]],
        }
    };
    std::array::from_fn(|which| {
        let factor = |axis: usize| about(axis, angles[axis], which == axis + 1);
        times(&times(&factor(0), &factor(1)), &factor(2))
    })
}

fn times(a: &Matrix, b: &Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()))
}

fn moved(a: &Matrix, p: &[f64]) -> [f64; 3] {
    std::array::from_fn(|i| (0..3).map(|k| a[i][k] * p[k]).sum())
}

impl Equations for Conformal {
    fn n_blocks(&self) -> usize {
        4
    }

    fn shape(&self, block: usize) -> Shape {
        Shape {
            n_rows: 3,
            n_readings: self.readings[block].len(),
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &self.readings[block]
    }

    fn covariance(&self, block: usize) -> &[f64] {
        &self.covariance[block]
    }

    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        let n = l.len();
        let (source, target) = match self.sides {
            Sides::Target => (&SOURCE[block][..], l),
            Sides::Both => l.split_at(3),
        };
        let turned = turned(&x[1..4]);
        let [at, by_omega, by_phi, by_kappa] = turned.each_ref().map(|m| moved(m, source));
        for i in 0..3 {
            out.w[i] = x[0] * at[i] + x[4 + i] - target[i];
            let a = &mut out.a[i * 7..(i + 1) * 7];
            a[0] = at[i];
            (a[1], a[2], a[3]) = (x[0] * by_omega[i], x[0] * by_phi[i], x[0] * by_kappa[i]);
            a[4 + i] = 1.0;
            out.b[i * n + n - 3 + i] = -1.0;
            if self.sides == Sides::Both {
                for (slope, turned) in out.b[i * n..].iter_mut().zip(turned[0][i]) {
                    *slope = x[0] * turned;
                }
            }
        }
        Ok(())
    }
}

fn unknowns(starts: &[(f64, f64)]) -> Vec<Unknown> {
    let unknown = |&(start, scale): &(f64, f64)| Unknown {
        name: String::new(),
        start,
        scale,
    };
    starts.iter().map(unknown).collect()
}

fn fitted(sides: Sides) -> Adjusted {
    let equations = Conformal::new(sides);
    let unknowns = unknowns(&[
        (1.0, 0.01),
        (0.0, 0.1),
        (0.0, 0.1),
        (3.9, 0.1),
        (10_000.0, 100.0),
        (6500.0, 100.0),
        (700.0, 100.0),
    ]);
    let x: Vec<f64> = unknowns.iter().map(|u| u.start).collect();
    let scales: Vec<f64> = unknowns.iter().map(|u| u.scale).collect();
    let off = check_slopes(&equations, &x, &scales, 1.0).expect("filled");
    assert!(off.expect("slopes").share < 1e-8, "{off:?}");
    let how = How {
        small_step: 1e-9,
        ..How::default()
    };
    adjust(&Problem::new(&equations, &unknowns), &how, &mut Room::new()).expect("settled")
}

fn see(what: &'static str, tolerance: f64, pairs: &[(f64, f64)]) {
    let mut witness = Witness::new("similarity", what, tolerance);
    pairs.iter().for_each(|&(got, want)| witness.see(got, want));
}

#[test]
fn seven_parameters_unweighted() {
    let got = fitted(Sides::Target);
    let x = &got.values;
    see("scale", 1e-9, &[(x[0], 0.949_956_940_2)]);
    let angles = [2.284_095_3, -0.550_825_83, 224.537_098_95];
    let pairs: Vec<(f64, f64)> = (0..3).map(|k| (x[1 + k].to_degrees(), angles[k])).collect();
    see("angles, deg", 1e-7, &pairs);
    let shifts = [
        (x[4], 10_233.825_815),
        (x[5], 6_549.968_292),
        (x[6], 720.878_86),
    ];
    see("shifts, m", 1e-5, &shifts);
    let s0 = got.s0().expect("five to spare");
    assert_eq!(got.dof, 5);
    see("s0, m", 1e-8, &[(s0, 0.061_189_447_7)]);

    let sd = |k: usize| s0 * got.sd(k).expect("determined");
    see("sd of the scale", 5e-9, &[(sd(0), 3.576e-5)]);
    let arcsec = |k: usize| sd(k).to_degrees() * 3600.0;
    let pairs = [(arcsec(1), 30.333), (arcsec(2), 8.746), (arcsec(3), 7.774)];
    see("sd of the angles, arcsec", 5e-4, &pairs);
    see(
        "sd of the shifts, m",
        5e-5,
        &[(sd(4), 0.0672), (sd(5), 0.0680), (sd(6), 0.2288)],
    );

    let residuals = [
        [0.04803, 0.0252, -0.00113],
        [0.00796, -0.0561, 0.0115],
        [-0.01395, -0.05365, 0.00884],
        [-0.04204, 0.08454, -0.0192],
    ];
    for (block, want) in residuals.iter().enumerate() {
        let pairs: Vec<(f64, f64)> = got.residuals(block).iter().copied().zip(*want).collect();
        see("residuals, m", 5.1e-6, &pairs);
    }
}

/// Both sides measured: twelve equations with twenty-four readings.
#[test]
fn seven_parameters_weighted_on_both_sides() {
    let got = fitted(Sides::Both);
    let x = &got.values;
    see("scale, weighted", 1e-8, &[(x[0], 0.949_954_935)]);
    let shifts = [
        (x[4], 10233.8542),
        (x[5], 6_549.964_12),
        (x[6], 720.866_266),
    ];
    see("shifts, weighted, m", 1e-3, &shifts);
    let dms = |d: f64, m: f64, s: f64| d + m / 60.0 + s / 3600.0;
    let angles = [
        (x[1].to_degrees(), dms(2.0, 16.0, 59.90)),
        (x[2].to_degrees(), -dms(0.0, 33.0, 5.59)),
        (x[3].to_degrees(), dms(224.0, 32.0, 11.56)),
    ];
    see("angles, weighted, deg", 0.0051 / 3600.0, &angles);
    see(
        "s0, weighted",
        1e-5,
        &[(got.s0().expect("five to spare"), 1.288_308_5)],
    );
}

/// Four parameters from the three published points: E = a x + b y + c, N = a y − b x + d.
struct Plane;

const PLANE_SOURCE: [[f64; 2]; 3] = [
    [300_000.0, 4_500_000.0],
    [315_000.0, 4_740_000.0],
    [520_000.0, 4_680_000.0],
];

const PLANE_TARGET: [[f64; 2]; 3] = [
    [299_905.060, 4_499_796.515],
    [314_906.904, 4_739_796.774],
    [519_906.767, 4_679_795.125],
];

impl Equations for Plane {
    fn n_blocks(&self) -> usize {
        3
    }

    fn shape(&self, _: usize) -> Shape {
        Shape {
            n_rows: 2,
            n_readings: 2,
        }
    }

    fn readings(&self, block: usize) -> &[f64] {
        &PLANE_TARGET[block]
    }

    fn covariance(&self, _: usize) -> &[f64] {
        // Printed to the millimetre.
        &[8.3e-8, 0.0, 0.0, 8.3e-8]
    }

    fn fill(&self, block: usize, x: &[f64], l: &[f64], out: &mut Linear) -> Result<(), Fault> {
        let [e, n] = PLANE_SOURCE[block];
        out.w[0] = x[0] * e + x[1] * n + x[2] - l[0];
        out.w[1] = x[0] * n - x[1] * e + x[3] - l[1];
        out.a.copy_from_slice(&[e, n, 1.0, 0.0, n, -e, 0.0, 1.0]);
        out.b.copy_from_slice(&[-1.0, 0.0, 0.0, -1.0]);
        Ok(())
    }
}

/// The published parameters come out of the published points, within what millimetres leave open,
/// and no residual is larger than the rounding that printed them.
#[test]
fn four_parameters_in_the_plane() {
    let unknowns = unknowns(&[(1.0, 1e-5), (0.0, 1e-5), (0.0, 100.0), (0.0, 100.0)]);
    let problem = Problem::new(&Plane, &unknowns);
    let got = adjust(&problem, &How::default(), &mut Room::new()).expect("settled");
    let x = &got.values;
    let scale = x[0].hypot(x[1]);
    let arcsec = x[1].atan2(x[0]).to_degrees() * 3600.0;
    see("plane: scale", 1e-8, &[(scale, 1.000_001_550_4)]);
    see("plane: turn, arcsec", 2e-3, &[(arcsec, 1.565_04)]);
    // A millimetre 250 km apart moves the shifts, 4 500 km away, by some 20 mm.
    see(
        "plane: shifts, m",
        0.03,
        &[(x[2], -129.549), (x[3], -208.185)],
    );
    for block in 0..3 {
        let zero = [0.0, 0.0];
        let pairs: Vec<(f64, f64)> = got.residuals(block).iter().copied().zip(zero).collect();
        see("plane: residuals, m", 0.001, &pairs);
    }
}
