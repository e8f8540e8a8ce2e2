//! A second solver, as plain as possible: full matrices, the textbook equations, short steps.

use crate::causes::board::Board;
use crate::causes::board::GATE_OHMS;
use crate::causes::board::Logic;
use crate::causes::board::Node;
use crate::causes::board::Part;
use crate::causes::board::Pin;
use backporch::base::math;
use nalgebra::DMatrix;
use nalgebra::DVector;

/// Thermal voltage, V.
const VT: f64 = 25.852e-3;
/// From every node to ground, Ω: too much to matter.
const LEAK_OHMS: f64 = 1e13;
/// Longest step of one node in one iteration, V.
const STRIDE: f64 = 0.15;

/// What the chip puts out: elements lit by bit, and whether it is in the sync pulse.
#[derive(Clone, Copy, Debug)]
pub(crate) struct State {
    pub(crate) lit: u32,
    pub(crate) sync: bool,
}

/// How far each element lifts the socket above black, V; `None` if that cannot be solved.
pub(crate) fn deltas(board: &Board) -> Option<Vec<f64>> {
    let black = level(board, State { lit: 0, sync: false })?;
    (0..board.pins.len() - 1)
        .map(|element| Some(level(board, State { lit: 1 << element, sync: false })? - black))
        .collect()
}

/// The level at the socket, V.
pub(crate) fn level(board: &Board, state: State) -> Option<f64> {
    let mut high: Vec<bool> = gates(board).map(|_| false).collect();
    let mut volts = vec![0.0; board.nodes.len()];
    for _ in 0..12 {
        volts = newton(board, state, &high, volts)?;
        let next: Vec<bool> = gates(board).map(|gate| gate.output(&volts)).collect();
        if next == high {
            return Some(volts[board.plug]);
        }
        high = next;
    }
    None
}

struct Gate<'a> {
    logic: Logic,
    inputs: &'a [Node],
    supply: Node,
}

impl Gate<'_> {
    fn output(&self, volts: &[f64]) -> bool {
        let mut inputs = self.inputs.iter().map(|&input| volts[input] >= 0.5 * volts[self.supply]);
        match self.logic {
            Logic::Or | Logic::Buffer => inputs.any(|high| high),
            Logic::Nor | Logic::Not => !inputs.any(|high| high),
            Logic::And => inputs.all(|high| high),
            Logic::Nand => !inputs.all(|high| high),
        }
    }
}

fn gates(board: &Board) -> impl Iterator<Item = Gate<'_>> {
    board.parts.iter().filter_map(|(_, part)| match part {
        Part::Gate { logic, inputs, supply, .. } => {
            Some(Gate { logic: *logic, inputs, supply: *supply })
        }
        _ => None,
    })
}

/// Sums of the currents out of each node, and their slopes against each voltage.
struct Sums {
    amps: DVector<f64>,
    slopes: DMatrix<f64>,
}

impl Sums {
    /// `amps` flows out of `from` into `to`, with these slopes against nodes.
    fn flow(&mut self, from: Node, to: Node, amps: f64, slopes: &[(Node, f64)]) {
        self.amps[from] += amps;
        self.amps[to] -= amps;
        for &(node, slope) in slopes {
            self.slopes[(from, node)] += slope;
            self.slopes[(to, node)] -= slope;
        }
    }

    fn resistor(&mut self, from: Node, to: Node, ohms: f64, volts: &[f64]) {
        let siemens = 1.0 / ohms;
        let amps = siemens * (volts[from] - volts[to]);
        self.flow(from, to, amps, &[(from, siemens), (to, -siemens)]);
    }

    /// A resistance from a node to a voltage that does not depend on the board.
    fn source(&mut self, node: Node, ohms: f64, source_volts: f64, volts: &[f64]) {
        let siemens = 1.0 / ohms;
        self.flow(node, 0, siemens * (volts[node] - source_volts), &[(node, siemens)]);
    }
}

