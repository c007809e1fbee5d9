//! A tree to a program: names to slots, dimensions checked, constants folded.

use super::function::Function;
use super::program::{Binary, MAX_STACK, Op, Unary};
use super::tree::{Infix, Kind, Node, Quantity};
use super::unknown::unknown;
use super::wanted::example;
use super::{Dimension, Names, Program, Tree};
use crate::diagnostic::Diagnostic;

/// What is known of a node's dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Known {
    /// A written zero, which suits any dimension.
    Any,
    Is(Dimension),
    /// A mistake already told about.
    Wrong,
}

/// What is known of a compiled node.
#[derive(Clone, Copy, Debug)]
struct Done {
    dimension: Known,
    value: Option<f64>,
    /// A point on the °C scale: it may be kept or shifted, but not scaled.
    celsius: bool,
    /// Length of the program before the node's first operand.
    first: usize,
}

impl Tree {
    /// Resolves names and checks dimensions.
    ///
    /// # Errors
    /// Every unknown name and every clash of dimensions.
    pub fn compile(&self, names: &dyn Names) -> Result<Program, Vec<Diagnostic>> {
        self.build(names, None)
    }

    /// Resolves names and checks dimensions, that of the result too.
    ///
    /// # Errors
    /// Every unknown name and every clash of dimensions; if there is none, a result that is not
    /// of the `wanted` dimension.
    pub fn compile_as(
        &self,
        names: &dyn Names,
        wanted: Dimension,
    ) -> Result<Program, Vec<Diagnostic>> {
        self.build(names, Some(wanted))
    }

    fn build(
        &self,
        names: &dyn Names,
        wanted: Option<Dimension>,
    ) -> Result<Program, Vec<Diagnostic>> {
        let mut compiler =
            Compiler { tree: self, names, done: Vec::new(), ops: Vec::new(), found: Vec::new() };
        for node in &self.nodes {
            compiler.node(node);
        }
        let result = compiler.done.last().map_or(Known::Wrong, |d| d.dimension);
        let dimension = match (result, wanted) {
            (Known::Any, wanted) => wanted.unwrap_or(Dimension::NONE),
            (Known::Is(is), Some(wanted)) if is != wanted => {
                compiler.found.push(self.not_wanted(is, wanted));
                is
            }
            (Known::Is(is), _) => is,
            (Known::Wrong, _) => Dimension::NONE,
        };
        let Compiler { ops, mut found, .. } = compiler;
        if found.is_empty() {
            match Program::new(ops, dimension) {
                Ok(program) => return Ok(program),
                Err(depth) => found.push(
                    Diagnostic::error(
                        self.span(),
                        format!("{depth} intermediate values wait here at once, {MAX_STACK} can"),
                    )
                    .hint("give an inner part a name of its own"),
                ),
            }
        }
        found.sort_by_key(|d| d.span);
        Err(found)
    }
}

/// A temperature in °C in kelvin. 0 °C is 273.15 K by definition; whole hundredths are added as
/// integers, so that `-40 °C` and `233.15 K` are the same double.
fn kelvin(celsius: f64) -> f64 {
    let hundredths = (celsius * 100.0).round();
    if hundredths / 100.0 == celsius { (hundredths + 27_315.0) / 100.0 } else { celsius + 273.15 }
}

struct Compiler<'a> {
    tree: &'a Tree,
    names: &'a dyn Names,
    done: Vec<Done>,
    ops: Vec<Op>,
    found: Vec<Diagnostic>,
}

