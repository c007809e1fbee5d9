//! What is kept from step to step: how much, with which bits, and that no march shows it.

#[path = "../../../benches/generate/mod.rs"]
mod generate;

use super::{MOST_KEPT, MOST_KEPT_VALUES, Solver};
use crate::analysis::{
    Accuracy, DEFAULT_WORK_LIMIT, Failure, Method, Record, Start, Transient, TransientOptions,
    Work, operating_point,
};
use crate::circuit::{self, Changes};
use crate::device::Drive;
use crate::document::Files;
use crate::numeric::{Pattern, Singular};
use crate::system::System;

/// A chain of `n` nodes; the value at the first is a law's.
fn chain(n: usize) -> Pattern {
    let places = (0..n).flat_map(|k| [(k, k), (k, (k + 1).min(n - 1)), ((k + 1).min(n - 1), k)]);
    Pattern::from_entries(n, places).with_varying([0])
}

/// Its matrix for a step: conductances of 1 between neighbours, `rate` to ground, and a law's slope.
fn fill(solver: &mut Solver<f64>, rate: f64, slope: f64) {
    let pattern = solver.pattern.clone();
    for (row, (start, columns)) in pattern.rows().enumerate() {
        for (value, &column) in solver.values()[start..].iter_mut().zip(columns) {
            *value = if column as usize == row { 2.0 + rate } else { -1.0 };
        }
    }
    solver.values()[0] += slope;
}

fn solved(solver: &mut Solver<f64>, n: usize) -> Result<Vec<f64>, Singular> {
    let mut x: Vec<f64> = (0..n).map(|k| 1.0 + k as f64).collect();
    solver.solve_checked(&mut x)?;
    Ok(x)
}

#[test]
fn what_is_kept_is_bounded_and_gives_the_bits_of_a_fresh_elimination() -> Result<(), Singular> {
    let n = 100;
    let mut solver = Solver::new(&chain(n));
    let rates: Vec<f64> = (0..40).map(|k| 1.0 + 0.1 * f64::from(k)).collect();
    let again = rates.iter().rev().take(MOST_KEPT - 1);
    for (visit, rate) in rates.iter().chain(again).chain(&rates[..1]).enumerate() {
        let slope = 0.01 * visit as f64;
        fill(&mut solver, *rate, slope);
        solver.factor_at(*rate)?;
        let found = solved(&mut solver, n)?;
        let mut fresh = Solver::new(&chain(n));
        if let Some(planned) = &solver.planned {
            fresh.adopt(&planned.plan);
            assert!(planned.kept.len() <= MOST_KEPT);
            assert!(planned.kept.len() * planned.plan.fill() <= MOST_KEPT_VALUES);
        }
        fill(&mut fresh, *rate, slope);
        fresh.factor()?;
        assert_eq!(found, solved(&mut fresh, n)?, "rate {rate}");
    }
    assert_eq!(solver.factorisations, 40 + MOST_KEPT - 1 + 1);
    // Those visited again lately were at hand; the first one had made room. One more is for the plan.
    assert_eq!(solver.eliminations, 40 + 1);
    assert_eq!(solver.plans, 1);
    Ok(())
}

#[test]
fn factors_that_serve_no_other_make_room_first() -> Result<(), Singular> {
    let n = 100;
    let mut solver = Solver::new(&chain(n));
    for (rate, keep) in [(1.0, true), (1.0, true), (2.0, false), (3.0, false), (1.0, true)] {
        fill(&mut solver, rate, 0.0);
        if keep { solver.factor_at(rate)? } else { solver.factor()? }
    }
    let kept = solver.planned.as_ref().map_or(0, |planned| planned.kept.len());
    assert!(kept <= 2, "{kept} kept");
    // The plan's own, the first at rate 1, the two in between; the last finds the first's.
    assert_eq!(solver.eliminations, 4);
    Ok(())
}

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, path: &str) -> Result<String, String> {
        Err(format!("`{path}` is not at hand"))
    }
}

fn plane() -> Option<System> {
    let reading = circuit::read("plane.toml", &generate::plane(12, 12), &NoFiles);
    let variant = reading.circuit?.variant(&Changes::default()).ok()?;
    let edge = Drive::points(vec![(0.0, 0.02), (2e-6, 0.02), (3e-6, 0.3)]);
    Some(System::build(&variant.net(&[("I_LOAD".to_owned(), edge)])))
}

fn march(system: &System) -> Result<(Record, Work), Failure> {
    let options = TransientOptions {
        method: Method::Rodas4p,
        node_tolerance_v: Method::Rodas4p.node_tolerance_v(Accuracy(10e-6)),
        start: Start::OperatingPoint,
        work_limit: DEFAULT_WORK_LIMIT,
    };
    let rest = operating_point(system, &system.pieces(-1.0), 0.0, None)?;
    let mut transient = Transient::new(system, options);
    transient.run(&rest, 20e-6)?;
    let work = transient.work();
    Ok((transient.record, work))
}

#[test]
fn a_march_over_a_plane_is_that_of_a_solver_that_keeps_nothing() -> Result<(), Failure> {
    let system = plane().ok_or_else(|| Failure::plain("a circuit without mistakes".to_owned()))?;
    let (kept, work) = march(&system)?;
    assert!(work.factorisations > 50 && 2 * work.eliminations < work.factorisations, "{work:?}");
    let (again, _) = march(&system)?;
    assert!(kept.all_values().eq(again.all_values()));

    let mut plain = system.clone();
    plain.forget_what_varies();
    let (expected, work) = march(&plain)?;
    assert_eq!(work.eliminations, work.factorisations);
    for k in 0..200 {
        let t = 1e-7 * f64::from(k);
        for u in 1..system.unknowns.len() {
            let (found, wanted) = (kept.value_at(t, u), expected.value_at(t, u));
            // Solutions within the tolerance of 3 µV; rounding alone tells them apart, and a step that
            // is judged the other way by it.
            assert!((found - wanted).abs() < 1e-7, "{found} at {t}, not {wanted}");
        }
    }
    Ok(())
}
