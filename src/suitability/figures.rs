//! Every number worked out, with its name, unit and condition.

use super::Question;
use crate::quantity::trimmed;

/// Digits of a number in words.
const DIGITS: usize = 3;

/// One number.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// snake_case, no two alike.
    pub name: String,
    /// In `unit`.
    pub value: f64,
    /// SI symbol; `1` for ratios, `°C` for temperatures.
    pub unit: &'static str,
    /// At which input and load.
    pub condition: String,
}

pub(super) fn volt(value: f64) -> String {
    trimmed(value, "V", DIGITS + 1)
}

pub(super) fn ampere(value: f64) -> String {
    trimmed(value, "A", DIGITS)
}

pub(super) fn watt(value: f64) -> String {
    trimmed(value, "W", DIGITS)
}

pub(super) fn percent(value: f64) -> String {
    trimmed(value * 100.0, "%", DIGITS)
}

pub(super) fn celsius(value: f64) -> String {
    let text = format!("{value:.1}");
    format!("{} °C", text.strip_suffix(".0").unwrap_or(&text))
}

/// Prefixes are not used for thermal resistances.
pub(super) fn thermal(value: f64) -> String {
    format!("{} K/W", trimmed(value, "", DIGITS))
}

/// The list as it grows.
struct Figures(Vec<Figure>);

impl Figures {
    fn push(&mut self, name: impl Into<String>, value: f64, unit: &'static str, condition: &str) {
        let condition = condition.to_owned();
        self.0.push(Figure { name: name.into(), value, unit, condition });
    }
}

pub(super) fn figures(question: &Question) -> Vec<Figure> {
    let mut list = Figures(Vec::new());
    load(question, &mut list);
    for (which, input_v) in question.inputs() {
        at_input(question, which, input_v, &mut list);
    }
    heat(question, &mut list);
    headroom(question, &mut list);
    energy(question, &mut list);
    list.0
}

fn load(question: &Question, list: &mut Figures) {
    list.push("load_mean", question.mean_a(), "A", "over the whole profile");
    list.push("load_highest", question.peak_a(), "A", "of the profile");
}

fn at_input(question: &Question, which: &str, input_v: f64, list: &mut Figures) {
    let mean_a = question.mean_a();
    let at = format!("{which} input {}", volt(input_v));
    let mean = format!("{at}, mean load {}", ampere(mean_a));
    let name = |what: &str| format!("{what}_at_{which}_input");
    list.push(name("efficiency"), question.efficiency(input_v, mean_a), "1", &mean);
    let ceiling = question.output_v / input_v;
    list.push(name("efficiency_ceiling"), ceiling, "1", &format!("{at}, without ground current"));
}

/// Dissipation and junction, each typical and worst, and what either leaves.
fn heat(question: &Question, list: &mut Figures) {
    let (typical_v, high_v) = (question.input.typical_v, question.input.high_v);
    let (mean_a, peak_a) = (question.mean_a(), question.peak_a());
    let at = |which: &str, input_v: f64, load: &str, load_a: f64| {
        format!("{which} input {}, {load} load {}", volt(input_v), ampere(load_a))
    };
    let mut cases = vec![
        ("typical", typical_v, mean_a, at("typical", typical_v, "mean", mean_a)),
        ("worst", high_v, peak_a, at("highest", high_v, "highest", peak_a)),
    ];
    if let Some(longest) = question.longest() {
        let mean = at("highest", high_v, "mean", mean_a);
        cases.push(("mean_at_highest_input", high_v, mean_a, mean));
        let load_a = longest.current_a;
        let long = at("highest", high_v, "longest", load_a);
        let long = format!("{long} for {} of the time", percent(longest.share));
        cases.push(("longest_share", high_v, load_a, long));
    }
    for (name, input_v, load_a, condition) in &cases {
        let power_w = question.dissipation_w(*input_v, *load_a);
        list.push(format!("dissipation_{name}"), power_w, "W", condition);
    }
    for (name, input_v, load_a, condition) in &cases {
        if let Some(junction) = question.junction_c(question.dissipation_w(*input_v, *load_a)) {
            list.push(format!("junction_{name}"), junction, "°C", condition);
        }
    }
    let worst_w = question.dissipation_w(high_v, peak_a);
    let worst = at("highest", high_v, "highest", peak_a);
    list.push("thermal_resistance_needed", question.theta_needed(worst_w), "K/W", &worst);
    if question.longest().is_some() {
        let mean_w = question.dissipation_w(high_v, mean_a);
        let mean = at("highest", high_v, "mean", mean_a);
        list.push("thermal_resistance_needed_mean", question.theta_needed(mean_w), "K/W", &mean);
    }
    if let Some(theta) = question.theta_k_per_w {
        let limit = celsius(question.junction_limit_c);
        let allowed_w = (question.junction_limit_c - question.ambient_c) / theta;
        let ambient = format!("ambient {}, junction {limit}", celsius(question.ambient_c));
        list.push("dissipation_allowed", allowed_w, "W", &ambient);
        let left_w = (allowed_w - high_v * question.ground_current_a).max(0.0);
        let lasting = format!("highest input {}, {ambient}, lasting", volt(high_v));
        list.push("load_allowed", left_w / (high_v - question.output_v), "A", &lasting);
        let hottest = question.junction_limit_c - worst_w * theta;
        list.push("ambient_allowed", hottest, "°C", &format!("{worst}, junction {limit}"));
    }
    if let Some(limit_a) = question.current_limit_a {
        let shorted_w = high_v * (limit_a + question.ground_current_a);
        let condition =
            format!("highest input {}, output shorted, {}", volt(high_v), ampere(limit_a));
        list.push("dissipation_shorted", shorted_w, "W", &condition);
    }
}

fn headroom(question: &Question, list: &mut Figures) {
    let low_v = question.input.low_v;
    let headroom_v = low_v - question.output_v;
    let at = format!("lowest input {}", volt(low_v));
    list.push("headroom", headroom_v, "V", &at);
    if let Some(dropout_v) = question.dropout_v {
        let condition = format!("{at}, dropout {}", volt(dropout_v));
        list.push("headroom_margin", headroom_v - dropout_v, "V", &condition);
    }
}

/// What a switching regulator of the stated efficiency would make of the same power.
fn energy(question: &Question, list: &mut Figures) {
    let against = format!(
        "typical input {}, mean load {}, switching regulator at {}",
        volt(question.input.typical_v),
        ampere(question.mean_a()),
        percent(question.switching())
    );
    list.push("switching_loss", question.switching_loss_w(), "W", &against);
    list.push("life_ratio", question.life_ratio(), "1", &against);
    if let Some((linear_s, switching_s)) = question.life_s() {
        let mean = format!("mean load {}, whole capacity", ampere(question.mean_a()));
        list.push("life_linear", linear_s, "s", &mean);
        list.push("life_switching", switching_s, "s", &against);
    }
}
