//! RODAS4P in charge-oriented form.
//!
//! Coefficients: G. Steinebach, "Order-reduction of ROW-methods for DAEs and method of lines
//! applications", TH Darmstadt preprint 1741, 1995, as given with the codes of Hairer & Wanner,
//! "Solving Ordinary Differential Equations II" (from memory; order and R(z) are tested). The
//! charge-oriented stages follow M. Günther, Numer. Math. 79 (1998).
//!
//! With A·q' + f(x, t) = 0, q = Q(x), C and G the Jacobians at the start of the step, each stage is
//!   (A·C/(γh) + G)·U_x = −f(x_s, t_s) + A·Σ(c_ij/h)·U_q − A·(Q(x_s) − q_s)/(γh) − γ_i·h·∂f/∂t
//!   U_q = C·U_x + Q(x_s) − q_s
//! so one matrix and one factorisation serve six solves.
//!
//! What the stages found lies stage by stage, so that sums over stages run along unknowns, two or
//! four at once; both sums of a stage in one go, which halves what is read and keeps the code within the
//! first level of the cache. The last two rows of the coefficients differ by a one alone: the place of the sixth
//! stage is that of the fifth and one stage more, the end of the step that of the sixth and one more.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::solver::{Linear, Solver};
use super::step::{Point, Step, Unfinished};
use super::{Tolerances, Work};
use crate::numeric::{Elimination, Field, ROOM, Singular, multiply};
use crate::system::{Equations, Linearisation, Pieces, System};
use pulp::{Arch, Simd, WithSimd};
use std::array;
use std::sync::Arc;

/// Number of stages.
pub(crate) const STAGES: usize = 6;
pub(super) const GAMMA: f64 = 0.25;
const ALPHA: [f64; STAGES] = [0.0, 0.75, 0.21, 0.63, 1.0, 1.0];
const GAMMA_SUM: [f64; STAGES] = [0.25, -0.5, -0.023_504, -0.0362, 0.0, 0.0];
/// a\[i\]\[j\]; the last row plus one more unit on the sixth stage is the end of the step, and the last
/// row is the one before plus one more unit on the fifth.
const A: [[f64; STAGES]; STAGES] = [
    [0.0; STAGES],
    [3.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [1.831_036_793_486_759, 0.495_518_396_743_379_5, 0.0, 0.0, 0.0, 0.0],
    [2.304_376_582_692_669, -0.052_492_752_457_430_01, -1.176_798_761_832_782, 0.0, 0.0, 0.0],
    [
        -7.170_454_962_423_024,
        -4.741_636_671_481_785,
        -16.310_026_313_309_71,
        -1.062_004_044_111_401,
        0.0,
        0.0,
    ],
    [
        -7.170_454_962_423_024,
        -4.741_636_671_481_785,
        -16.310_026_313_309_71,
        -1.062_004_044_111_401,
        1.0,
        0.0,
    ],
];
const C: [[f64; STAGES]; STAGES] = [
    [0.0; STAGES],
    [-12.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [-8.791_795_173_947_035, -2.207_865_586_973_518, 0.0, 0.0, 0.0, 0.0],
    [10.817_930_568_571_53, 6.780_270_611_428_266, 19.534_859_446_424_1, 0.0, 0.0, 0.0],
    [
        34.190_950_067_496_76,
        15.496_711_537_259_63,
        54.747_608_759_641_3,
        14.160_053_921_485_34,
        0.0,
        0.0,
    ],
    [
        34.626_058_309_305_32,
        15.300_849_761_145_03,
        56.999_555_786_626_67,
        18.408_070_097_930_95,
        -5.714_285_714_285_717,
        0.0,
    ],
];
/// The continuous extension takes four stages,
const D2: [f64; 4] =
    [25.098_767_037_085_89, 11.620_131_043_618_67, 28.491_483_077_146_26, -5.664_021_568_594_133];
/// and five.
const D3: [f64; 5] = [
    1.638_054_557_396_973,
    -0.737_361_980_667_874_8,
    8.477_918_219_238_99,
    15.992_531_487_795_2,
    -1.882_352_941_176_471,
];
/// Step over which rates are taken, in s: far below every time constant of a regulator, far above
/// where the difference of two voltages drowns in rounding.
const RATE_STEP_S: f64 = 1e-12;

/// A step to be tried by the widest instructions of this machine. A struct and not a closure: the call that
/// hands a closure over is not made part of the code for wide registers.
pub(super) struct Attempt<'a, E: Equations, S> {
    pub(super) stages: &'a mut Rodas4p<E::Number, S>,
    pub(super) system: &'a E,
    pub(super) drives: &'a E::Drives,
    pub(super) from: &'a Point<E::Number>,
    pub(super) h: E::Number,
    pub(super) tolerances: &'a Tolerances,
    pub(super) step: &'a mut Step<E::Number>,
}

impl<E: Equations, S: Linear<E::Number>> WithSimd for Attempt<'_, E, S> {
    type Output = Result<(), Singular>;

    #[inline(always)]
    fn with_simd<A: Simd>(self, _: A) -> Self::Output {
        let Self { stages, system, drives, from, h, tolerances, step } = self;
        stages.step(system, drives, from, h, step)?;
        step.norm = tolerances.largest(&step.end.x, &step.error);
        Ok(())
    }
}

