//! Long texts in lines of limited length.

/// `text` in lines of at most `columns` characters, broken at blanks, though not between a number
/// and its unit; a longer word is cut.
pub(super) fn wrap(text: &str, columns: usize) -> Vec<String> {
    let columns = columns.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in words(text) {
        let mut word: Vec<char> = word.chars().collect();
        if length > 0 && length + 1 + word.len() > columns {
            lines.push(std::mem::take(&mut line));
            length = 0;
        }
        while word.len() > columns {
            lines.push(word.drain(..columns).collect());
        }
        if length > 0 {
            line.push(' ');
            length += 1;
        }
        length += word.len();
        line.extend(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The words of a text, a number and what follows it being one.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut after_number = false;
    for word in text.split_whitespace() {
        if let Some(number) = words.last_mut().filter(|_| after_number) {
            number.push(' ');
            number.push_str(word);
            after_number = false;
        } else {
            words.push(word.to_owned());
            let figures = word.trim_start_matches(['(', '±']);
            after_number = figures.starts_with(|c: char| c.is_ascii_digit() || c == '-')
                && figures.parse::<f64>().is_ok();
        }
    }
    words
}

/// The same in at most `most` lines; what does not fit is replaced by an ellipsis.
pub(super) fn wrap_within(text: &str, columns: usize, most: usize) -> Vec<String> {
    let mut lines = wrap(text, columns);
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            while last.chars().count() >= columns.max(1) {
                last.pop();
            }
            last.push('…');
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::{wrap, wrap_within};

    #[test]
    fn lines_break_at_blanks_and_long_words_are_cut() {
        assert_eq!(wrap("one two  three", 7), ["one two", "three"]);
        assert_eq!(wrap("abcdefgh ij", 3), ["abc", "def", "gh", "ij"]);
        assert_eq!(wrap("µµµ µ", 5), ["µµµ µ"]);
        assert!(wrap("  ", 5).is_empty());
        assert_eq!(wrap("ab", 0), ["a", "b"]);
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        assert_eq!(wrap("power 173.2 mW, 2 of 3", 12), ["power", "173.2 mW,", "2 of 3"]);
        assert_eq!(wrap("at (-1.5 V) x", 8), ["at", "(-1.5 V)", "x"]);
        assert_eq!(wrap("1 2", 1), ["1", " ", "2"]);
    }

    #[test]
    fn what_does_not_fit_ends_in_an_ellipsis() {
        assert_eq!(wrap_within("one two three", 7, 2), ["one two", "three"]);
        assert_eq!(wrap_within("one two three four", 7, 2), ["one two", "three…"]);
        assert_eq!(wrap_within("abcdefghijkl", 4, 2), ["abcd", "efg…"]);
    }
}
