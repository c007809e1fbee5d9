//! Output impedance at one place: 1 A put into the output, over frequency, against a mask and
//! beside the output capacitors alone.

use super::Found;
use super::motion::Frequencies;
use super::place::Place;
use super::sweep::{Judged, Modes, Sweep, quoted, worst};
use crate::analysis::Failure;
use crate::analysis::small_signal::{Phasor, SmallSignal, s_of};
use crate::circuit::VariantPart;
use crate::curve::{Cell, Column, Curve, Listing};
use crate::device::capacitor_figures;
use crate::measure::{Absence, Extreme, Figure, Peak, Wanted};
use crate::quantity::Program;
use crate::system::TerminalSlopes;
use nalgebra::Complex;

/// Output impedance over frequency and what follows from it.
pub(super) fn look(
    place: &mut Place<'_>,
    frequencies: &Frequencies,
    mask: &[(Program, Program)],
    include_load: bool,
    wanted: &[Wanted],
) -> Result<Found, Failure> {
    if place.output == place.ground {
        return Ok(Found::missing(wanted, "the rail names no `output`"));
    }
    let mask = Mask::new(place, mask);
    let grid = place.grid(frequencies);
    let mut probe = Probe::new(place, include_load);
    let mut more = quoted(&grid, wanted);
    more.extend(mask.corners.iter().map(|(hz, _)| hz));
    let modes = Modes::of(&mut probe.signal);
    let at = modes.grid_with(&grid, &more);
    let (size, room) = (|_: f64, z: &Phasor| z.norm(), |hz: f64, z: &Phasor| mask.room(hz, *z));
    let judged: [Judged<'_, Phasor>; 2] = [(Extreme::Greatest, &size), (Extreme::Least, &room)];
    let judged = if mask.corners.is_empty() { &judged[..1] } else { &judged[..] };
    let (sweep, peaks) = Sweep::new(&at, judged, &mut |hz| probe.impedance(hz))?;
    let mut figures = Vec::with_capacity(wanted.len());
    for wanted in wanted {
        figures.push(match (wanted.name, wanted.asked.at_hz) {
            ("window", _) => place.window(),
            ("output_impedance", at_hz) => {
                let hz = at_hz.unwrap_or(grid[0]);
                Ok(Figure::at(probe.impedance(hz)?.norm(), hz))
            }
            ("output_impedance_peak", _) => told(&peaks, 0, &sweep.hz, "there is no impedance"),
            _ => told(&peaks, 1, &sweep.hz, "the test gives no `mask`"),
        });
    }
    place.factorisations += probe.factorisations;
    modes.qualify(place, wanted, &mut figures);
    let listings = vec![listing(place, &sweep, &peaks)];
    let curves = vec![curve(place, &sweep, &mask)];
    Ok(Found { figures, curves, listings, notes: Vec::new() })
}

fn told(peaks: &[Vec<Peak>], which: usize, hz: &[f64], otherwise: &str) -> Result<Figure, Absence> {
    let found = peaks.get(which).and_then(|peaks| worst(peaks, hz));
    found.ok_or_else(|| Absence::Unknown(otherwise.to_owned()))
}

/// Puts 1 A into the output and reads the voltage there.
struct Probe<'a> {
    signal: SmallSignal<'a>,
    output: usize,
    ground: usize,
    /// The load whose own current is to be left out: its ends, and what its current follows.
    load: Option<([usize; 2], TerminalSlopes)>,
    factorisations: usize,
}

impl<'a> Probe<'a> {
    fn new(place: &Place<'a>, include_load: bool) -> Self {
        let part = place.load.filter(|_| !include_load).map(|load| load.part);
        let load = part.and_then(|part| {
            let &[plus, minus] = place.system.parts[part].pins.as_slice() else { return None };
            let slopes = place.system.terminal_slopes(place.rest.z(), part, 0);
            Some(([plus, minus], slopes))
        });
        let (output, ground) = (place.output, place.ground);
        Self { signal: place.small_signal(), output, ground, load, factorisations: 0 }
    }

    /// Impedance at a frequency in Hz, Ω.
    fn impedance(&mut self, hz: f64) -> Result<Phasor, Failure> {
        let s = s_of(hz);
        self.factorisations += 1;
        let found = self.signal.set(s).and_then(|()| self.without_load(s));
        found.map_err(|singular| self.signal.failure(hz, singular))
    }

    /// A current J put in where the load takes its own out undoes it: J = i(1 A) + J·i(J), i the
    /// current that a unit at the output, or at the load, sends into the load.
    fn without_load(&mut self, s: Phasor) -> Result<Phasor, crate::numeric::Singular> {
        let (output, ground) = (self.output, self.ground);
        let across = |x: &[Phasor]| x[output] - x[ground];
        let response = self.signal.respond_to_current(ground, output)?;
        let Some(([plus, minus], slopes)) = &self.load else { return Ok(across(&response)) };
        let into_load = slopes.current(&response, s);
        if [*plus, *minus] == [output, ground] {
            return Ok(across(&response) / (Complex::new(1.0, 0.0) - into_load));
        }
        let at_load = self.signal.respond_to_current(*minus, *plus)?;
        let undoing = into_load / (Complex::new(1.0, 0.0) - slopes.current(&at_load, s));
        Ok(across(&response) + undoing * across(&at_load))
    }
}

/// What the impedance must stay below: straight between its corners in a log-log plot, level
/// outside.
struct Mask {
    /// (Hz, Ω), rising in frequency.
    corners: Vec<(f64, f64)>,
}

