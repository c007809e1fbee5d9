//! Bipolar transistor against Ebers–Moll and Gummel–Poon.

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

/// Ebers and Moll, Proc. IRE 42 (1954) 1761; Getreu 1976: I_S = 1e-14 A, gains 100 and 2, T =
/// 300.15 K; digits from direct evaluation of the equations.
#[test]
fn published_ebers_moll_currents() {
    let net = npn(&[]);
    let rows = [
        (0.65, -4.35, 8.204693660199217e-4, 8.204693655049217e-6, -8.28674059674971e-4),
        (0.70, 0.0, 5.67029468352078e-3, 5.67029468352078e-5, -5.726997630355988e-3),
        (0.70, 0.50, 5.6665662719259e-3, 5.794575070016783e-5, -5.724512022626068e-3),
        (0.70, 0.60, 5.492216642232883e-3, 1.160622939311735e-4, -5.608278936164056e-3),
        (-0.50, 0.60, -1.78078041297897e-4, 5.935934709586566e-5, 1.187186942020313e-4),
    ];
    for (v_be, v_bc, collector, base, emitter) in rows {
        let [c, b, e] = currents(&net, v_be, v_bc);
        assert_close(c, collector, 1e-12);
        assert_close(b, base, 1e-12);
        assert_close(e, emitter, 1e-12);
        assert!((c + b + e).abs() <= 1e-15 * e.abs());
    }
}

/// The same law solved for saturation: V_CE = U_T·ln([1 + (1 + β)/β_R]/[1 − β/β_F]) at a forced
/// gain β = 10 (Getreu 1976): 0.05113916631 V, V_BE and V_BC at 10 mA as given.
#[test]
fn published_saturation_voltage() {
    let (v_be, v_bc) = (0.7206958065671211, 0.6695566402567013);
    let [c, b, _] = currents(&npn(&[]), v_be, v_bc);
    // 1e-11: half a unit in the sixteenth digit of a voltage is 2e-15 of the current, and the two
    // exponentials are subtracted.
    assert_close(c, 10e-3, 1e-11);
    assert_close(b, 1e-3, 1e-11);
    assert_close(v_be - v_bc, 0.05113916631, 1e-9);
}

/// Gummel and Poon, BSTJ 49 (1970) 827; Early, Proc. IRE 40 (1952) 1401: Early voltages 50 and
/// 10 V, knee 50 mA; digits from direct evaluation of the equations.
#[test]
fn published_gummel_poon_currents() {
    let net =
        npn(&[("early_voltage", 50.0), ("reverse_early_voltage", 10.0), ("knee_current", 0.05)]);
    let rows = [
        (0.65, -4.35, 8.251939569154359e-4, 8.204693655049217e-6, 100.5758400751022),
        (0.75, -4.25, 0.02609517564382764, 3.918762007389102e-4, 66.59035581804495),
    ];
    for (v_be, v_bc, collector, base, gain) in rows {
        let [c, b, _] = currents(&net, v_be, v_bc);
        assert_close(c, collector, 1e-12);
        assert_close(b, base, 1e-12);
        assert_close(c / b, gain, 1e-12);
    }
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
