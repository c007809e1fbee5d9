//! The heat paths of a test: what flows in, and how hot each junction gets.

use super::run::Outcome;
use crate::curve::{Cell, Listing};
use crate::device::HeatPath;
use crate::measure::scene::signal;
use crate::quantity::celsius;
use crate::system::System;
use crate::waveform::{Extreme, Waveform};

/// As in the JSON; cautions read it too.
pub const NAME: &str = "heat";
/// The columns that cautions read.
pub const PEAK: usize = 5;
/// See [`PEAK`].
pub const RATED: usize = 7;

const COLUMNS: &[(&str, &str)] = &[
    ("path", ""),
    ("parts", ""),
    ("power", "W"),
    ("thermal_resistance", "K/W"),
    ("junction_before", "°C"),
    ("junction_peak", "°C"),
    ("junction_steady", "°C"),
    ("rated", "°C"),
];

/// Share of the record, at its end, over which power is averaged.
const TAIL: f64 = 0.1;

/// Adds the listing `heat`; `rest` is where the test starts.
pub(super) fn tell(system: &System, rest: &[f64], outcome: &mut Outcome) {
    if system.heat_paths.is_empty() {
        return;
    }
    let title = "heat: mean power over the last 10 % of the record, thermal resistance to ambient, \
                 and the junction at rest before anything moves, at its peak, and where that mean \
                 power would settle";
    let mut listing = Listing::new(NAME, title, COLUMNS);
    let waveform = &outcome.waveform;
    let name = |path: &HeatPath| system.parts[path.part].name.clone();
    let powers: Vec<f64> = system
        .heat_paths
        .iter()
        .map(|path| mean(waveform, &signal::heat(&name(path))).unwrap_or(0.0))
        .collect();
    for (k, path) in system.heat_paths.iter().enumerate() {
        let name = name(path);
        let peak = peak(waveform, &format!("{}{name}", signal::JUNCTION));
        let steady = path.held_k.unwrap_or(path.ambient_k + rise(&system.heat_paths, k, &powers));
        let before = path.ambient_k + rest[path.junction];
        listing.push([
            Cell::from(name),
            Cell::from(path.heated.join(", ")),
            Cell::from(through(&system.heat_paths, k, &powers)),
            Cell::from(path.resistance_k_per_w),
            Cell::from(celsius(before)),
            Cell::from(peak.map(celsius)),
            Cell::from(celsius(steady)),
            Cell::from(path.rated_k.map(celsius)),
        ]);
    }
    let held = system.heat_paths.iter().filter(|path| path.held_k.is_some());
    outcome.notes.extend(held.map(|path| format!("the junction of `{}` is held", name(path))));
    outcome.listings.push(listing);
}

/// W through a path: of its own parts and of all paths that end in it.
fn through(paths: &[HeatPath], k: usize, powers: &[f64]) -> f64 {
    let behind = paths.iter().enumerate().filter(|(_, path)| path.sink == Some(k));
    powers[k] + behind.map(|(j, _)| through(paths, j, powers)).sum::<f64>()
}

/// K above ambient where constant powers settle.
fn rise(paths: &[HeatPath], k: usize, powers: &[f64]) -> f64 {
    let beyond = paths[k]
        .sink
        .map_or((0.0, 0.0), |sink| (paths[sink].resistance_k_per_w, rise(paths, sink, powers)));
    (paths[k].resistance_k_per_w - beyond.0) * through(paths, k, powers) + beyond.1
}

fn mean(waveform: &Waveform, name: &str) -> Option<f64> {
    let (signal, record) = (waveform.signal(name)?, waveform.record()?);
    let tail = if record.length_s() > 0.0 { record.last(TAIL) } else { record };
    waveform.mean(signal, tail)
}

fn peak(waveform: &Waveform, name: &str) -> Option<f64> {
    let (signal, record) = (waveform.signal(name)?, waveform.record()?);
    waveform.extreme(signal, record, Extreme::Highest).map(|found| found.value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(resistance_k_per_w: f64, sink: Option<usize>) -> HeatPath {
        HeatPath {
            part: 0,
            junction: 0,
            ambient_k: 300.0,
            rated_k: None,
            resistance_k_per_w,
            heated: Vec::new(),
            sink,
            held_k: None,
            initial_rise_k: None,
        }
    }

    /// Two parts of 3 K/W and 1 K/W on a sink of 2 K/W: 2·(5 + 10) K of it, and 15 K and 10 K more.
    #[test]
    fn exact_a_common_sink_carries_what_all_parts_make() {
        let paths = [path(2.0, None), path(5.0, Some(0)), path(3.0, Some(0))];
        let powers = [0.0, 5.0, 10.0];
        assert_eq!([0, 1, 2].map(|k| rise(&paths, k, &powers)), [30.0, 45.0, 40.0]);
        assert_eq!(through(&paths, 0, &powers), 15.0);
    }
}
