//! What can be asked of a design: `vary`, `choose`, `spread`, `feed`, `supply`.

use crate::cli::args::ScenarioArgs;
use crate::cli::clock_args::series;
use backporch::base::preferred::Series;
use clap::Args as ClapArgs;
use std::path::PathBuf;

/// `vary`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
VALUES is a range in even steps (P1.position=0..1, output.load=37.5..150:7), preferred values of a \
series (R1=E12:1k..10k), or a list (U1.family=4000B,74HC). Whatever --set takes can be varied: parts, \
trimmers, supplies, lead lengths, wiring.temperature, game.left.")]
pub(crate) struct VaryArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// One setting with its values, or two
    #[arg(required = true, num_args = 1..=2, value_name = "SETTING=VALUES")]
    pub(crate) settings: Vec<String>,
    /// Values of a range that does not say how many
    #[arg(long, value_name = "N", default_value_t = 21, value_parser = clap::value_parser!(u16).range(2..))]
    pub(crate) steps: u16,
    /// Read the waveform that a set receives, in place of standing levels: for leads, cables and
    /// whatever else takes time
    #[arg(long)]
    pub(crate) in_time: bool,
    /// Also write frames.png, the picture at every value
    #[arg(long)]
    pub(crate) frames: bool,
    /// Folder for vary.png and vary.csv [default: out/<scenario name>]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `choose`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
What is wanted stands in `[expect]`: the middle of each range is aimed at, its end is off by 1. What \
may be moved stands in `[choose.move]`, or here. Of the boards that are nearest, those stand first of \
which most come out right over the tolerances, pins and gains of `[spread]`. Where all combinations are no more than --budget, \
all are solved; otherwise it climbs from many places by lot, and says so. A board with a rating at \
*stop* is never chosen. Of several files, the best boards of all are ranked.")]
pub(crate) struct ChooseArgs {
    /// Scenario files: mixers to begin from
    #[arg(required = true, value_name = "FILE")]
    pub(crate) scenarios: Vec<PathBuf>,
    /// What may be moved: R1=E24:1k..10k, P1.position=0..1:21, U1.family=4000B,74HC, R2=drawer; may
    /// be given again
    #[arg(long = "move", value_name = "SETTING=VALUES")]
    pub(crate) moves: Vec<String>,
    /// What lies in the drawer: 330,1k,2k2
    #[arg(long, value_name = "VALUES", value_delimiter = ',')]
    pub(crate) drawer: Vec<String>,
    /// Change something in every file for this run, as for `render`; may be given again
    #[arg(long = "set", value_name = "WHAT=VALUE")]
    pub(crate) set: Vec<String>,
    /// Boards that may be solved for each file
    #[arg(long, value_name = "N", default_value_t = 1_000_000, value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) budget: u64,
    /// Where chance begins, of the search and of the tolerances
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Rank by how near the board itself is to what is wanted, in place of how many come out right
    /// over their tolerances
    #[arg(long)]
    pub(crate) nearest: bool,
    /// Boards made of each that is shown, off by their tolerances
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) boards: u64,
    /// Boards to show
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u16).range(1..=100))]
    pub(crate) most: u16,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `spread`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
What differs stands in `[spread]` of the scenario: tolerances, gains, pins from weak to strong, \
temperature. Good is a board that is as `[expect]` has it; where nothing is expected, one that shows \
every element. Ctrl-C ends a run early and keeps what is done; twice, it keeps nothing.

Board K depends on the seed and on K alone. A run may be split (--part 3/16) over machines, and its \
files joined (--join out/*/spread-*-of-16.json): the same bytes as in one.")]
pub(crate) struct SpreadArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Boards to make
    #[arg(long, value_name = "N", default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..))]
    pub(crate) boards: u64,
    /// Where chance begins
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Run every board for a field, so that all of `[expect]` is judged
    #[arg(long, conflicts_with = "line")]
    pub(crate) in_time: bool,
    /// Run every board for one line, and read levels off that [default: the one that shows most]
    #[arg(long, value_name = "N")]
    pub(crate) line: Option<Option<u32>>,
    /// Make one part of the run only, such as 3/16
    #[arg(long, value_name = "K/N", value_parser = part, conflicts_with_all = ["join", "number"])]
    pub(crate) part: Option<(u32, u32)>,
    /// Files of parts to put together in place of a run
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["number", "csv"])]
    pub(crate) join: Vec<PathBuf>,
    /// Show one board of the run only
    #[arg(long = "board", value_name = "K", conflicts_with_all = ["json", "csv"])]
    pub(crate) number: Option<u64>,
    /// Also write boards.csv, a row for each board
    #[arg(long)]
    pub(crate) csv: bool,
    /// Folder for spread.json and spread.png [default: out/<scenario name>]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `feed`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
A lower resistor makes the picture brighter, until white has too little carrier left: whites run into \
one and the sound buzzes. A higher one dims the picture and keeps the players; gain control brings \
sync back. By standing levels. Never feed a modulator into an aerial, nor run it with its can open.")]
pub(crate) struct FeedArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// The modulator's own input resistance, or `unknown`: 470 ohm to 4k7 are shown then
    /// [default: the scenario's]
    #[arg(long, value_name = "OHMS")]
    pub(crate) input: Option<String>,
    /// Preferred values to take
    #[arg(long, value_name = "SERIES", default_value = "E12", value_parser = series)]
    pub(crate) series: Series,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `supply`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
A battery goes by the curve of its chemistry and the capacity of its cells (`chemistry`, `size`, \
`capacity`); any other source is turned down to 30 % of its volts. Hours are charge over the current \
that the solved board draws.

Contacts are settings too: --set V1.contact=5, --set V1.openings=20 --set V1.open_for=3ms, and so is \
the charge: --set V1.charge=0.2.

An adapter with ripple takes ten seconds or more, for no field of it repeats: --at-rest leaves out what \
is run in time.

Take the cells out and unplug the adapter before a bench supply is clipped on; set its limit to 100 mA \
and check its polarity first. Leave the mains side of an adapter shut. Leaked cells: gloves, weak acid, \
then water.")]
pub(crate) struct SupplyArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Battery, adapter or supply to look at [default: the first battery, else the first adapter, else
    /// what feeds the chip]
    #[arg(long, value_name = "PART")]
    pub(crate) source: Option<String>,
    /// Steps from fresh to flat
    #[arg(long, value_name = "N", default_value_t = 11, value_parser = clap::value_parser!(u16).range(2..=200))]
    pub(crate) steps: u16,
    /// Clip a bench supply on: a node and its volts
    #[arg(long, value_name = "NODE=VOLTS")]
    pub(crate) feed: Option<String>,
    /// What the bench supply is limited to
    #[arg(long, value_name = "AMPS", default_value = "100 mA")]
    pub(crate) limit: String,
    /// Standing levels only: no electrolytics, no openings, nothing of how the set holds
    #[arg(long)]
    pub(crate) at_rest: bool,
    /// Folder for supply.png [default: out/<scenario name>]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// "3/16".
fn part(text: &str) -> Result<(u32, u32), String> {
    let wrong = || format!("`{text}` is no part: write it as 3/16, from 1/16 to 16/16");
    let (part, of) = text.split_once('/').ok_or_else(wrong)?;
    let part = part.parse::<u32>().map_err(|_| wrong())?;
    let of = of.parse::<u32>().map_err(|_| wrong())?;
    if (1..=of).contains(&part) { Ok((part, of)) } else { Err(wrong()) }
}
