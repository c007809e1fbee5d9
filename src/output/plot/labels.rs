//! Where texts go inside a panel so that they neither overlap nor leave it.

use super::canvas::{Area, letters_width, text_width};
use super::cut::inside;

/// Height of a line of text relative to its size, with a little air.
const LINE: f64 = 1.3;

/// What is already drawn in a panel.
#[derive(Clone, Debug)]
pub(super) struct Crowd {
    room: Area,
    taken: Vec<Area>,
    lines: Vec<Vec<(f64, f64)>>,
    dots: Vec<(f64, f64)>,
    width: fn(&str, f64) -> f64,
}

impl Crowd {
    /// An empty panel inside `frame`, with the curves that texts should keep off.
    pub(super) fn new(frame: Area, lines: Vec<Vec<(f64, f64)>>) -> Self {
        let room = Area {
            left: frame.left + 2.0,
            top: frame.top + 2.0,
            width: frame.width - 4.0,
            height: frame.height - 4.0,
        };
        Self { room, taken: Vec::new(), lines, dots: Vec::new(), width: text_width }
    }

    /// The same, with the width of texts taken letter by letter.
    pub(super) fn of_letters(frame: Area, lines: Vec<Vec<(f64, f64)>>) -> Self {
        Self { width: letters_width, ..Self::new(frame, lines) }
    }

    /// Keeps texts off a dot.
    pub(super) fn add_dot(&mut self, at: (f64, f64)) {
        self.dots.push(at);
    }

    /// The place all over the room that disturbs least, pointer to `at` included, and takes it.
    pub(super) fn place_anywhere(&mut self, text: &str, size: f64, at: (f64, f64)) -> Option<Area> {
        let (width, height) = ((self.width)(text, size), size * LINE);
        let mut places = around(at, width, height);
        places.extend(raster(&self.room, width, height));
        let cost = |place: &Area| Some(self.cost(place, at)? + self.pointer_cost(place, at));
        cheapest(&places, cost).inspect(|b| self.taken.push(*b))
    }

    /// What a pointer crosses on its way weighs half of what a text covers.
    fn pointer_cost(&self, place: &Area, at: (f64, f64)) -> f64 {
        /// Ahead of this the pointer is still on the curve that it comes from.
        const START: f64 = 6.0;
        let end = nearest_point(place, at);
        let length = (end.0 - at.0).hypot(end.1 - at.1);
        if length <= START {
            return 0.0;
        }
        let along = |share: f64| (at.0 + share * (end.0 - at.0), at.1 + share * (end.1 - at.1));
        let start = along(START / length);
        let crossed = self.lines.iter().filter(|line| {
            line.windows(2).any(|pair| matches!(pair, [a, b] if meet(start, end, *a, *b)))
        });
        30.0 * crossed.count() as f64
    }

    /// The first of the given places, by their upper left corners, that crosses least, and takes it.
    pub(super) fn place_in_turn(
        &mut self,
        text: &str,
        size: f64,
        corners: &[(f64, f64)],
    ) -> Option<Area> {
        let (width, height) = ((self.width)(text, size), size * LINE);
        let places: Vec<Area> =
            corners.iter().map(|&(left, top)| Area { left, top, width, height }).collect();
        cheapest(&places, |place| self.cost(place, (place.left, place.top)))
            .inspect(|b| self.taken.push(*b))
    }

    /// The best free place for `text` near `at`, and takes it. `None` when nothing is free.
    pub(super) fn place(&mut self, text: &str, size: f64, at: (f64, f64)) -> Option<Area> {
        let (width, height) = (text_width(text, size), size * LINE);
        let near = around(at, width, height);
        let spread = raster(&self.room, width, height);
        self.best(&near, at).or_else(|| self.best(&spread, at)).inspect(|b| self.taken.push(*b))
    }

    /// The first of the given places for a text that disturbs least, and takes it.
    pub(super) fn place_among(
        &mut self,
        text: &str,
        size: f64,
        corners: &[(f64, f64)],
    ) -> Option<Area> {
        let (width, height) = (text_width(text, size), size * LINE);
        let places: Vec<Area> =
            corners.iter().map(|&(left, top)| Area { left, top, width, height }).collect();
        let at = corners.first().copied()?;
        self.best(&places, at).inspect(|b| self.taken.push(*b))
    }

    fn best(&self, places: &[Area], at: (f64, f64)) -> Option<Area> {
        cheapest(places, |place| self.cost(place, at))
    }

