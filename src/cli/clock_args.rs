//! What can be asked of the clock.

use backporch::analysis::clock::beat::Turned;
use backporch::analysis::clock::beat::Way;
use backporch::base::preferred::Series;
use backporch::document::quantity::CAPACITANCE;
use backporch::document::quantity::DRIFT;
use backporch::document::quantity::FREQUENCY;
use backporch::document::quantity::INDUCTANCE;
use backporch::document::quantity::Quantity;
use backporch::document::quantity::SHARE;
use backporch::document::quantity::TEMPERATURE;
use backporch::document::quantity::TIME;
use backporch::document::quantity::Zero;
use backporch::document::quantity::read;
use backporch::profile::timing::CLOCK;
use backporch::scenario::clock::CORE_RANGE;
use backporch::scenario::clock::QUALITY;
use backporch::scenario::set_library::KINDS;
use backporch::scenario::set_library::Kind;
use backporch::scenario::set_library::STANDARDS;
use backporch::scenario::set_library::Standard;
use clap::Args as ClapArgs;
use clap::Subcommand;
use std::path::PathBuf;

/// `clock`.
#[derive(Debug, ClapArgs)]
pub(crate) struct ClockArgs {
    #[command(subcommand)]
    pub(crate) question: ClockQuestion,
}

/// A question about the clock.
#[derive(Debug, Subcommand)]
pub(crate) enum ClockQuestion {
    /// What a coil and its capacitors give: clock, line and field rate, what locks, and a picture of
    /// clock against core
    Tank(TankArgs),
    /// Which coil to buy for the capacitors on the board, or which choke and trimmer
    Coil(CoilArgs),
    /// The clock from the pitch of a tone that was heard
    #[command(group(clap::ArgGroup::new("pitch").required(true).args(["hit", "wall", "score"])))]
    Tone(ToneArgs),
    /// The clock from a hum bar: how long it takes to come round
    #[command(group(clap::ArgGroup::new("seen").required(true).args(["period", "still", "battery"])))]
    Beat(BeatArgs),
}

