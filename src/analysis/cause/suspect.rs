//! What may be to blame, and the board with it put right.

use crate::analysis::cause::route::Hop;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::base::math;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::circuit::Threshold;
use crate::network::device::OutputCurve;
use crate::network::error::NetworkError;
use crate::network::passive::ContactState;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// What a suspect does to the pulse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SuspectKind {
    /// Another output holds the node.
    Rival,
    /// A part joins a gate's input to another output.
    JoinedInput,
    /// A pin that only pulls one way, with nothing to pull the other.
    NoPull,
    /// The gate's function ignores this input.
    Logic,
    /// Another input of the gate holds its output.
    StuckInput,
    /// The pulse stays within a junction's dead zone.
    Junction,
    /// The pulse never crosses the gate's switching level.
    Threshold {
        /// Switching level, V.
        volts: f64,
        /// Middle of the pulse as it stands, V: a level that it would cross.
        middle: f64,
    },
    /// Too large in the way.
    Series,
    /// Too small beside the way.
    Shunt,
    /// The load at the socket is too heavy.
    Load,
    /// The chip's pin is too weak.
    WeakPin,
}

impl SuspectKind {
    /// Plain faults before matters of degree.
    pub(super) fn rank(self) -> u8 {
        match self {
            Self::Rival | Self::NoPull => 0,
            Self::JoinedInput | Self::Logic | Self::StuckInput => 1,
            Self::Junction => 2,
            Self::Threshold { .. } | Self::Series | Self::Shunt | Self::Load | Self::WeakPin => 3,
        }
    }

    /// How reluctantly a matter of degree is blamed: a chip's pin or a gate's threshold cannot be
    /// changed with an iron, a resistor can.
    fn reluctance(self) -> f64 {
        match self {
            Self::WeakPin | Self::Threshold { .. } => 2.0,
            _ => 1.0,
        }
    }
}

/// One thing that may lose the pulse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suspect {
    /// What it does.
    pub kind: SuspectKind,
    /// The part.
    pub part: PartId,
    /// The node where the pulse suffers.
    pub node: NodeId,
    /// Size of the pulse before, V.
    pub pulse_in_v: f64,
    /// Size of the pulse after, V.
    pub pulse_out_v: f64,
}

impl Suspect {
    /// Share of the pulse that is lost, in decades.
    pub(super) fn loss(&self) -> f64 {
        const FLOOR_V: f64 = 1e-6;
        math::log10(self.pulse_in_v.abs().max(FLOOR_V) / self.pulse_out_v.abs().max(FLOOR_V))
    }
}

/// The solved board and the pulse's way through it.
pub(super) struct Scene<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) element: ElementId,
    /// The pin from which the way starts.
    pub(super) pin: PartId,
    pub(super) way: Vec<Hop>,
    /// Node voltages with nothing lit.
    pub(super) black_v: Vec<f64>,
    /// Node voltages with the element lit.
    pub(super) lit_v: Vec<f64>,
}