/// Room for the stages of one system, or of several in lockstep.
#[derive(Clone, Debug)]
pub(crate) struct Rodas4p<F = f64, S = Solver<f64>> {
    pub(super) solver: S,
    /// The widest instructions of this machine. Nothing is fused, so that all give the same bits.
    pub(super) arch: Arch,
    at: Linearisation<F>,
    rows: usize,
    extent: usize,
    z: Vec<F>,
    slopes: Vec<F>,
    f: Vec<F>,
    charges: Vec<F>,
    weighted: Vec<F>,
    weighted_q: Vec<F>,
    /// Nonlinear charges as the stage has them.
    place_q: Vec<F>,
    /// Q(x) of the stage minus these.
    gap: Vec<F>,
    rhs: Vec<F>,
    /// U_x of each stage, at least as long as z so that laws can read their inputs from it; drives and time
    /// do not change in it.
    stage_x: [Vec<F>; STAGES],
    /// U_q of each stage.
    stage_q: [Vec<F>; STAGES],
}

impl<F: Field, S: Linear<F>> Rodas4p<F, S> {
    /// Room for systems with the equations of `system`.
    pub(super) fn with_solver(system: &System, solver: S) -> Self {
        let (rows, extent) = (system.unknowns.len(), system.extent());
        let (q, zero) = (system.law_charges(), F::splat(0.0));
        // Longer than need be: so products with constant matrices are fastest, and solutions.
        let (long_rows, long) = (rows.max(ROOM), extent.max(ROOM));
        Self {
            solver,
            arch: Arch::new(),
            at: Linearisation::new(system),
            rows,
            extent,
            z: vec![zero; long],
            slopes: vec![zero; long],
            f: vec![zero; long_rows],
            charges: vec![zero; q],
            weighted: vec![zero; long],
            weighted_q: vec![zero; q],
            place_q: vec![zero; q],
            gap: vec![zero; q],
            rhs: vec![zero; long_rows],
            stage_x: array::from_fn(|_| vec![zero; long]),
            stage_q: array::from_fn(|_| vec![zero; q]),
        }
    }

    /// Tries a step of size h; whether its end is a number is for the caller to see.
    #[inline(always)]
    fn step<E: Equations<Number = F>>(
        &mut self,
        system: &E,
        drives: &E::Drives,
        from: &Point<F>,
        h: F,
        step: &mut Step<F>,
    ) -> Result<(), Singular> {
        let rate = F::splat(1.0) / (F::splat(GAMMA) * h);
        self.start(system, drives, (from.t, &from.x), rate)?;
        for stage in 0..STAGES {
            self.place(system, drives, from, h, stage);
            self.right_side(system, h, rate, stage);
            let solved = &mut self.stage_x[stage];
            if stage == 0 {
                self.solver.solve_spoiling_checked(&mut self.rhs, solved)?;
            } else {
                self.solver.solve_spoiling(&mut self.rhs, solved);
            }
            self.keep(system, h, stage);
        }
        self.finish(from, h, step);
        Ok(())
    }

