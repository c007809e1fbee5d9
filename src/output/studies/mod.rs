//! Results of studies and calculations: files, text and JSON, from what the study layer gives.

pub mod budget;
pub mod compare;
pub mod map;
pub mod model;
pub mod spread;
pub mod tune;

use super::page::{REPORT, Study, study_page};

/// Characters a line of the text on a page.
const PAGE_COLUMNS: usize = 100;

/// What a study gives to the world.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bundle {
    /// Files by name, in the order in which they are written.
    pub files: Vec<(String, Vec<u8>)>,
    /// For people.
    pub text: String,
    /// The summary for programs; it is one of the files too.
    pub json: Vec<u8>,
}

impl Bundle {
    /// The same with a page of it all, ahead of the summary, which is written last. `text` is that for
    /// people, [`PAGE_COLUMNS`] wide whatever the terminal.
    fn with_page(mut self, study: Study<'_>, text: &str) -> Self {
        let page = study_page(study, text, &self.files);
        let before_last = self.files.len().saturating_sub(1);
        self.files.insert(before_last, (REPORT.to_owned(), page));
        self
    }
}
