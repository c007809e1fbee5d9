//! The order of large matrices, from their structure first: approximate minimum degree (Amestoy, Davis,
//! Duff, SIAM J. Matrix Anal. Appl. 17 (1996)) on the symmetrised pattern, then one elimination column by
//! column with these values (Gilbert, Peierls, SIAM J. Sci. Stat. Comput. 9 (1988)), in which a pivot is
//! taken only where it passes the same threshold as in the search. Where it does not, its column waits;
//! what is left in the end is a small matrix of its own, for which the search decides.
//!
//! Rows and columns whose values change from step to step wait likewise, so that all before them is
//! eliminated once per step size.

use super::ordering::{Ordering, THRESHOLD, is_noise_at_most, search};
use super::{Field, Pattern, Singular};

/// Above this many unknowns degrees decide. At 20,000 nodes of a grid searching takes three times as long
/// and leaves a program that factors half as fast; below, as far as there is little to win.
const SEARCHED: usize = 2_000;

/// Where more of the unknowns than this share are currents of sources, the search decides all the same:
/// degrees take no account of what a source saves. With a sixth of them and 20,000 unknowns it filled in
/// six times less.
const MOST_SOURCES: f64 = 0.02;

/// Up to this many unknowns the short program (`short.rs`) factors faster than a split one.
const UNSPLIT: usize = 60;

/// Waiting rows and columns may fill their block: it holds at most this many values for each unknown,
/// which is about what a network's factors hold anyway.
const WAITING_VALUES: usize = 16;

const NONE: u32 = u32::MAX;

/// Finds an order for the matrix, or the place where none can go on.
pub(super) fn order<F: Field>(pattern: &Pattern, values: &[F]) -> Result<Ordering, Singular> {
    let n = pattern.n();
    let waiting = pattern.varying_lines().filter(|(rows, columns)| {
        let count = |lines: &[bool]| lines.iter().filter(|waits| **waits).count();
        let most = count(rows).max(count(columns));
        n > UNSPLIT && most * most <= WAITING_VALUES * n
    });
    let keeps = waiting.is_some();
    if !keeps && n <= SEARCHED {
        return Ok(search(pattern, values, None, None)?.0);
    }
    let (rows_wait, columns_wait) = waiting.unwrap_or_else(|| (vec![false; n], vec![false; n]));
    let left = Left { pattern, values, terms: None, rows_wait, columns_wait };
    let columns = Columns::new(&left)?;
    let (partners, pairs) = columns.partners(&left);
    let ordered = if pairs.len() as f64 > MOST_SOURCES * n as f64 {
        search(pattern, values, None, Some((&left.rows_wait, &left.columns_wait)))
    } else {
        by_degree(&left, columns, &partners, &pairs)
    };
    match ordered {
        Ok((mut ordering, first)) => {
            ordering.constant = keeps.then_some(first);
            Ok(ordering)
        }
        // Whether there is no pivot, the search decides, which knows the errors of values best.
        Err(_) => Ok(search(pattern, values, None, None)?.0),
    }
}

/// A matrix that is left to order.
struct Left<'a, F> {
    pattern: &'a Pattern,
    values: &'a [F],
    /// Sums of the magnitudes that have been added up in the values.
    terms: Option<&'a [f64]>,
    rows_wait: Vec<bool>,
    columns_wait: Vec<bool>,
}

