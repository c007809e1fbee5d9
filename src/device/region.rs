//! The words for where a part works.

/// A junction conducts.
pub const ON: &str = "on";
/// Nothing conducts.
pub const OFF: &str = "off";
/// The body diode of a MOS transistor conducts.
pub const BODY_DIODE_ON: &str = "body diode on";
/// A bipolar transistor amplifies.
pub const ACTIVE: &str = "active";
/// A bipolar transistor whose collector works as its emitter.
pub const REVERSE: &str = "reverse";
/// A bipolar transistor with both junctions conducting, or a pinched-off MOS channel.
pub const SATURATED: &str = "saturated";
/// A MOS channel that works as a resistance.
pub const OHMIC: &str = "ohmic";
/// A MOS channel below its threshold that still carries current.
pub const WEAK_INVERSION: &str = "weak inversion";
/// A stage in its linear range.
pub const LINEAR: &str = "linear";
/// An input stage that gives its largest current.
pub const LIMITED: &str = "limited";
/// An internal node held by its upper clamp.
pub const AT_UPPER_SWING: &str = "wound up at its upper swing";
/// An internal node held by its lower clamp.
pub const AT_LOWER_SWING: &str = "wound up at its lower swing";
/// A contact that is closed.
pub const CLOSED: &str = "closed";
/// A contact that is open.
pub const OPEN: &str = "open";
/// A contact on its way.
pub const CHANGING_OVER: &str = "changing over";
/// An output stage that gives its largest current.
pub const AT_DRIVE_LIMIT: &str = "at its drive limit";
/// A current stage at its lower limit.
pub const AT_LOWEST_DRIVE: &str = "at its lowest current";
/// A zener diode above its knee.
pub const IN_BREAKDOWN: &str = "in breakdown";
/// A zener diode that carries less than its knee current, so that its voltage falls away.
pub const AT_ITS_KNEE: &str = "at its knee";
/// A reference whose supply is not up, or not yet.
pub const BELOW_ITS_VOLTAGE: &str = "below its voltage";
/// A reference at its voltage.
pub const SETTLED: &str = "settled";
/// A shunt regulator that holds its reference pin.
pub const REGULATING: &str = "regulating";
/// A shunt regulator that takes all it can.
pub const AT_HIGHEST_CURRENT: &str = "at its highest current";
/// A current limit that steers the pass device.
pub const LIMITING: &str = "limiting";
/// A current limit below its level.
pub const NOT_LIMITING: &str = "not limiting";