/// The exponential law and its slope, straight above 1 V of junction so that nothing overflows.
fn junction(saturation: f64, vt: f64, volts: f64) -> (f64, f64) {
    let at = volts.min(40.0 * vt);
    let e = math::exp(at / vt);
    let slope = saturation * e / vt;
    (saturation * (e - 1.0) + slope * (volts - at), slope)
}

fn sums(board: &Board, state: State, high: &[bool], volts: &[f64]) -> Sums {
    let count = board.nodes.len();
    let mut sums = Sums { amps: DVector::zeros(count), slopes: DMatrix::zeros(count, count) };
    sums.source(board.plug, board.load_ohms, 0.0, volts);
    // A node that a fault leaves alone has no equation of its own.
    for node in 1..count {
        sums.source(node, LEAK_OHMS, 0.0, volts);
    }
    for (index, pin) in board.pins.iter().enumerate() {
        let Pin { node, high_volts, high_ohms, low_ohms, .. } = *pin;
        let is_high = if index == 0 { !state.sync } else { state.lit >> (index - 1) & 1 == 1 };
        let (source_volts, ohms) = if is_high { (high_volts, high_ohms) } else { (0.0, low_ohms) };
        sums.source(node, ohms, source_volts, volts);
    }
    let mut gate_states = high.iter();
    for (_, part) in &board.parts {
        match part {
            Part::Resistor { ends: [a, b], ohms } => sums.resistor(*a, *b, *ohms, volts),
            Part::Diode { anode, cathode } => {
                let (amps, slope) = junction(2.5e-9, 1.8 * VT, volts[*anode] - volts[*cathode]);
                sums.flow(*anode, *cathode, amps, &[(*anode, slope), (*cathode, -slope)]);
            }
            Part::Transistor { pnp, collector, base, emitter } => {
                transistor(
                    &mut sums,
                    if *pnp { -1.0 } else { 1.0 },
                    [*collector, *base, *emitter],
                    volts,
                );
            }
            Part::Gate { output, supply, .. } => {
                let is_high = *gate_states.next().unwrap();
                sums.resistor(*output, if is_high { *supply } else { 0 }, GATE_OHMS, volts);
            }
            // Small against everything it feeds, large enough for the matrix: 12 V at 50 mA drops
            // by 50 nV.
            Part::Supply { node, volts: source_volts } => {
                sums.source(*node, 1e-6, *source_volts, volts);
            }
        }
    }
    sums
}

fn transistor(sums: &mut Sums, sign: f64, [collector, base, emitter]: [Node; 3], volts: &[f64]) {
    let (icc, gcc) = junction(1e-14, VT, sign * (volts[base] - volts[emitter]));
    let (iec, gec) = junction(1e-14, VT, sign * (volts[base] - volts[collector]));
    // Currents into the collector and into the base; what leaves is the emitter's. For a PNP all
    // signs turn, of voltages and of currents, so the slopes stay.
    let (ic, ib) = (icc - iec * 1.25, icc / 200.0 + iec / 4.0);
    let ic_slopes = [(base, gcc - 1.25 * gec), (emitter, -gcc), (collector, 1.25 * gec)];
    let ib_slopes =
        [(base, gcc / 200.0 + gec / 4.0), (emitter, -gcc / 200.0), (collector, -gec / 4.0)];
    sums.flow(collector, emitter, sign * ic, &ic_slopes);
    sums.flow(base, emitter, sign * ib, &ib_slopes);
}

/// Newton's method with short steps; ground's equation is left out.
fn newton(board: &Board, state: State, high: &[bool], start: Vec<f64>) -> Option<Vec<f64>> {
    let mut volts = start;
    let rest = board.nodes.len() - 1;
    for _ in 0..2000 {
        let sums = sums(board, state, high, &volts);
        let slopes = sums.slopes.view((1, 1), (rest, rest)).clone_owned();
        let step = slopes.lu().solve(&sums.amps.rows(1, rest).clone_owned())?;
        let mut largest = 0.0_f64;
        for (volts, step) in volts[1..].iter_mut().zip(step.iter()) {
            *volts -= step.clamp(-STRIDE, STRIDE);
            largest = largest.max(step.abs());
        }
        if largest < 1e-9 {
            return Some(volts);
        }
    }
    None
}
