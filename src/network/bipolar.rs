//! The bipolar transistor: its parameters and equations.

use crate::base::math;
use crate::network::device::Depletion;
use crate::network::device::Junction;
use crate::network::device::JunctionLaw;
use crate::network::device::Material;
use crate::network::device::Sloped;
use crate::network::device::THERMAL_VOLTS;
use crate::network::device::THERMAL_VOLTS_PER_KELVIN;
use crate::network::device::junction_current;

/// Polarity of a bipolar transistor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// NPN.
    Npn,
    /// PNP.
    Pnp,
}

impl Polarity {
    /// 1 for NPN; −1 for PNP, whose voltages and currents are an NPN's turned round.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::Npn => 1.0,
            Self::Pnp => -1.0,
        }
    }
}

/// Bipolar transistor: the transport form of Ebers and Moll with stored charge, and as much of the
/// charge-control model as data sheets of small transistors show.
///
/// With icc = Is (exp(vbe/Vt) − 1) and iec = Is (exp(vbc/Vt) − 1): the current from collector to
/// emitter is `(icc − iec) / qb`, the base current `icc/gain_f + iec/gain_r` and the leakage
/// `base_leakage` (exp(vbe/(`leakage_emission` Vt)) − 1), which takes gain away at low current.
/// The base charge, relative to its rest,
///
/// 1/qb = (1 − vbc/`early_volts`) · 2 / (1 + √(1 + 4 icc/`knee_amps`)),
///
/// slopes the collector current with its voltage and, with nothing else, halves the gain at
/// `knee_amps` of collector current. With vbc above half of `early_volts`, where no transistor lives
/// but a board with mistakes may put one, its first factor u goes on as 1 / (4 (1 − u)): it never
/// turns negative, and the transistor never into a source. Stored charge is `forward_transit_time` icc between base and
/// emitter and `reverse_transit_time` iec between base and collector, and the depletion charge of
/// both junctions. The terminals have resistances of their own.
///
/// # Source
///
/// J. J. Ebers and J. L. Moll, "Large-signal behavior of junction transistors", Proc. IRE 42
/// (1954); J. M. Early, "Effects of space-charge layer widening in junction transistors", Proc.
/// IRE 40 (1952); H. K. Gummel and H. C. Poon, "An integral charge control model of bipolar
/// transistors", Bell System Technical Journal 49 (1970), its forward half.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TransistorModel {
    /// Polarity.
    pub polarity: Polarity,
    /// Saturation current Is, A, at the junctions' temperature.
    pub saturation_current: f64,
    /// Forward current gain, at no current and no voltage.
    pub forward_gain: f64,
    /// Reverse current gain.
    pub reverse_gain: f64,
    /// Early voltage, V; infinite for a collector current that ignores its voltage.
    pub early_volts: f64,
    /// Collector current at which the gain has halved, A; infinite for a gain that does not fall.
    pub knee_amps: f64,
    /// Saturation current of the base's leakage, A; 0 for none.
    pub base_leakage: f64,
    /// Emission coefficient of the leakage.
    pub leakage_emission: f64,
    /// Resistance in the base, Ω; 0 for none.
    pub base_ohms: f64,
    /// Resistance in the collector, Ω; 0 for none.
    pub collector_ohms: f64,
    /// Resistance in the emitter, Ω; 0 for none.
    pub emitter_ohms: f64,
    /// Forward transit time, s.
    pub forward_transit_time: f64,
    /// Reverse transit time, s.
    pub reverse_transit_time: f64,
    /// Base-emitter depletion charge.
    pub base_emitter: Junction,
    /// Base-collector depletion charge.
    pub base_collector: Junction,
    /// Thermal voltage at the junctions' temperature, V; see [`THERMAL_VOLTS`].
    pub thermal_volts: f64,
}

/// Current from collector to emitter with its slopes against the junctions' forward voltages.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transfer {
    /// A.
    pub amps: f64,
    /// Slope against base-emitter voltage, S.
    pub per_emitter_volt: f64,
    /// Slope against base-collector voltage, S.
    pub per_collector_volt: f64,
}

