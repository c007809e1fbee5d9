//! The elimination program against closed forms, against dense elimination with partial pivoting
//! (nalgebra, an independent implementation) and against matrices made to break it.
#![allow(clippy::unwrap_used, clippy::expect_used)] // a test fails by panicking

mod large;
mod networks;

use nalgebra::{Complex, ComplexField, DMatrix, DVector};
use networks::{Matrix, Random, network};
use proptest::prelude::*;
use railstep::numeric::{
    Elimination, Factors, Field, Pattern, Quality, Singular, Workspace, backward_error, multiply,
    solve_checked, solve_transposed_checked,
};

fn solve<F: Field>(matrix: &Matrix<F>, b: &[F]) -> Result<Vec<F>, Singular> {
    let plan = Elimination::plan(&matrix.pattern, &matrix.values)?;
    let mut factors = Factors::new(&plan);
    plan.factor(&matrix.values, &mut factors)?;
    let (mut x, mut work) = (b.to_vec(), b.to_vec());
    plan.solve(&factors, &mut x, &mut work);
    Ok(x)
}

fn dense<F: Field + ComplexField>(matrix: &Matrix<F>) -> DMatrix<F> {
    let n = matrix.pattern.n();
    let mut dense = DMatrix::from_element(n, n, F::zero());
    for (row, (start, columns)) in matrix.pattern.rows().enumerate() {
        for (offset, &column) in columns.iter().enumerate() {
            dense[(row, column as usize)] = matrix.values[start + offset];
        }
    }
    dense
}

/// Largest difference over the largest expected value.
fn deviation<F: Field>(found: &[F], expected: &[F]) -> f64 {
    let size = |x: f64, v: &F| x.max(v.pivot_size());
    let differences: Vec<F> = found.iter().zip(expected).map(|(&a, &b)| a - b).collect();
    differences.iter().fold(0.0, size) / expected.iter().fold(0.0, size)
}

fn real_network(n: usize, seed: u64, decades: f64) -> Matrix<f64> {
    network(n, &mut Random(seed), |random| random.decades(decades))
}

/// A right side with a few sources, as circuits have.
fn sources(n: usize, seed: u64) -> Vec<f64> {
    let mut random = Random(seed);
    let mut b = vec![0.0; n];
    for _ in 0..=n / 8 {
        b[random.below(n)] = 2.0 * random.unit() - 1.0;
    }
    b
}

#[test]
fn exact_each_rung_of_an_r_2r_ladder_halves_the_voltage() {
    // Series R, shunt 2R, terminated by another 2R: whatever follows a rung looks like 2R beside
    // its own 2R, so the voltage halves from rung to rung. Driven by 1 V behind the first R.
    let n = 300;
    let mut stamps = vec![(n, 0, 1.0), (0, n, 1.0)];
    for node in 1..n {
        let shunt = if node == n - 1 { 1.0 } else { 0.5 };
        stamps.extend([(node, node, 1.0 + shunt), (node - 1, node - 1, 1.0)]);
        stamps.extend([(node, node - 1, -1.0), (node - 1, node, -1.0)]);
    }
    let matrix = Matrix::from_stamps(n + 1, &stamps);
    let mut b = vec![0.0; n + 1];
    b[n] = 1.0;
    let x = solve(&matrix, &b).unwrap();
    for (node, &v) in x[..n].iter().enumerate() {
        let expected = 0.5_f64.powf(node as f64);
        assert!((v / expected - 1.0).abs() < 1e-12, "node {node}: {v}, not {expected}");
    }
    assert!((x[n] + 0.5).abs() < 1e-12, "the source delivers 1 V / 2R, not {}", x[n]);
}

#[test]
fn exact_scaled_permutations_are_solved_without_fill_or_error() {
    let n = 200;
    let mut random = Random(7);
    let mut to: Vec<usize> = (0..n).collect();
    for k in (1..n).rev() {
        to.swap(k, random.below(k + 1));
    }
    // Powers of two from 2^-40 (1e-12) to 2^40 (1e12), so that every quotient is exact.
    let scale: Vec<f64> = (0..n).map(|_| 2_f64.powf(random.below(81) as f64 - 40.0)).collect();
    let stamps: Vec<_> = (0..n).map(|row| (row, to[row], scale[row])).collect();
    let matrix = Matrix::from_stamps(n, &stamps);
    let b: Vec<f64> = (0..n).map(|k| k as f64).collect();
    let x = solve(&matrix, &b).unwrap();
    for row in 0..n {
        assert_eq!(x[to[row]], b[row] / scale[row]);
    }
    assert_eq!(Elimination::plan(&matrix.pattern, &matrix.values).unwrap().fill(), n);
}

