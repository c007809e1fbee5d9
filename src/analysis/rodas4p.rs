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
//! four at once. The last two rows of the coefficients differ by a one alone: the place of the sixth
//! stage is that of the fifth and one stage more, the end of the step that of the sixth and one more.

use super::Work;
use super::solver::Solver;
use super::stepper::{Point, Step, Unfinished};
use crate::numeric::{Elimination, ROOM, multiply};
use crate::system::{Linearisation, Pieces, System};
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

/// Room for the stages of one system.
#[derive(Clone, Debug)]
pub(crate) struct Rodas4p {
    solver: Solver<f64>,
    at: Linearisation,
    rows: usize,
    extent: usize,
    z: Vec<f64>,
    slopes: Vec<f64>,
    f: Vec<f64>,
    charges: Vec<f64>,
    weighted: Vec<f64>,
    weighted_q: Vec<f64>,
    /// Nonlinear charges as the stage has them.
    place_q: Vec<f64>,
    /// Q(x) of the stage minus these.
    gap: Vec<f64>,
    rhs: Vec<f64>,
    /// U_x of all stages, one behind the other, each as long as z so that laws can read their inputs
    /// from it; drives and time do not change in it.
    stage_x: Vec<f64>,
    /// U_q of all stages.
    stage_q: Vec<f64>,
}

impl Rodas4p {
    pub(crate) fn new(system: &System) -> Self {
        let rows = system.unknowns.len();
        let extent = system.extent();
        let q = system.law_charges();
        // Longer than need be: so products with constant matrices are fastest.
        let (long_rows, long) = (rows.max(ROOM), extent.max(ROOM));
        Self {
            solver: Solver::new(system.pattern()),
            at: Linearisation::new(system),
            rows,
            extent,
            z: vec![0.0; long],
            slopes: vec![0.0; long],
            f: vec![0.0; long_rows],
            charges: vec![0.0; q],
            weighted: vec![0.0; long],
            weighted_q: vec![0.0; q],
            place_q: vec![0.0; q],
            gap: vec![0.0; q],
            rhs: vec![0.0; long_rows],
            stage_x: vec![0.0; STAGES * extent],
            stage_q: vec![0.0; STAGES * q],
        }
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
        from: &Point,
        h: f64,
        step: &mut Step,
    ) -> Result<(), Unfinished> {
        let rate = 1.0 / (GAMMA * h);
        self.start(system, pieces, (from.t, &from.x), rate)?;
        for stage in 0..STAGES {
            self.place(system, pieces, from, h, stage);
            self.right_side(system, h, rate, stage);
            let solved = &mut self.rhs[1..self.rows];
            if stage == 0 {
                self.solver
                    .solve_checked(solved)
                    .map_err(|s| Unfinished { unknown: s.column + 1 })?;
            } else {
                self.solver.solve(solved);
            }
            self.keep(system, h, stage);
        }
        self.finish(from, h, step)
    }

    /// Linearises at the start of the step and factors its one matrix.
    fn start(
        &mut self,
        system: &System,
        pieces: &Pieces,
        (t, x): (f64, &[f64]),
        rate: f64,
    ) -> Result<(), Unfinished> {
        self.z[..x.len()].copy_from_slice(x);
        system.set_time(pieces, t, &mut self.z[..self.extent]);
        system.set_slopes(pieces, t, &mut self.slopes[..self.extent]);
        system.linearise(&self.z, &self.slopes, &mut self.at);
        self.at.matrix(rate, self.solver.values());
        self.solver.factor_at(rate).map_err(|s| Unfinished { unknown: s.column + 1 })
    }

    /// The sums over earlier stages: where the stage is evaluated, and what it inherits.
    #[inline]
    fn combine<const S: usize>(&mut self, from: &Point, per_h: f64) {
        let inherited: [f64; S] = std::array::from_fn(|j| C[S][j] * per_h);
        let (rows, extent) = (self.rows, self.extent);
        let factors: [f64; S] = std::array::from_fn(|j| A[S][j]);
        let (z, weighted) = (&mut self.z[..rows], &mut self.weighted[..rows]);
        sum_stages(&inherited, &self.stage_x, extent, weighted);
        if S == STAGES - 1 {
            add(&self.stage_x[(S - 1) * extent..], z);
        } else {
            add_stages(&from.x, &factors, &self.stage_x, extent, z);
        }
        let charges = from.q.len();
        if charges == 0 {
            return;
        }
        sum_stages(&inherited, &self.stage_q, charges, &mut self.weighted_q);
        if S == STAGES - 1 {
            add(&self.stage_q[(S - 1) * charges..], &mut self.place_q);
        } else {
            add_stages(&from.q, &factors, &self.stage_q, charges, &mut self.place_q);
        }
    }

