//! The error amplifier from regulation, rejection, droop and recovery.

use super::super::sheet::{Compensation, Datasheet, Level, Topology, Transient};
use super::InnerValue;
use super::conditions::{Conditions, load_side};
use super::pass::Pass;
use crate::quantity::Dimension;
use std::f64::consts::TAU;

/// DC gain where no point tells it: 60 dB (common practice, no source).
const DC_GAIN: f64 = 1000.0;
/// What is too little or too much for any error amplifier (common practice, no source).
const DC_GAIN_RANGE: [f64; 2] = [30.0, 1e6];
/// Up to here a rejection counts as one at low frequency, Hz.
const LOW_HZ: f64 = 2e3;
/// Flat gain where no droop tells it (common practice, no source).
const MID_GAIN: f64 = 50.0;
/// From the lag up, the gain is flat: its corner at 20 kHz (common practice, no source).
const LAG_S: f64 = 8e-6;
/// The pole that ends the flat gain, Hz (common practice, no source).
const SECOND_POLE_HZ: f64 = 3e6;
/// Crossover of a loop with one pole where no recovery tells it, Hz: of a follower, of others
/// (common practice, no source).
const CROSSOVER_HZ: [f64; 2] = [100e3, 30e3];
/// Input difference at which the input stage has given all, V: four thermal voltages and what
/// degenerates it (common practice, no source).
const STAGE_RANGE_V: f64 = 0.1;
/// What leads outside the loop drop at the rated current, V (common practice, no source).
const LEAD_DROP_V: f64 = 2e-3;
/// The share of a load regulation that leads are given where nothing else tells the gain.
const LEAD_SHARE: f64 = 0.2;

/// Of a rejection's square: with less left the gain at its frequency says nothing of that at DC.
const LEAST_LEFT: f64 = 0.05;
/// A droop over its band: one hardly beyond says when it enters, not how fast it falls.
const LEAST_RATIO: f64 = 1.2;

pub(super) struct Amplifier {
    dc_gain: f64,
    mid_gain: f64,
    lag_s: f64,
    bandwidth_hz: f64,
    pub(super) lead_ohm: f64,
}

impl Amplifier {
    pub(super) fn estimate(sheet: &Datasheet, at: &Conditions, pass: &Pass) -> Self {
        let mid_gain = mid_gain(sheet, at, pass).unwrap_or(MID_GAIN);
        let lag_s = lag(sheet, at).unwrap_or(LAG_S);
        let lag = (sheet.compensation == Compensation::Lag).then_some((mid_gain, lag_s));
        let (dc_gain, lead_ohm) = at_rest(sheet, at, pass, lag);
        let dc_gain = dc_gain.clamp(DC_GAIN_RANGE[0], DC_GAIN_RANGE[1]);
        let mid_gain = mid_gain.min(0.5 * dc_gain);
        let bandwidth_hz = match sheet.compensation {
            Compensation::Lag => mid_gain * SECOND_POLE_HZ,
            Compensation::SinglePole => single_pole(sheet, at, pass),
        };
        Self { dc_gain, mid_gain, lag_s, bandwidth_hz, lead_ohm }
    }

    pub(super) fn values(&self, sheet: &Datasheet) -> Vec<InnerValue> {
        let steps = !sheet.transients.is_empty();
        let over_frequency = !sheet.rejections.is_empty() || !sheet.impedances.is_empty();
        let at_rest = !sheet.load_regulations.is_empty() || !sheet.line_regulations.is_empty();
        let moving = steps || over_frequency;
        let lag = sheet.compensation == Compensation::Lag;
        let mut values = vec![
            InnerValue::about(
                "dc_gain",
                Dimension::NONE,
                self.dc_gain,
                if at_rest || over_frequency { 2.0 } else { 4.0 },
                "of the amplifier at DC, reference to its internal node; from regulation and from \
                 rejection at low frequency",
            )
            .between(10.0, 1e7)
            .free_if(at_rest || over_frequency || steps),
        ];
        if lag {
            values.push(
                InnerValue::about(
                    "mid_gain",
                    Dimension::NONE,
                    self.mid_gain,
                    if steps { 1.7 } else { 3.0 },
                    "flat gain between the lag and the second pole; from the droop",
                )
                .between(0.5, 1e4)
                .free_if(moving),
            );
            values.push(
                InnerValue::about(
                    "lag_time",
                    Dimension::SECOND,
                    self.lag_s,
                    3.0,
                    "of the lag: how fast it relieves the output; from the recovery",
                )
                .free_if(moving),
            );
        }
        let text = if lag {
            "gain times bandwidth of the input stage: over `mid_gain` the second pole; droop and \
             rejection at high frequency tell it, weakly"
        } else {
            "gain times bandwidth of the input stage; from the recovery"
        };
        values.push(
            InnerValue::about("bandwidth", Dimension::HERTZ, self.bandwidth_hz, 4.0, text)
                .free_if(moving),
        );
        values.push(
            InnerValue::about(
                "stage_range",
                Dimension::VOLT,
                STAGE_RANGE_V,
                2.0,
                "input difference at which the input stage has given all; only large steps tell it",
            )
            .between(0.01, 2.0)
            .free_if(steps),
        );
        values
    }

    pub(super) fn lead(&self, sheet: &Datasheet) -> InnerValue {
        let outside = matches!(sheet.level, Level::Output(_));
        let told = outside && !sheet.load_regulations.is_empty();
        let text = "from the sensed output to the output terminal: outside the loop, and from load \
                    regulation, where the divider is inside";
        InnerValue::about(
            "lead_resistance",
            Dimension::OHM,
            self.lead_ohm,
            if told { 2.0 } else { 4.0 },
            text,
        )
        .between(1e-6, 1e3)
        .free_if(told || (outside && !sheet.impedances.is_empty()))
    }
}

