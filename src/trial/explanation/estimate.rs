//! What a droop comes to by hand, from the circuit at rest before and behind the edge.
//!
//! Traditional: droop = ESR·ΔI + ESL·ΔI/t_edge + ΔI·t/C, t = 1/(2π·f_c) the time that the loop
//! takes, f_c its crossover at the load before the edge (common practice, no source). Drive plateau:
//! the control of the pass device has to move by ΔV, and only an output error can move it, so that the
//! droop is ΔV/K whatever the capacitance, K the gain from the output to the control at the
//! crossover of the loaded loop.

use super::Story;
use super::split::ends;
use crate::analysis::as_held;
use crate::analysis::small_signal::{Phasor, SmallSignal, Wire, s_of};
use crate::device::{CapacitorFigures, GROUND, capacitor_figures};
use crate::measure::scene::signal;
use crate::system::{Pieces, Quantity, System};
use crate::waveform::Side;
use std::f64::consts::{PI, TAU};

/// Crossovers are looked for from here down, in Hz: above every loop of this kind,
const HIGHEST_HZ: f64 = 1e9;
/// to here.
const LOWEST_HZ: f64 = 1.0;
/// Frequencies a decade. Between two of them a gain of 40 dB a decade falls to 40 %; only a
/// resonance narrower than a third of its frequency can be stepped over.
const PER_DECADE: f64 = 5.0;
/// Halvings of such an interval: a crossover good to 1e-5 of itself, more than any hand estimate.
const HALVINGS: usize = 16;
/// A control's current is told apart by a change of the unknowns this small against 1 V and 1 A: far
/// above rounding, far below the curvature of a stage.
const NUDGE: f64 = 1e-6;

/// The droop as reckoned by hand, all in the sense of a droop: positive downwards.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DroopEstimate {
    /// V, as simulated.
    pub droop_v: f64,
    /// A, by which the load rises.
    pub step_a: f64,
    /// s, duration of the edge.
    pub edge_s: f64,
    /// F, of the output capacitors together.
    pub farad: f64,
    /// V, ESR·ΔI.
    pub esr_v: f64,
    /// V, ESL·ΔI over the duration of the edge, there as long as the edge lasts; `None` for a jump.
    pub esl_v: Option<f64>,
    /// Hz, highest crossover of the loop gain at the load before the edge, if there is one.
    pub crossover_before_hz: Option<f64>,
    /// Hz, the same at the load behind it.
    pub crossover_loaded_hz: Option<f64>,
    /// The drive plateau, if the amplifier has one.
    pub plateau: Option<DrivePlateau>,
    /// V, by which the output stays lower, if it settles.
    pub static_v: Option<f64>,
}

/// How far the control of the pass device has to move, and what output error that takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrivePlateau {
    /// Change of the amplifier's output from before the edge to where it carries the load, in `unit`.
    pub change: f64,
    /// V for a voltage stage, A for a current stage.
    pub unit: &'static str,
    /// Gain K from the output to the control, in `unit` a volt.
    pub gain: f64,
    /// V, the quotient.
    pub volt: f64,
}

impl DroopEstimate {
    /// s, how long the loop takes: 1/(2π·f_c).
    pub fn loop_time_s(&self) -> Option<f64> {
        self.crossover_before_hz.map(|f| 1.0 / (TAU * f))
    }

    /// V, ΔI·t/C.
    pub fn charge_v(&self) -> Option<f64> {
        self.loop_time_s().map(|t| self.step_a * t / self.farad)
    }

    /// V, the traditional estimate.
    pub fn traditional_v(&self) -> Option<f64> {
        self.with(self.charge_v()?)
    }

    /// V, with the drive plateau where that is less than the charge, and with the static part.
    pub fn combined_v(&self) -> Option<f64> {
        let charge_v = self.charge_v()?;
        let dynamic_v = self.plateau.map_or(charge_v, |p| charge_v.min(p.volt));
        self.with(dynamic_v + self.static_v.unwrap_or(0.0))
    }

    /// ESR and ESL beside what else there is: when the loop answers, or at the end of an edge that
    /// is over by then, whichever is lower.
    fn with(&self, dynamic_v: f64) -> Option<f64> {
        let lasts = self.edge_s >= self.loop_time_s()?;
        let esl_v = self.esl_v.unwrap_or(0.0);
        let answered = self.esr_v + if lasts { esl_v } else { 0.0 } + dynamic_v;
        let mean_charge_v = 0.5 * self.step_a * self.edge_s / self.farad;
        let edge_over = self.esr_v + esl_v + mean_charge_v;
        Some(if lasts { answered } else { answered.max(edge_over) })
    }
}

