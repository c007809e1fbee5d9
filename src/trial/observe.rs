//! Reads the quantities people ask for off a transient's record: rail signals for measurements,
//! columns for the CSV.

use super::reads::Reads;
use super::short::CONTACT;
use crate::analysis::{Record, Recorded, Stepper};
use crate::circuit::RailFigures;
use crate::device::Role;
use crate::measure::definition;
use crate::measure::scene::signal;
use crate::quantity::ZERO_CELSIUS_K;
use crate::system::{Observation, Quantity, System};
use crate::waveform::{Signal, Waveform};

/// A sum of quantities with factors.
type Sum = Vec<(f64, Quantity)>;

/// A sum with its name.
pub(super) struct Reading {
    pub(super) name: String,
    pub(super) unit: &'static str,
    pub(super) sum: Sum,
    /// Added to the sum.
    pub(super) offset: f64,
}

/// A column of the CSV.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// `vout`, `I_RADIO.current`.
    pub name: String,
    /// `V`, `A`, `W`.
    pub unit: &'static str,
    /// One value a row.
    pub values: Vec<f64>,
}

/// Above so many columns a table keeps those that belong to sources, loads and parts with a law of their own:
/// of a network of 20,000 nodes all would take hundreds of megabytes, over as many columns as nobody reads.
const MOST_COLUMNS: usize = 2_000;

/// Knows which quantities of a system are the rail's.
pub struct Observer<'a> {
    pub(super) system: &'a System,
    rail: Option<&'a RailFigures>,
    load: Option<usize>,
    source: Option<usize>,
    capacitors: Vec<Watched>,
    /// Part and terminal where pass devices deliver to the output.
    through: Vec<(usize, usize)>,
    pub(super) reads: Reads,
    probe: Option<&'a str>,
    watched: Option<&'a [String]>,
}

/// A capacitor whose voltage and current are looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Watched {
    /// Its name.
    pub name: String,
    /// Which part of the system it is.
    pub part: usize,
    /// The unknowns at its ends.
    pub ends: [usize; 2],
    /// V that it may see, where that is judged.
    pub allowed_v: Option<f64>,
}

impl<'a> Observer<'a> {
    /// `load` and `source` are the parts that the test drives, by name.
    pub fn new(
        system: &'a System,
        rail: Option<&'a RailFigures>,
        (load, source): (Option<&str>, Option<&str>),
        capacitors: Vec<Watched>,
        reads: Reads,
    ) -> Self {
        let find = |name: Option<&str>| name.and_then(|n| part_named(system, n));
        let (load, source) = (find(load), find(source));
        let (through, probe, watched) = (Vec::new(), None, None);
        Self { system, rail, load, source, capacitors, through, reads, probe, watched }
    }

    /// The same, with a node that is recorded besides the rail's signals.
    #[must_use]
    pub fn with_probe(self, probe: Option<&'a str>) -> Self {
        Self { probe, ..self }
    }

    /// The same, with the current that pass devices deliver to the output by these terminals.
    #[must_use]
    pub fn through(self, terminals: &[(String, usize)]) -> Self {
        let place =
            |(name, terminal): &(String, usize)| Some((part_named(self.system, name)?, *terminal));
        let through = terminals.iter().filter_map(place).collect();
        Self { through, ..self }
    }

    /// The same, with what these measurements read alone; `None`: all.
    #[must_use]
    pub fn watching(self, watched: Option<&'a [String]>) -> Self {
        Self { watched, ..self }
    }

    /// Whether one of the watched measurements reads a signal.
    fn is_read(&self, signal: &str) -> bool {
        let Some(watched) = self.watched else { return true };
        let any = |reads: &dyn Fn(&str) -> bool| watched.iter().any(|name| reads(name));
        let voltages = |name: &str| definition(name).is_some_and(|d| ["V", "s"].contains(&d.unit));
        let is_stress = |name: &str| name == "capacitor_stress";
        let is_pass_power = |name: &str| name.starts_with("pass_power");
        let is_junction = |name: &str| name.starts_with("junction_");
        match signal {
            heat if heat.starts_with(signal::JUNCTION) || heat.starts_with(signal::RISE) => {
                any(&is_junction)
            }

            signal::OUTPUT | signal::INPUT | signal::PROBE => true,
            state if signal::is_state(state) => {
                any(&|name| ["trips", "reset_time"].contains(&name))
            }
            stress if stress.starts_with(signal::STRESS) => any(&is_stress),
            signal::PASS_POWER => {
                any(&|name| !voltages(name) && !is_stress(name) && !is_junction(name))
            }
            _ => any(&|name| {
                !voltages(name) && !is_stress(name) && !is_pass_power(name) && !is_junction(name)
            }),
        }
    }

