//! The rows of the tests that go to a rail's limits: keys, defaults, words, an example of each.

use super::kind_row::{TestKey, TestKindRow, key};
use super::steady_kinds::{AMBIENTS, SOURCES};
use crate::measure::TestKind;

pub(super) const OVERLOAD: TestKindRow = TestKindRow {
    kind: TestKind::Overload,
    summary: "the output forced down to a short and below: limit, foldback, heat, and at which outputs \
              the rail rests with each load",
    keys: &[
        key(
            "loads",
            "[{ resistance | current, fade | power, minimum_voltage }, …]",
            "the rail's own load",
            "loads that the rail is to start into, each by exactly one of resistance, current and \
             power; `fade` (0.1 V) and `minimum_voltage` (0.5 V) as a part of kind `load` has them",
        ),
        key("lowest", "V", "\"-0.3 V\"", "lowest output, 0 V or below, in the sense of nominal"),
        key(
            "highest",
            "V",
            "2 % above nominal, or above the output without load",
            "where it begins",
        ),
        key("points", "count", "61", "outputs between; more are added where the curve bends"),
        SOURCES,
        AMBIENTS,
    ],
    example: "[[tests]]\nname = \"limits\"\nkind = \"overload\"\n\
              loads = [{ resistance = \"8 Ω\" }, { current = \"0.9 A\" }]\n\
              require = { limit_current = \">= 1.2 A\", loads_not_started = \"<= 0\" }",
};

const BEFORE: TestKey = key("before", "s", "10 % of short", "time ahead of the short, at rest");

pub(super) const SHORT_CIRCUIT: TestKindRow = TestKindRow {
    kind: TestKind::ShortCircuit,
    summary: "the output is shorted for a time and let go: currents, energy, does it come back",
    keys: &[
        key("short", "s", "required", "how long the short lasts, without its edges"),
        key("short_resistance", "Ω", "\"10 mΩ\"", "resistance of the short"),
        key(
            "edge",
            "s",
            "\"1 µs\"",
            "time over which the short's conductance comes, and goes; 0 is a jump",
        ),
        key("recover", "s", "short", "how long it is watched after the short"),
        BEFORE,
    ],
    example: "[[tests]]\nname = \"slipped probe\"\nkind = \"short-circuit\"\nshort = \"30 s\"\n\
              recover = \"1 s\"\nrequire = { recovered = \"<= 10 ms\" }",
};

pub(super) const PULSE_TRAIN: TestKindRow = TestKindRow {
    kind: TestKind::PulseTrain,
    summary: "the load comes and goes until every period is like the one before; at which rate is it \
              worst",
    keys: &[
        key("from", "unit of the load", "required", "load between the pulses"),
        key("to", "unit of the load", "required", "load in the pulses"),
        key("edge", "s", "required", "duration of the first edge, 0 to 100 %; 0 is a jump"),
        key("edge_back", "s", "edge", "duration of the second edge"),
        key("period", "s", "required without `scan`", "from pulse to pulse"),
        key(
            "width",
            "s",
            "half the period between the middles of the edges",
            "from the end of the first edge to the start of the second",
        ),
        key(
            "duty",
            "fraction",
            "50 %",
            "instead of `width`: share of the period between the middles of the edges",
        ),
        key("before", "s", "10 % of the period", "time ahead of the first pulse"),
        key(
            "periods",
            "count",
            "200",
            "most periods to wait until one is like the one before; means are taken over the last",
        ),
        key(
            "scan",
            "{ from = Hz, to = Hz, points = count }",
            "absent",
            "looks for the worst repetition rate between two (25 points), one run a rate; what is \
             measured and kept is at the worst",
        ),
    ],
    example: "[[tests]]\nname = \"bursts\"\nkind = \"pulse-train\"\nfrom = \"2 mA\"\nto = \"180 mA\"\n\
              edge = \"100 ns\"\nperiod = \"20 µs\"\nduty = \"50 %\"\n\
              require = { train_droop = \"<= 40 mV\" }",
};
