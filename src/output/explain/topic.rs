//! What is told beside measurements, under the keys and listings of `summary.json`.

/// One of them.
pub(super) struct Topic {
    pub(super) name: &'static str,
    pub(super) summary: &'static str,
    /// Paragraphs.
    pub(super) text: &'static [&'static str],
    /// As it stands in the file.
    pub(super) example: &'static str,
}

pub(super) static TOPICS: [Topic; 10] = [
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
    Topic {
        name: "windup",
        summary: "an overshoot after a dip of the source or at the start, and the clamp that made it",
        text: &[
            "told as a note of line steps, profiles and start-ups: the amplifier was held at a swing \
             limit while the output lay below its level; the output then passed the level for the first \
             time, by more than 0.5 % of nominal, and in one go: the last 0.1 % of nominal below the level \
             took no longer than the rise from there to the peak",
            "at its clamp the amplifier's internal node stands further away than regulation needs, and has \
             to come back at no more than stage_current / stage_capacitance before the pass device is \
             taken back; a clamp closer to where it works (`ceiling`, `swing_high`, `swing_low`) leaves \
             less to come back from",
        ],
        example: "\"notes\": [ \"overshoot by windup: the amplifier `EA` was …\" ]",
    },
    Topic {
        name: "droop_estimate",
        summary: "the droop of a load step by hand, beside the simulated one",
        text: &[
            "traditional estimate: step·ESR + ESL·step/edge + step·t/C, with t = 1/(2π·crossover) of \
             the loop before the edge",
            "drive plateau: how far the amplifier's output has to move, over the gain from the output \
             to it at the loaded loop's crossover. Once the loop is faster than the capacitor, this \
             decides and capacitance does not",
            "the last line takes the smaller of charge and plateau, and adds what stays",
        ],
        example: "\"listings\": [ { \"name\": \"droop_estimate\" } ]",
    },
    Topic {
        name: "headroom_budget",
        summary: "where the input's volts go at the worst instant of a test in time",
        text: &[
            "source, minus the drop over each part on the way to the input pin, minus the lowest \
             output allowed, minus the dropout of the pass devices at that load and temperature \
             (fully on), leaves the margin",
            "the instant is that at which the pin's voltage, less the dropout under the present \
             load, is least",
        ],
        example: "\"listings\": [ { \"name\": \"headroom_budget\" } ]",
    },
    Topic {
        name: "sensitivities",
        summary: "what each judged measurement depends on most",
        text: &[
            "the test is solved again with each named value, the output capacitors' capacitance, ESR \
             and ESL and the amplifier's gains turned up by 1 % and down by 1 % (temperatures by 1 \
             K); told is half the difference, the five largest for each measurement",
            "a change below the numerical uncertainty counts as none; where both sides differ by \
             more than their mean, both are told",
        ],
        example: "\"listings\": [ { \"name\": \"sensitivities\" } ]",
    },
    Topic {
        name: "loop_gain_poles",
        summary: "poles and zeros of the loop gain, and of the closed loop (closed_loop_poles)",
        text: &[
            "natural frequencies of the circuit with the wire at `rail.feedback` cut (poles), with \
             the terminal driven so that nothing comes back (zeros), or closed",
            "each is owned by the parts that store what swings in it: the share is how many percent \
             the frequency moves for one percent of the part. Shares of a pair add up with their \
             phases, so that each may be large",
            "a damping of 1 does not swing, one below 0 grows; a zero with a negative damping lies \
             on the right and costs phase",
        ],
        example: "\"listings\": [ { \"name\": \"loop_gain_poles\" } ]",
    },
    Topic {
        name: "causes",
        summary: "what moves the output in a load or line regulation",
        text: &[
            "finite loop gain: what would be left if only the loop's gain grew; resistance outside \
             the loop (or a direct path): what would stay however large it grew; reference moved: \
             what the amplifier's reference terminal takes along",
            "worked out from the return ratio at every step of the sweep and summed; the remainder \
             of the sum is told",
        ],
        example: "\"listings\": [ { \"name\": \"causes\" } ]",
    },
];

/// Calculations that need no circuit file.
pub(super) static CALCULATIONS: [Topic; 1] = [Topic {
    name: "budget",
    summary: "is a linear regulator right at all? heat, headroom, life of a battery",
    text: &[
        "dissipation: Pd = (Vin - Vout)*I + Vin*Iq; typical at the typical input and the mean load, \
         worst at the highest input and the highest load; Iq is the ground current, without the rise \
         that many parts show in dropout",
        "efficiency: Vout*I/(Vin*(I + Iq)) at the mean load; its ceiling Vout/Vin holds for every \
         linear regulator",
        "junction: Tj = Ta + Pd*theta at rest; thermal resistance needed: (limit - Ta)/Pd; load \
         allowed: the lasting current at the highest input that brings the junction to its limit",
        "headroom: lowest input - output, held against the dropout voltage",
        "life: battery charge/(mean load + Iq). A switching regulator draws Vout*I/(efficiency*Vin) \
         at the typical input, of a cell the mean over its discharge; the ratio of both lives is the \
         ratio of the efficiencies",
        "heat fails when the thermal resistance given is above the one needed for the mean load, \
         and is marginal when only short pulses keep it. With none given it passes from 250 K/W \
         (small packages; common practice, no source) and fails below 47 K/W (a TO-252 on one \
         square inch of copper, 103 K/W on the least; data sheet of LM78M and LM341)",
        "headroom fails below the dropout voltage. A margin below 10 % is marginal, in heat and in \
         headroom",
        "battery life, with --battery: marginal below 75 % and failing below 50 % of the life on the \
         switching regulator; a life of ten years passes, for age decides then. Without a battery, \
         lost power: marginal where the switching regulator would save more than 1 W. Efficiency \
         alone fails nothing. (Our choice of limits, no source; 85 % is assumed unless stated)",
        "source of theta junction to ambient: JEDEC JESD51-2A; it belongs to the board and the air \
         in which it was measured",
    ],
    example: "railstep budget --input 3.0V..4.2V --output 2.8V --load 2mA:95%,150mA:5% \\\n  --theta 60K/W --ambient 60°C --dropout 180mV --battery 1000mAh",
}];