impl Scene<'_> {
    fn circuit(&self) -> &Circuit {
        &self.scenario.circuit
    }

    fn part(&self, part: PartId) -> &Part {
        &self.circuit().parts[part.0]
    }

    pub(super) fn pulse_v(&self, node: NodeId) -> f64 {
        self.lit_v[node.0] - self.black_v[node.0]
    }

    /// Every suspect, in the order of the way.
    pub(super) fn suspects(&self) -> Vec<Suspect> {
        let mut all = self.at_the_pin();
        let first = self.way.first().map_or(self.scenario.output.node, |hop| hop.from);
        let open_v = self.open_pulse_v();
        all.extend(self.beside(first, open_v));
        for (index, hop) in self.way.iter().enumerate() {
            all.extend(self.in_the_way(hop));
            // A gate's output does not answer to what hangs on it the way a divider does, but the
            // parts there are still suspects for what comes after.
            let before_v = if index == 0 { open_v } else { self.pulse_v(hop.from) };
            all.extend(self.beside(hop.to, before_v));
        }
        all
    }

    /// Swing of the pin with nothing on it, V.
    fn open_pulse_v(&self) -> f64 {
        let levels = |lit| self.scenario.pin_levels(lit, LinePart::Active);
        let position = self.circuit().pins().position(|(part, _)| part == self.pin);
        let PartKind::Pin(pin) = &self.part(self.pin).kind else { return 0.0 };
        let supply = self.black_v[pin.supply.0];
        position.map_or(0.0, |position| {
            let open = |lit| open_volts(&pin.levels[usize::from(levels(lit)[position].0)], supply);
            open(ElementSet::only(self.element)) - open(ElementSet::EMPTY)
        })
    }

    fn at_the_pin(&self) -> Vec<Suspect> {
        let PartKind::Pin(pin) = &self.part(self.pin).kind else { return Vec::new() };
        let (pulse_in_v, pulse_out_v) = (self.open_pulse_v(), self.pulse_v(pin.node));
        let lets_go = pin.levels.iter().any(|stage| matches!(stage, PinStage::Off { .. }));
        let kind = if lets_go && pulse_out_v.abs() < 0.1 {
            SuspectKind::NoPull
        } else {
            SuspectKind::WeakPin
        };
        vec![Suspect { kind, part: self.pin, node: pin.node, pulse_in_v, pulse_out_v }]
    }

    fn in_the_way(&self, hop: &Hop) -> Vec<Suspect> {
        let suspect = |kind| Suspect {
            kind,
            part: hop.part,
            node: hop.to,
            pulse_in_v: self.pulse_v(hop.from),
            pulse_out_v: self.pulse_v(hop.to),
        };
        match &self.part(hop.part).kind {
            PartKind::Gate(gate) => self.gate_suspects(hop, gate),
            PartKind::Diode { .. } | PartKind::Transistor { .. }
                if self.pulse_v(hop.to).abs() < 0.6 * self.pulse_v(hop.from).abs() =>
            {
                vec![suspect(SuspectKind::Junction)]
            }
            PartKind::Resistor { .. }
            | PartKind::Trimmer { .. }
            | PartKind::Inductor { .. }
            | PartKind::LossyInductor { .. }
            | PartKind::Contact { .. } => {
                vec![suspect(SuspectKind::Series)]
            }
            _ => Vec::new(),
        }
    }

    fn gate_suspects(&self, hop: &Hop, gate: &Gate) -> Vec<Suspect> {
        let volts = gate.threshold.typical(self.black_v[gate.supply.0]);
        let high = |volts_at: &[f64], node: NodeId| volts_at[node.0] >= volts;
        let suspect = |kind, node| Suspect {
            kind,
            part: hop.part,
            node,
            pulse_in_v: self.pulse_v(hop.from),
            pulse_out_v: self.pulse_v(hop.to),
        };
        if high(&self.black_v, hop.from) == high(&self.lit_v, hop.from) {
            let middle = 0.5 * (self.black_v[hop.from.0] + self.lit_v[hop.from.0]);
            return vec![suspect(SuspectKind::Threshold { volts, middle }, hop.from)];
        }
        if self.pulse_v(hop.to).abs() > 0.1 * self.pulse_v(hop.from).abs() {
            return Vec::new();
        }
        let others = gate.inputs.iter().filter(|&&input| input != hop.from);
        let mut stuck: Vec<Suspect> = others
            .filter(|&&input| {
                let state = high(&self.black_v, input);
                state == high(&self.lit_v, input) && state == dominates(gate.logic)
            })
            .map(|&input| suspect(SuspectKind::StuckInput, input))
            .collect();
        stuck.push(suspect(SuspectKind::Logic, hop.to));
        stuck
    }

    /// What hangs on a node of the way without being on it.
    fn beside(&self, node: NodeId, pulse_in_v: f64) -> Vec<Suspect> {
        let feeds_gate = self
            .way
            .iter()
            .any(|hop| hop.from == node && matches!(self.part(hop.part).kind, PartKind::Gate(_)));
        let on_way = |part: PartId| self.way.iter().any(|hop| hop.part == part);
        let mut found = Vec::new();
        for (index, part) in self.circuit().parts.iter().enumerate() {
            let id = PartId(index);
            if id == self.pin || on_way(id) {
                continue;
            }
            let kind = match &part.kind {
                PartKind::Pin(pin) if pin.node == node => SuspectKind::Rival,
                PartKind::Gate(gate) if gate.output == node => SuspectKind::Rival,
                PartKind::Resistor { ends, .. }
                | PartKind::Trimmer { ends, .. }
                | PartKind::Contact { ends, .. }
                    if ends.contains(&node) && ends[0] != ends[1] =>
                {
                    let other = if ends[0] == node { ends[1] } else { ends[0] };
                    self.shunt_kind(id, other, feeds_gate)
                }
                PartKind::Diode { anode, cathode, .. } if [*anode, *cathode].contains(&node) => {
                    SuspectKind::Shunt
                }
                _ => continue,
            };
            let pulse_out_v = self.pulse_v(node);
            found.push(Suspect { kind, part: id, node, pulse_in_v, pulse_out_v });
        }
        found
    }

    fn shunt_kind(&self, part: PartId, other: NodeId, feeds_gate: bool) -> SuspectKind {
        if part == self.scenario.output.load {
            SuspectKind::Load
        } else if feeds_gate && self.is_output(other) {
            SuspectKind::JoinedInput
        } else {
            SuspectKind::Shunt
        }
    }

    /// Whether a chip pin or a gate drives the node.
    pub(super) fn is_output(&self, node: NodeId) -> bool {
        self.circuit().parts.iter().any(|part| match &part.kind {
            PartKind::Pin(pin) => pin.node == node,
            PartKind::Gate(gate) => gate.output == node,
            PartKind::VideoDriver(part) => part.output == node,
            _ => false,
        })
    }
}

