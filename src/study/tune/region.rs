//! The allowed region of an output capacitor: a box of capacitance and ESR around the choice inside
//! which every requirement holds, for whoever buys a substitute.
//!
//! Its values are what a capacitor has left at its place, so both are set at every corner to what the
//! box says there; a test that raises them itself keeps that factor. Each side is bisected outwards
//! from the choice at the cases that stop it, then the box shrinks until its corners hold at all.

use super::around::{LEAST_ESR_OHM, figures, reach, tolerance, variant};
use super::cases::Case;
use super::search::Search;
use crate::circuit::Change;
use crate::quantity::Dimension;
use crate::study::runner::Halt;
use crate::study::spell::spelled;
use crate::study::worst::environment;

/// Output capacitors that get a region: more are a network, not a part.
const MOST_PARTS: usize = 3;
/// Halvings of the logarithm of a side: a ratio of 10 is cut to 1 %.
const HALVINGS: usize = 8;
/// Rounds of looking at the corners of the box again.
const MOST_ROUNDS: usize = 16;

/// A side of the box.
#[derive(Clone, Debug, PartialEq)]
pub struct SideEnd {
    /// In SI base units.
    pub value: f64,
    /// The requirement that is missed just beyond it; `None` where none is within what was looked at.
    pub stopped_by: Option<usize>,
}

/// Both sides of one quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Bound {
    /// The lower side.
    pub low: SideEnd,
    /// The upper side.
    pub high: SideEnd,
    /// What the choice has at its nominal place.
    pub choice: f64,
    /// That over what is written on the part.
    pub of_label: f64,
    /// What may be written on a part that keeps this share and scatters as this one does; `None`
    /// where its tolerance alone is wider than the box.
    pub label: Option<[f64; 2]>,
    /// What was looked at.
    pub reach: [f64; 2],
}

/// The allowed region of one capacitor.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Its name.
    pub part: String,
    /// F
    pub capacitance: Bound,
    /// Ω
    pub esr: Bound,
    /// Places (tests at corners, some with tolerances at limits) at which its corners were run.
    pub places: usize,
    /// Whether corners and mid-sides all held.
    pub is_verified: bool,
    /// Factors on capacitance and ESR that tests set themselves, kept on top: test, both factors.
    pub raised: Vec<(usize, [f64; 2])>,
}

/// Regions of the output capacitors that what is tuned touches.
pub(super) fn regions(search: &Search<'_, '_>, choice: usize) -> Result<Vec<Region>, Halt> {
    let base = &search.candidates[choice].changes;
    let Some(variant) = variant(search.runner, base, &[], None) else { return Ok(Vec::new()) };
    let Some(rail) = &variant.rail else { return Ok(Vec::new()) };
    let touched = super::candidates::capacitors(search.tuned, &variant);
    let names = touched.into_iter().filter(|name| rail.output_capacitors.contains(name));
    let mut found = Vec::new();
    for part in names.take(MOST_PARTS) {
        if let Some(mut plot) = Fence::new(search, choice, &part) {
            found.push(plot.find()?);
        }
    }
    Ok(found)
}

/// Ends in logarithms: capacitance low and high, ESR low and high.
type Ends = [f64; 4];

/// Indices of the places that miss, and the requirement that is missed by most.
type Missing = (Vec<usize>, Option<usize>);

/// A side on its way inwards.
struct Attempt {
    side: usize,
    good: f64,
    bad: f64,
    stops: Vec<usize>,
    stopped_by: Option<usize>,
}

/// A place with what it takes to set effective values there.
struct Spot {
    test: usize,
    over: Vec<Change>,
    /// What to write for one F and one Ω of effective value.
    label_per: [f64; 2],
}

struct Fence<'a, 'b> {
    search: &'a Search<'a, 'b>,
    base: Vec<Change>,
    part: String,
    /// Logarithms of effective capacitance and ESR of the choice.
    centre: [f64; 2],
    label: [f64; 2],
    reach: [[f64; 2]; 2],
    /// The worst cases that are known, and the nominal place of every test.
    spots: Vec<Spot>,
    raised: Vec<(usize, [f64; 2])>,
    tolerance: [[f64; 2]; 2],
    /// What stops each side.
    stopped_by: [Option<usize>; 4],
}

