//! A train of load pulses: its first and its last period, and when every period is like the one
//! before.

use super::bench::{Bench, Finding, Options};
use super::requirement::Requirement;
use super::scene::{Role, Scene};
use crate::waveform::{Instant, Window};

type Found = Result<Finding, String>;

/// Two neighbouring periods are alike when neither their highest nor their lowest output differ by
/// more than this share of the band: a tenth of the drift that a settled level may have.
const ALIKE: f64 = 0.01;
/// So many in a row must be alike: a beat has neighbours alike where it turns.
const IN_A_ROW: usize = 3;

/// What the output does in one period; down is towards 0 V.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Swing {
    low: Instant,
    high: Instant,
}

/// One row of a scan over repetition rates, all in V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Train {
    /// As the measurement `train_droop`.
    pub droop_v: f64,
    /// As the measurement `train_overshoot`.
    pub overshoot_v: f64,
    /// As the measurement `periodic_peak_to_peak`.
    pub peak_to_peak_v: f64,
}

fn swing(bench: &Bench, period: Window) -> Result<Swing, String> {
    Ok(Swing { low: bench.lowest(period)?, high: bench.highest(period)? })
}

fn first_and_last(bench: &Bench) -> Result<[Swing; 2], String> {
    let periods = bench.scene.periods()?;
    let of = |period: Option<&Window>| match period {
        Some(period) => swing(bench, *period),
        None => Err("the test has no period".to_owned()),
    };
    Ok([of(periods.first())?, of(periods.last())?])
}

pub(super) fn droop(bench: &Bench, _: Options) -> Found {
    let before = bench.level_of(Role::Before)?;
    let [first, last] = first_and_last(bench)?;
    let [of_first, of_last] =
        [first, last].map(|period| bench.sense() * (before - period.low.value));
    let (worst, at, which) = if of_last > of_first {
        (of_last, last.low, "last")
    } else {
        (of_first, first.low, "first")
    };
    Ok(Finding::at(worst, at.time_s).note(Some(format!("in the {which} period"))))
}

pub(super) fn first_droop(bench: &Bench, _: Options) -> Found {
    let before = bench.level_of(Role::Before)?;
    let [first, _] = first_and_last(bench)?;
    Ok(Finding::at(bench.sense() * (before - first.low.value), first.low.time_s))
}

pub(super) fn overshoot(bench: &Bench, _: Options) -> Found {
    let before = bench.level_of(Role::Before)?;
    let [first, last] = first_and_last(bench)?;
    let [of_first, of_last] =
        [first, last].map(|period| bench.sense() * (period.high.value - before));
    let (worst, at, which) = if of_last > of_first {
        (of_last, last.high, "last")
    } else {
        (of_first, first.high, "first")
    };
    Ok(Finding::at(worst, at.time_s).note(Some(format!("in the {which} period"))))
}

pub(super) fn peak_to_peak(bench: &Bench, _: Options) -> Found {
    let [_, last] = first_and_last(bench)?;
    let note = match alike_from(bench)? {
        Some(_) => None,
        None => Some("not periodic yet: the record ends first".to_owned()),
    };
    let mut found = Finding::plain((last.high.value - last.low.value).abs()).note(note);
    if let Finding::Value(value) = &mut found {
        value.instants = vec![last.low.time_s, last.high.time_s];
    }
    Ok(found)
}

pub(super) fn periods(bench: &Bench, _: Options) -> Found {
    match alike_from(bench)? {
        Some(count) => Ok(Finding::plain(count as f64)),
        None => {
            let count = bench.scene.periods()?.len();
            Err(format!("not periodic within {count} periods; raise `periods`"))
        }
    }
}

/// How many periods it takes until they are alike; `None` if they are not in this record.
fn alike_from(bench: &Bench) -> Result<Option<usize>, String> {
    let band_v = bench.band_v().ok_or("neither `nominal` nor a window gives a band")?;
    let mut before: Option<Swing> = None;
    let mut in_a_row = 1;
    for (k, period) in bench.scene.periods()?.into_iter().enumerate() {
        let now = swing(bench, period)?;
        let differs = |a: Instant, b: Instant| (a.value - b.value).abs() > ALIKE * band_v;
        let alike = before.is_some_and(|b| !differs(b.low, now.low) && !differs(b.high, now.high));
        in_a_row = if alike { in_a_row + 1 } else { 1 };
        if in_a_row >= IN_A_ROW {
            return Ok(Some(k + 1));
        }
        before = Some(now);
    }
    Ok(None)
}

/// Whether the periods of a record have become alike.
///
/// # Errors
/// What is missing to tell, in words.
pub fn is_periodic(scene: &Scene, requirements: &[Requirement]) -> Result<bool, String> {
    alike_from(&Bench::new(scene, requirements)).map(|found| found.is_some())
}

/// What a scan tells of one repetition rate.
///
/// # Errors
/// What is missing to tell, in words.
pub fn train(scene: &Scene, requirements: &[Requirement]) -> Result<Train, String> {
    let bench = Bench::new(scene, requirements);
    let before = bench.level_of(Role::Before)?;
    let [first, last] = first_and_last(&bench)?;
    let down = |to: Instant| bench.sense() * (before - to.value);
    Ok(Train {
        droop_v: down(first.low).max(down(last.low)),
        overshoot_v: (-down(first.high)).max(-down(last.high)),
        peak_to_peak_v: (last.high.value - last.low.value).abs(),
    })
}
