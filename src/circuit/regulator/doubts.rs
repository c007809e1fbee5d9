//! What of a sheet cannot be true of any regulator of its topology, told before anything is fitted.
//! Only what physics or the sheet itself decides is told here; what merely looks odd is left to a fit.

use super::draft::Draft;
use super::inside::{forced_saturation_v, saturation_v};
use super::rows::below_v;
use super::sheet::{Datasheet, Level, Topology, Transient};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::quantity::trimmed;

/// No silicon base-emitter junction carries the current of a pass device with less at 25 °C, V: 0.6 V
/// and more are usual (common practice, no source).
const LEAST_JUNCTION_V: f64 = 0.4;
/// Within this no loop answers: it would have to cross over beyond 10 MHz, s (common practice, no
/// source).
const SUDDEN_S: f64 = 20e-9;
/// A droop read off a curve may be this much less than what must be there.
const READING: f64 = 0.9;
/// Rounded figures may differ by this.
const ROUNDING: f64 = 1e-6;
const DIGITS: usize = 3;

/// Tells all of it; `place` is the part's.
pub(super) fn tell_doubts(sheet: &Datasheet, draft: &Draft, place: Span, told: &mut Diagnostics) {
    let mut doubts = Doubts { sheet, draft, place, told };
    doubts.levels();
    doubts.limits();
    doubts.ground_currents();
    doubts.dropouts();
    doubts.falling_dropouts();
    for row in &sheet.transients {
        doubts.recommended(row);
        doubts.static_change(row);
        doubts.esr_step(row);
    }
}

fn volt(value: f64) -> String {
    trimmed(value, "V", DIGITS)
}

fn ampere(value: f64) -> String {
    trimmed(value, "A", DIGITS)
}

struct Doubts<'a> {
    sheet: &'a Datasheet,
    draft: &'a Draft,
    place: Span,
    told: &'a mut Diagnostics,
}

