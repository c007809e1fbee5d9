//! The order in which rows and columns are eliminated: sparse (Markowitz 1957) and safe (threshold
//! pivoting; Duff, Erisman, Reid, "Direct Methods for Sparse Matrices"). Runs once per circuit on
//! representative values; its outcome is a list of pivots and the places that fill in.

use super::{Field, Pattern, Singular};

/// A pivot may be this many times smaller than the largest of its column, both rows scaled to a
/// largest value of 1. A tenth is the customary compromise (Duff, Erisman, Reid): multipliers stay
/// below ten, and hardly any sparsity is lost on network matrices. The order is used again with
/// other values, so a laxer bound would leave less room before pivots go bad.
pub(super) const THRESHOLD: f64 = 0.1;

/// Half the spacing of numbers at 1: the largest relative error of one operation.
const ROUNDING: f64 = f64::EPSILON / 2.0;

/// Roundings that a value of the matrix has been through: it is a sum of a few parts.
const ROUNDINGS_OF_A_VALUE: f64 = 2.0;

/// Columns looked at for one pivot once a usable one is known. Zlatev (1980) found that a few
/// suffice; a few more cost little and find larger pivots among equals.
const LINES_SEARCHED: usize = 4;

/// Rows are looked at only up to this length. They matter where the pattern is not symmetric (an
/// equation with a single unknown); comparing along a row costs a walk down each of its columns.
const LONGEST_ROW_SEARCHED: usize = 2;

/// The error bound is held to this many roundings of what was added up in a value. Unlimited, it
/// grew until networks over 12 decades were called singular whose solutions had six good digits;
/// so held, all 220 called singular among 12,000 changed by more than a hundredth of themselves
/// when their values changed in the last digit. Floating rings of 40 nodes need some 60.
const MOST_ROUNDINGS: f64 = 256.0;

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
    /// How many pivots come first whose rows and columns hold no value that varies; `None` where the
    /// order was not made for that.
    pub(super) constant: Option<usize>,
}

impl Ordering {
    pub(super) fn with_room_for(n: usize) -> Self {
        Self {
            rows: Vec::with_capacity(n),
            columns: Vec::with_capacity(n),
            lower: vec![Vec::new(); n],
            upper: Vec::with_capacity(n),
            constant: None,
        }
    }
}

/// Whether a value of this size may be nothing but rounding, `terms` being the sum of the magnitudes added
/// up in it: the search, which knows its error more exactly, never calls a larger one noise.
pub(super) fn is_noise_at_most(size: f64, terms: f64) -> bool {
    size <= ROUNDING * MOST_ROUNDINGS * terms
}

/// Finds an order for the matrix, or the place where none can go on. Values that are themselves what is
/// left of an elimination come with the sums of the magnitudes added up in them. Rows and columns may have
/// to wait for all others; how many pivots come before them is given too.
pub(super) fn search<F: Field>(
    pattern: &Pattern,
    values: &[F],
    terms: Option<&[f64]>,
    waiting: Option<(&[bool], &[bool])>,
) -> Result<(Ordering, usize), Singular> {
    let n = pattern.n();
    let mut active = Active::new(pattern, values, terms, waiting)?;
    let mut first = 0;
    let mut ordering = Ordering::with_room_for(n);
    for k in 0..n as u32 {
        let before = active.waiting.is_some().then(|| active.choose()).flatten();
        let pivot = match before {
            Some(pivot) => {
                first = k as usize + 1;
                pivot
            }
            None => {
                active.waiting = None;
                active.choose().ok_or_else(|| active.blame())?
            }
        };
        ordering.rows.push(pivot.row);
        ordering.columns.push(pivot.column);
        let upper = active.eliminate(pivot, |row| ordering.lower[row as usize].push(k));
        ordering.upper.push(upper);
    }
    Ok((ordering, first))
}

/// A value of the remaining matrix, filed in its column.
#[derive(Clone, Copy)]
struct Entry<F> {
    row: u32,
    value: F,
    /// Sum of the magnitudes added up in it.
    terms: f64,
    /// Bound on its error in units of [`ROUNDING`], carried along (running error analysis; Higham,
    /// "Accuracy and Stability of Numerical Algorithms", 3.3): a value within it may be zero.
    error: f64,
}

