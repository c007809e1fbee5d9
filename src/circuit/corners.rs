//! The `[corners]` section: values and paths with the levels they are tried at.

use super::Circuit;
use super::change::Change;
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{Node, Table, wrong_form};

/// One line of `[corners]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CornerList {
    /// What is changed: `rail.ambient`, a value, or any path a [`Change`] takes.
    pub path: String,
    /// Where it stands.
    pub span: Span,
    /// A change for each level.
    pub changes: Vec<Change>,
}

impl Circuit {
    /// Reads the lists and checks that each level could be set.
    pub(super) fn read_corners(&self, table: &Table, told: &mut Diagnostics) -> Vec<CornerList> {
        let mut lists = Vec::new();
        self.corner_lists("", table, &mut lists, told);
        lists
    }

    /// Paths with dots may be written as such (`Q1.threshold = …`), which TOML reads as tables.
    fn corner_lists(
        &self,
        before: &str,
        table: &Table,
        lists: &mut Vec<CornerList>,
        told: &mut Diagnostics,
    ) {
        for (key, node) in &table.entries {
            let path = match format!("{before}{}", key.text) {
                path if path == "ambient" => "rail.ambient".to_owned(),
                path => path,
            };
            if let Some(table) = node.as_table() {
                self.corner_lists(&format!("{path}."), table, lists, told);
                continue;
            }
            let hint = format!("write `{} = [\"lowest\", \"highest\"]`", key.text);
            let Some(items) = node.as_array() else {
                told.push(wrong_form(&key.text, node, "a list of quantities").hint(hint));
                continue;
            };
            if items.is_empty() {
                let message = format!("`{}` lists nothing to try", key.text);
                told.push(Diagnostic::error(node.span, message).hint(hint));
            }
            let changes: Vec<Change> =
                items.iter().filter_map(|item| self.corner(&path, key.span, item, told)).collect();
            lists.push(CornerList { path, span: key.span, changes });
        }
    }

    fn corner(&self, path: &str, key: Span, item: &Node, told: &mut Diagnostics) -> Option<Change> {
        let text = match (item.as_text(), item.as_number()) {
            (Some(text), _) => text.to_owned(),
            (None, Some(number)) => format!("{number}"),
            (None, None) => {
                told.push(wrong_form(path, item, "a quantity in quotes"));
                return None;
            }
        };
        let change = Change { path: path.to_owned(), text, span: Some(item.content_span()) };
        let mistakes = self.check_change(&change, key);
        let bad = !mistakes.is_empty();
        told.extend(mistakes);
        (!bad).then_some(change)
    }
}
