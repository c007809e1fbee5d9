//! What is measured: the waveforms of one test, where its edges and dwells lie, and what the file
//! says of the rail.

use super::figures::Station;
use crate::waveform::{Signal, Waveform, Window};

/// Names of the signals that measurements read. A waveform may lack any of them; what needs it
/// is then not evaluated.
pub mod signal {
    /// V, output relative to the rail's ground.
    pub const OUTPUT: &str = "output";
    /// V, regulator input pin relative to the rail's ground.
    pub const INPUT: &str = "input";
    /// A, through the pass devices together, from input to output.
    pub const PASS_CURRENT: &str = "pass_current";
    /// W, absorbed by the pass devices together.
    pub const PASS_POWER: &str = "pass_power";
    /// A, delivered by the source.
    pub const SOURCE_CURRENT: &str = "source_current";
    /// W, delivered by the source and the further supplies together.
    pub const SOURCE_POWER: &str = "source_power";
    /// A, delivered by the further supplies.
    pub const SUPPLY_CURRENT: &str = "supply_current";
    /// A, taken by the load.
    pub const LOAD_CURRENT: &str = "load_current";
    /// W, taken by the load.
    pub const LOAD_POWER: &str = "load_power";
    /// A, through the short that a test puts across the output.
    pub const SHORT_CURRENT: &str = "short_current";
    /// How the names of stress signals begin.
    pub(crate) const STRESS: &str = "capacitor_stress.";

    /// Plain number: voltage across a capacitor over what it may see.
    pub fn stress(part: &str) -> String {
        format!("{STRESS}{part}")
    }

    /// V across a capacitor, its first node above the second.
    pub fn capacitor_voltage(part: &str) -> String {
        format!("capacitor_voltage.{part}")
    }

    /// A into a capacitor's first node.
    pub fn capacitor_current(part: &str) -> String {
        format!("capacitor_current.{part}")
    }
    /// How the names of states begin: 0 to 1 as the part's contact stands.
    pub(crate) const STATE: &str = "state.";
    /// The same of states whose closed contact is a reset.
    pub(crate) const RESET: &str = "reset.";

    /// Plain number: how far the contact of a part with a state is closed, or the part on.
    pub fn state(part: &str, resets: bool) -> String {
        format!("{}{part}", if resets { RESET } else { STATE })
    }

    /// Whether a signal is that of a state.
    pub(crate) fn is_state(name: &str) -> bool {
        name.starts_with(STATE) || name.starts_with(RESET)
    }

    /// How the names of junction temperatures in K begin; the heat path follows.
    pub const JUNCTION: &str = "junction.";
    /// How the names of their rises above ambient in K begin.
    pub const RISE: &str = "junction_rise.";

    /// W into a heat path from its own parts.
    pub fn heat(path: &str) -> String {
        format!("heat.{path}")
    }

    /// V, a node that was asked for, relative to the rail's ground. No measurement reads it.
    pub const PROBE: &str = "probe";
}

/// The kinds of test that measurements know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TestKind {
    /// A steady state: a waveform of one sample.
    OperatingPoint,
    /// The load changes and comes back.
    LoadStep,
    /// The source changes and comes back.
    LineStep,
    /// Load and source follow given points, or nothing is driven.
    Profile,
    /// The source, or what enables the rail, comes up.
    StartUp,
    /// The source, or what enables the rail, goes down.
    PowerDown,
    /// Output against load, at rest.
    LoadRegulation,
    /// Output against source, at rest.
    LineRegulation,
    /// Output against a falling and a rising source, at rest.
    Dropout,
    /// Loop gain over frequency.
    LoopGain,
    /// Impedance at the output over frequency.
    OutputImpedance,
    /// Ripple of the input over ripple of the output, over frequency.
    RippleRejection,
    /// Noise at the output over frequency.
    Noise,
    /// Output forced down to a short and below, at rest.
    Overload,
    /// The output is shorted for a time.
    ShortCircuit,
    /// The load comes and goes until every period is like the one before.
    PulseTrain,
}

impl TestKind {
    /// Whether it is solved at rest, at several conditions.
    pub fn is_steady(self) -> bool {
        self != Self::OperatingPoint && !self.is_in_time()
    }

    /// Whether it runs through time.
    pub fn is_in_time(self) -> bool {
        matches!(
            self,
            Self::LoadStep
                | Self::LineStep
                | Self::Profile
                | Self::StartUp
                | Self::PowerDown
                | Self::ShortCircuit
                | Self::PulseTrain
        )
    }

    /// As written in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::OperatingPoint => "operating-point",
            Self::LoadStep => "load-step",
            Self::LineStep => "line-step",
            Self::Profile => "profile",
            Self::StartUp => "start-up",
            Self::PowerDown => "power-down",
            Self::LoadRegulation => "load-regulation",
            Self::LineRegulation => "line-regulation",
            Self::Dropout => "dropout",
            Self::LoopGain => "loop-gain",
            Self::OutputImpedance => "output-impedance",
            Self::RippleRejection => "ripple-rejection",
            Self::Noise => "noise",
            Self::Overload => "overload",
            Self::ShortCircuit => "short-circuit",
            Self::PulseTrain => "pulse-train",
        }
    }
}

/// One change of the driven level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// s, where the level begins to change.
    pub start_s: f64,
    /// s, where it has changed; equal to `start_s` for a jump.
    pub end_s: f64,
    /// Signed change of the driven level in its unit; of a load, positive means more load.
    pub change: f64,
}

/// What a dwell is called: by order, whichever way the level moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Ahead of the first edge.
    Before,
    /// After the first edge of each repetition.
    Loaded,
    /// After the second edge of each repetition.
    Released,
    /// The source and what enables the rail are there.
    Running,
    /// One of them is not.
    Unpowered,
}

