//! Requirements as a file writes them: a limit, or a table of limit and options, or several.

use crate::circuit::{Circuit, Variant};
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::document::{Node, Reader, Table, Word, wrong_form};
use crate::measure::{
    About, Definition, DropoutDefinition, LimitProgram, Requirement, RequirementOption, TestKind,
    definition,
};
use crate::quantity::{Dimension, NoNames, Program, parse};

/// A requirement whose figures may still depend on the circuit's values.
#[derive(Clone, Debug)]
pub struct RequirementProgram {
    name: String,
    limit: LimitProgram,
    limit_text: String,
    band: Option<Band>,
    about: Option<About>,
    level: Option<Program>,
    at: Option<(Program, Span)>,
    frequency_band: Option<([Program; 2], Span)>,
    definition: Option<DropoutDefinition>,
    of: Option<String>,
    share: Option<(Program, Span)>,
    advisory: bool,
}

/// Half-width of a band.
#[derive(Clone, Debug)]
enum Band {
    /// V
    Absolute(Program, Span),
    /// Of nominal.
    Fraction(Program, Span),
}

impl Band {
    /// In V; `None` for a fraction where no nominal voltage is given.
    fn volt(&self, variant: &Variant) -> Result<Option<f64>, Vec<Diagnostic>> {
        let (Self::Absolute(program, span) | Self::Fraction(program, span)) = self;
        let value: f64 = variant.evaluate(program);
        if !(value > 0.0 && value.is_finite()) {
            let mistake = Diagnostic::error(*span, "`band` must be above zero");
            return Err(vec![mistake.hint("write its half-width, such as `\"0.5 %\"`")]);
        }
        let nominal_v = variant.rail.as_ref().and_then(|r| r.nominal_v);
        Ok(match self {
            Self::Absolute(..) => Some(value),
            Self::Fraction(..) => nominal_v.map(|v| v.abs() * value),
        })
    }
}

impl RequirementProgram {
    /// Which measurement it is about.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The requirement in figures of one variant.
    ///
    /// # Errors
    /// A limit that is not finite, a range whose ends are in the wrong order, or frequencies that are
    /// not above zero or do not rise.
    pub fn evaluate(&self, variant: &Variant) -> Result<Requirement, Vec<Diagnostic>> {
        let band = self.band.as_ref().map(|band| band.volt(variant)).transpose()?.flatten();
        Ok(Requirement {
            name: self.name.clone(),
            limit: self.limit.evaluate(variant.slots())?,
            limit_text: self.limit_text.clone(),
            band,
            about: self.about,
            level: self.level.as_ref().map(|p| variant.evaluate(p)),
            at: self.at_hz(variant)?,
            band_hz: self.band_hz(variant)?,
            definition: self.definition,
            of: self.of.clone(),
            share: self.fallen_by(variant)?,
            advisory: self.advisory,
        })
    }

    fn at_hz(&self, variant: &Variant) -> Result<Option<f64>, Vec<Diagnostic>> {
        let Some((program, span)) = &self.at else { return Ok(None) };
        let hz: f64 = variant.evaluate(program);
        if hz > 0.0 && hz.is_finite() {
            return Ok(Some(hz));
        }
        let mistake = Diagnostic::error(*span, "`at` must be above zero");
        Err(vec![mistake.hint("write a frequency, such as `at = \"10 kHz\"`")])
    }

    fn fallen_by(&self, variant: &Variant) -> Result<Option<f64>, Vec<Diagnostic>> {
        let Some((program, span)) = &self.share else { return Ok(None) };
        let share: f64 = variant.evaluate(program);
        if share > 0.0 && share < 1.0 {
            return Ok(Some(share));
        }
        let mistake = Diagnostic::error(*span, "`share` must lie between 0 and 100 %");
        Err(vec![mistake.hint("write how far the output has fallen, such as `share = \"5 %\"`")])
    }

    fn band_hz(&self, variant: &Variant) -> Result<Option<[f64; 2]>, Vec<Diagnostic>> {
        let Some((programs, span)) = &self.frequency_band else { return Ok(None) };
        let band = programs.each_ref().map(|p| variant.evaluate(p));
        match doubtful_band(band, *span) {
            Some(mistake) => Err(vec![mistake]),
            None => Ok(Some(band)),
        }
    }
}

