//! States with hysteresis while time runs: crossings located and confirmed, filter times kept, each
//! flip a corner of the record like any other.
//!
//! A crossing is found on the dense output of a step and confirmed by a step that ends there, so that
//! no undamped curve decides. What follows from it (a flip after its filter time, the end of a
//! transition) is known ahead and landed on exactly.

use super::control::{RESTART_GROWTH, SMALLEST_SHARE};
use super::events::{Event, Events};
use super::record::Segment;
use super::states;
use super::step::{Point, Step, Unfinished};
use super::transient::{Start, Transient};
use super::{Failure, OperatingPoint};
use crate::device::Piece;
use crate::system::{Pieces, System};

/// A crossing is located to this share of the record, in s,
const CROSSING_SHARE: f64 = 1e-7;
/// and to this where that is shorter: a tenth of what is promised.
const CROSSING_S: f64 = 1e-10;
/// Steps that end at one crossing; each closes in by the square, so that few are needed.
const MOST_LANDINGS: usize = 8;
/// Instants of one cause and another closer than this, in s, are one corner,
const MERGED_S: f64 = 1e-11;
/// and than this share of the present time.
const MERGED_SHARE: f64 = 1e-12;
/// One state as it stands.
#[derive(Clone, Debug)]
struct Standing {
    high: bool,
    /// Since when what is watched has been beyond the level at which the state leaves.
    beyond_since: Option<f64>,
    /// When the drive will have arrived.
    arrives_s: Option<f64>,
    piece: Piece,
}

/// All states of a system on their way through time.
#[derive(Clone, Debug)]
pub(super) struct Watch<'a> {
    system: &'a System,
    standing: Vec<Standing>,
    resolution_s: f64,
    events: Events,
}

fn flat(level: f64) -> Piece {
    Piece::Line { origin_s: 0.0, level, slope: 0.0 }
}

/// Within this of `t` two instants are one.
fn merged_s(t: f64) -> f64 {
    MERGED_S.max(MERGED_SHARE * t)
}

impl<'a> Watch<'a> {
    fn new(system: &'a System, states: &[bool], end_s: f64) -> Self {
        let stand = |(k, placed): (usize, &crate::device::PlacedTrip)| {
            let high = states.get(k).copied().unwrap_or(false);
            let piece = flat(placed.trip.level(high));
            Standing { high, beyond_since: None, arrives_s: None, piece }
        };
        Self {
            system,
            standing: system.trips.iter().enumerate().map(stand).collect(),
            resolution_s: CROSSING_S.min(CROSSING_SHARE * end_s),
            events: Events::default(),
        }
    }

    fn put(&self, pieces: &mut Pieces) {
        for (placed, standing) in self.system.trips.iter().zip(&self.standing) {
            pieces.put(placed.drive, standing.piece);
        }
    }

    /// The next instant at which a state flips or a drive arrives, as far as is known.
    fn next_stop_s(&self) -> f64 {
        let each = self.system.trips.iter().zip(&self.standing);
        each.map(|(placed, s)| {
            let filter_s = placed.trip.filter_s[usize::from(!s.high)];
            let flips = s.beyond_since.map_or(f64::INFINITY, |since| since + filter_s);
            flips.min(s.arrives_s.unwrap_or(f64::INFINITY))
        })
        .fold(f64::INFINITY, f64::min)
    }

    /// Takes note of where what is watched stands; gives whether anything is new.
    pub(super) fn note(&mut self, t: f64, x: &[f64]) -> bool {
        let mut is_new = false;
        for (placed, s) in self.system.trips.iter().zip(&mut self.standing) {
            let excess = placed.trip.excess(s.high, x);
            if excess > 0.0 && s.beyond_since.is_none() {
                s.beyond_since = Some(t);
                is_new = true;
            } else if excess < 0.0 && s.beyond_since.is_some() {
                s.beyond_since = None;
                is_new = true;
            }
        }
        is_new
    }

