//! What each element amounts to on the received waveform.

use crate::analysis::cause::Cause;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;

/// The reading of one field.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldReading {
    /// Black: the unlit active line, V at the socket.
    pub black_v: f64,
    /// Sync tip, V at the socket.
    pub tip_v: f64,
    /// The word for the depth.
    pub sync: SyncState,
    /// One reading for each shape that shows in the field, in the order of the element map, every
    /// element at least once.
    pub shapes: Vec<ShapeReading>,
}

/// One shape of an element, measured where it lies.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeReading {
    /// Element name.
    pub element: String,
    /// Shape name; the element's own where it has but one.
    pub shape: String,
    /// Level at its peak, V at the socket; `None` if no part of it lies clear of other elements.
    pub level_v: Option<f64>,
    /// Peak minus the black around it, V.
    pub delta_v: Option<f64>,
    /// Rising edge 10–90 %, s, where it could be measured.
    pub rise_s: Option<f64>,
    /// The word; `None` if it could not be measured.
    pub seen: Option<Seen>,
    /// What else there is to say.
    pub notes: Vec<Note>,
    /// Which part did it, if the shape is faint or missing.
    pub cause: Option<Cause>,
}
