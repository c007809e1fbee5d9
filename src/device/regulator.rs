//! `regulator`: the row of a part known by its datasheet; reading takes it apart into parts that
//! exist, so it lays out nothing.

use super::row::{ZERO, absent, quantity};
use super::{Form, Key, Kind, Need, Range, Rule, Terminal, Terminals};
use crate::quantity::Dimension;

const fn required(name: &'static str, unit: Dimension, range: Range, text: &'static str) -> Key {
    quantity(name, unit, range, Need::Required, text)
}

const fn given(name: &'static str, unit: Dimension, range: Range, text: &'static str) -> Key {
    quantity(name, unit, range, Need::Absent, text)
}

const fn positive(name: &'static str, unit: Dimension, text: &'static str) -> Key {
    given(name, unit, Range::Positive, text)
}

const LOAD: Key = required("load", Dimension::AMPERE, Range::NonNegative, "load current");
const FREQUENCY: Key = required("frequency", Dimension::HERTZ, Range::Positive, "where it holds");
const FROM_LOAD: Key =
    required("from", Dimension::AMPERE, Range::NonNegative, "smaller load current");
const TO_LOAD: Key = required("to", Dimension::AMPERE, Range::Positive, "larger load current");

const INPUT: Key = positive("input", Dimension::VOLT, "input voltage; `test_input` when absent");
const CAPACITOR: Key =
    positive("capacitor", Dimension::FARAD, "output capacitor; `test_capacitor` when absent");
const ESR: Key =
    given("esr", Dimension::OHM, Range::NonNegative, "its ESR; `test_esr` when absent");
const ESL: Key =
    given("esl", Dimension::HENRY, Range::NonNegative, "its ESL; `test_esl` when absent");
const WITHIN: Key = given(
    "within",
    Dimension::NONE,
    Range::PositiveFraction,
    "share of the figure by which a model may differ; as for all others when absent",
);
const WITHIN_DECIBEL: Key = positive(
    "within",
    Dimension::DECIBEL,
    "by how much a model may differ; as for all others when absent",
);

/// Dropout voltages.
static DROPOUT: [Key; 4] = [
    required("current", Dimension::AMPERE, Range::Positive, "load current"),
    required("dropout", Dimension::VOLT, Range::Positive, "input less output"),
    absent(
        "definition",
        Form::Text,
        "\"2 % below\" (when absent), \"100 mV below\" or \"fully on\", as in a `dropout` test",
    ),
    WITHIN,
];

/// Load regulation.
static LOAD_REGULATION: [Key; 8] = [
    FROM_LOAD,
    TO_LOAD,
    required("change", Dimension::VOLT, Range::Positive, "fall of the output"),
    INPUT,
    CAPACITOR,
    ESR,
    ESL,
    WITHIN,
];

/// Line regulation.
static LINE_REGULATION: [Key; 5] = [
    required("from", Dimension::VOLT, Range::Positive, "lower input voltage"),
    required("to", Dimension::VOLT, Range::Positive, "higher input voltage"),
    LOAD,
    required("change", Dimension::VOLT, Range::Positive, "rise of the output"),
    WITHIN,
];

/// Load transients.
static TRANSIENT: [Key; 12] = [
    FROM_LOAD,
    TO_LOAD,
    required("edge", Dimension::SECOND, Range::NonNegative, "duration of both edges"),
    positive("droop", Dimension::VOLT, "below the level before the step"),
    positive("overshoot", Dimension::VOLT, "above the loaded level, after the load has gone"),
    positive("recovery", Dimension::SECOND, "from the start of the edge until back in `band`"),
    given(
        "band",
        Dimension::NONE,
        Range::PositiveFraction,
        "share of the settled level, either side, for `recovery`",
    ),
    INPUT,
    CAPACITOR,
    ESR,
    ESL,
    WITHIN,
];