    /// Takes note that state `k` crosses at `t`, in whichever direction it was waited for.
    pub(super) fn cross(&mut self, k: usize, t: f64) {
        if let Some(s) = self.standing.get_mut(k) {
            s.beyond_since = if s.beyond_since.is_some() { None } else { Some(t) };
        }
    }

    /// Flips what is due at `t` and stops what arrives; gives whether any drive bends there.
    fn act(&mut self, t: f64) -> bool {
        let now = t + merged_s(t);
        let mut bends = false;
        for (placed, s) in self.system.trips.iter().zip(&mut self.standing) {
            let trip = &placed.trip;
            if s.arrives_s.is_some_and(|arrives| arrives <= now) {
                s.arrives_s = None;
                s.piece = flat(trip.level(s.high));
                bends = true;
            }
            let filter_s = trip.filter_s[usize::from(!s.high)];
            if !s.beyond_since.is_some_and(|since| since + filter_s <= now) {
                continue;
            }
            s.high = !s.high;
            s.beyond_since = None;
            let (level, to) = (s.piece.value(t), trip.level(s.high));
            let whole = (trip.levels[1] - trip.levels[0]).abs();
            let takes_s = trip.transition_s * (to - level).abs() / whole;
            if takes_s > 0.0 {
                let takes_s = takes_s.max(2.0 * merged_s(t));
                s.piece = Piece::Line { origin_s: t, level, slope: (to - level) / takes_s };
                s.arrives_s = Some(t + takes_s);
            } else {
                (s.piece, s.arrives_s) = (flat(to), None);
            }
            bends = true;
            let part = self.system.parts.get(placed.part).map_or("", |p| p.name.as_str());
            let what = trip.words[usize::from(s.high)];
            self.events.note(|| Event { time_s: t, part: part.to_owned(), what });
        }
        bends
    }

    /// The first place, as a share of the step, where a watched level is crossed in the direction that
    /// is waited for, with the state that waits.
    fn first_crossing(&self, from: &Point, step: &Step) -> Option<(f64, usize)> {
        let mut first: Option<(f64, usize)> = None;
        for (k, (placed, s)) in self.system.trips.iter().zip(&self.standing).enumerate() {
            let trip = &placed.trip;
            let [a, b] = trip.watched;
            // Rising through zero is the crossing, whichever way what is watched moves.
            let to_beyond = if s.beyond_since.is_some() { -1.0 } else { 1.0 };
            let sign = if s.high { -to_beyond } else { to_beyond };
            let curve = Cubic {
                start: to_beyond * trip.excess(s.high, &from.x),
                end: to_beyond * trip.excess(s.high, &step.end.x),
                bend: [
                    sign * (step.bend0[a] - step.bend0[b]),
                    sign * (step.bend1[a] - step.bend1[b]),
                ],
            };
            let place = curve.rises_through_zero();
            if let Some(place) = place.filter(|p| first.is_none_or(|(known, _)| *p < known)) {
                first = Some((place, k));
            }
        }
        first
    }

    /// s that the watched quantity which is nearest to its crossing still needs after the step's end,
    /// at the rate it has there.
    fn missing_s(&self, from: &Point, step: &Step, k: usize, h: f64) -> f64 {
        let (placed, s) = (&self.system.trips[k], &self.standing[k]);
        let to_beyond = if s.beyond_since.is_some() { -1.0 } else { 1.0 };
        let value = |x: &[f64]| to_beyond * placed.trip.excess(s.high, x);
        let (before, end) = (value(&from.x), value(&step.end.x));
        -end / (end - before) * h
    }
}

/// (1−θ)·start + θ·(end + (1−θ)·(bend₀ + θ·bend₁)).
struct Cubic {
    start: f64,
    end: f64,
    bend: [f64; 2],
}

impl Cubic {
    fn value(&self, theta: f64) -> f64 {
        let left = 1.0 - theta;
        left * self.start + theta * (self.end + left * (self.bend[0] + theta * self.bend[1]))
    }

