//! The demo circuits, kept inside the program.

/// One of them.
pub(super) struct Demo {
    /// Stem of its file: `buoy-radio`.
    pub(super) name: &'static str,
    /// The circuit file.
    pub(super) text: &'static str,
    /// Names and texts of the files that belong to it.
    pub(super) others: &'static [(&'static str, &'static str)],
}

impl Demo {
    /// Its title.
    pub(super) fn about(&self) -> &'static str {
        let title = self.text.lines().find_map(|line| line.strip_prefix("title = \""));
        title.map_or("", |title| title.trim_end_matches('"'))
    }
}

const fn alone(name: &'static str, text: &'static str) -> Demo {
    Demo { name, text, others: &[] }
}

/// All, as they stand in `netlists/`.
pub(super) static DEMOS: &[Demo] = &[
    Demo {
        name: "buoy-radio",
        text: include_str!("../../../netlists/buoy-radio.toml"),
        others: &[(
            "buoy-radio.measured.csv",
            include_str!("../../../netlists/buoy-radio.measured.csv"),
        )],
    },
    alone("sensor-supply", include_str!("../../../netlists/sensor-supply.toml")),
    alone("core-rail", include_str!("../../../netlists/core-rail.toml")),
    alone("mast-amplifier", include_str!("../../../netlists/mast-amplifier.toml")),
    alone("bias-shunt", include_str!("../../../netlists/bias-shunt.toml")),
    alone("isolated-shunt", include_str!("../../../netlists/isolated-shunt.toml")),
    alone("bench-supply", include_str!("../../../netlists/bench-supply.toml")),
    alone("gauge-supply", include_str!("../../../netlists/gauge-supply.toml")),
];
