//! What parts become before equations are assembled: unknowns and a few primitive elements.
//!
//! A part lays itself out as conductances, capacitances, branches, sources and nonlinear laws
//! between pins. The system layer reads these and nothing else of a part.

use super::{Drive, Noise, NoisePlace, NoiseSource, Nonlinear, PlacedTrip, Trip};
use std::collections::BTreeMap;

/// The unknown of the reference node, whose voltage is zero.
pub const GROUND: usize = 0;

/// A place where a current can enter: an unknown node voltage, and which terminal of the part it
/// is, so that terminal currents can be told even where two terminals share a node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pin {
    /// Index into [`Net::unknowns`]; [`GROUND`] is the reference node.
    pub unknown: usize,
    /// Which terminal of its part, or `None` for a node inside the part.
    pub terminal: Option<usize>,
}

/// What an unknown stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The reference node; always zero.
    Ground,
    /// Voltage of a node the user named.
    Node,
    /// Voltage of a node inside a part.
    InnerNode,
    /// Current of a branch with inductance.
    InductorCurrent,
    /// Current of a branch without inductance.
    SourceCurrent,
    /// K above ambient of a place on a heat path.
    Temperature,
}

impl Role {
    /// Whether it is a node's voltage.
    pub fn is_voltage(self) -> bool {
        matches!(self, Self::Node | Self::InnerNode)
    }
}

/// Where a voltage is when a circuit does what it is for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// From the first unknown to the second.
    pub between: [usize; 2],
    /// V, not zero.
    pub volt: f64,
}

/// One unknown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownEntry {
    /// `vout`, `Q1.inner_drain`, `BT1.current`.
    pub name: String,
    /// What it stands for.
    pub role: Role,
    /// The part that brought it, if any.
    pub part: Option<usize>,
}

/// A part as laid out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartEntry {
    /// `Q1`, or `U1.R2` inside a block.
    pub name: String,
    /// Names of its terminals, in order.
    pub terminals: Vec<&'static str>,
    /// The unknown at each terminal.
    pub pins: Vec<usize>,
    /// Its branch current's unknown, if it has one that others may sense.
    pub branch: Option<usize>,
    /// The drive that sets its level, if it has one.
    pub drive: Option<usize>,
}

/// What an input of a law reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// Voltage from the first unknown to the second.
    Between(usize, usize),
    /// The level of a drive.
    Drive(usize),
    /// Time since the start of the record in s.
    Time,
}

/// What a branch voltage or a controlled current follows, with a factor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Control {
    /// Voltage from the first unknown to the second.
    Voltage(usize, usize),
    /// The current that is this unknown.
    Current(usize),
}

