//! Standing levels: where every node comes to rest with the pins held.

use crate::network::blocks::Blocks;
use crate::network::blocks::Seeds;
use crate::network::cable;
use crate::network::check;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Weights;
use crate::network::evaluation::all_on;
use crate::network::ring;
use crate::network::ring::Ring;
use crate::network::ripple;
use crate::network::search::Search;
use crate::network::search::Stuck;
use crate::network::system::Store;
use crate::network::system::System;
use crate::network::unknowns::inside;
use crate::signal::pulse_train::Level;

/// A circuit ready to be solved.
#[derive(Debug)]
pub struct Network {
    pub(crate) system: System,
    nodes: Vec<String>,
    parts: Vec<String>,
    /// Capacitors held at a voltage: their ends, V.
    pub(crate) held: Vec<(Store, f64)>,
}

/// The standing voltage of every node.
#[derive(Clone, Debug, PartialEq)]
pub struct OperatingPoint {
    pub(crate) x: Vec<f64>,
    /// Output state of each gate and analogue switch, in the order of the parts: `true` is high, or
    /// closed.
    pub gates: Vec<bool>,
    /// Newton iterations spent.
    pub iterations: u32,
}

impl OperatingPoint {
    /// Voltage of a node, V.
    #[must_use]
    pub fn volts(&self, node: NodeId) -> f64 {
        node.0.checked_sub(1).map_or(0.0, |index| self.x[index])
    }
}

impl Network {
    /// Prepares a circuit.
    ///
    /// # Errors
    ///
    /// A structural fault: a floating node, a loop of ideal sources, a pin with too many levels.
    pub fn new(circuit: &Circuit) -> Result<Self, NetworkError> {
        check::check(circuit)?;
        for (part, pin) in circuit.pins() {
            if pin.levels.len() > MAX_STATES {
                let name = circuit.parts[part.0].name.clone();
                let states = pin.levels.len();
                return Err(NetworkError::TooManyStates { name, states, most: MAX_STATES });
            }
        }
        let inner = circuit.parts.iter().flat_map(inside);
        Ok(Self {
            system: System::new(circuit),
            nodes: circuit.nodes.iter().cloned().chain(inner).collect(),
            parts: circuit.parts.iter().map(|part| part.name.clone()).collect(),
            held: Vec::new(),
        })
    }

    /// Holds every capacitor of at least `farads` at the voltage it has in `reference`, as it
    /// holds it through a line: what is then solved is the level *within* a line. Whether there
    /// is any.
    pub fn hold_capacitors(&mut self, farads: f64, reference: &OperatingPoint) -> bool {
        let large = self.system.stores.iter().filter(|store| store.farads >= farads);
        let large: Vec<Store> = large.copied().collect();
        for &store in &large {
            let volts = store.volts(&reference.x);
            self.system.hold(store.ends, volts);
            self.held.push((store, volts));
        }
        !large.is_empty()
    }

    /// Standing levels with the chip's pins at `levels`, one for each pin in the circuit's order.
    ///
    /// Gates are sharp: their logic is settled with the voltages.
    ///
    /// # Errors
    ///
    /// [`NetworkError`] with the node at which Newton's method failed.
    ///
    /// # Panics
    ///
    /// If `levels` does not fit the circuit's pins.
    pub fn operating_point(&self, levels: &[Level]) -> Result<OperatingPoint, NetworkError> {
        self.operating_point_near(levels, None)
    }

    /// The board in pieces that are solved each for itself, if it comes apart.
    pub(crate) fn blocks(&self, seeds: &Seeds) -> Option<Blocks<'_>> {
        Blocks::new(&self.system, seeds)
    }

    /// What drives the board while it stands, with the gates' outputs so.
    pub(crate) fn weights(&self, levels: &[Level], gates: &[bool]) -> Vec<Weights> {
        let pins = levels.iter().map(|level| all_on(usize::from(level.0)));
        let gates = gates.iter().map(|&high| all_on(usize::from(high)));
        let timed = self.system.timed.iter().map(|_| all_on(0));
        let ripples = self.system.ripples.iter().map(|_| ripple::mean());
        let cables = self.system.cables.iter().map(|_| cable::gentle());
        pins.chain(gates).chain(timed).chain(ripples).chain(cables).collect()
    }

    /// As [`Network::operating_point`], starting from one that may lie near; one of a board with
    /// other unknowns is passed over.
    ///
    /// # Errors
    ///
    /// As there.
    ///
    /// # Panics
    ///
    /// As there.
    pub fn operating_point_near(
        &self,
        levels: &[Level],
        near: Option<&OperatingPoint>,
    ) -> Result<OperatingPoint, NetworkError> {
        let system = &self.system;
        assert_eq!(levels.len(), system.pins, "one level for each pin");
        let near = near
            .filter(|near| near.x.len() == system.order && near.gates.len() == system.gates.len());
        let mut gates =
            near.map_or_else(|| vec![false; system.gates.len()], |near| near.gates.clone());
        let mut weights = self.weights(levels, &gates);
        let mut search = Search::new(system, near);
        for _ in 0..=2 * gates.len() + 2 {
            if let Err(stuck) = search.settle(&weights) {
                if gates.is_empty() {
                    return Err(self.describe(&search, &stuck));
                }
                break;
            }
            let next = system.gate_states(&search.x);
            if next == gates {
                return Ok(OperatingPoint { x: search.x, gates, iterations: search.iterations });
            }
            gates = next;
            system.set_gates(&gates, &mut weights);
        }
        match ring::find_state(&mut search, &mut weights, gates) {
            Ok(gates) => Ok(OperatingPoint { x: search.x, gates, iterations: search.iterations }),
            Err(Ring::Restless(odd)) => {
                let gate = self.parts[system.gates[odd].part.0].clone();
                Err(NetworkError::GatesUnsettled { gate })
            }
            Err(Ring::Stuck(stuck)) => Err(self.describe(&search, &stuck)),
        }
    }

    /// Every node, ground first and those inside parts last, with its voltage, V.
    pub fn standing<'a>(
        &'a self,
        point: &'a OperatingPoint,
    ) -> impl Iterator<Item = (&'a str, f64)> {
        let volts = std::iter::once(0.0).chain(point.x.iter().copied());
        self.nodes.iter().map(String::as_str).zip(volts)
    }

    /// Name of the node or part behind an unknown.
    pub(crate) fn unknown_name(&self, unknown: usize) -> String {
        self.nodes.get(unknown + 1).cloned().unwrap_or_else(|| "the current of a source".to_owned())
    }

    fn describe(&self, search: &Search, stuck: &Stuck) -> NetworkError {
        match stuck {
            Stuck::Singular(unknown) => {
                NetworkError::Undetermined { node: self.unknown_name(*unknown) }
            }
            Stuck::Unsettled => {
                let (worst, residual) = worst(&search.evaluation.f[..self.system.nodes]);
                NetworkError::NoOperatingPoint {
                    node: self.unknown_name(worst),
                    residual_amps: residual,
                    iterations: search.iterations,
                }
            }
        }
    }
}

/// Index and size of the entry furthest from 0.
pub(crate) fn worst(values: &[f64]) -> (usize, f64) {
    values.iter().enumerate().fold((0, 0.0), |(index, size), (next, value)| {
        if value.abs() > size { (next, value.abs()) } else { (index, size) }
    })
}