impl<F: Field> Entry<F> {
    fn is_noise(&self) -> bool {
        self.value.pivot_size() <= ROUNDING * self.error
    }

    /// The quotient with its error, in this entry's place.
    fn divided_by(self, divisor: Self) -> Self {
        let value = self.value / divisor.value;
        let size = value.pivot_size();
        let error = (self.error + size * divisor.error) / divisor.value.pivot_size() + size;
        let error = error.min(MOST_ROUNDINGS * size);
        Self { row: self.row, value, terms: size, error }
    }
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
struct Active<'a, F> {
    columns: Vec<Vec<Entry<F>>>,
    /// The columns in which each row has entries.
    rows: Vec<Vec<u32>>,
    /// One over the largest size in each row of the whole matrix.
    scale: Vec<f64>,
    row_counts: Buckets,
    column_counts: Buckets,
    /// Scratch: index + 1 of a row in the column at hand.
    place: Vec<u32>,
    /// Rows and columns that must wait, as long as any others are left.
    waiting: Option<(&'a [bool], &'a [bool])>,
}

impl<'a, F: Field> Active<'a, F> {
    fn new(
        pattern: &Pattern,
        values: &[F],
        terms: Option<&[f64]>,
        waiting: Option<(&'a [bool], &'a [bool])>,
    ) -> Result<Self, Singular> {
        let n = pattern.n();
        let mut rows = Vec::with_capacity(n);
        let mut columns = vec![Vec::new(); n];
        let mut scale = Vec::with_capacity(n);
        for (row, (start, places)) in pattern.rows().enumerate() {
            let mut largest = 0.0_f64;
            for (slot, (&column, &value)) in (start..).zip(places.iter().zip(&values[start..])) {
                let size = value.pivot_size();
                if !size.is_finite() {
                    return Err(Singular { row, column: column as usize });
                }
                largest = largest.max(size);
                let (terms, roundings) = match terms.and_then(|terms| terms.get(slot)) {
                    Some(&terms) => (terms.max(size), MOST_ROUNDINGS),
                    None => (size, ROUNDINGS_OF_A_VALUE),
                };
                let error = roundings * terms;
                columns[column as usize].push(Entry { row: row as u32, value, terms, error });
            }
            scale.push(if largest > 0.0 { 1.0 / largest } else { 0.0 });
            rows.push(places.to_vec());
        }
        let row_counts = Buckets::new(n, rows.iter().map(Vec::len));
        let column_counts = Buckets::new(n, columns.iter().map(Vec::len));
        Ok(Self { columns, rows, scale, row_counts, column_counts, place: vec![0; n], waiting })
    }

    /// The cheapest usable pivot among the shortest columns and rows.
    fn choose(&self) -> Option<Pivot> {
        let mut best: Option<Pivot> = None;
        let mut searched = 0;
        for count in 1..=self.rows.len() {
            // No pivot in a line of this length is cheaper: shorter lines have been looked at.
            let least = (count as u64 - 1) * (count as u64 - 1);
            for column in self.column_counts.lines(count).filter(|&line| !self.waits(None, line)) {
                if best.is_some_and(|b| b.cost < least || searched >= LINES_SEARCHED) {
                    return best;
                }
                self.consider_column(column, &mut best);
                searched += 1;
            }
            if count <= LONGEST_ROW_SEARCHED {
                for row in self.row_counts.lines(count) {
                    if best.is_some_and(|b| b.cost < least || searched >= LINES_SEARCHED) {
                        return best;
                    }
                    self.consider_row(row, &mut best);
                    searched += 1;
                }
            }
            if best.is_some_and(|b| b.cost <= least) {
                return best;
            }
        }
        best
    }

    /// Whether a column, or a place in it, has to wait.
    fn waits(&self, row: Option<u32>, column: u32) -> bool {
        self.waiting.is_some_and(|(rows, columns)| {
            columns[column as usize] || row.is_some_and(|row| rows[row as usize])
        })
    }

    fn consider_column(&self, column: u32, best: &mut Option<Pivot>) {
        let largest = self.largest(column);
        for entry in &self.columns[column as usize] {
            self.consider(column, entry, largest, best);
        }
    }

