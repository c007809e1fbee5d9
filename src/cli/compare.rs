//! `railstep compare`: a measured trace over a test, values fitted to it, and the substitution check.

use super::options::{Format, stop, threads_of, volts};
use super::target::Target;
use super::{Stop, disk, read, terminal};
use clap::Args;
use railstep::circuit::{Changes, Variant};
use railstep::diagnostic::{FileId, Sources};
use railstep::output::studies::compare::{FILES, Report, Substitution, TraceReport, bundle};
use railstep::plan::Plan;
use railstep::quantity::Dimension;
use railstep::study::axis::level;
use railstep::study::compare::{
    Ask, Columns, Comparison, MOST_KNOBS, Shift, Trace, compare as hold, knob, read_trace,
    substitution, usual_test,
};
use railstep::study::{Forgetful, Ground, Runner, Watch};
use railstep::trial::RunOptions;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
pub(super) struct CompareArguments {
    /// The circuit file
    file: PathBuf,
    /// The measured trace: a CSV file whose heads tell units, such as `time [µs],vout [mV]`
    #[arg(long, value_name = "CSV")]
    measured: Option<PathBuf>,
    /// The test that it is a trace of [default: the first load step]
    #[arg(long, value_name = "NAME")]
    test: Option<String>,
    /// The column of times, with its unit where the head has none: "t [s]" [default: the first]
    #[arg(long, value_name = "COLUMN")]
    time: Option<String>,
    /// The column of voltages [default: the one called like the node, else the second]
    #[arg(long, value_name = "COLUMN")]
    value: Option<String>,
    /// The node that was measured [default: the rail's output]
    #[arg(long, value_name = "NODE")]
    node: Option<String>,
    /// Fit a value within bounds, those of its `range` when left out (repeatable)
    #[arg(long = "fit", value_name = "NAME[=LOW..HIGH]")]
    fits: Vec<String>,
    /// Where the trace's zero lies in the record: `free` to find it, `none`, or a time
    #[arg(long, value_name = "free|none|TIME", default_value = "free", allow_hyphen_values = true)]
    shift: String,
    /// A constant error of the probe: `free` to find it, or `none`
    #[arg(long, value_name = "free|none", default_value = "none", value_parser = ["free", "none"])]
    offset: String,
    /// Standard deviation of the trace's noise [default: from the trace ahead of the first edge]
    #[arg(long, value_name = "V")]
    noise: Option<String>,
    /// Check the output capacitor against the allowed region in this file, as `tune` writes it
    #[arg(long, value_name = "JSON")]
    region: Option<PathBuf>,
    /// The capacitor to check: C=3.3uF,ESR=8mΩ [default: as fitted or as in the file]
    #[arg(long, value_name = "LIST")]
    substitute: Option<String>,
    /// Run all tests at every corner of the environment with that capacitor
    #[arg(long)]
    verify: bool,
    /// Set a value, or a key by its path, over the file (repeatable)
    #[arg(long = "set", value_name = "NAME=VALUE")]
    sets: Vec<String>,
    /// Write results into this folder [default: results/FILE-STEM/compare]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What standard output gets
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Target error of the output node, such as 10uV, over the file
    #[arg(long, value_name = "V")]
    accuracy: Option<String>,
    /// Use so many threads [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// The capacitor does not pass.
const FAILS: u8 = 1;

pub(super) fn compare(arguments: &CompareArguments) -> Result<u8, Stop> {
    let checks = arguments.region.is_some() || arguments.verify;
    if arguments.measured.is_none() && !checks {
        let why = "nothing to compare: give a trace by `--measured CSV`, or check a capacitor by \
                   `--substitute C=3.3uF,ESR=8mΩ --verify`";
        return Err(Stop::Because(why.to_owned()));
    }
    if arguments.substitute.is_some() && !checks {
        let why = "`--substitute` needs what to check: `--region tune.json`, `--verify` or both";
        return Err(Stop::Because(why.to_owned()));
    }
    let changes = read::changes(&arguments.sets)?;
    let plan = read::plan(&arguments.file, &changes)?;
    let ground = ground(arguments, &plan, changes)?;
    let target = Target::prepare(&folder(arguments), &FILES.map(str::to_owned))?;
    let measured = arguments.measured.as_deref();
    let held = measured.map(|path| held(arguments, &plan, &ground, path)).transpose()?;
    let fitted = held.as_ref().map(|(.., comparison)| comparison);
    let substitution = checks.then(|| substitution(arguments, &ground, fitted)).transpose()?;
    let names = (
        arguments.file.display().to_string(),
        measured.map_or_else(String::new, |path| path.display().to_string()),
    );
    let report = Report {
        file: &names.0,
        title: &plan.circuit.title,
        base: &ground.options.changes.list,
        trace: held.as_ref().map(|(trace, ask, comparison)| TraceReport {
            file: &names.1,
            trace,
            ask,
            comparison,
        }),
        substitution,
    };
    let bundle = bundle(&report, terminal::width());
    for (name, bytes) in &bundle.files {
        target.write(name, bytes)?;
    }
    target.deliver()?;
    match arguments.format {
        Format::Json => terminal::say(&String::from_utf8_lossy(&bundle.json)),
        Format::Text => terminal::say(&target.placed(&bundle.text)),
    }
    Ok(if report.substitution.is_none_or(|s| s.passes()) { 0 } else { FAILS })
}

fn ground<'a>(
    arguments: &CompareArguments,
    plan: &'a Plan,
    changes: Changes,
) -> Result<Ground<'a>, Stop> {
    let accuracy_v = arguments.accuracy.as_deref().map(volts).transpose()?;
    let options = RunOptions { changes, accuracy_v, ..RunOptions::default() };
    let threads = threads_of(arguments.threads);
    Ok(Ground { circuit: &plan.circuit, tests: &plan.tests, options, threads })
}

