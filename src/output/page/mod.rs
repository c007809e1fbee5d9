//! Pages for a browser: pure functions to HTML and to what their scripts ask for.

pub mod answer;
pub mod live;
mod thin;
