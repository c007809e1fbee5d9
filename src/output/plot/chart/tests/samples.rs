//! One chart for every use, of closed forms with invented values.

use std::f64::consts::TAU;

use crate::output::plot::chart::{
    Axis, Chart, Direction, Emphasis, Level, Mark, Mask, Panel, Scale, Side, Style, Trace,
};

fn axis(label: &str, unit: &'static str, scale: Scale) -> Axis {
    Axis { label: label.to_owned(), unit, scale, range: None }
}

fn frequency() -> Axis {
    axis("frequency", "Hz", Scale::Logarithmic)
}

/// `per_decade` points a decade from 10^`first` on.
pub(super) fn sweep(first: i32, decades: i32, per_decade: i32) -> Vec<f64> {
    (0..=decades * per_decade)
        .map(|i| 10f64.powf(f64::from(first) + f64::from(i) / f64::from(per_decade)))
        .collect()
}

fn trace(label: &str, xs: &[f64], y: impl Fn(f64) -> f64) -> Trace {
    let points = xs.iter().map(|&x| (x, y(x))).collect();
    Trace { label: label.to_owned(), points, ..Trace::default() }
}

fn level(at: f64, label: &str) -> Level {
    Level { at, label: label.to_owned(), direction: Direction::Horizontal }
}

fn mark(x: f64, y: f64, text: String, of: &str) -> Mark {
    Mark { x, y, text, of: of.to_owned(), ..Mark::default() }
}

/// A loop gain with three poles and one zero.
struct Loop {
    label: &'static str,
    gain: f64,
    poles: [f64; 3],
    zero: f64,
}

const LOOPS: [Loop; 4] = [
    Loop { label: "1 mA", gain: 9000.0, poles: [9.0, 2.2e4, 2.0e6], zero: 4.0e5 },
    Loop { label: "10 mA", gain: 5200.0, poles: [90.0, 4.1e4, 2.6e6], zero: 4.0e5 },
    Loop { label: "50 mA", gain: 2900.0, poles: [450.0, 9.0e4, 3.0e6], zero: 4.0e5 },
    Loop { label: "180 mA", gain: 1500.0, poles: [1.6e3, 1.8e5, 3.2e6], zero: 4.0e5 },
];

impl Loop {
    fn magnitude(&self, f: f64) -> f64 {
        let one = |corner: f64| (f / corner).hypot(1.0);
        self.gain * one(self.zero) / self.poles.into_iter().map(one).product::<f64>()
    }

    fn phase(&self, f: f64) -> f64 {
        let turn = |corner: f64| (f / corner).atan().to_degrees();
        turn(self.zero) - self.poles.into_iter().map(turn).sum::<f64>()
    }

    fn decibels(&self, f: f64) -> f64 {
        20.0 * self.magnitude(f).log10()
    }

    fn point(&self, f: f64) -> (f64, f64) {
        let (sin, cos) = self.phase(f).to_radians().sin_cos();
        (self.magnitude(f) * cos, self.magnitude(f) * sin)
    }

    fn crossover(&self) -> f64 {
        root(1.0, 1e8, |f| self.magnitude(f) - 1.0)
    }
}

/// Where a falling function is zero, by halving the ratio.
fn root(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..80 {
        let middle = (low * high).sqrt();
        if f(middle) > 0.0 { low = middle } else { high = middle }
    }
    low
}

pub(super) fn bode() -> Chart {
    let xs = sweep(1, 7, 25);
    let mut gain = Panel { y: axis("loop gain", "dB", Scale::Linear), ..Panel::default() };
    let mut phase = Panel { y: axis("phase", "deg", Scale::Linear), ..Panel::default() };
    gain.lines = vec![level(0.0, "0 dB")];
    phase.lines = vec![level(-180.0, "−180°")];
    for l in &LOOPS {
        gain.curves.push(trace(l.label, &xs, |f| l.decibels(f)));
        phase.curves.push(trace(l.label, &xs, |f| l.phase(f)));
        let (at, margin) = (l.crossover(), 180.0 + l.phase(l.crossover()));
        gain.marks.push(mark(at, 0.0, String::new(), l.label));
        phase.marks.push(mark(
            at,
            l.phase(at),
            format!("{margin:.1}° at {:.0} kHz", at / 1e3),
            l.label,
        ));
    }
    Chart {
        title: "loop gain — Tide-buoy radio rail: 2.80 V from one lithium-ion cell".to_owned(),
        subtitle: "fail: phase margin 32.6° of ≥ 45° (10 mA, 3.7 V, 25 °C), loop distance 0.52 of ≥ 0.5"
            .to_owned(),
        caption: vec![
            "BT1 3.70 V, 25 °C, C_OUT 4.7 µF × 62 %, ESR 6 mΩ, ESL 0.6 nH".to_owned(),
            "Phase margin: distance of the phase from −180° at the highest crossover. Nominal values only; calculated, not measured.".to_owned(),
        ],
        x: frequency(),
        panels: vec![gain, phase],
        ..Chart::default()
    }
}

