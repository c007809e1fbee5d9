//! What stands around every page: head, look, script. One file that loads nothing.

use super::html::{around, element};

const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("sheet.js");
const CHARTS: &str = include_str!("uplot/uPlot.iife.min.js");
const CHARTS_STYLE: &str = include_str!("uplot/uPlot.min.css");
const CHARTS_LICENCE: &str = include_str!("uplot/LICENSE");

/// Refuses whatever is not in the file itself, should a text ever find a way to ask for it.
const NOTHING_FROM_OUTSIDE: &str = "<meta http-equiv=\"Content-Security-Policy\" \
     content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; \
     base-uri 'none'; form-action 'none'\">\n";

/// A whole page. `body` is HTML; `moving` pages carry the script that draws curves.
pub(super) fn page(title: &str, body: &str, moving: bool) -> Vec<u8> {
    let mut head = String::from("<meta charset=\"utf-8\">\n");
    head.push_str(NOTHING_FROM_OUTSIDE);
    head.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    head.push_str(&element("title", title));
    head.push_str(&around("style", STYLE));
    let mut end = String::new();
    if moving {
        head.push_str(&around("style", CHARTS_STYLE));
        let notice = format!("/* uPlot\n\n{CHARTS_LICENCE}\n*/\n");
        end.push_str(&around("script", &(notice + CHARTS)));
        end.push_str(&around("script", SCRIPT));
    }
    let html = format!(
        "<!doctype html>\n<html lang=\"en\">\n{}{}</html>\n",
        around("head", &head),
        around("body", &(body.to_owned() + &end)),
    );
    html.into_bytes()
}