/// The input state that alone decides a gate's output; both decide an XOR, so none does.
fn dominates(logic: Logic) -> bool {
    matches!(logic, Logic::Or | Logic::Nor)
}

/// Volts of a pin's stage with nothing on it.
pub(super) fn open_volts(stage: &PinStage, supply: f64) -> f64 {
    match stage {
        PinStage::Linear { offset, share, .. } => offset + share * supply,
        PinStage::PullUp { threshold, .. } => supply - threshold,
        PinStage::PullDown { .. } => 0.0,
        PinStage::Off { .. } => supply,
    }
}

/// Furthest a matter of degree is carried.
const WHOLLY: f64 = 1e6;

/// How much must be changed to make the element clear, in decades; `None` if this alone never does.
pub(super) fn effort(
    scenario: &Scenario,
    element: ElementId,
    suspect: &Suspect,
) -> Result<Option<f64>, NetworkError> {
    let clear = |factor: f64| -> Result<bool, NetworkError> {
        let circuit = put_right(&scenario.circuit, suspect, factor);
        let delta_v = Levels::new(scenario, &circuit)?.delta(element, scenario.output.node)?;
        Ok(scenario.verdict.seen(delta_v) == Seen::Clear)
    };
    if !clear(WHOLLY)? {
        return Ok(None);
    }
    let graded = matches!(
        suspect.kind,
        SuspectKind::Series | SuspectKind::Shunt | SuspectKind::Load | SuspectKind::WeakPin
    );
    let decades = match suspect.kind {
        SuspectKind::Threshold { volts, middle } => {
            math::log10(volts.max(1e-3) / middle.max(1e-3)).abs()
        }
        _ if graded => {
            let (mut not_yet, mut enough) = (0.0, math::log10(WHOLLY));
            for _ in 0..14 {
                let middle = 0.5 * (not_yet + enough);
                if clear(math::pow(10.0, middle))? { enough = middle } else { not_yet = middle }
            }
            enough
        }
        _ => 0.0,
    };
    Ok(Some(decades * suspect.kind.reluctance()))
}

