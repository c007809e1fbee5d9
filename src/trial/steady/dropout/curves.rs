//! The curves of a dropout test: output, headroom, ground current and loop gain over the source.

use super::Story;
use crate::analysis::SweepPoint;
use crate::curve::{Column, Curve, Held};
use crate::system::Quantity;
use crate::trial::steady::motion::LOWEST_HZ;
use crate::trial::steady::place::Place;

const RISING: &str = "rising";

/// One curve a direction.
pub(super) fn draw(place: &mut Place<'_>, story: &Story) -> Vec<Curve> {
    let ways = [("falling", &story.falling), (RISING, &story.rising)];
    ways.map(|(way, points)| {
        let condition = [place.condition.as_str(), way];
        let condition = condition.iter().filter(|w| !w.is_empty()).copied().collect::<Vec<_>>();
        let rising = Held { name: "rising", unit: "1", value: f64::from(u8::from(way == RISING)) };
        Curve {
            condition: condition.join(", "),
            held: place.held.iter().cloned().chain([rising]).collect(),
            columns: columns(place, points),
        }
    })
    .into()
}

fn columns(place: &mut Place<'_>, points: &[SweepPoint]) -> Vec<Column> {
    let column = |name: &str, unit, of: &dyn Fn(&SweepPoint) -> f64| {
        Column::new(name, unit, points.iter().map(of).collect())
    };
    let input = |p: &SweepPoint| place.input_v(&p.z).unwrap_or(f64::NAN);
    let output = |p: &SweepPoint| place.output_v(&p.z);
    let mut columns = vec![
        column("source", "V", &|p| p.level),
        column("input", "V", &input),
        column("output", "V", &output),
        column("headroom", "V", &|p| input(p) - output(p)),
    ];
    columns.extend(ground_current(place, points));
    columns.extend(loop_gain(place, points));
    columns
}

/// What source and supplies give and the load does not get.
fn ground_current(place: &Place<'_>, points: &[SweepPoint]) -> Option<Column> {
    let (source, load) = (place.source?, place.load?);
    let find = |name: &String| place.system.parts.iter().position(|p| p.name == *name);
    let supplies = place.room.figures()?.supplies.iter().filter_map(find);
    let feeding: Vec<usize> = std::iter::once(source.part).chain(supplies).collect();
    let current = |point: &SweepPoint| {
        let seen = place.system.observe(&point.z, &vec![0.0; point.z.len()]);
        let into = |part: usize| place.system.read(&seen, Quantity::Current(part, 0));
        -feeding.iter().map(|&part| into(part)).sum::<f64>() - into(load.part)
    };
    Some(Column::new("ground_current", "A", points.iter().map(current).collect()))
}

/// dB at 10 Hz; none where `rail.feedback` is not named.
fn loop_gain(place: &mut Place<'_>, points: &[SweepPoint]) -> Option<Column> {
    let gains = gains_db(place, points)?;
    Some(Column::new("low_frequency_loop_gain", "dB", gains))
}

/// The size of the loop gain in dB at 10 Hz at each point.
pub(super) fn gains_db(place: &mut Place<'_>, points: &[SweepPoint]) -> Option<Vec<f64>> {
    let wire = place.wire?;
    let mut small = place.small_signal();
    let gain = |point: &SweepPoint| {
        small.move_to(&point.z);
        let found = small.loop_gain(wire, LOWEST_HZ);
        found.map_or(f64::NAN, |at| 20.0 * at.gain.norm().log10())
    };
    let gains = points.iter().map(gain).collect();
    place.factorisations += points.len();
    Some(gains)
}