#[test]
fn exact_a_chain_in_any_numbering_is_eliminated_without_fill() {
    // A tridiagonal matrix has an order without fill whatever its numbering: ends first.
    let n = 500;
    let mut random = Random(11);
    let mut number: Vec<usize> = (0..n).collect();
    for k in (1..n).rev() {
        number.swap(k, random.below(k + 1));
    }
    let mut stamps = vec![(number[0], number[0], 1.0)];
    for k in 1..n {
        let (a, b) = (number[k - 1], number[k]);
        stamps.extend([(a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)]);
    }
    let matrix = Matrix::from_stamps(n, &stamps);
    let plan = Elimination::plan(&matrix.pattern, &matrix.values).unwrap();
    assert_eq!(plan.fill(), matrix.pattern.slots());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn real_networks_agree_with_dense_elimination(n in 2_usize..60, seed: u64) {
        let matrix = real_network(n, seed, 2.0);
        let b = sources(n, seed ^ 1);
        let expected = dense(&matrix).lu().solve(&DVector::from_column_slice(&b));
        if let (Ok(x), Some(expected)) = (solve(&matrix, &b), expected) {
            // Conductances over four decades: conditions up to some 1e7, times 1e-16, with reserve.
            prop_assert!(deviation(&x, expected.as_slice()) < 1e-7);
        } else {
            prop_assert!(false, "a connected network came out singular");
        }
    }

    #[test]
    fn complex_networks_agree_with_dense_elimination(n in 2_usize..60, seed: u64) {
        let matrix = network(n, &mut Random(seed), |random| {
            Complex::new(random.decades(2.0), random.decades(2.0))
        });
        let b: Vec<_> = sources(n, seed ^ 1).iter().map(|&re| Complex::new(re, 0.3 * re)).collect();
        let expected = dense(&matrix).lu().solve(&DVector::from_column_slice(&b));
        if let (Ok(x), Some(expected)) = (solve(&matrix, &b), expected) {
            prop_assert!(deviation(&x, expected.as_slice()) < 1e-7); // as for real ones
        } else {
            prop_assert!(false, "a connected network came out singular");
        }
    }

    #[test]
    fn matrices_without_any_structure_agree_with_dense_elimination(n in 1_usize..25, seed: u64) {
        let mut random = Random(seed);
        let mut stamps: Vec<_> = (0..n).map(|k| (k, (k * 7 + 3) % n, random.decades(1.0))).collect();
        for _ in 0..3 * n {
            stamps.push((random.below(n), random.below(n), random.unit() - 0.5));
        }
        let matrix = Matrix::from_stamps(n, &stamps);
        let b: Vec<f64> = (0..n).map(|_| random.unit()).collect();
        let full = dense(&matrix);
        let singular_values = full.singular_values();
        let condition = singular_values.max() / singular_values.min();
        prop_assume!(condition < 1e10);
        let expected = full.lu().solve(&DVector::from_column_slice(&b)).unwrap();
        let x = solve(&matrix, &b).unwrap();
        // Multipliers up to ten may let values grow; two decades for that, one for the norms.
        prop_assert!(deviation(&x, expected.as_slice()) < 1e3 * f64::EPSILON * condition);
    }

    #[test]
    fn transposed_solutions_satisfy_the_transposed_equations(n in 2_usize..40, seed: u64) {
        let matrix = real_network(n, seed, 2.0);
        let transposed = dense(&matrix).transpose();
        let plan = Elimination::plan(&matrix.pattern, &matrix.values).unwrap();
        let mut factors = Factors::new(&plan);
        plan.factor(&matrix.values, &mut factors).unwrap();
        let b = sources(n, seed ^ 1);
        let (mut x, mut work) = (b.clone(), vec![0.0; n]);
        plan.solve_transposed(&factors, &mut x, &mut work);
        let x = DVector::from_vec(x);
        let left = DVector::from_column_slice(&b) - &transposed * &x;
        let terms = transposed.abs() * x.abs();
        prop_assert!(left.amax() <= 1e-12 * terms.amax());
    }

    #[test]
    fn drifted_values_are_solved_or_reported_and_a_new_plan_mends_them(
        n in 2_usize..60, seed: u64, drift in 0.0..8.0_f64,
    ) {
        let Matrix { pattern, values } = real_network(n, seed, 1.0);
        let plan = Elimination::plan(&pattern, &values).unwrap();
        let drifted = real_network_of_pattern(n, seed, drift);
        let b = sources(n, seed ^ 1);
        let mut factors = Factors::new(&plan);
        let (mut x, mut room) = (b.clone(), Workspace::new(n));
        let quality = match plan.factor(&drifted, &mut factors) {
            Ok(()) => solve_checked(&plan, &factors, &pattern, &drifted, &mut x, &mut room),
            Err(_) => Quality::Stale,
        };
        let mut solved = quality != Quality::Stale;
        if !solved && let Ok(plan) = Elimination::plan(&pattern, &drifted) {
            let mut factors = Factors::new(&plan);
            plan.factor(&drifted, &mut factors).unwrap();
            x.copy_from_slice(&b);
            let again = solve_checked(&plan, &factors, &pattern, &drifted, &mut x, &mut room);
            prop_assert!(again != Quality::Stale);
            solved = true;
        }
        if solved {
            // Row by row, against the largest value in the row times the largest unknown.
            let mut product = vec![0.0; n];
            multiply(&pattern, &drifted, &x, &mut product);
            let largest = |values: &[f64]| values.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
            for ((start, columns), (product, b)) in pattern.rows().zip(product.iter().zip(&b)) {
                let possible = largest(&drifted[start..start + columns.len()]) * largest(&x);
                prop_assert!((product - b).abs() <= 1e-12 * (possible + b.abs()) * n as f64);
            }
        }
    }
}

