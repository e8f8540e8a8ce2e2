//! Junction and MOS transistors: parameters and the square law of their channel.

use crate::network::device::DiodeModel;

/// Kind of channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Channel {
    /// Of electrons: on with the gate above the source.
    N,
    /// Of holes: an N channel's voltages and currents turned round.
    P,
}

impl Channel {
    /// 1 for N, −1 for P.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::N => 1.0,
            Self::P => -1.0,
        }
    }
}

/// What lies between gate and channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FieldGate {
    /// A junction to either end of the channel, each of this model, with its depletion charge.
    Junction(DiodeModel),
    /// An insulator.
    Insulated {
        /// Capacitance from gate to source, F; may be 0.
        source_farads: f64,
        /// Capacitance from gate to drain, F; may be 0.
        drain_farads: f64,
        /// The junction of the body, which is tied to the source, with the drain.
        body: DiodeModel,
    },
}

/// Field-effect transistor: a symmetrical channel by the square law.
///
/// For an N channel the current from drain to source is
///
/// (k/2) (F(vgs − threshold)² − F(vgd − threshold)²), F(v) = max(v, 0),
///
/// which is k ((vgs − threshold) vds − vds²/2) below saturation and (k/2)(vgs − threshold)² in it,
/// and the same from the other end if the drain lies below the source. Near 0 V the channel is a
/// resistance of 1 / (k (vgs − threshold)).
///
/// # Source
///
/// W. Shockley, "A unipolar field-effect transistor", Proc. IRE 40 (1952), and first-order MOS
/// transistor equations, in the quadratic form of any text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldEffectModel {
    /// Channel.
    pub channel: Channel,
    /// Transconductance factor k, A/V².
    pub k: f64,
    /// Gate voltage against the source from which an N channel conducts, V: above 0 if it has to
    /// be switched on, below 0 if off. A P channel's is turned round.
    pub threshold: f64,
    /// Leakage of the channel when off, Ω.
    pub off_ohms: f64,
    /// The gate.
    pub gate: FieldGate,
}

/// Current of a channel with its slopes against the gate's voltage over either end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChannelCurrent {
    /// From drain to source of an N channel, A.
    pub amps: f64,
    /// Slope against vgs, S.
    pub per_source_volt: f64,
    /// Slope against vgd, S.
    pub per_drain_volt: f64,
}

impl FieldEffectModel {
    /// The channel's current at the gate's voltage over source and drain, an N channel's, A.
    #[must_use]
    pub fn current(&self, gate_source: f64, gate_drain: f64) -> ChannelCurrent {
        let source = (gate_source - self.threshold).max(0.0);
        let drain = (gate_drain - self.threshold).max(0.0);
        ChannelCurrent {
            amps: 0.5 * self.k * (source - drain) * (source + drain),
            per_source_volt: self.k * source,
            per_drain_volt: -self.k * drain,
        }
    }

    /// The same transistor with its junctions at another temperature, K.
    #[must_use]
    pub fn at_temperature(self, kelvin: f64) -> Self {
        let gate = match self.gate {
            FieldGate::Junction(model) => FieldGate::Junction(model.at_temperature(kelvin)),
            FieldGate::Insulated { source_farads, drain_farads, body } => {
                let body = body.at_temperature(kelvin);
                FieldGate::Insulated { source_farads, drain_farads, body }
            }
        };
        Self { gate, ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::device::saturating;

    fn model() -> FieldEffectModel {
        let gate = FieldGate::Junction(DiodeModel::ideal(1e-14, 1.0));
        FieldEffectModel { channel: Channel::N, k: 2e-3, threshold: -1.8, off_ohms: 1e10, gate }
    }

    #[test]
    fn the_channel_is_the_textbook_square_law_from_either_end() {
        let model = model();
        for (gate, drain) in [(0.0, 0.3), (0.0, 5.0), (-1.0, 0.5), (-2.5, 5.0), (0.2, -0.7)] {
            let found = model.current(gate, gate - drain).amps;
            let low = f64::min(drain, 0.0);
            let overdrive = gate - low - model.threshold;
            let expected = model.k * saturating(drain, overdrive).amps;
            assert!((found - expected).abs() < 1e-15, "{gate} {drain}: {found} {expected}");
        }
    }

    #[test]
    fn near_no_voltage_it_is_the_stated_resistance() {
        let found = model().current(0.0, -1e-4).amps;
        assert!((found * (1.0 / (2e-3 * 1.8)) / 1e-4 - 1.0).abs() < 1e-4, "{found}");
    }
}
