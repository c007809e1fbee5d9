//! Extremes of a quantity over frequency: read off a grid, then refined around every one that the
//! grid shows, so that a verdict does not hang on where grid points happen to lie.
//!
//! What lies wholly between two grid points is not seen: frequencies where the circuit may
//! resonate belong into the grid ([`grid_with`]).

/// A quantity at one frequency.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spot {
    /// Hz
    pub hz: f64,
    /// In the quantity's own unit; not-a-number where there is none.
    pub value: f64,
}

/// Which extremes are sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extreme {
    /// The greatest values.
    Greatest,
    /// The least values.
    Least,
}

/// One refined extreme.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Where, and how high or low.
    pub spot: Spot,
    /// Whether it lies inside the range, not at one of its ends.
    pub inside: bool,
}

/// Frequencies that differ by less than this share are one.
const SAME: f64 = 1e-12;
/// Extremes that stand out by less than this share of their value are rounding.
const FLAT: f64 = 1e-10;
/// An extreme is found to this in the logarithm of frequency: the value at a resonance of quality
/// 1000 is then off by (2·1000·1e-9)²/2 of itself, which is nothing.
const CLOSE: f64 = 1e-9;
/// Golden sections alone would need 44 for a decade.
const MOST_STEPS: usize = 100;

/// A grid in Hz with further frequencies inside its range, rising, none twice; where one of those
/// falls on a point of the grid, the point is it.
pub fn grid_with(grid: &[f64], more: &[f64]) -> Vec<f64> {
    let (Some(&low), Some(&high)) = (grid.first(), grid.last()) else { return Vec::new() };
    let inside = more.iter().copied().filter(|f| (low..=high).contains(f));
    let mut all: Vec<(f64, bool)> = inside.map(|f| (f, true)).collect();
    all.extend(grid.iter().map(|&f| (f, false)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.dedup_by(|later, kept| {
        let same = later.0 - kept.0 <= SAME * kept.0;
        if same && later.1 && !kept.1 {
            *kept = *later;
        }
        same
    });
    all.into_iter().map(|(hz, _)| hz).collect()
}

/// The extremes of a quantity that was seen at rising frequencies, the most extreme first; `of`
/// gives it at any frequency in Hz between them.
///
/// # Errors
/// What `of` could not tell.
pub fn extremes<E>(
    seen: &[Spot],
    which: Extreme,
    of: &mut dyn FnMut(f64) -> Result<f64, E>,
) -> Result<Vec<Peak>, E> {
    let sign = match which {
        Extreme::Greatest => 1.0,
        Extreme::Least => -1.0,
    };
    let heights: Vec<f64> = seen.iter().map(|s| sign * s.value).collect();
    let Some(highest) = place_of_highest(&heights) else { return Ok(Vec::new()) };
    let mut peaks = Vec::new();
    for k in 0..seen.len() {
        if k != highest && !stands_out(&heights, k) {
            continue;
        }
        let bracket = [seen[k.saturating_sub(1)].hz, seen[(k + 1).min(seen.len() - 1)].hz];
        let mut height = |hz: f64| of(hz).map(|value| sign * value);
        let found = climb(bracket, Spot { hz: seen[k].hz, value: heights[k] }, &mut height)?;
        let inside = found.hz > seen[0].hz && found.hz < seen[seen.len() - 1].hz;
        peaks.push(Peak { spot: Spot { hz: found.hz, value: sign * found.value }, inside });
    }
    peaks.sort_by(|a, b| (sign * b.spot.value).total_cmp(&(sign * a.spot.value)));
    Ok(peaks)
}

fn place_of_highest(heights: &[f64]) -> Option<usize> {
    let finite = heights.iter().enumerate().filter(|(_, h)| !h.is_nan());
    // The first of equals: a flat response is told where it begins.
    finite.reduce(|best, other| if other.1 > best.1 { other } else { best }).map(|(k, _)| k)
}

/// Whether a point is not below its neighbours, and above one of them by more than rounding.
fn stands_out(heights: &[f64], k: usize) -> bool {
    let here = heights[k];
    let before = k.checked_sub(1).map(|k| heights[k]);
    let neighbours = [before, heights.get(k + 1).copied()];
    let known = || neighbours.iter().flatten();
    !here.is_nan()
        && known().all(|h| h.is_nan() || here >= *h)
        && known().any(|h| here - h > FLAT * here.abs())
}

/// The greatest value within a bracket in Hz: golden sections sped up by parabolas, over the
/// logarithm of frequency.
///
/// R. P. Brent, Algorithms for Minimization without Derivatives (1973), chapter 5.
fn climb<E>(
    bracket: [f64; 2],
    start: Spot,
    height: &mut dyn FnMut(f64) -> Result<f64, E>,
) -> Result<Spot, E> {
    let golden = 0.5 * (3.0 - 5.0_f64.sqrt());
    let [mut low, mut high] = bracket.map(f64::ln);
    let mut best = (start.hz.ln(), start.value);
    let (mut second, mut third) = (best, best);
    let (mut step, mut before): (f64, f64) = (0.0, 0.0);
    let mut highest = start;
    for _ in 0..MOST_STEPS {
        let middle = 0.5 * (low + high);
        if (best.0 - middle).abs() <= 2.0 * CLOSE - 0.5 * (high - low) {
            break;
        }
        let parabola = (before.abs() > CLOSE).then(|| vertex(best, second, third)).flatten();
        let tried = parabola
            .filter(|d| d.abs() < 0.5 * before.abs() && best.0 + d > low && best.0 + d < high);
        before = step;
        step = tried.unwrap_or_else(|| {
            before = if best.0 >= middle { low - best.0 } else { high - best.0 };
            golden * before
        });
        let at = best.0 + if step.abs() >= CLOSE { step } else { CLOSE.copysign(step) };
        let hz = at.exp();
        let found = (at, height(hz)?);
        if found.1 > highest.value || highest.value.is_nan() {
            highest = Spot { hz, value: found.1 };
        }
        if found.1 >= best.1 {
            if at >= best.0 {
                low = best.0;
            } else {
                high = best.0;
            }
            (third, second, best) = (second, best, found);
        } else {
            if at < best.0 {
                low = at;
            } else {
                high = at;
            }
            if found.1 >= second.1 || second.0 == best.0 {
                (third, second) = (second, found);
            } else if found.1 >= third.1 || third.0 == best.0 || third.0 == second.0 {
                third = found;
            }
        }
    }
    Ok(highest)
}

/// From the first of three points to the vertex of the parabola through them.
fn vertex(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> Option<f64> {
    let (r, q) = ((a.0 - b.0) * (a.1 - c.1), (a.0 - c.0) * (a.1 - b.1));
    let above = (a.0 - c.0) * q - (a.0 - b.0) * r;
    let below = 2.0 * (q - r);
    let step = -above / below;
    step.is_finite().then_some(step)
}

#[cfg(test)]
#[allow(clippy::expect_used)] // a test fails by panicking
mod tests {
    use super::*;
    use std::convert::Infallible;
    use std::f64::consts::TAU;

    fn grid(low: f64, high: f64, count: usize) -> Vec<f64> {
        (0..count).map(|k| low * (high / low).powf(k as f64 / (count - 1) as f64)).collect()
    }

    fn peaks_of(at: &[f64], which: Extreme, of: &dyn Fn(f64) -> f64) -> Vec<Peak> {
        let seen: Vec<Spot> = at.iter().map(|&hz| Spot { hz, value: of(hz) }).collect();
        extremes(&seen, which, &mut |hz| Ok::<f64, Infallible>(of(hz))).unwrap_or_default()
    }

    /// |Z| of R, L and C in parallel.
    fn tank(r: f64, l: f64, c: f64) -> impl Fn(f64) -> f64 {
        move |hz| {
            let w = TAU * hz;
            1.0 / (1.0 / r).hypot(w * c - 1.0 / (w * l))
        }
    }

    #[test]
    fn exact_a_tank_peaks_at_its_resistance() {
        // Q = R·√(C/L) = 1000 at f = 1/(2π√(LC)) = 159.155 kHz: 0.016 % wide, on a grid of 9.6 %.
        let (r, l, c) = (100.0, 100e-9, 10e-6);
        let peaks = peaks_of(&grid(10.0, 1e8, 176), Extreme::Greatest, &tank(r, l, c));
        let [Peak { spot, inside: true }] = peaks[..] else { panic!("{peaks:?}") };
        let f0 = 1.0 / (TAU * (l * c).sqrt());
        assert!((spot.value / r - 1.0).abs() < 1e-9, "{spot:?}");
        // A resonance of quality Q is flat to rounding, √ε, within √ε/(2Q) of its frequency.
        assert!((spot.hz / f0 - 1.0).abs() < 1e-9, "{spot:?}");
    }

    #[test]
    fn exact_a_series_circuit_dips_to_its_resistance() {
        let (r, l, c): (f64, f64, f64) = (6e-3, 0.6e-9, 2.9e-6);
        let of = |hz: f64| r.hypot(TAU * hz * l - 1.0 / (TAU * hz * c));
        let dips = peaks_of(&grid(10.0, 1e8, 176), Extreme::Least, &of);
        assert!((dips[0].spot.value / r - 1.0).abs() < 1e-12, "{dips:?}");
        assert!((dips[0].spot.hz * TAU * (l * c).sqrt() - 1.0).abs() < 1e-7, "{dips:?}");
        // And it is greatest at the low end: 1/(ωC).
        let peaks = peaks_of(&grid(10.0, 1e8, 176), Extreme::Greatest, &of);
        assert_eq!((peaks[0].spot, peaks[0].inside), (Spot { hz: 10.0, value: of(10.0) }, false));
    }

    #[test]
    fn exact_what_hides_between_grid_points_is_found_where_the_grid_is_told_of_it() {
        // 100 pF with 25.3 µH and 1 Ω across 10 nF: a notch and a peak beside each other, 1 % apart
        // and 0.4 % wide, on a slope that falls all the way.
        let (r, l, c, other) = (1.0, 25.3303e-6, 100e-12, 10e-9);
        let of = |hz: f64| {
            let x = TAU * hz * l - 1.0 / (TAU * hz * c);
            let square = r * r + x * x;
            1.0 / (r / square).hypot(TAU * hz * other - x / square)
        };
        let f0 = 1.0 / (TAU * f64::sqrt(l * c));
        let coarse = grid(1.7e5, 1.7e8, 4);
        assert!(peaks_of(&coarse, Extreme::Least, &of).iter().all(|p| !p.inside));
        let told = [0.995, 1.0, 1.005].map(|share| share * f0);
        let seeing = peaks_of(&grid_with(&coarse, &told), Extreme::Least, &of);
        let notch = seeing.iter().find(|p| p.inside).expect("a notch");
        // With u = x/r and b = ω·10 nF·r it is r/√((1 − 2bu)/(1 + u²) + b²), least where
        // u = (1 − √(1 + 4b²))/2b; b as at f0, from which the notch lies 0.02 %.
        let b = TAU * f0 * other * r;
        let u = (1.0 - (1.0 + 4.0 * b * b).sqrt()) / (2.0 * b);
        let least = r / ((1.0 - 2.0 * b * u) / (1.0 + u * u) + b * b).sqrt();
        assert!((notch.spot.value / least - 1.0).abs() < 2e-5, "{notch:?} for {least}");
        assert!((notch.spot.hz / f0 - 1.0).abs() < 1e-3, "{notch:?}");
    }

    #[test]
    fn the_most_extreme_comes_first_and_a_kink_is_met() {
        let of = |hz: f64| -(hz.log10() - 3.0).abs() + 0.5 * (hz / 1e5).min(1e5 / hz);
        let peaks = peaks_of(&grid(1.0, 1e7, 31), Extreme::Greatest, &of);
        assert!((peaks[0].spot.hz / 1e3 - 1.0).abs() < 1e-6, "{peaks:?}");
        assert!(peaks.is_sorted_by(|a, b| a.spot.value >= b.spot.value));
    }

    #[test]
    fn a_flat_response_is_told_where_it_begins() {
        let mut asked = 0;
        let seen: Vec<Spot> =
            grid(1.0, 1e6, 61).into_iter().map(|hz| Spot { hz, value: 2.0 }).collect();
        let found = extremes(&seen, Extreme::Greatest, &mut |_| {
            asked += 1;
            Ok::<f64, Infallible>(2.0)
        });
        let peaks = found.unwrap_or_default();
        assert_eq!(peaks, [Peak { spot: Spot { hz: 1.0, value: 2.0 }, inside: false }]);
        assert!(asked <= MOST_STEPS, "{asked}");
    }

    #[test]
    fn nothing_is_made_of_nothing() {
        let never = |_: f64| Ok::<f64, Infallible>(f64::NAN);
        let blank = [Spot { hz: 1.0, value: f64::NAN }, Spot { hz: 2.0, value: f64::NAN }];
        assert_eq!(extremes(&blank, Extreme::Least, &mut never.clone()), Ok(Vec::new()));
        assert_eq!(extremes(&[], Extreme::Least, &mut never.clone()), Ok(Vec::new()));
        assert!(grid_with(&[], &[1.0]).is_empty());
        assert_eq!(grid_with(&[1.0, 10.0], &[0.5, 1.0, 3.0, 11.0, f64::NAN]), [1.0, 3.0, 10.0]);
        // What is asked for is there to the last digit.
        let near = 1000.0 * (1.0 - f64::EPSILON);
        assert_eq!(grid_with(&[1.0, near, 1e4], &[1000.0]), [1.0, 1000.0, 1e4]);
    }

    #[test]
    fn what_cannot_be_told_is_an_error() {
        let seen = [Spot { hz: 1.0, value: 1.0 }, Spot { hz: 2.0, value: 2.0 }];
        assert_eq!(extremes(&seen, Extreme::Greatest, &mut |_| Err("singular")), Err("singular"));
    }
}
