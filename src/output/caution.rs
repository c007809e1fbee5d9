//! What a reader must be warned of, each caution only when something calls for it.
//!
//! The cautions say what to look at and who decides; they replace neither local codes nor a
//! licensed engineer's judgement. The thresholds are common practice of the trade, no source.

use super::number::engineering;
use crate::device::Dielectric;

/// Dissipation from which a small package burns fingers and boards, W (common practice, no
/// source).
pub(super) const HOT_W: f64 = 0.5;

/// Junction temperature from which a caution is due though a part is rated for more, °C (common
/// practice, no source).
const HOT_JUNCTION_C: f64 = 125.0;

/// Share of its rated voltage that a capacitor is commonly allowed to see (common practice, no
/// source; tantalum half of it).
const CAPACITOR_SHARE: f64 = 0.8;

/// The same for tantalum with manganese dioxide (common practice, no source).
const TANTALUM_SHARE: f64 = 0.5;

/// Reverse voltage from which a polarised capacitor is at risk, V (common practice, no source).
const REVERSE_V: f64 = -0.3;

/// What the cautions are triggered by.
#[derive(Clone, Debug, Default, PartialEq)]
#[allow(clippy::struct_excessive_bools)] // independent facts, any of which may hold
pub struct Facts {
    /// Largest dissipation of the pass device over all tests, W.
    pub pass_power_peak_w: Option<f64>,
    /// Largest mean dissipation of the pass device over all tests, W.
    pub pass_power_mean_w: Option<f64>,
    /// Junctions on heat paths and how hot they get.
    pub junctions: Vec<JunctionFacts>,
    /// Capacitors and what they see.
    pub capacitors: Vec<CapacitorFacts>,
    /// A requirement fails, or a test could not be solved.
    pub failed: bool,
    /// Something that had to be judged was not.
    pub not_evaluated: bool,
    /// The rail oscillates, latches or does not settle in some test.
    pub unsettled: bool,
    /// The rail sticks, latches or does not start in some test.
    pub latches: bool,
    /// Only nominal values were calculated, no tolerances.
    pub nominal_only: bool,
    /// A test lets the source follow a shape that stands for what a road vehicle does.
    pub vehicle_shapes: bool,
    /// Which kinds of application and source the file speaks of.
    pub fields: Fields,
}

/// One junction over all tests.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JunctionFacts {
    /// Its heat path.
    pub path: String,
    /// Highest temperature, °C.
    pub highest_c: f64,
    /// Highest that is allowed, °C, if given.
    pub rated_c: Option<f64>,
}

/// One capacitor over all tests.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CapacitorFacts {
    /// Its designator.
    pub part: String,
    /// Rated voltage, V, if given.
    pub rated_v: Option<f64>,
    /// Highest voltage across it, V.
    pub highest_v: Option<f64>,
    /// Lowest voltage across it, V; negative when reversed.
    pub lowest_v: Option<f64>,
    /// V that `derating` leaves of the rating, if less is given than all of it.
    pub derated_v: Option<f64>,
    /// Taken at the value on its label, with nothing lost to bias, temperature or age, where its
    /// dielectric is not known to keep it.
    pub at_label_value: bool,
    /// What it is made of, if given.
    pub dielectric: Option<Dielectric>,
    /// What bias takes is the default of its class.
    pub bias_is_assumed: bool,
    /// A wet electrolytic below freezing, its ESR as at 25 °C.
    pub cold_esr_is_missing: bool,
}

/// Kinds of application and source with rules of their own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Fields {
    /// A battery or cell feeds the rail.
    pub battery: bool,
    /// The supply comes from the mains.
    pub mains: bool,
    /// Vehicles, aircraft, medicine, railways: safety standards apply.
    pub safety: bool,
}

impl Fields {
    /// Read from titles, texts and names of a circuit file.
    pub fn mentioned_in<'a>(texts: impl IntoIterator<Item = &'a str>) -> Self {
        const BATTERY: &[&str] = &[
            "battery",
            "batteries",
            "cell",
            "cells",
            "lithium",
            "li-ion",
            "lipo",
            "nimh",
            "alkaline",
            "lithium-ion",
            "coin-cell",
            "accumulator",
        ];
        const MAINS: &[&str] = &["mains", "230v", "120v", "line-powered", "transformer"];
        const SAFETY: &[&str] = &[
            "automotive",
            "vehicle",
            "vehicles",
            "crank",
            "cranking",
            "load-dump",
            "jump-start",
            "avionics",
            "avionic",
            "aircraft",
            "medical",
            "patient",
            "implant",
            "railway",
        ];
        let mut fields = Self::default();
        for text in texts {
            let lower = text.to_lowercase();
            let words = lower.split(|c: char| !(c.is_alphanumeric() || c == '-'));
            for word in words {
                fields.battery |= BATTERY.contains(&word);
                fields.mains |= MAINS.contains(&word);
                fields.safety |= SAFETY.contains(&word);
            }
        }
        fields
    }
}

