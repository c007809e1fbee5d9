//! Margins of a loop gain: crossovers, phase and gain margin, distance from -1.
//!
//! Pure functions of T(f), which they may ask for at any frequency: what lies between the points of
//! a grid is found by asking, not by interpolating.

use nalgebra::Complex;

/// T at a frequency in Hz, or nothing where it cannot be told.
pub type LoopGain<'a> = dyn FnMut(f64) -> Option<Complex<f64>> + 'a;

/// Where the size of the loop gain passes 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossover {
    /// Hz
    pub hz: f64,
    /// 180° plus the phase there, between -180° and 180°.
    pub phase_margin_deg: f64,
    /// Whether it falls below 1 there.
    pub falling: bool,
}

/// Where the phase passes -180°.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhaseCrossing {
    /// Hz
    pub hz: f64,
    /// dB by which the gain lies below 1.
    pub margin_db: f64,
}

/// What a loop gain says about stability.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Margins {
    /// In order of frequency.
    pub crossovers: Vec<Crossover>,
    /// In order of frequency.
    pub phase_crossings: Vec<PhaseCrossing>,
    /// Least |1 + T|, and its Hz.
    pub distance: Option<(f64, f64)>,
    /// |T| at the lowest frequency in dB.
    pub low_db: Option<f64>,
}

/// A crossing is searched for to this share of its frequency.
const CROSSING_SHARE: f64 = 1e-12;
const MOST_ROUNDS: usize = 100;
/// A gain below this, relative to 1 beside which it is found, has no phase but rounding.
const LEAST_GAIN: f64 = 1e-12;
/// Share of an interval that the golden section keeps.
const GOLDEN: f64 = 0.618_033_988_749_894_9;
/// A minimum is flat: its place is known to the root of rounding, its value far better.
const MINIMUM_SHARE: f64 = 1e-7;

