//! What a fault is: changes to the resolved circuit, with a name and how common it is.

use crate::network::circuit::PartId;
use crate::scenario::change::Change;

/// A fault, or two together.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// In plain words: "R1 open".
    pub name: String,
    /// What it does to the board, in this order; none for the board as drawn.
    pub changes: Vec<Change>,
    /// How common it is against others, above 0.
    pub weight: f64,
    /// Whether it lies before the chip's pins, in a controller: then the ball flies through.
    pub controller: bool,
    /// The parts it touches: no two faults of one part go together.
    pub parts: Vec<PartId>,
}

impl Fault {
    /// The board as drawn.
    #[must_use]
    pub fn none() -> Self {
        Self {
            name: "no fault: the board as drawn".to_owned(),
            changes: Vec::new(),
            weight: 4.0,
            controller: false,
            parts: Vec::new(),
        }
    }

    /// Both faults together, `rarity` times as common as the product of their weights; `None` where
    /// they touch the same part.
    #[must_use]
    pub fn and(&self, other: &Self, rarity: f64) -> Option<Self> {
        if self.parts.iter().any(|part| other.parts.contains(part)) {
            return None;
        }
        let join = |a: &[Change], b: &[Change]| [a, b].concat();
        Some(Self {
            name: format!("{}, and {}", self.name, other.name),
            changes: join(&self.changes, &other.changes),
            weight: self.weight * other.weight * rarity,
            controller: self.controller || other.controller,
            parts: [self.parts.as_slice(), &other.parts].concat(),
        })
    }
}
