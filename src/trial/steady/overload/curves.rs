//! The curves of an overload test: current and power over the output, with the loads beside them.

use super::{Spot, Story};
use crate::analysis::SweepPoint;
use crate::curve::{Column, Curve, Held};
use crate::trial::steady::place::Place;

/// One curve; a second one for the way up where it is another.
pub(super) fn draw(place: &Place<'_>, story: &Story) -> Vec<Curve> {
    let mut curves = vec![curve(place, story, &story.falling, None)];
    if story.hysteresis.is_some() {
        curves[0] = curve(place, story, &story.falling, Some("falling"));
        curves.push(curve(place, story, &story.rising, Some("rising")));
    }
    curves
}

fn curve(
    place: &Place<'_>,
    story: &Story,
    way: &[(SweepPoint, Spot)],
    name: Option<&str>,
) -> Curve {
    let column = |name: &str, unit, of: &dyn Fn(&Spot) -> f64| {
        Column::new(name, unit, way.iter().map(|(_, spot)| of(spot)).collect())
    };
    let mut columns = vec![
        column("output", "V", &|s| s.output_v),
        column("current", "A", &|s| s.current_a),
        column("pass_power", "W", &|s| s.pass_w),
    ];
    columns.extend(
        story
            .fates
            .iter()
            .map(|fate| column(&fate.line.words, "A", &|s| fate.line.law.current_a(s.output_v))),
    );
    let held = name.map(|name| {
        let value = f64::from(u8::from(name == "rising"));
        Held { name: "rising", unit: "1", value }
    });
    let condition = [Some(place.condition.as_str()).filter(|c| !c.is_empty()), name];
    Curve {
        condition: condition.into_iter().flatten().collect::<Vec<_>>().join(", "),
        held: place.held.iter().cloned().chain(held).collect(),
        columns,
    }
}
