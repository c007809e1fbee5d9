//! Integrals of several quantities at once that are never negative, to a tolerance of their sum.
//!
//! Gauss's formula of 7 points within Kronrod's of 15 (Piessens, de Doncker-Kapenga, Überhuber,
//! Kahaner, QUADPACK (1983), routine QK15), the panel with the largest difference halved first.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Places of Kronrod's points right of the middle of −1 … 1, from the outside; Gauss's are every
/// second.
const PLACES: [f64; 7] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_5,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_48,
];
const WEIGHTS: [f64; 7] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_56,
    0.104_790_010_322_250_19,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_42,
    0.204_432_940_075_298_89,
];
const MIDDLE_WEIGHT: f64 = 0.209_482_141_084_727_82;
/// Weights of Gauss's formula at the places it uses, zero at the others.
const GAUSS_WEIGHTS: [f64; 7] = [
    0.0,
    0.129_484_966_168_869_7,
    0.0,
    0.279_705_391_489_276_64,
    0.0,
    0.381_830_050_505_118_9,
    0.0,
];
const GAUSS_MIDDLE_WEIGHT: f64 = 0.417_959_183_673_469_4;

/// Points of one panel.
const POINTS: usize = 15;

/// An integral.
#[derive(Clone, Debug, PartialEq)]
pub struct Integral {
    /// Of each quantity.
    pub values: Vec<f64>,
    /// Sum over quantities and panels of the difference between the two formulas, which bounds the
    /// error of the better one in practice.
    pub error: f64,
    /// Points at which the quantities were evaluated.
    pub evaluations: usize,
}

impl Integral {
    /// Sum over the quantities.
    pub fn total(&self) -> f64 {
        self.values.iter().sum()
    }
}

/// A stretch with both formulas' results.
struct Panel {
    from: f64,
    to: f64,
    values: Vec<f64>,
    error: f64,
}

impl PartialEq for Panel {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Panel {}

impl PartialOrd for Panel {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Panel {
    /// Worst first; the place decides between equals, so that the order of work is always the same.
    fn cmp(&self, other: &Self) -> Ordering {
        self.error.total_cmp(&other.error).then(other.from.total_cmp(&self.from))
    }
}

/// Integrates `count` quantities, written by `f` at each point, over the stretches between
/// neighbouring `edges` (ascending) until the error is within `relative` of their sum, or `most`
/// points are used up, or what is left is rounding: the caller compares [`Integral::error`].
///
/// # Errors
/// The first of `f`.
pub fn integrate<E>(
    edges: &[f64],
    count: usize,
    relative: f64,
    most: usize,
    mut f: impl FnMut(f64, &mut [f64]) -> Result<(), E>,
) -> Result<Integral, E> {
    let mut panels = BinaryHeap::new();
    let mut evaluations = 0;
    for pair in edges.windows(2) {
        panels.push(panel(pair[0], pair[1], count, &mut f)?);
        evaluations += POINTS;
    }
    let mut sum = gathered(&panels, count, evaluations);
    // Halvings since the sums were made anew: kept up to date by differences alone, they would
    // carry the rounding of values long gone.
    let mut halvings = 0;
    while !(sum.error <= relative * sum.total()) && evaluations < most {
        let Some(worst) = panels.pop() else { break };
        let middle = 0.5 * (worst.from + worst.to);
        if !(worst.from < middle && middle < worst.to) {
            panels.push(worst);
            break;
        }
        let halves =
            [panel(worst.from, middle, count, &mut f)?, panel(middle, worst.to, count, &mut f)?];
        evaluations += 2 * POINTS;
        for half in &halves {
            sum.error += half.error;
            sum.values.iter_mut().zip(&half.values).for_each(|(sum, value)| *sum += value);
        }
        sum.error -= worst.error;
        sum.values.iter_mut().zip(&worst.values).for_each(|(sum, value)| *sum -= value);
        panels.extend(halves);
        halvings += 1;
        if 2 * halvings > panels.len() || sum.error <= relative * sum.total() {
            sum = gathered(&panels, count, evaluations);
            halvings = 0;
        }
    }
    Ok(gathered(&panels, count, evaluations))
}

fn gathered(panels: &BinaryHeap<Panel>, count: usize, evaluations: usize) -> Integral {
    let mut sum = Integral { values: vec![0.0; count], error: 0.0, evaluations };
    for panel in panels {
        sum.error += panel.error;
        sum.values.iter_mut().zip(&panel.values).for_each(|(sum, value)| *sum += value);
    }
    sum
}

/// Both formulas over one stretch.
fn panel<E>(
    from: f64,
    to: f64,
    count: usize,
    f: &mut impl FnMut(f64, &mut [f64]) -> Result<(), E>,
) -> Result<Panel, E> {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let mut at = vec![0.0; count];
    let (mut fine, mut coarse) = (vec![0.0; count], vec![0.0; count]);
    let mut add = |x: f64, weight: f64, gauss_weight: f64| -> Result<(), E> {
        f(x, &mut at)?;
        for ((fine, coarse), value) in fine.iter_mut().zip(&mut coarse).zip(&at) {
            *fine += half * weight * value;
            *coarse += half * gauss_weight * value;
        }
        Ok(())
    };
    add(middle, MIDDLE_WEIGHT, GAUSS_MIDDLE_WEIGHT)?;
    for ((&place, &weight), &gauss_weight) in PLACES.iter().zip(&WEIGHTS).zip(&GAUSS_WEIGHTS) {
        add(middle - half * place, weight, gauss_weight)?;
        add(middle + half * place, weight, gauss_weight)?;
    }
    let error = fine.iter().zip(&coarse).map(|(fine, coarse)| (fine - coarse).abs()).sum();
    Ok(Panel { from, to, values: fine, error })
}

#[cfg(test)]
mod tests {
    use super::{POINTS, integrate};
    use std::convert::Infallible;
    use std::f64::consts::PI;