    fn consider_row(&self, row: u32, best: &mut Option<Pivot>) {
        let others = self.rows[row as usize].len() as u64 - 1;
        for &column in &self.rows[row as usize] {
            let entries = &self.columns[column as usize];
            if best.is_some_and(|b| b.cost < others * (entries.len() as u64 - 1)) {
                continue;
            }
            if let Some(entry) = entries.iter().find(|entry| entry.row == row) {
                self.consider(column, entry, self.largest(column), best);
            }
        }
    }

    fn consider(&self, column: u32, entry: &Entry<F>, largest: f64, best: &mut Option<Pivot>) {
        let scaled = self.scaled(entry);
        let is_sound = scaled > 0.0 && scaled >= THRESHOLD * largest && !entry.is_noise();
        if is_sound && !self.waits(Some(entry.row), column) {
            let in_row = self.rows[entry.row as usize].len() as u64;
            let in_column = self.columns[column as usize].len() as u64;
            let cost = (in_row - 1) * (in_column - 1);
            let pivot = Pivot { row: entry.row, column, cost, ratio: scaled / largest };
            if pivot.beats(best.as_ref()) {
                *best = Some(pivot);
            }
        }
    }

    fn scaled(&self, entry: &Entry<F>) -> f64 {
        entry.value.pivot_size() * self.scale[entry.row as usize]
    }

    /// Largest scaled size in a column.
    fn largest(&self, column: u32) -> f64 {
        self.columns[column as usize].iter().map(|entry| self.scaled(entry)).fold(0.0, f64::max)
    }

    /// Takes the pivot's row and column out, subtracting multiples of its column from the columns
    /// beside it. The rows in which it has multipliers are reported; returns the columns beside it.
    fn eliminate(&mut self, pivot: Pivot, mut below: impl FnMut(u32)) -> Vec<u32> {
        self.row_counts.remove(pivot.row);
        self.column_counts.remove(pivot.column);
        let mut source = std::mem::take(&mut self.columns[pivot.column as usize]);
        let Some(divisor) = take(&mut source, pivot.row) else { return Vec::new() };
        for entry in &mut source {
            *entry = entry.divided_by(divisor);
            let row = &mut self.rows[entry.row as usize];
            if let Some(at) = row.iter().position(|&column| column == pivot.column) {
                row.swap_remove(at);
            }
            below(entry.row);
        }
        let mut beside = std::mem::take(&mut self.rows[pivot.row as usize]);
        beside.retain(|&column| column != pivot.column);
        for &column in &beside {
            if let Some(factor) = take(&mut self.columns[column as usize], pivot.row) {
                self.subtract(column, factor, &source);
            }
            self.column_counts.set(column, self.columns[column as usize].len());
        }
        for entry in &source {
            self.row_counts.set(entry.row, self.rows[entry.row as usize].len());
        }
        beside
    }

    /// column ← column − factor·source.
    fn subtract(&mut self, column: u32, factor: Entry<F>, source: &[Entry<F>]) {
        let target = &mut self.columns[column as usize];
        for (index, entry) in target.iter().enumerate() {
            self.place[entry.row as usize] = index as u32 + 1;
        }
        let before = target.len();
        let size = factor.value.pivot_size();
        for entry in source {
            let term = entry.value * factor.value;
            let error =
                size * entry.error + entry.value.pivot_size() * factor.error + term.pivot_size();
            match self.place[entry.row as usize] {
                0 => {
                    let terms = term.pivot_size();
                    let error = error.min(MOST_ROUNDINGS * terms);
                    target.push(Entry { row: entry.row, value: -term, terms, error });
                    self.rows[entry.row as usize].push(column);
                }
                index => {
                    let old = &mut target[index as usize - 1];
                    old.value = old.value - term;
                    old.terms += term.pivot_size();
                    old.error = (old.error + error + old.value.pivot_size())
                        .min(MOST_ROUNDINGS * old.terms);
                }
            }
        }
        for entry in &target[..before] {
            self.place[entry.row as usize] = 0;
        }
    }

