//! The charge that a diode stores.

use crate::bench::{Bench, unknown};
use railstep::analysis::operating_point;

/// Charge stored by a forward current is transit time times current, Q = τ·I: 1 ns at 10 mA is
/// 10 pC; it is also what flows back out when the diode is switched off, so it is read here as the
/// charge variable itself.
#[test]
fn exact_diffusion_charge_is_transit_time_times_current() {
    let bench = Bench::of(
        r#"title = "stored charge"
[parts]
I1 = { kind = "current-source", nodes = ["gnd", "a"], current = "10 mA" }
D1 = { kind = "diode", anode = "a", cathode = "gnd", saturation_current = "1e-14 A", transit_time = "1 ns" }
[[tests]]
name = "rest"
kind = "operating-point"
"#,
    );
    let system = bench.system();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let (mut f, mut q) = (vec![0.0; system.unknowns.len()], vec![0.0; system.law_charges()]);
    system.evaluate(&rest.z, &mut f, &mut q);
    let mut rows = vec![0.0; system.unknowns.len()];
    system.scatter_charges(&q, &mut rows);
    let stored = rows[unknown(&system, "a")];
    // The operating point is good to 1e-9 of the current.
    assert!((stored - 10e-12).abs() < 1e-20, "{stored:e}");
}
