//! Reads the quantities people ask for off a transient's record: rail signals for measurements,
//! columns for the CSV.

use super::run::Reads;
use super::short::CONTACT;
use crate::analysis::{Record, Recorded, Stepper};
use crate::circuit::RailFigures;
use crate::device::Role;
use crate::measure::definition;
use crate::measure::scene::signal;
use crate::system::{Observation, Pieces, Quantity, System};
use crate::waveform::{Signal, Waveform};

/// A sum of quantities with factors.
type Sum = Vec<(f64, Quantity)>;

/// A product of two sums; one alone when the second is `None`.
struct Reading {
    name: String,
    unit: &'static str,
    sum: Sum,
    /// Added to the sum.
    offset: f64,
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

/// Knows which quantities of a system are the rail's.
pub struct Observer<'a> {
    system: &'a System,
    rail: Option<&'a RailFigures>,
    load: Option<usize>,
    source: Option<usize>,
    capacitors: Vec<Watched>,
    /// Part and terminal where pass devices deliver to the output.
    through: Vec<(usize, usize)>,
    reads: Reads,
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

/// 0 °C in K.
const ZERO_CELSIUS_K: f64 = 273.15;

/// Where between two points of a record an observed quantity is read, to bend its curve.
const INSIDE: [f64; 2] = [1.0 / 3.0, 2.0 / 3.0];

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

    /// The rail's signals over a record, under the names that measurements read.
    pub fn waveform(&self, record: &Record, stepper: &mut Stepper) -> Waveform {
        self.waveform_again(record, stepper, &Waveform::default())
    }

