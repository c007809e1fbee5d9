//! The droop as a sum over the output capacitors.
//!
//! All capacitors between output and ground see the same droop, and each splits it in its own
//! way: droop = ESL·Δ(di/dt) + ESR·Δi + Δq/C, Δ from the settled level before the loading edge to
//! the worst instant. Each of these sums is exact, and so is any mean of them whose weights add up
//! to one. The weight is the share of the charge that a capacitor has delivered from the edge to
//! that instant, Δq the difference of its charges at both voltages where the capacitance follows
//! them; one that has taken charge counts for nothing, and where none has delivered any
//! (a droop that is all ESR step, at the edge itself) the weights are the capacitances.

use super::Story;
use crate::circuit::VariantPart;
use crate::device::{CapacitorFigures, OverBias, Role, capacitor_figures};

/// What makes up a droop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CauseKind {
    /// Charge taken from the capacitance.
    Charge,
    /// Current through the series resistance.
    Esr,
    /// Change of current through the series inductance.
    Esl,
}

impl CauseKind {
    /// As in `summary.json`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Charge => "charge",
            Self::Esr => "esr",
            Self::Esl => "esl",
        }
    }
}

/// One addend of the droop.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// Which.
    pub kind: CauseKind,
    /// The capacitor it is in.
    pub part: String,
    /// V; negative where it held the output up.
    pub volt: f64,
}

/// A capacitor between output and ground.
struct Member<'a> {
    name: &'a str,
    figures: CapacitorFigures,
    /// 1, or −1 for one whose first node is ground.
    sense: f64,
    first: usize,
    second: usize,
    /// Where esr and esl end: the plate, unless a ladder lies between.
    head: usize,
    plate: usize,
    branch: Option<usize>,
}

/// V across its three elements, in the sense of the output.
#[derive(Clone, Copy, Default)]
struct Parts {
    esl: f64,
    esr: f64,
    plate: f64,
}

/// What the droop is to one capacitor.
struct Share {
    parts: Parts,
    delivered_c: f64,
    /// Ahead of the edge.
    farad: f64,
}

impl<'a> Member<'a> {
    /// `None` for a capacitor that stands elsewhere and so sees another voltage.
    fn of(story: &Story<'_>, part: &'a VariantPart) -> Option<Self> {
        let (output, ground) = (story.rail.output.as_deref()?, story.rail.ground.as_str());
        let sense = match part.nodes.as_slice() {
            [a, b] if a == output && b == ground => 1.0,
            [a, b] if a == ground && b == output => -1.0,
            _ => return None,
        };
        let index = story.system.parts.iter().position(|p| p.name == part.name)?;
        let &[first, second] = story.system.parts[index].pins.as_slice() else { return None };
        let own = |role: Role| {
            let all = story.system.unknowns.iter().enumerate();
            all.filter(move |(_, u)| u.part == Some(index) && u.role == role).map(|(k, _)| k)
        };
        let figures = capacitor_figures(&part.parameters);
        // A ladder's node, if there is one, comes ahead of the plate.
        let inner: Vec<usize> = own(Role::InnerNode).collect();
        let plate = inner.last().copied().unwrap_or(first);
        let ahead = inner.iter().rev().nth(1).copied().unwrap_or(first);
        Some(Self {
            name: &part.name,
            head: if figures.ladder.is_some() { ahead } else { plate },
            figures,
            sense,
            first,
            second,
            plate,
            branch: own(Role::InductorCurrent).next(),
        })
    }

    fn parts(&self, x: &[f64]) -> Parts {
        let series = self.sense * (x[self.first] - x[self.plate]);
        let plate = self.sense * (x[self.plate] - x[self.second]);
        // With inductance the current is an unknown, and the inductance has the exact rest; a ladder
        // belongs to the resistance.
        let esr = self.branch.map_or(series, |i| {
            let ladder = self.sense * (x[self.head] - x[self.plate]);
            self.sense * self.figures.esr_ohm * x[i] + ladder
        });
        Parts { esl: series - esr, esr, plate }
    }

