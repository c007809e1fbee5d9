//! Input and output of the regulator while its source falls: where a quantity falls through a level
//! on the way, whether the pass device is fully on there, and what it drops then.

use crate::analysis::{Failure, QuasiStatic, Sought, SweepPoint, Watched};
use crate::circuit::{RailFigures, Variant};
use crate::device::region;
use crate::measure::sweep::falls_through;
use crate::system::System;

/// A crossing is solved for until the quantity that crosses is this close, in V: ten times what
/// Newton's iteration leaves of a node.
const CROSSING_V: f64 = 1e-9;
/// Levels of a drive are told apart down to this, in its own unit.
const LEVEL_RESOLUTION: f64 = 1e-12;
/// The pass device is forced fully on with the input pin at this share of the nominal voltage.
pub(super) const FORCED_SHARE: f64 = 0.95;
/// How far a source falls to find out, as a share of the nominal voltage: below
/// [`FORCED_SHARE`], so that the pin gets there whatever is between.
pub(super) const LOWEST_SHARE: f64 = 0.9;
/// Levels of the short sweep that finds the drop of a pass device for a budget.
const BUDGET_POINTS: usize = 12;

/// Where the ends of a regulator are read. Voltages count in the sense of the nominal one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ends {
    input: usize,
    output: usize,
    ground: usize,
    sign: f64,
    /// V, positive.
    pub(super) nominal_v: f64,
}

/// Where a quantity falls through a level along a sweep.
pub(super) enum Fall {
    /// There, solved.
    At(SweepPoint),
    /// It jumps over the level: the rests on both sides.
    Jumps(SweepPoint, SweepPoint),
    /// It lies below from the beginning.
    FromTheStart,
    /// It stays above.
    Never,
    /// It could not be solved for.
    Lost(Failure),
}

impl Ends {
    /// # Errors
    /// What is missing, in words.
    pub(super) fn of(system: &System, rail: Option<&RailFigures>) -> Result<Self, String> {
        let missing = |key: &str| format!("`[rail]` names no `{key}`");
        let rail = rail.ok_or("there is no `[rail]`")?;
        let nominal_v = rail.nominal_v.ok_or_else(|| missing("nominal"))?;
        let find = |key: &str, name: &str| match name {
            "gnd" => Ok(0),
            _ => system.unknowns.iter().position(|u| u.name == name).ok_or_else(|| missing(key)),
        };
        let named = |key: &str, name: &Option<String>| {
            find(key, name.as_deref().ok_or_else(|| missing(key))?)
        };
        Ok(Self {
            input: named("input", &rail.input)?,
            output: named("output", &rail.output)?,
            ground: find("ground", &rail.ground)?,
            sign: nominal_v.signum(),
            nominal_v: nominal_v.abs(),
        })
    }

    /// V at the input pin.
    pub(super) fn input_v(&self, z: &[f64]) -> f64 {
        self.sign * (z[self.input] - z[self.ground])
    }

    /// V at the output.
    pub(super) fn output_v(&self, z: &[f64]) -> f64 {
        self.sign * (z[self.output] - z[self.ground])
    }

    /// V between both.
    pub(super) fn headroom_v(&self, z: &[f64]) -> f64 {
        self.sign * (z[self.input] - z[self.output])
    }

    /// A level of the source whose distance from 0 is `volt` in the sense of the nominal voltage.
    pub(super) fn level(&self, volt: f64) -> f64 {
        self.sign * volt
    }
}

