//! The resistance that the set sees behind the socket.

use crate::analysis::ladder::Levels;
use crate::analysis::ladder::OPEN_OHMS;
use crate::network::circuit::Circuit;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// A set in the place of nothing plugged in, Ω.
const TEST_OHMS: f64 = 75.0;

/// Volts lost over current drawn between nothing plugged in and the scenario's own load (one set, where
/// that is open), with everything lit, Ω; infinite if the load draws nothing more. `lit_v` is what the
/// socket stands at with everything lit and the scenario's own load, if that is known.
///
/// # Source
///
/// Thévenin's theorem, any text: R = (V₀ − V) / (I − I₀).
///
/// # Errors
///
/// A board that cannot be solved.
pub fn source_ohms(
    scenario: &Scenario,
    circuit: &Circuit,
    lit_v: Option<f64>,
) -> Result<f64, NetworkError> {
    let own = match circuit.parts[scenario.output.load.0].kind {
        PartKind::Resistor { ohms, .. } if ohms < 0.1 * OPEN_OHMS => Some(ohms),
        _ => None,
    };
    let lit_v = lit_v.filter(|_| own.is_some());
    let own = own.unwrap_or(TEST_OHMS);
    let elements = scenario.raster.elements.iter().zip(0..);
    let lit = elements.fold(ElementSet::EMPTY, |lit, (_, index)| lit.with(ElementId(index)));
    let level = |ohms: f64| -> Result<f64, NetworkError> {
        let mut circuit = circuit.clone();
        if let PartKind::Resistor { ohms: load, .. } =
            &mut circuit.parts[scenario.output.load.0].kind
        {
            *load = ohms;
        }
        let levels = Levels::new(scenario, &circuit)?;
        Ok(levels.solve(lit, LinePart::Active)?.volts(scenario.output.node))
    };
    let loaded = lit_v.map_or_else(|| level(own), Ok)?;
    let open = level(OPEN_OHMS)?;
    let drawn = loaded / own - open / OPEN_OHMS;
    Ok(if drawn > 0.0 { (open - loaded) / drawn } else { f64::INFINITY })
}
