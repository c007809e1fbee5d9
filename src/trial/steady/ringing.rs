//! How a small load step rings, in frequency and in time: both must tell the same.

use super::Fineness;
use super::place::Place;
use crate::analysis::small_signal::{Natural, SmallSignal};
use crate::analysis::{
    DEFAULT_WORK_LIMIT, Failure, Method, Start, Transient, TransientOptions, operating_point,
};
use crate::device::Drive;
use crate::measure::decay::exponentials;
use crate::system::System;
use nalgebra::Complex;
use std::f64::consts::TAU;

/// A pair above this damping does not show as ringing.
const MOST_DAMPING: f64 = 0.95;
/// A pair within this factor of the crossover is the loop's.
const NEAR: f64 = 50.0;
/// A pair whose swing is below this share of the largest is not seen on the output.
const SEEN: f64 = 0.1;
/// A term of the record that is smaller than this share of the largest is what noise leaves.
const SHOWN: f64 = 1e-3;
/// The step is this share of the load, or less: small enough that nothing bends. A hundredth is not: near
/// an amplifier's limit a light load's ringing takes its drive to and fro by as much as there is.
const STEP_SHARE: f64 = 0.002;
/// Nor should the output swing by more than this, in V.
const MOST_SWING_V: f64 = 0.5e-3;
/// Node tolerance as a share of the swing.
const TOLERANCE_SHARE: f64 = 1e-6;
/// Below this, in V, the rounding of node voltages is all that is resolved: at a tenth of it the damping
/// that is read off gets worse again.
const LEAST_TOLERANCE_V: f64 = 1e-11;
/// Periods watched after the edge, and samples taken of them.
const PERIODS: f64 = 4.0;
const SAMPLES: usize = 240;
/// Edge, and what is left out behind it, in periods: what dies away within it is not the loop's.
const EDGE: f64 = 0.02;
const SKIPPED: f64 = 0.1;
/// Singular values below so many times the record's tolerance are noise.
const NOISE_TOLERANCES: f64 = 3.0;

/// The closed loop's least damped pair that a load step shows near the crossover.
pub(super) fn of_the_loop<'n>(
    place: &Place<'_>,
    poles: &'n [Natural],
    crossover_hz: f64,
) -> Option<&'n Natural> {
    let near = poles.iter().filter(|p| {
        let hz = p.frequency_hz();
        hz > crossover_hz / NEAR && hz < crossover_hz * NEAR
    });
    // The swing that a step of 1 A leaves on the output: residue over s.
    let swing = |p: &Natural| {
        let out = p.right[place.output] - p.right[place.ground];
        let into = p.left[place.output] - p.left[place.ground];
        (out * into / p.s).norm()
    };
    let seen: Vec<(&Natural, f64)> = near.map(|p| (p, swing(p))).collect();
    let largest = seen.iter().map(|(_, swing)| *swing).fold(0.0, f64::max);
    let rings = |p: &&(&Natural, f64)| {
        p.0.s.im > 0.0 && p.0.damping() < MOST_DAMPING && p.1 >= SEEN * largest
    };
    let least =
        |a: &&(&Natural, f64), b: &&(&Natural, f64)| a.0.damping().total_cmp(&b.0.damping());
    seen.iter().filter(rings).min_by(least).map(|(p, _)| *p)
}

/// s in rad/s of that pair as the output shows it after a small load step; `Err` says why it
/// cannot be shown.
pub(super) fn in_time(
    place: &mut Place<'_>,
    small: &mut SmallSignal<'_>,
    pair: &Natural,
) -> Result<Complex<f64>, String> {
    let load = place.load.ok_or("no load is named that could be stepped")?;
    let level = place.rest.level(load.drive);
    let frequency_hz = pair.s.im / TAU;
    let per_unit = small
        .set(Complex::new(0.0, pair.s.im))
        .and_then(|()| small.respond_to_drive(load.drive))
        .map_err(|_| "the response to the load could not be solved".to_owned())?;
    let per_unit = (per_unit[place.output] - per_unit[place.ground]).norm();
    let step = (STEP_SHARE * level.abs()).min(MOST_SWING_V / per_unit);
    if !(step > 0.0 && step.is_finite()) {
        return Err("there is no load to step".to_owned());
    }
    let period_s = 1.0 / frequency_hz;
    let edge_s = EDGE * period_s;
    let mut tolerance_v = (TOLERANCE_SHARE * step * per_unit).max(LEAST_TOLERANCE_V);
    if place.fineness == Fineness::Doubled {
        tolerance_v = (0.1 * tolerance_v).max(LEAST_TOLERANCE_V);
    }
    let end_s = edge_s + (SKIPPED + PERIODS) * period_s;
    let points = vec![(0.0, level), (edge_s, level + step)];
    let samples = record(place, points, tolerance_v, (edge_s + SKIPPED * period_s, end_s))
        .map_err(|failure| failure.message)?;
    let spacing_s = PERIODS * period_s / (SAMPLES - 1) as f64;
    let noise_share = NOISE_TOLERANCES * tolerance_v / (step * per_unit);
    let found = exponentials(&samples, spacing_s, noise_share);
    let largest = found.iter().map(|term| term.size).fold(0.0, f64::max);
    let nearest = found
        .into_iter()
        .filter(|term| term.s.im > 0.0 && term.size >= SHOWN * largest)
        .map(|term| term.s)
        .min_by(|a, b| (a - pair.s).norm().total_cmp(&(b - pair.s).norm()));
    nearest.ok_or_else(|| "the output shows no ringing after a small load step".to_owned())
}

/// The output's departure from its rest in V, evenly sampled.
fn record(
    place: &Place<'_>,
    points: Vec<(f64, f64)>,
    node_tolerance_v: f64,
    (from_s, to_s): (f64, f64),
) -> Result<Vec<f64>, Failure> {
    let room = place.room;
    let mut drives = room.excitation.drives.clone();
    for (moved, name) in [(place.source, &room.source), (place.load, &room.load)] {
        if let (Some(moved), Some(name)) = (moved, name) {
            drives.push((name.clone(), Drive::constant(place.rest.level(moved.drive))));
        }
    }
    if let Some(name) = &room.load {
        drives.push((name.clone(), Drive::points(points)));
    }
    let system = System::build(&room.variant.net(&drives));
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None)?;
    let options = TransientOptions {
        method: Method::default(),
        node_tolerance_v,
        start: Start::OperatingPoint,
        work_limit: DEFAULT_WORK_LIMIT,
    };
    let mut transient = Transient::new(&system, options);
    transient.run(&rest, to_s)?;
    let find = |unknown: usize| {
        let name = &place.system.unknowns[unknown].name;
        system.unknowns.iter().position(|u| u.name == *name).unwrap_or(0)
    };
    let (output, ground) = (find(place.output), find(place.ground));
    let at_rest = rest.z[output] - rest.z[ground];
    let record = &transient.record;
    let at = |k: usize| {
        let t = from_s + (to_s - from_s) * k as f64 / (SAMPLES - 1) as f64;
        record.value_at(t, output) - record.value_at(t, ground) - at_rest
    };
    Ok((0..SAMPLES).map(at).collect())
}
