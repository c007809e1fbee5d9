//! A second way through time that shares nothing with the engine's: the three-stage Radau IIA method of order 5
//! (Hairer and Wanner, Solving Ordinary Differential Equations II, IV.5 and IV.8) over A·q' + f(x, t) = 0.
//!
//! With W = A⁻¹ its stages are Σ_j W_ij·(q(X_j) − q_0)/h + f(X_i, t_i) = 0 and the last one is the step's end.
//! Simplified Newton on the eigenvectors of W, dense complex elimination, no error estimate: who calls chooses
//! steps, and halves them to see what they err by.

use nalgebra::{Complex, DMatrix, DVector, Matrix3, Vector3};
use railstep::system::{Linearisation, Pieces, System};

type C64 = Complex<f64>;

/// Newton ends when no node moves by more than this (V), far below every tolerance compared with.
const CONVERGED_V: f64 = 1e-11;
const MOST_ITERATIONS: usize = 14;
/// Halvings of a step in which Newton does not converge.
const MOST_HALVINGS: usize = 12;

/// What a step needs of one system.
pub(crate) struct Radau<'a> {
    system: &'a System,
    nodes: [f64; 3],
    w: Matrix3<f64>,
    vectors: Matrix3<C64>,
    inverse: Matrix3<C64>,
    values: [C64; 3],
    at: Linearisation,
    voltages: Vec<bool>,
    pub(crate) iterations: usize,
}

impl<'a> Radau<'a> {
    pub(crate) fn new(system: &'a System) -> Self {
        let r = 6.0_f64.sqrt();
        let a = Matrix3::new(
            (88.0 - 7.0 * r) / 360.0,
            (296.0 - 169.0 * r) / 1800.0,
            (-2.0 + 3.0 * r) / 225.0,
            (296.0 + 169.0 * r) / 1800.0,
            (88.0 + 7.0 * r) / 360.0,
            (-2.0 - 3.0 * r) / 225.0,
            (16.0 - r) / 36.0,
            (16.0 + r) / 36.0,
            1.0 / 9.0,
        );
        let w = a.try_inverse().expect("regular");
        let found = w.complex_eigenvalues();
        let mut values = [found[0], found[1], found[2]];
        // The real one first, then the pair, upper one before lower.
        values.sort_by(|x, y| {
            (x.im.abs() > 1e-9).cmp(&(y.im.abs() > 1e-9)).then(y.im.total_cmp(&x.im))
        });
        let wide = w.map(|x| Complex::new(x, 0.0));
        let vector = |value: C64| {
            // (W − λ)·v = 0 with the last component 1.
            let m = wide - Matrix3::from_diagonal_element(value);
            let top = m.fixed_view::<2, 2>(0, 0).into_owned();
            let side = m.fixed_view::<2, 1>(0, 2).into_owned();
            let v = top.try_inverse().expect("regular") * -side;
            Vector3::new(v[0], v[1], Complex::new(1.0, 0.0))
        };
        let vectors = Matrix3::from_columns(&values.map(vector));
        let inverse = vectors.try_inverse().expect("regular");
        let role = |name: &railstep::device::Role| {
            use railstep::device::Role;
            matches!(name, Role::Node | Role::InnerNode)
        };
        Self {
            system,
            nodes: [(4.0 - r) / 10.0, (4.0 + r) / 10.0, 1.0],
            w,
            vectors,
            inverse,
            values,
            at: Linearisation::new(system),
            voltages: system.unknowns.iter().map(|u| role(&u.role)).collect(),
            iterations: 0,
        }
    }

    fn extended(&self, pieces: &Pieces, t: f64, x: &[f64]) -> Vec<f64> {
        let mut z = vec![0.0; self.system.extent()];
        z[..x.len()].copy_from_slice(x);
        self.system.set_time(pieces, t, &mut z);
        z
    }

    /// f and A·q by row.
    fn look(&self, pieces: &Pieces, t: f64, x: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let z = self.extended(pieces, t, x);
        let (mut f, mut q) = (vec![0.0; x.len()], vec![0.0; self.system.law_charges()]);
        self.system.evaluate(&z, &mut f, &mut q);
        let mut rows = vec![0.0; x.len()];
        self.system.linear_charges(&z, &mut rows);
        self.system.scatter_charges(&q, &mut rows);
        (f, rows)
    }

    /// λ/h·C + G at a point, eliminated; unknowns without ground.
    fn matrix(&self, rate: C64) -> Option<Lu> {
        let n = self.system.n();
        let mut m = DMatrix::from_element(n, n, Complex::new(0.0, 0.0));
        for (row, (first, columns)) in self.system.pattern().rows().enumerate() {
            for (k, &column) in columns.iter().enumerate() {
                let slot = first + k;
                m[(row, column as usize)] =
                    rate * self.at.capacitances[slot] + self.at.conductances[slot];
            }
        }
        Lu::of(m)
    }

    /// From x at t to t + h, with charges `held` there; replaces both.
    pub(crate) fn step(
        &mut self,
        pieces: &Pieces,
        t: f64,
        h: f64,
        x: &mut Vec<f64>,
        held: &mut Vec<f64>,
    ) {
        self.part(pieces, t, h, x, held, MOST_HALVINGS);
    }