/// The cautions that apply, most specific first; the last one always does.
pub fn cautions(facts: &Facts) -> Vec<String> {
    let mut found = Vec::new();
    if facts.unsettled {
        found.push(
            "the rail does not come to rest in every test: do not release it because it works on \
             the bench, for spread and temperature decide which boards show it"
                .to_owned(),
        );
    } else if facts.failed {
        found.push(
            "a requirement fails: a board that works on the bench does not disprove it, for \
             spread and temperature decide which boards show it"
                .to_owned(),
        );
    }
    if facts.latches {
        found.push(
            "the rail sticks or latches with some load or after a short: do not release it because \
             it starts on the bench, for load, spread and temperature decide where it ends up"
                .to_owned(),
        );
    }
    if facts.not_evaluated {
        found.push("what was not evaluated is not known to be right: see its reason".to_owned());
    }
    found.extend(heat(facts));
    found.extend(facts.junctions.iter().filter_map(junction));
    found.extend(facts.capacitors.iter().flat_map(capacitor));
    found.extend(about_parts(facts));
    // What is said of the shapes says it already.
    let safety = facts.fields.safety && !facts.vehicle_shapes;
    found.extend(fields(Fields { safety, ..facts.fields }));
    if facts.vehicle_shapes {
        found.push(
            "automotive: the relevant standards (own copy of the edition that counts), the vehicle \
             maker's specification and a qualified engineer decide; the line shapes used here are \
             examples, and figures told as from memory were not checked"
                .to_owned(),
        );
    }
    if facts.nominal_only {
        found.push("nominal values only: tolerances were left out, corners may differ".to_owned());
    }
    found.push(
        "calculated, not measured: verify on hardware with the actual capacitors, at \
         temperature, before release; layout inductance, interference and mechanical stress are \
         not part of the model"
            .to_owned(),
    );
    found
}

fn heat(facts: &Facts) -> Option<String> {
    let mean = facts.pass_power_mean_w.filter(|p| *p > HOT_W);
    let peak = facts.pass_power_peak_w.filter(|p| *p > HOT_W);
    let (power, what) = mean.map(|p| (p, "steadily")).or(peak.map(|p| (p, "at its peak")))?;
    Some(format!(
        "hot surface: the pass device takes {} {what}; check its junction temperature on your \
         copper, also with the output shorted, and do not rely on thermal shutdown as a way of \
         working",
        engineering(power, "W", 3)
    ))
}

fn junction(facts: &JunctionFacts) -> Option<String> {
    let limit_c = facts.rated_c.unwrap_or(HOT_JUNCTION_C).min(HOT_JUNCTION_C);
    if !(facts.highest_c > limit_c) {
        return None;
    }
    let above = match facts.rated_c {
        Some(rated) if facts.highest_c > rated => format!("above its rated {rated:.0} °C"),
        _ => format!("above {HOT_JUNCTION_C:.0} °C"),
    };
    Some(format!(
        "hot surface: the junction of `{}` reaches {:.0} °C, {above}: it can burn skin, board and \
         part; thermal shutdown is the last resort and no way of working",
        facts.path, facts.highest_c
    ))
}

fn capacitor(facts: &CapacitorFacts) -> Vec<String> {
    let mut found = Vec::new();
    let part = &facts.part;
    let highest = facts.highest_v.map(|high| high.max(-facts.lowest_v.unwrap_or(0.0)));
    if let (Some(rated), Some(highest)) = (facts.rated_v, highest)
        && rated > 0.0
    {
        let share = highest / rated;
        let told = format!(
            "`{part}` sees {} of its rated {}",
            engineering(highest, "V", 3),
            engineering(rated, "V", 3)
        );
        if share > 1.0 {
            found.push(format!("{told}: above its rating it may short, vent or burn"));
        } else if share > CAPACITOR_SHARE {
            found.push(format!(
                "{told}: more than the {} % commonly allowed",
                CAPACITOR_SHARE * 100.0
            ));
        } else if let Some(derated) = facts.derated_v.filter(|derated| highest > *derated) {
            found.push(format!(
                "{told}: more than the {} that its `derating` leaves",
                engineering(derated, "V", 3)
            ));
        } else if share > TANTALUM_SHARE {
            match facts.dielectric {
                Some(d) if d.is_tantalum() => {
                    found.push(format!("{told}: too much for tantalum, which surges can ignite"));
                }
                Some(_) => {}
                None => found.push(format!(
                    "{told}: too much if it is a tantalum type, which surges can ignite"
                )),
            }
        }
    }
    found.extend(reversed(facts));
    found
}

