//! The scene with what all measurements share: the output signal, settled levels.

use super::figures::{Asked, Worse};
use super::requirement::{About, Requirement};
use super::scene::{Bound, Dwell, Edge, Role, Scene, TAIL, signal};
use super::words::quantity;
use crate::waveform::{Extreme, Instant, Side, Signal, Waveform, Window};
use std::cell::OnceCell;

/// What was found for one row, before it is judged.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Finding {
    /// A number.
    Value(Number),
    /// The rail is in a state that has no such number.
    State(State),
    /// There is no such number because it is better than any, and why.
    Beyond(String, Worse),
    /// What was waited for has not happened by the end of the record.
    NotYet {
        /// How it stands then.
        words: String,
        /// s, how long was watched.
        watched_s: f64,
    },
    /// It cannot be told, and why.
    Missing(String),
}

/// A measured number.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Number {
    pub(super) value: f64,
    /// s, when it was seen.
    pub(super) at_s: Option<f64>,
    /// Hz, where it was seen.
    pub(super) at_hz: Option<f64>,
    /// Which of several conditions gave it.
    pub(super) condition: Option<String>,
    /// Said beside it.
    pub(super) note: Option<String>,
    /// A state of the rail in which no value satisfies a requirement.
    pub(super) condemned: Option<String>,
    /// s, extremes and crossings that the value rests on.
    pub(super) instants: Vec<f64>,
    /// s/V: how far the value moves for each volt that its crossings are displaced by.
    pub(super) seconds_per_volt: f64,
}

/// Why a number that was asked for does not exist in this record.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct State {
    pub(super) words: String,
    /// s, how long was watched; a limit that is not shorter than this cannot be judged. `None`:
    /// waiting longer would not help.
    pub(super) watched_s: Option<f64>,
}

impl Finding {
    /// A value seen at an extreme.
    pub(super) fn at(value: f64, time_s: f64) -> Self {
        Self::Value(Number {
            value,
            at_s: Some(time_s),
            instants: vec![time_s],
            ..Number::default()
        })
    }

    /// A value of a whole stretch.
    pub(super) fn plain(value: f64) -> Self {
        Self::Value(Number { value, ..Number::default() })
    }

    /// Adds what is said beside a value.
    pub(super) fn note(mut self, note: Option<String>) -> Self {
        if let Self::Value(value) = &mut self {
            value.note = note;
        }
        self
    }
}

/// The options of one row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Options<'a> {
    pub(super) band_v: Option<f64>,
    pub(super) about: Option<About>,
    pub(super) level_v: Option<f64>,
    /// The part it is taken of.
    pub(super) of: Option<&'a str>,
    pub(super) asked: Asked,
}

/// The scene with what all rows share.
pub(super) struct Bench<'a> {
    pub(super) scene: &'a Scene<'a>,
    /// V: a tenth of it is the drift over a dwell above which its level is refused; `None` if
    /// nothing gives a scale.
    drift_band_v: Option<f64>,
    /// What says whether a motion is the circuit's own.
    pub(super) tighter: Option<Tighter<'a>>,
    /// Whether any dwell oscillates, once it was asked: several rows ask.
    pub(super) oscillates: OnceCell<Result<Option<String>, String>>,
}

/// A second solution of the same test.
#[derive(Clone, Copy)]
pub(super) struct Tighter<'a> {
    pub(super) bench: &'a Bench<'a>,
    /// V: a node of the first solution may err by so much.
    pub(super) node_tolerance_v: f64,
}

impl<'a> Bench<'a> {
    pub(super) fn new(scene: &'a Scene<'a>, requirements: &[Requirement]) -> Self {
        let asked = requirements.iter().filter_map(|r| r.band).filter(|b| *b > 0.0);
        let drift_band_v = asked.reduce(f64::min).or(match scene.rail.window {
            Bound::Within { low_v, high_v } => Some(0.5 * (high_v - low_v)),
            Bound::NotGiven | Bound::Off => scene.rail.nominal_v.map(|v| QUIET * v.abs()),
        });
        Self { scene, drift_band_v, tighter: None, oscillates: OnceCell::new() }
    }

    /// Beside a second solution.
    pub(super) fn beside(self, tighter: Tighter<'a>) -> Self {
        Self { tighter: Some(tighter), oscillates: OnceCell::new(), ..self }
    }

