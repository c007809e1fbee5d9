//! The rows of the tests that switch a rail: keys, defaults, words, an example of each.

use crate::measure::TestKind;
use crate::trial::kind_row::{TestKey, TestKindRow, key};

const BY: TestKey = key(
    "by",
    "part name or \"source\"",
    "\"source\"",
    "what moves: the source, or the voltage source that enables the rail while the source stays at \
     its level",
);
const BEFORE: TestKey = key("before", "s", "10 % of hold", "time ahead of the edge");
const RAMP: TestKey = key("ramp", "s", "required", "duration of the edge, 0 to 100 %; 0 is a jump");

pub(in crate::trial) const START_UP: TestKindRow = TestKindRow {
    kind: TestKind::StartUp,
    summary: "power comes, or what enables the rail: when is the output there, how smoothly, and what \
              does it take from the source",
    keys: &[
        BY,
        key("from", "V", "0 V", "level ahead of the edge"),
        key("to", "V", "the part's own level", "level behind the edge"),
        BEFORE,
        RAMP,
        key("hold", "s", "required", "how long it is watched behind the edge"),
    ],
    example: "[[tests]]\nname = \"battery goes in\"\nkind = \"start-up\"\nramp = \"1 ms\"\n\
              hold = \"20 ms\"\nrequire = { start_time = \"<= 5 ms\", start_dip = \"<= 20 mV\" }",
};

pub(in crate::trial) const POWER_DOWN: TestKindRow = TestKindRow {
    kind: TestKind::PowerDown,
    summary: "power goes, or what enables the rail: how long does the output hold, and what flows \
              backwards",
    keys: &[
        BY,
        key("from", "V", "the part's own level", "level ahead of the edge"),
        key("to", "V", "0 V", "level behind the edge"),
        BEFORE,
        RAMP,
        key("hold", "s", "required", "how long it is watched behind the edge"),
    ],
    example: "[[tests]]\nname = \"battery comes out\"\nkind = \"power-down\"\nramp = \"1 ms\"\n\
              hold = \"50 ms\"\nrequire = { reverse_current_peak = \"<= 200 mA\" }",
};
