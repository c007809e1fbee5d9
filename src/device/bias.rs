//! Charge of a capacitance that depends on its voltage: a monotone curve through given points, or
//! the law that stands in for a ceramic whose curve is not known.
//!
//! Both are even in the voltage, and the charge is the integral of the capacitance in closed form.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::Law;
use super::abreast::{in_columns, one_by_one};
use super::smooth::bounded;
use crate::numeric::Scalar;

/// A stretch of a curve: C = c₀ + c₁·u + c₂·u² + c₃·u³ in F, u = |v| − start.
#[derive(Clone, Copy, Debug)]
struct Stretch<T> {
    start_v: T,
    /// C, of all stretches before it.
    charge_c: T,
    cubic: [T; 4],
}

/// Capacitance by points over the size of the voltage, monotone cubics between them (Fritsch and
/// Carlson, SIAM J. Numer. Anal. 17 (1980) 238), held before the first and beyond the last.
#[derive(Clone, Debug)]
pub struct BiasCurve<T> {
    /// At least one; the last one has no slope.
    stretches: Vec<Stretch<T>>,
}

impl BiasCurve<f64> {
    /// From the capacitance in F that the shares are of, and points (V, share), V rising from 0 or
    /// above. Without points the capacitance is constant.
    pub fn new(farad: f64, points: &[[f64; 2]]) -> Self {
        let first = points.first().map_or(1.0, |p| p[1]);
        let mut stretches =
            vec![Stretch { start_v: 0.0, charge_c: 0.0, cubic: [farad * first, 0.0, 0.0, 0.0] }];
        let slopes = monotone_slopes(points);
        for (k, &[volt, share]) in points.iter().enumerate() {
            let mut cubic = [share, 0.0, 0.0, 0.0];
            if let Some(&[next_v, next]) = points.get(k + 1) {
                let (h, rise) = (next_v - volt, next - share);
                let (from, to) = (slopes[k], slopes[k + 1]);
                cubic[1] = from;
                cubic[2] = (3.0 * rise / h - 2.0 * from - to) / h;
                cubic[3] = (from + to - 2.0 * rise / h) / (h * h);
            }
            let charge_c = stretches.last().map_or(0.0, |last| last.charge_at(volt));
            let cubic = cubic.map(|c| farad * c);
            stretches.push(Stretch { start_v: volt, charge_c, cubic });
        }
        Self { stretches }
    }
}

impl Stretch<f64> {
    fn charge_at(&self, volt: f64) -> f64 {
        let u = volt - self.start_v;
        self.charge_c + charge(self.cubic, u)
    }
}

/// ∫ from 0 to u.
#[inline(always)]
fn charge<S: Scalar>([c0, c1, c2, c3]: [S; 4], u: S) -> S {
    let (half, third, quarter) = (S::splat(0.5), S::splat(1.0 / 3.0), S::splat(0.25));
    u * (c0 + u * (c1 * half + u * (c2 * third + u * c3 * quarter)))
}

/// Slopes at the points so that the cubics between them are monotone.
///
/// Inside, the three-point slope, or none where the curve turns; then, where α = m_k/Δ_k and
/// β = m_{k+1}/Δ_k leave the circle α² + β² ≤ 9, both are shortened to it (Fritsch and Carlson).
fn monotone_slopes(points: &[[f64; 2]]) -> Vec<f64> {
    let secants: Vec<f64> =
        points.windows(2).map(|p| (p[1][1] - p[0][1]) / (p[1][0] - p[0][0])).collect();
    let mut slopes = vec![0.0; points.len()];
    let (Some(&first), Some(&last)) = (secants.first(), secants.last()) else { return slopes };
    for (k, pair) in secants.windows(2).enumerate() {
        slopes[k + 1] = if pair[0] * pair[1] <= 0.0 { 0.0 } else { 0.5 * (pair[0] + pair[1]) };
    }
    slopes[0] = first;
    slopes[points.len() - 1] = last;
    for (k, &secant) in secants.iter().enumerate() {
        if secant == 0.0 {
            (slopes[k], slopes[k + 1]) = (0.0, 0.0);
            continue;
        }
        let (alpha, beta) = (slopes[k] / secant, slopes[k + 1] / secant);
        let size = alpha.hypot(beta);
        if size > 3.0 {
            slopes[k] = 3.0 / size * alpha * secant;
            slopes[k + 1] = 3.0 / size * beta * secant;
        }
    }
    slopes
}

