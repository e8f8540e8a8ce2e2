//! Diodes, transistors and channels in the equations.

use crate::network::bipolar::TransistorModel;
use crate::network::device::DiodeModel;
use crate::network::device::Sloped;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::at;
use crate::network::field_effect::FieldEffectModel;
use crate::network::junctions::Junctions;
use crate::network::junctions::Turn;

/// A part with a curved law.
#[derive(Clone, Debug)]
pub(crate) enum Semiconductor {
    /// One junction.
    Diode { ends: [Unknown; 2], model: DiodeModel, turn: Turn },
    /// Two of them, and the current from collector to emitter that they control.
    Transistor {
        collector: Unknown,
        base: Unknown,
        emitter: Unknown,
        model: Box<TransistorModel>,
        turn: Turn,
    },
    /// The channel of a junction or MOS transistor; its junctions are diodes beside it.
    Channel { drain: Unknown, gate: Unknown, source: Unknown, model: FieldEffectModel },
}

/// A junction at the voltage asked for and at the one it could be evaluated at.
#[derive(Clone, Copy)]
struct Approached {
    asked: f64,
    used: f64,
}

impl Approached {
    fn new(asked: f64, turn: Turn, junctions: &mut Junctions) -> Self {
        Self { asked, used: junctions.approach(asked, turn) }
    }

    /// A value and slope taken at `used`, carried along its tangent to `asked`.
    fn extend(self, sloped: Sloped) -> f64 {
        sloped.value + sloped.slope * self.ahead()
    }

    /// How far the voltage asked for lies ahead, V.
    fn ahead(self) -> f64 {
        self.asked - self.used
    }

    fn is_short(self) -> bool {
        self.ahead().abs() > 1e-12
    }
}

impl Semiconductor {
    /// A diode.
    pub(crate) fn diode(ends: [Unknown; 2], model: DiodeModel) -> Self {
        let turn = Turn::of(model.saturation_current, model.vt());
        let turn = match &model.breakdown {
            Some(breakdown) => turn.with_reverse(breakdown),
            None => turn,
        };
        Self::Diode { ends, model, turn }
    }

    /// A transistor, by collector, base and emitter.
    pub(crate) fn transistor(terminals: [Unknown; 3], model: TransistorModel) -> Self {
        let [collector, base, emitter] = terminals;
        let turn = Turn::of(model.saturation_current, model.thermal_volts);
        Self::Transistor { collector, base, emitter, model: Box::new(model), turn }
    }

    /// The unknowns that it has to do with.
    pub(crate) fn unknowns(&self) -> Vec<usize> {
        let ends = match self {
            Self::Diode { ends: [anode, cathode], .. } => [*anode, *cathode, None],
            Self::Transistor { collector, base, emitter, .. } => [*collector, *base, *emitter],
            Self::Channel { drain, gate, source, .. } => [*drain, *gate, *source],
        };
        ends.into_iter().flatten().collect()
    }

    /// The same part at other unknowns.
    pub(crate) fn moved(&self, to: &dyn Fn(Unknown) -> Unknown) -> Self {
        let mut moved = self.clone();
        match &mut moved {
            Self::Diode { ends, .. } => *ends = ends.map(to),
            Self::Transistor { collector, base, emitter, .. } => {
                [*collector, *base, *emitter] = [*collector, *base, *emitter].map(to);
            }
            Self::Channel { drain, gate, source, .. } => {
                [*drain, *gate, *source] = [*drain, *gate, *source].map(to);
            }
        }
        moved
    }

    /// Forward voltages of its junctions in `x`; a diode has one, a channel none.
    pub(crate) fn junction_volts(&self, x: &[f64]) -> [Option<f64>; 2] {
        match self {
            Self::Diode { ends: [anode, cathode], .. } => {
                [Some(at(x, *anode) - at(x, *cathode)), None]
            }
            Self::Transistor { collector, base, emitter, model, .. } => {
                let forward = |other| Some(model.polarity.sign() * (at(x, *base) - at(x, other)));
                [forward(*emitter), forward(*collector)]
            }
            Self::Channel { .. } => [None, None],
        }
    }