/// Which chip, set and mains.
#[derive(Debug, ClapArgs)]
pub(crate) struct AboutArgs {
    /// Scenario file: its chip's counts and tones, and its tank if it has one
    pub(crate) scenario: Option<PathBuf>,
    /// Change something in the scenario for this run, as for `render`; may be given again
    #[arg(long = "set", value_name = "WHAT=VALUE", requires = "scenario")]
    pub(crate) set: Vec<String>,
    /// A built-in chip, for its counts and tones [default: two-player-50]
    #[arg(long, value_name = "NAME", conflicts_with = "scenario")]
    pub(crate) chip: Option<String>,
    /// Lines in a field [default: the chip's]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(20..=2000))]
    pub(crate) lines: Option<u32>,
    /// Clocks in a line [default: the chip's]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(16..=4096))]
    pub(crate) clocks_per_line: Option<u32>,
    /// The set's standard, 625 or 525 [default: by the lines in a field]
    #[arg(long, value_name = "LINES", value_parser = standard)]
    pub(crate) standard: Option<Standard>,
    /// The mains, Hz [default: 50 or 60, by the standard]
    #[arg(long, value_name = "HZ", value_parser = mains)]
    pub(crate) mains: Option<f64>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// What `clock tank` can be told of a tank, by the names of its options.
const TANK: [&str; 11] = [
    "coil",
    "capacitor",
    "stray",
    "core",
    "core_range",
    "quality",
    "temperature",
    "coil_drift",
    "capacitor_drift",
    "tap",
    "tap_stray",
];

/// `clock tank`.
#[derive(Debug, ClapArgs)]
pub(crate) struct TankArgs {
    #[command(flatten)]
    pub(crate) about: AboutArgs,
    /// A clock that was measured, in place of a tank
    #[arg(long, value_name = "HZ", value_parser = frequency, conflicts_with_all = TANK)]
    pub(crate) frequency: Option<f64>,
    /// Inductance with the core half way in
    #[arg(long, value_name = "H", value_parser = inductance)]
    pub(crate) coil: Option<f64>,
    /// The capacitor across it; given twice, two in series
    #[arg(long, value_name = "F", value_parser = capacitance)]
    pub(crate) capacitor: Vec<f64>,
    /// Strays across it [default: 20 pF]
    #[arg(long, value_name = "F", value_parser = capacitance_or_none)]
    pub(crate) stray: Option<f64>,
    /// Where the core stands, 0 out to 1 in [default: 0.5]
    #[arg(long, value_name = "SHARE", value_parser = share)]
    pub(crate) core: Option<f64>,
    /// How far the core moves the inductance to either side; 0 for a fixed coil [default: 15 %]
    #[arg(long, value_name = "SHARE", value_parser = core_range)]
    pub(crate) core_range: Option<f64>,
    /// Reactance over series resistance [default: no loss]
    #[arg(long, value_name = "Q", value_parser = quality)]
    pub(crate) quality: Option<f64>,
    /// The temperature; values are stated at 25 °C
    #[arg(long, value_name = "C", value_parser = temperature, allow_hyphen_values = true)]
    pub(crate) temperature: Option<f64>,
    /// The coil's temperature coefficient, ppm/K
    #[arg(long, value_name = "PPM", value_parser = drift, allow_hyphen_values = true)]
    pub(crate) coil_drift: Option<f64>,
    /// The capacitors' temperature coefficient, ppm/K
    #[arg(long, value_name = "PPM", value_parser = drift, allow_hyphen_values = true)]
    pub(crate) capacitor_drift: Option<f64>,
    /// A tap: its share of the turns
    #[arg(long, value_name = "SHARE", value_parser = share, requires = "tap_stray")]
    pub(crate) tap: Option<f64>,
    /// What hangs on the tap
    #[arg(long, value_name = "F", value_parser = capacitance_or_none, requires = "tap")]
    pub(crate) tap_stray: Option<f64>,
    #[command(flatten)]
    pub(crate) goal: GoalArgs,
    /// Folder for the picture, clock.png [default: out/<scenario name>, or out/clock]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw no picture
    #[arg(long)]
    pub(crate) no_pictures: bool,
}

impl TankArgs {
    /// The first thing that is told of a tank beside its coil and capacitors.
    pub(crate) fn detail(&self) -> Option<&'static str> {
        let all = [
            ("stray", self.stray),
            ("core", self.core),
            ("core-range", self.core_range),
            ("quality", self.quality),
            ("temperature", self.temperature),
            ("coil-drift", self.coil_drift),
            ("capacitor-drift", self.capacitor_drift),
            ("tap", self.tap),
        ];
        all.into_iter().find_map(|(name, value)| value.map(|_| name))
    }
}

/// Which clock for which set.
#[derive(Debug, ClapArgs)]
pub(crate) struct GoalArgs {
    /// The kind of set: tube-set, late-tube-set, monitor, flat-panel
    #[arg(long, value_name = "SET", default_value = "tube-set", value_parser = kind)]
    pub(crate) kind: Kind,
    /// The clock to be reached [default: the one of the standard's line rate]
    #[arg(long, value_name = "HZ", value_parser = frequency)]
    pub(crate) aim: Option<f64>,
}

/// `clock coil`.
#[derive(Debug, ClapArgs)]
pub(crate) struct CoilArgs {
    #[command(flatten)]
    pub(crate) about: AboutArgs,
    /// The capacitor on the board [default: the scenario's]; given twice, two in series
    #[arg(long, value_name = "F", value_parser = capacitance)]
    pub(crate) capacitor: Vec<f64>,
    /// Least and most strays
    #[arg(long, value_names = ["F", "F"], num_args = 2, default_values = ["15 pF", "25 pF"], value_parser = capacitance_or_none)]
    pub(crate) strays: Vec<f64>,
    /// The values that the shop has: E6, E12, E24 and so on
    #[arg(long, value_name = "SERIES", default_value = "E12", value_parser = series)]
    pub(crate) series: Series,
    /// How far the core moves the inductance to either side
    #[arg(long, value_name = "SHARE", default_value = "15 %", value_parser = core_range)]
    pub(crate) core_range: f64,
    /// A trimmer capacitor across a fixed choke in place of a screw core: least and most
    #[arg(long, value_names = ["F", "F"], num_args = 2, value_parser = capacitance, conflicts_with = "core_range")]
    pub(crate) trimmer: Vec<f64>,
    #[command(flatten)]
    pub(crate) goal: GoalArgs,
}

