//! Random linear networks with the equations that they stand for, stamped here by hand: C·x' + G·x = b·u.
//!
//! Every node is either dynamic (a capacitor to ground, and any between such nodes) or static (none at all),
//! so that the static unknowns follow from the others by one solve: C·x' + G·x = b·u has index 1.

use crate::networks::Random;
use nalgebra::{Complex, DMatrix, DVector};
use std::f64::consts::TAU;
use std::fmt::Write;

/// A network: its lines, its matrices, and where it starts. Unknowns: nodes `n1` …, then currents.
pub(crate) struct Network {
    pub(crate) lines: Vec<String>,
    pub(crate) g: DMatrix<f64>,
    pub(crate) c: DMatrix<f64>,
    /// Columns: the constant 1, the sine of `hertz`.
    pub(crate) b: DMatrix<f64>,
    pub(crate) start: DVector<f64>,
    pub(crate) nodes: usize,
    pub(crate) hertz: f64,
    /// How many of the unknowns, nodes first, are dynamic: those of nodes, and the currents of inductors.
    dynamic: Vec<usize>,
    fixed: Vec<usize>,
}

struct Draft<'r> {
    random: &'r mut Random,
    lines: Vec<String>,
    g: Vec<(usize, usize, f64)>,
    c: Vec<(usize, usize, f64)>,
    b: Vec<(usize, usize, f64)>,
    start: Vec<f64>,
    unknowns: usize,
    dynamic: Vec<usize>,
    fixed: Vec<usize>,
    windings: Vec<(String, usize)>,
}

fn name(node: usize) -> String {
    if node == 0 { "gnd".to_owned() } else { format!("n{node}") }
}

impl Draft<'_> {
    fn part(&mut self, kind: &str, [a, b]: [usize; 2], keys: &str) -> String {
        let part = format!("P{}", self.lines.len() + 1);
        let ends = match kind {
            "voltage-source" | "controlled-voltage-source" => {
                format!("plus = \"{}\", minus = \"{}\"", name(a), name(b))
            }
            _ => format!("nodes = [\"{}\", \"{}\"]", name(a), name(b)),
        };
        self.lines.push(format!("{part} = {{ kind = \"{kind}\", {ends}, {keys} }}\n"));
        part
    }

    fn across(stamps: &mut Vec<(usize, usize, f64)>, [a, b]: [usize; 2], value: f64) {
        stamps.extend([(a, a, value), (b, b, value), (a, b, -value), (b, a, -value)]);
    }

    /// Ω and F.
    fn values(&mut self, style: Style) -> (f64, f64) {
        (1e3 * self.random.decades(style.decades), 1e-9 * self.random.decades(style.decades))
    }

    fn resistor(&mut self, ends: [usize; 2], ohm: f64) {
        self.part("resistor", ends, &format!("resistance = \"{ohm:e} Ω\""));
        Self::across(&mut self.g, ends, 1.0 / ohm);
    }

    fn capacitor(&mut self, ends: [usize; 2], farad: f64) {
        let initial = if ends[1] == 0 {
            self.start[ends[0]]
        } else {
            self.start[ends[0]] - self.start[ends[1]]
        };
        self.part(
            "capacitor",
            ends,
            &format!("capacitance = \"{farad:e} F\", initial = \"{initial:e} V\""),
        );
        Self::across(&mut self.c, ends, farad);
    }

    /// A new unknown current from a to b, out of a's and into b's node.
    fn current(&mut self, [a, b]: [usize; 2]) -> usize {
        self.unknowns += 1;
        self.start.push(0.0);
        let row = self.unknowns;
        self.g.extend([(a, row, 1.0), (b, row, -1.0), (row, a, 1.0), (row, b, -1.0)]);
        row
    }

    fn inductor(&mut self, ends: [usize; 2], henry: f64, ohm: f64) {
        let row = self.current(ends);
        let ampere = self.random.unit() - 0.5;
        let ampere = 1e-3 * ampere;
        self.start[row] = ampere;
        let keys = format!(
            "inductance = \"{henry:e} H\", series_resistance = \"{ohm:e} Ω\", initial = \"{ampere:e} A\""
        );
        let part = self.part("inductor", ends, &keys);
        self.g.push((row, row, -ohm));
        self.c.push((row, row, -henry));
        self.dynamic.push(row);
        self.windings.push((part, row));
    }

    /// A voltage source, constant or sine, at a static node that a resistance leads on from.
    fn source(&mut self, node: usize, hertz: Option<f64>) {
        let row = self.current([node, 0]);
        self.fixed.push(row);
        let volt = 10.0 * self.random.unit() - 5.0;
        let keys = match hertz {
            None => format!("voltage = \"{volt:e} V\""),
            Some(hz) => format!(
                "varies = {{ shape = \"sine\", amplitude = \"{volt:e} V\", frequency = \"{hz:e} Hz\" }}"
            ),
        };
        self.part("voltage-source", [node, 0], &keys);
        self.b.push((row, usize::from(hertz.is_some()), volt));
    }

    /// One of the four controlled sources; voltages drive a static node.
    fn controlled(&mut self, node: usize, to: [usize; 2], input: [usize; 2]) {
        let gain = self.random.decades(1.0) * if self.random.unit() < 0.5 { -1.0 } else { 1.0 };
        let pair = format!("input = [\"{}\", \"{}\"]", name(input[0]), name(input[1]));
        let winding = if self.windings.is_empty() {
            None
        } else {
            Some(self.windings[self.random.below(self.windings.len())].clone())
        };
        let is_voltage = self.random.unit() < 0.5;
        match (is_voltage, winding.filter(|_| self.random.unit() < 0.5)) {
            (true, None) => {
                self.part(
                    "controlled-voltage-source",
                    [node, 0],
                    &format!("{pair}, gain = \"{gain:e}\""),
                );
                let row = self.current([node, 0]);
                self.fixed.push(row);
                self.g.extend([(row, input[0], -gain), (row, input[1], gain)]);
            }
            (true, Some((part, current))) => {
                let ohm = 10.0 * gain;
                let keys = format!("sensed = \"{part}\", transresistance = \"{ohm:e} Ω\"");
                self.part("controlled-voltage-source", [node, 0], &keys);
                let row = self.current([node, 0]);
                self.fixed.push(row);
                self.g.push((row, current, -ohm));
            }
            (false, None) => {
                let siemens = 1e-3 * gain;
                let keys = format!("{pair}, transconductance = \"{siemens:e} S\"");
                self.part("controlled-current-source", to, &keys);
                for (row, sign) in [(to[0], 1.0), (to[1], -1.0)] {
                    self.g.extend([
                        (row, input[0], sign * siemens),
                        (row, input[1], -sign * siemens),
                    ]);
                }
            }
            (false, Some((part, current))) => {
                let keys = format!("sensed = \"{part}\", gain = \"{gain:e}\"");
                self.part("controlled-current-source", to, &keys);
                self.g.extend([(to[0], current, gain), (to[1], current, -gain)]);
            }
        }
    }
}

