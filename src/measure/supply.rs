//! What feeds the rail and what it costs: headroom, input, powers, currents, efficiency.

use super::bench::{Bench, Finding, Options};
use super::scene::signal;
use crate::waveform::{Extreme, Side, Signal, Window};

type Found = Result<Finding, String>;

/// v(input) − v(output), the other way round where both are negative.
fn difference(bench: &Bench) -> Result<Signal, String> {
    let (input, output) = (bench.scene.signal(signal::INPUT)?, bench.output()?);
    let [upper, lower] = if bench.sense() > 0.0 { [input, output] } else { [output, input] };
    Ok(upper.plus(-1.0, lower, "headroom"))
}

fn extreme_of(bench: &Bench, signal: &Signal, which: Extreme) -> Found {
    let found = bench.extreme(signal, bench.scene.record()?, which)?;
    Ok(Finding::at(found.value, found.time_s))
}

pub(super) fn headroom_minimum(bench: &Bench, _: Options) -> Found {
    extreme_of(bench, &difference(bench)?, Extreme::Lowest)
}

pub(super) fn headroom(bench: &Bench, _: Options) -> Found {
    Ok(Finding::plain(bench.mean(&difference(bench)?, bench.scene.record()?)?))
}

pub(super) fn input_minimum(bench: &Bench, _: Options) -> Found {
    extreme_of(bench, bench.scene.signal(signal::INPUT)?, Extreme::Lowest)
}

pub(super) fn input_maximum(bench: &Bench, _: Options) -> Found {
    extreme_of(bench, bench.scene.signal(signal::INPUT)?, Extreme::Highest)
}

pub(super) fn pass_power_peak(bench: &Bench, _: Options) -> Found {
    extreme_of(bench, bench.scene.signal(signal::PASS_POWER)?, Extreme::Highest)
}

/// The end of the loaded dwell, where means are taken; a mean of an oscillation depends on where the
/// window falls, and is refused in the words of the oscillation.
pub(super) fn steady_tail(bench: &Bench) -> Result<Window, String> {
    bench.any_oscillation()?.map_or_else(|| bench.scene.loaded_tail(), Err)
}

pub(super) fn pass_power_mean(bench: &Bench, _: Options) -> Found {
    let tail = steady_tail(bench)?;
    Ok(Finding::plain(bench.mean(bench.scene.signal(signal::PASS_POWER)?, tail)?))
}

pub(super) fn source_current_peak(bench: &Bench, _: Options) -> Found {
    let current = bench.scene.signal(signal::SOURCE_CURRENT)?;
    let peak = bench.peak_current(current, bench.scene.record()?)?;
    Ok(Finding::at(peak.value, peak.time_s))
}

pub(super) fn efficiency(bench: &Bench, _: Options) -> Found {
    let tail = steady_tail(bench)?;
    let taken = bench.mean(bench.scene.signal(signal::LOAD_POWER)?, tail)?;
    let given = bench.mean(bench.scene.signal(signal::SOURCE_POWER)?, tail)?;
    if given <= 0.0 {
        return Err("the source delivers no power".into());
    }
    Ok(Finding::plain(taken / given))
}

pub(super) fn ground_current(bench: &Bench, _: Options) -> Found {
    let tail = steady_tail(bench)?;
    let mean = |name| bench.mean_current(bench.scene.signal(name)?, tail);
    let has_supplies = bench.scene.rail.has_supplies;
    let supplies = if has_supplies { mean(signal::SUPPLY_CURRENT)? } else { 0.0 };
    Ok(Finding::plain(mean(signal::SOURCE_CURRENT)? + supplies - mean(signal::LOAD_CURRENT)?))
}

/// Volts by which the output of two solutions of one test differ at an instant.
pub(super) fn output_difference(a: &Bench, b: &Bench, time_s: f64) -> Option<f64> {
    let at = |bench: &Bench| bench.waveform().at(bench.output().ok()?, time_s, Side::Before);
    Some((at(a)? - at(b)?).abs())
}