impl Doubts<'_> {
    fn span(&self, key: &str) -> Span {
        self.draft.get(key).map_or(self.place, |given| given.span)
    }

    fn wrong(&mut self, span: Span, message: String, hint: impl Into<String>) {
        self.told.push(Diagnostic::error(span, message).hint(hint));
    }

    fn levels(&mut self) {
        let sheet = self.sheet;
        let output_v = sheet.output_v();
        if let Level::Reference(reference_v) = sheet.level
            && output_v < reference_v
        {
            let message = format!(
                "an output of {} is below the reference of {}",
                volt(output_v),
                volt(reference_v)
            );
            self.wrong(self.span("test_output"), message, "a divider only makes it larger");
        }
        if let Some(input_v) = sheet.test.input_v.filter(|input_v| *input_v <= output_v) {
            let (input, output) = (volt(input_v), volt(output_v));
            let message = format!("the input of {input} is not above the output of {output}");
            self.wrong(self.span("test_input"), message, "a linear regulator needs more than that");
        }
        if let Some(bias_v) = sheet.test_bias_v
            && sheet.topology == Topology::NmosBias
            && bias_v <= output_v
        {
            let message = format!(
                "with {} at `bias` the gate cannot stand above the output of {}",
                volt(bias_v),
                volt(output_v)
            );
            let hint = "the bias must be above the output by a threshold and more";
            self.wrong(self.span("test_bias"), message, hint);
        }
        if sheet.shutdown.is_some() && sheet.thermal_resistance.is_none() {
            let message = "the thermal shutdown is left out: nothing says how warm it gets";
            let warning = Diagnostic::warning(self.span("shutdown_temperature"), message);
            self.told.push(warning.hint("add `thermal_resistance = \"…\"`, junction to ambient"));
        }
    }

    fn limits(&mut self) {
        let sheet = self.sheet;
        let Some(limit) = sheet.limit else { return };
        if limit.limit_a < sheet.rated_current_a {
            let message = format!(
                "a limit of {} is below the rated {}",
                ampere(limit.limit_a),
                ampere(sheet.rated_current_a)
            );
            let hint = "give the least limit of the sheet, or a smaller `rated_current`";
            self.wrong(self.span("current_limit"), message, hint);
        }
        if let (Some(fold_v), Level::Output(output_v)) = (limit.fold_v, sheet.level)
            && fold_v > output_v
        {
            let message = format!(
                "folding back from {}, the limit is never whole at an output of {}",
                volt(fold_v),
                volt(output_v)
            );
            let hint = "`fold_voltage` is the output from which up the whole limit holds";
            self.wrong(self.span("fold_voltage"), message, hint);
        }
        for row in sheet.dropouts.iter().filter(|row| row.current_a > limit.limit_a) {
            let message = format!(
                "a dropout at {} lies beyond the limit of {}",
                ampere(row.current_a),
                ampere(limit.limit_a)
            );
            let mistake = Diagnostic::error(row.span, message);
            let also = self.span("current_limit");
            self.told.push(mistake.hint("give it at a smaller current").also(also, "the limit"));
        }
    }

    /// Base current of a pnp flows to ground: in regulation I/β, in dropout more, since β is less.
    fn ground_currents(&mut self) {
        if self.sheet.ground.in_dropout_a.is_some() && self.sheet.topology != Topology::Pnp {
            let message =
                "the ground current in dropout is left out: only of a pnp is it base current";
            let warning = Diagnostic::warning(self.span("ground_current_in_dropout"), message);
            self.told.push(warning.hint("take it out, or check `topology`"));
        }
        let ground = self.sheet.ground;
        let own_a = ground.no_load_a.unwrap_or(0.0);
        if let Some(full_a) = ground.full_load_a.filter(|full| *full < own_a) {
            let message = format!(
                "less flows to ground at full load, {}, than without load, {}",
                ampere(full_a),
                ampere(own_a)
            );
            self.wrong(self.span("ground_current"), message, "swap the two, if they are meant so");
        }
        if self.sheet.topology != Topology::Pnp {
            return;
        }
        let wanted = ground.full_load_a.unwrap_or(own_a);
        if let Some(most_a) = ground.in_dropout_a.filter(|most| *most < wanted * (1.0 - ROUNDING)) {
            let message = format!(
                "in dropout {} to ground cannot saturate the pnp, whose base takes its share of {} at \
                 the same load in regulation already",
                ampere(most_a),
                ampere(wanted)
            );
            let hint =
                "`ground_current_in_dropout` is the larger of the two: all that the driver gives";
            self.wrong(self.span("ground_current_in_dropout"), message, hint);
        }
    }

    fn dropouts(&mut self) {
        let sheet = self.sheet;
        let ground = sheet.ground;
        let own_a = ground.no_load_a.unwrap_or(0.0);
        for row in &sheet.dropouts {
            let dropout_v = row.dropout_v;
            match sheet.topology {
                Topology::Npn | Topology::Darlington => {
                    let count = if sheet.topology == Topology::Npn { 1.0 } else { 2.0 };
                    let least_v = count * LEAST_JUNCTION_V;
                    if dropout_v < least_v {
                        let what = if count > 1.0 {
                            "the two base-emitter junctions of a darlington"
                        } else {
                            "the base-emitter junction of an npn"
                        };
                        let (given, least) = (volt(dropout_v), volt(least_v));
                        let message = format!(
                            "a dropout of {given} is less than {what} needs: at least {least}"
                        );
                        let hint = "with so little it is a pnp, a pmos or an nmos-bias";
                        self.wrong(row.span, message, hint);
                    }
                }
                Topology::Pnp => {
                    let base = ground.full_load_a.zip(ground.in_dropout_a);
                    let Some((full_a, most_a)) = base.map(|(f, m)| (f - own_a, m - own_a)) else {
                        continue;
                    };
                    if full_a > 0.0 && most_a > full_a {
                        let gain = sheet.rated_current_a / full_a;
                        self.saturation(row.span, (row.current_a, dropout_v), most_a, gain);
                    }
                }
                Topology::Pmos | Topology::NmosBias => {}
            }
            if below_v(&row.definition, sheet.output_v()).is_some_and(|v| v >= sheet.output_v()) {
                let message = format!("`{}` leaves nothing of the output", row.definition);
                self.wrong(row.span, message, "write `100 mV below`, `2 % below` or `fully on`");
            }
        }
    }

    /// More current drops more, as long as nothing else is changed.
    fn falling_dropouts(&mut self) {
        let rows = &self.sheet.dropouts;
        for row in rows {
            let less = rows.iter().find(|other| {
                let alike = other.definition == row.definition;
                alike && other.current_a < row.current_a && other.dropout_v > row.dropout_v
            });
            let Some(less) = less else { continue };
            let message = format!(
                "{} at {} is less than {} at {}",
                volt(row.dropout_v),
                ampere(row.current_a),
                volt(less.dropout_v),
                ampere(less.current_a)
            );
            let warning = Diagnostic::warning(row.span, message).also(less.span, "at less current");
            self.told.push(warning.hint("give both at one temperature and by one definition"));
        }
    }

    /// However good the transistor is the other way round, it keeps U_T·ln(1/(1 - forced/β)) (Ebers
    /// and Moll, Proc. IRE 42 (1954) 1761); one as it is assumed here keeps more.
    fn saturation(&mut self, span: Span, (load_a, dropout_v): (f64, f64), base_a: f64, gain: f64) {
        let Some(least_v) = forced_saturation_v(load_a, base_a, gain) else {
            let message = format!(
                "{} of base current cannot saturate the pnp at {}",
                ampere(base_a),
                ampere(load_a)
            );
            let hint =
                "raise `ground_current_in_dropout`, or give the dropout at a smaller current";
            self.wrong(span, message, hint);
            return;
        };
        let (given, base) = (volt(dropout_v), ampere(base_a));
        let hint = "raise `ground_current_in_dropout`, or the dropout";
        if dropout_v < least_v {
            let least = volt(least_v);
            let message = format!(
                "a dropout of {given} is less than the {least} that a pnp keeps with {base} of base current"
            );
            self.wrong(span, message, hint);
        } else if saturation_v(load_a, base_a, gain).is_some_and(|v| dropout_v < v) {
            let message = format!(
                "a dropout of {given} is less than the transistor assumed here keeps with {base} of base \
                 current; the model will drop more"
            );
            self.told.push(Diagnostic::warning(span, message).hint(hint));
        }
    }

    /// A point may be measured beyond what is recommended, but seldom is.
    fn recommended(&mut self, row: &Transient) {
        let test = self.sheet.test;
        let farad = row.at.capacitor_f.or(test.capacitor_f);
        let ohm = row.at.esr_ohm.or(test.esr_ohm);
        let figures = [
            ("capacitor", farad, self.sheet.capacitor_f, "F", "capacitor_range"),
            ("ESR", ohm, self.sheet.esr_ohm, "Ω", "esr_range"),
        ];
        for (what, figure, range, unit, key) in figures {
            let Some((figure, [low, high])) = figure.zip(range) else { continue };
            if (low * (1.0 - ROUNDING)..=high * (1.0 + ROUNDING)).contains(&figure) {
                continue;
            }
            let [figure, low, high] = [figure, low, high].map(|v| trimmed(v, unit, DIGITS));
            let message = format!(
                "this load step was taken with {what} {figure}, outside the recommended {low} to {high}"
            );
            let warning =
                Diagnostic::warning(row.span, message).also(self.span(key), "recommended");
            self.told.push(warning.hint("check both: one of them may be of another capacitor"));
        }
    }

    /// The output ends up lower by the static change at the latest.
    fn static_change(&mut self, row: &Transient) {
        let Some(droop_v) = row.droop_v else { return };
        let within = |from: f64, to: f64| row.from_a <= from && to <= row.to_a;
        let contained = self.sheet.load_regulations.iter().filter(|r| within(r.from_a, r.to_a));
        let largest = contained.max_by(|a, b| a.change_v.total_cmp(&b.change_v));
        let Some(regulation) = largest.filter(|r| droop_v < r.change_v * (1.0 - ROUNDING)) else {
            return;
        };
        let message = format!(
            "a droop of {} is less than the {} by which the output falls at rest",
            volt(droop_v),
            volt(regulation.change_v)
        );
        let mistake = Diagnostic::error(row.span, message).also(regulation.span, "at rest");
        self.told.push(mistake.hint("a droop counts from the level before the step"));
    }

    /// A sudden step is carried by the output capacitor alone, and its ESR drops at once. Where no
    /// ESR is given for the point, the least that is recommended must not contradict it.
    fn esr_step(&mut self, row: &Transient) {
        let Some(droop_v) = row.droop_v.filter(|_| row.edge_s <= SUDDEN_S) else { return };
        let given = row.at.esr_ohm.or(self.sheet.test.esr_ohm);
        let recommended = self.sheet.esr_ohm.map(|[low, _]| low);
        let Some(ohm) = given.or(recommended) else { return };
        let least_v = ohm * (row.to_a - row.from_a);
        if droop_v >= READING * least_v {
            return;
        }
        let what = if given.is_some() { "an ESR of" } else { "the least recommended ESR," };
        let message = format!(
            "a droop of {} contradicts {what} {}: it alone drops {} at so sudden a step",
            volt(droop_v),
            trimmed(ohm, "Ω", DIGITS),
            volt(least_v)
        );
        self.wrong(row.span, message, "check `esr` of this point, or its `edge`");
    }
}
