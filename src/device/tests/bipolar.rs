//! Bipolar transistor: slopes, charges, symmetries; its published currents stand in
//! `tests/published/devices.rs`.

use super::{assert_close, evaluate, laid, laws, parameters, region, terminal_currents};
use crate::device::{Net, Parameters};

/// kT/q at 300.15 K, exact SI constants.
const THERMAL_V: f64 = 0.02586492578632875;

fn transistor(polarity: &'static str, more: &[(&'static str, f64)]) -> Parameters {
    let mut set = vec![
        ("saturation_current", 1e-14),
        ("forward_gain", 100.0),
        ("reverse_gain", 2.0),
        ("thermal_voltage", THERMAL_V),
    ];
    set.extend_from_slice(more);
    parameters("bipolar", &[("polarity", polarity)], &set)
}

fn npn(more: &[(&'static str, f64)]) -> Net {
    laid("bipolar", &transistor("npn", more), &["c", "b", "e"])
}

/// Currents into collector, base, emitter at v_BE, v_BC, with the base at 1 V.
fn currents(net: &Net, v_be: f64, v_bc: f64) -> [f64; 3] {
    let into = terminal_currents(net, &[0.0, -v_bc, 0.0, -v_be]);
    [into[0], into[1], into[2]]
}

/// Small signal of the same law: 1 mA at I_S = 1e-14 A needs 0.6551181180172353 V and has
/// g_m = I/U_T = 0.03866239587389666 S.
#[test]
fn published_transconductance() {
    let net = npn(&[]);
    let at = evaluate(laws(&net)[0], &[0.6551181180172353, 0.0]);
    assert_close(at.currents[0], 1e-3, 1e-12);
    // The −1 of the exponential makes g_m·U_T larger than the current by I_S.
    assert_close(at.current_slopes[0][0], 0.03866239587389666 * (1.0 + 1e-11), 1e-12);
}

/// Diffusion charge: transit time 1 ns at 10 mA stores 10 pC, and C = τ·g_m = 386.6239587389666 pF
/// (Gummel, Poon 1970).
#[test]
fn published_diffusion_charge() {
    let net = npn(&[("transit_time", 1e-9)]);
    let v_be = THERMAL_V * (10e-3_f64 / 1e-14).ln_1p();
    let at = evaluate(laws(&net)[0], &[v_be, 0.0]);
    assert_close(at.charges[0], 10e-12, 1e-12);
    assert_close(at.charge_slopes[0][0], 386.6239587389666e-12 * (1.0 + 1e-12), 1e-11);
}

/// The base leakage adds I_L·(e^(v/(n·U_T)) − 1) to the base current and nothing to the collector.
#[test]
fn exact_base_leakage() {
    let leaky = npn(&[("base_leakage_current", 1e-13), ("base_leakage_ideality", 2.0)]);
    let [c, b, _] = currents(&leaky, 0.5, -3.0);
    let [c_clean, b_clean, _] = currents(&npn(&[]), 0.5, -3.0);
    assert_eq!(c, c_clean);
    assert_close(b - b_clean, 1e-13 * ((0.5 / (2.0 * THERMAL_V)).exp() - 1.0), 1e-12);
}

#[test]
fn a_pnp_mirrors_an_npn() {
    let more = [
        ("early_voltage", 50.0),
        ("reverse_early_voltage", 10.0),
        ("knee_current", 0.05),
        ("base_leakage_current", 1e-13),
        ("transit_time", 1e-9),
        ("base_emitter_capacitance", 10e-12),
    ];
    let pnp = laid("bipolar", &transistor("pnp", &more), &["c", "b", "e"]);
    let npn = npn(&more);
    for (v_be, v_bc) in [(0.65, -4.35), (0.7, 0.6), (-0.5, 0.6), (-3.0, -3.0)] {
        let mirrored = currents(&pnp, -v_be, -v_bc).map(|i| -i);
        assert_eq!(mirrored, currents(&npn, v_be, v_bc));
    }
}

#[test]
fn series_resistances_lie_between_terminals_and_inner_nodes() {
    let more =
        [("base_resistance", 20.0), ("emitter_resistance", 0.5), ("collector_resistance", 2.0)];
    let net = npn(&more);
    let names: Vec<&str> = net.unknowns.iter().map(|u| u.name.as_str()).collect();
    assert_eq!(names[4..], ["X.inner_collector", "X.inner_base", "X.inner_emitter"]);
    // Terminals: c, b, e at 1, 2, 3; inner nodes 4, 5, 6.
    let into = terminal_currents(&net, &[0.0, 5.0, 1.0, 0.0, 4.0, 0.8, 0.1]);
    assert_close(into[0], 0.5, 1e-14);
    assert_close(into[1], 0.01, 1e-13);
    assert_close(into[2], -0.2, 1e-14);
}

#[test]
fn regions_are_told_in_words() {
    let net = npn(&[]);
    let told = |v_be: f64, v_bc: f64| region(laws(&net)[0], &[v_be, v_bc]);
    assert_eq!(told(0.65, -3.0), Some("active"));
    assert_eq!(told(0.72, 0.67), Some("saturated"));
    assert_eq!(told(-3.0, 0.65), Some("reverse"));
    assert_eq!(told(0.1, -3.0), Some("off"));
}
