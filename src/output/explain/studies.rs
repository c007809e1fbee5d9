//! What each study is: how it decides, and what stands in the file for it.

use super::topic::Topic;

/// Studies, by the word of their command.
pub(super) static STUDIES: &[Topic] = &[
    Topic {
        name: "study",
        summary: "what all studies share: the same runs everywhere, resuming, parts on several machines",
        text: &[
            "a study sets values as `--set` would: over the file, under what a test sets itself. What \
             it prints as worst was run, and the arguments make it again in `railstep run`",
            "results do not depend on the number of threads. A run that needs more than 20000 step \
             attempts, and twenty times what the test needs as it stands, is given up and told as such",
            "each run is written to a journal in the results folder as soon as it is done; an \
             interrupted study goes on from there, unless the file or the question has changed or \
             `--fresh` is given. The journal is removed at the end",
            "`--shard 2/5` makes the second of five parts of the first round of runs and leaves its \
             journal; `railstep study merge DIR…` joins all parts and does what is left",
        ],
        example: "railstep map FILE --vary c_out --vary esr_out --shard 1/2 --out part1\n\
                  railstep map FILE --vary c_out --vary esr_out --shard 2/2 --out part2\n\
                  railstep study merge part1 part2 --out results/joined",
    },
    Topic {
        name: "corners",
        summary: "what `run --corners` judges: each requirement where it is worst",
        text: &[
            "every combination of the levels in `[corners]` is run; lists that move nothing in a \
             test, or that the test or a `--set` sets, are left out of it",
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
        name: "models",
        summary: "models of a regulator: several that agree with its datasheet equally well (--models)",
        text: &[
            "a datasheet does not decide what is inside a regulator: many insides make its points as well. \
             `railstep model` hands on a file of them, each a list of `--set` changes, the best one \
             first; `--models FILE` of run, map and spread tries them all, so that a conclusion shows \
             what it rests on. A `--set` of your own wins over what a model sets",
            "run: each requirement is judged with every model; the line is that of the worst one, with the \
             lowest and highest value over all. A conclusion that is the same with every model rests on \
             the datasheet; one that is not rests on what is assumed inside, and the inner value is told \
             whose order over the models is most like that of the figure (Spearman's rank correlation, from \
             four models on; of equal ones the value that differs most). Pictures, waveforms and what has no limit are the best model's. With \
             `--corners` the corners are searched with the best model, and the worst one of each \
             requirement is tried with all; a tolerance is turned to the same side of what it is about \
             there",
            "map: every place is run with every model; value, margin and boundary are those of the worst \
             one there, and places where only some hold are counted. spread: each run draws a model, each \
             as likely; yields are told mixed and for each model, with the share of the variance that \
             lies between models (correlation ratio, Kelley 1935)",
            "the file is JSON: { \"format\": 1, \"regulator\": \"U1\", \"models\": [{ \"name\": \"best\", \
             \"set\": [\"U1.mid_gain=60\"], \"misfit\": 0.5 }] }; every model sets the same values, and any \
             value or key of the file will do. An ensemble is as wide as it was made: models that \
             nobody thought of are not in it",
        ],
        example: "railstep run FILE --models results/FILE-STEM/model/models.json\n\
                  railstep map FILE --vary c_out --models results/FILE-STEM/model/models.json",
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
    Topic {
        name: "compare",
        summary: "a measured trace over a test, values fitted to it, and a substitute checked",
        text: &[
            "the trace is a CSV file whose heads tell units: `time [µs],vout [mV]`. Comma, semicolon or \
             tab between columns, decimal commas with the latter two, lines of # and whatever an \
             instrument writes above the heads are read; a column without a unit is refused",
            "shift: the instant of the record at which the trace's zero lies, found by sliding the \
             trace along the solution and then refined with the fit. Offset: a constant error of the \
             probe, only where `--offset free` asks for it",
            "fit: least squares of measured minus calculated within bounds, from several starts; values \
             above zero move by ratio. The solution is taken on its own curve at each sample's instant",
            "interval: 95 %, by Student's t from the slopes and the residual's variance, shift and offset \
             counted as unknowns. Neighbouring samples of an oscilloscope are not independent: with \
             their correlation r the samples count as (1 - r)/(1 + r) of their number. At both ends \
             the test is solved again; where the residual rises more slowly than by the slopes, the \
             interval is widened",
            "cannot be told apart: values that can make up for each other all the way between their \
             bounds without leaving the noise; told is what stays known of them, such as their sum. A \
             value on its bound has no interval",
            "noise: `--noise`, or the trace ahead of the first edge about a straight line. The residual \
             agrees where its rms differs from the noise by no more than chance allows at 95 %",
            "substitution check: the output capacitor (as fitted, as in the file, or `--substitute`) \
             against the `allowed_region` of `--region`; with `--verify` every requirement of every \
             test is run at each corner of the environment, tolerances at their nominal values",
        ],
        example: "railstep compare rail.toml --measured scope.csv --fit c_out --fit esr_out\n\
                  railstep compare rail.toml --region tune.json \\\n  --substitute C=3.3uF,ESR=8mΩ --verify",
    },
    Topic {
        name: "model",
        summary: "a regulator known by its datasheet, given an inside that behaves as the sheet says \
                  (`railstep model FILE --part NAME`)",
        text: &[
            "every figure of the datasheet that can be measured is a point, read on a test of a bench: an \
             ideal source, the regulator, an output capacitor, a load. The bench is written too, as \
             `bench.toml`, and any point can be run again. Limits, start-up, heat and shutdown follow from \
             the sheet directly and are no points; on the bench junctions stay at ambient, as in short \
             pulses",
            "off: the logarithm of found over asked, divided by that of what the point may differ \
             (`within`; 10 %, dropouts and ground currents 5 %); of rejections the difference over 3 dB. \
             Beyond 1 a point is missed",
            "fit: least squares of all points over the inner values within their bounds, from several \
             starts; how far a value lies from where its topology lets one expect it counts a little too, \
             which settles what no point tells. A capacitor or ESR that neither row nor sheet gives is \
             found with the fit, between the ends of what the sheet recommends",
            "models that agree equally well: from the best one each value is walked to both sides, the \
             others following so that no point is missed (or missed by more than 1.1 times what the best \
             one misses it by), each step run, to the rim or to twice its spread from where it was \
             expected; and random shares of two such ways. Lowest and highest are over all models found: they are known to be possible, \
             not known to be the farthest",
            "undetermined: a value that goes as far as one can believe both ways, or over more than a factor \
             of ten. \
             Expected: the points narrow it by less than a tenth of what it may differ beforehand. Cannot \
             be told apart: correlation of 0.9 or more at the best model",
            "the load-step and loop-gain tests of the file are run with every model, and on the bench one from \
             a tenth of the rated current to all of it where the file has none. A verdict that is the same \
             for all rests on the datasheet, if they meet it; one that is not rests on the assumed inside, \
             and the value is told that it goes with most",
            "what does not go together: the smallest set of points found that, left out, lets all others be \
             met; and ends of the recommended capacitor and ESR at which models are not stable",
            "`--write parts/U1.toml` writes the model as a file to include, never over anything but an \
             earlier model; `models.json` holds all models, for `--models` of other commands",
        ],
        example: "railstep model rail.toml --part U1 --write parts/U1.toml",
    },
    Topic {
        name: "tune",
        summary: "preferred values that meet every requirement at every corner, and what purchasing may \
                  buy instead (`railstep tune FILE`)",
        text: &[
            "tuned is every value with a `series` and a `range` or with a `stock` list, or what `--vary` \
             names; `--parallel C_OUT=1..3` tries equal capacitors in parallel (key `count`). Tests that \
             set such a value themselves are left out, advisory requirements never count",
            "all candidates are run at nominal values first; then the worst corner and tolerances of \
             the best one are searched and tried on all others, until the best one is one that was \
             searched. The tolerance of a tuned value moves with it",
            "margin is the distance inside a limit as a share of the limit (of half a window). Those \
             with at least 10 % come first, the smallest ahead: size is capacitance on the label times \
             rated voltage times number, which stands for cost. The others follow by margin. Where \
             nobody has 10 %, nine tenths of the best margin are enough. What all that are left meet \
             alike, within 1 %, does not rank, and is told",
            "a requirement that no candidate meets, or none together with the others, is set apart \
             with the best that was reached; the verdict is then fail, and the ranking goes on without. \
             With one that is missed at nominal values already, the whole test no longer counts, for no \
             choice passes it",
            "allowed_region: capacitance and ESR of the output capacitor between which every requirement \
             holds, as effective values; run at the corners and mid-sides of that box",
        ],
        example: "c_out = { value = \"4.7 µF\", tolerance = \"20 %\", range = [\"1 µF\", \"47 µF\"], series = \"E6\" }",
    },
];
