//! The order in which rows and columns are eliminated: sparse (Markowitz 1957) and safe (threshold
//! pivoting; Duff, Erisman, Reid, "Direct Methods for Sparse Matrices"). Runs once per circuit on
//! representative values; its outcome is a list of pivots and the places that fill in.

use super::{Field, Pattern, Singular};

/// A pivot may be this many times smaller than the largest of its column, both rows scaled to a
/// largest value of 1. A tenth is the customary compromise (Duff, Erisman, Reid): multipliers stay
/// below ten, and hardly any sparsity is lost on network matrices. The order is used again with
/// other values, so a laxer bound would leave less room before pivots go bad.
const THRESHOLD: f64 = 0.1;

/// A remainder no larger than this times the sum of the magnitudes it was computed from is
/// rounding error, not a value: one rounding in each of the two operations that made it.
const NOISE: f64 = 2.0 * f64::EPSILON;

/// Rows and columns looked at for one pivot once a usable one is known. Zlatev (1980) found that
/// a few suffice; a few more cost little and find larger pivots among equals.
const LINES_SEARCHED: usize = 6;

const NONE: u32 = u32::MAX;

/// The pivots in order, with the shape of the triangular factors.
pub(super) struct Ordering {
    /// Row of the k-th pivot.
    pub(super) rows: Vec<u32>,
    /// Column of the k-th pivot.
    pub(super) columns: Vec<u32>,
    /// For each row of the matrix, the earlier pivots (by k, ascending) that are subtracted from it.
    pub(super) lower: Vec<Vec<u32>>,
    /// For the k-th pivot, the columns of the matrix right of it in its row.
    pub(super) upper: Vec<Vec<u32>>,
}

/// Finds an order for the matrix, or the place where none can go on.
pub(super) fn order<F: Field>(pattern: &Pattern, values: &[F]) -> Result<Ordering, Singular> {
    let n = pattern.n();
    let mut active = Active::new(pattern, values)?;
    let mut ordering = Ordering {
        rows: Vec::with_capacity(n),
        columns: Vec::with_capacity(n),
        lower: vec![Vec::new(); n],
        upper: Vec::with_capacity(n),
    };
    for k in 0..n as u32 {
        let pivot = active.choose().ok_or_else(|| active.blame())?;
        ordering.rows.push(pivot.row);
        ordering.columns.push(pivot.column);
        let upper = active.eliminate(pivot, |row| ordering.lower[row as usize].push(k));
        ordering.upper.push(upper);
    }
    Ok(ordering)
}

#[derive(Clone, Copy)]
struct Entry<F> {
    column: u32,
    value: F,
    /// Sum of the magnitudes of everything added up in `value`.
    terms: f64,
}

#[derive(Clone, Copy)]
struct Pivot {
    row: u32,
    column: u32,
    /// Places that may fill in: (others in the row) × (others in the column).
    cost: u64,
    /// Scaled size over the largest scaled size in its column.
    ratio: f64,
}

impl Pivot {
    fn beats(&self, other: Option<&Pivot>) -> bool {
        other.is_none_or(|o| self.cost < o.cost || (self.cost == o.cost && self.ratio > o.ratio))
    }
}

/// What is left of the matrix.
struct Active<F> {
    rows: Vec<Vec<Entry<F>>>,
    columns: Vec<Vec<u32>>,
    scale: Vec<f64>,
    row_counts: Buckets,
    column_counts: Buckets,
    /// Largest scaled size in each column, where known.
    largest: Vec<Option<f64>>,
    /// Scratch: index + 1 of a column in the row at hand.
    place: Vec<u32>,
    /// Scratch: (entries in the column, index in the row) of the row at hand.
    by_count: Vec<(u32, u32)>,
}

impl<F: Field> Active<F> {
    fn new(pattern: &Pattern, values: &[F]) -> Result<Self, Singular> {
        let n = pattern.n();
        let mut rows = Vec::with_capacity(n);
        let mut columns = vec![Vec::new(); n];
        let mut scale = Vec::with_capacity(n);
        for (row, (start, places)) in pattern.rows().enumerate() {
            let mut largest = 0.0_f64;
            let mut entries = Vec::with_capacity(2 * places.len());
            for (&column, &value) in places.iter().zip(&values[start..]) {
                let terms = value.pivot_size();
                if !terms.is_finite() {
                    return Err(Singular { row, column: column as usize });
                }
                largest = largest.max(terms);
                entries.push(Entry { column, value, terms });
                columns[column as usize].push(row as u32);
            }
            scale.push(if largest > 0.0 { 1.0 / largest } else { 0.0 });
            rows.push(entries);
        }
        let row_counts = Buckets::new(n, rows.iter().map(Vec::len));
        let column_counts = Buckets::new(n, columns.iter().map(Vec::len));
        let (largest, place) = (vec![None; n], vec![0; n]);
        let by_count = Vec::new();
        Ok(Self { rows, columns, scale, row_counts, column_counts, largest, place, by_count })
    }

