//! What can be wrong with a plan.

use std::ops::Range;
use thiserror::Error;

/// Most elements a plan can have: an element set holds no more.
pub const MOST_ELEMENTS: usize = 32;

/// Most lines in a field; far beyond any television system, and bounds what a field can cost.
pub const MOST_LINES: u32 = 65_536;

/// Why a plan cannot be drawn.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlanError {
    /// A size that must be at least 1.
    #[error("{what} is 0, but must be at least 1")]
    Zero {
        /// Which size.
        what: String,
    },
    /// A field too long to draw.
    #[error("a field has {lines} lines, but no more than {MOST_LINES} can be drawn")]
    TooManyLines {
        /// Lines in the field.
        lines: u32,
    },
    /// The active line ends where it starts, or before.
    #[error("the active line starts at clock {start}, but stops at clock {stop}")]
    NoActiveLine {
        /// First active clock.
        start: u32,
        /// First clock of the front porch.
        stop: u32,
    },
    /// No line may carry picture.
    #[error("picture starts on line {first}, but a field has {lines} lines")]
    NoActiveField {
        /// First line that may carry picture.
        first: u32,
        /// Lines in the field.
        lines: u32,
    },
    /// Line sync does not fit before the active line.
    #[error("line sync is {line_sync} clocks wide, but the active line starts at clock {start}")]
    SyncPastPorch {
        /// Width of line sync, clocks.
        line_sync: u32,
        /// First active clock.
        start: u32,
    },
    /// Field sync runs into the picture.
    #[error("field sync lasts {lines} lines, but picture starts on line {first}")]
    FieldSyncPastBlanking {
        /// Lines of field sync.
        lines: u32,
        /// First line that may carry picture.
        first: u32,
    },
    /// The gap between broad pulses leaves no pulse.
    #[error("broad pulses have a gap of {gap} clocks, but half a line has only {half}")]
    BroadGap {
        /// Clocks in the gap.
        gap: u32,
        /// Clocks in the shorter half line.
        half: u32,
    },
    /// More elements than a set holds.
    #[error("there are {count} elements, but no more than {MOST_ELEMENTS} can be told apart")]
    TooManyElements {
        /// How many there are.
        count: usize,
    },
    /// A reference to an element that is not in the plan.
    #[error("{what} names element {element}, but there are {count}, counted from 0")]
    UnknownElement {
        /// What refers to it.
        what: String,
        /// The number it gives.
        element: u8,
        /// Elements in the plan.
        count: usize,
    },
    /// A pattern's own list of elements differs from the plan's.
    #[error("the pattern's elements are {pattern:?}, but the plan's are {plan:?}")]
    OtherElements {
        /// Names in the pattern.
        pattern: Vec<String>,
        /// Names in the plan.
        plan: Vec<String>,
    },
    /// A patch of a shape that the pattern does not have.
    #[error("a patch on line {line} names shape {shape}, but there are {count}, counted from 0")]
    UnknownShape {
        /// Line of the patch.
        line: u32,
        /// The number it gives.
        shape: usize,
        /// Shapes in the pattern.
        count: usize,
    },
    /// Two pins of one name.
    #[error("two pins are called `{name}`")]
    PinTwice {
        /// The name.
        name: String,
    },
    /// A range of clocks or lines that holds none.
    #[error("{what} starts at {start}, but stops at {stop}")]
    Empty {
        /// Which range.
        what: String,
        /// Its first clock or line.
        start: u32,
        /// Its first clock or line no longer inside.
        stop: u32,
    },
    /// Something reaches past the end of its line.
    #[error("{what} reaches clock {stop}, but a line has {clocks} clocks")]
    PastLine {
        /// What.
        what: String,
        /// First clock after it.
        stop: u64,
        /// Clocks in a line.
        clocks: u32,
    },
    /// Something reaches past the end of the field.
    #[error("{what} reaches line {stop}, but a field has {lines} lines")]
    PastField {
        /// What.
        what: String,
        /// First line after it.
        stop: u64,
        /// Lines in a field.
        lines: u32,
    },
    /// Something lies wholly in blanking, in every field.
    #[error("{what} is never seen: picture is clocks {clocks:?} of lines {lines:?}")]
    Unseen {
        /// What.
        what: String,
        /// Clocks of the active line.
        clocks: Range<u32>,
        /// Lines that may carry picture.
        lines: Range<u32>,
    },
    /// A player who is neither left nor right.
    #[error("{what} belongs to player {player}, but there are 0 (left) and 1 (right)")]
    UnknownPlayer {
        /// What.
        what: String,
        /// The number it gives.
        player: usize,
    },
    /// A player's position outside 0 to 1.
    #[error("player {player} stands at {position}, but positions run from 0 to 1")]
    Position {
        /// 0 left, 1 right.
        player: usize,
        /// As given.
        position: f64,
    },
    /// A score of more than two figures.
    #[error("player {player} has a score of {score}, but only two figures are shown")]
    Score {
        /// 0 left, 1 right.
        player: usize,
        /// As given.
        score: u8,
    },
}