    /// f and Q(x) − q of the stage, and the sums it inherits.
    #[inline]
    fn place(&mut self, system: &System, pieces: &Pieces, from: &Point, h: f64, stage: usize) {
        let per_h = 1.0 / h;
        match stage {
            1 => self.combine::<1>(from, per_h),
            2 => self.combine::<2>(from, per_h),
            3 => self.combine::<3>(from, per_h),
            4 => self.combine::<4>(from, per_h),
            5 => self.combine::<5>(from, per_h),
            _ => {
                self.weighted[..self.rows].fill(0.0);
                self.weighted_q.fill(0.0);
                self.f[..self.rows].copy_from_slice(&self.at.f);
                difference(&self.at.q, &from.q, &mut self.gap);
                return;
            }
        }
        system.set_time(pieces, from.t + ALPHA[stage] * h, &mut self.z[..self.extent]);
        system.evaluate(&self.z, &mut self.f, &mut self.charges);
        difference(&self.charges, &self.place_q, &mut self.gap);
    }

    #[inline]
    fn right_side(&mut self, system: &System, h: f64, rate: f64, stage: usize) {
        system.linear_charges(&self.weighted, &mut self.rhs);
        let slope_share = GAMMA_SUM[stage] * h;
        if !self.gap.is_empty() {
            let change = self.gap.iter().zip(&self.at.q_slope);
            for (w, (gap, slope)) in self.weighted_q.iter_mut().zip(change) {
                *w -= rate * (gap + slope_share * slope);
            }
            system.scatter_charges(&self.weighted_q, &mut self.rhs);
        }
        let rows = ..self.rows;
        subtract_moving(&self.f[rows], &self.at.f_slope, slope_share, &mut self.rhs[rows]);
        self.rhs[0] = 0.0;
    }

    #[inline]
    fn keep(&mut self, system: &System, h: f64, stage: usize) {
        let solved = &mut self.stage_x[stage * self.extent..][..self.extent];
        solved[..self.rows].copy_from_slice(&self.rhs[..self.rows]);
        if self.gap.is_empty() {
            return;
        }
        let change = &mut self.stage_q[stage * self.gap.len()..][..self.gap.len()];
        system.charge_slopes_times(&self.at, solved, change);
        let slope_share = GAMMA_SUM[stage] * h;
        for (u, (gap, slope)) in change.iter_mut().zip(self.gap.iter().zip(&self.at.q_slope)) {
            *u += gap + slope_share * slope;
        }
    }

    /// End of the step, error estimate and continuous extension.
    #[inline]
    fn finish(&mut self, from: &Point, h: f64, step: &mut Step) -> Result<(), Unfinished> {
        let (rows, extent) = (self.rows, self.extent);
        step.end.t = from.t + h;
        step.error.copy_from_slice(&self.stage_x[(STAGES - 1) * extent..][..rows]);
        step.end.x.copy_from_slice(&self.z[..rows]);
        add(&step.error, &mut step.end.x);
        sum_stages(&D2, &self.stage_x, extent, &mut step.bend0);
        sum_stages(&D3, &self.stage_x, extent, &mut step.bend1);
        if !from.q.is_empty() {
            step.end.q.copy_from_slice(&self.place_q);
            add(&self.stage_q[(STAGES - 1) * from.q.len()..], &mut step.end.q);
        }
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
        if self.solver.solve_checked(&mut self.rhs[1..rows]).is_err() {
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
        if self.solver.solve_checked(&mut self.rhs[1..rows]).is_ok() {
            for (rate, change) in rates.iter_mut().zip(&self.rhs[..rows]) {
                *rate = change / RATE_STEP_S;
            }
        }
        rates[rows..].copy_from_slice(&self.slopes[rows..self.extent]);
        rates
    }
}

/// out = start + Σ factor_j·u_j over stages that lie `stride` apart.
#[inline]
fn add_stages<const S: usize>(
    start: &[f64],
    factors: &[f64; S],
    stages: &[f64],
    stride: usize,
    out: &mut [f64],
) {
    let start = &start[..out.len()];
    let each: [&[f64]; S] = std::array::from_fn(|j| &stages[j * stride..][..out.len()]);
    for (k, out) in out.iter_mut().enumerate() {
        let mut sum = start[k];
        for j in 0..S {
            sum += factors[j] * each[j][k];
        }
        *out = sum;
    }
}

/// out = Σ factor_j·u_j over stages that lie `stride` apart.
#[inline]
fn sum_stages<const S: usize>(factors: &[f64; S], stages: &[f64], stride: usize, out: &mut [f64]) {
    let each: [&[f64]; S] = std::array::from_fn(|j| &stages[j * stride..][..out.len()]);
    for (k, out) in out.iter_mut().enumerate() {
        let mut sum = factors[0] * each[0][k];
        for j in 1..S {
            sum += factors[j] * each[j][k];
        }
        *out = sum;
    }
}

/// out += more.
#[inline]
fn add(more: &[f64], out: &mut [f64]) {
    for (out, more) in out.iter_mut().zip(more) {
        *out += more;
    }
}

/// out = a − b.
#[inline]
fn difference(a: &[f64], b: &[f64], out: &mut [f64]) {
    for (out, (a, b)) in out.iter_mut().zip(a.iter().zip(b)) {
        *out = a - b;
    }
}

/// out −= value + share·slope.
#[inline]
fn subtract_moving(values: &[f64], slopes: &[f64], share: f64, out: &mut [f64]) {
    for (out, (value, slope)) in out.iter_mut().zip(values.iter().zip(slopes)) {
        *out -= value + share * slope;
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