    /// The cheapest usable pivot among the shortest rows and columns.
    fn choose(&mut self) -> Option<Pivot> {
        let mut best: Option<Pivot> = None;
        let mut searched = 0;
        for count in 1..=self.rows.len() {
            let shorter = count as u64 - 1;
            let mut column = self.column_counts.first(count);
            while column != NONE {
                if best.is_some_and(|b| b.cost < shorter * shorter || searched >= LINES_SEARCHED) {
                    return best;
                }
                self.consider_column(column, &mut best);
                searched += 1;
                column = self.column_counts.next(column);
            }
            let mut row = self.row_counts.first(count);
            while row != NONE {
                if best.is_some_and(|b| b.cost < shorter * shorter || searched >= LINES_SEARCHED) {
                    return best;
                }
                self.consider_row(row, &mut best);
                searched += 1;
                row = self.row_counts.next(row);
            }
            if best.is_some_and(|b| b.cost <= shorter * shorter) {
                return best;
            }
        }
        best
    }

    fn consider_column(&mut self, column: u32, best: &mut Option<Pivot>) {
        let largest = self.largest(column);
        for &row in &self.columns[column as usize] {
            if let Some(entry) = self.rows[row as usize].iter().find(|e| e.column == column) {
                self.consider(row, entry, largest, best);
            }
        }
    }

    /// Looks along a row, short columns first, so that long ones are measured only if need be.
    fn consider_row(&mut self, row: u32, best: &mut Option<Pivot>) {
        let mut order = std::mem::take(&mut self.by_count);
        order.clear();
        order.extend(self.rows[row as usize].iter().enumerate().map(|(index, entry)| {
            (self.columns[entry.column as usize].len() as u32, index as u32)
        }));
        order.sort_unstable();
        for &(count, index) in &order {
            let others = self.rows[row as usize].len() as u64 - 1;
            if best.is_some_and(|b| b.cost < others * u64::from(count - 1)) {
                break;
            }
            let entry = self.rows[row as usize][index as usize];
            let largest = self.largest(entry.column);
            self.consider(row, &entry, largest, best);
        }
        self.by_count = order;
    }

    fn consider(&self, row: u32, entry: &Entry<F>, largest: f64, best: &mut Option<Pivot>) {
        let size = entry.value.pivot_size();
        let scaled = size * self.scale[row as usize];
        if scaled > 0.0 && scaled >= THRESHOLD * largest && size > NOISE * entry.terms {
            let in_row = self.rows[row as usize].len() as u64;
            let in_column = self.columns[entry.column as usize].len() as u64;
            let cost = (in_row - 1) * (in_column - 1);
            let pivot = Pivot { row, column: entry.column, cost, ratio: scaled / largest };
            if pivot.beats(best.as_ref()) {
                *best = Some(pivot);
            }
        }
    }

    /// Largest scaled size in a column.
    fn largest(&mut self, column: u32) -> f64 {
        if let Some(known) = self.largest[column as usize] {
            return known;
        }
        let found = self.columns[column as usize]
            .iter()
            .filter_map(|&row| {
                let entry = self.rows[row as usize].iter().find(|e| e.column == column)?;
                Some(entry.value.pivot_size() * self.scale[row as usize])
            })
            .fold(0.0, f64::max);
        self.largest[column as usize] = Some(found);
        found
    }

    /// Takes the pivot's row and column out, subtracting multiples of its row from the rows below,
    /// each of which is reported. Returns the other columns of the pivot's row.
    fn eliminate(&mut self, pivot: Pivot, mut below: impl FnMut(u32)) -> Vec<u32> {
        self.row_counts.remove(pivot.row);
        self.column_counts.remove(pivot.column);
        let mut source = std::mem::take(&mut self.rows[pivot.row as usize]);
        let value = take(&mut source, pivot.column);
        for entry in &source {
            let column = &mut self.columns[entry.column as usize];
            if let Some(at) = column.iter().position(|&row| row == pivot.row) {
                column.swap_remove(at);
            }
        }
        for row in std::mem::take(&mut self.columns[pivot.column as usize]) {
            if row != pivot.row {
                let multiplier = take(&mut self.rows[row as usize], pivot.column) / value;
                self.subtract(row, multiplier, &source);
                self.row_counts.set(row, self.rows[row as usize].len());
                below(row);
            }
        }
        for entry in &source {
            self.column_counts.set(entry.column, self.columns[entry.column as usize].len());
            self.largest[entry.column as usize] = None;
        }
        source.into_iter().map(|entry| entry.column).collect()
    }

