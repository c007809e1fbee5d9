//! What a load step tells beside its measurements, under the keys of `summary.json`.

/// One of them.
pub(super) struct Topic {
    pub(super) name: &'static str,
    pub(super) summary: &'static str,
    /// Paragraphs.
    pub(super) text: &'static [&'static str],
    /// As it stands in the file.
    pub(super) example: &'static str,
}

pub(super) static TOPICS: [Topic; 4] = [
    Topic {
        name: "explanation",
        summary: "what the droop is made of, over the output capacitors",
        text: &[
            "at the worst instant each capacitor between output and ground splits the same droop \
             in its own way, from the settled level before the loading edge: charge is the fall of \
             the voltage on its capacitance, esr the change of the voltage across its series \
             resistance, esl the change of the voltage across its series inductance; the three add \
             up to the droop exactly",
            "with several capacitors each one's three terms count by the share of the charge that \
             it has delivered since the start of the edge; the shares add up to one, so the terms \
             still add up to the droop. Where none has delivered charge yet, they count by \
             capacitance",
            "a negative term held the output up; a capacitor that stands behind a trace or a \
             resistor sees another voltage and is left out",
        ],
        example: "\"explanation\": [\n  { \"cause\": \"charge\", \"part\": \"C_OUT\", \"value\": 0.0188, \"unit\": \"V\" },\n  { \"cause\": \"esr\", \"part\": \"C_OUT\", \"value\": 0.0016, \"unit\": \"V\" }\n]",
    },
    Topic {
        name: "of_which_static",
        summary: "the part of the droop that stays while the load stays",
        text: &["level before the loading edge minus settled level behind it: positive when the \
                 output stays lower"],
        example: "\"of_which_static\": 0.0008",
    },
    Topic {
        name: "input_sag",
        summary: "how far the input has fallen at the worst instant of the droop",
        text: &["input at the start of the loading edge minus input at the worst instant; it is \
                 told beside the explanation and is not part of the sum"],
        example: "\"input_sag\": 0.006",
    },
    Topic {
        name: "limited_by",
        summary: "what limited the recovery",
        text: &[
            "the first of these that holds for the loading edge:",
            "source, dropout: at the end of the loaded dwell a pass device is ohmic (a bipolar one \
             saturated) and the amplifier is wound up or at its drive limit, or it is so wound up \
             at the worst instant; source if the input has sagged since the edge by more than the \
             headroom left",
            "amplifier drive current: for more than half of the time from the start of the edge to \
             the worst instant the amplifier's output stage or its input stage gave its largest \
             current (90 % of it) or its lowest",
            "amplifier swing: for as long it was wound up at a swing limit",
            "nothing: the output goes to its loaded level without undershoot",
            "loop bandwidth: none of these, so the loop worked linearly and its speed decided",
            "for the releasing edge: the limit at which the amplifier was held when the edge began; \
             else drive current, swing or loop bandwidth up to the worst overshoot. It is told \
             behind \"on release by\" where it differs",
        ],
        example: "\"limited_by\": \"dropout; on release by loop bandwidth\"",
    },
];
