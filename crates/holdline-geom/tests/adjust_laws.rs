//! Laws of the adjustment: two ways to the same answer, and what adds up.

mod common;

use common::{
    Rows, all_near, arc_points, circle, correlated, linear, near, prior, row_major, unknowns,
};
use holdline_geom::adjust::{
    Adjusted, Constraint, Excluded, How, Levels, Observed, Problem, Room, Start, Statistics,
    adjust, check_slopes,
};
use holdline_geom::draws::Draws;
use nalgebra::{DMatrix, DVector};

fn exactly() -> How {
    How {
        small_step: 1e-10,
        ..How::default()
    }
}

#[track_caller]
fn solved(problem: &Problem) -> Adjusted {
    adjust(problem, &exactly(), &mut Room::new()).expect("an adjustment")
}

#[track_caller]
fn tested(problem: &Problem, adjusted: &Adjusted) -> Statistics {
    Statistics::of(problem, adjusted, &Levels::default(), &mut Room::new()).expect("tests")
}

#[track_caller]
fn same(a: &Adjusted, b: &Adjusted, n: usize, by: f64) {
    all_near(&a.values[..n], &b.values[..n], by);
    near(a.chi2, b.chi2, by * (1.0 + b.chi2));
    assert_eq!(a.dof, b.dof);
    for i in 0..n {
        for j in 0..n {
            let (got, want) = (a.covariance(i, j), b.covariance(i, j));
            let size = b.sd(i).expect("an sd") * b.sd(j).expect("an sd");
            near(got.expect("known"), want.expect("known"), by * 10.0 * size);
        }
    }
}

/// Twelve rows in blocks of three, four unknowns.
struct Lines {
    a: DMatrix<f64>,
    l: Vec<f64>,
    q: Vec<DMatrix<f64>>,
}

fn lines(seed: u64) -> Lines {
    let mut draws = Draws::new(seed, 0);
    let a = DMatrix::from_fn(12, 4, |_, _| draws.normal());
    let l = (0..12).map(|_| 3.0 * draws.normal()).collect();
    let q = (0..4).map(|_| correlated(3, &mut draws)).collect();
    Lines { a, l, q }
}

/// The textbook's formula with the full matrices: x = (Aᵀ Q⁻¹ A)⁻¹ Aᵀ Q⁻¹ l.
#[test]
fn full_covariances_as_in_the_textbook() {
    for seed in 0..5 {
        let Lines { a, l, q } = lines(seed);
        let mut p = DMatrix::zeros(12, 12);
        for (k, q) in q.iter().enumerate() {
            let inverse = q.clone().try_inverse().expect("positive");
            p.view_mut((3 * k, 3 * k), (3, 3)).copy_from(&inverse);
        }
        let normal = a.transpose() * &p * &a;
        let right = a.transpose() * &p * DVector::from_column_slice(&l);
        let q_x = normal.clone().try_inverse().expect("positive");
        let x = &q_x * right;
        let v = &a * &x - DVector::from_column_slice(&l);

        let rows = linear(a, &l, q);
        let unknowns = unknowns(&[0.0; 4]);
        let got = solved(&Problem::new(&rows, &unknowns));
        all_near(&got.values, x.as_slice(), 1e-10);
        near(got.chi2, (v.transpose() * p * &v)[(0, 0)], 1e-9);
        for (got, want) in got.covariances().expect("determined").iter().zip(&q_x) {
            near(*got, *want, 1e-10);
        }
        for block in 0..4 {
            all_near(
                got.residuals(block),
                &v.as_slice()[3 * block..3 * block + 3],
                1e-9,
            );
        }
    }
}

#[test]
fn correlated_readings_equal_whitened_ones() {
    let Lines { a, l, q } = lines(11);
    let (mut white_a, mut white_l) = (a.clone(), l.clone());
    for (k, q) in q.iter().enumerate() {
        let factor = q.clone().cholesky().expect("positive").l();
        let whiten = |rows: DMatrix<f64>| factor.solve_lower_triangular(&rows).expect("solved");
        let part = whiten(a.rows(3 * k, 3).into_owned());
        white_a.rows_mut(3 * k, 3).copy_from(&part);
        let part = whiten(DMatrix::from_column_slice(3, 1, &l[3 * k..3 * k + 3]));
        white_l[3 * k..3 * k + 3].copy_from_slice(part.as_slice());
    }
    let unknowns = unknowns(&[0.0; 4]);
    let one = DMatrix::identity(1, 1);
    let (full, white) = (linear(a, &l, q), linear(white_a, &white_l, vec![one; 12]));
    same(
        &solved(&Problem::new(&full, &unknowns)),
        &solved(&Problem::new(&white, &unknowns)),
        4,
        1e-9,
    );
}