    /// Where it first passes from zero or below to above.
    fn rises_through_zero(&self) -> Option<f64> {
        let reach = 0.25 * (self.bend[0].abs() + self.bend[1].abs());
        if self.start.max(self.end) + reach <= 0.0 {
            return None;
        }
        let mut places = [0.0, 1.0, 1.0, 1.0];
        let [k3, k4] = self.bend;
        let (a, b, c) = (self.end - self.start + k3, 2.0 * (k4 - k3), -3.0 * k4);
        let root = (b * b - 4.0 * a * c).max(0.0).sqrt();
        let q = -0.5 * (b + root.copysign(b));
        let mut turns = [q / c, a / q].map(|r| if r > 0.0 && r < 1.0 { r } else { 1.0 });
        turns.sort_by(f64::total_cmp);
        places[1..3].copy_from_slice(&turns);
        let rising =
            places.windows(2).find(|w| self.value(w[0]) <= 0.0 && self.value(w[1]) > 0.0)?;
        let (mut low, mut high) = (rising[0], rising[1]);
        while high - low > f64::EPSILON * high {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.value(middle) <= 0.0 { low = middle } else { high = middle }
        }
        Some(high)
    }
}

/// Where a step ended that was looked at for crossings.
pub(super) enum Landed {
    /// No level was crossed; the step stands.
    Nowhere,
    /// The step was taken anew and ends at a crossing.
    Anew,
    /// This state crosses where the step begins; the step is not to be taken.
    Here(usize),
}

