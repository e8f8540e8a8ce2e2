//! What can be asked of pins and controllers: `pin`, `knob`.

use clap::Args as ClapArgs;
use std::path::PathBuf;

/// `pin`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
Hold the game so that the pin stays high, or low, while you read: a paddle at rest does not, so use \
a scope, or stop the clock. Read on the game only, never inside a television: a picture tube and a \
live chassis can kill.")]
pub(crate) struct PinArgs {
    /// The pin's name in the scenario
    #[arg(long, value_name = "NAME", default_value = "left")]
    pub(crate) pin: String,
    /// The chip's supply while it was read
    #[arg(long, value_name = "VOLTS", default_value = "6.5")]
    pub(crate) supply: String,
    /// The supply at which the scenario states volts
    #[arg(long, value_name = "VOLTS", default_value = "6.5")]
    pub(crate) nominal: String,
    /// The high pin with nothing on it
    #[arg(long, value_name = "VOLTS")]
    pub(crate) open: Option<String>,
    /// The high pin with a resistor to ground (10k=4.15); a second resistor tells which model fits
    #[arg(long, value_name = "OHMS=VOLTS", num_args = 1..)]
    pub(crate) loaded: Vec<String>,
    /// The low pin with nothing on it
    #[arg(long, value_name = "VOLTS", allow_negative_numbers = true)]
    pub(crate) low_open: Option<String>,
    /// The low pin with a resistor to a rail (2k2@5V=1.33)
    #[arg(long, value_name = "OHMS@RAIL=VOLTS", num_args = 1..)]
    pub(crate) pulled: Vec<String>,
    /// What is to hang on the pin: a resistor to ground (4k7) or to a rail (4k7@5V)
    #[arg(long, value_name = "LOAD")]
    pub(crate) plan: Option<String>,
    /// How far the meter may be off, share of what it shows
    #[arg(long, value_name = "SHARE", default_value = "0.5%")]
    pub(crate) meter: String,
    /// And its last figure
    #[arg(long, value_name = "VOLTS", default_value = "10mV")]
    pub(crate) figure: String,
    /// How far the resistors may be off
    #[arg(long, value_name = "SHARE", default_value = "1%")]
    pub(crate) tolerance: String,
    /// What the meter itself draws through
    #[arg(long, value_name = "OHMS", default_value = "10M")]
    pub(crate) meter_input: String,
    /// Folder for the picture, pin-NAME.png [default: out/pin]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw no picture
    #[arg(long)]
    pub(crate) no_pictures: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `knob`.
#[derive(Debug, ClapArgs)]
pub(crate) struct KnobArgs {
    /// Scenario file with a `[controller]` [default: the parts on the command line]
    pub(crate) scenario: Option<PathBuf>,
    /// Whose knob
    #[arg(long, value_name = "SIDE", default_value = "left", value_parser = ["left", "right"])]
    pub(crate) player: String,
    /// Change something in the scenario, as for `render`; may be given again
    #[arg(long = "set", value_name = "WHAT=VALUE", requires = "scenario")]
    pub(crate) set: Vec<String>,
    /// Built-in chip whose lines are counted, without a scenario [default: two-player-50]
    #[arg(long, value_name = "NAME", conflicts_with = "scenario")]
    pub(crate) chip: Option<String>,
    /// First lines that the paddle should reach (40..232) [default: the court]
    #[arg(long, value_name = "FIRST..LAST")]
    pub(crate) wanted: Option<String>,
    /// How far potentiometers may be off, for what to buy
    #[arg(long, value_name = "SHARE", default_value = "20%")]
    pub(crate) pot_tolerance: String,
    /// How far capacitors may be off
    #[arg(long, value_name = "SHARE", default_value = "10%")]
    pub(crate) capacitor_tolerance: String,
    /// Folder for the picture, knob-SIDE.png [default: out/<scenario name>, or out/knob]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw no picture
    #[arg(long)]
    pub(crate) no_pictures: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) parts: ControllerArgs,
}

