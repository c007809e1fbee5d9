//! The table of test kinds: their keys, units, defaults and words.

use super::kind_row::{TestKey, TestKindRow, key};
use super::{limit_kinds, start, steady_kinds};
use crate::measure::TestKind;

/// Keys of every test.
pub static COMMON_TEST_KEYS: [TestKey; 14] = [
    key("name", "text", "required", "what reports and files call it; unique"),
    key("kind", "word", "required", "which kind of test"),
    key(
        "values",
        "{ name = \"expression\" }",
        "{}",
        "values, or paths to keys, for this test only",
    ),
    key("ambient", "°C", "rail.ambient", "ambient temperature for this test only"),
    key("load", "part name", "rail.load", "another load to drive"),
    key("source", "part name", "rail.source", "another source to drive"),
    key(
        "load_level",
        "unit of the load",
        "the part's own",
        "steady level of a load that does not move",
    ),
    key("source_level", "V", "the part's own", "steady level of a source that does not move"),
    key(
        "start",
        "\"operating-point\" or \"initial-values\"",
        "\"operating-point\"",
        "where it begins; \"initial-values\": from `initial` on capacitors and inductors",
    ),
    key("accuracy", "V", "\"10 µV\"", "target error of the output node"),
    key("sample", "count or s", "absent", "adds evenly spaced rows to the CSV"),
    key("window", "fraction, [low, high] or \"none\"", "rail.window", "window for settled levels"),
    key(
        "transient_window",
        "fraction, [low, high] or \"none\"",
        "rail.transient_window",
        "window for every instant",
    ),
    key("require", "{ measurement = \"limit\" }", "{}", "what the test must keep"),
];

const STEP_KEYS: &[TestKey] = &[
    key(
        "from",
        "unit of the driven part",
        "required",
        "level ahead of the first edge and after the second",
    ),
    key("to", "unit of the driven part", "required", "level held between the edges"),
    key("before", "s", "10 % of hold", "time ahead of the first edge"),
    key("edge", "s", "required", "duration of the first edge, 0 to 100 %; 0 is a jump"),
    key("edge_back", "s", "edge", "duration of the second edge"),
    key("hold", "s", "required", "from the end of the first edge to the start of the second"),
    key("settle", "s", "hold", "how long it is watched after the second edge"),
    key("repeat", "count", "1", "how many times there and back"),
];

const PROFILE_KEYS: &[TestKey] = &[
    key("duration", "s", "the last point", "how long it is watched"),
    key(
        "load_points",
        "[[s, level], …]",
        "absent",
        "levels of the load over time, straight lines between",
    ),
    key("load_file", "{ file, time, value }", "absent", "the same from a CSV file"),
    key("source_points", "[[s, V], …]", "absent", "levels of the source over time"),
    key("source_file", "{ file, time, value }", "absent", "the same from a CSV file"),
    key(
        "source_shape",
        "{ shape, level, edition, … }",
        "absent",
        "a line shape: crank, load-dump, momentary-drop, jump-start, overvoltage, reversed, \
         reset-steps, slow-fall, hot-plug or ripple; `railstep explain SHAPE` tells its levels and \
         figures, each of which may be given",
    ),
];

/// All kinds of test.
pub static TEST_KINDS: &[TestKindRow] = &[
    TestKindRow {
        kind: TestKind::OperatingPoint,
        summary: "the steady state: node voltages, currents, where each device works",
        keys: &[],
        example: "[[tests]]\nname = \"idle\"\nkind = \"operating-point\"\nload_level = \"2 mA\"",
    },
    TestKindRow {
        kind: TestKind::LoadStep,
        summary: "the load changes, is held, and comes back",
        keys: STEP_KEYS,
        example: "[[tests]]\nname = \"burst\"\nkind = \"load-step\"\nfrom = \"2 mA\"\nto = \"180 mA\"\n\
                  edge = \"100 ns\"\nhold = \"600 µs\"\nrequire = { droop = \"<= 30 mV\" }",
    },
    TestKindRow {
        kind: TestKind::LineStep,
        summary: "the source changes, is held, and comes back",
        keys: STEP_KEYS,
        example: "[[tests]]\nname = \"charger on\"\nkind = \"line-step\"\nfrom = \"3.7 V\"\nto = \"4.2 V\"\n\
                  edge = \"10 µs\"\nhold = \"500 µs\"\nrequire = { overshoot = \"<= 10 mV\" }",
    },
    TestKindRow {
        kind: TestKind::Profile,
        summary: "load and source follow points or a CSV file, or nothing moves and it is watched",
        keys: PROFILE_KEYS,
        example: "[[tests]]\nname = \"sag\"\nkind = \"profile\"\nduration = \"2 ms\"\n\
                  source_points = [[\"0 s\", \"3.7 V\"], [\"1 ms\", \"3.2 V\"]]",
    },
    start::START_UP,
    start::POWER_DOWN,
    steady_kinds::LOAD_REGULATION,
    steady_kinds::LINE_REGULATION,
    steady_kinds::DROPOUT,
    steady_kinds::LOOP_GAIN,
    steady_kinds::OUTPUT_IMPEDANCE,
    steady_kinds::RIPPLE_REJECTION,
    steady_kinds::NOISE,
    limit_kinds::OVERLOAD,
    limit_kinds::SHORT_CIRCUIT,
    limit_kinds::PULSE_TRAIN,
];

/// The row of a kind by its word.
pub fn test_kind_row(word: &str) -> Option<&'static TestKindRow> {
    TEST_KINDS.iter().find(|row| row.kind.word() == word)
}
