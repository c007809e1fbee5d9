//! A TOML file as a tree in which every key and value knows its place, and getters that record
//! what is wrong and go on.
//!
//! It knows nothing of circuits: what keys there are, and what they mean, is said above it.

mod read;
mod reader;
#[cfg(test)]
mod tests;

pub use read::{MOST_BYTES, MOST_NESTING, read, read_recovering};
pub use reader::{Reader, Word, name_list, wrong_form};

use crate::diagnostic::Span;

/// Where files named in a circuit file come from. The library opens none itself.
pub trait Files {
    /// The text of the file at `path`, relative to the folder of the root file, `/` between
    /// folders.
    ///
    /// # Errors
    /// Why it could not be read, in words (`there is no such file`).
    fn read(&self, path: &str) -> Result<String, String>;
}

/// Nothing is there: for a text that includes no file.
#[derive(Clone, Copy, Debug)]
pub struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _path: &str) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

/// A key as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyName {
    /// Its name, quotes taken off.
    pub text: String,
    /// Its place; inside a header such as `[models.pass]`, only the name itself.
    pub span: Span,
}

/// A value and its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// The whole value with its quotes or brackets; for a table with a header, the header.
    pub span: Span,
    /// What stands there.
    pub value: Value,
    content: Option<Span>,
}

/// What a value is.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A string, escapes resolved.
    Text(String),
    /// A whole number.
    Integer(i64),
    /// A finite number.
    Float(f64),
    /// `true` or `false`.
    Boolean(bool),
    /// `[…]`, or the tables under one `[[name]]`.
    Array(Vec<Node>),
    /// `{…}`, or what follows `[name]`.
    Table(Table),
    /// Something no key of a circuit file takes; what it is, in words (`a date`).
    Other(&'static str),
}

/// Keys and values in file order.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its braces, or its header; nothing for the file itself.
    pub span: Span,
    /// In file order.
    pub entries: Vec<(KeyName, Node)>,
}

impl Node {
    /// A value that stands in no string literal.
    pub fn new(span: Span, value: Value) -> Self {
        Self { span, value, content: None }
    }

    /// The place between the quotes of a string in which every character stands for itself, so
    /// that places inside the string can be pointed at; otherwise the whole value.
    pub fn content_span(&self) -> Span {
        self.content.unwrap_or(self.span)
    }

    /// Whether byte n of the text is byte n of [`Node::content_span`].
    pub fn is_literal(&self) -> bool {
        self.content.is_some()
    }

    /// The text, if it is one.
    pub fn as_text(&self) -> Option<&str> {
        match &self.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The number, whole or not, if it is one.
    pub fn as_number(&self) -> Option<f64> {
        match self.value {
            Value::Integer(whole) => Some(whole as f64),
            Value::Float(number) => Some(number),
            _ => None,
        }
    }

    /// The table, if it is one.
    pub fn as_table(&self) -> Option<&Table> {
        match &self.value {
            Value::Table(table) => Some(table),
            _ => None,
        }
    }

    /// The items, if it is a list.
    pub fn as_array(&self) -> Option<&[Node]> {
        match &self.value {
            Value::Array(items) => Some(items),
            _ => None,
        }
    }

    /// What it is, in words (`a text`, `a list`).
    pub fn words(&self) -> &'static str {
        match &self.value {
            Value::Text(_) => "a text",
            Value::Integer(_) | Value::Float(_) => "a number",
            Value::Boolean(_) => "true or false",
            Value::Array(_) => "a list",
            Value::Table(_) => "a table",
            Value::Other(words) => words,
        }
    }
}

impl Table {
    /// The value behind a key.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.entries.iter().find(|(name, _)| name.text == key).map(|(_, node)| node)
    }

    /// A key and its value.
    pub fn entry(&self, key: &str) -> Option<(&KeyName, &Node)> {
        self.entries.iter().find(|(name, _)| name.text == key).map(|(name, node)| (name, node))
    }

    /// The names of its keys.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.entries.iter().map(|(name, _)| name.text.as_str())
    }
}
