//! Inductances that ring with capacitances and have next to nothing to damp them.
//!
//! The natural frequencies of the network at rest are the s for which G + s·C has no inverse:
//! s = −1/μ with μ the eigenvalues of G⁻¹·C. Small μ come with an error of the size of rounding
//! times the largest, so each candidate is polished by inverse iteration, which also gives its
//! shape. Where a fair share of the energy sits in inductances it is a resonance of the bank and
//! not of the loop, and its quality is |s|/(2·|Re s|).

use super::network::Network;
use super::{Plan, Rest};
use crate::device::{Element, Input, Law, Visitor};
use crate::diagnostic::Diagnostic;
use crate::numeric::Dual;
use crate::quantity::engineering;
use nalgebra::{Complex, DVector, Schur};

/// Above this quality a warning is given: a ring falls to a tenth in 73 periods. Real parts stay
/// below it by their own resistance (common practice, no source).
const MOST_QUALITY: f64 = 100.0;
/// Candidates are taken down to this quality before they are polished.
const CANDIDATE_QUALITY: f64 = 30.0;
/// In a resonance of L and C half of the energy is magnetic on average.
const LEAST_MAGNETIC_SHARE: f64 = 0.25;
const MOST_SCHUR_STEPS: usize = 20_000;
const POLISHING_STEPS: usize = 5;
const BESIDE: Complex<f64> = Complex::new(1.0 + 1e-9, 1e-9);

pub(super) fn doubts(plan: &Plan, rest: &Rest, network: &Network) -> Vec<Diagnostic> {
    let mut told: Vec<(String, Diagnostic)> = Vec::new();
    for s in natural_frequencies(network) {
        let Some((s, shape)) = polished(network, s) else { continue };
        let quality = s.norm() / (2.0 * s.re.abs());
        let rings = s.im > 0.0 && quality > MOST_QUALITY && s.re < s.norm() / MOST_QUALITY;
        if !rings {
            continue;
        }
        let Some((inductive, capacitive)) = holders(rest, &shape) else { continue };
        if let Some(doubt) = doubt(plan, &inductive, &capacitive, (s.im, quality))
            && !told.iter().any(|(name, _)| *name == inductive)
        {
            told.push((inductive, doubt));
        }
    }
    told.into_iter().map(|(_, doubt)| doubt).collect()
}

fn natural_frequencies(network: &Network) -> Vec<Complex<f64>> {
    let Some(ratio) = network.statics.clone().lu().solve(&network.charges) else {
        return Vec::new();
    };
    if ratio.iter().any(|x| !x.is_finite()) {
        return Vec::new();
    }
    let Some(schur) = Schur::try_new(ratio, f64::EPSILON, MOST_SCHUR_STEPS) else {
        return Vec::new();
    };
    let eigenvalues = schur.complex_eigenvalues();
    let largest = eigenvalues.iter().map(|m| m.norm()).fold(0.0, f64::max);
    let rings = |s: &Complex<f64>| s.im > 0.0 && s.norm() > 2.0 * CANDIDATE_QUALITY * s.re.abs();
    eigenvalues
        .iter()
        .filter(|m| m.norm() > f64::EPSILON * largest)
        .map(|m| -m.inv())
        .filter(rings)
        .collect()
}

/// The natural frequency next to `s` and its shape, by inverse iteration.
fn polished(
    network: &Network,
    mut s: Complex<f64>,
) -> Option<(Complex<f64>, DVector<Complex<f64>>)> {
    let statics = network.statics.map(|x| Complex::new(x, 0.0));
    let charges = network.charges.map(|x| Complex::new(x, 0.0));
    // Any start will do that leaves no unknown out.
    let start = |k: usize, _| Complex::new(1.0 + 0.1 * (k as f64).sin(), 0.3 * (k as f64).cos());
    let mut shape = DVector::from_fn(statics.nrows(), start);
    let first = s;
    for round in 0..POLISHING_STEPS {
        // Beside the present s, where the matrix has an inverse.
        let shift = s * BESIDE;
        let matrix = &statics + &charges * shift;
        let next = matrix.lu().solve(&(&charges * &shape))?;
        let k = next.icamax();
        let size = *next.get(k)?;
        if !(size.norm() > 0.0 && size.norm().is_finite()) {
            return None;
        }
        // The first quotient is that of an arbitrary start and says nothing of s.
        if round > 0 {
            s = shift - *shape.get(k)? / size;
        }
        shape = next / size;
    }
    let near = (s - first).norm() < 0.1 * first.norm();
    near.then_some((s, shape))
}

