//! A circuit at rest, read node by node and terminal by terminal.

use crate::bench::{Bench, unknown};
use railstep::system::{Observation, Quantity, System};

/// Where a circuit comes to rest.
pub(crate) struct Rest {
    system: System,
    z: Vec<f64>,
    seen: Observation,
}

impl Rest {
    /// Of these parts, lines of `[parts]`.
    pub(crate) fn of(parts: &str) -> Self {
        let bench = Bench::of(&format!(
            "title = \"rest\"\n[parts]\n{parts}\n[[tests]]\nname = \"rest\"\nkind = \"operating-point\"\n"
        ));
        let (system, z) = bench.at_rest("rest");
        let seen = system.observe(&z, &vec![0.0; system.extent()]);
        Self { system, z, seen }
    }

    /// V of a node.
    pub(crate) fn volt(&self, node: &str) -> f64 {
        if node == "gnd" { 0.0 } else { self.z[unknown(&self.system, node)] }
    }

    /// A into a terminal of a part; `a` and `b` of a pair are its ends.
    pub(crate) fn enters(&self, part: &str, terminal: usize) -> f64 {
        let at = self.system.parts.iter().position(|p| p.name == part).expect(part);
        self.system.read(&self.seen, Quantity::Current(at, terminal))
    }

    /// The word for where a part works, the first of them.
    pub(crate) fn region(&self, part: &str) -> &'static str {
        let all = self.system.regions(&self.z);
        all.iter().find(|(name, _)| name == part).expect(part).1
    }
}

/// Fails unless `found` is within `relative` of `expected`.
#[track_caller]
pub(crate) fn near(found: f64, expected: f64, relative: f64) {
    let error = (found - expected).abs() / expected.abs();
    assert!(error <= relative, "{found} instead of {expected}: {error:e} off");
}

/// A saturation current that carries `ampere` at `volt` with a thermal voltage `thermal_v`.
pub(crate) fn saturation(ampere: f64, volt: f64, thermal_v: f64) -> f64 {
    ampere / (volt / thermal_v).exp_m1()
}