impl TransistorModel {
    /// Ebers and Moll's transistor at 300 K: two gains and nothing more.
    #[must_use]
    pub const fn ideal(
        polarity: Polarity,
        saturation_current: f64,
        [forward_gain, reverse_gain]: [f64; 2],
    ) -> Self {
        Self {
            polarity,
            saturation_current,
            forward_gain,
            reverse_gain,
            early_volts: f64::INFINITY,
            knee_amps: f64::INFINITY,
            base_leakage: 0.0,
            leakage_emission: 2.0,
            base_ohms: 0.0,
            collector_ohms: 0.0,
            emitter_ohms: 0.0,
            forward_transit_time: 0.0,
            reverse_transit_time: 0.0,
            base_emitter: Junction::NONE,
            base_collector: Junction::NONE,
            thermal_volts: THERMAL_VOLTS,
        }
    }

    /// Transport current of one junction at `volts` forward, A.
    #[must_use]
    pub fn transport(&self, volts: f64) -> Sloped {
        junction_current(self.saturation_current, self.thermal_volts, volts)
    }

    /// Leakage of the base at `volts` from base to emitter, A.
    #[must_use]
    pub fn leakage(&self, volts: f64) -> Sloped {
        if self.base_leakage <= 0.0 {
            return Sloped::default();
        }
        junction_current(self.base_leakage, self.leakage_emission * self.thermal_volts, volts)
    }

    /// Current from collector to emitter, the transport currents of the base-emitter and the
    /// base-collector junction and the latter's voltage being known.
    #[must_use]
    pub fn transfer(&self, icc: Sloped, iec: Sloped, collector_volts: f64) -> Transfer {
        BaseCharge::of(self).transfer(icc, iec, collector_volts)
    }

    /// The same transistor at another temperature, K: its junctions of silicon follow
    /// [`Material::saturation_factor`]; gains, charges and resistances are left as they are.
    #[must_use]
    pub fn at_temperature(self, kelvin: f64) -> Self {
        let vt = THERMAL_VOLTS_PER_KELVIN * kelvin;
        let factor = Material::Silicon.saturation_factor(1.0, self.thermal_volts, vt);
        Self {
            saturation_current: self.saturation_current * factor,
            base_leakage: self.base_leakage * math::pow(factor, 1.0 / self.leakage_emission),
            thermal_volts: vt,
            ..self
        }
    }
}

/// A transistor's equations with all worked out that does not depend on voltages.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TransistorLaw {
    /// 1 for NPN, −1 for PNP.
    pub(crate) sign: f64,
    transport: JunctionLaw,
    leakage: Option<JunctionLaw>,
    /// One over the gains, and the transit times, forward and reverse.
    per_gain: [f64; 2],
    transit_time: [f64; 2],
    depletion: [Depletion; 2],
    base_charge: BaseCharge,
}

/// How the base charge bends the current from collector to emitter: one over Early's voltage and over
/// the knee.
#[derive(Clone, Copy, Debug)]
struct BaseCharge {
    per_early: f64,
    per_knee: f64,
}

/// What lies between the base and one other terminal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BaseSide {
    pub(crate) current: Sloped,
    pub(crate) charge: Sloped,
}

impl TransistorLaw {
    pub(crate) fn of(model: &TransistorModel) -> Self {
        let vt = model.thermal_volts;
        let leakage = || JunctionLaw::new(model.base_leakage, model.leakage_emission * vt);
        Self {
            sign: model.polarity.sign(),
            transport: JunctionLaw::new(model.saturation_current, vt),
            leakage: (model.base_leakage > 0.0).then(leakage),
            per_gain: [1.0 / model.forward_gain, 1.0 / model.reverse_gain],
            transit_time: [model.forward_transit_time, model.reverse_transit_time],
            depletion: [Depletion::of(&model.base_emitter), Depletion::of(&model.base_collector)],
            base_charge: BaseCharge::of(model),
        }
    }

    /// At forward voltages from base to emitter and to collector: what flows from collector to emitter,
    /// and what from base to emitter and to collector.
    #[inline]
    pub(crate) fn at(&self, [be, bc]: [f64; 2]) -> (Transfer, [BaseSide; 2]) {
        let (icc, iec) = (self.transport.current(be), self.transport.current(bc));
        let leakage = self.leakage.map_or(Sloped::default(), |leakage| leakage.current(be));
        let side = |side: usize, transport: Sloped, leakage: Sloped, volts: f64| {
            let depletion = self.depletion[side].charge(volts);
            let (per_gain, transit_time) = (self.per_gain[side], self.transit_time[side]);
            BaseSide {
                current: Sloped {
                    value: transport.value * per_gain + leakage.value,
                    slope: transport.slope * per_gain + leakage.slope,
                },
                charge: Sloped {
                    value: transit_time * transport.value + depletion.value,
                    slope: transit_time * transport.slope + depletion.slope,
                },
            }
        };
        let sides = [side(0, icc, leakage, be), side(1, iec, Sloped::default(), bc)];
        (self.base_charge.transfer(icc, iec, bc), sides)
    }
}