    fn part(
        &mut self,
        pieces: &Pieces,
        t: f64,
        h: f64,
        x: &mut Vec<f64>,
        held: &mut Vec<f64>,
        left: usize,
    ) {
        if let Some((end, charges)) = self.attempt(pieces, t, h, x, held) {
            (*x, *held) = (end, charges);
            return;
        }
        assert!(left > 0, "no convergence at {t:e} s with steps of {h:e} s");
        self.part(pieces, t, 0.5 * h, x, held, left - 1);
        self.part(pieces, t + 0.5 * h, 0.5 * h, x, held, left - 1);
    }

    fn attempt(
        &mut self,
        pieces: &Pieces,
        t: f64,
        h: f64,
        x: &[f64],
        held: &[f64],
    ) -> Option<(Vec<f64>, Vec<f64>)> {
        let z = self.extended(pieces, t + h, x);
        let none = vec![0.0; z.len()];
        self.system.linearise(&z, &none, &mut self.at);
        let lus = [self.matrix(self.values[0] / h)?, self.matrix(self.values[1] / h)?];
        let mut stages = [x.to_vec(), x.to_vec(), x.to_vec()];
        let mut before = f64::INFINITY;
        for iteration in 0..MOST_ITERATIONS {
            self.iterations += 1;
            let seen: Vec<_> =
                (0..3).map(|i| self.look(pieces, t + self.nodes[i] * h, &stages[i])).collect();
            let moved = self.improve(&lus, h, held, &seen, &mut stages);
            if !moved.is_finite() || (iteration > 3 && moved > 2.0 * before) {
                return None;
            }
            // Where rounding of the equations ends it, a picovolt or a thousand matters nothing here.
            if moved < CONVERGED_V || (moved < 1e-8 && moved > 0.3 * before) {
                let [_, _, end] = stages;
                let (_, charges) = self.look(pieces, t + h, &end);
                return Some((end, charges));
            }
            before = moved;
        }
        None
    }

    /// One simplified Newton step; how far it moved any node, in V.
    fn improve(
        &self,
        lus: &[Lu; 2],
        h: f64,
        held: &[f64],
        seen: &[(Vec<f64>, Vec<f64>)],
        stages: &mut [Vec<f64>; 3],
    ) -> f64 {
        let n = self.system.n();
        let mut residual = [(); 3].map(|()| DVector::<f64>::zeros(n));
        for (i, own) in residual.iter_mut().enumerate() {
            for row in 0..n {
                let charge: f64 =
                    (0..3).map(|j| self.w[(i, j)] * (seen[j].1[row + 1] - held[row + 1])).sum();
                own[row] = -(charge / h + seen[i].0[row + 1]);
            }
        }
        let turned = [0, 1].map(|k| {
            let mut mixed = DVector::from_element(n, Complex::new(0.0, 0.0));
            for (i, own) in residual.iter().enumerate() {
                mixed.iter_mut().zip(own).for_each(|(m, r)| *m += self.inverse[(k, i)] * r);
            }
            lus[k].solve(&mut mixed);
            mixed
        });
        let mut most = 0.0_f64;
        for (i, stage) in stages.iter_mut().enumerate() {
            for row in 0..n {
                // The third is the second's conjugate, and so is its vector.
                let change = (self.vectors[(i, 0)] * turned[0][row]).re
                    + 2.0 * (self.vectors[(i, 1)] * turned[1][row]).re;
                stage[row + 1] += change;
                if self.voltages[row + 1] {
                    most = most.max(change.abs());
                }
                if !change.is_finite() {
                    return f64::NAN;
                }
            }
        }
        most
    }

    /// A·q by row at a point.
    pub(crate) fn charges(&self, pieces: &Pieces, t: f64, x: &[f64]) -> Vec<f64> {
        self.look(pieces, t, x).1
    }
}

/// Dense elimination with the largest pivot of each column, leaving out what is zero.
struct Lu {
    m: DMatrix<C64>,
    order: Vec<usize>,
}

impl Lu {
    fn of(mut m: DMatrix<C64>) -> Option<Self> {
        let n = m.nrows();
        let mut order = Vec::with_capacity(n);
        for k in 0..n {
            let best =
                (k..n).max_by(|&a, &b| m[(a, k)].norm_sqr().total_cmp(&m[(b, k)].norm_sqr()))?;
            m.swap_rows(k, best);
            order.push(best);
            let pivot = m[(k, k)];
            if pivot.norm_sqr() == 0.0 {
                return None;
            }
            let used: Vec<usize> = (k + 1..n).filter(|&j| m[(k, j)].norm_sqr() > 0.0).collect();
            for i in k + 1..n {
                if m[(i, k)].norm_sqr() > 0.0 {
                    let share = m[(i, k)] / pivot;
                    m[(i, k)] = share;
                    for &j in &used {
                        let above = m[(k, j)];
                        m[(i, j)] -= share * above;
                    }
                }
            }
        }
        Some(Self { m, order })
    }

    fn solve(&self, b: &mut DVector<C64>) {
        let n = b.len();
        for k in 0..n {
            b.swap_rows(k, self.order[k]);
        }
        for k in 0..n {
            let own = b[k];
            if own.norm_sqr() > 0.0 {
                for i in k + 1..n {
                    b[i] -= self.m[(i, k)] * own;
                }
            }
        }
        for k in (0..n).rev() {
            b[k] /= self.m[(k, k)];
            let own = b[k];
            for i in 0..k {
                b[i] -= self.m[(i, k)] * own;
            }
        }
    }
}