fn reversed(facts: &CapacitorFacts) -> Option<String> {
    let lowest = facts.lowest_v.filter(|v| *v < REVERSE_V)?;
    let told = format!("`{}` is reversed by {}", facts.part, engineering(-lowest, "V", 3));
    match facts.dielectric {
        Some(d) if d.is_polarised() => Some(format!("{told}: {} may vent or ignite", d.word)),
        Some(_) => None,
        None => facts.rated_v.map(|_| format!("{told}: a polarised type may vent or ignite")),
    }
}

/// What is said once of several capacitors.
fn about_parts(facts: &Facts) -> Vec<String> {
    let named = |which: fn(&CapacitorFacts) -> bool| {
        let parts = facts.capacitors.iter().filter(|c| which(c));
        let parts: Vec<String> = parts.map(|c| format!("`{}`", c.part)).collect();
        (!parts.is_empty()).then(|| parts.join(", "))
    };
    let mut found: Vec<String> = label_values(facts).into_iter().collect();
    found.extend(named(|c| c.bias_is_assumed).map(|parts| {
        format!(
            "{parts}: what bias leaves is only what is common for the class, no source; makers \
             differ twofold, so give `bias_curve` or `remaining` from the part's own data"
        )
    }));
    found.extend(named(|c| c.cold_esr_is_missing).map(|parts| {
        format!(
            "{parts}: wet aluminium below freezing with the ESR of 25 °C, which commonly rises \
             five- to fifteenfold down to -40 °C; give `esr_curve`"
        )
    }));
    found
}

fn label_values(facts: &Facts) -> Option<String> {
    let parts: Vec<String> = facts
        .capacitors
        .iter()
        .filter(|c| c.at_label_value)
        .map(|c| format!("`{}`", c.part))
        .collect();
    let verb = if parts.len() == 1 { "is" } else { "are" };
    (!parts.is_empty()).then(|| {
        format!(
            "{} {verb} taken at label value: a class II ceramic keeps much less under bias, in \
             the cold and with age; set `dielectric` and `bias_curve`, or `remaining`, from its \
             maker's data",
            parts.join(", ")
        )
    })
}

