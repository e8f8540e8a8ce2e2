//! The same lines of the same board by this solver and by a general-purpose stiff library.
//!
//! The *plain* board of `network.rs`, with 3 pF at the chip's rail as well, so that every node has a
//! capacitance. The library gets its equations written for it: dv/dt with the capacitances inverted by
//! hand, an analytic Jacobian, a restart at every edge and its own root finding for the gates. Each of
//! its methods, and this solver without reuse, runs at the loosest tolerance at which its largest
//! error at any node and sample is at most 0.1 mV, against the library at 1 nV.

use backporch::base::math;
use backporch::base::ticks::Tick;
use backporch::network::bipolar::TransistorModel;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::Part;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::PinStage;
use backporch::network::device::Junction;
use backporch::network::device::OutputCurve;
use backporch::network::operating_point::Network;
use backporch::network::passive::track_share;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::raster::generate::Raster;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;
use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use diffsol::NalgebraLU;
use diffsol::NalgebraMat;
use diffsol::OdeBuilder;
use diffsol::OdeSolverMethod;
use diffsol::OdeSolverStopReason;
use std::hint::black_box;

/// The lines that are compared.
const LINES: std::ops::Range<u64> = 100..104;
const ENOUGH_V: f64 = 0.1e-3;
const TOLERANCES_V: [f64; 8] = [1e-3, 5e-4, 2e-4, 1e-4, 5e-5, 2e-5, 1e-5, 5e-6];
const NS: f64 = 1e-9;

/// Methods of the library.
#[derive(Clone, Copy, Debug)]
enum Method {
    Esdirk34,
    TrBdf2,
    Bdf,
}

fn board() -> (Scenario, Circuit) {
    let changes = ["Q1.transistor=2N3906", "U1a.family=plain", "U1b.family=plain"];
    let path = "scenarios/chapel-follower.toml";
    let scenario =
        load(path, &changes.map(str::to_owned), &mut |path| std::fs::read_to_string(path))
            .expect("the board loads");
    let mut circuit = scenario.circuit.clone();
    let rail = circuit.nodes.iter().position(|node| node == "chip_rail").expect("a rail");
    let kind = PartKind::Capacitor { ends: [NodeId(rail), NodeId::GROUND], farads: 3e-12 };
    circuit.parts.push(Part { name: "stray at chip_rail".to_owned(), kind });
    (scenario, circuit)
}

/// The pins' trains of some lines of a field.
fn trains(scenario: &Scenario) -> Vec<PulseTrain> {
    let mut raster = Raster::new(&scenario.raster).expect("the plan is sound");
    let field = raster.advance_field().trains;
    let line = u64::from(scenario.raster.timing.clocks_per_line);
    let (from, to) = (Tick(LINES.start * line), Tick(LINES.end * line));
    field.iter().map(|train| train.part(from, to)).collect()
}

/// A driver: node, supply, and for each level open volts, share of the supply, S.
struct Driver {
    node: usize,
    supply: usize,
    levels: Vec<(f64, f64, f64)>,
}

struct OrGate {
    inputs: Vec<usize>,
    supply: usize,
    driver: usize,
}

/// The board's equations for the library: nodes, then the transistor's inner base and collector.
struct Plain {
    given: Vec<Option<f64>>,
    free: Vec<usize>,
    /// Of every node its place among the free ones.
    place: Vec<Option<usize>>,
    siemens: Vec<(usize, usize, f64)>,
    /// To ground, F.
    farads: Vec<f64>,
    /// Out of nodes, A.
    drawn: Vec<(usize, f64)>,
    fading: Vec<(usize, f64)>,
    drivers: Vec<Driver>,
    gates: Vec<OrGate>,
    transistor: TransistorModel,
    /// Inner collector, inner base, emitter.
    terminals: [usize; 3],
}

