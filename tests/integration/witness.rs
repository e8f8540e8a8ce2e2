//! A circuit in time by a general-purpose stiff solver: plain equations ([`crate::plain`]), an
//! embedded implicit Runge–Kutta method of the `diffsol` crate, its own root finding for gates.
//!
//! Within the solver time is in ns, so that rates are of ordinary size. Every free node must have a
//! capacitance.

use crate::plain::Plain;
use crate::plain::broken_line;
use crate::plain::coils;
use crate::plain::given;
use crate::plain::with_currents;
use backporch::base::math;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::Gate;
use backporch::network::circuit::GateSpeed;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::operating_point::OperatingPoint;
use backporch::signal::pulse_train::PulseTrain;
use diffsol::NalgebraLU;
use diffsol::NalgebraMat;
use diffsol::OdeBuilder;
use diffsol::OdeSolverMethod;
use diffsol::OdeSolverStopReason;
use nalgebra::DMatrix;
use nalgebra::DVector;

/// Local tolerance of the witness, V.
const TOLERANCE_V: f64 = 3e-9;
/// A gate input has changed when it is past its threshold by this much, V.
const PAST_V: f64 = 1e-7;
const NS: f64 = 1e-9;

/// What the witness saw.
pub(crate) struct Testimony {
    /// For every sample the voltage of every node, ground included.
    pub(crate) volts: Vec<Vec<f64>>,
    /// When drivers were on the move: start and end, s.
    pub(crate) moves: Vec<(f64, f64)>,
}

/// A driver on its way, or at rest.
struct Way {
    from: Vec<f64>,
    to: usize,
    start_ns: f64,
    length_ns: f64,
}

impl Way {
    fn rest(state: usize, states: usize) -> Self {
        let from = (0..states).map(|other| f64::from(u8::from(other == state))).collect();
        Self { from, to: state, start_ns: 0.0, length_ns: 0.0 }
    }

    fn end_ns(&self) -> f64 {
        self.start_ns + self.length_ns
    }

    fn shares(&self, at_ns: f64) -> Vec<f64> {
        let done = if at_ns < self.end_ns() {
            ((at_ns - self.start_ns) / self.length_ns).max(0.0)
        } else {
            1.0
        };
        let mut shares: Vec<f64> = self.from.iter().map(|share| share * (1.0 - done)).collect();
        shares[self.to] += done;
        shares
    }
}

enum Driver<'a> {
    Pin(&'a Pin),
    Gate { gate: &'a Gate, inputs: Vec<bool> },
}

/// A driver told to go to a state.
struct Order {
    at_ns: f64,
    driver: usize,
    state: usize,
}

/// A stretch without a turn: where it ended, and the samples within.
struct Followed {
    at_ns: f64,
    state: Vec<f64>,
    samples: Vec<Vec<f64>>,
}

struct Witness<'a> {
    circuit: &'a Circuit,
    given: Vec<Option<f64>>,
    free: Vec<usize>,
    drivers: Vec<Driver<'a>>,
    ways: Vec<Way>,
    orders: Vec<Order>,
    sample_ns: f64,
    seen: Testimony,
}

/// Runs `trains`, one for each pin, from standing levels at the pins' first states.
pub(crate) fn testify(
    circuit: &Circuit,
    start: &OperatingPoint,
    trains: &[PulseTrain],
    (clock_hz, samples_per_clock): (f64, f64),
) -> Testimony {
    let tick_ns = 1e9 / clock_hz;
    let end_ns = tick_ns * math::from_u64(trains[0].length().0);
    let nodes = circuit.nodes.len();
    let volts: Vec<f64> =
        (0..nodes).map(|node| start.volts(backporch::network::circuit::NodeId(node))).collect();
    let mut witness = Witness::new(circuit, start, &volts, trains);
    witness.sample_ns = tick_ns / samples_per_clock;
    witness.order_pins(trains, tick_ns);
    let mut state: Vec<f64> = witness.free.iter().map(|&node| volts[node]).collect();
    for (ends, _, ohms) in coils(circuit) {
        state.push((volts[ends[0].0] - volts[ends[1].0]) / ohms);
    }
    witness.run(state, end_ns);
    witness.seen
}

