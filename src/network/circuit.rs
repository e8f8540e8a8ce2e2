//! The board, resolved: nodes, and parts with every parameter a number.

use crate::network::amplifier::VideoDriver;
use crate::network::bipolar::TransistorModel;
use crate::network::cable::Cable;
use crate::network::device::DiodeModel;
use crate::network::device::OutputCurve;
use crate::network::field_effect::FieldEffectModel;
use crate::network::passive::ContactState;
use crate::network::passive::RealCapacitor;
use crate::network::regulator::Regulator;
use crate::network::ripple::Adapter;
use crate::network::schedule::Sounder;

/// Index of a node in [`Circuit::nodes`]; 0 is ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub usize);

impl NodeId {
    /// The reference node.
    pub const GROUND: Self = Self(0);
}

/// Index of a part in [`Circuit::parts`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId(pub usize);

/// A board with its chip pins and its load.
///
/// # Invariants
///
/// `nodes[0]` is ground; node names are unique; part names are unique; every `NodeId` in a part is
/// an index into `nodes`.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// Node names, ground first.
    pub nodes: Vec<String>,
    /// Everything connected to them.
    pub parts: Vec<Part>,
}

/// A part under its reference designator.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Reference designator, or the pin's name for a chip pin.
    pub name: String,
    /// What it is and what it is tied to.
    pub kind: PartKind,
}

