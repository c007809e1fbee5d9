//! Error amplifier: a limited input stage into one lagging node, clamps where it winds up, and an
//! output stage that drives either a gate (voltage) or a base (current).

use super::amplifier_stages::{CeilingClamp, Clamp, CurrentStage, InputStage, VoltageStage};
use super::row::{NOISE_CORNER, ZERO, quantity, word};
use super::{
    Drive, Input, Kind, Need, Net, Noise, Nonlinear, Parameters, Pin, Range, Rule, Terminal,
    Terminals,
};
use crate::quantity::Dimension;

/// `error-amplifier`
pub(super) static ERROR_AMPLIFIER: Kind = Kind {
    name: "error-amplifier",
    summary: "the amplifier that compares the output with the reference and drives the pass device",
    terminals: Terminals::Named(&[
        Terminal { name: "reference", default: None, text: "input held at the reference" },
        Terminal { name: "sense", default: None, text: "input that senses the output" },
        Terminal { name: "output", default: None, text: "drives the gate or base" },
        Terminal { name: "supply", default: None, text: "positive supply" },
        Terminal { name: "ground", default: None, text: "negative supply" },
    ]),
    keys: &[
        word(
            "inverting",
            &["sense", "reference"],
            "sense",
            "the input whose rise drives the internal node down: \"reference\" for a voltage stage \
             on a p-channel gate, \"sense\" for a current stage on a base and for a voltage stage \
             on an n-channel gate or npn base",
        ),
        quantity(
            "transconductance",
            Dimension::SIEMENS,
            Range::Positive,
            Need::Required,
            "slope of the input stage at balance",
        ),
        quantity(
            "stage_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "largest current of the input stage, both ways; with the lag it sets the slew rate",
        ),
        quantity(
            "stage_resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Required,
            "from the internal node to `returns_to`; with transconductance the DC gain",
        ),
        quantity(
            "lag_resistance",
            Dimension::OHM,
            Range::NonNegative,
            Need::Absent,
            "in series with lag_capacitance, from the internal node to `returns_to`",
        ),
        quantity(
            "lag_capacitance",
            Dimension::FARAD,
            Range::Positive,
            Need::Absent,
            "compensation capacitance behind lag_resistance",
        ),
        quantity(
            "stage_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "from the internal node to `returns_to`",
        ),
        word(
            "returns_to",
            &["ground", "supply"],
            "ground",
            "where the internal node's resistance and capacitances end; decides how a line step \
             and supply ripple get through",
        ),
        quantity(
            "ceiling",
            Dimension::VOLT,
            Range::Positive,
            Need::Absent,
            "upper clamp of the internal node this far above `ground`, if lower than the one that \
             follows the supply",
        ),
        quantity(
            "swing_low",
            Dimension::VOLT,
            Range::Any,
            ZERO,
            "lower clamp of the internal node, above `ground`",
        ),
        quantity(
            "swing_high",
            Dimension::VOLT,
            Range::Any,
            ZERO,
            "upper clamp of the internal node, below `supply`",
        ),
        word(
            "stage",
            &["voltage", "current"],
            "voltage",
            "output stage: a voltage behind a resistance for gates, or a current for bases",
        ),
        quantity(
            "output_resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Absent,
            "of the voltage stage",
        ),
        quantity(
            "drive_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Absent,
            "largest current of the voltage stage, both ways; with the gate capacitance it sets \
             how fast the gate moves",
        ),
        quantity(
            "output_transconductance",
            Dimension::SIEMENS,
            Range::Positive,
            Need::Absent,
            "of the current stage: amperes per volt of the internal node above `ground`",
        ),
        quantity(
            "lowest_current",
            Dimension::AMPERE,
            Range::Any,
            ZERO,
            "lower limit of the current stage",
        ),
        quantity(
            "highest_current",
            Dimension::AMPERE,
            Range::Any,
            Need::Absent,
            "upper limit of the current stage",
        ),
        word(
            "direction",
            &["sink", "source"],
            "sink",
            "current stage: \"sink\" takes the current into `output` and out of `ground`, \
             \"source\" takes it from `supply` and out of `output`",
        ),
        quantity(
            "supply_current",
            Dimension::AMPERE,
            Range::NonNegative,
            ZERO,
            "own consumption, from supply to ground, at any voltage",
        ),
        quantity(
            "sense_current",
            Dimension::AMPERE,
            Range::Any,
            ZERO,
            "into `sense`, out of `ground`, at any voltage",
        ),
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of all its stages, as a voltage between reference and sense",
        ),
        NOISE_CORNER,
    ],
    rules: &[
        Rule::Together(&["lag_resistance", "lag_capacitance"]),
        Rule::Needs("stage", "voltage", &["output_resistance", "drive_current"]),
        Rule::Needs("stage", "current", &["output_transconductance", "highest_current"]),
        Rule::Below("lowest_current", "highest_current"),
        Rule::Below("swing_low", "ceiling"),
    ],
    law: "input stage into the internal node, out of ground: i = I·tanh(g_m·d/I), \
          d = v_reference - v_sense (negated with inverting = \"reference\"); clamp out of the \
          internal node into ground: i = (s/r)·(softplus((v - hi)/s) - softplus((lo - v)/s)), \
          s = 10 mV, r = 1 kΩ, lo = swing_low, hi = v_supply - swing_high, both above ground, hi \
          bent smoothly over 10 mV onto ceiling; \
          voltage stage out of `output`: I_d·tanh((v_x - v_out)/(R_o·I_d)), sourced current from \
          supply, sunk current into ground, blended within 1 % of I_d around zero; \
          current stage: lo + w·softplus((x - lo)/w) - w·softplus((x - hi)/w), x = G·v_x, \
          w = 1 % of hi - lo; softplus(u) = ln(1 + e^u)",
    noise: "source: noise_density²·(1 + noise_corner/f) in series with its input, of no effect as \
            far as the input stage is limited; its resistances make none of their own",
    source: "tanh of a bipolar pair: Gray and Meyer, Analysis and Design of Analog Integrated \
             Circuits; one-pole amplifier with slew limit: Solomon, IEEE J. Solid-State Circuits 9 \
             (1974) 314 (from memory); clamps and stages: definitions",
    example: r#"EA = { kind = "error-amplifier", reference = "ref", sense = "fb", output = "gate", supply = "vin", ground = "gnd", inverting = "reference", transconductance = "200 µS", stage_current = "20 µA", stage_resistance = "5 MΩ", output_resistance = "1 kΩ", drive_current = "2 mA" }"#,
    lay: lay_error_amplifier,
};