    /// Adds its currents, charges and slopes.
    pub(crate) fn evaluate(&self, x: &[f64], junctions: &mut Junctions, out: &mut Evaluation) {
        let [first, second] = self.junction_volts(x);
        match self {
            Self::Diode { ends, model, .. } if model.sleeps(first.unwrap_or_default()) => {
                junctions.skip(first.unwrap_or_default());
                let amps = -model.saturation_current;
                out.add_branch(*ends, amps, model.transit_time * amps);
            }
            Self::Diode { ends, model, turn } => {
                let junction = Approached::new(first.unwrap_or_default(), *turn, junctions);
                out.limited |= junction.is_short();
                let forward = model.forward_current(junction.used);
                let charge = model.charge(junction.used, forward);
                let current = model.with_breakdown(junction.used, forward);
                out.add_branch(*ends, junction.extend(current), junction.extend(charge));
                out.add_branch_slope(*ends, current.slope, charge.slope);
            }
            Self::Transistor { collector, base, emitter, model, turn } => {
                let be = Approached::new(first.unwrap_or_default(), *turn, junctions);
                let bc = Approached::new(second.unwrap_or_default(), *turn, junctions);
                out.limited |= be.is_short() || bc.is_short();
                add_transistor(model, [*collector, *base, *emitter], [be, bc], out);
            }
            Self::Channel { drain, gate, source, model } => {
                let sign = model.channel.sign();
                let over = |end| sign * (at(x, *gate) - at(x, end));
                let current = model.current(over(*source), over(*drain));
                let (per_gs, per_gd) = (current.per_source_volt, current.per_drain_volt);
                out.add_branch([*drain, *source], sign * current.amps, 0.0);
                for (row, direction) in [(*drain, 1.0), (*source, -1.0)] {
                    out.add_slope(row, *gate, direction * (per_gs + per_gd), 0.0);
                    out.add_slope(row, *source, -direction * per_gs, 0.0);
                    out.add_slope(row, *drain, -direction * per_gd, 0.0);
                }
            }
        }
    }
}

/// Adds what flows between collector, base and emitter, the junctions from base to emitter and to
/// collector being so far on.
fn add_transistor(
    model: &TransistorModel,
    [collector, base, emitter]: [Unknown; 3],
    [be, bc]: [Approached; 2],
    out: &mut Evaluation,
) {
    let (icc, iec) = (model.transport(be.used), model.transport(bc.used));
    let (to_emitter, to_collector) =
        (Side::emitter(model, be, icc), Side::collector(model, bc, iec));
    let transfer = model.transfer(icc, iec, bc.used);
    let (per_be, per_bc) = (transfer.per_emitter_volt, transfer.per_collector_volt);
    let amps = transfer.amps + per_be * be.ahead() + per_bc * bc.ahead();
    let sign = model.polarity.sign();
    let mut add = |node, amps: f64, coulombs: f64| out.add(node, sign * amps, sign * coulombs);
    add(base, to_emitter.amps + to_collector.amps, to_emitter.coulombs + to_collector.coulombs);
    add(emitter, -to_emitter.amps - amps, -to_emitter.coulombs);
    add(collector, amps - to_collector.amps, -to_collector.coulombs);
    if !out.wants_slopes() {
        return;
    }
    out.add_branch_slope([base, emitter], to_emitter.siemens, to_emitter.farads);
    out.add_branch_slope([base, collector], to_collector.siemens, to_collector.farads);
    for (row, direction) in [(collector, 1.0), (emitter, -1.0)] {
        out.add_slope(row, base, direction * (per_be + per_bc), 0.0);
        out.add_slope(row, emitter, -direction * per_be, 0.0);
        out.add_slope(row, collector, -direction * per_bc, 0.0);
    }
}

/// The base current and the charge between the base and one side of a transistor, with their slopes.
struct Side {
    amps: f64,
    coulombs: f64,
    siemens: f64,
    farads: f64,
}

impl Side {
    fn emitter(model: &TransistorModel, junction: Approached, transport: Sloped) -> Self {
        let leakage = model.leakage(junction.used);
        let depletion = model.base_emitter.charge(junction.used);
        let own = (model.forward_gain, model.forward_transit_time);
        Self::new(own, junction, transport, [leakage, depletion])
    }

    fn collector(model: &TransistorModel, junction: Approached, transport: Sloped) -> Self {
        let depletion = model.base_collector.charge(junction.used);
        let own = (model.reverse_gain, model.reverse_transit_time);
        Self::new(own, junction, transport, [Sloped::default(), depletion])
    }

    /// By gain and transit time.
    fn new(
        (gain, transit_time): (f64, f64),
        junction: Approached,
        transport: Sloped,
        [leakage, depletion]: [Sloped; 2],
    ) -> Self {
        let amps = junction.extend(transport);
        Self {
            amps: amps / gain + junction.extend(leakage),
            coulombs: transit_time * amps + junction.extend(depletion),
            siemens: transport.slope / gain + leakage.slope,
            farads: transit_time * transport.slope + depletion.slope,
        }
    }
}