/// The estimate for the edge of a story; `None` without a wire to open the loop at or without a
/// capacitor at the output.
pub(super) fn estimate(story: &Story<'_>) -> Option<DroopEstimate> {
    let feedback = story.rail.feedback.as_deref()?;
    let step_a = step(story)?;
    let edge_s = story.edge.end_s - story.edge.start_s;
    let members = bank(story);
    // The first plate may be either end: the capacitance is even in the voltage.
    let bias_v = story.level_v;
    let farad: f64 = members.iter().map(|m| m.farad_at(bias_v)).sum();
    (farad > 0.0 && step_a > 0.0).then_some(())?;

    let drives = &story.outcome.excitation.drives;
    let (net, wire) = story.variant.net_with_break(drives, feedback)?;
    let system = System::build(&net);
    let probe = Probe { story, system: &system, wire: wire.into() };
    let before = probe.rest(story.start_of_dwell(), story.edge.start_s, None)?;
    let crossover_before_hz = probe.crossover(&before);
    let loaded = probe.rest(story.edge.end_s, story.dwell_end_s, Some(&before));
    let crossover_loaded_hz = loaded.as_ref().and_then(|z| probe.crossover(z));

    // A loop that is held at a limit behind the edge has no gain of its own there.
    let at = match (&loaded, crossover_loaded_hz) {
        (Some(loaded), Some(hz)) => Some((loaded, hz)),
        _ => crossover_before_hz.map(|hz| (&before, hz)),
    };
    let plateau = at.and_then(|(z, hz)| probe.plateau(z, hz));
    let esr_ohm = crossover_before_hz.map_or(0.0, |hz| bank_impedance(&members, bias_v, hz).re);
    let esl_v = (edge_s > 0.0).then(|| {
        let hz = 1.0 / (PI * edge_s);
        let alone: Vec<_> =
            members.iter().map(|m| CapacitorFigures { ladder: None, ..m.clone() }).collect();
        let left_ohm = bank_impedance(&alone, bias_v, hz).im + 1.0 / (TAU * hz * farad);
        left_ohm.max(0.0) / (TAU * hz) * step_a / edge_s
    });
    Some(DroopEstimate {
        droop_v: story.droop_v,
        step_a,
        edge_s,
        farad,
        esr_v: esr_ohm * step_a,
        esl_v,
        crossover_before_hz,
        crossover_loaded_hz,
        plateau,
        static_v: story.settled_v.map(|settled| story.level_v - settled),
    })
}

/// A by which the load current rises over the edge.
fn step(story: &Story<'_>) -> Option<f64> {
    let ends = [(story.edge.start_s, Side::Before), (story.edge.end_s, Side::After)];
    let [from, to] = ends.map(|(t, side)| story.signal_at(signal::LOAD_CURRENT, t, side));
    Some(to? - from?)
}

fn bank(story: &Story<'_>) -> Vec<CapacitorFigures> {
    let parts = story.rail.output_capacitors.iter().filter_map(|name| story.variant.part(name));
    parts.map(|part| capacitor_figures(&part.parameters)).collect()
}

/// Ω of all capacitors side by side, with `bias_v` across them; their leakage left out.
fn bank_impedance(members: &[CapacitorFigures], bias_v: f64, frequency_hz: f64) -> Phasor {
    let admittance = |m: &CapacitorFigures| {
        let [re, im] =
            CapacitorFigures { leakage_ohm: None, ..m.clone() }.impedance_ohm(frequency_hz, bias_v);
        Phasor::new(re, im).inv()
    };
    members.iter().map(admittance).sum::<Phasor>().inv()
}

/// The circuit with its loop ready to be probed.
struct Probe<'a, 'b> {
    story: &'a Story<'b>,
    system: &'a System,
    wire: Wire,
}

