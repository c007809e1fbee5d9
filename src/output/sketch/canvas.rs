//! A field of characters made of dots, with a curve, levels and letters on it.

use super::Script;

/// What the field shows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    /// Characters across.
    pub(super) columns: usize,
    /// Characters down.
    pub(super) rows: usize,
    /// Left and right end, s.
    pub(super) time_s: (f64, f64),
    /// Lower and upper end.
    pub(super) value: (f64, f64),
    pub(super) script: Script,
}

/// How far a letter may be moved aside for another one.
const FARTHEST_ASIDE: usize = 3;

impl Frame {
    /// Dots of one character, across and down.
    fn dots(&self) -> (usize, usize) {
        match self.script {
            Script::Braille => (2, 4),
            Script::Ascii => (1, 2),
        }
    }

    /// The character column of an instant.
    pub(super) fn column(&self, t_s: f64) -> usize {
        let (from, to) = self.time_s;
        let share = ((t_s - from) / (to - from)).clamp(0.0, 1.0);
        ((share * self.columns as f64) as usize).min(self.columns - 1)
    }

    /// The character row of a value, from the top.
    pub(super) fn row(&self, value: f64) -> usize {
        self.rows - 1 - self.level(value) / self.dots().1
    }

    /// The dot of a value, from the bottom.
    fn level(&self, value: f64) -> usize {
        let (low, high) = self.value;
        let top = (self.rows * self.dots().1 - 1) as f64;
        let share = ((value - low) / (high - low)).clamp(0.0, 1.0);
        (share * top).round() as usize
    }
}

pub(super) struct Canvas {
    frame: Frame,
    /// For each dot column its lowest and highest dot, from the bottom.
    dots: Vec<Option<(usize, usize)>>,
    levels: Vec<usize>,
    letters: Vec<(usize, usize, char)>,
}

impl Canvas {
    pub(super) fn new(frame: Frame) -> Self {
        let dots = vec![None; frame.columns * frame.dots().0];
        Self { frame, dots, levels: Vec::new(), letters: Vec::new() }
    }

    /// Straight lines between points; each dot column shows all that its stretch of time holds.
    pub(super) fn curve(&mut self, points: &[(f64, f64)]) {
        let (from, to) = self.frame.time_s;
        let across = self.dots.len() as f64 / (to - from);
        for pair in points.windows(2) {
            let [(t0, v0), (t1, v1)] = [pair[0], pair[1]];
            let (x0, x1) = ((t0 - from) * across, (t1 - from) * across);
            let at = |x: f64| if x1 > x0 { v0 + (v1 - v0) * (x - x0) / (x1 - x0) } else { v1 };
            let last = (x1.floor() as usize).min(self.dots.len() - 1);
            let first = (x0.floor() as usize).min(last);
            for column in first..=last {
                let left = x0.max(column as f64);
                let right = x1.min((column + 1) as f64).max(left);
                self.cover(column, if column == first { v0 } else { at(left) });
                self.cover(column, if column == last { v1 } else { at(right) });
            }
        }
    }

    fn cover(&mut self, column: usize, value: f64) {
        let level = self.frame.level(value);
        let (low, high) = self.dots[column].unwrap_or((level, level));
        self.dots[column] = Some((low.min(level), high.max(level)));
    }

    /// A limit: a dashed line where the curve is not.
    pub(super) fn level(&mut self, value: f64) {
        self.levels.push(self.frame.row(value));
    }

    /// A letter beside the curve: below it in the lower half, above it in the upper one.
    pub(super) fn letter(&mut self, letter: char, t_s: f64, value: f64) {
        let column = self.frame.column(t_s);
        let row = self.frame.row(value);
        let (low, high) = self.frame.value;
        let below = value < 0.5 * (low + high);
        let rows: Vec<usize> = if below {
            (row..self.frame.rows).chain((0..row).rev()).collect()
        } else {
            (0..=row).rev().chain(row + 1..self.frame.rows).collect()
        };
        let aside = (0..=FARTHEST_ASIDE).flat_map(|by| [column + by, column.wrapping_sub(by)]);
        let columns: Vec<usize> = aside.filter(|c| *c < self.frame.columns).collect();
        let free = |(row, column): &(usize, usize)| {
            self.pattern(*row, *column) == 0
                && !self.letters.iter().any(|(r, c, _)| (r, c) == (row, column))
        };
        let nearby = rows.iter().take(2).flat_map(|r| columns.iter().map(move |c| (*r, *c)));
        let anywhere = rows.iter().flat_map(|r| columns.iter().map(move |c| (*r, *c)));
        let place = nearby.chain(anywhere).find(free).unwrap_or((row, column));
        self.letters.push((place.0, place.1, letter));
    }

    /// Which dots of a character are set, a bit each: from the bottom up, column after column.
    fn pattern(&self, row: usize, column: usize) -> u8 {
        let (across, down) = self.frame.dots();
        let bottom = (self.frame.rows - 1 - row) * down;
        let mut bits = 0;
        for x in 0..across {
            let Some((low, high)) = self.dots[column * across + x] else { continue };
            for y in 0..down {
                if (low..=high).contains(&(bottom + y)) {
                    bits |= 1 << (x * down + y);
                }
            }
        }
        bits
    }

    fn character(&self, row: usize, column: usize) -> char {
        let letter = self.letters.iter().find(|(r, c, _)| (*r, *c) == (row, column));
        if let Some((_, _, letter)) = letter {
            return *letter;
        }
        let bits = self.pattern(row, column);
        let is_limit = self.levels.contains(&row);
        match self.frame.script {
            Script::Braille if bits == 0 => {
                if is_limit {
                    '┄'
                } else {
                    ' '
                }
            }
            Script::Ascii if bits == 0 => {
                if is_limit {
                    '-'
                } else {
                    ' '
                }
            }
            Script::Braille => braille(bits),
            Script::Ascii => ['.', '\'', ':'][usize::from(bits.min(3) - 1)],
        }
    }

    /// From the top.
    pub(super) fn lines(&self) -> impl Iterator<Item = String> {
        (0..self.frame.rows)
            .map(|row| (0..self.frame.columns).map(|column| self.character(row, column)).collect())
    }
}

/// The character of eight dots; Unicode, block U+2800, numbers its dots down both columns, the
/// lowest two last.
fn braille(bits: u8) -> char {
    const DOTS: [u32; 8] = [0x40, 0x04, 0x02, 0x01, 0x80, 0x20, 0x10, 0x08];
    let set = DOTS.iter().enumerate().filter(|(bit, _)| bits & (1 << bit) != 0);
    char::from_u32(0x2800 + set.map(|(_, dot)| dot).sum::<u32>()).unwrap_or(' ')
}
