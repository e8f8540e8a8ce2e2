//! Diodes, transistors and channels in the equations.

use crate::network::bipolar::TransistorLaw;
use crate::network::bipolar::TransistorModel;
use crate::network::device::DiodeLaw;
use crate::network::device::DiodeModel;
use crate::network::device::Sloped;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::at;
use crate::network::field_effect::FieldEffectModel;
use crate::network::hold::sleep_amps;
use crate::network::junctions::Junctions;
use crate::network::junctions::Turn;

/// A part with a curved law.
#[derive(Clone, Debug)]
pub(crate) enum Semiconductor {
    /// One junction.
    Diode { ends: [Unknown; 2], law: DiodeLaw, turn: Turn },
    /// Two of them, and the current from collector to emitter that they control.
    Transistor {
        collector: Unknown,
        base: Unknown,
        emitter: Unknown,
        law: Box<TransistorLaw>,
        turn: Turn,
    },
    /// The channel of a junction or MOS transistor; its junctions are diodes beside it.
    Channel { drain: Unknown, gate: Unknown, source: Unknown, model: FieldEffectModel },
}

/// A diode that lets through nothing but its saturation current while it sleeps.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sleeper {
    /// Anode and cathode.
    pub(crate) ends: [Unknown; 2],
    /// The forward voltage from which it wakes, V.
    below_v: f64,
    /// What flows from anode to cathode below that, A.
    pub(crate) amps: f64,
}

impl Sleeper {
    /// How far below the voltage at which it wakes it stands in `x`, V.
    pub(crate) fn depth_v(&self, x: &[f64]) -> f64 {
        self.below_v - (at(x, self.ends[0]) - at(x, self.ends[1]))
    }
}

/// A junction at the voltage asked for and at the one it could be evaluated at.
#[derive(Clone, Copy)]
struct Approached {
    asked: f64,
    used: f64,
}

impl Approached {
    #[inline]
    fn new(asked: f64, turn: &Turn, junctions: &mut Junctions) -> Self {
        Self { asked, used: junctions.approach(asked, turn) }
    }

    /// A value and slope taken at `used`, carried along its tangent to `asked`.
    #[inline]
    fn extend(self, sloped: Sloped) -> f64 {
        sloped.value + sloped.slope * self.ahead()
    }

    /// How far the voltage asked for lies ahead, V.
    #[inline]
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
        Self::Diode { ends, law: DiodeLaw::of(&model), turn }
    }

    /// A transistor, by collector, base and emitter.
    pub(crate) fn transistor(terminals: [Unknown; 3], model: TransistorModel) -> Self {
        let [collector, base, emitter] = terminals;
        let turn = Turn::of(model.saturation_current, model.thermal_volts);
        let law = Box::new(TransistorLaw::of(&model));
        Self::Transistor { collector, base, emitter, law, turn }
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

    /// Whether it keeps charge.
    pub(crate) fn has_charge(&self) -> bool {
        match self {
            Self::Diode { law, .. } => law.has_charge(),
            Self::Transistor { .. } => true,
            Self::Channel { .. } => false,
        }
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

    /// The diode that it is, if it is one without charge, which may be taken as asleep.
    pub(crate) fn sleeper(&self, held_ohms: &[f64]) -> Option<Sleeper> {
        let Self::Diode { ends, law, .. } = self else { return None };
        let below_v = law.sleeps_below(sleep_amps(*ends, held_ohms));
        let amps = law.reverse_amps();
        (below_v > f64::NEG_INFINITY).then_some(Sleeper { ends: *ends, below_v, amps })
    }

    /// Forward voltages of its junctions in `x`; a diode has one, a channel none.
    pub(crate) fn junction_volts(&self, x: &[f64]) -> [Option<f64>; 2] {
        match self {
            Self::Diode { ends: [anode, cathode], .. } => {
                [Some(at(x, *anode) - at(x, *cathode)), None]
            }
            Self::Transistor { collector, base, emitter, law, .. } => {
                let forward = |other| Some(law.sign * (at(x, *base) - at(x, other)));
                [forward(*emitter), forward(*collector)]
            }
            Self::Channel { .. } => [None, None],
        }
    }

    /// Adds its currents, charges and slopes.
    pub(crate) fn evaluate(&self, x: &[f64], junctions: &mut Junctions, out: &mut Evaluation) {
        match self {
            Self::Diode { ends, law, turn } => {
                let volts = at(x, ends[0]) - at(x, ends[1]);
                let junction = Approached::new(volts, turn, junctions);
                out.limited |= junction.is_short();
                let (current, charge) = law.at(junction.used);
                out.add_branch(*ends, junction.extend(current), junction.extend(charge));
                out.add_branch_slope(*ends, current.slope, charge.slope);
            }
            Self::Transistor { collector, base, emitter, law, turn } => {
                let volts = at(x, *base);
                let be = Approached::new(law.sign * (volts - at(x, *emitter)), turn, junctions);
                let bc = Approached::new(law.sign * (volts - at(x, *collector)), turn, junctions);
                out.limited |= be.is_short() || bc.is_short();
                add_transistor(law, [*collector, *base, *emitter], [be, bc], out);
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
#[inline]
fn add_transistor(
    law: &TransistorLaw,
    [collector, base, emitter]: [Unknown; 3],
    [be, bc]: [Approached; 2],
    out: &mut Evaluation,
) {
    let (transfer, [to_emitter, to_collector]) = law.at([be.used, bc.used]);
    let (per_be, per_bc) = (transfer.per_emitter_volt, transfer.per_collector_volt);
    let amps = transfer.amps + per_be * be.ahead() + per_bc * bc.ahead();
    let sign = law.sign;
    let mut add = |node, amps: f64, coulombs: f64| out.add(node, sign * amps, sign * coulombs);
    let [emitter_amps, collector_amps] =
        [be.extend(to_emitter.current), bc.extend(to_collector.current)];
    let [emitter_coulombs, collector_coulombs] =
        [be.extend(to_emitter.charge), bc.extend(to_collector.charge)];
    add(base, emitter_amps + collector_amps, emitter_coulombs + collector_coulombs);
    add(emitter, -emitter_amps - amps, -emitter_coulombs);
    add(collector, amps - collector_amps, -collector_coulombs);
    if !out.wants_slopes() {
        return;
    }
    for (end, side) in [(emitter, to_emitter), (collector, to_collector)] {
        out.add_branch_slope([base, end], side.current.slope, side.charge.slope);
    }
    for (row, direction) in [(collector, 1.0), (emitter, -1.0)] {
        out.add_slope(row, base, direction * (per_be + per_bc), 0.0);
        out.add_slope(row, emitter, -direction * per_be, 0.0);
        out.add_slope(row, collector, -direction * per_bc, 0.0);
    }
}
