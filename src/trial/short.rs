//! A short across the output for a time: reads its keys, and makes the contact that does it.

use super::excitation::{Excitation, Figures};
use super::reading::Read;
use super::{Motion, ShortMotion};
use crate::circuit::Variant;
use crate::device::{Drive, Net, lay_short};
use crate::diagnostic::{Diagnostic, Span};
use crate::document::Reader;
use crate::measure::{Dwell, Edge, Role};
use crate::quantity::{Dimension, Program, trimmed};
use crate::waveform::Window;

/// The contact; no file can name a part like it.
pub(super) const CONTACT: &str = "short circuit";
const SHORT_OHM: f64 = 10e-3;
const EDGE_S: f64 = 1e-6;
/// Share of the short that is watched ahead of it when the test does not say.
const BEFORE_SHARE: f64 = 0.1;
const DIGITS: usize = 4;

pub(super) fn read_short(
    read: &mut Read<'_, '_>,
    reader: &mut Reader<'_, '_>,
    place: Span,
) -> Option<Motion> {
    let short = reader.required("short", "\"30 s\"");
    let ohm = reader.expression("short_resistance");
    let times = ["edge", "recover", "before"].map(|key| reader.expression(key));
    if read.circuit.rail.as_ref().is_none_or(|rail| rail.output.is_none()) {
        let message = "a short-circuit test needs to know the output";
        let hint = "add `output = \"NODE\"` to `[rail]`";
        read.told.push(Diagnostic::error(place, message).hint(hint));
        return None;
    }
    let short_s = short.and_then(|n| read.compile(n, Dimension::SECOND));
    let ohm = ohm.map(|n| read.compile(n, Dimension::OHM));
    let [edge_s, recover_s, before_s] =
        times.map(|node| node.map(|n| read.compile(n, Dimension::SECOND)));
    // Of what is given but wrong nothing is to be made.
    let whole = |given: Option<Option<Program>>| match given {
        Some(None) => None,
        Some(Some(program)) => Some(Some(program)),
        None => Some(None),
    };
    Some(Motion::Short(Box::new(ShortMotion {
        short_s: short_s?,
        ohm: whole(ohm)?,
        edge_s: whole(edge_s)?,
        recover_s: whole(recover_s)?,
        before_s: whole(before_s)?,
    })))
}

/// The timeline, and the conductance of the contact over it.
pub(super) fn short_and_let_go(
    excitation: &mut Excitation,
    motion: &ShortMotion,
    figures: &mut Figures<'_>,
) {
    let mut time = |program: Option<&Program>, key: &'static str, otherwise: f64| match program {
        Some(program) => figures.duration(program, key),
        None => otherwise,
    };
    let short = time(Some(&motion.short_s), "short", 0.0);
    let edge = time(motion.edge_s.as_ref(), "edge", EDGE_S);
    let recover = time(motion.recover_s.as_ref(), "recover", short);
    let before = time(motion.before_s.as_ref(), "before", BEFORE_SHARE * short);
    if short <= 0.0 {
        let message = "`short` must be above zero".to_owned();
        figures.complain("short", message, "write how long it lasts, such as `short = \"30 s\"`");
    }
    let ohm = motion.ohm.as_ref().map_or(SHORT_OHM, |p| figures.variant.evaluate(p));
    if !(ohm > 0.0 && ohm.is_finite()) {
        let message = "`short_resistance` must be above zero".to_owned();
        let hint = "write `short_resistance = \"10 mΩ\"`, or leave it out";
        figures.complain("short_resistance", message, hint);
    }
    let full = 1.0 / ohm;
    let stations = [before, edge, short, edge, recover];
    let mut at = [0.0; 6];
    for (k, length) in stations.iter().enumerate() {
        at[k + 1] = at[k] + length;
    }
    let [_, touch, made, goes, gone, end] = at;
    excitation.edges = vec![
        Edge { start_s: touch, end_s: made, change: full },
        Edge { start_s: goes, end_s: gone, change: -full },
    ];
    let dwell = |from_s, to_s, role| Dwell { window: Window { from_s, to_s }, role };
    excitation.dwells = vec![
        dwell(0.0, touch, Role::Before),
        dwell(made, goes, Role::Loaded),
        dwell(gone, end, Role::Released),
    ];
    excitation.end_s = end;
    excitation.edge_s = Some(edge);
    let points = vec![(0.0, 0.0), (touch, 0.0), (made, full), (goes, full), (gone, 0.0)];
    excitation.contact = Some(Drive::points(points));
    let words = [(ohm, "Ω"), (edge, "s"), (short, "s")];
    let [ohm, edge, short] = words.map(|(value, unit)| trimmed(value, unit, DIGITS));
    let load = excitation.load_words.take().map_or_else(String::new, |load| format!("{load}, "));
    excitation.load_words =
        Some(format!("{load}output shorted by {ohm} in {edge} and let go after {short}"));
}

/// Lays the contact across the output.
pub(super) fn lay(net: &mut Net, variant: &Variant, siemens: &Drive) {
    let Some(rail) = &variant.rail else { return };
    let Some(output) = &rail.output else { return };
    lay_short(net, CONTACT, [output, &rail.ground], siemens.clone());
}
