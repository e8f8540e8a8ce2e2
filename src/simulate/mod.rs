//! The order of the stages: raster, network, receiver.

use crate::network::circuit::NodeId;
use crate::receiver::spec::Reception;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::trace::Trace;

/// One field, from the chip's pins to the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldRun {
    /// What the chip put out.
    pub trains: FieldTrains,
    /// Waveforms: the socket first, then the taps asked for, in their order.
    pub traces: Vec<Trace>,
    /// Node of each trace.
    pub nodes: Vec<NodeId>,
    /// What the set made of the socket's waveform.
    pub reception: Reception,
}