impl<'a> Witness<'a> {
    fn new(
        circuit: &'a Circuit,
        start: &OperatingPoint,
        volts: &[f64],
        trains: &[PulseTrain],
    ) -> Self {
        let given = given(circuit);
        let free = (0..given.len()).filter(|&node| given[node].is_none()).collect();
        let (mut drivers, mut ways) = (Vec::new(), Vec::new());
        let (mut trains, mut gates) = (trains.iter(), start.gates.iter());
        for part in &circuit.parts {
            match &part.kind {
                PartKind::Pin(pin) => {
                    let state = usize::from(trains.next().unwrap().initial().0);
                    drivers.push(Driver::Pin(pin));
                    ways.push(Way::rest(state, pin.levels.len()));
                }
                PartKind::Gate(gate) => {
                    let inputs = 0..gate.inputs.len();
                    let inputs =
                        inputs.map(|input| Plain::margin(gate, input, volts) >= 0.0).collect();
                    drivers.push(Driver::Gate { gate, inputs });
                    ways.push(Way::rest(usize::from(*gates.next().unwrap()), 2));
                }
                _ => {}
            }
        }
        let seen = Testimony { volts: Vec::new(), moves: Vec::new() };
        Self { circuit, given, free, drivers, ways, orders: Vec::new(), sample_ns: 0.0, seen }
    }

    fn order_pins(&mut self, trains: &[PulseTrain], tick_ns: f64) {
        let mut trains = trains.iter();
        for (driver, kind) in self.drivers.iter().enumerate() {
            if let Driver::Pin(pin) = kind {
                for edge in trains.next().unwrap().edges() {
                    let at_ns = math::from_u64(edge.at.0) * tick_ns + pin.delay_s / NS;
                    let state = usize::from(edge.level.0);
                    self.orders.push(Order { at_ns, driver, state });
                }
            }
        }
    }

    fn run(&mut self, mut state: Vec<f64>, end_ns: f64) {
        let mut at_ns = 0.0;
        self.seen.volts.push(self.spread(&state));
        while at_ns < end_ns {
            self.notice(at_ns, &state);
            self.obey(at_ns);
            let orders = self.orders.iter().map(|order| order.at_ns);
            let ends = self.ways.iter().map(Way::end_ns);
            let stops = orders.chain(ends).filter(|&stop| stop > at_ns + 1e-9);
            let stop_ns = stops.fold(end_ns, f64::min);
            let followed = self.follow(at_ns, &state, stop_ns);
            (at_ns, state) = (followed.at_ns, followed.state);
            self.seen.volts.extend(followed.samples);
        }
    }

    /// Sets out the drivers whose time has come.
    fn obey(&mut self, at_ns: f64) {
        let orders = std::mem::take(&mut self.orders);
        let (due, later): (Vec<Order>, Vec<Order>) =
            orders.into_iter().partition(|order| order.at_ns <= at_ns + 1e-9);
        self.orders = later;
        for Order { driver, state, .. } in due {
            let way = &self.ways[driver];
            let part_s = match &self.drivers[driver] {
                Driver::Pin(pin) if state > way.to => pin.rise_s,
                Driver::Pin(pin) => pin.fall_s,
                Driver::Gate { gate, .. } => self.speed(gate, |point| point.transition_s),
            };
            let from = way.shares(at_ns);
            let length_ns = part_s / 0.8 / NS * (1.0 - from[state]);
            self.seen.moves.push((at_ns * NS, (at_ns + length_ns) * NS));
            self.ways[driver] = Way { from, to: state, start_ns: at_ns, length_ns };
        }
    }

    /// Lets every gate see the inputs that have passed their thresholds.
    fn notice(&mut self, at_ns: f64, state: &[f64]) {
        let volts = self.spread(state);
        let mut drivers = std::mem::take(&mut self.drivers);
        for (driver, kind) in drivers.iter_mut().enumerate() {
            let Driver::Gate { gate, inputs } = kind else { continue };
            for input in 0..inputs.len() {
                let high = Plain::margin(gate, input, &volts) >= 0.0;
                if high == inputs[input] {
                    continue;
                }
                let before = gate.logic.output(inputs);
                inputs[input] = high;
                let after = gate.logic.output(inputs);
                if before != after {
                    let ramp_s = self.speed(gate, |point| point.transition_s) / 0.8;
                    let delay_s = self.speed(gate, |point| point.delay_s) - ramp_s / 2.0;
                    let at_ns = at_ns + delay_s.max(0.0) / NS;
                    self.orders.push(Order { at_ns, driver, state: usize::from(after) });
                }
            }
        }
        self.drivers = drivers;
    }

    /// A data-sheet value of a gate at its own supply, which must be ideal here.
    fn speed(&self, gate: &Gate, value: fn(&GateSpeed) -> f64) -> f64 {
        let points: Vec<(f64, f64)> =
            gate.speed.iter().map(|point| (point.supply_volts, value(point))).collect();
        broken_line(&points, self.given[gate.supply.0].unwrap())
    }

    /// All node voltages from a state.
    fn spread(&self, state: &[f64]) -> Vec<f64> {
        let mut volts: Vec<f64> = self.given.iter().map(|volts| volts.unwrap_or(0.0)).collect();
        for (&node, &value) in self.free.iter().zip(state) {
            volts[node] = value;
        }
        volts
    }

