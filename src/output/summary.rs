//! From what came of the tests to the report: names, units and words as the interfaces fix them.

use super::caution::{CapacitorFacts, Facts, Fields, JunctionFacts, cautions};
use super::report::{
    Balance, ColumnReport, Condition, ErrorReport, EventReport, ExplanationReport, GoesWithReport,
    ListingReport, MeasurementReport, NodeLevel, OfModelReport, OperatingPointReport,
    OverModelsReport, PartState, Report, TestReport, Work,
};
use crate::analysis::Event;
use crate::circuit::VariantPart;
use crate::curve::{Cell, Heading, Listing};
use crate::device::{
    DielectricClass, allowed_voltage, bias_is_assumed, capacitor_figures, dielectric_of,
};
use crate::measure::{Bound, Measurement, OfModel, OverModels, Verdict};
use crate::plan::{Plan, verdict};
use crate::study::spell::set_arguments;
use crate::trial::heat;
use crate::trial::{Cause, Explanation, Outcome};
use serde_json::{Map, Value};

/// 0 °C, below which wet electrolytics are another part.
const FREEZING_K: f64 = 273.15;

/// The report of a run; the names of written files are filled in by the caller.
pub fn report(file: &str, plan: &Plan, outcomes: &[Outcome]) -> Report {
    let mut report = Report::new(file, &plan.circuit.title);
    verdict(outcomes).word().clone_into(&mut report.verdict);
    report.tests = outcomes.iter().map(test_report).collect();
    report.cautions = cautions(&facts(plan, outcomes));
    report
}

fn test_report(outcome: &Outcome) -> TestReport {
    let told = outcome.explanation.as_ref();
    TestReport {
        name: outcome.name.clone(),
        kind: outcome.kind.word().to_owned(),
        verdict: outcome.verdict.word().to_owned(),
        error: outcome.failure.as_ref().map(|f| ErrorReport {
            time_s: f.time_s,
            node: f.node.clone(),
            part: f.part.clone(),
            tried: f.tried.clone(),
            message: f.message.clone(),
        }),
        condition: condition(outcome),
        measurements: outcome
            .measurements
            .iter()
            .enumerate()
            .map(|(k, m)| MeasurementReport {
                cross_check: outcome.cross_check.get(k).copied().flatten(),
                ..measurement(m)
            })
            .collect(),
        explanation: told.map(causes).filter(|causes| !causes.is_empty()),
        of_which_static: told.and_then(|e| e.of_which_static_v),
        input_sag: told.and_then(|e| e.input_sag_v),
        limited_by: told.and_then(|e| e.limited_by.clone()),
        work: Work {
            steps: outcome.work.steps as u64,
            rejected_error: outcome.work.rejected_error as u64,
            rejected_newton: outcome.work.rejected_newton as u64,
            newton_iterations: outcome.work.newton_iterations as u64,
            factorisations: outcome.work.factorisations as u64,
        },
        balance: outcome.balance.map(|b| Balance {
            energy_residual: b.energy.residual(),
            charge_residual: b.charge.residual(),
            energy_residual_of_stored: b.energy.residual_of_stored(),
            charge_residual_of_stored: b.charge.residual_of_stored(),
        }),
        operating_point: outcome.at_rest.as_ref().map(|(nodes, parts)| OperatingPointReport {
            nodes: nodes
                .iter()
                .map(|n| NodeLevel { node: n.name.clone(), voltage: n.volt })
                .collect(),
            parts: parts
                .iter()
                .map(|p| PartState {
                    part: p.name.clone(),
                    region: regions(&p.regions),
                    current: Some(p.ampere),
                    power: Some(p.watt),
                })
                .collect(),
        }),
        listings: outcome.listings.iter().map(listing).collect(),
        notes: outcome.notes.clone(),
        events: outcome.events.as_ref().map(|events| {
            let event = |e: &Event| EventReport {
                time_s: e.time_s,
                part: e.part.clone(),
                what: e.what.to_owned(),
            };
            events.list.iter().map(event).collect()
        }),
        event_count: outcome.events.as_ref().map(|events| events.count),
    }
}

fn listing(listing: &Listing) -> ListingReport {
    let cell = |cell: &Cell| match cell {
        Cell::Number(value) => Value::from(*value),
        Cell::Text(text) => Value::from(text.as_str()),
        Cell::Nothing => Value::Null,
    };
    let head = |h: &Heading| ColumnReport { name: h.name.to_owned(), unit: h.unit.to_owned() };
    ListingReport {
        name: listing.name.to_owned(),
        title: listing.title.clone(),
        columns: listing.columns.iter().map(head).collect(),
        rows: listing.rows.iter().map(|row| row.iter().map(cell).collect()).collect(),
    }
}

