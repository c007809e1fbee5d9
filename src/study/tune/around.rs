//! What surrounds a choice of an output capacitor: how far its region is looked for, and by how much
//! the choice itself scatters.

use super::search::Search;
use crate::circuit::{Change, Changes, Variant};
use crate::device::capacitor_figures;
use crate::study::runner::Runner;
use crate::study::scatter::Scatters;

/// Ω; an ESR of nothing has no logarithm.
pub(super) const LEAST_ESR_OHM: f64 = 1e-6;
/// How far from the choice is looked at least, as a ratio.
const LEAST_REACH: f64 = 10.0;
/// How far is looked from an ESR of nothing.
const REACH_FROM_NONE_OHM: f64 = 1.0;

/// The circuit with these changes, in a test with its own values.
pub(super) fn variant(
    runner: &Runner<'_>,
    base: &[Change],
    over: &[Change],
    test: Option<usize>,
) -> Option<Variant> {
    let own = test.and_then(|k| runner.ground.tests.get(k)).map(|t| t.changes.list.as_slice());
    let options = &runner.ground.options.changes.list;
    let all = options.iter().chain(base).chain(over).chain(own.unwrap_or_default());
    runner.ground.circuit.variant(&Changes { list: all.cloned().collect() }).ok()
}

/// Label and effective value of capacitance and ESR of a part.
pub(super) fn figures(variant: &Variant, part: &str) -> Option<([f64; 2], [f64; 2])> {
    let p = &variant.part(part)?.parameters;
    let figures = capacitor_figures(p);
    let bias_v = variant.rail.as_ref().and_then(|rail| rail.nominal_v).unwrap_or(0.0);
    let farad = figures.farad_at(bias_v);
    Some(([p.number("capacitance"), p.number("esr")], [farad, figures.esr_ohm]))
}

/// How far is looked: what the candidates span, and at least [`LEAST_REACH`] both ways.
pub(super) fn reach(search: &Search<'_, '_>, part: &str, values: [f64; 2]) -> [[f64; 2]; 2] {
    let mut reach = values.map(|v| [v / LEAST_REACH, v * LEAST_REACH]);
    if values[1] <= LEAST_ESR_OHM {
        reach[1] = [LEAST_ESR_OHM, REACH_FROM_NONE_OHM];
    }
    for candidate in search.candidates.iter().filter(|c| !c.places.is_empty()) {
        let found = variant(search.runner, &candidate.changes, &[], None);
        let Some((_, effective)) = found.and_then(|v| figures(&v, part)) else { continue };
        for (reach, value) in reach.iter_mut().zip(effective).filter(|(_, v)| *v > 0.0) {
            *reach = [reach[0].min(value), reach[1].max(value)];
        }
    }
    reach
}

/// Shares below and above by which capacitance and ESR of a part scatter.
pub(super) fn tolerance(
    search: &Search<'_, '_>,
    base: &[Change],
    part: &str,
    label: [f64; 2],
) -> [[f64; 2]; 2] {
    let options = search.runner.ground.options.changes.list.iter();
    let list = options.chain(base).cloned().collect();
    let scatters = Scatters::of(search.runner.ground.circuit, &Changes { list });
    let mut found = [[0.0; 2]; 2];
    if search.nominal_only {
        return found;
    }
    for k in 0..scatters.list.len() {
        for (side, position) in [-1.0, 1.0].into_iter().enumerate() {
            let mut at = vec![0.0; scatters.list.len()];
            at[k] = position;
            let turned = variant(search.runner, base, &scatters.changes(&at), None);
            let Some((turned, _)) = turned.and_then(|v| figures(&v, part)) else { continue };
            for (q, share) in found.iter_mut().enumerate() {
                let by = turned[q] / label[q] - 1.0;
                if by.is_finite() && (by < 0.0) == (side == 0) {
                    share[side] = f64::max(share[side], by.abs());
                }
            }
        }
    }
    found
}