impl Role {
    /// As in `loaded_level`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::Loaded => "loaded",
            Self::Released => "released",
            Self::Running => "running",
            Self::Unpowered => "unpowered",
        }
    }
}

/// A time during which the driven level holds still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dwell {
    /// From the end of one edge to the start of the next.
    pub window: Window,
    /// Its name.
    pub role: Role,
}

/// An absolute window for the output.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Bound {
    /// The file gives none.
    #[default]
    NotGiven,
    /// Switched off for this test.
    Off,
    /// V, relative to the rail's ground.
    Within {
        /// Lowest allowed.
        low_v: f64,
        /// Highest allowed.
        high_v: f64,
    },
}

/// What the file says of the rail, as far as measurements need it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct RailView {
    /// V
    pub nominal_v: Option<f64>,
    /// For settled levels.
    pub window: Bound,
    /// For every instant; [`Bound::NotGiven`] stands for the same as `window`.
    pub transient_window: Bound,
    /// Whether further supplies are named, so that `supply_current` must be there.
    pub has_supplies: bool,
    /// K
    pub ambient_k: Option<f64>,
    /// Whether the circuit has a heat path.
    pub has_heat: bool,
}

impl RailView {
    /// The window for every instant, with the default filled in.
    pub fn every_instant(&self) -> Bound {
        match self.transient_window {
            Bound::NotGiven => self.window,
            given => given,
        }
    }
}

/// One solved test, ready to be measured.
#[derive(Clone, Debug)]
pub struct Scene<'a> {
    /// Decides which measurements there are.
    pub kind: TestKind,
    /// Rail signals under the names of [`signal`].
    pub waveform: &'a Waveform,
    /// In time order.
    pub edges: Vec<Edge>,
    /// In time order; one more than edges in a step test.
    pub dwells: Vec<Dwell>,
    /// The rail.
    pub rail: RailView,
    /// Whether everything that the test does not drive holds still, so that a ripple that stays
    /// is the rail's own.
    pub inputs_hold: bool,
    /// What was found at each condition of a test that is solved at several.
    pub stations: &'a [Station],
    /// Names of the measurements that are asked for; all where it is `None`.
    pub watched: Option<&'a [String]>,
}

impl<'a> Scene<'a> {
    /// A signal by its fixed name, or why there is none.
    pub(super) fn signal(&self, name: &str) -> Result<&'a Signal, String> {
        self.waveform.signal(name).ok_or_else(|| {
            let missing = match name {
                signal::OUTPUT => "output",
                signal::INPUT => "input",
                signal::PASS_POWER => "pass",
                signal::PASS_CURRENT => {
                    return "no pass device of `[rail]` joins input and output".to_owned();
                }
                signal::SOURCE_CURRENT | signal::SOURCE_POWER => "source",
                signal::SUPPLY_CURRENT => "supplies",
                signal::LOAD_CURRENT | signal::LOAD_POWER => "load",
                other => return format!("there is no signal `{other}`"),
            };
            format!("`[rail]` names no `{missing}`")
        })
    }

    /// The whole record, or why there is none.
    pub(super) fn record(&self) -> Result<Window, String> {
        self.waveform.record().ok_or_else(|| "the record is empty".to_owned())
    }

    /// From the start of an edge to the start of the next, or to the end of the record.
    pub(super) fn after(&self, edge: &Edge) -> Result<Window, String> {
        let next = self.edges.iter().map(|e| e.start_s).find(|start| *start > edge.start_s);
        let end = self.record()?.to_s;
        Ok(Window::new(edge.start_s, next.unwrap_or(end).min(end)))
    }

    /// The dwell that starts where an edge ends.
    pub(super) fn dwell_behind(&self, edge: &Edge) -> Option<&Dwell> {
        let middle = |d: &Dwell| 0.5 * (d.window.from_s + d.window.to_s);
        self.dwells.iter().find(|d| middle(d) > edge.start_s)
    }

    /// The dwells in which a rail that is switched has its power.
    pub(super) fn running(&self) -> impl Iterator<Item = &Dwell> {
        self.dwells.iter().filter(|d| d.role == Role::Running)
    }

    /// Periods of a pulse train, each from the start of an edge to the start of the next but one.
    pub(super) fn periods(&self) -> Result<Vec<Window>, String> {
        let mut starts: Vec<f64> = self.edges.iter().step_by(2).map(|e| e.start_s).collect();
        starts.push(self.record()?.to_s);
        if starts.len() < 2 {
            return Err("the test has no period".to_owned());
        }
        Ok(starts.windows(2).map(|w| Window::new(w[0], w[1])).collect())
    }

    /// The window that averages are taken over: the last 10 % of the last loaded dwell (of a rail that
    /// is switched: of the last in which it has its power); of the whole record in a profile; the
    /// last period of a pulse train; the sample itself in an operating point.
    pub(super) fn loaded_tail(&self) -> Result<Window, String> {
        match self.kind {
            TestKind::OperatingPoint => self.record(),
            TestKind::Profile => Ok(self.record()?.last(TAIL)),
            TestKind::PulseTrain => {
                self.periods()?.pop().ok_or_else(|| "the test has no period".to_owned())
            }
            _ => self
                .dwells
                .iter()
                .rfind(|d| matches!(d.role, Role::Loaded | Role::Running))
                .map(|d| d.window.last(TAIL))
                .ok_or_else(|| "the test has no loaded dwell".to_owned()),
        }
    }
}

/// Share of a dwell, at its end, over which its level is averaged.
pub(super) const TAIL: f64 = 0.1;
