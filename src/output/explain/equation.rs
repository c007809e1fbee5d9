//! The equation of each measurement, the values it can take, and where its definition comes from; for
//! each kind of test how it is solved.

/// What stands below a definition.
pub(super) struct Equation {
    pub(super) name: &'static str,
    pub(super) formula: &'static str,
    /// Which values there can be.
    pub(super) values: &'static str,
    pub(super) source: &'static str,
}

/// How a kind of test is solved.
pub(super) struct Method {
    pub(super) kind: &'static str,
    pub(super) equation: &'static str,
    pub(super) source: &'static str,
}

const TRADE: &str = "common practice in the trade, no source";
const OWN: &str = "our own definition";
const LOOP: &str = "R. D. Middlebrook, Int. J. Electronics 38 (1975); M. Tian et al., IEEE Circuits and \
                    Devices Magazine 17 (2001), which take the loop's gain with the loop closed";
const LINES: &str = "linear network theory: (G + s·C)·x = b at the operating point";
const ANY: &str = "any";
const FROM_0: &str = "0 or above";
const USUALLY_FROM_0: &str = "0 or above; negative where the output goes the other way. A negative \
                              rail counts with its sign turned: down is towards 0 V";
const FROM_0_TO_1: &str = "0 to 100 %";

const fn row(
    name: &'static str,
    formula: &'static str,
    values: &'static str,
    source: &'static str,
) -> Equation {
    Equation { name, formula, values, source }
}

