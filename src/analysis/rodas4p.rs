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

use super::solver::Solver;
use super::stepper::{Point, Step, Unfinished};
use crate::numeric::multiply;
use crate::system::{Linearisation, Pieces, System};

/// Number of stages.
pub(crate) const STAGES: usize = 6;
const GAMMA: f64 = 0.25;
const ALPHA: [f64; STAGES] = [0.0, 0.75, 0.21, 0.63, 1.0, 1.0];
const GAMMA_SUM: [f64; STAGES] = [0.25, -0.5, -0.023_504, -0.0362, 0.0, 0.0];
/// a\[i\]\[j\]; the last row plus one more unit on the sixth stage is the end of the step.
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
const D2: [f64; STAGES] = [
    25.098_767_037_085_89,
    11.620_131_043_618_67,
    28.491_483_077_146_26,
    -5.664_021_568_594_133,
    0.0,
    0.0,
];
const D3: [f64; STAGES] = [
    1.638_054_557_396_973,
    -0.737_361_980_667_874_8,
    8.477_918_219_238_99,
    15.992_531_487_795_2,
    -1.882_352_941_176_471,
    0.0,
];
/// Step over which rates are taken, in s: far below every time constant of a regulator, far above
/// where the difference of two voltages drowns in rounding.
const RATE_STEP_S: f64 = 1e-12;

/// Room for the stages of one system.
#[derive(Clone, Debug)]
pub(crate) struct Rodas4p {
    solver: Solver<f64>,
    at: Linearisation,
    z: Vec<f64>,
    slopes: Vec<f64>,
    f: Vec<f64>,
    charges: Vec<f64>,
    weighted: Vec<f64>,
    weighted_q: Vec<f64>,
    gap: Vec<f64>,
    rhs: Vec<f64>,
    /// U_x of the stage at hand, as long as z so that laws can read their inputs from it.
    solved: Vec<f64>,
    /// U_x of all stages, unknown by unknown: sums over stages then run over neighbours.
    stage_x: Vec<[f64; STAGES]>,
    /// The same of the nonlinear charges.
    stage_q: Vec<[f64; STAGES]>,
    change_q: Vec<f64>,
}

impl Rodas4p {
    pub(crate) fn new(system: &System) -> Self {
        let rows = system.unknowns.len();
        let extent = system.extent();
        let q = system.law_charges();
        Self {
            solver: Solver::new(system.pattern()),
            at: Linearisation::new(system),
            z: vec![0.0; extent],
            slopes: vec![0.0; extent],
            f: vec![0.0; rows],
            charges: vec![0.0; q],
            weighted: vec![0.0; extent],
            weighted_q: vec![0.0; q],
            gap: vec![0.0; q],
            rhs: vec![0.0; rows],
            solved: vec![0.0; extent],
            stage_x: vec![[0.0; STAGES]; rows],
            stage_q: vec![[0.0; STAGES]; q],
            change_q: vec![0.0; q],
        }
    }

    pub(crate) fn factorisations(&self) -> usize {
        self.solver.factorisations
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
            let solved = &mut self.rhs[1..];
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
        system.set_time(pieces, t, &mut self.z);
        system.set_slopes(pieces, t, &mut self.slopes);
        system.linearise(&self.z, &self.slopes, &mut self.at);
        self.at.matrix(rate, self.solver.values());
        self.solver.factor().map_err(|s| Unfinished { unknown: s.column + 1 })
    }

