//! Circuits written as text, carried through time, and read at chosen instants; and steps of a
//! fixed size taken one by one.

use railstep::analysis::small_signal::Wire;
use railstep::analysis::{
    DEFAULT_WORK_LIMIT, Failure, Method, Point, Record, Step, Stepper, Tolerances, Transient,
    TransientOptions, Work, operating_point,
};
use railstep::circuit::Changes;
use railstep::document::Files;
use railstep::plan::{self, Plan};
use railstep::system::{Observation, Pieces, Quantity, System};
use railstep::trial::{Excitation, Motion, Outcome, RunOptions, Test, excite};

pub(crate) const BOTH: [Method; 2] = [Method::Rodas4p, Method::TrBdf2];

/// Nothing to include.
pub(crate) struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _: &str) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

/// A file that must be free of mistakes.
pub(crate) struct Bench {
    pub(crate) plan: Plan,
}

impl Bench {
    pub(crate) fn of(text: &str) -> Self {
        let reading = plan::read("bench.toml", text, &NoFiles, &Changes::default());
        let plan = reading.plan.unwrap_or_else(|| panic!("{:#?}\n{text}", reading.diagnostics));
        Self { plan }
    }

    /// Names of all tests that step through time.
    pub(crate) fn names_in_time(&self) -> Vec<String> {
        let moves =
            |t: &&Test| matches!(t.motion, Motion::Step(_) | Motion::Ramp(_) | Motion::Profile(_));
        let moving = self.plan.tests.iter().filter(moves);
        moving.map(|t| t.name.clone()).collect()
    }

    /// Names of all tests.
    pub(crate) fn names(&self) -> Vec<String> {
        self.plan.tests.iter().map(|t| t.name.clone()).collect()
    }

    /// The equations of the test `name`, and where it rests before anything moves.
    pub(crate) fn at_rest(&self, name: &str) -> (System, Vec<f64>) {
        let excitation = self.excitation(name);
        let system = System::build(&self.plan.nominal.net(&excitation.drives));
        let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
        (system, rest.z)
    }

    /// What the test `name` makes its parts follow.
    pub(crate) fn excitation(&self, name: &str) -> Excitation {
        let test = self.plan.chosen(&[name.to_owned()]).expect("a test")[0];
        excite(test, &self.plan.nominal).expect("sound durations")
    }

    /// The test `name`, run as a user runs it.
    pub(crate) fn outcome(&self, name: &str, method: Method) -> Outcome {
        let test = self.plan.chosen(&[name.to_owned()]).expect("a test")[0];
        let options = RunOptions { method, ..RunOptions::default() };
        let outcome = self.plan.run(test, &options).expect("sound values");
        assert_eq!(outcome.failure, None, "`{name}` by {method:?}");
        outcome
    }

    /// The test `name`, which may end in a failure.
    pub(crate) fn ended(&self, name: &str, options: &RunOptions) -> Outcome {
        let test = self.plan.chosen(&[name.to_owned()]).expect("a test")[0];
        self.plan.run(test, options).expect("sound values")
    }

    /// Why the test `name` cannot be solved.
    pub(crate) fn failure(&self, name: &str) -> Failure {
        let outcome = self.ended(name, &RunOptions::default());
        outcome.failure.unwrap_or_else(|| panic!("`{name}` was solved"))
    }

    /// The equations with the wire at `rail.feedback` bridged.
    pub(crate) fn bridged(&self) -> (System, Wire) {
        let rail = self.plan.nominal.rail.as_ref().expect("a rail");
        let feedback = rail.feedback.as_deref().expect("a feedback terminal");
        let (net, at) = self.plan.nominal.net_with_break(&[], feedback).expect("that terminal");
        (System::build(&net), Wire::from(at))
    }

    /// The equations as they are before any test drives them.
    pub(crate) fn system(&self) -> System {
        System::build(&self.plan.nominal.net(&[]))
    }

    /// The test `name` at node tolerance `node_tolerance_v`, with a step that ends at each of
    /// `instants_s`.
    pub(crate) fn solve(
        &self,
        name: &str,
        method: Method,
        node_tolerance_v: f64,
        instants_s: &[f64],
    ) -> Solved {
        let test = self.plan.chosen(&[name.to_owned()]).expect("a test")[0];
        let excitation = excite(test, &self.plan.nominal).expect("sound durations");
        let system = System::build(&self.plan.nominal.net(&excitation.drives));
        let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
        let (start, work_limit) = (test.start, DEFAULT_WORK_LIMIT);
        let options = TransientOptions { method, node_tolerance_v, start, work_limit };
        let mut transient = Transient::new(&system, options);
        transient.run(&rest, excitation.end_s).expect("a test that can be solved");
        transient.confirm(instants_s);
        let (record, work) = (transient.record.clone(), transient.work());
        let stepper = Stepper::new(&system, method);
        Solved { system, record, work, stepper }
    }
}