impl Mask {
    fn new(place: &Place<'_>, points: &[(Program, Program)]) -> Self {
        let figure = |program: &Program| place.room.variant.evaluate(program);
        let corners = points.iter().map(|(hz, ohm)| (figure(hz), figure(ohm))).collect();
        Self { corners }
    }

    /// Ω at a frequency in Hz; not-a-number where there is no mask.
    fn ohm(&self, hz: f64) -> f64 {
        let next = self.corners.partition_point(|(corner, _)| *corner < hz);
        match (next.checked_sub(1).map(|k| self.corners[k]), self.corners.get(next)) {
            (Some((f0, z0)), Some(&(f1, z1))) => {
                z0 * (z1 / z0).powf((hz / f0).ln() / (f1 / f0).ln())
            }
            (Some((_, ohm)), None) => ohm,
            (None, Some(&(_, ohm))) => ohm,
            (None, None) => f64::NAN,
        }
    }

    /// (mask − |Z|)/mask
    fn room(&self, hz: f64, z: Phasor) -> f64 {
        1.0 - z.norm() / self.ohm(hz)
    }
}

/// Capacitors that stand right across the output: those that the rail names, or all.
fn output_capacitors<'p>(place: &Place<'p>) -> Vec<&'p VariantPart> {
    let room = place.room;
    let Some(rail) = room.figures() else { return Vec::new() };
    let Some(output) = &rail.output else { return Vec::new() };
    let chosen = |part: &&VariantPart| {
        let named = &rail.output_capacitors;
        let ends: Vec<&str> = part.nodes.iter().map(String::as_str).collect();
        let across = ends == [output.as_str(), rail.ground.as_str()]
            || ends == [rail.ground.as_str(), output.as_str()];
        part.kind.name == "capacitor" && across && (named.is_empty() || named.contains(&part.name))
    };
    room.variant.parts.iter().filter(chosen).collect()
}

/// 1/Ω of a capacitor with all that is in series and its leakage, at the output's rest.
fn admittance(part: &VariantPart, hz: f64, bias_v: f64) -> Phasor {
    let [re, im] = capacitor_figures(&part.parameters).impedance_ohm(hz, bias_v);
    Phasor::new(re, im).inv()
}

fn curve(place: &Place<'_>, sweep: &Sweep<Phasor>, mask: &Mask) -> Curve {
    let mut columns = vec![
        Column::new("frequency", "Hz", sweep.hz.clone()),
        Column::new("impedance", "Ω", sweep.column(|_, z| z.norm())),
        Column::new("phase", "deg", sweep.column(|_, z| z.arg().to_degrees())),
    ];
    if !mask.corners.is_empty() {
        columns.push(Column::new("mask", "Ω", sweep.column(|hz, _| mask.ohm(hz))));
    }
    let capacitors = output_capacitors(place);
    let bias_v = place.output_v(place.rest.z());
    let alone = |part: &VariantPart, hz: f64| admittance(part, hz, bias_v);
    let bank = |hz: f64| capacitors.iter().map(|part| alone(part, hz)).sum::<Phasor>();
    for part in &capacitors {
        let ohm = sweep.column(|hz, _| 1.0 / alone(part, hz).norm());
        columns.push(Column::new(format!("{}.impedance", part.name), "Ω", ohm));
    }
    if capacitors.len() > 1 {
        let together = sweep.column(|hz, _| 1.0 / bank(hz).norm());
        columns.push(Column::new("output_capacitors.impedance", "Ω", together));
    }
    if !capacitors.is_empty() {
        let rest = sweep.column(|hz, z| 1.0 / (z.inv() - bank(hz)).norm());
        columns.push(Column::new("regulator.impedance", "Ω", rest));
    }
    Curve { condition: place.condition.clone(), held: place.held.clone(), columns }
}

fn listing(place: &Place<'_>, sweep: &Sweep<Phasor>, peaks: &[Vec<Peak>]) -> Listing {
    let mut listing = Listing::new(
        "output_impedance",
        "output impedance: at the lowest frequency, at its greatest, at its highest resonance",
        &[
            ("condition", ""),
            ("at_lowest", "Ω"),
            ("greatest", "Ω"),
            ("greatest_frequency", "Hz"),
            ("resonance", "Ω"),
            ("resonance_frequency", "Hz"),
        ],
    );
    let all = peaks.first().map_or(&[][..], Vec::as_slice);
    let greatest = all.first().map(|p| p.spot);
    let resonance = all.iter().find(|p| p.inside).map(|p| p.spot);
    listing.push([
        Cell::from(place.condition.clone()),
        Cell::from(sweep.points.first().map(|z| z.norm())),
        Cell::from(greatest.map(|s| s.value)),
        Cell::from(greatest.map(|s| s.hz)),
        Cell::from(resonance.map(|s| s.value)),
        Cell::from(resonance.map(|s| s.hz)),
    ]);
    listing
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_mask_is_straight_in_a_log_log_plot_and_level_outside() {
        // 10 mΩ up to 1 kHz, 10 Ω from 1 MHz: Ω rise as Hz between.
        let mask = Mask { corners: vec![(1e3, 10e-3), (1e6, 10.0)] };
        for (hz, ohm) in
            [(1.0, 10e-3), (1e3, 10e-3), (1e4, 0.1), (2.5e5, 2.5), (1e6, 10.0), (1e9, 10.0)]
        {
            assert!((mask.ohm(hz) / ohm - 1.0).abs() < 1e-13, "{hz}: {}", mask.ohm(hz));
        }
        assert_eq!(mask.room(1.0, Complex::new(3e-3, 4e-3)), 0.5);
        assert!(Mask { corners: Vec::new() }.ohm(1e3).is_nan());
    }
}