/// Ripple rejection.
static REJECTION: [Key; 8] = [
    FREQUENCY,
    LOAD,
    required("rejection", Dimension::DECIBEL, Range::Any, "positive where ripple is weakened"),
    INPUT,
    CAPACITOR,
    ESR,
    ESL,
    WITHIN_DECIBEL,
];

/// Output impedance.
static IMPEDANCE: [Key; 8] = [
    FREQUENCY,
    LOAD,
    required("impedance", Dimension::OHM, Range::Positive, "its magnitude"),
    INPUT,
    CAPACITOR,
    ESR,
    ESL,
    WITHIN,
];

/// Noise densities.
static NOISE_DENSITY: [Key; 8] = [
    FREQUENCY,
    LOAD,
    required("density", Dimension::VOLT_PER_ROOT_HERTZ, Range::Positive, "at the output"),
    INPUT,
    CAPACITOR,
    ESR,
    ESL,
    WITHIN,
];

/// Noise over bands.
static NOISE: [Key; 9] = [
    required("from", Dimension::HERTZ, Range::Positive, "lower end of the band"),
    required("to", Dimension::HERTZ, Range::Positive, "upper end of the band"),
    LOAD,
    required("noise", Dimension::VOLT, Range::Positive, "effective value at the output"),
    INPUT,
    CAPACITOR,
    ESR,
    ESL,
    WITHIN,
];

/// `regulator`
pub(super) static REGULATOR: Kind = Kind {
    name: "regulator",
    summary: "a whole regulator, known by its datasheet",
    terminals: Terminals::Named(&[
        Terminal { name: "input", default: None, text: "input" },
        Terminal { name: "output", default: None, text: "output" },
        Terminal { name: "ground", default: None, text: "ground" },
        Terminal {
            name: "enable",
            default: Some("input"),
            text: "lets it work while above `enable_on`",
        },
        Terminal {
            name: "adjust",
            default: Some("output"),
            text: "held at `reference_voltage`; must be given with it and only then",
        },
        Terminal {
            name: "bias",
            default: Some("input"),
            text: "feeds the driver with \"nmos-bias\"; must be given with it and only then",
        },
    ]),
    keys: KEYS,
    rules: &[
        Rule::ExactlyOne(&["output_voltage", "reference_voltage"]),
        Rule::Together(&["short_current", "fold_voltage"]),
        Rule::Together(&["enable_on", "enable_off"]),
        Rule::Together(&["shutdown_temperature", "restart_temperature"]),
        Rule::Below("enable_off", "enable_on"),
        Rule::Below("restart_temperature", "shutdown_temperature"),
        Rule::NotAbove("short_current", "current_limit"),
    ],
    law: "taken apart into parts that exist: a pass device of the topology, an error-amplifier, a \
          reference, a divider where the output is fixed, and limits, enable, shutdown and soft start \
          as far as the sheet tells of them. Their figures are values of its own, estimated from the \
          sheet by rule and free for `railstep model` to choose: `U1.mid_gain` for U1. \
          `railstep check FILE --expand` shows the parts",
    noise: "that of its parts",
    source: "topologies and their estimates: each beside its formula in src/circuit/regulator/",
    example: r#"U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", topology = "pmos", output_voltage = "2.8 V", rated_current = "200 mA", dropouts = [{ current = "180 mA", dropout = "90 mV" }], transients = [{ from = "2 mA", to = "180 mA", edge = "100 ns", droop = "20 mV" }], test_input = "3.7 V", test_capacitor = "2.9 µF", test_esr = "6 mΩ" }"#,
    lay: |_, _, _| {},
};

