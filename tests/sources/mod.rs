//! The sources as tokens, for rules about them: comments and strings cannot be mistaken for code,
//! and what macros are given is seen as well.

use proc_macro2::{Delimiter, Group, TokenStream, TokenTree};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

pub(crate) struct Source {
    pub(crate) path: String,
    pub(crate) text: String,
    pub(crate) tokens: Vec<TokenTree>,
}

impl Source {
    pub(crate) fn new(path: String, text: String) -> Self {
        let tokens = text.parse::<TokenStream>().unwrap().into_iter().collect();
        Self { path, text, tokens }
    }

    pub(crate) fn layer(&self) -> Option<&str> {
        let name = self.path.strip_prefix("src/")?.split(['/', '.']).next()?;
        (!["lib", "main"].contains(&name)).then_some(name)
    }

    pub(crate) fn is_library(&self) -> bool {
        let outside = self.path == "src/main.rs" || self.path.starts_with("src/cli");
        self.path.starts_with("src/") && !outside
    }

    pub(crate) fn is_test(&self) -> bool {
        !self.path.starts_with("src/") || self.path.contains("tests")
    }
}

pub(crate) fn sources() -> Vec<Source> {
    let mut paths = Vec::new();
    for folder in ["src", "tests", "benches"] {
        collect(Path::new(folder), &mut paths);
    }
    paths.sort();
    let read = |path: String| {
        let text = fs::read_to_string(&path).unwrap();
        Source::new(path, text)
    };
    paths.into_iter().map(read).collect()
}

fn collect(folder: &Path, paths: &mut Vec<String>) {
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, paths);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            paths.push(path.to_str().unwrap().to_owned());
        }
    }
}

/// Calls `visit` with each run of sibling tokens, outermost first, and the modules around it.
pub(crate) fn walk(
    tokens: &[TokenTree],
    inside: &[String],
    visit: &mut impl FnMut(&[TokenTree], &[String]),
) {
    visit(tokens, inside);
    for (at, token) in tokens.iter().enumerate() {
        if let TokenTree::Group(group) = token {
            let inner: Vec<_> = group.stream().into_iter().collect();
            let module = at >= 2 && is(&tokens[at - 2], "mod");
            if module {
                let deeper = [inside, &[tokens[at - 1].to_string()]].concat();
                walk(&inner, &deeper, visit);
            } else {
                walk(&inner, inside, visit);
            }
        }
    }
}

pub(crate) fn is(token: &TokenTree, text: &str) -> bool {
    !matches!(token, TokenTree::Group(_)) && token.to_string() == text
}

pub(crate) fn as_group(token: &TokenTree, delimiter: Delimiter) -> Option<&Group> {
    match token {
        TokenTree::Group(group) if group.delimiter() == delimiter => Some(group),
        _ => None,
    }
}

/// The tokens after `root ::`, at each place where that stands in these siblings.
pub(crate) fn paths_from<'a>(tokens: &'a [TokenTree], root: &str) -> Vec<&'a [TokenTree]> {
    (0..tokens.len().saturating_sub(3))
        .filter(|&at| is(&tokens[at], root) && is(&tokens[at + 1], ":") && is(&tokens[at + 2], ":"))
        .map(|at| &tokens[at + 3..])
        .collect()
}

/// The first names of a path or of a braced list of paths, with their lines.
pub(crate) fn first_names(path: &[TokenTree]) -> Vec<(String, usize)> {
    match path.first() {
        Some(TokenTree::Ident(name)) => vec![(name.to_string(), name.span().start().line)],
        Some(TokenTree::Group(list)) => {
            let tokens: Vec<_> = list.stream().into_iter().collect();
            tokens.split(|token| is(token, ",")).flat_map(first_names).collect()
        }
        _ => Vec::new(),
    }
}

/// Names of what is used from the root of the crate: through `crate::`, or through as many `super::`.
pub(crate) fn layers_named(source: &Source) -> BTreeSet<(String, usize)> {
    let file_depth =
        source.path.matches('/').count() - usize::from(source.path.ends_with("mod.rs"));
    let mut named = BTreeSet::new();
    walk(&source.tokens, &[], &mut |tokens, inside| {
        for path in paths_from(tokens, "crate") {
            named.extend(first_names(path));
        }
        for mut path in paths_from(tokens, "super") {
            let mut climbed = 1;
            while path.len() > 3 && is(&path[0], "super") {
                path = &path[3..];
                climbed += 1;
            }
            if climbed >= file_depth + inside.len() {
                named.extend(first_names(path));
            }
        }
    });
    named
}

pub(crate) fn macros_called(tokens: &[TokenTree], names: &[&str], path: &str) -> Vec<String> {
    tokens
        .windows(2)
        .filter(|pair| names.iter().any(|name| is(&pair[0], name)) && is(&pair[1], "!"))
        .map(|pair| format!("{path}:{}: {}!", pair[0].span().start().line, pair[0]))
        .collect()
}

pub(crate) struct Function {
    pub(crate) name: String,
    pub(crate) first_line: usize,
    pub(crate) last_line: usize,
    pub(crate) body: Vec<TokenTree>,
}

pub(crate) fn functions(source: &Source) -> Vec<Function> {
    let mut functions = Vec::new();
    walk(&source.tokens, &[], &mut |tokens, _| {
        for (at, pair) in tokens.windows(2).enumerate() {
            let [keyword, TokenTree::Ident(name)] = pair else { continue };
            let mut rest = tokens[at..].iter().take_while(|token| !is(token, ";"));
            let body = rest.find_map(|token| as_group(token, Delimiter::Brace));
            if let (true, Some(body)) = (is(keyword, "fn"), body) {
                functions.push(Function {
                    name: name.to_string(),
                    first_line: name.span().start().line,
                    last_line: body.span_close().end().line,
                    body: body.stream().into_iter().collect(),
                });
            }
        }
    });
    functions
}
