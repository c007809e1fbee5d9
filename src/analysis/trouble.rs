//! When a step does not get better by getting shorter, and what a march that ends early says.

use super::events::CHATTER;
use super::step::Unfinished;
use super::{Failure, Transient};
use crate::quantity::trimmed;

/// A shrinking by this much without the error falling calls for the rescue.
const RESCUE_SHRINK: f64 = 1e-4;

impl Transient<'_> {
    pub(super) fn failure(&self, t: f64, at: Unfinished, what: &str) -> Failure {
        let k = at.unknown;
        let node = self.system.unknowns.get(k).map(|u| u.name.clone());
        let name = node.as_deref().unwrap_or("the circuit");
        Failure {
            time_s: Some(t),
            part: self.system.part_at(k).map(str::to_owned),
            message: format!("{what}; `{name}` gives most trouble"),
            tried: vec![
                format!("{:?} steps shortened to the smallest", self.options.method),
                "a backward-Euler step with junction limits".to_owned(),
                "a backward-Euler step with damped Newton".to_owned(),
            ],
            node,
        }
    }

    /// A jump that has no finite answer, told at the part that jumps where there is one.
    pub(super) fn impossible_jump(&self, t: f64, at: Unfinished) -> Failure {
        let told = self.failure(t, at, "the jump could not be resolved with charges held");
        let jumps = |d: usize| self.system.drives[d].corners(t, t).iter().any(|c| c.jump);
        let Some(part) = self.system.parts.iter().find(|p| p.drive.is_some_and(jumps)) else {
            return told;
        };
        let pins = part.pins.iter().map(|&k| self.system.unknowns[k].name.as_str());
        let node = pins.clone().find(|name| *name != "gnd").unwrap_or("gnd");
        Failure {
            message: format!(
                "`{}` jumps at `{node}`, and the jump has no finite answer: a current cannot jump \
                 where only inductances (an ESL, a trace) lead away; give the step an `edge` above \
                 zero",
                part.name
            ),
            node: Some(node.to_owned()),
            part: Some(part.name.clone()),
            ..told
        }
    }

    /// What repeats too fast for its corners to be listed, let alone reached: two steps are taken at each.
    pub(super) fn refuse_too_many_corners(&self, end_s: f64) -> Result<(), Failure> {
        let counts = self.system.drives.iter().map(|d| d.about_how_many_corners(0.0, end_s));
        let (total, most) =
            counts.enumerate().fold((0.0, (0.0, 0)), |(total, most), (k, count)| {
                (total + count, if count > most.0 { (count, k) } else { most })
            });
        let limit = self.options.work_limit;
        if 2.0 * total <= limit as f64 {
            return Ok(());
        }
        let part = self.system.parts.iter().find(|p| p.drive == Some(most.1));
        let name = part.map_or("what drives the circuit".to_owned(), |p| format!("`{}`", p.name));
        Err(Failure {
            part: part.map(|p| p.name.clone()),
            ..Failure::plain(format!(
                "{name} changes its course some {:.0e} times within {}, more than the work limit of \
                 {limit} steps lets a run reach; make it slower, or watch for a shorter time",
                most.0,
                trimmed(end_s, "s", 3),
            ))
        })
    }

    pub(super) fn work_limit_reached(&self, t: f64, unknown: usize) -> Failure {
        let known = (unknown > 0).then(|| self.system.unknowns.get(unknown)).flatten();
        Failure {
            time_s: Some(t),
            node: known.map(|u| u.name.clone()),
            part: known.and_then(|_| self.system.part_at(unknown)).map(str::to_owned),
            tried: vec![format!("{} step attempts", self.work.attempts())],
            message: format!(
                "the work limit was reached before the end of the record{}",
                self.chatter()
            ),
        }
    }

    /// Which states chatter, where they do.
    fn chatter(&self) -> String {
        let count = self.events.count;
        if count < CHATTER {
            return String::new();
        }
        let mut names: Vec<String> = Vec::new();
        for placed in &self.system.trips {
            let name = self.system.parts.get(placed.part).map_or("", |p| p.name.as_str());
            names.push(format!("`{name}`"));
        }
        names.dedup();
        format!(
            "; {} changed over {count} times so far, a limit cycle: give it more hysteresis or a \
             filter time, or watch for a shorter time",
            names.join(", ")
        )
    }
}

/// What has gone wrong since the last accepted step.
pub(super) struct Trouble {
    pub(super) rejected: bool,
    first_size: f64,
    first_norm: f64,
    last_norm: f64,
    pub(super) unknown: usize,
}

impl Trouble {
    pub(super) fn none() -> Self {
        Self { rejected: false, first_size: 0.0, first_norm: 0.0, last_norm: 0.0, unknown: 0 }
    }

    pub(super) fn note(&mut self, norm: f64, unknown: usize, size: f64) {
        if !self.rejected {
            self.first_size = size;
            self.first_norm = norm;
        }
        self.rejected = true;
        self.last_norm = norm;
        self.unknown = unknown;
    }

    pub(super) fn calls_for_rescue(&self, h: f64) -> bool {
        h < RESCUE_SHRINK * self.first_size && !(self.last_norm < 0.1 * self.first_norm)
    }
}

#[cfg(test)]
mod tests {
    use crate::analysis::{Method, Start, Transient, TransientOptions, operating_point};
    use crate::device::{Drive, Net, Shape};
    use crate::system::System;

    /// Pulses of three corners each into a resistor: what 2·3·(pulses) steps reach is run, what they do not
    /// reach is refused without a step.
    #[test]
    fn exact_more_corners_than_the_work_limit_reaches_are_refused_at_once() {
        let points = vec![(0.0, 0.0), (0.25, 1.0), (0.5, 0.0)];
        let mut net = Net::new();
        let pins = net.begin_part("P1", &["a", "b"], &["x", "gnd"]);
        let ends = [pins[0], pins[1]];
        let shape = Some(Shape::Points { points, repeat_every_s: Some(1.0) });
        let drive = net.drive(Drive { constant: 0.0, shape });
        net.source(ends, drive);
        net.conductance(ends, 1.0);
        let system = System::build(&net);
        let options = TransientOptions {
            method: Method::Rodas4p,
            node_tolerance_v: 1e-6,
            start: Start::OperatingPoint,
            work_limit: 600,
        };
        let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None);
        let Ok(rest) = rest else { panic!("{rest:?}") };
        let run = |end_s: f64| {
            let mut transient = Transient::new(&system, options);
            let outcome = transient.run(&rest, end_s);
            (outcome, transient.work().steps)
        };
        assert_eq!(run(5.0).0, Ok(()));
        for end_s in [101.0, 1e12] {
            let (outcome, steps) = run(end_s);
            let Err(failure) = outcome else { panic!("{end_s} s") };
            assert!(failure.message.contains("`P1` changes its course"), "{}", failure.message);
            assert_eq!((failure.part.as_deref(), steps), (Some("P1"), 0));
        }
    }
}
