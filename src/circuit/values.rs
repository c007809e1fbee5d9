//! Named values in their scopes: which names which, in what order they can be worked out, and
//! what they come to.
//!
//! Slots 0 and 1 are `rail.nominal` and `rail.ambient`; the file's values follow, then those of
//! each block.

use super::formula::Formula;
use super::order::order_of;
use crate::diagnostic::{Diagnostic, Diagnostics, FileId, Span};
use crate::quantity::{Dimension, Names, Program};
use std::collections::{BTreeMap, BTreeSet};

/// The slot of `rail.nominal`.
pub(super) const NOMINAL: usize = 0;
/// The slot of `rail.ambient`.
pub(super) const AMBIENT: usize = 1;
/// The scope of the file itself.
pub(super) const ROOT: usize = 0;
/// 25 °C in K, where a file gives no ambient temperature.
const ROOM_K: f64 = 298.15;

/// One named value.
#[derive(Clone, Debug)]
pub(super) struct Slot {
    /// `c_out`, or `U1.r_top` inside a block.
    pub(super) name: String,
    /// Where it is named.
    pub(super) span: Span,
    /// What it comes to; `None` when that could not be read (told already) or is not given.
    pub(super) formula: Option<Formula>,
    /// The scope whose names the formula uses.
    pub(super) scope: usize,
    /// The dimension it must have, where that is fixed.
    pub(super) wanted: Option<Dimension>,
    program: Option<Program>,
    needs: Vec<usize>,
    /// Whether it only serves to check a block that no part uses.
    unused: bool,
}

/// Names seen from one place.
#[derive(Clone, Debug, Default)]
pub(super) struct Scope {
    names: BTreeMap<String, usize>,
    /// Whether it only serves to check a block that no part uses.
    unused: bool,
}

/// All values of a circuit.
#[derive(Clone, Debug)]
pub(super) struct Values {
    /// By slot.
    pub(super) slots: Vec<Slot>,
    /// By scope.
    pub(super) scopes: Vec<Scope>,
    order: Vec<usize>,
}

/// A formula put in the place of a value's own.
#[derive(Clone, Debug)]
pub(super) struct Replacement {
    pub(super) formula: Formula,
    pub(super) scope: usize,
    pub(super) program: Program,
}

/// What the values of one variant come to.
#[derive(Clone, Debug, Default)]
pub(super) struct Figures {
    /// In SI base units, by slot.
    pub(super) numbers: Vec<f64>,
    failed: BTreeSet<usize>,
}

impl Figures {
    /// Whether a slot could be worked out.
    pub(super) fn is_known(&self, slot: usize) -> bool {
        !self.failed.contains(&slot)
    }

    /// The number a program gives, or `None` if a value it needs could not be worked out.
    pub(super) fn get(&self, program: &Program) -> Option<f64> {
        let known = !program.slots_used().iter().any(|slot| self.failed.contains(slot));
        known.then(|| program.evaluate(&self.numbers))
    }
}

/// The names of one scope, for compiling.
pub(super) struct InScope<'a> {
    pub(super) values: &'a Values,
    pub(super) scope: usize,
}

impl Names for InScope<'_> {
    fn find(&self, name: &str) -> Option<(usize, Dimension)> {
        let slot = self.values.find(self.scope, name)?;
        let program = self.values.slots[slot].program.as_ref()?;
        Some((slot, program.dimension()))
    }

    fn all(&self) -> Vec<String> {
        let own = self.values.scopes[self.scope].names.keys().cloned();
        let rail = [NOMINAL, AMBIENT].into_iter().filter(|s| self.values.is_given(*s));
        own.chain(rail.map(|s| self.values.slots[s].name.clone())).collect()
    }
}

impl Values {
    /// Only the two values of the rail, not given yet.
    pub(super) fn new() -> Self {
        let nowhere = Span { file: FileId(0), start: 0, end: 0 };
        let slot = |name: &str, wanted| Slot {
            name: name.to_owned(),
            span: nowhere,
            formula: None,
            scope: ROOT,
            wanted: Some(wanted),
            program: None,
            needs: Vec::new(),
            unused: false,
        };
        let mut ambient = slot("rail.ambient", Dimension::KELVIN);
        ambient.program = Some(Program::constant(ROOM_K, Dimension::KELVIN));
        Self {
            slots: vec![slot("rail.nominal", Dimension::VOLT), ambient],
            scopes: vec![Scope::default()],
            order: Vec::new(),
        }
    }

    /// A new scope with no names yet.
    pub(super) fn open_scope(&mut self, unused: bool) -> usize {
        self.scopes.push(Scope { names: BTreeMap::new(), unused });
        self.scopes.len() - 1
    }

    /// Gives the rail's nominal voltage or ambient temperature.
    pub(super) fn give_rail(&mut self, slot: usize, span: Span, formula: Option<Formula>) {
        self.slots[slot].span = span;
        self.slots[slot].formula = formula;
        self.slots[slot].program = None;
        self.slots[slot].needs.clear();
    }

    /// Adds a value seen as `local` in scope `seen_in`, its formula in terms of scope `scope`.
    pub(super) fn add(
        &mut self,
        local: &str,
        name: String,
        span: Span,
        seen_in: usize,
        formula: Option<Formula>,
        scope: usize,
    ) {
        let (program, needs) = (None, Vec::new());
        let unused = self.scopes[seen_in].unused;
        self.slots.push(Slot { name, span, formula, scope, wanted: None, program, needs, unused });
        self.scopes[seen_in].names.insert(local.to_owned(), self.slots.len() - 1);
    }

