//! Runs a train until its periods are alike, and looks for the repetition rate at which it is worst.

use super::{FIRST_PERIODS, scanned, train};
use crate::analysis::Failure;
use crate::curve::{Column, Curve};
use crate::diagnostic::Diagnostic;
use crate::measure::train::{Train, is_periodic, train as measured};
use crate::measure::{Asked, Figure, Station, Wanted};
use crate::quantity::trimmed;
use crate::system::System;
use crate::trial::excitation::Figures;
use crate::trial::march::March;
use crate::trial::reads::Reads;
use crate::trial::rest::rest;
use crate::trial::run::{Outcome, Prepared, RunOptions};
use crate::trial::{PulseMotion, Test};

/// The worst rate is closed in by so many golden sections around the worst point: to 1 % of a step.
const SECTIONS: usize = 10;
/// Trains that differ by less, as a share, are as bad as each other.
const AS_BAD: f64 = 1e-3;
/// What must be right of a train on the way.
const LOOKED_AT: [&str; 3] = ["train_droop", "train_overshoot", "periodic_peak_to_peak"];
const DIGITS: usize = 4;

/// One repetition rate and what it came to.
#[derive(Clone, Copy, Debug)]
struct Rung {
    hz: f64,
    periods: usize,
    train: Train,
}

/// How runs of one rate are made.
struct Bench<'a> {
    prepared: &'a mut Prepared,
    test: &'a Test,
    motion: &'a PulseMotion,
    options: &'a RunOptions,
    /// Newton iterations, factorisations, steps of runs that are not kept.
    work: crate::analysis::Work,
}

/// Runs a pulse-train test.
pub(in crate::trial) fn run(
    prepared: &mut Prepared,
    test: &Test,
    motion: &PulseMotion,
    options: &RunOptions,
) -> Result<Outcome, Vec<Diagnostic>> {
    let scan = scanned(motion, &prepared.variant);
    let work = crate::analysis::Work::default();
    // Trains that are only looked at for their worst need nothing but the output.
    let kept = (prepared.reads, prepared.watched.take());
    prepared.reads = Reads::Voltages;
    prepared.watched = Some(LOOKED_AT.map(str::to_owned).to_vec());
    let mut bench = Bench { prepared, test, motion, options, work };
    let found = match scan {
        None => {
            let period = motion.period_s.as_ref().map(|p| bench.prepared.variant.evaluate(p));
            let period: f64 = period.unwrap_or(f64::NAN);
            bench.rung(1.0 / period, period).map(|rung| (rung, None))
        }
        Some(ends) => bench.scan(ends).map(|(rung, found)| (rung, Some(found))),
    };
    let spent = bench.work;
    (prepared.reads, prepared.watched) = kept;
    let mut outcome = prepared.blank_outcome(test);
    match found {
        Err(failure) => outcome.fail(failure),
        Ok((rung, found)) => {
            let period = match scan {
                Some(_) => 1.0 / rung.hz,
                None => motion.period_s.as_ref().map_or(f64::NAN, |p| prepared.variant.evaluate(p)),
            };
            prepared.excite_train(test, motion, (period, rung.periods))?;
            outcome = prepared.blank_outcome(test);
            if let Some(found) = found {
                prepared.stations = vec![station(&rung, &found)];
                outcome.curves = vec![curve(&found)];
                outcome.notes = vec![note(&rung, &found)];
            }
            prepared.march_from_rest(test, options, &mut outcome);
        }
    }
    outcome.work.add(spent);
    if options.reads != Reads::Everything {
        outcome.curves.clear();
    }
    Ok(outcome)
}

impl Prepared {
    /// Puts another train in the place of the one that this test has.
    fn excite_train(
        &mut self,
        test: &Test,
        motion: &PulseMotion,
        shape: (f64, usize),
    ) -> Result<(), Vec<Diagnostic>> {
        let mut figures = Figures { variant: &self.variant, wrong: Vec::new() };
        train(&mut self.excitation, test, motion, &mut figures, shape);
        let told = figures.wrong.into_iter();
        let told: Vec<Diagnostic> =
            told.map(|c| Diagnostic::error(test.place(c.key), c.message).hint(c.hint)).collect();
        if told.is_empty() { Ok(()) } else { Err(told) }
    }
}

