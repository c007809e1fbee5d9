//! Variants that are run together come out as each comes out alone, to the last bit.

use crate::{DEMOS, plan};
use railstep::circuit::{Change, Changes};
use railstep::trial::{Outcome, Reads, RunOptions, Unchanged, go_abreast, run, run_all};
use std::sync::Arc;

/// More than there are lanes, so that places are taken again by those who wait.
const VARIANTS: usize = 19;

/// The values of a file as they stand there.
fn values(text: &str) -> Vec<(String, String)> {
    let file = toml::de::DeTable::parse(text).expect("TOML").into_inner();
    let values = file.get("values").and_then(|v| v.get_ref().as_table()).expect("values");
    let word = |value: &toml::de::DeValue<'_>| value.as_str().map(str::to_owned);
    let of = |value: &toml::de::DeValue<'_>| {
        word(value).or_else(|| word(value.as_table()?.get("value")?.get_ref()))
    };
    values
        .iter()
        .filter_map(|(name, value)| Some((name.get_ref().to_string(), of(value.get_ref())?)))
        .collect()
}

/// Every value a little off, in a way of its own for each variant; those of one far off.
fn changes(values: &[(String, String)], variant: usize) -> Changes {
    let change = |(k, (name, text)): (usize, &(String, String))| {
        let off = 0.004 * ((variant * 7 + k * 3) % 11) as f64 - 0.02;
        let off = if variant == 11 { 10.0 * off } else { off };
        Change::new(name.clone(), format!("({text}) * {}", 1.0 + off))
    };
    Changes { list: values.iter().enumerate().map(change).collect() }
}

fn assert_same(together: &Outcome, alone: &Outcome, what: &str) {
    assert_eq!(together.failure, alone.failure, "{what}");
    assert_eq!(together.work, alone.work, "{what}");
    assert_eq!(together.waveform.time_s, alone.waveform.time_s, "{what}");
    for (signal, single) in together.waveform.signals.iter().zip(&alone.waveform.signals) {
        assert_eq!(signal.values, single.values, "{what}: {}", signal.name);
        assert_eq!(signal.bends, single.bends, "{what}: {}", signal.name);
    }
    let value = |outcome: &Outcome| -> Vec<Option<f64>> {
        outcome.measurements.iter().map(|m| m.value).collect()
    };
    assert_eq!(value(together), value(alone), "{what}");
}

#[test]
fn variants_run_together_are_those_run_alone() {
    for (stem, text, _) in DEMOS {
        let plan = plan(text);
        let values = values(text);
        let Some(test) = plan.tests.iter().find(|test| go_abreast(test)) else { continue };
        let unchanged = Unchanged::of(&plan.circuit, test).map(Arc::new);
        let options = |variant| RunOptions {
            changes: changes(&values, variant),
            quick: true,
            reads: Reads::Slopes,
            unchanged: unchanged.clone(),
            work_limit: 3_000,
            ..RunOptions::default()
        };
        let all: Vec<RunOptions> = (0..VARIANTS).map(options).collect();
        let together = run_all(&plan.circuit, test, &all);
        let mut distinct = Vec::new();
        for (variant, (together, options)) in together.iter().zip(&all).enumerate() {
            let what = format!("variant {variant} of {stem}");
            match (together, run(&plan.circuit, test, options)) {
                (Ok(together), Ok(alone)) => {
                    assert_same(together, &alone, &what);
                    distinct.push(alone.work.attempts());
                }
                (together, alone) => {
                    assert!(together.is_err() && alone.is_err(), "{what}: {alone:?}");
                }
            }
        }
        distinct.dedup();
        assert!(distinct.len() > 3, "the variants of {stem} do not differ: {distinct:?}");
    }
}