    /// The slot a name means in a scope.
    pub(super) fn find(&self, scope: usize, name: &str) -> Option<usize> {
        match name {
            "rail.nominal" => self.is_given(NOMINAL).then_some(NOMINAL),
            "rail.ambient" => Some(AMBIENT),
            _ => self.scopes[scope].names.get(name).copied(),
        }
    }

    /// The slot of a value by its name in the circuit, `c_out` or `U1.r_top`.
    pub(super) fn by_full_name(&self, name: &str) -> Option<usize> {
        self.visible().find(|&slot| self.slots[slot].name == name)
    }

    /// The names of all values, those of the rail left out.
    pub(super) fn full_names(&self) -> impl Iterator<Item = &str> {
        self.visible().map(|slot| self.slots[slot].name.as_str())
    }

    /// All values of the circuit: not those of the rail, nor of blocks that no part uses.
    pub(super) fn visible(&self) -> impl Iterator<Item = usize> {
        (AMBIENT + 1..self.slots.len()).filter(|&slot| !self.slots[slot].unused)
    }

    fn is_given(&self, slot: usize) -> bool {
        self.slots[slot].formula.is_some() || self.slots[slot].program.is_some()
    }

    /// The dimension of a value that could be compiled.
    pub(super) fn dimension(&self, slot: usize) -> Option<Dimension> {
        self.slots[slot].program.as_ref().map(Program::dimension)
    }

    /// Whether a formula names a value whose own mistake has been told already.
    pub(super) fn is_spoilt(&self, formula: &Formula, scope: usize) -> bool {
        let broken = |slot: usize| self.slots[slot].program.is_none();
        formula.names().iter().filter_map(|n| self.find(scope, n)).any(broken)
    }

    /// Compiles a formula in a scope. `None` without a new mistake when it hangs on one told
    /// already.
    pub(super) fn compile(
        &self,
        formula: &Formula,
        scope: usize,
        wanted: Option<Dimension>,
        diagnostics: &mut Diagnostics,
    ) -> Option<Program> {
        if self.is_spoilt(formula, scope) {
            return None;
        }
        match formula.compile(&InScope { values: self, scope }, wanted) {
            Ok(program) => Some(program),
            Err(mistakes) => {
                diagnostics.extend(mistakes);
                None
            }
        }
    }

    fn needs_of(&self, formula: &Formula, scope: usize) -> Vec<usize> {
        formula.names().iter().filter_map(|name| self.find(scope, name)).collect()
    }

    /// Finds the order of the values and compiles each; cycles and mistakes are recorded.
    pub(super) fn settle(&mut self, diagnostics: &mut Diagnostics) {
        for slot in 0..self.slots.len() {
            if let Some(formula) = &self.slots[slot].formula {
                self.slots[slot].needs = self.needs_of(formula, self.slots[slot].scope);
            }
        }
        let (order, cycles) = order_of(self.slots.len(), |slot| self.slots[slot].needs.clone());
        for cycle in cycles {
            diagnostics.push(self.cycle_told(&cycle));
        }
        for &slot in &order {
            if diagnostics.is_full() {
                break;
            }
            let Some(formula) = self.slots[slot].formula.clone() else { continue };
            let Slot { scope, wanted, .. } = self.slots[slot];
            self.slots[slot].program = self.compile(&formula, scope, wanted, diagnostics);
        }
        self.order = order;
    }

    fn cycle_told(&self, cycle: &[usize]) -> Diagnostic {
        let name = |slot: &usize| format!("`{}`", self.slots[*slot].name);
        let first = cycle.first().copied().unwrap_or(NOMINAL);
        let round: Vec<String> = cycle.iter().chain([&first]).map(name).collect();
        Diagnostic::error(
            self.slots[first].span,
            format!("values go round in a circle: {}", round.join(" → ")),
        )
        .label("needs itself")
        .hint("give one of them a quantity that names none of the others")
    }

    /// What all values come to with some formulas replaced.
    pub(super) fn evaluate(
        &self,
        replaced: &BTreeMap<usize, Replacement>,
        diagnostics: &mut Diagnostics,
    ) -> Figures {
        let mut figures = Figures { numbers: vec![0.0; self.slots.len()], failed: BTreeSet::new() };
        let rebuilt;
        let order = if replaced.is_empty() {
            &self.order
        } else {
            let needs = |slot: usize| match replaced.get(&slot) {
                Some(r) => self.needs_of(&r.formula, r.scope),
                None => self.slots[slot].needs.clone(),
            };
            let (order, cycles) = order_of(self.slots.len(), needs);
            for cycle in cycles {
                diagnostics.push(self.cycle_told(&cycle));
            }
            rebuilt = order;
            &rebuilt
        };
        let mut waiting: BTreeSet<usize> = (0..self.slots.len()).collect();
        for &slot in order {
            waiting.remove(&slot);
            self.evaluate_slot(slot, replaced.get(&slot), &mut figures, diagnostics);
        }
        figures.failed.extend(waiting);
        figures
    }

    fn evaluate_slot(
        &self,
        slot: usize,
        replacement: Option<&Replacement>,
        figures: &mut Figures,
        diagnostics: &mut Diagnostics,
    ) {
        let entry = &self.slots[slot];
        let program = replacement.map(|r| &r.program).or(entry.program.as_ref());
        let formula = replacement.map(|r| &r.formula).or(entry.formula.as_ref());
        match program.and_then(|p| figures.get(p)) {
            Some(number) if number.is_finite() => figures.numbers[slot] = number,
            Some(_) => {
                figures.failed.insert(slot);
                if let Some(formula) = formula {
                    let message = format!("`{}` does not come to a finite number", entry.name);
                    let hint =
                        "look for a division by zero, or a root or logarithm of a negative number";
                    diagnostics.push(formula.mistake(message).hint(hint));
                }
            }
            None => {
                figures.failed.insert(slot);
            }
        }
    }
}