/// The mistake of a band in Hz that does not rise from above zero, if it does not.
pub(super) fn doubtful_band([low, high]: [f64; 2], span: Span) -> Option<Diagnostic> {
    let sound = low > 0.0 && high > low && high.is_finite();
    let message = "`band` must rise from a frequency above zero";
    let hint = "write the lower one first, such as `band = [\"10 Hz\", \"100 kHz\"]`";
    (!sound).then(|| Diagnostic::error(span, message).hint(hint))
}

/// Reads a `require` table of a test of `kind`.
pub(super) fn read_requirements(
    circuit: &Circuit,
    table: &Table,
    kind: TestKind,
    diagnostics: &mut Diagnostics,
) -> Vec<RequirementProgram> {
    let mut found = Vec::new();
    for (key, node) in &table.entries {
        let Some(definition) = definition(&key.text) else {
            diagnostics.push(unknown(&key.text, key.span, kind));
            continue;
        };
        if !definition.belongs_to(kind) {
            let message = format!("a {} test has no `{}`", kind.word(), key.text);
            let hint = format!("`{}` belongs to: {}", key.text, kinds_of(definition));
            diagnostics.push(Diagnostic::error(key.span, message).hint(hint));
            continue;
        }
        let list = match node.as_array() {
            Some(list) => list,
            None => std::slice::from_ref(node),
        };
        for entry in list {
            found.extend(read_one(circuit, definition, entry, diagnostics));
        }
    }
    found
}

fn kinds_of(definition: &Definition) -> String {
    let words: Vec<&str> = definition.kinds.iter().map(|k| k.word()).collect();
    words.join(", ")
}

fn unknown(name: &str, span: Span, kind: TestKind) -> Diagnostic {
    let known: Vec<&str> =
        crate::measure::DEFINITIONS.iter().filter(|d| d.belongs_to(kind)).map(|d| d.name).collect();
    let hint = match nearest(name, known.iter().copied()) {
        Some(near) => format!("write `{near}`"),
        None => format!("a {} test has: {}", kind.word(), known.join(", ")),
    };
    Diagnostic::error(span, format!("there is no measurement `{name}`"))
        .label("not a measurement")
        .hint(hint)
}

fn read_one(
    circuit: &Circuit,
    definition: &Definition,
    entry: &Node,
    diagnostics: &mut Diagnostics,
) -> Option<RequirementProgram> {
    if let Some(text) = entry.as_text() {
        let limit = read_limit(circuit, definition, text, entry, diagnostics)?;
        missing_options(definition, entry, |_| false, diagnostics)?;
        return Some(RequirementProgram {
            name: definition.name.to_owned(),
            limit,
            limit_text: text.trim().to_owned(),
            band: None,
            about: None,
            level: None,
            at: None,
            frequency_band: None,
            definition: None,
            of: None,
            share: None,
            advisory: false,
        });
    }
    let Some(table) = entry.as_table() else {
        diagnostics.push(wrong_form(definition.name, entry, "a limit such as `\"<= 30 mV\"`"));
        return None;
    };
    read_table(circuit, definition, table, entry, diagnostics)
}

