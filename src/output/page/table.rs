//! Tables: a caption, heads, and rows whose first cell heads the row.

use super::html::{around, element, escaped, scrolling, verdict};

/// One cell.
#[derive(Clone, Debug)]
pub(super) enum Cell {
    /// Words.
    Text(String),
    /// A number with its unit, set to the right.
    Number(String),
    /// A margin in words and as a share of its scale.
    Margin(String, Option<f64>),
    /// A verdict, and whether it is told only.
    Verdict(String, bool),
    /// A link inside the page, and words below it.
    Link { to: String, text: String, below: String },
    /// A bar from 0 to a share of the longest one, -1 to 1.
    Bar(f64),
}

impl Cell {
    fn html(&self, tag: &str) -> String {
        match self {
            Self::Text(text) => element(tag, text),
            Self::Number(text) => element(&format!("{tag} class=\"number\""), text),
            Self::Margin(text, None) => element(&format!("{tag} class=\"number\""), text),
            Self::Margin(text, Some(share)) => {
                let width = (share.clamp(0.0, 1.0) * 100.0).round();
                let tag = format!("{tag} class=\"number margin\" style=\"--share:{width}%\"");
                element(&tag, text)
            }
            Self::Verdict(word, advisory) => {
                let told = if *advisory { " advisory" } else { "" };
                around(tag, &format!("{}{told}", verdict(word)))
            }
            Self::Link { to, text, below } => {
                let small = if below.is_empty() { String::new() } else { element("small", below) };
                let link = format!("<a href=\"#{}\">{}</a> {small}", escaped(to), escaped(text));
                around(tag, &link)
            }
            Self::Bar(share) => around(tag, &bar(*share)),
        }
    }
}

/// To the right of the line for what adds, to its left for what takes away.
fn bar(share: f64) -> String {
    let share = share.clamp(-1.0, 1.0);
    let (left, sign) = if share < 0.0 { (50.0 + 50.0 * share, "less") } else { (50.0, "more") };
    let width = 50.0 * share.abs();
    format!(
        "<svg class=\"bar\" viewBox=\"0 0 100 10\" preserveAspectRatio=\"none\" aria-hidden=\"true\">\
         <rect class=\"{sign}\" x=\"{left:.2}\" y=\"1\" width=\"{width:.2}\" height=\"8\"/>\
         <path d=\"M50 0V10\"/></svg>"
    )
}

/// The element of a row: one that does not hold stands out.
fn line(cells: &[Cell]) -> &'static str {
    let fails = |cell: &Cell| matches!(cell, Cell::Verdict(word, false) if word == "fail" || word == "error");
    if cells.iter().any(fails) { "tr class=\"short\"" } else { "tr" }
}

/// A table as it grows.
#[derive(Clone, Debug, Default)]
pub(super) struct Table {
    /// What it shows.
    pub(super) caption: String,
    heads: Vec<(String, bool)>,
    body: String,
    /// Rows written so far.
    pub(super) rows: usize,
}

impl Table {
    /// `heads` are names; one that ends in `>` stands over numbers.
    pub(super) fn new(caption: &str, heads: &[&str]) -> Self {
        let head = |h: &&str| match h.strip_suffix('>') {
            Some(name) => (name.to_owned(), true),
            None => ((*h).to_owned(), false),
        };
        let heads = heads.iter().map(head).collect();
        Self { caption: caption.to_owned(), heads, ..Self::default() }
    }

    /// One row; its first cell is its head.
    pub(super) fn row(&mut self, cells: &[Cell]) {
        let cell =
            |(k, cell): (usize, &Cell)| cell.html(if k == 0 { "th scope=\"row\"" } else { "td" });
        self.body.push_str(&around(
            line(cells),
            &cells.iter().enumerate().map(cell).collect::<String>(),
        ));
        self.rows += 1;
    }

    /// Rows under one head, which stands beside the first of them.
    pub(super) fn group(&mut self, head: &Cell, rows: &[Vec<Cell>]) {
        let tag = format!("th scope=\"rowgroup\" rowspan=\"{}\"", rows.len());
        let mut group = String::new();
        for (k, cells) in rows.iter().enumerate() {
            let first = if k == 0 { head.html(&tag) } else { String::new() };
            let others: String = cells.iter().map(|cell| cell.html("td")).collect();
            group.push_str(&around(line(cells), &(first + &others)));
        }
        self.body.push_str(&around("tbody", &group));
        self.rows += rows.len();
    }

    /// The table; nothing where no row was written.
    pub(super) fn html(&self) -> String {
        if self.rows == 0 {
            return String::new();
        }
        let head = |(name, right): &(String, bool)| {
            let class = if *right { " class=\"number\"" } else { "" };
            element(&format!("th scope=\"col\"{class}"), name)
        };
        let heads: String = self.heads.iter().map(head).collect();
        let grouped = self.body.starts_with("<tbody");
        let body = if grouped { self.body.clone() } else { around("tbody", &self.body) };
        let inside =
            element("caption", &self.caption) + &around("thead", &around("tr", &heads)) + &body;
        scrolling(&self.caption, &around("table", &inside))
    }
}
