//! Device parameters and their equations: current and charge against voltage, each with its slope.

use crate::base::math;
use crate::base::math::interpolate;

/// Thermal voltage kT/q at 300.00 K (26.85 °C), V.
///
/// # Source
///
/// Exact SI constants: k = 1.380649e-23 J/K, q = 1.602176634e-19 C.
pub const THERMAL_VOLTS: f64 = 1.380_649e-23 * 300.0 / 1.602_176_634e-19;

/// A value and its slope against the voltage it was taken at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sloped {
    /// The value: A or C.
    pub value: f64,
    /// Its derivative: S or F.
    pub slope: f64,
}

/// Power of e below which the exponential is less than the last bit of the 1 it is taken from.
const ROUNDED_OFF: f64 = -37.0;
/// Power of e from which exponential laws go on as their tangent.
pub(crate) const STRAIGHT_FROM: f64 = 100.0;

/// Current of an ideal junction, Is (exp(v / vt) − 1), A.
///
/// Above 100 `vt` the curve goes on as its tangent, so that an iterate far off stays finite; no
/// circuit has its solution there.
///
/// # Source
///
/// Shockley's diode equation, any semiconductor text.
#[must_use]
pub fn junction_current(saturation_current: f64, vt: f64, volts: f64) -> Sloped {
    JunctionLaw::new(saturation_current, vt).current(volts)
}

/// [`junction_current`] with all worked out that does not depend on the voltage.
#[derive(Clone, Copy, Debug)]
pub(crate) struct JunctionLaw {
    saturation_current: f64,
    /// 1/vt.
    per_volt: f64,
    /// Slope at 0 V, S.
    siemens: f64,
}

impl JunctionLaw {
    pub(crate) fn new(saturation_current: f64, vt: f64) -> Self {
        let per_volt = 1.0 / vt;
        Self { saturation_current, per_volt, siemens: saturation_current * per_volt }
    }

    #[inline]
    pub(crate) fn current(&self, volts: f64) -> Sloped {
        const KNEE: f64 = STRAIGHT_FROM;
        /// Below this the 1 that is taken away would round the rest off.
        const NEAR: f64 = 0.1;
        let x = volts * self.per_volt;
        if x < ROUNDED_OFF {
            return Sloped { value: -self.saturation_current, slope: 0.0 };
        }
        if x.abs() < NEAR {
            let e = math::expm1(x);
            return Sloped { value: self.saturation_current * e, slope: self.siemens * (e + 1.0) };
        }
        let e = math::exp(x.min(KNEE));
        let beyond = (x - KNEE).max(0.0) * e;
        Sloped { value: self.saturation_current * (e - 1.0 + beyond), slope: self.siemens * e }
    }
}

/// Rail from which a chip draws its whole current, V.
pub const AWAKE_VOLTS: f64 = 0.75;

/// Current that a chip draws from a rail at `volts`, A: `amps` from [`AWAKE_VOLTS`] on, fading below,
/// so that it never drags an unfed rail under ground: I (1 − (1 − v / 0.75 V)³), and its tangent at
/// 0 V below that.
///
/// # Source
///
/// Data sheets of the chips state the current; how it fades is our own.
#[must_use]
pub fn consumption(amps: f64, volts: f64) -> Sloped {
    let left = (1.0 - volts / AWAKE_VOLTS).clamp(0.0, 1.0);
    let slope = 3.0 * amps / AWAKE_VOLTS * left * left;
    if volts <= 0.0 {
        return Sloped { value: slope * volts, slope };
    }
    Sloped { value: amps * (1.0 - left * left * left), slope }
}

/// Voltage at which the slope of a junction has become steep enough for Newton's method to
/// overshoot: there the current changes by `vt / √2` worth of resistance per ohm, V.
///
/// # Source
///
/// The point of least radius of curvature of the junction law, common in texts on circuit
/// computation.
#[must_use]
pub fn junction_knee(saturation_current: f64, vt: f64) -> f64 {
    vt * math::ln(vt / (std::f64::consts::SQRT_2 * saturation_current))
}

/// Volts per kelvin of [`THERMAL_VOLTS`], k/q.
pub const THERMAL_VOLTS_PER_KELVIN: f64 = 1.380_649e-23 / 1.602_176_634e-19;

/// What a junction is made of: how its saturation current answers to temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Material {
    /// Silicon p–n junction.
    Silicon,
    /// Germanium p–n or point contact.
    Germanium,
    /// Metal on silicon.
    Schottky,
}

