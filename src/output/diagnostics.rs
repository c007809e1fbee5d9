//! Mistakes drawn for a terminal: the line of the file, a caret, what to type instead.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::printable;
use crate::diagnostic::{Diagnostic, FileId, Severity, Sources, Span};

/// Drawn with colours, as ANSI sequences; a stream that is no terminal must strip them.
pub fn coloured(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    draw(diagnostics, sources, &Renderer::styled())
}

/// Drawn in plain characters.
pub fn plain(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    draw(diagnostics, sources, &Renderer::plain())
}

/// `2 mistakes, 1 warning in buoy-radio.toml`; empty when there is nothing to count.
pub fn count_line(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let errors = diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
    let warnings = diagnostics.len() - errors;
    let mut counts = Vec::new();
    if errors > 0 {
        counts.push(format!("{errors} mistake{}", if errors == 1 { "" } else { "s" }));
    }
    if warnings > 0 {
        counts.push(format!("{warnings} warning{}", if warnings == 1 { "" } else { "s" }));
    }
    if counts.is_empty() {
        return String::new();
    }
    let mut files: Vec<FileId> =
        diagnostics.iter().filter_map(|d| d.span.map(|span| span.file)).collect();
    files.sort_unstable();
    files.dedup();
    let place = match files.as_slice() {
        [] => String::new(),
        [file] => sources.files.get(file.0).map_or_else(String::new, |f| format!(" in {}", f.name)),
        several => format!(" in {} files", several.len()),
    };
    printable(&format!("{}{place}", counts.join(", ")))
}

fn draw(diagnostics: &[Diagnostic], sources: &Sources, renderer: &Renderer) -> String {
    let mut text = String::new();
    for diagnostic in diagnostics {
        text.push_str(&renderer.render(&[group(diagnostic, sources)]));
        text.push_str("\n\n");
    }
    let count = count_line(diagnostics, sources);
    if !count.is_empty() {
        text.push_str(&count);
        text.push('\n');
    }
    text
}

/// Title, one snippet a file (that of the mistake first), then the hint.
fn group<'a>(diagnostic: &'a Diagnostic, sources: &'a Sources) -> Group<'a> {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let mut group = Group::with_title(level.primary_title(printable(&diagnostic.message)));
    let mut files: Vec<FileId> = Vec::new();
    let places = diagnostic.span.iter().chain(diagnostic.also.iter().map(|(span, _)| span));
    for span in places {
        if !files.contains(&span.file) {
            files.push(span.file);
        }
    }
    for file in files {
        if let Some(snippet) = snippet(diagnostic, sources, file) {
            group = group.element(snippet);
        }
    }
    if let Some(hint) = &diagnostic.hint {
        group = group.element(Level::HELP.message(printable(hint)));
    }
    group
}

fn snippet<'a>(
    diagnostic: &'a Diagnostic,
    sources: &'a Sources,
    file: FileId,
) -> Option<Snippet<'a, annotate_snippets::Annotation<'a>>> {
    let source = sources.files.get(file.0)?;
    let mut snippet = Snippet::source(source.text.as_str()).path(printable(&source.name));
    if let Some(span) = diagnostic.span.filter(|span| span.file == file) {
        let mut caret = AnnotationKind::Primary.span(inside(&source.text, span));
        if !diagnostic.label.is_empty() {
            caret = caret.label(printable(&diagnostic.label));
        }
        snippet = snippet.annotation(caret);
    }
    for (span, label) in diagnostic.also.iter().filter(|(span, _)| span.file == file) {
        let range = inside(&source.text, *span);
        snippet = snippet.annotation(AnnotationKind::Context.span(range).label(printable(label)));
    }
    Some(snippet)
}

