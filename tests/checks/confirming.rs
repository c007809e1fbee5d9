//! Steps that end at an instant by request: always, or where the curve is elsewhere.

use crate::bench::Bench;
use railstep::analysis::{
    DEFAULT_WORK_LIMIT, Method, Start, Transient, TransientOptions, operating_point,
};
use railstep::system::System;
use railstep::trial::excite;

const LOW_PASS: &str = r#"title = "low pass"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "0 V", varies = { shape = "sine", amplitude = "1 V", frequency = "1 kHz" } }
R1 = { kind = "resistor", nodes = ["in", "v"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["v", "gnd"], capacitance = "1 µF" }
[[tests]]
name = "watch"
kind = "profile"
duration = "3 ms"
"#;

#[test]
fn a_step_ends_where_it_is_asked_to_unless_the_curve_agrees() {
    let bench = Bench::of(LOW_PASS);
    let test = bench.plan.tests.first().expect("one");
    let excitation = excite(test, &bench.plan.nominal).expect("sound durations");
    let system = System::build(&bench.plan.nominal.net(&excitation.drives));
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let options = TransientOptions {
        method: Method::Rodas4p,
        node_tolerance_v: 1e-4,
        start: Start::OperatingPoint,
        work_limit: DEFAULT_WORK_LIMIT,
    };
    let mut transient = Transient::new(&system, options);
    transient.run(&rest, excitation.end_s).expect("it can be solved");
    let times = transient.record.times_s();
    let middle_s = 0.5 * (times[times.len() - 2] + times[times.len() - 1]);
    let (points, attempts) = (times.len(), transient.work().factorisations);

    transient.confirm(&[middle_s], 1e3);
    let first = transient.work().factorisations;
    assert_eq!(transient.record.len(), points, "any curve agrees within a thousand tolerances");
    assert_eq!(first, attempts + 1, "one step was tried");
    transient.confirm(&[middle_s], 1e3);
    assert_eq!(transient.work().factorisations, first, "what agreed is not looked at twice");

    let elsewhere_s = middle_s + 0.1 * (times_end(&transient) - middle_s);
    transient.confirm(&[elsewhere_s], 1e-9);
    assert_eq!(transient.record.len(), points + 1, "no curve agrees within a billionth");
    assert_eq!(transient.record.times_s()[points - 1], elsewhere_s);
    let always_s = 0.5 * (transient.record.times_s()[0] + transient.record.times_s()[points - 2]);
    transient.confirm(&[always_s], 0.0);
    assert_eq!(transient.record.len(), points + 2, "with nothing allowed it always ends there");
}

fn times_end(transient: &Transient<'_>) -> f64 {
    *transient.record.times_s().last().expect("points")
}
