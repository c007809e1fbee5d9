//! `block`: the row of a user's own sub-circuit; reading expands it, so it lays out nothing.

use super::{Form, Key, Kind, Need, Terminals};

/// `block`
pub(super) static BLOCK: Kind = Kind {
    name: "block",
    summary: "an instance of a sub-circuit from [blocks.NAME]",
    terminals: Terminals::Ports,
    keys: &[
        Key {
            name: "block",
            form: Form::BlockName,
            need: Need::Required,
            text: "name of the sub-circuit",
        },
        Key {
            name: "values",
            form: Form::BlockValues,
            need: Need::Absent,
            text: "values of the block that differ in this instance",
        },
    ],
    rules: &[],
    law: "the parts of the block, named U1.R2 for R2 inside U1, between the nodes of its ports",
    noise: "that of its parts",
    source: "definition",
    example: r#"U1 = { kind = "block", block = "cell", ports = { plus = "vin", minus = "gnd" } }"#,
    lay: |_, _, _| {},
};