fn read_table(
    circuit: &Circuit,
    definition: &Definition,
    table: &Table,
    entry: &Node,
    diagnostics: &mut Diagnostics,
) -> Option<RequirementProgram> {
    let mut later = Diagnostics::new();
    let what = format!("requirement `{}`", definition.name);
    let mut reader = Reader::new(table, what, entry.span, diagnostics);
    let limit_node = reader.required("limit", "\"<= 30 mV\"");
    let advisory = reader.boolean("advisory").unwrap_or(false);
    let takes = |option: RequirementOption| definition.options.contains(&option);
    let takes_about =
        definition.options.iter().any(|o| matches!(o, RequirementOption::About { .. }));
    let band_node = takes(RequirementOption::Band).then(|| reader.expression("band")).flatten();
    let level_node = takes(RequirementOption::Level).then(|| reader.expression("level")).flatten();
    let about_word = takes_about.then(|| reader.text("about")).flatten();
    let at_node = takes(RequirementOption::At).then(|| reader.expression("at")).flatten();
    let frequencies =
        takes(RequirementOption::FrequencyBand).then(|| reader.node("band")).flatten();
    let definition_word =
        takes(RequirementOption::Definition).then(|| reader.text("definition")).flatten();
    let share_node = takes(RequirementOption::Share).then(|| reader.expression("share")).flatten();
    let takes_of = definition.options.iter().any(|o| o.key() == "of");
    let of_word = takes_of.then(|| reader.text("of")).flatten();
    reader.finish();

    missing_options(definition, entry, |key| table.get(key).is_some(), &mut later);
    let about = about_word.and_then(|word| {
        let allowed = definition.options.iter().find_map(|o| match o {
            RequirementOption::About { allowed, .. } => Some(*allowed),
            _ => None,
        });
        let found = About::from_word(&word.text).filter(|a| allowed.is_none_or(|l| l.contains(a)));
        if found.is_none() {
            let words: Vec<&str> = allowed.unwrap_or(&[]).iter().map(|a| a.word()).collect();
            let message = format!("`{}` is not something to measure from", word.text);
            let hint = format!("write one of: {}", words.join(", "));
            later.push(Diagnostic::error(word.span, message).hint(hint));
        }
        found
    });
    let band = band_node.and_then(|node| read_band(circuit, node, &mut later));
    let level = level_node.and_then(|node| compile(circuit, node, Dimension::VOLT, &mut later));
    let at = at_node.and_then(|node| placed(circuit, node, Dimension::HERTZ, &mut later));
    let share = share_node.and_then(|node| placed(circuit, node, Dimension::NONE, &mut later));
    let frequency_band = frequencies.and_then(|node| {
        read_frequencies(circuit, node, &mut later).map(|programs| (programs, node.span))
    });
    let dropout = definition_word.and_then(|word| read_dropout_definition(&word, &mut later));
    let find = if takes(RequirementOption::Junction) { heat_path } else { capacitor };
    let of = of_word.and_then(|word| find(circuit, word, &mut later));
    let limit = limit_node.and_then(|node| match node.as_text() {
        Some(text) => {
            let limit = read_limit(circuit, definition, text, node, &mut later)?;
            Some((limit, text.trim().to_owned()))
        }
        None => {
            later.push(wrong_form("limit", node, "a limit such as `\"<= 30 mV\"`"));
            None
        }
    });
    diagnostics.append(later);
    let (limit, limit_text) = limit?;
    Some(RequirementProgram {
        name: definition.name.to_owned(),
        limit,
        limit_text,
        band,
        about,
        level,
        at,
        frequency_band,
        definition: dropout,
        of,
        share,
        advisory,
    })
}

/// A program and where it stands, or its mistakes recorded.
fn placed(
    circuit: &Circuit,
    node: &Node,
    wanted: Dimension,
    diagnostics: &mut Diagnostics,
) -> Option<(Program, Span)> {
    compile(circuit, node, wanted, diagnostics).map(|program| (program, node.span))
}

/// The name of a capacitor of the circuit.
fn capacitor(circuit: &Circuit, word: Word, diagnostics: &mut Diagnostics) -> Option<String> {
    let is = |name: &str| circuit.part_kind(name).is_some_and(|kind| kind.name == "capacitor");
    // A part that could not be read has been told where it stands.
    if is(&word.text) || circuit.is_unread(&word.text) {
        return Some(word.text);
    }
    let hint = match nearest(&word.text, circuit.part_names().filter(|name| is(name))) {
        Some(near) => format!("write `of = \"{near}\"`"),
        None => "write the name of a part of kind `capacitor`".to_owned(),
    };
    let message = format!("there is no capacitor `{}`", word.text);
    diagnostics.push(Diagnostic::error(word.span, message).label("no capacitor").hint(hint));
    None
}

/// The heat path of this name, or the one that a part of this name heats.
fn heat_path(circuit: &Circuit, word: Word, diagnostics: &mut Diagnostics) -> Option<String> {
    if let Some(path) = circuit.heat_path(&word.text) {
        return Some(path.to_owned());
    }
    if circuit.is_unread(&word.text) {
        return Some(word.text);
    }
    let known = circuit.part_names().filter(|name| circuit.heat_path(name).is_some());
    let hint = match nearest(&word.text, known) {
        Some(near) => format!("write `of = \"{near}\"`"),
        None => "write the name of a heat path, or of a part that heats one".to_owned(),
    };
    let message = format!("there is no heat path `{}`, nor a part of this name on one", word.text);
    diagnostics.push(Diagnostic::error(word.span, message).label("no junction").hint(hint));
    None
}