/// What a network is drawn with.
#[derive(Clone, Copy)]
pub(crate) struct Style {
    /// Decades that values of each kind spread over, both ways.
    pub(crate) decades: f64,
    pub(crate) active: bool,
    pub(crate) driven: bool,
}

impl Network {
    /// Values around 1 kΩ, 1 nF, 1 mH and 1 MHz.
    pub(crate) fn draw(random: &mut Random, style: Style) -> Self {
        let dynamic = 2 + random.below(6);
        let inner = 1 + random.below(4);
        let nodes = dynamic + inner;
        let hertz = 2e5 * random.decades(0.5 * style.decades);
        let mut start: Vec<f64> = (0..=nodes).map(|_| 4.0 * random.unit() - 2.0).collect();
        start[0] = 0.0;
        let mut draft = Draft {
            random,
            lines: Vec::new(),
            g: Vec::new(),
            c: Vec::new(),
            b: Vec::new(),
            start,
            unknowns: nodes,
            dynamic: (1..=dynamic).collect(),
            fixed: (dynamic + 1..=nodes).collect(),
            windings: Vec::new(),
        };
        for node in 1..=dynamic {
            let (ohm, farad) = draft.values(style);
            draft.capacitor([node, 0], farad);
            let near = draft.random.below(node);
            draft.resistor([node, near], ohm);
            let other = 1 + draft.random.below(dynamic);
            let (ohm, farad) = draft.values(style);
            match draft.random.below(4) {
                0 if other != node => draft.capacitor([node, other], farad),
                1 if other != node => draft.resistor([node, other], ohm),
                2 if other != node => {
                    let henry = 1e-3 * draft.random.decades(style.decades);
                    draft.inductor([node, other], henry, 0.1 * ohm);
                }
                _ => {}
            }
        }
        for (k, node) in (dynamic + 1..=nodes).enumerate() {
            let ends = [node, 1 + draft.random.below(dynamic)];
            let (ohm, _) = draft.values(style);
            draft.resistor(ends, ohm);
            let pick = |random: &mut Random| [1 + random.below(dynamic), random.below(dynamic)];
            let (mut to, mut input) = (pick(draft.random), pick(draft.random));
            for pair in [&mut to, &mut input] {
                if pair[0] == pair[1] {
                    pair[1] = 0;
                }
            }
            match k {
                _ if style.driven && k < 2 => draft.source(node, (k == 0).then_some(hertz)),
                _ if style.active => {
                    draft.controlled(node, to, input);
                    // Where it did not become a source at this node, the node is a joint of resistors.
                    draft.resistor([node, 0], ohm);
                }
                _ => draft.resistor([node, 0], 2.0 * ohm),
            }
        }
        Self::of(draft, nodes, hertz)
    }

