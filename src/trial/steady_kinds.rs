//! The rows of the tests at rest and over frequency: keys, defaults, words, an example of each.

use super::kind_row::{TestKey, TestKindRow, key};
use crate::measure::TestKind;

const LOADS: TestKey = key(
    "load_levels",
    "[unit of the load, …]",
    "load_level",
    "steady loads; the test is solved at every one",
);
pub(super) const SOURCES: TestKey = key(
    "source_levels",
    "[V, …]",
    "source_level",
    "levels of the source; the test is solved at every one",
);
pub(super) const AMBIENTS: TestKey =
    key("ambients", "[°C, …]", "ambient", "ambient temperatures; the test is solved at every one");
const LOWEST: TestKey = key("lowest", "Hz", "\"10 Hz\"", "lowest frequency");
const HIGHEST: TestKey = key("highest", "Hz", "\"100 MHz\"", "highest frequency");
const PER_DECADE: TestKey =
    key("per_decade", "count", "25", "frequencies a decade; more are added where it matters");

pub(super) const LOAD_REGULATION: TestKindRow = TestKindRow {
    kind: TestKind::LoadRegulation,
    summary: "the output at rest against the load, and which cause gives how much",
    keys: &[
        key("from", "unit of the load", "required", "load at which counting begins"),
        key("to", "unit of the load", "required", "load at which it ends"),
        key("points", "count", "21", "how many loads between, ends included"),
        key(
            "hold",
            "\"pin\" or \"source\"",
            "\"pin\"",
            "what stays: the voltage of the input \"pin\", or the \"source\" behind its resistance",
        ),
        SOURCES,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"static load\"\nkind = \"load-regulation\"\nfrom = \"1 mA\"\n\
              to = \"100 mA\"\nrequire = { load_regulation = \"<= 5 mV\" }",
};

pub(super) const LINE_REGULATION: TestKindRow = TestKindRow {
    kind: TestKind::LineRegulation,
    summary: "the output at rest against the source, and which cause gives how much",
    keys: &[
        key("from", "V", "required", "level of the source at which counting begins"),
        key("to", "V", "required", "level of the source at which it ends"),
        key("points", "count", "21", "how many levels between, ends included"),
        LOADS,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"static line\"\nkind = \"line-regulation\"\nfrom = \"3.3 V\"\n\
              to = \"4.2 V\"\nrequire = { line_regulation = \"<= 2 mV\" }",
};

pub(super) const DROPOUT: TestKindRow = TestKindRow {
    kind: TestKind::Dropout,
    summary: "output against a falling and a rising input: dropout, headroom, usable input",
    keys: &[
        key(
            "from",
            "V",
            "nominal + reference_headroom, or higher",
            "level of the source where it begins",
        ),
        key("to", "V", "90 % of nominal", "level of the source where it ends"),
        key(
            "reference_headroom",
            "V",
            "1 V",
            "how far above nominal the input pin stands where the reference value of the output is \
             taken; more for a regulator that drops more",
        ),
        key("points", "count", "60", "levels between; more are added where the curve bends"),
        key(
            "usable_for",
            "[test name, …]",
            "[]",
            "tests of this file whose requirements must hold down to `usable_input`",
        ),
        LOADS,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"falling cell\"\nkind = \"dropout\"\n\
              load_levels = [\"10 mA\", \"180 mA\"]\n\
              require = { dropout = { limit = \"<= 120 mV\", definition = \"2 % below\" } }",
};

pub(super) const LOOP_GAIN: TestKindRow = TestKindRow {
    kind: TestKind::LoopGain,
    summary: "loop gain at `rail.feedback`: crossover, margins, poles and zeros",
    keys: &[
        LOWEST,
        HIGHEST,
        PER_DECADE,
        key("nyquist", "true or false", "false", "draws the loop gain in the complex plane too"),
        LOADS,
        SOURCES,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"stability\"\nkind = \"loop-gain\"\n\
              load_levels = [\"1 mA\", \"10 mA\", \"100 mA\"]\n\
              require = { phase_margin = \">= 45 deg\" }",
};

pub(super) const OUTPUT_IMPEDANCE: TestKindRow = TestKindRow {
    kind: TestKind::OutputImpedance,
    summary: "impedance at the output over frequency, against a mask",
    keys: &[
        LOWEST,
        HIGHEST,
        PER_DECADE,
        key(
            "mask",
            "[[Hz, Ω], …]",
            "absent",
            "what the impedance must stay below; straight between points in a log-log plot",
        ),
        key("include_load", "true or false", "false", "counts the load's own conductance too"),
        LOADS,
        SOURCES,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"impedance\"\nkind = \"output-impedance\"\n\
              mask = [[\"10 Hz\", \"50 mΩ\"], [\"100 kHz\", \"200 mΩ\"]]",
};

pub(super) const RIPPLE_REJECTION: TestKindRow = TestKindRow {
    kind: TestKind::RippleRejection,
    summary: "ripple of the input over ripple of the output, over frequency and headroom",
    keys: &[
        LOWEST,
        HIGHEST,
        PER_DECADE,
        key(
            "input_network",
            "\"out\" or \"in\"",
            "\"out\"",
            "\"out\": from the regulator's input pin; \"in\": from the source, behind its \
             impedance and with the input capacitor",
        ),
        LOADS,
        SOURCES,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"charger ripple\"\nkind = \"ripple-rejection\"\n\
              require = { ripple_rejection = { limit = \">= 40 dB\", at = \"10 kHz\" } }",
};

pub(super) const NOISE: TestKindRow = TestKindRow {
    kind: TestKind::Noise,
    summary: "noise at the output over frequency, and who contributes it",
    keys: &[
        LOWEST,
        HIGHEST,
        PER_DECADE,
        key("band", "[Hz, Hz]", "[\"10 Hz\", \"100 kHz\"]", "between which noise is summed"),
        LOADS,
        SOURCES,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"quiet\"\nkind = \"noise\"\nrequire = { noise = \"<= 60 µV\" }",
};
