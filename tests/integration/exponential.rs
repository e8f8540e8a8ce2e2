//! Linear resistor-capacitor ladders in time, against the exact solution.
//!
//! Between two edges a linear board obeys dv/dt = A v + b, whose solution over a sample's length h
//! is the matrix exponential of h times A and b put together, evaluated by Padé approximation with
//! scaling and squaring (N. J. Higham, "The scaling and squaring method for the matrix exponential
//! revisited", 2005; in the linear-algebra crate, which the product does not use).

use crate::follower::Follower;
use crate::published::show;
use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::base::ticks::Tick;
use backporch::base::ticks::TickSpan;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::Part;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::circuit::PinStage;
use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::Rng;
use chacha20::rand_core::SeedableRng;
use nalgebra::DMatrix;
use nalgebra::DVector;

const CLOCK_HZ: u64 = 2_000_000;
const SAMPLES_PER_CLOCK: u32 = 8;
const TICKS: u64 = 240;

/// A chip pin that drives a chain of resistors, every node with a capacitor and some with a
/// resistor to ground.
struct Ladder {
    /// Volts behind ohms, low and high: a weak high and a strong low, so that the board's time
    /// constants change with every edge.
    states: [(f64, f64); 2],
    /// From each node to the next, Ω.
    series_ohms: Vec<f64>,
    /// To ground at each node, Ω.
    shunt_ohms: Vec<Option<f64>>,
    /// To ground at each node, F.
    farads: Vec<f64>,
    train: PulseTrain,
}

/// A number from `low` to `high`, evenly spread in its logarithm.
fn spread(random: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    let share = f64::from(random.next_u32()) / f64::from(u32::MAX);
    low * math::pow(high / low, share)
}

fn random_ladder(seed: u64, nodes: usize) -> Ladder {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let random = &mut random;
    let states = [
        (spread(random, 0.05, 0.5), spread(random, 100.0, 1e3)),
        (spread(random, 3.0, 6.0), spread(random, 1e3, 1e4)),
    ];
    let series_ohms = (1..nodes).map(|_| spread(random, 50.0, 2e4)).collect();
    let shunt_ohms = (0..nodes)
        .map(|_| random.next_u32().is_multiple_of(3).then(|| spread(random, 500.0, 5e4)))
        .collect();
    let farads = (0..nodes).map(|_| spread(random, 2e-12, 2e-9)).collect();
    Ladder { states, series_ohms, shunt_ohms, farads, train: random_train(random) }
}

/// Pulses of one to sixteen clocks.
fn random_train(random: &mut ChaCha8Rng) -> PulseTrain {
    let mut edges = Vec::new();
    let mut at = 0;
    let mut level = Level::LOW;
    loop {
        at += 1 + u64::from(random.next_u32() % 16);
        if at >= TICKS {
            return PulseTrain::new(Level::LOW, edges, TickSpan(TICKS));
        }
        level = if level == Level::LOW { Level::HIGH } else { Level::LOW };
        edges.push(Edge { at: Tick(at), level });
    }
}

impl Ladder {
    fn nodes(&self) -> usize {
        self.farads.len()
    }

    fn circuit(&self) -> Circuit {
        let stage = |(offset, ohms)| PinStage::Linear { offset, share: 0.0, ohms };
        let pin = Pin {
            node: NodeId(1),
            supply: NodeId::GROUND,
            levels: self.states.map(stage).to_vec(),
            delay_s: 0.0,
            rise_s: 0.0,
            fall_s: 0.0,
            farads: 0.0,
        };
        let mut kinds = vec![PartKind::Pin(Box::new(pin))];
        for (index, &ohms) in self.series_ohms.iter().enumerate() {
            let ends = [NodeId(index + 1), NodeId(index + 2)];
            kinds.push(PartKind::Resistor { ends, ohms });
        }
        for (index, (&farads, &ohms)) in self.farads.iter().zip(&self.shunt_ohms).enumerate() {
            let ends = [NodeId(index + 1), NodeId::GROUND];
            kinds.push(PartKind::Capacitor { ends, farads });
            kinds.extend(ohms.map(|ohms| PartKind::Resistor { ends, ohms }));
        }
        let name = |index: usize| format!("P{index}");
        let parts = kinds.into_iter().enumerate();
        Circuit {
            nodes: (0..=self.nodes())
                .map(|node| if node == 0 { "ground".to_owned() } else { format!("n{node}") })
                .collect(),
            parts: parts.map(|(index, kind)| Part { name: name(index), kind }).collect(),
        }
    }

    /// Voltages at the start of every sample, by the product.
    fn computed(&self, tolerance_v: f64) -> Vec<Vec<f32>> {
        let circuit = self.circuit();
        let network = Network::new(&circuit).unwrap();
        let idle = [self.train.initial()];
        let standing = network.operating_point(&idle).unwrap();
        let spec = TransientSpec {
            clock: ClockRate::new(CLOCK_HZ, 1).unwrap(),
            samples_per_clock: SAMPLES_PER_CLOCK,
            tolerance_v,
            taps: (1..=self.nodes()).map(NodeId).collect(),
        };
        let mut transient = Transient::new(&network, &circuit, &standing, &idle, spec);
        transient.advance_field(std::slice::from_ref(&self.train)).unwrap()
    }