pub(super) fn fields(fields: Fields) -> Vec<String> {
    let mut found = Vec::new();
    if fields.battery {
        found.push(
            "battery source: over-discharge, charging and short-circuit protection follow the \
             rules of the cell's maker; none of it is checked here"
                .to_owned(),
        );
    }
    if fields.mains {
        found.push(
            "mains source: isolation, earthing and stored energy follow local codes and are a \
             licensed person's work; discharge reservoirs before touching them"
                .to_owned(),
        );
    }
    if fields.safety {
        found.push(
            "this field has safety standards of its own: they and a qualified engineer decide, \
             nothing here certifies"
                .to_owned(),
        );
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{CapacitorFacts, Dielectric, Facts, Fields, cautions};

    fn matching(facts: &Facts, text: &str) -> usize {
        cautions(facts).iter().filter(|c| c.contains(text)).count()
    }

    #[test]
    fn a_quiet_run_is_told_only_that_it_is_calculated() {
        let told = cautions(&Facts::default());
        assert_eq!(told.len(), 1);
        assert!(told[0].starts_with("calculated, not measured"));
    }

    #[test]
    fn each_caution_has_its_trigger() {
        let hot = Facts { pass_power_peak_w: Some(0.51), ..Facts::default() };
        assert_eq!(matching(&hot, "510 mW at its peak"), 1);
        let mean = Facts { pass_power_mean_w: Some(1.2), ..hot };
        assert_eq!(matching(&mean, "1.20 W steadily"), 1);
        let cool = Facts { pass_power_peak_w: Some(0.5), ..Facts::default() };
        assert_eq!(matching(&cool, "hot surface"), 0);
        let broken = Facts { pass_power_peak_w: Some(f64::NAN), ..Facts::default() };
        assert_eq!(matching(&broken, "hot surface"), 0);

        let failed = Facts { failed: true, not_evaluated: true, ..Facts::default() };
        assert_eq!(matching(&failed, "a requirement fails"), 1);
        assert_eq!(matching(&failed, "not known to be right"), 1);
        let unsettled = Facts { unsettled: true, failed: true, ..Facts::default() };
        assert_eq!(matching(&unsettled, "does not come to rest"), 1);
        assert_eq!(matching(&unsettled, "a requirement fails"), 0);
        let shapes = Facts { vehicle_shapes: true, ..Facts::default() };
        assert_eq!(matching(&shapes, "line shapes used here are examples"), 1);
        assert_eq!(matching(&Facts { nominal_only: true, ..Facts::default() }, "tolerances"), 1);
    }

    #[test]
    fn capacitors_are_held_against_their_ratings() {
        let sees = |rated: Option<f64>, highest: f64, lowest: f64| Facts {
            capacitors: vec![CapacitorFacts {
                part: "C_OUT".to_owned(),
                rated_v: rated,
                highest_v: Some(highest),
                lowest_v: Some(lowest),
                ..CapacitorFacts::default()
            }],
            ..Facts::default()
        };
        assert_eq!(matching(&sees(Some(6.3), 6.4, 0.0), "above its rating"), 1);
        assert_eq!(matching(&sees(Some(6.3), 5.5, 0.0), "80 % commonly allowed"), 1);
        assert_eq!(matching(&sees(Some(6.3), 3.3, 0.0), "tantalum"), 1);
        assert_eq!(matching(&sees(Some(6.3), 2.8, 0.0), "C_OUT"), 0);
        assert_eq!(matching(&sees(None, 100.0, -5.0), "C_OUT"), 0);
        assert_eq!(matching(&sees(Some(6.3), 2.8, -0.6), "reversed by 600 mV"), 1);
    }

    #[test]
    fn a_dielectric_sharpens_or_takes_back_what_is_said() {
        let sees = |word: &str, highest: f64, lowest: f64| Facts {
            capacitors: vec![CapacitorFacts {
                part: "C_OUT".to_owned(),
                rated_v: Some(10.0),
                derated_v: Some(6.0),
                highest_v: Some(highest),
                lowest_v: Some(lowest),
                dielectric: Dielectric::of(word),
                ..CapacitorFacts::default()
            }],
            ..Facts::default()
        };
        assert_eq!(matching(&sees("tantalum", 5.5, 0.0), "too much for tantalum"), 1);
        assert_eq!(matching(&sees("X5R", 5.5, 0.0), "C_OUT"), 0);
        assert_eq!(matching(&sees("X5R", 6.5, 0.0), "6.00 V that its `derating` leaves"), 1);
        assert_eq!(matching(&sees("X5R", 11.0, 0.0), "above its rating"), 1);
        assert_eq!(matching(&sees("X5R", 5.0, -1.0), "C_OUT"), 0);
        assert_eq!(matching(&sees("aluminium", 5.0, -1.0), "aluminium may vent"), 1);
    }

    #[test]
    fn what_is_only_common_practice_is_told_once() {
        let capacitor = |part: &str| CapacitorFacts {
            part: part.to_owned(),
            bias_is_assumed: true,
            cold_esr_is_missing: true,
            ..CapacitorFacts::default()
        };
        let facts =
            Facts { capacitors: vec![capacitor("C1"), capacitor("C2")], ..Facts::default() };
        assert_eq!(matching(&facts, "`C1`, `C2`: what bias leaves is only what is common"), 1);
        assert_eq!(matching(&facts, "`C1`, `C2`: wet aluminium below freezing"), 1);
    }

    #[test]
    fn fields_are_found_as_whole_words() {
        let read = |text| Fields::mentioned_in([text]);
        assert!(read("Tide-buoy radio rail: 2.80 V from one lithium-ion cell").battery);
        assert!(read("5 V standby in cranking").safety);
        assert!(read("bench supply, Mains side").mains);
        assert_eq!(read("excellent rail, cancelled domains"), Fields::default());
        let facts = Facts { fields: read("mains, medical, battery"), ..Facts::default() };
        for text in ["cell's maker", "local codes", "a qualified engineer decide"] {
            assert_eq!(matching(&facts, text), 1, "{text}");
        }
    }

    #[test]
    fn capacitors_at_label_value_are_told_once() {
        let capacitor = |part: &str| CapacitorFacts {
            part: part.to_owned(),
            at_label_value: true,
            ..CapacitorFacts::default()
        };
        let facts =
            Facts { capacitors: vec![capacitor("C_IN"), capacitor("C_OUT")], ..Facts::default() };
        assert_eq!(matching(&facts, "`C_IN`, `C_OUT` are taken at label value"), 1);
    }
}
