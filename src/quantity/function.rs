//! The functions an expression may call.

/// A function of one or two arguments.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Function {
    Sqrt,
    Ln,
    Exp,
    Tanh,
    Sin,
    Cos,
    Min,
    Max,
    Abs,
}

impl Function {
    const ALL: [(&'static str, Function); 9] = [
        ("sqrt", Function::Sqrt),
        ("ln", Function::Ln),
        ("exp", Function::Exp),
        ("tanh", Function::Tanh),
        ("sin", Function::Sin),
        ("cos", Function::Cos),
        ("min", Function::Min),
        ("max", Function::Max),
        ("abs", Function::Abs),
    ];

    pub(super) fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(n, _)| *n == name).map(|(_, function)| *function)
    }

    pub(super) fn names() -> impl Iterator<Item = &'static str> {
        Self::ALL.iter().map(|(name, _)| *name)
    }

    pub(super) fn name(self) -> &'static str {
        Self::ALL.iter().find(|(_, function)| *function == self).map_or("", |(name, _)| name)
    }

    /// How many arguments it takes.
    pub(super) fn arity(self) -> usize {
        if matches!(self, Function::Min | Function::Max) { 2 } else { 1 }
    }
}
