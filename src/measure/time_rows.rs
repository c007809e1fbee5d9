//! The measurements of tests in time, and of a single rest.

use super::definition::{Definition, NO_OPTION, Reader, RequirementOption, Scale, row};
use super::families::{
    ALL, AT_WORK_FIRST, ENDING_POWERED, FEEDING, FROM_REST, LOAD_STEP, OPERATING_POINT, POWERED,
    SETTLING, STEPS, TIME, WINDOWED, WITH_HEADROOM,
};
use super::scene::TestKind;
use super::{excursion, stress, supply, timing};

const CAPACITOR: &[RequirementOption] = &[RequirementOption::Capacitor];
const LEVEL: &[RequirementOption] = &[RequirementOption::Level];
const BAND_ABOUT: &[RequirementOption] = &[
    RequirementOption::Band,
    RequirementOption::About {
        allowed: &[super::About::Settled, super::About::Nominal],
        default: super::About::Settled,
    },
];
const ABOUT: &[RequirementOption] = &[RequirementOption::About {
    allowed: &[super::About::Before, super::About::Settled, super::About::Nominal],
    default: super::About::Before,
}];

/// A row for a level of the output.
const fn level(
    name: &'static str,
    kinds: &'static [TestKind],
    text: &'static str,
    procedure: Reader,
) -> Definition {
    Definition { scale: Scale::FromNominal, ..row(name, "V", kinds, NO_OPTION, text, procedure) }
}