static KEYS: &[Key] = &[
    Key {
        name: "topology",
        form: Form::Word(&["npn", "darlington", "pnp", "pmos", "nmos-bias"]),
        need: Need::Required,
        text: "which device passes the current",
    },
    absent(
        "compensation",
        Form::Word(&["lag", "single-pole"]),
        "of the error amplifier: flat gain between a lag and a second pole, or one pole; an \
         assumption when absent: lag for pmos and nmos-bias, single-pole for the others",
    ),
    positive("output_voltage", Dimension::VOLT, "output of a fixed one"),
    positive("reference_voltage", Dimension::VOLT, "of an adjustable one, at `adjust`"),
    quantity(
        "accuracy",
        Dimension::NONE,
        Range::FractionBelowOne,
        ZERO,
        "largest deviation of that voltage, both ways; used by corners, not by a nominal run",
    ),
    quantity(
        "temperature_coefficient",
        Dimension::PER_KELVIN,
        Range::Any,
        ZERO,
        "relative change of that voltage for each kelvin",
    ),
    required("rated_current", Dimension::AMPERE, Range::Positive, "largest load it is meant for"),
    absent("dropouts", Form::Rows(&DROPOUT), "dropout voltages"),
    positive("quiescent_current", Dimension::AMPERE, "into ground, without load"),
    positive("ground_current", Dimension::AMPERE, "into ground, at the rated current"),
    positive(
        "ground_current_in_dropout",
        Dimension::AMPERE,
        "into ground, in dropout at the rated current",
    ),
    positive("current_limit", Dimension::AMPERE, "load current beyond which the output falls"),
    positive("short_current", Dimension::AMPERE, "the same with the output at ground (foldback)"),
    positive(
        "fold_voltage",
        Dimension::VOLT,
        "output voltage from which up the whole `current_limit` holds",
    ),
    positive(
        "rise_time",
        Dimension::SECOND,
        "soft start: of the output from 10 to 90 % when the input comes up at once",
    ),
    positive("thermal_resistance", Dimension::KELVIN_PER_WATT, "junction to ambient"),
    given(
        "shutdown_temperature",
        Dimension::KELVIN,
        Range::AboveAbsoluteZero,
        "junction temperature at which it shuts down; needs `thermal_resistance` to have effect",
    ),
    given(
        "restart_temperature",
        Dimension::KELVIN,
        Range::AboveAbsoluteZero,
        "junction temperature at which it works again",
    ),
    given("enable_on", Dimension::VOLT, Range::Any, "voltage at `enable` above which it works"),
    given("enable_off", Dimension::VOLT, Range::Any, "voltage at `enable` below which it stops"),
    absent("load_regulations", Form::Rows(&LOAD_REGULATION), "falls of the output with load"),
    absent("line_regulations", Form::Rows(&LINE_REGULATION), "rises of the output with the input"),
    absent("transients", Form::Rows(&TRANSIENT), "load steps; loading and release are one row"),
    absent("rejections", Form::Rows(&REJECTION), "ripple rejection, input to output"),
    absent("impedances", Form::Rows(&IMPEDANCE), "output impedance"),
    absent("noise_densities", Form::Rows(&NOISE_DENSITY), "noise densities of the output"),
    absent("noises", Form::Rows(&NOISE), "noise of the output over a band"),
    absent(
        "capacitor_range",
        Form::FromTo(Dimension::FARAD, Range::Positive),
        "output capacitors it is recommended for",
    ),
    absent(
        "esr_range",
        Form::FromTo(Dimension::OHM, Range::NonNegative),
        "ESR of the output capacitor it is recommended for",
    ),
    positive("test_input", Dimension::VOLT, "input voltage where a row does not say"),
    positive("test_capacitor", Dimension::FARAD, "output capacitor where a row does not say"),
    given("test_esr", Dimension::OHM, Range::NonNegative, "its ESR where a row does not say"),
    given("test_esl", Dimension::HENRY, Range::NonNegative, "its ESL where a row does not say"),
    positive(
        "test_output",
        Dimension::VOLT,
        "output that an adjustable one was set to for its rows; its reference when absent",
    ),
    positive("test_bias", Dimension::VOLT, "voltage at `bias`; must be given with \"nmos-bias\""),
    absent(
        "inside",
        Form::InnerValues,
        "values of its inside that are held at a figure, not to be fitted",
    ),
];