impl Bench<'_> {
    /// Runs one rate until its periods are alike, with twice as many whenever they are not.
    fn rung(&mut self, hz: f64, period: f64) -> Result<Rung, Failure> {
        let mut periods = FIRST_PERIODS.min(self.motion.periods);
        loop {
            self.prepared.excite_train(self.test, self.motion, (period, periods)).map_err(
                |told| {
                    let first = told.into_iter().next();
                    Failure::plain(first.map_or_else(String::new, |m| m.message))
                },
            )?;
            let (periodic, train) = self.look()?;
            if periodic || periods >= self.motion.periods {
                return Ok(Rung { hz, periods, train });
            }
            periods = (2 * periods).min(self.motion.periods);
        }
    }

    /// One solution of the present train: whether it became periodic, and what it came to.
    fn look(&mut self) -> Result<(bool, Train), Failure> {
        let prepared = &*self.prepared;
        let net = prepared.net();
        let system = System::build(&net);
        let rest = rest(prepared, self.test.start, &system)?;
        let march = March::new(prepared, &system, &rest, self.test, self.options);
        let solution = march.solve_once();
        self.work.add(solution.work());
        if let Some(failure) = solution.failure() {
            return Err(failure.clone());
        }
        let scene = prepared.scene(self.test.kind, solution.waveform());
        let requirements = &prepared.requirements;
        let told = |why: String| Failure::plain(why);
        let periodic = is_periodic(&scene, requirements).map_err(told)?;
        Ok((periodic, measured(&scene, requirements).map_err(told)?))
    }

    /// All rates of the scan, rising, and the worst of them.
    fn scan(
        &mut self,
        (from, to, points): (f64, f64, usize),
    ) -> Result<(Rung, Vec<Rung>), Failure> {
        let last = points.max(2) - 1;
        let mut found = Vec::with_capacity(points + SECTIONS);
        for k in 0..=last {
            let hz = match k {
                0 => from,
                k if k == last => to,
                k => from * (to / from).powf(k as f64 / last as f64),
            };
            found.push(self.rung(hz, 1.0 / hz)?);
        }
        let bad = |rung: &Rung| rung.train.peak_to_peak_v;
        let worst = (0..found.len()).max_by(|a, b| bad(&found[*a]).total_cmp(&bad(&found[*b])));
        let worst = worst.unwrap_or(0);
        let (mut a, mut b) = (
            found[worst.saturating_sub(1)].hz.ln(),
            found[(worst + 1).min(found.len() - 1)].hz.ln(),
        );
        let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
        let (mut low, mut high) = (b - golden * (b - a), a + golden * (b - a));
        let mut probe = |bench: &mut Self, x: f64| {
            let hz = x.exp();
            let rung = bench.rung(hz, 1.0 / hz)?;
            found.push(rung);
            Ok::<f64, Failure>(bad(&rung))
        };
        let (mut at_low, mut at_high) = (probe(self, low)?, probe(self, high)?);
        for _ in 0..SECTIONS {
            if at_low > at_high {
                (b, high, at_high) = (high, low, at_low);
                low = b - golden * (b - a);
                at_low = probe(self, low)?;
            } else {
                (a, low, at_low) = (low, high, at_high);
                high = a + golden * (b - a);
                at_high = probe(self, high)?;
            }
        }
        found.sort_by(|a, b| a.hz.total_cmp(&b.hz));
        found.dedup_by(|a, b| a.hz == b.hz);
        let mut worst = found[0];
        for rung in &found {
            if bad(rung) > bad(&worst) {
                worst = *rung;
            }
        }
        Ok((worst, found))
    }
}

fn station(worst: &Rung, found: &[Rung]) -> Station {
    let wanted = Wanted { name: "worst_rate", asked: Asked::default() };
    let at_end = found.first().is_some_and(|r| r.hz == worst.hz)
        || found.last().is_some_and(|r| r.hz == worst.hz);
    let note = at_end.then(|| "at an end of `scan`; it may be worse outside".to_owned());
    let figure = Figure { note, ..Figure::plain(worst.hz) };
    Station { condition: String::new(), figures: vec![(wanted, Ok(figure))] }
}

fn curve(found: &[Rung]) -> Curve {
    let column = |name: &str, unit, of: &dyn Fn(&Rung) -> f64| {
        Column::new(name, unit, found.iter().map(of).collect())
    };
    let columns = vec![
        column("rate", "Hz", &|r| r.hz),
        column("train_droop", "V", &|r| r.train.droop_v),
        column("train_overshoot", "V", &|r| r.train.overshoot_v),
        column("periodic_peak_to_peak", "V", &|r| r.train.peak_to_peak_v),
        column("periods", "", &|r| r.periods as f64),
    ];
    Curve { columns, ..Curve::default() }
}

fn note(worst: &Rung, found: &[Rung]) -> String {
    let told = |v: f64, unit: &str| trimmed(v, unit, DIGITS);
    let bad = |r: &Rung| r.train.peak_to_peak_v;
    let least = found.iter().map(bad).fold(f64::INFINITY, f64::min);
    let as_bad: Vec<f64> =
        found.iter().filter(|r| bad(r) >= (1.0 - AS_BAD) * bad(worst)).map(|r| r.hz).collect();
    let wide = match (as_bad.first(), as_bad.last()) {
        (Some(low), Some(high)) if high > low => {
            format!(" (within 0.1 % of it from {} to {})", told(*low, "Hz"), told(*high, "Hz"))
        }
        _ => String::new(),
    };
    format!(
        "worst at {}{wide}: {} peak to peak in every period; at the mildest rate of the scan {}",
        told(worst.hz, "Hz"),
        told(bad(worst), "V"),
        told(least, "V"),
    )
}