impl Material {
    /// Energy gap, or barrier of a metal contact, V, and power of the temperature before the
    /// exponential.
    ///
    /// # Source
    ///
    /// Values of any semiconductor text: gaps of silicon and germanium near room temperature,
    /// cubic law of p–n junctions, square law of thermionic emission.
    #[must_use]
    pub fn gap_and_power(self) -> (f64, f64) {
        match self {
            Self::Silicon => (1.11, 3.0),
            Self::Germanium => (0.67, 3.0),
            Self::Schottky => (0.69, 2.0),
        }
    }

    /// Factor on a saturation current between two temperatures, given by their thermal voltages:
    /// (T/T₀)^(p/n) exp((T/T₀ − 1) Eg / (n Vt)), n being the emission coefficient.
    #[must_use]
    pub fn saturation_factor(self, emission: f64, from_vt: f64, to_vt: f64) -> f64 {
        let (gap, power) = self.gap_and_power();
        let ratio = to_vt / from_vt;
        math::exp((power * math::ln(ratio) + (ratio - 1.0) * gap / to_vt) / emission)
    }
}

/// Reverse breakdown of a zener or avalanche diode: `amps` exp((−v − `volts`) / `slope_volts`)
/// flows backwards, less what that leaves at 0 V.
///
/// At the test current the resistance of this branch is `slope_volts / amps`.
///
/// # Source
///
/// The usual exponential fit of the breakdown branch through its data-sheet point, as in texts on
/// circuit computation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breakdown {
    /// Zener voltage at the test current, V, above 0.
    pub volts: f64,
    /// Test current, A.
    pub amps: f64,
    /// Volts in which the reverse current grows e times: test current times dynamic resistance.
    pub slope_volts: f64,
}

impl Breakdown {
    /// Current that breakdown adds from anode to cathode at `volts` forward, A.
    #[must_use]
    pub fn current(&self, volts: f64) -> Sloped {
        let Self { volts: zener, amps, slope_volts } = *self;
        let reverse = exponential((-volts - zener) / slope_volts);
        let rest = exponential(-zener / slope_volts).value;
        Sloped { value: amps * (rest - reverse.value), slope: amps * reverse.slope / slope_volts }
    }

    /// Reverse voltage from which Newton's method overshoots, as [`junction_knee`], V.
    #[must_use]
    pub fn knee(&self) -> f64 {
        self.volts + junction_knee(self.amps, self.slope_volts)
    }
}

/// exp(x) and its slope, going on as a tangent above 100; nothing below −700.
fn exponential(x: f64) -> Sloped {
    const KNEE: f64 = STRAIGHT_FROM;
    const FLOOR: f64 = -700.0;
    if x < FLOOR {
        return Sloped::default();
    }
    let e = math::exp(x.min(KNEE));
    Sloped { value: e + (x - KNEE).max(0.0) * e, slope: e }
}

/// Junction diode: i = Is (exp(v / (n Vt)) − 1), with depletion and diffusion charge, perhaps
/// breakdown, and perhaps a resistance in series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiodeModel {
    /// Saturation current Is, A, at the junction's temperature.
    pub saturation_current: f64,
    /// Emission coefficient n.
    pub emission: f64,
    /// Diffusion charge is this times the forward current, s.
    pub transit_time: f64,
    /// Depletion charge.
    pub junction: Junction,
    /// Resistance in series with the junction, Ω; 0 for none.
    pub series_ohms: f64,
    /// Breakdown, if the diode is used in it.
    pub breakdown: Option<Breakdown>,
    /// What it is made of.
    pub material: Material,
    /// Thermal voltage at the junction's temperature, V; see [`THERMAL_VOLTS`].
    pub thermal_volts: f64,
}

impl DiodeModel {
    /// A silicon junction at 300 K without charge, resistance or breakdown.
    #[must_use]
    pub const fn ideal(saturation_current: f64, emission: f64) -> Self {
        Self {
            saturation_current,
            emission,
            transit_time: 0.0,
            junction: Junction::NONE,
            series_ohms: 0.0,
            breakdown: None,
            material: Material::Silicon,
            thermal_volts: THERMAL_VOLTS,
        }
    }

    /// Emission coefficient times thermal voltage, V.
    #[must_use]
    pub fn vt(&self) -> f64 {
        self.emission * self.thermal_volts
    }