/// An order with the number of its first pivots in which nothing that waits has a part. Sources and what
/// stands on their nodes go first, for then the degrees are those of a network without them; then the
/// others by degree; then what waits and what was no sound pivot.
fn by_degree<F: Field>(
    left: &Left<'_, F>,
    mut columns: Columns<'_, F>,
    partners: &[u32],
    pairs: &[[u32; 2]],
) -> Result<(Ordering, usize), Singular> {
    let n = left.pattern.n();
    for &[node, source] in pairs {
        if columns.eliminate(node, source) {
            columns.eliminate(source, node);
        }
    }
    let paired = columns.ordering.rows.len();
    if paired == 0 {
        let mut leading: Vec<u32> = (0..n as u32)
            .filter(|&c| {
                let row = partners[c as usize] as usize;
                !left.columns_wait[c as usize] && !left.rows_wait[row]
            })
            .collect();
        sort_by_degree(&columns, partners, &mut leading);
        for column in leading {
            columns.eliminate(column, partners[column as usize]);
        }
    }
    let first = columns.ordering.rows.len();
    let rest = columns.rest();
    let marks = |lines: &[u32], waits: &[bool]| -> Vec<bool> {
        lines.iter().map(|&line| paired > 0 && waits[line as usize]).collect()
    };
    let next = Left {
        pattern: &rest.pattern,
        values: &rest.values,
        terms: Some(&rest.terms),
        rows_wait: marks(&rest.rows, &left.rows_wait),
        columns_wait: marks(&rest.columns, &left.columns_wait),
    };
    let n_left = rest.pattern.n();
    // Searching through much is slow, but where hardly anything was sound, it would never end otherwise.
    let ordered = if paired > 0 || (n_left > SEARCHED && n_left < n / 2) {
        Columns::new(&next).and_then(|columns| {
            let (partners, pairs) = columns.partners(&next);
            by_degree(&next, columns, &partners, &pairs)
        })
    } else {
        search(next.pattern, next.values, next.terms, None)
    };
    let (behind, more) = ordered.map_err(|singular| Singular {
        row: rest.rows.get(singular.row).map_or(0, |&row| row as usize),
        column: rest.columns.get(singular.column).map_or(0, |&column| column as usize),
    })?;
    let constant = if paired > 0 { first + more } else { first };
    Ok((rest.joined(columns.ordering, &behind), constant))
}

/// Sorts columns so that eliminating each with its partner's row fills in little.
fn sort_by_degree<F: Field>(columns: &Columns<'_, F>, partners: &[u32], leading: &mut [u32]) {
    let mut vertex_of_row = vec![NONE; partners.len()];
    for (vertex, &column) in leading.iter().enumerate() {
        vertex_of_row[partners[column as usize] as usize] = vertex as u32;
    }
    let (mut starts, mut rows) = (vec![0_i32], Vec::new());
    for &column in leading.iter() {
        let first = rows.len();
        let vertices = columns.entries(column).map(|(row, _)| vertex_of_row[row as usize]);
        rows.extend(vertices.filter(|&vertex| vertex != NONE).map(|vertex| vertex as i32));
        rows[first..].sort_unstable();
        starts.push(rows.len() as i32);
    }
    let count = leading.len() as i32;
    // Fails only where the arrays contradict one another.
    if let Ok((order, ..)) = amd::order(count, &starts, &rows, &amd::Control::default()) {
        let sorted: Vec<u32> = order.iter().map(|&vertex| leading[vertex as usize]).collect();
        leading.copy_from_slice(&sorted);
    }
}

/// A matrix by columns, with what has been eliminated of it so far.
struct Columns<'a, F> {
    left: &'a Left<'a, F>,
    starts: Vec<u32>,
    /// Row and slot of each entry, column by column.
    places: Vec<(u32, u32)>,
    /// One over the largest size in each row.
    scale: Vec<f64>,
    row_lengths: Vec<u32>,
    ordering: Ordering,
    /// Which pivot each row, and each column, has become.
    pivot_of_row: Vec<u32>,
    pivot_of_column: Vec<u32>,
    /// Multipliers of each pivot, by row.
    multiplier_starts: Vec<usize>,
    multipliers: Vec<(u32, F)>,
    /// The column at hand, at full length, with the sums of the magnitudes added up in it.
    at_hand: Vec<(F, f64)>,
    /// Rows that it has entries in: of pivots, such that each comes before those it changes, and others.
    pivots_hit: Vec<u32>,
    rows_hit: Vec<u32>,
    /// For which computation a row was last hit, and which one is under way.
    hit_for: Vec<u32>,
    under_way: u32,
    stack: Vec<(u32, usize)>,
}

