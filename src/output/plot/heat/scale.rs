//! Values to colours.

use plotters::style::RGBColor;

use super::{Colours, Patch};
use crate::output::plot::chart::Scale;

/// Viridis of Smith and van der Walt (2015, for matplotlib, CC0) at every tenth: evenly perceived,
/// also in grey and with every kind of colour vision. From memory, 26 Nov 2026.
const VIRIDIS: [(u8, u8, u8); 11] = [
    (0x44, 0x01, 0x54),
    (0x48, 0x24, 0x75),
    (0x41, 0x44, 0x87),
    (0x35, 0x5F, 0x8D),
    (0x2A, 0x78, 0x8E),
    (0x21, 0x91, 0x8C),
    (0x22, 0xA8, 0x84),
    (0x44, 0xBF, 0x70),
    (0x7A, 0xD1, 0x51),
    (0xBD, 0xDF, 0x26),
    (0xFD, 0xE7, 0x25),
];

/// Steps of colour: too many to count, few enough for a small file.
pub(super) const STEPS: usize = 28;

/// Where values lie among the colours.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shade {
    scale: Scale,
    pub(super) range: (f64, f64),
    larger_is_better: bool,
}

impl Shade {
    pub(super) fn new(colours: &Colours, patches: &[Patch]) -> Self {
        let values = patches.iter().flat_map(|p| p.values).flatten().filter(|v| v.is_finite());
        let mut range = colours.axis.range;
        if range.is_none() {
            for value in values {
                let (low, high) = range.unwrap_or((value, value));
                range = Some((low.min(value), high.max(value)));
            }
        }
        let (low, high) = range.unwrap_or((0.0, 1.0));
        let scale = if low > 0.0 { colours.axis.scale } else { Scale::Linear };
        // One value alone still makes a bar.
        let least = 1e-6 * low.abs().max(high.abs()).max(f64::MIN_POSITIVE);
        let flat = high - low <= least;
        let widened = if scale == Scale::Logarithmic {
            (low / 1.1, high * 1.1)
        } else {
            let reach =
                if low == 0.0 && high == 0.0 { 1.0 } else { 0.1 * low.abs().max(high.abs()) };
            (low - reach, high + reach)
        };
        let range = if flat { widened } else { (low, high) };
        Self { scale, range, larger_is_better: colours.larger_is_better }
    }

    pub(super) fn scale(&self) -> Scale {
        self.scale
    }

    /// From 0 at the lower end of the range to 1.
    pub(super) fn share(&self, value: f64) -> f64 {
        let (low, high) = self.range;
        let share = match self.scale {
            Scale::Linear => (value - low) / (high - low),
            Scale::Logarithmic => (value / low).ln() / (high / low).ln(),
        };
        share.clamp(0.0, 1.0)
    }

    /// The colour of one of [`STEPS`].
    pub(super) fn colour(&self, step: usize) -> RGBColor {
        let share = (step as f64 + 0.5) / STEPS as f64;
        viridis(if self.larger_is_better { share } else { 1.0 - share })
    }
}

fn viridis(share: f64) -> RGBColor {
    let at = share.clamp(0.0, 1.0) * 10.0;
    let k = (at as usize).min(9);
    let (a, b) = (VIRIDIS[k], VIRIDIS[k + 1]);
    let t = at - k as f64;
    let mix = |a: u8, b: u8| (f64::from(a) + t * (f64::from(b) - f64::from(a))).round() as u8;
    RGBColor(mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2))
}

#[cfg(test)]
mod tests {
    use super::viridis;

    #[test]
    fn the_scale_gets_lighter_all_the_way() {
        // Relative luminance of sRGB (IEC 61966-2-1).
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        let light = |step: u32| {
            let c = viridis(f64::from(step) / 100.0);
            0.2126 * linear(c.0) + 0.7152 * linear(c.1) + 0.0722 * linear(c.2)
        };
        assert!((0..100).all(|step| light(step + 1) > light(step)));
    }
}