    /// The rail's signals at one point at rest.
    pub fn at_rest(&self, z: &[f64]) -> Waveform {
        let seen = self.system.observe(z, &vec![0.0; z.len()]);
        let signal = |reading: Reading| {
            let value = self.read(&seen, &reading);
            Signal {
                name: reading.name,
                unit: reading.unit,
                values: vec![value],
                bends: Vec::new(),
            }
        };
        let signals = self.rail_readings().into_iter().map(signal).collect();
        Waveform { time_s: vec![0.0], signals }
    }

    /// All columns of the CSV, at every point of the record and, if `extra_s` is not empty, at
    /// those times too.
    pub fn columns(
        &self,
        record: &Record,
        stepper: &mut Stepper,
        extra_s: &[f64],
    ) -> (Vec<f64>, Vec<Column>) {
        let (readings, _) = self.told_readings();
        let mut times = Vec::new();
        let mut columns: Vec<Column> = readings
            .iter()
            .map(|r| Column { name: r.name.clone(), unit: r.unit, values: Vec::new() })
            .collect();
        let mut inside = vec![0.0; self.system.unknowns.len()];
        let mut extra = extra_s.iter().copied().peekable();
        for k in 0..record.len() {
            let t = record.times_s()[k];
            while let Some(at) = extra.next_if(|&at| at <= t) {
                if k == 0 || at == t || at <= record.times_s()[k - 1] {
                    continue;
                }
                let t0 = record.times_s()[k - 1];
                record.between(k - 1, (at - t0) / (t - t0), &mut inside);
                let pieces = record.pieces_after(k - 1);
                let seen = self.look(Recorded { t: at, x: &inside, pieces }, stepper);
                self.row(&seen, &readings, at, &mut times, &mut columns);
            }
            let seen = self.look(record.point(k), stepper);
            self.row(&seen, &readings, t, &mut times, &mut columns);
        }
        (times, columns)
    }

    fn row(
        &self,
        seen: &Observation,
        readings: &[Reading],
        t: f64,
        times: &mut Vec<f64>,
        columns: &mut [Column],
    ) {
        times.push(t);
        for (reading, column) in readings.iter().zip(columns) {
            column.values.push(self.read(seen, reading));
        }
    }

    fn look(&self, at: Recorded<'_>, stepper: &mut Stepper) -> Observation {
        let rates = stepper.rates(self.system, at.pieces, at.t, at.x);
        self.seen(at, &rates)
    }

    /// What is seen at a point with these rates of its unknowns, in 1/s.
    fn seen(&self, at: Recorded<'_>, rates: &[f64]) -> Observation {
        let mut z = vec![0.0; self.system.extent()];
        z[..at.x.len()].copy_from_slice(at.x);
        self.system.set_time(at.pieces, at.t, &mut z);
        self.system.observe(&z, rates)
    }

    fn read(&self, seen: &Observation, reading: &Reading) -> f64 {
        let terms = reading.sum.iter();
        let sum: f64 =
            terms.map(|&(factor, quantity)| factor * self.system.read(seen, quantity)).sum();
        // A zero keeps its sign where nothing is added.
        if reading.offset == 0.0 { sum } else { sum + reading.offset }
    }