impl<'a, F: Field> Columns<'a, F> {
    fn new(left: &'a Left<'a, F>) -> Result<Self, Singular> {
        let Left { pattern, values, .. } = *left;
        let n = pattern.n();
        let mut starts = vec![0_u32; n + 1];
        let mut scale = Vec::with_capacity(n);
        for (row, (start, columns)) in pattern.rows().enumerate() {
            let mut largest = 0.0_f64;
            for (&column, value) in columns.iter().zip(&values[start..]) {
                let size = value.pivot_size();
                if !size.is_finite() {
                    return Err(Singular { row, column: column as usize });
                }
                largest = largest.max(size);
                starts[column as usize + 1] += 1;
            }
            scale.push(if largest > 0.0 { 1.0 / largest } else { 0.0 });
        }
        for column in 0..n {
            starts[column + 1] += starts[column];
        }
        let mut next = starts.clone();
        let mut places = vec![(0, 0); pattern.slots()];
        for (row, (start, columns)) in pattern.rows().enumerate() {
            for (offset, &column) in columns.iter().enumerate() {
                let at = &mut next[column as usize];
                places[*at as usize] = (row as u32, (start + offset) as u32);
                *at += 1;
            }
        }
        Ok(Self {
            left,
            starts,
            places,
            scale,
            row_lengths: pattern.columns_by_row().map(|row| row.len() as u32).collect(),
            ordering: Ordering::with_room_for(n),
            pivot_of_row: vec![NONE; n],
            pivot_of_column: vec![NONE; n],
            multiplier_starts: vec![0],
            multipliers: Vec::new(),
            at_hand: vec![(F::splat(0.0), 0.0); n],
            pivots_hit: Vec::new(),
            rows_hit: Vec::new(),
            hit_for: vec![0; n],
            under_way: 0,
            stack: Vec::new(),
        })
    }

    fn range(&self, column: u32) -> std::ops::Range<usize> {
        let [from, to] = [column as usize, column as usize + 1].map(|c| self.starts[c] as usize);
        from..to
    }

    /// Row and value of each entry of a column.
    fn entries(&self, column: u32) -> impl Iterator<Item = (u32, F)> {
        let places = self.places[self.range(column)].iter();
        places.map(|&(row, slot)| (row, self.left.values[slot as usize]))
    }

    fn scaled(&self, row: u32, value: F) -> f64 {
        value.pivot_size() * self.scale[row as usize]
    }

    /// A row for each column: its own where the value there is large enough. Where it is not, as for
    /// the current of a source, two trade rows: the source's with that of the node whose voltage it sets.
    /// These are listed too, node before source.
    fn partners(&self, left: &Left<'_, F>) -> (Vec<u32>, Vec<[u32; 2]>) {
        let n = self.scale.len();
        let mut partners: Vec<u32> = (0..n as u32).collect();
        let mut pairs = Vec::new();
        let waits = |line: u32| left.rows_wait[line as usize] || left.columns_wait[line as usize];
        for source in (0..n as u32).filter(|&column| !waits(column)) {
            if partners[source as usize] != source {
                continue;
            }
            let sizes = || self.entries(source).map(|(row, value)| (row, self.scaled(row, value)));
            let largest = sizes().fold(0.0, |most: f64, (_, size)| most.max(size));
            let is_sound = |size: f64| size > 0.0 && size >= THRESHOLD * largest;
            if sizes().any(|(row, size)| row == source && is_sound(size)) {
                continue;
            }
            let node = sizes()
                .filter(|&(row, size)| row != source && is_sound(size) && !waits(row))
                .filter(|&(row, _)| partners[row as usize] == row && self.has(source, row))
                .min_by_key(|&(row, _)| self.range(row).len());
            if let Some((node, _)) = node {
                partners[source as usize] = node;
                partners[node as usize] = source;
                pairs.push([node, source]);
            }
        }
        (partners, pairs)
    }