    /// Linearises at the start of the step and factors its one matrix.
    #[inline(always)]
    fn start<E: Equations<Number = F>>(
        &mut self,
        system: &E,
        drives: &E::Drives,
        (t, x): (F, &[F]),
        rate: F,
    ) -> Result<(), Singular> {
        self.z[..x.len()].copy_from_slice(x);
        system.set_time(drives, t, &mut self.z[..self.extent]);
        system.set_slopes(drives, t, &mut self.slopes[..self.extent]);
        system.linearise(&self.z, &self.slopes, &mut self.at);
        self.at.matrix(rate, self.solver.values());
        self.solver.factor_at(rate)
    }

    /// The sums over earlier stages: where the stage is evaluated, and what it inherits.
    #[inline(always)]
    fn combine(&mut self, from: &Point<F>, per_h: F, stage: usize) {
        let Self { rows, z, weighted, stage_x, place_q, weighted_q, stage_q, .. } = self;
        let (z, weighted) = (&mut z[..*rows], &mut weighted[..*rows]);
        match stage {
            1 => sum_both::<F, 1>(&from.x, per_h, stage_x, z, weighted),
            2 => sum_both::<F, 2>(&from.x, per_h, stage_x, z, weighted),
            3 => sum_both::<F, 3>(&from.x, per_h, stage_x, z, weighted),
            4 => sum_both::<F, 4>(&from.x, per_h, stage_x, z, weighted),
            _ => sum_last(per_h, stage_x, z, weighted),
        }
        // Charges are few: in so many words they would be code that pushes other code out of the cache.
        for (j, changes) in stage_q.iter().enumerate().take(stage) {
            let (a, c) = (F::splat(A[stage][j]), F::splat(C[stage][j]) * per_h);
            let sums = place_q.iter_mut().zip(weighted_q.iter_mut());
            for ((place, inherited), (&q, &u)) in sums.zip(from.q.iter().zip(changes)) {
                let before = if j == 0 { (q, F::splat(0.0)) } else { (*place, *inherited) };
                (*place, *inherited) = (before.0 + a * u, before.1 + c * u);
            }
        }
    }

    /// f and Q(x) − q of the stage, and the sums it inherits.
    #[inline(always)]
    fn place<E: Equations<Number = F>>(
        &mut self,
        system: &E,
        drives: &E::Drives,
        from: &Point<F>,
        h: F,
        stage: usize,
    ) {
        if stage == 0 {
            self.weighted_q.fill(F::splat(0.0));
            self.f[..self.rows].copy_from_slice(&self.at.f);
            difference(&self.at.q, &from.q, &mut self.gap);
            return;
        }
        self.combine(from, F::splat(1.0) / h, stage);
        let t = from.t + F::splat(ALPHA[stage]) * h;
        system.set_time(drives, t, &mut self.z[..self.extent]);
        system.evaluate(&self.z, &mut self.f, &mut self.charges);
        difference(&self.charges, &self.place_q, &mut self.gap);
    }

    #[inline(always)]
    fn right_side<E: Equations<Number = F>>(&mut self, system: &E, h: F, rate: F, stage: usize) {
        match stage {
            0 => self.rhs[..self.rows].fill(F::splat(0.0)),
            _ => system.linear_charges(&self.weighted, &mut self.rhs),
        }
        let slope_share = F::splat(GAMMA_SUM[stage]) * h;
        if !self.gap.is_empty() {
            let change = self.gap.iter().zip(&self.at.q_slope);
            for (w, (&gap, &slope)) in self.weighted_q.iter_mut().zip(change) {
                *w = *w - rate * (gap + slope_share * slope);
            }
            system.scatter_charges(&self.weighted_q, &mut self.rhs);
        }
        let rows = ..self.rows;
        subtract_moving(&self.f[rows], &self.at.f_slope, slope_share, &mut self.rhs[rows]);
        self.rhs[0] = F::splat(0.0);
    }