    /// Current of the junction from anode to cathode, without breakdown, A.
    #[must_use]
    pub fn forward_current(&self, volts: f64) -> Sloped {
        junction_current(self.saturation_current, self.vt(), volts)
    }

    /// The same diode at another temperature, K. Zener voltage, charges and series resistance are
    /// left as they are.
    #[must_use]
    pub fn at_temperature(self, kelvin: f64) -> Self {
        let vt = THERMAL_VOLTS_PER_KELVIN * kelvin;
        let factor = self.material.saturation_factor(self.emission, self.thermal_volts, vt);
        Self { saturation_current: self.saturation_current * factor, thermal_volts: vt, ..self }
    }
}

/// A diode's equations with all worked out that does not depend on the voltage.
#[derive(Clone, Copy, Debug)]
pub(crate) struct DiodeLaw {
    forward: JunctionLaw,
    depletion: Depletion,
    transit_time: f64,
    breakdown: Option<Breakdown>,
    vt: f64,
}

impl DiodeLaw {
    pub(crate) fn of(model: &DiodeModel) -> Self {
        Self {
            forward: JunctionLaw::new(model.saturation_current, model.vt()),
            depletion: Depletion::of(&model.junction),
            transit_time: model.transit_time,
            breakdown: model.breakdown,
            vt: model.vt(),
        }
    }

    /// Whether it keeps charge.
    pub(crate) fn has_charge(&self) -> bool {
        self.transit_time > 0.0 || self.depletion.junction.farads > 0.0
    }

    /// The voltage below which less than `amps` flows beside its saturation current, V; minus infinity if
    /// it has charge or breaks down.
    pub(crate) fn sleeps_below(&self, amps: f64) -> f64 {
        let is_plain = self.breakdown.is_none() && !self.has_charge();
        let volts = self.vt * math::ln(amps / self.forward.saturation_current);
        if is_plain { volts } else { f64::NEG_INFINITY }
    }

    /// Current from anode to cathode far below that, A.
    pub(crate) fn reverse_amps(&self) -> f64 {
        -self.forward.saturation_current
    }

    /// Current from anode to cathode and charge on the anode side at `volts` forward.
    pub(crate) fn at(&self, volts: f64) -> (Sloped, Sloped) {
        let forward = self.forward.current(volts);
        let depletion = self.depletion.charge(volts);
        let charge = Sloped {
            value: self.transit_time * forward.value + depletion.value,
            slope: self.transit_time * forward.slope + depletion.slope,
        };
        let reverse =
            self.breakdown.map_or(Sloped::default(), |breakdown| breakdown.current(volts));
        let current =
            Sloped { value: forward.value + reverse.value, slope: forward.slope + reverse.slope };
        (current, charge)
    }
}

/// Depletion charge of a junction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Junction {
    /// Zero-bias capacitance C0, F; 0 for none.
    pub farads: f64,
    /// Built-in potential V0, V.
    pub potential: f64,
    /// Grading coefficient m, 0 to below 1.
    pub grading: f64,
}

impl Junction {
    /// No depletion charge.
    pub const NONE: Self = Self { farads: 0.0, potential: 1.0, grading: 0.5 };

    /// Charge at `volts` forward, C: C0 V0/(1−m) (1 − (1 − v/V0)^(1−m)) below half of V0, where
    /// the capacitance goes on as the straight line of matching value and slope, so that it stays
    /// finite past the built-in potential.
    ///
    /// # Source
    ///
    /// Depletion approximation of a graded junction, any semiconductor text.
    #[must_use]
    pub fn charge(&self, volts: f64) -> Sloped {
        Depletion::of(self).charge(volts)
    }
}

/// [`Junction::charge`] with all worked out that does not depend on the voltage.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Depletion {
    junction: Junction,
    /// 1/V0.
    per_potential: f64,
    /// C0 V0/(1−m), C.
    whole: f64,
    /// Half of V0, and charge, capacitance and its slope there.
    edge_volts: f64,
    edge: Sloped,
    edge_rate: f64,
}

impl Depletion {
    pub(crate) fn of(junction: &Junction) -> Self {
        let Junction { farads, potential, grading } = *junction;
        let per_potential = 1.0 / potential;
        let whole = farads * potential / (1.0 - grading);
        let edge = below_edge(farads, whole, grading, 0.5);
        let edge_rate = edge.slope * grading * per_potential / 0.5;
        let edge_volts = 0.5 * potential;
        Self { junction: *junction, per_potential, whole, edge_volts, edge, edge_rate }
    }

