//! Noise between two nodes: one transposed solve a frequency tells what every source contributes
//! (Rohrer, Nagel, Meyer, Weber, IEEE J. Solid-State Circuits 6 (1971) 204), and an integral over a
//! band, each by part and cause.
//!
//! Sources are independent of each other, so their squares add up and nothing else is needed.

use super::{Phasor, SmallSignal, s_of};
use crate::analysis::Failure;
use crate::device::NoiseCause;
use crate::numeric::{Singular, integrate};
use crate::system::NoiseAt;

/// A band is integrated until its error is estimated within this share of it.
pub const BAND_TOLERANCE: f64 = 1e-6;

/// Panels a decade that the integral starts from. A resonance between their points that is not
/// among the given frequencies shows by its flanks; where these lie below the tolerance, what is
/// missed is about 1e-7 of the band for each unit of its quality factor.
const PANELS_A_DECADE: f64 = 4.0;

/// Frequencies after which an integral ends with a failure: a hundred times what both demos take.
const MOST_FREQUENCIES: usize = 200_000;

/// Who makes noise, and why.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Contributor {
    /// The part's name.
    pub part: String,
    /// Its cause.
    pub cause: NoiseCause,
}

/// Noise in a band.
#[derive(Clone, Debug, PartialEq)]
pub struct BandNoise {
    /// Mean square in V², by contributor in the order of [`OutputNoise::contributors`].
    pub squares_v2: Vec<f64>,
    /// Estimated error of their sum in V², which is also one for each of them.
    pub error_v2: f64,
    /// Frequencies that were solved.
    pub frequencies: usize,
}

impl BandNoise {
    /// Mean square of all together in V².
    pub fn total_v2(&self) -> f64 {
        self.squares_v2.iter().sum()
    }

    /// Root mean square of all together in V.
    pub fn rms_v(&self) -> f64 {
        self.total_v2().sqrt()
    }
}

/// Noise of the voltage between two nodes, around a point at rest.
#[derive(Debug)]
pub struct OutputNoise<'s, 'a> {
    signal: &'s mut SmallSignal<'a>,
    output: [usize; 2],
    sources: Vec<NoiseAt>,
    contributors: Vec<Contributor>,
    /// The contributor that each source counts for.
    owners: Vec<usize>,
}

impl<'s, 'a> OutputNoise<'s, 'a> {
    /// Of the voltage from the second unknown of `output` to the first.
    pub fn new(signal: &'s mut SmallSignal<'a>, output: [usize; 2]) -> Self {
        let sources = signal.system().noise_sources(signal.z());
        let owner = |s: &NoiseAt| Contributor { part: s.part.clone(), cause: s.cause };
        let mut contributors: Vec<Contributor> = sources.iter().map(owner).collect();
        contributors.sort();
        contributors.dedup();
        let place = |s: &NoiseAt| contributors.binary_search(&owner(s)).unwrap_or(0);
        let owners = sources.iter().map(place).collect();
        Self { signal, output, sources, contributors, owners }
    }

    /// Everything that makes noise, by name of part, then by cause.
    pub fn contributors(&self) -> &[Contributor] {
        &self.contributors
    }

    /// The sources behind the contributors.
    pub fn sources(&self) -> &[NoiseAt] {
        &self.sources
    }

    /// From a unit of each source to the output, in the order of [`OutputNoise::sources`]: Ω from a
    /// current, V/V from a voltage, at a frequency in Hz.
    ///
    /// # Errors
    /// When the circuit has a natural frequency right there.
    pub fn transfers(&mut self, frequency_hz: f64) -> Result<Vec<Phasor>, Singular> {
        self.signal.set(s_of(frequency_hz))?;
        let mut weights = self.signal.zeros();
        let [plus, minus] = self.output;
        weights[plus] += 1.0;
        weights[minus] -= 1.0;
        self.signal.solve_transposed(&mut weights)?;
        let through = |s: &NoiseAt| weights[s.rows[1]] - weights[s.rows[0]];
        Ok(self.sources.iter().map(through).collect())
    }

    /// A singular matrix in words, for the outcome of a test.
    pub fn failure(&self, frequency_hz: f64, at: Singular) -> Failure {
        self.signal.failure(frequency_hz, at)
    }

    /// Density in V²/Hz of each contributor at a frequency in Hz above 0; their sum is the output's.
    ///
    /// # Errors
    /// As [`OutputNoise::transfers`].
    pub fn densities(&mut self, frequency_hz: f64) -> Result<Vec<f64>, Singular> {
        let transfers = self.transfers(frequency_hz)?;
        let mut densities = vec![0.0; self.contributors.len()];
        for ((source, owner), through) in self.sources.iter().zip(&self.owners).zip(&transfers) {
            densities[*owner] += through.norm_sqr() * source.density(frequency_hz);
        }
        Ok(densities)
    }

    /// Mean square over a band (lowest and highest frequency in Hz, both above 0), to
    /// [`BAND_TOLERANCE`]. `known_hz` are frequencies where something happens, such as resonances:
    /// panels end there, so that no peak can hide between points.
    ///
    /// # Errors
    /// When a frequency cannot be solved, or the integral does not settle.
    pub fn in_band(&mut self, band_hz: [f64; 2], known_hz: &[f64]) -> Result<BandNoise, Failure> {
        let [lowest, highest] = band_hz;
        if !(lowest > 0.0 && lowest <= highest && highest.is_finite()) {
            let message = format!("there is no band from {lowest:.6e} Hz to {highest:.6e} Hz");
            return Err(plain_failure(message));
        }
        let edges = edges(band_hz, known_hz);
        let count = self.contributors.len();
        // ∫S df = ∫S·f d(ln f)
        let integrand = |logarithm: f64, out: &mut [f64]| {
            let frequency_hz = logarithm.exp();
            let densities = self.densities(frequency_hz).map_err(|at| (frequency_hz, at))?;
            out.iter_mut().zip(&densities).for_each(|(out, s)| *out = s * frequency_hz);
            Ok(())
        };
        let found = integrate(&edges, count, BAND_TOLERANCE, MOST_FREQUENCIES, integrand)
            .map_err(|(frequency_hz, at)| self.signal.failure(frequency_hz, at))?;
        // Not-a-number must fail too.
        if !(found.error <= BAND_TOLERANCE * found.total()) {
            return Err(plain_failure(format!(
                "noise from {lowest:.6e} Hz to {highest:.6e} Hz does not settle: after {} frequencies \
                 it is known to {:.1e} of itself",
                found.evaluations,
                found.error / found.total()
            )));
        }
        Ok(BandNoise {
            squares_v2: found.values,
            error_v2: found.error,
            frequencies: found.evaluations,
        })
    }
}

fn plain_failure(message: String) -> Failure {
    let tried = vec!["halving the panels of the integral".to_owned()];
    Failure { time_s: None, node: None, part: None, tried, message }
}

/// Ends of the panels to start from, as logarithms of frequencies in Hz.
fn edges([lowest, highest]: [f64; 2], known_hz: &[f64]) -> Vec<f64> {
    let (from, to) = (lowest.ln(), highest.ln());
    let width = std::f64::consts::LN_10 / PANELS_A_DECADE;
    // Doubles span 617 decades, so the count is small.
    let panels = ((to - from) / width).ceil().max(1.0);
    let even = (1..panels as usize).map(|k| from + (to - from) * k as f64 / panels);
    let known = known_hz.iter().map(|f| f.ln()).filter(|f| *f > from && *f < to);
    let mut edges: Vec<f64> = even.chain(known).chain([from, to]).collect();
    edges.sort_by(f64::total_cmp);
    edges.dedup();
    edges
}
