//! Lists of test kinds whose reports share a row.

use super::scene::TestKind;

/// All but dropout, overload, shorts and trains of pulses, which leave the window by their nature or
/// do not settle in it.
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
/// Everything that looks at one circuit at rest or in time.
pub(super) const ALL: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::PowerDown,
    TestKind::ShortCircuit,
    TestKind::PulseTrain,
];
/// Of these, those that end with their power on.
pub(super) const ENDING_POWERED: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::ShortCircuit,
    TestKind::PulseTrain,
];
/// Of these, those with a rail that feeds its load at the end, which a short does not.
pub(super) const FEEDING: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::PulseTrain,
];
/// Those that begin with a rail at rest and leave its output alone: what headroom means something in.
pub(super) const WITH_HEADROOM: &[TestKind] = &[
    TestKind::OperatingPoint,
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::PowerDown,
    TestKind::PulseTrain,
];
/// Everything in time.
pub(super) const TIME: &[TestKind] = &[
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::StartUp,
    TestKind::PowerDown,
    TestKind::ShortCircuit,
    TestKind::PulseTrain,
];
/// In time, beginning with a rail at work.
pub(super) const AT_WORK_FIRST: &[TestKind] = &[
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::PowerDown,
    TestKind::ShortCircuit,
    TestKind::PulseTrain,
];
/// In time, with power throughout.
pub(super) const POWERED: &[TestKind] = &[
    TestKind::LoadStep,
    TestKind::LineStep,
    TestKind::Profile,
    TestKind::ShortCircuit,
    TestKind::PulseTrain,
];
/// Those that end in a dwell long enough to come to rest.
pub(super) const SETTLING: &[TestKind] =
    &[TestKind::LoadStep, TestKind::LineStep, TestKind::Profile, TestKind::StartUp];
/// Those that begin at rest, ahead of an edge.
pub(super) const FROM_REST: &[TestKind] =
    &[TestKind::LoadStep, TestKind::LineStep, TestKind::PulseTrain, TestKind::ShortCircuit];
pub(super) const STEPS: &[TestKind] = &[TestKind::LoadStep, TestKind::LineStep];
pub(super) const LOAD_STEP: &[TestKind] = &[TestKind::LoadStep];
pub(super) const OPERATING_POINT: &[TestKind] = &[TestKind::OperatingPoint];
