//! Results of studies and calculations: files, text and JSON, from what the study layer gives.

pub mod budget;
pub mod compare;
pub mod map;
pub mod model;
pub mod spread;
pub mod tune;

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
