//! Lines of an example, broken where TOML 1.1 allows it: after a comma of an inline table or list.

/// `line` in pieces of at most `columns` characters where commas allow, further ones indented.
pub(super) fn broken(line: &str, columns: usize) -> Vec<String> {
    const INDENT: &str = "    ";
    let mut lines = Vec::new();
    let mut rest = line.to_owned();
    while rest.chars().count() > columns {
        let Some(cut) = last_comma_within(&rest, columns) else { break };
        let tail = rest.split_off(cut);
        lines.push(std::mem::replace(&mut rest, format!("{INDENT}{}", tail.trim_start())));
    }
    lines.push(rest);
    lines
}

/// The byte after the last comma that is in the first `columns` characters, in no string, and as
/// little nested as any of them.
fn last_comma_within(line: &str, columns: usize) -> Option<usize> {
    let (mut depth, mut quoted) = (0_i32, false);
    let mut best: Option<(i32, usize)> = None;
    for (count, (at, c)) in line.char_indices().enumerate() {
        if count >= columns {
            break;
        }
        match c {
            '"' => quoted = !quoted,
            '{' | '[' if !quoted => depth += 1,
            '}' | ']' if !quoted => depth -= 1,
            ',' if !quoted && best.is_none_or(|(d, _)| depth <= d) => best = Some((depth, at + 1)),
            _ => {}
        }
    }
    best.map(|(_, at)| at)
}

#[cfg(test)]
mod tests {
    use super::broken;

    #[test]
    fn a_line_is_broken_between_keys_rather_than_within_a_list() {
        let line = r#"A = { b = ["1, 2", "3"], c = "4" }"#;
        assert_eq!(broken(line, 30), [r#"A = { b = ["1, 2", "3"],"#, r#"    c = "4" }"#]);
        assert_eq!(broken(line, 60), [line]);
    }
}