#[test]
fn values_over_twenty_four_decades_are_solved_to_rounding() {
    let (mut planned, mut stale) = (0, 0);
    for seed in 0..2000 {
        let n = 2 + seed as usize % 78;
        let Matrix { pattern, values } = real_network(n, seed, 12.0);
        // Some have lost a conductance to rounding when they were added up: nothing to find then.
        if let Ok(plan) = Elimination::plan(&pattern, &values) {
            let mut factors = Factors::new(&plan);
            plan.factor(&values, &mut factors).unwrap();
            let (mut x, mut room) = (sources(n, seed), Workspace::new(n));
            let quality = solve_checked(&plan, &factors, &pattern, &values, &mut x, &mut room);
            planned += 1;
            stale += u32::from(quality == Quality::Stale);
        }
    }
    assert!(planned > 1500 && stale == 0, "{planned} planned, {stale} stale");
}

#[test]
fn what_is_called_singular_hangs_on_the_last_digit() {
    // Each is solved densely with full pivoting, then with values changed by one rounding or less:
    // if there were a pivot to find, the solution would hardly move.
    let mut called = 0;
    for seed in 0..600 {
        let n = 2 + seed as usize % 40;
        let mut matrix = real_network(n, seed, 12.0);
        if Elimination::plan(&matrix.pattern, &matrix.values).is_ok() {
            continue;
        }
        called += 1;
        let b = DVector::from_element(n, 1.0);
        let exact = dense(&matrix).full_piv_lu().solve(&b);
        let original = matrix.values.clone();
        let mut random = Random(seed);
        let moved = (0..8).any(|_| {
            for (value, original) in matrix.values.iter_mut().zip(&original) {
                *value = original * (1.0 + f64::EPSILON * (2.0 * random.unit() - 1.0));
            }
            match (&exact, dense(&matrix).full_piv_lu().solve(&b)) {
                (Some(x), Some(y)) => x.iter().zip(&y).any(|(x, y)| (x - y).abs() > 0.01 * x.abs()),
                _ => true,
            }
        });
        assert!(moved, "seed {seed} was called singular for nothing");
    }
    assert!(called > 0);
}

/// The network that [`real_network`] makes of this seed, its values spread over other decades.
fn real_network_of_pattern(n: usize, seed: u64, decades: f64) -> Vec<f64> {
    let mut other = Random(!seed);
    network(n, &mut Random(seed), |random| {
        random.unit(); // as many draws, so that the pattern is the same
        other.decades(decades)
    })
    .values
}

