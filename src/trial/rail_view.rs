//! The rail as one test sees it: its windows, or the rail's.

use super::{Test, WindowChoice};
use crate::circuit::Variant;
use crate::diagnostic::Diagnostic;
use crate::measure::{Bound, RailView};

pub(super) fn rail_view(test: &Test, variant: &Variant) -> Result<RailView, Vec<Diagnostic>> {
    let ambient_k = Some(variant.ambient_k());
    let has_heat = variant.has_heat();
    let Some(rail) = &variant.rail else {
        return Ok(RailView { ambient_k, has_heat, ..RailView::default() });
    };
    let own = |choice: &WindowChoice, rail: Option<[f64; 2]>| -> Result<Bound, Vec<Diagnostic>> {
        let within = |[low_v, high_v]: [f64; 2]| Bound::Within { low_v, high_v };
        Ok(match choice {
            WindowChoice::Off => Bound::Off,
            WindowChoice::Rail => rail.map_or(Bound::NotGiven, within),
            WindowChoice::Own(window) => within(variant.window(window)?),
        })
    };
    let window = own(&test.window, rail.window)?;
    let transient_window = match (&test.window, &test.transient_window) {
        // A test's own window stands for every instant too, unless the rail or the test says more.
        (WindowChoice::Own(_), WindowChoice::Rail) if rail.transient_window == rail.window => {
            window
        }
        (_, choice) => own(choice, rail.transient_window)?,
    };
    Ok(RailView {
        nominal_v: rail.nominal_v,
        window,
        transient_window,
        has_supplies: !rail.supplies.is_empty(),
        ambient_k,
        has_heat,
    })
}