    /// A row and a column that are left with the fewest usable values.
    fn blame(&self) -> Singular {
        let n = self.columns.len();
        let (mut in_row, mut in_column) = (vec![0_u32; n], vec![0_u32; n]);
        for (column, entries) in self.columns.iter().enumerate() {
            for entry in entries.iter().filter(|entry| !entry.is_noise()) {
                in_row[entry.row as usize] += 1;
                in_column[column] += 1;
            }
        }
        let fewest = |counts: &[u32], left: &Buckets| {
            let left = (0..n).filter(|&line| left.holds(line as u32));
            left.min_by_key(|&line| counts[line]).unwrap_or(0)
        };
        Singular {
            row: fewest(&in_row, &self.row_counts),
            column: fewest(&in_column, &self.column_counts),
        }
    }
}

/// Takes the entry of a row out of a column.
fn take<F>(column: &mut Vec<Entry<F>>, row: u32) -> Option<Entry<F>> {
    let at = column.iter().position(|entry| entry.row == row)?;
    Some(column.swap_remove(at))
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

    /// The lines with this many entries.
    fn lines(&self, count: usize) -> impl Iterator<Item = u32> {
        let some = |line: u32| (line != NONE).then_some(line);
        std::iter::successors(some(self.first[count]), move |&line| {
            some(self.links[line as usize].next)
        })
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The bound on a quotient is what errors of both numbers make of it at worst, (a + δa)/(b − δb) − a/b =
    /// (δa + a/b·δb)/(b − δb), and one rounding of its own: to first order no more and no less.
    #[test]
    fn exact_a_quotient_is_bounded_by_the_errors_it_is_made_of() {
        let entry = |row, value: f64, error| Entry { row, value, terms: value.abs(), error };
        for (value, error) in [(3.0, 4.0), (-0.25, 20.0), (1e-3, 0.125), (6e7, 7.5e9)] {
            for (divisor, own) in [(2.0, 1.0), (-16.0, 900.0), (3e-5, 2e-4)] {
                let found = entry(7, value, error).divided_by(entry(9, divisor, own));
                let quotient = (value / divisor).abs();
                assert_eq!((found.row, found.value), (7, value / divisor));
                assert_eq!(found.terms, quotient);
                let (by, own_by) = (ROUNDING * error, ROUNDING * own);
                let worst = (by + quotient * own_by) / (divisor.abs() - own_by);
                let all = (worst + ROUNDING * quotient).min(ROUNDING * MOST_ROUNDINGS * quotient);
                let share = ROUNDING * found.error / all;
                assert!((share - 1.0).abs() < 1e-10, "{value}/{divisor}: {share}");
            }
        }
    }

    /// What is left of 1 + k·ε after 4/2·0.5 is taken off it.
    fn nearly_dependent(k: f64) -> (Pattern, [f64; 4]) {
        let pattern = Pattern::from_entries(2, [(0, 0), (0, 1), (1, 0), (1, 1)]);
        (pattern, [2.0, 0.5, 4.0, 1.0 + k * f64::EPSILON])
    }

    const LAST: Singular = Singular { row: 1, column: 1 };

    /// Two roundings in each of the four numbers, one each of quotient and product: ten, five times ε, may
    /// be all that is left; the rounding of the difference is nothing beside them.
    #[test]
    fn exact_what_is_left_is_noise_up_to_ten_roundings_of_its_parts() {
        for (k, outcome) in [(5.0, Some(LAST)), (6.0, None), (-5.0, Some(LAST)), (-6.0, None)] {
            let (pattern, values) = nearly_dependent(k);
            assert_eq!(search(&pattern, &values, None, None).err(), outcome, "{k}");
        }
    }

    /// However little is known of the divisor, its quotient counts as known to 256 roundings, by which with
    /// those of the other numbers (two of each, one of the product) 261 may be all that is left, 130.5 ε.
    #[test]
    fn exact_a_quotient_is_held_to_its_most_roundings() {
        for (k, outcome) in [(130.0, Some(LAST)), (131.0, None)] {
            let (pattern, values) = nearly_dependent(k);
            // Of the divisor alone the sum is told that it is the rest of.
            let terms = [16.0];
            assert_eq!(search(&pattern, &values, Some(&terms), None).err(), outcome, "{k}");
        }
    }
}
