//! A rail with a closed form in place of the solver: an ideal source, R and L to the output, C with
//! its ESR to ground, a load current that rises from 0 within 1 µs.

use crate::circuit::Change;
use crate::quantity::Dimension;
use crate::study::compare::{Knob, Solution, Trace};
use crate::study::spell::quantity_value;
use crate::waveform::Signal;

pub(super) const SOURCE_V: f64 = 3.0;
const STEP_A: f64 = 0.5;
const EDGE_S: f64 = 1e-6;
/// The edge begins here, the record ends there.
pub(super) const START_S: f64 = 5e-6;
pub(super) const END_S: f64 = 45e-6;

/// R = 20 mΩ, L = 100 nH, C = 10 µF, ESR = 5 mΩ.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rail {
    pub(super) ohm: f64,
    pub(super) henry: f64,
    pub(super) farad: f64,
    pub(super) esr: f64,
}

pub(super) const RAIL: Rail = Rail { ohm: 20e-3, henry: 100e-9, farad: 10e-6, esr: 5e-3 };

impl Rail {
    /// The closed form of the step is ΔV = −ΔI·[R + e^(−αt)·(A cos ωt + B sin ωt)], with
    /// α = (R + ESR)/2L, A = ESR − R, and B from the slope −ΔI·(1/C − ESR²/L) at 0. A ramp is the
    /// difference of two of its integrals over the rise time.
    pub(super) fn volt(&self, t: f64) -> f64 {
        SOURCE_V + (self.integral(t) - self.integral(t - EDGE_S)) / EDGE_S
    }

    fn shape(&self) -> [f64; 4] {
        let alpha = (self.ohm + self.esr) / (2.0 * self.henry);
        let omega = (1.0 / (self.henry * self.farad) - alpha * alpha).sqrt();
        let a = self.esr - self.ohm;
        let b = (1.0 / self.farad - self.esr * self.esr / self.henry + alpha * a) / omega;
        [alpha, omega, a, b]
    }

    /// Integral of ΔV from 0 to t.
    fn integral(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        let [alpha, omega, a, b] = self.shape();
        let at = |t: f64| {
            let (sin, cos) = (omega * t).sin_cos();
            (-alpha * t).exp() * ((-alpha * a - omega * b) * cos + (omega * a - alpha * b) * sin)
                / (alpha * alpha + omega * omega)
        };
        -STEP_A * (self.ohm * t + at(t) - at(0.0))
    }

    /// ΔV of the step itself.
    fn step(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        let [alpha, omega, a, b] = self.shape();
        let (sin, cos) = (omega * t).sin_cos();
        -STEP_A * (self.ohm + (-alpha * t).exp() * (a * cos + b * sin))
    }

    pub(super) fn solution(&self) -> Solution {
        let step_s = 0.1e-6;
        let count = (END_S / step_s).round() as usize;
        let times: Vec<f64> = (0..=count).map(|k| k as f64 * step_s).collect();
        let values: Vec<f64> = times.iter().map(|t| self.volt(t - START_S)).collect();
        let rate = |t: &f64| (self.step(t - START_S) - self.step(t - START_S - EDGE_S)) / EDGE_S;
        let rates: Vec<f64> = times.iter().map(rate).collect();
        let signal = Signal::from_rates("output", "V", &times, &values, &rates);
        Solution::new(times, signal, true).unwrap()
    }

    /// Samples every 0.2 µs from `from_s` on, on an axis whose zero lies at `zero_s` of the record.
    pub(super) fn trace(&self, from_s: f64, count: usize, zero_s: f64, noise: &mut Noise) -> Trace {
        let at = |k: usize| from_s + 0.2e-6 * k as f64;
        Trace {
            time_s: (0..count).map(|k| at(k) - zero_s).collect(),
            volt: (0..count).map(|k| self.volt(at(k) - START_S) + noise.next()).collect(),
            time_head: "time [s]".to_owned(),
            volt_head: "vout [V]".to_owned(),
        }
    }

    /// The rail with `r`, `l`, `c`, `esr` changed, `r1`/`r2` in series, `c1`/`c2` in parallel, or
    /// `ra`/`rb` in parallel.
    pub(super) fn with(&self, changes: &[Change]) -> Rail {
        let (mut rail, mut pair) = (*self, [0.0; 2]);
        for change in changes {
            let read = |dimension| quantity_value(&change.text, dimension).unwrap();
            match change.path.as_str() {
                "r" => rail.ohm = read(Dimension::OHM),
                "l" => rail.henry = read(Dimension::HENRY),
                "c" => rail.farad = read(Dimension::FARAD),
                "esr" => rail.esr = read(Dimension::OHM),
                "r1" | "ra" => pair[0] = read(Dimension::OHM),
                "c1" => pair[0] = read(Dimension::FARAD),
                "r2" => rail.ohm = pair[0] + read(Dimension::OHM),
                "c2" => rail.farad = pair[0] + read(Dimension::FARAD),
                "rb" => rail.ohm = 1.0 / (1.0 / pair[0] + 1.0 / read(Dimension::OHM)),
                _ => {}
            }
        }
        rail
    }
}

pub(super) fn knob(path: &str, dimension: Dimension, low: f64, high: f64) -> Knob {
    Knob { path: path.to_owned(), dimension, low, high, present: None }
}

/// Normal deviates: SplitMix64 (Steele, Lea, Flood, OOPSLA 2014) through the transform of Box and
/// Muller (Ann. Math. Statist. 29 (1958)).
pub(super) struct Noise {
    pub(super) seed: u64,
    pub(super) volt: f64,
}

impl Noise {
    pub(super) fn of(volt: f64, seed: u64) -> Self {
        Self { seed, volt }
    }

    fn unit(&mut self) -> f64 {
        self.seed = self.seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.seed ^ (self.seed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn next(&mut self) -> f64 {
        let (radius, angle) = ((-2.0 * self.unit().ln()).sqrt(), self.unit());
        self.volt * radius * (std::f64::consts::TAU * angle).cos()
    }
}

/// Case A1 with a rise of 1 µs: ΔV at 0.5, 1, 1.5, 2, 5 and 10 µs, from the closed form by separate
/// arithmetic of 16 digits.
#[test]
fn exact_the_closed_form_is_the_one_it_says() {
    let table = [
        (0.5e-6, -0.007_259_586_909_705_173),
        (1e-6, -0.024_780_917_939_570_8),
        (1.5e-6, -0.041_216_808_705_471_44),
        (2e-6, -0.048_536_817_009_346_52),
        (5e-6, 0.015_041_976_137_119_98),
        (10e-6, -0.012_337_563_569_770_02),
    ];
    for (t, expected) in table {
        let found = RAIL.volt(t) - SOURCE_V;
        assert!((found - expected).abs() < 1e-14, "{t}: {found}, expected {expected}");
    }
}
