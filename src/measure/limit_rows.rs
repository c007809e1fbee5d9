//! The measurements of tests that go to a rail's limits: overload, short circuit, pulse train.

use super::definition::{Definition, NO_OPTION, RequirementOption, figure, row};
use super::figures::Worse;
use super::scene::TestKind;
use super::{short, train};

const OVERLOAD: &[TestKind] = &[TestKind::Overload];
const SHORT: &[TestKind] = &[TestKind::ShortCircuit];
const TRAIN: &[TestKind] = &[TestKind::PulseTrain];

const SHARE: &[RequirementOption] = &[RequirementOption::Share];

pub(super) const LIMIT_ROWS: &[Definition] = &[
    figure(
        ("limit_current", "A"),
        OVERLOAD,
        SHARE,
        Worse::Lower,
        "current that the regulator delivers with its output forced down by `share` of nominal (5 % \
         when left out), each level settled",
    ),
    figure(
        ("short_current", "A"),
        OVERLOAD,
        NO_OPTION,
        Worse::Higher,
        "current that the regulator delivers with its output forced to 0 V, settled",
    ),
    figure(
        ("foldback_ratio", "1"),
        OVERLOAD,
        NO_OPTION,
        Worse::Higher,
        "short_current over the current with the output 5 % below nominal; 100 % is a constant limit, \
         less is foldback",
    ),
    figure(
        ("pass_power_worst", "W"),
        OVERLOAD,
        NO_OPTION,
        Worse::Higher,
        "greatest power that the pass devices together absorb at rest, over all outputs from 0 V to \
         the regulated one",
    ),
    figure(
        ("stuck_voltage", "V"),
        OVERLOAD,
        NO_OPTION,
        Worse::Lower,
        "lowest output at which the rail can rest with any of the test's loads: where the limit \
         characteristic crosses the load's own from above as the output rises, which holds for an \
         output with a capacitor; above the window's lower end no load makes the rail stick",
    ),
    figure(
        ("loads_not_started", "count"),
        OVERLOAD,
        NO_OPTION,
        Worse::Higher,
        "how many of the test's loads keep an output that rises slowly from 0 V out of the window \
         (5 % about nominal where there is none)",
    ),
    row(
        "short_current_peak",
        "A",
        SHORT,
        NO_OPTION,
        "highest current through the short; that of the output capacitor is in it",
        short::current_peak,
    ),
    row(
        "short_current_settled",
        "A",
        SHORT,
        NO_OPTION,
        "mean current through the short over the last 10 % of its time",
        short::current_settled,
    ),
    row(
        "short_energy",
        "J",
        SHORT,
        NO_OPTION,
        "energy absorbed by the pass devices together, from the first touch of the short to its last",
        short::energy,
    ),
    row(
        "short_overshoot",
        "V",
        SHORT,
        NO_OPTION,
        "highest output after the short is taken away, minus before_level; negative while it stays \
         below",
        short::overshoot,
    ),
    row(
        "recovered",
        "s",
        SHORT,
        NO_OPTION,
        "time from when the short begins to go until the output is in the window for good (5 % about \
         nominal where there is none); a rail that ends outside is latched",
        short::recovered,
    ),
    row(
        "train_droop",
        "V",
        TRAIN,
        NO_OPTION,
        "before_level minus the lowest output of the first and of the last period, whichever is \
         lower",
        train::droop,
    ),
    row(
        "train_overshoot",
        "V",
        TRAIN,
        NO_OPTION,
        "highest output of the first and of the last period, whichever is higher, minus before_level",
        train::overshoot,
    ),
    row(
        "first_droop",
        "V",
        TRAIN,
        NO_OPTION,
        "before_level minus the lowest output of the first period",
        train::first_droop,
    ),
    row(
        "periodic_peak_to_peak",
        "V",
        TRAIN,
        NO_OPTION,
        "highest minus lowest output of the last period",
        train::peak_to_peak,
    ),
    row(
        "periods",
        "count",
        TRAIN,
        NO_OPTION,
        "how many periods it takes until the highest and the lowest output of three periods in a row \
         differ by less than 1 % of the band (half the window, else 0.1 % of nominal)",
        train::periods,
    ),
    figure(
        ("worst_rate", "Hz"),
        TRAIN,
        NO_OPTION,
        Worse::Higher,
        "repetition rate between the ends of `scan` at which periodic_peak_to_peak is greatest",
    ),
];