/// The board with one suspect put right, matters of degree by `factor`.
pub(super) fn put_right(circuit: &Circuit, suspect: &Suspect, factor: f64) -> Circuit {
    let factor = factor.min(WHOLLY);
    let mut circuit = circuit.clone();
    let supply = circuit.pins().next().map(|(_, pin)| pin.supply);
    let kind = &mut circuit.parts[suspect.part.0].kind;
    match suspect.kind {
        SuspectKind::Rival => let_go(kind),
        SuspectKind::NoPull => {
            let ends = [suspect.node, supply.unwrap_or(NodeId::GROUND)];
            let name = format!("pull-up at {}", suspect.node.0);
            circuit.parts.push(Part { name, kind: PartKind::Resistor { ends, ohms: 4.7e3 } });
        }
        SuspectKind::Logic => {
            if let PartKind::Gate(gate) = kind {
                gate.logic = match gate.logic {
                    Logic::And => Logic::Or,
                    Logic::Nand => Logic::Nor,
                    other => other,
                };
            }
        }
        SuspectKind::StuckInput => {
            if let PartKind::Gate(gate) = kind {
                gate.inputs.retain(|&input| input != suspect.node);
            }
        }
        SuspectKind::Junction => soften(kind),
        SuspectKind::Threshold { middle, .. } => {
            if let PartKind::Gate(gate) = kind {
                gate.threshold = Threshold::Fixed { low: middle, typical: middle, high: middle };
            }
        }
        SuspectKind::Series => scale(kind, 1.0 / factor),
        SuspectKind::Shunt | SuspectKind::Load | SuspectKind::JoinedInput => scale(kind, factor),
        SuspectKind::WeakPin => strengthen(kind, factor),
    }
    circuit
}

fn let_go(kind: &mut PartKind) {
    const NOTHING_OHMS: f64 = 1e9;
    match kind {
        PartKind::Pin(pin) => pin.levels.fill(PinStage::Off { ohms: NOTHING_OHMS }),
        PartKind::Gate(gate) => {
            gate.high = OutputCurve::Resistance(NOTHING_OHMS);
            gate.low = OutputCurve::Resistance(NOTHING_OHMS);
        }
        _ => {}
    }
}

/// Takes a junction's forward drop away, all but a tenth of a volt or two.
fn soften(kind: &mut PartKind) {
    const MORE: f64 = 1e9;
    match kind {
        PartKind::Diode { model, .. } => model.saturation_current *= MORE,
        PartKind::Transistor { model, .. } => model.saturation_current *= MORE,
        _ => {}
    }
}

fn scale(kind: &mut PartKind, factor: f64) {
    match kind {
        PartKind::Resistor { ohms, .. } => *ohms *= factor,
        PartKind::Trimmer { ohms, contact_ohms, .. } => {
            *ohms *= factor;
            *contact_ohms *= factor;
        }
        PartKind::Inductor { ohms, .. } | PartKind::LossyInductor { ohms, .. } => *ohms *= factor,
        // A switch is put right by throwing it.
        PartKind::Contact { state, .. } => {
            *state = if factor < 1.0 { ContactState::Closed } else { ContactState::Open };
        }
        PartKind::Diode { model, .. } => model.saturation_current /= factor,
        _ => {}
    }
}

fn strengthen(kind: &mut PartKind, factor: f64) {
    let PartKind::Pin(pin) = kind else { return };
    for stage in &mut pin.levels {
        match stage {
            PinStage::Linear { ohms, .. } => *ohms /= factor,
            PinStage::PullUp { k, .. } | PinStage::PullDown { k, .. } => *k *= factor,
            PinStage::Off { .. } => {}
        }
    }
}
