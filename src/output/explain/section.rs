//! Tables of the circuit file that belong to no part and no test.

use crate::trial::TestKey;

/// A table of the circuit file.
pub(in crate::output) struct Section {
    pub(in crate::output) name: &'static str,
    pub(in crate::output) summary: &'static str,
    pub(in crate::output) keys: &'static [TestKey],
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

pub(super) static SECTIONS: [Section; 6] = [
    Section {
        name: "file",
        summary: "a circuit file as a whole: what may stand at its top",
        keys: FILE_KEYS,
        example: "title = \"Divider\"\n\
                  [parts]\nV1 = { kind = \"voltage-source\", plus = \"top\", minus = \"gnd\", \
                  voltage = \"5 V\" }\n\
                  R1 = { kind = \"resistor\", nodes = [\"top\", \"gnd\"], resistance = \"1 kΩ\" }",
    },
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
        name: "require",
        summary: "what a test must keep: a limit for each measurement, or several",
        keys: REQUIRE_KEYS,
        example: "require = { droop = \"<= 30 mV\", recovery = { limit = \"<= 20 µs\", band = \"0.5 %\", \
                  advisory = true } }",
    },
    Section {
        name: "blocks",
        summary: "sub-circuits with ports and values of their own, used by parts of kind `block`",
        keys: BLOCK_KEYS,
        example: "[blocks.cell]\nports = [\"plus\", \"minus\"]\nvalues = { r = \"0.15 Ω\" }\n\
                  parts = { R1 = { kind = \"resistor\", nodes = [\"plus\", \"minus\"], \
                  resistance = \"r\" } }",
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

const FILE_KEYS: &[TestKey] = &[
    key("title", "text", "required", "what this circuit is"),
    key(
        "include",
        "path or [paths]",
        "absent",
        "files beside this one or in folders below it, of which values, models and blocks are taken",
    ),
    key("values", "{ name = value }", "{}", "named quantities; see `values`"),
    key("rail", "{ … }", "absent", "what the regulator is for; see `rail`"),
    key("corners", "{ name = [levels] }", "{}", "the environment; see `corners`"),
    key("parts", "{ NAME = part }", "required", "the circuit; every kind of part has an entry"),
    key(
        "models",
        "{ name = keys of a kind }",
        "{}",
        "keys that parts share: `model = \"name\"` in a part takes those that it does not give itself",
    ),
    key("blocks", "{ name = block }", "{}", "sub-circuits; see `blocks`"),
    key("tests", "[test, …]", "[]", "what is done; every kind of test has an entry"),
];

const REQUIRE_KEYS: &[TestKey] = &[
    key(
        "limit",
        "\"<= …\", \">= …\" or \"… .. …\"",
        "required",
        "`name = \"<= …\"` is short for this alone; the bounds may be expressions",
    ),
    key("advisory", "true or false", "false", "judged and told, but never counted in a verdict"),
];

const BLOCK_KEYS: &[TestKey] = &[
    key("ports", "[port names]", "required", "its nodes that the circuit outside connects"),
    key(
        "values",
        "{ name = value }",
        "{}",
        "named quantities inside; where it is used each may differ",
    ),
    key("parts", "{ NAME = part }", "required", "its parts; outside, `R1` of `U1` is `U1.R1`"),
    key("text", "words", "absent", "label for people"),
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
        "part name or [part names]",
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
    key(
        "series",
        "\"E3\", \"E6\", \"E12\", \"E24\", \"E48\", \"E96\" or \"E192\"",
        "absent",
        "preferred numbers it is bought in, IEC 60063",
    ),
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