/// Every kind of part.
#[derive(Clone, Debug, PartialEq)]
pub enum PartKind {
    /// Resistor between two nodes: i = v / R.
    ///
    /// # Source
    ///
    /// Ohm's law.
    Resistor {
        /// The two ends.
        ends: [NodeId; 2],
        /// Resistance, Ω, above 0.
        ohms: f64,
    },
    /// Trimmer or potentiometer: `ohms` from end to end, the wiper `position` of the way.
    ///
    /// Two resistors that share the track, s R and (1 − s) R with s the share at the wiper's
    /// position, each at least 0.1 Ω, and `contact_ohms` from there to the wiper.
    ///
    /// # Source
    ///
    /// Ohm's law; what is left at the end of a track is from memory.
    Trimmer {
        /// The two ends of the track.
        ends: [NodeId; 2],
        /// The wiper.
        wiper: NodeId,
        /// Track resistance, Ω, above 0.
        ohms: f64,
        /// Share of the travel from `ends[0]` to the wiper, 0 to 1.
        position: f64,
        /// Share of the track at half travel: its law, see
        /// [`track_share`](crate::network::passive::track_share).
        middle: f64,
        /// Resistance between wiper and track, Ω, 0 or more.
        contact_ohms: f64,
    },
    /// Capacitor: q = C v, i = dq/dt.
    ///
    /// # Source
    ///
    /// The definition of capacitance.
    Capacitor {
        /// The two ends; `ends[0]` is the plus end of an electrolytic.
        ends: [NodeId; 2],
        /// Capacitance, F, above 0.
        farads: f64,
    },
    /// Inductor with series resistance: v = R i + L di/dt, the current being an unknown.
    ///
    /// # Source
    ///
    /// The definition of inductance; Ohm's law.
    Inductor {
        /// The two ends.
        ends: [NodeId; 2],
        /// Inductance, H, above 0.
        henries: f64,
        /// Series resistance, Ω, 0 or more.
        ohms: f64,
    },
    /// Capacitor with losses, age and ratings.
    RealCapacitor(Box<RealCapacitor>),
    /// Inductor with losses: `ohms` in series with `henries`, `parallel_ohms` across `henries`.
    ///
    /// v = R i + u with u = L dj/dt for the current j of the coil proper, i = j + u / Rp.
    ///
    /// # Source
    ///
    /// The usual equivalent circuit of a coil with copper and core losses, any text.
    LossyInductor {
        /// The two ends.
        ends: [NodeId; 2],
        /// Inductance, H, above 0.
        henries: f64,
        /// Series resistance, Ω, 0 or more.
        ohms: f64,
        /// Parallel loss resistance, Ω, above 0.
        parallel_ohms: f64,
    },
    /// Switch or jumper: i = v / R, with
    /// [`OPEN_CONTACT_OHMS`](crate::network::passive::OPEN_CONTACT_OHMS) when open.
    ///
    /// # Source
    ///
    /// Ohm's law; the resistance of an open contact is from memory.
    Contact {
        /// The two ends.
        ends: [NodeId; 2],
        /// Resistance when closed, Ω, above 0.
        ohms: f64,
        /// Open or closed.
        state: ContactState,
    },
    /// Junction diode.
    Diode {
        /// Anode.
        anode: NodeId,
        /// Cathode.
        cathode: NodeId,
        /// Parameters.
        model: DiodeModel,
    },
    /// Bipolar transistor.
    Transistor {
        /// Collector.
        collector: NodeId,
        /// Base.
        base: NodeId,
        /// Emitter.
        emitter: NodeId,
        /// Parameters, with the polarity.
        model: TransistorModel,
    },
    /// Junction or MOS transistor.
    FieldEffect {
        /// Drain.
        drain: NodeId,
        /// Gate.
        gate: NodeId,
        /// Source.
        source: NodeId,
        /// Parameters, with the kind of channel.
        model: FieldEffectModel,
    },
    /// One logic gate.
    Gate(Box<Gate>),
    /// One switch of a CMOS analogue switch.
    AnalogueSwitch(Box<AnalogueSwitch>),
    /// A chip output, driven by a pulse train.
    Pin(Box<Pin>),
    /// A source of fixed voltage from ground to `node`, behind a resistance that may be 0.
    ///
    /// It delivers i = (V − v) / R; without a resistance v = V, the current being an unknown.
    ///
    /// # Source
    ///
    /// Thévenin's equivalent of a source, any text.
    Supply {
        /// Positive terminal.
        node: NodeId,
        /// Open-circuit voltage, V, of either sign.
        volts: f64,
        /// Internal resistance, Ω, 0 or more.
        ohms: f64,
    },
    /// A supply with ripple.
    Adapter(Box<Adapter>),
    /// A loudspeaker with its driver.
    Sounder(Box<Sounder>),
    /// A three-terminal regulator.
    Regulator(Box<Regulator>),
    /// A cable with a delay.
    Cable(Box<Cable>),
    /// A video amplifier of fixed gain.
    VideoDriver(Box<VideoDriver>),
    /// What a chip takes from its rail, into ground: see
    /// [`consumption`](crate::network::device::consumption).
    Consumption {
        /// The rail.
        node: NodeId,
        /// Current from a fed rail, A.
        amps: f64,
    },
    /// A constant current drawn from `node` into ground, whatever the node's voltage.
    ///
    /// # Source
    ///
    /// The definition of an ideal current source.
    Draw {
        /// Where it is drawn.
        node: NodeId,
        /// Current, A; below 0 it is pushed into the node.
        amps: f64,
    },
}

impl PartKind {
    /// The node that a chip pin, a gate or a video driver drives.
    #[must_use]
    pub fn driven(&self) -> Option<NodeId> {
        match self {
            Self::Pin(pin) => Some(pin.node),
            Self::Gate(gate) => Some(gate.output),
            Self::VideoDriver(driver) => Some(driver.output),
            _ => None,
        }
    }

    /// The node that a supply, an adapter or a regulator feeds.
    #[must_use]
    pub fn fed(&self) -> Option<NodeId> {
        match self {
            Self::Supply { node, .. } => Some(*node),
            Self::Adapter(adapter) => Some(adapter.node),
            Self::Regulator(regulator) => Some(regulator.output),
            _ => None,
        }
    }
}

/// What a gate makes of its inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Logic {
    /// High if any input is.
    Or,
    /// Low if any input is high.
    Nor,
    /// High if all inputs are.
    And,
    /// Low if all inputs are high.
    Nand,
    /// High if an odd number of inputs is.
    Xor,
    /// The inverse of its one input.
    Not,
    /// Its one input.
    Buffer,
}