/// The value of a measurement that must have one.
pub(crate) fn measured(outcome: &Outcome, name: &str) -> f64 {
    let row = outcome.measurements.iter().find(|m| m.name == name).expect("a measurement");
    row.value.unwrap_or_else(|| panic!("`{name}`: {:?}", row.reason))
}

/// The instant a measurement was decided at.
pub(crate) fn instant(outcome: &Outcome, name: &str) -> f64 {
    let row = outcome.measurements.iter().find(|m| m.name == name).expect("a measurement");
    row.at_s.unwrap_or_else(|| panic!("`{name}` has no instant"))
}

/// The last value of a column of the CSV.
pub(crate) fn last(outcome: &Outcome, column: &str) -> f64 {
    let found = outcome.columns.iter().find(|c| c.name == column).expect("a column");
    *found.values.last().expect("a row")
}

pub(crate) fn unknown(system: &System, name: &str) -> usize {
    system.unknowns.iter().position(|u| u.name == name).unwrap_or_else(|| panic!("`{name}`"))
}

/// A test that was carried through time.
pub(crate) struct Solved {
    pub(crate) system: System,
    pub(crate) record: Record,
    pub(crate) work: Work,
    stepper: Stepper,
}

impl Solved {
    /// Value of an unknown (a node's name, or `L1.current`) at `t`.
    pub(crate) fn at(&self, name: &str, t: f64) -> f64 {
        let (u, times) = (unknown(&self.system, name), self.record.times_s());
        let after = times.partition_point(|&time| time <= t).clamp(1, times.len() - 1);
        let theta = (t - times[after - 1]) / (times[after] - times[after - 1]);
        let mut x = vec![0.0; self.system.unknowns.len()];
        self.record.between(after - 1, theta, &mut x);
        x[u]
    }

    /// Everything that can be read at point `k`.
    pub(crate) fn look(&mut self, k: usize) -> Observation {
        let at = self.record.point(k);
        let mut z = vec![0.0; self.system.extent()];
        z[..at.x.len()].copy_from_slice(at.x);
        self.system.set_time(at.pieces, at.t, &mut z);
        let rates = self.stepper.rates(&self.system, at.pieces, at.t, at.x);
        self.system.observe(&z, &rates)
    }

    /// Current into terminal `terminal` of part `name` at point `k`, in A.
    pub(crate) fn current(&self, seen: &Observation, part: usize, terminal: usize) -> f64 {
        self.system.read(seen, Quantity::Current(part, terminal))
    }
}

/// A point that satisfies no more than its own values: charges and flows follow from them.
pub(crate) fn point_at(system: &System, pieces: &Pieces, t: f64, x: Vec<f64>) -> Point {
    let mut z = vec![0.0; system.extent()];
    z[..x.len()].copy_from_slice(&x);
    system.set_time(pieces, t, &mut z);
    let (mut f, mut q) = (vec![0.0; x.len()], vec![0.0; system.law_charges()]);
    system.evaluate(&z, &mut f, &mut q);
    let flow = f.iter().zip(&system.dynamic_row).map(|(f, d)| if *d { -f } else { 0.0 });
    Point { t, flow: flow.collect(), x, q }
}

/// `count` steps of `h` s from `from`, inside one smooth piece of every drive; `each` sees every
/// point reached.
pub(crate) fn march(
    system: &System,
    method: Method,
    from: Point,
    (h, count): (f64, usize),
    mut each: impl FnMut(&Point),
) -> Point {
    let mut stepper = Stepper::new(system, method);
    // TR-BDF2 iterates each stage to a thousandth of this: far below every error looked at here,
    // far above rounding.
    let tolerances = Tolerances::new(system, 1e-10);
    let pieces = system.pieces(from.t + 0.5 * h);
    let mut step = Step::new(system);
    let mut point = from;
    for _ in 0..count {
        let taken = stepper.attempt(system, &pieces, &tolerances, &point, h, &mut step);
        taken.unwrap_or_else(|stuck| panic!("{method:?} at {}: {stuck:?}", point.t));
        point.clone_from(&step.end);
        each(&point);
    }
    point
}
