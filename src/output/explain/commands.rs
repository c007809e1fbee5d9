//! What the commands are for that are no study and no calculation.

use super::topic::Topic;

/// Commands, by their words.
pub(super) static COMMANDS: &[Topic] = &[
    Topic {
        name: "run",
        summary: "solve every test of a file, measure, judge, explain, write results",
        text: &[
            "for each test: what is understood, a table of measurements with limits, margins and \
             verdicts, what made the droop and what limited the recovery, notes, cautions. On a \
             terminal a sketch of the output stands with it (`--no-sketch` leaves it out)",
            "results/FILE-STEM/ holds a CSV file and a picture for each test, report.html, one page to \
             hand on, and summary.json for programs; each file is written whole or not at all",
            "`--test NAME` picks tests, `--set NAME=VALUE` changes a value or a key for this run, \
             `--corners` judges at the worst corner, `--quick` leaves the uncertainty out, \
             `--cross-check` solves by a second formula too. `railstep explain verdict` has the exit \
             codes",
        ],
        example: "railstep run FILE --test NAME --set c_out=10uF",
    },
    Topic {
        name: "check",
        summary: "read files, tell every mistake at its place, solve the operating point",
        text: &[
            "nothing is run through time and nothing written. All mistakes of a file are told at once, \
             each with its line and what to type instead; then what was understood: rail, path, \
             divider, output bank, what each test drives",
            "`--expand` prints what regulators known by their datasheets are taken apart into",
        ],
        example: "railstep check FILE",
    },
    Topic {
        name: "live",
        summary: "turn values in a page of your own machine and watch the rail follow",
        text: &[
            "prints an address on 127.0.0.1, reachable from this machine only, and serves it until \
             interrupted: a slider for each named value with a range, the waveform, the requirements, \
             the phase margin. The file itself is never written over",
        ],
        example: "railstep live FILE",
    },
    Topic {
        name: "new",
        summary: "write a commented file to start from, which passes as it stands",
        text: &[
            "`--like DEMO` starts from a demo with all its files, `--regulator` from the datasheet of a \
             regulator. Nothing that exists is written over",
        ],
        example: "railstep new my-rail",
    },
    Topic {
        name: "schema",
        summary: "the JSON Schema of the circuit file, with which editors complete and explain it",
        text: &[
            "draft 2020-12, made from the same tables as this help: kinds, keys, words and forms, each \
             with what it means. Tell your editor to hold circuit files against it. Names, units and \
             what the parts make together are for `railstep check`",
            "files to include are described under #/$defs/included-file",
        ],
        example: "railstep schema",
    },
    Topic {
        name: "completions",
        summary: "a script that completes commands and options in bash, zsh, fish, elvish, powershell",
        text: &["printed to standard output; put it where your shell looks for such scripts"],
        example: "railstep completions bash",
    },
    Topic {
        name: "explain",
        summary: "what a part, test, measurement, command or word means",
        text: &[
            "without a name it lists all by group. Capitals do not matter, and `phase margin`, \
             `phase-margin` and `phase_margin` are the same; a name that does not exist is answered \
             with those that are near",
        ],
        example: "railstep explain phase margin",
    },
];