impl Probe<'_, '_> {
    /// At rest with drives as in the middle of a dwell.
    fn rest(&self, from_s: f64, to_s: f64, guess: Option<&[f64]>) -> Option<Vec<f64>> {
        (to_s > from_s).then_some(())?;
        let middle_s = 0.5 * (from_s + to_s);
        let mut pieces = self.system.pieces(middle_s);
        // States stand as they did then; the record numbers its drives alike.
        let record = self.story.record;
        if let Some(k) = record.stretch_around(middle_s) {
            let then = record.pieces_after(k).list();
            for drive in self.system.trips.iter().map(|placed| placed.drive) {
                if let Some(piece) = then.get(drive) {
                    pieces.put(drive, *piece);
                }
            }
        }
        as_held(self.system, &pieces, middle_s, guess).ok().map(|rest| rest.z)
    }

    /// Hz, the highest frequency at which the loop gain falls through 1.
    fn crossover(&self, z: &[f64]) -> Option<f64> {
        let mut signals = SmallSignal::new(self.system, z);
        let mut above = |hz: f64| {
            let point = signals.loop_gain(self.wire, hz).ok()?;
            Some(point.gain.norm() >= 1.0)
        };
        let steps = ((HIGHEST_HZ / LOWEST_HZ).log10() * PER_DECADE).ceil() as i32;
        let grid = |k: i32| HIGHEST_HZ * 10.0_f64.powf(-f64::from(k) / PER_DECADE);
        if above(grid(0))? {
            return None;
        }
        for k in 1..=steps {
            if above(grid(k))? {
                let (mut low, mut high) = (grid(k), grid(k - 1));
                for _ in 0..HALVINGS {
                    let middle = (low * high).sqrt();
                    if above(middle)? { low = middle } else { high = middle }
                }
                return Some((low * high).sqrt());
            }
        }
        None
    }

    fn plateau(&self, z: &[f64], frequency_hz: f64) -> Option<DrivePlateau> {
        let control = self.control()?;
        let output = self.unknown(self.story.rail.output.as_deref()?)?;
        let ground = self.unknown(&self.story.rail.ground)?;
        let mut signals = SmallSignal::new(self.system, z);
        signals.set(s_of(frequency_hz)).ok()?;
        let x = signals.respond_to_current(ground, output).ok()?;
        let gain = control.slope(self.system, z, &x).norm() / (x[output] - x[ground]).norm();

        let change = self.change_of(&control)?;
        let volt = change.abs() / gain;
        volt.is_finite().then_some(DrivePlateau { change, unit: control.unit(), gain, volt })
    }

    /// From before the edge to the worst instant, where the control carries the new load. One that is
    /// lowest while the load still rises has farther to go: to where it ends.
    fn change_of(&self, control: &Control) -> Option<f64> {
        let Story { system, record, .. } = self.story;
        let (ahead, worst) = ends(self.story)?;
        let value = |x: &[f64], t: f64| control.value(system, &extended(system, x, t));
        let before = value(&ahead, self.story.edge.start_s);
        if self.story.lowest_s > self.story.edge.end_s {
            return Some(value(&worst, self.story.lowest_s) - before);
        }
        let reached = record.times_s().partition_point(|t| *t <= self.story.dwell_end_s);
        let last = record.point(reached.checked_sub(1)?);
        Some(value(last.x, last.t) - before)
    }

    fn unknown(&self, node: &str) -> Option<usize> {
        if node == "gnd" {
            return Some(GROUND);
        }
        self.system.unknowns.iter().position(|u| u.name == node)
    }

    /// The output of the amplifier whose input the loop is opened at, else of the first one.
    fn control(&self) -> Option<Control> {
        let rail = self.story.rail;
        let fed = rail.feedback.as_deref()?.rsplit_once('.')?.0;
        let named = rail.amplifier.iter().find(|name| *name == fed);
        let name = named.or(rail.amplifier.first())?;
        let part = self.system.parts.iter().position(|p| p.name == *name)?;
        let terminal =
            |wanted: &str| self.system.parts[part].terminals.iter().position(|t| *t == wanted);
        let (output, ground) = (terminal("output")?, terminal("ground")?);
        let is_current = self.story.variant.part(name)?.parameters.word("stage") == "current";
        Some(if is_current {
            Control::Current { part, terminal: output }
        } else {
            Control::Voltage { part, between: [output, ground] }
        })
    }
}

/// An extended vector around unknowns of the record.
fn extended(system: &System, x: &[f64], t: f64) -> Vec<f64> {
    let mut z = vec![0.0; system.extent()];
    z[..x.len()].copy_from_slice(x);
    let pieces: Pieces = system.pieces(t);
    system.set_time(&pieces, t, &mut z);
    z
}

