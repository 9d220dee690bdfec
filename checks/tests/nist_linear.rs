//! Source     NIST/ITL Statistical Reference Datasets, linear regression
//! Place      Filip, Longley, NoInt1, Pontius, Wampler4; numbers in checks/data/nist_linear
//! Exercises  holdline_geom::adjust::adjust
//! Tolerance  relative: 1e-9 for parameters, sd and residual sd; Wampler4 1e-7, Filip 1e-6, see the sets' design
//! Rights     work of the US government
//! Not used   sums of squares, R² and F, which follow from these; the other sets, which ask less

mod common;

use std::fs;
use std::path::Path;

use common::{Curve, Points, unknowns};
use holdline_checks::Witness;
use holdline_geom::adjust::{How, Problem, Room, adjust};
use num_dual::DualDVec64;

type D = DualDVec64;

/// What is certified.
struct Certified<'a> {
    parameters: &'a [f64],
    sds: &'a [f64],
    residual_sd: f64,
}

#[track_caller]
fn check(name: &str, curve: Curve, certified: &Certified, tolerance: f64) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data/nist_linear")
        .join(format!("{name}.csv"));
    let text = fs::read_to_string(path).expect("the file is there");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| {
            line.split(',')
                .map(|word| word.parse().expect("a number"))
                .collect()
        })
        .collect();
    let points = Points {
        curve,
        y: rows.iter().map(|row| row[0]).collect(),
        x: rows.iter().map(|row| row[1..].to_vec()).collect(),
        variance: [1.0],
    };
    let how = How {
        small_step: 1e-9,
        ..How::default()
    };
    let unknowns = unknowns(&vec![0.0; certified.parameters.len()]);
    let fitted = adjust(&Problem::new(&points, &unknowns), &how, &mut Room::new());
    let fitted = fitted.unwrap_or_else(|fault| panic!("{name}: {fault}"));
    let s0 = fitted.s0().expect("more points than parameters");
    for (idx, (&want, &sd)) in certified.parameters.iter().zip(certified.sds).enumerate() {
        Witness::new("nist_linear", "parameters, relative", tolerance)
            .see(fitted.values[idx] / want, 1.0);
        let got = s0 * fitted.sd(idx).expect("determined");
        Witness::new("nist_linear", "sd, relative", tolerance).see(got / sd, 1.0);
    }
    Witness::new("nist_linear", "residual sd, relative", tolerance)
        .see(s0 / certified.residual_sd, 1.0);
}

/// Σ b_k x^k, by Horner.
fn polynomial(b: &[D], x: &[f64]) -> D {
    let (last, lower) = b.split_last().expect("a parameter");
    lower
        .iter()
        .rev()
        .fold(last.clone(), |sum, b| sum * x[0] + b)
}

/// A polynomial of degree 10 far from zero: scaled columns still agree to ten digits.
/// The normal equations alone fail here; this is what the orthogonal factor is for.
#[test]
fn filip() {
    let certified = Certified {
        parameters: &[
            -1_467.489_614_229_8,
            -2_772.179_591_933_42,
            -2_316.371_081_608_93,
            -1_127.973_940_983_72,
            -354.478_233_703_349,
            -75.124_201_739_375_7,
            -10.875_318_035_534_3,
            -1.062_214_985_889_47,
            -0.067_019_115_459_340_8,
            -0.002_467_810_782_754_79,
            -4.02962525080404e-05,
        ],
        sds: &[
            298.084_530_995_537,
            559.779_865_474_95,
            466.477_572_127_796,
            227.204_274_477_751,
            71.647_866_087_592_7,
            15.289_717_874_74,
            2.236_911_598_160_33,
            0.221_624_321_934_227,
            0.014_236_376_315_472_4,
            0.000_535_617_408_889_821,
            8.96632837373868e-06,
        ],
        residual_sd: 0.003_348_010_513_245_44,
    };
    let curve: Curve = polynomial;
    check("filip", curve, &certified, 1e-6);
}

#[test]
fn pontius() {
    let certified = Certified {
        parameters: &[
            0.000_673_565_789_473_684,
            7.32059160401003e-07,
            -3.16081871345029e-15,
        ],
        sds: &[
            0.000_107_938_612_033_077,
            1.57817399981659e-10,
            4.86652849992036e-17,
        ],
        residual_sd: 0.000_205_177_424_076_185,
    };
    let curve: Curve = polynomial;
    check("pontius", curve, &certified, 1e-9);
}

#[test]
fn noint1() {
    let certified = Certified {
        parameters: &[2.074_380_165_289_26],
        sds: &[0.016_528_925_619_834_7],
        residual_sd: 3.567_530_340_063_38,
    };
    let curve: Curve = |b, x| b[0].clone() * x[0];
    check("noint1", curve, &certified, 1e-9);
}

#[test]
fn wampler4() {
    let certified = Certified {
        parameters: &[1.0, 1.0, 1.0, 1.0, 1.0, 1.0],
        sds: &[
            215_232.624_678_17,
            236_355.173_469_681,
            77_934.352_433_158_3,
            10_147.550_755_035,
            564.566_512_170_752,
            11.232_485_467_931_2,
        ],
        residual_sd: 236_014.502_379_268,
    };
    let curve: Curve = polynomial;
    check("wampler4", curve, &certified, 1e-7);
}

#[test]
fn longley() {
    let certified = Certified {
        parameters: &[
            -3_482_258.634_595_82,
            15.061_872_271_373_3,
            -0.035_819_179_292_591,
            -2.020_229_803_816_83,
            -1.033_226_867_173_59,
            -0.051_104_105_653_580_7,
            1_829.151_464_613_55,
        ],
        sds: &[
            890_420.383_607_373,
            84.914_925_774_766_9,
            0.033_491_007_772_243_2,
            0.488_399_681_651_699,
            0.214_274_163_161_675,
            0.226_073_200_069_37,
            455.478_499_142_212,
        ],
        residual_sd: 304.854_073_561_965,
    };
    let curve: Curve = |b, x| {
        let columns = b[1..].iter().zip(x);
        columns.fold(b[0].clone(), |sum, (b, &x)| sum + b.clone() * x)
    };
    check("longley", curve, &certified, 1e-9);
}
