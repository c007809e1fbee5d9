//! The page of a study: its pictures, and what the terminal was told, in the same frame.

use super::html::{around, element, escaped, heading, named, scrolling};
use super::{REPORT, frame};

/// What a study gives, for a page.
#[derive(Clone, Copy, Debug)]
pub struct Study<'a> {
    /// Its word: `map`.
    pub word: &'a str,
    /// The circuit's title.
    pub title: &'a str,
    /// The circuit file as the user named it.
    pub file: &'a str,
}

/// The page. `files` are all others by name with their bytes, `text` is what the terminal gets.
pub fn study_page(study: Study<'_>, text: &str, files: &[(String, Vec<u8>)]) -> Vec<u8> {
    let header = heading(&format!("{} of a rail", study.word), study.title, study.file);
    let mut main = String::new();
    for (name, bytes) in files.iter().filter(|(name, _)| name.strip_suffix(".svg").is_some()) {
        let picture = scrolling(&format!("picture: {name}"), &String::from_utf8_lossy(bytes));
        main += &around("figure", &(picture + &element("figcaption", name)));
    }
    // Columns of the text stand under each other, so it keeps its lines.
    let lines: Vec<String> = text.lines().map(escaped).collect();
    let words = scrolling("the study in words", &around("pre", &lines.join("\n")));
    main += &(element("h2", "In words and figures") + &words);
    let link = |(name, _): &(String, Vec<u8>)| {
        let name = escaped(name);
        around("li", &format!("<a href=\"{name}\">{name}</a>"))
    };
    let others = files.iter().filter(|(name, _)| name != REPORT);
    let links: String = others.map(link).collect();
    main += &(element("h2", "Files beside this page") + &around("ul class=\"files\"", &links));
    let body = around("header", &header) + &around("main", &main);
    frame::page(named(study.title, study.file), &body, false)
}
