//! Junctions at another temperature.

use crate::network::circuit::Part;
use crate::network::circuit::PartKind;

/// Brings every junction to a temperature, K.
pub(crate) fn bring_to(kelvin: f64, parts: &mut [Part]) {
    for part in parts {
        match &mut part.kind {
            PartKind::Diode { model, .. } => *model = model.at_temperature(kelvin),
            PartKind::Transistor { model, .. } => *model = model.at_temperature(kelvin),
            PartKind::AnalogueSwitch(switch) => {
                switch.clamp = switch.clamp.map(|clamp| clamp.at_temperature(kelvin));
            }
            PartKind::FieldEffect { model, .. } => *model = model.at_temperature(kelvin),
            PartKind::Gate(gate) => {
                gate.clamp = gate.clamp.map(|clamp| clamp.at_temperature(kelvin));
            }
            _ => {}
        }
    }
}