/// The first fall of `of` through `level` along a sweep of `drive`, solved for.
pub(super) fn fall(
    rest: &mut QuasiStatic<'_>,
    drive: usize,
    points: &[SweepPoint],
    (of, level): (Watched<'_>, f64),
) -> Fall {
    let values: Vec<f64> = points.iter().map(|p| of(&p.z)).collect();
    let Some(k) = falls_through(&values, level) else {
        let starts_below = values.first().is_some_and(|v| *v <= level);
        return if starts_below { Fall::FromTheStart } else { Fall::Never };
    };
    let (before, after) = (&points[k - 1], &points[k]);
    if after.jumped {
        return Fall::Jumps(before.clone(), after.clone());
    }
    rest.put(drive, before);
    match rest.seek(drive, after.level, (of, level), (CROSSING_V, LEVEL_RESOLUTION)) {
        Ok(Sought::Found(_)) => Fall::At(rest.here(drive)),
        Ok(Sought::Jumps(_)) => Fall::Jumps(rest.here(drive), after.clone()),
        Ok(Sought::Never) => Fall::Never,
        Err(failure) => Fall::Lost(failure),
    }
}

/// Kinds that regulate by what they take beside the load.
const SHUNTS: [&str; 2] = ["zener", "adjustable-shunt"];

/// Whether a regulating device is a shunt.
pub(super) fn is_shunt(variant: &Variant, part: &str) -> bool {
    variant.part(part).is_some_and(|p| SHUNTS.contains(&p.kind.name))
}

/// Whether a region means that a regulating device can give no more: an ohmic channel, a saturated
/// bipolar transistor, a shunt device that takes nothing any more.
pub(super) fn is_fully_on(variant: &Variant, part: &str, at: &str) -> bool {
    let kind = variant.part(part).map_or("", |p| p.kind.name);
    match at {
        region::OHMIC => true,
        region::SATURATED => kind == "bipolar",
        region::OFF => SHUNTS.contains(&kind),
        _ => false,
    }
}

/// Regions in which an amplifier can drive the pass device no further.
pub(super) const DRIVEN_OUT: [&str; 3] =
    [region::AT_UPPER_SWING, region::AT_LOWER_SWING, region::AT_DRIVE_LIMIT];

/// `None` if the pass device is fully on and the amplifier, if any, drives it no further; else in
/// which regions they are.
pub(super) fn not_fully_on(system: &System, variant: &Variant, z: &[f64]) -> Option<String> {
    let rail = variant.rail.as_ref()?;
    let regions = system.regions(z);
    let of = |names: &[String]| -> Vec<(String, &'static str)> {
        regions.iter().filter(|(name, _)| names.contains(name)).cloned().collect()
    };
    let (pass, amplifier) = (of(&rail.pass), of(&rail.amplifier));
    let on = pass.iter().any(|(name, at)| is_fully_on(variant, name, at));
    let driven_out =
        amplifier.is_empty() || amplifier.iter().any(|(_, at)| DRIVEN_OUT.contains(at));
    if on && driven_out {
        return None;
    }
    let told: Vec<String> =
        pass.iter().chain(&amplifier).map(|(name, at)| format!("`{name}` is {at}")).collect();
    Some(if told.is_empty() {
        "`[rail]` names no `pass`, so whether it is fully on cannot be told".to_owned()
    } else {
        format!("the pass device is not fully on there: {}", told.join(", "))
    })
}

/// The rest with the input pin at [`FORCED_SHARE`] of nominal: the source falls from where it is.
///
/// # Errors
/// Why there is none, in words.
pub(super) fn forced(
    rest: &mut QuasiStatic<'_>,
    drive: usize,
    ends: Ends,
) -> Result<SweepPoint, String> {
    let input = |z: &[f64]| ends.input_v(z);
    let (from, to) = (rest.level(drive), ends.level(LOWEST_SHARE * ends.nominal_v));
    let (points, failure) = rest.sweep(drive, (from, to), BUDGET_POINTS, &input);
    match fall(rest, drive, &points, (&input, FORCED_SHARE * ends.nominal_v)) {
        Fall::At(point) => Ok(point),
        Fall::Jumps(before, _) => Ok(before),
        Fall::FromTheStart => Err("the input pin is below 95 % of nominal already".to_owned()),
        Fall::Lost(failure) => Err(failure.message),
        Fall::Never => Err(failure.map_or_else(
            || "the input pin does not fall to 95 % of nominal".to_owned(),
            |failure| failure.message,
        )),
    }
}