/// What the pass device is driven with: parts and terminals, which are numbered alike with and
/// without a wire to probe.
enum Control {
    Voltage { part: usize, between: [usize; 2] },
    Current { part: usize, terminal: usize },
}

impl Control {
    fn unit(&self) -> &'static str {
        match self {
            Self::Voltage { .. } => "V",
            Self::Current { .. } => "A",
        }
    }

    fn value(&self, system: &System, z: &[f64]) -> f64 {
        match *self {
            Self::Voltage { part, between } => {
                let [a, b] = between.map(|terminal| z[system.parts[part].pins[terminal]]);
                a - b
            }
            Self::Current { part, terminal } => {
                let seen = system.observe(z, &vec![0.0; z.len()]);
                system.read(&seen, Quantity::Current(part, terminal))
            }
        }
    }

    /// How it follows small changes `x` of the unknowns around `z`.
    fn slope(&self, system: &System, z: &[f64], x: &[Phasor]) -> Phasor {
        let largest = x.iter().map(|v| v.norm()).fold(f64::MIN_POSITIVE, f64::max);
        let scale = NUDGE / largest;
        let along = |part: fn(&Phasor) -> f64| {
            let moved = |sign: f64| {
                let mut z = z.to_vec();
                z.iter_mut().zip(x).for_each(|(z, x)| *z += sign * scale * part(x));
                self.value(system, &z)
            };
            (moved(1.0) - moved(-1.0)) / (2.0 * scale)
        };
        Phasor::new(along(|x| x.re), along(|x| x.im))
    }
}

#[cfg(test)]
mod tests {
    use super::{DroopEstimate, bank_impedance};
    use crate::device::{CapacitorFigures, OverBias};
    use std::f64::consts::TAU;

    /// ΔI 0.5 A in 100 ns, ESR 20 mΩ, ESL 1 nH, C 10 µF, a loop delay of 1 µs: 10 mV and 5 mV and
    /// 50 mV/µs, with the delay ΔI·ESR + ΔI·t/C = 60 mV (common practice, no source).
    fn example() -> DroopEstimate {
        DroopEstimate {
            step_a: 0.5,
            edge_s: 100e-9,
            farad: 10e-6,
            esr_v: 0.5 * 20e-3,
            esl_v: Some(5e-3),
            crossover_before_hz: Some(1.0 / (TAU * 1e-6)),
            ..DroopEstimate::default()
        }
    }

    #[test]
    fn exact_traditional_estimate_of_a_loop_that_takes_a_microsecond() {
        // Products of a few factors: rounding only.
        let traditional = example().traditional_v().unwrap_or(f64::NAN);
        assert!((traditional - 60e-3).abs() < 1e-15, "{traditional}");
    }

    /// A loop of 10 ns is done long before the edge is, and the inductance still has its 5 mV; one of
    /// 140 ns leaves 7 mV of charge, less than the 5 mV and 2.5 mV at the end of the edge.
    #[test]
    fn exact_estimates_while_the_edge_lasts_and_at_its_end() {
        let of = |loop_s: f64| DroopEstimate {
            crossover_before_hz: Some(1.0 / (TAU * loop_s)),
            ..example()
        };
        let fast = of(10e-9).traditional_v().unwrap_or(f64::NAN);
        assert!((fast - (10e-3 + 5e-3 + 0.5e-3)).abs() < 1e-15, "{fast}");
        let slower = of(140e-9).traditional_v().unwrap_or(f64::NAN);
        assert!((slower - (10e-3 + 5e-3 + 2.5e-3)).abs() < 1e-15, "{slower}");
    }

    /// Two alike are one of half the impedance.
    #[test]
    fn exact_impedance_of_capacitors_side_by_side() {
        let one = CapacitorFigures {
            farad: 10e-6,
            over_bias: OverBias::Constant,
            esr_ohm: 20e-3,
            esl_henry: 1e-9,
            ladder: None,
            leakage_ohm: None,
        };
        let single = bank_impedance(std::slice::from_ref(&one), 2.8, 1e5);
        let pair = bank_impedance(&[one.clone(), one], 2.8, 1e5);
        assert!((single.re - 20e-3).abs() < 1e-15);
        assert!((pair * 2.0 - single).norm() < 1e-15);
    }
}
