//! What operating points show: capacitors the wrong way round or above their rating, and loads that
//! leave too little at the output.

use super::figures::test_level;
use super::{Plan, Rest};
use crate::circuit::Variant;
use crate::device::{Drive, dielectric_of};
use crate::diagnostic::Diagnostic;
use crate::quantity::{Dimension, engineering};
use crate::trial::{Driven, Test, WindowChoice, excite};

/// A reverse voltage below this share of the rating is borne by polarised capacitors too
/// (common practice, no source: aluminium electrolytics bear some 1 V of 25 V).
const REVERSE_SHARE: f64 = 0.02;
/// Where no window is given, this share below nominal is called too low.
const SHARE_BELOW: f64 = 0.1;

fn volts(volt: f64) -> String {
    engineering(volt, "V", 3)
}

/// Capacitors with a rating, at nominal values.
pub(super) fn capacitors(plan: &Plan, rest: &Rest) -> Vec<Diagnostic> {
    let doubt = |part: &crate::circuit::VariantPart| {
        let rated_v = part.parameters.optional("rated_voltage")?;
        let [plus, minus] = part.nodes.as_slice() else { return None };
        let across_v = rest.volt(plus)? - rest.volt(minus)?;
        let span = plan.circuit.key_span(&part.name, "rated_voltage")?;
        let name = &part.name;
        if across_v.abs() > rated_v {
            let message = format!(
                "`{name}` bears {} at rest, rated {}",
                volts(across_v.abs()),
                volts(rated_v)
            );
            let doubt = Diagnostic::warning(span, message).label("below what it bears");
            return Some(doubt.hint("take one with a higher rating, or look at its nodes"));
        }
        let bears_reverse = dielectric_of(&part.parameters).is_some_and(|d| !d.is_polarised());
        if across_v < -REVERSE_SHARE * rated_v && !bears_reverse {
            let message = format!("`{name}` is reversed: {} across it at rest", volts(across_v));
            let doubt = Diagnostic::warning(span, message).label("`nodes` names its + first");
            return Some(doubt.hint(format!("write `nodes = [\"{minus}\", \"{plus}\"]`")));
        }
        None
    };
    let of_kind = plan.nominal.parts.iter().filter(|p| p.kind.name == "capacitor");
    of_kind.filter_map(doubt).collect()
}

/// Each test at rest with its heaviest load and its highest source: a source that is lowered on
/// purpose is what the test is for.
pub(super) fn heaviest_loads(plan: &Plan) -> Vec<Diagnostic> {
    plan.tests.iter().flat_map(|test| heaviest_load(plan, test)).collect()
}

fn heaviest_load(plan: &Plan, test: &Test) -> Vec<Diagnostic> {
    let mut changes = plan.changes.clone();
    changes.list.extend(test.changes.list.iter().cloned());
    let Ok(variant) = plan.circuit.variant(&changes) else { return Vec::new() };
    let Ok(excitation) = excite(test, &variant) else { return Vec::new() };
    let extreme = |driven: &Driven, lowest: bool| {
        let own = || variant.part(&driven.part)?.parameters.drive.as_ref();
        let given = excitation.drives.iter().find(|(part, _)| *part == driven.part);
        levels(given.map(|(_, drive)| drive).or_else(own)?, lowest)
    };
    let Some(load) = &test.load else { return Vec::new() };
    // The heaviest load is the lowest resistance.
    let Some(level) = extreme(load, load.dimension == Dimension::OHM) else { return Vec::new() };
    if let Some(doubt) = test_level(plan, test, level, load.dimension) {
        return vec![doubt];
    }
    let mut drives = vec![(load.part.clone(), Drive::constant(level))];
    if let Some(source) = &test.source
        && let Some(volt) = extreme(source, false)
    {
        drives.push((source.part.clone(), Drive::constant(volt)));
    }
    too_low(test, &variant, &drives, &engineering(level, &load.dimension.symbol(), 3))
        .into_iter()
        .collect()
}

/// The highest or lowest level of a drive; `None` where it is not finite.
fn levels(drive: &Drive, lowest: bool) -> Option<f64> {
    let (low, high) = drive.range();
    let level = Some(if lowest { low } else { high });
    level.filter(|l| l.is_finite())
}

/// The same with a load of no current or power, which comes first in the list; `None` for a
/// resistance, which lets go of a rail by itself.
fn unloaded(test: &Test, drives: &[(String, Drive)]) -> Option<Vec<(String, Drive)>> {
    test.load.as_ref().filter(|load| load.dimension != Dimension::OHM)?;
    let ((load, _), further) = drives.split_first()?;
    let mut unloaded = vec![(load.clone(), Drive::constant(0.0))];
    unloaded.extend_from_slice(further);
    Some(unloaded)
}

fn too_low(
    test: &Test,
    variant: &Variant,
    drives: &[(String, Drive)],
    level: &str,
) -> Option<Diagnostic> {
    let rail = variant.rail.as_ref()?;
    let nominal_v = rail.nominal_v.filter(|v| *v > 0.0)?;
    let lowest_v = match &test.window {
        WindowChoice::Off => return None,
        WindowChoice::Own(window) => variant.window(window).ok()?[0],
        WindowChoice::Rail => {
            rail.window.map_or(nominal_v * (1.0 - SHARE_BELOW), |window| window[0])
        }
    };
    let above_ground = |rest: &Rest, node: &str| Some(rest.volt(node)? - rest.volt(&rail.ground)?);
    let output = rail.output.as_deref()?;
    let rest = Rest::find(variant, drives)?;
    let output_v = above_ground(&rest, output)?;
    if output_v >= lowest_v {
        return None;
    }
    // A rail that folds back has several rests with a heavy load; one that comes last has the upper.
    let loaded_last = unloaded(test, drives).and_then(|drives| Rest::find(variant, &drives));
    let loaded_last = loaded_last.and_then(|rest| rest.beside(variant, drives));
    let upper_v = loaded_last.as_ref().and_then(|rest| above_ground(rest, output));
    if upper_v.is_some_and(|volt| volt >= lowest_v) {
        return None;
    }
    let message = format!(
        "at its heaviest load, {level}, test `{}` rests at {}, below {}",
        test.name,
        volts(output_v),
        volts(lowest_v)
    );
    let input_v = rail.input.as_deref().and_then(|node| above_ground(&rest, node));
    let hint = match input_v.filter(|v| *v < nominal_v) {
        Some(input_v) => format!(
            "the source leaves {} at the input: raise it, or lower the resistance ahead of it",
            volts(input_v)
        ),
        None => "look at the load, the pass device and what drives it".to_owned(),
    };
    let doubt = Diagnostic::warning(test.span, message).label("too low at this load");
    Some(doubt.hint(hint))
}