pub(super) static EQUATIONS: &[Equation] = &[
    row("before_level", "(1/T)·∫ v_out dt over the last tenth T of the first dwell", ANY, TRADE),
    row("loaded_level", "(1/T)·∫ v_out dt over the last tenth T of the dwell", ANY, TRADE),
    row("released_level", "(1/T)·∫ v_out dt over the last tenth T of the dwell", ANY, TRADE),
    row("droop", "before_level - min v_out(t)", USUALLY_FROM_0, TRADE),
    row("ring_back", "max v_out(t) - loaded_level, t after the lowest instant", FROM_0, TRADE),
    row("overshoot", "max v_out(t) - level", USUALLY_FROM_0, TRADE),
    row("recovery", "max { t: |v_out(t) - level| >= band } - t_edge", FROM_0, TRADE),
    row("release_recovery", "max { t: |v_out(t) - level| >= band } - t_edge", FROM_0, TRADE),
    row("static_change", "loaded_level - before_level", ANY, TRADE),
    row("output_minimum", "min v_out(t)", ANY, TRADE),
    row("output_maximum", "max v_out(t)", ANY, TRADE),
    row("longest_below", "longest interval with v_out(t) < level", FROM_0, OWN),
    row("longest_above", "longest interval with v_out(t) > level", FROM_0, OWN),
    row("total_below", "total length of all t with v_out(t) < level", FROM_0, OWN),
    row("late_ripple", "max v_out(t) - min v_out(t) over the last fifth of the dwell", FROM_0, OWN),
    row("headroom_minimum", "min (v_in(t) - v_out(t))", ANY, TRADE),
    row("input_minimum", "min v_in(t)", ANY, TRADE),
    row("input_maximum", "max v_in(t)", ANY, TRADE),
    row("pass_power_peak", "max Σ v·i of the pass devices", ANY, "energy conservation"),
    row("pass_power_mean", "(1/T)·∫ Σ v·i dt of the pass devices", ANY, "energy conservation"),
    row("source_current_peak", "max i_source(t)", ANY, TRADE),
    row("efficiency", "∫ v_out·i_load dt / ∫ Σ v·i dt of source and supplies", FROM_0_TO_1, TRADE),
    row("ground_current", "mean of i_source + Σ i_supplies - i_load", ANY, TRADE),
    row(
        "capacitor_stress",
        "max |v(t)| / (rated_voltage·derating)",
        "0 or above; 100 % is the rating",
        TRADE,
    ),
    row("output_level", "v_out at rest", ANY, TRADE),
    row("output_error", "(v_out - nominal) / nominal", ANY, TRADE),
    row("headroom", "v_in - v_out at rest", ANY, TRADE),
    row("window", "min (level - low, high - level)", "positive inside, negative outside", OWN),
    row(
        "transient_window",
        "min over t of (v_out - low, high - v_out)",
        "positive inside, negative outside",
        OWN,
    ),
    row("load_regulation", "v_out(from) - v_out(to)", ANY, TRADE),
    row("load_regulation_share", "(v_out(from) - v_out(to)) / nominal", ANY, TRADE),
    row("load_regulation_slope", "(v_out(from) - v_out(to)) / (i(to) - i(from))", ANY, TRADE),
    row("load_regulation_settled", "v_out(from) - v_out(to), junctions settled", ANY, TRADE),
    row("line_regulation", "max v_out - min v_out over the source's levels", FROM_0, TRADE),
    row("line_regulation_share", "(max v_out - min v_out) / nominal", FROM_0, TRADE),
    row("line_regulation_slope", "(max v_out - min v_out) / (nominal·Δv_in)", FROM_0, TRADE),
    row("line_regulation_settled", "max v_out - min v_out, junctions settled", FROM_0, TRADE),
    row(
        "dropout",
        "v_in - v_out where v_out = v_reference - 100 mV, or (1 - 2 %)·v_reference, or with the pass \
         device fully on at v_in = 95 % of nominal",
        ANY,
        "footnotes of regulators' datasheets, which use all three (from memory); see \
         `railstep explain dropout definitions`",
    ),
    row("usable_input", "min v_source at which every requirement of `usable_for` holds", ANY, OWN),
    row("sweep_hysteresis", "max |v_out falling - v_out rising|", FROM_0, OWN),
    row("phase_margin", "180° + arg T(j·2π·f), |T| = 1", "-180° to 180°", LOOP),
    row("gain_margin", "-20·log10 |T(j·2π·f)|, arg T = -180°", ANY, LOOP),
    row("crossover", "highest f with |T(j·2π·f)| = 1", "above 0", LOOP),
    row("loop_distance", "min |1 + T(j·2π·f)|", FROM_0, LOOP),
    row("low_frequency_gain", "20·log10 |T(j·2π·f)| at the lowest f", ANY, LOOP),
    row("closed_loop_damping", "-Re s / |s|, det(G + s·C) = 0", "-1 to 1; below 0 it grows", LINES),
    row(
        "ringing_damping",
        "-Re s / |s| of the decay Σ a·exp(s·t) in the output",
        "-1 to 1; below 0 it grows",
        "matrix pencil: Y. Hua and T. K. Sarkar, IEEE Trans. ASSP 38 (1990)",
    ),
    row("output_impedance_peak", "max |v_out / i| for a current i into the output", FROM_0, LINES),
    row("output_impedance", "|v_out / i| for a current i into the output", FROM_0, LINES),
    row("impedance_mask", "min (mask(f) - |Z(f)|) / mask(f)", "up to 100 %", OWN),
    row("ripple_rejection", "20·log10 (|v_in| / |v_out|)", ANY, LINES),
    row(
        "noise",
        "√(∫ S(f) df) over the band",
        FROM_0,
        "sources of each part (see its entry), summed over adjoint solutions",
    ),
    row(
        "noise_density",
        "√S(f)",
        FROM_0,
        "sources of each part (see its entry), summed over adjoint solutions",
    ),
    row("settled_level", "(1/T)·∫ v_out dt over the last tenth T of the record", ANY, TRADE),
    row("start_time", "first t with v_out(t) = 95 % of settled_level, less t_edge", FROM_0, TRADE),
    row("start_settling", "max { t: |v_out(t) - settled_level| >= band } - t_edge", FROM_0, TRADE),
    row("start_dip", "max over t of (max of v_out before t - v_out(t))", FROM_0, TRADE),
    row("start_overshoot", "max v_out(t) - settled_level", ANY, TRADE),
    row("inrush_peak", "max i_source(t)", ANY, TRADE),
    row(
        "inrush_i2t",
        "∫ (i_source² - i_settled²) dt where |i_source| > |i_settled|",
        FROM_0,
        "what melts a fuse: IEC 60127, IEC 60269 (from memory)",
    ),
    row("source_sag", "max over t of (max of v_in before t - v_in(t))", FROM_0, OWN),
    row("chatter", "falls of v_out through 50 % of nominal", "0, 1, 2, …", OWN),
    row("reverse_current_peak", "max -Σ i of the pass devices, input to output", ANY, TRADE),
    row("reverse_i2t", "∫ i² dt of the pass devices while it flows to the input", FROM_0, OWN),
    row("hold_up", "first t with v_out(t) outside the window, less t_edge", FROM_0, TRADE),
    row("discharge_time", "last t with v_out(t) = 10 % of nominal, less t_edge", FROM_0, TRADE),
    row("limit_current", "i_out where v_out = (1 - share)·nominal", ANY, TRADE),
    row("short_current", "i_out where v_out = 0 V", ANY, TRADE),
    row("foldback_ratio", "i_out(0 V) / i_out(95 % of nominal)", FROM_0, TRADE),
    row("pass_power_worst", "max over v_out of Σ v·i of the pass devices", ANY, OWN),
    row(
        "stuck_voltage",
        "lowest v with i_limit(v) = i_load(v) and d(i_limit - i_load)/dv < 0",
        ANY,
        "stability of a rest with a capacitor across it; common practice, no source",
    ),
    row("loads_not_started", "loads whose first rest from 0 V up is outside", "0, 1, 2, …", OWN),
    row("short_current_peak", "max i_short(t)", ANY, TRADE),
    row("short_current_settled", "(1/T)·∫ i_short dt over the last tenth T of it", ANY, TRADE),
    row("short_energy", "∫ Σ v·i dt of the pass devices", ANY, "energy conservation"),
    row("short_overshoot", "max v_out(t) - before_level", ANY, TRADE),
    row("recovered", "last entry into the window, less t_release", FROM_0, TRADE),
    row("train_droop", "before_level - min v_out, first and last period", ANY, OWN),
    row("train_overshoot", "max v_out - before_level, first and last period", ANY, OWN),
    row("first_droop", "before_level - min v_out, first period", ANY, OWN),
    row("periodic_peak_to_peak", "max v_out - min v_out, last period", FROM_0, OWN),
    row("periods", "first n alike with n-1 and n-2", "3, 4, 5, …", OWN),
    row("worst_rate", "f that maximises periodic_peak_to_peak", "above 0", OWN),
    row(
        "junction_temperature",
        "T_ambient + Z_th * P",
        "above absolute zero",
        "JEDEC JESD51 (metrics); heat paths as ladders: see `heat-path`",
    ),
    row("junction_rise", "Z_th * P", ANY, "JEDEC JESD51 (metrics); heat paths: see `heat-path`"),
    row("trips", "changes of state of all parts that have one", "0, 1, 2, …", OWN),
    row("reset_time", "total length of all t with a reset given", FROM_0, OWN),
];

