//! How firmly each node is held, and so up to where a diode at it may be taken as asleep.

use crate::network::evaluation::Unknown;
use crate::network::evaluation::at;
use crate::network::linear_part::Rail;
use crate::network::regulator::Regulator;
use crate::network::system::System;
use crate::network::system::unknown;

/// What sleep may cost at either end of a diode, V.
const SLEEP_V: f64 = 1e-7;
/// A diode sleeps at most while less than this flows beside its saturation current, A.
const SLEEP_AMPS: f64 = 1e-13;

/// For every node the resistance to what fixes it, Ω, along the best single path: infinity where only
/// junctions, channels, coils and capacitors lead to it. What drives a node counts with the worst of
/// its states, a MOS stage with what it has at 1 V of overdrive, a regulator with what it has while
/// it regulates.
pub(crate) fn held_ohms(system: &System, rails: &[Rail]) -> Vec<f64> {
    let mut ohms = vec![f64::INFINITY; system.nodes];
    let mut siemens = vec![vec![0.0; system.nodes]; system.nodes];
    for entry in system.linear.iter().filter(|entry| entry.row.max(entry.column) < system.nodes) {
        siemens[entry.row][entry.column] += entry.siemens;
    }
    for (node, row) in siemens.iter().enumerate() {
        // What of a row's sum is not rounding leads to ground.
        let (sum, own) = (row.iter().sum::<f64>(), row[node]);
        if sum > 1e-9 * own {
            ohms[node] = 1.0 / sum;
        }
    }
    for rail in rails {
        ohms[rail.node] = 0.0;
    }
    // A path leads through each node once.
    for _ in 0..system.nodes {
        let before = ohms.clone();
        for (node, row) in siemens.iter().enumerate() {
            for (other, &between) in row.iter().enumerate().filter(|(_, s)| **s < 0.0) {
                ohms[node] = ohms[node].min(before[other] - 1.0 / between);
            }
        }
        for driver in &system.drivers {
            if let Some(node) = driver.node {
                ohms[node] = ohms[node].min(driver.held_ohms(at(&before, driver.supply)));
            }
        }
        for Regulator { output, common, output_ohms, .. } in &system.regulators {
            if let Some(node) = unknown(*output) {
                ohms[node] = ohms[node].min(output_ohms + at(&before, unknown(*common)));
            }
        }
        if ohms == before {
            break;
        }
    }
    ohms
}

/// The current beside its saturation current below which a diode between these ends sleeps, A.
pub(crate) fn sleep_amps(ends: [Unknown; 2], held_ohms: &[f64]) -> f64 {
    let ohms = at(held_ohms, ends[0]).max(at(held_ohms, ends[1]));
    (SLEEP_V / ohms).min(SLEEP_AMPS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::circuit::NodeId;
    use crate::network::circuit::PartKind;
    use crate::network::device::DiodeModel;
    use crate::network::linear_part::LinearPart;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;

    #[test]
    fn a_node_is_held_along_its_best_path_and_not_by_junctions() {
        let ends = |a, b| [NodeId(a), NodeId(b)];
        let resistor = |a, b, ohms| PartKind::Resistor { ends: ends(a, b), ohms };
        let model = DiodeModel::ideal(1e-14, 1.0);
        let board = circuit(
            &["ground", "pin", "mix", "rail", "island", "shore"],
            vec![
                pin(1, 3e3),
                resistor(1, 2, 1e3),
                resistor(2, 0, 9e6),
                PartKind::Supply { node: NodeId(3), volts: 5.0, ohms: 0.0 },
                resistor(3, 2, 2e3),
                PartKind::Diode { anode: NodeId(2), cathode: NodeId(4), model },
                PartKind::Capacitor { ends: ends(4, 0), farads: 1e-9 },
                resistor(4, 5, 10.0),
            ],
        );
        let system = System::new(&board);
        let held = held_ohms(&system, &LinearPart::new(&system).rails);
        let expected = [3e3, 2e3, 0.0, f64::INFINITY, f64::INFINITY];
        for (node, (held, expected)) in held.iter().zip(expected).enumerate() {
            let is_right =
                held.total_cmp(&expected).is_eq() || (held / expected - 1.0).abs() < 1e-9;
            assert!(is_right, "{node}: {held} {expected}");
        }
        // 0.1 µV in what holds the worse end, but no more than 0.1 pA.
        let amps = |ends: [Unknown; 2]| sleep_amps(ends, &held);
        assert!((amps([Some(0), Some(1)]) - 1e-13).abs() < 1e-20);
        assert!(amps([Some(0), Some(3)]) <= 0.0);
        assert!((sleep_amps([None, Some(0)], &[1e9]) - 1e-16).abs() < 1e-23);
    }
}
