//! The field of colours: each patch in its lowest step, and over it what lies above each step.

use super::scale::{STEPS, Shade};
use super::{Patch, Place};
use crate::output::plot::canvas::{Area, Canvas};

/// px by which colours overlap to the right and below, so that no paper shines through.
const OVERLAP: f64 = 0.6;

/// A corner on the page with its share of the colours.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Vertex {
    x: f64,
    y: f64,
    share: f64,
}

/// A patch on the page.
struct Tile {
    area: Area,
    /// Counter-clockwise from the lower left.
    corners: [Vertex; 4],
    lowest: usize,
    highest: usize,
}

pub(super) fn draw(canvas: &mut Canvas<'_>, patches: &[Patch], frame: &Area, shade: &Shade) {
    let tiles: Vec<Tile> = patches.iter().filter_map(|patch| tile(patch, frame, shade)).collect();
    for step in 0..STEPS {
        let colour = shade.colour(step);
        for area in runs(tiles.iter().filter(|t| t.lowest == step).map(|t| t.area)) {
            canvas.fill(&grown(&area, frame), colour, 1.0);
        }
        let level = step as f64 / STEPS as f64;
        for tile in tiles.iter().filter(|t| t.lowest < step && t.highest >= step) {
            canvas.fill_outline(&above(tile, level, frame), colour, 1.0);
        }
    }
}

fn tile(patch: &Patch, frame: &Area, shade: &Shade) -> Option<Tile> {
    let known: Vec<f64> = patch.values.iter().flatten().map(|v| shade.share(*v)).collect();
    if known.is_empty() {
        return None;
    }
    let mean = known.iter().sum::<f64>() / known.len() as f64;
    let Patch { from, to, values } = patch;
    let (left, top) = on_page([from[0], to[1]], frame);
    let (right, bottom) = on_page([to[0], from[1]], frame);
    let share = |value: Option<f64>| value.map_or(mean, |v| shade.share(v));
    let spots = [(left, bottom), (right, bottom), (right, top), (left, top)];
    let vertex = |k: usize| Vertex { x: spots[k].0, y: spots[k].1, share: share(values[k]) };
    let corners = [0, 1, 2, 3].map(vertex);
    let step = |share: f64| ((share * STEPS as f64) as usize).min(STEPS - 1);
    let shares = || corners.iter().map(|c| c.share);
    let area = Area { left, top, width: right - left, height: bottom - top };
    let lowest = step(shares().fold(f64::INFINITY, f64::min));
    let highest = step(shares().fold(f64::NEG_INFINITY, f64::max));
    Some(Tile { area, corners, lowest, highest })
}

pub(super) fn on_page(place: Place, frame: &Area) -> (f64, f64) {
    (frame.left + place[0] * frame.width, frame.bottom() - place[1] * frame.height)
}

/// Areas that follow each other in a row as one.
fn runs(areas: impl Iterator<Item = Area>) -> Vec<Area> {
    let mut runs: Vec<Area> = Vec::new();
    for area in areas {
        let follows = |last: &&mut Area| {
            last.top == area.top
                && last.height == area.height
                && (last.right() - area.left).abs() < 1e-6
        };
        match runs.last_mut().filter(follows) {
            Some(last) => last.width = area.right() - last.left,
            None => runs.push(area),
        }
    }
    runs
}

/// By how much an area may overlap what is to its right and below it: nothing where the field ends.
fn overlap(area: &Area, frame: &Area) -> (f64, f64) {
    let room = |end: f64, edge: f64| (edge - end).clamp(0.0, OVERLAP);
    (room(area.right(), frame.right()), room(area.bottom(), frame.bottom()))
}

fn grown(area: &Area, frame: &Area) -> Area {
    let (across, down) = overlap(area, frame);
    Area { width: area.width + across, height: area.height + down, ..*area }
}

/// The part of a tile whose share is at least `level`.
fn above(tile: &Tile, level: f64, frame: &Area) -> Vec<(f64, f64)> {
    let mut points = Vec::with_capacity(6);
    for k in 0..4 {
        let (a, b) = (tile.corners[k], tile.corners[(k + 1) % 4]);
        if a.share >= level {
            points.push((a.x, a.y));
        }
        if (a.share >= level) != (b.share >= level) {
            let t = (level - a.share) / (b.share - a.share);
            points.push((a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)));
        }
    }
    let (right, bottom) = (tile.area.right(), tile.area.bottom());
    let (across, down) = overlap(&tile.area, frame);
    for (x, y) in &mut points {
        *x += if *x >= right - 1e-6 { across } else { 0.0 };
        *y += if *y >= bottom - 1e-6 { down } else { 0.0 };
    }
    points
}

#[cfg(test)]
mod tests {
    use super::{Tile, Vertex, above, grown, runs};
    use crate::output::plot::canvas::Area;

    #[test]
    fn exact_half_of_a_slope_lies_above_its_middle() {
        let area = Area { left: 0.0, top: 0.0, width: 10.0, height: 10.0 };
        let corner = |x, y, share| Vertex { x, y, share };
        let corners = [
            corner(0.0, 10.0, 0.0),
            corner(10.0, 10.0, 1.0),
            corner(10.0, 0.0, 1.0),
            corner(0.0, 0.0, 0.0),
        ];
        let tile = Tile { area, corners, lowest: 0, highest: 9 };
        let inside = Area { width: 30.0, height: 30.0, ..area };
        assert_eq!(
            above(&tile, 0.5, &inside),
            [(5.0, 10.6), (10.6, 10.6), (10.6, 0.0), (5.0, 0.0)]
        );
        // At the end of the field nothing lies beside it that could be overlapped.
        assert_eq!(above(&tile, 0.5, &area), [(5.0, 10.0), (10.0, 10.0), (10.0, 0.0), (5.0, 0.0)]);
        assert_eq!(grown(&area, &area), area);
    }

    #[test]
    fn neighbours_of_a_row_become_one() {
        let area = |left: f64, top: f64| Area { left, top, width: 10.0, height: 10.0 };
        let all = [area(0.0, 0.0), area(10.0, 0.0), area(30.0, 0.0), area(0.0, 10.0)];
        let found = runs(all.into_iter());
        assert_eq!(found.iter().map(|a| a.width).collect::<Vec<_>>(), [20.0, 10.0, 10.0]);
    }
}