pub(super) fn nyquist() -> Chart {
    let xs = sweep(1, 7, 100);
    let mut panel = Panel { y: axis("imaginary part", "", Scale::Linear), ..Panel::default() };
    panel.y.range = Some((-3.0, 3.0));
    let distance = |(re, im): (f64, f64)| (re + 1.0).hypot(im);
    let mut nearest = (0.0, 0.0);
    for l in &LOOPS {
        let points: Vec<_> = xs.iter().map(|&f| l.point(f)).collect();
        for &point in &points {
            if distance(point) < distance(nearest) {
                nearest = point;
            }
        }
        panel.curves.push(Trace { label: l.label.to_owned(), points, ..Trace::default() });
    }
    let least = distance(nearest);
    let circle = (0..=180).map(|i| TAU * f64::from(i) / 180.0);
    panel.curves.push(Trace {
        label: format!("least distance {least:.2}"),
        points: circle.map(|a| (-1.0 + least * a.cos(), least * a.sin())).collect(),
        style: Style::Dashed,
        emphasis: Emphasis::Reference,
    });
    let right = Level { at: 0.0, label: String::new(), direction: Direction::Vertical };
    panel.lines = vec![level(0.0, ""), right];
    panel.marks = vec![
        mark(-1.0, 0.0, "−1".to_owned(), ""),
        mark(nearest.0, nearest.1, format!("{least:.2} from −1 at 1 mA"), "1 mA"),
    ];
    let mut x = axis("real part", "", Scale::Linear);
    x.range = Some((-3.0, 3.0));
    Chart {
        title: "loop gain near −1 — Tide-buoy radio rail".to_owned(),
        caption: vec!["BT1 3.70 V, 25 °C. A curve around −1 means oscillation; the nearer it comes, the more the rail rings. Calculated, not measured.".to_owned()],
        x,
        panels: vec![panel],
        square: true,
        ..Chart::default()
    }
}

/// Output of a regulator whose pass element becomes a resistance: the smaller of nominal and
/// input less drop, with a rounded corner.
fn follows(input: f64, drop: f64, width: f64) -> f64 {
    let short = (input - drop - 2.8) / width;
    2.8 - width * (-short).exp().ln_1p()
}

pub(super) fn dropout() -> Chart {
    let xs: Vec<f64> = (0..=120).map(|i| 2.6 + 1.2 * f64::from(i) / 120.0).collect();
    let mut panel = Panel { y: axis("output vout", "V", Scale::Linear), ..Panel::default() };
    for (label, load) in
        [("1 mA", 1e-3), ("10 mA", 10e-3), ("50 mA", 50e-3), ("100 mA", 0.1), ("180 mA", 0.18)]
    {
        let drop = 0.01 + 1.9 * load;
        panel.curves.push(trace(label, &xs, |v| follows(v, drop, 0.015)));
        let rising = trace(label, &xs, |v| follows(v, drop + 0.018, 0.012));
        panel.curves.push(Trace { style: Style::Dashed, ..rising });
        // 100 mV below 2.8 V: width · ln(1 + exp(−short)) = 0.1 V, solved for the input.
        let at = 2.8 + drop - 0.015 * (0.1f64 / 0.015).exp_m1().ln();
        panel.marks.push(mark(at, 2.7, format!("{label}: {:.0} mV", (at - 2.7) * 1e3), label));
    }
    panel.curves.push(Trace {
        style: Style::Dotted,
        emphasis: Emphasis::Reference,
        ..trace("output = input", &[2.6, 2.86], |v| v)
    });
    panel.lines = vec![level(2.8, "nominal 2.80 V"), level(2.7, "100 mV below")];
    Chart {
        title: "dropout — Tide-buoy radio rail: 2.80 V from one lithium-ion cell".to_owned(),
        subtitle: "pass: dropout 352 mV of ≤ 400 mV (100 mV below, 180 mA, 25 °C)".to_owned(),
        caption: vec![
            "25 °C; the input voltage is at the pin. Calculated, not measured.".to_owned(),
        ],
        x: axis("input vin", "V", Scale::Linear),
        panels: vec![panel],
        styles: vec![
            (Style::Solid, "input falling".to_owned()),
            (Style::Dashed, "input rising".to_owned()),
        ],
        ..Chart::default()
    }
}