impl Plain {
    fn new(circuit: &Circuit) -> Self {
        let nodes = circuit.nodes.len();
        let mut plain = Self {
            given: vec![None; nodes + 2],
            free: Vec::new(),
            place: Vec::new(),
            siemens: Vec::new(),
            farads: vec![0.0; nodes + 2],
            drawn: Vec::new(),
            fading: Vec::new(),
            drivers: Vec::new(),
            gates: Vec::new(),
            transistor: TransistorModel::ideal(
                backporch::network::bipolar::Polarity::Pnp,
                1e-14,
                [1.0; 2],
            ),
            terminals: [nodes + 1, nodes, 0],
        };
        plain.given[0] = Some(0.0);
        for part in &circuit.parts {
            plain.take(&part.kind);
        }
        let is_free = |node: &usize| plain.given[*node].is_none();
        plain.free = (0..nodes + 2).filter(is_free).collect();
        let place = |node: usize| plain.free.iter().position(|&free| free == node);
        plain.place = (0..nodes + 2).map(place).collect();
        plain
    }

    fn take(&mut self, kind: &PartKind) {
        match kind {
            PartKind::Resistor { ends, ohms } => self.join(ends[0].0, ends[1].0, *ohms),
            PartKind::Trimmer { ends, wiper, ohms, position, middle, .. } => {
                let share = track_share(*position, *middle);
                self.join(ends[0].0, wiper.0, share * ohms);
                if *wiper != ends[1] {
                    self.join(wiper.0, ends[1].0, (1.0 - share) * ohms);
                }
            }
            PartKind::Capacitor { ends, farads } => {
                assert_eq!(ends[1], NodeId::GROUND, "strays alone");
                self.farads[ends[0].0] += farads;
            }
            PartKind::Supply { node, volts, ohms } if *ohms <= 0.0 => {
                self.given[node.0] = Some(*volts);
            }
            PartKind::Supply { node, volts, ohms } => {
                self.join(node.0, 0, *ohms);
                self.drawn.push((node.0, -volts / ohms));
            }
            PartKind::Consumption { node, amps } => self.fading.push((node.0, *amps)),
            PartKind::Pin(pin) => {
                self.farads[pin.node.0] += pin.farads;
                let level = |stage: &PinStage| match *stage {
                    PinStage::Linear { offset, share, ohms } => (offset, share, 1.0 / ohms),
                    _ => panic!("linear pins alone"),
                };
                let levels = pin.levels.iter().map(level).collect();
                self.drivers.push(Driver { node: pin.node.0, supply: pin.supply.0, levels });
            }
            PartKind::Gate(gate) => {
                let siemens = |curve: &OutputCurve| match curve {
                    OutputCurve::Resistance(ohms) => 1.0 / ohms,
                    OutputCurve::Saturating { .. } => panic!("plain gates alone"),
                };
                let levels = vec![(0.0, 0.0, siemens(&gate.low)), (0.0, 1.0, siemens(&gate.high))];
                let (node, supply) = (gate.output.0, gate.supply.0);
                let inputs = gate.inputs.iter().map(|input| input.0).collect();
                self.gates.push(OrGate { inputs, supply, driver: self.drivers.len() });
                self.drivers.push(Driver { node, supply, levels });
            }
            PartKind::Transistor { collector, base, emitter, model } => {
                self.transistor = *model;
                let [inner_collector, inner_base, _] = self.terminals;
                self.join(collector.0, inner_collector, model.collector_ohms);
                self.join(base.0, inner_base, model.base_ohms);
                self.terminals[2] = emitter.0;
            }
            other => panic!("no such part on this board: {other:?}"),
        }
    }

    fn join(&mut self, from: usize, to: usize, ohms: f64) {
        self.siemens.push((from, to, 1.0 / ohms));
    }

    fn spread(&self, state: &[f64]) -> Vec<f64> {
        let mut volts: Vec<f64> = self.given.iter().map(|volts| volts.unwrap_or(0.0)).collect();
        for (&node, &value) in self.free.iter().zip(state) {
            volts[node] = value;
        }
        volts
    }

    /// Forward voltages of the transistor's junctions, base to emitter and to collector.
    fn junctions(&self, volts: &[f64]) -> [f64; 2] {
        let [collector, base, emitter] = self.terminals;
        [volts[emitter] - volts[base], volts[collector] - volts[base]]
    }

