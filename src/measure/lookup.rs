//! Definitions by name, what one tells of itself, and what follows from the table of all of them.

use super::definition::{Definition, RequirementOption};
use super::figures::Wanted;
use super::requirement::{About, Limit, Requirement};
use super::scene::TestKind;
use super::stations::asked_of;
use super::table::DEFINITIONS;

impl std::fmt::Debug for Definition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Definition")
            .field("name", &self.name)
            .field("unit", &self.unit)
            .finish_non_exhaustive()
    }
}

impl Definition {
    /// The `about` it takes where a requirement gives none; `None` if it has no such option.
    pub fn default_about(&self) -> Option<About> {
        self.options.iter().find_map(|option| match option {
            RequirementOption::About { default, .. } => Some(*default),
            _ => None,
        })
    }

    /// Whether a test of that kind reports it.
    pub fn belongs_to(&self, kind: TestKind) -> bool {
        self.kinds.contains(&kind)
    }
}

/// The definition of that name.
pub fn definition(name: &str) -> Option<&'static Definition> {
    DEFINITIONS.iter().find(|d| d.name == name)
}

/// The figures that a test of this kind has to find.
pub fn wanted(kind: TestKind, requirements: &[Requirement]) -> Vec<Wanted> {
    let mut found: Vec<Wanted> = Vec::new();
    for definition in DEFINITIONS.iter().filter(|d| d.belongs_to(kind)) {
        for (_, asked) in asked_of(definition, requirements) {
            let wanted = Wanted { name: definition.name, asked };
            if !found.contains(&wanted) {
                found.push(wanted);
            }
        }
    }
    found
}

impl Requirement {
    /// A limit without options, its text made from its figures.
    pub fn new(name: impl Into<String>, limit: Limit) -> Self {
        let name = name.into();
        let unit = definition(&name).map_or("", |d| d.unit);
        Self {
            limit_text: limit.text(unit),
            name,
            limit,
            band: None,
            about: None,
            level: None,
            at: None,
            band_hz: None,
            definition: None,
            of: None,
            share: None,
            advisory: false,
        }
    }
}
