//! Where an element's pulse is lost.

/// The step that loses an element's pulse, named from the solved circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The part that does it: a reference designator or a pin's name.
    pub part: String,
    /// The node where the pulse is lost.
    pub node: String,
    /// The whole finding in one or two plain sentences with its numbers.
    pub words: String,
}