impl Logic {
    /// The output for these inputs.
    #[must_use]
    pub fn output(self, inputs: &[bool]) -> bool {
        let any = inputs.iter().any(|&input| input);
        let all = inputs.iter().all(|&input| input);
        match self {
            Self::Or | Self::Buffer => any,
            Self::Nor | Self::Not => !any,
            Self::And => all,
            Self::Nand => !all,
            Self::Xor => inputs.iter().filter(|&&input| input).count() % 2 == 1,
        }
    }
}

/// A logic gate with its inputs' loading, its switching level and its output stage.
///
/// All voltages follow the gate's own supply node. An input that crosses its level changes the
/// logic at once; the output stage then goes from one curve to the other along a straight mixture of
/// both, whose middle lies one propagation delay after the crossing.
///
/// # Source
///
/// Data sheets of the 4000B and 74HC families state what is kept here: input levels, output currents
/// at their voltages, capacitance, propagation delay and transition time; the straight mixture is
/// our own.
#[derive(Clone, Debug, PartialEq)]
pub struct Gate {
    /// Function.
    pub logic: Logic,
    /// Input nodes, 1 to 4.
    pub inputs: Vec<NodeId>,
    /// Output node.
    pub output: NodeId,
    /// Supply node.
    pub supply: NodeId,
    /// Input level at which the output changes.
    pub threshold: Threshold,
    /// Capacitance of each input to ground, F; may be 0.
    pub input_farads: f64,
    /// Clamp diode from ground to each input and from each input to the supply, if it has them;
    /// a series resistance of theirs is not used.
    pub clamp: Option<DiodeModel>,
    /// Output stage when high, from the supply.
    pub high: OutputCurve,
    /// Output stage when low, to ground.
    pub low: OutputCurve,
    /// Propagation delay and 10–90 % transition time against supply, rising in supply volts;
    /// between points and beyond them the nearest are interpolated linearly, ends held.
    pub speed: Vec<GateSpeed>,
}

/// Switching level of a gate input, with the band the data sheet leaves open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Threshold {
    /// Shares of the supply (CMOS).
    Share {
        /// Guaranteed low below this.
        low: f64,
        /// Typical; decides the logic.
        typical: f64,
        /// Guaranteed high above this.
        high: f64,
    },
    /// Fixed volts (TTL levels).
    Fixed {
        /// Guaranteed low below this, V.
        low: f64,
        /// Typical; decides the logic, V.
        typical: f64,
        /// Guaranteed high above this, V.
        high: f64,
    },
}

impl Threshold {
    /// Guaranteed low, typical and guaranteed high at a supply of `supply_volts`, V.
    #[must_use]
    pub fn levels(self, supply_volts: f64) -> [f64; 3] {
        match self {
            Self::Share { low, typical, high } => {
                [low, typical, high].map(|share| share * supply_volts)
            }
            Self::Fixed { low, typical, high } => [low, typical, high],
        }
    }

    /// The typical switching level at a supply of `supply_volts`, V.
    #[must_use]
    pub fn typical(self, supply_volts: f64) -> f64 {
        match self {
            Self::Share { typical, .. } => typical * supply_volts,
            Self::Fixed { typical, .. } => typical,
        }
    }
}

/// A transmission gate: a resistance between two nodes while its control is high, in either
/// direction.
///
/// The control works like a gate's input. While the switch turns, its conductance moves from one
/// value to the other in a straight line. Its resistance is taken as the same at every signal
/// voltage between ground and supply, and no charge is pushed into the signal when it turns.
///
/// # Source
///
/// Data sheets of the 4000B family state what is kept here: on resistance over supply, control
/// levels, leakage, capacitances and the delay of the control.
#[derive(Clone, Debug, PartialEq)]
pub struct AnalogueSwitch {
    /// The two ends.
    pub ends: [NodeId; 2],
    /// Control; high closes the switch.
    pub control: NodeId,
    /// Supply node.
    pub supply: NodeId,
    /// Control level at which the switch turns.
    pub threshold: Threshold,
    /// (supply V, on resistance Ω), rising in supply; interpolated, ends held.
    pub on_ohms: Vec<(f64, f64)>,
    /// Resistance when off, Ω.
    pub off_ohms: f64,
    /// Capacitance of each end to ground, F; may be 0.
    pub end_farads: f64,
    /// Capacitance from end to end, F; may be 0.
    pub between_farads: f64,
    /// Capacitance of the control to ground, F; may be 0.
    pub control_farads: f64,
    /// Protection diode from ground to the control and to each end, and from each of them to the
    /// supply, if it has them; a series resistance of theirs is not used.
    pub clamp: Option<DiodeModel>,
    /// Delay from the control to half the conductance, and how long it takes, against supply, as
    /// for a [`Gate`].
    pub speed: Vec<GateSpeed>,
}

