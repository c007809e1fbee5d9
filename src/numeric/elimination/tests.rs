//! All forms of the program against one another, signs of determinants, failures.

use super::*;

/// A ring of conductances with one to ground: every row fills in somewhere.
fn ring(n: usize) -> (Pattern, Vec<f64>) {
    let places = (0..n).flat_map(|i| [(i, i), (i, (i + 1) % n), ((i + 1) % n, i)]);
    let pattern = Pattern::from_entries(n, places);
    let mut values = vec![0.0; pattern.slots()];
    for i in 0..n {
        let (j, g) = ((i + 1) % n, 1.0 + i as f64);
        for (row, column, part) in [(i, i, g), (j, j, g), (i, j, -g), (j, i, -g)] {
            if let Some(slot) = pattern.slot(row, column) {
                values[slot] += part;
            }
        }
    }
    values[0] += 0.5;
    (pattern, values)
}

#[test]
fn all_forms_of_the_program_give_the_same_bits() -> Result<(), Singular> {
    let (pattern, values) = ring(30);
    let solve = |plan: &Elimination| {
        let mut factors = Factors::new(plan);
        plan.factor(&values, &mut factors)?;
        let (mut b, mut work) = (vec![1.0; 30], vec![0.0; SCRATCH]);
        plan.solve(&factors, &mut b, &mut work);
        let mut transposed = vec![1.0; 30];
        plan.solve_transposed(&factors, &mut transposed, &mut work);
        Ok((b, transposed))
    };
    let short = Elimination::plan(&pattern, &values)?;
    let streamed = Elimination { short: None, ..short.clone() };
    let scattered = Elimination::plan_within(&pattern, &values, 0, usize::MAX)?;
    assert!(short.short.is_some() && matches!(streamed.products[0], Products::Streamed(_)));
    assert!(scattered.short.is_none() && matches!(scattered.products[0], Products::Scattered));
    let found = solve(&short)?;
    assert_eq!(found, solve(&streamed)?);
    assert_eq!(found, solve(&scattered)?);
    Ok(())
}

#[test]
fn exact_sign_of_determinants() -> Result<(), Singular> {
    // Cyclic permutations of 3 and of 4: even and odd.
    for (n, wanted) in [(3, 1.0), (4, -1.0)] {
        let pattern = Pattern::from_entries(n, (0..n).map(|i| (i, (i + 1) % n)));
        for sign in [1.0, -1.0] {
            let mut values = vec![1.0; n];
            values[0] = sign;
            let plan = Elimination::plan(&pattern, &values)?;
            let mut factors = Factors::new(&plan);
            plan.factor(&values, &mut factors)?;
            assert_eq!(plan.determinant_sign(&factors), sign * wanted);
        }
    }
    // A ring of conductances to ground is positive definite; one pulled far down turns the sign, as
    // dense elimination has it.
    let (pattern, mut values) = ring(30);
    for turned in [false, true] {
        if turned && let Some(slot) = pattern.slot(7, 7) {
            values[slot] = -50.0;
        }
        let mut dense = nalgebra::DMatrix::zeros(30, 30);
        for (row, (start, columns)) in pattern.rows().enumerate() {
            for (k, &column) in columns.iter().enumerate() {
                dense[(row, column as usize)] = values[start + k];
            }
        }
        let plan = Elimination::plan(&pattern, &values)?;
        let mut factors = Factors::new(&plan);
        plan.factor(&values, &mut factors)?;
        let wanted: f64 = dense.determinant();
        assert_eq!(wanted.signum(), if turned { -1.0 } else { 1.0 });
        assert_eq!(plan.determinant_sign(&factors), wanted.signum());
    }
    Ok(())
}

#[test]
fn a_short_program_fails_at_the_pivot_that_a_long_one_fails_at() -> Result<(), Singular> {
    let (pattern, values) = ring(5);
    let short = Elimination::plan(&pattern, &values)?;
    let long = Elimination { short: None, ..short.clone() };
    let nothing = vec![0.0; pattern.slots()];
    let outcome = |plan: &Elimination| plan.factor(&nothing, &mut Factors::new(plan));
    assert!(outcome(&short).is_err());
    assert_eq!(outcome(&short), outcome(&long));
    Ok(())
}