/// What a droop is made of, as the file has it.
pub(super) fn causes(explanation: &Explanation) -> Vec<ExplanationReport> {
    let cause = |cause: &Cause| ExplanationReport {
        cause: cause.kind.word().to_owned(),
        part: cause.part.clone(),
        value: cause.volt,
        unit: "V".to_owned(),
    };
    explanation.causes.iter().map(cause).collect()
}

/// Each region once, in the order of the part's elements.
fn regions(all: &[&str]) -> Option<String> {
    let mut told: Vec<&str> = Vec::new();
    for region in all {
        if !told.contains(region) {
            told.push(region);
        }
    }
    (!told.is_empty()).then(|| told.join(", "))
}

fn condition(outcome: &Outcome) -> Condition {
    let at = &outcome.condition;
    let bound = |bound: Bound| match bound {
        Bound::Within { low_v, high_v } => Some([low_v, high_v]),
        Bound::NotGiven | Bound::Off => None,
    };
    Condition {
        source_v: at.source_v,
        load: at.load.clone(),
        ambient_c: at.ambient_c,
        nominal_only: outcome.measurements.iter().all(|m| m.corner.is_none()),
        source: at.source.clone(),
        edge_s: at.edge_s,
        watched_s: at.watched_s,
        window_v: bound(at.rail.window),
        transient_window_v: bound(at.rail.every_instant()),
        // At rest nothing is aimed at: a rest is iterated to rounding.
        accuracy_v: (!outcome.kind.is_steady()).then_some(at.accuracy_v),
        values: at.values.iter().map(|(k, v)| (k.clone(), Value::from(v.as_str()))).collect(),
        quick: at.quick,
    }
}

fn measurement(m: &Measurement) -> MeasurementReport {
    MeasurementReport {
        name: m.name.clone(),
        value: m.value,
        unit: m.unit.to_owned(),
        numerical_uncertainty: m.numerical_uncertainty,
        cross_check: None,
        at_s: m.at_s,
        limit: m.limit.clone(),
        margin: m.margin,
        verdict: m.verdict.word().to_owned(),
        advisory: m.advisory,
        reason: m.reason.clone(),
        settings: m
            .settings
            .iter()
            .map(|(key, value)| (key.clone(), Value::from(value.as_str())))
            .collect::<Map<_, _>>(),
        definition: m.definition.clone(),
        corner: m.corner.as_deref().map(set_arguments),
        over_models: m.over_models.as_deref().map(over_models),
    }
}

fn over_models(of: &OverModels) -> OverModelsReport {
    let model = |of: &OfModel| OfModelReport {
        model: of.name.clone(),
        value: of.value,
        verdict: of.verdict.word().to_owned(),
    };
    let (lowest, highest) = of.range().map(|[low, high]| (low, high)).unzip();
    OverModelsReport {
        lowest,
        highest,
        worst_model: of.worst_name().to_owned(),
        set: set_arguments(&of.changes),
        rests_on: match (of.agree(), of.missed) {
            (true, 0) => "datasheet",
            (true, _) => "models",
            (false, _) => "inside",
        }
        .to_owned(),
        failing: of.failing().map(str::to_owned).collect(),
        goes_with: of.goes_with.as_ref().map(|with| GoesWithReport {
            path: with.path.clone(),
            rank_correlation: with.rank_correlation,
        }),
        models: of.each.iter().map(model).collect(),
    }
}

/// Words of reasons that mean a rail which does not come to rest where it should.
const UNSETTLED: [&str; 3] = ["settle", "oscillat", "stuck"];

