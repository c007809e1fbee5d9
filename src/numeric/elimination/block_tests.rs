//! Elimination by blocks against dense elimination and against rows, on graphs of all kinds.

#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::super::degree::order;
use super::super::{Pattern, Quality, Workspace, backward_error, solve_checked};
use super::*;
use nalgebra::{Complex, DMatrix, DVector};
use proptest::prelude::*;

/// A graph by its number of nodes and its edges, drawn from a seed.
struct Graph {
    n: usize,
    edges: Vec<(usize, usize)>,
}

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014): evenly in 0 … 1.
fn draw(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (*state ^ (*state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

fn below(bound: usize, state: &mut u64) -> usize {
    ((draw(state) * bound as f64) as usize).min(bound - 1)
}

impl Graph {
    fn grid(wide: usize, high: usize) -> Self {
        let n = wide * high;
        let right = (0..n).filter(|a| a % wide + 1 < wide).map(|a| (a, a + 1));
        let up = (0..n - wide).map(|a| (a, a + wide));
        Self { n, edges: right.chain(up).collect() }
    }

    fn star(n: usize) -> Self {
        Self { n, edges: (1..n).map(|a| (0, a)).collect() }
    }

    fn path(n: usize) -> Self {
        Self { n, edges: (1..n).map(|a| (a - 1, a)).collect() }
    }

    fn complete(n: usize) -> Self {
        Self { n, edges: (0..n).flat_map(|a| (0..a).map(move |b| (a, b))).collect() }
    }

    fn without_edges(n: usize) -> Self {
        Self { n, edges: Vec::new() }
    }

    fn random(n: usize, count: usize, state: &mut u64) -> Self {
        let edges = (0..count).map(|_| (below(n, state), below(n, state)));
        Self { n, edges: edges.filter(|(a, b)| a != b).collect() }
    }

    /// Both, with nothing between them.
    fn beside(mut self, other: &Self) -> Self {
        self.edges.extend(other.edges.iter().map(|&(a, b)| (a + self.n, b + self.n)));
        Self { n: self.n + other.n, edges: self.edges }
    }

    /// With one node more, tied to all others.
    fn under_a_hub(mut self) -> Self {
        self.edges.extend((0..self.n).map(|a| (a, self.n)));
        Self { n: self.n + 1, edges: self.edges }
    }

    /// A matrix that no order is unsafe for: rows and columns differ in values, but each diagonal outweighs
    /// both.
    fn matrix(&self, state: &mut u64) -> (Pattern, Vec<f64>) {
        let diagonal = (0..self.n).map(|a| (a, a));
        let both = self.edges.iter().flat_map(|&(a, b)| [(a, b), (b, a)]);
        let pattern = Pattern::from_entries(self.n, diagonal.chain(both));
        let mut values: Vec<f64> = (0..pattern.slots()).map(|_| 2.0 * draw(state) - 1.0).collect();
        let mut sums = vec![1.0; self.n];
        for (row, (start, columns)) in pattern.rows().enumerate() {
            for (offset, &column) in columns.iter().enumerate() {
                sums[row] += values[start + offset].abs();
                sums[column as usize] += values[start + offset].abs();
            }
        }
        for (k, sum) in sums.into_iter().enumerate() {
            if let Some(slot) = pattern.slot(k, k) {
                values[slot] = sum;
            }
        }
        (pattern, values)
    }
}

/// Of a few dozen nodes: what grids, wires, stars, islands, hubs and nets of no kind are.
fn graphs(state: &mut u64) -> Vec<Graph> {
    vec![
        Graph::grid(6, 7),
        Graph::path(40),
        Graph::star(50),
        Graph::complete(23),
        Graph::without_edges(12),
        Graph::without_edges(1),
        Graph::grid(5, 5).beside(&Graph::path(9)).beside(&Graph::star(11)),
        Graph::grid(4, 9).under_a_hub(),
        Graph::random(60, 90, state),
        Graph::random(30, 12, state).under_a_hub().beside(&Graph::without_edges(3)),
        Graph::random(25, 200, state),
    ]
}

/// By blocks, however small it is.
fn blocked<F: Field>(pattern: &Pattern, values: &[F]) -> Result<Elimination, Singular> {
    Elimination::plan_within(pattern, values, LONGEST_STREAM, 0)
}

fn dense(pattern: &Pattern, values: &[f64]) -> DMatrix<f64> {
    let mut dense = DMatrix::zeros(pattern.n(), pattern.n());
    for (row, (start, columns)) in pattern.rows().enumerate() {
        for (offset, &column) in columns.iter().enumerate() {
            dense[(row, column as usize)] = values[start + offset];
        }
    }
    dense
}

fn right_side(n: usize, state: &mut u64) -> Vec<f64> {
    (0..n).map(|_| 2.0 * draw(state) - 1.0).collect()
}

fn deviation(a: &[f64], b: &[f64]) -> f64 {
    let largest = b.iter().fold(0.0, |most: f64, b| most.max(b.abs()));
    a.iter().zip(b).fold(0.0, |most: f64, (a, b)| most.max((a - b).abs())) / largest
}

/// Slots between some lines, which may lie anywhere in the graph.
fn varying(pattern: &Pattern, lines: usize, state: &mut u64) -> Vec<usize> {
    let lines: Vec<usize> = (0..lines).map(|_| below(pattern.n(), state)).collect();
    let pairs = lines.iter().flat_map(|&row| lines.iter().map(move |&column| (row, column)));
    pairs.filter_map(|(row, column)| pattern.slot(row, column)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20))]

    #[test]
    fn blocks_order_every_graph_and_have_parents_behind_them(seed: u64) {
        let state = &mut seed.clone();
        for graph in graphs(state) {
            let (pattern, values) = graph.matrix(state);
            let mut ordering = order(&pattern, &values).unwrap();
            // As if the last few waited.
            let split = graph.n - graph.n / 10;
            let blocks = Blocks::of(&pattern, &mut ordering, split);
            for order in [&ordering.rows, &ordering.columns] {
                let mut lines = order.clone();
                lines.sort_unstable();
                prop_assert!(lines.iter().enumerate().all(|(k, &line)| k as u32 == line));
            }
            let Some(blocks) = blocks else { continue };
            let mut next = 0;
            for (at, block) in blocks.list.iter().enumerate() {
                prop_assert_eq!(block.own().start, next);
                next = block.own().end;
                let lines = &blocks.beyond[block.beyond()];
                prop_assert!(lines.is_sorted_by(|a, b| a < b));
                prop_assert!(lines.iter().all(|&line| line as usize >= next));
                prop_assert!(at + 1 == blocks.list.len() || block.parent as usize > at);
                // Each line is one of the parent's.
                let parent = blocks.list[block.parent as usize];
                let theirs: Vec<u32> = parent.own().map(|k| k as u32)
                    .chain(blocks.beyond[parent.beyond()].iter().copied()).collect();
                for (&line, &place) in lines.iter().zip(&blocks.in_parent[block.beyond()]) {
                    prop_assert_eq!(theirs.get(place as usize), Some(&line));
                }
            }
            prop_assert_eq!(next, graph.n);
            let slots: usize = blocks.sources().map(<[_]>::len).sum();
            prop_assert_eq!(slots, pattern.slots());
        }
    }

    #[test]
    fn exact_blocks_solve_what_dense_elimination_solves(seed: u64) {
        let (state, mut by_blocks) = (&mut seed.clone(), 0);
        for graph in graphs(state) {
            let (pattern, values) = graph.matrix(state);
            let plan = blocked(&pattern, &values).unwrap();
            by_blocks += usize::from(plan.blocks.is_some());
            let mut factors = Factors::new(&plan);
            plan.factor(&values, &mut factors).unwrap();
            let b = right_side(graph.n, state);
            let (mut x, mut y, mut work) = (b.clone(), b.clone(), vec![0.0; graph.n]);
            plan.solve(&factors, &mut x, &mut work);
            plan.solve_transposed(&factors, &mut y, &mut work);
            let full = dense(&pattern, &values);
            let sides = DVector::from_column_slice(&b);
            let expected = full.clone().lu().solve(&sides).unwrap();
            // Diagonals outweigh rows and columns by half and more: conditions are small.
            prop_assert!(deviation(&x, expected.as_slice()) < 1e-13);
            let expected = full.transpose().lu().solve(&sides).unwrap();
            prop_assert!(deviation(&y, expected.as_slice()) < 1e-13);
            prop_assert_eq!(plan.determinant_sign(&factors), full.determinant().signum());
        }
        // All but now and then one of no kind that is too sparse.
        prop_assert!(by_blocks >= 8);
    }

    #[test]
    fn exact_blocks_that_keep_a_first_phase_solve_what_dense_elimination_solves(
        seed: u64, lines in 0_usize..12,
    ) {
        let state = &mut seed.clone();
        let graphs = [Graph::grid(12, 9), Graph::random(90, 250, state), Graph::star(80)];
        for graph in graphs {
            let (pattern, values) = graph.matrix(state);
            let varying = varying(&pattern, lines, state);
            let pattern = pattern.with_varying(varying.iter().copied());
            let plan = blocked(&pattern, &values).unwrap();
            prop_assert!(plan.blocks.is_some() && plan.keeps_constants());
            let mut kept = Factors::new(&plan);
            plan.factor(&values, &mut kept).unwrap();
            let mut moved = values.clone();
            for &slot in &varying {
                moved[slot] *= 1.0 + 0.1 * draw(state);
            }
            plan.factor_varying(&moved, &mut kept).unwrap();
            let b = right_side(graph.n, state);
            let (mut x, mut work) = (b.clone(), vec![0.0; graph.n]);
            plan.solve(&kept, &mut x, &mut work);
            let full = dense(&pattern, &moved);
            let expected = full.lu().solve(&DVector::from_column_slice(&b)).unwrap();
            prop_assert!(deviation(&x, expected.as_slice()) < 1e-12);
            // To the same bits as if nothing had been kept.
            let mut anew = Factors::new(&plan);
            plan.factor(&moved, &mut anew).unwrap();
            let mut again = b.clone();
            plan.solve(&anew, &mut again, &mut work);
            prop_assert_eq!(x, again);
        }
    }
}

#[test]
fn exact_blocks_of_complex_numbers_solve_to_working_precision() -> Result<(), Singular> {
    let state = &mut 7;
    let (pattern, values) = Graph::grid(9, 8).matrix(state);
    let turned = |value: &f64| Complex::new(*value, 0.5 * value);
    let values: Vec<Complex<f64>> = values.iter().map(turned).collect();
    let plan = blocked(&pattern, &values)?;
    let mut factors = Factors::new(&plan);
    plan.factor(&values, &mut factors)?;
    let b: Vec<Complex<f64>> = right_side(72, state).iter().map(turned).collect();
    let (mut x, mut room) = (b.clone(), Workspace::new(72));
    let quality = solve_checked(&plan, &factors, &pattern, &values, &mut x, &mut room);
    assert_eq!(quality, Quality::Good);
    // A scaled by a number and b by the same: the solution of the real equations.
    let real: Vec<f64> = values.iter().map(|v| v.re).collect();
    let sides: Vec<f64> = b.iter().map(|b| b.re).collect();
    let parts: Vec<f64> = x.iter().map(|x| x.re).collect();
    assert!(backward_error(&pattern, &real, &parts, &sides) < 1e-14);
    assert!(x.iter().all(|x| x.im.abs() < 1e-14));
    Ok(())
}

#[test]
fn large_random_matrices_are_solved_to_working_precision() -> Result<(), Singular> {
    let state = &mut 11;
    let graphs = [
        Graph::random(5_000, 8_000, state),
        Graph::grid(70, 60).under_a_hub(),
        Graph::grid(50, 50).beside(&Graph::star(3_000)).beside(&Graph::without_edges(500)),
        Graph::path(30_000),
    ];
    for graph in graphs {
        let (pattern, values) = graph.matrix(state);
        let plan = Elimination::plan(&pattern, &values)?;
        assert!(plan.blocks.is_some());
        let mut factors = Factors::new(&plan);
        plan.factor(&values, &mut factors)?;
        let b = right_side(graph.n, state);
        let (mut x, mut work) = (b.clone(), vec![0.0; graph.n]);
        plan.solve(&factors, &mut x, &mut work);
        assert!(backward_error(&pattern, &values, &x, &b) < 1e-14);
    }
    Ok(())
}

#[test]
fn blocks_fail_at_a_pivot_that_is_none_and_may_be_filled_again() -> Result<(), Singular> {
    let state = &mut 3;
    let (pattern, values) = Graph::grid(6, 6).matrix(state);
    let plan = blocked(&pattern, &values)?;
    let mut factors = Factors::new(&plan);
    let mut none = values.clone();
    for slot in (0..36).filter_map(|column| pattern.slot(20, column)) {
        none[slot] = 0.0;
    }
    // An equation that says nothing has no pivot, wherever it comes in the order.
    let failed = plan.factor(&none, &mut factors);
    assert_eq!(failed.map_err(|singular| singular.row), Err(20));
    plan.factor(&values, &mut factors)?;
    let (mut x, mut work) = (vec![1.0; 36], vec![0.0; 36]);
    plan.solve(&factors, &mut x, &mut work);
    assert!(backward_error(&pattern, &values, &x, &[1.0; 36]) < 1e-14);
    Ok(())
}

/// Rows that fill in where columns do not: blocks would hold the rectangle that both span.
#[test]
fn matrices_far_from_symmetric_are_worked_by_rows() -> Result<(), Singular> {
    let n = 300;
    // Each equation reads the unknowns behind it in a band of its own; none is read back.
    let ahead = |k: usize| (1..=60).map(move |step| (k, (k + 7 * step) % n));
    let upper = (0..n).flat_map(ahead).filter(|&(row, column)| column > row);
    let pattern = Pattern::from_entries(n, (0..n).map(|k| (k, k)).chain(upper));
    let values = vec![1.0; pattern.slots()];
    let plan = blocked(&pattern, &values)?;
    assert!(plan.blocks.is_none());
    Ok(())
}