    #[inline(always)]
    fn keep<E: Equations<Number = F>>(&mut self, system: &E, h: F, stage: usize) {
        if self.gap.is_empty() {
            return;
        }
        let change = &mut self.stage_q[stage];
        system.charge_slopes_times(&self.at, &self.stage_x[stage][..self.extent], change);
        let slope_share = F::splat(GAMMA_SUM[stage]) * h;
        for (u, (&gap, &slope)) in change.iter_mut().zip(self.gap.iter().zip(&self.at.q_slope)) {
            *u = *u + (gap + slope_share * slope);
        }
    }

    /// End of the step, error estimate and continuous extension.
    #[inline(always)]
    fn finish(&mut self, from: &Point<F>, h: F, step: &mut Step<F>) {
        step.end.t = from.t + h;
        step.error.copy_from_slice(&self.stage_x[STAGES - 1][..self.rows]);
        step.end.x.copy_from_slice(&self.z[..self.rows]);
        add(&step.error, &mut step.end.x);
        bend(&self.stage_x, &mut step.bend0, &mut step.bend1);
        if !from.q.is_empty() {
            step.end.q.copy_from_slice(&self.place_q);
            add(&self.stage_q[STAGES - 1], &mut step.end.q);
        }
    }
}

impl Rodas4p {
    pub(crate) fn new(system: &System) -> Self {
        Self::with_solver(system, Solver::new(system.pattern()))
    }

    pub(crate) fn adopt(&mut self, plan: &Arc<Elimination>) {
        self.solver.adopt(plan);
    }

    pub(crate) fn count(&self, work: &mut Work) {
        self.solver.count(work);
    }

    pub(crate) fn attempt(
        &mut self,
        system: &System,
        pieces: &Pieces,
        tolerances: &Tolerances,
        from: &Point,
        h: f64,
        step: &mut Step,
    ) -> Result<(), Unfinished> {
        let (arch, stages, reached) = (self.arch, self, &mut *step);
        let attempt =
            Attempt { stages, system, drives: pieces, from, h, tolerances, step: reached };
        arch.dispatch(attempt).map_err(|s| Unfinished { unknown: s.column + 1 })?;
        // Nothing finite can be added to what is not and hide it.
        if step.end.x.iter().sum::<f64>().is_finite() {
            return Ok(());
        }
        match step.end.x.iter().position(|x| !x.is_finite()) {
            Some(unknown) => Err(Unfinished { unknown }),
            None => Ok(()),
        }
    }

    /// Rates of all unknowns: one linear step over a vanishing time, and once more with what its own
    /// change of f came to given back, so that charges flow as f is now and not a step later.
    pub(crate) fn rates(
        &mut self,
        system: &System,
        pieces: &Pieces,
        t: f64,
        x: &[f64],
    ) -> Vec<f64> {
        let mut rates = vec![0.0; system.extent()];
        if self.start(system, pieces, (t, x), 1.0 / RATE_STEP_S).is_err() {
            return rates;
        }
        // The slope in time of charges acts like a current.
        let rows = self.rows;
        let mut in_time = vec![0.0; rows];
        system.scatter_charges(&self.at.q_slope, &mut in_time);
        let now: Vec<f64> = self.at.f.iter().zip(&in_time).map(|(f, q)| -f - q).collect();
        for (r, (now, slope)) in self.rhs.iter_mut().zip(now.iter().zip(&self.at.f_slope)) {
            *r = now - RATE_STEP_S * slope;
        }
        self.rhs[0] = 0.0;
        if Solver::solve_checked(&mut self.solver, &mut self.rhs[1..rows]).is_err() {
            return rates;
        }
        let mut change = vec![0.0; rows];
        let pattern = system.pattern();
        let conductances = &self.at.conductances[..pattern.slots()];
        multiply(pattern, conductances, &self.rhs[1..rows], &mut change[1..]);
        for (r, (now, change)) in self.rhs.iter_mut().zip(now.iter().zip(&change)) {
            *r = now + change;
        }
        self.rhs[0] = 0.0;
        if Solver::solve_checked(&mut self.solver, &mut self.rhs[1..rows]).is_ok() {
            for (rate, change) in rates.iter_mut().zip(&self.rhs[..rows]) {
                *rate = change / RATE_STEP_S;
            }
        }
        rates[rows..].copy_from_slice(&self.slopes[rows..self.extent]);
        rates
    }
}

