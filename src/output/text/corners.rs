//! Which corner each requirement was judged at, where corners were looked at.

use super::Page;
use crate::output::report::MeasurementReport;

/// The arguments that make each worst corner again, measurements of one corner together.
pub(in crate::output) fn write(page: &mut Page, measurements: &[&MeasurementReport]) {
    let mut corners: Vec<(&str, Vec<&str>)> = Vec::new();
    for m in measurements {
        let Some(corner) = m.corner.as_deref() else { continue };
        match corners.iter_mut().find(|(known, _)| *known == corner) {
            Some((_, names)) if names.contains(&m.name.as_str()) => {}
            Some((_, names)) => names.push(&m.name),
            None => corners.push((corner, vec![&m.name])),
        }
    }
    for (corner, names) in corners {
        let at = if corner.is_empty() { "nominal values" } else { corner };
        page.paragraph(2, "worst at ", &format!("{at}: {}", names.join(", ")));
    }
}
