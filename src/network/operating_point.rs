//! Standing levels: where every node comes to rest with the pins held.

use crate::network::cable;
use crate::network::check;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::error::NetworkError;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Weights;
use crate::network::evaluation::all_on;
use crate::network::evaluation::at;
use crate::network::junctions::Junctions;
use crate::network::ripple;
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

/// Iterations after which Newton's method is held to have failed.
const MOST_ITERATIONS: u32 = 150;
/// A step of Newton's method below this is no step, V.
const SETTLED_VOLTS: f64 = 1e-10;

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
        })
    }

    /// Holds every capacitor of at least `farads` at the voltage it has in `reference`, as it
    /// holds it through a line: what is then solved is the level *within* a line. Whether there
    /// is any.
    pub fn hold_capacitors(&mut self, farads: f64, reference: &OperatingPoint) -> bool {
        let large = self.system.stores.iter().filter(|store| store.farads >= farads);
        let large: Vec<Store> = large.copied().collect();
        for &Store { ends: [first, last], .. } in &large {
            let volts = at(&reference.x, first) - at(&reference.x, last);
            self.system.hold([first, last], volts);
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
        let mut weights: Vec<Weights> =
            levels.iter().map(|level| all_on(usize::from(level.0))).collect();
        let mut gates =
            near.map_or_else(|| vec![false; system.gates.len()], |near| near.gates.clone());
        weights.extend(gates.iter().map(|&high| all_on(usize::from(high))));
        weights.extend(system.ripples.iter().map(|_| ripple::mean()));
        weights.extend(system.cables.iter().map(|_| cable::gentle()));
        let mut search = Search::new(system, near);
        for _ in 0..=2 * gates.len() + 2 {
            search.settle(self, &weights)?;
            let next = self.gate_states(&search.x);
            if next == gates {
                return Ok(OperatingPoint { x: search.x, gates, iterations: search.iterations });
            }
            gates = next;
            for (gate, &high) in system.gates.iter().zip(&gates) {
                weights[gate.driver] = all_on(usize::from(high));
            }
        }
        let ring = self.gate_states(&search.x);
        let odd = ring.iter().zip(&gates).position(|(a, b)| a != b).unwrap_or(0);
        Err(NetworkError::GatesUnsettled { gate: self.part_name(system.gates[odd].part) })
    }

    fn gate_states(&self, x: &[f64]) -> Vec<bool> {
        let gates = self.system.gates.iter();
        gates
            .map(|logical| {
                let inputs: Vec<bool> = (0..logical.inputs.len())
                    .map(|input| logical.margin(x, input) >= 0.0)
                    .collect();
                logical.gate.logic.output(&inputs)
            })
            .collect()
    }

    /// Name of the node or part behind an unknown.
    pub(crate) fn unknown_name(&self, unknown: usize) -> String {
        self.nodes.get(unknown + 1).cloned().unwrap_or_else(|| "the current of a source".to_owned())
    }

    fn part_name(&self, part: PartId) -> String {
        self.parts[part.0].clone()
    }
}

/// Newton's method on the standing equations, with what it carries from one try to the next.
struct Search<'a> {
    system: &'a System,
    x: Vec<f64>,
    junctions: Junctions,
    evaluation: Evaluation,
    iterations: u32,
}

/// Why a try ended without an answer.
enum Stuck {
    Singular(usize),
    Unsettled,
}

impl<'a> Search<'a> {
    fn new(system: &'a System, near: Option<&OperatingPoint>) -> Self {
        let x = near.map_or_else(|| vec![0.0; system.order], |near| near.x.clone());
        let mut junctions = Junctions::default();
        system.start_junctions(&x, &mut junctions);
        Self { system, x, junctions, evaluation: Evaluation::new(system.order), iterations: 0 }
    }

    /// Finds the levels: plainly if it goes, otherwise by way of a board on which every node is
    /// also held to ground by a conductance that is taken away little by little.
    fn settle(&mut self, network: &Network, weights: &[Weights]) -> Result<(), NetworkError> {
        if self.newton(weights, 0.0).is_ok() {
            return Ok(());
        }
        self.x.fill(0.0);
        self.system.start_junctions(&self.x, &mut self.junctions);
        let (mut siemens, mut factor) = (1.0, 0.1);
        while siemens > 1e-14 {
            let (x, junctions) = (self.x.clone(), self.junctions.clone());
            if self.newton(weights, siemens).is_ok() {
                siemens *= factor;
                continue;
            }
            (self.x, self.junctions) = (x, junctions);
            siemens /= factor;
            factor = factor.sqrt();
            if factor > 0.97 {
                break;
            }
            siemens *= factor;
        }
        self.newton(weights, 0.0).map_err(|stuck| self.describe(network, &stuck))
    }

    fn newton(&mut self, weights: &[Weights], siemens: f64) -> Result<(), Stuck> {
        let mix = Mix { charge: 0.0, current: 1.0 };
        for _ in 0..MOST_ITERATIONS {
            self.iterations += 1;
            let evaluation = &mut self.evaluation;
            self.system.evaluate((&self.x, weights), Some(mix), &mut self.junctions, evaluation);
            for node in 0..self.system.nodes {
                evaluation.f[node] += siemens * self.x[node];
                evaluation.jacobian.add(node, node, siemens);
            }
            evaluation.jacobian.factorize().map_err(Stuck::Singular)?;
            let mut step = evaluation.f.clone();
            evaluation.jacobian.solve(&mut step);
            let mut largest: f64 = 0.0;
            for (x, step) in self.x.iter_mut().zip(&step) {
                *x -= step;
                largest = largest.max(step.abs() / (1.0 + x.abs()));
            }
            if !self.x.iter().all(|x| x.is_finite()) {
                return Err(Stuck::Unsettled);
            }
            if largest < SETTLED_VOLTS && !evaluation.limited {
                return Ok(());
            }
        }
        Err(Stuck::Unsettled)
    }

    fn describe(&self, network: &Network, stuck: &Stuck) -> NetworkError {
        match stuck {
            Stuck::Singular(unknown) => {
                NetworkError::Undetermined { node: network.unknown_name(*unknown) }
            }
            Stuck::Unsettled => {
                let (worst, residual) = worst(&self.evaluation.f[..self.system.nodes]);
                NetworkError::NoOperatingPoint {
                    node: network.unknown_name(worst),
                    residual_amps: residual,
                    iterations: self.iterations,
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
