//! Whether the figures that a test at rest or over frequency asks for make sense, once its values are
//! known.

use super::motion::{Frequencies, HIGHEST_HZ, LOWEST_HZ, Quest};
use super::overload;
use crate::circuit::Variant;
use crate::diagnostic::Diagnostic;
use crate::quantity::Program;
use crate::trial::require::doubtful_band;
use crate::trial::{Motion, Test};

/// A sweep may have this many, as it may have points elsewhere.
const MOST_FREQUENCIES: f64 = 100_000.0;

/// Everything wrong with the frequencies, the mask or the loads of a test.
pub(in crate::trial) fn doubtful_figures(test: &Test, variant: &Variant) -> Vec<Diagnostic> {
    let Motion::Steady(motion) = &test.motion else { return Vec::new() };
    let mut told = Vec::new();
    match &motion.quest {
        Quest::LoopGain { frequencies, .. } | Quest::RippleRejection { frequencies, .. } => {
            told.extend(doubtful_range(test, variant, frequencies));
        }
        Quest::OutputImpedance { frequencies, mask, .. } => {
            told.extend(doubtful_range(test, variant, frequencies));
            told.extend(doubtful_mask(test, variant, mask));
        }
        Quest::Noise { frequencies, band } => {
            told.extend(doubtful_range(test, variant, frequencies));
            let band = band.as_ref().map(|band| band.each_ref().map(|p| variant.evaluate(p)));
            told.extend(band.and_then(|band| doubtful_band(band, test.place("band"))));
        }
        Quest::Overload(ask) => told.extend(overload::doubtful(test, variant, ask)),
        Quest::LoadRegulation { .. } | Quest::LineRegulation { .. } | Quest::Dropout { .. } => {}
    }
    told
}

fn doubtful_range(test: &Test, variant: &Variant, asked: &Frequencies) -> Option<Diagnostic> {
    let figure = |program: &Option<Program>, otherwise: f64| {
        program.as_ref().map_or(otherwise, |p| variant.evaluate(p))
    };
    let lowest = figure(&asked.lowest, LOWEST_HZ);
    let highest = figure(&asked.highest, HIGHEST_HZ);
    let above_zero = |hz: f64| hz > 0.0 && hz.is_finite();
    if !above_zero(lowest) {
        let hint = "write `lowest = \"10 Hz\"`, or leave it out";
        let message = "`lowest` must be above zero";
        return Some(Diagnostic::error(test.place("lowest"), message).hint(hint));
    }
    if !(highest > lowest && highest.is_finite()) {
        let key = if asked.highest.is_some() { "highest" } else { "lowest" };
        let message = "`highest` must lie above `lowest`";
        let hint = "they are 10 Hz and 100 MHz where they are left out; write both, such as \
                    `lowest = \"1 kHz\"` and `highest = \"1 GHz\"`";
        return Some(Diagnostic::error(test.place(key), message).hint(hint));
    }
    if (highest / lowest).log10() * asked.per_decade as f64 > MOST_FREQUENCIES {
        let keys = ["per_decade", "highest", "lowest"];
        let given = keys.into_iter().find(|key| test.keys.iter().any(|(name, _)| name == key));
        let message = format!("the test asks for more than {MOST_FREQUENCIES} frequencies");
        let hint = "bring `lowest` and `highest` nearer together, or lower `per_decade`";
        return Some(Diagnostic::error(test.place(given.unwrap_or("kind")), message).hint(hint));
    }
    None
}

fn doubtful_mask(
    test: &Test,
    variant: &Variant,
    mask: &[(Program, Program)],
) -> Option<Diagnostic> {
    let points: Vec<[f64; 2]> =
        mask.iter().map(|(hz, ohm)| [hz, ohm].map(|p| variant.evaluate(p))).collect();
    let above_zero = |x: &f64| *x > 0.0 && x.is_finite();
    let message = if !points.iter().flatten().all(above_zero) {
        "every frequency and every impedance of `mask` must be above zero"
    } else if !points.is_sorted_by(|a, b| a[0] < b[0]) {
        "the frequencies of `mask` must rise"
    } else {
        return None;
    };
    let hint = "write its corners in order, such as \
                `mask = [[\"10 Hz\", \"50 mΩ\"], [\"100 kHz\", \"200 mΩ\"]]`";
    Some(Diagnostic::error(test.place("mask"), message).hint(hint))
}
