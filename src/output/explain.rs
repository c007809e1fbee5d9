//! Entries of `explain`, made from the tables of part kinds, test kinds and measurements.

/// The list of everything that can be explained.
pub fn contents() -> String {
    String::new()
}

/// The entry of one name.
///
/// # Errors
/// When nothing has that name: what is near.
pub fn entry(name: &str) -> Result<String, String> {
    Err(name.to_owned())
}
