//! Arguments of `railstep budget`: texts, which the command reads as quantities.

use crate::cli::options::Format;
use clap::Args;

// Everything is optional here, so that all that is missing or wrong is told together.
#[derive(Debug, Args)]
#[command(override_usage = "railstep budget --input LOW..HIGH --output V --load CURRENT [OPTIONS]")]
pub(in crate::cli) struct BudgetArguments {
    /// Input voltage: one, LOW..HIGH or LOW..TYPICAL..HIGH, such as 3.0V..3.7V..4.2V
    #[arg(long, value_name = "V..V", allow_hyphen_values = true)]
    pub(in crate::cli) input: Option<String>,
    /// Output voltage, such as 2.8V
    #[arg(long, value_name = "V", allow_hyphen_values = true)]
    pub(in crate::cli) output: Option<String>,
    /// Load: its highest current, such as 150mA, or levels with their shares of the time, such as
    /// 2mA:95%,150mA:5% (the last share may be left out)
    #[arg(long, value_name = "A[:SHARE,...]", allow_hyphen_values = true)]
    pub(in crate::cli) load: Option<String>,
    /// Thermal resistance from junction to ambient, such as 60K/W
    #[arg(long, value_name = "K/W", allow_hyphen_values = true)]
    pub(in crate::cli) theta: Option<String>,
    /// Temperature of the air around the regulator, in its box
    #[arg(long, value_name = "°C", default_value = "25°C", allow_hyphen_values = true)]
    pub(in crate::cli) ambient: Option<String>,
    /// The hottest that the junction may be
    #[arg(long, value_name = "°C", default_value = "125°C", allow_hyphen_values = true)]
    pub(in crate::cli) junction_limit: Option<String>,
    /// Dropout voltage at the highest load, such as 200mV
    #[arg(long, value_name = "V", allow_hyphen_values = true)]
    pub(in crate::cli) dropout: Option<String>,
    /// What the regulator takes for itself, such as 17uA
    #[arg(long, value_name = "A", default_value = "0A", allow_hyphen_values = true)]
    pub(in crate::cli) ground_current: Option<String>,
    /// What the regulator gives into a short, such as 300mA
    #[arg(long, value_name = "A", allow_hyphen_values = true)]
    pub(in crate::cli) current_limit: Option<String>,
    /// Capacity of the battery at the input, such as 1000mAh; its life is judged then
    #[arg(long, value_name = "mAh", allow_hyphen_values = true)]
    pub(in crate::cli) battery: Option<String>,
    /// Efficiency of the switching regulator to compare with [default: 85%, as an assumption]
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    pub(in crate::cli) switching_efficiency: Option<String>,
    /// What standard output gets
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(in crate::cli) format: Format,
}