/// Two frequencies.
fn read_frequencies(
    circuit: &Circuit,
    node: &Node,
    diagnostics: &mut Diagnostics,
) -> Option<[Program; 2]> {
    let Some([low, high]) = node.as_array() else {
        diagnostics.push(wrong_form(
            "band",
            node,
            "two frequencies such as `[\"10 Hz\", \"100 kHz\"]`",
        ));
        return None;
    };
    let low = compile(circuit, low, Dimension::HERTZ, diagnostics);
    let high = compile(circuit, high, Dimension::HERTZ, diagnostics);
    low.zip(high).map(|(low, high)| [low, high])
}

/// `100 mV below`, `2 % below` or `fully on`.
fn read_dropout_definition(
    word: &Word,
    diagnostics: &mut Diagnostics,
) -> Option<DropoutDefinition> {
    let text = word.text.trim();
    if text == "fully on" {
        return Some(DropoutDefinition::FullyOn);
    }
    let amount = text.strip_suffix("below").map(str::trim).and_then(|amount| {
        let tree = parse(amount, word.span).ok()?;
        let number = |wanted| {
            let program = tree.compile_as(&NoNames, wanted).ok()?;
            Some(program.evaluate::<f64>(&[])).filter(|x: &f64| *x > 0.0 && x.is_finite())
        };
        let share = || number(Dimension::NONE).filter(|x| *x < 1.0);
        number(Dimension::VOLT)
            .map(DropoutDefinition::Below)
            .or_else(|| share().map(DropoutDefinition::ShareBelow))
    });
    if amount.is_none() {
        let message = format!("`{text}` is no definition of dropout");
        let hint = "write `100 mV below`, `2 % below` or `fully on`";
        diagnostics.push(Diagnostic::error(word.span, message).hint(hint));
    }
    amount
}

/// A band is a voltage, or a fraction of nominal.
fn read_band(circuit: &Circuit, node: &Node, diagnostics: &mut Diagnostics) -> Option<Band> {
    if let Ok(program) = circuit.compile(node, Dimension::NONE) {
        return Some(Band::Fraction(program, node.span));
    }
    match circuit.compile(node, Dimension::VOLT) {
        Ok(program) => Some(Band::Absolute(program, node.span)),
        Err(mistakes) => {
            mistakes.into_iter().for_each(|m| {
                diagnostics
                    .push(m.hint("a band is a fraction of nominal (`\"0.5 %\"`) or a voltage"));
            });
            None
        }
    }
}

fn read_limit(
    circuit: &Circuit,
    definition: &Definition,
    text: &str,
    node: &Node,
    diagnostics: &mut Diagnostics,
) -> Option<LimitProgram> {
    let span = node.content_span();
    match LimitProgram::parse(text, span, definition.dimension, &circuit.names()) {
        Ok(limit) => Some(limit),
        // A value that is broken itself has been told where it stands.
        Err(_) if circuit.names_broken_value(text) => None,
        Err(mistakes) => {
            mistakes.into_iter().for_each(|m| diagnostics.push(m));
            None
        }
    }
}

fn missing_options(
    definition: &Definition,
    entry: &Node,
    given: impl Fn(&str) -> bool,
    diagnostics: &mut Diagnostics,
) -> Option<()> {
    let missing = definition.options.iter().find(|o| o.must_be_given() && !given(o.key()));
    let Some(option) = missing else { return Some(()) };
    let (name, key) = (definition.name, option.key());
    let example = match option {
        RequirementOption::Band => "0.5 %",
        RequirementOption::Definition => "2 % below",
        _ => "2.7 V",
    };
    let message = format!("`{name}` needs its `{key}`");
    let hint = format!("write `{name} = {{ limit = \"…\", {key} = \"{example}\" }}`");
    diagnostics.push(Diagnostic::error(entry.span, message).hint(hint));
    None
}

/// A program, or its mistakes recorded.
pub(super) fn compile(
    circuit: &Circuit,
    node: &Node,
    wanted: Dimension,
    diagnostics: &mut Diagnostics,
) -> Option<Program> {
    match circuit.compile(node, wanted) {
        Ok(program) => Some(program),
        Err(mistakes) => {
            mistakes.into_iter().for_each(|m| diagnostics.push(m));
            None
        }
    }
}