const THROUGH_TIME: &str = "f(x, t) + d/dt q(x) = 0 from the operating point on, x the node voltages \
                            and the currents of voltage-defined parts";
const STIFF: &str = "charge-oriented nodal analysis: Ho, Ruehli, Brennan, IEEE Trans. Circuits Syst. 22 \
                     (1975); RODAS4P: Steinebach 1995, Hairer and Wanner, Solving Ordinary Differential \
                     Equations II";
const AT_REST: &str = "f(x) = 0 at every level, each rest followed from the one before";
const NEWTON: &str = "Newton's method with continuation; common practice, no source";

const fn method(kind: &'static str, equation: &'static str, source: &'static str) -> Method {
    Method { kind, equation, source }
}

pub(super) static METHODS: &[Method] = &[
    method("operating-point", "f(x) = 0", NEWTON),
    method("load-step", THROUGH_TIME, STIFF),
    method("line-step", THROUGH_TIME, STIFF),
    method("profile", THROUGH_TIME, STIFF),
    method("start-up", THROUGH_TIME, STIFF),
    method("power-down", THROUGH_TIME, STIFF),
    method("short-circuit", THROUGH_TIME, STIFF),
    method("pulse-train", THROUGH_TIME, STIFF),
    method("load-regulation", AT_REST, NEWTON),
    method("line-regulation", AT_REST, NEWTON),
    method("dropout", AT_REST, NEWTON),
    method("overload", "f(x) = 0 with the output forced, current read", NEWTON),
    method(
        "loop-gain",
        "T(s) = 1/(v_e + i_e + 2·(v_i·i_v - i_i·v_v)) - 1 from two injections",
        LOOP,
    ),
    method("output-impedance", "(G + s·C)·x = b, b a current into the output", LINES),
    method("ripple-rejection", "(G + s·C)·x = b, b the ripple of the source", LINES),
    method(
        "noise",
        "S_out(f) = Σ |H_k(f)|²·S_k(f) over all sources k",
        "adjoint solutions: Rohrer, Nagel, Meyer, Weber, IEEE J. Solid-State Circuits 6 (1971; from \
         memory)",
    ),
];

/// The equation of a measurement.
pub(super) fn equation_of(name: &str) -> Option<&'static Equation> {
    EQUATIONS.iter().find(|row| row.name == name)
}

/// How a kind of test is solved.
pub(super) fn method_of(kind: &str) -> Option<&'static Method> {
    METHODS.iter().find(|row| row.kind == kind)
}
