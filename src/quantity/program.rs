//! A compiled expression: a small stack program over any [`Scalar`].
//!
//! It cannot fail: what could is refused by the compiler, and a division by zero or a logarithm
//! of a negative number gives infinity or NaN as IEEE 754 has it.

use super::Dimension;
use super::function::Function;
use crate::numeric::Scalar;

/// Values a program may hold at once; a deeper expression is refused when it is compiled.
pub const MAX_STACK: usize = 32;

/// Most programs need no more than this, and clearing a short stack costs less.
const SHORT_STACK: usize = 8;

/// One step of a program.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Op {
    Constant(f64),
    Slot(usize),
    Unary(Unary),
    Binary(Binary),
}

/// Replaces the top of the stack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Unary {
    Negate,
    Call(Function),
    /// x^n.
    Whole(i32),
    /// x^(n/2), n odd.
    Half(i32),
    /// x^p.
    Real(f64),
}

/// Replaces the two topmost values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Binary {
    Add,
    Subtract,
    Multiply,
    Divide,
    Power,
    Minimum,
    Maximum,
}

impl Unary {
    /// x^exponent, by multiplication where that is exact and also right for negative x.
    pub(super) fn power(exponent: f64) -> Self {
        const LARGEST: f64 = 1024.0;
        let doubled = 2.0 * exponent;
        if exponent.fract() == 0.0 && exponent.abs() <= LARGEST {
            Unary::Whole(exponent as i32)
        } else if doubled.fract() == 0.0 && doubled.abs() <= LARGEST {
            Unary::Half(doubled as i32)
        } else {
            Unary::Real(exponent)
        }
    }

    pub(super) fn apply<S: Scalar>(self, x: S) -> S {
        match self {
            Unary::Negate => -x,
            Unary::Whole(n) => whole_power(x, n),
            Unary::Half(n) => away_from_zero(x, f64::from(n), |x| whole_power(x.sqrt(), n)),
            Unary::Real(p) => away_from_zero(x, p, |x| (S::splat(p) * x.ln()).exp()),
            Unary::Call(function) => match function {
                Function::Sqrt => x.sqrt(),
                Function::Ln => x.ln(),
                Function::Exp => x.exp(),
                Function::Tanh => x.tanh(),
                Function::Sin => x.sin(),
                Function::Cos => x.cos(),
                Function::Abs => x.absolute(),
                // The compiler turns these into `Binary`.
                Function::Min | Function::Max => x,
            },
        }
    }
}

impl Binary {
    pub(super) fn apply<S: Scalar>(self, a: S, b: S) -> S {
        match self {
            Binary::Add => a + b,
            Binary::Subtract => a - b,
            Binary::Multiply => a * b,
            Binary::Divide => a / b,
            Binary::Power => (b * a.ln()).exp(),
            Binary::Minimum => a.minimum(b),
            Binary::Maximum => a.maximum(b),
        }
    }
}

/// x^n by repeated squaring.
fn whole_power<S: Scalar>(x: S, n: i32) -> S {
    let mut left = n.unsigned_abs();
    let mut factor = x;
    let mut product: Option<S> = None;
    while left > 0 {
        if left & 1 == 1 {
            product = Some(product.map_or(factor, |p| p * factor));
        }
        left >>= 1;
        if left > 0 {
            factor = factor * factor;
        }
    }
    let product = product.unwrap_or(S::splat(1.0));
    if n < 0 { S::splat(1.0) / product } else { product }
}

/// `power(x)`, with value 0 and slope 0 at x = 0 when the exponent says so: there the chain rule
/// alone would multiply an infinite slope by zero.
fn away_from_zero<S: Scalar>(x: S, exponent: f64, power: impl Fn(S) -> S) -> S {
    if exponent <= 0.0 {
        return power(x);
    }
    let zero = x.absolute().less(S::splat(f64::MIN_POSITIVE));
    let safe = S::select(zero, S::splat(1.0), x);
    S::select(zero, S::splat(0.0), power(safe))
}

/// A compiled expression.
#[derive(Clone, Debug, PartialEq)]
pub struct Program {
    ops: Vec<Op>,
    depth: usize,
    dimension: Dimension,
}

impl Program {
    /// The program of `ops`, or the stack it would need if that is more than [`MAX_STACK`].
    pub(super) fn new(ops: Vec<Op>, dimension: Dimension) -> Result<Self, usize> {
        let (mut now, mut depth) = (0_usize, 0_usize);
        for op in &ops {
            match op {
                Op::Constant(_) | Op::Slot(_) => now += 1,
                Op::Unary(_) => {}
                Op::Binary(_) => now = now.saturating_sub(1),
            }
            depth = depth.max(now);
        }
        if depth > MAX_STACK { Err(depth) } else { Ok(Self { ops, depth, dimension }) }
    }

    /// The program that always gives `value`, in the SI unit of `dimension`.
    pub fn constant(value: f64, dimension: Dimension) -> Self {
        Self { ops: vec![Op::Constant(value)], depth: 1, dimension }
    }

    /// Dimension of its result.
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// Its value where it depends on no name.
    pub fn constant_value(&self) -> Option<f64> {
        match self.ops.as_slice() {
            [Op::Constant(value)] => Some(*value),
            _ => None,
        }
    }

    /// The slots it reads, ascending, each once.
    pub fn slots_used(&self) -> Vec<usize> {
        let slot = |op: &Op| if let Op::Slot(slot) = op { Some(*slot) } else { None };
        let mut slots: Vec<usize> = self.ops.iter().filter_map(slot).collect();
        slots.sort_unstable();
        slots.dedup();
        slots
    }

    /// The same program with slot `first` and those after it replaced by the constants in `known`,
    /// so that only the slots before `first` are left to be read; slots beyond `known` stay.
    pub fn with_known(&self, first: usize, known: &[f64]) -> Self {
        let fill = |op: &Op| match *op {
            Op::Slot(slot) => {
                let value = slot.checked_sub(first).and_then(|k| known.get(k));
                value.map_or(Op::Slot(slot), |&value| Op::Constant(value))
            }
            op => op,
        };
        Self { ops: self.ops.iter().map(fill).collect(), ..*self }
    }

    /// Its value in SI units, names read from `slots` (in SI units too). Nothing is allocated;
    /// a slot beyond the end reads as NaN.
    pub fn evaluate<S: Scalar>(&self, slots: &[S]) -> S {
        if self.depth <= SHORT_STACK {
            self.run::<S, SHORT_STACK>(slots)
        } else {
            self.run::<S, MAX_STACK>(slots)
        }
    }

    /// The top of the stack is kept apart from the rest, which holds what waits for it.
    fn run<S: Scalar, const N: usize>(&self, slots: &[S]) -> S {
        let mut waiting = [S::splat(0.0); N];
        let mut count = 0_usize;
        let mut top = S::splat(0.0);
        for op in &self.ops {
            match *op {
                Op::Constant(_) | Op::Slot(_) => {
                    if let Some(place) = waiting.get_mut(count) {
                        *place = top;
                    }
                    count += 1;
                    top = match *op {
                        Op::Constant(value) => S::splat(value),
                        Op::Slot(slot) => slots.get(slot).copied().unwrap_or(S::splat(f64::NAN)),
                        _ => top,
                    };
                }
                Op::Unary(unary) => top = unary.apply(top),
                Op::Binary(binary) => {
                    count = count.saturating_sub(1);
                    top = waiting.get(count).map_or(top, |left| binary.apply(*left, top));
                }
            }
        }
        top
    }
}