    /// V: the smallest band asked for, else half the window, else 0.1 % of nominal.
    pub(super) fn band_v(&self) -> Option<f64> {
        self.drift_band_v
    }

    pub(super) fn waveform(&self) -> &'a Waveform {
        self.scene.waveform
    }

    pub(super) fn output(&self) -> Result<&'a Signal, String> {
        self.scene.signal(signal::OUTPUT)
    }

    pub(super) fn nominal(&self) -> Result<f64, String> {
        self.scene.rail.nominal_v.ok_or_else(|| "`[rail]` names no `nominal`".to_owned())
    }

    /// 1, or −1 for a negative rail: down is towards 0 V.
    pub(super) fn sense(&self) -> f64 {
        if self.scene.rail.nominal_v.is_some_and(|nominal_v| nominal_v < 0.0) { -1.0 } else { 1.0 }
    }

    /// The farthest down that the output goes, towards 0 V, or that the record does not reach there.
    pub(super) fn lowest(&self, window: Window) -> Result<Instant, String> {
        let which = if self.sense() > 0.0 { Extreme::Lowest } else { Extreme::Highest };
        self.extreme(self.output()?, window, which)
    }

    /// The farthest up that the output goes, away from 0 V.
    pub(super) fn highest(&self, window: Window) -> Result<Instant, String> {
        let which = if self.sense() > 0.0 { Extreme::Highest } else { Extreme::Lowest };
        self.extreme(self.output()?, window, which)
    }

    /// The highest of a current. Which of its ends feeds a negative rail is for the file to choose: there the
    /// larger way counts, as a size.
    pub(super) fn peak_current(&self, current: &Signal, window: Window) -> Result<Instant, String> {
        let high = self.extreme(current, window, Extreme::Highest)?;
        if self.sense() > 0.0 {
            return Ok(high);
        }
        let low = self.extreme(current, window, Extreme::Lowest)?;
        let most = if high.value.abs() >= low.value.abs() { high } else { low };
        Ok(Instant { value: most.value.abs(), ..most })
    }

    /// The mean of a current, on a negative rail as a size.
    pub(super) fn mean_current(&self, current: &Signal, window: Window) -> Result<f64, String> {
        let mean = self.mean(current, window)?;
        Ok(if self.sense() > 0.0 { mean } else { mean.abs() })
    }

    /// An extreme of a signal, or that the record does not reach there.
    pub(super) fn extreme(
        &self,
        signal: &Signal,
        window: Window,
        which: Extreme,
    ) -> Result<Instant, String> {
        self.waveform().extreme(signal, window, which).ok_or_else(unreached)
    }

    /// The mean of a signal over a window, or that the record does not reach there.
    pub(super) fn mean(&self, signal: &Signal, window: Window) -> Result<f64, String> {
        self.waveform().mean(signal, window).ok_or_else(unreached)
    }

    /// The settled level of a dwell: the mean over its last tenth, refused while it drifts by
    /// more than a tenth of `band_v` (`None`: the test's own band) over the dwell.
    pub(super) fn level(&self, dwell: &Dwell, band_v: Option<f64>) -> Result<f64, String> {
        let output = self.output()?;
        let window = dwell.window;
        if window.length_s() <= 0.0 {
            let at = self.waveform().at(output, window.from_s, Side::Before);
            return at.ok_or_else(unreached);
        }
        let mean = self.mean(output, window.last(TAIL))?;
        self.refuse_drift(dwell.role.word(), window, window.last(TAIL), band_v)?;
        Ok(mean)
    }

    /// The level at the end of a record without dwells: the mean over its last tenth, with the
    /// drift counted over that tenth, since what came before need not have been steady.
    pub(super) fn level_of_record(&self) -> Result<f64, String> {
        let output = self.output()?;
        let tail = self.scene.loaded_tail()?;
        let mean = self.mean(output, tail)?;
        if tail.length_s() > 0.0 {
            self.refuse_drift("last", tail, tail, None)?;
        }
        Ok(mean)
    }

    fn refuse_drift(
        &self,
        name: &str,
        dwell: Window,
        tail: Window,
        band_v: Option<f64>,
    ) -> Result<(), String> {
        let Some(band_v) = band_v.or(self.drift_band_v) else { return Ok(()) };
        let slope = self.waveform().slope(self.output()?, tail).ok_or_else(unreached)?;
        let drift_v = slope * dwell.length_s();
        if drift_v.abs() <= DRIFT * band_v {
            return Ok(());
        }
        if let Some(words) = self.oscillation(dwell)? {
            return Err(format!("the {name} dwell does not settle: it {words}"));
        }
        Err(format!(
            "the {name} dwell has not settled: it still drifts by {} over its {}, more than a \
             tenth of the band of {}",
            quantity(drift_v, "V"),
            quantity(dwell.length_s(), "s"),
            quantity(band_v, "V"),
        ))
    }

    /// The level of a role's dwell: of the first one before, of the last repetition after.
    pub(super) fn level_of(&self, role: Role) -> Result<f64, String> {
        let mut dwells = self.scene.dwells.iter();
        let found = match role {
            Role::Before => dwells.find(|d| d.role == role),
            Role::Loaded | Role::Released | Role::Running | Role::Unpowered => {
                dwells.rfind(|d| d.role == role)
            }
        };
        let dwell = found.ok_or_else(|| format!("the test has no {} dwell", role.word()))?;
        self.level(dwell, None)
    }

    /// The level ahead of edges of one sense as the level rows have it: `before_level` when the
    /// first edge of the test is among them, else `loaded_level`.
    pub(super) fn level_ahead(&self, edges: &[&Edge]) -> Result<f64, String> {
        let first = self.scene.edges.first().map(|e| e.start_s);
        if edges.first().map(|e| e.start_s) == first {
            self.level_of(Role::Before)
        } else {
            self.level_of(Role::Loaded)
        }
    }

    /// The level of the dwell after an edge.
    pub(super) fn level_behind(&self, edge: &Edge, band_v: Option<f64>) -> Result<f64, String> {
        let dwell = self.scene.dwell_behind(edge);
        self.level(dwell.ok_or_else(|| "no dwell follows the edge".to_owned())?, band_v)
    }

    /// Edges by sense: those that raise the driven level, or those that lower it.
    pub(super) fn edges(&self, rising: bool) -> Result<Vec<&'a Edge>, String> {
        let found: Vec<&Edge> =
            self.scene.edges.iter().filter(|e| (e.change > 0.0) == rising).collect();
        if found.is_empty() {
            let sense = if rising { "loading" } else { "releasing" };
            return Err(format!("the test has no {sense} edge"));
        }
        Ok(found)
    }

    /// All edges.
    pub(super) fn all_edges(&self) -> Result<Vec<&'a Edge>, String> {
        let found: Vec<&Edge> = self.scene.edges.iter().collect();
        if found.is_empty() { Err("the test has no edge".to_owned()) } else { Ok(found) }
    }

    /// s/V: how far a crossing of a signal at an instant moves for each volt that it is displaced by; 0
    /// where it stands still.
    pub(super) fn seconds_per_volt(&self, signal: &Signal, time_s: f64, side: Side) -> f64 {
        let rate = self.waveform().rate(signal, time_s, side).map_or(0.0, f64::abs);
        if rate > 0.0 { 1.0 / rate } else { 0.0 }
    }

    /// A time counted from `from_s` to a crossing of `signal`.
    pub(super) fn to_crossing(&self, signal: &Signal, [from_s, at_s]: [f64; 2]) -> Number {
        Number {
            value: at_s - from_s,
            at_s: Some(at_s),
            instants: vec![at_s],
            seconds_per_volt: self.seconds_per_volt(signal, at_s, Side::Before),
            ..Number::default()
        }
    }

    /// Peak to peak of a signal over a window.
    pub(super) fn peak_to_peak(&self, signal: &Signal, window: Window) -> Option<f64> {
        let high = self.waveform().extreme(signal, window, Extreme::Highest)?.value;
        let low = self.waveform().extreme(signal, window, Extreme::Lowest)?.value;
        Some(high - low)
    }
}

pub(super) fn unreached() -> String {
    "the record does not reach there".to_owned()
}

/// Share of a dwell at its end in which a ripple counts as late.
pub(super) const LATE: f64 = 0.2;

/// Share of nominal, peak to peak, below which a late ripple is called quiet.
pub(super) const QUIET: f64 = 1e-3;

/// Share of the band that a level may drift by over its dwell.
const DRIFT: f64 = 0.1;