/// What the cautions are triggered by.
pub(super) fn facts(plan: &Plan, outcomes: &[Outcome]) -> Facts {
    let largest = |name: &str| {
        let values = outcomes.iter().flat_map(|o| &o.measurements).filter(|m| m.name == name);
        values.filter_map(|m| m.value).reduce(f64::max)
    };
    let lines = || outcomes.iter().flat_map(|o| &o.measurements).filter(|m| !m.advisory);
    let names = plan.nominal.parts.iter().map(|p| p.name.as_str());
    let texts = plan.circuit.part_names().filter_map(|n| plan.circuit.part_text(n));
    let titles = outcomes.iter().map(|o| o.name.as_str());
    let nodes = plan.circuit.node_names();
    let said = [plan.circuit.title.as_str()].into_iter().chain(names).chain(texts).chain(titles);
    Facts {
        pass_power_peak_w: [largest("pass_power_peak"), largest("pass_power_worst")]
            .into_iter()
            .flatten()
            .reduce(f64::max),
        pass_power_mean_w: largest("pass_power_mean"),
        capacitors: capacitors(plan, outcomes),
        junctions: junctions(outcomes),
        failed: outcomes.iter().any(|o| o.verdict == Verdict::Fail),
        not_evaluated: outcomes.iter().any(|o| o.verdict == Verdict::Error)
            || lines().any(|m| m.verdict == Verdict::NotEvaluated),
        unsettled: lines().any(|m| {
            m.verdict == Verdict::Fail
                && m.reason.as_ref().is_some_and(|r| UNSETTLED.iter().any(|w| r.contains(w)))
        }),
        latches: largest("loads_not_started").is_some_and(|count| count > 0.0)
            || outcomes.iter().flat_map(|o| &o.measurements).any(|m| {
                m.name == "recovered" && m.reason.as_ref().is_some_and(|r| r.contains("latched"))
            }),
        nominal_only: outcomes.iter().any(|o| o.measurements.iter().all(|m| m.corner.is_none())),
        vehicle_shapes: outcomes.iter().any(|o| o.excitation.is_automotive),
        fields: Fields::mentioned_in(said.chain(nodes)),
    }
}

/// The hottest that each junction gets, by the listings of heat.
fn junctions(outcomes: &[Outcome]) -> Vec<JunctionFacts> {
    let mut found: Vec<JunctionFacts> = Vec::new();
    let listings = outcomes.iter().flat_map(|o| &o.listings).filter(|l| l.name == heat::NAME);
    for row in listings.flat_map(|l| &l.rows) {
        let number = |k: usize| match row.get(k) {
            Some(Cell::Number(value)) => Some(*value),
            _ => None,
        };
        let (Some(Cell::Text(path)), Some(highest_c)) = (row.first(), number(heat::PEAK)) else {
            continue;
        };
        match found.iter_mut().find(|known| known.path == *path) {
            Some(known) => known.highest_c = known.highest_c.max(highest_c),
            None => found.push(JunctionFacts {
                path: path.clone(),
                highest_c,
                rated_c: number(heat::RATED),
            }),
        }
    }
    found
}

/// What the file says of a capacitor.
fn told_of(part: &VariantPart) -> CapacitorFacts {
    let p = &part.parameters;
    let dielectric = dielectric_of(p);
    let loses = dielectric.is_none_or(|d| d.class == DielectricClass::ClassTwo);
    let whole = p.optional("remaining").is_none_or(|share| share == 1.0);
    let has_cold_esr =
        p.curves.contains_key("esr_curve") || p.optional("esr_temperature_factor").is_some();
    CapacitorFacts {
        part: part.name.clone(),
        rated_v: p.optional("rated_voltage"),
        derated_v: allowed_voltage(p).filter(|_| p.number("derating") < 1.0),
        at_label_value: loses && whole && !capacitor_figures(p).follows_bias(),
        dielectric,
        bias_is_assumed: bias_is_assumed(p),
        cold_esr_is_missing: dielectric.is_some_and(|d| d.has_cold_esr())
            && p.temperature_k < FREEZING_K
            && !has_cold_esr,
        ..CapacitorFacts::default()
    }
}

fn capacitors(plan: &Plan, outcomes: &[Outcome]) -> Vec<CapacitorFacts> {
    let capacitors = plan.nominal.parts.iter().filter(|p| p.kind.name == "capacitor");
    let facts = |part: &VariantPart| {
        let mut facts = told_of(part);
        for v in outcomes.iter().flat_map(|outcome| across(outcome, part)) {
            facts.highest_v = Some(facts.highest_v.map_or(v, |h| h.max(v)));
            facts.lowest_v = Some(facts.lowest_v.map_or(v, |l| l.min(v)));
        }
        facts
    };
    capacitors.map(facts).collect()
}

/// V across a two-ended part in each row of the record's table; nothing where that lacks one of its
/// nodes.
fn across(outcome: &Outcome, part: &VariantPart) -> Vec<f64> {
    let [first, second] = part.nodes.as_slice() else { return Vec::new() };
    let ground = vec![0.0; outcome.times_s.len()];
    let volts = |node: &str| match node {
        "gnd" => Some(ground.as_slice()),
        _ => outcome.columns.iter().find(|c| c.name == node).map(|c| c.values.as_slice()),
    };
    match (volts(first), volts(second)) {
        (Some(above), Some(below)) => above.iter().zip(below).map(|(a, b)| a - b).collect(),
        _ => Vec::new(),
    }
}
