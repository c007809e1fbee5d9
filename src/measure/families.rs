//! Lists of test kinds whose reports share a row.

use super::scene::TestKind;

/// All but dropout, which leaves the window by its nature.
pub(super) const WINDOWED: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::PowerDown,
    TestKind::LoadRegulation,
    TestKind::LineRegulation,
    TestKind::LoopGain,
    TestKind::OutputImpedance,
    TestKind::RippleRejection,
    TestKind::Noise,
];
pub(super) const TIME: &[TestKind] = &[TestKind::LoadStep, TestKind::LineStep, TestKind::Profile];
/// Of a start too, where the rail comes to rest.
pub(super) const ALL_OR_START: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
];
/// Of the end of a rail too, which begins at rest.
pub(super) const ALL_OR_DOWN: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::PowerDown,
];
/// What parts bear, whatever happens.
pub(super) const ALL_AND_SWITCHED: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::PowerDown,
];
pub(super) const TIME_AND_SWITCHED: &[TestKind] = &[
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::PowerDown,
];
pub(super) const TIME_OR_START: &[TestKind] =
    &[TestKind::LoadStep, TestKind::LineStep, TestKind::Profile, TestKind::StartUp];
pub(super) const TIME_OR_DOWN: &[TestKind] =
    &[TestKind::LoadStep, TestKind::LineStep, TestKind::Profile, TestKind::PowerDown];
pub(super) const STEPS: &[TestKind] = &[TestKind::LoadStep, TestKind::LineStep];
pub(super) const LOAD_STEP: &[TestKind] = &[TestKind::LoadStep];
pub(super) const OPERATING_POINT: &[TestKind] = &[TestKind::OperatingPoint];