fn folder(arguments: &CompareArguments) -> PathBuf {
    arguments.out.clone().unwrap_or_else(|| {
        let stem = arguments.file.file_stem().unwrap_or("circuit".as_ref());
        Path::new("results").join(stem).join("compare")
    })
}

/// Reads the trace and holds it against the test.
fn held(
    arguments: &CompareArguments,
    plan: &Plan,
    ground: &Ground<'_>,
    path: &Path,
) -> Result<(Trace, Ask, Comparison), Stop> {
    let ask = ask(arguments, plan, ground)?;
    let name = path.display().to_string();
    let text = disk::read_text(path)
        .map_err(|why| Stop::Because(format!("`{name}` cannot be read: {why}")))?;
    let output = plan.nominal.rail.as_ref().and_then(|rail| rail.output.as_deref());
    let columns = Columns {
        time: arguments.time.as_deref(),
        value: arguments.value.as_deref(),
        node: ask.node.as_deref().or(output).unwrap_or_default(),
    };
    let trace = read_trace(&text, FileId(0), columns).map_err(|told| {
        let mut sources = Sources::default();
        sources.add(name.as_str(), text.as_str());
        terminal::show(&told, &sources);
        Stop::Told
    })?;
    let comparison = hold(ground, &ask, &trace).map_err(Stop::Because)?;
    Ok((trace, ask, comparison))
}