    #[inline]
    pub(crate) fn charge(&self, volts: f64) -> Sloped {
        let Junction { farads, grading, .. } = self.junction;
        if farads <= 0.0 {
            return Sloped::default();
        }
        if volts < self.edge_volts {
            return below_edge(farads, self.whole, grading, 1.0 - volts * self.per_potential);
        }
        let beyond = volts - self.edge_volts;
        Sloped {
            value: self.edge.value + beyond * (self.edge.slope + 0.5 * self.edge_rate * beyond),
            slope: self.edge.slope + self.edge_rate * beyond,
        }
    }
}

/// Depletion charge at a width 1 − v/V0, and its slope against v.
fn below_edge(farads: f64, whole: f64, grading: f64, width: f64) -> Sloped {
    let power = math::exp(-grading * math::ln(width));
    Sloped { value: whole * (1.0 - width * power), slope: farads * power }
}

/// Output stage of a gate in one state: current against the drop across the stage.
#[derive(Clone, Debug, PartialEq)]
pub enum OutputCurve {
    /// A plain resistance, Ω.
    Resistance(f64),
    /// A saturating MOS transistor, its k from data-sheet points, interpolated over supply with
    /// the ends held.
    Saturating {
        /// Threshold, V.
        threshold: f64,
        /// (supply V, k A/V²), rising in supply.
        k: Vec<(f64, f64)>,
    },
}

/// A current with its slopes against a drop and against a supply.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StageCurrent {
    /// A.
    pub amps: f64,
    /// Slope against the voltage across the stage, S.
    pub per_drop: f64,
    /// Slope against the supply that turns the stage on, S.
    pub per_supply: f64,
}

impl OutputCurve {
    /// Current through the stage at a drop across it and a supply, A.
    #[must_use]
    pub fn current(&self, drop: f64, supply: f64) -> StageCurrent {
        match self {
            Self::Resistance(ohms) => {
                StageCurrent { amps: drop / ohms, per_drop: 1.0 / ohms, per_supply: 0.0 }
            }
            Self::Saturating { threshold, k } => {
                let (k, k_slope) = interpolate(k, supply);
                let unit = saturating(drop, supply - threshold);
                StageCurrent {
                    amps: k * unit.amps,
                    per_drop: k * unit.per_drop,
                    per_supply: k * unit.per_supply + k_slope * unit.amps,
                }
            }
        }
    }
}