    /// Whether there is a value at that place.
    fn has(&self, row: u32, column: u32) -> bool {
        let slot = self.left.pattern.slot(row as usize, column as usize);
        slot.is_some_and(|slot| self.left.values[slot].pivot_size() > 0.0)
    }

    /// The column less all multiples of earlier ones.
    fn compute(&mut self, column: u32) {
        self.pivots_hit.clear();
        self.rows_hit.clear();
        self.under_way += 1;
        for at in self.range(column) {
            self.hit(self.places[at].0);
        }
        for at in self.range(column) {
            let (row, slot) = self.places[at];
            let value = self.left.values[slot as usize];
            let terms = self.left.terms.map_or(0.0, |terms| terms[slot as usize]);
            self.at_hand[row as usize] = (value, terms.max(value.pivot_size()));
        }
        for at in (0..self.pivots_hit.len()).rev() {
            let k = self.pivots_hit[at] as usize;
            let factor = self.at_hand[self.ordering.rows[k] as usize].0;
            let range = self.multiplier_starts[k]..self.multiplier_starts[k + 1];
            for &(row, multiplier) in &self.multipliers[range] {
                let (value, terms) = &mut self.at_hand[row as usize];
                let product = multiplier * factor;
                *value = *value - product;
                *terms += product.pivot_size();
            }
        }
    }

    /// Notes a row of the column at hand and all that follow from it, pivots after those they change.
    fn hit(&mut self, row: u32) {
        if !self.is_new(row) {
            return;
        }
        match self.pivot_of_row[row as usize] {
            NONE => self.rows_hit.push(row),
            k => self.stack.push((k, self.multiplier_starts[k as usize])),
        }
        while let Some((k, next)) = self.stack.pop() {
            let end = self.multiplier_starts[k as usize + 1];
            let mut below = None;
            for at in next..end {
                let row = self.multipliers[at].0;
                if !self.is_new(row) {
                    continue;
                }
                match self.pivot_of_row[row as usize] {
                    NONE => self.rows_hit.push(row),
                    other => {
                        below = Some((other, at + 1));
                        break;
                    }
                }
            }
            match below {
                Some((other, resume)) => {
                    self.stack.push((k, resume));
                    self.stack.push((other, self.multiplier_starts[other as usize]));
                }
                None => self.pivots_hit.push(k),
            }
        }
    }

    fn is_new(&mut self, row: u32) -> bool {
        let hit_for = &mut self.hit_for[row as usize];
        let is_new = *hit_for != self.under_way;
        if is_new {
            *hit_for = self.under_way;
            self.at_hand[row as usize] = (F::splat(0.0), 0.0);
        }
        is_new
    }

    /// Takes a column out with its partner as pivot, or if that is not sound with another row that is and
    /// does not wait. If there is none, the column stays.
    fn eliminate(&mut self, column: u32, partner: u32) -> bool {
        self.compute(column);
        let Some(pivot_row) = self.sound_row(partner) else { return false };
        let pivot = self.at_hand[pivot_row as usize].0;
        let k = self.ordering.rows.len() as u32;
        self.ordering.rows.push(pivot_row);
        self.ordering.columns.push(column);
        self.ordering.upper.push(Vec::new());
        self.pivot_of_row[pivot_row as usize] = k;
        self.pivot_of_column[column as usize] = k;
        for &row in self.rows_hit.iter().filter(|&&row| row != pivot_row) {
            self.multipliers.push((row, self.at_hand[row as usize].0 / pivot));
            self.ordering.lower[row as usize].push(k);
        }
        self.multiplier_starts.push(self.multipliers.len());
        self.note_above(column);
        true
    }

