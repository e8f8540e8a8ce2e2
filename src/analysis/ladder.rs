//! The ladder: the level at the socket for every combination of elements.

use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::signal::element::ElementSet;

/// Levels at the socket under one load after another.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// The socket's node.
    pub node: String,
    /// Element names, by [`ElementId`](crate::signal::element::ElementId).
    pub elements: Vec<String>,
    /// The scenario's own load first, then 75 Ω, 37.5 Ω and open, each once.
    pub loads: Vec<LoadLadder>,
}

/// Levels under one load.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadLadder {
    /// Load resistance, Ω; "open" is the 1 MΩ of a meter.
    pub load_ohms: f64,
    /// Every combination, sync released first, sets in rising order of their bits.
    pub levels: Vec<LadderLevel>,
    /// Sync with nothing lit.
    pub sync: SyncLevels,
    /// A verdict for each element, by index.
    pub elements: Vec<ElementLevel>,
}

/// Which side of the sync pulse a level belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SyncSide {
    /// Sync released: picture.
    Picture,
    /// In the sync pulse.
    Pulse,
}

/// The level of one combination.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LadderLevel {
    /// Sync released or asserted.
    pub sync: SyncSide,
    /// What is lit.
    pub on: ElementSet,
    /// Level at the socket, V.
    pub volts: f64,
}

/// Black and tip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SyncLevels {
    /// Nothing lit, sync released, V.
    pub black_v: f64,
    /// Nothing lit, sync asserted, V.
    pub tip_v: f64,
    /// Black minus tip, V.
    pub depth_v: f64,
    /// The word for the depth.
    pub state: SyncState,
}

/// One element alone on black.
#[derive(Clone, Debug, PartialEq)]
pub struct ElementLevel {
    /// Level minus black, V.
    pub delta_v: f64,
    /// The word.
    pub seen: Seen,
    /// What else there is to say.
    pub notes: Vec<Note>,
}