    /// Capacitances of the junctions and their slopes, F and F/V.
    fn capacitances(&self, [be, bc]: [f64; 2]) -> [(f64, f64); 2] {
        let model = &self.transistor;
        let of = |junction: &Junction, transit_s: f64, volts: f64| {
            let vt = model.thermal_volts;
            let diffusion = if volts > -40.0 * vt {
                transit_s * model.saturation_current / vt * math::exp(volts / vt)
            } else {
                0.0
            };
            let Junction { farads, potential, grading } = *junction;
            let below = volts.min(0.5 * potential);
            let width = 1.0 - below / potential;
            let edge = farads * math::pow(width, -grading);
            let slope = edge * grading / (potential * width);
            let depletion = edge + slope * (volts - below);
            let bend = if volts < 0.5 * potential {
                slope
            } else {
                farads * math::pow(0.5, -grading) * grading / (potential * 0.5)
            };
            (diffusion + depletion, diffusion / vt + bend)
        };
        [
            of(&model.base_emitter, model.forward_transit_time, be),
            of(&model.base_collector, model.reverse_transit_time, bc),
        ]
    }

    /// Currents out of collector, base and emitter with their slopes against both junctions.
    fn transistor(&self, [be, bc]: [f64; 2]) -> [[f64; 3]; 3] {
        let model = &self.transistor;
        let (icc, iec) = (model.transport(be), model.transport(bc));
        let leak = model.leakage(be);
        let through = model.transfer(icc, iec, bc);
        let to_emitter = icc.value / model.forward_gain + leak.value;
        let to_emitter_slope = icc.slope / model.forward_gain + leak.slope;
        let (to_collector, to_collector_slope) =
            (iec.value / model.reverse_gain, iec.slope / model.reverse_gain);
        // Of a PNP: what an NPN takes in, it gives out.
        let collector = [
            -(through.amps - to_collector),
            -through.per_emitter_volt,
            -(through.per_collector_volt - to_collector_slope),
        ];
        let base = [-(to_emitter + to_collector), -to_emitter_slope, -to_collector_slope];
        let emitter = [0, 1, 2].map(|at| -collector[at] - base[at]);
        [collector, base, emitter]
    }

    /// Currents leaving every node.
    fn amps(&self, volts: &[f64], levels: &[usize]) -> Vec<f64> {
        let mut amps = vec![0.0; volts.len()];
        for &(from, to, siemens) in &self.siemens {
            let through = siemens * (volts[from] - volts[to]);
            amps[from] += through;
            amps[to] -= through;
        }
        for &(node, drawn) in &self.drawn {
            amps[node] += drawn;
        }
        for &(node, drawn) in &self.fading {
            amps[node] += drawn * (1.0 - math::exp(-volts[node] / 0.25));
        }
        for (driver, &level) in self.drivers.iter().zip(levels) {
            let (offset, share, siemens) = driver.levels[level];
            let through = siemens * (volts[driver.node] - offset - share * volts[driver.supply]);
            amps[driver.node] += through;
            if share > 0.0 {
                amps[driver.supply] -= through;
            }
        }
        let currents = self.transistor(self.junctions(volts));
        for (&terminal, current) in self.terminals.iter().zip(currents) {
            amps[terminal] += current[0];
        }
        amps
    }

    /// The change of those currents with the volts' change `by`.
    fn amps_slope(&self, volts: &[f64], by: &[f64], levels: &[usize]) -> Vec<f64> {
        let mut amps = vec![0.0; volts.len()];
        for &(from, to, siemens) in &self.siemens {
            let through = siemens * (by[from] - by[to]);
            amps[from] += through;
            amps[to] -= through;
        }
        for &(node, drawn) in &self.fading {
            amps[node] += drawn / 0.25 * math::exp(-volts[node] / 0.25) * by[node];
        }
        for (driver, &level) in self.drivers.iter().zip(levels) {
            let (_, share, siemens) = driver.levels[level];
            let through = siemens * (by[driver.node] - share * by[driver.supply]);
            amps[driver.node] += through;
            if share > 0.0 {
                amps[driver.supply] -= through;
            }
        }
        let [be, bc] = self.junctions(by);
        let currents = self.transistor(self.junctions(volts));
        for (&terminal, current) in self.terminals.iter().zip(currents) {
            amps[terminal] += current[1] * be + current[2] * bc;
        }
        amps
    }