/// A primitive element.
#[derive(Clone, Debug)]
pub enum Element {
    /// i = g·v from the first pin to the second.
    Conductance {
        /// Ends.
        pins: [Pin; 2],
        /// S
        siemens: f64,
    },
    /// q = C·v on the first pin, its opposite on the second.
    Capacitance {
        /// Ends.
        pins: [Pin; 2],
        /// F
        farad: f64,
        /// Voltage across it at t = 0 when a test starts from initial values.
        initial_v: Option<f64>,
    },
    /// v(first) − v(second) = R·i + L·di/dt + drive + Σ gain·control, with i an unknown.
    Branch {
        /// Ends; i flows from the first through the branch into the second.
        pins: [Pin; 2],
        /// The unknown that is its current.
        current: usize,
        /// Ω
        resistance_ohm: f64,
        /// H; zero for a source.
        inductance_h: f64,
        /// Current at t = 0 when a test starts from initial values.
        initial_a: Option<f64>,
        /// A drive that adds to its voltage, in V.
        drive: Option<usize>,
        /// A voltage that follows another quantity.
        control: Option<(Control, f64)>,
    },
    /// M·di/dt of each branch current in the voltage of the other branch.
    Mutual {
        /// The unknowns that are their currents.
        currents: [usize; 2],
        /// M in H; its square is below the product of their inductances.
        henry: f64,
    },
    /// i = gain·control from the first pin to the second.
    Transfer {
        /// Ends.
        pins: [Pin; 2],
        /// What it follows.
        control: Control,
        /// S or A/A.
        gain: f64,
    },
    /// i = drive, taken out of the first pin's node and delivered into the second's.
    Source {
        /// Ends.
        pins: [Pin; 2],
        /// The drive, in A.
        drive: usize,
    },
    /// A nonlinear law.
    Law {
        /// The law; boxed, for a large net is resistors and capacitors, which would all be as long as it.
        law: Box<Nonlinear>,
        /// What each input reads.
        inputs: Vec<Input>,
        /// Ends of each current.
        currents: Vec<[Pin; 2]>,
        /// Ends of each charge.
        charges: Vec<[Pin; 2]>,
        /// Its first charge in C at t = 0 when a test starts from initial values.
        initial_c: Option<f64>,
    },
    /// v(first) − v(second) = the law's only output, with the branch current an unknown.
    LawVoltage {
        /// Ends.
        pins: [Pin; 2],
        /// The unknown that is its current.
        current: usize,
        /// The law; its first current is read as a voltage.
        law: Box<Nonlinear>,
        /// What each input reads.
        inputs: Vec<Input>,
    },
}

/// A wire that was cut and bridged by a source of zero volts, so that signals can be put into it:
/// nothing else changes. The bridge's current flows from `entry` to `exit`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Break {
    /// The unknown at the terminal.
    pub entry: usize,
    /// The unknown of the node that the terminal was wired to.
    pub exit: usize,
    /// The unknown that is the bridge's current.
    pub current: usize,
}

/// A heat path as laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatPath {
    /// Which part it is.
    pub part: usize,
    /// The unknown of its junction's rise above ambient in K.
    pub junction: usize,
    /// K where the rise is zero.
    pub ambient_k: f64,
    /// Highest junction temperature allowed in K, if given.
    pub rated_k: Option<f64>,
    /// K/W from the junction to ambient, the sink's included.
    pub resistance_k_per_w: f64,
    /// Names of the parts that heat it.
    pub heated: Vec<String>,
    /// The heat path in which it ends, among [`Net::heat_paths`].
    pub sink: Option<usize>,
    /// K at which the junction is held, if it is.
    pub held_k: Option<f64>,
    /// Rise of the junction in K for a start from initial values.
    pub initial_rise_k: Option<f64>,
}

/// All parts laid out.
#[derive(Clone, Debug)]
pub struct Net {
    /// Unknowns; index 0 is ground.
    pub unknowns: Vec<UnknownEntry>,
    /// Parts in the order laid.
    pub parts: Vec<PartEntry>,
    /// Elements, each with the index of its part.
    pub elements: Vec<(usize, Element)>,
    /// Time functions that sources and loads follow.
    pub drives: Vec<Drive>,
    /// Heat paths in the order laid, sinks before what ends in them.
    pub heat_paths: Vec<HeatPath>,
    /// Noise that depends on no voltage or current, each with the index of its part; laws bring
    /// theirs themselves.
    pub noise: Vec<(usize, NoiseSource)>,
    /// States with hysteresis.
    pub trips: Vec<PlacedTrip>,
    /// Which of several rests is looked for first, if anything says so.
    pub wanted: Option<Wanted>,
    nodes: BTreeMap<String, usize>,
}

impl Default for Net {
    fn default() -> Self {
        Self::new()
    }
}

impl Net {
    /// Only the reference node `gnd`.
    pub fn new() -> Self {
        let ground = UnknownEntry { name: "gnd".to_owned(), role: Role::Ground, part: None };
        Self {
            unknowns: vec![ground],
            parts: Vec::new(),
            elements: Vec::new(),
            drives: Vec::new(),
            heat_paths: Vec::new(),
            noise: Vec::new(),
            trips: Vec::new(),
            wanted: None,
            nodes: BTreeMap::from([("gnd".to_owned(), GROUND)]),
        }
    }

