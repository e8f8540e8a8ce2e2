//! What a part adds to the unknowns besides the board's nodes: voltages inside it, and currents.

use crate::network::circuit::PartKind;

/// Voltages inside a part, each in words; they are solved like any node's.
pub(crate) fn inner_nodes(kind: &PartKind) -> &'static [&'static str] {
    match kind {
        PartKind::RealCapacitor(part) if part.present_series_ohms() > 0.0 => &["the inside of"],
        PartKind::Trimmer { contact_ohms, .. } if *contact_ohms > 0.0 => &["the track of"],
        PartKind::LossyInductor { ohms, .. } if *ohms > 0.0 => &["the inside of"],
        PartKind::VideoDriver(_) => &["the inside of"],
        _ => &[],
    }
}

/// Number of currents that are unknowns of their own.
pub(crate) fn branches(kind: &PartKind) -> usize {
    match kind {
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => 1,
        PartKind::Supply { ohms, .. } if *ohms <= 0.0 => 1,
        _ => 0,
    }
}

/// The next unknowns to be given away.
#[derive(Debug)]
pub(crate) struct Next {
    /// Voltage inside a part.
    pub(crate) inner: usize,
    /// Current.
    pub(crate) branch: usize,
}

impl Next {
    /// The next voltage inside a part.
    pub(crate) fn inner(&mut self) -> usize {
        self.inner += 1;
        self.inner - 1
    }

    /// The next current.
    pub(crate) fn branch(&mut self) -> usize {
        self.branch += 1;
        self.branch - 1
    }
}