    /// Solves for rates: strays are to ground, the junctions tie three nodes together.
    fn over_capacitance(&self, volts: &[f64], amps: &[f64]) -> Vec<f64> {
        let [(be, _), (bc, _)] = self.capacitances(self.junctions(volts));
        let [collector, base, emitter] = self.terminals;
        let mut rates: Vec<f64> = amps
            .iter()
            .zip(&self.farads)
            .map(|(amps, farads)| if *farads > 0.0 { amps / farads } else { 0.0 })
            .collect();
        // Inner nodes have the junctions' capacitance alone: what enters them goes on to the emitter.
        let [at_collector, at_base, at_emitter] = [collector, base, emitter].map(|node| amps[node]);
        rates[emitter] = (at_collector + at_base + at_emitter) / self.farads[emitter];
        rates[base] = rates[emitter] + (at_collector + at_base) / be;
        rates[collector] = rates[base] + at_collector / bc;
        rates
    }

    /// Volts a second of every node.
    fn rates(&self, volts: &[f64], levels: &[usize]) -> Vec<f64> {
        let amps: Vec<f64> = self.amps(volts, levels).iter().map(|amps| -amps).collect();
        self.over_capacitance(volts, &amps)
    }

    /// The change of the rates with the volts' change `by`.
    fn rates_slope(&self, volts: &[f64], by: &[f64], levels: &[usize]) -> Vec<f64> {
        let rates = self.rates(volts, levels);
        let mut amps = self.amps_slope(volts, by, levels);
        let [collector, base, emitter] = self.terminals;
        let [(_, be), (_, bc)] = self.capacitances(self.junctions(volts));
        let ([by_be, by_bc], [be_rate, bc_rate]) = (self.junctions(by), self.junctions(&rates));
        for (end, bent) in [(emitter, be * by_be * be_rate), (collector, bc * by_bc * bc_rate)] {
            amps[end] += bent;
            amps[base] -= bent;
        }
        let amps: Vec<f64> = amps.iter().map(|amps| -amps).collect();
        self.over_capacitance(volts, &amps)
    }

    /// How far each gate input still is from changing: below 0 until it does.
    fn distances(&self, volts: &[f64], inputs: &[Vec<bool>], out: &mut [f64]) {
        let mut out = out.iter_mut();
        for (gate, inputs) in self.gates.iter().zip(inputs) {
            for (&input, &high) in gate.inputs.iter().zip(inputs) {
                let over = volts[input] - 0.5 * volts[gate.supply];
                *out.next().expect("one for each input") = if high { -over } else { over } - 1e-7;
            }
        }
    }
}

/// A run of the library.
struct Library<'a> {
    plain: &'a Plain,
    method: Method,
    tolerance_v: f64,
    levels: Vec<usize>,
    inputs: Vec<Vec<bool>>,
    samples: Vec<Vec<f64>>,
    sample_ns: f64,
}

