//! What a capacitor is made of: the letter codes of ceramics taken apart, and what is common
//! practice for the other kinds. Tables only; the capacitor applies them.
//!
//! Codes: EIA-198 (IEC 60384-9, -21, -22 name the same bands otherwise). Bands are relative to the
//! value at 25 °C. What no code fixes (bias, ageing, electrolytics) is common practice, no source,
//! and each of these rows has a key of `capacitor` that takes its place.

use super::temperature::{CHARACTERISED_AT_K, ZERO_CELSIUS_K};

/// Every word of the key `dielectric`: the usual codes, then the kinds without one.
pub(super) const WORDS: &[&str] = &[
    "C0G",
    "NP0",
    "C0H",
    "C0J",
    "P2H",
    "R2H",
    "S2H",
    "T2H",
    "U2J",
    "P3K",
    "R3L",
    "X5P",
    "X5R",
    "X5S",
    "X5T",
    "X5U",
    "X5V",
    "X6R",
    "X6S",
    "X6T",
    "X7P",
    "X7R",
    "X7S",
    "X7T",
    "X7U",
    "X8R",
    "X8S",
    "Y5P",
    "Y5R",
    "Y5S",
    "Y5T",
    "Y5U",
    "Y5V",
    "Z5P",
    "Z5R",
    "Z5S",
    "Z5T",
    "Z5U",
    "Z5V",
    TANTALUM,
    "tantalum-polymer",
    ALUMINIUM,
    "aluminium-polymer",
    "film",
];

const TANTALUM: &str = "tantalum";
const ALUMINIUM: &str = "aluminium";

/// What kind of dielectric it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DielectricClass {
    /// Ceramic that follows temperature in a straight line.
    ClassOne {
        /// 1/K, nominal.
        coefficient_per_k: f64,
        /// 1/K, by which the coefficient may differ both ways.
        tolerance_per_k: f64,
    },
    /// Ceramic class 2 or 3: within a band over its temperatures.
    ClassTwo,
    /// Tantalum and aluminium, wet or polymer.
    Electrolytic,
    /// Plastic film.
    Film,
}

/// A dielectric with what its code and common practice say of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dielectric {
    /// As typed.
    pub word: &'static str,
    /// Its kind.
    pub class: DielectricClass,
    /// K, the lowest temperature it is made for.
    pub low_k: f64,
    /// K, the highest.
    pub high_k: f64,
    /// Largest relative change towards the lower and the higher capacitance, over the colder
    /// temperatures and over the hotter ones; of class 1 nothing, its coefficient says it.
    pub band: [[f64; 2]; 2],
    /// Loss a decade of hours.
    pub ageing: f64,
    /// What is left of it at rated voltage; `None` where bias takes nothing.
    pub left_at_rated: Option<f64>,
}

impl Dielectric {
    /// The dielectric of a word of the key `dielectric`.
    pub fn of(word: &str) -> Option<Self> {
        let word = WORDS.iter().copied().find(|w| *w == word)?;
        electrolytic_or_film(word).or_else(|| class_two(word)).or_else(|| class_one(word))
    }

    /// Whether it must not be reversed.
    pub fn is_polarised(&self) -> bool {
        self.class == DielectricClass::Electrolytic
    }

    /// Whether it is tantalum with manganese dioxide, which ignites.
    pub fn is_tantalum(&self) -> bool {
        self.word == TANTALUM
    }

    /// Whether its ESR rises several-fold in the cold: the wet electrolytic, common practice.
    pub fn has_cold_esr(&self) -> bool {
        self.word == ALUMINIUM
    }

    /// Nominal change a kelvin, in 1/K.
    pub fn coefficient_per_k(&self) -> f64 {
        match self.class {
            DielectricClass::ClassOne { coefficient_per_k, .. } => coefficient_per_k,
            _ => 0.0,
        }
    }

    /// Between which relative changes the capacitance may lie at a temperature in K, besides the
    /// nominal coefficient.
    ///
    /// Of class 1 the tolerance of its coefficient. Of the others the band of the whole range, in a
    /// straight line from 25 °C to the limit on that side and held beyond: the code fixes only the
    /// ends; common practice, no source.
    pub fn band_at(&self, temperature_k: f64) -> [f64; 2] {
        let rise_k = temperature_k - CHARACTERISED_AT_K;
        if let DielectricClass::ClassOne { tolerance_per_k, .. } = self.class {
            return [-1.0, 1.0].map(|sign| sign * tolerance_per_k * rise_k.abs());
        }
        let (band, limit_k) =
            if rise_k < 0.0 { (self.band[0], self.low_k) } else { (self.band[1], self.high_k) };
        let share = (rise_k / (limit_k - CHARACTERISED_AT_K)).clamp(0.0, 1.0);
        band.map(|end| share * end)
    }

    /// How far a temperature in K lies outside its limits, in words; `None` inside.
    pub fn outside(&self, temperature_k: f64) -> Option<&'static str> {
        // 1 mK: -55 °C written is not a rounding below -55 °C.
        if temperature_k < self.low_k - 1e-3 {
            Some("below")
        } else if temperature_k > self.high_k + 1e-3 {
            Some("above")
        } else {
            None
        }
    }
}