/// MOS square law for k = 1 A/V² at a drop across the channel and an overdrive (gate voltage less
/// threshold): linear region `overdrive d − d²/2`, saturation `overdrive²/2`; odd about zero drop,
/// as a symmetrical channel is to first order; off without overdrive.
///
/// # Source
///
/// First-order (long-channel) MOS transistor equations, any text.
#[must_use]
pub fn saturating(drop: f64, overdrive: f64) -> StageCurrent {
    if overdrive <= 0.0 {
        return StageCurrent::default();
    }
    let size = drop.abs();
    if size >= overdrive {
        let amps = (0.5 * overdrive * overdrive).copysign(drop);
        StageCurrent { amps, per_drop: 0.0, per_supply: overdrive.copysign(drop) }
    } else {
        let amps = (size * (overdrive - 0.5 * size)).copysign(drop);
        StageCurrent { amps, per_drop: overdrive - size, per_supply: drop }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope_matches(f: impl Fn(f64) -> Sloped, at: f64) {
        let step = 1e-6;
        let numeric = (f(at + step).value - f(at - step).value) / (2.0 * step);
        let slope = f(at).slope;
        assert!((numeric - slope).abs() <= 1e-5 * slope.abs() + 1e-18, "{at}: {numeric} {slope}");
    }

    #[test]
    fn a_diode_follows_the_worked_handbook_values_at_25_degrees() {
        // Is 1e-14 A, n 1 at 25 °C (Vt 25.6926 mV): 0.650753 V at 1 mA, 0.709912 V at 10 mA;
        // evaluated from the Shockley equation with exact SI constants.
        let vt: f64 = 1.380_649e-23 * 298.15 / 1.602_176_634e-19;
        assert!((vt - 25.6926e-3).abs() < 5e-8);
        for (volts, amps) in [(0.650_753, 1e-3), (0.709_912, 1e-2)] {
            let current = junction_current(1e-14, vt, volts).value;
            assert!((current / amps - 1.0).abs() < 5e-5, "{current}");
        }
    }

    #[test]
    fn every_slope_is_the_derivative_of_its_value() {
        let diode = DiodeModel {
            transit_time: 4e-9,
            junction: Junction { farads: 2e-12, potential: 0.7, grading: 0.4 },
            breakdown: Some(Breakdown { volts: 5.1, amps: 5e-3, slope_volts: 0.2 }),
            ..DiodeModel::ideal(2.5e-9, 1.8)
        };
        for at in [-5.5, -5.1, -5.0, -0.3, 0.0, 0.2, 0.349, 0.351, 0.6, 0.8] {
            slope_matches(|v| DiodeLaw::of(&diode).at(v).0, at);
            slope_matches(|v| DiodeLaw::of(&diode).at(v).1, at);
        }
    }

    #[test]
    fn a_zener_carries_its_test_current_at_its_voltage_with_its_resistance() {
        let zener = Breakdown { volts: 5.6, amps: 5e-3, slope_volts: 0.2 };
        let at_test = zener.current(-5.6);
        assert!((at_test.value + 5e-3).abs() < 1e-14, "{at_test:?}");
        assert!((at_test.slope - 1.0 / 40.0).abs() < 1e-12);
        // Ten times the current lies ln 10 times the slope further out, and nothing flows at 0 V.
        let tenfold = zener.current(-(5.6 + 0.2 * std::f64::consts::LN_10)).value;
        assert!((tenfold + 50e-3).abs() < 1e-13, "{tenfold}");
        assert!(zener.current(0.0).value.abs() < 1e-30);
    }

    /// Bandgap form of a junction's voltage at constant current: V(T) = Vg (1 − T/T₀) + V₀ T/T₀ −
    /// p Vt ln(T/T₀) + Vt ln(1), as texts on bandgap references derive it for n = 1.
    #[test]
    fn a_warm_junction_falls_as_the_bandgap_formula_says() {
        let cold = DiodeModel::ideal(1e-14, 1.0);
        let volts = |diode: DiodeModel| diode.vt() * math::log1p(1e-3 / diode.saturation_current);
        let v0 = volts(cold);
        for kelvin in [263.15, 298.15, 323.15, 343.15] {
            let ratio = kelvin / 300.0;
            let vt = THERMAL_VOLTS_PER_KELVIN * kelvin;
            let expected = 1.11 * (1.0 - ratio) + v0 * ratio - 3.0 * vt * math::ln(ratio);
            let found = volts(cold.at_temperature(kelvin));
            assert!((found - expected).abs() < 1e-7, "{kelvin} K: {found} {expected}");
        }
        // The rule of thumb of every text: about 2 mV less a kelvin.
        let fall = (volts(cold.at_temperature(310.0)) - v0) / 10.0;
        assert!((-2.3e-3..-1.6e-3).contains(&fall), "{fall}");
        let again = cold.at_temperature(350.0).at_temperature(300.0);
        assert!((again.saturation_current / 1e-14 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_chip_draws_its_current_from_a_fed_rail_and_nothing_from_a_dead_one() {
        assert!((consumption(0.035, AWAKE_VOLTS).value - 0.035).abs() < f64::EPSILON);
        assert!(consumption(0.035, 0.0).value.abs() < 1e-18);
        for at in [-0.5, -1e-3, 1e-3, 0.2, 1.0] {
            slope_matches(|volts| consumption(0.035, volts), at);
        }
    }

    #[test]
    fn depletion_capacitance_is_continuous_at_half_the_potential() {
        let junction = Junction { farads: 4e-12, potential: 0.6, grading: 0.33 };
        let (below, above) = (junction.charge(0.3 - 1e-9), junction.charge(0.3 + 1e-9));
        assert!((below.slope - above.slope).abs() < 1e-19);
        assert!((below.value - above.value).abs() < 2e-20);
    }

    #[test]
    fn the_square_law_is_continuous_where_it_saturates() {
        let (below, above) = (saturating(2.0 - 1e-9, 2.0), saturating(2.0 + 1e-9, 2.0));
        assert!((below.amps - above.amps).abs() < 1e-12);
        assert!((below.per_drop - above.per_drop).abs() < 1e-8);
        assert!((saturating(-0.5, 2.0).amps + saturating(0.5, 2.0).amps).abs() < 1e-15);
    }
}
