//! What a datasheet says, in SI base units. Nothing here is worked out; a figure that the sheet
//! leaves out is `None`.

use crate::diagnostic::Span;

/// Which device passes the current, and how it is driven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Topology {
    /// An npn follower.
    Npn,
    /// Two npn in a row.
    Darlington,
    /// A pnp with its emitter at the input.
    Pnp,
    /// A PMOS with its source at the input.
    Pmos,
    /// An NMOS follower, its gate driven from a bias rail of its own.
    NmosBias,
}

impl Topology {
    /// As in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Npn => "npn",
            Self::Darlington => "darlington",
            Self::Pnp => "pnp",
            Self::Pmos => "pmos",
            Self::NmosBias => "nmos-bias",
        }
    }

    /// How its amplifier is assumed to be compensated where a sheet does not say: with a gate to
    /// drive a flat mid-band gain is usual, with a base one pole (common practice, no source).
    pub fn usual_compensation(self) -> Compensation {
        match self {
            Self::Pmos | Self::NmosBias => Compensation::Lag,
            Self::Npn | Self::Darlington | Self::Pnp => Compensation::SinglePole,
        }
    }

    /// Whether a MOS transistor passes the current.
    pub fn is_mos(self) -> bool {
        matches!(self, Self::Pmos | Self::NmosBias)
    }
}

/// How the error amplifier is compensated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compensation {
    /// Flat gain between a lag and a second pole.
    Lag,
    /// One pole inside the amplifier.
    SinglePole,
}

impl Compensation {
    /// As in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lag => "lag",
            Self::SinglePole => "single-pole",
        }
    }
}

/// What the regulator holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Level {
    /// A fixed output, V; the divider is inside.
    Output(f64),
    /// A reference at the `adjust` terminal, V; the divider is outside.
    Reference(f64),
}

/// What was connected when a point was measured. `None`: neither the point nor the sheet says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct At {
    /// Input voltage, V.
    pub input_v: Option<f64>,
    /// Output capacitor, F.
    pub capacitor_f: Option<f64>,
    /// Its ESR, Ω.
    pub esr_ohm: Option<f64>,
    /// Its ESL, H.
    pub esl_h: Option<f64>,
}

/// Dropout voltage at a load.
#[derive(Clone, Debug, PartialEq)]
pub struct Dropout {
    /// A
    pub current_a: f64,
    /// V
    pub dropout_v: f64,
    /// As a `dropout` test names it: `100 mV below`, `2 % below`, `fully on`.
    pub definition: String,
    /// Share of the figure by which the model may differ; `None`: as for all.
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Currents into the ground terminal.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GroundCurrent {
    /// Without load, A.
    pub no_load_a: Option<f64>,
    /// At the rated current, A.
    pub full_load_a: Option<f64>,
    /// In dropout at the rated current, A.
    pub in_dropout_a: Option<f64>,
}

/// Current limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// A
    pub limit_a: f64,
    /// With the output at ground, A; `None`: constant at `limit_a`.
    pub short_a: Option<f64>,
    /// Output voltage from which up all of it is there, V.
    pub fold_v: Option<f64>,
}

/// Thermal shutdown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shutdown {
    /// Junction temperature, K.
    pub trips_k: f64,
    /// K
    pub restarts_k: f64,
}

