//! Tables of the circuit file that belong to no part and no test.

use crate::trial::TestKey;

/// A table of the circuit file.
pub(super) struct Section {
    pub(super) name: &'static str,
    pub(super) summary: &'static str,
    pub(super) keys: &'static [TestKey],
    /// Lines that parse.
    pub(super) example: &'static str,
}

const fn key(
    name: &'static str,
    form: &'static str,
    default: &'static str,
    text: &'static str,
) -> TestKey {
    TestKey { name, form, default, text }
}

pub(super) static SECTIONS: [Section; 3] = [
    Section {
        name: "rail",
        summary: "what the regulator is for: its nodes, its window, which part plays which role",
        keys: RAIL_KEYS,
        example: "[rail]\ninput = \"vin\"\noutput = \"vout\"\nnominal = \"2.80 V\"\n\
                  window = \"2 %\"\nsource = \"BT1\"\nload = \"I_RADIO\"\npass = \"Q1\"",
    },
    Section {
        name: "values",
        summary: "named quantities that parts and tests use, and that `--set` changes",
        keys: VALUE_KEYS,
        example: "[values]\nv_cell = \"3.70 V\"\n\
                  c_out = { value = \"4.7 µF\", tolerance = \"20 %\", range = [\"1 µF\", \"47 µF\"], \
                  series = \"E6\" }",
    },
    Section {
        name: "varies",
        summary: "how the level of a source or load moves by itself, added to its constant",
        keys: VARIES_KEYS,
        example: "[parts]\nV1 = { kind = \"voltage-source\", plus = \"vin\", minus = \"gnd\", \
                  voltage = \"5 V\", varies = { shape = \"sine\", amplitude = \"50 mV\", \
                  frequency = \"100 Hz\" } }",
    },
];

const RAIL_KEYS: &[TestKey] = &[
    key("input", "node", "absent", "at the regulator's input pin"),
    key("output", "node", "absent", "what the load sees"),
    key("ground", "node", "gnd", "reference of both"),
    key("nominal", "V", "absent", "nominal output voltage; required with `output`"),
    key(
        "window",
        "fraction of nominal or [low, high]",
        "absent",
        "for settled levels, judged in every test; without it every verdict says so",
    ),
    key(
        "transient_window",
        "fraction of nominal or [low, high]",
        "window",
        "for every instant of the record",
    ),
    key("source", "part name", "absent", "voltage-source that line steps drive"),
    key("supplies", "[part names]", "[]", "further inputs counted in the power taken"),
    key("load", "part name", "absent", "load or current-source that load steps drive"),
    key("pass", "part name or [part names]", "absent", "the regulating device or devices"),
    key(
        "amplifier",
        "part name",
        "the only one",
        "the error-amplifier, operational-amplifier or transconductor of the loop",
    ),
    key(
        "output_capacitors",
        "[part names]",
        "all from `output` to ground",
        "the bank that the droop is split over",
    ),
    key("input_capacitors", "[part names]", "all from `input` to ground", "the bank at the input"),
    key("feedback", "PART.terminal", "absent", "where the loop is opened"),
    key("ambient", "°C", "25 °C", "ambient temperature"),
];

const VALUE_KEYS: &[TestKey] = &[
    key("value", "expression", "required", "what it is; `name = \"…\"` is short for this alone"),
    key("tolerance", "fraction or [minus, plus]", "absent", "how far it may lie off"),
    key("range", "[low, high]", "absent", "lowest and highest worth trying"),
    key("series", "\"E3\" to \"E192\"", "absent", "preferred numbers it is bought in, IEC 60063"),
    key("stock", "[quantities]", "absent", "the only ones at hand"),
    key(
        "distribution",
        "\"uniform\" or \"normal\"",
        "\"uniform\"",
        "how it scatters; normal: the limits are three standard deviations",
    ),
    key(
        "step",
        "\"linear\" or \"log\"",
        "log over a wide range above 0",
        "how steps over `range` are spaced",
    ),
    key("text", "words", "absent", "label for the page"),
];

const VARIES_KEYS: &[TestKey] = &[
    key(
        "shape",
        "\"sine\", \"pulse\", \"ramp\", \"points\" or \"file\"",
        "required",
        "which of the keys below belong to it",
    ),
    key("amplitude", "unit of the level", "required", "sine: its peak"),
    key("frequency", "Hz", "required", "sine"),
    key("phase", "deg", "0", "sine: at the end of `delay`"),
    key("change", "unit of the level", "required", "pulse, ramp: how far it goes"),
    key("delay", "s", "0", "sine, pulse, ramp: nothing happens before it"),
    key("edge", "s", "required", "pulse, ramp: duration of an edge; 0 is a jump"),
    key("width", "s", "required", "pulse: from the end of an edge to the start of the next"),
    key("period", "s", "absent", "pulse: starts over after it"),
    key(
        "points",
        "[[s, level], …]",
        "required",
        "points: straight lines between; two equal times are a jump",
    ),
    key("file", "path", "required", "file: a CSV beside the circuit file"),
    key("time", "\"column [unit]\"", "required", "file: its column of times"),
    key("value", "\"column [unit]\"", "required", "file: its column of levels"),
    key("repeat_every", "s", "absent", "points, file: start over after it"),
];
