//! The integration formulas against their own theory and against circuits with closed forms.

use railstep::analysis::{
    DEFAULT_WORK_LIMIT, Method, Point, Start, Step, Stepper, Tolerances, Transient,
    TransientOptions, operating_point,
};
use railstep::device::{Drive, Net, Pin};
use railstep::system::System;

/// y' = λ·y as a capacitance of 1 F discharged by a conductance of −λ S.
fn decay(lambda: f64) -> System {
    let mut net = Net::new();
    let pins = net.begin_part("X1", &["a", "b"], &["y", "gnd"]);
    net.capacitance([pins[0], pins[1]], 1.0, None);
    net.conductance([pins[0], pins[1]], -lambda);
    System::build(&net)
}

fn one_step(method: Method, z: f64) -> f64 {
    let system = decay(z);
    let mut stepper = Stepper::new(&system, method);
    let tolerances = Tolerances::new(&system, 1e-12);
    let pieces = system.pieces(0.5);
    let from = Point { t: 0.0, x: vec![0.0, 1.0], q: vec![], flow: vec![0.0, z] };
    let mut step = Step::new(&system);
    stepper.attempt(&system, &pieces, &tolerances, &from, 1.0, &mut step).expect("a linear step");
    step.end.x[1]
}

/// R(z) of one step. Hairer & Wanner, Solving Ordinary Differential Equations II, 2nd ed. 1996
/// (coefficients from memory), evaluated from the closed rational function.
#[test]
fn published_one_rodas4p_step_is_its_stability_function() {
    let expected = [
        (-0.1, 0.904_837_425_721_103),
        (-0.5, 0.606_547_104_946_740_2),
        (-1.0, 0.368_213_333_333_335),
        (-2.0, 0.139_917_695_473_253),
        (-10.0, 0.136_570_079_927_016),
        (-1000.0, 0.009_138_304_837_936),
    ];
    for (z, r) in expected {
        let got = one_step(Method::Rodas4p, z);
        assert!((got - r).abs() < 2e-13, "R({z}) = {got}, expected {r}");
    }
}

/// R(z) = (1 + (√2 − 1)z)/(1 − (1 − √2/2)z)², Bank et al., IEEE Trans. CAD 4 (1985) 436–451.
#[test]
fn exact_one_tr_bdf2_step_is_its_stability_function() {
    for z in [-0.1, -0.5, -1.0, -2.0, -10.0, -1000.0_f64] {
        let root2 = std::f64::consts::SQRT_2;
        let r = (1.0 + (root2 - 1.0) * z) / (1.0 - (1.0 - root2 / 2.0) * z).powi(2);
        let got = one_step(Method::TrBdf2, z);
        assert!((got - r).abs() < 1e-13, "R({z}) = {got}, expected {r}");
    }
}

fn resonant(resistance: f64) -> (System, usize) {
    let mut net = Net::new();
    let v = net.begin_part("V1", &["plus", "minus"], &["in", "gnd"]);
    let drive = net.drive(Drive::points(vec![(0.0, 0.0), (0.0, 1.0)]));
    let _ = net.branch([v[0], v[1]], 0.0, 0.0).driven_by(drive);
    let l = net.begin_part("L1", &["a", "b"], &["in", "mid"]);
    let _ = net.branch([l[0], l[1]], resistance, 10e-6);
    let c: Vec<Pin> = net.begin_part("C1", &["a", "b"], &["mid", "gnd"]);
    net.capacitance([c[0], c[1]], 10e-6, None);
    let out = net.find_node("mid").expect("node");
    (System::build(&net), out)
}

fn value_at(run: &Transient<'_>, unknown: usize, t: f64) -> f64 {
    let times = run.record.times_s();
    let k = times.partition_point(|&x| x <= t).clamp(1, times.len() - 1) - 1;
    let mut x = vec![0.0; 8];
    let theta = (t - times[k]) / (times[k + 1] - times[k]);
    run.record.between(k, theta, &mut x);
    x[unknown]
}

fn run(system: &System, method: Method, node_tolerance_v: f64, end_s: f64) -> Transient<'_> {
    let start = Start::OperatingPoint;
    let work_limit = DEFAULT_WORK_LIMIT;
    let options = TransientOptions { method, node_tolerance_v, start, work_limit };
    let rest = operating_point(system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let mut transient = Transient::new(system, options);
    transient.run(&rest, end_s).expect("a linear circuit");
    transient
}

/// Series RLC step response: v = 1 − e^(−αt)(cos ω_d t + (α/ω_d) sin ω_d t), closed form.
#[test]
fn exact_second_order_step_by_both_methods() {
    let (system, out) = resonant(0.4);
    let (alpha, omega) = (2e4, 97_979.589_711_327_12);
    for (method, s, allowed) in [(Method::Rodas4p, 1e-9, 4e-8), (Method::TrBdf2, 1e-8, 1e-5)] {
        let transient = run(&system, method, s, 200e-6);
        for t in [5e-6, 10e-6, 20e-6, 50e-6, 100e-6, 200e-6_f64] {
            let x: f64 = omega * t;
            let v = 1.0 - (-alpha * t).exp() * (x.cos() + alpha / omega * x.sin());
            let got = value_at(&transient, out, t);
            assert!((got - v).abs() < allowed, "{method:?} at {t}: {got} against {v}");
        }
    }
}