    /// dx/dt, V/ns and A/ns: capacitances times rates balance the currents.
    fn rates(&self, at_ns: f64, state: &[f64]) -> Vec<f64> {
        let volts = self.spread(state);
        let mixture: Vec<Vec<f64>> = self.ways.iter().map(|way| way.shares(at_ns)).collect();
        let nodes = self.free.len();
        let unknowns = with_currents(self.circuit, volts.clone(), &state[nodes..]);
        let plain = Plain::new(self.circuit, &unknowns, &mixture);
        let place = |node: usize| self.free.iter().position(|&free| free == node);
        let mut farads = DMatrix::<f64>::zeros(nodes, nodes);
        for &(a, b, size) in &plain.farads {
            let (a, b) = (place(a), place(b));
            for end in [a, b].into_iter().flatten() {
                farads[(end, end)] += size;
            }
            if let (Some(a), Some(b)) = (a, b) {
                farads[(a, b)] -= size;
                farads[(b, a)] -= size;
            }
        }
        let leaving = self.free.iter().map(|&node| -NS * plain.amps[node]);
        let driven = DVector::from_iterator(nodes, leaving);
        let solved = farads.cholesky().expect("every node has a capacitance").solve(&driven);
        let mut rates: Vec<f64> = solved.iter().copied().collect();
        for ((ends, henries, ohms), amps) in coils(self.circuit).into_iter().zip(&state[nodes..]) {
            rates.push(NS * (volts[ends[0].0] - volts[ends[1].0] - ohms * amps) / henries);
        }
        rates
    }

    /// How far each gate input still is from changing; all below 0 until one does.
    fn distances(&self, state: &[f64], out: &mut [f64]) {
        let volts = self.spread(state);
        let mut out = out.iter_mut();
        for driver in &self.drivers {
            if let Driver::Gate { gate, inputs } = driver {
                for (input, &high) in inputs.iter().enumerate() {
                    let margin = Plain::margin(gate, input, &volts);
                    *out.next().unwrap() = if high { -margin } else { margin } - PAST_V;
                }
            }
        }
    }

    /// Follows the board to a moment at which a driver turns, or to a gate input's crossing.
    fn follow(&self, from_ns: f64, state: &[f64], stop_ns: f64) -> Followed {
        let gates = self.drivers.iter().map(|driver| match driver {
            Driver::Gate { inputs, .. } => inputs.len(),
            Driver::Pin(_) => 0,
        });
        // Without gates, one root that never comes.
        let roots = gates.sum::<usize>().max(1);
        let mut samples = Vec::new();
        let problem = OdeBuilder::<NalgebraMat<f64>>::new()
            .t0(from_ns)
            .h0(1e-4)
            .rtol(0.1 * TOLERANCE_V)
            .atol(vec![TOLERANCE_V; state.len()])
            .rhs_implicit(
                |x, _p, t, y| y.copy_from_slice(&self.rates(t, x)),
                |x, _p, t, v, y| {
                    let near = |sign: f64| -> Vec<f64> {
                        x.iter().zip(v).map(|(x, v)| x + sign * 1e-6 * v).collect()
                    };
                    let (up, down) = (self.rates(t, &near(1.0)), self.rates(t, &near(-1.0)));
                    for ((y, up), down) in y.iter_mut().zip(&up).zip(&down) {
                        *y = (up - down) / 2e-6;
                    }
                },
            )
            .init(|_p, _t, y| y.copy_from_slice(state), state.len())
            .root(
                |x, _p, _t, y| {
                    y.fill(-1.0);
                    self.distances(x, y);
                },
                roots,
            )
            .build()
            .unwrap();
        let mut solver = problem.esdirk34::<NalgebraLU<f64>>().unwrap();
        solver.set_stop_time(stop_ns).unwrap();
        loop {
            let reason = solver.step().unwrap();
            let at_ns = match reason {
                OdeSolverStopReason::RootFound(at_ns, _) => at_ns,
                OdeSolverStopReason::TstopReached => stop_ns,
                OdeSolverStopReason::InternalTimestep => solver.state().t,
            };
            let at = |at_ns: f64| {
                let state = solver.interpolate(at_ns.min(solver.state().t)).unwrap();
                state.batch_as_slice(0).to_vec()
            };
            loop {
                let next = self.seen.volts.len() + samples.len();
                let next_ns = math::from_usize(next) * self.sample_ns;
                if next_ns > at_ns {
                    break;
                }
                samples.push(self.spread(&at(next_ns)));
            }
            if reason != OdeSolverStopReason::InternalTimestep {
                return Followed { at_ns, state: at(at_ns), samples };
            }
        }
    }
}