impl<T: Scalar<Base = T>> BiasCurve<T> {
    /// Charge in C at `v` in V.
    #[inline(always)]
    pub fn charge<S: Scalar<Base = T>>(&self, v: S) -> S {
        let (size, negative) = size_of(v);
        let Some(first) = self.stretches.first() else { return v };
        let mut start = S::lift(first.start_v);
        let mut before = S::lift(first.charge_c);
        let mut cubic = first.cubic.map(S::lift);
        for next in &self.stretches[1..] {
            let stays = size.less(S::lift(next.start_v));
            start = S::select(stays, start, S::lift(next.start_v));
            before = S::select(stays, before, S::lift(next.charge_c));
            for (c, next) in cubic.iter_mut().zip(next.cubic) {
                *c = S::select(stays, *c, S::lift(next));
            }
        }
        let q = before + charge(cubic, size - start);
        S::select(negative, -q, q)
    }
}

/// |v| and whether v is negative, so that slopes at 0 are those of one and the same side.
#[inline(always)]
fn size_of<S: Scalar>(v: S) -> (S, S::Mask) {
    let negative = v.less(S::splat(0.0));
    (S::select(negative, -v, v), negative)
}

/// C = C₀/√(1 + (v/w)²), Q = C₀·w·arsinh(v/w): quadratic at small bias and falling as 1/v at large
/// bias, between which ceramics of class 2 lie. The shape is common practice, no source; its one
/// figure w follows from what is left at rated voltage.
#[derive(Clone, Copy, Debug)]
pub struct ClassBias<T> {
    /// C₀·w in C.
    scale_c: T,
    /// 1/w in 1/V.
    per_width: T,
}

impl ClassBias<f64> {
    /// From the capacitance in F without bias and the share of it that is left at rated voltage.
    pub fn new(farad: f64, rated_v: f64, left_at_rated: f64) -> Self {
        let width_v = rated_v / (1.0 / (left_at_rated * left_at_rated) - 1.0).sqrt();
        Self { scale_c: farad * width_v, per_width: 1.0 / width_v }
    }
}

impl<T: Scalar<Base = T>> ClassBias<T> {
    /// Charge in C at `v` in V.
    #[inline(always)]
    pub fn charge<S: Scalar<Base = T>>(&self, v: S) -> S {
        let (size, negative) = size_of(v);
        let one = S::splat(1.0);
        let x = size * S::lift(self.per_width);
        let square = x.squared();
        // arsinh x without loss at small x.
        let q = S::lift(self.scale_c) * (x + square / (one + (one + square).sqrt())).ln_1p();
        S::select(negative, -q, q)
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 0, 1> for BiasCurve<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 0], [S; 1]) {
        ([], [self.charge(bounded(u[0]))])
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 0, 1> for ClassBias<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 0], [S; 1]) {
        ([], [self.charge(bounded(u[0]))])
    }
}