    /// How much a text at `place` disturbs; `None` when it may not stand there. One crossed
    /// curve weighs as much as being 60 px further away.
    fn cost(&self, place: &Area, at: (f64, f64)) -> Option<f64> {
        if !self.room.contains(place) || self.taken.iter().any(|t| t.overlaps(place)) {
            return None;
        }
        let crossed = self.lines.iter().filter(|line| crosses(line, place)).count();
        let covered = self.dots.iter().filter(|dot| covers(place, **dot)).count();
        let (x, y) = nearest_point(place, at);
        let distance = (x - at.0).hypot(y - at.1);
        Some(distance + 60.0 * crossed as f64 + 60.0 * covered as f64)
    }
}

/// The first of the places with the least cost; those without one are not to be had.
fn cheapest(places: &[Area], cost: impl Fn(&Area) -> Option<f64>) -> Option<Area> {
    let mut best: Option<(f64, Area)> = None;
    for place in places {
        if let Some(cost) = cost(place)
            && best.is_none_or(|(least, _)| cost < least)
        {
            best = Some((cost, *place));
        }
    }
    best.map(|(_, place)| place)
}

/// The point of a box nearest to `at`, where a pointer to it ends.
pub(super) fn nearest_point(place: &Area, at: (f64, f64)) -> (f64, f64) {
    (at.0.max(place.left).min(place.right()), at.1.max(place.top).min(place.bottom()))
}

fn around((x, y): (f64, f64), width: f64, height: f64) -> Vec<Area> {
    let mut places = Vec::new();
    for gap in [7.0, 14.0, 24.0, 36.0, 50.0] {
        let right = x + gap;
        let left = x - gap - width;
        let (above, level, below) = (y - gap - height, y - height / 2.0, y + gap);
        let centre = x - width / 2.0;
        for (left, top) in [
            (right, level),
            (right, above),
            (right, below),
            (left, level),
            (left, above),
            (left, below),
            (centre, below),
            (centre, above),
        ] {
            places.push(Area { left, top, width, height });
        }
    }
    places
}

/// Places all over the room, for when nothing near is free.
fn raster(room: &Area, width: f64, height: f64) -> Vec<Area> {
    const COLUMNS: usize = 24;
    const ROWS: usize = 16;
    let (free_x, free_y) = (room.width - width, room.height - height);
    if free_x < 0.0 || free_y < 0.0 {
        return Vec::new();
    }
    let at = |n: usize, of: usize, free: f64| free * n as f64 / of as f64;
    (0..=ROWS)
        .flat_map(|row| (0..=COLUMNS).map(move |column| (row, column)))
        .map(|(row, column)| Area {
            left: room.left + at(column, COLUMNS, free_x),
            top: room.top + at(row, ROWS, free_y),
            width,
            height,
        })
        .collect()
}

fn covers(place: &Area, (x, y): (f64, f64)) -> bool {
    let margin = 4.0;
    x > place.left - margin
        && x < place.right() + margin
        && y > place.top - margin
        && y < place.bottom() + margin
}

fn crosses(line: &[(f64, f64)], place: &Area) -> bool {
    line.windows(2).any(|pair| match pair {
        [a, b] => inside(*a, *b, place).is_some(),
        _ => false,
    })
}

/// Whether two segments cross: the ends of each lie on different sides of the other.
fn meet(a: (f64, f64), b: (f64, f64), c: (f64, f64), d: (f64, f64)) -> bool {
    let side = |p: (f64, f64), q: (f64, f64), r: (f64, f64)| {
        (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0) > 0.0
    };
    side(a, b, c) != side(a, b, d) && side(c, d, a) != side(c, d, b)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::Crowd;
    use crate::output::plot::canvas::Area;

    const FRAME: Area = Area { left: 0.0, top: 0.0, width: 400.0, height: 120.0 };

    #[test]
    fn twelve_texts_at_one_point_stand_apart_inside_the_frame() {
        let mut crowd = Crowd::new(FRAME, Vec::new());
        let places: Vec<Area> =
            (0..12).map(|_| crowd.place("droop 20.4 mV", 11.0, (395.0, 118.0)).unwrap()).collect();
        for (i, place) in places.iter().enumerate() {
            assert!(FRAME.contains(place), "{place:?}");
            assert!(places[i + 1..].iter().all(|other| !other.overlaps(place)));
        }
    }

    #[test]
    fn a_text_keeps_off_a_curve_when_it_can() {
        let curve = vec![(0.0, 60.0), (200.0, 60.0), (400.0, 60.0)];
        let mut crowd = Crowd::new(FRAME, vec![curve]);
        let place = crowd.place("droop", 11.0, (200.0, 60.0)).unwrap();
        assert!(place.bottom() < 60.0 || place.top > 60.0);
    }

    #[test]
    fn a_text_wider_than_the_frame_has_no_place() {
        let mut crowd = Crowd::new(FRAME, Vec::new());
        assert_eq!(crowd.place(&"long ".repeat(40), 11.0, (10.0, 10.0)), None);
    }
}