fn lay_error_amplifier(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[reference, sense, output, supply, ground] = pins else { return };
    let internal = net.inner("internal");
    let inputs =
        if p.word("inverting") == "reference" { [sense, reference] } else { [reference, sense] };
    let input_stage =
        InputStage::new(p.number("transconductance"), p.number("stage_current"), Noise::given(p));
    // What stands for stages makes no noise of its own: the given one is that of all of them.
    net.law(input_stage, &[between(inputs)], &[[ground, internal]], &[]);

    let end = if p.word("returns_to") == "supply" { supply } else { ground };
    net.conductance([internal, end], 1.0 / p.number("stage_resistance"));
    if let Some(farad) = p.optional("lag_capacitance") {
        let lag_ohm = p.optional("lag_resistance").unwrap_or(0.0);
        let lag = net.series_resistance(internal, lag_ohm, "lag");
        net.capacitance([lag, end], farad, None);
    }
    net.capacitance([internal, end], p.number("stage_capacitance"), None);

    lay_clamp(p, [internal, supply, ground], net);
    lay_output_stage(p, [internal, output, supply, ground], net);
    constant_current(p.number("supply_current"), [supply, ground], net);
    constant_current(p.number("sense_current"), [sense, ground], net);
}

fn between([a, b]: [Pin; 2]) -> Input {
    Input::Between(a.unknown, b.unknown)
}

/// A current no test drives, so it is not the part's level.
fn constant_current(ampere: f64, pins: [Pin; 2], net: &mut Net) {
    if ampere != 0.0 {
        net.drives.push(Drive::constant(ampere));
        let drive = net.drives.len() - 1;
        net.source(pins, drive);
    }
}

fn lay_clamp(p: &Parameters, [internal, supply, ground]: [Pin; 3], net: &mut Net) {
    let clamp = Clamp::new(p.number("swing_low"), p.number("swing_high"));
    let inputs = [between([internal, ground]), between([supply, ground])];
    let law = match p.optional("ceiling") {
        Some(ceiling_v) => Nonlinear::from(CeilingClamp::new(clamp, ceiling_v)),
        None => clamp.into(),
    };
    net.law(law, &inputs, &[[internal, ground]], &[]);
}

fn lay_output_stage(p: &Parameters, [internal, output, supply, ground]: [Pin; 4], net: &mut Net) {
    if p.word("stage") == "current" {
        let stage = CurrentStage::new(
            p.number("output_transconductance"),
            p.number("lowest_current"),
            p.number("highest_current"),
        );
        let path =
            if p.word("direction") == "source" { [supply, output] } else { [output, ground] };
        net.law(stage, &[between([internal, ground])], &[path], &[]);
    } else {
        let stage = VoltageStage::new(p.number("output_resistance"), p.number("drive_current"));
        let paths = [[supply, output], [ground, output]];
        net.law(stage, &[between([internal, output])], &paths, &[]);
    }
}
