//! One step of each integration formula on y' = λ·y against its stability function.

use crate::bench::{BOTH, march, point_at};
use crate::sources::{BANK, HOSEA, STEINEBACH};
use crate::table::{Check, Figures, Section};
use railstep::analysis::{Method, Step, Stepper, Tolerances};
use railstep::device::{Control, Net};
use railstep::system::System;

pub(crate) const SECTION: Section = Section {
    title: "One step of each integration formula on y' = λy",
    checks: &[
        Check::new("RODAS4P from h·λ = -0.1 to -1000, and i", (&STEINEBACH, "R(z)"), "", rodas4p),
        Check::new("TR-BDF2 from h·λ = -0.1 to -1000, i, and -1 + i", (&BANK, "R(z)"), "", tr_bdf2),
        Check::new(
            "TR-BDF2: its middle stage and its error estimate",
            (&HOSEA, ""),
            "",
            inside_tr_bdf2,
        ),
    ],
};

/// y' = λ·y as a capacitance of 1 F discharged by a conductance of −λ S.
fn decay(lambda: f64) -> System {
    let mut net = Net::new();
    let pins = net.begin_part("X1", &["a", "b"], &["y", "gnd"]);
    net.capacitance([pins[0], pins[1]], 1.0, None);
    net.conductance([pins[0], pins[1]], -lambda);
    System::build(&net)
}

/// y' = (a + ib)·y with real and imaginary part on 1 F each, coupled by transconductances.
fn rotation(a: f64, b: f64) -> System {
    let mut net = Net::new();
    let re = net.begin_part("RE", &["a", "b"], &["re", "gnd"]);
    let im = net.begin_part("IM", &["a", "b"], &["im", "gnd"]);
    for (own, other, gain) in [(&re, &im, b), (&im, &re, -b)] {
        net.capacitance([own[0], own[1]], 1.0, None);
        net.conductance([own[0], own[1]], -a);
        net.transfer([own[0], own[1]], Control::Voltage(other[0].unknown, 0), gain);
    }
    System::build(&net)
}

/// y, dense output at share θ and error estimate after one step of 1 s from y = 1.
fn one_step(system: &System, method: Method, theta: f64) -> Vec<[f64; 3]> {
    let pieces = system.pieces(0.5);
    let mut x = vec![0.0; system.unknowns.len()];
    x[1] = 1.0;
    let from = point_at(system, &pieces, 0.0, x);
    let (mut step, mut stepper) = (Step::new(system), Stepper::new(system, method));
    let tolerances = Tolerances::new(system, 1e-12);
    stepper.attempt(system, &pieces, &tolerances, &from, 1.0, &mut step).expect("a linear step");
    let each = |u: usize| {
        let bent = step.bend0[u] + theta * step.bend1[u];
        let inside = (1.0 - theta) * from.x[u] + theta * (step.end.x[u] + (1.0 - theta) * bent);
        [step.end.x[u], inside, step.error[u]]
    };
    (1..system.unknowns.len()).map(each).collect()
}

/// R(z) from the coefficients of G. Steinebach, TH Darmstadt preprint 1741, 1995, as given with
/// the codes of Hairer & Wanner (coefficients from memory), evaluated with 40 digits.
fn rodas4p() -> Figures {
    let mut f = Figures::default();
    let expected = [
        (-0.1, 0.904_837_425_721_103),
        (-0.5, 0.606_547_104_946_740_2),
        (-1.0, 0.368_213_333_333_335),
        (-2.0, 0.139_917_695_473_253),
        (-10.0, 0.136_570_079_927_016),
        (-1000.0, 0.009_138_304_837_936),
    ];
    for (z, r) in expected {
        let got = one_step(&decay(z), Method::Rodas4p, 1.0)[0][0];
        // The published coefficients have 16 digits and are summed with weights up to 57.
        f.close(got, r, 2e-13);
    }
    let turned = one_step(&rotation(0.0, 1.0), Method::Rodas4p, 1.0);
    let (re, im) = (turned[0][0], turned[1][0]);
    f.close(re, 0.540_978_422_474_94, 2e-13);
    f.close(im, 0.841_015_210_217_177, 2e-13);
    f
}

/// R(z) = (1 + (√2 − 1)z)/(1 − (1 − √2/2)z)², Bank et al., IEEE Trans. CAD 4 (1985) 436–451;
/// evaluated with 40 digits.
fn tr_bdf2() -> Figures {
    let mut f = Figures::default();
    let expected = [
        (-0.1, 0.904_800_463_641_337_8),
        (-0.5, 0.603_263_480_105_562_7),
        (-1.0, 0.350_440_262_760_281_8),
        (-2.0, 0.068_227_464_296_073_87),
        (-10.0, -0.203_552_227_967_972_1),
        (-1000.0, -4.784_046_987_343_805e-3),
    ];
    for (z, r) in expected {
        let got = one_step(&decay(z), Method::TrBdf2, 1.0)[0][0];
        f.close(got, r, 1e-13);
    }
    let turned = [
        ((0.0, 1.0), (0.569_645_041_515_465_5, 0.818_084_452_841_497_8)),
        ((-1.0, 1.0), (0.199_210_357_645_939_2, 0.356_345_197_909_616_4)),
    ];
    for ((a, b), (re, im)) in turned {
        let got = one_step(&rotation(a, b), Method::TrBdf2, 1.0);
        f.close(got[0][0], re, 1e-13);
        f.close(got[1][0], im, 1e-13);
    }
    f
}

/// The middle stage at γ = 2 − √2 and the filtered distance to the companion of order 3: Hosea &
/// Shampine, Appl. Numer. Math. 20 (1996) 21–37; evaluated with 40 digits.
fn inside_tr_bdf2() -> Figures {
    let mut f = Figures::default();
    let expected: [(f64, f64, f64); 2] = [
        (-0.1, 0.943_088_262_437_601_2, -3.708_514_443_836_13e-5),
        (-1.0, 0.546_918_160_678_027_2, -0.018_712_180_754_070_98),
    ];
    let gamma = 2.0 - std::f64::consts::SQRT_2;
    for (z, middle, error) in expected {
        let [_, got_middle, got_error] = one_step(&decay(z), Method::TrBdf2, gamma)[0];
        f.close(got_middle, middle, 1e-13);
        f.close(got_error.abs(), error.abs(), 1e-13);
    }
    f
}

/// An undamped rotation is damped by neither formula more than its |R(iωh)| says, n times over.
#[test]
fn exact_many_steps_are_the_stability_function_to_their_power() {
    // |R(i)|² from the values above.
    let squared = [
        0.540_978_422_474_94_f64.powi(2) + 0.841_015_210_217_177_f64.powi(2),
        0.569_645_041_515_465_5_f64.powi(2) + 0.818_084_452_841_497_8_f64.powi(2),
    ];
    let system = rotation(0.0, 1.0);
    for (method, squared) in BOTH.into_iter().zip(squared) {
        let from = point_at(&system, &system.pieces(0.5), 0.0, vec![0.0, 1.0, 0.0]);
        let end = march(&system, method, from, (1.0, 20), |_| {});
        let got = end.x[1].powi(2) + end.x[2].powi(2);
        // Twenty steps with 2e-13 each.
        assert!((got - squared.powi(20)).abs() < 8e-12, "{method:?}: {got}");
    }
}