    /// A row for the column at hand: the partner's, else another that is large enough and does not wait.
    fn sound_row(&self, partner: u32) -> Option<u32> {
        let sizes = || self.rows_hit.iter().map(|&row| (row, self.at_hand[row as usize]));
        let scaled = |row: u32, value: F| self.scaled(row, value);
        let largest =
            sizes().fold(0.0, |most: f64, (row, (value, _))| most.max(scaled(row, value)));
        let is_sound = |&(row, (value, terms)): &(u32, (F, f64))| {
            let size = scaled(row, value);
            size > 0.0
                && size >= THRESHOLD * largest
                && !is_noise_at_most(value.pivot_size(), terms)
                && !self.left.rows_wait[row as usize]
        };
        if !largest.is_finite() {
            return None;
        }
        // The fewer multiples of earlier rows have been taken off a row, the less it has filled in.
        let rank = |&(row, _): &(u32, (F, f64))| (row != partner, self.filled(row), row);
        sizes().filter(is_sound).min_by_key(rank).map(|(row, _)| row)
    }

    /// About how many entries a row has by now.
    fn filled(&self, row: u32) -> usize {
        self.row_lengths[row as usize] as usize + self.ordering.lower[row as usize].len()
    }

    /// The column at hand stands right of the pivots it was hit by.
    fn note_above(&mut self, column: u32) {
        for &k in &self.pivots_hit {
            self.ordering.upper[k as usize].push(column);
        }
    }

    /// What is left when the pivots so far have been eliminated.
    fn rest(&mut self) -> Rest<F> {
        let untaken = |pivots: &[u32]| -> Vec<u32> {
            (0..pivots.len() as u32).filter(|&line| pivots[line as usize] == NONE).collect()
        };
        let (rows, columns) = (untaken(&self.pivot_of_row), untaken(&self.pivot_of_column));
        let mut place_of_row = vec![NONE; self.scale.len()];
        for (place, &row) in rows.iter().enumerate() {
            place_of_row[row as usize] = place as u32;
        }
        let mut entries: Vec<(usize, usize, F, f64)> = Vec::new();
        for (place, &column) in columns.iter().enumerate() {
            self.compute(column);
            self.note_above(column);
            entries.extend(self.rows_hit.iter().map(|&row| {
                let (value, terms) = self.at_hand[row as usize];
                (place_of_row[row as usize] as usize, place, value, terms)
            }));
        }
        entries.sort_unstable_by_key(|&(row, column, ..)| (row, column));
        Rest {
            pattern: Pattern::from_entries(columns.len(), entries.iter().map(|e| (e.0, e.1))),
            values: entries.iter().map(|e| e.2).collect(),
            terms: entries.iter().map(|e| e.3).collect(),
            rows,
            columns,
        }
    }
}

/// The matrix that is left behind some pivots.
struct Rest<F> {
    pattern: Pattern,
    values: Vec<F>,
    /// Sums of the magnitudes added up in the values.
    terms: Vec<f64>,
    /// Its rows and columns among those of the whole.
    rows: Vec<u32>,
    columns: Vec<u32>,
}

impl<F> Rest<F> {
    /// The pivots before it followed by its own.
    fn joined(&self, before: Ordering, behind: &Ordering) -> Ordering {
        let mut all = before;
        let first = all.rows.len() as u32;
        all.rows.extend(behind.rows.iter().map(|&row| self.rows[row as usize]));
        all.columns.extend(behind.columns.iter().map(|&column| self.columns[column as usize]));
        for (lower, &row) in behind.lower.iter().zip(&self.rows) {
            all.lower[row as usize].extend(lower.iter().map(|&k| first + k));
        }
        let back = |upper: &Vec<u32>| upper.iter().map(|&c| self.columns[c as usize]).collect();
        all.upper.extend(behind.upper.iter().map(back));
        all
    }
}