/// DC gain and lead: what falls at rest between two loads is travel/(A_0·H) + lead·ΔI.
fn at_rest(sheet: &Datasheet, at: &Conditions, pass: &Pass, lag: Option<(f64, f64)>) -> (f64, f64) {
    let (share, usual_ohm) = (at.share(), LEAD_DROP_V / at.rated_a);
    let by_input = by_rejection(sheet, at, pass, lag).or_else(|| by_line(sheet, at, pass));
    let widest = sheet
        .load_regulations
        .iter()
        .max_by(|a, b| (a.to_a - a.from_a).total_cmp(&(b.to_a - b.from_a)));
    let Some(row) = widest else { return (by_input.unwrap_or(DC_GAIN), usual_ohm) };
    let (travel_v, step_a) = (pass.travel_v(row.from_a, row.to_a), row.to_a - row.from_a);
    // Where the divider is outside, what it senses lies behind the lead.
    // With less gain the travel alone would make more than the whole change.
    let least = travel_v / (row.change_v * share);
    if matches!(sheet.level, Level::Reference(_)) {
        return (by_input.unwrap_or(least).max(least), usual_ohm);
    }
    let lead_ohm = usual_ohm.min(LEAD_SHARE * row.change_v / step_a);
    let by_load = travel_v / ((row.change_v - lead_ohm * step_a) * share);
    let gain = by_input.unwrap_or(by_load).max(least);
    let left_v = row.change_v - travel_v / (gain * share);
    (gain, (left_v / step_a).max(LEAD_SHARE * lead_ohm))
}

/// Rejection at low frequency: a volt at the input asks for so much travel, and the output's error
/// makes it, A_0·H = travel·10^(dB/20). With a lag the gain has fallen from A_0 at f:
/// |A| = A_0·√((1 + x²)/(1 + (x·A_0/A_HF)²)), x = 2π·f·lag.
fn by_rejection(
    sheet: &Datasheet,
    at: &Conditions,
    pass: &Pass,
    lag: Option<(f64, f64)>,
) -> Option<f64> {
    let row = sheet
        .rejections
        .iter()
        .filter(|row| row.frequency_hz <= LOW_HZ)
        .min_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz))?;
    let load_a = row.load_a.max(1e-3 * at.rated_a);
    let travel = pass.travel_per_input(sheet.topology, load_a);
    let gain = travel * 10f64.powf(row.rejection_db / 20.0) / at.share();
    let Some((mid_gain, lag_s)) = lag else { return Some(gain) };
    let x = TAU * row.frequency_hz * lag_s;
    let left = 1.0 + x * x - (gain * x / mid_gain).powi(2);
    Some(gain / left.max(LEAST_LEFT).sqrt())
}

/// Line regulation: the same at DC.
fn by_line(sheet: &Datasheet, at: &Conditions, pass: &Pass) -> Option<f64> {
    let row = sheet
        .line_regulations
        .iter()
        .max_by(|a, b| (a.to_v - a.from_v).total_cmp(&(b.to_v - b.from_v)))?;
    let load_a = row.load_a.max(1e-3 * at.rated_a);
    let travel = pass.travel_per_input(sheet.topology, load_a) * (row.to_v - row.from_v);
    Some(travel / (row.change_v * at.share()))
}

/// The hardest load step with a droop: the most current.
fn hardest(sheet: &Datasheet) -> Option<&Transient> {
    let droops = sheet.transients.iter().filter(|row| row.droop_v.is_some());
    droops.max_by(|a, b| (a.to_a - a.from_a).total_cmp(&(b.to_a - b.from_a)))
}

/// The drive plateau: once the loop is faster than the capacitor, the output must err by
/// travel/(A_HF·H) to move the control terminal that far, whatever the capacitor.
fn mid_gain(sheet: &Datasheet, at: &Conditions, pass: &Pass) -> Option<f64> {
    let row = hardest(sheet)?;
    let droop_v = row.droop_v? - LEAD_DROP_V * (row.to_a - row.from_a) / at.rated_a;
    let droop_v = droop_v.max(0.3 * row.droop_v?);
    Some((pass.travel_v(row.from_a, row.to_a) / (droop_v * at.share())).clamp(1.0, 1e4))
}

/// The lag relieves the output: droop·e^(-t/lag) is down to the band at the recovery.
fn lag(sheet: &Datasheet, at: &Conditions) -> Option<f64> {
    let row = hardest(sheet)?;
    let (droop_v, recovery) = (row.droop_v?, row.recovery?);
    let ratio = droop_v / (recovery.band * at.output_v);
    (ratio > LEAST_RATIO).then(|| recovery.time_s / ratio.ln())
}

/// Crossover f_c from the recovery, e^(-2π·f_c·t), else by habit; above its pole the amplifier has
/// bandwidth/f, so bandwidth = f_c/(H·gain of pass device and output capacitor at f_c).
fn single_pole(sheet: &Datasheet, at: &Conditions, pass: &Pass) -> f64 {
    let follower = sheet.topology.is_follower();
    let usual_hz = CROSSOVER_HZ[usize::from(!follower)];
    let crossover_hz = lag(sheet, at).map_or(usual_hz, |tau_s| 1.0 / (TAU * tau_s));
    if follower {
        return crossover_hz / at.share();
    }
    let (farad, esr_ohm) = load_side(sheet);
    let output_ohm = esr_ohm.hypot(1.0 / (TAU * crossover_hz * farad));
    let load_a = match sheet.topology {
        Topology::Pnp => at.rated_a,
        _ => 0.5 * at.rated_a,
    };
    crossover_hz / (at.share() * pass.slope_s(load_a) * output_ohm)
}