impl Library<'_> {
    /// Lets gates whose inputs have changed answer; their outputs jump.
    fn answer(&mut self, volts: &[f64]) {
        for (gate, inputs) in self.plain.gates.iter().zip(&mut self.inputs) {
            for (&input, high) in gate.inputs.iter().zip(inputs.iter_mut()) {
                *high = volts[input] >= 0.5 * volts[gate.supply];
            }
            self.levels[gate.driver] = usize::from(inputs.contains(&true));
        }
    }

    /// Follows the board to `stop_ns` or to a gate's answer.
    fn follow(&mut self, from_ns: f64, state: Vec<f64>, stop_ns: f64) -> (f64, Vec<f64>) {
        let (plain, levels, inputs) = (self.plain, self.levels.clone(), self.inputs.clone());
        let roots = inputs.iter().map(Vec::len).sum::<usize>();
        let put = |all: &[f64], y: &mut [f64]| {
            for (y, &node) in y.iter_mut().zip(&plain.free) {
                *y = NS * all[node];
            }
        };
        let problem = OdeBuilder::<NalgebraMat<f64>>::new()
            .t0(from_ns)
            .h0(1e-2)
            .rtol(self.tolerance_v)
            .atol(vec![self.tolerance_v; state.len()])
            .rhs_implicit(
                |x, _p, _t, y| {
                    put(&plain.rates(&plain.spread(x), &levels), y);
                },
                |x, _p, _t, v, y| {
                    let mut by = vec![0.0; plain.given.len()];
                    for (&node, v) in plain.free.iter().zip(v.iter()) {
                        by[node] = *v;
                    }
                    put(&plain.rates_slope(&plain.spread(x), &by, &levels), y);
                },
            )
            .init(|_p, _t, y| y.copy_from_slice(&state), state.len())
            .root(|x, _p, _t, y| plain.distances(&plain.spread(x), &inputs, y), roots)
            .build()
            .expect("a sound problem");
        macro_rules! run {
            ($solver:expr) => {{
                let mut solver = $solver.expect("a solver");
                solver.set_stop_time(stop_ns).expect("a later time");
                loop {
                    let reason = solver.step().expect("a step");
                    let at_ns = match reason {
                        OdeSolverStopReason::RootFound(at_ns, _) => at_ns,
                        OdeSolverStopReason::TstopReached => stop_ns,
                        OdeSolverStopReason::InternalTimestep => solver.state().t,
                    };
                    let at = |at_ns: f64| {
                        let state =
                            solver.interpolate(at_ns.min(solver.state().t)).expect("within");
                        state.batch_as_slice(0).to_vec()
                    };
                    while math::from_usize(self.samples.len()) * self.sample_ns <= at_ns {
                        let next_ns = math::from_usize(self.samples.len()) * self.sample_ns;
                        self.samples.push(plain.spread(&at(next_ns)));
                    }
                    if reason != OdeSolverStopReason::InternalTimestep {
                        break (at_ns, at(at_ns));
                    }
                }
            }};
        }
        match self.method {
            Method::Esdirk34 => run!(problem.esdirk34::<NalgebraLU<f64>>()),
            Method::TrBdf2 => run!(problem.tr_bdf2::<NalgebraLU<f64>>()),
            Method::Bdf => run!(problem.bdf::<NalgebraLU<f64>>()),
        }
    }
}

/// The work: a board, its pins' trains, and where it starts.
struct Work {
    scenario: Scenario,
    circuit: Circuit,
    network: Network,
    plain: Plain,
    trains: Vec<PulseTrain>,
    idle: Vec<Level>,
}

impl Work {
    fn new() -> Self {
        let (scenario, circuit) = board();
        let trains = trains(&scenario);
        let network = Network::new(&circuit).expect("the board is sound");
        let plain = Plain::new(&circuit);
        let idle = trains.iter().map(PulseTrain::initial).collect();
        Self { scenario, circuit, network, plain, trains, idle }
    }

    /// By this solver without reuse: volts of every node, sample by sample.
    fn own(&self, tolerance_v: f64) -> Vec<Vec<f32>> {
        let start = self.network.operating_point(&self.idle).expect("the board stands");
        let spec = TransientSpec {
            clock: self.scenario.raster.timing.clock,
            samples_per_clock: self.scenario.solve.samples_per_clock,
            tolerance_v,
            taps: (0..self.circuit.nodes.len()).map(NodeId).collect(),
        };
        let mut run = Transient::new(&self.network, &self.circuit, &start, &self.idle, spec);
        run.advance_field(&self.trains).expect("the lines are solved")
    }

