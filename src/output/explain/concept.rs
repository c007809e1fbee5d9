//! Words of the trade, and of what is printed here, that are no part, test or measurement of their own.

/// One word.
pub(super) struct Concept {
    pub(super) name: &'static str,
    pub(super) summary: &'static str,
    /// Paragraphs.
    pub(super) text: &'static [&'static str],
    pub(super) equation: &'static str,
    /// And the values there can be.
    pub(super) unit: &'static str,
    /// What holds when nothing is said.
    pub(super) default: &'static str,
    pub(super) source: &'static str,
    /// Lines of a circuit file, or a command.
    pub(super) example: &'static str,
}

pub(super) static CONCEPTS: &[Concept] = &[
    Concept {
        name: "dropout_definitions",
        summary: "how small input minus output may get: three definitions, up to twice apart",
        text: &[
            "\"100 mV below\" (any voltage): where the falling input has taken the output that far \
             below its reference value; from the footnotes of bipolar regulators",
            "\"2 % below\" (any share): the same by a share of the reference value; usual with MOS \
             regulators, with 1, 3 and 5 % too",
            "\"fully on\": the pass device driven as far as it goes, the pin at 95 % of nominal; its \
             voltage is then resistance times current",
            "the reference value is the output with the pin at nominal + reference_headroom (1 V), \
             which must be in regulation there. A figure without its definition, current and \
             temperature says nothing",
        ],
        equation: "v_in - v_out where v_out = v_reference - 100 mV; where v_out = (1 - 2 \
                   %)·v_reference; R_on·i",
        unit: "V; 0 or above",
        default: "none: a requirement on `dropout` names one",
        source: "footnotes of datasheets, from memory; common practice, no source",
        example: "[[tests]]\nname = \"falling input\"\nkind = \"dropout\"\n\
                  require = { dropout = { limit = \"<= 120 mV\", definition = \"2 % below\" } }",
    },
    Concept {
        name: "margin",
        summary: "how far a figure lies inside its limit, as a share",
        text: &[
            "told beside every verdict, rounded down, negative outside; of a range the smaller one of \
             both ends counts",
            "the scale is the limit's size for excursions, times, powers, currents, degrees and dB; \
             the limit's distance from nominal for output levels; from ambient for temperatures. A \
             limit of 0 has no margin",
            "not to be mixed up with phase_margin and gain_margin, which are properties of a loop",
        ],
        equation: "(limit - value)/scale below an upper limit, (value - limit)/scale above a lower \
                   one",
        unit: "%; any, 100 % at most for what cannot be negative",
        default: "told for every limit but 0",
        source: "our own definition",
        example: "require = { droop = \"<= 30 mV\" }",
    },
    Concept {
        name: "marginal",
        summary: "a verdict: the limit is kept, but by less than a tenth of it",
        text: &[
            "the exit code is that of a pass, and the word is told. A figure that lies beyond its \
             limit, or inside, by less than its numerical uncertainty is marginal as well, as long as \
             the uncertainty is small beside the limit; else it is not evaluated",
        ],
        equation: "0 <= margin < 10 %",
        unit: "a word",
        default: "10 %",
        source: "our own choice of limit",
        example: "require = { droop = \"<= 30 mV\" }",
    },
    Concept {
        name: "verdict",
        summary: "pass, marginal, fail, not-evaluated, error or no-requirements, and the exit code",
        text: &[
            "a test's verdict is the worst of its requirements that count (advisory ones never do), a \
             file's the worst of its tests, in this order: fail, error, not-evaluated, marginal, pass",
            "fail: the figure is outside, or the rail oscillates, latches, does not settle within the \
             limit or settles outside its window. not-evaluated: the thing asked for does not exist \
             there, or was watched too briefly to tell. error: the test could not be solved",
            "oscillates: a ripple above 0.1 % of nominal that keeps its size for at least two periods \
             at the end of a dwell, and has the same amplitude and frequency when solved ten times \
             tighter, within the uncertainty told; where that solution does not show it, it is of the \
             steps and not-evaluated",
            "exit code: 0 pass, marginal or no requirements; 1 fail or not-evaluated; 2 the input is \
             wrong or a file cannot be written; 3 error; 130 interrupted",
        ],
        equation: "worst of all",
        unit: "a word",
        default: "no-requirements, where nothing is asked for",
        source: "our own definition",
        example: "require = { droop = { limit = \"<= 30 mV\", advisory = true } }",
    },
    Concept {
        name: "uncertainty",
        summary: "what stands behind ±: how far the solution may be off, not the rail",
        text: &[
            "every test is solved again at a tenth of its tolerance; twice the difference of both \
             figures is told, for voltages not less than an eighth of the tolerance. On 5134 figures \
             of random circuits the true error was inside in 99.9 % (tests/uncertainty.rs)",
            "it says how well the equations were solved. How true the models are it cannot know, and \
             what tolerances do is told by corners and spread",
        ],
        equation: "2·|x(tolerance) - x(tolerance/10)|",
        unit: "that of the figure; 0 or above",
        default: "worked out in every run; `--quick` leaves it out",
        source: "step-size control by two tolerances, common practice; the rule is our own",
        example: "railstep run FILE --accuracy 1uV",
    },
    Concept {
        name: "corner",
        summary: "one combination of environment and limits of tolerances",
        text: &[
            "`[corners]` lists levels of the environment: every combination of them is run. Tolerances \
             are turned to their limits from the worst of these. `railstep run FILE --corners` judges \
             each requirement where it is worst and prints the `--set` arguments of that corner",
            "see `corners` for the search, `spread` for what lies between the corners",
        ],
        equation: "every combination of the lists, times both limits of each tolerance",
        unit: "a list of settings",
        default: "nominal values only",
        source: "extreme-value analysis, common practice, no source",
        example: "[corners]\nambient = [\"-20 °C\", \"25 °C\", \"60 °C\"]",
    },
    Concept {
        name: "allowed_region",
        summary: "capacitance and ESR between which every requirement holds: what purchasing may buy",
        text: &[
            "a regulator needs enough capacitance, and an ESR that is neither too low nor too high: \
             the ESR's zero lends phase to many loops, and costs droop in all. `map` draws the \
             boundary over two values; `tune` writes a box inside it as `allowed_region`, run at its \
             corners and mid-sides at every corner of the environment",
            "both figures are effective ones: what is left of the label at voltage, temperature and age",
            "`railstep compare FILE --region tune.json --substitute C=3.3uF,ESR=8mΩ` checks a part \
             against it",
        ],
        equation: "{ (C, ESR): every requirement holds }",
        unit: "F and Ω, effective",
        default: "of the values with a `range`",
        source: "our own definition; the ESR window of regulators is common practice, no source",
        example: "railstep map FILE --vary c_out --vary esr_out --of margin",
    },
    Concept {
        name: "effective_capacitance",
        summary: "what is left of a capacitor's label at its voltage, temperature and age",
        text: &[
            "the label holds at no voltage, 25 °C, new, within its tolerance. Ceramics of classes 2 \
             and 3 lose most of it by voltage and some per decade of hours; electrolytics by cold, \
             which raises their ESR too",
            "`remaining` gives what is left as a whole; `bias_curve`, `dielectric` and `age` let it \
             follow. Beside every test stands what each capacitor comes to at rest. `railstep explain \
             capacitor` has the law",
        ],
        equation: "C = capacitance·(1 + drift(T))·(1 - ageing·log10(age/1000 h))·b(|v|)",
        unit: "F; above 0",
        default: "a ceramic with neither `remaining` nor curve gets what is common for its class, and a \
                  caution",
        source: "IEC 60384-1, EIA-198; losses by bias and age: common practice, no source",
        example: "[parts.C_2]\nkind = \"capacitor\"\nnodes = [\"vout\", \"gnd\"]\ncapacitance = \"4.7 \
                  µF\"\nremaining = \"62 %\"",
    },
    Concept {
        name: "esr",
        summary: "equivalent series resistance of a capacitor: droop at once, phase for the loop",
        text: &[
            "a load step falls on the ESR before any charge is missing; the same resistance makes a \
             zero at 1/(2π·ESR·C), without which many loops ring. It rises in the cold (`esr_curve`) \
             and at low frequencies (`esr_low`)",
        ],
        equation: "droop at once = ESR·Δi; zero at f = 1/(2π·ESR·C)",
        unit: "Ω; 0 or above",
        default: "0 Ω: an ideal capacitor",
        source: "series equivalent circuit, IEC 60384-1",
        example: "[parts.C_2]\nkind = \"capacitor\"\nnodes = [\"vout\", \"gnd\"]\ncapacitance = \"10 µF\"\nesr = \"6 mΩ\"",
    },
    Concept {
        name: "esl",
        summary: "equivalent series inductance of a capacitor: a spike while the current changes",
        text: &[
            "its voltage lasts as long as the edge does, so the edge decides: ten times faster, ten \
             times higher. Traces count like it",
        ],
        equation: "spike = ESL·di/dt; resonance at f = 1/(2π·√(ESL·C))",
        unit: "H; 0 or above",
        default: "0 H",
        source: "series equivalent circuit, IEC 60384-1",
        example: "[parts.C_2]\nkind = \"capacitor\"\nnodes = [\"vout\", \"gnd\"]\ncapacitance = \"10 µF\"\nesl = \"0.6 nH\"",
    },
    Concept {
        name: "quantity",
        summary: "how figures are written: number and unit, prefixes, expressions",
        text: &[
            "a text: \"4.7 µF\", \"4.7uF\", \"4u7\" (letter codes of IEC 60062: \"4k7\" are ohms), \"150 \
             mA\", \"0.5 %\", \"-40 °C\", \"3.3 V/µs\". SI prefixes f p n µ (u) m k M G, case counts; a \
             bare number only where there is no unit, and 0 anywhere",
            "or an expression of named values: + - * / ^, parentheses, sqrt, ln, exp, tanh, sin, cos, \
             min, max, abs, with `rail.nominal` and `rail.ambient` in scope. Units are checked all \
             through",
            "preferred values (`series`, E3 to E192) are those of IEC 60063",
        ],
        equation: "number·prefix·unit",
        unit: "that of the key",
        default: "none: a number without its unit is a mistake",
        source: "SI; IEC 60062 (letter codes), IEC 60063 (preferred numbers)",
        example: "[values]\nr_bottom = \"120 kΩ\"\nr_top = \"r_bottom * (rail.nominal / 1.2 V - 1)\"",
    },
    Concept {
        name: "books",
        summary: "energy and charge, balanced over every test in time",
        text: &[
            "energy: what sources gave, less what parts turned into heat, less what is stored, over \
             what passed. Charge: of each capacitor, what flowed in less what it holds more. Both are \
             worked out from the integrator's own curve after the march, so that they do not balance by \
             construction; a residual above 1e-5 means that the figures are not to be trusted",
        ],
        equation: "|∫ Σ v·i dt - ΔW| / ∫ |v·i| dt, and |∫ i dt - Δq| / ∫ |i| dt",
        unit: "none; 0 or above",
        default: "worked out in every run",
        source: "conservation of energy and charge",
        example: "railstep run FILE --cross-check",
    },
    Concept {
        name: "advisory",
        summary: "a requirement that is judged and told, but never decides",
        text: &[
            "its line shows value, margin and verdict with `(advisory)` behind it; the test's verdict, the \
             file's and the exit code leave it out. Counts such as \"72 of 77 requirements hold\" do not \
             count it either, and say how many they leave out",
            "for a wish beside a limit that must hold, or a figure that is to be watched",
        ],
        equation: "verdict = worst of those that are not advisory",
        unit: "true or false",
        default: "false: every requirement counts",
        source: "our own definition",
        example: "require = { droop = { limit = \"<= 20 mV\", advisory = true } }",
    },
    Concept {
        name: "band",
        summary: "how near the output must come to its level to count as recovered; or a stretch of frequencies",
        text: &[
            "of times (recovery, settling): the output is back at the last entry into the band around the \
             level of `about`, above and below it. A recovery without its band says nothing: halving the \
             band can double the time",
            "of noise and the like: the lowest and highest frequency, `band = [\"10 Hz\", \"100 kHz\"]`",
        ],
        equation: "back where |v - v_level| <= band from then on",
        unit: "V, or a share of nominal; Hz of frequencies",
        default: "none: a requirement on a time names one",
        source: "common practice, no source",
        example: "require = { recovery = { limit = \"<= 20 µs\", band = \"0.5 %\" } }",
    },
    Concept {
        name: "drive_plateau",
        summary: "the droop that it takes to move the control of the pass device, whatever the capacitance",
        text: &[
            "to carry the new load the amplifier's output has to move by ΔV, and only an error at the \
             output can move it. Where that error, ΔV over the gain from the output to the control at the \
             crossover of the loaded loop, is less than what the charge would give, it is the droop: more \
             capacitance then helps little, more gain or less to move does",
            "told in `droop_estimate` beside the traditional estimate, without --quick",
        ],
        equation: "droop = ΔV/K, K the gain from output to control at the crossover",
        unit: "V; 0 or above",
        default: "told where the rail names `feedback` and an amplifier",
        source: "our own reckoning; simulated droops lie beside it in `droop_estimate`",
        example: "railstep run FILE --test NAME",
    },
    Concept {
        name: "loop_bandwidth",
        summary: "what limits a recovery when nothing is at its limit: how fast the loop answers",
        text: &[
            "neither source nor pass device is out of headroom, and for most of the time to the worst \
             instant no stage of the amplifier gave its largest current or stood at a swing limit: the \
             loop works linearly. A higher crossover recovers sooner, as far as the phase margin allows",
            "its number is `crossover`, of a loop-gain test; `live` shows it at the levels of a step",
        ],
        equation: "time to answer = 1/(2π·f_c), f_c the crossover",
        unit: "Hz; above 0",
        default: "told as `limited by` of load steps where the rail names an amplifier",
        source: "common practice, no source",
        example: "railstep explain crossover",
    },
    Concept {
        name: "mid_band_gain",
        summary: "the amplifier's gain where its lag has levelled off: between its pole and its zero's end",
        text: &[
            "an error amplifier with a resistance and a capacitance in series (`lag_resistance`, \
             `lag_capacitance`) loses gain with frequency until the resistance is all that is left; from \
             there on its gain is flat. A step is answered with that gain, not with the one at rest",
        ],
        equation: "transconductance·lag_resistance, beside stage_resistance",
        unit: "V/V; above 0",
        default: "without a lag: one pole, and no flat stretch",
        source: "transfer function of the stage",
        example: "railstep explain error-amplifier",
    },
    Concept {
        name: "output_bank",
        summary: "all capacitors at the output together: what stands in for the loop until it answers",
        text: &[
            "`rail.output_capacitors`, or every capacitor between output and ground where that is not \
             given. `check` and `run` print each with its label and with what is left of it; the droop is \
             split among their charge, ESR and ESL",
        ],
        equation: "their admittances add up",
        unit: "F, Ω and H",
        default: "every capacitor from output to ground",
        source: "common practice, no source",
        example: "railstep check FILE",
    },
    Concept {
        name: "searched",
        summary: "how a worst case was found where not every combination was run",
        text: &[
            "corners of the environment are all run. Of n tolerances there are 2^n combinations of limits: \
             from the worst corner each is turned to both its limits alone, then all together to their worse \
             sides, then turned back one by one until nothing gets worse. What is found is a vertex that no \
             single turn makes worse; a worse one far from it, or between the limits, is not excluded. \
             `spread` looks there by chance",
        ],
        equation: "corners·(1 + 2·n) runs and a few more, instead of corners·2^n",
        unit: "a vertex, as `--set` arguments",
        default: "one vertex deep with `--quick`",
        source: "coordinate search over vertices; our own order",
        example: "railstep run FILE --corners",
    },
    Concept {
        name: "tolerance",
        summary: "how far a real part may lie from its label, both ways or each way apart",
        text: &[
            "a share, `\"20 %\"`, or `[\"-20 %\", \"80 %\"]`, on a named value or a part's own key. Runs take \
             nominal values; `run --corners` turns tolerances to their limits, `spread` draws between them \
             (`distribution`: uniform between the limits, or normal with the limits at three sigma)",
        ],
        equation: "label·(1 - below) <= value <= label·(1 + above)",
        unit: "%; 0 or above",
        default: "0: exact",
        source: "IEC 60062 for the letters of tolerances; three sigma: our own choice",
        example: "[values]\nc_bulk = { value = \"10 µF\", tolerance = \"20 %\" }",
    },
];
