//! A mistake as a value: where it is, what was expected, what to type instead.
//!
//! Readers collect diagnostics and go on, so that all mistakes of a file are told at once.
//! Drawing them for a terminal is the output layer's work.

/// The most mistakes told one by one: whoever has more mends these first, and looking for what was meant,
/// and drawing each, takes time.
pub const MOST_TOLD: usize = 200;

/// Longest name, in characters, that is likened to others: comparing two costs their lengths multiplied.
const LONGEST_LIKENED: usize = 64;

/// Which of the files read a span lies in: an index into [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub usize);

/// A byte range of one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// The part of this span from byte `start` to byte `end`, both counted from its beginning.
    #[must_use]
    pub fn within(self, start: usize, end: usize) -> Span {
        Span { file: self.file, start: self.start + start, end: self.start + end }
    }
}

/// Whether work may go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Nothing is simulated.
    Error,
    /// Told, and work goes on.
    Warning,
}

/// One mistake or doubt.
///
/// Style: lower case, no full stop, names in backticks; the hint says what to type.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Error or warning.
    pub severity: Severity,
    /// Where; `None` only when no place in a file can be named.
    pub span: Option<Span>,
    /// What is wrong.
    pub message: String,
    /// Short text at the caret: what was expected there. May be empty.
    pub label: String,
    /// What to type, or where to look.
    pub hint: Option<String>,
    /// Other places that matter, each with its text.
    pub also: Vec<(Span, String)>,
}

impl Diagnostic {
    /// An error at `span`.
    pub fn error(span: Span, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, Some(span), message.into())
    }

    /// A warning at `span`.
    pub fn warning(span: Span, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, Some(span), message.into())
    }

    /// An error that no place in a file can be named for.
    pub fn without_place(message: impl Into<String>) -> Self {
        Self::new(Severity::Error, None, message.into())
    }

    fn new(severity: Severity, span: Option<Span>, message: String) -> Self {
        Self { severity, span, message, label: String::new(), hint: None, also: Vec::new() }
    }

    /// Adds the text at the caret.
    #[must_use]
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.label = text.into();
        self
    }

    /// Adds what to type.
    #[must_use]
    pub fn hint(mut self, text: impl Into<String>) -> Self {
        self.hint = Some(text.into());
        self
    }

    /// Points at another place too.
    #[must_use]
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.also.push((span, text.into()));
        self
    }
}

/// The mistakes found so far; of errors and of warnings beyond [`MOST_TOLD`], none is kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Diagnostics {
    items: Vec<Diagnostic>,
    /// Errors and warnings found.
    found: [usize; 2],
}

impl Diagnostics {
    /// None yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Records one.
    pub fn push(&mut self, diagnostic: Diagnostic) {
        let found = &mut self.found[usize::from(diagnostic.severity == Severity::Warning)];
        *found += 1;
        if *found <= MOST_TOLD {
            self.items.push(diagnostic);
        }
    }

    /// Whether as many errors are kept as are told: looking for more of them may stop.
    pub fn is_full(&self) -> bool {
        self.found[0] >= MOST_TOLD
    }

    /// Records several.
    pub fn extend(&mut self, diagnostics: impl IntoIterator<Item = Diagnostic>) {
        diagnostics.into_iter().for_each(|diagnostic| self.push(diagnostic));
    }

    /// Records all of another collection.
    pub fn append(&mut self, other: Diagnostics) {
        let [errors, warnings] = other.found;
        let kept = |severity| other.items.iter().filter(|d| d.severity == severity).count();
        let untold = [errors - kept(Severity::Error), warnings - kept(Severity::Warning)];
        self.extend(other.items);
        self.found.iter_mut().zip(untold).for_each(|(own, more)| *own += more);
    }

