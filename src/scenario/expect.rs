//! `[expect]`: what the design is meant to do. Each value is one expectation with its place, so that
//! one that is not met can be pointed to.

mod read;

pub(crate) use read::Known;
pub(crate) use read::read;

use crate::base::diagnostic::Span;
use crate::network::circuit::NodeId;
use crate::signal::element::ElementId;

/// Words for how well an element is seen.
pub const SEEN_WORDS: [&str; 3] = ["clear", "faint", "missing"];
/// Words for the depth of sync.
pub const SYNC_WORDS: [&str; 3] = ["good", "weak", "failing"];
/// Words for how the picture stands on the screen.
pub const LOCK_WORDS: [&str; 6] = ["locked", "shifted", "bending", "torn", "rolling", "refused"];
/// Words for how a board spares its parts, from good to bad.
pub const RATING_WORDS: [&str; 3] = ["ok", "look", "stop"];
/// Words for what else there is to say of an element.
pub const NOTE_WORDS: [&str; 5] = ["dark", "same shade", "brighter", "smeared", "drawn out"];

/// One expectation.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// Its path below `[expect]`: "left.delta".
    pub name: String,
    /// What is expected.
    pub what: Expectation,
    /// Where its value stands.
    pub place: Span,
}

/// What is expected.
#[derive(Clone, Debug, PartialEq)]
pub enum Expectation {
    /// Something measured on the whole field.
    Field(FieldAmount, Bounds),
    /// One of these words of [`SYNC_WORDS`] for the sync.
    Sync(Vec<&'static str>),
    /// No word of [`LOCK_WORDS`] but these for how the picture stands.
    Lock(Vec<&'static str>),
    /// No rating of the board has a worse word than this of [`RATING_WORDS`].
    Ratings(&'static str),
    /// Exactly these elements are taken for sync.
    TakenForSync(Vec<String>),
    /// Something of every shape of an element, or of the shapes of that name.
    Shape(String, OfShape),
    /// A standing level at a node, V.
    Node(NodeId, NodeState, Bounds),
    /// The socket's waveform is that in a file, to within so many volts at every sample.
    Waveform {
        /// The file's path, from where the user stands.
        path: String,
        /// Largest difference, V, above 0.
        within_v: f64,
    },
}

/// Measured on the whole field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldAmount {
    /// The unlit active line, V.
    Black,
    /// Sync tip, V.
    Tip,
    /// Black minus tip, V.
    SyncDepth,
    /// Width of line sync where the set slices it, s.
    SyncWidth,
    /// Lines a second as the set finds them, Hz.
    LineRate,
    /// Fields a second that the chip sends, Hz.
    FieldRate,
    /// What resistance the set sees behind the socket with everything lit, Ω.
    Source,
}

/// Expected of a shape.
#[derive(Clone, Debug, PartialEq)]
pub enum OfShape {
    /// Something measured.
    Amount(ShapeAmount, Bounds),
    /// One of these words of [`SEEN_WORDS`].
    Seen(Vec<&'static str>),
    /// All of these words of [`NOTE_WORDS`].
    Notes(Vec<&'static str>),
    /// None of these words of [`NOTE_WORDS`].
    Not(Vec<&'static str>),
}

/// Measured on a shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShapeAmount {
    /// Level at the peak, V.
    Level,
    /// Peak minus the black around it, V.
    Delta,
    /// Edge at its start, 10 to 90 %, s.
    Rise,
    /// Edge at its end, 90 to 10 %, s.
    Fall,
}

/// What the chip does while a standing level is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NodeState {
    /// In the sync pulse, nothing lit.
    Tip,
    /// Nothing lit.
    Black,
    /// One element lit.
    Lit(ElementId),
}

/// A range, both ends included; an open end is `None`, and one of the two is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Least value.
    pub low: Option<f64>,
    /// Greatest value.
    pub high: Option<f64>,
}

impl Bounds {
    /// How far inside the nearer end a value lies; below 0 if it lies outside or is no number.
    #[must_use]
    pub fn margin(&self, value: f64) -> f64 {
        if value.is_nan() {
            return f64::NEG_INFINITY;
        }
        let above = self.low.map_or(f64::INFINITY, |low| value - low);
        let below = self.high.map_or(f64::INFINITY, |high| high - value);
        above.min(below)
    }
}
