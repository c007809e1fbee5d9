//! Rows of tests that switch a rail on or off.

use super::definition::{Definition, NO_OPTION, RequirementOption, Scale, row};
use super::scene::TestKind;
use super::start;

const START_UP: &[TestKind] = &[TestKind::StartUp];
const POWER_DOWN: &[TestKind] = &[TestKind::PowerDown];
const BAND: &[RequirementOption] = &[RequirementOption::Band];

/// In the order of every report.
pub(super) const START_ROWS: &[Definition] = &[
    Definition {
        scale: Scale::FromNominal,
        ..row(
            "settled_level",
            "V",
            START_UP,
            NO_OPTION,
            "mean of the output over the last 10 % of the record after a start; a rail that rests \
             outside the window (with none: below 90 % of nominal) is called stuck, one that \
             drifts or swings is said not to settle",
            start::settled_level,
        )
    },
    row(
        "start_time",
        "s",
        START_UP,
        NO_OPTION,
        "time from the start of the edge to where the output first reaches 95 % of its settled \
         level; 0 if it begins above",
        start::start_time,
    ),
    row(
        "start_settling",
        "s",
        START_UP,
        BAND,
        "time from the start of the edge to the last entry of the output into the band around its \
         settled level",
        start::start_settling,
    ),
    row(
        "start_dip",
        "V",
        START_UP,
        NO_OPTION,
        "largest fall of the output below what it had reached, until it first reaches 95 % of its \
         settled level; 0 for a rise that never turns back",
        start::start_dip,
    ),
    row(
        "start_overshoot",
        "V",
        START_UP,
        NO_OPTION,
        "highest output from the start of the edge on, minus the settled level",
        start::start_overshoot,
    ),
    row(
        "inrush_peak",
        "A",
        START_UP,
        NO_OPTION,
        "highest current delivered by the source from the start of the edge on, the load's included",
        start::inrush_peak,
    ),
    row(
        "inrush_i2t",
        "A^2*s",
        START_UP,
        NO_OPTION,
        "integral of the square of the source's current minus the square of its settled current, \
         from the start of the edge on, over the times at which it is larger than when settled: what \
         heats a fuse beyond the steady load",
        start::inrush_i2t,
    ),
    row(
        "source_sag",
        "V",
        START_UP,
        NO_OPTION,
        "largest fall of the regulator input below what it had reached after the start of the edge, \
         counted from its settled level where it had been higher",
        start::source_sag,
    ),
    row(
        "chatter",
        "count",
        START_UP,
        NO_OPTION,
        "how many times the output falls back through 50 % of nominal after the start of the edge; \
         a count",
        start::chatter,
    ),
    row(
        "reverse_current_peak",
        "A",
        POWER_DOWN,
        NO_OPTION,
        "highest current from output to input through the pass devices together after the start of \
         the edge, their body diodes included; what input capacitors give back to the source does \
         not count",
        start::reverse_current_peak,
    ),
    row(
        "reverse_i2t",
        "A^2*s",
        POWER_DOWN,
        NO_OPTION,
        "integral of the square of the current from output to input through the pass devices, after \
         the start of the edge, while it flows that way",
        start::reverse_i2t,
    ),
    row(
        "hold_up",
        "s",
        POWER_DOWN,
        NO_OPTION,
        "time from the start of the edge to where the output first leaves the static window",
        start::hold_up,
    ),
    row(
        "discharge_time",
        "s",
        POWER_DOWN,
        NO_OPTION,
        "time from the start of the edge to where the output stays below 10 % of nominal",
        start::discharge_time,
    ),
];