    /// Whether any of them is an error.
    pub fn has_errors(&self) -> bool {
        self.found[0] > 0
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.found.iter().sum()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// In file order (place first, then severity), each once; last that there are more, where there are.
    pub fn sorted(mut self) -> Vec<Diagnostic> {
        self.items.sort_by_key(|d| (d.span, d.severity));
        self.items.dedup();
        let ends = [(Severity::Error, "mistakes"), (Severity::Warning, "warnings")];
        for ((severity, what), found) in ends.into_iter().zip(self.found) {
            if found > MOST_TOLD {
                let message = format!("after {MOST_TOLD} {what} no more are told");
                let last = Diagnostic::new(severity, None, message);
                self.items.push(last.hint("mend these, and look again"));
            }
        }
        self.items
    }

    /// The value with its warnings, or all mistakes if any is an error.
    ///
    /// # Errors
    /// All diagnostics, when at least one is an error.
    pub fn finish<T>(self, value: T) -> Result<Warned<T>, Vec<Diagnostic>> {
        if self.has_errors() {
            Err(self.sorted())
        } else {
            Ok(Warned { value, warnings: self.sorted() })
        }
    }
}

/// A result that came with warnings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warned<T> {
    /// The result.
    pub value: T,
    /// What was doubtful about the way to it.
    pub warnings: Vec<Diagnostic>,
}

/// One file as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceFile {
    /// Its name as the user would type it.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// All files read, by [`FileId`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sources {
    /// In the order read; `FileId(0)` is the file named on the command line.
    pub files: Vec<SourceFile>,
}

impl Sources {
    /// Adds a file and gives its id.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        self.files.push(SourceFile { name: name.into(), text: text.into() });
        FileId(self.files.len() - 1)
    }

    /// Line and column (both from 1, columns in characters) of a span's first byte.
    pub fn line_column(&self, span: Span) -> (usize, usize) {
        let text = self.files.get(span.file.0).map_or("", |f| f.text.as_str());
        let mut end = span.start.min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &text[..end];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
    }
}

/// The candidate most like `name`, if any is near enough to be what was meant.
pub fn nearest<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = name.chars().count();
    if length > LONGEST_LIKENED {
        return None;
    }
    let allowed = (length / 3).max(1);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        // No byte of the longer one need be looked at where the lengths alone are too far apart.
        if candidate.chars().take(2 * LONGEST_LIKENED).count().abs_diff(length) > allowed {
            continue;
        }
        let distance = edit_distance(&name.to_lowercase(), &candidate.to_lowercase());
        if distance <= allowed && best.is_none_or(|(d, _)| distance < d) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Insertions, deletions, substitutions and swaps of neighbours needed to turn `a` into `b`
/// (optimal string alignment).
fn edit_distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let width = b.len() + 1;
    let mut cost = vec![0; (a.len() + 1) * width];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            cost[i * width + j] = if i == 0 || j == 0 {
                i + j
            } else {
                let substitute = cost[(i - 1) * width + j - 1] + usize::from(a[i - 1] != b[j - 1]);
                let mut best =
                    substitute.min(cost[(i - 1) * width + j] + 1).min(cost[i * width + j - 1] + 1);
                if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                    best = best.min(cost[(i - 2) * width + j - 2] + 1);
                }
                best
            };
        }
    }
    cost[a.len() * width + b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swapped_letter_is_near_and_a_stranger_is_not() {
        assert_eq!(nearest("capacitnace", ["capacitance", "resistance"]), Some("capacitance"));
        assert_eq!(nearest("vuot", ["vin", "vout"]), Some("vout"));
        assert_eq!(nearest("droop", ["ring_back", "overshoot"]), None);
    }

    #[test]
    fn columns_count_characters_not_bytes() {
        let mut sources = Sources::default();
        let file = sources.add("a.toml", "x = 1\nµµ = 2\n");
        let span = Span { file, start: 6 + "µµ ".len(), end: 6 + "µµ ".len() + 1 };
        assert_eq!(sources.line_column(span), (2, 4));
    }
}
