//! A scenario, resolved: nothing left open, no default and no reference to look up.

mod analogue_switch;
pub mod battery;
mod caution;
pub mod change;
mod check;
mod chip;
pub mod choose;
pub mod clock;
pub mod control;
pub mod controller;
mod demands;
pub mod entries;
pub mod expect;
mod field_effect;
mod files;
mod game;
mod gate;
mod gate_library;
mod library;
#[cfg(test)]
mod library_tests;
mod limit_library;
pub mod limits;
mod load;
#[cfg(test)]
mod load_tests;
pub mod modulator;
mod nodes;
mod overlay;
mod parts;
mod passive;
mod pattern;
mod receiver;
mod resolve;
mod semiconductor;
pub mod set_library;
mod settings;
pub mod sound;
pub mod spread;
mod supply;
mod temperature;

pub use load::load;

use crate::base::diagnostic::Span;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PinStage;
use crate::profile::limits::ChipLimits;
use crate::profile::pins::Strength;
use crate::raster::plan::LinePart;
use crate::raster::plan::RasterPlan;
use crate::receiver::lock::TORN_LINES;
use crate::receiver::spec::ReceiverSpec;
use crate::scenario::battery::Battery;
use crate::scenario::choose::ChooseSpec;
use crate::scenario::clock::ClockDrift;
use crate::scenario::expect::Expected;
use crate::scenario::limits::Limits;
use crate::scenario::modulator::Modulator;
use crate::scenario::sound::Sound;
use crate::scenario::spread::Factor;
use crate::signal::element::ElementSet;
use crate::signal::pulse_train::Level;
use crate::signal::tank::Tank;

/// Everything a run needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// Short name for folders: the file's name without its ending.
    pub name: String,
    /// One line about the board, as the user wrote it.
    pub title: String,
    /// What the chip puts out.
    pub raster: RasterPlan,
    /// What makes the clock, if the file says so; `raster` already runs at its frequency, rounded
    /// to a whole hertz.
    pub tank: Option<Tank>,
    /// How that clock follows the chip's supply, if the file says so; `raster` already runs at the clock
    /// that the board's standing levels make.
    pub clock_drift: Option<ClockDrift>,
    /// Board, pins and load; its pins are those of `raster`, in the same order.
    pub circuit: Circuit,
    /// The socket.
    pub output: Output,
    /// What lies between the output and the set's video input, if it is not a lead; `output` is then
    /// the modulator's own input.
    pub modulator: Option<Modulator>,
    /// The set.
    pub receiver: ReceiverSpec,
    /// What makes the sound.
    pub sound: Sound,
    /// How finely and how exactly to compute.
    pub solve: SolveSpec,
    /// When an element is called missing, faint and so on, in volts at `output`.
    pub verdict: VerdictLines,
    /// The same in volts at the set's video input: other ones only behind a modulator.
    pub received: VerdictLines,
    /// The chip's pins in every specimen of it, if they differ: weak, typical, strong.
    pub specimens: Vec<Specimen>,
    /// What the design is meant to do; empty if nothing is said.
    pub expect: Vec<Expected>,
    /// What differs from one specimen of the board to the next.
    pub spread: Vec<Factor>,
    /// Which parts may be other ones.
    pub choose: ChooseSpec,
    /// Where the user wrote each part, by [`PartId`] index; `None` for parts that come from a
    /// profile or a default.
    pub part_spans: Vec<Option<Span>>,
    /// What each part bears, by [`PartId`] index.
    pub limits: Vec<Limits>,
    /// What the batteries are made of.
    pub batteries: Vec<(PartId, Battery)>,
    /// What the chip bears.
    pub chip_limits: ChipLimits,
    /// The node whose volts are held against that, if there is one: not where patterns stand for a
    /// chip of which no limits are stated.
    pub chip_supply: Option<NodeId>,
    /// Where each node was first named, by [`NodeId`] index.
    pub node_spans: Vec<Option<Span>>,
}

/// The socket and what is plugged in.
#[derive(Clone, Debug, PartialEq)]
pub struct Output {
    /// The socket's node.
    pub node: NodeId,
    /// The load, a resistor from the socket to ground.
    pub load: PartId,
}

/// The pins of one specimen of the chip.
#[derive(Clone, Debug, PartialEq)]
pub struct Specimen {
    /// How strong it is.
    pub strength: Strength,
    /// For every pin, in their order, the stage of each level.
    pub stages: Vec<Vec<PinStage>>,
}

/// Sampling, accuracy and start.
#[derive(Clone, Debug, PartialEq)]
pub struct SolveSpec {
    /// Samples a clock period, 1 or more.
    pub samples_per_clock: u32,
    /// Error tolerance of a step, V.
    pub tolerance_v: f64,
    /// What precedes the first field.
    pub start: Start,
    /// What of a field is solved but once.
    pub reuse: Reuse,
}

/// What of a field is solved but once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reuse {
    /// Stretches from edge to edge that have come before.
    Stretches,
    /// Nothing: every line is solved anew.
    Nothing,
}

/// What precedes the first field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// The standing levels with all pins idle.
    Idle,
    /// Fields are run until they repeat.
    Settled,
}

/// Where the words begin. Levels are shares of the span.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VerdictLines {
    /// Volts from black to white that the socket should carry, V.
    pub span_v: f64,
    /// Below this share of the span an element is missing.
    pub missing: f64,
    /// Below this share it is faint.
    pub faint: f64,
    /// Within this share of the field lines it has the same shade.
    pub same_shade: f64,
    /// Above this share it is brighter than white.
    pub brighter: f64,
    /// Sync depth from which sync is good, V.
    pub sync_good_v: f64,
    /// Sync depth below which it fails, V.
    pub sync_weak_v: f64,
    /// From where on a picture is no longer locked.
    pub lock: LockLines,
}

/// From where on a picture is shifted, bends, is torn or rolls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LockLines {
    /// Mean line phase error, s.
    pub shifted_s: f64,
    /// Spread of the line phase error over the shown lines, s.
    pub bending_s: f64,
    /// Lines by which the set runs away from the sync in a field.
    pub torn_lines: f64,
    /// Lines by which the set's field moves against the one that was sent, in a field.
    pub rolling_lines: f64,
}

impl LockLines {
    /// Where nothing else is said. 1.5 µs is what a maker's note on line oscillators (1970s) allows as a
    /// standing error. A bend of 0.5 µs, a hundredth of the picture's width, half a line a field, which
    /// comes round in ten seconds: common practice, no source.
    pub const USUAL: Self =
        Self { shifted_s: 1.5e-6, bending_s: 0.5e-6, torn_lines: TORN_LINES, rolling_lines: 0.5 };
}

impl VerdictLines {
    /// The same lines before something that makes `slope` volts of each volt.
    #[must_use]
    pub fn before(&self, slope: f64) -> Self {
        Self {
            span_v: self.span_v / slope,
            sync_good_v: self.sync_good_v / slope,
            sync_weak_v: self.sync_weak_v / slope,
            ..*self
        }
    }
}

impl Scenario {
    /// The level of every chip pin with `lit` elements in `part` of a line, in the order in which
    /// the network takes them.
    #[must_use]
    pub fn pin_levels(&self, lit: ElementSet, part: LinePart) -> Vec<Level> {
        self.raster.pins.iter().map(|pin| pin.level(lit, part)).collect()
    }
}