#[test]
fn a_pivot_that_died_is_reported_and_a_new_plan_mends_it() {
    // All pivots on the diagonal die: without exchange of rows the first one's large multiples
    // drown the rest (Golub & Van Loan, Matrix Computations, 3.3, has the textbook example of two).
    let pattern = Pattern::from_entries(3, (0..9).map(|k| (k / 3, k % 3)));
    let healthy = [1.0, 1e-3, 1e-3, 1e-3, 1.0, 1e-3, 1e-3, 1e-3, 1.0];
    let plan = Elimination::plan(&pattern, &healthy).unwrap();
    let b = [1.0, 3.0, 5.0];
    let mut room = Workspace::new(3);
    for (left, expected) in [(1e-7, Quality::Refined), (1e-14, Quality::Stale)] {
        let dying = [left, 1.0, 2.0, 1.0, left, 1.0, 3.0, 1.0, left];
        let mut factors = Factors::new(&plan);
        plan.factor(&dying, &mut factors).unwrap();
        let mut x = b;
        let found = solve_checked(&plan, &factors, &pattern, &dying, &mut x, &mut room);
        assert_eq!(found, expected, "{left}: {x:?}");

        let again = Elimination::plan(&pattern, &dying).unwrap();
        let mut factors = Factors::new(&again);
        again.factor(&dying, &mut factors).unwrap();
        let mut x = b;
        let found = solve_checked(&again, &factors, &pattern, &dying, &mut x, &mut room);
        assert_eq!(found, Quality::Good);
        assert!(backward_error(&pattern, &dying, &x, &b) < 1e-12);
    }
}

#[test]
fn factors_of_other_values_are_reported_as_stale() {
    let Matrix { pattern, values } = real_network(40, 3, 2.0);
    let plan = Elimination::plan(&pattern, &values).unwrap();
    let mut factors = Factors::new(&plan);
    plan.factor(&values, &mut factors).unwrap();
    let mut x = sources(40, 4);
    let mut room = Workspace::new(40);
    let close: Vec<f64> = values.iter().map(|v| v * (1.0 + 1e-10)).collect();
    let quality = solve_checked(&plan, &factors, &pattern, &close, &mut x, &mut room);
    assert_eq!(quality, Quality::Refined);
    let other: Vec<f64> =
        values.iter().enumerate().map(|(k, v)| v * (1.0 + 0.1 * k as f64)).collect();
    let mut x = sources(40, 4);
    let quality = solve_checked(&plan, &factors, &pattern, &other, &mut x, &mut room);
    assert_eq!(quality, Quality::Stale);
}

/// The same matrix laid out the other way.
fn transposed(pattern: &Pattern, values: &[f64]) -> Matrix<f64> {
    let entries = pattern.rows().enumerate().flat_map(|(row, (start, columns))| {
        let values = &values[start..];
        columns.iter().zip(values).map(move |(&column, &value)| (column as usize, row, value))
    });
    Matrix::from_stamps(pattern.n(), &entries.collect::<Vec<_>>())
}

#[test]
fn a_transposed_solution_is_judged_by_the_transposed_matrix() {
    let Matrix { pattern, values } = real_network(40, 3, 2.0);
    let plan = Elimination::plan(&pattern, &values).unwrap();
    let mut factors = Factors::new(&plan);
    plan.factor(&values, &mut factors).unwrap();
    let (b, mut room) = (sources(40, 4), Workspace::new(40));
    let drifted = |by: f64| -> Vec<f64> {
        values.iter().enumerate().map(|(k, v)| v * (1.0 + by * k as f64)).collect()
    };
    for (by, expected) in [(0.0, Quality::Good), (1e-12, Quality::Refined), (0.1, Quality::Stale)] {
        let (mut x, present) = (b.clone(), drifted(by));
        let (plan, factors) = (&plan, &factors);
        let found = solve_transposed_checked(plan, factors, &pattern, &present, &mut x, &mut room);
        assert_eq!(found, expected, "{by}");
        let other_way = transposed(&pattern, &present);
        let error = backward_error(&other_way.pattern, &other_way.values, &x, &b);
        assert_eq!(error < 1e-12, expected != Quality::Stale, "{by}: {error:e}");
    }
}

#[test]
fn a_pivot_of_zero_stops_the_factorisation_and_is_named() {
    let pattern = Pattern::from_entries(2, [(0, 0), (1, 1)]);
    let plan = Elimination::plan(&pattern, &[1.0, 1.0]).unwrap();
    let mut factors = Factors::new(&plan);
    let unknown_1 = Err(Singular { row: 1, column: 1 });
    assert_eq!(plan.factor(&[1.0, 0.0], &mut factors), unknown_1);
    assert_eq!(plan.factor(&[1.0, f64::NAN], &mut factors), unknown_1);
    assert_eq!(plan.factor(&[1.0, f64::INFINITY], &mut factors), unknown_1);
    assert_eq!(plan.factor(&[1.0, 2.0], &mut factors), Ok(()));
}