    /// By the library.
    fn library(&self, method: Method, tolerance_v: f64) -> Vec<Vec<f64>> {
        let start = self.network.operating_point(&self.idle).expect("the board stands");
        let names = self.network.standing(&start).map(|(_, volts)| volts).collect::<Vec<f64>>();
        // The product has the inner nodes after the circuit's own: base before or after collector.
        let nodes = self.circuit.nodes.len();
        let mut volts = names[..nodes].to_vec();
        volts.extend([names[nodes + 1], names[nodes]]);
        let clock = self.scenario.raster.timing.clock;
        let tick_ns = 1e9 / clock.hertz();
        let mut library = Library {
            plain: &self.plain,
            method,
            tolerance_v,
            levels: self.idle.iter().map(|level| usize::from(level.0)).chain([0, 0]).collect(),
            inputs: self.plain.gates.iter().map(|gate| vec![false; gate.inputs.len()]).collect(),
            samples: vec![volts.clone()],
            sample_ns: tick_ns / f64::from(self.scenario.solve.samples_per_clock),
        };
        let mut stops: Vec<u64> =
            self.trains.iter().flat_map(|train| train.edges()).map(|edge| edge.at.0).collect();
        stops.push(self.trains[0].length().0);
        stops.sort_unstable();
        stops.dedup();
        let mut state: Vec<f64> = self.plain.free.iter().map(|&node| volts[node]).collect();
        let mut at_ns = 0.0;
        for stop in stops {
            let stop_ns = tick_ns * math::from_u64(stop);
            while at_ns < stop_ns {
                library.answer(&self.plain.spread(&state));
                (at_ns, state) = library.follow(at_ns, state, stop_ns);
            }
            for (train, level) in self.trains.iter().zip(&mut library.levels) {
                if let Some(edge) = train.edges().iter().find(|edge| edge.at.0 == stop) {
                    *level = usize::from(edge.level.0);
                }
            }
        }
        library.samples
    }
}

/// Largest difference at the circuit's nodes, V.
fn apart_v(nodes: usize, a: impl Fn(usize, usize) -> f64, expected: &[Vec<f64>]) -> f64 {
    let mut worst = 0.0_f64;
    for (sample, volts) in expected.iter().enumerate() {
        for (node, volts) in volts.iter().enumerate().take(nodes) {
            worst = worst.max((a(node, sample) - volts).abs());
        }
    }
    worst
}

#[expect(clippy::print_stdout, reason = "beside what the bench itself prints")]
fn show(line: &str) {
    println!("{line}");
}

/// The loosest tolerance at which the error is small enough, and that error, V.
fn loosest(error_v: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    TOLERANCES_V
        .into_iter()
        .map(|tolerance_v| (tolerance_v, error_v(tolerance_v)))
        .find(|&(_, error_v)| error_v <= ENOUGH_V)
}

fn against(criterion: &mut Criterion) {
    let work = Work::new();
    let clocks = work.trains[0].length().0;
    let count = math::to_index(clocks * u64::from(work.scenario.solve.samples_per_clock));
    let mut expected = work.library(Method::Esdirk34, 1e-9);
    expected.truncate(count);
    let nodes = work.circuit.nodes.len();
    let mut group = criterion.benchmark_group("four lines, 0.1 mV");
    group.sample_size(10);
    let own_v = |tolerance_v| {
        let solved = work.own(tolerance_v);
        apart_v(nodes, |node, sample| f64::from(solved[node][sample]), &expected)
    };
    if let Some((tolerance_v, error_v)) = loosest(own_v) {
        let uv = 1e6 * error_v;
        show(&format!("this solver, no reuse: {uv:.0} µV off at {:.0} µV", 1e6 * tolerance_v));
        group.bench_function("this solver", |b| b.iter(|| black_box(work.own(tolerance_v))));
    }
    for method in [Method::Esdirk34, Method::TrBdf2, Method::Bdf] {
        let error_v = |tolerance_v| {
            let solved = work.library(method, tolerance_v);
            apart_v(nodes, |node, sample| solved[sample][node], &expected)
        };
        match loosest(error_v) {
            Some((tolerance_v, error_v)) => {
                let uv = 1e6 * error_v;
                show(&format!("{method:?}: {uv:.0} µV off at {:.0} µV", 1e6 * tolerance_v));
                group.bench_function(format!("{method:?}"), |b| {
                    b.iter(|| black_box(work.library(method, tolerance_v)));
                });
            }
            None => show(&format!("{method:?}: never within 0.1 mV")),
        }
    }
    group.finish();
}

criterion_group!(benches, against);
criterion_main!(benches);
