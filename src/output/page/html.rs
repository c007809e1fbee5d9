//! Text into HTML. Everything that comes from a circuit file passes through here, so that a name can
//! neither end an element nor start one.

use std::fmt::Write as _;

use crate::output::printable;

/// `text` as the content of an element or of an attribute in double quotes.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in printable(text).chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}

/// JSON as the content of a script element, which is not read as HTML: nothing in it can end the
/// element or open a comment. In JSON these characters stand in strings only, where `\u` may replace
/// them.
pub(super) fn script_safe(json: &str) -> String {
    let mut safe = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '<' | '>' | '&' | '\u{2028}' | '\u{2029}' => {
                let _ = write!(safe, "\\u{:04x}", u32::from(c));
            }
            c => safe.push(c),
        }
    }
    safe
}

/// `<tag>text</tag>`; `tag` may carry attributes, and is our own.
pub(super) fn element(tag: &str, text: &str) -> String {
    around(tag, &escaped(text))
}

/// The same around what is HTML already.
pub(super) fn around(tag: &str, html: &str) -> String {
    let name = tag.split(' ').next().unwrap_or(tag);
    format!("<{tag}>{html}</{name}>\n")
}

/// The heading of a page: of what kind it is, and the title, or for want of one the file, of the circuit.
pub(super) fn heading(kind: &str, title: &str, file: &str) -> String {
    let below = if title.is_empty() { String::new() } else { element("p class=\"eyebrow\"", file) };
    element("p class=\"eyebrow\"", kind) + &element("h1", named(title, file)) + &below
}

/// What a page is called.
pub(super) fn named<'a>(title: &'a str, file: &'a str) -> &'a str {
    if title.is_empty() { file } else { title }
}

/// A list of sentences; nothing where there are none.
pub(super) fn list<S: AsRef<str>>(items: &[S]) -> String {
    let items: String = items.iter().map(|item| element("li", item.as_ref())).collect();
    if items.is_empty() { items } else { around("ul", &items) }
}

/// A verdict as a word in a frame whose colour repeats it.
pub(super) fn verdict(word: &str) -> String {
    let known = ["pass", "marginal", "fail", "not-evaluated", "error", "no-requirements"];
    let class = if known.contains(&word) { word } else { "" };
    format!("<span class=\"verdict {class}\">{}</span>", escaped(word))
}

/// What can be wider than a phone: it scrolls by itself, with the keyboard too.
pub(super) fn scrolling(name: &str, html: &str) -> String {
    let tag = format!(
        "div class=\"scroll\" role=\"group\" tabindex=\"0\" aria-label=\"{}\"",
        escaped(name)
    );
    around(&tag, html)
}

#[cfg(test)]
mod tests {
    use super::{element, escaped, script_safe, verdict};

    #[test]
    fn no_text_can_start_or_end_an_element_or_an_attribute() {
        assert_eq!(
            escaped("</title><script>alert(\"1\" & '2')</script>"),
            "&lt;/title&gt;&lt;script&gt;alert(&quot;1&quot; &amp; &#39;2&#39;)&lt;/script&gt;"
        );
        assert_eq!(element("td class=\"n\"", "a<b"), "<td class=\"n\">a&lt;b</td>\n");
        assert_eq!(escaped("a\u{0}b\u{202e}c\nd"), "a\u{fffd}b\u{fffd}c d");
        assert!(verdict("\"><b>").contains("class=\"verdict \">&quot;&gt;&lt;b&gt;<"));
    }

    #[test]
    fn json_inside_a_script_cannot_end_it_and_stays_the_same_json() {
        let texts = ["</script><script>", "<!--", "-->", "]]>", "a & b", "\u{2028}\u{2029}"];
        let json = serde_json::to_string(&texts).unwrap_or_default();
        let safe = script_safe(&json);
        assert!(!safe.contains(['<', '>', '&', '\u{2028}', '\u{2029}']), "{safe}");
        assert_eq!(serde_json::from_str::<Vec<String>>(&safe).unwrap_or_default(), texts);
    }
}