    /// The sums over earlier stages: where the stage is evaluated, and what it inherits.
    #[inline]
    fn combine<const S: usize>(&mut self, from: &Point, per_h: f64) {
        let inherited: [f64; S] = std::array::from_fn(|j| C[S][j] * per_h);
        let places = self.z.iter_mut().zip(self.weighted.iter_mut());
        for ((z, w), (x, u)) in places.zip(from.x.iter().zip(&self.stage_x)) {
            let (mut at, mut sum) = (*x, 0.0);
            for j in 0..S {
                at += A[S][j] * u[j];
                sum += inherited[j] * u[j];
            }
            (*z, *w) = (at, sum);
        }
        let places = self.gap.iter_mut().zip(self.weighted_q.iter_mut());
        for ((gap, w), (q, u)) in places.zip(from.q.iter().zip(&self.stage_q)) {
            let (mut at, mut sum) = (*q, 0.0);
            for j in 0..S {
                at += A[S][j] * u[j];
                sum += inherited[j] * u[j];
            }
            (*gap, *w) = (-at, sum);
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
                self.weighted.fill(0.0);
                self.weighted_q.fill(0.0);
                self.f.copy_from_slice(&self.at.f);
                for (gap, (now, q)) in self.gap.iter_mut().zip(self.at.q.iter().zip(&from.q)) {
                    *gap = now - q;
                }
                return;
            }
        }
        system.set_time(pieces, from.t + ALPHA[stage] * h, &mut self.z);
        system.evaluate(&self.z, &mut self.f, &mut self.charges);
        for (gap, now) in self.gap.iter_mut().zip(&self.charges) {
            *gap += now;
        }
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
        for (r, (f, slope)) in self.rhs.iter_mut().zip(self.f.iter().zip(&self.at.f_slope)) {
            *r -= f + slope_share * slope;
        }
        self.rhs[0] = 0.0;
    }

    #[inline]
    fn keep(&mut self, system: &System, h: f64, stage: usize) {
        for (u, value) in self.stage_x.iter_mut().zip(&self.rhs) {
            u[stage] = *value;
        }
        if self.gap.is_empty() {
            return;
        }
        self.solved[..self.rhs.len()].copy_from_slice(&self.rhs);
        system.charge_slopes_times(&self.at, &self.solved, &mut self.change_q);
        let slope_share = GAMMA_SUM[stage] * h;
        let change = self.change_q.iter().zip(self.gap.iter().zip(&self.at.q_slope));
        for (u, (slopes, (gap, slope))) in self.stage_q.iter_mut().zip(change) {
            u[stage] = slopes + gap + slope_share * slope;
        }
    }

    /// End of the step, error estimate and continuous extension.
    #[inline]
    fn finish(&mut self, from: &Point, h: f64, step: &mut Step) -> Result<(), Unfinished> {
        let last = STAGES - 1;
        let end = |start: &f64, u: &[f64; STAGES]| start + dot(&A[last], u) + u[last];
        step.end.t = from.t + h;
        let mut finite = true;
        for (k, (x, u)) in from.x.iter().zip(&self.stage_x).enumerate() {
            step.end.x[k] = end(x, u);
            step.error[k] = u[last];
            step.bend0[k] = dot(&D2, u);
            step.bend1[k] = dot(&D3, u);
            finite &= step.end.x[k].is_finite();
        }
        for (end_q, (q, u)) in step.end.q.iter_mut().zip(from.q.iter().zip(&self.stage_q)) {
            *end_q = end(q, u);
        }
        if finite {
            return Ok(());
        }
        let unknown = step.end.x.iter().position(|x| !x.is_finite()).unwrap_or(0);
        Err(Unfinished { unknown })
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
        let mut in_time = vec![0.0; self.rhs.len()];
        system.scatter_charges(&self.at.q_slope, &mut in_time);
        let now: Vec<f64> = self.at.f.iter().zip(&in_time).map(|(f, q)| -f - q).collect();
        for (r, (now, slope)) in self.rhs.iter_mut().zip(now.iter().zip(&self.at.f_slope)) {
            *r = now - RATE_STEP_S * slope;
        }
        self.rhs[0] = 0.0;
        if self.solver.solve_checked(&mut self.rhs[1..]).is_err() {
            return rates;
        }
        let mut change = vec![0.0; self.rhs.len()];
        let pattern = system.pattern();
        let conductances = &self.at.conductances[..pattern.slots()];
        multiply(pattern, conductances, &self.rhs[1..], &mut change[1..]);
        for (r, (now, change)) in self.rhs.iter_mut().zip(now.iter().zip(&change)) {
            *r = now + change;
        }
        self.rhs[0] = 0.0;
        if self.solver.solve_checked(&mut self.rhs[1..]).is_ok() {
            for (rate, change) in rates.iter_mut().zip(&self.rhs) {
                *rate = change / RATE_STEP_S;
            }
        }
        let drives = self.rhs.len();
        rates[drives..].copy_from_slice(&self.slopes[drives..]);
        rates
    }
}

/// Σ factor_j·u_j.
#[inline]
fn dot(factors: &[f64; STAGES], u: &[f64; STAGES]) -> f64 {
    factors.iter().zip(u).map(|(f, u)| f * u).sum()
}