    /// Conductances between the nodes and the current driven in, with the pin in one state.
    fn equations(&self, state: usize) -> (DMatrix<f64>, DVector<f64>) {
        let nodes = self.nodes();
        let (volts, pin_ohms) = self.states[state];
        let mut conductance = DMatrix::zeros(nodes, nodes);
        let mut driven = DVector::zeros(nodes);
        conductance[(0, 0)] += 1.0 / pin_ohms;
        driven[0] += volts / pin_ohms;
        for (index, ohms) in self.series_ohms.iter().enumerate() {
            for (row, column, sign) in [(0, 0, 1.0), (1, 1, 1.0), (0, 1, -1.0), (1, 0, -1.0)] {
                conductance[(index + row, index + column)] += sign / ohms;
            }
        }
        for (index, ohms) in self.shunt_ohms.iter().enumerate() {
            conductance[(index, index)] += ohms.map_or(0.0, |ohms| 1.0 / ohms);
        }
        (conductance, driven)
    }

    /// What takes the voltages, with a 1 below them, from one sample to the next.
    fn propagator(&self, state: usize) -> DMatrix<f64> {
        let nodes = self.nodes();
        let samples_per_second = math::from_u64(CLOCK_HZ) * f64::from(SAMPLES_PER_CLOCK);
        let (conductance, driven) = self.equations(state);
        let mut rates = DMatrix::zeros(nodes + 1, nodes + 1);
        for row in 0..nodes {
            let per_step = 1.0 / (self.farads[row] * samples_per_second);
            for column in 0..nodes {
                rates[(row, column)] = -conductance[(row, column)] * per_step;
            }
            rates[(row, nodes)] = driven[row] * per_step;
        }
        rates.exp()
    }

    /// Voltages at the start of every sample, exactly.
    fn exact(&self) -> Vec<DVector<f64>> {
        let (conductance, driven) = self.equations(usize::from(self.train.initial().0));
        let standing = conductance.lu().solve(&driven).unwrap();
        let propagators = [self.propagator(0), self.propagator(1)];
        let mut volts = standing.push(1.0);
        let mut all = Vec::new();
        for sample in 0..TICKS * u64::from(SAMPLES_PER_CLOCK) {
            all.push(volts.clone());
            let level = self.train.level_at(Tick(sample / u64::from(SAMPLES_PER_CLOCK)));
            volts = &propagators[usize::from(level.0)] * volts;
        }
        all
    }

    /// Largest difference at any node and sample, V.
    fn worst_error_v(&self, tolerance_v: f64) -> f64 {
        let computed = self.computed(tolerance_v);
        let exact = self.exact();
        let mut worst = 0.0_f64;
        for (node, samples) in computed.iter().enumerate() {
            assert_eq!(samples.len(), exact.len());
            for (&sample, exact) in samples.iter().zip(&exact) {
                worst = worst.max((f64::from(sample) - exact[node]).abs());
            }
        }
        worst
    }
}

fn ladders() -> Vec<Ladder> {
    let sizes = [1, 2, 3, 5, 8, 13, 21];
    (0..4).flat_map(|seed| sizes.map(|nodes| random_ladder(seed, nodes))).collect()
}

#[test]
fn at_the_default_tolerance_ladders_are_exact_within_a_tenth_of_a_millivolt() {
    let tolerance_v = Follower::default().scenario().solve.tolerance_v;
    let mut worst_v = 0.0_f64;
    for (index, ladder) in ladders().iter().enumerate() {
        let edges = ladder.train.edges().len();
        assert!(edges > 10, "ladder {index} has {edges} edges");
        let error_v = ladder.worst_error_v(tolerance_v);
        worst_v = worst_v.max(error_v);
        assert!(error_v < 1e-4, "ladder {index}, {} nodes: {error_v} V", ladder.nodes());
    }
    show(&format!(
        "ladders at the default tolerance of {tolerance_v} V: off by {worst_v} V at most"
    ));
}

#[test]
fn the_error_falls_with_the_tolerance() {
    let ladders = ladders();
    let worst = |tolerance_v: f64| {
        ladders.iter().map(|ladder| ladder.worst_error_v(tolerance_v)).fold(0.0, f64::max)
    };
    let errors = [2e-3, 2e-4, 2e-5, 2e-6].map(worst);
    show(&format!("ladders at 2 mV, 200, 20 and 2 µV: off by {errors:?} V at most"));
    for pair in errors.windows(2) {
        assert!(pair[1] < 0.5 * pair[0], "worst errors, V: {errors:?}");
    }
}