pub(super) fn impedance() -> Chart {
    let xs = sweep(1, 7, 25);
    let mut panel = Panel {
        y: axis("output impedance |Z|", "Ω", Scale::Logarithmic),
        masks: vec![Mask {
            points: vec![(10.0, 0.05), (1e4, 0.05), (1e5, 0.12), (2e6, 0.12)],
            forbidden: Side::Above,
            label: "target: 50 mΩ to 10 kHz, 120 mΩ above 100 kHz".to_owned(),
        }],
        ..Panel::default()
    };
    for (label, rest, corner) in
        [("2 mA", 4e-3, 2.5e3), ("20 mA", 2.2e-3, 7e3), ("180 mA", 1.5e-3, 3e4)]
    {
        // A resistance and an inductance of the loop beside 4.7 µF with 6 mΩ and 0.6 nH.
        let size = |f: f64| {
            let (w, l) = (TAU * f, rest / (TAU * corner));
            let (a, b): ((f64, f64), (f64, f64)) =
                ((rest, w * l), (6e-3, w * 0.6e-9 - 1.0 / (w * 4.7e-6)));
            a.0.hypot(a.1) * b.0.hypot(b.1) / (a.0 + b.0).hypot(a.1 + b.1)
        };
        panel.curves.push(trace(label, &xs, size));
        let peak = xs
            .iter()
            .filter(|f| **f < 3e6)
            .fold(1e3, |p, &f| if size(f) > size(p) { f } else { p });
        panel.marks.push(mark(
            peak,
            size(peak),
            format!("{:.2} Ω at {:.0} kHz", size(peak), peak / 1e3),
            label,
        ));
    }
    Chart {
        title: "output impedance — Tide-buoy radio rail".to_owned(),
        caption: vec!["without the load's own parts; BT1 3.70 V, 25 °C".to_owned()],
        x: frequency(),
        panels: vec![panel],
        ..Chart::default()
    }
}

pub(super) fn rejection() -> Chart {
    let xs = sweep(1, 7, 25);
    let mut panel = Panel { y: axis("ripple rejection", "dB", Scale::Linear), ..Panel::default() };
    for (label, flat, corner) in
        [("2 mA", 78.0, 3e2), ("20 mA", 72.0, 1.2e3), ("180 mA", 61.0, 4e3)]
    {
        let loss = |f: f64| 20.0 * (f / corner).hypot(1.0).log10();
        let shunt = |f: f64| 20.0 * (f / 2.5e5).hypot(1.0).log10();
        panel.curves.push(trace(label, &xs, move |f| flat - loss(f) + 1.15 * shunt(f)));
    }
    panel.masks = vec![Mask {
        points: vec![(10.0, 50.0), (1e3, 50.0), (1e5, 15.0)],
        forbidden: Side::Below,
        label: "required".to_owned(),
    }];
    Chart {
        title: "ripple rejection — Tide-buoy radio rail".to_owned(),
        caption: vec!["from the input pin to the output; BT1 3.70 V, 25 °C".to_owned()],
        x: frequency(),
        panels: vec![panel],
        ..Chart::default()
    }
}

type Part = Box<dyn Fn(f64) -> f64>;