impl Compiler<'_> {
    fn node(&mut self, node: &Node) {
        let first = self.ops.len();
        let done = match &node.kind {
            Kind::Quantity(quantity) => self.quantity(*quantity, node, first),
            Kind::Name(name) => self.name(name, node, first),
            Kind::Negate(x) => self.negate(*x, node),
            Kind::Infix(Infix::Power, base, exponent) => self.power(*base, *exponent),
            Kind::Infix(infix, a, b) => self.infix(*infix, *a, *b, node),
            Kind::Call(function, x) => self.call(*function, *x, node),
            Kind::CallTwo(function, a, b) => self.call_two(*function, *a, *b),
        };
        self.done.push(done);
    }

    /// An operand compiled earlier; the parser never refers to a later one.
    fn at(&self, node: usize) -> Done {
        let missing = Done { dimension: Known::Wrong, value: None, celsius: false, first: 0 };
        self.done.get(node).copied().unwrap_or(missing)
    }

    fn quote(&self, node: usize) -> String {
        self.tree
            .nodes
            .get(node)
            .map_or_else(String::new, |n| self.tree.source.quote(n.start, n.end))
    }

    fn error(&mut self, node: &Node, message: String, hint: String) -> Known {
        let place = self.tree.source.place(node.start, node.end);
        self.found.push(Diagnostic::error(place, message).hint(hint));
        Known::Wrong
    }

    fn error_at(&mut self, node: usize, message: String, hint: String) -> Known {
        match self.tree.nodes.get(node) {
            Some(node) => self.error(node, message, hint),
            None => Known::Wrong,
        }
    }

    fn quantity(&mut self, quantity: Quantity, node: &Node, first: usize) -> Done {
        let value = if quantity.celsius { kelvin(quantity.value) } else { quantity.value };
        self.ops.push(Op::Constant(value));
        let zero = quantity.bare && quantity.value == 0.0;
        let dimension = if quantity.celsius && value < 0.0 {
            let text = self.tree.source.quote(node.start, node.end);
            let hint = "write a temperature from -273.15 °C up".to_owned();
            self.error(node, format!("{text} is below absolute zero"), hint)
        } else if zero {
            Known::Any
        } else {
            Known::Is(quantity.dimension)
        };
        Done { dimension, value: Some(value), celsius: quantity.celsius, first }
    }

    fn name(&mut self, name: &str, node: &Node, first: usize) -> Done {
        let dimension = if let Some((slot, dimension)) = self.names.find(name) {
            self.ops.push(Op::Slot(slot));
            Known::Is(dimension)
        } else {
            let (message, hint) = unknown(name, self.names);
            self.found
                .push(Diagnostic::error(self.tree.name_place(node, name), message).hint(hint));
            Known::Wrong
        };
        Done { dimension, value: None, celsius: false, first }
    }

    /// Ends a node: folds it if its value is known.
    fn finish(&mut self, op: Op, value: Option<f64>, dimension: Known, first: usize) -> Done {
        if let Some(value) = value {
            self.ops.truncate(first);
            self.ops.push(Op::Constant(value));
        } else {
            self.ops.push(op);
        }
        Done { dimension, value, celsius: false, first }
    }

    fn unary(&mut self, unary: Unary, x: Done, dimension: Known) -> Done {
        self.finish(Op::Unary(unary), x.value.map(|x| unary.apply(x)), dimension, x.first)
    }

    fn binary(&mut self, binary: Binary, a: Done, b: Done, dimension: Known) -> Done {
        let value = a.value.zip(b.value).map(|(a, b)| binary.apply(a, b));
        self.finish(Op::Binary(binary), value, dimension, a.first)
    }

    fn negate(&mut self, x: usize, node: &Node) -> Done {
        let operand = self.at(x);
        let mut dimension = operand.dimension;
        if operand.celsius {
            let text = self.quote(x);
            let message = format!("{text} is a temperature in °C and cannot be negated");
            let hint = "write the sign at the number: `-40 °C`";
            dimension = self.error(node, message, hint.to_owned());
        }
        self.unary(Unary::Negate, operand, dimension)
    }

    /// Refuses a temperature in °C where only a difference in kelvin makes sense.
    fn no_celsius(&mut self, node: usize) -> bool {
        let celsius = self.at(node).celsius;
        if celsius {
            let message =
                format!("{} cannot be used here: °C stands alone or ± K", self.quote(node));
            let hint = "write differences in K, as in `25 °C + 10 K`";
            self.error_at(node, message, hint.to_owned());
        }
        celsius
    }

    fn infix(&mut self, infix: Infix, a: usize, b: usize, node: &Node) -> Done {
        let (left, right) = (self.at(a), self.at(b));
        let known = |d: Known| if let Known::Is(d) = d { d } else { Dimension::NONE };
        let wrong = left.dimension == Known::Wrong || right.dimension == Known::Wrong;
        if matches!(infix, Infix::Add | Infix::Subtract) {
            let (binary, verb) = if infix == Infix::Add {
                (Binary::Add, "added")
            } else {
                (Binary::Subtract, "subtracted")
            };
            let mut dimension = self.same(a, b, node, verb);
            // A varying temperature less one in °C is a difference, whatever is meant by the first.
            let varies = infix == Infix::Subtract && left.value.is_none() && !left.celsius;
            if dimension != Known::Wrong && !varies && self.no_celsius(b) {
                dimension = Known::Wrong;
            }
            let shifted = left.celsius && (infix == Infix::Add || right.value.is_some());
            let done = self.binary(binary, left, right, dimension);
            return Done { celsius: shifted, ..done };
        }
        let celsius = self.no_celsius(a) | self.no_celsius(b);
        let (binary, joined) = if infix == Infix::Multiply {
            (Binary::Multiply, known(left.dimension).checked_times(known(right.dimension)))
        } else {
            (Binary::Divide, known(left.dimension).checked_over(known(right.dimension)))
        };
        let dimension = match joined {
            _ if wrong || celsius => Known::Wrong,
            Some(dimension) => Known::Is(dimension),
            None => self.error(
                node,
                "the exponents of this product's unit are too large".to_owned(),
                "multiply fewer quantities".to_owned(),
            ),
        };
        self.binary(binary, left, right, dimension)
    }

    /// The dimension two operands share.
    fn same(&mut self, a: usize, b: usize, node: &Node, verb: &str) -> Known {
        let (left, right) = match (self.at(a).dimension, self.at(b).dimension) {
            (Known::Wrong, _) | (_, Known::Wrong) => return Known::Wrong,
            (Known::Any, other) | (other, Known::Any) => return other,
            (Known::Is(left), Known::Is(right)) => (left, right),
        };
        if left == right {
            return Known::Is(left);
        }
        let message = format!(
            "{} is {} and {} is {}: they cannot be {verb}",
            self.quote(a),
            left.words(),
            self.quote(b),
            right.words()
        );
        let bare = |node: usize| {
            let kind = self.tree.nodes.get(node).map(|n| &n.kind);
            matches!(kind, Some(Kind::Quantity(Quantity { bare: true, .. })))
        };
        let unquoted = |node: usize| self.quote(node).trim_matches('`').to_owned();
        let hint = if bare(a) {
            format!("give the number a unit: `{} {}`", unquoted(a), example(right).1)
        } else if bare(b) {
            format!("give the number a unit: `{} {}`", unquoted(b), example(left).1)
        } else if left.is_none() || right.is_none() {
            format!("write both in {}", if left.is_none() { right } else { left })
        } else {
            format!("write both in {left} or both in {right}")
        };
        self.error(node, message, hint)
    }

    fn power(&mut self, base: usize, exponent: usize) -> Done {
        let (below, above) = (self.at(base), self.at(exponent));
        let celsius = self.no_celsius(base) | self.no_celsius(exponent);
        let mut dimension = match (below.dimension, above.dimension) {
            _ if celsius => Known::Wrong,
            (Known::Wrong, _) | (_, Known::Wrong) => Known::Wrong,
            (_, Known::Is(d)) if !d.is_none() => {
                let message = format!("the exponent {} is {}", self.quote(exponent), d.words());
                self.error_at(exponent, message, format!("divide it by a quantity in {d}"))
            }
            (Known::Any, _) => Known::Is(Dimension::NONE),
            (Known::Is(d), _) => Known::Is(d),
        };
        if let Known::Is(d) = dimension
            && !d.is_none()
        {
            dimension = self.power_of(base, d, exponent, above.value);
        }
        if let Some(value) = above.value {
            self.ops.truncate(above.first);
            return self.unary(Unary::power(value), below, dimension);
        }
        self.binary(Binary::Power, below, above, dimension)
    }

    /// The dimension of a power of a quantity with a unit.
    fn power_of(&mut self, base: usize, d: Dimension, at: usize, exponent: Option<f64>) -> Known {
        let (below, above) = (self.quote(base), self.quote(at));
        match exponent {
            None => {
                let message = format!("{below} is {}, and its exponent {above} varies", d.words());
                self.error_at(at, message, format!("write a number, or divide {below} by 1 {d}"))
            }
            Some(exponent) => {
                if let Some(power) = d.power(exponent) {
                    Known::Is(power)
                } else {
                    let message =
                        format!("{below} is {}, and {d} to the {above} is no unit", d.words());
                    self.error_at(at, message, "write a small whole or half exponent".to_owned())
                }
            }
        }
    }

    fn root(&mut self, x: usize, d: Dimension, node: &Node) -> Known {
        if let Some(root) = d.power(0.5) {
            return Known::Is(root);
        }
        let message = format!("the square root of {} has no unit", self.quote(x));
        self.error(node, message, format!("divide it by a quantity in {d} before"))
    }

    fn call(&mut self, function: Function, x: usize, node: &Node) -> Done {
        let operand = self.at(x);
        let name = function.name();
        let celsius = self.no_celsius(x);
        let dimension = match operand.dimension {
            _ if celsius => Known::Wrong,
            Known::Wrong => Known::Wrong,
            Known::Any if matches!(function, Function::Abs | Function::Sqrt) => Known::Any,
            Known::Any => Known::Is(Dimension::NONE),
            Known::Is(d) => match function {
                Function::Abs => Known::Is(d),
                Function::Sqrt => self.root(x, d, node),
                _ if d.is_none() => Known::Is(d),
                _ => {
                    let text = self.quote(x);
                    let message = format!("`{name}` takes a plain number, {text} is {}", d.words());
                    let hint = if d == Dimension::DEGREE {
                        "write it in radians, a plain number: 180 deg are 3.14159265".to_owned()
                    } else {
                        format!("divide it by a quantity in {d}")
                    };
                    self.error_at(x, message, hint)
                }
            },
        };
        self.unary(Unary::Call(function), operand, dimension)
    }

    fn call_two(&mut self, function: Function, a: usize, b: usize) -> Done {
        let (left, right) = (self.at(a), self.at(b));
        let binary = if function == Function::Min { Binary::Minimum } else { Binary::Maximum };
        let at = self.done.len();
        let dimension = match self.tree.nodes.get(at) {
            Some(node) => self.same(a, b, node, "compared"),
            None => Known::Wrong,
        };
        let done = self.binary(binary, left, right, dimension);
        Done { celsius: left.celsius || right.celsius, ..done }
    }
}