/// The parts of a controller, each as a scenario has it.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = "Parts, without a scenario")]
pub(crate) struct ControllerArgs {
    /// Its track [default: 1M]
    #[arg(long, value_name = "OHMS")]
    pub(crate) potentiometer: Option<String>,
    /// linear, audio or reverse-audio [default: linear]
    #[arg(long, value_name = "LAW")]
    pub(crate) law: Option<String>,
    /// Share of the track at half travel, in place of a law
    #[arg(long, value_name = "SHARE")]
    pub(crate) middle: Option<String>,
    /// From stop to stop [default: 300 deg]
    #[arg(long, value_name = "ANGLE")]
    pub(crate) rotation: Option<String>,
    /// Of this, the track [default: 270 deg]
    #[arg(long, value_name = "ANGLE")]
    pub(crate) travel: Option<String>,
    /// Of the track, flat at each end [default: 4%]
    #[arg(long, value_name = "SHARE")]
    pub(crate) flat: Option<String>,
    /// Timing capacitor [default: 100n]
    #[arg(long, value_name = "FARADS")]
    pub(crate) capacitor: Option<String>,
    /// Fixed resistor in series [default: 10k]
    #[arg(long, value_name = "OHMS")]
    pub(crate) series: Option<String>,
    /// Volts, or a share of the supply such as 15% [default: 1V]
    #[arg(long, value_name = "VOLTS")]
    pub(crate) threshold: Option<String>,
    /// What the ramp charges towards [default: 6.5V]
    #[arg(long, value_name = "VOLTS")]
    pub(crate) supply: Option<String>,
    /// What the lead adds to the capacitor
    #[arg(long, value_name = "FARADS")]
    pub(crate) cable: Option<String>,
    /// Leakage across the capacitor
    #[arg(long, value_name = "OHMS")]
    pub(crate) leak: Option<String>,
    /// Resistance of the lead that feeds both players
    #[arg(long, value_name = "OHMS")]
    pub(crate) common: Option<String>,
    /// Mains on the ramp, peak
    #[arg(long, value_name = "VOLTS")]
    pub(crate) hum: Option<String>,
    /// Its frequency [default: 50 or 60, by the chip]
    #[arg(long, value_name = "HERTZ")]
    pub(crate) mains: Option<String>,
    /// clean, dirty or worn [default: clean]
    #[arg(long, value_name = "WORD")]
    pub(crate) condition: Option<String>,
    /// Deviation of the resistance at rest, share of the track
    #[arg(long, value_name = "SHARE")]
    pub(crate) standing_noise: Option<String>,
    /// Spikes each time the worn zone is crossed
    #[arg(long, value_name = "N")]
    pub(crate) spikes: Option<String>,
    /// Their mean height, share of the track
    #[arg(long, value_name = "SHARE")]
    pub(crate) spike_height: Option<String>,
    /// Times that the contact opens each time
    #[arg(long, value_name = "N")]
    pub(crate) openings: Option<String>,
    /// The contact and the track have been cleaned
    #[arg(long, conflicts_with = "scenario")]
    pub(crate) cleaned: bool,
    /// The outer lugs are exchanged
    #[arg(long, conflicts_with = "scenario")]
    pub(crate) reversed: bool,
}

impl ControllerArgs {
    /// Options that were given, with what was written behind them.
    pub(crate) fn given(&self) -> Vec<(&'static str, &str)> {
        let all = [
            ("potentiometer", &self.potentiometer),
            ("law", &self.law),
            ("middle", &self.middle),
            ("rotation", &self.rotation),
            ("travel", &self.travel),
            ("flat", &self.flat),
            ("capacitor", &self.capacitor),
            ("series", &self.series),
            ("threshold", &self.threshold),
            ("supply", &self.supply),
            ("cable", &self.cable),
            ("leak", &self.leak),
            ("common", &self.common),
            ("hum", &self.hum),
            ("mains", &self.mains),
            ("condition", &self.condition),
            ("standing-noise", &self.standing_noise),
            ("spikes", &self.spikes),
            ("spike-height", &self.spike_height),
            ("openings", &self.openings),
        ];
        all.into_iter().filter_map(|(name, text)| Some((name, text.as_deref()?))).collect()
    }
}