impl Transient<'_> {
    /// Looks for a crossing inside a step that was just tried, and takes it anew so that it ends there.
    pub(super) fn land(
        &mut self,
        watch: &Watch<'_>,
        point: &Point,
        pieces: &Pieces,
        size: f64,
        step: &mut Step,
    ) -> Result<Landed, Unfinished> {
        let Some((mut theta, k)) = watch.first_crossing(point, step) else {
            return Ok(Landed::Nowhere);
        };
        let near_s = watch.resolution_s.max(2.0 * SMALLEST_SHARE * point.t);
        let (mut size, mut found) = (size, true);
        for _ in 0..MOST_LANDINGS {
            if found && theta * size <= near_s {
                return Ok(Landed::Here(k));
            }
            let past_s = if found { (1.0 - theta) * size } else { f64::INFINITY };
            if past_s <= near_s {
                break;
            }
            size = if found {
                theta * size + 0.5 * near_s
            } else {
                let missing_s = watch.missing_s(point, step, k, size);
                if !(missing_s > 0.0 && missing_s < size) {
                    break;
                }
                size + missing_s + 0.5 * near_s
            };
            let system = self.system;
            self.stepper.attempt(system, pieces, &self.tolerances, point, size, step)?;
            (found, theta) = match watch.first_crossing(point, step) {
                Some((place, _)) => (true, place),
                None => (false, 1.0),
            };
        }
        Ok(Landed::Anew)
    }

    /// Runs a system with states from `rest` over the corners that are known ahead and those that
    /// the states make on the way.
    pub(super) fn run_with_states(
        &mut self,
        rest: &OperatingPoint,
        corners: &[(f64, bool)],
    ) -> Result<(), Failure> {
        let end_s = corners.last().map_or(0.0, |c| c.0);
        let point = self.first_point(rest);
        let states = match self.options.start {
            Start::OperatingPoint => rest.states.clone(),
            Start::InitialValues => self.states_of_initial_values(&point, corners),
        };
        let mut watch = Watch::new(self.system, &states, end_s);
        let outcome = self.follow(&mut watch, point, corners);
        self.events = watch.events;
        if let Some(last) = self.record.times_s().last().copied()
            && let Some(segment) = self.record.segments.last_mut()
        {
            segment.to_s = last;
        }
        outcome
    }

    fn follow(
        &mut self,
        watch: &mut Watch<'_>,
        mut point: Point,
        corners: &[(f64, bool)],
    ) -> Result<(), Failure> {
        let end_s = corners.last().map_or(0.0, |c| c.0);
        let (mut h, mut before_s, mut next) = (f64::INFINITY, f64::INFINITY, 1);
        // Whether the present point is a corner, and whether something jumps there.
        let mut corner = corners.first().map(|c| c.1);
        self.record.segments.clear();
        while point.t < end_s && next < corners.len() {
            self.events.count = watch.events.count;
            if self.work.attempts() >= self.options.work_limit {
                return Err(self.work_limit_reached(point.t, 0));
            }
            let static_s = corners[next].0;
            if let Some(jump) = corner.take() {
                let middle_s = 0.5 * (corners[next - 1].0 + static_s);
                let mut pieces = self.system.pieces(middle_s);
                watch.put(&mut pieces);
                self.record.segments.push(Segment { from_s: point.t, to_s: static_s, pieces });
                let k = self.record.segments.len() - 1;
                if k == 0 {
                    self.record.push_first(&point, 0);
                }
                let stretch_s = watch.next_stop_s().min(static_s) - point.t;
                let micro = Self::micro_step_s(point.t, stretch_s.min(before_s));
                self.enter(&mut point, k, jump, micro)?;
                h = h.min(RESTART_GROWTH * micro);
                watch.note(point.t, &point.x);
            }
            let k = self.record.segments.len() - 1;
            let own_s = watch.next_stop_s();
            let merges = own_s + merged_s(point.t) >= static_s;
            let due = !merges && own_s <= point.t + merged_s(point.t);
            if !due && point.t < static_s {
                let stop_s = if merges { static_s } else { own_s };
                h = self.cross_watched(&mut point, (k, self.tolerances.rung(h)), stop_s, watch)?;
            }
            let bends = watch.act(point.t);
            let arrived = static_s - point.t <= SMALLEST_SHARE * static_s;
            if arrived {
                next += 1;
            }
            if bends || arrived {
                corner = Some(arrived && corners[next - 1].1);
                let segment = &mut self.record.segments[k];
                segment.to_s = point.t;
                before_s = point.t - segment.from_s;
            }
        }
        self.events.count = watch.events.count;
        Ok(())
    }

    /// The states that the circuit has once its capacitors and inductors stand at their initial
    /// values: without filter times, for nothing has been before.
    fn states_of_initial_values(&mut self, point: &Point, corners: &[(f64, bool)]) -> Vec<bool> {
        let count = self.system.trips.len();
        let mut high = vec![false; count];
        let [first, second, ..] = corners else { return high };
        let mut step = Step::new(self.system);
        let rows = self.initial_rows(point);
        let micro = Self::micro_step_s(0.0, second.0 - first.0);
        for _ in 0..=count {
            let mut pieces = self.system.pieces(0.5 * (first.0 + second.0));
            states::hold(self.system, &high, &mut pieces);
            let system = self.system;
            let solved =
                self.stepper.euler_from_charges(system, &pieces, point, &rows, micro, &mut step);
            let wrong = states::contradicted(self.system, &high, &step.end.x);
            if solved.is_err() || wrong.is_empty() {
                break;
            }
            for k in wrong {
                high[k] = !high[k];
            }
        }
        high
    }
}

#[cfg(test)]
mod tests {
    use super::Cubic;

    #[test]
    fn exact_a_cubic_is_found_where_it_first_rises_through_zero() {
        // 6·(θ − ¼)·(θ − ½)·(θ − ¾): rises at ¼, falls at ½, rises at ¾.
        let value = |t: f64| 6.0 * (t - 0.25) * (t - 0.5) * (t - 0.75);
        let rest = |t: f64| (value(t) - (1.0 - t) * value(0.0) - t * value(1.0)) / (t * (1.0 - t));
        let slope = (rest(0.8) - rest(0.2)) / 0.6;
        let bend = [rest(0.2) - 0.2 * slope, slope];
        let curve = Cubic { start: value(0.0), end: value(1.0), bend };
        assert!((curve.rises_through_zero().unwrap_or(9.0) - 0.25).abs() < 1e-14);
        let falling = Cubic { start: 1.0, end: -1.0, bend: [0.0; 2] };
        assert_eq!(falling.rises_through_zero(), None);
        let straight = Cubic { start: -1.0, end: 3.0, bend: [0.0; 2] };
        assert!((straight.rises_through_zero().unwrap_or(9.0) - 0.25).abs() < 1e-15);
    }
}
