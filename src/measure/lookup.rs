//! Definitions by name, and what one tells of itself.

use super::About;
use super::definition::{DEFINITIONS, Definition, RequirementOption};
use super::scene::TestKind;

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