impl<'a, 'b> Fence<'a, 'b> {
    fn new(search: &'a Search<'a, 'b>, choice: usize, part: &str) -> Option<Self> {
        let base = search.candidates[choice].changes.clone();
        let now = variant(search.runner, &base, &[], None)?;
        let (label, effective) = figures(&now, part)?;
        let values = [effective[0], effective[1].max(LEAST_ESR_OHM)];
        let mut plot = Self {
            reach: reach(search, part, values),
            tolerance: tolerance(search, &base, part, label),
            search,
            base,
            part: part.to_owned(),
            centre: values.map(f64::ln),
            label,
            spots: Vec::new(),
            raised: Vec::new(),
            stopped_by: [None; 4],
        };
        let tests = search.tests();
        let nominal = tests.iter().map(|&test| Case::nominal(test));
        let known = search.cases().filter(|case| tests.contains(&case.test)).cloned();
        for case in nominal.chain(known) {
            plot.add(&case);
        }
        Some(plot)
    }

    /// Adds a place; what is set by the box itself does not scatter.
    fn add(&mut self, case: &Case) {
        let runner = self.search.runner;
        let own = |path: &str| {
            let keys = [format!("{}.capacitance", self.part), format!("{}.esr", self.part)];
            let tuned = self.search.tuned.iter().find(|t| t.path == path);
            let only = |t: &super::Tuned| t.touches.iter().all(|(part, _)| *part == self.part);
            keys.iter().any(|key| key == path) || tuned.is_some_and(only)
        };
        let positions = case.positions.iter().filter(|(path, _)| !own(path)).cloned().collect();
        let case = Case { positions, ..case.clone() };
        let over = case.over(runner, &self.base);
        if self.spots.iter().any(|s| s.test == case.test && s.over == over) {
            return;
        }
        let outside = variant(runner, &self.base, &over, None);
        let inside = variant(runner, &self.base, &over, Some(case.test));
        let both = outside.as_ref().zip(inside.as_ref());
        let Some((outside, inside)) = both else { return };
        let Some(((before, _), (label, effective))) =
            figures(outside, &self.part).zip(figures(inside, &self.part))
        else {
            return;
        };
        let ratio = |a: f64, b: f64| if a > 0.0 && b > 0.0 { a / b } else { 1.0 };
        let kept = [0, 1].map(|k| ratio(label[k], before[k]));
        let label_per = [0, 1].map(|k| kept[k] * ratio(label[k], effective[k]));
        if kept != [1.0; 2] && !self.raised.iter().any(|(test, _)| *test == case.test) {
            self.raised.push((case.test, kept));
        }
        self.spots.push(Spot { test: case.test, over, label_per });
    }

    /// The shot of a place with the capacitor at logarithms of effective values.
    fn shot(&self, spot: &Spot, at: [f64; 2]) -> (usize, Vec<Change>) {
        let mut changes: Vec<Change> = self.base.iter().chain(&spot.over).cloned().collect();
        let keys = [("capacitance", Dimension::FARAD), ("esr", Dimension::OHM)];
        for (k, (key, dimension)) in keys.into_iter().enumerate() {
            let path = format!("{}.{key}", self.part);
            changes.push(spelled(&path, at[k].exp() * spot.label_per[k], dimension).0);
        }
        (spot.test, changes)
    }

    /// For each point with the places to try there: those that miss, and the worst requirement.
    fn missing(&self, asked: &[([f64; 2], Vec<usize>)]) -> Result<Vec<Missing>, Halt> {
        let shots: Vec<_> = asked
            .iter()
            .flat_map(|(at, spots)| spots.iter().map(|&k| self.shot(&self.spots[k], *at)))
            .collect();
        let mut readings = self.search.readings(&shots)?.into_iter();
        let mut found = Vec::new();
        for (_, spots) in asked {
            let (mut missing, mut worst) = (Vec::new(), None::<(usize, f64)>);
            for (&k, reading) in spots.iter().zip(readings.by_ref()) {
                if let Some(miss) = self.search.worst_missed(self.spots[k].test, &reading) {
                    missing.push(k);
                    worst = Some(worst.filter(|w| w.1 <= miss.1).unwrap_or(miss));
                }
            }
            found.push((missing, worst.map(|w| w.0)));
        }
        Ok(found)
    }

    fn all(&self) -> Vec<usize> {
        (0..self.spots.len()).collect()
    }