    /// The same over a record that has got further points since `known` was read off it: only
    /// these and the stretches beside them are looked at.
    pub fn waveform_again(
        &self,
        record: &Record,
        stepper: &mut Stepper,
        known: &Waveform,
    ) -> Waveform {
        let readings = self.rail_readings();
        let times = record.times_s();
        let known_as = places_of(times, &known.time_s);
        let mut values = vec![Vec::with_capacity(times.len()); readings.len()];
        let mut bends = vec![Vec::with_capacity(times.len()); readings.len()];
        for (k, place) in known_as.iter().enumerate() {
            let seen = match place {
                None if known.time_s.is_empty() => Some(self.first_glance(record, k, stepper)),
                None => Some(self.glance(record.point(k), stepper)),
                Some(_) => None,
            };
            for (r, (reading, values)) in readings.iter().zip(&mut values).enumerate() {
                let value = seen.as_ref().map(|seen| self.read(seen, reading));
                values
                    .push(value.or(place.map(|j| known.signals[r].values[j])).unwrap_or(f64::NAN));
            }
        }
        let mut inside = vec![0.0; self.system.unknowns.len()];
        for k in 0..times.len().saturating_sub(1) {
            let (t0, t1) = (times[k], times[k + 1]);
            if t0 == t1 {
                bends.iter_mut().for_each(|b| b.push([0.0; 2]));
                continue;
            }
            if let (Some(j), Some(next)) = (known_as[k], known_as[k + 1])
                && next == j + 1
            {
                bends.iter_mut().zip(&known.signals).for_each(|(b, s)| b.push(s.bends[j]));
                continue;
            }
            let pieces = record.pieces_after(k);
            let seen = INSIDE.map(|theta| {
                record.between(k, theta, &mut inside);
                let at = Recorded { t: t0 + theta * (t1 - t0), x: &inside, pieces };
                match self.reads {
                    Reads::Slopes => self.by_slopes(record, (k, theta), at),
                    _ => self.glance(at, stepper),
                }
            });
            for ((reading, values), bends) in readings.iter().zip(&values).zip(&mut bends) {
                let inner = [self.read(&seen[0], reading), self.read(&seen[1], reading)];
                bends.push(bend(values[k], values[k + 1], inner));
            }
        }
        let signals = readings.into_iter().zip(values.into_iter().zip(bends));
        let signals = signals.map(|(reading, (values, bends))| Signal {
            name: reading.name,
            unit: reading.unit,
            values,
            bends,
        });
        Waveform { time_s: times.to_vec(), signals: signals.collect() }
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
        let readings = self.all_readings();
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

    /// A look at point `k` of a record that nothing was read off yet.
    fn first_glance(&self, record: &Record, k: usize, stepper: &mut Stepper) -> Observation {
        let times = record.times_s();
        let rises = |k: usize| times.get(k + 1).is_some_and(|next| *next > times[k]);
        let stretch = match k.checked_sub(1) {
            Some(before) if rises(before) => Some((before, 1.0)),
            _ if rises(k) => Some((k, 0.0)),
            _ => None,
        };
        match stretch.filter(|_| self.reads == Reads::Slopes) {
            Some(stretch) => self.by_slopes(record, stretch, record.point(k)),
            None => self.glance(record.point(k), stepper),
        }
    }

    /// What is seen at a share of the way through a stretch of a record, rates by the curve there.
    fn by_slopes(
        &self,
        record: &Record,
        (k, theta): (usize, f64),
        at: Recorded<'_>,
    ) -> Observation {
        let times = record.times_s();
        let mut rates = vec![0.0; self.system.extent()];
        for (u, rate) in rates.iter_mut().enumerate().take(at.x.len()) {
            *rate = record.slope(k, theta, u) / (times[k + 1] - times[k]);
        }
        self.system.set_slopes(at.pieces, at.t, &mut rates);
        self.seen(at, &rates)
    }

    /// A look at the rail alone.
    fn glance(&self, at: Recorded<'_>, stepper: &mut Stepper) -> Observation {
        match self.reads {
            Reads::Voltages if self.system.trips.is_empty() => Observation::of_unknowns(at.x),
            // States are read off their drives.
            Reads::Voltages => {
                let mut z = vec![0.0; self.system.extent()];
                z[..at.x.len()].copy_from_slice(at.x);
                self.system.set_time(at.pieces, at.t, &mut z);
                Observation::of_unknowns(&z)
            }
            Reads::Everything | Reads::Measurements | Reads::Slopes => self.look(at, stepper),
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

    fn rail_readings(&self) -> Vec<Reading> {
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

    /// Node voltages; currents into all terminals; power of pass devices, load and source.
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
            let name = format!("{}.closed", self.system.parts[placed.part].name);
            let sum = vec![(1.0, Quantity::Drive(placed.drive))];
            found.push(Reading { name, unit: "1", sum, offset: 0.0 });
        }
        found
    }

    /// The system's drives at the start of the record, before any jump there.
    pub fn pieces_at_rest(&self) -> Pieces {
        self.system.pieces(-1.0)
    }
}

/// Where each of `times` stands among `known` ones, which are some of them in the same order.
fn places_of(times: &[f64], known: &[f64]) -> Vec<Option<usize>> {
    let mut next = 0;
    let place = |t: &f64| {
        (known.get(next) == Some(t)).then(|| {
            next += 1;
            next - 1
        })
    };
    times.iter().map(place).collect()
}

fn part_named(system: &System, name: &str) -> Option<usize> {
    system.parts.iter().position(|p| p.name == name)
}

/// The two bends of the cubic through both ends and two inner values at [`INSIDE`].
fn bend(v0: f64, v1: f64, inner: [f64; 2]) -> [f64; 2] {
    let rest = |k: usize| {
        let theta = INSIDE[k];
        (inner[k] - (1.0 - theta) * v0 - theta * v1) / (theta * (1.0 - theta))
    };
    let slope = (rest(1) - rest(0)) / (INSIDE[1] - INSIDE[0]);
    [rest(0) - slope * INSIDE[0], slope]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_times_are_found_among_more_of_them_and_jumps_keep_their_sides() {
        let found = places_of(&[0.0, 0.5, 1.0, 1.0, 2.0], &[0.0, 1.0, 1.0, 2.0]);
        assert_eq!(found, [Some(0), None, Some(1), Some(2), Some(3)]);
        assert_eq!(places_of(&[0.0, 1.0], &[]), [None, None]);
    }

    #[test]
    fn exact_two_inner_values_give_back_the_cubic() {
        let (v0, v1, b) = (1.0, -2.0, [0.7, 3.0]);
        let cubic = |t: f64| (1.0 - t) * v0 + t * (v1 + (1.0 - t) * (b[0] + t * b[1]));
        let found = bend(v0, v1, INSIDE.map(cubic));
        assert!((found[0] - b[0]).abs() < 1e-13 && (found[1] - b[1]).abs() < 1e-13);
    }
}