impl BaseCharge {
    fn of(model: &TransistorModel) -> Self {
        Self { per_early: 1.0 / model.early_volts, per_knee: 1.0 / model.knee_amps }
    }

    #[inline]
    fn transfer(&self, icc: Sloped, iec: Sloped, collector_volts: f64) -> Transfer {
        let amps = icc.value - iec.value;
        if self.per_early == 0.0 && self.per_knee == 0.0 {
            return Transfer { amps, per_emitter_volt: icc.slope, per_collector_volt: -iec.slope };
        }
        let (width, width_slope) = Self::width(collector_volts * self.per_early);
        let root = (1.0 + 4.0 * icc.value * self.per_knee).max(0.0).sqrt();
        let crowd = 2.0 / (1.0 + root);
        let crowd_slope = -crowd * crowd * icc.slope * self.per_knee / root;
        Transfer {
            amps: amps * width * crowd,
            per_emitter_volt: width * (icc.slope * crowd + amps * crowd_slope),
            per_collector_volt: crowd * (amps * width_slope * self.per_early - iec.slope * width),
        }
    }

    /// Factor on the collector current at `share` of the Early voltage, and its slope.
    fn width(share: f64) -> (f64, f64) {
        if share <= 0.5 { (1.0 - share, -1.0) } else { (0.25 / share, -0.25 / (share * share)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model() -> TransistorModel {
        TransistorModel {
            early_volts: 80.0,
            knee_amps: 0.1,
            base_leakage: 1e-13,
            leakage_emission: 1.7,
            ..TransistorModel::ideal(Polarity::Npn, 1e-14, [200.0, 4.0])
        }
    }

    fn transfer(model: &TransistorModel, be: f64, bc: f64) -> Transfer {
        model.transfer(model.transport(be), model.transport(bc), bc)
    }

    #[test]
    fn both_slopes_are_the_derivatives_of_the_current() {
        let model = model();
        for (be, bc) in [(0.6, -5.0), (0.75, -0.2), (0.8, 0.7), (0.3, 0.65), (-2.0, -3.0)] {
            let step = 1e-6;
            let at = transfer(&model, be, bc);
            let by_be = transfer(&model, be + step, bc).amps - transfer(&model, be - step, bc).amps;
            let by_bc = transfer(&model, be, bc + step).amps - transfer(&model, be, bc - step).amps;
            for (numeric, slope) in [(by_be, at.per_emitter_volt), (by_bc, at.per_collector_volt)] {
                let numeric = numeric / (2.0 * step);
                assert!((numeric - slope).abs() < 1e-5 * slope.abs() + 1e-13, "{numeric} {slope}");
            }
        }
    }

    #[test]
    fn lines_of_constant_base_voltage_meet_at_the_early_voltage() {
        let model = TransistorModel { knee_amps: f64::INFINITY, ..model() };
        let collector_amps = |vce: f64| transfer(&model, 0.65, 0.65 - vce).amps;
        let (near, far) = (collector_amps(5.0), collector_amps(15.0));
        let slope = (far - near) / 10.0;
        // Seen from vbc = 0 the line through both points crosses 0 A at −80 V.
        let crossing = 5.0 - 0.65 - near / slope;
        assert!((crossing + 80.0).abs() < 1e-6, "{crossing}");
    }

    #[test]
    fn the_gain_has_halved_at_the_knee() {
        // From the base charge's own quadratic: ic = icc/qb and qb² = qb + icc/knee make
        // qb = 1 + ic/knee, so that the gain is gain_f / (1 + ic/knee).
        let model = TransistorModel { early_volts: f64::INFINITY, base_leakage: 0.0, ..model() };
        for share in [0.1, 1.0, 2.0] {
            let icc = share * (1.0 + share) * model.knee_amps;
            let be = model.thermal_volts * math::log1p(icc / model.saturation_current);
            let collector = transfer(&model, be, -1.0).amps;
            let gain = collector / (model.transport(be).value / model.forward_gain);
            assert!((gain * (1.0 + share) / model.forward_gain - 1.0).abs() < 1e-9, "{gain}");
        }
    }
}