    /// The terms of the droop, from the settled level to the worst instant.
    fn split(&self, level_v: f64, ahead: &[f64], worst: &[f64]) -> Share {
        let (start, end) = (self.parts(ahead), self.parts(worst));
        // Settled, no current changes; what ESR does not take of the level is on the plates.
        let plate = level_v - start.esr;
        let delivered_c = match self.figures.over_bias {
            OverBias::Constant => self.figures.farad * (plate - end.plate),
            _ => self.figures.charge_c(plate) - self.figures.charge_c(end.plate),
        };
        Share {
            parts: Parts { esl: -end.esl, esr: start.esr - end.esr, plate: plate - end.plate },
            delivered_c,
            farad: self.figures.farad_at(plate),
        }
    }
}

/// The addends of the droop, each capacitor's charge first; esr and esl where it has any.
pub(super) fn causes(story: &Story<'_>) -> Vec<Cause> {
    let names = story.rail.output_capacitors.iter();
    let members = names.filter_map(|n| Member::of(story, story.variant.part(n)?));
    let Some((ahead, worst)) = ends(story) else { return Vec::new() };
    let split: Vec<_> = members.map(|m| (m.split(story.level_v, &ahead, &worst), m)).collect();
    let charges: Vec<(f64, f64)> = split.iter().map(|(s, _)| (s.delivered_c, s.farad)).collect();
    let weights = weights(&charges);
    let mut causes = Vec::new();
    for ((Share { parts, .. }, member), weight) in split.iter().zip(weights) {
        let mut add = |kind, volt: f64| {
            causes.push(Cause { kind, part: member.name.to_owned(), volt: weight * volt });
        };
        add(CauseKind::Charge, parts.plate);
        if member.figures.esr_low_ohm() > 0.0 {
            add(CauseKind::Esr, parts.esr);
        }
        if member.figures.esl_henry > 0.0 {
            add(CauseKind::Esl, parts.esl);
        }
    }
    causes
}

/// Shares from (charge delivered in C, capacitance in F); they add up to 1.
fn weights(charges: &[(f64, f64)]) -> Vec<f64> {
    let delivered: f64 = charges.iter().map(|c| c.0.max(0.0)).sum();
    let capacitance: f64 = charges.iter().map(|c| c.1).sum();
    let share = |c: &(f64, f64)| {
        if delivered > 0.0 { c.0.max(0.0) / delivered } else { c.1 / capacitance }
    };
    charges.iter().map(share).collect()
}

/// All unknowns ahead of the loading edge and at the worst instant.
pub(super) fn ends(story: &Story<'_>) -> Option<(Vec<f64>, Vec<f64>)> {
    let times = story.record.times_s();
    let ahead = times.partition_point(|t| *t < story.edge.start_s);
    (ahead < times.len()).then_some(())?;
    let (start, lowest_s) = (story.record.point(ahead).x.to_vec(), story.lowest_s);
    let output =
        story.system.unknowns.iter().position(|u| Some(&u.name) == story.rail.output.as_ref())?;
    // The worst instant may be a jump, where only one side is the lowest.
    let reached = times.partition_point(|t| *t < lowest_s);
    let sides = (reached..times.len()).take_while(|&k| times[k] == lowest_s);
    let value = |k: &usize| story.record.value(*k, output);
    let worst = sides.min_by(|a, b| value(a).total_cmp(&value(b)));
    if let Some(k) = worst {
        return Some((start, story.record.point(k).x.to_vec()));
    }
    let k = reached.checked_sub(1).filter(|_| reached < times.len())?;
    let theta = (lowest_s - times[k]) / (times[reached] - times[k]);
    let mut x = vec![0.0; story.system.unknowns.len()];
    story.record.between(k, theta, &mut x);
    Some((start, x))
}

#[cfg(test)]
mod tests {
    use super::weights;

    #[test]
    fn shares_add_up_to_one_whoever_delivers() {
        assert_eq!(weights(&[(3.0, 1.0), (1.0, 7.0)]), [0.75, 0.25]);
        assert_eq!(weights(&[(3.0, 1.0), (-1.0, 7.0)]), [1.0, 0.0]);
        assert_eq!(weights(&[(0.0, 1.0), (0.0, 3.0)]), [0.25, 0.75]);
    }
}