fn letters(word: &str) -> Option<[char; 3]> {
    let mut letters = word.chars();
    let three = [letters.next()?, letters.next()?, letters.next()?];
    letters.next().is_none().then_some(three)
}

/// Class 2 and 3: lowest temperature, highest temperature, largest change.
fn class_two(word: &'static str) -> Option<Dielectric> {
    let [low, high, change] = letters(word)?;
    let low_c = match low {
        'X' => -55.0,
        'Y' => -30.0,
        'Z' => 10.0,
        _ => return None,
    };
    let high_c = match high {
        '2' => 45.0,
        '4' => 65.0,
        '5' => 85.0,
        '6' => 105.0,
        '7' => 125.0,
        '8' => 150.0,
        '9' => 200.0,
        _ => return None,
    };
    let band = match change {
        'A' => [-0.010, 0.010],
        'B' => [-0.015, 0.015],
        'C' => [-0.022, 0.022],
        'D' => [-0.033, 0.033],
        'E' => [-0.047, 0.047],
        'F' => [-0.075, 0.075],
        'P' => [-0.10, 0.10],
        'R' => [-0.15, 0.15],
        'S' => [-0.22, 0.22],
        'T' => [-0.33, 0.22],
        'U' => [-0.56, 0.22],
        'V' => [-0.82, 0.22],
        _ => return None,
    };
    // X5R and X7R lose 1 % to 4 % a decade, Z5U and Y5U 4 % to 6 %, Y5V 6 % to 10 % (a maker's
    // general data page); the middles, common practice.
    let ageing = match change {
        'U' => 0.05,
        'V' => 0.07,
        _ => 0.025,
    };
    // X7R keeps 30 % to 90 % at rated voltage, X5R 15 % to 80 %, Y5V some 20 % (common practice, no
    // source): the middle, which a small case does not reach.
    let left = match change {
        'U' | 'V' => 0.2,
        _ if high_c >= 125.0 => 0.5,
        _ => 0.4,
    };
    Some(Dielectric {
        word,
        class: DielectricClass::ClassTwo,
        low_k: low_c + ZERO_CELSIUS_K,
        high_k: high_c + ZERO_CELSIUS_K,
        band: [band; 2],
        ageing,
        left_at_rated: Some(left),
    })
}

/// Class 1: significant figure, multiplier, tolerance, all of the coefficient in 1e-6/K.
fn class_one(word: &'static str) -> Option<Dielectric> {
    // NP0 is the trade's older name of C0G.
    let [figure, multiplier, tolerance] = letters(if word == "NP0" { "C0G" } else { word })?;
    let figure = match figure {
        'C' => 0.0,
        'B' => 0.3,
        'L' => 0.8,
        'A' => 0.9,
        'M' => 1.0,
        'P' => 1.5,
        'R' => 2.2,
        'S' => 3.3,
        'T' => 4.7,
        'V' => 5.6,
        'U' => 7.5,
        _ => return None,
    };
    let multiplier = match multiplier {
        '0' => -1.0,
        '1' => -10.0,
        '2' => -100.0,
        '3' => -1000.0,
        '4' => 1.0,
        '6' => 10.0,
        '7' => 100.0,
        '8' => 1000.0,
        _ => return None,
    };
    let tolerance = match tolerance {
        'G' => 30.0,
        'H' => 60.0,
        'J' => 120.0,
        'K' => 250.0,
        'L' => 500.0,
        'M' => 1000.0,
        'N' => 2500.0,
        _ => return None,
    };
    // The code has no temperatures; -55 °C to 125 °C is common practice.
    Some(Dielectric {
        word,
        class: DielectricClass::ClassOne {
            // No sign on a zero.
            coefficient_per_k: 1e-6 * figure * multiplier + 0.0,
            tolerance_per_k: 1e-6 * tolerance,
        },
        low_k: -55.0 + ZERO_CELSIUS_K,
        high_k: 125.0 + ZERO_CELSIUS_K,
        band: [[0.0; 2]; 2],
        ageing: 0.0,
        left_at_rated: None,
    })
}

