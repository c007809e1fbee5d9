//! Whether a stretch of the record oscillates by itself, and whether a second solution at a tenth of the
//! tolerance, with its shorter steps, says the same: only then it is the circuit's own motion.
//!
//! Of two solutions the tighter one decides whether there is an oscillation, as long as both show the same
//! motion: amplitude and frequency with no more between them than lets each be told from nothing.

use super::bench::{Bench, LATE, QUIET, Tighter};
use super::scene::TestKind;
use super::words::quantity;
use crate::quantity::trimmed;
use crate::waveform::{Relation, Side, Window};

/// How the words for an oscillating rail begin.
pub(super) const OSCILLATES: &str = "oscillates";

/// A ripple that keeps this share of its size from the first to the second half of the late
/// window would outlast the dwell five times over: it is called an oscillation, not a tail.
const SUSTAINED: f64 = 0.98;

/// Fewer periods than this are not told from a drift.
const FEWEST_PERIODS: usize = 2;

/// What shrinks by more than this from one tenth of a stretch to the next may end in a longer one: a hundred
/// stretches for a ringing to fall to 1/e. Less is told of nothing.
const LEAST_FALL: f64 = 1e-3;

/// How the output moves late in a stretch, whatever that is to be called.
#[derive(Clone, Copy, Debug, Default)]
struct Swing {
    peak_to_peak_v: f64,
    /// `None` where no two periods were seen.
    frequency_hz: Option<f64>,
    /// Hz/V: how far the frequency moves by for each volt that its crossings are displaced by.
    hertz_per_volt: f64,
    /// The share by which it has shrunk in the second half of its window.
    fall: f64,
    /// Whether it is larger than what counts as quiet, and not dying away within the stretch.
    stays: bool,
}

impl Swing {
    fn oscillates(&self) -> bool {
        self.stays && self.frequency_hz.is_some()
    }

    /// Twice the differences of amplitude and frequency, where both are smaller than what they are
    /// differences of.
    fn agreement(&self, other: &Self) -> Option<[f64; 2]> {
        let within = |a: f64, b: f64| {
            let uncertainty = 2.0 * (a - b).abs();
            (uncertainty < a.max(b)).then_some(uncertainty)
        };
        let volt = within(self.peak_to_peak_v, other.peak_to_peak_v)?;
        Some([volt, within(self.frequency_hz?, other.frequency_hz?)?])
    }

    /// In words, that it still shrinks, if both say so: a ringing that dies away very slowly looks like that,
    /// and so does what comes down to a limit cycle.
    fn ending(&self, other: &Self) -> String {
        let unsure = 2.0 * (self.fall - other.fall).abs();
        if self.fall <= LEAST_FALL.max(unsure) {
            return String::new();
        }
        format!(
            "; in the last tenth it is {} smaller than in the one before: a longer dwell tells \
             whether it ends",
            trimmed(100.0 * self.fall, "%", 2)
        )
    }

    fn text(&self, uncertainty: Option<[f64; 2]>) -> String {
        let with = |value: f64, unit: &str, place: usize| {
            let of = uncertainty.map(|both| format!(" ± {}", trimmed(both[place], unit, 2)));
            quantity(value, unit) + &of.unwrap_or_default()
        };
        let size = with(self.peak_to_peak_v, "V", 0) + " peak to peak";
        let at = self.frequency_hz.map(|hertz| format!(" at {}", with(hertz, "Hz", 1)));
        size + &at.unwrap_or_default()
    }
}

