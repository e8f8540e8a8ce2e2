//! What can be asked.

use crate::cli::clock_args::ClockArgs;
use clap::Args as ClapArgs;
use clap::Parser;
use clap::Subcommand;
use std::path::PathBuf;

/// Shows what a television would make of a ball-and-paddle game board.
#[derive(Debug, Parser)]
#[command(
    version,
    max_term_width = 100,
    after_help = "\
Exit status: 0 answered, 1 the answer of `check` or `compare` is no, 2 no answer (the message says why and where).

Work on the game only, never inside a television: a picture tube and a live chassis can kill. \
Take the cells out and unplug the adapter before soldering. Where the mains is concerned, local \
codes and licensed people decide."
)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// One question.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// The picture, the waveform, and a word for every element
    Render(RenderArgs),
    /// The level at the socket for every combination of elements
    Ladder(LadderArgs),
    /// The way of an element from the chip's pin to the socket: what takes how much of it, and what
    /// would bring it back
    Why(WhyArgs),
    /// Two boards side by side: what is better or worse, and which difference did it
    Compare(CompareArgs),
    /// Which faults would give what is seen and measured, and where to measure next
    Hunt(HuntArgs),
    /// The chip's clock: from coil and capacitors, by ear or by a hum bar, and which coil to buy
    Clock(Box<ClockArgs>),
    /// Whether boards do what their scenarios expect of them
    Check(CheckArgs),
    /// Levels and words while one setting, or two, go through their values
    Vary(VaryArgs),
    /// The parts that make a board what `[expect]` asks of it, from series or from a drawer
    Choose(ChooseArgs),
    /// Boards off by what their tolerances allow: how many come out right, and which part decides
    Spread(SpreadArgs),
}

/// Which board.
#[derive(Debug, ClapArgs)]
pub(crate) struct ScenarioArgs {
    /// Scenario file
    pub(crate) scenario: PathBuf,
    /// Change something for this run: a value (R1=2k2), a kind (U1.gate=nor), a fault (R7=open,
    /// C2=short), any entry of the file (game.left=0.3); may be given again
    #[arg(long = "set", value_name = "WHAT=VALUE")]
    pub(crate) set: Vec<String>,
}

/// `render`.
#[derive(Debug, ClapArgs)]
pub(crate) struct RenderArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Folder to write to [default: out/<scenario name>]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Line to draw in line.png [default: the one that shows most elements]
    #[arg(long, value_name = "N")]
    pub(crate) line: Option<u32>,
    /// Fields to run, the ball moving from one to the next
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) fields: u32,
    /// Another node to record, beside the socket; may be given again
    #[arg(long = "tap", value_name = "NODE")]
    pub(crate) taps: Vec<String>,
    /// Also write waveform.csv
    #[arg(long)]
    pub(crate) csv: bool,
    /// Also write report.html: all of it on one page, with the circuit and its volts
    #[arg(long)]
    pub(crate) report: bool,
    /// Also write trains.vcd, the chip's pins as logic (IEEE 1364)
    #[arg(long)]
    pub(crate) vcd: bool,
}

/// `ladder`.
#[derive(Debug, ClapArgs)]
pub(crate) struct LadderArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `why`.
#[derive(Debug, ClapArgs)]
pub(crate) struct WhyArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Elements to explain, such as `right` [default: all]
    pub(crate) elements: Vec<String>,
    /// Folder for the pictures, why-ELEMENT.png [default: out/<scenario name>]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw no pictures
    #[arg(long)]
    pub(crate) no_pictures: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `compare`.
#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Exit status: 0 nothing is seen worse on the second board, 1 something is, 2 no \
                        answer."
)]
pub(crate) struct CompareArgs {
    /// The first scenario
    pub(crate) first: PathBuf,
    /// The second scenario [default: the first, changed by --set]
    pub(crate) second: Option<PathBuf>,
    /// Change something on the second board, as for `render`; may be given again
    #[arg(long = "set", value_name = "WHAT=VALUE")]
    pub(crate) set: Vec<String>,
    /// Folder for the picture, compare.png [default: out/<name of the first>]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw no picture
    #[arg(long)]
    pub(crate) no_pictures: bool,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// `hunt`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
Measure with one hand, the probe insulated to its tip, on the game only and never inside a \
television: a picture tube and a live chassis can kill. Leave the mains side of an adapter shut. \
Take the cells out and unplug the adapter before soldering.")]
pub(crate) struct HuntArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// What is seen: element=clear, faint, missing or dark; sync=good, weak or failing
    #[arg(long, value_name = "WHAT=WORD", num_args = 1..)]
    pub(crate) seen: Vec<String>,
    /// Whether the ball still bounces off the paddles, seen or unseen
    #[arg(long, value_name = "yes|no", value_parser = ["yes", "no"])]
    pub(crate) bounces: Option<String>,
    /// Volts at a node with one element lit (mix@left=1.2), with nothing lit (mix@black=0.9) or in
    /// the sync pulse (mix@tip=0.3)
    #[arg(long, value_name = "NODE@STATE=VOLTS", num_args = 1..)]
    pub(crate) measured: Vec<String>,
    /// Try every pair of faults too
    #[arg(long)]
    pub(crate) pairs: bool,
    /// Write JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// Suspects to show
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) most: u16,
}

/// `check`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
Exit status: 0 every file is as expected, 1 one of them is not, 2 there is no answer for one of \
them (the others are reported all the same).

A file without `[expect]` has no answer. Words and ranges are the design: they are edited by hand, \
and --accept leaves them alone.")]
pub(crate) struct CheckArgs {
    /// Scenario files
    #[arg(required = true, value_name = "FILE")]
    pub(crate) scenarios: Vec<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    #[arg(long, value_name = "FILE", help = "Also write JUnit XML")]
    pub(crate) junit: Option<PathBuf>,
    /// Store the waveform of `[expect.waveform]` where it is new or differs, if the board is
    /// otherwise as expected
    #[arg(long, conflicts_with = "set")]
    pub(crate) accept: bool,
    /// Change something in every file for this run, as for `render`; may be given again
    #[arg(long = "set", value_name = "WHAT=VALUE")]
    pub(crate) set: Vec<String>,
}

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
may be moved stands in `[choose.move]`, or here. Where all combinations are no more than --budget, \
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
    #[arg(long)]
    pub(crate) in_time: bool,
    /// Make one part of the run only, such as 3/16
    #[arg(long, value_name = "K/N", value_parser = part, conflicts_with_all = ["join", "number"])]
    pub(crate) part: Option<(u32, u32)>,
    /// Files of parts to put together in place of a run
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["number", "csv"])]
    pub(crate) join: Vec<PathBuf>,
    /// Show one board of the run only
    #[arg(long = "board", value_name = "K")]
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

/// "3/16".
fn part(text: &str) -> Result<(u32, u32), String> {
    let wrong = || format!("`{text}` is no part: write it as 3/16, from 1/16 to 16/16");
    let (part, of) = text.split_once('/').ok_or_else(wrong)?;
    let part = part.parse::<u32>().map_err(|_| wrong())?;
    let of = of.parse::<u32>().map_err(|_| wrong())?;
    if (1..=of).contains(&part) { Ok((part, of)) } else { Err(wrong()) }
}
