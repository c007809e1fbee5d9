//! What the table of test kinds is made of.

use crate::measure::TestKind;

/// One key of a test.
#[derive(Clone, Copy, Debug)]
pub struct TestKey {
    /// As typed.
    pub name: &'static str,
    /// What stands behind it: a unit, or words.
    pub form: &'static str,
    /// What holds when it is left out; `required` if it must be there.
    pub default: &'static str,
    /// What it means.
    pub text: &'static str,
}

/// One kind of test.
#[derive(Clone, Copy, Debug)]
pub struct TestKindRow {
    /// The kind.
    pub kind: TestKind,
    /// One line: what it does.
    pub summary: &'static str,
    /// Its own keys, besides [`super::COMMON_TEST_KEYS`].
    pub keys: &'static [TestKey],
    /// An example that parses.
    pub example: &'static str,
}

pub(super) const fn key(
    name: &'static str,
    form: &'static str,
    default: &'static str,
    text: &'static str,
) -> TestKey {
    TestKey { name, form, default, text }
}