impl Bench<'_> {
    /// In words, whether a stretch ends in an oscillation of the rail's own: larger than 0.1 % of
    /// nominal peak to peak, several periods long, and not dying away within it.
    ///
    /// # Errors
    /// In words, that two solutions do not say the same of it.
    pub(super) fn oscillation(&self, stretch: Window) -> Result<Option<String>, String> {
        let Some(first) = self.swing(stretch) else { return Ok(None) };
        let Some(Tighter { bench, node_tolerance_v }) = self.tighter else {
            let first = if first.stays { self.timed(first, stretch) } else { first };
            let words = || format!("{OSCILLATES}: {}", first.text(None));
            return Ok(first.oscillates().then(words));
        };
        let second = bench.swing(stretch).unwrap_or_default();
        if !first.stays && !second.stays {
            return Ok(None);
        }
        let (first, second) = (self.timed(first, stretch), bench.timed(second, stretch));
        if !first.oscillates() && !second.oscillates() {
            return Ok(None);
        }
        match first.agreement(&second) {
            Some(_) if !second.oscillates() => Ok(None),
            Some([volt, hertz]) => {
                // Two extremes, and two crossings.
                let floor = [node_tolerance_v, first.hertz_per_volt * node_tolerance_v];
                let text = first.text(Some([volt.max(floor[0]), hertz.max(floor[1])]));
                Ok(Some(format!(
                    "{OSCILLATES}: {text}; the same when solved ten times tighter, so it is the \
                     circuit's own{}",
                    first.ending(&second)
                )))
            }
            None => Err(format!(
                "seems to oscillate, but that is not confirmed: {}, and {} when solved ten times \
                 tighter: a smaller `accuracy` tells",
                first.text(None),
                second.text(None)
            )),
        }
    }

    /// How a stretch ends; `None` where that is not the rail's own, or cannot be told.
    fn swing(&self, stretch: Window) -> Option<Swing> {
        if !self.scene.inputs_hold {
            return None;
        }
        let quiet_v = QUIET * self.nominal().ok()?.abs();
        let output = self.output().ok()?;
        let window = stretch.last(LATE);
        let middle_s = 0.5 * (window.from_s + window.to_s);
        let earlier = self.peak_to_peak(output, Window::new(window.from_s, middle_s))?;
        let later = self.peak_to_peak(output, Window::new(middle_s, window.to_s))?;
        let stays = later > quiet_v && later >= SUSTAINED * earlier;
        let fall = if earlier > 0.0 { 1.0 - later / earlier } else { 0.0 };
        Some(Swing { peak_to_peak_v: later, fall, stays, ..Swing::default() })
    }

    /// With its frequency, from the first to the last rise through the mean.
    fn timed(&self, swing: Swing, stretch: Window) -> Swing {
        let (Ok(output), window) = (self.output(), stretch.last(LATE)) else { return swing };
        let Some(mean) = self.waveform().mean(output, window) else { return swing };
        let above = self.waveform().stretches(output, window, Relation::Above, mean);
        let rises: Vec<f64> =
            above.iter().map(|w| w.from_s).filter(|t| *t > window.from_s).collect();
        let (Some(&first), Some(&last)) = (rises.first(), rises.last()) else { return swing };
        if rises.len() < FEWEST_PERIODS + 1 {
            return swing;
        }
        let frequency_hz = (rises.len() - 1) as f64 / (last - first);
        let displaced_s = |t: f64| self.seconds_per_volt(output, t, Side::Before);
        let hertz_per_volt =
            frequency_hz * (displaced_s(first) + displaced_s(last)) / (last - first);
        Swing { frequency_hz: Some(frequency_hz), hertz_per_volt, ..swing }
    }

    /// In words, whether any dwell (or the end of a profile) oscillates.
    ///
    /// # Errors
    /// In words, that two solutions do not say the same of one, and none is known to.
    pub(super) fn any_oscillation(&self) -> Result<Option<String>, String> {
        self.oscillates.get_or_init(|| self.look_for_oscillation()).clone()
    }

    fn look_for_oscillation(&self) -> Result<Option<String>, String> {
        let dwells = || self.scene.dwells.iter().map(|d| d.window);
        match self.scene.kind {
            TestKind::Profile => match self.scene.record() {
                Ok(record) => self.oscillation(record),
                Err(_) => Ok(None),
            },
            TestKind::LoadStep | TestKind::LineStep => self.first_oscillation(dwells()),
            TestKind::StartUp | TestKind::PowerDown => {
                self.first_oscillation(self.scene.running().map(|d| d.window))
            }
            _ => Ok(None),
        }
    }

    fn first_oscillation(
        &self,
        windows: impl Iterator<Item = Window>,
    ) -> Result<Option<String>, String> {
        let mut unsure = None;
        for window in windows {
            match self.oscillation(window) {
                Ok(None) => {}
                Ok(found) => return Ok(found),
                Err(words) => unsure = unsure.or(Some(words)),
            }
        }
        unsure.map_or(Ok(None), Err)
    }
}
