//! The measurements of tests at rest and over frequency, each the worst of all their conditions.

use super::definition::{Appears, Definition, NO_OPTION, RequirementOption, figure};
use super::figures::Worse;
use super::scene::TestKind;

const LOAD_REGULATION: &[TestKind] = &[TestKind::LoadRegulation];
const LINE_REGULATION: &[TestKind] = &[TestKind::LineRegulation];
const DROPOUT: &[TestKind] = &[TestKind::Dropout];
const LOOP_GAIN: &[TestKind] = &[TestKind::LoopGain];
const OUTPUT_IMPEDANCE: &[TestKind] = &[TestKind::OutputImpedance];
const RIPPLE_REJECTION: &[TestKind] = &[TestKind::RippleRejection];
const NOISE: &[TestKind] = &[TestKind::Noise];

const AT: &[RequirementOption] = &[RequirementOption::At];
const BAND: &[RequirementOption] = &[RequirementOption::FrequencyBand];
const DEFINITION: &[RequirementOption] = &[RequirementOption::Definition];

pub(super) const STEADY_ROWS: &[Definition] = &[
    figure(
        ("load_regulation", "V"),
        LOAD_REGULATION,
        NO_OPTION,
        Worse::Higher,
        "output at the load `from` minus output at the load `to`, both settled, at constant \
         temperature and (unless `hold` says otherwise) at the same voltage of the input pin; \
         positive when the output falls with load",
    ),
    figure(
        ("load_regulation_share", "1"),
        LOAD_REGULATION,
        NO_OPTION,
        Worse::Higher,
        "load_regulation over the nominal voltage",
    ),
    figure(
        ("load_regulation_slope", "Ω"),
        LOAD_REGULATION,
        NO_OPTION,
        Worse::Higher,
        "load_regulation over the change of the load's current",
    ),
    Definition {
        appears: Appears::WithHeat,
        ..figure(
            ("load_regulation_settled", "V"),
            LOAD_REGULATION,
            NO_OPTION,
            Worse::Higher,
            "load_regulation with heat settled at either load; load_regulation itself holds every \
             junction at its temperature at the load `from`, as a short pulse would",
        )
    },
    figure(
        ("line_regulation", "V"),
        LINE_REGULATION,
        NO_OPTION,
        Worse::Higher,
        "highest minus lowest output while the source goes from `from` to `to`, each level settled, \
         at constant temperature",
    ),
    figure(
        ("line_regulation_share", "1"),
        LINE_REGULATION,
        NO_OPTION,
        Worse::Higher,
        "line_regulation over the nominal voltage",
    ),
    figure(
        ("line_regulation_slope", "1/V"),
        LINE_REGULATION,
        NO_OPTION,
        Worse::Higher,
        "line_regulation over the nominal voltage and the change of the voltage at the input pin",
    ),
    Definition {
        appears: Appears::WithHeat,
        ..figure(
            ("line_regulation_settled", "V"),
            LINE_REGULATION,
            NO_OPTION,
            Worse::Higher,
            "line_regulation with heat settled at each level; line_regulation itself holds every \
             junction at its temperature at the source level `from`, as a short pulse would",
        )
    },
    figure(
        ("dropout", "V"),
        DROPOUT,
        DEFINITION,
        Worse::Higher,
        "voltage between input pin and output, by the definition named: where the falling input has \
         taken the output so far below its value at nominal + reference_headroom (1 V) at the \
         pin, or with the pass device fully on and the pin at 95 % of nominal",
    ),
    figure(
        ("usable_input", "V"),
        DROPOUT,
        NO_OPTION,
        Worse::Higher,
        "lowest level of the source at which every test named by `usable_for` keeps its \
         requirements; the search goes down from `from`",
    ),
    figure(
        ("sweep_hysteresis", "V"),
        DROPOUT,
        NO_OPTION,
        Worse::Higher,
        "greatest difference of the output between the falling and the rising input, at the same \
         level of the source",
    ),
    figure(
        ("phase_margin", "deg"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "180° plus the phase of the loop gain where its size passes 1 downwards at the highest \
         frequency",
    ),
    figure(
        ("gain_margin", "dB"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "how far the loop gain lies below 1 where its phase first passes -180° above the highest \
         crossover",
    ),
    figure(
        ("crossover", "Hz"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "highest frequency at which the size of the loop gain passes 1 downwards",
    ),
    figure(
        ("loop_distance", "1"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "least distance of the loop gain from -1 over all frequencies; 0.77 is what a phase margin \
         of 45° allows at most",
    ),
    figure(
        ("low_frequency_gain", "dB"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "size of the loop gain at the lowest frequency",
    ),
    figure(
        ("closed_loop_damping", "1"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "damping ratio of the closed loop's least damped pair of poles that a load step excites \
         between a fiftieth and fifty times the crossover",
    ),
    figure(
        ("ringing_damping", "1"),
        LOOP_GAIN,
        NO_OPTION,
        Worse::Lower,
        "damping ratio of the same ringing, taken from the output after a small load step in time",
    ),
    figure(
        ("output_impedance_peak", "Ω"),
        OUTPUT_IMPEDANCE,
        NO_OPTION,
        Worse::Higher,
        "greatest size of the impedance between output and ground over the frequencies of the test, \
         resonances between its points included; loop closed, source network in, the load's own \
         conductance left out unless `include_load` is set",
    ),
    figure(
        ("output_impedance", "Ω"),
        OUTPUT_IMPEDANCE,
        AT,
        Worse::Higher,
        "size of the impedance between output and ground at the frequency `at` (the lowest of the \
         test when left out)",
    ),
    figure(
        ("impedance_mask", "1"),
        OUTPUT_IMPEDANCE,
        NO_OPTION,
        Worse::Lower,
        "least of (mask - impedance)/mask over all frequencies; negative where the mask is crossed; \
         judged against 0 where the test gives a mask",
    ),
    figure(
        ("ripple_rejection", "dB"),
        RIPPLE_REJECTION,
        AT,
        Worse::Lower,
        "ripple at the input pin (at the source with `input_network = \"in\"`, before its resistance) \
         over ripple at the output while the source ripples, small, at the frequency `at`; the least \
         of all frequencies when left out; positive when the output ripples less",
    ),
    figure(
        ("noise", "V"),
        NOISE,
        BAND,
        Worse::Higher,
        "rms noise at the output between the frequencies of `band` (the test's own when left out)",
    ),
    figure(
        ("noise_density", "V/√Hz"),
        NOISE,
        AT,
        Worse::Higher,
        "noise density at the output at the frequency `at`; the greatest within the band when left \
         out",
    ),
];