    const MOST: usize = 100_000;

    fn integral(
        edges: &[f64],
        count: usize,
        relative: f64,
        f: impl Fn(f64, &mut [f64]),
    ) -> super::Integral {
        let fallible = |x: f64, out: &mut [f64]| -> Result<(), Infallible> {
            f(x, out);
            Ok(())
        };
        match integrate(edges, count, relative, MOST, fallible) {
            Ok(integral) => integral,
            Err(never) => match never {},
        }
    }

    /// Kronrod's formula of 15 points is exact to degree 22 and Gauss's of 7 to degree 13, so one
    /// wrong digit in any place or weight shows at once.
    #[test]
    fn exact_powers_need_one_panel() {
        let powers = |x: f64, out: &mut [f64]| {
            for (k, out) in (0..).zip(out) {
                *out = x.powi(k);
            }
        };
        let found = integral(&[0.0, 1.0], 23, 1e-3, powers);
        assert_eq!(found.evaluations, POINTS);
        for (k, value) in found.values.iter().enumerate() {
            // a few roundings of the largest term
            assert!((value * (k as f64 + 1.0) - 1.0).abs() < 4e-15, "x^{k}: {value}");
        }
        let low = integral(&[-1.0, 1.0], 14, 1e-3, powers);
        assert!(low.error < 1e-14, "Gauss's formula differs by {}", low.error);
    }

    /// ∫ dx/((x − a)² + w²) over all reals is π/w; from −1 to 1 the arcs.
    #[test]
    fn exact_sharp_peaks_are_found_and_resolved() {
        for (at, width) in [(0.3, 1e-2), (0.317, 1e-4), (-0.9, 1e-6)] {
            let peak = |x: f64, out: &mut [f64]| {
                out[0] = 1.0 / ((x - at) * (x - at) + width * width);
                out[1] = 1.0;
            };
            let found = integral(&[-1.0, 1.0], 2, 1e-9, peak);
            let exact = (((1.0 - at) / width).atan() + ((1.0 + at) / width).atan()) / width;
            assert!(exact < PI / width);
            let tolerance = 1e-9 * (exact + 2.0);
            assert!((found.values[0] - exact).abs() <= tolerance, "{found:?} is not {exact}");
            assert!((found.values[1] - 2.0).abs() <= tolerance);
            assert!(found.error <= tolerance && found.evaluations < 2000, "{found:?}");
        }
    }

    #[test]
    fn the_work_has_an_end_and_the_first_error_is_handed_on() {
        let rough = |x: f64, out: &mut [f64]| -> Result<(), Infallible> {
            out[0] = if (1e9 * x).sin() > 0.0 { 1.0 } else { 0.0 };
            Ok(())
        };
        let Ok(found) = integrate(&[0.0, 1.0], 1, 1e-9, 300, rough);
        assert!(found.evaluations <= 300 + POINTS && found.error > 1e-9, "{found:?}");
        let fails = integrate(&[0.0, 1.0], 1, 1e-6, MOST, |x, _| Err::<(), f64>(x));
        assert_eq!(fails, Err(0.5));
        let Ok(nothing) = integrate(&[1.0], 1, 1e-6, MOST, rough);
        assert_eq!((nothing.total(), nothing.evaluations), (0.0, 0));
    }
}