/// `clock tone`.
#[derive(Debug, ClapArgs)]
pub(crate) struct ToneArgs {
    #[command(flatten)]
    pub(crate) about: AboutArgs,
    /// Pitch of the tone when a paddle hits, clock / 2048 in the class
    #[arg(long, value_name = "HZ", value_parser = pitch)]
    pub(crate) hit: Option<f64>,
    /// Pitch when the ball comes back from a field line, clock / 4096 in the class
    #[arg(long, value_name = "HZ", value_parser = pitch)]
    pub(crate) wall: Option<f64>,
    /// Pitch when a point is scored, clock / 1024 in the class
    #[arg(long, value_name = "HZ", value_parser = pitch)]
    pub(crate) score: Option<f64>,
    /// How long a tone lasts [default: the chip's, 32 ms in the class]
    #[arg(long, value_name = "S", value_parser = burst)]
    pub(crate) burst: Option<f64>,
    /// How many tones the pitch is the mean of
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(crate) bursts: u32,
}

/// `clock beat`.
#[derive(Debug, ClapArgs)]
pub(crate) struct BeatArgs {
    #[command(flatten)]
    pub(crate) about: AboutArgs,
    /// Time for one bar to come all the way round
    #[arg(long, value_name = "S", value_parser = period)]
    pub(crate) period: Option<f64>,
    /// The bar stands still
    #[arg(long)]
    pub(crate) still: bool,
    /// The game runs on batteries
    #[arg(long)]
    pub(crate) battery: bool,
    /// What became of the time when the core was turned in a little: grew or shrank
    #[arg(long, value_name = "WORD", value_parser = turned)]
    pub(crate) turned_in: Option<Turned>,
    /// Which way the bar goes: up or down
    #[arg(long = "bar", value_name = "WAY", value_parser = way)]
    pub(crate) way: Option<Way>,
}

fn quantity(text: &str, quantity: &Quantity) -> Result<f64, String> {
    read(text, quantity).map_err(|error| format!("{}; {}", error.message, error.expected))
}

fn inductance(text: &str) -> Result<f64, String> {
    quantity(text, &INDUCTANCE)
}

fn capacitance(text: &str) -> Result<f64, String> {
    quantity(text, &CAPACITANCE)
}

fn capacitance_or_none(text: &str) -> Result<f64, String> {
    quantity(text, &CAPACITANCE.or_zero())
}

fn share(text: &str) -> Result<f64, String> {
    quantity(text, &SHARE)
}

fn core_range(text: &str) -> Result<f64, String> {
    quantity(text, &CORE_RANGE)
}

fn quality(text: &str) -> Result<f64, String> {
    quantity(text, &QUALITY)
}

fn temperature(text: &str) -> Result<f64, String> {
    quantity(text, &TEMPERATURE)
}

fn drift(text: &str) -> Result<f64, String> {
    quantity(text, &DRIFT)
}

fn frequency(text: &str) -> Result<f64, String> {
    quantity(text, &CLOCK)
}

fn pitch(text: &str) -> Result<f64, String> {
    quantity(text, &FREQUENCY.within(20.0, 2e4))
}

fn mains(text: &str) -> Result<f64, String> {
    quantity(text, &FREQUENCY.within(10.0, 400.0))
}

fn burst(text: &str) -> Result<f64, String> {
    quantity(text, &Quantity { low: 1e-3, high: 10.0, zero: Zero::Impossible, ..TIME })
}

fn period(text: &str) -> Result<f64, String> {
    quantity(text, &Quantity { low: 0.05, high: 1e3, zero: Zero::Impossible, ..TIME })
}

fn pick<T: Copy>(text: &str, choices: &[(&str, T)]) -> Result<T, String> {
    let found = choices.iter().find(|(name, _)| name.eq_ignore_ascii_case(text));
    found.map(|(_, value)| *value).ok_or_else(|| {
        let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
        format!("expected {}", names.join(", "))
    })
}

fn standard(text: &str) -> Result<Standard, String> {
    pick(text, &STANDARDS.map(|one| (one.name(), one)))
}

fn kind(text: &str) -> Result<Kind, String> {
    pick(text, &KINDS.map(|kind| (kind.name(), kind)))
}

pub(crate) fn series(text: &str) -> Result<Series, String> {
    pick(text, &Series::NAMED)
}

fn turned(text: &str) -> Result<Turned, String> {
    pick(text, &[("grew", Turned::Grew), ("shrank", Turned::Shrank)])
}

fn way(text: &str) -> Result<Way, String> {
    pick(text, &[("up", Way::Up), ("down", Way::Down)])
}
