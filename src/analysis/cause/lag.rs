//! An element whose standing level is clear but whose pulse is too slow for its width: the node
//! that makes it slow.

use crate::analysis::cause::Cause;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::subject::Subject;
use crate::analysis::cause::words;
use crate::analysis::ladder::HELD_FARADS;
use crate::analysis::ladder::Levels;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementSet;

/// 10–90 % of a single lag, in time constants: ln 9.
const RISE_PER_LAG: f64 = 2.197_224_577_336_219;

/// The slowest node on the element's way: its resistance, found by drawing a little current there,
/// times the capacitance that hangs on it. `None` if no node is slow at all.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn cause(
    scenario: &Scenario,
    subject: impl Into<Subject>,
) -> Result<Option<Cause>, NetworkError> {
    let subject = subject.into();
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let scene = Scene::new(scenario, &levels, subject)?;
    let Some(way) = scene.ways.first() else { return Ok(None) };
    let starts = way.hops.iter().map(|hop| hop.from);
    let mut slowest: Option<(f64, f64, f64, NodeId)> = None;
    for node in starts.chain([scenario.output.node]) {
        let farads = capacitance(&scenario.circuit, node);
        let ohms = resistance(&scene, node)?;
        if slowest.is_none_or(|(lag_s, ..)| ohms * farads > lag_s) {
            slowest = Some((ohms * farads, ohms, farads, node));
        }
    }
    Ok(slowest.filter(|&(lag_s, ..)| lag_s > 0.0).map(|(lag_s, ohms, farads, node)| {
        let name = subject.name(scenario).to_uppercase();
        let stands = match subject {
            Subject::Element(_) => "stands clear of black",
            Subject::Sync => "is deep enough",
        };
        let node_name = scenario.circuit.node_name(node).to_owned();
        let (part, share) = largest_capacitor(&scenario.circuit, node);
        Cause {
            words: format!(
                "{name} {stands} once it has settled, but `{node_name}` is too slow: \
                 {} with {} takes {:.0} ns from 10 to 90 %; {part} is {} of that.",
                words::ohms(ohms),
                words::farads(farads),
                1e9 * RISE_PER_LAG * lag_s,
                words::farads(share),
            ),
            part,
            node: node_name,
            suspect: None,
            cures: false,
        }
    }))
}

/// What a part puts between the node and anything else, F; a large capacitor moves both its ends alike.
fn farads_at(part: &Part, node: NodeId) -> f64 {
    let unless_large = |farads: f64| if farads < HELD_FARADS { farads } else { 0.0 };
    match &part.kind {
        PartKind::Capacitor { ends, farads } if ends.contains(&node) => unless_large(*farads),
        PartKind::RealCapacitor(real) if real.ends.contains(&node) => {
            unless_large(real.present_farads())
        }
        PartKind::Pin(pin) if pin.node == node => pin.farads,
        PartKind::Gate(gate) => {
            let inputs = gate.inputs.iter().filter(|&&input| input == node);
            inputs.map(|_| gate.input_farads).sum()
        }
        PartKind::Transistor { base, model, .. } if *base == node => {
            model.base_emitter.farads + model.base_collector.farads
        }
        PartKind::Diode { anode, cathode, model } if [*anode, *cathode].contains(&node) => {
            model.junction.farads
        }
        _ => 0.0,
    }
}

fn capacitance(circuit: &Circuit, node: NodeId) -> f64 {
    circuit.parts.iter().map(|part| farads_at(part, node)).sum()
}

fn largest_capacitor(circuit: &Circuit, node: NodeId) -> (String, f64) {
    let all = circuit.parts.iter().map(|part| (part.name.clone(), farads_at(part, node)));
    all.fold((String::new(), 0.0), |most, next| if next.1 > most.1 { next } else { most })
}

/// Resistance of a node, Ω: the larger of that with the element lit, which makes its left edge slow,
/// and that without, which draws it out to the right.
pub(in crate::analysis) fn resistance(
    scene: &Scene<'_>,
    node: NodeId,
) -> Result<f64, NetworkError> {
    const PROBE_AMPS: f64 = 1e-7;
    let drawn = scene.levels.with_draw(&scene.scenario.circuit, node, PROBE_AMPS)?;
    let ohms = |(on, part): (ElementSet, LinePart)| -> Result<f64, NetworkError> {
        let [alone, drawn] =
            [scene.levels, &drawn].map(|levels| Ok(levels.solve(on, part)?.volts(node)));
        Ok((alone? - drawn?) / PROBE_AMPS)
    };
    Ok(ohms(scene.subject.state())?.max(ohms((ElementSet::EMPTY, LinePart::Active))?))
}