/// A circle with both coordinates as readings of one equation, against the same circle where each
/// point has an angle of its own as unknown and its two coordinates are plain observations.
#[test]
fn readings_in_the_equation_equal_an_unknown_for_each() {
    let n = 9;
    let points = arc_points(n, 0.02, 4);
    let q = DMatrix::from_row_slice(2, 2, &[4e-4, 1.5e-4, 1.5e-4, 9e-4]);
    let combined = circle(&points, &q);
    let few = unknowns(&[2.0, 0.0, 4.0]);
    let got = solved(&Problem::new(&combined, &few));

    let explicit = Rows {
        n_rows: 2,
        l: points.iter().map(|p| p.to_vec()).collect(),
        q: vec![row_major(&q); n],
        fill: Box::new(|block, x, l, out| {
            let (cos, sin) = (x[3 + block].cos(), x[3 + block].sin());
            let n = x.len();
            out.w[0] = x[0] + x[2] * cos - l[0];
            out.w[1] = x[1] + x[2] * sin - l[1];
            out.a[0] = 1.0;
            out.a[2] = cos;
            out.a[3 + block] = -x[2] * sin;
            out.a[n + 1] = 1.0;
            out.a[n + 2] = sin;
            out.a[n + 3 + block] = x[2] * cos;
            out.b.copy_from_slice(&[-1.0, 0.0, 0.0, -1.0]);
            Ok(())
        }),
    };
    let mut starts = vec![2.0, 0.0, 4.0];
    starts.extend(points.iter().map(|p| p[1].atan2(p[0] - 2.0)));
    let many = unknowns(&starts);
    let want = solved(&Problem::new(&explicit, &many));
    // The covariance takes the slopes at the place found, which both do.
    all_near(&got.values, &want.values[..3], 1e-8);
    near(got.chi2, want.chi2, 1e-7);
    assert_eq!(got.dof, want.dof);
    for block in 0..n {
        all_near(got.residuals(block), want.residuals(block), 1e-8);
    }
    // To second order in the residuals the two covariances agree: M is that of the adjusted readings.
    for i in 0..3 {
        let (a, b) = (got.sd(i).expect("known"), want.sd(i).expect("known"));
        near(a / b, 1.0, 0.02);
    }
    let slopes = check_slopes(&combined, &[2.0, 0.5, 4.0], &[1.0; 3], 1.0).expect("filled");
    assert!(slopes.expect("slopes").share < 1e-8, "{slopes:?}");
}

#[test]
fn a_constraint_equals_elimination() {
    let Lines { a, l, q } = lines(21);
    // x1 = 2 x2 + 0.5 by hand: column 2 takes twice column 1, the readings lose 0.5 of column 1.
    let reduced = DMatrix::from_fn(12, 3, |i, j| match j {
        0 => a[(i, 1)] + 2.0 * a[(i, 0)],
        j => a[(i, j + 1)],
    });
    let less: Vec<f64> = l
        .iter()
        .enumerate()
        .map(|(i, l)| l - 0.5 * a[(i, 0)])
        .collect();
    let by_hand = linear(reduced, &less, q.clone());
    let three = unknowns(&[0.0; 3]);
    let want = solved(&Problem::new(&by_hand, &three));

    let rows = linear(a, &l, q);
    let mut four = unknowns(&[0.0; 4]);
    (four[0].scale, four[1].scale) = (3.0, 0.01); // scales put unknowns on one footing and drop out
    let constraints = [Constraint {
        name: "x1 follows x2".into(),
        terms: vec![(0, 1.0), (1, -2.0)],
        total: 0.5,
    }];
    let problem = Problem {
        constraints: &constraints,
        ..Problem::new(&rows, &four)
    };
    let got = solved(&problem);
    all_near(&got.values[1..], &want.values, 1e-10);
    near(got.values[0], 2.0 * got.values[1] + 0.5, 1e-12);
    near(got.chi2, want.chi2, 1e-9);
    assert_eq!(got.dof, want.dof);
    near(
        got.sd(0).expect("known"),
        2.0 * want.sd(0).expect("known"),
        1e-10,
    );
    near(got.correlation(0, 1).expect("known"), 1.0, 1e-9);
    let tests = tested(&problem, &got);
    near(tests.redundancy_total(), got.dof as f64, 1e-9);
}