in_columns!(ClassBias<f64>: 2, scale_c, per_width);
one_by_one!(BiasCurve<f64>);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::Dual;

    const POINTS: [[f64; 2]; 5] = [[0.0, 1.0], [1.0, 0.96], [2.8, 0.62], [4.0, 0.4], [6.3, 0.25]];

    fn farad<F: Fn(Dual<f64, 1>) -> Dual<f64, 1>>(charge: F, volt: f64) -> f64 {
        charge(Dual::inputs([volt])[0]).slope[0]
    }

    /// Two-point Gauss over each of many short stretches: good to 1e-12 of these curves.
    fn integral(c: impl Fn(f64) -> f64, to_v: f64) -> f64 {
        let count = 4000;
        let h = to_v / f64::from(count);
        let inner = 0.5 / 3.0_f64.sqrt();
        (0..count)
            .map(|k| {
                let middle = (f64::from(k) + 0.5) * h;
                0.5 * h * (c(middle - inner * h) + c(middle + inner * h))
            })
            .sum()
    }

    #[test]
    fn exact_charge_is_the_integral_of_the_capacitance() {
        let curve = BiasCurve::new(10e-6, &POINTS);
        let class = ClassBias::new(10e-6, 6.3, 0.4);
        for volt in [0.3, 1.0, 2.8, 3.3, 6.3, 9.0, -4.2] {
            let by_curve = integral(|v| farad(|x| curve.charge(x), v), volt);
            // Knots inside a stretch of the quadrature cost some 1e-9.
            assert!((curve.charge(volt) / by_curve - 1.0).abs() < 1e-8, "{volt} V");
            let by_class = integral(|v| farad(|x| class.charge(x), v), volt);
            assert!((class.charge(volt) / by_class - 1.0).abs() < 1e-11, "{volt} V");
        }
    }

    #[test]
    fn exact_a_curve_passes_its_points_and_is_held_outside() {
        let curve = BiasCurve::new(10e-6, &POINTS);
        let share = |volt: f64| farad(|x| curve.charge(x), volt) / 10e-6;
        for [volt, wanted] in POINTS {
            assert!((share(volt) - wanted).abs() < 1e-12, "{volt} V");
            assert!((share(-volt) - wanted).abs() < 1e-12, "-{volt} V");
        }
        assert!((share(20.0) - 0.25).abs() < 1e-12);
        let late = BiasCurve::new(1.0, &[[2.0, 0.8], [3.0, 0.5]]);
        assert!((farad(|x| late.charge(x), 1.0) - 0.8).abs() < 1e-12);
        let one = BiasCurve::new(2.0, &[[2.0, 0.5]]);
        assert_eq!((one.charge(1.0), one.charge(-4.0)), (1.0, -4.0));
        let none = BiasCurve::new(2.0, &[]);
        assert_eq!(none.charge(3.0), 6.0);
    }

    #[test]
    fn a_curve_never_rises_between_points_that_fall() {
        // A cliff: a spline would swing above 100 % and below 10 %.
        let points = [[0.0, 1.0], [1.0, 0.99], [1.2, 0.2], [5.0, 0.1], [6.0, 0.1]];
        let curve = BiasCurve::new(1.0, &points);
        let shares: Vec<f64> =
            (0..7000).map(|k| farad(|x| curve.charge(x), 1e-3 * f64::from(k))).collect();
        assert!(shares.windows(2).all(|pair| pair[1] <= pair[0] + 1e-12));
        assert!(shares.iter().all(|s| (0.1 - 1e-12..=1.0 + 1e-12).contains(s)));
    }

    #[test]
    fn exact_class_law_leaves_its_share_at_rated_voltage() {
        let class = ClassBias::new(4.7e-6, 6.3, 0.4);
        let share = |volt: f64| farad(|x| class.charge(x), volt) / 4.7e-6;
        assert!((share(0.0) - 1.0).abs() < 1e-15);
        assert!((share(6.3) - 0.4).abs() < 1e-13);
        assert!((share(-6.3) - 0.4).abs() < 1e-13);
        // Half of the rated voltage: 1/√(1 + 5.25/4).
        assert!((share(3.15) - 1.0 / (1.0 + 5.25_f64 / 4.0).sqrt()).abs() < 1e-13);
        // C₀·w·arsinh(v/w).
        let width = 6.3 / 5.25_f64.sqrt();
        let charge = 4.7e-6 * width * (2.8 / width).asinh();
        assert!((class.charge(2.8) / charge - 1.0).abs() < 1e-14);
        assert!((class.charge(1e-12) / 4.7e-18 - 1.0).abs() < 1e-14);
    }
}