    fn of(draft: Draft<'_>, nodes: usize, hertz: f64) -> Self {
        let n = draft.unknowns;
        let dense = |stamps: &[(usize, usize, f64)]| {
            let mut matrix = DMatrix::zeros(n, n);
            for &(row, column, value) in stamps {
                if row > 0 && column > 0 {
                    matrix[(row - 1, column - 1)] += value;
                }
            }
            matrix
        };
        let mut b = DMatrix::zeros(n, 2);
        draft.b.iter().for_each(|&(row, column, value)| b[(row - 1, column)] += value);
        let below = |list: &[usize]| list.iter().map(|u| u - 1).collect();
        Self {
            g: dense(&draft.g),
            c: dense(&draft.c),
            b,
            start: DVector::from_iterator(n, draft.start.iter().skip(1).copied()),
            nodes,
            hertz,
            dynamic: below(&draft.dynamic),
            fixed: below(&draft.fixed),
            lines: draft.lines,
        }
    }

    /// The file, watched for so long.
    pub(crate) fn text(&self, duration_s: f64) -> String {
        let mut text = format!("title = \"network\"\n[parts]\n{}", self.lines.concat());
        let _ = write!(
            text,
            "[[tests]]\nname = \"watch\"\nkind = \"profile\"\nduration = \"{duration_s:e} s\"\nstart = \"initial-values\"\n"
        );
        text
    }

    /// x_D' = A·x_D + B·u of the dynamic unknowns, x_F = P·x_D + Q·u of the others.
    fn reduced(&self) -> Option<[DMatrix<f64>; 4]> {
        let block = |m: &DMatrix<f64>, rows: &[usize], columns: &[usize]| {
            m.select_rows(rows).select_columns(columns)
        };
        let (d, f) = (&self.dynamic, &self.fixed);
        let own = block(&self.g, f, f).lu();
        let p = -own.solve(&block(&self.g, f, d))?;
        let q = own.solve(&self.b.select_rows(f))?;
        let store = block(&self.c, d, d).lu();
        let cross = block(&self.g, d, f);
        let a = -store.solve(&(block(&self.g, d, d) + &cross * &p))?;
        let b = store.solve(&(self.b.select_rows(d) - &cross * &q))?;
        Some([a, b, p, q])
    }

    /// Natural frequencies in rad/s; `None` where the static unknowns are not determined.
    pub(crate) fn natural(&self) -> Option<Vec<Complex<f64>>> {
        let [a, ..] = self.reduced()?;
        Some(a.complex_eigenvalues().iter().copied().collect())
    }

    /// All unknowns at `t`: e^(At) of the dynamic ones with a constant and an oscillator beside them.
    pub(crate) fn at(&self, t: f64) -> DVector<f64> {
        let [a, b, p, q] = self.reduced().expect("determined");
        let (m, omega) = (a.nrows(), TAU * self.hertz);
        let mut whole = DMatrix::zeros(m + 3, m + 3);
        whole.view_mut((0, 0), (m, m)).copy_from(&a);
        whole.view_mut((0, m), (m, 2)).copy_from(&b);
        // sin' = ω·cos, cos' = −ω·sin.
        whole[(m + 1, m + 2)] = omega;
        whole[(m + 2, m + 1)] = -omega;
        let mut from = DVector::zeros(m + 3);
        self.dynamic.iter().enumerate().for_each(|(k, &u)| from[k] = self.start[u]);
        (from[m], from[m + 2]) = (1.0, 1.0);
        let then = (whole * t).exp() * from;
        let (dynamic, drive) = (then.rows(0, m).into_owned(), then.rows(m, 2).into_owned());
        let fixed = p * &dynamic + q * drive;
        let mut x = DVector::zeros(self.start.len());
        self.dynamic.iter().enumerate().for_each(|(k, &u)| x[u] = dynamic[k]);
        self.fixed.iter().enumerate().for_each(|(k, &u)| x[u] = fixed[k]);
        x
    }

    /// The amplitudes that a unit of the sine's source makes at `hertz`.
    pub(crate) fn amplitudes(
        &self,
        hertz: f64,
        input: &DVector<f64>,
    ) -> Option<DVector<Complex<f64>>> {
        let s = Complex::new(0.0, TAU * hertz);
        let whole = self.g.map(|g| Complex::new(g, 0.0)) + self.c.map(|c| s * c);
        whole.lu().solve(&input.map(|x| Complex::new(x, 0.0)))
    }
}