#[test]
fn a_prior_is_an_observation() {
    let Lines { a, l, q } = lines(31);
    let covariance = DMatrix::from_row_slice(2, 2, &[0.5, 0.2, 0.2, 0.3]);
    let priors = [prior(&[3, 1], &[0.7, -0.4], covariance.clone())];
    let four = unknowns(&[0.0; 4]);
    let rows = linear(a.clone(), &l, q.clone());
    let with_prior = Problem {
        priors: &priors,
        ..Problem::new(&rows, &four)
    };
    let got = solved(&with_prior);

    // The same rows in blocks of two instead of three would need another noise; a block of its own
    // carries the prior instead: rows padded to three, the third observing nothing else's unknown.
    let mut a_more = a.insert_rows(12, 3, 0.0);
    a_more[(12, 3)] = 1.0;
    a_more[(13, 1)] = 1.0;
    let mut l_more = l.clone();
    l_more.extend([0.7, -0.4, 0.0]);
    let mut block = DMatrix::identity(3, 3);
    block.view_mut((0, 0), (2, 2)).copy_from(&covariance);
    let mut q_more = q;
    q_more.push(block);
    let rows_more = linear(a_more, &l_more, q_more);
    let as_rows = Problem::new(&rows_more, &four);
    let mut want = solved(&as_rows);
    want.dof -= 1; // the padding: an observation of nothing
    same(&got, &want, 4, 1e-9);

    let (of_prior, of_rows) = (tested(&with_prior, &got), tested(&as_rows, &want));
    for entry in 0..2 {
        let prior = of_prior.tests[12 + entry];
        let row = of_rows.tests[12 + entry];
        assert_eq!(prior.of, Observed::Prior { prior: 0, entry });
        near(prior.w.expect("checked"), row.w.expect("checked"), 1e-9);
        near(prior.redundancy, row.redundancy, 1e-9);
        near(prior.residual_sd, row.residual_sd, 1e-9);
        near(prior.residual, row.residual, 1e-9);
    }
    near(of_prior.redundancy_total(), got.dof as f64, 1e-9);
}

#[test]
fn a_reading_left_out_is_one_with_no_weight() {
    let Lines { a, l, q } = lines(41);
    let four = unknowns(&[0.0; 4]);
    let rows = linear(a.clone(), &l, q.clone());
    let excluded = [(1, 2), (2, 0), (2, 1)].map(|(block, reading)| Excluded { block, reading });
    let problem = Problem {
        excluded: &excluded,
        ..Problem::new(&rows, &four)
    };
    let got = solved(&problem);

    let mut loose = q;
    for Excluded { block, reading } in excluded {
        loose[block][(reading, reading)] += 1e9;
    }
    let loose_rows = linear(a, &l, loose);
    let mut want = solved(&Problem::new(&loose_rows, &four));
    want.dof -= 3;
    same(&got, &want, 4, 1e-6);
    for block in 0..4 {
        all_near(got.residuals(block), want.residuals(block), 1e-6);
    }
    let tests = tested(&problem, &got);
    assert_eq!(tests.tests.len(), 9);
    near(tests.redundancy_total(), got.dof as f64, 1e-9);
}

/// In a block whose readings all enter one equation, one left out leaves nothing of the equation,
/// and a second one left out takes no more away.
#[test]
fn a_reading_left_out_of_a_single_equation() {
    let points = arc_points(8, 0.02, 5);
    let q = DMatrix::from_row_slice(2, 2, &[4e-4, 1e-4, 1e-4, 9e-4]);
    let three = unknowns(&[3.0, -1.0, 5.0]);
    let all = circle(&points, &q);
    let fewer = circle(&points[1..], &q);
    let want = solved(&Problem::new(&fewer, &three));
    for readings in [&[0][..], &[1], &[0, 1]] {
        let excluded: Vec<Excluded> = readings
            .iter()
            .map(|&reading| Excluded { block: 0, reading })
            .collect();
        let problem = Problem {
            excluded: &excluded,
            ..Problem::new(&all, &three)
        };
        same(&solved(&problem), &want, 3, 1e-8);
    }
}

#[test]
fn redundancies_sum_to_what_there_is_to_spare() {
    let points = arc_points(7, 0.02, 6);
    let q = DMatrix::from_row_slice(2, 2, &[4e-4, 1e-4, 1e-4, 9e-4]);
    let rows = circle(&points, &q);
    let three = unknowns(&[3.0, -1.0, 5.0]);
    let priors = [prior(&[2], &[5.01], DMatrix::from_element(1, 1, 1e-4))];
    let problem = Problem {
        priors: &priors,
        ..Problem::new(&rows, &three)
    };
    let adjusted = solved(&problem);
    assert_eq!(adjusted.dof, 7 + 1 - 3);
    let tests = tested(&problem, &adjusted);
    assert_eq!(tests.tests.len(), 15);
    near(tests.redundancy_total(), 5.0, 1e-9);
}