/// The parts that hold most of the magnetic and of the electric energy; `None` where too little is
/// magnetic.
fn holders(rest: &Rest, shape: &DVector<Complex<f64>>) -> Option<(String, String)> {
    let at = |k: usize| k.checked_sub(1).map_or(Complex::new(0.0, 0.0), |k| shape[k]);
    let count = rest.net.parts.len();
    let (mut magnetic, mut electric) = (vec![0.0; count], vec![0.0; count]);
    for (part, element) in &rest.net.elements {
        match element {
            Element::Branch { current, inductance_h, .. } => {
                magnetic[*part] += inductance_h * at(*current).norm_sqr();
            }
            Element::Mutual { currents: [a, b], henry } => {
                magnetic[*part] += 2.0 * henry * (at(*a) * at(*b).conj()).re;
            }
            Element::Capacitance { pins, farad, .. } => {
                let across = at(pins[0].unknown) - at(pins[1].unknown);
                electric[*part] += farad * across.norm_sqr();
            }
            Element::Law { law, inputs, charges, .. } => {
                if let (&[Input::Between(a, b)], [pins]) = (inputs.as_slice(), charges.as_slice()) {
                    let farad = law.visit(Farad(rest.z[a] - rest.z[b]));
                    let across = at(pins[0].unknown) - at(pins[1].unknown);
                    electric[*part] += farad * across.norm_sqr();
                }
            }
            _ => {}
        }
    }
    let total: [f64; 2] = [magnetic.iter().sum(), electric.iter().sum()];
    let enough = total[0] >= LEAST_MAGNETIC_SHARE * (total[0] + total[1]);
    if !enough {
        return None;
    }
    let most = |energies: &[f64]| {
        let (part, _) = energies.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
        rest.net.parts.get(part).map(|p| p.name.clone())
    };
    Some((most(&magnetic)?, most(&electric)?))
}

/// F of a law's first charge over one voltage, at this voltage in V.
struct Farad(f64);

impl Visitor for Farad {
    type Output = f64;
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> f64 {
        let (_, charges) = law.evaluate(&Dual::inputs([self.0; N]));
        charges.first().and_then(|q| q.slope.first()).copied().unwrap_or(0.0)
    }
}

fn doubt(
    plan: &Plan,
    inductive: &str,
    capacitive: &str,
    (radian_per_s, quality): (f64, f64),
) -> Option<Diagnostic> {
    let span = plan.circuit.part_span(inductive)?;
    let kind = plan.nominal.part(inductive)?.kind.name;
    let (what, missing) = match kind {
        "capacitor" => ("the ESL of ", "esr"),
        _ => ("", "series_resistance"),
    };
    let with =
        if inductive == capacitive { "its own capacitance" } else { &format!("`{capacitive}`") };
    let hertz = engineering(radian_per_s / std::f64::consts::TAU, "Hz", 3);
    let quality = if quality < 1e6 { format!("{quality:.0}") } else { "beyond 1e6".to_owned() };
    let message =
        format!("{what}`{inductive}` rings with {with} at {hertz}, with a Q of {quality}");
    let capacitor = plan.nominal.part(capacitive).is_some_and(|p| p.kind.name == "capacitor");
    let or = if capacitor && capacitive != inductive {
        format!(", or `{capacitive}` its `esr`")
    } else {
        String::new()
    };
    Some(
        Diagnostic::warning(span, message)
            .label("next to nothing damps it")
            .hint(format!("give `{inductive}` its `{missing}`{or}")),
    )
}
