//! What is left between trace and solution: how much, where, and whether noise explains it.

use super::student::{independent, neighbours};

/// Samples ahead of the first edge that noise is estimated from, at least.
const FEWEST_FLAT: usize = 12;
/// Standard deviations of the logarithm of a ratio of two estimates that chance is allowed: 95 %.
const CHANCE: f64 = 1.96;

/// Where the noise is known from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoiseSource {
    /// It was given.
    Given,
    /// From the trace ahead of the first edge, a straight line taken off.
    BeforeEdge {
        /// Samples there.
        samples: usize,
    },
    /// From the differences of neighbouring residuals: too few samples lie ahead of an edge.
    Neighbours,
}

/// The noise of the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Standard deviation of a sample in V.
    pub volt: f64,
    /// Independent samples it is known from; `None` when it was given.
    pub freedom: Option<f64>,
    /// Where it is from.
    pub source: NoiseSource,
}

/// Whether noise explains what is left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agreement {
    /// It does.
    WithinNoise,
    /// More is left than noise explains.
    AboveNoise,
    /// Less is left: the noise that was given is too much for this trace.
    BelowNoise,
}

/// What is left.
#[derive(Clone, Debug, PartialEq)]
pub struct Remainder {
    /// Root of the mean square in V.
    pub rms_v: f64,
    /// The largest one with its sign in V,
    pub largest_v: f64,
    /// and its instant in the record, s.
    pub largest_at_s: f64,
    /// Root of the mean square at the values of the file, shift and offset as found there, V.
    pub present_rms_v: f64,
    /// The noise it is held against.
    pub noise: Noise,
    /// What that says.
    pub agreement: Agreement,
}

/// The noise of a trace: as given, or from `flat`, its samples (time, V) ahead of the first edge, or
/// from neighbouring residuals.
pub(super) fn noise(given: Option<f64>, flat: &[(f64, f64)], residual: &[f64]) -> Noise {
    if let Some(volt) = given {
        return Noise { volt, freedom: None, source: NoiseSource::Given };
    }
    if flat.len() >= FEWEST_FLAT {
        let rest = about_line(flat);
        let freedom = rest.len() as f64 - 2.0;
        let volt = (rest.iter().map(|r| r * r).sum::<f64>() / freedom).sqrt();
        let source = NoiseSource::BeforeEdge { samples: flat.len() };
        // A trace that does not move at all ahead of the edge shows the steps of its converter only.
        if volt > 0.0 {
            let share = independent(rest.len(), neighbours(&rest)) / rest.len() as f64;
            return Noise { volt, freedom: Some(freedom * share), source };
        }
    }
    let steps = residual.windows(2).map(|pair| (pair[1] - pair[0]).powi(2));
    let count = residual.len().saturating_sub(1).max(1) as f64;
    let volt = (steps.sum::<f64>() / (2.0 * count)).sqrt();
    Noise { volt, freedom: Some(count / 2.0), source: NoiseSource::Neighbours }
}

/// What is left of points when their best straight line is taken off.
fn about_line(points: &[(f64, f64)]) -> Vec<f64> {
    let n = points.len() as f64;
    let mean_t = points.iter().map(|p| p.0).sum::<f64>() / n;
    let mean_v = points.iter().map(|p| p.1).sum::<f64>() / n;
    let spread: f64 = points.iter().map(|p| (p.0 - mean_t).powi(2)).sum();
    let both: f64 = points.iter().map(|p| (p.0 - mean_t) * (p.1 - mean_v)).sum();
    let slope = if spread > 0.0 { both / spread } else { 0.0 };
    points.iter().map(|p| p.1 - mean_v - slope * (p.0 - mean_t)).collect()
}

/// Whether an rms value worth so many independent samples is that of the noise. The logarithm of an
/// estimated standard deviation scatters by 1/√(2ν).
pub(super) fn agreement(rms_v: f64, freedom: f64, noise: &Noise) -> Agreement {
    let own = 1.0 / (2.0 * freedom.max(1.0));
    let of_noise = noise.freedom.map_or(0.0, |freedom| 1.0 / (2.0 * freedom.max(1.0)));
    let allowed = CHANCE * (own + of_noise).sqrt();
    let ratio = (rms_v / noise.volt).ln();
    if ratio > allowed {
        Agreement::AboveNoise
    } else if ratio < -allowed {
        Agreement::BelowNoise
    } else {
        Agreement::WithinNoise
    }
}

#[cfg(test)]
mod tests {
    use super::{Agreement, Noise, NoiseSource, agreement, noise};

    #[test]
    fn exact_a_line_with_alternating_noise() {
        let flat: Vec<(f64, f64)> = (0..100)
            .map(|k| (f64::from(k), f64::from(k) * 0.5 + [1.0, -1.0][k as usize % 2]))
            .collect();
        let found = noise(None, &flat, &[]);
        // The sum of squares of ±1 is the count; the line takes two, and a little of the pattern.
        assert!((found.volt - (100.0_f64 / 98.0).sqrt()).abs() < 1e-3, "{found:?}");
        assert_eq!(found.source, NoiseSource::BeforeEdge { samples: 100 });
        let found = noise(None, &flat[..5], &[1.0, -1.0, 1.0]);
        assert_eq!((found.volt, found.source), (2.0_f64.sqrt(), NoiseSource::Neighbours));
        assert_eq!(noise(Some(0.1), &flat, &[]).volt, 0.1);
    }

    #[test]
    fn exact_noise_explains_what_chance_may_give() {
        let given = Noise { volt: 1.0, freedom: None, source: NoiseSource::Given };
        // 1.96/√200 is 0.139 in the logarithm.
        assert_eq!(agreement(1.14, 100.0, &given), Agreement::WithinNoise);
        assert_eq!(agreement(1.16, 100.0, &given), Agreement::AboveNoise);
        assert_eq!(agreement(0.86, 100.0, &given), Agreement::BelowNoise);
        let guessed = Noise { freedom: Some(10.0), source: NoiseSource::Neighbours, ..given };
        assert_eq!(agreement(1.16, 100.0, &guessed), Agreement::WithinNoise);
    }
}