/// The span as a range that lies in `text` and cuts no character, whatever was asked for.
fn inside(text: &str, span: Span) -> std::ops::Range<usize> {
    let floor = |at: usize| {
        let mut at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    start..floor(span.end).max(start)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::{coloured, plain};
    use crate::diagnostic::{Diagnostic, FileId, Sources, Span};
    use insta::assert_snapshot;
    use proptest::prelude::{any, proptest};

    const TEXT: &str = "title = \"buoy\"\n\n[parts]\nC_OUT = { kind = \"capacitor\", nodes = [\"vout\", \"gnd\"], capacitnace = \"4.7 µF\" }\nR_TOP = { kind = \"resistor\" }\n";

    fn span(sources: &Sources, file: usize, of: &str) -> Span {
        let start = sources.files[file].text.find(of).unwrap();
        Span { file: FileId(file), start, end: start + of.len() }
    }

    fn example() -> (Vec<Diagnostic>, Sources) {
        let mut sources = Sources::default();
        sources.add("buoy-radio.toml", TEXT);
        sources.add("parts/caps.toml", "[models.small]\nkind = \"capacitor\"\n");
        let diagnostics = vec![
            Diagnostic::error(span(&sources, 0, "capacitnace"), "unknown key `capacitnace`")
                .label("no such key of a capacitor")
                .hint("write `capacitance`"),
            Diagnostic::error(span(&sources, 0, "R_TOP"), "`R_TOP` lacks `resistance`")
                .also(span(&sources, 1, "\"capacitor\""), "the model is of another kind"),
            Diagnostic::warning(span(&sources, 0, "\"4.7 µF\""), "label value used as it is"),
            Diagnostic::without_place("nothing to run").hint("add a `[[tests]]` table"),
        ];
        (diagnostics, sources)
    }

    #[test]
    fn mistakes_show_line_caret_and_hint() {
        let (diagnostics, sources) = example();
        assert_snapshot!(plain(&diagnostics, &sources), @r#"
        error: unknown key `capacitnace`
         --> buoy-radio.toml:4:56
          |
        4 | C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitnace = "4.7 µF" }
          |                                                        ^^^^^^^^^^^ no such key of a capacitor
          |
          = help: write `capacitance`

        error: `R_TOP` lacks `resistance`
         --> buoy-radio.toml:5:1
          |
        5 | R_TOP = { kind = "resistor" }
          | ^^^^^
          |
         ::: parts/caps.toml:2:8
          |
        2 | kind = "capacitor"
          |        ----------- the model is of another kind

        warning: label value used as it is
         --> buoy-radio.toml:4:70
          |
        4 | C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitnace = "4.7 µF" }
          |                                                                      ^^^^^^^^

        error: nothing to run
         |
         = help: add a `[[tests]]` table

        3 mistakes, 1 warning in buoy-radio.toml
        "#);
    }

    #[test]
    fn colours_are_an_addition_only() {
        let (diagnostics, sources) = example();
        let drawn = coloured(&diagnostics, &sources);
        assert!(drawn.contains("\u{1b}["));
        assert_eq!(anstream::adapter::strip_str(&drawn).to_string(), plain(&diagnostics, &sources));
        assert_eq!(plain(&[], &sources), "");
    }

    #[test]
    fn control_characters_of_a_file_do_not_reach_the_terminal() {
        let mut sources = Sources::default();
        let file = sources.add("a\u{1b}[2J.toml", "x = \u{1b}[2J1\n");
        let mistake = Diagnostic::error(Span { file, start: 4, end: 9 }, "bad \u{1b}[2J value")
            .label("here \u{1b}[2J")
            .hint("not \u{1b}[2J");
        assert!(!plain(&[mistake], &sources).contains('\u{1b}'));
    }

    proptest! {
        #[test]
        fn no_span_breaks_the_drawing(start in any::<usize>(), end in any::<usize>(), near in 0usize..200, file in 0usize..3) {
            let (_, sources) = example();
            let file = FileId(file);
            for span in [Span { file, start, end }, Span { file, start: near, end: near / 2 }, Span { file, start: near, end: near + 3 }] {
                let mistake = Diagnostic::error(span, "odd place").also(span, "again");
                assert!(plain(&[mistake], &sources).contains("odd place"));
            }
        }
    }
}