    pub(super) fn rail_readings(&self) -> Vec<Reading> {
        let mut found = Vec::new();
        let mut add = |name: &str, unit: &'static str, sum: Option<Sum>| {
            if let Some(sum) = sum.filter(|s| !s.is_empty()) {
                found.push(Reading { name: name.to_owned(), unit, sum, offset: 0.0 });
            }
        };
        let delivered = |part: usize| vec![(-1.0, Quantity::Power(part))];
        if let Some(rail) = self.rail {
            add(signal::OUTPUT, "V", self.voltage(rail.output.as_deref(), &rail.ground));
            add(signal::INPUT, "V", self.voltage(rail.input.as_deref(), &rail.ground));
            let parts = |names: &[String]| -> Vec<usize> {
                names.iter().filter_map(|n| part_named(self.system, n)).collect()
            };
            let pass: Sum = parts(&rail.pass).iter().map(|&p| (1.0, Quantity::Power(p))).collect();
            add(signal::PASS_POWER, "W", Some(pass));
            let supplies = parts(&rail.supplies);
            let currents = supplies.iter().map(|&p| (-1.0, Quantity::Current(p, 0))).collect();
            add(signal::SUPPLY_CURRENT, "A", Some(currents));
            let all = self.source.iter().chain(&supplies).flat_map(|&p| delivered(p)).collect();
            add(signal::SOURCE_POWER, "W", self.source.map(|_| all));
        }
        let ground = self.rail.map_or("gnd", |rail| rail.ground.as_str());
        add(signal::PROBE, "V", self.voltage(self.probe, ground));
        for placed in &self.system.trips {
            let name = signal::state(&self.system.parts[placed.part].name, placed.trip.resets);
            add(&name, "1", Some(vec![(1.0, Quantity::Drive(placed.drive))]));
        }
        if self.reads == Reads::Voltages {
            let voltages = [signal::OUTPUT, signal::INPUT, signal::PROBE];
            let cheap = |name: &str| voltages.contains(&name) || signal::is_state(name);
            found.retain(|reading| cheap(&reading.name) && self.is_read(&reading.name));
            return found;
        }
        let into = |part: usize, sign: f64| vec![(sign, Quantity::Current(part, 0))];
        add(signal::SOURCE_CURRENT, "A", self.source.map(|p| into(p, -1.0)));
        let out_of = |&(part, terminal): &(usize, usize)| (-1.0, Quantity::Current(part, terminal));
        add(signal::PASS_CURRENT, "A", Some(self.through.iter().map(out_of).collect()));
        add(signal::LOAD_CURRENT, "A", self.load.map(|p| into(p, 1.0)));
        let short = part_named(self.system, CONTACT);
        add(signal::SHORT_CURRENT, "A", short.map(|p| into(p, 1.0)));
        add(signal::LOAD_POWER, "W", self.load.map(|p| vec![(1.0, Quantity::Power(p))]));
        for watched in &self.capacitors {
            self.add_capacitor(watched, &mut add);
        }
        found.extend(self.heat_readings());
        found.retain(|reading| self.is_read(&reading.name));
        found
    }

    /// The output of the one amplifier that steers the pass device: its node, and the current it drives.
    pub(super) fn steering_readings(&self) -> Vec<Reading> {
        let amplifier = self.rail.and_then(|rail| match rail.amplifier.as_slice() {
            [only] => part_named(self.system, only),
            _ => None,
        });
        let Some(part) = amplifier else { return Vec::new() };
        let here = &self.system.parts[part];
        let Some(output) = here.terminals.iter().position(|terminal| *terminal == "output") else {
            return Vec::new();
        };
        let reading = |name: String, unit, quantity| Reading {
            name,
            unit,
            sum: vec![(1.0, quantity)],
            offset: 0.0,
        };
        let node = here.pins[output];
        vec![
            reading(self.system.unknowns[node].name.clone(), "V", Quantity::Unknown(node)),
            reading(format!("{}.output_current", here.name), "A", Quantity::Current(part, output)),
        ]
    }

    /// Each junction in K and its rise, and what its parts put in.
    fn heat_readings(&self) -> Vec<Reading> {
        let mut found = Vec::new();
        for path in &self.system.heat_paths {
            let name = &self.system.parts[path.part].name;
            let own = |name: String, offset| Reading {
                name,
                unit: "K",
                sum: vec![(1.0, Quantity::Unknown(path.junction))],
                offset,
            };
            found.push(own(format!("{}{name}", signal::JUNCTION), path.ambient_k));
            found.push(own(format!("{}{name}", signal::RISE), 0.0));
            if self.reads == Reads::Everything {
                let parts = path.heated.iter().filter_map(|part| part_named(self.system, part));
                let sum = parts.map(|part| (1.0, Quantity::Power(part))).collect();
                found.push(Reading { name: signal::heat(name), unit: "W", sum, offset: 0.0 });
            }
        }
        found
    }

    /// What a capacitor bears, as a share where that is judged; and for the listing of capacitors.
    fn add_capacitor(
        &self,
        watched: &Watched,
        add: &mut impl FnMut(&str, &'static str, Option<Sum>),
    ) {
        let [plus, minus] = watched.ends;
        let across = |factor: f64| {
            vec![(factor, Quantity::Unknown(plus)), (-factor, Quantity::Unknown(minus))]
        };
        let share = watched.allowed_v.map(|allowed_v| across(1.0 / allowed_v));
        add(&signal::stress(&watched.name), "1", share);
        if self.reads == Reads::Everything {
            add(&signal::capacitor_voltage(&watched.name), "V", Some(across(1.0)));
            let current = vec![(1.0, Quantity::Current(watched.part, 0))];
            add(&signal::capacitor_current(&watched.name), "A", Some(current));
        }
    }

    fn voltage(&self, node: Option<&str>, ground: &str) -> Option<Sum> {
        let find = |name: &str| {
            if name == "gnd" {
                Some(0)
            } else {
                self.system.unknowns.iter().position(|u| u.name == name)
            }
        };
        let (node, ground) = (find(node?)?, find(ground)?);
        Some(vec![(1.0, Quantity::Unknown(node)), (-1.0, Quantity::Unknown(ground))])
    }

    /// What the table leaves out, in words.
    pub(super) fn left_out(&self) -> Option<String> {
        let (told, all) = self.told_readings();
        (told.len() < all).then(|| {
            format!(
                "the table keeps {} of {all} columns: sources, loads, parts with a law of their own, and their nodes",
                told.len()
            )
        })
    }

    /// The columns of the table, and how many there are of all.
    fn told_readings(&self) -> (Vec<Reading>, usize) {
        let mut readings = self.all_readings();
        let all = readings.len();
        if all <= MOST_COLUMNS {
            return (readings, all);
        }
        let parts = &self.system.parts;
        let mut is_told: Vec<bool> = parts.iter().map(|part| part.drive.is_some()).collect();
        self.system.parts_with_laws().for_each(|part| is_told[part] = true);
        let mut is_beside = vec![false; self.system.unknowns.len()];
        for (part, _) in parts.iter().zip(&is_told).filter(|(_, told)| **told) {
            part.pins.iter().for_each(|&pin| is_beside[pin] = true);
        }
        readings.retain(|reading| match reading.sum.first() {
            Some((_, Quantity::Unknown(k))) => {
                is_beside[*k] || self.system.unknowns[*k].role != Role::Node
            }
            Some((_, Quantity::Current(part, _))) => is_told[*part],
            _ => true,
        });
        (readings, all)
    }

    /// Node voltages and junctions; currents into all terminals; power of pass devices, load and
    /// source; states.
    fn all_readings(&self) -> Vec<Reading> {
        let mut found = Vec::new();
        for (k, entry) in self.system.unknowns.iter().enumerate() {
            if entry.role == Role::Node {
                let sum = vec![(1.0, Quantity::Unknown(k))];
                found.push(Reading { name: entry.name.clone(), unit: "V", sum, offset: 0.0 });
            }
        }
        for path in &self.system.heat_paths {
            let name = self.system.unknowns[path.junction].name.clone();
            let sum = vec![(1.0, Quantity::Unknown(path.junction))];
            found.push(Reading { name, unit: "°C", sum, offset: path.ambient_k - ZERO_CELSIUS_K });
        }
        for (p, part) in self.system.parts.iter().enumerate() {
            let two_ended = part.terminals.len() == 2;
            for (t, terminal) in
                part.terminals.iter().enumerate().take(if two_ended { 1 } else { usize::MAX })
            {
                let what =
                    if two_ended { "current".to_owned() } else { format!("{terminal}_current") };
                let name = format!("{}.{what}", part.name);
                let sum = vec![(1.0, Quantity::Current(p, t))];
                found.push(Reading { name, unit: "A", sum, offset: 0.0 });
            }
        }
        for (p, part) in self.system.parts.iter().enumerate() {
            let is_pass = self.rail.is_some_and(|r| r.pass.contains(&part.name));
            if is_pass || self.load == Some(p) || self.source == Some(p) {
                let name = format!("{}.power", part.name);
                let sum = vec![(1.0, Quantity::Power(p))];
                found.push(Reading { name, unit: "W", sum, offset: 0.0 });
            }
        }
        for placed in &self.system.trips {
            let name = format!("{}.{}", self.system.parts[placed.part].name, placed.trip.column);
            let sum = vec![(1.0, Quantity::Drive(placed.drive))];
            found.push(Reading { name, unit: "1", sum, offset: 0.0 });
        }
        found
    }
}

fn part_named(system: &System, name: &str) -> Option<usize> {
    system.parts.iter().position(|p| p.name == name)
}