pub(super) const TIME_ROWS: &[Definition] = &[
    level(
        "before_level",
        FROM_REST,
        "mean of the output over the last 10 % of the first dwell, ahead of the first edge; not \
         evaluated if the straight line through that tenth, carried over the whole dwell, drifts \
         by more than 10 % of the band (the smallest recovery band asked for, else half the \
         window, else 0.1 % of nominal)",
        excursion::before_level,
    ),
    level(
        "loaded_level",
        STEPS,
        "mean of the output over the last 10 % of the dwell after the first edge (of the last \
         repetition), by order, whichever way the first edge goes; not evaluated while it drifts",
        excursion::loaded_level,
    ),
    level(
        "released_level",
        STEPS,
        "mean of the output over the last 10 % of the dwell after the second edge (of the last \
         repetition); not evaluated while it drifts",
        excursion::released_level,
    ),
    row(
        "droop",
        "V",
        STEPS,
        NO_OPTION,
        "before_level minus the lowest output from the start of the loading edge to the next \
         edge, the worst of all repetitions; in a line step after either edge; in a load step \
         that starts loaded, counted from the settled level ahead of the loading edge",
        excursion::droop,
    ),
    row(
        "ring_back",
        "V",
        LOAD_STEP,
        NO_OPTION,
        "highest output between the lowest instant after the loading edge and the next edge, \
         minus the settled level of that dwell; the worst of all repetitions",
        excursion::ring_back,
    ),
    row(
        "overshoot",
        "V",
        STEPS,
        ABOUT,
        "highest output from the start of the releasing edge to the next edge (line step: after \
         either edge), minus the settled level ahead of it (`before`), of the dwell after it \
         (`settled`) or the nominal voltage (`nominal`); the worst of all repetitions",
        excursion::overshoot,
    ),
    row(
        "recovery",
        "s",
        STEPS,
        BAND_ABOUT,
        "time from the start of the loading edge to the last entry into the band around the \
         settled level of that dwell (or nominal), the longest of all repetitions; in a line \
         step the longer of both edges; 0 if it never leaves the band",
        timing::recovery,
    ),
    row(
        "release_recovery",
        "s",
        LOAD_STEP,
        BAND_ABOUT,
        "time from the start of the releasing edge to the last entry into the band around the \
         settled level of that dwell (or nominal), the longest of all repetitions; 0 if it never \
         leaves the band",
        timing::release_recovery,
    ),
    row(
        "static_change",
        "V",
        STEPS,
        NO_OPTION,
        "loaded_level minus before_level",
        excursion::static_change,
    ),
    level(
        "output_minimum",
        AT_WORK_FIRST,
        "lowest output over the whole record",
        excursion::output_minimum,
    ),
    level(
        "output_maximum",
        TIME,
        "highest output over the whole record",
        excursion::output_maximum,
    ),
    row(
        "longest_below",
        "s",
        POWERED,
        LEVEL,
        "longest single time that the output stays below the level",
        timing::longest_below,
    ),
    row(
        "longest_above",
        "s",
        TIME,
        LEVEL,
        "longest single time that the output stays above the level",
        timing::longest_above,
    ),
    row(
        "total_below",
        "s",
        POWERED,
        LEVEL,
        "total time that the output spends below the level",
        timing::total_below,
    ),
    row(
        "late_ripple",
        "V",
        SETTLING,
        NO_OPTION,
        "peak to peak of the output over the last 20 % of the last dwell (profile: of the \
         record); more than 0.1 % of nominal is called not settling",
        excursion::late_ripple,
    ),
    row(
        "headroom_minimum",
        "V",
        WITH_HEADROOM,
        NO_OPTION,
        "lowest difference between regulator input and output over the whole record",
        supply::headroom_minimum,
    ),
    row(
        "input_minimum",
        "V",
        AT_WORK_FIRST,
        NO_OPTION,
        "lowest voltage at the regulator input over the whole record",
        supply::input_minimum,
    ),
    row(
        "input_maximum",
        "V",
        TIME,
        NO_OPTION,
        "highest voltage at the regulator input over the whole record",
        supply::input_maximum,
    ),
    row(
        "pass_power_peak",
        "W",
        ALL,
        NO_OPTION,
        "highest power absorbed by the pass devices together over the whole record",
        supply::pass_power_peak,
    ),
    row(
        "pass_power_mean",
        "W",
        ENDING_POWERED,
        NO_OPTION,
        "mean power absorbed by the pass devices together over the last 10 % of the dwell that \
         loaded_level is taken from (start-up: behind the edge; profile: of the record)",
        supply::pass_power_mean,
    ),
    row(
        "source_current_peak",
        "A",
        AT_WORK_FIRST,
        NO_OPTION,
        "highest current delivered by the source over the whole record",
        supply::source_current_peak,
    ),
    row(
        "efficiency",
        "1",
        FEEDING,
        NO_OPTION,
        "energy taken by the load over energy delivered by the source and the further supplies, \
         over the last 10 % of the dwell that loaded_level is taken from (profile: of the record)",
        supply::efficiency,
    ),
    row(
        "ground_current",
        "A",
        FEEDING,
        NO_OPTION,
        "mean of the current delivered by the source and the further supplies minus the load's, \
         over the last 10 % of the dwell that loaded_level is taken from (profile: of the record)",
        supply::ground_current,
    ),
    row(
        "capacitor_stress",
        "1",
        ALL,
        CAPACITOR,
        "highest size of the voltage across a capacitor over the whole record, over its rated_voltage \
         times its derating: of the capacitor named in `of`, else of the worst of the output and \
         input capacitors that have a rating",
        stress::capacitor_stress,
    ),
    level("output_level", OPERATING_POINT, "the output's steady voltage", excursion::output_level),
    row(
        "output_error",
        "1",
        OPERATING_POINT,
        NO_OPTION,
        "(output minus nominal) over nominal",
        excursion::output_error,
    ),
    row(
        "headroom",
        "V",
        OPERATING_POINT,
        NO_OPTION,
        "regulator input minus output",
        supply::headroom,
    ),
    row(
        "window",
        "V",
        WINDOWED,
        NO_OPTION,
        "distance of the worst settled level (of every dwell; in a profile the mean over the \
         last 10 % of the record; in a start-up that of the dwell behind the edge, in a power-down \
         that of the dwell ahead of it; in a test at several conditions the rest at each) inside the \
         static window, negative outside",
        excursion::window,
    ),
    row(
        "transient_window",
        "V",
        FEEDING,
        NO_OPTION,
        "distance of the worst instant of the whole record inside the window for transients, \
         negative outside; in a start-up only the side away from 0 V counts, in a power-down there \
         is none",
        excursion::transient_window,
    ),
];
