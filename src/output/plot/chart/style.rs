//! Colours and dashes: equal labels look alike in the whole chart, different ones do not.

use plotters::style::RGBColor;

use super::{Chart, Emphasis, Style, Trace};
use crate::output::plot::canvas::{BLUE, GREEN, GREY, INK, PURPLE, VERMILLION};

/// Okabe and Ito 2008, "Color Universal Design", all but the yellow, which is too light for lines
/// on white; the darkest first.
const COLOURS: [RGBColor; 7] =
    [BLUE, VERMILLION, GREEN, PURPLE, RGBColor(0xE6, 0x9F, 0x00), RGBColor(0x56, 0xB4, 0xE9), INK];

/// Lengths drawn and left out in turn, px. Rows: the first, second and third time that the colours
/// are gone through; later times look like the third.
const PATTERNS: [[&[f64]; 3]; 3] = [
    [&[], &[6.0, 4.5], &[0.5, 4.0]],
    [&[13.0, 4.0, 0.5, 4.0], &[2.5, 4.0], &[0.5, 7.5]],
    [&[13.0, 4.0, 0.5, 4.0, 0.5, 4.0], &[9.0, 4.0, 3.0, 4.0], &[0.5, 4.0, 0.5, 8.0]],
];

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Look {
    pub(super) colour: RGBColor,
    /// px.
    pub(super) width: f64,
    /// Lengths drawn and left out, px; none: unbroken.
    pub(super) pattern: &'static [f64],
}

/// The labels of a chart in the order in which they take their colours.
pub(super) struct Palette<'a> {
    labels: Vec<&'a str>,
}

impl<'a> Palette<'a> {
    pub(super) fn new(chart: &'a Chart) -> Self {
        let mut labels: Vec<&str> = Vec::new();
        for trace in chart.panels.iter().flat_map(|panel| &panel.curves) {
            if trace.emphasis != Emphasis::Reference && !labels.contains(&trace.label.as_str()) {
                labels.push(&trace.label);
            }
        }
        Self { labels }
    }

    pub(super) fn look(&self, trace: &Trace) -> Look {
        if trace.emphasis == Emphasis::Reference {
            return Look { colour: GREY, width: 1.2, pattern: pattern(trace.style, 0) };
        }
        let index = self.index(&trace.label).unwrap_or(0);
        let width = if trace.emphasis == Emphasis::Strong { 2.8 } else { 1.7 };
        Look { colour: colour(index), width, pattern: pattern(trace.style, index / COLOURS.len()) }
    }

    /// The colour of a label, black for one that no curve has.
    pub(super) fn colour(&self, label: &str) -> RGBColor {
        self.index(label).map_or(INK, colour)
    }

    fn index(&self, label: &str) -> Option<usize> {
        self.labels.iter().position(|known| *known == label)
    }
}

/// A style by itself, as the legend explains it.
pub(super) fn plain(style: Style) -> Look {
    Look { colour: INK, width: 1.7, pattern: pattern(style, 0) }
}

fn colour(index: usize) -> RGBColor {
    COLOURS.get(index % COLOURS.len()).copied().unwrap_or(INK)
}

fn pattern(style: Style, round: usize) -> &'static [f64] {
    let [solid, dashed, dotted] = match round {
        0 => PATTERNS[0],
        1 => PATTERNS[1],
        _ => PATTERNS[2],
    };
    match style {
        Style::Solid => solid,
        Style::Dashed => dashed,
        Style::Dotted => dotted,
    }
}

#[cfg(test)]
mod tests {
    use super::{Palette, Style};
    use crate::output::plot::canvas::INK;
    use crate::output::plot::chart::{Chart, Emphasis, Panel, Trace};

    fn trace(label: &str, style: Style, emphasis: Emphasis) -> Trace {
        Trace { label: label.to_owned(), style, emphasis, points: Vec::new() }
    }

    #[test]
    fn equal_labels_have_one_colour_in_all_panels() {
        let one = trace("1 mA", Style::Solid, Emphasis::Usual);
        let up = trace("1 mA", Style::Dashed, Emphasis::Usual);
        let two = trace("2 mA", Style::Solid, Emphasis::Strong);
        let grey = trace("unity", Style::Solid, Emphasis::Reference);
        let panel = |curves: [&Trace; 3]| Panel {
            curves: curves.map(Clone::clone).to_vec(),
            ..Panel::default()
        };
        let chart = Chart {
            panels: vec![panel([&grey, &one, &up]), panel([&two, &up, &one])],
            ..Chart::default()
        };
        let palette = Palette::new(&chart);
        assert_eq!(palette.look(&one).colour, palette.look(&up).colour);
        assert_ne!(palette.look(&one).colour, palette.look(&two).colour);
        assert!(palette.look(&one).pattern.is_empty() && !palette.look(&up).pattern.is_empty());
        assert!(palette.look(&two).width > palette.look(&one).width);
        assert!(palette.look(&one).width > palette.look(&grey).width);
        assert_eq!(palette.colour("1 mA"), palette.look(&one).colour);
        assert_eq!((palette.colour("unity"), palette.colour("")), (INK, INK));
    }

    #[test]
    fn twenty_one_curves_of_each_style_look_different() {
        let styles = [Style::Solid, Style::Dashed, Style::Dotted];
        let curves: Vec<Trace> = (0..21)
            .flat_map(|i| styles.map(|s| trace(&i.to_string(), s, Emphasis::Usual)))
            .collect();
        let chart = Chart {
            panels: vec![Panel { curves: curves.clone(), ..Panel::default() }],
            ..Chart::default()
        };
        let palette = Palette::new(&chart);
        let looks: Vec<_> = curves.iter().map(|curve| palette.look(curve)).collect();
        for (i, look) in looks.iter().enumerate() {
            assert!(!looks[..i].contains(look), "{i}");
        }
    }
}
