//! Preferred numbers for resistors and capacitors, IEC 60063: which values can be bought.

/// A series of preferred numbers, named by how many it has in a decade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Series {
    /// 3 in a decade.
    E3,
    /// 6 in a decade.
    E6,
    /// 12 in a decade.
    E12,
    /// 24 in a decade.
    E24,
    /// 48 in a decade.
    E48,
    /// 96 in a decade.
    E96,
    /// 192 in a decade.
    E192,
}

/// E24 in hundredths; E12, E6 and E3 are every second, fourth and eighth of it.
const E24: [u16; 24] = [
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560,
    620, 680, 750, 820, 910,
];

/// E192 in hundredths; E96 and E48 are every second and fourth of it.
const E192: [u16; 192] = [
    100, 101, 102, 104, 105, 106, 107, 109, 110, 111, 113, 114, 115, 117, 118, 120, 121, 123, 124,
    126, 127, 129, 130, 132, 133, 135, 137, 138, 140, 142, 143, 145, 147, 149, 150, 152, 154, 156,
    158, 160, 162, 164, 165, 167, 169, 172, 174, 176, 178, 180, 182, 184, 187, 189, 191, 193, 196,
    198, 200, 203, 205, 208, 210, 213, 215, 218, 221, 223, 226, 229, 232, 234, 237, 240, 243, 246,
    249, 252, 255, 258, 261, 264, 267, 271, 274, 277, 280, 284, 287, 291, 294, 298, 301, 305, 309,
    312, 316, 320, 324, 328, 332, 336, 340, 344, 348, 352, 357, 361, 365, 370, 374, 379, 383, 388,
    392, 397, 402, 407, 412, 417, 422, 427, 432, 437, 442, 448, 453, 459, 464, 470, 475, 481, 487,
    493, 499, 505, 511, 517, 523, 530, 536, 542, 549, 556, 562, 569, 576, 583, 590, 597, 604, 612,
    619, 626, 634, 642, 649, 657, 665, 673, 681, 690, 698, 706, 715, 723, 732, 741, 750, 759, 768,
    777, 787, 796, 806, 816, 825, 835, 845, 856, 866, 876, 887, 898, 909, 920, 931, 942, 953, 965,
    976, 988,
];

impl Series {
    /// Every series, the coarsest first.
    pub const ALL: [Series; 7] =
        [Series::E3, Series::E6, Series::E12, Series::E24, Series::E48, Series::E96, Series::E192];

    /// The series called `name` (`E6`).
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|series| series.name() == name)
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Series::E3 => "E3",
            Series::E6 => "E6",
            Series::E12 => "E12",
            Series::E24 => "E24",
            Series::E48 => "E48",
            Series::E96 => "E96",
            Series::E192 => "E192",
        }
    }

    /// Its numbers in hundredths, ascending.
    fn hundredths(self) -> impl Iterator<Item = u16> {
        let (table, step): (&'static [u16], usize) = match self {
            Series::E3 => (&E24, 8),
            Series::E6 => (&E24, 4),
            Series::E12 => (&E24, 2),
            Series::E24 => (&E24, 1),
            Series::E48 => (&E192, 4),
            Series::E96 => (&E192, 2),
            Series::E192 => (&E192, 1),
        };
        table.iter().step_by(step).copied()
    }

    /// Its numbers from 1 up to 10, ascending, 10 left out.
    pub fn values(self) -> Vec<f64> {
        self.hundredths().map(|h| f64::from(h) / 100.0).collect()
    }

    /// The number of the series nearest to `value` by ratio; `None` unless `value` is positive
    /// and finite.
    pub fn nearest(self, value: f64) -> Option<f64> {
        if !(value > 0.0 && value.is_finite()) {
            return None;
        }
        let decade = value.log10().floor() as i32;
        let distance = |candidate: f64| (candidate / value).ln().abs();
        (decade - 1..=decade + 1)
            .flat_map(|ten| self.hundredths().map(move |h| scaled(h, ten)))
            .filter(|candidate| candidate.is_finite() && *candidate > 0.0)
            .min_by(|a, b| distance(*a).total_cmp(&distance(*b)))
    }

    /// The numbers of the series from `low` to `high`, both included, ascending; empty unless
    /// `0 < low <= high` and `high` is finite.
    pub fn within(self, low: f64, high: f64) -> Vec<f64> {
        if !(low > 0.0 && low <= high && high.is_finite()) {
            return Vec::new();
        }
        let (first, last) = (low.log10().floor() as i32, high.log10().floor() as i32);
        // One decade more at each end: the logarithm of a power of ten may be off by one bit.
        (first - 1..=last + 1)
            .flat_map(|ten| self.hundredths().map(move |h| scaled(h, ten)))
            .filter(|value| (low..=high).contains(value))
            .collect()
    }
}

/// `hundredths/100 · 10^ten`, the double nearest to the decimal number: a value typed in a file
/// and the same value from here are equal.
fn scaled(hundredths: u16, ten: i32) -> f64 {
    const LARGEST_EXACT: i32 = 22; // 10^22 is the largest power of ten that a double holds exactly
    let power = ten - 2;
    let h = f64::from(hundredths);
    if power.abs() > LARGEST_EXACT {
        format!("{hundredths}e{power}").parse().unwrap_or(f64::NAN)
    } else if power < 0 {
        h / 10_f64.powi(-power)
    } else {
        h * 10_f64.powi(power)
    }
}