    fn find(&mut self) -> Result<Region, Halt> {
        let far = [self.reach[0][0], self.reach[0][1], self.reach[1][0], self.reach[1][1]];
        let far = far.map(f64::ln);
        let mut ends = self.sides(far)?;
        // What no tolerance search visited: every corner of the environment as it is.
        if !self.search.nominal_only {
            for test in self.search.tests() {
                for corner in environment(self.search.runner, test)? {
                    self.add(&Case { test, corner, positions: Vec::new() });
                }
            }
        }
        let is_verified = self.shrink(&mut ends)?;
        Ok(self.told(ends, is_verified))
    }

    /// A point on a side, level with the choice.
    fn on_side(&self, side: usize, at: f64) -> [f64; 2] {
        moved(self.centre, side, at)
    }

    /// Bisects all four sides outwards.
    fn sides(&mut self, far: Ends) -> Result<Ends, Halt> {
        let all = self.all();
        let centre = [self.centre[0], self.centre[0], self.centre[1], self.centre[1]];
        let (mut good, mut bad) = (far, far);
        // The places that stop each side, at the nearest point known to be outside.
        let mut stops: [Vec<usize>; 4] = Default::default();
        for _ in 0..MOST_ROUNDS {
            let ends: Vec<_> = (0..4).map(|s| (self.on_side(s, good[s]), all.clone())).collect();
            let found = self.missing(&ends)?;
            let mut moved = false;
            for (side, (missing, worst)) in found.into_iter().enumerate() {
                if !missing.is_empty() {
                    (bad[side], good[side]) = (good[side], centre[side]);
                    (stops[side], self.stopped_by[side], moved) = (missing, worst, true);
                }
            }
            if !moved {
                break;
            }
            self.bisect(&mut good, &mut bad, &mut stops)?;
        }
        Ok(good)
    }

    fn bisect(
        &mut self,
        good: &mut Ends,
        bad: &mut Ends,
        stops: &mut [Vec<usize>; 4],
    ) -> Result<(), Halt> {
        for _ in 0..HALVINGS {
            let open: Vec<usize> = (0..4).filter(|&s| good[s] != bad[s]).collect();
            let middle = |s: usize| f64::midpoint(good[s], bad[s]);
            let asked: Vec<_> =
                open.iter().map(|&s| (self.on_side(s, middle(s)), stops[s].clone())).collect();
            let found = self.missing(&asked)?;
            for (&s, (missing, worst)) in open.iter().zip(found) {
                let at = f64::midpoint(good[s], bad[s]);
                if missing.is_empty() {
                    good[s] = at;
                } else {
                    (bad[s], stops[s], self.stopped_by[s]) = (at, missing, worst);
                }
            }
        }
        Ok(())
    }

    /// Moves sides inwards until all corners and mid-sides hold; whether they do.
    fn shrink(&mut self, ends: &mut Ends) -> Result<bool, Halt> {
        for _ in 0..MOST_ROUNDS {
            let all = self.all();
            let asked: Vec<_> =
                outline(*ends).into_iter().map(|(at, _)| (at, all.clone())).collect();
            let found = self.missing(&asked)?;
            let first = outline(*ends).into_iter().zip(found).find(|(_, (m, _))| !m.is_empty());
            let Some(((at, sides), (stops, worst))) = first else { return Ok(true) };
            self.give_way(ends, at, &sides, (stops, worst))?;
        }
        Ok(false)
    }

    /// Moves one of the sides through a point that misses: the one that costs least of the area.
    ///
    /// What the choice needs with its own tolerance holds at its place; it is given up last, when
    /// the point misses though its sides stand there already.
    fn give_way(
        &mut self,
        ends: &mut Ends,
        at: [f64; 2],
        sides: &[usize],
        (stops, stopped_by): Missing,
    ) -> Result<(), Halt> {
        let free: Vec<usize> =
            sides.iter().copied().filter(|&s| self.own_edge(s, ends[s]) != ends[s]).collect();
        let spots: Vec<_> = free
            .iter()
            .map(|&s| (moved(at, s, self.own_edge(s, ends[s])), stops.clone()))
            .collect();
        let found = self.missing(&spots)?;
        let cured = |(_, (missing, _)): &(&usize, Missing)| missing.is_empty();
        let curing: Vec<usize> = free.iter().zip(found).filter(cured).map(|(s, _)| *s).collect();
        let attempt = |side: usize, good: f64| {
            let stops = stops.clone();
            Attempt { side, good, bad: ends[side], stops, stopped_by }
        };
        let attempts: Vec<Attempt> = if !curing.is_empty() {
            let own = curing.iter().map(|&s| attempt(s, self.own_edge(s, ends[s]))).collect();
            self.narrowed(at, own)?
        } else if !free.is_empty() {
            free.iter().map(|&s| attempt(s, self.own_edge(s, ends[s]))).collect()
        } else {
            self.narrowed(at, sides.iter().map(|&s| attempt(s, self.centre[s / 2])).collect())?
        };
        let width = [ends[1] - ends[0], ends[3] - ends[2]];
        let lost =
            |a: &Attempt| (ends[a.side] - a.good).abs() / width[a.side / 2].max(f64::MIN_POSITIVE);
        let least = attempts.iter().min_by(|a, b| lost(a).total_cmp(&lost(b)));
        if let Some(Attempt { side, good, stopped_by, .. }) = least {
            (ends[*side], self.stopped_by[*side]) = (*good, *stopped_by);
        }
        Ok(())
    }