pub(super) fn noise() -> Chart {
    let xs = sweep(1, 5, 25);
    let low_pass = |corner: f64| move |f: f64| 1.0 / (f / corner).hypot(1.0);
    let parts: [(&str, Part); 5] = [
        ("reference VREF", Box::new(move |f| 1.4e-6 * (1.0 + 300.0 / f).sqrt() * low_pass(2e3)(f))),
        ("amplifier U1", Box::new(move |f| 2.1e-7 * (1.0 + 2e3 / f).sqrt() * low_pass(9e4)(f))),
        ("divider R1", Box::new(move |f| 1.6e-7 * low_pass(6e4)(f))),
        ("divider R2", Box::new(move |f| 0.9e-7 * low_pass(6e4)(f))),
        ("pass element Q1", Box::new(move |f| 4e-9 * (1.0 + f / 1e4))),
    ];
    let total = |f: f64| parts.iter().map(|(_, part)| part(f).powi(2)).sum::<f64>().sqrt();
    let whole = Trace { emphasis: Emphasis::Strong, ..trace("all sources", &xs, total) };
    let mut curves = vec![whole];
    for (label, part) in parts.iter().take(4) {
        curves.push(Trace { style: Style::Dashed, ..trace(label, &xs, part) });
    }
    let panel = Panel {
        y: axis("noise density at vout", "V/√Hz", Scale::Logarithmic),
        curves,
        marks: vec![mark(
            1e3,
            total(1e3),
            format!("{:.2} µV/√Hz at 1 kHz", total(1e3) * 1e6),
            "all sources",
        )],
        ..Panel::default()
    };
    Chart {
        title: "noise — Tide-buoy radio rail".to_owned(),
        subtitle: "pass: noise density 1.48 µV/√Hz of ≤ 2 µV/√Hz at 1 kHz".to_owned(),
        caption: vec![
            "180 mA, BT1 3.70 V, 25 °C; the four greatest contributors in the band".to_owned(),
        ],
        x: frequency(),
        panels: vec![panel],
        ..Chart::default()
    }
}

pub(super) fn headroom() -> Chart {
    let xs: Vec<f64> = (0..=80).map(|i| 0.9 * f64::from(i) / 80.0).collect();
    let mut panel =
        Panel { y: axis("ripple rejection at 1 kHz", "dB", Scale::Linear), ..Panel::default() };
    for (label, best, scale) in
        [("2 mA", 70.0, 0.03), ("20 mA", 66.0, 0.06), ("180 mA", 58.0, 0.16)]
    {
        panel.curves.push(trace(label, &xs, |v| best * (1.0 - (-v / scale).exp())));
    }
    panel.lines = vec![
        level(40.0, "required 40 dB"),
        Level {
            at: 0.4,
            label: "least headroom 400 mV".to_owned(),
            direction: Direction::Vertical,
        },
    ];
    Chart {
        title: "ripple rejection against headroom — Tide-buoy radio rail".to_owned(),
        caption: vec!["headroom: input less output, at the pins; 25 °C".to_owned()],
        x: axis("headroom", "V", Scale::Linear),
        panels: vec![panel],
        ..Chart::default()
    }
}

/// More curves than colours, dashed and dotted ones among them.
pub(super) fn many() -> Chart {
    let xs = sweep(1, 4, 20);
    let mut panel = Panel { y: axis("gain", "", Scale::Logarithmic), ..Panel::default() };
    for i in 0..18 {
        let corner = 20.0 * 1.4f64.powi(i);
        let curve =
            trace(&format!("corner {corner:.0} Hz"), &xs, |f| 1.0 / (f / corner).hypot(1.0));
        let style = [Style::Solid, Style::Solid, Style::Dashed, Style::Dotted][i as usize % 4];
        panel.curves.push(Trace { style, ..curve });
    }
    Chart {
        title: "more curves than colours".to_owned(),
        x: frequency(),
        panels: vec![panel],
        ..Chart::default()
    }
}

/// Little and broken data: a lone point, gaps, zeros on a logarithmic axis, nothing at all.
pub(super) fn poor() -> Chart {
    let gap = |x: f64| if (3.0..4.0).contains(&x) { f64::NAN } else { x * x };
    let xs: Vec<f64> = (0..=100).map(|i| f64::from(i) / 10.0).collect();
    let panel = |label: &str, scale, curves| Panel {
        y: axis(label, "V", scale),
        curves,
        ..Panel::default()
    };
    Chart {
        title: "little and broken data".to_owned(),
        x: axis("x", "", Scale::Linear),
        panels: vec![
            panel("a gap", Scale::Linear, vec![trace("squares", &xs, gap)]),
            panel(
                "zeros and less",
                Scale::Logarithmic,
                vec![trace("third powers", &xs, |x| (x - 5.0).powi(3))],
            ),
            panel("one point", Scale::Linear, vec![trace("alone", &[5.0], |_| 2.8)]),
            panel("undefined", Scale::Logarithmic, vec![trace("never", &xs, |_| f64::NAN)]),
            Panel::default(),
        ],
        ..Chart::default()
    }
}

/// Every use with the name of its picture.
pub(super) fn all() -> [(&'static str, Chart); 7] {
    [
        ("bode", bode()),
        ("nyquist", nyquist()),
        ("dropout", dropout()),
        ("impedance", impedance()),
        ("rejection", rejection()),
        ("noise", noise()),
        ("headroom", headroom()),
    ]
}
