//! Random matrices of the kind circuits make: nearly symmetric patterns, currents of sources as
//! unknowns with nothing on their diagonal, transconductances off it, values over many decades.

use railstep::numeric::{Field, Pattern};

/// A small reproducible generator: SplitMix64 (Steele, Lea, Flood, OOPSLA 2014).
pub(crate) struct Random(pub(crate) u64);

impl Random {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly in 0 … 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly in 0 … bound − 1.
    pub(crate) fn below(&mut self, bound: usize) -> usize {
        ((self.unit() * bound as f64) as usize).min(bound.saturating_sub(1))
    }

    /// 10^−decades … 10^decades, evenly on a logarithmic scale.
    pub(crate) fn decades(&mut self, decades: f64) -> f64 {
        10_f64.powf(decades * (2.0 * self.unit() - 1.0))
    }
}

/// A matrix: its pattern and one value a slot.
pub(crate) struct Matrix<F> {
    pub(crate) pattern: Pattern,
    pub(crate) values: Vec<F>,
}

impl<F: Field> Matrix<F> {
    /// Values at the same place add up.
    pub(crate) fn from_stamps(n: usize, stamps: &[(usize, usize, F)]) -> Self {
        let pattern =
            Pattern::from_entries(n, stamps.iter().map(|&(row, column, _)| (row, column)));
        let mut values = vec![F::splat(0.0); pattern.slots()];
        for &(row, column, value) in stamps {
            let slot = pattern.slot(row, column).unwrap();
            values[slot] = values[slot] + value;
        }
        Self { pattern, values }
    }
}

/// A connected network of `n` unknowns, a sixth of them currents of voltage-defined parts, numbered
/// at random. `conductance` draws the values.
pub(crate) fn network<F: Field>(
    n: usize,
    random: &mut Random,
    mut conductance: impl FnMut(&mut Random) -> F,
) -> Matrix<F> {
    let one = F::splat(1.0);
    let branches = n / 6;
    let nodes = n - branches;
    let mut number: Vec<usize> = (0..n).collect();
    for k in (1..n).rev() {
        number.swap(k, random.below(k + 1));
    }
    let mut stamps = Vec::new();
    let conduct = |stamps: &mut Vec<_>, a: usize, b: Option<usize>, g: F| {
        stamps.push((number[a], number[a], g));
        if let Some(b) = b.filter(|&b| b != a) {
            stamps.extend([(number[b], number[b], g), (number[a], number[b], -g)]);
            stamps.push((number[b], number[a], -g));
        }
    };
    for node in 0..nodes {
        let near = node.checked_sub(1 + random.below(3));
        let g = conductance(random);
        conduct(&mut stamps, node, near, g);
        if node % 5 == 0 {
            let g = conductance(random);
            conduct(&mut stamps, node, None, g);
        }
        if node % 4 == 3 {
            let far = node - 1 - random.below(node.min(12));
            let g = conductance(random);
            conduct(&mut stamps, node, Some(far), g);
        }
        if node % 6 == 5 {
            let (control, g) = (number[node - 1 - random.below(4)], conductance(random));
            stamps.extend([(number[node], control, g), (number[node], number[node], g)]);
        }
    }
    for branch in 0..branches {
        // Each source holds a node of its own above an earlier one, so that they close no loop.
        let (current, plus) = (number[nodes + branch], 1 + branch * (nodes - 1) / branches);
        stamps.extend([(current, number[plus], one), (number[plus], current, one)]);
        if branch % 2 == 1 {
            let minus = random.below(plus);
            stamps.extend([(current, number[minus], -one), (number[minus], current, -one)]);
        }
    }
    Matrix::from_stamps(n, &stamps)
}