    /// Where the tolerance of the choice itself ends on a side that stands at `end`, or `end` where
    /// that is nearer.
    fn own_edge(&self, side: usize, end: f64) -> f64 {
        let [minus, plus] = self.tolerance[side / 2];
        let centre = self.centre[side / 2];
        if side.is_multiple_of(2) {
            (centre + (1.0 - minus).ln()).max(end)
        } else {
            (centre + (1.0 + plus).ln()).min(end)
        }
    }

    /// Bisects each attempt, level with the point where it began.
    fn narrowed(&self, at: [f64; 2], mut attempts: Vec<Attempt>) -> Result<Vec<Attempt>, Halt> {
        for _ in 0..HALVINGS {
            let middle = |a: &Attempt| f64::midpoint(a.good, a.bad);
            let asked: Vec<_> =
                attempts.iter().map(|a| (moved(at, a.side, middle(a)), a.stops.clone())).collect();
            for (a, (missing, worst)) in attempts.iter_mut().zip(self.missing(&asked)?) {
                let middle = f64::midpoint(a.good, a.bad);
                if missing.is_empty() {
                    a.good = middle;
                } else {
                    (a.bad, a.stops) = (middle, missing);
                    a.stopped_by = worst.or(a.stopped_by);
                }
            }
        }
        Ok(attempts)
    }

    fn told(&self, ends: Ends, is_verified: bool) -> Region {
        let bound = |k: usize| {
            let end = |side: usize| SideEnd {
                value: as_told(ends[side].exp()),
                stopped_by: self.stopped_by[side],
            };
            let (low, high) = (end(2 * k), end(2 * k + 1));
            let of_label = if self.label[k] > 0.0 {
                as_told(self.centre[k].exp() / self.label[k])
            } else {
                1.0
            };
            let [minus, plus] = self.tolerance[k];
            let label =
                [low.value / of_label / (1.0 - minus), high.value / of_label / (1.0 + plus)];
            let label = Some(label.map(as_told)).filter(|l| l[0] <= l[1]);
            let (choice, reach) = (as_told(self.centre[k].exp()), self.reach[k].map(as_told));
            Bound { low, high, choice, of_label, label, reach }
        };
        Region {
            part: self.part.clone(),
            capacitance: bound(0),
            esr: bound(1),
            places: self.spots.len(),
            is_verified,
            raised: self.raised.clone(),
        }
    }
}

/// A point with the quantity of one side put elsewhere.
fn moved(mut point: [f64; 2], side: usize, to: f64) -> [f64; 2] {
    point[side / 2] = to;
    point
}

/// To the digits that runs are made with.
fn as_told(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

/// Corners and mid-sides of the box, each with the sides that it lies on.
fn outline([c_low, c_high, r_low, r_high]: Ends) -> Vec<([f64; 2], Vec<usize>)> {
    let middle = [f64::midpoint(c_low, c_high), f64::midpoint(r_low, r_high)];
    vec![
        ([c_low, r_low], vec![0, 2]),
        ([c_low, r_high], vec![0, 3]),
        ([c_high, r_low], vec![1, 2]),
        ([c_high, r_high], vec![1, 3]),
        ([c_low, middle[1]], vec![0]),
        ([c_high, middle[1]], vec![1]),
        ([middle[0], r_low], vec![2]),
        ([middle[0], r_high], vec![3]),
    ]
}
