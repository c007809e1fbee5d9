//! What a test that switches a rail does to the circuit.

use super::RampMotion;
use crate::circuit::Variant;
use crate::device::Drive;
use crate::measure::{Dwell, Edge, Role};
use crate::quantity::Dimension;
use crate::trial::excitation::{BEFORE_SHARE, Excitation, Figures, replace, words};
use crate::trial::{Driven, Test};
use crate::waveform::Window;

/// Works out the drive and the timeline of one way up or down.
pub(in crate::trial) fn ramp(
    excitation: &mut Excitation,
    test: &Test,
    motion: &RampMotion,
    figures: &mut Figures<'_>,
) {
    let ramp = figures.duration(&motion.ramp_s, "ramp");
    let hold = figures.duration(&motion.hold_s, "hold");
    let before = match &motion.before_s {
        Some(program) => figures.duration(program, "before"),
        None => BEFORE_SHARE * hold,
    };
    let Some(driven) = motion.by.as_ref().or(test.source.as_ref()) else { return };
    let given = test.source_level.as_ref().filter(|_| motion.by.is_none());
    let own = match given {
        Some(level) => figures.variant.evaluate(level),
        None => own_level(figures.variant, driven),
    };
    let (rest_from, rest_to) = if motion.up { (0.0, own) } else { (own, 0.0) };
    let mut level = |program: &Option<_>, key: &'static str, otherwise: f64| match program {
        Some(program) => figures.level(program, driven, key),
        None => otherwise,
    };
    let from = level(&motion.from, "from", rest_from);
    let to = level(&motion.to, "to", rest_to);
    if from == to && figures.wrong.is_empty() {
        let shown = words(to, Dimension::VOLT);
        let key = if motion.from.is_some() { "from" } else { "to" };
        let message = format!("`{}` stays at {shown}: nothing is switched", driven.part);
        figures.complain(key, message, "write `from` and `to` that differ");
    }
    if hold <= 0.0 && figures.wrong.is_empty() {
        let hint = "write how long to watch, such as `hold = \"20 ms\"`";
        figures.complain("hold", "`hold` must be above zero".to_owned(), hint);
    }
    if !figures.wrong.is_empty() {
        return;
    }
    let (start_s, end_s) = (before, before + ramp);
    excitation.end_s = end_s + hold;
    excitation.edge_s = Some(ramp);
    excitation.edges.push(Edge { start_s, end_s, change: to - from });
    let roles = [Role::Unpowered, Role::Running];
    let [ahead, behind] = if motion.up { roles } else { [roles[1], roles[0]] };
    for (from_s, to_s, role) in [(0.0, start_s, ahead), (end_s, excitation.end_s, behind)] {
        excitation.dwells.push(Dwell { window: Window { from_s, to_s }, role });
    }
    let volt = |level| words(level, Dimension::VOLT);
    let told = format!("{} to {} in {}", volt(from), volt(to), words(ramp, Dimension::SECOND));
    match &motion.by {
        Some(by) => excitation.by_words = Some((by.part.clone(), told)),
        None => excitation.source_words = Some(told),
    }
    replace(excitation, driven, Drive::points(vec![(start_s, from), (end_s, to)]));
}

/// V: where a voltage source stands when nothing moves it.
pub(in crate::trial) fn own_level(variant: &Variant, driven: &Driven) -> f64 {
    let own = variant.part(&driven.part).map(|p| &p.parameters);
    let drive = own.and_then(|p| p.drive.clone());
    let constant = || own.and_then(|p| p.optional("voltage")).unwrap_or(0.0);
    drive.map_or_else(constant, |drive| drive.initial())
}