/// place = start + Σ a_j·u_j and inherited = Σ (c_j/h)·u_j over the first N stages.
#[inline(always)]
fn sum_both<F: Field, const N: usize>(
    start: &[F],
    per_h: F,
    stages: &[Vec<F>; STAGES],
    place: &mut [F],
    inherited: &mut [F],
) {
    let zero = F::splat(0.0);
    let (mut a, mut c) = ([zero; N], [zero; N]);
    let mut each: [&[F]; N] = [&[]; N];
    let count = start.len();
    for j in 0..N {
        (a[j], c[j]) = (F::splat(A[N][j]), F::splat(C[N][j]) * per_h);
        each[j] = &stages[j][..count];
    }
    let (place, inherited) = (&mut place[..count], &mut inherited[..count]);
    for k in 0..count {
        let mut sums = (start[k] + a[0] * each[0][k], c[0] * each[0][k]);
        for j in 1..N {
            sums = (sums.0 + a[j] * each[j][k], sums.1 + c[j] * each[j][k]);
        }
        (place[k], inherited[k]) = sums;
    }
}

/// The same for the last stage, whose place is that of the stage before and one unit of that more.
#[inline(always)]
fn sum_last<F: Field>(per_h: F, stages: &[Vec<F>; STAGES], place: &mut [F], inherited: &mut [F]) {
    const N: usize = STAGES - 1;
    let mut c = [F::splat(0.0); N];
    let mut each: [&[F]; N] = [&[]; N];
    let count = place.len();
    for j in 0..N {
        c[j] = F::splat(C[N][j]) * per_h;
        each[j] = &stages[j][..count];
    }
    let inherited = &mut inherited[..count];
    for k in 0..count {
        let mut sum = c[0] * each[0][k];
        for j in 1..N {
            sum = sum + c[j] * each[j][k];
        }
        (place[k], inherited[k]) = (place[k] + each[N - 1][k], sum);
    }
}

/// The two bends of a step.
#[inline(always)]
fn bend<F: Field>(stages: &[Vec<F>; STAGES], bend0: &mut [F], bend1: &mut [F]) {
    let count = bend0.len();
    let mut each: [&[F]; D3.len()] = [&[]; D3.len()];
    for (each, stage) in each.iter_mut().zip(stages) {
        *each = &stage[..count];
    }
    let bend1 = &mut bend1[..count];
    for k in 0..count {
        let mut sums = (F::splat(D2[0]) * each[0][k], F::splat(D3[0]) * each[0][k]);
        for j in 1..D2.len() {
            sums.0 = sums.0 + F::splat(D2[j]) * each[j][k];
        }
        for j in 1..D3.len() {
            sums.1 = sums.1 + F::splat(D3[j]) * each[j][k];
        }
        (bend0[k], bend1[k]) = sums;
    }
}

/// out += more.
#[inline(always)]
fn add<F: Field>(more: &[F], out: &mut [F]) {
    for (out, &more) in out.iter_mut().zip(more) {
        *out = *out + more;
    }
}

/// out = a − b.
#[inline(always)]
fn difference<F: Field>(a: &[F], b: &[F], out: &mut [F]) {
    for (out, (&a, &b)) in out.iter_mut().zip(a.iter().zip(b)) {
        *out = a - b;
    }
}

/// out −= value + share·slope.
#[inline(always)]
fn subtract_moving<F: Field>(values: &[F], slopes: &[F], share: F, out: &mut [F]) {
    for (out, (&value, &slope)) in out.iter_mut().zip(values.iter().zip(slopes)) {
        *out = *out - (value + share * slope);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_rows_differ_by_a_one_alone() {
        let mut before_last = A[STAGES - 2];
        before_last[STAGES - 2] += 1.0;
        assert_eq!(before_last, A[STAGES - 1]);
    }
}
