//! What can be asked.

use crate::cli::clock_args::ClockArgs;
use crate::cli::controller_args::KnobArgs;
use crate::cli::controller_args::PinArgs;
use crate::cli::design_args::ChooseArgs;
use crate::cli::design_args::FeedArgs;
use crate::cli::design_args::SpreadArgs;
use crate::cli::design_args::SupplyArgs;
use crate::cli::design_args::VaryArgs;
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
    /// A composite line, built step by step from a board: pages to read
    Lesson(LessonArgs),
    /// A page on this machine on which every part can be turned
    Live(LiveArgs),
    /// The way of an element, or of the sync, from the chip's pin to the socket: what takes how much
    /// of it, and what would bring it back
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
    /// Which resistor into the modulator: carrier, sync and words for each preferred value
    Feed(FeedArgs),
    /// What feeds the board: a battery from fresh to flat and its hours, dried electrolytics, bad
    /// contacts, a beep, a bench feed
    Supply(SupplyArgs),
    /// From a few readings of one chip output to a model of the pin
    Pin(PinArgs),
    /// From a controller's angle to the line of its paddle; which parts to buy
    Knob(Box<KnobArgs>),
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
    /// Fields to run, the game played on from one to the next
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) fields: u32,
    /// Another node to record, beside the socket; may be given again
    #[arg(long = "tap", value_name = "NODE")]
    pub(crate) taps: Vec<String>,
    /// Also write waveform.csv
    #[arg(long)]
    pub(crate) csv: bool,
    /// Write the frames of all fields as one animated PNG, animation.png, in place of frame-0002.png
    /// and so on
    #[arg(long)]
    pub(crate) animate: bool,
    /// Also write sound.wav: what the game's loudspeaker makes of its tones, and the buzz behind a
    /// modulator, in step with the fields
    #[arg(long)]
    pub(crate) sound: bool,
    /// Leave waveform.wav out: it takes some 1.3 MB a field
    #[arg(long)]
    pub(crate) no_waveform: bool,
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

/// `live`.
#[derive(Debug, ClapArgs)]
#[command(after_help = "\
The page is served to this machine alone, at the address that is printed; Ctrl-C ends it. Changes \
are kept in the browser's tab until they are saved, as a variant beside the scenario.

Work on the game only, never inside a television: a picture tube and a live chassis can kill.")]
pub(crate) struct LiveArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Port to serve on [default: one that is free]
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    pub(crate) port: u16,
}

/// `lesson`.
#[derive(Debug, ClapArgs)]
pub(crate) struct LessonArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// Folder for the pages, 01-sync.png and so on, and lesson.html [default: out/<scenario name>/lesson]
    #[arg(short, long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Draw nothing
    #[arg(long)]
    pub(crate) no_pictures: bool,
    /// Print JSON: what the pages say, and its numbers
    #[arg(long)]
    pub(crate) json: bool,
}

/// `why`.
#[derive(Debug, ClapArgs)]
pub(crate) struct WhyArgs {
    #[command(flatten)]
    pub(crate) board: ScenarioArgs,
    /// What to explain: elements, such as `right`, or `sync` [default: all]
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
    /// What is seen: element=clear, faint, missing, dark, or brighter than it should be; sync=good, weak or failing
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
