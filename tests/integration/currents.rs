//! What flows into each part of a standing board: nothing is lost at any node (Kirchhoff's current
//! law), nothing of the power either (B. D. H. Tellegen, "A general network theorem, with
//! applications", Philips Research Reports 7 (1952)), and a resistor takes what Ohm's law says.

use crate::boards::examples;
use crate::boards::load;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartId;
use backporch::network::circuit::PartKind;
use backporch::network::currents::PartCurrents;
use backporch::network::operating_point::Network;
use backporch::network::operating_point::OperatingPoint;
use backporch::raster::plan::LinePart;
use backporch::scenario::Scenario;
use backporch::signal::element::ElementId;
use backporch::signal::element::ElementSet;

/// Currents this small against the largest at a node are rounding.
const SHARE: f64 = 1e-6;
/// What Newton's method leaves at a node at most, A.
const LEFT_AMPS: f64 = 1e-9;

fn parts(scenario: &Scenario) -> impl Iterator<Item = PartId> {
    (0..scenario.circuit.parts.len()).map(PartId)
}

fn check_nodes(scenario: &Scenario, currents: &PartCurrents) {
    for node in 0..scenario.circuit.nodes.len() {
        let into: Vec<f64> =
            parts(scenario).map(|part| currents.into_part(part, NodeId(node))).collect();
        let most = into.iter().fold(0.0_f64, |most, amps| most.max(amps.abs()));
        let sum: f64 = into.iter().sum();
        let name = scenario.circuit.node_name(NodeId(node));
        assert!(sum.abs() <= LEFT_AMPS + SHARE * most, "{}: {name}: {sum}", scenario.title);
    }
}

fn check_power(scenario: &Scenario, currents: &PartCurrents, point: &OperatingPoint) {
    let heats: Vec<f64> = parts(scenario).map(|part| currents.heat_w(part, point)).collect();
    let fed: f64 = heats.iter().filter(|heat| **heat < 0.0).sum();
    let sum: f64 = heats.iter().sum();
    assert!(sum.abs() <= 1e-9 + SHARE * fed.abs(), "{}: {sum} W of {fed}", scenario.title);
}

fn check_resistors(scenario: &Scenario, currents: &PartCurrents, point: &OperatingPoint) -> usize {
    let mut seen = 0;
    for (part, kind) in parts(scenario).zip(scenario.circuit.parts.iter().map(|part| &part.kind)) {
        if let PartKind::Resistor { ends: [from, to], ohms } = kind
            && from != to
        {
            let expected = (point.volts(*from) - point.volts(*to)) / ohms;
            let found = currents.into_part(part, *from);
            assert!((found - expected).abs() <= 1e-12 + 1e-9 * expected.abs());
            seen += 1;
        }
    }
    seen
}

#[test]
fn on_every_example_nothing_is_lost_at_a_node_nor_of_the_power() {
    let mut resistors = 0;
    for path in examples() {
        let scenario = load(&path);
        let mut network = Network::new(&scenario.circuit).unwrap();
        let idle = scenario.pin_levels(ElementSet::EMPTY, LinePart::Active);
        let black = network.operating_point(&idle).unwrap();
        let mut check = |network: &Network, lit, part| {
            let levels = scenario.pin_levels(lit, part);
            let point = network.operating_point_near(&levels, Some(&black)).unwrap();
            let currents = network.currents(&scenario.circuit, &levels, &point);
            check_nodes(&scenario, &currents);
            check_power(&scenario, &currents, &point);
            resistors += check_resistors(&scenario, &currents, &point);
        };
        check(&network, ElementSet::EMPTY, LinePart::Active);
        check(&network, ElementSet::EMPTY, LinePart::Sync);
        // What a large capacitor carries within a line counts as well.
        network.hold_capacitors(1e-6, &black);
        for index in (0..scenario.raster.elements.len()).take(8) {
            let lit = ElementSet::only(ElementId(u8::try_from(index).unwrap()));
            check(&network, lit, LinePart::Active);
        }
    }
    assert!(resistors > 100, "{resistors}");
}