/// The kinds without a letter code; every figure common practice, no source.
fn electrolytic_or_film(word: &'static str) -> Option<Dielectric> {
    let even = |share: f64| [[-share, share]; 2];
    let (low_c, high_c, band) = match word {
        TANTALUM => (-55.0, 125.0, even(0.10)),
        "tantalum-polymer" | "aluminium-polymer" => (-55.0, 105.0, even(0.10)),
        ALUMINIUM => (-40.0, 105.0, [[-0.40, 0.0], [0.0, 0.10]]),
        "film" => (-40.0, 105.0, even(0.05)),
        _ => return None,
    };
    let class = if word == "film" { DielectricClass::Film } else { DielectricClass::Electrolytic };
    Some(Dielectric {
        word,
        class,
        low_k: low_c + ZERO_CELSIUS_K,
        high_k: high_c + ZERO_CELSIUS_K,
        band,
        ageing: 0.0,
        left_at_rated: None,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::*;

    fn celsius(dielectric: &Dielectric) -> [f64; 2] {
        [dielectric.low_k, dielectric.high_k].map(|k| (k - ZERO_CELSIUS_K).round())
    }

    /// EIA-198, three characters of class 2 and 3, every letter of the table whatever of it is made: two
    /// makers' data pages and a distributor's table (looked up). What is made stands in
    /// `tests/published/standards.rs`.
    #[test]
    fn published_letters_of_class_two() {
        let highest = [
            ("X2A", 45.0, 0.010),
            ("X4B", 65.0, 0.015),
            ("X5C", 85.0, 0.022),
            ("X6D", 105.0, 0.033),
            ("X7E", 125.0, 0.047),
            ("X8F", 150.0, 0.075),
            ("X9P", 200.0, 0.10),
        ];
        for (code, high_c, band) in highest {
            let found = class_two(code).unwrap();
            assert_eq!((celsius(&found)[1], found.band[1]), (high_c, [-band, band]), "{code}");
        }
        assert_eq!(class_two("X3R"), None);
        assert_eq!(class_two("W7R"), None);
        assert_eq!(class_two("X7RR"), None);
    }

    /// EIA-198, three characters of class 1, every letter of the table.
    #[test]
    fn published_letters_of_class_one() {
        let coefficient = |code: &'static str| match class_one(code).unwrap().class {
            DielectricClass::ClassOne { coefficient_per_k, tolerance_per_k } => {
                [coefficient_per_k * 1e6, tolerance_per_k * 1e6].map(|x| (x * 1e3).round() / 1e3)
            }
            other => panic!("{other:?}"),
        };
        for (code, nominal, tolerance) in [
            ("B0H", -0.3, 60.0),
            ("L1K", -8.0, 250.0),
            ("A2L", -90.0, 500.0),
            ("M3M", -1000.0, 1000.0),
            ("P4N", 1.5, 2500.0),
            ("R6G", 22.0, 30.0),
            ("S7G", 330.0, 30.0),
            ("T8G", 4700.0, 30.0),
            ("V2G", -560.0, 30.0),
        ] {
            assert_eq!(coefficient(code), [nominal, tolerance], "{code}");
        }
        assert_eq!(class_one("X7R"), None);
        assert_eq!(class_one("C5G"), None);
    }

    /// Loss a decade: X5R and X7R 1 % to 4 %, Z5U and Y5U 4 % to 6 %, Y5V 6 % to 10 %, C0G none (a
    /// maker's general data page, looked up).
    #[test]
    fn published_ageing_lies_within_what_makers_state() {
        for (code, low, high) in [
            ("C0G", 0.0, 0.0),
            ("X7R", 0.01, 0.04),
            ("X5R", 0.01, 0.04),
            ("Z5U", 0.04, 0.06),
            ("Y5U", 0.04, 0.06),
            ("Y5V", 0.06, 0.10),
        ] {
            let ageing = Dielectric::of(code).unwrap().ageing;
            assert!((low..=high).contains(&ageing), "{code}: {ageing}");
        }
    }

    #[test]
    fn every_word_has_its_row() {
        for word in WORDS {
            let found = Dielectric::of(word).unwrap();
            assert_eq!(found.word, *word);
            assert!(found.low_k < CHARACTERISED_AT_K && found.high_k > CHARACTERISED_AT_K);
            for band in found.band {
                assert!(band[0] > -1.0 && band[0] <= 0.0 && band[1] >= 0.0, "{word}");
            }
        }
        assert_eq!(Dielectric::of("X7Q"), None);
    }

    #[test]
    fn exact_a_band_grows_in_a_straight_line_to_its_limits() {
        let close = |band: [f64; 2], wanted: [f64; 2]| {
            band.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-12)
        };
        let at =
            |code, celsius: f64| Dielectric::of(code).unwrap().band_at(celsius + ZERO_CELSIUS_K);
        assert!(close(at("X5R", 25.0), [0.0, 0.0]));
        assert!(close(at("X5R", 85.0), [-0.15, 0.15]));
        assert!(close(at("X5R", -55.0), [-0.15, 0.15]));
        assert!(close(at("X5R", -15.0), [-0.075, 0.075]));
        assert!(close(at("X5R", 125.0), [-0.15, 0.15]));
        assert!(close(at("Y5V", 55.0), [-0.41, 0.11]));
        // 60 K of ± 120e-6/K.
        assert!(close(at("U2J", 85.0), [-7.2e-3, 7.2e-3]));
        assert!(close(at("U2J", -35.0), [-7.2e-3, 7.2e-3]));
        let outside = |celsius: f64| Dielectric::of("X5R").unwrap().outside(celsius + 273.15);
        assert_eq!((outside(-55.0), outside(85.0)), (None, None));
        assert_eq!((outside(-56.0), outside(86.0)), (Some("below"), Some("above")));
    }
}