/// Output change between two loads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadRegulation {
    /// A
    pub from_a: f64,
    /// A
    pub to_a: f64,
    /// Fall of the output, V.
    pub change_v: f64,
    /// What was connected.
    pub at: At,
    /// As in [`Dropout`].
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Output change between two input voltages.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineRegulation {
    /// V
    pub from_v: f64,
    /// V
    pub to_v: f64,
    /// A
    pub load_a: f64,
    /// Rise of the output, V.
    pub change_v: f64,
    /// As in [`Dropout`].
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Back within a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recovery {
    /// s from the start of the edge.
    pub time_s: f64,
    /// Share of the settled level, either side.
    pub band: f64,
}

/// A load step and back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transient {
    /// A
    pub from_a: f64,
    /// A, above `from_a`
    pub to_a: f64,
    /// s, both edges
    pub edge_s: f64,
    /// Below the level before the step, V.
    pub droop_v: Option<f64>,
    /// Above the loaded level, V.
    pub overshoot_v: Option<f64>,
    /// After the loading edge.
    pub recovery: Option<Recovery>,
    /// What was connected.
    pub at: At,
    /// As in [`Dropout`].
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Ripple rejection at a frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rejection {
    /// Hz
    pub frequency_hz: f64,
    /// A
    pub load_a: f64,
    /// dB, positive where ripple is weakened.
    pub rejection_db: f64,
    /// What was connected.
    pub at: At,
    /// dB by which the model may differ; `None`: as for all.
    pub within_db: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Output impedance at a frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Impedance {
    /// Hz
    pub frequency_hz: f64,
    /// A
    pub load_a: f64,
    /// Ω
    pub impedance_ohm: f64,
    /// What was connected.
    pub at: At,
    /// As in [`Dropout`].
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Noise density of the output at a frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoiseDensity {
    /// Hz
    pub frequency_hz: f64,
    /// A
    pub load_a: f64,
    /// V/√Hz
    pub density: f64,
    /// What was connected.
    pub at: At,
    /// As in [`Dropout`].
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// Noise of the output over a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Hz
    pub from_hz: f64,
    /// Hz
    pub to_hz: f64,
    /// A
    pub load_a: f64,
    /// V rms
    pub noise_v: f64,
    /// What was connected.
    pub at: At,
    /// As in [`Dropout`].
    pub within: Option<f64>,
    /// Where the sheet says so.
    pub span: Span,
}

/// All that a datasheet says.
#[derive(Clone, Debug, PartialEq)]
pub struct Datasheet {
    /// Which device passes the current.
    pub topology: Topology,
    /// How the amplifier is compensated: an assumption, by topology where the file does not say.
    pub compensation: Compensation,
    /// What it holds.
    pub level: Level,
    /// Share by which `level` may differ.
    pub accuracy: f64,
    /// Relative drift of `level`, 1/K.
    pub temperature_coefficient: f64,
    /// The most that it is meant to deliver, A.
    pub rated_current_a: f64,
    /// Dropout voltages.
    pub dropouts: Vec<Dropout>,
    /// Currents into ground.
    pub ground: GroundCurrent,
    /// Current limit.
    pub limit: Option<Limit>,
    /// From 10 to 90 % of the output when the input comes up at once, s.
    pub rise_s: Option<f64>,
    /// Junction to ambient, K/W.
    pub thermal_resistance: Option<f64>,
    /// Thermal shutdown.
    pub shutdown: Option<Shutdown>,
    /// Enable threshold, V: on above the first, off below the second.
    pub enable_v: Option<[f64; 2]>,
    /// Load regulation.
    pub load_regulations: Vec<LoadRegulation>,
    /// Line regulation.
    pub line_regulations: Vec<LineRegulation>,
    /// Load transients.
    pub transients: Vec<Transient>,
    /// Ripple rejection.
    pub rejections: Vec<Rejection>,
    /// Output impedance.
    pub impedances: Vec<Impedance>,
    /// Noise densities.
    pub noise_densities: Vec<NoiseDensity>,
    /// Noise over bands.
    pub noises: Vec<Noise>,
    /// Recommended output capacitor, F: from, to.
    pub capacitor_f: Option<[f64; 2]>,
    /// Recommended ESR, Ω: from, to.
    pub esr_ohm: Option<[f64; 2]>,
    /// What was connected where a point does not say.
    pub test: At,
    /// Output that an adjustable one was set to for its points, V; its reference when `None`.
    pub test_output_v: Option<f64>,
    /// Voltage of the bias rail for its points, V.
    pub test_bias_v: Option<f64>,
}

impl Datasheet {
    /// The output at which its points were taken, V.
    pub fn output_v(&self) -> f64 {
        match self.level {
            Level::Output(volt) => volt,
            Level::Reference(volt) => self.test_output_v.unwrap_or(volt),
        }
    }
}