fn ask(arguments: &CompareArguments, plan: &Plan, ground: &Ground<'_>) -> Result<Ask, Stop> {
    let test = match &arguments.test {
        Some(name) => {
            let chosen = plan.chosen(std::slice::from_ref(name)).map_err(Stop::Because)?;
            let stem = chosen.first().map(|t| t.stem.clone());
            plan.tests.iter().position(|t| Some(&t.stem) == stem.as_ref())
        }
        None => usual_test(&plan.tests),
    };
    let missing = "the file has no test that runs through time; a trace is compared with one";
    let test = test.ok_or_else(|| Stop::Because(missing.to_owned()))?;
    if arguments.fits.len() > MOST_KNOBS {
        return Err(Stop::Because(format!("no more than {MOST_KNOBS} values are fitted at once")));
    }
    let mut knobs = Vec::new();
    for text in &arguments.fits {
        let knob = knob(ground.circuit, &ground.options.changes, text).map_err(Stop::Because)?;
        if knobs.iter().any(|k: &railstep::study::compare::Knob| k.path == knob.path) {
            return Err(Stop::Because(format!("`{}` is fitted twice", knob.path)));
        }
        knobs.push(knob);
    }
    let shift = match arguments.shift.as_str() {
        "free" => Shift::Free,
        "none" => Shift::None,
        text => Shift::Given(quantity("--shift", text, Dimension::SECOND, "60us")?),
    };
    let noise = arguments.noise.as_deref();
    let noise =
        noise.map(|text| quantity("--noise", text, Dimension::VOLT, "0.5mV")).transpose()?;
    if noise.is_some_and(|volt| !(volt > 0.0)) {
        return Err(Stop::Because("`--noise` must be above zero".to_owned()));
    }
    Ok(Ask {
        test,
        node: arguments.node.clone(),
        knobs,
        shift,
        offset_free: arguments.offset == "free",
        noise_v: noise,
    })
}

fn quantity(option: &str, text: &str, wanted: Dimension, example: &str) -> Result<f64, Stop> {
    let zero = text.trim() == "0";
    let found = level(text).filter(|(value, is)| value.is_finite() && (*is == wanted || zero));
    found.map(|(value, _)| value).ok_or_else(|| {
        let what = wanted.words();
        Stop::Because(format!(
            "`{option} {text}` is not {what}; write for example `{option} {example}`"
        ))
    })
}

/// The substitution check of the capacitor that was named, or of the one that was fitted or stands
/// in the file.
fn substitution(
    arguments: &CompareArguments,
    ground: &Ground<'_>,
    fitted: Option<&Comparison>,
) -> Result<Substitution, Stop> {
    let found = fitted.map(|comparison| comparison.changes.clone()).unwrap_or_default();
    let variant = variant(ground, &found)?;
    let mut substitute = match &arguments.substitute {
        Some(text) => substitution::substitute(&variant, text),
        None => substitution::as_it_is(&variant),
    }
    .map_err(Stop::Because)?;
    if arguments.substitute.is_none() {
        substitute.changes = found;
    }
    let put_in = self::variant(ground, &substitute.changes)?;
    let region = arguments.region.as_deref().map(|path| {
        let name = path.display().to_string();
        let wrong = |why: String| Stop::Because(format!("`{name}` cannot be used: {why}"));
        let text = disk::read_text(path).map_err(wrong)?;
        let region = substitution::region(&text, &substitute.part).map_err(wrong)?;
        let figures = substitution::effective(&put_in, &substitute);
        Ok((name.clone(), substitution::held(&figures, &region)))
    });
    let region = region.transpose()?;
    let verified = arguments.verify.then(|| verified(ground, &substitute.changes)).transpose()?;
    Ok(Substitution { substitute, region, verified })
}

fn variant(ground: &Ground<'_>, changes: &[railstep::circuit::Change]) -> Result<Variant, Stop> {
    let list = ground.options.changes.list.iter().chain(changes).cloned().collect();
    ground.circuit.variant(&Changes { list }).map_err(|mistakes| {
        let first = mistakes.into_iter().next().map(|m| m.message);
        Stop::Because(first.unwrap_or_else(|| "the circuit cannot be worked out".to_owned()))
    })
}

fn verified(
    ground: &Ground<'_>,
    changes: &[railstep::circuit::Change],
) -> Result<substitution::Verified, Stop> {
    let all: Vec<usize> = (0..ground.tests.len()).collect();
    let runner = Runner::new(ground.clone(), &all, &Watch::Counting, &Forgetful).map_err(stop)?;
    substitution::verify(&runner, changes).map_err(stop)
}
