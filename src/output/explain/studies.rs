//! What each study is: how it decides, and what stands in the file for it.

use super::topic::Topic;

/// Studies, by the word of their command.
pub(super) static STUDIES: &[Topic] = &[
    Topic {
        name: "corners",
        summary: "what `run --corners` judges: each requirement where it is worst",
        text: &[
            "every combination of the levels in `[corners]` is run; lists that move nothing in a \
             test, or that the test sets itself, are left out of it",
            "from the worst combination of each requirement its tolerances are searched: each is \
             turned to both limits alone, then all together to their worse sides, and each turned \
             back once more until nothing gets worse. What is told was run, not added up; it is the \
             worst that was found, which for a requirement that bends between the limits need not be \
             the worst there is",
            "`corner` beside a measurement holds the arguments that make it again: paste them after \
             `railstep run FILE --test NAME`. Pictures and waveforms stay nominal",
        ],
        example: "[corners]\nv_cell = [\"3.40 V\", \"4.20 V\"]\nambient = [\"-10 °C\", \"25 °C\", \"60 °C\"]",
    },
    Topic {
        name: "spread",
        summary: "yield over drawn runs, extreme values, what the variance comes from (railstep spread)",
        text: &[
            "each run draws every list of `[corners]` evenly between its lowest and highest level, and \
             every `tolerance` around what it is there: evenly between its limits, or with \
             `distribution = \"normal\"` about nominal, each limit at three standard deviations of its \
             side. What a test sets itself stays. A run depends on seed and number alone and is the \
             same in all tests",
            "a run fails when a requirement that counts is missed, cannot be evaluated, or the run \
             cannot be solved. The yield has its exact 95 % interval (Clopper and Pearson 1934); with no \
             failure in N runs at most 3/N fail, on that side alone",
            "extreme values: all corners of the environment, then from the worst one each tolerance to \
             its worse limit, and back once more while it gets worse. A worst case strictly inside the \
             limits is found by the drawn runs alone, and said",
            "contributors: squares of the standardised coefficients of a linear regression on all \
             that was drawn; below R² = 0.7 on ranks, and told to be a hint only if that explains as \
             little",
            "static error budget: the settled output with one cause at its limit at a time; gain of \
             the amplifier: the level less that with a thousand times the gain. Summed by extreme \
             values, and tolerances as root of the sum of squares; what is left to the edges of the \
             transient window is what a droop and an overshoot may take",
        ],
        example: "[values]\nc_out = { value = \"4.7 µF\", tolerance = \"20 %\" }\n[corners]\nambient = [\"-10 °C\", \"60 °C\"]",
    },
    Topic {
        name: "map",
        summary: "one measurement over one or two values, and the boundary of what holds",
        text: &[
            "every place of a grid is one run of one test with the values set as `--set` would set \
             them. Where neighbours differ in holding the limit, the crossing between them is solved \
             for, to 1 % of their distance or three runs; crossings are joined to lines, and a cell \
             that could be passed in two ways is decided by a run at its middle. Without a count the \
             grid has 13 by 13 places and every cell at the boundary is split once",
            "slack is the distance inside the limit over the limit (of a range over its nearer end, \
             of a window over half its width), negative outside; `--of margin` maps the least of all \
             requirements that count. A run that cannot be solved, or in which the rail has no such \
             number, is a row with its reason and counts as missing the limit",
            "the nearest edge is the place of the boundary that is nearest to the present design by \
             ratio: natural logarithms on axes stepped by ratio, shares of the present value on \
             others, shares of the range for temperatures. It and the edges along each value alone \
             are closed in on to 0.2 % by runs on both sides",
        ],
        example: "railstep map FILE --vary c_out=1uF..47uF --vary esr_out=2mohm..3ohm --of droop",
    },
];