/// One data-sheet point of a gate's speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GateSpeed {
    /// Supply, V.
    pub supply_volts: f64,
    /// Input to output at half amplitude, s.
    pub delay_s: f64,
    /// Output transition 10–90 %, s.
    pub transition_s: f64,
}

/// A chip output pin: one output stage for each level its train can take.
///
/// From level to level the pin goes along a straight mixture of both stages, in the time of its own
/// edge; that is our own.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// Node it is tied to.
    pub node: NodeId,
    /// The chip's supply node, which the levels follow.
    pub supply: NodeId,
    /// Output stage for each [`Level`](crate::signal::pulse_train::Level), by index.
    pub levels: Vec<PinStage>,
    /// Delay from the train's edge to the start of the pin's own edge, s.
    pub delay_s: f64,
    /// The pin's own rising edge, open circuit, 10–90 %, s; 0 for a step.
    pub rise_s: f64,
    /// The same, falling.
    pub fall_s: f64,
    /// Capacitance of the pin to ground, F.
    pub farads: f64,
}

/// Output stage of a pin in one state. `v` is the pin's voltage, `vs` the chip's supply.
///
/// # Source
///
/// First-order (long-channel) MOS transistor equations, any text: the pull-up's gate and drain are at
/// the supply, the pull-down's gate is. Thévenin's equivalent for the linear stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PinStage {
    /// A voltage `offset + share * vs` behind a resistance. Its current comes from the supply node
    /// if `share` is above 0, otherwise from ground. If it is and `offset` is below 0, the voltage
    /// has a soft corner at 0 V, 25 mV wide: what stops short of its supply pulls no lower.
    Linear {
        /// Volts that do not follow the supply.
        offset: f64,
        /// Share of the supply.
        share: f64,
        /// Resistance, Ω.
        ohms: f64,
    },
    /// Saturating pull-up: delivers (k/2)(vs − threshold − v)² while v < vs − threshold, else 0; it
    /// leaks 1 nS to ground, as does the pull-down.
    PullUp {
        /// Transconductance factor, A/V².
        k: f64,
        /// Threshold, V.
        threshold: f64,
    },
    /// Pull-down: sinks k((vs − threshold)v − v²/2) below saturation, (k/2)(vs − threshold)² above.
    PullDown {
        /// Transconductance factor, A/V².
        k: f64,
        /// Threshold, V.
        threshold: f64,
    },
    /// Off: only a leakage resistance to ground.
    Off {
        /// Leakage, Ω.
        ohms: f64,
    },
}

impl Circuit {
    /// The part of that name.
    #[must_use]
    pub fn part(&self, name: &str) -> Option<PartId> {
        self.parts.iter().position(|part| part.name == name).map(PartId)
    }

    /// The node of that name.
    #[must_use]
    pub fn node(&self, name: &str) -> Option<NodeId> {
        self.nodes.iter().position(|node| node == name).map(NodeId)
    }

    /// The name of a node.
    #[must_use]
    pub fn node_name(&self, node: NodeId) -> &str {
        &self.nodes[node.0]
    }

    /// The chip pins, in the order in which trains and levels are given to the solver: the order
    /// of the parts.
    pub fn pins(&self) -> impl Iterator<Item = (PartId, &Pin)> {
        self.parts.iter().enumerate().filter_map(|(index, part)| match &part.kind {
            PartKind::Pin(pin) => Some((PartId(index), pin.as_ref())),
            _ => None,
        })
    }
}
