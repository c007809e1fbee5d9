//! The rows of a sheet's lists, each as what it says.

use super::draft::{Draft, Entry, number};
use super::sheet::{
    At, Dropout, Impedance, LineRegulation, LoadRegulation, Noise, NoiseDensity, Recovery,
    Rejection, Transient,
};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::quantity::{Dimension, NoNames, parse};

/// How a dropout is defined where its row does not say.
pub(super) const USUAL_DEFINITION: &str = "2 % below";

/// One row, in which nothing required is missing but what has been told.
pub(super) struct Row<'a> {
    draft: &'a Draft,
    span: Span,
    told: &'a mut Diagnostics,
}

/// All rows of a list that could be read.
pub(super) fn rows_of<T>(
    draft: &Draft,
    key: &str,
    told: &mut Diagnostics,
    mut make: impl FnMut(&mut Row<'_>) -> Option<T>,
) -> Vec<T> {
    let Some(Entry::Rows(rows)) = draft.get(key).map(|given| &given.entry) else {
        return Vec::new();
    };
    let mut made = Vec::with_capacity(rows.len());
    for (span, draft) in rows {
        made.extend(make(&mut Row { draft, span: *span, told }));
    }
    made
}

impl Row<'_> {
    fn number(&self, key: &str) -> Option<f64> {
        number(self.draft, key)
    }

    fn at(&self) -> At {
        At {
            input_v: self.number("input"),
            capacitor_f: self.number("capacitor"),
            esr_ohm: self.number("esr"),
            esl_h: self.number("esl"),
        }
    }

    /// `from` and `to`, which must rise.
    fn rising(&mut self) -> Option<[f64; 2]> {
        let ends = [self.number("from")?, self.number("to")?];
        if ends[0] < ends[1] {
            return Some(ends);
        }
        let span = self.draft.get("from").map_or(self.span, |given| given.span);
        let mistake = Diagnostic::error(span, "`from` must be below `to`");
        self.told.push(mistake.hint("swap the two: a row holds for both ways"));
        None
    }

    pub(super) fn dropout(&mut self) -> Option<Dropout> {
        let definition = match self.draft.get("definition").map(|given| (&given.entry, given.span))
        {
            Some((Entry::Text(text), span)) if !is_definition(text) => {
                let message = format!("`{text}` is no definition of dropout");
                let hint = "write `100 mV below`, `2 % below` or `fully on`";
                self.told.push(Diagnostic::error(span, message).hint(hint));
                return None;
            }
            Some((Entry::Text(text), _)) => text.trim().to_owned(),
            _ => USUAL_DEFINITION.to_owned(),
        };
        Some(Dropout {
            current_a: self.number("current")?,
            dropout_v: self.number("dropout")?,
            definition,
            within: self.number("within"),
            span: self.span,
        })
    }

    pub(super) fn load_regulation(&mut self) -> Option<LoadRegulation> {
        let [from_a, to_a] = self.rising()?;
        let (change_v, at) = (self.number("change")?, self.at());
        let (within, span) = (self.number("within"), self.span);
        Some(LoadRegulation { from_a, to_a, change_v, at, within, span })
    }

    pub(super) fn line_regulation(&mut self) -> Option<LineRegulation> {
        let [from_v, to_v] = self.rising()?;
        let (load_a, change_v) = (self.number("load")?, self.number("change")?);
        let (within, span) = (self.number("within"), self.span);
        Some(LineRegulation { from_v, to_v, load_a, change_v, within, span })
    }

    pub(super) fn transient(&mut self) -> Option<Transient> {
        let [from_a, to_a] = self.rising()?;
        let recovery = match (self.number("recovery"), self.number("band")) {
            (Some(time_s), Some(band)) => Some(Recovery { time_s, band }),
            (Some(_), None) if !self.draft.contains_key("band") => {
                let message = "`recovery` needs `band` beside it";
                let hint = "add `band = \"1 %\"`: within what of the settled level";
                self.told.push(Diagnostic::error(self.span, message).hint(hint));
                return None;
            }
            _ => None,
        };
        let [droop_v, overshoot_v] = ["droop", "overshoot"].map(|key| self.number(key));
        if droop_v.is_none() && overshoot_v.is_none() && recovery.is_none() {
            let told =
                ["droop", "overshoot", "recovery"].iter().any(|k| self.draft.contains_key(k));
            if !told {
                let message = "this load step says nothing of the output";
                let hint = "add `droop`, `overshoot`, or `recovery` with `band`";
                self.told.push(Diagnostic::error(self.span, message).hint(hint));
            }
            return None;
        }
        let (edge_s, at) = (self.number("edge")?, self.at());
        let (within, span) = (self.number("within"), self.span);
        Some(Transient { from_a, to_a, edge_s, droop_v, overshoot_v, recovery, at, within, span })
    }

    pub(super) fn rejection(&mut self) -> Option<Rejection> {
        Some(Rejection {
            frequency_hz: self.number("frequency")?,
            load_a: self.number("load")?,
            rejection_db: self.number("rejection")?,
            at: self.at(),
            within_db: self.number("within"),
            span: self.span,
        })
    }

    pub(super) fn impedance(&mut self) -> Option<Impedance> {
        Some(Impedance {
            frequency_hz: self.number("frequency")?,
            load_a: self.number("load")?,
            impedance_ohm: self.number("impedance")?,
            at: self.at(),
            within: self.number("within"),
            span: self.span,
        })
    }

    pub(super) fn noise_density(&mut self) -> Option<NoiseDensity> {
        Some(NoiseDensity {
            frequency_hz: self.number("frequency")?,
            load_a: self.number("load")?,
            density: self.number("density")?,
            at: self.at(),
            within: self.number("within"),
            span: self.span,
        })
    }

    pub(super) fn noise(&mut self) -> Option<Noise> {
        let [from_hz, to_hz] = self.rising()?;
        Some(Noise {
            from_hz,
            to_hz,
            load_a: self.number("load")?,
            noise_v: self.number("noise")?,
            at: self.at(),
            within: self.number("within"),
            span: self.span,
        })
    }
}

/// V below the regulated output at which a dropout of this definition counts; `None` where the pass
/// device is fully on, or the text is no definition.
pub(super) fn below_v(definition: &str, output_v: f64) -> Option<f64> {
    let amount = definition.strip_suffix("below")?.trim();
    let span = Span { file: crate::diagnostic::FileId(0), start: 0, end: amount.len() };
    let tree = parse(amount, span).ok()?;
    let number = |unit| {
        let program = tree.compile_as(&NoNames, unit).ok()?;
        Some(program.evaluate::<f64>(&[])).filter(|x: &f64| *x > 0.0 && x.is_finite())
    };
    let share = || number(Dimension::NONE).filter(|x| *x < 1.0);
    number(Dimension::VOLT).or_else(|| Some(share()? * output_v))
}

fn is_definition(text: &str) -> bool {
    text.trim() == "fully on" || below_v(text.trim(), 1.0).is_some()
}