fn blamed(n: usize, stamps: &[(usize, usize, f64)]) -> Singular {
    let matrix = Matrix::from_stamps(n, stamps);
    Elimination::plan(&matrix.pattern, &matrix.values).expect_err("the matrix has no inverse")
}

#[test]
fn a_floating_pair_of_nodes_is_named() {
    // Nodes 0 and 1 hold each other but nothing holds them; nodes 2 and 3 are grounded.
    for g in [1.0, 0.1, 1.0 / 3.0, 1e-12, 1e12] {
        let singular = blamed(
            4,
            &[
                (0, 0, g),
                (0, 1, -g),
                (1, 0, -g),
                (1, 1, g),
                (2, 2, g),
                (2, 3, -g),
                (3, 2, -g),
                (3, 3, 2.0 * g),
            ],
        );
        assert!(singular.row < 2 && singular.column < 2, "{singular}");
    }
}

#[test]
fn a_floating_network_is_named_although_rounding_leaves_a_remainder() {
    // A ring of 3 to 40 nodes with awkward conductances, beside one grounded node.
    for n in 3..40 {
        let mut random = Random(n as u64);
        let mut stamps = vec![(n, n, 1.0)];
        for k in 0..n {
            let (a, b, g) = (k, (k + 1) % n, random.decades(1.0));
            stamps.extend([(a, a, g), (b, b, g), (a, b, -g), (b, a, -g)]);
        }
        let singular = blamed(n + 1, &stamps);
        assert!(singular.row < n && singular.column < n, "{singular}");
    }
}

#[test]
fn two_sources_across_the_same_nodes_are_named() {
    // Unknowns: node 0, and the currents 1 and 2 of two sources from it to ground.
    let stamps = [(0, 0, 1.0), (0, 1, 1.0), (0, 2, 1.0), (1, 0, 1.0), (2, 0, 1.0)];
    let singular = blamed(3, &stamps);
    assert!(singular.row > 0 && singular.column > 0, "{singular}");
}

#[test]
fn an_empty_row_or_column_is_named() {
    assert_eq!(blamed(3, &[(0, 0, 1.0), (1, 1, 1.0), (0, 2, 1.0), (1, 2, 1.0)]).row, 2);
    assert_eq!(blamed(3, &[(0, 0, 1.0), (1, 1, 1.0), (2, 0, 1.0), (2, 1, 1.0)]).column, 2);
    assert_eq!(blamed(2, &[(0, 0, 1.0), (1, 1, 0.0)]), Singular { row: 1, column: 1 });
    assert_eq!(blamed(2, &[(0, 0, 1.0), (1, 1, f64::NAN)]), Singular { row: 1, column: 1 });
}

#[test]
fn a_matrix_without_unknowns_is_solved() {
    assert_eq!(solve(&Matrix::from_stamps(0, &[]), &[]), Ok(Vec::<f64>::new()));
}

#[test]
fn products_follow_the_pattern() {
    let pattern = Pattern::from_entries(3, [(2, 0), (0, 1), (0, 1), (2, 2)]);
    assert_eq!((pattern.n(), pattern.slots()), (3, 3));
    assert_eq!(
        (pattern.slot(0, 1), pattern.slot(2, 0), pattern.slot(2, 2)),
        (Some(0), Some(1), Some(2))
    );
    assert_eq!((pattern.slot(1, 1), pattern.slot(3, 0), pattern.slot(0, 7)), (None, None, None));
    let mut y = [9.0; 3];
    multiply(&pattern, &[2.0, 3.0, 4.0], &[1.0, 10.0, 100.0], &mut y);
    assert_eq!(y, [20.0, 0.0, 403.0]);
}

#[test]
fn a_thousandfold_star_is_planned_without_filling_in() {
    // One node that a thousand parts share, as a supply rail is: it must be eliminated last.
    let n = 1001;
    let mut stamps = vec![(0, 0, 1.0)];
    for leaf in 1..n {
        stamps.extend([(0, 0, 1.0), (leaf, leaf, 2.0), (0, leaf, -1.0), (leaf, 0, -1.0)]);
    }
    let matrix = Matrix::from_stamps(n, &stamps);
    let plan = Elimination::plan(&matrix.pattern, &matrix.values).unwrap();
    assert_eq!(plan.fill(), matrix.pattern.slots());
    let x = solve(&matrix, &vec![1.0; n]).unwrap();
    assert!(backward_error(&matrix.pattern, &matrix.values, &x, &vec![1.0; n]) < 1e-12);
}