    /// The unknown of a node the user named; made when new.
    pub fn node(&mut self, name: &str) -> usize {
        if let Some(&known) = self.nodes.get(name) {
            return known;
        }
        self.unknowns.push(UnknownEntry { name: name.to_owned(), role: Role::Node, part: None });
        let unknown = self.unknowns.len() - 1;
        self.nodes.insert(name.to_owned(), unknown);
        unknown
    }

    /// The unknown of a node the user named, if any part touches it.
    pub fn find_node(&self, name: &str) -> Option<usize> {
        self.nodes.get(name).copied()
    }

    /// The index of a part by its name.
    pub fn find_part(&self, name: &str) -> Option<usize> {
        self.parts.iter().position(|p| p.name == name)
    }

    /// Opens a part; what is laid next belongs to it. Gives its pins, one a terminal.
    pub fn begin_part(
        &mut self,
        name: &str,
        terminals: &[&'static str],
        nodes: &[&str],
    ) -> Vec<Pin> {
        let unknowns: Vec<usize> = nodes.iter().map(|n| self.node(n)).collect();
        self.parts.push(PartEntry {
            name: name.to_owned(),
            terminals: terminals.to_vec(),
            pins: unknowns.clone(),
            branch: None,
            drive: None,
        });
        let pin = |(k, unknown)| Pin { unknown, terminal: Some(k) };
        unknowns.into_iter().enumerate().map(pin).collect()
    }

    fn part(&self) -> usize {
        self.parts.len().saturating_sub(1)
    }

    pub(super) fn unknown(&mut self, name: &str, role: Role) -> usize {
        let part = self.part();
        let owner = self.parts.get(part).map_or("", |p| p.name.as_str());
        self.unknowns.push(UnknownEntry {
            name: format!("{owner}.{name}"),
            role,
            part: Some(part),
        });
        self.unknowns.len() - 1
    }

    /// A node inside the open part.
    pub fn inner(&mut self, name: &str) -> Pin {
        Pin { unknown: self.unknown(name, Role::InnerNode), terminal: None }
    }

    /// A place on the heat path that is open; gives its unknown.
    pub fn temperature(&mut self, name: &str) -> usize {
        self.unknown(name, Role::Temperature)
    }

    /// Which heat path is called so.
    pub fn heat_path(&self, name: &str) -> Option<usize> {
        let part = self.find_part(name)?;
        self.heat_paths.iter().position(|path| path.part == part)
    }

    /// The heat path that a part heats.
    pub fn heat_path_of(&self, part: &str) -> Option<&HeatPath> {
        self.heat_paths.iter().find(|path| path.heated.iter().any(|name| name == part))
    }

    /// A time function; the open part's level if it is its first.
    pub fn drive(&mut self, drive: Drive) -> usize {
        self.drives.push(drive);
        let index = self.drives.len() - 1;
        if let Some(part) = self.parts.last_mut() {
            part.drive.get_or_insert(index);
        }
        index
    }

    /// A state of the open part, low to begin with; gives the drive that follows it.
    pub fn trip(&mut self, trip: Trip) -> usize {
        let (part, drive) = (self.part(), self.drives.len());
        self.drives.push(Drive::constant(trip.level(false)));
        self.trips.push(PlacedTrip { part, drive, trip });
        drive
    }

    pub(super) fn push(&mut self, element: Element) {
        self.elements.push((self.part(), element));
    }

    /// Noise of the open part; nothing is noted when there is none.
    pub fn noise(&mut self, place: NoisePlace, noise: Noise<f64>) {
        if noise.is_some() {
            self.noise.push((self.part(), NoiseSource { place, noise }));
        }
    }

    /// A resistor in Ω, with the thermal noise of its temperature.
    pub fn resistor(&mut self, pins: [Pin; 2], ohm: f64, temperature_k: f64) {
        self.conductance(pins, 1.0 / ohm);
        self.noise(NoisePlace::Between(pins), Noise::thermal(1.0 / ohm, temperature_k));
    }

    /// A resistor in Ω, with the thermal noise of its temperature, from `from` to a new inner node,
    /// or `from` itself when it is zero.
    pub fn series_resistor(&mut self, from: Pin, ohm: f64, temperature_k: f64, inner: &str) -> Pin {
        let to = self.series_resistance(from, ohm, inner);
        if ohm != 0.0 {
            self.noise(NoisePlace::Between([from, to]), Noise::thermal(1.0 / ohm, temperature_k));
        }
        to
    }

    /// A conductance in S, which makes no noise.
    pub fn conductance(&mut self, pins: [Pin; 2], siemens: f64) {
        self.push(Element::Conductance { pins, siemens });
    }

    /// A resistance in Ω, which makes no noise, from `from` to a new inner node, or `from` itself
    /// when it is zero.
    pub fn series_resistance(&mut self, from: Pin, ohm: f64, inner: &str) -> Pin {
        if ohm == 0.0 {
            return from;
        }
        let to = self.inner(inner);
        self.conductance([from, to], 1.0 / ohm);
        to
    }

    /// A capacitance in F; nothing is laid when it is zero.
    pub fn capacitance(&mut self, pins: [Pin; 2], farad: f64, initial_v: Option<f64>) {
        if farad != 0.0 {
            self.push(Element::Capacitance { pins, farad, initial_v });
        }
    }

    /// A controlled current.
    pub fn transfer(&mut self, pins: [Pin; 2], control: Control, gain: f64) {
        self.push(Element::Transfer { pins, control, gain });
    }

    /// A current that follows a drive.
    pub fn source(&mut self, pins: [Pin; 2], drive: usize) {
        self.push(Element::Source { pins, drive });
    }

    /// A nonlinear law.
    pub fn law(
        &mut self,
        law: impl Into<Nonlinear>,
        inputs: &[Input],
        currents: &[[Pin; 2]],
        charges: &[[Pin; 2]],
    ) {
        self.push(Element::Law {
            law: Box::new(law.into()),
            inputs: inputs.to_vec(),
            currents: currents.to_vec(),
            charges: charges.to_vec(),
            initial_c: None,
        });
    }

    /// A charge that follows a voltage by a nonlinear law, with what it is at t = 0 for a start from
    /// initial values.
    pub fn charge(
        &mut self,
        pins: [Pin; 2],
        law: impl Into<Nonlinear>,
        input: Input,
        initial_c: Option<f64>,
    ) {
        self.push(Element::Law {
            law: Box::new(law.into()),
            inputs: vec![input],
            currents: Vec::new(),
            charges: vec![pins],
            initial_c,
        });
    }

    /// Bridges two nodes by a source of zero volts.
    pub fn bridge(&mut self, entry: &str, exit: &str) -> Break {
        let pins = self.begin_part("bridge", &["entry", "exit"], &[entry, exit]);
        let current = self.branch([pins[0], pins[1]], 0.0, 0.0).current;
        Break { entry: pins[0].unknown, exit: pins[1].unknown, current }
    }

    /// A voltage that follows a nonlinear law.
    pub fn law_voltage(&mut self, pins: [Pin; 2], law: impl Into<Nonlinear>, inputs: &[Input]) {
        let current = self.unknown("current", Role::SourceCurrent);
        if let Some(part) = self.parts.last_mut() {
            part.branch.get_or_insert(current);
        }
        self.push(Element::LawVoltage {
            pins,
            current,
            law: Box::new(law.into()),
            inputs: inputs.to_vec(),
        });
    }
}