/// An error in a reading moves its residual by −r of it, w by √λ0 when it is an MDB,
/// and the unknowns as the external reliability says.
#[test]
fn what_an_error_in_a_reading_does() {
    let Lines { a, l, q } = lines(51);
    let four = unknowns(&[0.0; 4]);
    let rows = linear(a.clone(), &l, q.clone());
    let problem = Problem::new(&rows, &four);
    let good = solved(&problem);
    let tests = tested(&problem, &good);
    near(tests.noncentrality, 17.075, 5e-4);
    for (at, test) in tests.tests.iter().enumerate() {
        let mdb = test.mdb.expect("checked");
        let mut wrong = l.clone();
        wrong[at] += mdb;
        let rows = linear(a.clone(), &wrong, q.clone());
        let problem = Problem::new(&rows, &four);
        let bad = solved(&problem);
        let after_all = tested(&problem, &bad).tests;
        let after = after_all[at];
        near(after.residual - test.residual, -test.redundancy * mdb, 1e-8);
        let (w, before) = (after.w.expect("checked"), test.w.expect("checked"));
        near(w - before, -tests.noncentrality.sqrt(), 1e-8);
        // It moves every other w by the same, times the correlation of the two.
        for (other, after) in after_all
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != at)
        {
            let moved = after.w.expect("checked") - tests.tests[other].w.expect("checked");
            let correlation = tests.correlation(at, other).expect("checked");
            near(moved, -correlation * tests.noncentrality.sqrt(), 1e-8);
        }
        let moved: Vec<f64> = bad
            .values
            .iter()
            .zip(&good.values)
            .map(|(a, b)| a - b)
            .collect();
        all_near(&moved, &tests.effect_on_unknowns(at, mdb), 1e-8);
    }
}

/// Over simulated noise w has sd 1, its pairs the correlation stated, and unknowns the sd stated,
/// also where the readings stand inside the equations. Seeds are stream numbers of seed 7.
#[test]
fn statistics_hold_over_simulated_noise() {
    let n_trials = 600;
    let sd = 0.02;
    let q = DMatrix::from_diagonal_element(2, 2, sd * sd);
    let three = unknowns(&[3.0, -1.0, 5.0]);
    let exact = arc_points(8, 0.0, 0);
    let (mut sum, mut squares, mut products, mut claimed) = (0.0, vec![0.0; 16], 0.0, 0.0);
    let (mut radius, mut chi2) = (0.0, 0.0);
    let mut radius_sd = 0.0;
    for trial in 0..n_trials {
        let mut draws = Draws::new(7, trial);
        let points: Vec<[f64; 2]> = exact
            .iter()
            .map(|p| [p[0] + sd * draws.normal(), p[1] + sd * draws.normal()])
            .collect();
        let rows = circle(&points, &q);
        let problem = Problem::new(&rows, &three);
        let how = How {
            start: Start::Given,
            ..How::default()
        };
        let adjusted = adjust(&problem, &how, &mut Room::new()).expect("settled");
        let tests = tested(&problem, &adjusted);
        for (square, test) in squares.iter_mut().zip(&tests.tests) {
            let w = test.w.expect("checked");
            sum += w;
            *square += w * w;
        }
        products += tests.tests[2].w.expect("checked") * tests.tests[12].w.expect("checked");
        claimed += tests.correlation(2, 12).expect("both checked");
        radius += (adjusted.values[2] - 5.0).powi(2);
        radius_sd = adjusted.sd(2).expect("known");
        chi2 += adjusted.chi2;
    }
    let n = n_trials as f64;
    near(sum / (16.0 * n), 0.0, 0.05);
    for square in squares {
        near(square / n, 1.0, 5.0 * (2.0 / n).sqrt());
    }
    near(products / n, claimed / n, 5.0 / n.sqrt());
    near((radius / n).sqrt() / radius_sd, 1.0, 5.0 / (2.0 * n).sqrt());
    near(chi2 / n, 5.0, 5.0 * (10.0 / n).sqrt());
}

/// Noise of a twentieth of the radius, and starts off by half of it: planes laid at readings that
/// have not come to rest give a χ² that cannot be compared from place to place.
#[test]
fn large_noise_in_bent_equations_settles_from_far() {
    let q = DMatrix::from_diagonal_element(2, 2, 0.0625);
    let how = How {
        start: Start::Given,
        ..How::default()
    };
    for seed in 0..40 {
        let points = arc_points(12, 0.25, 100 + seed);
        let rows = circle(&points, &q);
        let mut found: Vec<Adjusted> = Vec::new();
        for start in [[3.0, -1.0, 5.0], [2.0, 1.0, 3.0], [4.0, -3.0, 8.0]] {
            let unknowns = unknowns(&start);
            let problem = Problem::new(&rows, &unknowns);
            let adjusted = adjust(&problem, &how, &mut Room::new());
            found.push(adjusted.unwrap_or_else(|fault| panic!("{seed} {start:?} {fault}")));
        }
        for other in &found[1..] {
            near(other.chi2, found[0].chi2, 1e-4 * (1.0 + found[0].chi2));
        }
    }
}