    /// row ← row − multiplier·source.
    fn subtract(&mut self, row: u32, multiplier: F, source: &[Entry<F>]) {
        let target = &mut self.rows[row as usize];
        for (index, entry) in target.iter().enumerate() {
            self.place[entry.column as usize] = index as u32 + 1;
        }
        let before = target.len();
        for entry in source {
            let term = multiplier * entry.value;
            match self.place[entry.column as usize] {
                0 => {
                    let terms = term.pivot_size();
                    target.push(Entry { column: entry.column, value: -term, terms });
                    self.columns[entry.column as usize].push(row);
                }
                index => {
                    let old = &mut target[index as usize - 1];
                    old.value = old.value - term;
                    old.terms += term.pivot_size();
                }
            }
        }
        for entry in &target[..before] {
            self.place[entry.column as usize] = 0;
        }
    }

    /// A row and a column that are left without a usable pivot: those where the least is left.
    fn blame(&self) -> Singular {
        let usable = |row: u32, column: u32| {
            self.rows[row as usize].iter().any(|entry| {
                entry.column == column && entry.value.pivot_size() > NOISE * entry.terms
            })
        };
        let column = (0..self.columns.len() as u32)
            .filter(|&column| self.column_counts.holds(column))
            .min_by_key(|&c| self.columns[c as usize].iter().filter(|&&r| usable(r, c)).count());
        let row = (0..self.rows.len() as u32).filter(|&row| self.row_counts.holds(row)).min_by_key(
            |&r| self.rows[r as usize].iter().filter(|entry| usable(r, entry.column)).count(),
        );
        Singular { row: row.unwrap_or(0) as usize, column: column.unwrap_or(0) as usize }
    }
}

/// Takes the entry of a column out of a row; zero where there is none.
fn take<F: Field>(row: &mut Vec<Entry<F>>, column: u32) -> F {
    match row.iter().position(|entry| entry.column == column) {
        Some(at) => row.swap_remove(at).value,
        None => F::splat(0.0),
    }
}

/// Rows (or columns) filed by how many entries they have, as linked lists through arrays, so that
/// the shortest are found without scanning and one is refiled in constant time.
struct Buckets {
    first: Vec<u32>,
    links: Vec<Link>,
}

#[derive(Clone, Copy)]
struct Link {
    previous: u32,
    next: u32,
    /// Number of entries; `NONE` once taken out.
    count: u32,
}

impl Buckets {
    fn new(n: usize, counts: impl DoubleEndedIterator<Item = usize> + ExactSizeIterator) -> Self {
        let links = vec![Link { previous: NONE, next: NONE, count: NONE }; n];
        let mut buckets = Self { first: vec![NONE; n + 1], links };
        for (line, count) in counts.enumerate().rev() {
            buckets.insert(line as u32, count);
        }
        buckets
    }

    fn first(&self, count: usize) -> u32 {
        self.first[count]
    }

    fn next(&self, line: u32) -> u32 {
        self.links[line as usize].next
    }

    fn holds(&self, line: u32) -> bool {
        self.links[line as usize].count != NONE
    }

    fn insert(&mut self, line: u32, count: usize) {
        let next = std::mem::replace(&mut self.first[count], line);
        if next != NONE {
            self.links[next as usize].previous = line;
        }
        self.links[line as usize] = Link { previous: NONE, next, count: count as u32 };
    }

    fn remove(&mut self, line: u32) {
        let Link { previous, next, count } = self.links[line as usize];
        if previous == NONE {
            self.first[count as usize] = next;
        } else {
            self.links[previous as usize].next = next;
        }
        if next != NONE {
            self.links[next as usize].previous = previous;
        }
        self.links[line as usize].count = NONE;
    }

    fn set(&mut self, line: u32, count: usize) {
        if self.links[line as usize].count != count as u32 {
            self.remove(line);
            self.insert(line, count);
        }
    }
}
