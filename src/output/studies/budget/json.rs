//! A calculation for programs.

use super::{assumed, cautions};
use crate::output::report::FORMAT;
use crate::suitability::{Assessment, Level, Question};
use serde::Serialize;

#[derive(Serialize)]
struct Given<'a> {
    input_v: [f64; 3],
    output_v: f64,
    load: Vec<GivenLevel>,
    theta_k_per_w: Option<f64>,
    ambient_c: f64,
    junction_limit_c: f64,
    dropout_v: Option<f64>,
    ground_current_a: f64,
    current_limit_a: Option<f64>,
    battery_charge_c: Option<f64>,
    switching_efficiency: f64,
    assumed: Vec<&'a str>,
}

#[derive(Serialize)]
struct GivenLevel {
    current_a: f64,
    share: f64,
}

#[derive(Serialize)]
struct JudgementReport<'a> {
    name: &'a str,
    verdict: &'a str,
    margin: Option<f64>,
    reason: &'a str,
}

#[derive(Serialize)]
struct FigureReport<'a> {
    name: &'a str,
    value: f64,
    unit: &'a str,
    condition: &'a str,
}

#[derive(Serialize)]
struct Absent<'a> {
    name: &'a str,
    reason: &'a str,
}

#[derive(Serialize)]
struct BudgetReport<'a> {
    format: u32,
    command: &'a str,
    verdict: &'a str,
    reason: &'a str,
    given: Given<'a>,
    judgements: Vec<JudgementReport<'a>>,
    figures: Vec<FigureReport<'a>>,
    not_evaluated: Vec<Absent<'a>>,
    cautions: Vec<String>,
}

/// The JSON of a calculation: SI units, temperatures in °C. A figure that is not finite is `null`.
pub fn json(question: &Question, assessment: &Assessment) -> Vec<u8> {
    let input = question.input;
    let level = |l: &Level| GivenLevel { current_a: l.current_a, share: l.share };
    let report = BudgetReport {
        format: FORMAT,
        command: "budget",
        verdict: assessment.verdict.word(),
        reason: &assessment.reason,
        given: Given {
            input_v: [input.low_v, input.typical_v, input.high_v],
            output_v: question.output_v,
            load: question.load.iter().map(level).collect(),
            theta_k_per_w: question.theta_k_per_w,
            ambient_c: question.ambient_c,
            junction_limit_c: question.junction_limit_c,
            dropout_v: question.dropout_v,
            ground_current_a: question.ground_current_a,
            current_limit_a: question.current_limit_a,
            battery_charge_c: question.battery_c,
            switching_efficiency: question.switching(),
            assumed: assumed(question),
        },
        judgements: assessment
            .judgements
            .iter()
            .map(|j| JudgementReport {
                name: j.name,
                verdict: j.verdict.word(),
                margin: j.margin,
                reason: &j.reason,
            })
            .collect(),
        figures: assessment
            .figures
            .iter()
            .map(|f| FigureReport {
                name: &f.name,
                value: f.value,
                unit: f.unit,
                condition: &f.condition,
            })
            .collect(),
        not_evaluated: assessment
            .not_evaluated
            .iter()
            .map(|(name, reason)| Absent { name, reason })
            .collect(),
        cautions: cautions(question),
    };
    // Strings, numbers and lists always serialise, and memory takes every write.
    let mut bytes = serde_json::to_vec_pretty(&report).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}
