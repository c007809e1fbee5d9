//! What does not help against a limit of the recovery: the first thing people try, and why not.

/// What to say behind `limited by …`; empty where nothing common is ruled out.
pub(super) fn no_help(limited_by: &str) -> &'static str {
    const RULED_OUT: [(&str, &str); 4] = [
        ("source", "; more output capacitance gives no headroom for a load that stays"),
        ("dropout", "; more output capacitance gives no headroom for a load that stays"),
        (
            "amplifier drive current",
            "; more loop gain does not help while the drive is at its limit",
        ),
        ("amplifier swing", "; more bandwidth does not help while the amplifier is wound up"),
    ];
    let ruled_out = RULED_OUT.iter().find(|(limit, _)| limited_by.starts_with(limit));
    ruled_out.map_or("", |(_, words)| words)
}

#[cfg(test)]
mod tests {
    use super::no_help;

    #[test]
    fn capacitance_is_ruled_out_where_headroom_is_missing_and_nothing_where_the_loop_decides() {
        assert!(no_help("source (dropout: …)").contains("capacitance"));
        assert_eq!(no_help("loop bandwidth"), "");
    }
}
