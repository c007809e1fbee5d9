//! How each shape is put together from its figures.

use super::Figures;
use super::course::Course;

type Built = Result<Course, (String, String)>;

/// More stairs than this are a mistake.
const MOST_STAIRS: usize = 1000;
/// The share of a load dump's excess between which its duration counts (from memory of ISO 7637-2).
const COUNTS_FROM: f64 = 0.1;

/// Falls, stays, climbs to a plateau on which it swings, recovers.
pub(super) fn crank(of: &Figures<'_>) -> Course {
    let half_ripple = 0.5 * of.get("ripple");
    let mut course = Course::at(of.get("supply"));
    course.hold(of.get("before"));
    course.go(of.get("lowest"), of.get("fall"));
    course.hold(of.get("lowest_time"));
    course.go(of.get("trough") + half_ripple, of.get("climb"));
    course.swing(half_ripple, of.get("ripple_frequency"), of.get("plateau_time"));
    course.go(of.get("supply"), of.get("recovery"));
    course.rest(of.get("after"));
    course
}

/// Rises straight, dies away exponentially; cut off at the clamp.
pub(super) fn load_dump(of: &Figures<'_>) -> Built {
    let (supply, peak, rise_s) = (of.get("supply"), of.get("peak"), of.get("rise"));
    let clamp = of.get("clamp").min(peak);
    let excess = peak - supply;
    let wrong = |what: &str, hint: &str| Err((what.to_owned(), hint.to_owned()));
    if !(excess > 0.0 && clamp > supply) {
        return wrong("`peak` and `clamp` of a load dump must lie above `supply`", "raise them");
    }
    // Above a tenth of the excess for `duration`, of which the rise takes 0.9.
    let falls_s = of.get("duration") - (1.0 - COUNTS_FROM) * rise_s;
    if !(falls_s > 0.0) {
        return wrong("`duration` of a load dump must be longer than its `rise`", "lengthen it");
    }
    let tau_s = falls_s / (1.0 / COUNTS_FROM).ln();
    let climbs_s = rise_s * (clamp - supply) / excess;
    let clamped_s = rise_s - climbs_s + tau_s * (excess / (clamp - supply)).ln();
    let mut course = Course::at(supply);
    course.hold(of.get("before"));
    course.go(clamp, climbs_s);
    course.hold(clamped_s);
    let left_s = (rise_s + falls_s - climbs_s - clamped_s).max(0.0);
    course.die_away(supply, tau_s, left_s);
    course.rest(of.get("after"));
    Ok(course)
}

/// Leaves its level for a time.
pub(super) fn excursion(of: &Figures<'_>) -> Course {
    let supply = of.get("supply");
    let mut course = Course::at(supply);
    course.hold(of.get("before"));
    course.go(of.get("level_then"), of.get("edge"));
    course.hold(of.get("stays"));
    course.go(supply, of.get("edge"));
    course.rest(of.get("after"));
    course
}

/// From nothing the wrong way round, and back to nothing.
pub(super) fn reversed(of: &Figures<'_>) -> Course {
    let mut course = Course::at(0.0);
    course.hold(of.get("before"));
    course.go(of.get("level_then"), of.get("edge"));
    course.hold(of.get("stays"));
    course.go(0.0, of.get("edge"));
    course.rest(of.get("after"));
    course
}

/// Down by one stair more each time, back up between, until nothing is left.
pub(super) fn reset_steps(of: &Figures<'_>) -> Built {
    let (supply, step) = (of.get("supply"), of.get("step"));
    let stairs = (1.0 / step - 1e-9).ceil();
    if !(stairs >= 1.0 && stairs <= MOST_STAIRS as f64) {
        let message = format!("`step` of the shape makes more than {MOST_STAIRS} stairs");
        return Err((message, "write a share such as `step = \"5 %\"`".to_owned()));
    }
    let mut course = Course::at(supply);
    course.hold(of.get("before"));
    for stair in 1..=stairs as usize {
        course.go(supply * (1.0 - stair as f64 * step).max(0.0), of.get("edge"));
        course.hold(of.get("low_time"));
        course.go(supply, of.get("edge"));
        course.hold(of.get("high_time"));
    }
    course.rest(of.get("after"));
    Ok(course)
}

/// Down to nothing and up again, slowly.
pub(super) fn slow_fall(of: &Figures<'_>) -> Course {
    let mut course = Course::at(of.get("supply"));
    course.hold(of.get("before"));
    course.go(0.0, of.get("fall_time"));
    course.hold(of.get("low_time"));
    course.go(of.get("supply"), of.get("rise_time"));
    course.rest(of.get("after"));
    course
}

/// A contact closes.
pub(super) fn hot_plug(of: &Figures<'_>) -> Course {
    let mut course = Course::at(0.0);
    course.hold(of.get("before"));
    course.go(of.get("supply"), of.get("edge"));
    course.rest(of.get("after"));
    course
}

/// A sine on a level.
pub(super) fn ripple(of: &Figures<'_>) -> Course {
    let mut course = Course::at(of.get("supply"));
    course.hold(of.get("before"));
    course.swing(0.5 * of.get("ripple"), of.get("frequency"), of.get("ripple_time"));
    course.rest(of.get("after"));
    course
}
