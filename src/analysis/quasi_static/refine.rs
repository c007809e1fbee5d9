//! Where a sweep needs more rests: at bends, and around jumps, which are closed in.

use super::{QuasiStatic, SweepPoint, Watched};

/// Where the curve bends, intervals are halved at most this often.
const FINEST: usize = 6;
/// A curve may leave the straight line over an interval by this share of its whole span before the
/// interval is halved.
const BEND_SHARE: f64 = 1e-3;
/// Curves that span less than this (V where voltages are watched) are straight but for what
/// Newton's iteration leaves.
const STRAIGHT: f64 = 1e-7;
/// An interval over which the curve moves by this share of its span is halved beyond [`FINEST`],
/// until it moves by less or proves to be a jump.
const JUMP_SHARE: f64 = 0.01;
/// A jump is located to this share of the range of the sweep.
const JUMP_RESOLUTION: f64 = 1e-9;
/// Rounds of halving that take any interval below [`JUMP_RESOLUTION`].
const ROUNDS: usize = 36;

impl QuasiStatic<'_> {
    /// Halves intervals in which the watched quantity bends, and those that may hide a jump.
    pub(super) fn refine(
        &mut self,
        drive: usize,
        mut points: Vec<SweepPoint>,
        watched: Watched<'_>,
    ) -> Vec<SweepPoint> {
        let Some((first, last)) = points.first().zip(points.last()) else { return points };
        let (range, last) = ((last.level - first.level).abs(), last.clone());
        let coarse = range / (points.len().max(2) - 1) as f64;
        let limits = Limits {
            finest: coarse * 0.5_f64.powi(FINEST as i32),
            shortest: JUMP_RESOLUTION * range,
        };
        let mut seen: Vec<f64> = points.iter().map(|p| watched(&p.z)).collect();
        for _ in 0..ROUNDS {
            let wanted = bent(&points, &seen, &limits);
            if wanted.is_empty() {
                break;
            }
            let mut finer = Vec::with_capacity(points.len() + wanted.len());
            let mut finer_seen = Vec::with_capacity(points.len() + wanted.len());
            let mut wanted = wanted.into_iter().peekable();
            for (k, mut point) in std::mem::take(&mut points).into_iter().enumerate() {
                if wanted.next_if_eq(&k).is_some()
                    && let Some(mut middle) = self.middle(drive, finer.last(), &point)
                {
                    // A jump lies on one side of the middle only.
                    middle.jumped |= point.jumped && self.is_nearer(&middle, finer.last(), &point);
                    point.jumped &= !middle.jumped;
                    finer_seen.push(watched(&middle.z));
                    finer.push(middle);
                }
                finer_seen.push(seen[k]);
                finer.push(point);
            }
            if finer.len() == seen.len() {
                points = finer;
                break;
            }
            (points, seen) = (finer, finer_seen);
        }
        mark_jumps(&mut points, &seen);
        self.put(drive, &last);
        points
    }

    /// The rest half-way from a point to the next.
    fn middle(
        &mut self,
        drive: usize,
        from: Option<&SweepPoint>,
        to: &SweepPoint,
    ) -> Option<SweepPoint> {
        let from = from?;
        self.put(drive, from);
        let jumped = self.go(drive, 0.5 * (from.level + to.level)).ok()?;
        Some(SweepPoint { jumped, ..self.here(drive) })
    }

    /// Whether `middle` looks more like `after` than like `before`.
    fn is_nearer(
        &self,
        middle: &SweepPoint,
        before: Option<&SweepPoint>,
        after: &SweepPoint,
    ) -> bool {
        let distance = |other: &[f64]| {
            let nodes = self.system.unknowns.iter().zip(middle.z.iter().zip(other));
            nodes
                .filter(|(u, _)| u.role.is_voltage())
                .map(|(_, (a, b))| (a - b).powi(2))
                .sum::<f64>()
        };
        before.is_some_and(|before| distance(&after.z) < distance(&before.z))
    }
}

/// How finely intervals are halved.
struct Limits {
    /// Where the curve bends.
    finest: f64,
    /// Where it may jump.
    shortest: f64,
}

fn span(seen: &[f64]) -> f64 {
    let fold = |(l, h): (f64, f64), v: &f64| (l.min(*v), h.max(*v));
    let (low, high) = seen.iter().fold((f64::INFINITY, f64::NEG_INFINITY), fold);
    high - low
}

/// Indices, rising, of points whose interval, back to the point before, touches a bend and is not
/// yet as short as it may become.
fn bent(points: &[SweepPoint], seen: &[f64], limits: &Limits) -> Vec<usize> {
    let span = span(seen);
    let mut found = Vec::new();
    if span < STRAIGHT {
        return found;
    }
    for k in 1..points.len().saturating_sub(1) {
        let [a, b, c] = [k - 1, k, k + 1].map(|k| points[k].level);
        let share = if a == c { 0.5 } else { (b - a) / (c - a) };
        let straight = seen[k - 1] + share * (seen[k + 1] - seen[k - 1]);
        if (seen[k] - straight).abs() > BEND_SHARE * span {
            found.extend([k, k + 1]);
        }
    }
    found.dedup();
    found.retain(|&k| {
        let width = (points[k].level - points[k - 1].level).abs();
        let leaps = (seen[k] - seen[k - 1]).abs() > JUMP_SHARE * span;
        width > if leaps { limits.shortest } else { limits.finest }
    });
    found
}

/// What still leaps over an interval that cannot be halved further is a jump.
fn mark_jumps(points: &mut [SweepPoint], seen: &[f64]) {
    let (span, range) = match points {
        [first, .., last] if span(seen) >= STRAIGHT => {
            (span(seen), (last.level - first.level).abs())
        }
        _ => return,
    };
    for k in 1..points.len() {
        let width = (points[k].level - points[k - 1].level).abs();
        let leaps = (seen[k] - seen[k - 1]).abs() > JUMP_SHARE * span;
        points[k].jumped |= leaps && width <= JUMP_RESOLUTION * range;
    }
}