/// dB of a ratio.
pub fn decibel(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Finds all margins over a rising grid of frequencies in Hz.
pub fn margins(gain: &mut LoopGain<'_>, grid_hz: &[f64]) -> Margins {
    let seen: Vec<(f64, Complex<f64>)> =
        grid_hz.iter().filter_map(|&hz| gain(hz).map(|t| (hz, t))).collect();
    let mut found =
        Margins { low_db: seen.first().map(|(_, t)| decibel(t.norm())), ..Margins::default() };
    for pair in seen.windows(2) {
        let [(low, t0), (high, t1)] = pair else { continue };
        if (t0.norm() >= 1.0) != (t1.norm() >= 1.0)
            && let Some(hz) = crossing(gain, (*low, *high), &|t| t.norm().ln())
            && let Some(t) = gain(hz)
        {
            let phase_margin_deg = (-t).arg().to_degrees();
            found.crossovers.push(Crossover { hz, phase_margin_deg, falling: t0.norm() >= 1.0 });
        }
        // The phase passes ±180° where the imaginary part changes sign left of the origin; far
        // from there the real part at the crossing tells the two apart.
        if t0.norm().min(t1.norm()) > LEAST_GAIN
            && (t0.im >= 0.0) != (t1.im >= 0.0)
            && let Some(hz) = crossing(gain, (*low, *high), &|t| t.im)
            && let Some(t) = gain(hz).filter(|t| t.re < 0.0)
        {
            found.phase_crossings.push(PhaseCrossing { hz, margin_db: -decibel(t.norm()) });
        }
    }
    found.distance = least_distance(gain, &seen);
    found
}

impl Margins {
    /// The highest frequency at which the gain falls below 1.
    pub fn crossover(&self) -> Option<Crossover> {
        self.crossovers.iter().rfind(|c| c.falling).copied()
    }

    /// The gain margin that counts: at the first phase crossing above the crossover; where the
    /// phase margin is negative, at the last one below it (there the gain is too large already).
    pub fn gain_margin(&self) -> Option<PhaseCrossing> {
        let from = self.crossover().map_or(0.0, |c| c.hz);
        let above = self.phase_crossings.iter().find(|p| p.hz > from).copied();
        let lost = self.crossover().is_some_and(|c| c.phase_margin_deg < 0.0);
        let below = self.phase_crossings.iter().rfind(|p| p.hz <= from).copied();
        if lost { below.or(above) } else { above }
    }
}

/// Damping ratio of a loop ω²/(s(s + 2ζω)) with this phase margin in degrees; PM = atan(2ζ/√(√(1 +
/// 4ζ⁴) − 2ζ²)) solved for ζ. `None` where no such loop has it.
pub fn second_order_damping(phase_margin_deg: f64) -> Option<f64> {
    if !(phase_margin_deg > 0.0 && phase_margin_deg < 90.0) {
        return None;
    }
    // With p = tan PM: p² = 4ζ²/(√(1+4ζ⁴) − 2ζ²), hence ζ⁴ = p⁴/(16·(1 + p²)).
    let p2 = phase_margin_deg.to_radians().tan().powi(2);
    Some((p2 * p2 / (16.0 * (1.0 + p2))).powf(0.25))
}

/// The frequency within an interval at which `of` the gain is zero, its ends having unlike signs:
/// regula falsi with the Illinois rule in the logarithm of frequency.
fn crossing(
    gain: &mut LoopGain<'_>,
    (low, high): (f64, f64),
    of: &dyn Fn(Complex<f64>) -> f64,
) -> Option<f64> {
    let (mut a, mut b) = (low.ln(), high.ln());
    let (mut fa, mut fb) = (of(gain(low)?), of(gain(high)?));
    let mut kept = 0_i8;
    for _ in 0..MOST_ROUNDS {
        if fa == 0.0 || (b - a).abs() <= CROSSING_SHARE {
            return Some(a.exp());
        }
        if fb == 0.0 {
            return Some(b.exp());
        }
        let mut middle = (a * fb - b * fa) / (fb - fa);
        if !(middle > a && middle < b) {
            middle = 0.5 * (a + b);
        }
        let f = of(gain(middle.exp())?);
        if (f > 0.0) == (fb > 0.0) {
            (b, fb) = (middle, f);
            if kept == 1 {
                fa *= 0.5;
            }
            kept = 1;
        } else {
            (a, fa) = (middle, f);
            if kept == -1 {
                fb *= 0.5;
            }
            kept = -1;
        }
    }
    Some((0.5 * (a + b)).exp())
}

/// Least |1 + T|, refined by the golden section around every low point of the grid.
fn least_distance(gain: &mut LoopGain<'_>, seen: &[(f64, Complex<f64>)]) -> Option<(f64, f64)> {
    let distance = |t: Complex<f64>| (t + 1.0).norm();
    let values: Vec<f64> = seen.iter().map(|(_, t)| distance(*t)).collect();
    let mut best: Option<(f64, f64)> = None;
    let mut note = |value: f64, hz: f64| {
        if best.is_none_or(|(least, _)| value < least) {
            best = Some((value, hz));
        }
    };
    for (k, &(hz, _)) in seen.iter().enumerate() {
        note(values[k], hz);
        let inner = k > 0 && k + 1 < seen.len();
        if inner && values[k] <= values[k - 1] && values[k] <= values[k + 1] {
            let ends = (seen[k - 1].0.ln(), seen[k + 1].0.ln());
            let mut at = |x: f64| gain(x.exp()).map_or(f64::INFINITY, distance);
            let (value, x) = golden(&mut at, ends);
            note(value, x.exp());
        }
    }
    best
}

fn golden(of: &mut dyn FnMut(f64) -> f64, (mut a, mut b): (f64, f64)) -> (f64, f64) {
    let (mut c, mut d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut fc, mut fd) = (of(c), of(d));
    for _ in 0..MOST_ROUNDS {
        if b - a <= MINIMUM_SHARE {
            break;
        }
        if fc < fd {
            (b, d, fd) = (d, c, fc);
            c = b - GOLDEN * (b - a);
            fc = of(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + GOLDEN * (b - a);
            fd = of(d);
        }
    }
    if fc < fd { (fc, c) } else { (fd, d) }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unreadable_literal)] // digits as their sources have them

    use super::*;

    fn grid(low: f64, high: f64, count: usize) -> Vec<f64> {
        (0..count).map(|k| low * (high / low).powf(k as f64 / (count - 1) as f64)).collect()
    }

    fn j(f: f64, corner: f64) -> Complex<f64> {
        Complex::new(1.0, f / corner)
    }

    /// T(jf) = 10⁴·(1+jf/fz)/[(1+jf/159.1549431)(1+jf/1000)(1+jf/500000)]: the P-type regulator of
    /// Texas Instruments AN-1148 (C. Simpson), 10 µF and 100 Ω, load pole 159 Hz at 50 mA, internal
    /// pole 1 kHz, pass-gate pole 500 kHz. The pole list was looked up on a secondary page, 80 dB of
    /// gain and the ESR cases are from memory; crossovers and margins are closed arithmetic.
    fn ldo(f: f64, zero_hz: Option<f64>) -> Complex<f64> {
        let zero = zero_hz.map_or(Complex::new(1.0, 0.0), |z| j(f, z));
        zero * 1e4 / (j(f, 159.1549431) * j(f, 1e3) * j(f, 5e5))
    }

    #[test]
    fn published_esr_window_of_a_p_type_regulator() {
        let cases = [
            (None, 39_824.769943, -2.88659917903),
            (Some(318_309.886184), 39_980.4741663, 4.2481758851),
            (Some(159_154.943092), 40_451.0837926, 11.2767248664),
            (Some(15_915.4943092), 99_329.2241089, 70.3294975573),
            (Some(795.774715459), 939_564.791904, 28.0423384322),
        ];
        for (zero_hz, crossover_hz, margin_deg) in cases {
            let found = margins(&mut |f| Some(ldo(f, zero_hz)), &grid(1.0, 1e8, 201));
            let at = found.crossover().unwrap_or(Crossover {
                hz: 0.0,
                phase_margin_deg: 0.0,
                falling: false,
            });
            // The figures are given to 9 to 12 digits.
            assert!((at.hz / crossover_hz - 1.0).abs() < 1e-10, "{at:?}");
            assert!((at.phase_margin_deg - margin_deg).abs() < 2e-8, "{at:?}");
            assert!((found.low_db.unwrap_or(0.0) - 80.0).abs() < 1e-3);
        }
    }

    /// PM = atan(2ζ/√(√(1+4ζ⁴)−2ζ²)), worked out to 40 digits.
    #[test]
    fn exact_phase_margin_of_a_second_order_loop() {
        let table =
            [(0.05, 5.724792592), (0.2, 22.60228412), (0.5, 51.82729237), (0.9, 73.51372216)];
        for (damping, margin_deg) in table {
            let back = second_order_damping(margin_deg).unwrap_or(0.0);
            assert!((back - damping).abs() < 1e-9, "{back}");
            // ω0 = 2π: T = ω0²/(s(s + 2ζω0)).
            let loop_gain = |f: f64| {
                let s = Complex::new(0.0, f);
                Some((s * (s + 2.0 * damping)).inv())
            };
            let found = margins(&mut { loop_gain }, &grid(1e-3, 1e3, 61));
            let at = found.crossover().map_or(0.0, |c| c.phase_margin_deg);
            assert!((at - margin_deg).abs() < 1e-7, "{at}");
            assert_eq!(found.gain_margin(), None);
        }
    }

    /// Three equal poles: the phase is -180° at f = √3, where |T| = K/8.
    #[test]
    fn exact_gain_margin_of_three_equal_poles() {
        for (k, expected_db) in [(4.0, decibel(2.0)), (16.0, -decibel(2.0))] {
            let mut gain = |f: f64| Some(j(f, 1.0).powi(3).inv() * k);
            let found = margins(&mut gain, &grid(1e-3, 1e3, 61));
            let at = found.gain_margin().map_or((0.0, 0.0), |g| (g.hz, g.margin_db));
            assert!(
                (at.0 - 3f64.sqrt()).abs() < 1e-9 && (at.1 - expected_db).abs() < 1e-9,
                "{at:?}"
            );
        }
    }

    /// T = K/(1+jf): |1+T| has no minimum but its limit 1; T = -0.5 + jx passes -1 at 0.5.
    #[test]
    fn exact_distance_from_minus_one() {
        let found = margins(&mut |f| Some(Complex::new(-0.5, f - 2.0)), &grid(0.1, 30.0, 20));
        let (distance, hz) = found.distance.unwrap_or((0.0, 0.0));
        assert!((distance - 0.5).abs() < 1e-12 && (hz - 2.0).abs() < 1e-5, "{distance} at {hz}");
    }

    #[test]
    fn a_gain_below_one_has_no_crossover() {
        let found = margins(&mut |f| Some(j(f, 10.0).inv() * 0.5), &grid(1.0, 1e4, 41));
        assert_eq!(found.crossover(), None);
        assert!(found.crossovers.is_empty() && found.phase_crossings.is_empty());
    }

    #[test]
    fn every_crossover_is_found() {
        // Three crossings: up and down again around a peak at 1 kHz.
        let peak = |f: f64| {
            let s = Complex::new(0.0, f / 1e3);
            (s * s + s * 0.05 + 1.0).inv()
        };
        let mut gain = |f: f64| Some(j(f, 1.0).inv() * 200.0 * peak(f));
        let found = margins(&mut gain, &grid(1.0, 1e5, 126));
        let ways: Vec<bool> = found.crossovers.iter().map(|c| c.falling).collect();
        assert_eq!(
            ways,
            [true, true][..1].iter().chain(&[false, true]).copied().collect::<Vec<_>>()
        );
    }
}
